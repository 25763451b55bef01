"""Two plans, of one plane or two, side by side."""

from __future__ import annotations

import math
from collections.abc import Iterator

from pydantic import Field

from evenfall.lines.rolls import RollAnswer
from evenfall.sheet.pages import Page
from evenfall.sheet.plan_view import DiffRow, plan_diff
from evenfall.sheet.plane_facts import fact_pages
from evenfall.sheet.quick_page import QuickPage, quick_page
from evenfall.workflow import QuickAnswer


class ComparePage(Page):
    """Answer of topic `compare`."""

    mine: QuickPage = Field(description="The first side.")
    other: QuickPage = Field(description="The second side.")
    settings: tuple[DiffRow, ...] = Field(description="Settings that differ.")
    plane: tuple[DiffRow, ...] = Field(description="Facts of the planes that differ; empty for one plane.")
    behaviour: tuple[DiffRow, ...] = Field(description="Speeds, sticks and rolls that differ, with their difference.")


Rolls = tuple[RollAnswer, ...]


def compare_page(mine: QuickAnswer, other: QuickAnswer, *, rolls: tuple[Rolls, Rolls]) -> ComparePage:
    """The page of `compare`; `rolls` of both sides on the vertical down."""
    return ComparePage(
        mine=quick_page(mine),
        other=quick_page(other),
        settings=plan_diff(mine.plan, other.plan),
        plane=() if mine.ready.file.content_hash == other.ready.file.content_hash else tuple(_facts(mine, other)),
        behaviour=tuple(_behaviour(mine, other, rolls)),
    )


def _facts(mine: QuickAnswer, other: QuickAnswer) -> Iterator[DiffRow]:
    """Facts of both planes, in order, that are not shown alike."""
    sides = [{fact.name: fact.value for fact in fact_pages(answer.ready.file)} for answer in (mine, other)]
    sides[0] = {"name": mine.ready.file.plane.name, **sides[0]}
    sides[1] = {"name": other.ready.file.plane.name, **sides[1]}
    for name in dict.fromkeys((*sides[0], *sides[1])):
        a, b = (side.get(name, "none") for side in sides)
        if a != b:
            yield DiffRow(what=name, mine=a, other=b)


def _behaviour(mine: QuickAnswer, other: QuickAnswer, rolls: tuple[Rolls, Rolls]) -> Iterator[DiffRow]:
    """Rows of what both do; those that round alike are left out."""
    for a, b in zip(mine.quick.lines, other.quick.lines, strict=True):
        speeds = [None if line.speed is None else line.speed.speed for line in (a, b)]
        yield from _row(f"{a.name}, speed", speeds, unit="m/s", digits=1)
        counts = [sum(state.stable for state in line.states) for line in (a, b)]
        yield from _row(f"{a.name}, stable speeds", [float(count) for count in counts], unit="", digits=0)
        yield from _row(f"{a.name}, stick", [100 * a.stick, 100 * b.stick], unit="%", digits=0)
    yield from _row("step where the motor comes free", [mine.quick.step, other.quick.step], unit="N", digits=1)
    for name, throw in (("normal", 0), ("snap", 1)):
        for deployed, words in ((False, "stowed"), (True, "out")):
            pair = [_roll(side, answer, throw, deployed) for side, answer in zip(rolls, (mine, other), strict=True)]
            rates = [None if roll is None else math.degrees(roll.rate) for roll in pair]
            yield from _row(f"roll at {name} throw, crow {words}", rates, unit="deg/s", digits=0)


def _roll(rolls: Rolls, answer: QuickAnswer, throw: int, deployed: bool) -> RollAnswer | None:
    size = (answer.plan.throws.normal, answer.plan.throws.snap)[throw]
    return next((roll for roll in rolls if roll.deployed == deployed and roll.throw == size), None)


def _row(what: str, values: list[float | None], *, unit: str, digits: int) -> Iterator[DiffRow]:
    a, b = (None if value is None else round(value, digits) + 0.0 for value in values)
    if a == b:
        return
    tail = f" {unit}" if unit else ""
    mine, other = (f"{value:.{digits}f}{tail}" if value is not None else "none" for value in (a, b))
    if a is not None and b is not None:
        more = "more" if b > a else "less"
        other += f", {abs(b - a):.{digits}f} {more}"
    yield DiffRow(what=what, mine=mine, other=other)
