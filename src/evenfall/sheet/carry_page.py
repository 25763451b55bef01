"""A plan carried to another plane: what came along, what was computed anew, what must be flown first."""

from __future__ import annotations

import math

from pydantic import Field

from evenfall.estimate import Estimate
from evenfall.fit.carry import CarriedFactor
from evenfall.lines.handling import GREATEST_LOAD, Handling
from evenfall.sheet.learn_words import CORRECTION_WORDS, correction_words, known_to
from evenfall.sheet.make import spreading
from evenfall.sheet.pages import Page, Spreading
from evenfall.sheet.plan_view import DiffRow, plan_diff
from evenfall.workflow.carrying import Carried

_FLOWN = {
    "parasite_drag": "timed level passes both ways, or a vertical down with crow off: it runs away, enter higher",
    "crow_drag": "a vertical down with crow, stick closed",
    "braked_propeller_drag": "a vertical down with crow off, stick closed: it runs away, enter higher, pull out early",
    "brake_damping": "a spin-down behind a guard, or the propeller's note on a down line",
    "thrust": "timed level passes both ways at full stick",
    "crow_moment": "a vertical down with crow, elevator left alone, seen from the side",
    "roll_deployed": "timed rolls on the way down with crow out",
}


class CarriedPage(Page):
    """One correction on its way."""

    name: str = Field(description="In words.")
    belongs: str = Field(description="airframe or power train.")
    share_percent: float = Field(description="How much of it both planes share, percent. Common practice, no source.")
    reason: str = Field(description="Why so much.")
    first: float = Field(description="Factor learned on the first plane.")
    factor: float = Field(description="Factor to begin with on the other.")
    low: float = Field(description="One sigma lower.")
    high: float = Field(description="One sigma higher.")
    carried: bool = Field(description="False: begins as before any flight.")


class AnswerPage(Page):
    """One answer of the plane, on both."""

    what: str = Field(description="What answers to what.")
    first: str = Field(description="On the first plane, with unit.")
    other: str = Field(description="On the other, with unit.")
    met: bool = Field(description="The same, within what can be set.")


class FlyFirstPage(Page):
    """What must be flown first on the other plane."""

    what: str = Field(description="What to fly.")
    why: str = Field(description="What still hangs on it.")


class CarryPage(Page):
    """A plan carried to another plane."""

    plane: str = Field(description="The plane it comes from.")
    plan: str = Field(description="Its plan.")
    other: str = Field(description="The plane it is carried to.")
    flights: bool = Field(description="Corrections were learned on the first plane.")
    possible: bool = Field(description="The other plane has a plan.")
    words: str = Field(description="The answer in a few sentences.")
    missing: str = Field(default="", description="Why the wanted speed is not reached; empty where it is.")
    down_m_s: Spreading | None = Field(description="Vertical down of the other with its new plan, stick closed.")
    before_m_s: Spreading | None = Field(description="The same, had nothing been carried.")
    wanted_m_s: float = Field(description="The wanted speed, the first plane's.")
    carried: tuple[CarriedPage, ...] = Field(description="Every correction and how much of it came along.")
    answers: tuple[AnswerPage, ...] = Field(description="What was matched.")
    settings: tuple[DiffRow, ...] = Field(description="Settings of both plans where they differ.")
    margins: tuple[str, ...] = Field(description="Margins of both in words.")
    fly_first: tuple[FlyFirstPage, ...] = Field(description="What must be flown first, in this order.")
    voids: tuple[str, ...] = Field(default=(), description="Tests that the change of parts voids.")
    notes: tuple[str, ...] = Field(description="What to know.")


def carry_page(answer: Carried) -> CarryPage:
    """The page of a carried plan."""
    first, other = answer.first.ready.file.plane, answer.tuned.ready.file.plane
    found = answer.plan
    return CarryPage(
        plane=first.name,
        plan=answer.first.plan_name,
        other=other.name,
        flights=answer.flights,
        possible=found is not None,
        words=_words(answer),
        missing=_missing(answer),
        down_m_s=spreading(answer.down),
        before_m_s=spreading(answer.before),
        wanted_m_s=answer.tuned.ready.wanted,
        carried=tuple(_factor(item) for item in answer.over.factors),
        answers=_answers(answer),
        settings=() if found is None else plan_diff(answer.first.plan, found),
        margins=_margins(*answer.handling),
        fly_first=tuple(_fly(item, answer) for item in answer.first_to_fly[:4]) if found is not None else (),
        voids=answer.voids,
        notes=_notes(answer),
    )


def _words(answer: Carried) -> str:
    other, first = answer.tuned.ready.file.plane.name, answer.first.ready.file.plane.name
    if answer.plan is None and answer.level is not None:
        return f"{other} has no plan with the motor brake at {answer.level}: {answer.level_words}"
    if answer.plan is None:
        return f"{other} has no plan that behaves like {first}. evenfall tune says which limit stands in the way."
    if answer.down is None:
        return f"{other} has no steady vertical down with the stick closed under this plan."
    words = f"{_held(answer)}{other} comes down at {_speed(answer.down)} with the stick closed"
    if answer.short is not None:
        words += f", wanted is {answer.tuned.ready.wanted:.1f} m/s as on {first}"
    if answer.before is not None and answer.flights:
        before = _speed(answer.before)
        return f"{words}; without what {first} has taught it would be {before}."
    return f"{words}. No flights of {first} were given, so only its behaviour is carried."


