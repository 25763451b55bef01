"""A plan on the page: what it holds, how it differs from the tuned one, and how a change to it is said."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from evenfall.errors import EvenfallError, FileFaults
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.plane.files import PlaneFile
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.phases import Phase
from evenfall.radio.plan import Crow, Plan, Points, arrangements_of, present_plan, wing_signs
from evenfall.radio.planfile import parse_plan, plan_data
from evenfall.sheet.folder_page import FaultPage
from evenfall.sheet.pages import Page, PlanPage

State = Literal["as it is", "tuned", "edited", "frozen", "proven"]

Degrees = Annotated[float, Field(ge=-90.0, le=90.0)]
Percent = Annotated[float, Field(ge=0.0, le=100.0)]
CurvePoints = Annotated[tuple[tuple[Percent, Percent], ...], Field(min_length=2, max_length=33)]


class Changes(BaseModel):
    """Base of changes: strict, only what is said changes."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class PhaseChanges(Changes):
    """Changes of one phase."""

    crow_live: bool | None = None
    aileron_deg: Annotated[float, Field(ge=0.0, le=60.0)] | None = None
    elevator_deg: Annotated[float, Field(ge=0.0, le=60.0)] | None = None
    rudder_deg: Annotated[float, Field(ge=0.0, le=60.0)] | None = None
    aileron_exponential_percent: Annotated[float, Field(ge=-100.0, le=100.0)] | None = None
    elevator_exponential_percent: Annotated[float, Field(ge=-100.0, le=100.0)] | None = None
    rudder_exponential_percent: Annotated[float, Field(ge=-100.0, le=100.0)] | None = None
    roll_boost_percent: Annotated[float, Field(ge=0.0, le=100.0)] | None = None


class CornerChanges(Changes):
    """Changes of how one aileron is fitted."""

    teeth: Annotated[int, Field(ge=-12, le=12)] | None = None
    arm: Annotated[int, Field(ge=1, le=8)] | None = None
    arm_hole_mm: Annotated[float, Field(gt=0.0, le=60.0)] | None = None
    horn_hole_mm: Annotated[float, Field(gt=0.0, le=60.0)] | None = None
    shift_us: Annotated[float, Field(ge=-500.0, le=500.0)] | None = None


class PlanChanges(Changes):
    """Changes of a plan; what is null stays."""

    crow: bool | None = Field(default=None, description="False takes crow away, true gives it back.")
    arrangement: Literal["up/down", "down/up", "both up", "both down"] | None = None
    angle_deg: Annotated[float, Field(ge=0.0, le=60.0)] | None = Field(
        default=None, description="The larger of the two wings' angles; the other keeps its share."
    )
    upper_deg: Degrees | None = None
    lower_deg: Degrees | None = None
    threshold_percent: Percent | None = Field(default=None, description="Stretches the curve to a new threshold.")
    curve: CurvePoints | None = None
    elevator_share: Annotated[float, Field(ge=-2.0, le=2.0)] | None = None
    level: Annotated[str, Field(max_length=100)] | None = Field(default=None, description="Motor-brake level.")
    throttle_curve: CurvePoints | None = None
    phases: dict[Annotated[str, Field(max_length=100)], PhaseChanges] = Field(default={}, max_length=20)
    corners: dict[Annotated[str, Field(max_length=20)], CornerChanges] = Field(default={}, max_length=4)


class DiffRow(Page):
    """One setting that differs."""

    what: str = Field(description="The setting in words.")
    mine: str = Field(description="Here, rounded as on the bench.")
    other: str = Field(description="There.")


class PlanView(Page):
    """A plan as the page shows and edits it."""

    file: str | None = Field(description="Plan file; null: the plane as it is now.")
    label: str = Field(description="What to call it.")
    state: State = Field(description="Where it comes from.")
    revision: int = Field(description="Revision of the file; 0 without one.")
    plan: PlanPage | None = Field(description="What it holds; null where the file cannot be used.")
    text: str = Field(description="The file; empty without one.")
    faults: tuple[FaultPage, ...] = Field(description="Every fault of the file.")
    levels: tuple[str, ...] = Field(description="Motor-brake levels of the plane's controller.")
    arrangements: tuple[str, ...] = Field(description="Arrangements the plane can fly.")
    most_deg: float = Field(description="Largest crow the hinges allow in this arrangement.")
    differs: tuple[DiffRow, ...] = Field(description="Against the tuned plan; empty where equal or never tuned.")
    tuned_known: bool = Field(description="A tuned plan of this plane is on record to compare with.")


def plan_view(
    plane: PlaneFile,
    text: str | None,
    *,
    file: str | None,
    label: str,
    state: State,
    revision: int,
    tuned: str | None,
) -> PlanView:
    """A plan file as the page shows and edits it; without a text the plane as it is now.

    Args:
        tuned: text of the plan as it was computed, or None where none is on record.
    """
    plan, faults = _parsed(text, plane.plane, file)
    base = None if tuned is None else _parsed(tuned, plane.plane, "tuned plan")[0]
    return PlanView(
        file=file,
        label=label,
        state=state,
        revision=revision,
        plan=None if plan is None else PlanPage.model_validate(plan_data(plan)),
        text=text or "",
        faults=faults,
        levels=tuple(level.name for level in plane.plane.controller.levels),
        arrangements=arrangements_of(plane.plane),
        most_deg=math.degrees(most_crow(None if plan is None else plan.crow, plane.plane)),
        differs=() if plan is None or base is None else plan_diff(plan, base),
        tuned_known=base is not None,
    )


