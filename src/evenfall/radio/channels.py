"""Channels of a radio: what a corner is to it, what is set on one, and what it cannot do.

Shares are of the radio's own travel (1 for 100 %) and count positive where they lengthen the pulse.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.radio.plan import Plan
from evenfall.radio.radio_description import RadioDescription

Array = NDArray[np.float64]


class CornerTravel(Protocol):
    """One aileron channel: pulses as the radio sends them against the surface's angle (trailing edge down positive)."""

    @property
    def pulse_low(self) -> float:
        """Shortest pulse the corner may be given, s."""
        ...

    @property
    def pulse_high(self) -> float:
        """Longest pulse, s."""
        ...

    def surface(self, pulse: ArrayLike) -> Array:
        """Surface angle at pulses, rad."""
        ...

    def pulse(self, surface: ArrayLike) -> Array:
        """Pulse for surface angles, s."""
        ...

    def roll_pulse(self, throw: float) -> float:
        """Change of pulse at full right stick for a throw (mean of up and down, rad), s, signed."""
        ...


@dataclass(frozen=True, kw_only=True)
class Channel:
    """What to set on one aileron channel.

    Args:
        centre_shift: share of the travel; 0 where none is needed.
        neutral: pulse sent with the surface at neutral, s.
        crow: share at full deployment, signed; 0 without crow.
        curve: share at each of `Settings.sticks`.
        roll: share at full right stick in each phase, by name, signed.
        end_low, end_high: end limits, s of pulse; their shares from the centre pulse are `end_low_share` ...
        neutral_error: surface angle left at neutral, rad.
        crow_error: worst difference along the stick from the plan, rad, at stick `crow_error_stick`.
        full: surface angle really reached at full deployment, rad.
    """

    corner: str
    centre_shift: float
    neutral: float
    crow: float
    curve: tuple[float, ...]
    roll: Mapping[str, float]
    end_low: float
    end_high: float
    end_low_share: float
    end_high_share: float
    neutral_error: float
    crow_error: float
    crow_error_stick: float
    full: float


@dataclass(frozen=True, kw_only=True)
class PhaseSetting:
    """What to set in one phase.

    Args:
        crow: whether the crow mixes are on here, as this radio can do it.
        aileron: throw the corners really reach, mean over them, rad, in order stowed.
        exponential: aileron, elevator, rudder, 0 to 1 in our definition.
        at_half: share of the throw at half stick for each of them, to compare with any other definition.
        boost: roll boost as set, 0 where the radio cannot.
    """

    name: str
    crow: bool
    aileron: float
    exponential: tuple[float, float, float]
    at_half: tuple[float, float, float]
    boost: float


@dataclass(frozen=True, kw_only=True)
class Lost:
    """Something of the plan this radio cannot do.

    Args:
        what: "neutral", "crow", "deployment curve", "elevator", "roll", "boost", "phase" or "throttle curve".
        angle: surface angle lost, rad; 0 where it is no angle.
        text: one sentence with what helps.
    """

    what: str
    angle: float
    text: str


def rounded(value: float, step: float) -> float:
    """A value on the radio's grid."""
    return round(value / step) * step


def crow_angle(plan: Plan, corner: str) -> float:
    """Surface angle of a corner at full deployment, rad; 0 without crow."""
    if plan.crow is None:
        return 0.0
    return plan.crow.upper if corner.startswith("upper") else plan.crow.lower


def end_limits(radio: RadioDescription, corner: CornerTravel) -> tuple[float, float]:
    """End limits of a channel, s: where the corner may go, inside what the radio sends, rounded inward to its step."""
    unit, step = radio.unit, radio.share_step
    low = max((corner.pulse_low - radio.pulse_centre) / unit, -radio.limit)
    high = min((corner.pulse_high - radio.pulse_centre) / unit, radio.limit)
    low, high = math.ceil(low / step - 1e-9) * step, math.floor(high / step + 1e-9) * step
    return radio.pulse_centre + low * unit, radio.pulse_centre + high * unit


def mean_throw(radio: RadioDescription, corner: CornerTravel, channel: Channel, phase: str) -> float:
    """Mean of up and down at full stick, crow stowed, rad, inside the end limits."""
    move = channel.roll[phase] * radio.unit
    ends = np.clip([channel.neutral - move, channel.neutral + move], channel.end_low, channel.end_high)
    one, two = (float(angle) for angle in corner.surface(ends))
    return abs(two - one) / 2
