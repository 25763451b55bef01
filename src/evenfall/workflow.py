"""The pilot's jobs in order: check, trim, predict, tune. Sequence only; every formula lives below."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from evenfall import __version__
from evenfall.air import Air, standard_air
from evenfall.errors import InputError
from evenfall.estimate import Estimate
from evenfall.lines.balance import Airframe, airframe, balance
from evenfall.lines.bench import BenchList, bench_list
from evenfall.lines.bench_proof import ListProof, form_rows, judge_list
from evenfall.lines.bend import BendAnswer, Bends, down_bends, down_lines
from evenfall.lines.fitting import Fitting, fitting
from evenfall.lines.holding import holding_sticks, slope_drag, stick_thrust
from evenfall.lines.landing import landing_change
from evenfall.lines.line import fastest_stable, level_speed
from evenfall.lines.rigging import CleanFlight, CleanReport, clean_lines, clean_report
from evenfall.lines.rolls import RollAnswer, roll_answers
from evenfall.lines.shaft import PowerUnit, braked_shaft, free_shaft
from evenfall.lines.shaft_picture import ShaftPicture, torque_curves
from evenfall.lines.spread import nudges, speed_estimates, stick_estimates, surface_nudges
from evenfall.lines.spread_turn import bend_estimates, moved_frames, roll_estimates
from evenfall.lines.stick_picture import StickPicture, stick_picture
from evenfall.lines.survey import Survey, Tables, line_curve, plan_tables, survey
from evenfall.lines.throws import centre_shift, corner_travels, linkage_retention
from evenfall.logs.readings import Reading, ReadingFile, load_readings, write_form
from evenfall.numeric import Status
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.perturb import attribute
from evenfall.power.propeller import propeller_map
from evenfall.radio.failsafe import FailsafeKind, FailsafeTable, Tendency, failsafe_table
from evenfall.radio.phases import ThresholdChange
from evenfall.radio.plan import Plan, Throws, present_plan
from evenfall.radio.planfile import load_plan
from evenfall.radio.radio_description import RadioDescription, load_radio, usual_radio
from evenfall.radio.settings import Settings, as_flown, radio_settings
from evenfall.tune.plane_map import PlaneMap, map_arrangement, plane_map
from evenfall.tune.solve import Tuned, tune_plane

Progress = Callable[[str], None]
"""Called with a few words before each longer step."""


def _silent(words: str) -> None:
    return None


@dataclass(frozen=True, kw_only=True)
class Ready:
    """A plane in given air, ready for any job: the lifting line and the propeller map are made."""

    file: PlaneFile
    air: Air
    frame: Airframe
    unit: PowerUnit
    wanted: float

    @cached_property
    def frames(self) -> tuple[Airframe, Airframe, Airframe]:
        """The nominal airframe, and those with late and early transition."""
        plane = self.file.plane
        return self.frame, airframe(plane, self.air, transition=0.0), airframe(plane, self.air, transition=1.0)


def prepare(file: PlaneFile, air: Air | None = None, *, progress: Progress = _silent) -> Ready:
    """Make the lifting line, the propeller map and the wanted speed of a plane."""
    given = standard_air() if air is None else air
    progress("propeller map")
    propeller = propeller_map(file.plane.propeller)
    progress("lifting line")
    frame = airframe(file.plane, given)
    unit = PowerUnit(plane=file.plane, propeller=propeller, density=given.density)
    return Ready(file=file, air=given, frame=frame, unit=unit, wanted=wanted_speed(frame, unit))


def wanted_speed(frame: Airframe, unit: PowerUnit) -> float:
    """The wanted speed in m/s: the file's number, or the level speed at the file's stick."""
    wanted = frame.plane.wanted
    if wanted.speed is not None:
        return wanted.speed
    if wanted.level_stick is None:
        raise InputError("the plane file gives no wanted speed: write speed_m_s = 22.0 at its top, or a [speed] table")
    speed = level_speed(frame, unit, wanted.level_stick)
    if speed is None:
        raise InputError(
            f"the plane does not fly level at {100 * wanted.level_stick:.0f} % stick, so there is no wanted speed: "
            "give a higher stick or speed_m_s"
        )
    return speed


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """Everything `predict` knows: five lines, holding sticks, rolls, straightness, each with its estimates.

    `roll_estimates` hold rate and section part of each roll, `bend_estimates` clean and crow bend of each line.
    """

    ready: Ready
    plan: Plan
    plan_name: str
    tables: Tables
    survey: Survey
    estimates: dict[str, tuple[Estimate | None, ...]]
    sticks: tuple[Estimate | None, ...]
    rolls: tuple[RollAnswer, ...]
    roll_estimates: tuple[tuple[Estimate | None, Estimate | None], ...]
    bends: tuple[BendAnswer, ...]
    bend_estimates: tuple[tuple[Estimate | None, Estimate | None], ...]


def _plane_and_plan(
    plane: str | os.PathLike[str] | PlaneFile, plan: str | os.PathLike[str] | Plan | None
) -> tuple[PlaneFile, Plan, str]:
    """Both loaded, and what the plan is called; None is the plane as it is now."""
    file = plane if isinstance(plane, PlaneFile) else load_plane(plane)
    if plan is None:
        return file, present_plan(file.plane), "as it is now"
    if isinstance(plan, Plan):
        return file, plan, "plan"
    return file, load_plan(plan, file.plane), os.path.basename(os.fspath(plan))


def predict(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan | None = None,
    *,
    air: Air | None = None,
    progress: Progress = _silent,
) -> Predicted:
    """Steady speeds, holding stick, roll and straightness of a plane with a plan, or as it is now.

    Args:
        plane: path of a plane file, or one that is loaded.
        plan: path of a plan file, a plan, or None for no crow and the present motor-brake level.
        air: None takes the standard atmosphere at sea level.

    Raises `FileFaults` for files that cannot be used.
    """
    file, chosen, name = _plane_and_plan(plane, plan)
    ready = prepare(file, air, progress=progress)
    progress("balances")
    tables = plan_tables(ready.frame, chosen, wanted=ready.wanted)
    progress("steady speeds")
    done = survey(ready.unit, chosen, tables)
    return _complete(ready, chosen, name, tables, done, bends=None, progress=progress)


def _complete(
    ready: Ready,
    plan: Plan,
    name: str,
    tables: Tables,
    done: Survey,
    *,
    bends: tuple[BendAnswer, ...] | None,
    progress: Progress,
) -> Predicted:
    """Add spreads, rolls and straightness to a survey."""
    progress("spreads")
    brake = ready.file.plane.controller.level(plan.motor.level)
    inputs = nudges(ready.file.plane, ready.file.spreads, level=brake, crow=plan.crow is not None)
    surfaces = surface_nudges(ready.frames, done, plan.crow)
    estimates = speed_estimates(ready.unit, plan, tables, done, inputs=inputs, surfaces=surfaces)
    sticks = stick_estimates(ready.unit, plan, tables.slopes, done.holding, wanted=ready.wanted, inputs=inputs)
    progress("rolls and straightness")

    kept = {
        throw: linkage_retention(ready.file.plane, plan, throw=throw)
        for throw in (plan.throws.normal, plan.throws.snap)
    }

    def rolls_of(frame: Airframe) -> tuple[RollAnswer, ...]:
        return _rolls(frame, plan, tables, done, wanted=ready.wanted, linkage=kept.get)

    closed = float(stick_thrust(ready.unit, plan, wanted=ready.wanted).thrust[0])
    level = float(tables.lines["level"].drag(ready.wanted, 0.0))

    def bends_of(frame: Airframe, near: Bends | None) -> Bends:
        return down_bends(frame, plan.crow, speed=ready.wanted, closed_thrust=closed, level_thrust=level, near=near)

    _, late, early = ready.frames
    rolls = rolls_of(ready.frame)
    if bends is None:
        bends = down_lines(ready.frame, plan.crow, speed=ready.wanted, closed_thrust=closed, level_thrust=level)
    moved = moved_frames(ready.frame, ready.file.spreads)
    return Predicted(
        ready=ready,
        plan=plan,
        plan_name=name,
        tables=tables,
        survey=done,
        estimates=estimates,
        sticks=sticks,
        rolls=rolls,
        roll_estimates=roll_estimates(
            rolls, rolls_of, late=late, early=early, speed_share_spread=_down_spread(estimates, ready.wanted)
        ),
        bends=bends,
        bend_estimates=bend_estimates(bends, bends_of, moved=moved, late=late, early=early),
    )


def _rolls(
    frame: Airframe,
    plan: Plan,
    tables: Tables,
    done: Survey,
    *,
    wanted: float,
    linkage: Callable[[float], float | None],
) -> tuple[RollAnswer, ...]:
    """Rolls at normal and snap throw on the vertical down, stowed and deployed."""
    down = tables.lines["vertical down"]
    state = done.line("vertical down").speed
    return roll_answers(
        frame,
        plan.crow,
        throws=(plan.throws.normal, plan.throws.snap),
        wanted=wanted,
        down_speed=None if state is None else state.speed,
        alpha=(float(down.alpha_at(wanted, 0.0)), float(down.alpha_at(wanted, 1.0))),
        elevator=(float(down.elevator_at(wanted, 0.0)), float(down.elevator_at(wanted, 1.0))),
        linkage=linkage,
    )


def _down_spread(estimates: dict[str, tuple[Estimate | None, ...]], wanted: float) -> float:
    """One sigma of the vertical down speed over the wanted speed, the largest of its states."""
    return max((item.spread / wanted for item in estimates["vertical down"] if item is not None), default=0.0)


@dataclass(frozen=True, kw_only=True)
class TuneAnswer:
    """Everything `tune` knows: the ranked candidates, the plan, and what it is expected to do."""

    ready: Ready
    tuned: Tuned
    predicted: Predicted | None

    @property
    def plan(self) -> Plan | None:
        """The plan; None where none exists."""
        return self.tuned.plan


def tune(
    plane: str | os.PathLike[str] | PlaneFile,
    *,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    air: Air | None = None,
    progress: Progress = _silent,
) -> TuneAnswer:
    """Which motor-brake level and how much crow give the wanted speed, and why the other levels are worse.

    Args:
        plane: path of a plane file, or one that is loaded.
        radio: what the radio can do (it may move an aileron's centre, or not); None takes a usual one.
        air: None takes the standard atmosphere at sea level.

    Raises `FileFaults` for a file that cannot be used.
    """
    file = plane if isinstance(plane, PlaneFile) else load_plane(plane)
    described = load_radio(radio) if isinstance(radio, str | os.PathLike) else radio
    ready = prepare(file, air, progress=progress)
    progress("every level and arrangement")
    servo = file.plane.aileron_servo
    shift = None if servo is None else centre_shift(servo, described)
    tuned = tune_plane(ready.frame, ready.unit, wanted=ready.wanted, spreads=file.spreads, shift=shift)
    if tuned.plan is None or tuned.tables is None or tuned.survey is None:
        return TuneAnswer(ready=ready, tuned=tuned, predicted=None)
    plan = replace(tuned.plan, computed_from=computed_from(ready))
    tuned = replace(tuned, plan=plan)
    assert tuned.tables is not None
    assert tuned.survey is not None
    predicted = _complete(ready, plan, "tuned plan", tuned.tables, tuned.survey, bends=tuned.bends, progress=progress)
    return TuneAnswer(ready=ready, tuned=tuned, predicted=predicted)


def computed_from(ready: Ready) -> dict[str, str]:
    """What a plan was computed from, for its file."""
    return {
        "plane_hash": ready.file.content_hash,
        "evenfall": __version__,
        "wanted_speed_m_s": f"{ready.wanted:.3f}",
        "air_density_kg_m3": f"{ready.air.density:.4f}",
    }


@dataclass(frozen=True, kw_only=True)
class Cleaned:
    """Everything `trim` knows. `elevator_share` is the plan's; None without crow."""

    ready: Ready
    plan_name: str
    elevator_share: float | None
    report: CleanReport


def clean(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan | None = None,
    *,
    air: Air | None = None,
    progress: Progress = _silent,
) -> Cleaned:
    """Whether the clean plane flies its lines straight, what each fault of rigging does to them, and the cures.

    Args:
        plane: path of a plane file, or one that is loaded.
        plan: path of a plan file, or a plan: its motor-brake level and throttle are flown, its crow is not.
        air: None takes the standard atmosphere at sea level.

    Raises `FileFaults` for files that cannot be used.
    """
    file, chosen, name = _plane_and_plan(plane, plan)
    ready = prepare(file, air, progress=progress)
    progress("faults of rigging")
    level, climb = (float(t) for t in balance(ready.frame, speed=ready.wanted, slope=[0.0, 0.5 * math.pi]).thrust)
    closed = float(stick_thrust(ready.unit, chosen, wanted=ready.wanted).thrust[0])
    flight = CleanFlight(
        frame=ready.frame,
        lines=clean_lines(closed_thrust=closed, climb_thrust=climb),
        level_thrust=level,
        speed=ready.wanted,
    )
    sigmas = {path: spread.absolute(attribute(file.plane, path)) for path, spread in file.spreads.items()}
    guessed = [path for path, spread in file.spreads.items() if spread.source == "guess"]
    report = clean_report(flight, sigmas=sigmas, guessed=guessed, throw=chosen.throws.normal, crow=chosen.crow)
    share = None if chosen.crow is None else chosen.crow.elevator_share
    return Cleaned(ready=ready, plan_name=name, elevator_share=share, report=report)


@dataclass(frozen=True, kw_only=True)
class MapAnswer:
    """The speed map of one arrangement; `estimate` is of the down speed at the chosen point, None where unknown."""

    ready: Ready
    plan_name: str
    throws: Throws
    map: PlaneMap
    estimate: Estimate | None


def speed_map(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan | None = None,
    *,
    arrangement: str | None = None,
    air: Air | None = None,
    progress: Progress = _silent,
) -> MapAnswer:
    """Down speed over crow and motor brake, stick closed, with every steady state and what stands in the way.

    Args:
        plane: path of a plane file, or one that is loaded.
        plan: path of a plan file or a plan, marked on the map; None marks what `tune` would choose.
        arrangement: "up/down", "down/up", "both up" or "both down"; None takes that of the plan.
        air: None takes the standard atmosphere at sea level.

    Raises `InputError` for files that cannot be used and for an arrangement the plane cannot fly.
    """
    file = plane if isinstance(plane, PlaneFile) else load_plane(plane)
    asked = map_arrangement(file.plane, arrangement)
    if plan is not None:
        return _map_of_plan(predict(file, plan, air=air, progress=progress), arrangement=arrangement, progress=progress)
    ready = prepare(file, air, progress=progress)
    progress("every level and arrangement")
    judged = tune_plane(ready.frame, ready.unit, wanted=ready.wanted, spreads=file.spreads).judged
    items = [j.candidate for j in judged if arrangement is None or j.candidate.arrangement == asked]
    best = next((item for item in items if item.speed is not None), None)
    progress("speed map")
    drawn = plane_map(
        ready.frame,
        ready.unit,
        wanted=ready.wanted,
        arrangement=asked if best is None else best.arrangement,
        level=None if best is None else best.level,
        angle=0.0 if best is None else best.angle,
    )
    estimate = None if best is None else best.speed_estimate
    return MapAnswer(ready=ready, plan_name="tuned", throws=Throws(), map=drawn, estimate=estimate)


def _map_of_plan(known: Predicted, *, arrangement: str | None, progress: Progress) -> MapAnswer:
    """The map around a plan; another arrangement than the plan's is drawn without a chosen point."""
    ready, plan = known.ready, known.plan
    own = None if plan.crow is None else plan.crow.arrangement
    asked = map_arrangement(ready.file.plane, arrangement or own)
    mine = own is None or asked == own
    progress("speed map")
    drawn = plane_map(
        ready.frame,
        ready.unit,
        wanted=ready.wanted,
        arrangement=asked,
        throws=plan.throws,
        level=ready.file.plane.controller.level(plan.motor.level) if mine else None,
        crow=plan.crow if mine else None,
    )
    down = known.survey.line("vertical down")
    states = [entry.state for entry in down.steady]
    at_stop = mine and down.closed and down.speed is not None and (own is None or down.deployment > 0.999)
    estimate = known.estimates["vertical down"][states.index(down.speed)] if at_stop and down.speed else None
    return MapAnswer(ready=ready, plan_name=known.plan_name, throws=plan.throws, map=drawn, estimate=estimate)


@dataclass(frozen=True, kw_only=True)
class ShaftAnswer:
    """The shaft-torque picture of a plane."""

    ready: Ready
    picture: ShaftPicture


def shaft_picture(
    plane: str | os.PathLike[str] | PlaneFile, *, speeds: Sequence[float] | None = None, air: Air | None = None
) -> ShaftAnswer:
    """Windmilling torque and motor-brake torque over shaft speed, and every state where they meet.

    Args:
        speeds: airspeeds, m/s; None takes .7, 1 and 1.3 of the wanted speed.
    """
    ready = prepare(plane if isinstance(plane, PlaneFile) else load_plane(plane), air)
    asked = [share * ready.wanted for share in (0.7, 1.0, 1.3)] if speeds is None else [*speeds]
    return ShaftAnswer(ready=ready, picture=torque_curves(ready.unit, np.asarray(asked, float)))


@dataclass(frozen=True, kw_only=True)
class StickAnswer:
    """The holding-stick picture of a plan."""

    ready: Ready
    plan_name: str
    picture: StickPicture


def holding_stick(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan | None = None,
    *,
    inverted: bool = False,
    air: Air | None = None,
) -> StickAnswer:
    """Holding stick over slope every 5 degrees, with crow and without; arguments as for `predict`."""
    ready, chosen, name = _plan_and_plane(plane, plan, air)
    picture = stick_picture(ready.frame, ready.unit, chosen, wanted=ready.wanted, inverted=inverted)
    return StickAnswer(ready=ready, plan_name=name, picture=picture)


@dataclass(frozen=True, kw_only=True)
class SharesAnswer:
    """Who holds against the flight on the five lines of a plan."""

    ready: Ready
    plan_name: str
    survey: Survey


def drag_shares(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan | None = None,
    *,
    air: Air | None = None,
) -> SharesAnswer:
    """Speed, stick and drag shares of the five lines, without spreads: quick; arguments as for `predict`."""
    ready, chosen, name = _plan_and_plane(plane, plan, air)
    done = survey(ready.unit, chosen, plan_tables(ready.frame, chosen, wanted=ready.wanted))
    return SharesAnswer(ready=ready, plan_name=name, survey=done)


def _plan_and_plane(
    plane: str | os.PathLike[str] | PlaneFile, plan: str | os.PathLike[str] | Plan | None, air: Air | None
) -> tuple[Ready, Plan, str]:
    file = plane if isinstance(plane, PlaneFile) else load_plane(plane)
    if plan is None:
        return prepare(file, air), present_plan(file.plane), "as it is now"
    if isinstance(plan, Plan):
        return prepare(file, air), plan, "plan"
    return prepare(file, air), load_plan(plan, file.plane), os.path.basename(os.fspath(plan))


@dataclass(frozen=True, kw_only=True)
class BenchAnswer:
    """What every aileron must show on the bench, and what the readings say; `proof` is None without readings."""

    file: PlaneFile
    plan_name: str
    bench: BenchList
    radio: RadioDescription | None
    proof: ListProof | None
    notes: tuple[str, ...]


def bench(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan,
    *,
    measured: str | os.PathLike[str] | Sequence[Reading] | None = None,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    progress: Progress = _silent,
) -> BenchAnswer:
    """The bench list of a plan, and what measured angles say about every aileron.

    Args:
        plane: path of a plane file, or one that is loaded. plan: path of a plan file, or a plan.
        measured: file of readings (TOML or CSV), or readings.
        radio: what the radio can send; only checked against.

    Raises `FileFaults` for files that cannot be used and `InputError` where readings cannot be judged.
    """
    file, chosen = _bench_files(plane, plan)
    name = "plan" if isinstance(plan, Plan) else os.path.basename(os.fspath(plan))
    described = load_radio(radio) if isinstance(radio, str | os.PathLike) else radio
    level = _level_stick(file, chosen, progress) if measured is None and chosen.crow is not None else None
    wanted = bench_list(file.plane, chosen, level_stick=level)
    proof: ListProof | None = None
    notes: tuple[str, ...] = ()
    if isinstance(measured, str | os.PathLike):
        read = _load_bench(wanted, measured)
        proof, notes = judge_list(wanted, read.readings), read.notes
    elif measured is not None:
        proof = judge_list(wanted, measured)
    return BenchAnswer(file=file, plan_name=name, bench=wanted, radio=described, proof=proof, notes=notes)


def bench_form(
    plane: str | os.PathLike[str] | PlaneFile, plan: str | os.PathLike[str] | Plan, form: str | os.PathLike[str]
) -> int:
    """Write an empty form for measured angles (.toml, else CSV); returns how many positions it asks for."""
    file, chosen = _bench_files(plane, plan)
    wanted = bench_list(file.plane, chosen)
    rows = form_rows(wanted)
    share = chosen.crow is not None and chosen.crow.elevator != 0.0
    write_form(form, rows, corners=list(wanted.corners), plane=file.plane.name, elevator=share)
    return len(rows)


def bench_known(
    plane: str | os.PathLike[str] | PlaneFile, plan: str | os.PathLike[str] | Plan, measured: str | os.PathLike[str]
) -> tuple[BenchList, tuple[Reading, ...]]:
    """The bench list, and the readings a file already holds; none where there is no file or only an empty form."""
    file, chosen = _bench_files(plane, plan)
    wanted = bench_list(file.plane, chosen)
    if not os.path.exists(measured):
        return wanted, ()
    return wanted, _load_bench(wanted, measured, may_be_empty=True).readings


def _bench_files(
    plane: str | os.PathLike[str] | PlaneFile, plan: str | os.PathLike[str] | Plan
) -> tuple[PlaneFile, Plan]:
    file = plane if isinstance(plane, PlaneFile) else load_plane(plane)
    return file, plan if isinstance(plan, Plan) else load_plan(plan, file.plane)


def _load_bench(wanted: BenchList, measured: str | os.PathLike[str], *, may_be_empty: bool = False) -> ReadingFile:
    """Readings of a bench list; a row that names no phase means the normal one."""
    normal = wanted.plan.phase("normal").name
    phases = [normal, *(phase.name for phase in wanted.plan.phases if phase.name != normal)]
    return load_readings(
        measured, corners=list(wanted.corners), phases=phases, plane=wanted.plane.name, may_be_empty=may_be_empty
    )


def _level_stick(file: PlaneFile, plan: Plan, progress: Progress) -> float | None:
    """Throttle stick of level flight at the wanted speed; None where no stick holds it."""
    ready = prepare(file, progress=progress)
    progress("stick of level flight")
    drag = slope_drag(ready.frame, plan, wanted=ready.wanted, slopes=[0.0])
    held = holding_sticks(ready.unit, plan, drag, stick_thrust(ready.unit, plan, wanted=ready.wanted))[0]
    return held.stick if held.status is Status.OK else None


@dataclass(frozen=True, kw_only=True)
class RigAnswer:
    """How a plan is rigged and set.

    Args:
        fitting: corners, travel budget, loads.
        settings: the plan in one radio's pulses and shares; None where no linkage is described.
        flown: what the rounded settings are predicted to do; None without settings.
        failsafe: every way of storing it. landing: what crow would change on the approach.
    """

    predicted: Predicted
    radio: RadioDescription
    fitting: Fitting
    settings: Settings | None
    flown: Predicted | None
    failsafe: FailsafeTable
    landing: ThresholdChange


def rig(
    plane: str | os.PathLike[str] | PlaneFile,
    plan: str | os.PathLike[str] | Plan,
    *,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    air: Air | None = None,
    progress: Progress = _silent,
) -> RigAnswer:
    """How every corner is fitted and set: travel, loads, the radio's settings predicted again, failsafe, landing.

    Args:
        plane, plan: paths, or loaded. radio: what the radio can do; None takes a usual one.

    Raises `FileFaults` for files that cannot be used.
    """
    described = load_radio(radio) if isinstance(radio, str | os.PathLike) else radio or usual_radio()
    before = predict(plane, plan, air=air, progress=progress)
    ready, chosen = before.ready, before.plan
    progress("travel and servo load")
    work = fitting(ready.frame, chosen, wanted=ready.wanted)
    travels = corner_travels(ready.file.plane, chosen)
    settings = flown = None
    if travels:
        progress("settings for the radio")
        tail = ready.file.plane.tail
        settings = radio_settings(
            chosen, described, travels, elevator_at_full=min(tail.elevator_up, tail.elevator_down)
        )
        flown = predict(ready.file, as_flown(chosen, settings), air=ready.air, progress=progress)
    progress("failsafe and landing")
    return RigAnswer(
        predicted=before,
        radio=described,
        fitting=work,
        settings=settings,
        flown=flown,
        failsafe=failsafe_table(ready.file.plane, chosen, _failsafe_speeds(before)),
        landing=landing_change(ready.frame, ready.unit, chosen, wanted=ready.wanted),
    )


def _failsafe_speeds(answer: Predicted) -> dict[FailsafeKind, Tendency]:
    """Down speeds of the ways of storing failsafe that leave the plane in a known state."""
    table = answer.tables.lines["vertical down"]
    braked = line_curve(braked_shaft(answer.ready.unit, answer.plan.motor.level), wanted=answer.ready.wanted)
    free = line_curve(free_shaft(answer.ready.unit), wanted=answer.ready.wanted)
    out = float(answer.plan.deployment(0.0))
    return {
        "closed pulse": Tendency(down_speed=fastest_stable(braked, table, 0.0), roll=0.0),
        "captured closed": Tendency(down_speed=fastest_stable(braked, table, out), roll=0.0),
        "no pulse": Tendency(down_speed=fastest_stable(free, table, 0.0)),
    }
