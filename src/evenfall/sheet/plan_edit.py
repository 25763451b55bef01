"""Changes of a plan by hand: each checked against the plane, corners fitted anew, refusals in words."""

from __future__ import annotations

import math
from dataclasses import replace

from evenfall.errors import InputError, ValueRangeError
from evenfall.lines.refit import corner_of, moved, refitted
from evenfall.plane.airframe import Plane
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.phases import Phase
from evenfall.radio.plan import Arrangement, Crow, MotorChoice, Plan, Points, arrangements_of, wing_signs
from evenfall.sheet.plan_view import CornerChanges, PhaseChanges, PlanChanges

FIRST_ANGLE = math.radians(10.0)
"""Crow that a plan without crow starts from, rad."""
FIRST_THRESHOLD = 0.3
LEAST_THRESHOLD = 0.05
"""Nearer to the closed end a deployment curve has no room for its points."""
_SLACK = math.radians(0.01)
_HOLE_SLACK = 5e-5
_OF_CROW = ("arrangement", "angle_deg", "upper_deg", "lower_deg", "threshold_percent", "curve", "elevator_share")


def apply_changes(plan: Plan, changes: PlanChanges, plane: Plane) -> Plan:
    """The plan with these changes; raises `InputError` that says what is allowed where one of them cannot be.

    A new arrangement keeps the sizes of the angles; where both wings turn round, the elevator share does too. A new
    threshold stretches the curve. Pulses and turns of the corners follow whatever changes.
    """
    new = replace(
        plan,
        crow=_crow(plan.crow, changes, plane),
        motor=_motor(plan.motor, changes, plane),
        phases=_phases(plan.phases, changes.phases, plane),
    )
    new = replace(new, corners=_corners(new, changes.corners, plane))
    if (new.crow, new.throws, dict(new.corners)) == (plan.crow, plan.throws, dict(plan.corners)):
        return new
    return refitted(plane, new)


# --- crow ------------------------------------------------------------------------------------------------------------


def _crow(crow: Crow | None, changes: PlanChanges, plane: Plane) -> Crow | None:
    asked = [name for name in _OF_CROW if getattr(changes, name) is not None]
    if changes.crow is False:
        if asked:
            raise InputError(f"crow is taken away and changed at once ({', '.join(asked)}); do one of the two")
        return None
    if crow is None:
        if changes.crow is None:
            if asked:
                raise InputError(f"this plan has no crow, so {', '.join(asked)} cannot be set; give it crow first")
            return None
        crow = _first_crow(plane)
    if changes.arrangement is not None:
        crow = _turned(crow, changes.arrangement, plane)
    crow = _angles(crow, changes, plane)
    if changes.curve is not None:
        crow = _with_curve(crow, changes.curve)
    if changes.threshold_percent is not None:
        crow = _stretched(crow, changes.threshold_percent / 100)
    return crow if changes.elevator_share is None else replace(crow, elevator_share=changes.elevator_share)


def _first_crow(plane: Plane) -> Crow:
    possible = arrangements_of(plane)
    if not possible:
        raise InputError("this plane has no ailerons in its file, so it can fly no crow; give [wing.upper.aileron]")
    empty = Crow(
        arrangement=possible[0],
        upper=0.0,
        lower=0.0,
        threshold=FIRST_THRESHOLD,
        curve=((0.0, 1.0), (FIRST_THRESHOLD, 0.0), (1.0, 0.0)),
    )
    return _scaled(empty, FIRST_ANGLE, plane)


def _turned(crow: Crow, arrangement: Arrangement, plane: Plane) -> Crow:
    possible = arrangements_of(plane)
    if arrangement not in possible:
        raise ValueRangeError(f'this plane cannot fly "{arrangement}"; it can fly {", ".join(possible)}')
    old, new = wing_signs(crow.arrangement), wing_signs(arrangement)
    turned = [a != b for a, b in zip(old, new, strict=True)]
    share = -crow.elevator_share if all(turned) else crow.elevator_share
    result = replace(
        crow,
        arrangement=arrangement,
        upper=new[0] * abs(crow.upper),
        lower=new[1] * abs(crow.lower),
        elevator_share=share + 0.0,
    )
    _check_hinges(result, plane)
    return result