def _parsed(text: str | None, plane: Plane, path: str | None) -> tuple[Plan | None, tuple[FaultPage, ...]]:
    if text is None:
        return present_plan(plane), ()
    try:
        return parse_plan(text, plane, path=path or "plan file"), ()
    except FileFaults as error:
        return None, tuple(FaultPage(where=one.where, line=one.line, words=one.message) for one in error.faults)
    except EvenfallError as error:
        return None, (FaultPage(where="", line=None, words=str(error)),)


def most_crow(crow: Crow | None, plane: Plane) -> float:
    """Largest angle of the larger wing that the hinges allow in this arrangement and split, rad; 0 without ailerons."""
    possible = arrangements_of(plane)
    if not possible:
        return 0.0
    now = (crow.upper, crow.lower) if crow is not None else (0.0, 0.0)
    largest = max(abs(value) for value in now)
    found = []
    signs = wing_signs(crow.arrangement if crow is not None else possible[0])
    for name, sign, value in zip(("upper", "lower"), signs, now, strict=True):
        wing = plane.wings.get(name)
        share = abs(value) / largest if largest > 0 else 1.0
        if wing is not None and wing.aileron is not None and share > 0:
            found.append((wing.aileron.throw_up if sign < 0 else wing.aileron.throw_down) / share)
    return min(found, default=0.0)


# --- differences -----------------------------------------------------------------------------------------------------

Row = tuple[str, str, str]
_NONE = "none"


def plan_diff(a: Plan, b: Plan) -> tuple[DiffRow, ...]:
    """What differs between two plans, rounded as on the bench; what rounds to the same is no difference."""
    rows = [*_crow_rows(a.crow, b.crow), *_motor_rows(a, b), *_phase_rows(a, b), *_corner_rows(a, b)]
    return tuple(DiffRow(what=what, mine=mine, other=other) for what, mine, other in rows if mine != other)


def _deg(angle: float) -> str:
    return f"{round(math.degrees(angle), 1) + 0.0:.1f} deg"


def _percent(share: float) -> str:
    return f"{round(100 * share) + 0:d} %"


def _points(points: Points) -> str:
    return ", ".join(f"{_percent(value)} at stick {_percent(stick)}" for stick, value in points)


def _crow_rows(a: Crow | None, b: Crow | None) -> Iterator[Row]:
    if a is None or b is None:
        yield "crow", _crow_words(a), _crow_words(b)
        return
    yield "arrangement, upper wing/lower wing", a.arrangement, b.arrangement
    yield "crow of the upper wing", _deg(a.upper), _deg(b.upper)
    yield "crow of the lower wing", _deg(a.lower), _deg(b.lower)
    yield "threshold", f"stick {_percent(a.threshold)}", f"stick {_percent(b.threshold)}"
    yield "deployment curve", _points(a.curve), _points(b.curve)
    yield "elevator with full crow", _deg(a.elevator), _deg(b.elevator)


def _crow_words(crow: Crow | None) -> str:
    return _NONE if crow is None else f"{crow.arrangement}, {_deg(crow.angle)}"


def _motor_rows(a: Plan, b: Plan) -> Iterator[Row]:
    yield "motor-brake level", a.motor.level, b.motor.level
    yield "throttle curve", _points(a.motor.throttle_curve), _points(b.motor.throttle_curve)


def _phase_rows(a: Plan, b: Plan) -> Iterator[Row]:
    mine, other = {one.name: one for one in a.phases}, {one.name: one for one in b.phases}
    for name in dict.fromkeys((*mine, *other)):
        if name not in mine or name not in other:
            yield f"phase {name}", "there" if name in mine else _NONE, "there" if name in other else _NONE
            continue
        left, right = _phase_words(mine[name]), _phase_words(other[name])
        for what, words in left.items():
            yield f"{what}, {name}", words, right[what]


def _phase_words(phase: Phase) -> dict[str, str]:
    words = {"kind of phase": phase.kind, "crow": "live" if phase.crow_live else "off"}
    for axis in ("aileron", "elevator", "rudder"):
        words[f"{axis} throw"] = _deg(getattr(phase, axis))
        words[f"{axis} exponential"] = _percent(getattr(phase, f"{axis}_exponential"))
    return {**words, "roll boost": _percent(phase.roll_boost)}


def _corner_rows(a: Plan, b: Plan) -> Iterator[Row]:
    for name in CORNERS:
        where, mine, other = name.replace("_", " "), a.corners.get(name), b.corners.get(name)
        if mine is None or other is None:
            yield f"linkage, {where}", _NONE if mine is None else mine.words, _NONE if other is None else other.words
            continue
        left, right = _corner_words(mine), _corner_words(other)
        for what, words in left.items():
            yield f"{what}, {where}", words, right[what]


def _corner_words(setup: CornerSetup) -> dict[str, str]:
    return {
        "arm hole": f"{1e3 * setup.arm_hole:.1f} mm",
        "horn hole": f"{1e3 * setup.horn_hole:.1f} mm",
        "teeth from square": f"{setup.teeth:+d}" if setup.teeth else "0",
        "rod on arm": f"{setup.arm + 1}",
        "horn turned over": "yes" if setup.turned_over else "no",
        "arm offset": _deg(setup.offset),
        "neutral pulse": f"{1e6 * setup.pulse_neutral:.0f} us",
        "pulse with crow out": f"{1e6 * setup.pulse_deployed:.0f} us",
        "centre shift": f"{1e6 * setup.shift:.0f} us" if setup.shift_means != "none" else _NONE,
        "servo turn, normal": _deg(setup.normal_turn),
        "servo turn, snap": _deg(setup.snap_turn),
    }