def _missing(answer: Carried) -> str:
    """That the plan is only the nearest to the speed wanted, and what would buy that."""
    short, wanted = answer.short, answer.tuned.ready.wanted
    if short is None:
        return ""
    if not short.remedy:
        more = "more" if answer.down is not None and answer.down.value > wanted else "less"
        return f"A little {more} crow than in this plan would reach the wanted {wanted:.1f} m/s."
    if answer.level is not None:
        words = f"This is the nearest with the motor brake at {answer.level}."
    elif short.nearer is not None:
        way, speed = short.nearer
        words = (
            f"This is the nearest with crow {short.crow}, the way it goes on the first plane; "
            f"crow {way} would come down at {speed:.1f} m/s."
        )
    else:
        words = "This is the nearest."
    return f"{words} {short.remedy}"


def _held(answer: Carried) -> str:
    """Which motor-brake level is held because it was asked for, where another would be chosen."""
    best = answer.tuned.plan
    if not answer.level_words or best is None:
        return ""
    return f"Motor brake held at {answer.level} as asked, {best.motor.level} would be chosen. "


def _speed(found: Estimate) -> str:
    """A speed with its spread in m/s, or that next to two propeller speeds none can be given."""
    if not math.isfinite(found.spread):
        return f"{found.value:.1f} m/s (next to a second propeller speed, so that no spread can be given)"
    return f"{found.value:.1f} ± {found.spread:.1f} m/s"


def _factor(item: CarriedFactor) -> CarriedPage:
    return CarriedPage(
        name=correction_words(item.name),
        belongs=item.belongs,
        share_percent=100 * item.share,
        reason=item.reason if item.known > 0.05 else f"{item.reason}; flights have said nothing of it",
        first=item.first,
        factor=item.factor,
        low=item.factor * math.exp(-item.sigma),
        high=item.factor * math.exp(item.sigma),
        carried=item.carried,
    )


def _answers(answer: Carried) -> tuple[AnswerPage, ...]:
    one, two = answer.handling
    rows = []
    for row in answer.throws:
        if row.surface == "rudder" and row.met:
            continue
        words = {"aileron": "roll", "elevator": "pull", "rudder": "rudder"}[row.surface]
        rows.append(
            AnswerPage(
                what=f"{row.phase}: {words} at full stick",
                first=_reply(row.surface, row.first, one),
                other=_reply(row.surface, row.other, two),
                met=row.met,
            )
        )
    return tuple(rows)


def _reply(surface: str, throw: float, of: Handling) -> str:
    angle = f"{math.degrees(throw):.1f} deg"
    if surface == "aileron":
        return f"{math.degrees(of.roll_at(throw)):.0f} deg/s at {angle}"
    if surface == "elevator" and of.elevator_per_g > 1e-6:
        load = throw / of.elevator_per_g
        limit = of.greatest_load
        if limit is not None and load > limit:
            return f"stall at {limit:.1f} g before {angle}"
        return f"{load:.1f} g at {angle}"
    return angle


def _margins(first: Handling, other: Handling) -> tuple[str, ...]:
    apart = (other.static_margin - first.static_margin) * other.mean_chord
    where = "further back" if apart > 0 else "further forward"
    rows = [
        f"Static margin {100 * first.static_margin:.1f} % of the chord on the first, "
        f"{100 * other.static_margin:.1f} % on the other; "
        f"the same margin lies {1000 * abs(apart):.0f} mm {where}. Body left out on both."
    ]
    loads = [
        f"beyond {GREATEST_LOAD:.0f} g" if item.greatest_load is None else f"{item.greatest_load:.1f} g"
        for item in (first, other)
    ]
    rows.append(f"Stall at the wanted speed: {loads[0]} on the first, {loads[1]} on the other.")
    return tuple(rows)


def _fly(item: CarriedFactor, answer: Carried) -> FlyFirstPage:
    name = item.name.partition(":")[0]
    share = sum(
        cause.share
        for cause in (answer.down.causes if answer.down is not None else ())
        if f"corrections.{item.name}" in cause.name
    )
    doubt = f"{CORRECTION_WORDS[name]}: known to {known_to(item.sigma)} on this plane"
    return FlyFirstPage(
        what=_FLOWN[name],
        why=f"{doubt}; {100 * share:.0f} % of the doubt of the down speed" if share > 0.005 else doubt,
    )


def _notes(answer: Carried) -> tuple[str, ...]:
    notes = [
        "How much two planes share of a correction is an estimate of ours (common practice, no source). Fly the cards "
        "of the sheet in their order, as on a new plane."
    ]
    if not answer.same_way:
        notes.append("Crow cannot go the same way on the other plane; what was learned of it counts for less.")
    if answer.plan is not None and answer.level_words:
        notes.append(f"Motor brake at {answer.level}: {answer.level_words}")
    if abs(answer.own_speed - answer.tuned.ready.wanted) > 0.05:
        notes.append(
            f"The other plane's file asks for {answer.own_speed:.1f} m/s; the first plane's "
            f"{answer.tuned.ready.wanted:.1f} m/s was taken."
        )
    notes.append("None of the corrections belongs to the pilot: throws, soft parts and phases carry the feel instead.")
    return tuple(notes)
