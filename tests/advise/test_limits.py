"""How much crow a plan can have: hinges with the throw that is flown on top, and servos with their load."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall.advise.limits import ceiling
from evenfall.advise.outlook import sized
from evenfall.radio.plan import Plan
from evenfall.workflow import TuneAnswer


def without_crow_in_snaps(plan: Plan) -> Plan:
    phases = tuple(replace(phase, crow_live=phase.kind == "normal") for phase in plan.phases)
    return replace(plan, phases=phases)


@pytest.fixture(scope="module")
def answer(tuned: Callable[[str], TuneAnswer]) -> TuneAnswer:
    return tuned("biplane_124")


def test_snap_throw_on_top_of_crow_stays_inside_the_hinge(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    ready, plan = answer.ready, answer.plan
    found = ceiling(ready.frame, plan, wanted=ready.wanted)
    assert found.kind == "snap throw"
    wing = ready.file.plane.wings[found.wing]
    assert wing.aileron is not None
    stop = min(wing.aileron.throw_up, wing.aileron.throw_down)
    assert found.angle + plan.throws.snap == pytest.approx(stop)


def test_crow_that_is_off_in_snaps_may_be_larger(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    ready = answer.ready
    plan = without_crow_in_snaps(answer.plan)
    found = ceiling(ready.frame, plan, wanted=ready.wanted)
    assert found.kind == "hinge"
    assert found.angle == pytest.approx(math.radians(40.0) - plan.throws.normal)


def test_a_split_counts_by_the_wing_that_reaches_its_stop_first(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    assert answer.plan.crow is not None
    ready, crow = answer.ready, answer.plan.crow
    split = replace(without_crow_in_snaps(answer.plan), crow=replace(crow, upper=0.5 * crow.upper))
    found = ceiling(ready.frame, split, wanted=ready.wanted)
    assert found.wing == "lower"
    assert found.angle == pytest.approx(math.radians(40.0) - split.throws.normal)


def test_without_crow_there_is_nothing_to_limit(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    found = ceiling(answer.ready.frame, replace(answer.plan, crow=None), wanted=answer.ready.wanted)
    assert found.angle == 0.0


def test_a_weak_servo_stops_crow_before_the_hinge(answer: TuneAnswer) -> None:
    assert answer.plan is not None
    ready = answer.ready
    servo = ready.file.plane.aileron_servo
    assert servo is not None
    plan = sized(without_crow_in_snaps(answer.plan), math.radians(10.0))
    angles = []
    for strength in (1.0, 0.15, 0.02):
        plane = replace(ready.file.plane, aileron_servo=replace(servo, torque=strength * servo.torque))
        angles.append(ceiling(replace(ready.frame, plane=plane), plan, wanted=ready.wanted))
    assert angles[0].kind == "hinge"
    assert angles[2].kind == "servo load"
    # What is loaded too much already is not taken back, only not made worse.
    assert angles[2].angle == pytest.approx(math.radians(10.0))
    assert angles[2].angle <= angles[1].angle <= angles[0].angle
