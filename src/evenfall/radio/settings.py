"""A plan in the pulses and shares of one radio: what to set on every channel, and what that radio cannot do of it.

Shares are of the radio's own travel (1 for 100 %) and count positive where they lengthen the pulse.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError
from evenfall.radio.channels import (
    Channel,
    CornerTravel,
    Lost,
    PhaseSetting,
    crow_angle,
    end_limits,
    mean_throw,
    rounded,
)
from evenfall.radio.lost import losses, no_mixes
from evenfall.radio.phases import Phase, soften
from evenfall.radio.plan import Crow, Plan, Points
from evenfall.radio.points import (
    Indices,
    Wanted,
    best_straight,
    best_values,
    even_knots,
    followed,
    free_knots,
    straight_values,
)
from evenfall.radio.radio_description import RadioDescription

Array = NDArray[np.float64]
Outcome = Literal["met", "limited", "none"]

GOOD_ENOUGH = math.radians(0.05)
"""Surface error along the stick below which no further point is spent, rad."""
_ELEVATOR_WORTH = math.radians(0.05)


@dataclass(frozen=True, kw_only=True)
class Settings:
    """A plan in one radio.

    Args:
        status: "met", "limited" (something is lost) or "none" (the crow cannot be mixed at all).
        straight: the deployment follows straight mixes with an offset only.
        sticks: stick positions 0-1 of the points of the deployment curve, shared by all crow mixes.
        deployment: deployment really reached at `flown_sticks`, mean over the corners.
        channels: by corner.
        elevator: share of the elevator's travel at each of `sticks`, positive lowering the trailing edge; empty
            where no mix is needed or left.
        elevator_share: elevator angle over crow angle as it comes out.
        throttle_curve: as this radio can do it.
        mixes_needed: mixes the plan asks for beyond the radio's ailerons.
        lost: largest angle first.
    """

    radio: RadioDescription
    status: Outcome
    straight: bool
    sticks: tuple[float, ...]
    flown_sticks: tuple[float, ...]
    deployment: tuple[float, ...]
    channels: Mapping[str, Channel]
    elevator: tuple[float, ...]
    elevator_share: float
    phases: tuple[PhaseSetting, ...]
    throttle_curve: Points
    mixes_needed: int
    lost: tuple[Lost, ...]

    @property
    def crow_error(self) -> float:
        """Worst surface error of any corner anywhere on the throttle stick, rad."""
        return max((channel.crow_error for channel in self.channels.values()), default=0.0)


def radio_settings(
    plan: Plan, radio: RadioDescription, corners: Mapping[str, CornerTravel], *, elevator_at_full: float
) -> Settings:
    """The plan in that radio's pulses and shares, rounded to its steps.

    Args:
        corners: by name, every aileron there is.
        elevator_at_full: elevator angle at 100 % of its travel, rad, > 0.

    All crow mixes share the stick positions of their points. Full deployment at the closed end and neutral from the
    threshold up are kept exact (to the step); between them the worst surface error is least.
    """
    if not elevator_at_full > 0:
        raise ValueRangeError(f"the elevator's angle at 100 % must be above 0, got {elevator_at_full} rad")
    neutral = {name: _neutral(radio, corner) for name, corner in corners.items()}
    lost: list[Lost] = []
    crowed = {name: full for name in corners if (full := crow_angle(plan, name)) != 0.0}
    lift = plan.crow.elevator if plan.crow is not None else 0.0
    wants_elevator = bool(crowed) and abs(lift) > _ELEVATOR_WORTH
    needed = len(crowed) + wants_elevator
    possible = len(crowed) <= radio.free_mixes
    if not possible:
        lost.append(no_mixes(radio, crowed))
    curve = _deployment_curve(plan, radio, corners, neutral, crowed if possible else {})
    channels = {name: _channel(plan, radio, name, corner, neutral[name], curve) for name, corner in corners.items()}
    flown = _flown(plan, radio, corners, channels, curve)
    elevator, share = _elevator(
        plan, radio, curve, flown, elevator_at_full, on=wants_elevator and needed <= radio.free_mixes
    )
    if possible and needed > radio.free_mixes:
        lost.append(
            Lost(
                what="elevator",
                angle=abs(lift),
                text=f"No mix is left for the elevator: {math.degrees(abs(lift)):.1f} deg at full deployment must be "
                "held with the stick. Free one mix.",
            )
        )
    phases = tuple(_phase_setting(plan, radio, phase, corners, channels) for phase in plan.phases)
    throttle, throttle_error = _throttle_curve(plan, radio)
    lost += losses(plan, radio, corners, channels, curve.sticks, throttle_error, with_crow=bool(crowed) and possible)
    return Settings(
        radio=radio,
        status="none" if not possible else "limited" if lost else "met",
        straight=not radio.curves,
        sticks=curve.sticks,
        flown_sticks=tuple(flown[0].tolist()),
        deployment=tuple(flown[1].tolist()),
        channels=channels,
        elevator=elevator,
        elevator_share=share,
        phases=phases,
        throttle_curve=throttle,
        mixes_needed=needed,
        lost=tuple(sorted(lost, key=lambda item: -item.angle)),
    )


def as_flown(plan: Plan, settings: Settings) -> Plan:
    """The plan as the radio will really fly it, to be predicted again.

    Angles, curve, elevator share, throws and throttle curve as they come out of rounded settings; crow live in every
    phase where the radio has no mixes per phase; no crow where it cannot be mixed.
    """
    phases = tuple(
        replace(
            phase,
            crow_live=setting.crow,
            aileron=setting.aileron if settings.channels else phase.aileron,
            aileron_exponential=setting.exponential[0],
            elevator_exponential=setting.exponential[1],
            rudder_exponential=setting.exponential[2],
            roll_boost=setting.boost,
        )
        for phase, setting in zip(plan.phases, settings.phases, strict=True)
    )
    motor = replace(plan.motor, throttle_curve=settings.throttle_curve)
    return replace(plan, crow=_flown_crow(plan, settings), motor=motor, phases=phases)


def _flown_crow(plan: Plan, settings: Settings) -> Crow | None:
    if plan.crow is None or settings.status == "none" or not settings.channels:
        return None if settings.status == "none" else plan.crow
    angles = {}
    for wing, planned in (("upper", plan.crow.upper), ("lower", plan.crow.lower)):
        reached = [channel.full for name, channel in settings.channels.items() if name.startswith(wing)]
        mean = math.fsum(reached) / len(reached) if reached else planned
        angles[wing] = mean if mean * planned > 0 else 0.0
    curve = tuple(zip(settings.flown_sticks, settings.deployment, strict=True))
    rest = next(stick for stick, out in curve if out == curve[-1][1])
    return replace(
        plan.crow,
        upper=angles["upper"],
        lower=angles["lower"],
        threshold=rest,
        curve=curve,
        elevator_share=settings.elevator_share,
    )


# --- crow -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Curve:
    """Points shared by the crow mixes: sticks, and each corner's shares there, rounded."""

    sticks: tuple[float, ...]
    values: Mapping[str, tuple[float, ...]]


