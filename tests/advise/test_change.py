"""The next change: right way, in steps, limits said, and nothing where doubt is larger than what is off."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall.advise.change import AIMED, Change, next_change
from evenfall.advise.levers import SHARE_STEP
from evenfall.advise.limits import CROW_STEP, Ceiling
from evenfall.advise.outlook import Balances, Prospects, sized
from evenfall.fit.learned import FACTORS, Learned, prior
from evenfall.logs.evidence import Flight, Pull
from evenfall.radio.plan import Plan
from evenfall.workflow import TuneAnswer

DOWN = Flight(slope=-math.pi / 2)
FREE = Ceiling(angle=math.radians(35.0), kind="hinge", wing="upper")


class Bench:
    """The tuned biplane, its balances, and flights that have told nearly everything."""

    def __init__(self, answer: TuneAnswer) -> None:
        assert answer.plan is not None
        self.ready, self.plan = answer.ready, answer.plan
        self.balances = Balances(ready=self.ready)

    def with_crow(self, factor: float, share: float | None = None) -> Plan:
        assert self.plan.crow is not None
        plan = sized(self.plan, factor * self.plan.crow.angle)
        assert plan.crow is not None
        return plan if share is None else replace(plan, crow=replace(plan.crow, elevator_share=share))

    def ask(self, plan: Plan, learned: Learned | None, *, top: Ceiling = FREE, bend: float | None = 0.0) -> Change:
        pulls = () if bend is None else [(plan, Pull(name="pull", flight=DOWN, rate=bend, sigma=0.01))]
        found = next_change(self.ready, plan, learned, pulls=pulls, balances=self.balances, most_crow=top)
        assert found is not None
        return found


@pytest.fixture(scope="module")
def bench(tuned: Callable[[str], TuneAnswer]) -> Bench:
    return Bench(tuned("biplane_124"))


def known(**factors: float) -> Learned:
    """Corrections that are known to a hundredth or so."""
    mean = prior().mean.copy()
    for name, value in factors.items():
        mean[FACTORS.index(name)] = math.log(value)
    return replace(prior(), mean=mean, covariance=0.01 * prior().covariance)


def test_too_fast_asks_for_more_crow_and_too_slow_for_less_in_half_degrees(bench: Bench) -> None:
    for factor, sign in ((0.6, 1), (1.4, -1)):
        plan = bench.with_crow(factor)
        found = bench.ask(plan, known())
        assert found.verdict == "change"
        (step,) = found.steps
        assert step.lever == "crow"
        assert sign * step.steps > 0
        assert found.plan.crow is not None
        assert plan.crow is not None
        moved = (found.plan.crow.angle - plan.crow.angle) / CROW_STEP
        assert moved == pytest.approx(step.steps, abs=1e-6)
        speed = found.effects[0]
        assert abs(speed.after.value - speed.wanted) < 0.02 * speed.wanted < abs(speed.now.value - speed.wanted)
        assert found.check.target == "down speed"
        assert found.chance > 0.95


def test_less_crow_drag_than_computed_needs_more_crow(bench: Bench) -> None:
    found = bench.ask(bench.plan, known(crow_drag=0.8))
    assert [step.lever for step in found.steps] == ["crow"]
    assert found.steps[0].steps >= 4


@pytest.mark.parametrize("bend", [math.radians(9.0), -math.radians(9.0)])
def test_a_pull_asks_for_elevator_against_it_in_half_percents(bench: Bench, bend: float) -> None:
    found = bench.ask(bench.plan, known(), bend=bend)
    (step,) = found.steps
    assert step.lever == "elevator share"
    assert isinstance(step.before, float)
    assert isinstance(step.after, float)
    assert step.after - step.before == pytest.approx(step.steps * SHARE_STEP)
    # More share lowers the elevator: against a pull to the canopy.
    assert math.copysign(1.0, step.steps) == math.copysign(1.0, bend)
    after = next(effect.after.value for effect in found.effects if effect.target == "bend")
    assert abs(after) < AIMED.straightness
    assert found.check.target == "bend"


def test_one_change_a_flight_and_the_larger_trouble_first(bench: Bench) -> None:
    plan = bench.with_crow(0.6)
    one = bench.ask(plan, known(), bend=math.radians(7.0))
    assert [step.lever for step in one.steps] == ["crow"]
    assert one.then is not None
    assert one.then.lever == "elevator share"
    two = next_change(
        bench.ready,
        plan,
        known(),
        pulls=[(plan, Pull(name="pull", flight=DOWN, rate=math.radians(7.0), sigma=0.01))],
        balances=bench.balances,
        most=2,
        most_crow=FREE,
    )
    assert two is not None
    assert [step.lever for step in two.steps] == ["crow", "elevator share"]


def test_nothing_is_changed_within_doubt_and_nothing_where_all_is_well(bench: Bench) -> None:
    unsure = bench.ask(bench.with_crow(0.93), None)
    assert unsure.verdict == "doubt"
    assert not unsure.steps
    assert unsure.plan == bench.with_crow(0.93)
    sure = replace(prior(), covariance=1e-4 * prior().covariance)
    there = bench.ask(bench.plan, sure)
    assert there.verdict in ("there", "doubt")
    assert not there.steps


def test_a_change_smaller_than_its_step_is_none(bench: Bench) -> None:
    """With tolerances as tight as that, half a step of elevator is off target and still no change."""
    tight = replace(AIMED, straightness=math.radians(0.2), speed_tolerance=0.02)
    rate = math.radians(0.5)
    found = next_change(
        bench.ready,
        bench.plan,
        replace(prior(), covariance=1e-4 * prior().covariance),
        pulls=[(bench.plan, Pull(name="pull", flight=DOWN, rate=rate, sigma=1e-4))],
        balances=bench.balances,
        targets=tight,
        most_crow=FREE,
    )
    assert found is not None
    assert found.verdict == "step"
    assert not found.steps


def test_the_ceiling_of_crow_is_kept_and_named(bench: Bench) -> None:
    plan = bench.with_crow(0.6)
    assert plan.crow is not None
    low = Ceiling(angle=plan.crow.angle + 2.2 * CROW_STEP, kind="snap throw", wing="upper")
    found = bench.ask(plan, known(), top=low)
    assert found.limit == low
    assert found.missing > 0.5
    if found.steps and found.steps[0].lever == "crow":
        assert found.steps[0].steps == 2
    stuck = bench.ask(plan, known(), top=replace(low, angle=plan.crow.angle))
    assert stuck.limit is not None
    assert all(step.lever != "crow" for step in stuck.steps)


def test_crow_out_in_level_flight_moves_the_deployment_point(bench: Bench) -> None:
    crow = bench.plan.crow
    assert crow is not None
    late = replace(
        bench.plan, crow=replace(crow, threshold=0.7, curve=((0.0, 1.0), (0.08, 1.0), (0.7, 0.0), (1.0, 0.0)))
    )
    found = bench.ask(late, known())
    assert found.steps
    step = found.steps[0]
    assert step.lever == "deployment point"
    assert isinstance(step.after, float)
    assert step.after < 0.64
    assert found.plan.crow is not None
    assert float(found.plan.deployment(step.after + 0.001)) == 0.0


def test_a_boost_is_moved_to_give_the_stowed_roll(bench: Bench) -> None:
    phases = tuple(replace(phase, roll_boost=0.4) if phase.kind == "normal" else phase for phase in bench.plan.phases)
    found = bench.ask(replace(bench.plan, phases=phases), known())
    (step,) = found.steps
    assert step.lever == "roll boost"
    roll = next(effect for effect in found.effects if effect.target == "roll")
    assert abs(roll.after.value - 1.0) < abs(roll.now.value - 1.0)
    learned = bench.ask(replace(bench.plan, phases=phases), known(roll_deployed=0.7 / roll.now.value * 1.4))
    assert not any(step.lever == "roll boost" and step.steps > 0 for step in learned.steps)


def test_a_clean_bend_asks_for_rigging(bench: Bench) -> None:
    clean = Flight(slope=-math.pi / 2, crow=False)
    seen = Pull(name="crow off", flight=clean, rate=math.radians(10.0), sigma=0.005)
    found = next_change(
        bench.ready, bench.plan, known(), pulls=[(bench.plan, seen)], balances=bench.balances, most_crow=FREE
    )
    assert found is not None
    assert found.rigging
    assert math.degrees(found.clean.value) == pytest.approx(10.0, abs=0.5)


def test_doubt_narrows_with_pulls_at_other_settings(bench: Bench) -> None:
    """Two pulls at two shares tell the elevator's effect apart from the moment of crow."""
    one = bench.with_crow(1.0, share=0.0)
    two = bench.with_crow(1.0, share=0.04)
    pulls = [
        (plan, Pull(name="pull", flight=DOWN, rate=bench.balances.parts(plan)[0].crow + 0.1, sigma=0.02))
        for plan in (one, two)
    ]
    first = Prospects(bench.balances, known(), pulls=pulls[:1]).bends(bench.plan)[0]
    both = Prospects(bench.balances, known(), pulls=pulls).bends(bench.plan)[0]
    none = Prospects(bench.balances, known()).bends(bench.plan)[0]
    assert both.spread < first.spread < none.spread


def test_a_plan_without_crow_that_is_too_fast_has_only_the_motor_brake(bench: Bench) -> None:
    bare = replace(bench.plan, crow=None)
    found = next_change(bench.ready, bare, known(), balances=bench.balances)
    assert found is not None
    assert found.effects[0].now.value > 1.2 * found.effects[0].wanted
    assert all(step.lever == "motor brake" for step in found.steps)
    assert found.limit is None
