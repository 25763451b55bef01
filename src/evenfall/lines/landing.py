"""What crow would change on the approach, when the throttle stick works across the threshold."""

from __future__ import annotations

import math

import numpy as np

from evenfall.aero.wings import Flow
from evenfall.lines.balance import Airframe, balance
from evenfall.lines.bend import BendCase, bends
from evenfall.lines.drag import drag_tables
from evenfall.lines.line import fastest_stable
from evenfall.lines.shaft import PowerUnit, braked_shaft
from evenfall.lines.survey import line_curve
from evenfall.power.train import shaft_states
from evenfall.radio.phases import ThresholdChange
from evenfall.radio.plan import Plan, surface_deltas

APPROACH_SLOPE = math.radians(-15.0)
"""Slope of the approach, rad. Common practice, no source."""
APPROACH_SPEED = 0.65
"""Speed of the approach in units of the wanted speed. Common practice, no source."""


def landing_change(frame: Airframe, unit: PowerUnit, plan: Plan, *, wanted: float) -> ThresholdChange:
    """Change of gliding speed, of lift and of pitch from crow stowed to crow out, motor brake on both times.

    Speed: the steady speed on a 15 degree approach with the stick closed; None where one of them has none. Lift: at
    the incidence and elevator of level flight at .65 of the wanted speed (m/s), share of the weight. Pitch: bend of the
    approach with the elevator held.
    """
    crow = plan.crow
    if crow is None or crow.angle <= 0:
        return ThresholdChange()
    table = drag_tables(frame, wanted=wanted, slopes=APPROACH_SLOPE, crow=crow)[0]
    curve = line_curve(braked_shaft(unit, plan.motor.level), wanted=wanted)
    gliding = [fastest_stable(curve, table, out) for out in (0.0, 1.0)]
    speed = None if gliding[0] is None or gliding[1] is None else gliding[1] - gliding[0]
    slow = APPROACH_SPEED * wanted
    level = balance(frame, speed=slow, slope=0.0)
    if not level.converged[0]:
        return ThresholdChange(speed=speed)
    lifts = [_lift(frame, plan, slow, float(level.alpha[0]), float(level.elevator[0]), out) for out in (0.0, 1.0)]
    states = shaft_states(unit.plane, unit.propeller, plan.motor.level, slow, density=unit.density)
    stable = np.flatnonzero(states.stable[0])
    thrust = float(states.thrust[0, stable[-1]]) if stable.size else 0.0
    bent = bends(
        frame,
        [BendCase(slope=APPROACH_SLOPE, crow=crow, thrust=thrust)],
        speed=slow,
        level_thrust=float(level.thrust[0]),
    )
    solved = bool(bent.straight.converged[0])
    return ThresholdChange(
        speed=speed, lift=(lifts[1] - lifts[0]) / frame.weight, pitch=float(bent.crow[0]) if solved else None
    )


def _lift(frame: Airframe, plan: Plan, speed: float, alpha: float, elevator: float, out: float) -> float:
    """Lift (N) at an incidence and elevator, crow at a deployment, its elevator share with it."""
    share = plan.crow.elevator * out if plan.crow is not None else 0.0
    flow = Flow(
        speed=np.array([speed]),
        alpha=np.array([alpha]),
        deltas={**surface_deltas(frame.plane, plan.crow, out), "elevator": np.array([elevator + share])},
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
    )
    return float(frame.line.solve(flow).lift[0])
