"""One aileron corner as fitted: four-bar, arm on its spline, pulses, every limit of the travel, and play.

Servo angles here are the arm's angle from square to its rod (rod as it lies with the surface at neutral), rad, positive
where the rod pushes. Throws are trailing edge down positive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.fourbar import (
    FourBar,
    WorkingRange,
    forward,
    inverse,
    offset_of,
    square,
    throw_at,
    working_range,
)

Array = NDArray[np.float64]

OVER_CENTRE_MARGIN = math.radians(10.0)
"""Arm angle kept free before a dead point, rad. Common practice, no source."""

CAUSES = ("servo stop", "over-centre", "hinge limit", "surface contact")
"""What can end the travel, in the order of `Limits.low_cause` codes."""


@dataclass(frozen=True, kw_only=True)
class Corner:
    """A corner as fitted. Angles in rad.

    Args:
        name: for example "lower_left".
        bar: the four-bar, rod adjusted.
        centre: arm angle from square at the servo's centre pulse (what the teeth fix).
        stop_low, stop_high: servo travel either way from the centre pulse, both positive; pulling and pushing.
        hinge_up, hinge_down: greatest surface angle the hinges allow either way, both positive.
        contact_up, contact_down: surface angle at which it touches something, both positive.
        direction: +1 where a longer pulse pushes the rod, -1 where it pulls (mirrored or reversed).
        servo_gain: rad of servo per second of pulse.
        pulse_centre, pulse_step: s; step is the radio's finest.
        dead_band: servo's dead band, s of pulse.
        crow: surface angle fully deployed.
        roll_sign: +1 where stick right lowers this aileron (left side), -1 where it raises it (right side).
    """

    name: str
    bar: FourBar
    crow: float = 0.0
    centre: float = 0.0
    stop_low: float = math.radians(60.0)
    stop_high: float = math.radians(60.0)
    hinge_up: float = math.radians(45.0)
    hinge_down: float = math.radians(45.0)
    contact_up: float = math.pi / 2
    contact_down: float = math.pi / 2
    direction: int = 1
    servo_gain: float = math.radians(1.0) / 10e-6
    pulse_centre: float = 1.5e-3
    pulse_step: float = 1e-6
    dead_band: float = 2e-6
    roll_sign: int = 1

    def __post_init__(self) -> None:
        for name in ("stop_low", "stop_high", "hinge_up", "hinge_down", "contact_up", "contact_down", "servo_gain"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueRangeError(f"{self.name}: {name} must be a positive number, got {value}")
        if self.direction not in (-1, 1) or self.roll_sign not in (-1, 1):
            raise ValueRangeError(f"{self.name}: direction and roll_sign are +1 or -1")
        if not bool(inverse(self.bar, 0.0).reachable):
            raise ValueRangeError(
                f"{self.name}: arm, rod and horn do not meet with the surface at neutral; "
                "measure rod and axis distance again (pin to pin, axis to hinge line)"
            )

    @cached_property
    def neutral(self) -> float:
        """Arm offset: arm angle from square with the surface at neutral, rad."""
        return float(offset_of(self.bar))

    @cached_property
    def deployed(self) -> float:
        """Arm angle from square with crow fully out, rad; held at the dead point where the crow is out of reach."""
        return float(self.servo(self.crow))

    @cached_property
    def square(self) -> float:
        """Arm angle from the chord's normal that is square to the rod at neutral, rad."""
        return float(square(self.bar))

    @cached_property
    def limits(self) -> Limits:
        """What ends the travel on either side, with the usual margin before a dead point."""
        return _limits_of(self, OVER_CENTRE_MARGIN)

    def throw(self, servo: ArrayLike) -> Array:
        """Surface angle at arm angles from square, rad."""
        return throw_at(self.bar, np.asarray(servo, float) + self.square)

    def gain(self, servo: ArrayLike) -> Array:
        """d(throw)/d(arm angle) at arm angles from square."""
        return forward(self.bar, np.asarray(servo, float) + self.square).gain

    def servo(self, throw: ArrayLike) -> Array:
        """Arm angle from square for surface angles, rad; held at the dead point beyond reach."""
        return inverse(self.bar, throw).theta - self.square

    def pulse(self, servo: ArrayLike) -> Array:
        """Pulse in s that holds arm angles from square."""
        turn = np.asarray(servo, float) - self.centre
        return np.asarray(self.pulse_centre + self.direction * turn / self.servo_gain)

    def servo_of_pulse(self, pulse: ArrayLike) -> Array:
        """Arm angle from square at pulses in s."""
        return np.asarray(
            self.centre + self.direction * self.servo_gain * (np.asarray(pulse, float) - self.pulse_centre)
        )


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Arm angles from square between which the corner may move, rad, and what ends them (index into `CAUSES`)."""

    low: Array
    high: Array
    low_cause: NDArray[np.int8]
    high_cause: NDArray[np.int8]


def travel_limits(
    bar: FourBar,
    *,
    centre: ArrayLike,
    stop_low: float,
    stop_high: float,
    hinge_up: float,
    hinge_down: float,
    contact_up: float = math.pi / 2,
    contact_down: float = math.pi / 2,
    margin: float = OVER_CENTRE_MARGIN,
) -> Limits:
    """The nearest of servo stop, dead point less `margin`, hinge limit and contact on each side, for a batch.

    Args:
        centre: arm angle from square at the centre pulse, rad, broadcast with the batch. Others as in `Corner`.
    """
    zero = square(bar)
    span: WorkingRange = working_range(bar)
    mid = np.asarray(centre, float)
    lows = [mid - stop_low, span.low + margin - zero]
    highs = [mid + stop_high, span.high - margin - zero]
    for up, down in ((hinge_up, hinge_down), (contact_up, contact_down)):
        push, pull = (down, up) if bar.horn_above else (up, down)
        for limit, sign, ends, free in ((pull, -1.0, lows, -np.inf), (push, 1.0, highs, np.inf)):
            move = inverse(bar, sign * bar.sense * limit)
            ends.append(np.where(move.reachable, move.theta - zero, free))
    low = np.stack(np.broadcast_arrays(*lows))
    high = np.stack(np.broadcast_arrays(*highs))
    return Limits(
        low=low.max(axis=0),
        high=high.min(axis=0),
        low_cause=low.argmax(axis=0).astype(np.int8),
        high_cause=high.argmin(axis=0).astype(np.int8),
    )


def corner_limits(corner: Corner, *, margin: float = OVER_CENTRE_MARGIN) -> Limits:
    """`travel_limits` of one corner as fitted; with the usual margin they are worked out once a corner."""
    return corner.limits if margin == OVER_CENTRE_MARGIN else _limits_of(corner, margin)


def _limits_of(corner: Corner, margin: float) -> Limits:
    return travel_limits(
        corner.bar,
        centre=corner.centre,
        stop_low=corner.stop_low,
        stop_high=corner.stop_high,
        hinge_up=corner.hinge_up,
        hinge_down=corner.hinge_down,
        contact_up=corner.contact_up,
        contact_down=corner.contact_down,
        margin=margin,
    )


def mean_throw(bar: FourBar, at: ArrayLike, turn: ArrayLike, *, low: ArrayLike, high: ArrayLike) -> Array:
    """Roll throw: mean of the throws up and down for the same servo turn either way, clipped at the limits, rad.

    Args:
        at: arm angle from square about which the stick works, rad.
        turn: servo turn either way, rad, >= 0.
        low, high: limits, arm angle from square. All broadcast with the batch.
    """
    zero = square(bar)
    middle, step = np.asarray(at, float), np.asarray(turn, float)
    upper = throw_at(bar, np.clip(middle + step, low, high) + zero)
    lower = throw_at(bar, np.clip(middle - step, low, high) + zero)
    return np.asarray(np.abs(upper - lower) / 2.0)


def turn_for_mean(bar: FourBar, at: ArrayLike, throw: ArrayLike, *, low: ArrayLike, high: ArrayLike) -> Array:
    """Servo turn either way that gives a mean throw, rad, to 1e-10; the largest useful turn where none does.

    Newton's steps on the exact gain, kept inside a bracket. Arguments as in `mean_throw`; `throw` in rad.
    """
    zero = square(bar)
    middle, wanted, bottom, top, _ = np.broadcast_arrays(
        *(np.asarray(v, float) for v in (at, throw, low, high)), zero + np.zeros(np.shape(bar.rod))
    )
    most = np.maximum(np.maximum(top - middle, middle - bottom), 0.0)
    small, large = np.zeros(middle.shape), most
    steepness = np.abs(forward(bar, np.clip(middle, bottom, top) + zero).gain)
    turn = np.clip(wanted / np.maximum(steepness, 0.05), 0.0, most)
    for _step in range(14):
        ahead = forward(bar, np.clip(middle + turn, bottom, top) + zero)
        behind = forward(bar, np.clip(middle - turn, bottom, top) + zero)
        over = np.abs(ahead.throw - behind.throw) / 2.0 - wanted
        if np.all(np.abs(over) < 1e-12):
            break
        large, small = np.where(over >= 0, turn, large), np.where(over < 0, turn, small)
        free_ahead, free_behind = middle + turn < top, middle - turn > bottom
        slope = (np.abs(ahead.gain) * free_ahead + np.abs(behind.gain) * free_behind) / 2.0
        new = turn - over / np.maximum(slope, 1e-9)
        turn = np.where((new > small) & (new < large), new, 0.5 * (small + large))
    reached = mean_throw(bar, middle, most, low=bottom, high=top) >= wanted
    return np.where(reached, turn, most)


def commanded(corner: Corner, deployment: ArrayLike, stick: ArrayLike, *, turn: float) -> Array:
    """Arm angle a straight mix asks for: neutral + deployment x crow travel + stick x roll turn, rad from square.

    Args:
        deployment: 0 to 1; stick: -1 (left) to 1 (right), broadcast together.
        turn: servo turn of the roll at full stick, rad.

    Limits are not applied.
    """
    way = corner.roll_sign * corner.bar.sense
    crow = np.asarray(deployment, float) * (corner.deployed - corner.neutral)
    return np.asarray(corner.neutral + crow + way * np.asarray(stick, float) * turn)


@dataclass(frozen=True, kw_only=True)
class Roll:
    """How much of the roll throw the linkage keeps with crow out.

    Args:
        turn: servo turn either way that gives the throw stowed, rad.
        stowed, deployed: mean of up and down at that turn, rad.
        retention: deployed over stowed.
    """

    turn: float
    stowed: float
    deployed: float
    retention: float


def roll_retention(corner: Corner, throw: float) -> Roll:
    """Mean roll throw deployed over stowed at the same stick, clipped at the corner's limits.

    Args:
        throw: mean of up and down stowed, rad; held at what the corner can give.
    """
    limits = corner_limits(corner)
    ends = {"low": limits.low, "high": limits.high}
    turn = turn_for_mean(corner.bar, corner.neutral, throw, **ends)
    stowed = float(mean_throw(corner.bar, corner.neutral, turn, **ends))
    out = float(mean_throw(corner.bar, corner.deployed, turn, **ends))
    return Roll(turn=float(turn), stowed=stowed, deployed=out, retention=out / stowed if stowed > 0 else 0.0)


def retention(corners: tuple[Corner, ...], throw: float) -> float:
    """Linkage retention of the plane: mean over the corners of roll throw deployed over stowed, at the same stick."""
    return math.fsum(roll_retention(corner, throw).retention for corner in corners) / len(corners)


@dataclass(frozen=True, kw_only=True)
class Play:
    """What the surface does not follow, rad at the surface. Arrays of one shape.

    Args:
        slop: peak to peak, from pin play and gear play.
        resolution: surface angle per pulse step.
        hysteresis: difference between reaching a position from above and from below: slop plus dead band.
    """

    slop: Array
    resolution: Array
    hysteresis: Array


def play(corner: Corner, servo: ArrayLike, *, pin_play: float = 0.0, gear_play: float = 0.0) -> Play:
    """Slop, pulse resolution and hysteresis at the surface, rad.

    slop = |gain| gear_play + pin_play / horn lever; resolution = |gain| servo_gain pulse_step.

    Args:
        servo: arm angles from square, rad.
        pin_play: play of both pins together along the rod, peak to peak, m.
        gear_play: play of the arm, peak to peak, rad.

    Source: first-order error propagation through the exact gain. Grows without bound at a horn dead point.
    """
    motion = forward(corner.bar, np.asarray(servo, float) + square(corner.bar))
    gain = np.abs(motion.gain)
    lever = np.maximum(np.abs(motion.horn_lever), 1e-9)
    slop = gain * gear_play + pin_play / lever
    per_second = gain * corner.servo_gain
    return Play(
        slop=np.asarray(slop),
        resolution=np.asarray(per_second * corner.pulse_step),
        hysteresis=np.asarray(slop + per_second * corner.dead_band),
    )


def corner_words(corner: Corner) -> tuple[str, ...]:
    """The sign of the corner in words: stick right, crow and a longer pulse."""
    where = corner.name.replace("_", " ")
    down = corner.direction * corner.bar.sense
    rows = [
        f"stick right: {where} goes {'down' if corner.roll_sign > 0 else 'up'}",
        f"longer pulse: {where} goes {'down' if down > 0 else 'up'}",
    ]
    if corner.crow != 0.0:
        rows.insert(1, f"crow out: {where} goes {'down' if corner.crow > 0 else 'up'}")
    return tuple(rows)
