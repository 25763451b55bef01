"""What flights have taught: corrections with their doubt, every piece against the others, what to change and to fly."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenfall.sheet.pages import Page, Spreading


class CorrectionPage(Page):
    """One correction: a factor on a part of the physics."""

    key: str = Field(description="Name of the correction; another motor-brake level's is key:LEVEL.")
    name: str = Field(description="In the pilot's words.")
    factor: float = Field(description="Most likely factor; 1 is the prediction before flights.")
    low: float = Field(description="Factor one sigma lower.")
    high: float = Field(description="Factor one sigma higher.")
    before_low: float = Field(description="One sigma lower before these flights.")
    before_high: float = Field(description="One sigma higher before these flights.")
    told: bool = Field(description="These flights have said something about it.")
    words: str = Field(description="What that means, in a sentence.")


class PiecePage(Page):
    """One piece of evidence against all the others."""

    name: str = Field(description="Flight and what was seen.")
    kind: str = Field(description="Kind of evidence in words.")
    seen: str = Field(description="What was seen, with unit and doubt.")
    expected: str = Field(description="What the other evidence expects there; empty where it is no single number.")
    off_sigma: float = Field(description="How far off, in sigma of both together; signed where it is one number.")
    weight: float = Field(description="Share of its weight that it kept, 0 to 1.")
    outlier: bool = Field(description="Further off than three sigma.")
    taught: str = Field(description="What it taught most, in words; empty where nothing.")


class LearnedSpeedPage(Page):
    """A line's speed before and after."""

    line: str = Field(description="The line.")
    before_m_s: Spreading | None = Field(description="As predicted before flights; null without a steady speed.")
    after_m_s: Spreading | None = Field(description="With what was learned; null without a steady speed.")
    wanted_m_s: float = Field(description="The wanted speed.")


class EffectPage(Page):
    """One target and what a change does to it."""

    target: str = Field(description="What is aimed at, in words.")
    now: str = Field(description="Now, with unit and spread.")
    after: str = Field(description="After the change, with unit and spread.")
    wanted: str = Field(description="What is wanted.")


class ChangePage(Page):
    """The one change for the next flight, or the reason for none."""

    what: str = Field(description="The change in the pilot's own steps; or that nothing is changed.")
    why: str = Field(description="Reason in a sentence or two.")
    none: bool = Field(description="True where nothing is to be changed.")
    effects: tuple[EffectPage, ...] = Field(description="What it does to each target.")
    check: str = Field(description="Which line confirms it, how it is measured, what must be seen.")
    limit: str = Field(default="", description="The limit that stands in the way and what would buy more; else empty.")


class NextFlightPage(Page):
    """What to fly next."""

    what: str = Field(description="Lines to fly and how to measure them.")
    why: str = Field(description="Reason, with the doubt now and after it.")
    height: str = Field(default="", description="Lowest entry height, where a gate names one.")
    others: tuple[str, ...] = Field(default=(), description="The next best, with what they would bring.")


class LearnPage(Page):
    """What all flights of a plane with a plan say together."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="What the plan is called.")
    flights: int = Field(description="Flights learned from.")
    pieces: tuple[PiecePage, ...] = Field(description="Every piece of evidence.")
    corrections: tuple[CorrectionPage, ...] = Field(description="Corrections, most changed first.")
    alike: tuple[str, ...] = Field(description="What this evidence cannot tell apart, in words.")
    speeds: tuple[LearnedSpeedPage, ...] = Field(description="Lines before and after.")
    settled: bool = Field(description="The fit came to rest.")
    proven: bool = Field(description="These flights prove the plan.")
    proven_words: str = Field(description="Why the plan is proven, or what is missing for it.")
    change: ChangePage | None = Field(description="What to change; null where nothing can be said.")
    flight: NextFlightPage | None = Field(description="What to fly next; null where nothing can be said.")
    notes: tuple[str, ...] = Field(description="What could not be used, and why; what to know.")
    state: Literal["no flights", "learned"] = Field(description="Whether there was anything to learn from.")
