"""Bench: what every aileron must show, and what the readings say."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

from evenfall.lines.bench import BenchList, bench_list
from evenfall.lines.bench_proof import ListProof, form_rows, judge_list
from evenfall.lines.holding import holding_sticks, slope_drag, stick_thrust
from evenfall.logs.readings import Reading, ReadingFile, load_readings
from evenfall.logs.readings_form import write_form
from evenfall.numeric import Status
from evenfall.plane.files import PlaneFile
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import load_plan
from evenfall.radio.radio_description import RadioDescription, load_radio
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, made_ready, plane_file, silent


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
    plane: PlaneInput,
    plan: PlanInput,
    *,
    measured: str | os.PathLike[str] | Sequence[Reading] | None = None,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    progress: Progress = silent,
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
    given = plane if isinstance(plane, Ready) else file
    level = _level_stick(given, chosen, progress) if measured is None and chosen.crow is not None else None
    wanted = bench_list(file.plane, chosen, level_stick=level)
    proof: ListProof | None = None
    notes: tuple[str, ...] = ()
    if isinstance(measured, str | os.PathLike):
        read = _load_bench(wanted, measured)
        proof, notes = judge_list(wanted, read.readings), read.notes
    elif measured is not None:
        proof = judge_list(wanted, measured)
    return BenchAnswer(file=file, plan_name=name, bench=wanted, radio=described, proof=proof, notes=notes)


def bench_form(plane: PlaneInput, plan: PlanInput, form: str | os.PathLike[str]) -> int:
    """Write an empty form for measured angles (.toml, else CSV); returns how many positions it asks for."""
    file, chosen = _bench_files(plane, plan)
    wanted = bench_list(file.plane, chosen)
    rows = form_rows(wanted)
    share = chosen.crow is not None and chosen.crow.elevator != 0.0
    write_form(form, rows, corners=list(wanted.corners), plane=file.plane.name, elevator=share)
    return len(rows)


def bench_known(
    plane: PlaneInput, plan: PlanInput, measured: str | os.PathLike[str]
) -> tuple[BenchList, tuple[Reading, ...]]:
    """The bench list, and the readings a file already holds; none where there is no file or only an empty form."""
    file, chosen = _bench_files(plane, plan)
    wanted = bench_list(file.plane, chosen)
    if not os.path.exists(measured):
        return wanted, ()
    return wanted, _load_bench(wanted, measured, may_be_empty=True).readings


def _bench_files(plane: PlaneInput, plan: PlanInput) -> tuple[PlaneFile, Plan]:
    file = plane_file(plane)
    return file, plan if isinstance(plan, Plan) else load_plan(plan, file.plane)


def _load_bench(wanted: BenchList, measured: str | os.PathLike[str], *, may_be_empty: bool = False) -> ReadingFile:
    """Readings of a bench list; a row that names no phase means the normal one."""
    normal = wanted.plan.phase("normal").name
    phases = [normal, *(phase.name for phase in wanted.plan.phases if phase.name != normal)]
    return load_readings(
        measured, corners=list(wanted.corners), phases=phases, plane=wanted.plane.name, may_be_empty=may_be_empty
    )


def _level_stick(given: Ready | PlaneFile, plan: Plan, progress: Progress) -> float | None:
    """Throttle stick of level flight at the wanted speed; None where no stick holds it."""
    ready = made_ready(given, progress=progress)
    progress("stick of level flight")
    drag = slope_drag(ready.frame, plan, wanted=ready.wanted, slopes=[0.0])
    held = holding_sticks(ready.unit, plan, drag, stick_thrust(ready.unit, plan, wanted=ready.wanted))[0]
    return held.stick if held.status is Status.OK else None
