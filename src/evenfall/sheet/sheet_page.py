"""The sheet as a declared page: bench, settings and predictions gathered, arms and first-flight gates added."""

from __future__ import annotations

import datetime as dt
import math
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
from pydantic import Field

from evenfall import __version__, workflow
from evenfall.air import Air
from evenfall.errors import InputError
from evenfall.lines.bench import bench_list
from evenfall.linkage.corner import CAUSES, Corner, corner_limits
from evenfall.numeric import Status
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import plan_text
from evenfall.radio.radio_description import RadioDescription
from evenfall.sheet.bench_page import BenchPage, bench_page, sides
from evenfall.sheet.fly_make import fly_page
from evenfall.sheet.fly_page import FlyPage
from evenfall.sheet.gates import GatePage, first_flights
from evenfall.sheet.make import plan_page, predict_page
from evenfall.sheet.pages import Page, PlanPage, PredictPage
from evenfall.sheet.rig_page import RigPage, rig_page
from evenfall.textfile import content_hash
from evenfall.workflow.flying import SequenceInput, fly


class ArmPage(Page):
    """One aileron's arm, rod and horn. Angles of the arm from square to its rod, pushing (pin aft) positive."""

    corner: str = Field(description="upper_left and so on.")
    arm_mm: float = Field(description="Hole of the servo arm, radius.")
    horn_mm: float = Field(description="Hole of the horn, hinge line to pin.")
    distance_mm: float = Field(description="Servo axis to hinge line along the chord.")
    height_mm: float = Field(description="Servo axis beyond the hinge line towards the horn's side.")
    setback_mm: float = Field(description="Horn pin aft of the hinge line with the surface at neutral.")
    crossed: bool = Field(description="The arm stands on the side away from the horn.")
    horn_above: bool = Field(description="The horn stands on the upper side.")
    square_deg: float = Field(description="Arm square to its rod, from the chord's normal, pin aft positive.")
    offset_deg: float = Field(description="Arm with the surface at neutral.")
    crow_deg: float = Field(description="Arm with crow fully out.")
    crow_surface_deg: float = Field(description="Surface with crow fully out, trailing edge down positive.")
    sweep_deg: tuple[float, float] = Field(description="Least and greatest arm angle of any phase.")
    limits_deg: tuple[float, float] = Field(description="Where the travel ends.")
    limit_words: tuple[str, str] = Field(description="What ends it there.")
    left_deg: tuple[float, float] = Field(description="Servo turn left to these ends, trim included.")
    teeth: int | None = Field(description="Teeth from square, pushing positive; null where the plan does not say.")
    rod_on_arm: int | None = Field(description="Which arm of the servo horn carries the rod; null as above.")
    shift_us: float | None = Field(description="Neutral pulse less centre pulse; null as above.")
    shift_by: str = Field(description="What makes that shift; empty as above.")


