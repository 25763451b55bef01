"""Carry over: what is known of one plane, taken to another, solved anew there, and what must be flown first."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evenfall.air import Air
from evenfall.errors import InputError
from evenfall.estimate import Estimate
from evenfall.fit.carry import CarriedFactor, CarriedOver, carry_over
from evenfall.fit.learned import Learned, prior
from evenfall.lines.handling import Handling, MatchedThrow, handling, matched_phases
from evenfall.lines.survey import plan_tables
from evenfall.plane.files import PlaneFile, parse_plane
from evenfall.plane.plane_edit import Value, edited_text
from evenfall.radio.plan import Plan, arrangements_of
from evenfall.record.logbook import Logbook
from evenfall.record.parts import PARTS
from evenfall.textfile import read_toml
from evenfall.tune.candidates import Candidate
from evenfall.tune.choose import Judged
from evenfall.tune.reached import speed_remedy
from evenfall.tune.targets import Targets
from evenfall.workflow.closed_lines import closed_lines
from evenfall.workflow.learning import learn, taught_ready
from evenfall.workflow.prediction import Predicted, predict
from evenfall.workflow.ready import (
    PlaneInput,
    PlanInput,
    Progress,
    Ready,
    made_ready,
    plane_and_plan,
    plane_file,
    silent,
)
from evenfall.workflow.recording import has_logbook
from evenfall.workflow.relearning import learn_from_log
from evenfall.workflow.tuning import TuneAnswer, plan_of_candidate, tune


@dataclass(frozen=True, kw_only=True)
class Short:
    """The wanted speed is not reached by the plan that was carried.

    Args:
        remedy: what would buy it, in words; empty where the plan itself reaches it and only what was learned moves it.
        crow: the way of the plan's crow. nearer: the way that tuning would choose and its vertical down, m/s, where
            that is nearer; None where it is not.
    """

    remedy: str
    crow: str
    nearer: tuple[str, float] | None = None


@dataclass(frozen=True, kw_only=True)
class Carried:
    """A plan carried to another plane.

    Args:
        first: the plane it comes from with its plan and what its flights have taught.
        over: corrections on the other plane and where each comes from.
        tuned: the other plane tuned with them to the first one's line speed.
        plan: its plan with throws matched to the first one's answers; None where no plan exists.
        predicted: what that plan is expected to do; None without a plan.
        down, before: speed of the vertical down with the stick closed, and had nothing been carried; None without one.
        own_speed: wanted speed of the other plane's file, m/s; the first one's was taken.
        handling: of both, at the speed wanted. throws: every throw, matched.
        same_way: crow goes the same way on both.
        level: motor-brake level that was asked for; None where the best one was taken. level_words: why it is not the
            one that would be chosen, or why no plan has it; empty where it is.
        short: what the wanted speed is missed for; None where it is reached, or there is no down speed at all.
        flights: whether anything had been learned on the first plane. voids: tests that the changes void, in words.
    """

    first: Predicted
    over: CarriedOver
    tuned: TuneAnswer
    plan: Plan | None
    predicted: Predicted | None
    down: Estimate | None
    before: Estimate | None
    own_speed: float
    handling: tuple[Handling, Handling]
    throws: tuple[MatchedThrow, ...]
    same_way: bool
    flights: bool
    level: str | None = None
    level_words: str = ""
    short: Short | None = None
    voids: tuple[str, ...] = ()

    @property
    def first_to_fly(self) -> tuple[CarriedFactor, ...]:
        """Corrections by how much of the down speed's doubt still hangs on them, most first."""
        told: dict[str, float] = {}
        for cause in () if self.down is None else self.down.causes:
            for name in cause.name.split(" and "):
                told[name] = told.get(name, 0.0) + cause.share
        return tuple(sorted(self.over.factors, key=lambda item: -told.get(f"corrections.{item.name}", 0.0)))


