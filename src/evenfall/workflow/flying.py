"""Fly: a whole programme of figures with a plane and a plan, with spread; and two flights side by side."""

from __future__ import annotations

import os
from dataclasses import dataclass

from evenfall.air import Air
from evenfall.errors import FileFaults, InputError
from evenfall.lines.balance import Airframe
from evenfall.lines.blown import blown, drifting, last_in_calm
from evenfall.lines.flight_report import FlightReport, flight_report
from evenfall.lines.flown_path import FlownPath
from evenfall.lines.fly import Wind, fly_path
from evenfall.lines.fly_spread import FlightSpread, flight_nudges, flight_spread, variants_of
from evenfall.lines.holding import Holding, holding_sticks, slope_drag, stick_thrust
from evenfall.lines.loaded import LoadedDrag, loaded_drag
from evenfall.lines.loads import SAGGED_SUPPLY, corner_moments
from evenfall.lines.path import lay_out
from evenfall.lines.pilot import Pilot, pilot_of
from evenfall.lines.sequence import Sequence
from evenfall.lines.sequence_check import Finding, check_sequence
from evenfall.lines.sequence_file import load_sequence
from evenfall.lines.survey import SLOPES
from evenfall.lines.throws import fitted_corners
from evenfall.linkage.load import servo_load, stall_torque
from evenfall.radio.plan import Plan
from evenfall.wind import WindDay
from evenfall.workflow.ready import (
    PlaneInput,
    PlanInput,
    Progress,
    Ready,
    made_ready,
    plane_and_plan,
    plane_file,
    silent,
)

SequenceInput = str | os.PathLike[str] | Sequence
"""A sequence as a job takes it: path of its file, or loaded."""
USUAL_SPEED = 20.0
"""m/s, at which gusts are met where the plane file names no speed."""
FULL = 1.0
"""Charge of the battery at the start unless said otherwise."""


@dataclass(frozen=True, kw_only=True)
class ServoPeak:
    """Load of the servo that works hardest: `corner`, share of its stall torque at sagged supply, at `speed` (m/s)."""

    corner: str
    share: float
    speed: float


@dataclass(frozen=True, kw_only=True)
class Flown:
    """A programme flown.

    Args:
        findings: what of the sequence costs marks though it can be flown.
        flight: of the plane, then of the changed planes where there is a spread.
        forces: drag under load. charge_left: of the battery at the start, 0-1, None where it stays.
        spread: None where it was not asked for.
        servo: None where no linkage is described.
        drifts: share of the time in which more blows across than a line is held against, 0-1.
    """

    ready: Ready
    plan: Plan
    plan_name: str
    sequence: Sequence
    sequence_name: str
    findings: tuple[Finding, ...]
    pilot: Pilot
    forces: LoadedDrag
    charge_left: float | None
    flight: FlownPath
    report: FlightReport
    spread: FlightSpread | None
    servo: ServoPeak | None
    drifts: float = 0.0


