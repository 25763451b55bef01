"""The five lines of a plan: statuses, main speed, entry ranges, nudged planes, spreads, rolls, bends."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from evenfall.lines.balance import Airframe
from evenfall.lines.bend import BendCase, bends, cure_words, down_lines
from evenfall.lines.drag import DragTable
from evenfall.lines.holding import Holding
from evenfall.lines.line import LINES, SteadySpeed
from evenfall.lines.rolls import RollCase, roll_answers, steady_rolls
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.survey import ENTRY_SHARES, LineAnswer, SteadyEntry, line_answer, shaft_at, tables_for
from evenfall.numeric import Status
from evenfall.plane.starter import DEMOS
from evenfall.radio.plan import Crow, MotorChoice, Plan, present_plan
from evenfall.tune.candidates import crow_at
from evenfall.workflow import Predicted, Ready, TuneAnswer

MakeTable = Callable[..., DragTable]
MakeReady = Callable[[str], Ready]


def held(slope: float, status: Status = Status.OK, stick: float = 0.0) -> Holding:
    return Holding(slope=slope, stick=stick, status=status, deployment=0.0, excess=0.0)


def one_line(unit: PowerUnit, table: DragTable, status: Status, level: str = "25") -> LineAnswer:
    plan = Plan(plane_name="x", crow=None, motor=MotorChoice(level=level, percent=float(level)))
    return line_answer(unit, plan, table, name="x", held=held(table.slope, status), wanted=22.0)


@pytest.mark.parametrize(
    ("given", "level", "slope", "wanted"),
    [
        (Status.OK, "25", -90, Status.OK),
        (Status.STALLED, "25", -90, Status.STALLED),
        (Status.STICK_AT_CLOSED_END, "25", -90, Status.STICK_AT_CLOSED_END),
        (Status.INSIDE_CLOSED_BAND, "25", -90, Status.INSIDE_CLOSED_BAND),
        (Status.OK, "50", -90, Status.SEVERAL_SPEEDS),
        (Status.OK, "25", 90, Status.NO_STEADY_SPEED),
        (Status.STICK_AT_OPEN_END, "25", 90, Status.STICK_AT_OPEN_END),
    ],
)
def test_status_of_a_line(
    folded: PowerUnit, constant_table: MakeTable, given: Status, level: str, slope: int, wanted: Status
) -> None:
    table = constant_table(0.034, 1.32, slope=math.radians(slope))
    assert one_line(folded, table, given, level).status is wanted


def entry(speed: float, reached: tuple[float, float] | None, *, stable: bool = True) -> SteadyEntry:
    state = SteadySpeed(speed=speed, omega=400.0, stable=stable, airframe=1.0, crow=0.0, thrust=0.0)
    return SteadyEntry(state=state, reached_from=reached)


def test_the_speed_of_a_line_is_the_one_most_entries_end_in() -> None:
    line = LineAnswer(
        name="x",
        slope=0.0,
        stick=0.0,
        deployment=0.0,
        closed=True,
        status=Status.OK,
        steady=(entry(20.0, (5.0, 9.0)), entry(21.0, None, stable=False), entry(22.0, (11.0, 30.0)), entry(23.0, None)),
    )
    assert line.speed is not None
    assert line.speed.speed == 22.0
    unreached = replace(line, steady=(entry(20.0, None), entry(21.0, (1.0, 50.0), stable=False)))
    assert unreached.speed is not None
    assert unreached.speed.speed == 20.0
    assert replace(line, steady=()).speed is None


def test_the_motor_is_held_closed_by_command_not_by_stick(ready: MakeReady) -> None:
    unit = ready("biplane_124").unit
    below = unit.plane.controller.closed_below
    plan = present_plan(unit.plane)
    assert shaft_at(unit, plan, 0.0)[1]
    assert not shaft_at(unit, plan, below + 0.01)[1]
    flat = replace(plan, motor=replace(plan.motor, throttle_curve=((0.0, 0.0), (0.5, 0.0), (1.0, 1.0))))
    assert shaft_at(unit, flat, 0.45)[1]


@pytest.mark.parametrize("name", DEMOS)
def test_surveys_hold_five_lines_and_their_entries(tuned: Callable[[str], TuneAnswer], name: str) -> None:
    done = tuned(name).tuned.survey
    assert done is not None
    assert [line.name for line in done.lines] == list(LINES)
    lowest, highest = (share * done.wanted for share in (min(ENTRY_SHARES), max(ENTRY_SHARES)))
    for line in done.lines:
        ranges = [item.reached_from for item in line.steady if item.reached_from is not None]
        assert all(lowest - 1e-9 <= low <= high <= highest + 1e-9 for low, high in ranges)
        assert all(item.reached_from is None for item in line.steady if not item.state.stable)


@pytest.mark.invariant
def test_heavier_and_draggier_planes_move_the_tables(present: Callable[[str], Predicted]) -> None:
    answer = present("biplane_124")
    plane = answer.ready.file.plane
    heavy = replace(
        plane,
        mass=replace(plane.mass, all_up=1.2 * plane.mass.all_up),
        corrections=replace(plane.corrections, parasite_drag=1.3),
    )
    moved = tables_for(answer.tables, heavy).lines["vertical down"]
    before = answer.tables.lines["vertical down"]
    assert moved.weight == pytest.approx(1.2 * before.weight)
    assert moved.drag(22.0) > before.drag(22.0)


# --- spreads ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_every_stable_speed_away_from_a_fold_has_a_spread(tuned: Callable[[str], TuneAnswer], name: str) -> None:
    predicted = tuned(name).predicted
    assert predicted is not None
    for line in predicted.survey.lines:
        for item, estimate in zip(line.steady, predicted.estimates[line.name], strict=True):
            if estimate is None:
                assert len(line.steady) > 1
                continue
            assert 0.002 < estimate.spread / item.state.speed < 0.5
            assert estimate.value == item.state.speed
            assert sum(cause.share for cause in estimate.causes) <= 1.0 + 1e-9


@pytest.mark.invariant
def test_the_largest_cause_of_a_clean_dive_is_drag_or_brake(present: Callable[[str], Predicted]) -> None:
    estimates = present("biplane_124").estimates["vertical down"]
    assert estimates[0] is not None
    assert estimates[0].causes[0].name in (
        "corrections.parasite_drag",
        "corrections.braked_propeller_drag",
        "corrections.brake_damping",
        "sections.transition",
    )


@pytest.mark.limit
def test_crow_of_no_angle_has_no_doubt_of_its_setting(tuned: Callable[[str], TuneAnswer]) -> None:
    from evenfall.lines.spread import setting_nudge

    answer = tuned("biplane_124")
    assert answer.plan is not None
    assert answer.plan.crow is not None
    assert answer.tuned.tables is not None
    assert answer.tuned.survey is not None
    line = answer.tuned.survey.line("vertical down")
    plane = answer.ready.file.plane
    nil = setting_nudge(plane, answer.tuned.tables, line, replace(answer.plan.crow, upper=0.0, lower=0.0))
    assert nil.low.crow == nil.high.crow == 1.0
    some = setting_nudge(plane, answer.tuned.tables, line, answer.plan.crow)
    assert some.low.crow < 1.0 < some.high.crow


# --- rolls ------------------------------------------------------------------------------------------------------------


def roll_frame(ready: MakeReady) -> tuple[Airframe, Crow]:
    frame = ready("biplane_124").frame
    return frame, crow_at(frame.plane, "up/down", math.radians(15))


@pytest.mark.invariant
def test_rolls_batch_equals_loop_and_left_mirrors_right(ready: MakeReady) -> None:
    frame, crow = roll_frame(ready)
    cases = [
        RollCase(crow=crow if out else None, deployment=out, alpha=0.0, elevator=0.0, throw=math.radians(throw))
        for out in (0.0, 1.0)
        for throw in (-7, 7, 16)
    ]
    batch = steady_rolls(frame, cases, speed=22.0)
    for k, case in enumerate(cases):
        assert steady_rolls(frame, [case], speed=22.0).rate[0] == pytest.approx(batch.rate[k], rel=1e-4)
    assert batch.rate[0] == pytest.approx(-batch.rate[1], rel=1e-4)
    assert batch.rate[3] == pytest.approx(-batch.rate[4], rel=1e-4)


@pytest.mark.limit
def test_no_throw_no_roll_and_stowed_crow_is_no_crow(ready: MakeReady) -> None:
    frame, crow = roll_frame(ready)
    still = RollCase(crow=crow, deployment=1.0, alpha=0.0, elevator=0.0, throw=0.0)
    stowed = RollCase(crow=crow, deployment=0.0, alpha=0.0, elevator=0.0, throw=0.12)
    none = RollCase(crow=None, deployment=0.0, alpha=0.0, elevator=0.0, throw=0.12)
    found = steady_rolls(frame, [still, stowed, none], speed=22.0).rate
    assert found[0] == pytest.approx(0.0, abs=1e-6)
    assert found[1] == pytest.approx(found[2], rel=1e-9)


def test_roll_answers_split_section_and_speed(ready: MakeReady) -> None:
    frame, crow = roll_frame(ready)
    throws = (math.radians(7), math.radians(16))

    def answers(down: float | None, with_crow: Crow | None = crow) -> Any:
        return roll_answers(
            frame, with_crow, throws=throws, wanted=22.0, down_speed=down, alpha=(0.0, 0.0), elevator=(0.0, 0.0)
        )

    same, slower = answers(None), answers(11.0)
    assert [item.deployed for item in same] == [False, False, True, True]
    assert [item.throw for item in same] == [*throws, *throws]
    assert all(item.section == 1.0 for item in same[:2])
    assert 0.2 < same[2].section < same[3].section < 1.2
    assert same[2].rate / same[0].rate == pytest.approx(same[2].section, rel=1e-9)
    assert slower[2].rate == pytest.approx(0.5 * same[2].rate)
    assert slower[2].speed_share == 0.5
    assert slower[0].rate == same[0].rate
    assert all(item.adverse == pytest.approx(item.adverse) for item in same)
    assert [item.deployed for item in answers(None, None)] == [False, False]


@pytest.mark.invariant
def test_learned_roll_response_acts_on_deployed_rolls_alone(ready: MakeReady) -> None:
    frame, crow = roll_frame(ready)
    learned = replace(frame.plane, corrections=replace(frame.plane.corrections, roll_deployed=1.3))
    cases = [
        RollCase(crow=crow if out else None, deployment=out, alpha=0.0, elevator=0.0, throw=0.12) for out in (0.0, 1.0)
    ]
    before, after = (steady_rolls(f, cases, speed=22.0).rate for f in (frame, replace(frame, plane=learned)))
    assert after / before == pytest.approx([1.0, 1.3])


# --- bends ------------------------------------------------------------------------------------------------------------


def made_up_cure(**changes: Any) -> Any:
    plain = {
        "kind": np.array(["elevator"]),
        "split": np.array([0.04]),
        "split_exists": np.array([True]),
        "elevator": np.array([math.radians(1.4)]),
        "elevator_exists": np.array([True]),
        "share": np.array([0.1]),
    }
    return cast("Any", SimpleNamespace(**{**plain, **changes}))


@pytest.mark.documents
@pytest.mark.parametrize(
    ("clean", "added", "changes", "words"),
    [
        (0.0, 0.01, {}, "No cure needed."),
        (0.2, 1.0, {}, "Rigging first: the clean plane bends to the canopy."),
        (-0.2, 1.0, {}, "Rigging first: the clean plane bends to the belly."),
        (
            0.0,
            1.0,
            {},
            "1.4 deg of elevator down at full deployment, in proportion to the actual deployment (share +0.100). "
            "One step is 0.3 deg.",
        ),
        (0.0, 1.0, {"elevator": np.array([-0.02])}, "1.1 deg of elevator up at full deployment"),
        (0.0, 1.0, {"kind": np.array(["split"])}, "Out of balance in lift: 4 % less crow on the lower wing."),
        (
            0.0,
            1.0,
            {"kind": np.array(["split"]), "split": np.array([-0.03])},
            "3 % less crow on the upper wing. One step is 2 %.",
        ),
        (
            0.0,
            1.0,
            {"elevator_exists": np.array([False])},
            "No elevator angle holds this line: use less crow or another arrangement.",
        ),
    ],
)
def test_every_cure_in_words(clean: float, added: float, changes: dict[str, Any], words: str, ready: MakeReady) -> None:
    crow = roll_frame(ready)[1]
    assert words in cure_words(clean, added, made_up_cure(**changes), 0, crow)


@pytest.mark.limit
def test_without_crow_nothing_is_added_and_nothing_to_cure(ready: MakeReady) -> None:
    frame = ready("biplane_124").frame
    for item in down_lines(frame, None, speed=22.0, closed_thrust=-2.0, level_thrust=2.5):
        assert item.converged
        assert item.crow == pytest.approx(0.0, abs=1e-6)
        assert item.cure == "No cure needed." or item.cure.startswith("Rigging first")


@pytest.mark.invariant
def test_the_elevator_share_takes_the_bend_of_the_crow_away(ready: MakeReady) -> None:
    frame, crow = roll_frame(ready)
    case = BendCase(slope=-math.pi / 2, crow=crow, thrust=-2.0)
    found = bends(frame, [case], speed=22.0, level_thrust=2.5, with_cure=True)
    assert found.cure is not None
    assert found.cure.elevator_exists[0]
    cured = replace(crow, elevator_share=float(found.cure.share[0]))
    after = bends(frame, [replace(case, crow=cured)], speed=22.0, level_thrust=2.5)
    assert abs(after.crow[0]) < 0.05 * abs(found.crow[0]) + 2e-3


@pytest.mark.invariant
def test_inverted_vertical_is_the_upright_one(ready: MakeReady) -> None:
    frame, crow = roll_frame(ready)
    answers = down_lines(frame, crow, speed=22.0, closed_thrust=-2.0, level_thrust=2.5)
    names = [(item.line, item.inverted) for item in answers]
    assert names == [("vertical down", False), ("vertical down", True), ("45 down", False), ("45 down", True)]
    assert answers[0].clean == pytest.approx(answers[1].clean, abs=1e-6)
    assert answers[0].crow == pytest.approx(answers[1].crow, abs=1e-6)
    assert math.degrees(answers[0].clean_bend) == pytest.approx(math.degrees(answers[0].clean) * 50 / 22.0, rel=1e-6)
