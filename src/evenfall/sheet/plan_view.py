"""A plan on the page: what it holds, how it differs from the tuned one, and how a change to it is said."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from evenfall.sheet.folder_page import FaultPage
from evenfall.sheet.pages import Page, PlanPage

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
    state: Literal["as it is", "tuned", "edited", "frozen"] = Field(description="Where it comes from.")
    revision: int = Field(description="Revision of the file; 0 without one.")
    plan: PlanPage | None = Field(description="What it holds; null where the file cannot be used.")
    text: str = Field(description="The file; empty without one.")
    faults: tuple[FaultPage, ...] = Field(description="Every fault of the file.")
    levels: tuple[str, ...] = Field(description="Motor-brake levels of the plane's controller.")
    arrangements: tuple[str, ...] = Field(description="Arrangements the plane can fly.")
    most_deg: float = Field(description="Largest crow the hinges allow in this arrangement.")
    differs: tuple[DiffRow, ...] = Field(description="Against the tuned plan; empty where equal or never tuned.")
    tuned_known: bool = Field(description="A tuned plan of this plane is on record to compare with.")
