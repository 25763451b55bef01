"""The page of causes: the numbers of a diagnosis put into the words of its chart."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from evenfall.fit.causes import COMMON_PRACTICE, chart
from evenfall.fit.diagnose import CauseAnswer
from evenfall.fit.suspects import tooth_angle
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import surface_deltas
from evenfall.sheet.diagnose_page import BenchCheckPage, CausePage, DiagnosePage, SignPage
from evenfall.sheet.words import lower_first, upper_first
from evenfall.workflow.diagnosing import Diagnosis

LEAST = 0.01
"""Causes below this probability are left out."""
_UNSURE = 0.8
"""A mean size below so many spreads says that something is off, not which way."""
_FOR, _AGAINST = 1.25, 0.8


def all_signs() -> tuple[SignPage, ...]:
    """Every sign that can be named, in the pilot's words."""
    return tuple(SignPage(key=one.key, words=one.words, group=one.group) for one in chart().signs.values())


def diagnose_page(found: Diagnosis) -> DiagnosePage:
    """The page of one diagnosis."""
    answer = found.answer
    pages = [
        CausePage(
            key=one.cause.key,
            words=one.cause.words,
            probability=one.probability,
            why=_why(one, denied=answer.absent),
            check=_check(one, found),
            source=_source(one, answer.signs + answer.absent),
        )
        for one in answer.causes
        if one.probability >= LEAST
    ]
    return DiagnosePage(
        plane=found.ready.file.plane.name,
        plan=found.plan_name,
        all_signs=all_signs(),
        signs=answer.signs,
        causes=tuple(pages),
        other=answer.other,
        first=_first(found),
    )


def unasked_page(plane: str, plan: str) -> DiagnosePage:
    """The page before anything was named: the signs to choose from, nothing computed."""
    return DiagnosePage(plane=plane, plan=plan, all_signs=all_signs(), signs=(), causes=(), other=0.0, first="")


def _why(one: CauseAnswer, *, denied: tuple[str, ...]) -> str:
    """Which signs speak for and against a cause, with how much."""
    signs = chart().signs
    parts: dict[str, list[str]] = {"For it": [], "Against it": []}
    even = []
    for key, ratio in one.speaks.items():
        words = f"{lower_first(signs[key].words)}{', not seen' if key in denied else ''}"
        if ratio >= _FOR:
            parts["For it"].append(f"{words} ({_times(ratio)} as likely as on average)")
        elif ratio <= _AGAINST:
            parts["Against it"].append(f"{words} ({_times(ratio)} as likely)")
        else:
            even.append(words)
    told = [f"{name}: {'; '.join(rows)}." for name, rows in parts.items() if rows]
    if even:
        told.append(f"Tells little: {'; '.join(even)}.")
    return " ".join(told) or f"No sign was named; it is met in {100 * one.before:.0f} of 100 cases."


def _times(ratio: float) -> str:
    return f"{ratio:.0f} times" if ratio >= 2.5 else f"{ratio:.1f} times" if ratio >= 0.1 else f"{ratio:.2f} times"


def _source(one: CauseAnswer, named: tuple[str, ...]) -> str:
    """Where the probabilities of a cause come from."""
    signs = chart().signs
    computed = any(signs[key].shows for key in named if key not in one.cause.chance)
    lead = "What it shows: computed for this plane. How often it is met: common practice, no source."
    if not computed:
        lead = "Common practice, no source."
    if one.cause.source != COMMON_PRACTICE:
        lead += f" {one.cause.source}."
    published = [
        signs[key].source
        for key in named
        if signs[key].source != COMMON_PRACTICE and not _AGAINST < one.speaks[key] < _FOR
    ]
    return " ".join([lead, *(f"{source}." for source in dict.fromkeys(published))])


def _first(found: Diagnosis) -> str:
    """What to check first, and why."""
    answer = found.answer
    by_key = {one.cause.key: one for one in answer.causes}
    order = [by_key[key] for key in answer.order if by_key[key].probability >= LEAST]
    if not order:
        return "Nothing of this list stands out."
    best = order[0]
    reveals = [key for key in best.cause.reveals if key in by_key and by_key[key].probability >= LEAST]
    told = (
        f"{best.cause.check}. {best.cause.minutes:.0f} min; it tells more a minute about what was seen than any other"
    )
    if reveals:
        told += f", and shows {len(reveals)} other {'cause' if len(reveals) == 1 else 'causes'} as well"
    after = [one.cause.check for one in order[1:3]]
    if after:
        told += f". If it finds nothing: {'; then: '.join(lower_first(check).rstrip('?') for check in after)}"
    return told + "."


def _check(one: CauseAnswer, found: Diagnosis) -> BenchCheckPage:
    cause = one.cause
    said = _numbers(one, found)
    if_so = cause.if_so.format(**said.words)
    if said.unit and abs(one.size) < _UNSURE * one.spread:
        off = math.hypot(one.size, one.spread) * said.scale
        if_so = f"about {off:.{said.digits}f} {said.unit} off, either way"
        if "{corner}" in cause.if_so:
            if_so = f"one aileron, perhaps the {said.words['corner']}, {if_so}"
        if "{fault}" in cause.if_so:
            if_so = f"{said.words['fault']}: {if_so}"
    return BenchCheckPage(
        words=_sentence(cause.check),
        if_so=_sentence(if_so),
        if_not=_sentence(cause.if_not.format(**said.words)),
        minutes=cause.minutes,
    )