def carry(
    first: PlaneInput,
    plan: PlanInput,
    other: PlaneInput,
    *,
    learned: Learned | None = None,
    changes: Mapping[str, Value] | None = None,
    level: str | None = None,
    air: Air | None = None,
    progress: Progress = silent,
) -> Carried:
    """The same behaviour on another plane: line speed, roll and load factor at the same stick, margins.

    Args:
        first, plan: the plane with a plan that is proven. other: the plane to carry it to; may be the same file.
        learned: corrections of the first plane's flights; None: nothing was learned, only behaviour is carried.
        changes: keys of the other plane's file changed for the occasion, as in a what-if; what they void is said.
        level: motor-brake level that its plan must have; None: as `level_asked` of the changes says, else the best.

    Raises `FileFaults` for files that cannot be used, `InputError` for a plane without ailerons.
    """
    given, chosen, name = plane_and_plan(first, plan)
    with_parts = changed_plane(other, changes)
    for side in (plane_file(given), plane_file(with_parts)):
        check_ailerons(side)
    ready = made_ready(given, air, progress=progress)
    known = prior() if learned is None else learned
    own = taught_ready(ready, known, chosen)
    progress("the first plane with what was learned")
    before = predict(own, chosen, progress=progress)
    there = made_ready(with_parts, air, progress=progress)
    asked = level_asked(there.file, changes or {}) if level is None else level
    over = carry_over(known, ready.file.plane, there.file.plane, plan=chosen, other_plan=None)
    goal = replace(taught_ready(there, over.learned, None), wanted=ready.wanted)
    progress("the other plane tuned")
    tuned = tune(goal, progress=progress)
    answers = handling(own.frame, speed=ready.wanted), handling(goal.frame, speed=ready.wanted)
    phases, throws = matched_phases(chosen, *answers, goal.frame)
    found, kept = _same_way(tuned, chosen) if asked is None else _at_level(tuned, chosen, asked)
    made = None if found is None else replace(found, phases=phases)
    if made is not None and made.motor.level != chosen.motor.level:
        over = carry_over(known, ready.file.plane, there.file.plane, plan=chosen, other_plan=made)
        goal = replace(taught_ready(there, over.learned, made), wanted=ready.wanted)
    down = None if made is None else _down(goal, made)
    return Carried(
        first=replace(before, plan_name=name),
        over=over,
        tuned=tuned,
        plan=made,
        predicted=None if made is None else predict(goal, made, progress=progress),
        down=down,
        before=None if made is None else _down(replace(there, wanted=ready.wanted), made),
        own_speed=there.wanted,
        handling=answers,
        throws=throws,
        same_way=kept,
        flights=learned is not None,
        level=asked,
        level_words="" if asked is None else _of_level(tuned, found, asked),
        short=None if made is None or down is None else _short(tuned, made, down.value, ready.wanted),
        voids=voided(changes or {}, same_level=asked == chosen.motor.level),
    )


def check_ailerons(file: PlaneFile) -> None:
    """Raises `InputError` for a plane without ailerons: it rolls at no stick and flies no crow."""
    if not arrangements_of(file.plane):
        raise InputError(
            f"{file.plane.name} has no ailerons in its file, so it can fly no crow; give [wing.upper.aileron]"
        )


def _short(tuned: TuneAnswer, plan: Plan, down: float, wanted: float) -> Short | None:
    """Why a carried plan comes down at `down` where `wanted` was asked for, both m/s; None where it is reached."""
    if plan.crow is None or abs(down - wanted) <= Targets().speed_tolerance * wanted:
        return None
    mine = _candidate_of(tuned, plan)
    best = None if tuned.plan is None else _candidate_of(tuned, tuned.plan)
    nearer = None
    if best is not None and best.speed is not None and best.arrangement != plan.crow.arrangement:
        nearer = (best.arrangement, best.speed) if abs(best.speed - wanted) < abs(down - wanted) else None
    remedy = "" if mine is None or mine.reach == "met" else speed_remedy(mine, wanted)
    return Short(remedy=remedy, crow=plan.crow.arrangement, nearer=nearer)


def _candidate_of(tuned: TuneAnswer, plan: Plan) -> Candidate | None:
    way = None if plan.crow is None else plan.crow.arrangement
    return next((item.candidate for item in _with_level(tuned, plan.motor.level, way)), None)


_PARTS = {
    "propeller": "propeller", "motor": "motor", "controller": "controller", "battery": "battery", "servo": "servo",
    "linkage": "linkage", "mass": "weight", "wing": "wing repair", "tail": "tail repair",
    "fin": "tail repair",
}  # fmt: skip
"""Table of a plane file to the kind of part whose replacement it stands for."""