def _angles(crow: Crow, changes: PlanChanges, plane: Plane) -> Crow:
    if changes.angle_deg is None and changes.upper_deg is None and changes.lower_deg is None:
        return crow
    if changes.angle_deg is not None:
        if changes.upper_deg is not None or changes.lower_deg is not None:
            raise InputError("angle_deg scales both wings; give it alone, or the wings one by one")
        return _scaled(crow, math.radians(changes.angle_deg), plane)
    signs = dict(zip(("upper", "lower"), wing_signs(crow.arrangement), strict=True))
    for name, value in (("upper", changes.upper_deg), ("lower", changes.lower_deg)):
        if value is None:
            continue
        wing = plane.wings.get(name)
        if value and (wing is None or wing.aileron is None):
            raise ValueRangeError(f"the {name} wing has no ailerons; its crow is 0 deg")
        if value * signs[name] < 0:
            way = "down, above 0" if signs[name] > 0 else "up, below 0"
            raise ValueRangeError(
                f'{value:g} deg on the {name} wing is against "{crow.arrangement}": its trailing edge goes {way}'
            )
        crow = replace(crow, **{name: math.radians(value)})  # type: ignore[arg-type]
    _check_hinges(crow, plane)
    return crow


def _scaled(crow: Crow, angle: float, plane: Plane) -> Crow:
    """The larger wing's angle made `angle` (rad), the other in proportion; alike where there was none."""
    signs = wing_signs(crow.arrangement)
    sizes = [0.0, 0.0]
    for place, (name, now) in enumerate((("upper", crow.upper), ("lower", crow.lower))):
        wing = plane.wings.get(name)
        if wing is not None and wing.aileron is not None:
            sizes[place] = abs(now) / crow.angle if crow.angle > 0 else 1.0
    result = replace(crow, upper=signs[0] * sizes[0] * angle, lower=signs[1] * sizes[1] * angle)
    _check_hinges(result, plane)
    return result


def _check_hinges(crow: Crow, plane: Plane) -> None:
    for name, value in (("upper", crow.upper), ("lower", crow.lower)):
        wing = plane.wings.get(name)
        if not value or wing is None or wing.aileron is None:
            continue
        most = wing.aileron.throw_up if value < 0 else wing.aileron.throw_down
        if abs(value) > most + _SLACK:
            raise ValueRangeError(
                f"{abs(math.degrees(value)):.1f} deg {'up' if value < 0 else 'down'} is more than the hinges of the "
                f"{name} wing allow; allowed is 0 to {math.degrees(most):.1f} deg"
            )


def _with_curve(crow: Crow, points: tuple[tuple[float, float], ...]) -> Crow:
    curve: Points = tuple((stick / 100, value / 100) for stick, value in points)
    new = replace(crow, curve=curve)
    if curve[-1][1] > 0:
        raise ValueRangeError(
            f"the deployment curve ends at {100 * curve[-1][1]:g} % with the stick open; it must come down to 0"
        )
    return replace(new, threshold=next(stick for stick, value in curve if value == 0.0))


def _stretched(crow: Crow, threshold: float) -> Crow:
    """The curve with its stick axis stretched below the threshold and pushed together above it."""
    if not LEAST_THRESHOLD <= threshold <= 1.0:
        raise ValueRangeError(
            f"a threshold of {100 * threshold:g} % is out of range; allowed is {100 * LEAST_THRESHOLD:g} to 100 %"
        )
    old = crow.threshold
    if old <= 0:
        raise ValueRangeError("this curve has no part below its threshold to stretch; give the curve's points")
    below = [(stick * threshold / old, value) for stick, value in crow.curve if stick <= old + 1e-9]
    above = [
        (threshold + (stick - old) * (1 - threshold) / (1 - old), value)
        for stick, value in crow.curve
        if stick > old + 1e-9 and threshold < 1.0
    ]
    return replace(crow, threshold=threshold, curve=tuple((min(stick, 1.0), value) for stick, value in below + above))


