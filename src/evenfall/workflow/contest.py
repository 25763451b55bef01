"""Contest card: the plan as it stands, what the surfaces must show, and what today's air does to the lines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from evenfall.advise.change import Change, next_change
from evenfall.air import GAS_CONSTANT, SEA_LEVEL_PA, Air, standard_air
from evenfall.errors import InputError
from evenfall.fit.forgotten import forgot
from evenfall.fit.learned import Learned, crow_set_anew, for_level
from evenfall.lines.bench import BenchList, bench_list
from evenfall.lines.spread import CROW_SETTING
from evenfall.lines.survey import Survey, plan_tables, survey
from evenfall.numeric import Status
from evenfall.plane.files import PlaneFile
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import is_edited, is_frozen, parse_plan, thawed_text
from evenfall.record.logbook import Logbook
from evenfall.record.rows import ChangeRow, LearnedRow, ProvenRow
from evenfall.textfile import content_hash
from evenfall.workflow.learning import taught_ready
from evenfall.workflow.prediction import Predicted, complete
from evenfall.workflow.ready import PlaneInput, Progress, Ready, made_ready, plane_file, prepare, silent
from evenfall.workflow.recording import Season, SeasonPart, season
from evenfall.workflow.relearning import learned_of, pulls_of, same

SAME_AIR = 1e-4
"""Share of density within which two airs are one."""


@dataclass(frozen=True, kw_only=True)
class CardLearned:
    """What flights taught that holds for a card.

    Args:
        row: as kept. learned: the same for the card's plan and motor-brake level. level: it was learned at.
        alike: learned with the card's own plan, with another at its level, or at another level only.
    """

    row: LearnedRow
    learned: Learned
    level: str
    alike: Literal["plan", "level", "other"]


@dataclass(frozen=True, kw_only=True)
class ContestCard:
    """Everything the card says.

    Args:
        predicted: the plan in today's air, with what flights taught.
        usual: line to steady speed in the air the plan was computed in, m/s, None without one; `usual_air` that air.
        bench: what the surfaces must show. change: what would be changed, None where it cannot be said.
        plan_hash: content hash of the plan's text. frozen, edited: state of that text. proven: None where it is not.
        learned: what flights taught that holds for this plan, None where nothing.
        waiting: changes whose effect was not seen yet. parts: replaced parts with tests not done again.
    """

    predicted: Predicted
    usual: Mapping[str, float | None]
    usual_air: Air
    bench: BenchList
    change: Change | None
    plan_name: str
    plan_hash: str
    frozen: bool
    edited: bool
    proven: ProvenRow | None
    learned: CardLearned | None
    waiting: tuple[ChangeRow, ...]
    parts: tuple[SeasonPart, ...]


def contest_card(
    plane: PlaneInput,
    plan_text: str,
    *,
    plan_name: str,
    book: Logbook | None = None,
    air: Air | None = None,
    progress: Progress = silent,
) -> ContestCard:
    """The card of a plan for today.

    Args:
        plan_text: text of the plan file, called `plan_name`. book: logbook with what flights taught and what is
            proven; None knows of nothing. air: of today; None is the standard atmosphere at sea level.
    """
    file = plane_file(plane)
    plan = parse_plan(plan_text, file.plane, path=plan_name)
    ready = made_ready(plane if isinstance(plane, Ready) else file, air, progress=progress)
    own = None if book is None else season(book, file)
    taught = None if book is None or own is None else learned_for(book, own, plan, file)
    learned = None if taught is None else taught.learned
    bare = ready
    ready = ready if learned is None else taught_ready(ready, learned, plan)
    progress("steady speeds")
    tables = plan_tables(ready.frame, plan, wanted=ready.wanted)
    predicted = complete(
        ready, plan, plan_name, tables, survey(ready.unit, plan, tables), bends=None, progress=progress
    )
    usual_air = _usual_air(plan)
    progress("change this or nothing")
    change = next_change(bare, plan, learned, pulls=() if book is None else pulls_of(book, bare))
    level = predicted.survey.line("level")
    keys = [content_hash(plan_text)] + ([content_hash(thawed_text(plan_text))] if is_frozen(plan_text) else [])
    proven = None if book is None else next((found for key in keys if (found := book.proven(key)) is not None), None)
    return ContestCard(
        predicted=predicted,
        usual=(
            _speeds(predicted.survey)
            if abs(ready.air.density / usual_air.density - 1.0) < SAME_AIR
            else _usual(bare, plan, learned, usual_air, progress=progress)
        ),
        usual_air=usual_air,
        bench=bench_list(
            file.plane, plan, level_stick=level.stick if level.status is Status.OK and plan.crow is not None else None
        ),
        change=change,
        plan_name=plan_name,
        plan_hash=keys[0],
        frozen=is_frozen(plan_text),
        edited=is_edited(plan_text),
        proven=proven,
        learned=taught,
        waiting=() if own is None else tuple(item for item in own.changes if not item.effects),
        parts=() if own is None else tuple(part for part in own.parts if part.open),
    )


def learned_for(book: Logbook, own: Season, plan: Plan, file: PlaneFile) -> CardLearned | None:
    """What was learned last with a plan, else last at its motor-brake level, else last at all, brought to its level.

    What a part replaced since has made void is forgotten. None where nothing was learned.
    """
    level = plan.motor.level
    found: dict[str, tuple[LearnedRow, Plan]] = {}
    for row in own.learned:
        text = book.text(row.plan)
        try:
            flown = None if text is None else parse_plan(text.body, file.plane, path=text.name)
        except InputError:
            continue
        if flown is None:
            continue
        own_level = flown.motor.level == level or f"brake_damping:{level}" in row.names
        found["plan" if same(flown, plan) else "level" if own_level else "other"] = row, flown
    for alike in ("plan", "level", "other"):
        if alike in found:
            row, flown = found[alike]
            learned = learned_of(row)
            for part in own.parts:
                if part.row.at > row.at and part.part.unlearns:
                    learned = forgot(learned, part.part.unlearns)
            if alike == "other":
                learned = for_level(learned, file.plane.controller, level, first=flown.motor.level)
            if flown.crow is not None and plan.crow is not None:
                learned = crow_set_anew(learned, flown.crow.angle, plan.crow.angle, setting=CROW_SETTING)
            return CardLearned(row=row, learned=learned, level=flown.motor.level, alike=alike)
    return None


def _usual_air(plan: Plan) -> Air:
    """The air a plan was computed in: its density at sea-level pressure; standard where the plan does not say."""
    try:
        density = float(plan.computed_from["air_density_kg_m3"])
    except (KeyError, ValueError):
        return standard_air()
    if not 0.5 < density < 1.7:
        return standard_air()
    return standard_air(temperature=SEA_LEVEL_PA / (GAS_CONSTANT * density))


def _usual(
    ready: Ready, plan: Plan, learned: Learned | None, air: Air, *, progress: Progress
) -> dict[str, float | None]:
    """Steady speeds in the plan's own air."""
    progress("the plan's own air")
    there = prepare(ready.file, air, progress=silent)
    there = there if learned is None else taught_ready(there, learned, plan)
    return _speeds(survey(there.unit, plan, plan_tables(there.frame, plan, wanted=there.wanted)))


def _speeds(done: Survey) -> dict[str, float | None]:
    return {line.name: None if line.speed is None else line.speed.speed for line in done.lines}
