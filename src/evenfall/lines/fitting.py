"""How the corners of a plan work: travel budget, servo load and supply, play, and the signs of every corner."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from evenfall.lines.balance import Airframe
from evenfall.lines.loads import SAGGED_SUPPLY, CornerMoments, corner_moments
from evenfall.lines.throws import fitted_corners, linkage_retention, phase_uses
from evenfall.linkage.budget import Budget, Choices, travel_budget
from evenfall.linkage.corner import Corner, corner_words, play, roll_retention
from evenfall.linkage.fitted import budget_choices
from evenfall.linkage.load import (
    ServoLoad,
    SupplyLoad,
    servo_load,
    slop_caution,
    stall_current,
    stall_torque,
    supply_load,
)
from evenfall.radio.plan import Plan

TRIM = math.radians(2.0)
"""Trim either way that the travel budget keeps, rad. Common practice, no source."""
MOMENT_SPREAD = 0.25
"""One sigma of a hinge moment, share: section tables and gap. Ours, no source."""
SUPPLY_RATING = 3.0
"""Continuous rating of the receiver supply where none is given, A: a small built-in one. Common practice, no source."""
OTHER_SERVOS = 0.6
"""Receiver, elevator and rudder servos together, A. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class CornerWork:
    """One corner at work.

    Args:
        signs: in words ("stick right: lower left goes down").
        retention: linkage part of its roll retention at normal throw.
        resolution: coarsest surface step of one pulse step, rad. hysteresis: play of surface, rad.
        load: None where the servo is not described.
    """

    corner: Corner
    signs: tuple[str, ...]
    retention: float
    resolution: float
    hysteresis: float
    load: ServoLoad | None


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """Every corner of a plan at work; `corners` is empty where the plane file describes no servo and linkage.

    Args:
        retention: linkage part of roll retention of the plane at normal throw; None where unknown.
        caution: about play, empty where small or not measured.
        beyond: the largest hinge moment of a corner lies where the section tables do not hold.
    """

    corners: Mapping[str, CornerWork]
    budget: Budget | None
    supply: SupplyLoad | None
    retention: float | None
    caution: str
    beyond: bool = False


def fitting(frame: Airframe, plan: Plan, *, wanted: float, supply_rating: float = SUPPLY_RATING) -> Fitting:
    """Travel, load and play of every corner, for the plan's phases.

    Args:
        wanted: m/s; servos are loaded at 1.3 times that with crow, snap and trim together at sagged supply.
        supply_rating: A.
    """
    plane = frame.plane
    made = fitted_corners(plane, plan)
    slop = plane.rigging.slop if plane.rigging is not None else None
    caution = slop_caution(slop) if slop is not None else ""
    servo = plane.aileron_servo
    if not made or servo is None:
        return Fitting(corners={}, budget=None, supply=None, retention=None, caution=caution)
    throws = (plan.throws.normal, plan.throws.snap)
    moments = corner_moments(frame, plan.crow, wanted=wanted, throws=tuple(throw + TRIM for throw in throws))
    stall = stall_torque(servo.torque, servo.supply_voltage, SAGGED_SUPPLY * servo.supply_voltage)
    work = {name: _work(corner, plan, moments.get(name), stall) for name, corner in made.items()}
    choices: dict[str, Choices] = {
        name: budget_choices(servo, plane.aileron_linkage[name]) for name in made if name in plane.aileron_linkage
    }
    budget = travel_budget(tuple(made.values()), phase_uses(plan, trim=TRIM), choices=choices)
    shares = [item.load.worst for item in work.values() if item.load is not None]
    current = stall_current(servo.torque, servo.speed, servo.supply_voltage)
    bound = len({row.corner for row in budget.breaks if row.binding})
    return Fitting(
        corners=work,
        budget=budget,
        supply=supply_load(shares, stall_current=current, rating=supply_rating, others=OTHER_SERVOS, bound=bound),
        retention=linkage_retention(plane, plan),
        caution=caution,
        beyond=any(not item.reached[np.argmax(np.abs(item.moment))] for item in moments.values()),
    )


def _work(corner: Corner, plan: Plan, moments: CornerMoments | None, stall: float) -> CornerWork:
    servo = np.array([corner.neutral, corner.deployed])
    looseness = play(corner, servo)
    load = None
    if moments is not None:
        load = servo_load(corner, corner.servo(moments.angle), moments.moment, stall=stall, moment_spread=MOMENT_SPREAD)
    return CornerWork(
        corner=corner,
        signs=corner_words(corner),
        retention=roll_retention(corner, plan.throws.normal).retention,
        resolution=float(np.max(looseness.resolution)),
        hysteresis=float(np.max(looseness.hysteresis)),
        load=load,
    )
