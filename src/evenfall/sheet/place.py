"""Where words go on a picture: boxes that keep off each other and off the lines that matter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Box:
    """A rectangle by its middle and its full width and height."""

    x: float
    y: float
    width: float
    height: float

    def overlap(self, other: Box) -> float:
        """Area shared with another."""
        wide = min(self.x + self.width / 2, other.x + other.width / 2) - max(
            self.x - self.width / 2, other.x - other.width / 2
        )
        high = min(self.y + self.height / 2, other.y + other.height / 2) - max(
            self.y - self.height / 2, other.y - other.height / 2
        )
        return max(wide, 0.0) * max(high, 0.0)

    def holds(self, point: Point) -> bool:
        """True where a point lies inside."""
        return abs(point[0] - self.x) <= self.width / 2 and abs(point[1] - self.y) <= self.height / 2

    def inside(self, frame: Box) -> bool:
        """True where all of it lies within another."""
        return (
            abs(self.x - frame.x) <= (frame.width - self.width) / 2 + 1e-9
            and abs(self.y - frame.y) <= (frame.height - self.height) / 2 + 1e-9
        )


@dataclass(kw_only=True)
class Placer:
    """What is taken inside a frame: boxes, and points that may be covered at a price (heavy, busy, light)."""

    frame: Box
    taken: list[Box] = field(default_factory=list)
    heavy: list[Point] = field(default_factory=list)
    light: list[Point] = field(default_factory=list)
    busy: list[Point] = field(default_factory=list)
    holes: list[tuple[Box, float]] = field(default_factory=list)
    """Boxes, and their turn in degrees, that lines have to leave free."""

    def cost(self, box: Box) -> float:
        """How much a box would hide; 0 is free, a box that leaves the frame costs most."""
        cost = sum(box.overlap(other) for other in self.taken)
        cost += 60.0 * sum(box.holds(point) for point in self.heavy)
        cost += 3.0 * sum(box.holds(point) for point in self.light)
        cost += 9.0 * sum(box.holds(point) for point in self.busy)
        return cost + (0.0 if box.inside(self.frame) else 1e5)

    def best(self, candidates: Iterable[tuple[float, Box]]) -> Box:
        """The candidate (own cost, box) with the least cost in all, first come first served; it is taken then."""
        found = min(candidates, key=lambda item: item[0] + self.cost(item[1]))[1]
        self.taken.append(found)
        return found


def sampled(points: Iterable[Point], step: float) -> list[Point]:
    """Points about every `step` along a polyline."""
    found: list[Point] = []
    previous: Point | None = None
    left = 0.0
    for point in points:
        if previous is None:
            found.append(point)
        else:
            length = ((point[0] - previous[0]) ** 2 + (point[1] - previous[1]) ** 2) ** 0.5
            while length > 0 and left + length >= step:
                share = (step - left) / length
                previous = (
                    previous[0] + share * (point[0] - previous[0]),
                    previous[1] + share * (point[1] - previous[1]),
                )
                found.append(previous)
                length, left = length * (1 - share), 0.0
            left += length
        previous = point
    return found
