"""Words and numbers of the quick page, the march and the comparison."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall import workflow
from evenfall.plane.starter import DEMOS
from evenfall.radio.plan import Plan
from evenfall.sheet.compare_page import compare_page
from evenfall.sheet.quick_page import QuickPage, march_page, quick_page
from evenfall.workflow import QuickAnswer, Ready, TuneAnswer

Tuned = Callable[[str], TuneAnswer]


def followed(ready: Ready, plan: Plan) -> QuickAnswer:
    tables = workflow.tables_of(ready, workflow.family_of(ready, plan))
    return workflow.follow(ready, plan, "mine", shafts=workflow.shafts_of(ready), tables=tables)


def sized(plan: Plan, size: float) -> Plan:
    assert plan.crow is not None
    return replace(plan, crow=replace(plan.crow, upper=size * plan.crow.upper, lower=size * plan.crow.lower))


@pytest.fixture(scope="module")
def plan(tuned: Tuned) -> Plan:
    found = tuned(DEMOS[0]).plan
    assert found is not None
    return found


@pytest.fixture(scope="module")
def answer(tuned: Tuned, plan: Plan) -> QuickAnswer:
    return followed(tuned(DEMOS[0]).ready, plan)


@pytest.mark.invariant
def test_forces_of_every_line_balance(answer: QuickAnswer) -> None:
    page = quick_page(answer)
    for line in page.lines:
        shares = line.shares.shares_n
        assert shares is not None
        held = shares.airframe + shares.crow + shares.propeller
        assert held == pytest.approx(line.shares.weight_along_n, abs=0.02)
    assert page.lines[0].shares.name == "vertical down"
    assert len(page.with_crow) == len(page.without_crow) == 37
    assert QuickPage.model_validate_json(page.model_dump_json()) == page


@pytest.mark.property
def test_less_crow_is_said_to_be_too_fast(tuned: Tuned, plan: Plan) -> None:
    page = quick_page(followed(tuned(DEMOS[0]).ready, sized(plan, 0.5)))
    down = page.lines[0].shares
    assert down.speed_m_s is not None
    over = down.speed_m_s - page.wanted_speed_m_s
    assert f"Vertical down: {down.speed_m_s:.1f} m/s with the stick closed, {over:.1f} too fast." in page.words
    assert page.lines[0].remark
    assert down.status == "stick_at_closed_end"


@pytest.mark.property
def test_crow_that_leaves_no_throw_is_named(tuned: Tuned, plan: Plan) -> None:
    assert plan.crow is not None
    ready = tuned(DEMOS[0]).ready
    wing = ready.file.plane.wings["upper"]
    assert wing.aileron is not None
    stop = wing.aileron.throw_up if plan.crow.upper < 0 else wing.aileron.throw_down
    wide = sized(plan, (stop - math.radians(2.0)) / plan.crow.angle)
    said = [words for words in quick_page(followed(ready, wide)).words if "hinges leave" in words]
    assert any("upper wing's hinges leave 2.0 deg" in words and "normal throw" in words for words in said)


@pytest.mark.property
def test_crow_out_in_level_flight_is_named(tuned: Tuned, plan: Plan) -> None:
    assert plan.crow is not None
    early = replace(plan, crow=replace(plan.crow, threshold=0.95, curve=((0.0, 1.0), (0.95, 0.0), (1.0, 0.0))))
    page = quick_page(followed(tuned(DEMOS[0]).ready, early))
    assert any(words.startswith("Crow is") and "level flight" in words for words in page.words)


@pytest.mark.property
def test_two_speeds_are_said_and_reached_from_different_entries(tuned: Tuned) -> None:
    found = tuned(DEMOS[3])
    assert found.plan is not None
    ready, plan = found.ready, found.plan
    answer = followed(ready, plan)
    stable = [state.speed for state in answer.quick.lines[0].states if state.stable]
    assert len(stable) == 2
    assert any("m/s possible, the entry speed decides" in words for words in quick_page(answer).words)
    shafts, tables = workflow.shafts_of(ready), workflow.tables_of(ready, workflow.family_of(ready, plan))
    ends = set()
    for entry in (0.4 * ready.wanted, 1.5 * ready.wanted):
        page = march_page(
            workflow.enter(ready, plan, "mine", line="vertical down", entry=entry, shafts=shafts, tables=tables)
        )
        assert page.ends_m_s is not None
        ends.add(round(page.ends_m_s, 3))
        assert len(page.others_m_s) == 1
        assert "Other entries end at" in page.words
    assert ends == {round(speed, 3) for speed in stable}


@pytest.mark.property
def test_rows_of_a_comparison_hold_both_and_the_difference(tuned: Tuned, plan: Plan, answer: QuickAnswer) -> None:
    other = followed(tuned(DEMOS[0]).ready, sized(plan, 0.6))
    page = compare_page(answer, other, rolls=((), ()))
    speeds = [quick_page(side).lines[0].shares.speed_m_s for side in (answer, other)]
    assert speeds[0] is not None
    assert speeds[1] is not None
    row = next(row for row in page.behaviour if row.what == "vertical down, speed")
    more = round(speeds[1], 1) - round(speeds[0], 1)
    assert (row.mine, row.other) == (f"{speeds[0]:.1f} m/s", f"{speeds[1]:.1f} m/s, {more:.1f} more")
    assert not any("roll" in row.what for row in page.behaviour)
    assert page.plane == ()