def _neutral(radio: RadioDescription, corner: CornerTravel) -> float:
    """Pulse sent at neutral, s: the centre plus whatever shift the radio has, to its step."""
    shift = float(corner.pulse(0.0)) - radio.pulse_centre
    return radio.pulse_centre + rounded(float(np.clip(shift, -radio.shift_reach, radio.shift_reach)), radio.pulse_step)


def _wanted(
    plan: Plan,
    radio: RadioDescription,
    corners: Mapping[str, CornerTravel],
    neutral: Mapping[str, float],
    crowed: Mapping[str, float],
) -> Wanted:
    """What the crow mixes should do, in shares, with the radian a share is worth."""
    if plan.crow is None:
        raise AssertionError("a curve was asked for without crow")
    step = max(radio.share_step, 0.001)
    own = [rounded(stick, step) for stick, _ in plan.crow.curve]
    even = np.linspace(0.0, 1.0, radio.curve_points)
    stick = np.unique(np.round(np.clip([*np.linspace(0.0, 1.0, 101), *own, *even], 0.0, 1.0), 9))
    foot = int(np.argmin(np.abs(stick - rounded(_rest_stick(plan.crow), step))))
    out = plan.crow.deployment(stick)
    out = np.where(np.arange(len(stick)) >= foot, out[-1], out)
    rows, weights = [], []
    for name, full in crowed.items():
        pulse = corners[name].pulse(out * full)
        low, high = end_limits(radio, corners[name])
        value = (np.clip(pulse, low, high) - neutral[name]) / radio.unit
        rest = (float(corners[name].pulse(0.0)) - neutral[name]) / radio.unit
        value = value - (1.0 - out) * rest  # a neutral that is off stays off; full deployment is exact
        nudge = 1e-6
        slope = (corners[name].surface(pulse + nudge) - corners[name].surface(pulse - nudge)) / (2 * nudge)
        rows.append(value)
        weights.append(np.abs(slope) * radio.unit)
    return Wanted(stick=stick, value=np.stack(rows), weight=np.stack(weights), foot=foot)


