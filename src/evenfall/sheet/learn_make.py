"""The page of what flights teach. Converts and words; computes nothing."""

from __future__ import annotations

import math

import numpy as np

from evenfall.estimate import Estimate
from evenfall.fit.learned import Learned, prior
from evenfall.lines.pull_out import entry_height
from evenfall.logs.evidence import Damping, Evidence, ShaftSpeed
from evenfall.sheet.advise_make import change_page, flight_page
from evenfall.sheet.gates import UNKNOWN_SPREAD
from evenfall.sheet.learn_page import CorrectionPage, LearnedSpeedPage, LearnPage, NextFlightPage, PiecePage
from evenfall.sheet.learn_words import (
    KIND_WORDS,
    apart_sentence,
    correction_sentence,
    correction_words,
    expected_words,
    seen_words,
)
from evenfall.sheet.make import spreading
from evenfall.workflow.gathering import Gathered
from evenfall.workflow.learning import ClosedSpeeds, Earlier, LearnAnswer
from evenfall.workflow.relearning import same

TOLD = 0.02
"""Share by which a doubt must have shrunk to count as learned."""
MOVED = 0.1
"""Sigma by which a factor must have moved to count as learned."""
PROVEN = 0.03
"""Share of the wanted speed within which a proven plan's closed vertical lies, doubt included as one sigma. Ours."""
PROVEN_LINES = 2
"""Lines of vertical with crow that prove a plan."""


def learn_page(answer: LearnAnswer) -> LearnPage:
    """The page of `learn`."""
    done, known = answer.calibration, answer.known
    proven, words = _proven(answer)
    return LearnPage(
        plane=answer.ready.file.plane.name,
        plan=answer.plan_name,
        flights=len(answer.records) + sum(len(one.records) for one in answer.earlier),
        pieces=tuple(page for one in _parts(answer) for page in _pieces(one)),
        corrections=() if known is None else corrections_of(known, prior(known.names)),
        alike=() if done is None else tuple(apart_sentence(*pair) for pair in done.alike),
        speeds=tuple(_speed(one, answer.ready.wanted, after=known is not None) for one in answer.closed),
        settled=all(one.calibration is None or one.calibration.settled for one in _parts(answer)),
        proven=proven,
        proven_words=words,
        change=None if answer.change is None else change_page(answer.change),
        flight=_next(answer),
        notes=_notes(answer),
        state="no flights" if known is None else "learned",
    )


def _parts(answer: LearnAnswer) -> tuple[Earlier | LearnAnswer, ...]:
    return (*answer.earlier, answer)


def corrections_of(learned: Learned, before: Learned) -> tuple[CorrectionPage, ...]:
    """Every correction with its spread before and after, those that changed most first."""
    rows = []
    for name in learned.names:
        k, was = learned.names.index(name), before.names.index(name)
        mean, sigma = float(learned.mean[k]), float(learned.sigma[k])
        old, doubt = float(before.mean[was]), float(before.sigma[was])
        moved = abs(mean - old) / doubt
        told = sigma < (1 - TOLD) * doubt or moved > MOVED
        page = CorrectionPage(
            key=name,
            name=correction_words(name),
            factor=math.exp(mean),
            low=math.exp(mean - sigma),
            high=math.exp(mean + sigma),
            before_low=math.exp(old - doubt),
            before_high=math.exp(old + doubt),
            told=told,
            words=correction_sentence(math.exp(mean), sigma, doubt, told=told),
        )
        rows.append((not told, -moved - (1 - sigma / doubt), page))
    rows.sort(key=lambda row: row[:2])
    return tuple(row[2] for row in rows)


def _pieces(answer: LearnAnswer | Earlier) -> tuple[PiecePage, ...]:
    gathered, done = answer.gathered, answer.calibration
    if done is None:
        return ()
    return tuple(
        PiecePage(
            name=piece.name,
            kind=_kind(piece, source),
            seen=seen_words(piece),
            expected=expected_words(piece, expected),
            off_sigma=check.off,
            weight=check.weight,
            outlier=check.outlier,
            taught=correction_words(check.taught) if check.told > TOLD else "",
        )
        for piece, source, check, expected in zip(
            gathered.evidence, gathered.sources, done.checks, answer.expected, strict=True
        )
    )


def _kind(piece: Evidence, source: str) -> str:
    entry = source.partition(".")[0]
    return KIND_WORDS["shaft" if entry == "recorded" and isinstance(piece, ShaftSpeed) else entry]


def _speed(one: ClosedSpeeds, wanted: float, *, after: bool) -> LearnedSpeedPage:
    return LearnedSpeedPage(
        line=f"{one.line}, stick closed",
        before_m_s=spreading(one.before),
        after_m_s=spreading(one.after) if after else None,
        wanted_m_s=wanted,
    )