class SheetPage(Page):
    """The sheet: one page for the bench, one for the field, one more for a programme."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="Name of the plan.")
    plan_hash: str = Field(description="Content hash of the plan file.")
    version: str = Field(description="Version that computed the sheet.")
    date: str = Field(description="Date of the sheet, year-month-day.")
    settings: PlanPage = Field(description="Crow and motor as in the plan.")
    bench: BenchPage = Field(description="The bench list.")
    rig: RigPage = Field(description="Settings, phases, failsafe.")
    predicted: PredictPage = Field(description="Speeds with their spreads, holding stick, roll.")
    arms: tuple[ArmPage, ...] = Field(description="Every aileron's arm; empty without servo and linkage.")
    gates: tuple[GatePage, ...] = Field(description="First flights with crow, in order.")
    programme: FlyPage | None = Field(default=None, description="A programme flown in calm; null where none is wanted.")


def make_sheet(
    plane: str | os.PathLike[str],
    plan: str | os.PathLike[str] | Plan,
    *,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    air: Air | None = None,
    programme: SequenceInput | None = None,
    progress: workflow.Progress = lambda words: None,
) -> SheetPage:
    """Compute the sheet of a plane and a plan; arguments as for `workflow.rig`.

    `programme`: a sequence flown in calm, for a further page.
    """
    answer = workflow.rig(plane, plan, radio=radio, air=air, progress=progress)
    text = plan_text(plan) if isinstance(plan, Plan) else Path(plan).read_text(encoding="utf-8", errors="replace")
    when = sheet_date(None if isinstance(plan, Plan) else plan)
    made = sheet_page(answer, plan_hash=content_hash(text), date=when.isoformat())
    if programme is None:
        return made
    before = answer.predicted
    flown = replace(fly(before.ready, before.plan, programme, progress=progress), plan_name=before.plan_name)
    return made.model_copy(update={"programme": fly_page(flown)})


def sheet_page(answer: workflow.RigAnswer, *, plan_hash: str, date: str) -> SheetPage:
    """The page of a rigged plan."""
    before = answer.predicted
    plane, plan = before.ready.file.plane, before.plan
    level = before.survey.line("level")
    bench = bench_list(plane, plan, level_stick=level.stick if level.status is Status.OK and plan.crow else None)
    return SheetPage(
        plane=plane.name,
        plane_hash=before.ready.file.content_hash,
        plan=before.plan_name,
        plan_hash=plan_hash,
        version=__version__,
        date=date,
        settings=plan_page(plan),
        bench=bench_page(bench, plan_name=before.plan_name, radio=answer.radio),
        rig=rig_page(answer),
        predicted=predict_page(before),
        arms=tuple(_arm(answer, name) for name in sides(list(answer.fitting.corners))),
        gates=first_flights(answer),
    )


def sheet_date(plan: str | os.PathLike[str] | None) -> dt.date:
    """Date of a sheet: SOURCE_DATE_EPOCH, else the day the plan file was last written, else today (UTC)."""
    given = os.environ.get("SOURCE_DATE_EPOCH", "").strip()
    try:
        if given:
            moment = float(int(given))
        elif plan is not None:
            moment = os.stat(plan).st_mtime
        else:
            return dt.datetime.now(dt.UTC).date()
        return dt.datetime.fromtimestamp(moment, dt.UTC).date()
    except (ValueError, OverflowError, OSError):
        raise InputError(f"SOURCE_DATE_EPOCH is {given!r}; it must be whole seconds since 1970") from None


def _arm(answer: workflow.RigAnswer, name: str) -> ArmPage:
    work = answer.fitting.corners[name]
    corner: Corner = work.corner
    setup = answer.predicted.plan.corners.get(name)
    bar, limits = corner.bar, corner_limits(corner)
    low, high = float(limits.low), float(limits.high)
    shares = [] if answer.fitting.budget is None else [s for s in answer.fitting.budget.shares if s.corner == name]
    still = (corner.neutral, corner.deployed)
    deg = math.degrees
    return ArmPage(
        corner=name,
        arm_mm=1e3 * float(np.asarray(bar.arm)),
        horn_mm=1e3 * float(np.asarray(bar.horn)),
        distance_mm=1e3 * float(np.asarray(bar.distance)),
        height_mm=1e3 * float(np.asarray(bar.height)),
        setback_mm=1e3 * float(np.asarray(bar.setback)),
        crossed=bar.crossed,
        horn_above=bar.horn_above,
        square_deg=deg(corner.square),
        offset_deg=deg(corner.neutral),
        crow_deg=deg(corner.deployed),
        crow_surface_deg=deg(corner.crow),
        sweep_deg=(
            deg(min((s.low for s in shares), default=min(still))),
            deg(max((s.high for s in shares), default=max(still))),
        ),
        limits_deg=(deg(low), deg(high)),
        limit_words=(CAUSES[int(limits.low_cause)], CAUSES[int(limits.high_cause)]),
        left_deg=(
            deg(min((s.left_low for s in shares), default=min(still) - low)),
            deg(min((s.left_high for s in shares), default=high - max(still))),
        ),
        teeth=None if setup is None else setup.teeth,
        rod_on_arm=None if setup is None or setup.arm == 0 else setup.arm + 1,
        shift_us=None if setup is None else 1e6 * setup.shift,
        shift_by="" if setup is None or setup.shift_means == "none" else setup.shift_means,
    )
