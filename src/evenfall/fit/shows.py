"""What a change of plane or plan shows on the lines, by the engine: speeds marched, turning solved, rolls solved.

Everything is a difference to the plane and plan as they are. Speeds come from marches of whole lines
(`evenfall.fit.marches`), because a pilot sees a line and no steady state; turning from the plane hands off at the
wanted speed (`evenfall.lines.hands_off`); rolls from steady rolls.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.fit.learned import FACTORS
from evenfall.fit.marches import Marches, marches
from evenfall.lines.balance import Airframe
from evenfall.lines.hands_off import FlownLine, HeldControls, hands_off, level_controls, with_crow
from evenfall.lines.holding import stick_thrust
from evenfall.lines.loads import SAGGED_SUPPLY, corner_moments
from evenfall.lines.rig_faults import Fault, rigging_faults
from evenfall.lines.rigging import CleanFlight
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.survey import Survey, Tables, survey
from evenfall.lines.throws import fitted_corners, linkage_retention
from evenfall.linkage.load import servo_load, stall_torque
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import moved_along
from evenfall.power.train import shaft_states
from evenfall.radio.plan import Plan, surface_deltas

Floats = NDArray[np.float64]

SHOWN = (
    "speed",
    "gain",
    "speed_up",
    "pitch_crow",
    "pitch_clean",
    "roll_crow",
    "roll_clean",
    "yaw_crow",
    "yaw_clean",
    "roll_ratio",
    "roll_bias",
    "snap_ratio",
)
"""What is computed: ln of the speed in the lower half of the vertical down over the predicted one; ln of lower over
upper half; ln of the vertical up; turning that crow adds and without crow, rad/s (canopy, right wing down, nose right);
ln of the roll rate with crow over without at normal throw; ln of right over left; the same at snap throw."""
COUNT = len(SHOWN)
MARCHED = slice(0, 3)
_ANGLE = math.radians(1.0)
_CG_STEP = 5e-3
_DAMPINGS = 7


@dataclass(frozen=True, kw_only=True)
class Turning:
    """Turning on the vertical down, rad/s, (3,) pitch, roll, yaw: without crow, and what crow adds."""

    clean: Floats
    crow: Floats


@dataclass(frozen=True, kw_only=True)
class Shows:
    """The plane with its plan and how it answers to changes.

    Args:
        base: what it shows as it is, (SHOWN,).
        by_factor: growth of it with the ln of every factor of the engine, (FACTORS, SHOWN).
        covariance: of the ln factors as the plane has them, (FACTORS, FACTORS).
        marches: speeds under every change.
        corners: what 1 rad more angle (trailing edge down) on one aileron adds, by name: with crow out on that line.
        corners_clean: the same with crow in.
        elevator: what 1 rad of elevator adds to the turning with crow.
        faults: rigging faults by key, with what one usual size of each adds.
        roll_of_crow: ln of the roll ratio over ln of the crow angle, normal and snap throw.
        roll_rate: with crow at normal throw, rad/s. drag_of_crow: ln of crow's drag over ln of its angle.
        load: share of the sagged stall torque that the hardest worked aileron servo holds with crow out; None where
            servo or linkages are not known, or without crow.
        folds: share of the brake's doubt within which a shaft has two steady speeds at the closed stick.
    """

    frame: Airframe
    unit: PowerUnit
    plan: Plan
    tables: Tables
    survey: Survey
    wanted: float
    base: Floats
    by_factor: Floats
    covariance: Floats
    marches: Marches
    corners: Mapping[str, Turning]
    corners_clean: Mapping[str, Turning]
    elevator: Turning
    faults: Mapping[str, tuple[Fault, Turning]]
    roll_of_crow: tuple[float, float]
    roll_rate: float
    drag_of_crow: float
    load: float | None
    folds: float


def shows(frame: Airframe, unit: PowerUnit, plan: Plan, tables: Tables) -> Shows:
    """Everything a diagnosis needs of a plane with its plan, at the tables' wanted speed."""
    done = survey(unit, plan, tables, entries=False)
    base, by_factor = np.zeros(COUNT), np.zeros((len(FACTORS), COUNT))
    flight = _flight(frame, unit, plan, tables)
    own, corners, corners_clean, elevator, faults = _turnings(flight, plan)
    place = SHOWN.index
    for axis, name in enumerate(("pitch", "roll", "yaw")):
        base[place(f"{name}_crow")], base[place(f"{name}_clean")] = own.crow[axis], own.clean[axis]
    if plan.crow is not None:
        by_factor[FACTORS.index("crow_moment"), place("pitch_crow")] = (
            own.crow[0] - elevator.crow[0] * plan.crow.elevator
        )
        by_factor[FACTORS.index("roll_deployed"), [place("roll_ratio"), place("snap_ratio")]] = 1.0
    ratio, of_crow, rate = _rolls(frame, plan, tables)
    base[place("roll_ratio")], base[place("snap_ratio")] = ratio
    flown = marches(unit, plan, tables, done)
    base[place("gain")] = flown.own[1]
    by_factor[:, MARCHED] = flown.by_factor
    return Shows(
        frame=frame,
        unit=unit,
        plan=plan,
        tables=tables,
        survey=done,
        wanted=tables.wanted,
        base=base,
        by_factor=by_factor,
        covariance=covariance_of(frame.plane),
        marches=flown,
        corners=corners,
        corners_clean=corners_clean,
        elevator=elevator,
        faults=faults,
        roll_of_crow=of_crow,
        roll_rate=rate,
        drag_of_crow=_drag_of_crow(tables, done),
        load=crow_load(frame, plan, wanted=tables.wanted),
        folds=folding(unit, plan, tables.wanted),
    )