def voided(changes: Mapping[str, Value], *, same_level: bool) -> tuple[str, ...]:
    """Tests that changed keys of a plane file void, each once, in the order to do them.

    `same_level`: the plan holds the motor-brake level it had, so that naming that level changes nothing.
    """
    keys = [key for key in changes if not (same_level and key == LEVEL_KEY)]
    kinds = dict.fromkeys(_PARTS[table] for key in keys if (table := key.partition(".")[0]) in _PARTS)
    return tuple(dict.fromkeys(test for kind in kinds if kind in PARTS for test in PARTS[kind].voids))


def _same_way(tuned: TuneAnswer, plan: Plan) -> tuple[Plan | None, bool]:
    """The plan whose crow goes the same way as before, where the other plane allows it; and whether it does."""
    crow = plan.crow
    if tuned.plan is None or crow is None:
        return tuned.plan, True
    if tuned.plan.crow is not None and tuned.plan.crow.arrangement == crow.arrangement:
        return tuned.plan, True
    try:
        return plan_of_candidate(tuned, level=None, arrangement=crow.arrangement), True
    except InputError:
        return tuned.plan, False


LEVEL_KEY = "controller.present_level"
"""Key of a plane file that, changed in a what-if, names the motor-brake level to hold."""


def level_asked(file: PlaneFile, changes: Mapping[str, Value]) -> str | None:
    """The motor-brake level that changes ask for, `file` having them already; None where they do not."""
    return file.plane.controller.present_level if changes.get(LEVEL_KEY) is not None else None


def _at_level(tuned: TuneAnswer, plan: Plan, level: str) -> tuple[Plan | None, bool]:
    """The plan with a level that is not refused, the way of its crow kept where that can be; and whether it is."""
    way = None if plan.crow is None else plan.crow.arrangement
    for arrangement in dict.fromkeys((way, None)):
        best = next((item for item in _with_level(tuned, level, arrangement) if item.verdict != "refused"), None)
        if best is None:
            continue
        if best.verdict == "chosen":
            return tuned.plan, arrangement == way
        return plan_of_candidate(tuned, level=level, arrangement=best.candidate.arrangement), arrangement == way
    return None, True


def _with_level(tuned: TuneAnswer, level: str, arrangement: str | None) -> list[Judged]:
    return [
        item
        for item in tuned.tuned.judged
        if item.candidate.level.name == level and arrangement in (None, item.candidate.arrangement)
    ]


def _of_level(tuned: TuneAnswer, found: Plan | None, level: str) -> str:
    """Why the plan with a level is not the one that would be chosen, or why there is none."""
    way = None if found is None or found.crow is None else found.crow.arrangement
    item = next(iter(_with_level(tuned, level, way)), None)
    return "" if item is None or item.verdict == "chosen" else item.why


def _down(ready: Ready, plan: Plan) -> Estimate | None:
    return closed_lines(ready, plan, plan_tables(ready.frame, plan, wanted=ready.wanted))["vertical down"]


def changed_plane(other: PlaneInput, changes: Mapping[str, Value] | None) -> Ready | PlaneFile:
    """The plane with keys of its file changed; raises `FileFaults` where it cannot be used so."""
    if not changes:
        return other if isinstance(other, Ready) else plane_file(other)
    file = plane_file(other)
    return parse_plane(edited_text(file.text, changes), path=file.path)


def learned_from(
    plane: str | os.PathLike[str],
    plan: str | os.PathLike[str],
    flights: Sequence[Path],
    *,
    air: Air | None = None,
    progress: Progress = silent,
) -> Learned | None:
    """What flights of a plane have taught: of the files given, else of the logbook beside the plane file.

    None where there are neither, or they tell nothing.
    """
    if flights:
        answer = learn(plane, plan, flights, air=air, advise=False, progress=progress)
        return None if answer.calibration is None else answer.calibration.learned
    folder = Path(plane).parent
    if not has_logbook(folder):
        return None
    text = read_toml(plan, what="plan file").text
    with Logbook(folder) as book:
        found = learn_from_log(book, plane, text, plan_name=Path(plan).name, air=air, advise=False, progress=progress)
    return found.learned
