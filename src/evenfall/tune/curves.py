"""The curves on the stick: where deployment begins and how it grows, so that the holding stick is smooth in slope.

With a straight throttle the propeller only freewheels over the lower part of the stick; there the crow alone governs
the force along the path. Deployment is shaped so that this force is a straight line in stick, from full crow where the
motor is free to start up to the stick at which it begins to pull.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.holding import SlopeDrag, StickThrust, stick_thrust
from evenfall.lines.shaft import PowerUnit
from evenfall.power.battery import battery_at
from evenfall.radio.plan import Crow, Plan, Points
from evenfall.tune.targets import Targets

Floats = NDArray[np.float64]

FRESH, TIRED = 0.95, 0.2
"""Share of charge left of a fresh and a tired battery."""
_POINTS = 5
_PULLS = 0.01
"""Thrust over weight above freewheeling at which the motor counts as pulling."""


@dataclass(frozen=True, kw_only=True)
class Curves:
    """Threshold and deployment curve, and what they could not shape away.

    Args:
        threshold: stick 0-1. deployment: points (stick, deployment).
        step: N of thrust gained where the motor comes free of the closed band (its brake lets go), positive pushes.
        sensitivity: greatest over least change of force per stick between start stick and full.
        reason: why the threshold is where it is.
    """

    threshold: float
    deployment: Points
    step: float
    sensitivity: float
    reason: str


def with_charge(unit: PowerUnit, charge: float) -> PowerUnit:
    """The same power unit with a share of the battery's charge left."""
    return replace(unit, plane=replace(unit.plane, battery=battery_at(unit.plane.battery, charge)))


def shape_curves(unit: PowerUnit, plan: Plan, drag: SlopeDrag, *, wanted: float, targets: Targets) -> Curves:
    """The deployment curve for a plan whose crow angles, level and throttle curve stand.

    Args:
        drag: at the wanted speed (m/s) with the plan's crow, a vertical down slope first and level among the slopes.

    Deployment is 1 up to the start stick (nothing changes inside the closed band and its hysteresis), 0 from the
    threshold, between them the drag that makes thrust - crow drag linear in stick, never rising with it.
    """
    if plan.crow is None:
        raise ValueError("a plan without crow has no deployment curve")
    sticks = np.linspace(0.0, 1.0, 401)
    now = stick_thrust(unit, plan, wanted=wanted)
    start = unit.plane.controller.start_stick
    pulls = _pull_stick(unit, now, sticks)
    level = _level_stick(with_charge(unit, FRESH), plan, drag, wanted=wanted)
    threshold, reason = _threshold(pulls, level, start, targets)
    points = _deployment(unit, now, drag, sticks, start, threshold)
    out = np.interp(sticks, [stick for stick, _ in points], [share for _, share in points])
    force = now.thrust - _crow_drag(unit, drag, np.asarray(out))
    moving = sticks >= start
    slope = np.diff(force[moving]) / np.diff(sticks[moving])
    blocks = np.array([block.mean() for block in np.array_split(slope, 12)])
    first_free = int(np.argmax(~now.closed))
    return Curves(
        threshold=threshold,
        deployment=points,
        step=float(now.thrust[first_free] - now.thrust[0]),
        sensitivity=float(blocks.max() / max(float(blocks.min()), 1e-6)),
        reason=reason,
    )


def _pull_stick(unit: PowerUnit, now: StickThrust, sticks: Floats) -> float:
    """Stick at which the driven motor lifts the thrust off its freewheeling value."""
    free = ~now.closed
    least = float(now.thrust[free].min())
    weight = unit.plane.mass.all_up * G0
    above = free & (now.thrust > least + _PULLS * weight)
    above &= sticks > sticks[free][int(np.argmin(now.thrust[free]))]
    return float(sticks[int(np.argmax(above))]) if above.any() else 1.0


def _level_stick(unit: PowerUnit, plan: Plan, drag: SlopeDrag, *, wanted: float) -> float:
    """Stick that holds level flight at the wanted speed with crow stowed, 1 where none does."""
    row = int(np.argmin(np.abs(drag.slopes)))
    thrust = stick_thrust(unit, plan, wanted=wanted)
    need = drag.drag(row, np.zeros(1), unit.plane.corrections)[0]
    above = np.flatnonzero((thrust.thrust >= need) & ~thrust.closed)
    return float(np.linspace(0.0, 1.0, len(thrust.thrust))[above[0]]) if above.size else 1.0


def _threshold(pulls: float, level: float, start: float, targets: Targets) -> tuple[float, str]:
    most = level - targets.stowed_margin
    least = start + 0.1
    if pulls <= most:
        threshold, reason = pulls, "deployment begins where the motor begins to pull"
    else:
        threshold, reason = most, "deployment begins as near to the level stick of a fresh battery as its margin allows"
    if threshold < least:
        return round(least, 2), "the level stick is so low that deployment cannot stay clear of it"
    return round(threshold, 2), reason


def _crow_drag(unit: PowerUnit, drag: SlopeDrag, deployment: Floats) -> Floats:
    """Drag the crow adds at the wanted speed on the steepest slope, N."""
    corrections = unit.plane.corrections
    row = int(np.argmin(drag.slopes))
    stowed = drag.drag(row, np.zeros(1), corrections)[0]
    return np.asarray(drag.drag(row, deployment, corrections) - stowed)


def _deployment(
    unit: PowerUnit, now: StickThrust, drag: SlopeDrag, sticks: Floats, start: float, threshold: float
) -> Points:
    fine = np.linspace(0.0, 1.0, 201)
    added = np.maximum.accumulate(_crow_drag(unit, drag, fine))
    free = ~now.closed
    driven = np.where(free, now.thrust, now.thrust[free][0])
    at = np.linspace(start, threshold, _POINTS + 1)
    thrust = np.interp(at, sticks, driven)
    straight = np.linspace(thrust[0] - added[-1], thrust[-1], len(at))
    wanted = np.clip(thrust - straight, 0.0, added[-1])
    share = np.minimum.accumulate(np.asarray(np.interp(wanted, added, fine)))
    share[0], share[-1] = 1.0, 0.0
    inner = [(round(float(s), 3), round(float(d), 3)) for s, d in zip(at, share, strict=True)]
    return (*(((0.0, 1.0),) if inner[0][0] > 0 else ()), *inner, (1.0, 0.0))


def crow_with_curves(crow: Crow, curves: Curves) -> Crow:
    """The crow with its threshold and curve replaced."""
    return replace(crow, threshold=curves.threshold, curve=curves.deployment)