def covariance_of(plane: Plane) -> Floats:
    """Covariance of the ln factors that a plane carries, (FACTORS, FACTORS)."""
    covariance = np.zeros((len(FACTORS), len(FACTORS)))
    for axis in plane.doubt.axes:
        change = np.zeros(len(FACTORS))
        for name, moved in axis:
            if name in FACTORS:
                change[FACTORS.index(name)] += moved
        covariance += np.outer(change, change)
    return covariance


def _flight(frame: Airframe, unit: PowerUnit, plan: Plan, tables: Tables) -> CleanFlight:
    thrust = float(stick_thrust(unit, plan, wanted=tables.wanted).thrust[0])
    return CleanFlight(
        frame=frame,
        lines=(FlownLine(name="vertical down", slope=-math.pi / 2, thrust=thrust),),
        level_thrust=float(tables.lines["level"].drag(tables.wanted, 0.0)),
        speed=tables.wanted,
    )


def _rates(flight: CleanFlight, frame: Airframe, held: HeldControls) -> Floats:
    found = hands_off(frame, flight.lines, held, speed=flight.speed)
    rates = np.array([found.pitch[0], found.roll[0], found.yaw[0]])
    return rates if bool(found.converged[0]) else np.full(3, np.nan)


def turning(
    flight: CleanFlight,
    plan: Plan,
    plane: Plane,
    *,
    always: Mapping[str, float] | None = None,
    out: Mapping[str, float] | None = None,
    elevator: float = 0.0,
) -> Turning:
    """Turning of a plane that was trimmed for level flight, then changed.

    Args:
        always, out: angles added to ailerons by name, at all times or with crow out only, rad.
        elevator: added with crow out, rad.
    """
    frame = flight.airframe(plane)
    held, _ = level_controls(frame, speed=flight.speed, thrust=flight.level_thrust)
    clean = _rates(flight, frame, replace(held, added=always or {}))
    moved = dict(always or {})
    for name, angle in (out or {}).items():
        moved[name] = moved.get(name, 0.0) + angle
    return Turning(clean=clean, crow=_crowed(flight, frame, plan, held, moved, elevator) - clean)


def _crowed(
    flight: CleanFlight, frame: Airframe, plan: Plan, held: HeldControls, moved: Mapping[str, float], elevator: float
) -> Floats:
    """Rates with crow out, angles in `moved` added to its ailerons; those without crow where there is none."""
    if plan.crow is None:
        return _rates(flight, frame, replace(held, added=moved))
    crowed = with_crow(frame, replace(held, added=moved), plan.crow)
    lifted = replace(crowed, elevator=crowed.elevator + elevator, elevator_inverted=crowed.elevator_inverted + elevator)
    return _rates(flight, frame, lifted)


Turnings = tuple[Turning, dict[str, Turning], dict[str, Turning], Turning, dict[str, tuple[Fault, Turning]]]
_LEFT_OUT = ("cg_z", "tail_tilt", "tail_squareness", "fin_offset")
"""Faults that hardly turn a vertical line once level flight is trimmed: below .1 deg/s for their usual size."""
_MIRROR = np.array([1.0, -1.0, -1.0])


