"""A sequence of figures as data: lines with rolls, part loops, stall turns, snaps, spins and pauses. SI and radians.

Words are those of the FAI Sporting Code, section 4, volume aerobatics: figure, line, part loop, point roll, snap roll,
stall turn, spin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal, get_args

from evenfall.errors import ValueRangeError
from evenfall.radio.phases import PhaseKind

Towards = Literal["canopy", "belly"]
"""Which way a part loop is flown: pulled towards the canopy or pushed towards the belly."""
TOWARDS: tuple[Towards, ...] = get_args(Towards)

ROLL_LENGTH = 26.0
"""m of path for one whole roll where a file gives none: some 1.2 s at 22 m/s. Common practice, no source."""
POINT_PAUSE = 5.0
"""m of path flown straight between two points. Common practice, no source."""
SNAP_LENGTH = 9.0
"""m of path for one snap roll: some .45 s at 20 m/s. Common practice, no source."""


def _finite(**values: float) -> None:
    for name, value in values.items():
        if not math.isfinite(value):
            raise ValueRangeError(f"{name} must be a finite number, got {value!r}")


@dataclass(frozen=True, kw_only=True)
class Roll:
    """A roll on a line.

    Args:
        angle: rad, right roll positive, any size but zero.
        points: stops in it, 1 is a plain roll: a four-point roll stops every quarter.
        snap: flown as a snap roll.
        middle: where its middle lies on the line, share of its length.
        length: m of path it takes, pauses included; None takes the usual one.
    """

    angle: float
    points: int = 1
    snap: bool = False
    middle: float = 0.5
    length: float | None = None

    def __post_init__(self) -> None:
        _finite(angle=self.angle, middle=self.middle)
        if self.angle == 0.0 or self.points < 1 or not 0.0 <= self.middle <= 1.0:
            raise ValueRangeError("a roll turns some way, has at least one point and lies on its line")

    @property
    def takes(self) -> float:
        """m of path."""
        if self.length is not None:
            return self.length
        turns = abs(self.angle) / (2 * math.pi)
        if self.snap:
            return SNAP_LENGTH * turns
        return ROLL_LENGTH * turns + POINT_PAUSE * (self.points - 1)


@dataclass(frozen=True, kw_only=True)
class Line:
    """Straight flight.

    Args:
        slope: rad, 90 deg straight up, as judged; the attitude before it must agree.
        length: m.
        rolls: on it, in their order.
        pause: a line that only joins two figures or waits before one.
    """

    slope: float
    length: float
    rolls: tuple[Roll, ...] = ()
    pause: bool = False

    def __post_init__(self) -> None:
        _finite(slope=self.slope, length=self.length)
        if not self.length > 0:
            raise ValueRangeError(f"a line has a length above 0 m, got {self.length}")


@dataclass(frozen=True, kw_only=True)
class Loop:
    """A part loop.

    Args:
        radius: m. angle: rad turned through, above zero.
        towards: canopy or belly.
    """

    radius: float
    angle: float
    towards: Towards = "canopy"

    def __post_init__(self) -> None:
        _finite(radius=self.radius, angle=self.angle)
        if not (self.radius > 0 and self.angle > 0):
            raise ValueRangeError("a part loop has a radius and an angle above zero")


@dataclass(frozen=True, kw_only=True)
class StallTurn:
    """The turn over one wing at the top of a vertical line; `way` 1 to the right wing, -1 to the left."""

    way: int = 1


@dataclass(frozen=True, kw_only=True)
class Spin:
    """A spin from level flight, and the vertical it ends in; `turns` above zero, `way` 1 right, -1 left."""

    turns: float
    way: int = 1

    def __post_init__(self) -> None:
        _finite(turns=self.turns)
        if not self.turns > 0:
            raise ValueRangeError(f"a spin has more than no turns, got {self.turns}")


Part = Line | Loop | StallTurn | Spin


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A figure: its name and its parts in the order flown.

    Args:
        exit_height: m above the ground that its end should have; None where the file does not say.
        phase: kind of phase it is flown in.
    """

    name: str
    parts: tuple[Part, ...]
    exit_height: float | None = None
    phase: PhaseKind = "normal"


@dataclass(frozen=True, kw_only=True)
class Box:
    """Where figures may lie as the judges see it.

    Args:
        side: rad, either way from the middle. elevation: rad above the horizon.
        ground: m, lowest height of any path.

    Source: FAI Sporting Code, section 4, volume F3 Aerobatics, class F3A: 60 degrees to either side and up (no edition
    was at hand; the current code decides).
    """

    side: float = math.radians(60.0)
    elevation: float = math.radians(60.0)
    ground: float = 5.0


@dataclass(frozen=True, kw_only=True)
class Sequence:
    """A programme of figures.

    Args:
        distance: of the flight line from the judges, m.
        height: of the entry, m above the ground. place: of the entry along the flight line, m, right of the middle
            positive.
        way: 1 to the right, -1 to the left as the judges see it.
        inverted: entered inverted.
        invented: made up for trying, of no rule book.
        entry_speed: m/s, None the wanted speed.
    """

    name: str
    figures: tuple[Figure, ...]
    distance: float = 150.0
    height: float = 60.0
    place: float = 0.0
    way: int = 1
    inverted: bool = False
    invented: bool = False
    entry_speed: float | None = None
    box: Box = field(default_factory=Box)

    def __post_init__(self) -> None:
        _finite(distance=self.distance, height=self.height, place=self.place)
        if self.way not in (1, -1) or not self.distance > 0:
            raise ValueRangeError("a sequence is flown to the right (1) or left (-1) at some distance")
