"""The quick answer against the survey: same speeds, same count of states, same sticks."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.lines.crow_tables import crow_family
from evenfall.lines.holding import slope_nodes, stick_thrust
from evenfall.lines.line import LINES
from evenfall.lines.quick import Quick, quick
from evenfall.lines.stick_picture import stick_picture
from evenfall.lines.survey import Survey, plan_tables, survey
from evenfall.plane.starter import DEMOS
from evenfall.radio.plan import Crow, MotorChoice, Plan, arrangements_of, plane_phases, present_plan, wing_signs
from evenfall.workflow import Ready, TuneAnswer, family_of, shafts_of, tables_of

MakeReady = Callable[[str], Ready]
SPEED = 0.003
"""Relative."""


def both(ready: Ready, plan: Plan, *, entries: bool = False) -> tuple[Quick, Survey]:
    fast = quick(shafts_of(ready), tables_of(ready, family_of(ready, plan)), plan)
    slow = survey(ready.unit, plan, plan_tables(ready.frame, plan, wanted=ready.wanted), entries=entries)
    return fast, slow


def agree(fast: Quick, slow: Survey, made: Ready) -> float:
    """Greatest relative difference of the stable speeds; their count and the sticks must agree."""
    worst = 0.0
    for mine, other in zip(fast.lines, slow.lines, strict=True):
        a = [state for state in mine.states if state.stable]
        b = [entry.state for entry in other.steady if entry.state.stable]
        assert (mine.name, len(a)) == (other.name, len(b))
        assert mine.closed == other.closed
        for one, two in zip(a, b, strict=True):
            worst = max(worst, abs(one.speed / two.speed - 1))
            assert one.thrust == pytest.approx(two.thrust, rel=0.01, abs=0.02)
            weight = max(abs(one.airframe) + abs(one.crow) + abs(one.thrust), 0.1)
            left = one.thrust - one.airframe - one.crow - made.frame.weight * math.sin(mine.slope)
            assert abs(left) < 1e-3 * weight
    return worst


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_tuned_plans(name: str, tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    fast, slow = both(answer.ready, answer.plan, entries=True)
    assert agree(fast, slow, answer.ready) < SPEED
    # the state that counts is the one most entries end in
    for mine, other in zip(fast.lines, slow.lines, strict=True):
        assert mine.speed is not None
        assert other.speed is not None
        assert mine.speed.speed == pytest.approx(other.speed.speed, rel=SPEED)
        assert mine.status is other.status
    down = fast.lines[0]
    assert down.stick == pytest.approx(slow.line("vertical down").stick, abs=0.005)


@pytest.mark.property
@pytest.mark.parametrize("name", [DEMOS[0], DEMOS[3]])
def test_random_plans(name: str, ready: MakeReady) -> None:
    rng, made = np.random.default_rng(7), ready(name)
    plane = made.file.plane
    for _ in range(3):
        arrangement = arrangements_of(plane)[rng.integers(len(arrangements_of(plane)))]
        sizes = np.radians(rng.uniform(4.0, 24.0, 2))
        angles = {
            wing: sign * size if wing in plane.wings else 0.0
            for wing, sign, size in zip(("upper", "lower"), wing_signs(arrangement), sizes.tolist(), strict=True)
        }
        threshold = rng.uniform(0.2, 0.5)
        level = plane.controller.levels[rng.integers(len(plane.controller.levels))]
        plan = Plan(
            plane_name=plane.name,
            crow=Crow(
                arrangement=arrangement,
                threshold=threshold,
                curve=((0.0, 1.0), (0.5 * threshold, rng.uniform(0.2, 0.9)), (threshold, 0.0), (1.0, 0.0)),
                **angles,
            ),
            motor=MotorChoice(
                level=level.name,
                percent=level.percent,
                throttle_curve=((0.0, 0.0), (0.5, rng.uniform(0.3, 0.7)), (1.0, 1.0)),
            ),
            phases=plane_phases(plane),
        )
        fast, slow = both(made, plan)
        assert agree(fast, slow, made) < SPEED


@pytest.mark.limit
def test_without_crow(ready: MakeReady) -> None:
    made = ready(DEMOS[0])
    plan = present_plan(made.file.plane)
    assert family_of(made, plan) is None
    fast, slow = both(made, plan)
    assert agree(fast, slow, made) < 1e-6
    assert fast.with_crow == fast.without_crow


@pytest.mark.invariant
def test_one_family_serves_every_size_of_crow(ready: MakeReady, tuned: Callable[[str], TuneAnswer]) -> None:
    made, plan = ready(DEMOS[0]), tuned(DEMOS[0]).plan
    assert plan is not None
    assert plan.crow is not None
    family = family_of(made, plan)
    smaller = replace(plan.crow, upper=0.4 * plan.crow.upper, lower=0.4 * plan.crow.lower, elevator_share=0.1)
    assert crow_family(made.file.plane, smaller) == family
    turned = replace(plan.crow, lower=0.5 * plan.crow.lower)
    assert crow_family(made.file.plane, turned) != family
    tables, shafts = tables_of(made, family), shafts_of(made)
    speeds = []
    for size in (0.4, 0.7, 1.0):
        crow = replace(plan.crow, upper=size * plan.crow.upper, lower=size * plan.crow.lower)
        state = quick(shafts, tables, replace(plan, crow=crow)).lines[0].speed
        assert state is not None
        speeds.append(state.speed)
    assert speeds[0] > speeds[1] > speeds[2]
    assert family is not None
    beyond = replace(plan.crow, upper=1.2 * family.upper * family.top, lower=1.2 * family.lower * family.top)
    with pytest.raises(ValueRangeError, match="beyond these tables"):
        quick(shafts, tables, replace(plan, crow=beyond))
    wider = crow_family(made.file.plane, beyond)
    assert wider is not None
    assert wider.top >= beyond.angle


@pytest.mark.invariant
def test_thrust_and_sticks_as_in_the_picture(tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned(DEMOS[1])
    plan, made = answer.plan, answer.ready
    assert plan is not None
    bent = replace(plan, motor=replace(plan.motor, throttle_curve=((0.0, 0.0), (0.3, 0.41), (1.0, 1.0))))
    shafts = shafts_of(made)
    thrust, slow = shafts.thrust(bent), stick_thrust(made.unit, bent, wanted=made.wanted)
    assert np.array_equal(thrust.closed, slow.closed)
    assert np.abs(thrust.thrust - slow.thrust).max() < 0.01  # N
    fast = quick(shafts, tables_of(made, family_of(made, plan)), plan)
    picture = stick_picture(made.frame, made.unit, plan, wanted=made.wanted)
    assert fast.step == pytest.approx(picture.step)
    pairs = zip((*fast.with_crow, *fast.without_crow), (*picture.crow, *picture.clean), strict=True)
    off = [(mine, other) for mine, other in pairs if abs(mine.stick - other.stick) > 0.006]
    # one slope may lie where a stick just off the stop counts as on it
    assert len(off) <= 1
    assert all(mine.status is other.status and 0.0 in (mine.stick, other.stick) for mine, other in off)


@pytest.mark.outside
def test_a_balance_that_does_not_settle_without_lift_is_no_stall(ready: MakeReady) -> None:
    made = ready(DEMOS[2])
    drag, carried = slope_nodes(made.frame, None, nodes=(0.0,), wanted=made.wanted, slopes=list(LINES.values()))
    assert carried.all()
    assert drag.carried.all()
    slow, _ = slope_nodes(made.frame, None, nodes=(0.0,), wanted=0.25 * made.wanted, slopes=[0.0, -math.pi / 2])
    assert not slow.carried[0]
    assert slow.carried[1]