def _is_proving(piece: Evidence) -> bool:
    if isinstance(piece, Damping) or not piece.flight.crow:
        return False
    return abs(piece.flight.slope + math.pi / 2) < 0.1 and piece.flight.stick < 0.05


def _proving(gathered: Gathered) -> list[bool]:
    """Which pieces are lines that can prove a plan."""
    measured = ("recorded", "timed", "clicked", "steady")
    return [
        _is_proving(piece) and source.partition(".")[0] in measured
        for piece, source in zip(gathered.evidence, gathered.sources, strict=True)
    ]


def _since(answer: LearnAnswer) -> str:
    """Why lines of this plan that were measured do not count, in words to follow; empty where there are none."""
    before = [one for one in answer.earlier if same(one.plan, answer.plan) and any(_proving(one.gathered))]
    if any(one.since for one in before):
        return " since a part was replaced"
    return " with the plane as its file is now" if before else ""


def _proven(answer: LearnAnswer) -> tuple[bool, str]:
    """Whether these flights prove the plan, and what is missing."""
    done = answer.calibration
    if answer.known is None:
        return False, "Nothing was learned yet."
    checks = () if done is None else done.checks
    flown = [check for check, proves in zip(checks, _proving(answer.gathered), strict=True) if proves]
    missing = []
    if len(flown) < PROVEN_LINES:
        count = {0: "no vertical line", 1: "one vertical line"}[len(flown)]
        missing.append(
            f"{count} of this plan with the stick closed was measured{_since(answer)}, {PROVEN_LINES} are needed"
        )
    if any(check.outlier for check in flown):
        missing.append("one of its vertical lines is an outlier")
    wanted = answer.ready.wanted
    down = next(one for one in answer.closed if one.line == "vertical down").after
    if down is None or not math.isfinite(down.spread):
        missing.append("the vertical down has no steady speed that can be relied on")
    else:
        off = down.value / wanted - 1
        if abs(off) > PROVEN:
            way = "faster" if off > 0 else "slower"
            missing.append(f"with the stick closed it goes down {100 * abs(off):.0f} percent {way} than wanted")
        if down.spread > PROVEN * wanted:
            missing.append(f"its down speed is known to {100 * down.spread / wanted:.0f} percent only")
    if missing:
        return False, f"Not proven: {'; '.join(missing)}."
    assert down is not None
    return True, (
        f"Proven: {down.value:.1f} +- {down.spread:.1f} m/s down with the stick closed, {wanted:.1f} m/s wanted, by "
        f"{len(flown)} lines."
    )


def _next(answer: LearnAnswer) -> NextFlightPage | None:
    if answer.flight is None:
        return None
    page, bid = flight_page(answer.flight), answer.flight.best
    slope = {"level": -math.pi / 2, "45 down": -math.pi / 4, "vertical down": -math.pi / 2}.get(bid.line)
    if slope is None:
        return page
    # A level flight with crow for the first time is flown as high as a vertical: it may end in one.
    line = "45 down" if bid.line == "45 down" else "vertical down"
    fast, words = _fastest(answer, line), ""
    if not bid.crow and bid.line != "level" and answer.plan.crow is not None and line in answer.clean:
        away = answer.clean[line]
        fast = max(fast, away * (1.0 + 2.0 * UNKNOWN_SPREAD))
        words = f" Without crow it runs away to {away:.0f} m/s: keep it short, stick closed, pull out early."
    height = math.ceil(entry_height(fast, slope).total / 5) * 5
    return page.model_copy(update={"height": f"Enter at {height} m or more above the ground.{words}"})


def _fastest(answer: LearnAnswer, line: str) -> float:
    """Fastest speed to reckon with on a line with crow, m/s: as the plan is, or with the next change in it."""
    down = next(one for one in answer.closed if one.line == line)
    speed = down.after or down.before
    found = [answer.ready.wanted * 1.2 if speed is None else speed.value + 2 * _spread(speed)]
    if answer.change is not None and answer.change.steps:
        found += [
            effect.after.value + 2 * _spread(effect.after)
            for effect in answer.change.effects
            if effect.target == "down speed"
        ]
    return max(found)


def _spread(speed: Estimate) -> float:
    return speed.spread if np.isfinite(speed.spread) else UNKNOWN_SPREAD * speed.value


def _notes(answer: LearnAnswer) -> tuple[str, ...]:
    parts = _parts(answer)
    found = [f"Not used: {fault.message}" for one in parts for fault in one.gathered.faults]
    if answer.known is None:
        found.append("Nothing was learned: there was no evidence that could be used. Speeds are as predicted.")
    for done in (one.calibration for one in parts if one.calibration is not None):
        wide = [check.name for check in done.checks if check.outlier]
        found += [f"Outlier: {name}. It counts less; look at it again." for name in wide]
        if not done.settled:
            found.append("The fit did not come to rest: take the corrections as the best found so far.")
    return (*found, *dict.fromkeys(note for one in parts for note in one.gathered.notes))