# --- motor and phases ------------------------------------------------------------------------------------------------


def _motor(motor: MotorChoice, changes: PlanChanges, plane: Plane) -> MotorChoice:
    if changes.level is not None:
        level = plane.controller.level(changes.level)
        motor = replace(motor, level=level.name, percent=level.percent)
    if changes.throttle_curve is not None:
        motor = replace(motor, throttle_curve=tuple((a / 100, b / 100) for a, b in changes.throttle_curve))
    return motor


def _phases(phases: tuple[Phase, ...], changes: dict[str, PhaseChanges], plane: Plane) -> tuple[Phase, ...]:
    names = [phase.name for phase in phases]
    for name in changes:
        if name not in names:
            raise ValueRangeError(f"no phase is called {name!r}; there are {', '.join(names)}")
    return tuple(_phase(phase, changes[phase.name], plane) if phase.name in changes else phase for phase in phases)


def _phase(phase: Phase, changes: PhaseChanges, plane: Plane) -> Phase:
    limits = {"elevator": max(plane.tail.elevator_up, plane.tail.elevator_down)}
    if plane.fin is not None:
        limits["rudder"] = plane.fin.rudder_throw
    values: dict[str, object] = {}
    for axis in ("aileron", "elevator", "rudder"):
        throw, soft = getattr(changes, f"{axis}_deg"), getattr(changes, f"{axis}_exponential_percent")
        if throw is not None:
            if axis in limits and math.radians(throw) > limits[axis] + _SLACK:
                raise ValueRangeError(
                    f"phase {phase.name}: {throw:g} deg of {axis} is more than this plane moves; "
                    f"allowed is 0 to {math.degrees(limits[axis]):.1f} deg"
                )
            values[axis] = math.radians(throw)
        if soft is not None:
            if soft < 0:
                raise ValueRangeError(f"phase {phase.name}: {axis} exponential is {soft:g} %; allowed is 0 to 100 %")
            values[f"{axis}_exponential"] = soft / 100
    if changes.crow_live is not None:
        values["crow_live"] = changes.crow_live
    if changes.roll_boost_percent is not None:
        values["roll_boost"] = changes.roll_boost_percent / 100
    return replace(phase, **values)  # type: ignore[arg-type]


# --- corners ---------------------------------------------------------------------------------------------------------


def _corners(plan: Plan, changes: dict[str, CornerChanges], plane: Plane) -> dict[str, CornerSetup]:
    found = dict(plan.corners)
    for name, change in changes.items():
        setup = corner_of(plane, plan, name)
        setup = replace(
            setup,
            arm_hole=_hole(plane, name, "arm", change.arm_hole_mm, setup.arm_hole),
            horn_hole=_hole(plane, name, "horn", change.horn_hole_mm, setup.horn_hole),
        )
        found[name] = moved(
            plane,
            setup,
            teeth=change.teeth,
            arm=None if change.arm is None else change.arm - 1,
            shift=None if change.shift_us is None else change.shift_us / 1e6,
        )
    return found


def _hole(plane: Plane, name: str, which: str, wanted: float | None, now: float) -> float:
    """A hole in m; one of the plane's where its file lists them."""
    if wanted is None:
        return now
    linkage = plane.aileron_linkage[name]
    listed: tuple[float, ...] = getattr(linkage, f"{which}_holes")
    there = sorted({*listed, getattr(linkage, which)}) if listed else []
    if there and all(abs(wanted / 1e3 - hole) > _HOLE_SLACK for hole in there):
        words = ", ".join(f"{1e3 * hole:g}" for hole in there)
        raise ValueRangeError(
            f"{name.replace('_', ' ')}: there is no {which} hole at {wanted:g} mm; the plane file has {words} mm"
        )
    return wanted / 1e3
