"""Whole-programme tuning: every setting flown, the evenest, and what evenness costs in energy."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pydantic import Field

from evenfall.sheet.pages import Page
from evenfall.sheet.plan_view import DiffRow, plan_diff

if TYPE_CHECKING:
    from evenfall.advise.programme import Trial
    from evenfall.workflow.programming import ProgrammeAnswer

_LIMITS = {
    "snap throw": "the throw left for a snap with crow out",
    "hinge": "what the hinge allows",
    "servo load": "half the servo's stall torque",
}


class TrialPage(Page):
    """One setting flown over the programme."""

    level: str = Field(description="Motor-brake level.")
    crow_deg: float = Field(description="Crow of the larger wing.")
    over_all_percent: float = Field(description="Unevenness over everything tried.")
    calm_percent: float = Field(description="Unevenness in calm air.")
    doubt_percent: float = Field(description="Over the largest doubts of the plane.")
    weak_percent: float = Field(description="With a weak battery.")
    windy_percent: tuple[float, ...] = Field(description="In each wind, over its gusts.")
    energy_wh: float = Field(description="Energy out of the cells in calm air.")
    left_percent: float = Field(description="Charge left at the end.")
    flown: bool = Field(description="Flown to the end in calm air.")
    front: bool = Field(description="No other setting is both evener and thriftier.")
    best: bool = Field(description="The evenest over everything.")


class WindRowPage(Page):
    """The evenest setting in one wind."""

    wind_m_s: float = Field(description="Mean wind at 6 m above the ground.")
    level: str = Field(description="Motor-brake level.")
    crow_deg: float = Field(description="Crow of the larger wing.")
    unevenness_percent: float = Field(description="Its unevenness there.")
    chosen_percent: float = Field(description="Unevenness of the setting that is best over everything.")


class ProgrammePage(Page):
    """A programme's tuning."""

    plane: str = Field(description="Name of the plane.")
    sequence: str = Field(description="Name of the programme.")
    wanted_m_s: float = Field(description="The wanted speed.")
    possible: bool = Field(description="A setting flies it to the end.")
    words: tuple[str, ...] = Field(description="The answer in sentences.")
    trials: tuple[TrialPage, ...] = Field(description="Every setting flown, evenest first.")
    winds_m_s: tuple[float, ...] = Field(description="Winds above calm, in the order of the trials' numbers.")
    by_wind: tuple[WindRowPage, ...] = Field(description="The evenest for every wind.")
    settings: tuple[DiffRow, ...] = Field(description="What differs from the plan of the lines: there, here.")
    gusts: str = Field(description="What crow does to the answer to gusts.")


class EvennessPage(ProgrammePage):
    """A programme's tuning with its picture."""

    picture: str = Field(description="Evenness against energy as one SVG element; colours are the page's.")


def programme_page(answer: ProgrammeAnswer) -> ProgrammePage:
    """The page of a programme's tuning."""
    best = answer.best
    rows = sorted(answer.trials, key=lambda item: item.cost)
    windy = tuple(wind for wind in answer.winds if wind > 0)
    return ProgrammePage(
        plane=answer.ready.file.plane.name,
        sequence=answer.sequence_name,
        wanted_m_s=answer.ready.wanted,
        possible=best is not None,
        words=_words(answer),
        trials=tuple(_trial(item, answer) for item in rows),
        winds_m_s=windy,
        by_wind=tuple(
            _wind(wind, trial, answer, k)
            for k, (wind, trial) in enumerate(zip((0.0, *windy), answer.by_wind, strict=False))
        ),
        settings=() if answer.plan is None or answer.tuned.plan is None else plan_diff(answer.tuned.plan, answer.plan),
        gusts=_gusts(answer),
    )


def _crow(trial: Trial, answer: ProgrammeAnswer) -> float:
    return math.degrees(trial.share * answer.crow)


def _trial(trial: Trial, answer: ProgrammeAnswer) -> TrialPage:
    return TrialPage(
        level=trial.level,
        crow_deg=_crow(trial, answer),
        over_all_percent=100 * trial.cost,
        calm_percent=100 * trial.calm,
        doubt_percent=100 * trial.doubt,
        weak_percent=100 * trial.weak,
        windy_percent=tuple(100 * value for value in trial.windy),
        energy_wh=trial.energy / 3600,
        left_percent=100 * trial.left,
        flown=trial.ended.value == "flown",
        front=trial in answer.front,
        best=trial is answer.best,
    )


def _at(trial: Trial, which: int) -> float:
    return 100 * (trial.calm if which == 0 else trial.windy[which - 1])


def _wind(wind: float, trial: Trial, answer: ProgrammeAnswer, which: int) -> WindRowPage:
    assert answer.best is not None
    return WindRowPage(
        wind_m_s=wind,
        level=trial.level,
        crow_deg=_crow(trial, answer),
        unevenness_percent=_at(trial, which),
        chosen_percent=_at(answer.best, which),
    )


def _words(answer: ProgrammeAnswer) -> tuple[str, ...]:
    best, start = answer.best, answer.start
    if best is None:
        return ("No setting flies this programme to its end. evenfall fly says where it stops and why.",)
    rows = [
        f"Evenest over everything tried: motor brake {best.level}, crow {_crow(best, answer):.1f} deg, "
        f"{100 * best.calm:.1f} % uneven in calm air, {100 * best.cost:.1f} % over doubts, battery and wind."
    ]
    if start is not None and start is not best:
        more = (best.energy / start.energy - 1) * 100
        rows.append(
            f"The plan of the lines: {100 * start.calm:.1f} % in calm air, {100 * start.cost:.1f} % over everything; "
            f"the change costs {more:+.1f} % energy."
        )
    elif start is best:
        rows.append("That is the plan of the lines itself: nothing to change for this programme.")
    if best.share >= 0.995:
        rows.append(f"More crow would go on: the limit is {_LIMITS[answer.most.kind]}.")
    near = [item for item in answer.trials if item.cost < best.cost * 1.03 and item is not best]
    if near:
        rows.append(f"{len(near)} other settings lie within 3 % of it: the choice among them may follow energy.")
    return tuple(rows)


def _gusts(answer: ProgrammeAnswer) -> str:
    stowed, out = answer.gusts
    worse = "worsens" if out.ground > stowed.ground else "eases"
    return (
        f"Vertical down in gusts of {stowed.sigma:.1f} m/s along it: speed over the ground scatters by "
        f"{stowed.ground:.2f} m/s with crow stowed, {out.ground:.2f} out; through the air by {stowed.air:.2f} and "
        f"{out.air:.2f}. A deviation fades in {stowed.time:.1f} s stowed, {out.time:.1f} s out: crow {worse} what is "
        "judged in gusts and brings the speed back sooner."
    )