def _sentence(words: str) -> str:
    return f"{upper_first(words)}{'' if words.endswith('?') else '.'}"


@dataclass(frozen=True, kw_only=True)
class _Said:
    """Words for the braces of a check; `unit` with `scale` (unit over the chart's) where its size has a direction."""

    words: dict[str, str]
    unit: str = ""
    scale: float = 1.0
    digits: int = 1


def _numbers(one: CauseAnswer, found: Diagnosis) -> _Said:
    """What the check shows if it is the cause, and what was planned."""
    plane, plan, key = found.ready.file.plane, found.plan, one.cause.key
    full = {name: math.degrees(float(a)) for name, a in surface_deltas(plane, plan.crow, 1.0).items()}
    crow = plan.crow
    angle = 0.0 if crow is None else math.degrees(crow.angle)
    upper = 0.0 if crow is None else abs(math.degrees(crow.upper))
    lift = 0.0 if crow is None else math.degrees(crow.elevator)
    mine = abs(full.get(one.which, 0.0))
    corner = f"{one.which.replace('_', ' ')} aileron"
    share = 1 + one.size
    makers: dict[str, Callable[[], _Said]] = {
        "corner": lambda: _said(one, mine + one.size, mine, "deg", corner=corner),
        "slop": lambda: _said(one, one.size, 0.0, "", corner=corner),
        "tooth": lambda: _tooth(one, found, corner),
        "crow_angle": lambda: _said(one, angle * share, angle, "deg", angle),
        "crow_split": lambda: _said(one, upper * share, upper, "deg", upper),
        "elevator_share": lambda: _said(one, lift + one.size, lift, "deg"),
        "cg": lambda: _said(one, plane.mass.cg_x * 1e3 + one.size, plane.mass.cg_x * 1e3, "mm", digits=0),
        "balance": lambda: _balance(one, found, plane),
        "brake_level": lambda: _Said(words={"expected": one.which, "planned": plan.motor.level}),
        "crow_late": lambda: _said(one, one.size, 0.0, ""),
        "air": lambda: _said(
            one, found.ready.air.density * share, found.ready.air.density, "kg/m3", found.ready.air.density, digits=2
        ),
        "battery": lambda: _said(
            one,
            plane.battery.rest_voltage_per_cell + one.size,
            plane.battery.rest_voltage_per_cell,
            "",
            digits=2,
        ),
        "propeller": lambda: _said(one, 100 * abs(one.size), 0.0, "", 100.0, digits=0),
        "weight": lambda: _said(
            one, plane.mass.all_up * 1e3 * share, plane.mass.all_up * 1e3, "g", plane.mass.all_up * 1e3, digits=0
        ),
        "short_curve": lambda: _said(one, 100 * share, 100.0, "", 100.0, digits=0),
        "entry": lambda: _said(one, 100 * abs(one.size), 0.0, "", 100.0, digits=0),
        "part_lost": lambda: _said(one, -100 * one.size, 0.0, "", 100.0, digits=0),
        "roll_travel": lambda: _said(one, 100 * share, 100.0, "", 100.0, digits=0),
        "blow_back": lambda: _said(one, one.size, 0.0, ""),
    }
    if one.cause.faults and key != "balance":
        return _fault(one, found, plane)
    return makers[key]() if key in makers else _Said(words={})


def _said(
    one: CauseAnswer,
    expected: float,
    planned: float,
    unit: str,
    scale: float = 1.0,
    *,
    digits: int = 1,
    corner: str = "",
) -> _Said:
    words = {
        "expected": f"{expected:.{digits}f}",
        "planned": f"{planned:.{digits}f}",
        "spread": f"{one.spread * scale:.{digits}f}",
        "corner": corner,
    }
    return _Said(words=words, unit=unit, scale=scale, digits=digits)


def _tooth(one: CauseAnswer, found: Diagnosis, corner: str) -> _Said:
    angle = math.degrees(tooth_angle(found.case.shows, one.which))
    return _Said(words={"corner": corner, "expected": f"about {angle:.0f}"})


def _balance(one: CauseAnswer, found: Diagnosis, plane: Plane) -> _Said:
    fault, _ = found.case.shows.faults[one.which]
    grams = 1e3 * fault.usual / (0.5 * max(wing.span for wing in plane.wings.values()))
    side = "left" if one.size > 0 else "right"
    said = _said(one, abs(one.size) * grams, 0.0, "g at a tip", grams, digits=0)
    return _Said(words={**said.words, "side": side}, unit=said.unit, scale=grams, digits=0)


def _fault(one: CauseAnswer, found: Diagnosis, plane: Plane) -> _Said:
    fault, _ = found.case.shows.faults[one.which]
    usual, now = math.degrees(fault.usual), math.degrees(fault.value(plane))
    said = _said(one, now + one.size * usual, now, "deg", usual, digits=2)
    return _Said(words={**said.words, "fault": fault.words}, unit="deg", scale=usual, digits=2)
