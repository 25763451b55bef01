"""Sticks, phase and crow switch to what every surface and the motor are told, and back. Without memory: nothing is
ever slowed, so crow retracts as fast as the throttle stick and the servos move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Plane
from evenfall.radio.phases import Phase, soften
from evenfall.radio.plan import Plan, surface_deltas

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Sticks:
    """Where the sticks stand; numbers or arrays of shapes that broadcast.

    Args:
        throttle: 0 closed to 1 full.
        aileron: -1 to 1, right positive.
        elevator: -1 to 1, pulled (nose up) positive.
        rudder: -1 to 1, right positive.
    """

    throttle: ArrayLike = 1.0
    aileron: ArrayLike = 0.0
    elevator: ArrayLike = 0.0
    rudder: ArrayLike = 0.0

    def __post_init__(self) -> None:
        for name in ("throttle", "aileron", "elevator", "rudder"):
            value = np.asarray(getattr(self, name), float)
            low = 0.0 if name == "throttle" else -1.0
            if not np.all(np.isfinite(value)) or np.any(value < low) or np.any(value > 1.0):
                raise ValueRangeError(f"the {name} stick stands between {low:g} and 1, got {getattr(self, name)}")


@dataclass(frozen=True, kw_only=True)
class Commands:
    """What the plan asks of surfaces and motor; arrays of one shape.

    Args:
        deployment: 0-1, what the crow really does here (0 with crow off).
        motor: command to the motor 0-1. The motor brake acts in the controller's closed band, in every phase.
        ailerons: angle by corner, rad, trailing edge down positive, linkages taken as exact.
        elevator: rad, trailing edge down positive. rudder: rad, trailing edge left positive.
    """

    deployment: Array
    motor: Array
    ailerons: Mapping[str, Array]
    elevator: Array
    rudder: Array


def live_deployment(plan: Plan, phase: Phase, throttle: ArrayLike, *, crow_switch: bool = True) -> Array:
    """Deployment 0-1 at throttle stick 0-1: zero where the phase has crow off or the crow switch is off."""
    if not (phase.crow_live and crow_switch):
        return np.zeros(np.shape(throttle))
    return plan.deployment(throttle)


def roll_throw(phase: Phase, aileron: ArrayLike, deployment: ArrayLike) -> Array:
    """Aileron throw either way, rad, right roll positive: throw soften(stick) (1 + boost deployment)."""
    boost = 1.0 + phase.roll_boost * np.asarray(deployment, float)
    return np.asarray(phase.aileron * soften(aileron, phase.aileron_exponential) * boost)


def mix(plane: Plane, plan: Plan, phase: Phase, sticks: Sticks, *, crow_switch: bool = True) -> Commands:
    """What every surface and the motor are told.

    The elevator takes its share of the deployment as it is, so with crow off it takes none.
    """
    throttle, aileron, elevator, rudder = np.broadcast_arrays(
        *(np.asarray(value, float) for value in (sticks.throttle, sticks.aileron, sticks.elevator, sticks.rudder))
    )
    out = live_deployment(plan, phase, throttle, crow_switch=crow_switch)
    share = plan.crow.elevator if plan.crow is not None else 0.0
    return Commands(
        deployment=out,
        motor=plan.motor.command(throttle),
        ailerons=surface_deltas(plane, plan.crow, out, roll=roll_throw(phase, aileron, out)),
        elevator=np.asarray(out * share - phase.elevator * soften(elevator, phase.elevator_exponential)),
        rudder=np.asarray(-phase.rudder * soften(rudder, phase.rudder_exponential)),
    )
