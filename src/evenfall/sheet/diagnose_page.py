"""From what was seen to what may be behind it, and the bench check that tells."""

from __future__ import annotations

from pydantic import Field

from evenfall.sheet.pages import Page


class SignPage(Page):
    """Something a pilot may have seen."""

    key: str = Field(description="Short name of the sign.")
    words: str = Field(description="In the pilot's words.")
    group: str = Field(description="Where it belongs: speed, straightness, roll, motor, figures.")


class BenchCheckPage(Page):
    """A check on the bench or at the field that separates causes."""

    words: str = Field(description="What to measure, how.")
    if_so: str = Field(description="What is seen if it is this cause.")
    if_not: str = Field(description="What is seen if it is not.")
    minutes: float = Field(description="How long it takes, minutes. Common practice, no source.")


class CausePage(Page):
    """One possible cause."""

    key: str = Field(description="Short name of the cause.")
    words: str = Field(description="In words.")
    probability: float = Field(description="0 to 1, of all causes together.")
    why: str = Field(description="Which signs speak for and against it.")
    check: BenchCheckPage = Field(description="What tells it from the others.")
    source: str = Field(description="Engine, a published source, or common practice, no source.")


class DiagnosePage(Page):
    """Ranked causes of what was seen."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="What the plan is called.")
    all_signs: tuple[SignPage, ...] = Field(description="Every sign that can be named.")
    signs: tuple[str, ...] = Field(description="The signs that were named.")
    causes: tuple[CausePage, ...] = Field(description="Most likely first; those below one percent left out.")
    other: float = Field(description="Probability that it is none of these.")
    first: str = Field(description="What to check first, and why.")
