"""How much crow a plan can have, and what stands in the way of more."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from evenfall.advise.outlook import sized
from evenfall.lines.balance import Airframe
from evenfall.lines.fitting import MOMENT_SPREAD, TRIM
from evenfall.lines.loads import SAGGED_SUPPLY, corner_moments
from evenfall.lines.throws import fitted_corners
from evenfall.linkage.candidate import LOAD_SHARE
from evenfall.linkage.load import servo_load, stall_torque
from evenfall.radio.phases import first_of
from evenfall.radio.plan import Plan

LimitKind = Literal["snap throw", "hinge", "servo load"]
CROW_STEP = math.radians(0.5)
"""One step of the crow throw and of a split, rad: what an angle gauge is read to."""
_LEAST_RISE = math.radians(0.25)


@dataclass(frozen=True, kw_only=True)
class Ceiling:
    """Most crow of a plan's split, rad of the larger wing, and what stands in the way of more.

    Args:
        wing: "upper" or "lower", empty for a servo's load.
    """

    angle: float
    kind: LimitKind
    wing: str


def ceiling(frame: Airframe, plan: Plan, *, wanted: float) -> Ceiling:
    """Crow at which a wing's hinge still has the throw that is flown with crow out, and every servo its load.

    Snap throw counts where crow is live in the snap phase, normal throw otherwise. A servo is loaded as in
    `evenfall.lines.fitting`; what the present crow loads already is not taken back. Without crow nothing limits it: 0.
    """
    crow = plan.crow
    if crow is None or crow.angle == 0.0:
        return Ceiling(angle=0.0, kind="hinge", wing="")
    snap = first_of(plan.phases, "snap")
    live = snap is not None and snap.crow_live
    throw = max(plan.throws.normal, plan.throws.snap) if live else plan.throws.normal
    by_hinge: list[tuple[float, str]] = []
    for name, full in (("upper", crow.upper), ("lower", crow.lower)):
        wing = frame.plane.wings.get(name)
        if wing is None or wing.aileron is None or full == 0.0:
            continue
        stop = wing.aileron.throw_up if full < 0 else wing.aileron.throw_down
        by_hinge.append((max(stop - throw, 0.0) * crow.angle / abs(full), name))
    most, wing_name = min(by_hinge, default=(0.0, ""))
    kind: LimitKind = "snap throw" if live and plan.throws.snap >= plan.throws.normal else "hinge"
    loaded = _by_load(frame, plan, wanted=wanted, most=most)
    if loaded is not None and loaded < most - _LEAST_RISE:
        return Ceiling(angle=loaded, kind="servo load", wing="")
    return Ceiling(angle=most, kind=kind, wing=wing_name)


def _by_load(frame: Airframe, plan: Plan, *, wanted: float, most: float) -> float | None:
    """Crow up to which every servo keeps its load, rad; None where servos or linkages are not described."""

    servo = frame.plane.aileron_servo
    if servo is None:
        return None
    stall = stall_torque(servo.torque, servo.supply_voltage, SAGGED_SUPPLY * servo.supply_voltage)
    throws = tuple(throw + TRIM for throw in (plan.throws.normal, plan.throws.snap))

    def worst(angle: float) -> float | None:
        changed = sized(plan, angle)
        moments = corner_moments(frame, changed.crow, wanted=wanted, throws=throws)
        loads = [
            servo_load(
                corner,
                corner.servo(moments[name].angle),
                moments[name].moment,
                stall=stall,
                moment_spread=MOMENT_SPREAD,
            ).worst
            for name, corner in fitted_corners(frame.plane, changed).items()
            if name in moments
        ]
        return max(loads, default=None)

    assert plan.crow is not None
    if most <= plan.crow.angle:
        return None
    end = worst(most)
    if end is None or end <= LOAD_SHARE:
        return None
    low, high = plan.crow.angle, most
    start = worst(low)
    if start is not None and start > LOAD_SHARE:
        return low
    while high - low > CROW_STEP:
        middle = 0.5 * (low + high)
        load = worst(middle)
        if load is not None and load <= LOAD_SHARE:
            low = middle
        else:
            high = middle
    return low
