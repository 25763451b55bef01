"""Change and flight in words: steps with units, a check that can be seen, the limit and what buys more."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall.advise.change import next_change
from evenfall.advise.flight import next_flight
from evenfall.advise.limits import Ceiling
from evenfall.advise.outlook import Balances, sized
from evenfall.fit.learned import prior
from evenfall.logs.evidence import Flight, Pull
from evenfall.sheet.advise_make import change_page, flight_page
from evenfall.sheet.gates import GatePage, HeightPage
from evenfall.workflow import TuneAnswer

SURE = prior(sigma={name: 0.1 * sigma for name, sigma in zip(prior().names, prior().sigma.tolist(), strict=True)})
DOWN = Flight(slope=-math.pi / 2)


@pytest.fixture(scope="module")
def answer(tuned: Callable[[str], TuneAnswer]) -> TuneAnswer:
    return tuned("biplane_124")


def test_a_change_of_crow_is_told_in_degrees_with_a_time_to_see(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    assert answer.plan.crow is not None
    plan = sized(answer.plan, 0.6 * answer.plan.crow.angle)
    pull = Pull(name="pull", flight=DOWN, rate=0.0, sigma=0.01)
    top = Ceiling(angle=0.75 * answer.plan.crow.angle, kind="snap throw", wing="upper")
    found = next_change(answer.ready, plan, SURE, pulls=[(plan, pull)], most_crow=top)
    assert found is not None
    page = change_page(found)
    assert not page.none
    assert re.search(r"Crow: \d+\.\d deg more at full deployment, \d+\.\d deg in all\.|Motor brake: level", page.what)
    assert re.search(r"100 m in \d\.\d s", page.check)
    assert page.limit.startswith("At the stated limit: beyond")
    assert "would buy more" in page.limit
    assert page.effects[0].target.startswith("speed of the vertical down")
    assert page.effects[0].now != page.effects[0].after


def test_an_elevator_change_says_way_percent_and_degrees(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    pull = Pull(name="pull", flight=DOWN, rate=0.15, sigma=0.01)
    found = next_change(answer.ready, answer.plan, SURE, pulls=[(answer.plan, pull)])
    assert found is not None
    page = change_page(found)
    assert re.search(r"further down, from \+2\.1 to \+\d\.\d percent of the crow angle", page.what)
    assert "towards the canopy positive" in page.check


def test_nothing_is_said_to_be_changed_with_the_reason(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    assert answer.plan.crow is not None
    plan = sized(answer.plan, 0.95 * answer.plan.crow.angle)
    found = next_change(answer.ready, plan, None)
    assert found is not None
    page = change_page(found)
    assert page.none
    assert page.what == "Change nothing, fly it again."
    assert "another flight" in page.why


def test_the_next_flight_says_what_why_and_how_high(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    found = next_flight(
        answer.ready,
        answer.plan,
        None,
        unlocked=("bench", "level", "45 down", "vertical down"),
        instruments=("stopwatch", "video"),
        balances=Balances(ready=answer.ready),
    )
    assert found is not None
    parts = {"settle": 40.0, "figure": 0.0, "decide": 22.0, "pull_out": 30.0, "reserve": 20.0, "total": 112.0}
    gate = GatePage(
        name="Vertical down", task="", passed="", abort="", speed_m_s=24.0, height_m=HeightPage.model_validate(parts)
    )
    page = flight_page(found, [gate])
    assert page.what.startswith("Two vertical lines down")
    assert re.search(r"Doubt of the down speed \d\.\d m/s now, \d\.\d expected", page.why)
    assert page.height == "Enter at 115 m or more above the ground."
    assert 1 <= len(page.others) <= 2


def test_a_flight_that_only_opens_the_next_says_so(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    found = next_flight(
        answer.ready,
        answer.plan,
        None,
        unlocked=("bench", "level"),
        instruments=("stopwatch",),
        balances=Balances(ready=answer.ready),
    )
    assert found is not None
    assert found.best.kind == "level passes"
    assert flight_page(replace(found, enough=True)).why.startswith(
        "It comes first: steeper lines are flown after it. Doubt"
    )
    steep = replace(found.best, kind="lines", line="45 down")
    why = flight_page(replace(found, best=steep, enough=True)).why
    assert why.startswith("Another flight would tell little more.")
