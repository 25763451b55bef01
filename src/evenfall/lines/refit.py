"""Corners of a plan after something about them has changed: pulses and turns anew, teeth and shift into the offset."""

from __future__ import annotations

import math
from dataclasses import replace

from evenfall.errors import ValueRangeError
from evenfall.lines.throws import fitted_corner, roll_turn, setup_as_measured
from evenfall.linkage.corner import Corner, corner_limits, turn_for_mean
from evenfall.linkage.fourbar import inverse
from evenfall.linkage.teeth import tooth
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.plane.controls import Servo
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.plan import Plan

MOST_OFFSET = math.radians(85.0)
"""An arm further from square points along its rod and moves nothing, rad."""


def refitted(plane: Plane, plan: Plan) -> Plan:
    """The plan with pulses and servo turns of every corner made to fit its crow, throws, holes and offset.

    Raises `ValueRangeError` where arm, rod and horn do not meet, or where crow is out of a linkage's reach.
    """
    return replace(plan, corners={name: _refitted(plane, plan, setup) for name, setup in plan.corners.items()})


def _refitted(plane: Plane, plan: Plan, setup: CornerSetup) -> CornerSetup:
    corner = fitted_corner(plane, plan, setup.corner)
    if not bool(inverse(corner.bar, corner.crow).reachable):
        raise ValueRangeError(
            f"{setup.corner.replace('_', ' ')}: {abs(math.degrees(corner.crow)):.1f} deg of crow is out of the "
            "linkage's reach; take less crow, a longer arm or a shorter horn"
        )
    return replace(
        setup,
        pulse_neutral=float(corner.pulse(corner.neutral)),
        pulse_deployed=float(corner.pulse(corner.deployed)),
        normal_turn=roll_turn(corner, plan.throws.normal),
        snap_turn=_snap_turn(corner, plan.throws.snap),
    )


def _snap_turn(corner: Corner, throw: float) -> float:
    """Servo turn either way that gives the snap throw with crow in and with crow out, rad; as `tune` fits it."""
    limits = corner_limits(corner)
    out = float(turn_for_mean(corner.bar, corner.deployed, throw, low=limits.low, high=limits.high))
    return max(roll_turn(corner, throw), out)


def corner_of(plane: Plane, plan: Plan, name: str) -> CornerSetup:
    """The corner as the plan fits it, or as measured where the plan says nothing; raises with the corners there are."""
    there = [corner for corner in CORNERS if corner in plane.aileron_linkage]
    if name not in there:
        raise ValueRangeError(f"there is no linkage {name!r}; this plane file has {', '.join(there) or 'none'}")
    return plan.corners.get(name) or setup_as_measured(plane, plan, name)


def arm_turn(servo: Servo, setup: CornerSetup) -> float:
    """Arm angle that teeth, arm and turning over make against square, rad, within half a turn."""
    one = tooth(servo.spline_teeth)
    raw = setup.teeth * one + setup.arm * 2 * math.pi / servo.horn_arms + (0.5 * one if setup.turned_over else 0.0)
    return math.remainder(raw, 2 * math.pi)


def moved(
    plane: Plane, setup: CornerSetup, *, teeth: int | None = None, arm: int | None = None, shift: float | None = None
) -> CornerSetup:
    """The corner with other teeth, arm (0 is the one in use) or pulse shift (s): the offset follows, rod readjusted."""
    servo, linkage = plane.aileron_servo, plane.aileron_linkage[setup.corner]
    if servo is None:
        raise ValueRangeError("no aileron servo in the plane file; give [servo.aileron]")
    if arm is not None and arm >= servo.horn_arms:
        raise ValueRangeError(f"arm {arm + 1} is not there; the servo horn has {servo.horn_arms}")
    new = replace(setup, teeth=setup.teeth if teeth is None else teeth, arm=setup.arm if arm is None else arm)
    offset = setup.offset + math.remainder(arm_turn(servo, new) - arm_turn(servo, setup), 2 * math.pi)
    if shift is None:
        return _within(new, offset)
    way = (-1 if linkage.mirrored else 1) * (-1 if linkage.reversed else 1)
    offset += way * servo.gain * (shift - setup.shift)
    means = setup.shift_means if setup.shift_means != "none" else "radio"
    return _within(replace(new, shift=shift, shift_means=means if abs(shift) > 1e-9 else "none"), offset)


def _within(setup: CornerSetup, offset: float) -> CornerSetup:
    """The corner with that offset; refused where the arm would point along its rod."""
    if abs(offset) > MOST_OFFSET:
        raise ValueRangeError(
            f"{setup.corner.replace('_', ' ')}: the arm would stand {math.degrees(offset):.0f} deg from square to its "
            f"rod; allowed is {math.degrees(MOST_OFFSET):.0f} deg either way: fewer teeth, or the rod on another arm"
        )
    return replace(setup, offset=offset)


def squared(plane: Plane, plan: Plan) -> Plan:
    """The plan with every arm square to its rod at neutral and at the centre pulse, holes kept, rods readjusted."""
    if plane.aileron_servo is None:
        return plan
    setups = {}
    for name in CORNERS:
        wing = plane.wings.get(name.partition("_")[0])
        if name not in plane.aileron_linkage or wing is None or wing.aileron is None:
            continue
        linkage, own = plane.aileron_linkage[name], plan.corners.get(name)
        setups[name] = CornerSetup(
            corner=name,
            arm_hole=linkage.arm if own is None else own.arm_hole,
            horn_hole=linkage.horn if own is None else own.horn_hole,
        )
    return refitted(plane, replace(plan, corners=setups))
