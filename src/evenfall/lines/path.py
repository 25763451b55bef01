"""The path of a sequence in space: short pieces of constant curvature and constant roll, end to end.

Axes: x along the flight line to the right as the judges see it, y away from them, z up; m from the point of the flight
line in front of them, on the ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.sequence import POINT_PAUSE, Line, Loop, Part, Roll, Sequence, Spin, StallTurn
from evenfall.radio.phases import PhaseKind

Floats = NDArray[np.float64]
Vector = tuple[float, float, float]
How = Literal["line", "roll", "snap", "loop", "stall turn", "spin", "pause"]

TURN_RADIUS = 0.5
"""Of a stall turn, m. Common practice, no source."""
SPIN_ENTRY_RADIUS = 5.0
"""Of the path from level flight into a spin, m. Common practice, no source."""
SPIN_LENGTH = 12.0
"""Height of one turn of a spin, m: what the strips of `evenfall.lines.spin` give for the demo planes, 6 to 14 m."""
TURN_SPEED = 5.0
"""At which a stall turn is turned, m/s. Common practice, no source."""
_SLOWING = 1.0
"""Deceleration into a stall turn, in units of gravity: a vertical without thrust."""
_LEVEL_SLOWING = 3.0
"""Deceleration before a spin, m/s^2. Common practice, no source."""
_SHORTEST = 0.1
"""Least path of a roll that no longer fits its line, m."""


@dataclass(frozen=True, kw_only=True)
class Slow:
    """Speed given up before a turn or a spin.

    Args:
        at: place on the path where `speed` is due, m. speed: m/s; None is just above the stall, 0 a closed stick.
        by: deceleration, m/s^2.
    """

    at: float
    by: float
    speed: float | None


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A stretch of path of constant curvature and roll.

    Args:
        how: what is flown. figure, part: indices into the sequence; phase: kind of phase.
        start: place of its beginning on the path, m. length: m.
        position: of its beginning, m. forward, canopy: unit vectors there.
        bend, yaw: curvature towards canopy and right wing, 1/m. roll: rad/m, right positive.
        slow: speed to be given up on it.

    At most one of `bend`, `yaw` and `roll` is other than zero.
    """

    how: How
    figure: int
    part: int
    phase: PhaseKind
    start: float
    length: float
    position: Vector
    forward: Vector
    canopy: Vector
    bend: float = 0.0
    yaw: float = 0.0
    roll: float = 0.0
    slow: Slow | None = None

    @property
    def wing(self) -> Vector:
        """Unit vector to the right wing at its beginning."""
        return _cross(self.forward, self.canopy)

    def attitude(self, way: float) -> tuple[Vector, Vector]:
        """Unit vectors forward and to the canopy `way` metres after the beginning."""
        if self.bend:
            return _turn(self.forward, self.canopy, self.bend * way)
        if self.yaw:
            return _turn(self.forward, self.wing, self.yaw * way)[0], self.canopy
        if self.roll:
            return self.forward, _turn(self.canopy, self.wing, self.roll * way)[0]
        return self.forward, self.canopy

    def upright(self, way: float) -> tuple[float, float]:
        """Sine of the slope, and share of the weight across the wings towards the canopy, after `way` metres."""
        forward, canopy = self.attitude(way)
        return forward[2], canopy[2]

    def position_at(self, way: float) -> Vector:
        """Position `way` metres after the beginning, m."""
        curve, inward = (self.bend, self.canopy) if self.bend else (self.yaw, self.wing)
        if curve:
            angle = curve * way
            along, across = math.sin(angle) / curve, (1 - math.cos(angle)) / curve
        else:
            along, across = way, 0.0
        x, y, z = (p + along * f + across * i for p, f, i in zip(self.position, self.forward, inward, strict=True))
        return (x, y, z)


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _turn(first: Vector, second: Vector, angle: float) -> tuple[Vector, Vector]:
    """Two unit vectors turned in their plane, the first towards the second."""
    c, s = math.cos(angle), math.sin(angle)
    a, b, d = (c * f + s * g for f, g in zip(first, second, strict=True))
    e, h, i = (c * g - s * f for f, g in zip(first, second, strict=True))
    return (a, b, d), (e, h, i)


@dataclass(frozen=True, kw_only=True)
class Path:
    """The pieces of a whole sequence, end to end."""

    sequence: Sequence
    pieces: tuple[Piece, ...]

    @property
    def length(self) -> float:
        """m."""
        last = self.pieces[-1]
        return last.start + last.length

    def sampled(self, step: float = 2.0) -> tuple[Floats, Floats, NDArray[np.intp]]:
        """Places on the path (m), positions (m, (n, 3)) and pieces, at most `step` metres apart, ends included."""
        places, rows, owner = [], [], []
        for number, piece in enumerate(self.pieces):
            ways = np.linspace(0.0, piece.length, max(2, math.ceil(piece.length / step) + 1))
            for way in ways.tolist():
                places.append(piece.start + way)
                rows.append(piece.position_at(way))
                owner.append(number)
        return np.array(places), np.array(rows), np.array(owner)


