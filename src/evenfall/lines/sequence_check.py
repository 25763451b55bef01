"""What of a sequence does not close, leaves the box or meets the ground: every finding at once."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import Fault
from evenfall.lines.path import Path, Piece, lay_out
from evenfall.lines.sequence import Line, Part, Sequence, Spin, StallTurn

Floats = NDArray[np.float64]

SLACK = math.radians(1.0)
"""Disagreement of an attitude that is not spoken of, rad."""
HEIGHT_SLACK = 2.0
"""The same of a figure's last height, m."""
DEPTH_SLACK = 5.0
"""Distance off the flight line that is not spoken of, m."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing wrong with a sequence.

    Args:
        figure, part: indices from 0; part None where the whole figure is meant.
        stops: it cannot be flown like this (attitude); otherwise it costs marks.
        message: what was found, what is allowed, what to do.
    """

    figure: int
    part: int | None
    stops: bool
    message: str

    def fault(self, sequence: Sequence) -> Fault:
        """The finding as a fault of the file."""
        where = f"figure.{self.figure}" + ("" if self.part is None else f".parts.{self.part}")
        name = sequence.figures[self.figure].name
        return Fault(where=where, message=f"figure {self.figure + 1} ({name}): {self.message}")


def check_sequence(sequence: Sequence, path: Path | None = None) -> tuple[Finding, ...]:
    """Everything found, in the order flown. `path` where it is laid out already."""
    if not sequence.figures:
        return ()
    path = lay_out(sequence) if path is None else path
    found = [*_attitudes(path), *_ends(path), *_places(path)]
    return tuple(sorted(found, key=lambda item: (item.figure, -1 if item.part is None else item.part)))


def _first_pieces(path: Path) -> dict[tuple[int, int], Piece]:
    found: dict[tuple[int, int], Piece] = {}
    for piece in path.pieces:
        found.setdefault((piece.figure, piece.part), piece)
    return found


def _attitudes(path: Path) -> Iterator[Finding]:
    """Parts whose beginning does not fit the attitude before them, and rolls that do not fit their line."""
    pieces = _first_pieces(path)
    for number, figure in enumerate(path.sequence.figures):
        for index, part in enumerate(figure.parts):
            piece = pieces[number, index]
            if (message := _attitude(part, piece)) is not None:
                yield Finding(figure=number, part=index, stops=True, message=message)
            if isinstance(part, Line) and (message := _rolls(part)) is not None:
                yield Finding(figure=number, part=index, stops=True, message=message)


def _attitude(part: Part, piece: Piece) -> str | None:
    slope = math.asin(max(-1.0, min(1.0, piece.forward[2])))
    degrees = math.degrees(slope)
    if isinstance(part, Line) and abs(slope - part.slope) > SLACK:
        return (
            f"a line of {math.degrees(part.slope):.0f} deg is asked for, but what comes before ends at {degrees:.0f} "
            "deg; change the angle of the part loop before it, or the line's"
        )
    if isinstance(part, StallTurn) and slope < 0.5 * math.pi - SLACK:
        return f"a stall turn needs a vertical line up before it, not one of {degrees:.0f} deg"
    if isinstance(part, Spin) and (abs(slope) > SLACK or abs(piece.canopy[2]) < 0.9):
        return f"a spin begins in level flight with the wings level, not at {degrees:.0f} deg"
    return None


def _rolls(line: Line) -> str | None:
    end = 0.0
    for roll in line.rolls:
        begin = roll.middle * line.length - 0.5 * roll.takes
        if begin < end - 1e-9 or begin + roll.takes > line.length + 1e-9:
            takes = sum(item.takes for item in line.rolls)
            return (
                f"the rolls take {takes:.0f} m of a line of {line.length:.0f} m and do not fit where they are put; "
                "make the line longer, or move them with at_percent"
            )
        end = begin + roll.takes
    return None


def _ends(path: Path) -> Iterator[Finding]:
    """Figures that do not end level, wings level, along the flight line, at the height they should have."""
    for number, figure in enumerate(path.sequence.figures):
        last = [piece for piece in path.pieces if piece.figure == number][-1]
        forward, canopy = last.attitude(last.length)
        _, y, height = last.position_at(last.length)
        slope = math.degrees(math.asin(max(-1.0, min(1.0, forward[2]))))
        if abs(slope) > math.degrees(SLACK):
            yield Finding(
                figure=number,
                part=None,
                stops=False,
                message=f"ends at {slope:.0f} deg, not in level flight; add the part loop that levels out",
            )
        elif abs(canopy[2]) < math.cos(SLACK):
            bank = math.degrees(math.acos(max(-1.0, min(1.0, canopy[2]))))
            yield Finding(
                figure=number,
                part=None,
                stops=False,
                message=f"ends banked by {bank:.0f} deg, neither upright nor inverted; look at its rolls",
            )
        if abs(slope) <= math.degrees(SLACK) and abs(forward[1]) > math.sin(SLACK):
            off = math.degrees(math.asin(min(1.0, abs(forward[1]))))
            yield Finding(
                figure=number,
                part=None,
                stops=False,
                message=f"ends {off:.0f} deg off the direction of the flight line; look at its rolls",
            )
        if abs(y) > DEPTH_SLACK:
            yield Finding(
                figure=number, part=None, stops=False, message=f"ends {abs(y):.0f} m off the flight line in depth"
            )
        if figure.exit_height is not None and abs(height - figure.exit_height) > HEIGHT_SLACK:
            yield Finding(
                figure=number,
                part=None,
                stops=False,
                message=f"ends at {height:.0f} m, exit_height_m says {figure.exit_height:.0f} m; look at its lines",
            )


def _places(path: Path) -> Iterator[Finding]:
    """Parts that leave the box or meet the ground; the worst of each part."""
    sequence, box = path.sequence, path.sequence.box
    _, where, owner = path.sampled()
    away = sequence.distance + where[:, 1]
    side = np.degrees(np.arctan2(np.abs(where[:, 0]), np.maximum(away, 1e-6)))
    up = np.degrees(np.arctan2(where[:, 2], np.maximum(np.hypot(where[:, 0], away), 1e-6)))
    parts = [(path.pieces[number].figure, path.pieces[number].part) for number in owner.tolist()]
    worst: dict[tuple[int, int], list[float]] = {}
    for place, aside, high, height in zip(parts, side.tolist(), up.tolist(), where[:, 2].tolist(), strict=True):
        kept = worst.setdefault(place, [0.0, 0.0, math.inf])
        kept[:] = [max(kept[0], aside), max(kept[1], high), min(kept[2], height)]
    most_side, most_up = math.degrees(box.side), math.degrees(box.elevation)
    for (figure, part), (aside, high, low) in worst.items():
        if aside > most_side + 0.1:
            yield Finding(
                figure=figure,
                part=part,
                stops=False,
                message=f"goes to {aside:.0f} deg from the middle; the box ends at {most_side:.0f} deg",
            )
        if high > most_up + 0.1:
            yield Finding(
                figure=figure,
                part=part,
                stops=False,
                message=f"goes up to {high:.0f} deg; the box ends at {most_up:.0f} deg",
            )
        if low < box.ground - 1e-6:
            yield Finding(
                figure=figure,
                part=part,
                stops=low <= 0.0,
                message=f"goes down to {low:.0f} m; the lowest allowed is {box.ground:.0f} m: begin higher",
            )
