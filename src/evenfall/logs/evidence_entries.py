"""What one flight has brought home, as it was written down: SI units and radians, every measured number with one sigma.

An entry is one observation. What the engine makes of it (which throw, which air, which sound) needs the plane and is
worked out in `evenfall.workflow.learning`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

LINES: dict[str, float] = {
    "vertical down": -math.pi / 2,
    "45 down": -math.pi / 4,
    "level": 0.0,
    "45 up": math.pi / 4,
    "vertical up": math.pi / 2,
}
"""Lines of the ladder and their slopes, rad."""
GUSTS: dict[str, float] = {"calm": 0.2, "usual": 0.4, "thermals": 1.0}
"""The air's own movement along a path, one sigma in m/s, by the pilot's word. Common practice, no source."""
FASTEST = 120.0
"""m/s: speeds above are a slip of the unit."""
STOPWATCH = 0.3
"""One sigma of a time stopped by thumb, start and end together, s. Common practice, no source."""

Way = Literal["with", "against", "across"]
"""How the wind blew on a line."""


Heard = Literal["line", "pass", "spin-down"]
"""What a sound was recorded of."""


@dataclass(frozen=True)
class Measured:
    """A number and one sigma of it, in the same unit."""

    value: float
    sigma: float


@dataclass(frozen=True, kw_only=True)
class Flown:
    """How a line was flown.

    Args:
        slope: rad, climbing positive. line: its name in the ladder; empty where only the slope was given.
        stick: throttle stick 0-1; None where it was not written down.
        crow: switched on. level: of the motor brake, by name; None is the plan's.
        gust: one sigma of the air's movement, m/s. wind: how it blew; None where not written down.
    """

    slope: float
    line: str = ""
    inverted: bool = False
    stick: float | None = None
    crow: bool = True
    level: str | None = None
    gust: float = GUSTS["usual"]
    wind: Way | None = None


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry. `name` is the pilot's or made of kind and number; `where` is its place in the file (`timed.0`)."""

    name: str
    where: str


@dataclass(frozen=True, kw_only=True)
class RecordedPart:
    """A line within a record, from and to in s of the record's own time."""

    start: float
    end: float
    flown: Flown
    where: str


@dataclass(frozen=True, kw_only=True)
class Recorded(Entry):
    """A recorded flight in a file beside this one; without `parts` its lines are cut out by themselves.

    `columns`: what a column holds where the guess is wrong, as (name, "height ft"). `called`: the pilot's name for the
    file where it is kept under another; empty for the same.
    """

    file: str
    columns: tuple[tuple[str, str], ...] = ()
    parts: tuple[RecordedPart, ...] = ()
    called: str = ""


@dataclass(frozen=True, kw_only=True)
class Timed(Entry):
    """A stretch of line by stopwatch or video frames.

    Args:
        length: m along the path. took: s. skipped: m flown since the start before the watch started.
        entry: speed at the start, m/s; None where not known.
        settled: crow and motor brake were out at the start; False where the stick was closed right there.
    """

    flown: Flown
    length: Measured
    took: Measured
    skipped: float = 0.0
    entry: Measured | None = None
    settled: bool = True


@dataclass(frozen=True, kw_only=True)
class ViewAngle:
    """Angle of view over the frame's width, rad."""

    angle: Measured


@dataclass(frozen=True, kw_only=True)
class ViewMarkers:
    """Two markers in the frame: pixel places, how far apart (m), and how far from the camera their middle is (m)."""

    first: tuple[float, float]
    second: tuple[float, float]
    apart: Measured
    away: Measured


@dataclass(frozen=True, kw_only=True)
class ViewSpan:
    """The plane seen at right angles on the line: its span in m, in pixels, and the row (px) it was measured at."""

    span: Measured
    pixels: Measured
    row: float | None = None


@dataclass(frozen=True, kw_only=True)
class Clicked(Entry):
    """Positions clicked in a video of a line.

    Args:
        file: name of the video, never opened. frame: width and height, px.
        view: how the angle of view is known. distance: m on the ground from the camera to below the line.
        elevation: of the camera above level, rad; None where `horizon` is given. horizon: row of the horizon or of a
            mark at the camera's height, in the middle of the frame, px from the top.
        clicks: (s, px from the left, px from the top). error: one sigma of a click, px.
    """

    flown: Flown
    file: str
    frame: tuple[float, float]
    view: ViewAngle | ViewMarkers | ViewSpan
    distance: Measured
    elevation: Measured | None
    horizon: float | None
    clicks: tuple[tuple[float, float, float], ...] = field(repr=False)
    error: float = 2.0
    settled: bool = True


@dataclass(frozen=True, kw_only=True)
class HeardPlace:
    """Where the plane was at `at` (s into the file): m above, ahead of and beside the listener's nearest point."""

    at: float
    height: float
    ahead: float
    aside: float