def lay_out(sequence: Sequence) -> Path:
    """The path of a sequence from its entry on, whether or not it closes."""
    builder = _Builder(sequence)
    for number, figure in enumerate(sequence.figures):
        for index, part in enumerate(figure.parts):
            following = figure.parts[index + 1] if index + 1 < len(figure.parts) else None
            if following is None and number + 1 < len(sequence.figures):
                following = sequence.figures[number + 1].parts[0]
            builder.add(part, following, figure=number, index=index, phase=figure.phase)
    return Path(sequence=sequence, pieces=tuple(builder.pieces))


class _Builder:
    """Adds piece to piece, keeping position and attitude."""

    def __init__(self, sequence: Sequence) -> None:
        self.pieces: list[Piece] = []
        self.start = 0.0
        self.position: Vector = (sequence.place, 0.0, sequence.height)
        self.forward: Vector = (float(sequence.way), 0.0, 0.0)
        self.canopy: Vector = (0.0, 0.0, -1.0 if sequence.inverted else 1.0)
        self.figure, self.part = 0, 0
        self.phase: PhaseKind = "normal"

    def add(self, part: Part, following: Part | None, *, figure: int, index: int, phase: PhaseKind) -> None:
        """Lay out one part; `following` is the next one, for which speed may have to be given up."""
        self.figure, self.part, self.phase = figure, index, phase
        if isinstance(part, Line):
            self._line(part, following)
        elif isinstance(part, Loop):
            bend = (1.0 if part.towards == "canopy" else -1.0) / part.radius
            self._piece("loop", part.radius * part.angle, bend=bend)
        elif isinstance(part, StallTurn):
            length = math.pi * TURN_RADIUS
            slow = Slow(at=self.start + length, by=0.0, speed=TURN_SPEED)
            self._piece("stall turn", length, yaw=part.way / TURN_RADIUS, slow=slow)
        else:
            self._spin(part)

    def _line(self, line: Line, following: Part | None) -> None:
        end, slow = self.start + line.length, None
        if isinstance(following, StallTurn):
            slow = Slow(at=end, by=_SLOWING * G0, speed=TURN_SPEED)
        elif isinstance(following, Spin):
            slow = Slow(at=end, by=_LEVEL_SLOWING, speed=None)
        how: How = "pause" if line.pause else "line"
        begun = self.start
        for roll in line.rolls:
            wanted = begun + roll.middle * line.length - 0.5 * roll.takes
            self._piece(how, min(wanted, end) - self.start, slow=slow)
            self._roll(roll, max(min(roll.takes, end - self.start), _SHORTEST), how, slow)
        self._piece(how, end - self.start, slow=slow)

    def _roll(self, roll: Roll, length: float, how: How, slow: Slow | None) -> None:
        pause = min(POINT_PAUSE, 0.5 * length / roll.points)
        hop = (length - pause * (roll.points - 1)) / roll.points
        for number in range(roll.points):
            if number:
                self._piece(how, pause, slow=slow)
            self._piece("snap" if roll.snap else "roll", hop, roll=roll.angle / roll.points / hop, slow=slow)

    def _spin(self, spin: Spin) -> None:
        angle = math.acos(max(-1.0, min(1.0, -self.forward[2])))
        bend = -math.copysign(1.0 / SPIN_ENTRY_RADIUS, self.canopy[2])
        closed = Slow(at=self.start, by=0.0, speed=0.0)
        self._piece("spin", SPIN_ENTRY_RADIUS * angle, bend=bend, slow=closed)
        self._piece("spin", SPIN_LENGTH * spin.turns, roll=spin.way * 2 * math.pi / SPIN_LENGTH, slow=closed)

    def _piece(
        self,
        how: How,
        length: float,
        *,
        bend: float = 0.0,
        yaw: float = 0.0,
        roll: float = 0.0,
        slow: Slow | None = None,
    ) -> None:
        if length < 1e-9:
            return
        piece = Piece(
            how=how,
            figure=self.figure,
            part=self.part,
            phase="snap" if how == "snap" else "spin" if how == "spin" else self.phase,
            start=self.start,
            length=length,
            position=self.position,
            forward=self.forward,
            canopy=self.canopy,
            bend=bend,
            yaw=yaw,
            roll=roll,
            slow=slow,
        )
        self.pieces.append(piece)
        self.start += length
        self.position = piece.position_at(length)
        self.forward, self.canopy = piece.attitude(length)