def _rest_stick(crow: Crow) -> float:
    """Stick from which deployment keeps its last value."""
    return next(stick for stick, out in crow.curve if out == crow.curve[-1][1])


def _deployment_curve(
    plan: Plan,
    radio: RadioDescription,
    corners: Mapping[str, CornerTravel],
    neutral: Mapping[str, float],
    crowed: Mapping[str, float],
) -> _Curve:
    if not crowed:
        return _Curve(sticks=(), values={})
    wanted = _wanted(plan, radio, corners, neutral, crowed)
    knots: Indices
    if not radio.curves:
        knots = (0, len(wanted.stick) - 1) if radio.straight_sides == 1 else best_straight(wanted)
        values = straight_values(wanted, knots)
    else:
        movable = radio.points_movable
        knots = (
            free_knots(wanted, radio.curve_points, good=GOOD_ENOUGH)
            if movable
            else even_knots(wanted, radio.curve_points)
        )
        values = best_values(wanted, knots)
    return _Curve(
        sticks=tuple(float(wanted.stick[knot]) for knot in knots),
        values={
            name: tuple(rounded(float(value), radio.share_step) for value in row)
            for name, row in zip(crowed, values, strict=True)
        },
    )


def _sent(radio: RadioDescription, channel: Channel, curve: _Curve, stick: Array) -> Array:
    """Pulses the radio sends for crow alone, to its step and inside the end limits, s."""
    values = curve.values.get(channel.corner)
    share = np.interp(stick, curve.sticks, values) if values is not None else np.zeros(len(stick))
    pulse = channel.neutral + share * radio.unit
    pulse = radio.pulse_centre + np.round((pulse - radio.pulse_centre) / radio.pulse_step) * radio.pulse_step
    return np.asarray(np.clip(pulse, channel.end_low, channel.end_high))


def _channel(
    plan: Plan, radio: RadioDescription, name: str, corner: CornerTravel, neutral: float, curve: _Curve
) -> Channel:
    low, high = end_limits(radio, corner)
    values = curve.values.get(name, ())
    channel = Channel(
        corner=name,
        centre_shift=(neutral - radio.pulse_centre) / radio.unit,
        neutral=neutral,
        crow=values[0] if values else 0.0,
        curve=values,
        roll={
            phase.name: rounded(corner.roll_pulse(phase.aileron) / radio.unit, radio.share_step)
            for phase in plan.phases
        },
        end_low=low,
        end_high=high,
        end_low_share=(low - radio.pulse_centre) / radio.unit,
        end_high_share=(high - radio.pulse_centre) / radio.unit,
        neutral_error=float(corner.surface(neutral)),
        crow_error=0.0,
        crow_error_stick=0.0,
        full=0.0,
    )
    if not values:
        return channel
    stick = _dense(plan, curve)
    real = corner.surface(_sent(radio, channel, curve, stick))
    error = np.abs(real - plan.deployment(stick) * crow_angle(plan, name))
    place = int(np.argmax(error))
    return replace(channel, crow_error=float(error[place]), crow_error_stick=float(stick[place]), full=float(real[0]))