@dataclass(frozen=True, kw_only=True)
class Sound(Entry):
    """A WAV file beside this one.

    Args:
        what: "line" (place and speed known), "pass" (heard coming and going) or "spin-down".
        part: from and to, s; None is all of it. speed: m/s through the air. place: for a line, None where not known.
        inertia: of a light disc behind a guard with the rotor, kg m^2; None for a spin-down in flight.
        marks: on the disc. called: the pilot's name for the file where it is kept under another; empty for the same.
    """

    what: Heard
    flown: Flown
    file: str
    part: tuple[float, float] | None = None
    speed: Measured | None = None
    place: HeardPlace | None = None
    inertia: Measured | None = None
    marks: int = 1
    called: str = ""


@dataclass(frozen=True, kw_only=True)
class Rolls(Entry):
    """Full rolls on a line: how many, in how long (s), in which phase; `speed` m/s, None where not known."""

    flown: Flown
    rolls: float
    took: Measured
    phase: str = "normal"
    speed: Measured | None = None


@dataclass(frozen=True, kw_only=True)
class PullSeen(Entry):
    """How a line bent with the elevator at level trim: exactly one of `rate` (rad/s), `turned` (rad over `length` m)
    and `off` (m off the straight line over `length` m), all positive towards the canopy. `speed` m/s."""

    flown: Flown
    rate: Measured | None = None
    turned: Measured | None = None
    off: Measured | None = None
    length: float | None = None
    speed: Measured | None = None

    def bend(self, speed: float) -> Measured:
        """rad/s towards the canopy at that speed, m/s.

        Over a length L at speed V: turned V/L; an arc that ends `off` beside its tangent has the radius L^2/(2 off).
        """
        if self.rate is not None:
            return self.rate
        assert self.length is not None
        seen, factor = (self.turned, speed / self.length) if self.turned else (self.off, 2 * speed / self.length**2)
        assert seen is not None
        return Measured(seen.value * factor, seen.sigma * factor)


@dataclass(frozen=True, kw_only=True)
class HeadingSeen(Entry):
    """Drift on a line with the sticks left alone, rad over `length` m: nose right, right wing down positive.
    Signs of the diagnosis (`evenfall.workflow.observed`)."""

    flown: Flown
    yawed: Measured | None = None
    rolled: Measured | None = None
    length: float | None = None


@dataclass(frozen=True, kw_only=True)
class Held(Entry):
    """Stick (0-1) at which a line was flown at the wanted speed."""

    flown: Flown
    stick: Measured


@dataclass(frozen=True, kw_only=True)
class Steady(Entry):
    """A speed that had settled, m/s through the air (both ways over ground, wind out of it)."""

    flown: Flown
    speed: Measured


@dataclass(frozen=True, kw_only=True)
class ShaftSeen(Entry):
    """Shaft speed from telemetry, rad/s, at an air speed in m/s (None: not known)."""

    flown: Flown
    omega: Measured
    speed: Measured | None = None


@dataclass(frozen=True, kw_only=True)
class DampingSeen(Entry):
    """Torque of a motor-brake level at a shaft speed (rad/s), N m, friction included."""

    level: str
    omega: float
    torque: Measured


@dataclass(frozen=True, kw_only=True)
class Trim(Entry):
    """Change of elevator trim that made a line straight: rad, or a share of the throw, trailing edge up positive. A
    sign of the diagnosis (`evenfall.workflow.observed`)."""

    flown: Flown
    angle: Measured | None = None
    share: Measured | None = None


@dataclass(frozen=True, kw_only=True)
class AirSeen:
    """Air of the day: K, Pa at the field itself, m above the sea, wind in m/s. None where not written down."""

    temperature: float | None = None
    pressure: float | None = None
    elevation: float | None = None
    wind: Measured | None = None


@dataclass(frozen=True, kw_only=True)
class BatterySeen:
    """Battery at rest before and after, V, and what was put back or counted, C. None where not written down."""

    before: float | None = None
    after: float | None = None
    used: float | None = None


Kind = TypeVar("Kind", bound=Entry)


@dataclass(frozen=True, kw_only=True)
class FlightRecord:
    """One flight.

    Args:
        path: of its file, or a name where it came from a form.
        date: ISO, empty where not written down. plane, plan: as the pilot calls them, free text.
        entries: in the order of kinds, each kind in the order of the file.
        signs: what was seen, as signs of the diagnosis.
        document: what it was read from, plain data. remarks: what was odd but harmless, in words.
    """

    path: str
    date: str = ""
    place: str = ""
    plane: str = ""
    plan: str = ""
    notes: str = ""
    air: AirSeen = AirSeen()
    battery: BatterySeen = BatterySeen()
    entries: tuple[Entry, ...] = ()
    signs: tuple[str, ...] = ()
    document: Mapping[str, Any] = field(default_factory=dict, repr=False)
    remarks: tuple[str, ...] = ()

    def of(self, kind: type[Kind]) -> tuple[Kind, ...]:
        """Entries of one kind."""
        return tuple(entry for entry in self.entries if isinstance(entry, kind))

    @property
    def files(self) -> tuple[str, ...]:
        """Files the flight names beside itself, each once: records, sounds, videos."""
        named = (entry.file for entry in self.entries if isinstance(entry, Recorded | Sound | Clicked))
        return tuple(dict.fromkeys(named))
