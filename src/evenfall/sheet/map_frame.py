"""The frame of the speed map: scales, and lines and patches of a page brought into the drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall.sheet import paper
from evenfall.sheet.map_page import ContourPage, SpeedMapPage, TwoSpeedsPage
from evenfall.sheet.place import Point

WIDTH = 560
LEFT, RIGHT, TOP, HEIGHT = 56, 540, 132, 430
BIG = paper.SIZE_NARROW
"""Room is kept for the larger text of narrow screens."""
LINE = 25
"""From line to line of text."""


@dataclass(frozen=True)
class Scale:
    """Percent of motor brake and degrees of crow to the drawing."""

    top_deg: float

    def x(self, percent: float) -> float:
        """Across, from percent of motor brake."""
        return LEFT + (RIGHT - LEFT) * percent / 100.0

    def y(self, degrees: float) -> float:
        """Down, from degrees of crow."""
        return TOP + HEIGHT * (1.0 - degrees / self.top_deg)

    def at(self, percent: float, degrees: float) -> Point:
        """Both."""
        return self.x(percent), self.y(degrees)


def clipped(line: ContourPage, scale: Scale) -> list[list[Point]]:
    """Pieces of a line in the drawing, cut at the edges of the map."""
    found: list[list[Point]] = []
    for piece in line.pieces:
        run: list[Point] = []
        for (b0, c0), (b1, c1) in zip(piece, piece[1:], strict=False):
            ends = _cut(b0, c0, b1, c1, scale.top_deg)
            if ends is None:
                continue
            start, end = (scale.at(*point) for point in ends)
            if run and run[-1] != start:
                found.append(run)
                run = []
            run = [*(run or [start]), end]
        if len(run) > 1:
            found.append(run)
    return found


def _cut(b0: float, c0: float, b1: float, c1: float, top: float) -> tuple[Point, Point] | None:
    """The part of a segment with crow from 0 to `top`."""
    if max(c0, c1) < 0 or min(c0, c1) > top:
        return None

    def held(b: float, c: float, other_b: float, other_c: float) -> Point:
        edge = min(max(c, 0.0), top)
        return (b, c) if edge == c else (b + (edge - c) / (other_c - c) * (other_b - b), edge)

    return held(b0, c0, b1, c1), held(b1, c1, b0, c0)


def outline(patch: TwoSpeedsPage, scale: Scale) -> list[Point]:
    """The edge of a patch, once round."""
    up = [scale.at(b, c) for b, c in zip(patch.brake_percent, patch.high_deg, strict=True)]
    down = [scale.at(b, c) for b, c in zip(patch.brake_percent, patch.low_deg, strict=True)]
    return [*up, *reversed(down)]


def inside(patch: TwoSpeedsPage, scale: Scale) -> list[Point]:
    """Points all over a patch, some 12 apart."""
    found = []
    for b, low, high in zip(patch.brake_percent, patch.low_deg, patch.high_deg, strict=True):
        steps = max(int((scale.y(low) - scale.y(high)) / 12), 1)
        found += [scale.at(b, low + (high - low) * (k + 0.5) / steps) for k in range(steps)]
    return found


def spread_outline(page: SpeedMapPage, scale: Scale) -> list[Point]:
    """Outline of one sigma around the chosen point: half axes of their own to each side."""
    if page.chosen is None:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    left, right = (scale.x(percent) - x for percent in page.chosen.brake_range_percent)
    down, up = (scale.y(deg) - y for deg in page.chosen.crow_range_deg)
    edge = []
    for step in range(73):
        angle = math.radians(5 * step)
        c, s = math.cos(angle), math.sin(angle)
        point = (x + c * (right if c > 0 else -left), y + s * (-up if s < 0 else down))
        edge.append((point[0], min(max(point[1], TOP), TOP + HEIGHT)))
    return edge