def _dense(plan: Plan, curve: _Curve) -> Array:
    own = [stick for stick, _ in plan.crow.curve] if plan.crow is not None else []
    return np.unique(np.r_[np.linspace(0.0, 1.0, 401), curve.sticks, own])


def _flown(
    plan: Plan,
    radio: RadioDescription,
    corners: Mapping[str, CornerTravel],
    channels: Mapping[str, Channel],
    curve: _Curve,
) -> tuple[Array, Array]:
    """Stick positions and the deployment really reached there, mean over the corners, 1 at the closed end."""
    if not curve.sticks:
        return np.array([0.0, 1.0]), np.zeros(2)
    stick = np.unique(np.r_[curve.sticks, np.linspace(0.0, 1.0, 21)])
    shares = []
    for name in curve.values:
        angle = corners[name].surface(_sent(radio, channels[name], curve, stick))
        rest = channels[name].neutral_error
        span = float(angle[0]) - rest
        shares.append((angle - rest) / span if span else np.zeros(len(stick)))
    return stick, np.clip(np.minimum.accumulate(np.mean(shares, axis=0)), 0.0, 1.0)


def _elevator(
    plan: Plan, radio: RadioDescription, curve: _Curve, flown: tuple[Array, Array], at_full: float, *, on: bool
) -> tuple[tuple[float, ...], float]:
    """Shares of the elevator mix at the curve's points, and the share of the crow angle that comes out."""
    if plan.crow is None or not on or not curve.sticks:
        return (), 0.0
    out = np.interp(curve.sticks, *flown)
    shares = tuple(rounded(float(value), radio.share_step) for value in out * plan.crow.elevator / at_full)
    return shares, shares[0] * at_full / plan.crow.angle


# --- roll, phases, throttle -------------------------------------------------------------------------------------------


def _phase_setting(
    plan: Plan,
    radio: RadioDescription,
    phase: Phase,
    corners: Mapping[str, CornerTravel],
    channels: Mapping[str, Channel],
) -> PhaseSetting:
    soft = (phase.aileron_exponential, phase.elevator_exponential, phase.rudder_exponential)
    steps = tuple(min(rounded(value, radio.share_step), 1.0) for value in soft)
    reached = [mean_throw(radio, corners[name], channel, phase.name) for name, channel in channels.items()]
    throw = math.fsum(reached) / len(reached) if reached else phase.aileron
    return PhaseSetting(
        name=phase.name,
        crow=phase.crow_live or not radio.phase_mixes,
        aileron=max(throw, math.radians(0.1)),
        exponential=(steps[0], steps[1], steps[2]),
        at_half=(*(float(soften(0.5, value)) for value in steps),),  # type: ignore[arg-type]
        boost=rounded(phase.roll_boost, radio.share_step) if radio.share_follows else 0.0,
    )


def _throttle_curve(plan: Plan, radio: RadioDescription) -> tuple[Points, float]:
    """The throttle curve with the radio's points, and its worst error in motor command."""
    curve = plan.motor.throttle_curve
    step = radio.share_step
    sticks, values = (np.array(column) for column in zip(*curve, strict=True))
    stick = np.unique(
        np.round(np.clip(np.r_[np.linspace(0, 1, 101), np.linspace(0, 1, radio.curve_points), sticks], 0, 1), 9)
    )
    value = np.interp(stick, sticks, values)[None, :]
    wanted = Wanted(stick=stick, value=value, weight=np.ones_like(value), foot=len(stick) - 1)
    if not radio.curves:
        knots: Indices = (0, len(stick) - 1)
    elif radio.points_movable:
        knots = free_knots(wanted, radio.curve_points, good=step / 2)
    else:
        knots = even_knots(wanted, radio.curve_points)
    shaped = best_values(wanted, knots)
    points = tuple(
        (float(stick[knot]), min(max(rounded(float(level), step), 0.0), 1.0))
        for knot, level in zip(knots, shaped[0], strict=True)
    )
    error = float(np.max(np.abs(followed(wanted, knots, shaped) - value)))
    return points, error