def _turnings(flight: CleanFlight, plan: Plan) -> Turnings:
    """Of the plane itself, of 1 rad on every aileron with crow and always, of the elevator, of every rigging fault.

    To first order a right aileron does what the left one does in the mirror.
    """
    plane = flight.frame.plane
    frame = flight.airframe(plane)
    held, _ = level_controls(frame, speed=flight.speed, thrust=flight.level_thrust)
    clean = _rates(flight, frame, held)
    crowed = _crowed(flight, frame, plan, held, {}, 0.0)
    own = Turning(clean=clean, crow=crowed - clean)
    none = np.zeros(3)
    corners: dict[str, Turning] = {}
    always: dict[str, Turning] = {}
    for name in sorted(surface_deltas(plane, None, 0.0)):
        wing, side = name.split("_")
        if side == "right":
            left = f"{wing}_left"
            corners[name] = Turning(clean=none, crow=_MIRROR * corners[left].crow)
            always[name] = Turning(clean=_MIRROR * always[left].clean, crow=none)
            continue
        moved = {name: _ANGLE}
        out = _crowed(flight, frame, plan, held, moved, 0.0) if plan.crow is not None else crowed
        corners[name] = Turning(clean=none, crow=_change(out, crowed, _ANGLE))
        stowed = _rates(flight, frame, replace(held, added=moved))
        always[name] = Turning(clean=_change(stowed, clean, _ANGLE), crow=none)
    lifted = _crowed(flight, frame, plan, held, {}, _ANGLE) if plan.crow is not None else crowed
    elevator = Turning(clean=none, crow=_change(lifted, crowed, _ANGLE))
    faults = {}
    for fault in rigging_faults(plane):
        if fault.key in _LEFT_OUT:
            continue
        size = _CG_STEP if fault.key == "cg_x" else fault.usual
        one = turning(flight, plan, fault.put(plane, fault.value(plane) + size))
        turned = Turning(clean=_change(one.clean, own.clean, size), crow=_change(one.crow, own.crow, size))
        faults[fault.key] = (fault, turned)
    return own, corners, always, elevator, faults


def _change(one: Floats, other: Floats, size: float) -> Floats:
    """Growth over a size; nothing where one of both was not found."""
    return np.nan_to_num((one - other) / size)


def _rolls(frame: Airframe, plan: Plan, tables: Tables) -> tuple[tuple[float, float], tuple[float, float], float]:
    """ln roll ratio at normal and snap throw, its growth with ln crow, and the rate with crow at normal throw."""
    crow, down, speed = plan.crow, tables.lines["vertical down"], tables.wanted
    if crow is None:
        return (0.0, 0.0), (0.0, 0.0), 0.0
    throws = (plan.throws.normal, plan.throws.snap)
    kept = [linkage_retention(frame.plane, plan, throw=throw) or 1.0 for throw in throws]
    cases = [
        RollCase(
            crow=crow if out else None,
            deployment=out,
            alpha=float(down.alpha_at(speed, out)),
            elevator=float(down.elevator_at(speed, out)),
            throw=throw * (keep if out else 1.0),
        )
        for throw, keep in zip(throws, kept, strict=True)
        for out in (0.0, 1.0, _LESS)
    ]
    stowed, full, less = np.abs(steady_rolls(frame, cases, speed=speed).rate).reshape(2, 3).T
    if not np.all(np.minimum(stowed, np.minimum(full, less)) > 1e-6):
        return (0.0, 0.0), (0.0, 0.0), 0.0
    ratio, slope = np.log(full / stowed), np.log(full / less) / math.log(1.0 / _LESS)
    return (float(ratio[0]), float(ratio[1])), (float(slope[0]), float(slope[1])), float(full[0])


_LESS = 0.85


def _drag_of_crow(tables: Tables, done: Survey) -> float:
    """ln of the drag of crow over ln of its angle, at the vertical down's deployment."""
    out = done.line("vertical down").deployment
    if out <= 0:
        return 0.0
    table = tables.lines["vertical down"]
    full, less = (float(table.crow_area(tables.wanted, share * out)) for share in (1.0, _LESS))
    return math.log(full / less) / math.log(1.0 / _LESS) if full > 0 and less > 0 else 0.0


def crow_load(frame: Airframe, plan: Plan, *, wanted: float) -> float | None:
    """Largest share of the sagged stall torque that crow fully out asks of an aileron servo at `wanted` m/s."""
    servo, corners = frame.plane.aileron_servo, fitted_corners(frame.plane, plan)
    if servo is None or not corners or plan.crow is None:
        return None
    moments = corner_moments(frame, plan.crow, wanted=wanted, throws=(), overspeed=1.0)
    stall = stall_torque(servo.torque, servo.supply_voltage, SAGGED_SUPPLY * servo.supply_voltage)
    loads = [
        servo_load(corner, corner.servo(moments[name].angle), moments[name].moment, stall=stall).worst
        for name, corner in corners.items()
    ]
    return max(loads)


def folding(unit: PowerUnit, plan: Plan, speed: float) -> float:
    """Probability, over the doubt of the motor brake's damping, that the closed shaft has two steady speeds near
    `speed` (m/s)."""
    sigma = unit.plane.doubt.sigma("brake_damping")
    steps = np.linspace(-2.0, 2.0, _DAMPINGS)
    weight = np.exp(-0.5 * steps**2)
    several = []
    for step in steps.tolist():
        made = moved_along(unit.plane.corrections, {"brake_damping": sigma}, by=step)
        states = shaft_states(
            replace(unit.plane, corrections=made),
            unit.propeller,
            plan.motor.level,
            speed * np.array([0.85, 1.0, 1.2]),
            density=unit.density,
        )
        several.append(bool(np.any(np.sum(states.stable, axis=1) > 1)))
    return float(np.sum(weight * several) / np.sum(weight))