def fly(
    plane: PlaneInput,
    plan: PlanInput | None,
    sequence: SequenceInput,
    *,
    air: Air | None = None,
    wind: Wind | None = None,
    charge_left: float | None = FULL,
    spread: bool = True,
    forces: LoadedDrag | None = None,
    progress: Progress = silent,
) -> Flown:
    """Fly a sequence with a plan.

    Args:
        plane, plan, sequence: paths, or loaded; no plan is the plane as it is now.
        air: None takes the standard atmosphere at sea level. wind: as `evenfall.lines.fly.Wind`; None is calm.
        charge_left: of the battery at the start, 0-1; None a battery that does not run down.
        spread: fly the changed planes as well.
        forces: tables of this plane and crow in this air where they are known already.

    In wind the plane is flown in still air beside it: what of a deviation the moving air makes is their difference.
    Raises `FileFaults` for files that cannot be used, and where the figures do not join.
    """
    given, chosen, name = plane_and_plan(plane, plan)
    flown, named = flown_sequence(sequence)
    if not flown.figures:
        raise InputError("the sequence holds no figures; give one at least")
    if charge_left is not None and not 0.0 < charge_left <= 1.0:
        raise InputError(f"the battery starts with a charge above 0 and up to 100 percent, not {100 * charge_left:g}")
    path = lay_out(flown)
    findings = check_sequence(flown, path)
    if stops := [item.fault(flown) for item in findings if item.stops]:
        raise FileFaults(named, tuple(stops))
    ready = made_ready(given, air, progress=progress)
    progress("balances under load")
    if forces is None:
        forces = loaded_drag(ready.frame, chosen.crow, wanted=ready.wanted)
    pilot = pilot_of(_holding(ready, chosen))
    changes = flight_nudges(ready.frames, forces, chosen, ready.file.spreads, wanted=ready.wanted) if spread else ()
    planes = variants_of(ready.file.plane, changes)
    progress("figures")
    done = fly_path(
        ready.unit,
        chosen,
        path,
        forces,
        wanted=ready.wanted,
        pilot=pilot,
        variants=planes if wind is None else (*planes, planes[0]),
        charge_left=charge_left,
        wind=None if wind is None else last_in_calm(wind),
        speed=flown.entry_speed,
    )
    calm = None if wind is None else done.reached(-1)
    done = done if wind is None else done.without_last()
    report = flight_report(done, ready.file.plane, chosen, wanted=ready.wanted, charge_left=charge_left, calm=calm)
    progress("servo load")
    return Flown(
        ready=ready,
        plan=chosen,
        plan_name=name,
        sequence=flown,
        sequence_name=named,
        findings=findings,
        pilot=pilot,
        forces=forces,
        charge_left=charge_left,
        flight=done,
        report=report,
        spread=flight_spread(done, changes, wanted=ready.wanted) if spread else None,
        servo=servo_peak(ready.frame, chosen, speed=report.fastest),
        drifts=0.0 if wind is None else drifting(done, wind),
    )


def day_of(day: WindDay, plane: PlaneInput, *, seed: int = 1) -> Wind | None:
    """The wind of a day for `fly`: one gust field for every changed plane; None where it is calm."""
    if day.speed == 0.0:
        return None
    wanted = plane.wanted if isinstance(plane, Ready) else plane_file(plane).plane.wanted.speed or USUAL_SPEED
    return blown(day, speed=wanted, seeds=(seed,))


def flown_sequence(given: SequenceInput) -> tuple[Sequence, str]:
    """The sequence, read where it is a path, and what it is called."""
    if isinstance(given, Sequence):
        return given, given.name
    return load_sequence(given), os.path.basename(os.fspath(given))


def _holding(ready: Ready, plan: Plan) -> tuple[Holding, ...]:
    drag = slope_drag(ready.frame, plan, wanted=ready.wanted, slopes=SLOPES)
    return holding_sticks(ready.unit, plan, drag, stick_thrust(ready.unit, plan, wanted=ready.wanted))


def servo_peak(frame: Airframe, plan: Plan, *, speed: float) -> ServoPeak | None:
    """The hardest work of an aileron servo at a speed (m/s): crow and the throws of every phase together, supply
    sagged. None where the plane file describes no servo and linkage."""
    servo, corners = frame.plane.aileron_servo, fitted_corners(frame.plane, plan)
    if servo is None or not corners:
        return None
    moments = corner_moments(
        frame, plan.crow, wanted=speed, throws=(plan.throws.normal, plan.throws.snap), overspeed=1.0
    )
    stall = stall_torque(servo.torque, servo.supply_voltage, SAGGED_SUPPLY * servo.supply_voltage)
    shares = {
        name: servo_load(corner, corner.servo(moments[name].angle), moments[name].moment, stall=stall).worst
        for name, corner in corners.items()
        if name in moments
    }
    if not shares:
        return None
    worst = max(shares, key=lambda name: shares[name])
    return ServoPeak(corner=worst, share=shares[worst], speed=speed)


@dataclass(frozen=True, kw_only=True)
class FlownTwice:
    """Two flights of one sequence: `speeds` is the second's mean speed less the first's by (figure, part), m/s."""

    first: Flown
    second: Flown
    speeds: dict[tuple[int, int], float]


def compare(first: Flown, second: Flown) -> FlownTwice:
    """Two flights side by side: plans, propellers, batteries or air. Raises `InputError` for different sequences."""
    if first.sequence != second.sequence:
        raise InputError(
            f"{first.sequence_name} and {second.sequence_name} are different sequences; fly the same one twice"
        )
    one, two = ({(part.figure, part.part): part.speed for part in flown.report.parts} for flown in (first, second))
    return FlownTwice(first=first, second=second, speeds={key: two[key] - one[key] for key in one if key in two})
