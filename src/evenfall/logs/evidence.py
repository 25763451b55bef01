"""What a flight or the bench has told, as numbers: SI units, each kind with its own honest one sigma.

A piece of evidence says under which conditions it was taken (slope, stick, crow, air) and what was seen; what the
engine expects there is worked out in `evenfall.fit`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError

Floats = NDArray[np.float64]


GUST_TIME = 1.5
"""Seconds over which gusts stay alike (1/e): some 30 m at the speed of a line. Common practice, no source."""


def _check(name: str, **numbers: float) -> None:
    wrong = [f"{key} {value}" for key, value in numbers.items() if not math.isfinite(value)]
    if wrong:
        raise ValueRangeError(f"{name}: {', '.join(wrong)} is not a finite number")


def _positive(name: str, **numbers: float) -> None:
    _check(name, **numbers)
    wrong = [f"{key} {value}" for key, value in numbers.items() if value <= 0]
    if wrong:
        raise ValueRangeError(f"{name}: {', '.join(wrong)} must be above 0")


@dataclass(frozen=True, kw_only=True)
class Flight:
    """Conditions of a straight line.

    Args:
        slope: rad, climbing positive. inverted: lift towards the belly.
        stick: throttle stick 0-1.
        crow: crow switched on (it follows the stick); False flies the plan without crow.
        level: name of the motor-brake level; None is the plan's.
        density: of the air, kg/m^3; None is the air of the fit.
        wind: along the path, m/s, pushing positive, with one sigma. No part of it acts on a vertical line.
        gust: one sigma of the air's own movement along the path, m/s, alike for `GUST_TIME`: about .2 in calm air, .4
            on a usual day, 1 in thermals. Common practice, no source.
    """

    slope: float
    inverted: bool = False
    stick: float = 0.0
    crow: bool = True
    level: str | None = None
    density: float | None = None
    wind: float = 0.0
    wind_sigma: float = 0.0
    gust: float = 0.4


@dataclass(frozen=True, kw_only=True)
class TracedLine:
    """A recorded way along a line: GPS, barometer, video.

    Args:
        name: which flight and line, for messages.
        time: s from the start, rising, (n,). way: m along the path at these times, (n,), any zero.
        sigma: of each way, m. correlation: s over which errors stay alike (1/e); 0 where each is its own.
        scale_sigma: one sigma of the scale of all ways together, a share (video: span or markers misjudged).
        wander: how errors drift beside that, m after one second and growing with the root of time (receivers).
        speed, speed_sigma: at the start, m/s over ground along the path.
        fresh: the start is the moment the stick was moved; False where everything had settled by then.
    """

    name: str
    flight: Flight
    time: Floats = field(repr=False)
    way: Floats = field(repr=False)
    sigma: float
    speed: float
    speed_sigma: float
    correlation: float = 0.0
    scale_sigma: float = 0.0
    wander: float = 0.0
    fresh: bool = False

    def __post_init__(self) -> None:
        _positive(self.name, sigma=self.sigma, speed=self.speed, speed_sigma=self.speed_sigma)
        if not 0 <= self.wander < math.inf:
            raise ValueRangeError(f"{self.name}: the drift of its errors is zero or more metres, got {self.wander}")
        if not 0 <= self.correlation < math.inf:
            raise ValueRangeError(f"{self.name}: the correlation time is zero or more seconds, got {self.correlation}")
        if not 0 <= self.scale_sigma < 1:
            raise ValueRangeError(f"{self.name}: the doubt of the scale is a share of 0 to 1, got {self.scale_sigma}")
        if len(self.time) != len(self.way) or len(self.time) < 3:
            raise ValueRangeError(f"{self.name}: a traced line needs at least 3 times and as many ways")
        if not (np.all(np.isfinite(self.time)) and np.all(np.isfinite(self.way)) and np.all(np.diff(self.time) > 0)):
            raise ValueRangeError(f"{self.name}: times must rise and every number must be finite")


@dataclass(frozen=True, kw_only=True)
class TimedLine:
    """A stretch of line by stopwatch or two video frames.

    Args:
        skipped: m flown from the start before the watch starts. length: m timed. seconds, sigma: s.
        length_sigma: m.
        speed, speed_sigma: at the start, m/s. fresh: as in `TracedLine`.
    """

    name: str
    flight: Flight
    length: float
    seconds: float
    sigma: float
    speed: float
    speed_sigma: float
    skipped: float = 0.0
    length_sigma: float = 0.0
    fresh: bool = False

    def __post_init__(self) -> None:
        _positive(
            self.name,
            length=self.length,
            seconds=self.seconds,
            sigma=self.sigma,
            speed=self.speed,
            speed_sigma=self.speed_sigma,
        )
        if self.skipped < 0 or self.length_sigma < 0:
            raise ValueRangeError(f"{self.name}: what was skipped and its doubt are zero or more")


@dataclass(frozen=True, kw_only=True)
class SteadySpeed:
    """A speed that had settled: a level pass both ways, or the end of a long line. `speed`, `sigma` in m/s."""

    name: str
    flight: Flight
    speed: float
    sigma: float

    def __post_init__(self) -> None:
        _positive(self.name, speed=self.speed, sigma=self.sigma)


@dataclass(frozen=True, kw_only=True)
class ShaftSpeed:
    """Shaft speed on a line at a known air speed: telemetry or sound. `omega`, `sigma` in rad/s; `speed` in m/s."""

    name: str
    flight: Flight
    omega: float
    sigma: float
    speed: float

    def __post_init__(self) -> None:
        _positive(self.name, omega=self.omega, sigma=self.sigma, speed=self.speed)


@dataclass(frozen=True, kw_only=True)
class Damping:
    """Torque of a motor-brake level at a shaft speed, from a spin-down. `omega` rad/s, `torque` N m friction
    included, `sigma` a share of it."""

    name: str
    level: str
    omega: float
    torque: float
    sigma: float

    def __post_init__(self) -> None:
        _positive(self.name, omega=self.omega, torque=self.torque, sigma=self.sigma)


@dataclass(frozen=True, kw_only=True)
class TimedRolls:
    """Full rolls by stopwatch: `rolls` turns in `seconds` +- `sigma` s at a phase's full throw (rad) and `speed`
    (m/s)."""

    name: str
    flight: Flight
    rolls: float
    seconds: float
    sigma: float
    throw: float
    speed: float

    def __post_init__(self) -> None:
        _positive(
            self.name, rolls=self.rolls, seconds=self.seconds, sigma=self.sigma, throw=self.throw, speed=self.speed
        )


@dataclass(frozen=True, kw_only=True)
class Pull:
    """Bend of a line with the elevator at level trim: rad/s towards the canopy positive, with one sigma."""

    name: str
    flight: Flight
    rate: float
    sigma: float

    def __post_init__(self) -> None:
        _check(self.name, rate=self.rate)
        _positive(self.name, sigma=self.sigma)


@dataclass(frozen=True, kw_only=True)
class HeldStick:
    """Stick (`flight.stick`) at which a line was flown at the wanted speed, +- `sigma` of the stick's way."""

    name: str
    flight: Flight
    sigma: float

    def __post_init__(self) -> None:
        _positive(self.name, sigma=self.sigma)


Evidence = TracedLine | TimedLine | SteadySpeed | ShaftSpeed | Damping | TimedRolls | Pull | HeldStick
"""Everything `evenfall.fit` can learn from."""
