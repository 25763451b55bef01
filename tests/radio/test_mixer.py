"""The mixer: undone exactly, mirrored left and right, without memory, crow off in every phase."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Plane
from evenfall.radio.mixer import Sticks, live_deployment, mix
from evenfall.radio.phases import Phase, soften
from evenfall.radio.plan import Crow, Plan

SIDE = st.floats(-1, 1)


@pytest.mark.property
@given(st.data(), st.floats(0, 1), SIDE, SIDE, SIDE, st.booleans())
def test_sticks_and_deployment_come_back(
    biplane: Plane,
    crow_plan: Plan,
    crows: st.SearchStrategy[Crow],
    flown_phase: st.SearchStrategy[Phase],
    data: st.DataObject,
    throttle: float,
    aileron: float,
    elevator: float,
    rudder: float,
    switch: bool,
) -> None:
    plan, phase = replace(crow_plan, crow=data.draw(crows)), data.draw(flown_phase)
    sticks = Sticks(throttle=throttle, aileron=aileron, elevator=elevator, rudder=rudder)
    done = mix(biplane, plan, phase, sticks, crow_switch=switch)
    crow, out = plan.crow, float(done.deployment)
    assert crow is not None
    for wing, full in (("upper", crow.upper), ("lower", crow.lower)):
        left, right = done.ailerons[f"{wing}_left"], done.ailerons[f"{wing}_right"]
        assert (left + right) / (2 * full) == pytest.approx(out, abs=1e-12)
        roll = (left - right) / (2 * phase.aileron * (1 + phase.roll_boost * out))
        assert roll == pytest.approx(float(soften(aileron, phase.aileron_exponential)), abs=1e-12)
    pulled = (out * crow.elevator - done.elevator) / phase.elevator
    assert pulled == pytest.approx(float(soften(elevator, phase.elevator_exponential)), abs=1e-12)
    yawed = -done.rudder / phase.rudder
    assert yawed == pytest.approx(float(soften(rudder, phase.rudder_exponential)), abs=1e-12)


@pytest.mark.invariant
@given(st.data(), st.floats(0, 1), SIDE)
def test_stick_left_is_stick_right_mirrored(
    biplane: Plane,
    crow_plan: Plan,
    flown_phase: st.SearchStrategy[Phase],
    data: st.DataObject,
    throttle: float,
    aileron: float,
) -> None:
    phase = data.draw(flown_phase)
    right = mix(biplane, crow_plan, phase, Sticks(throttle=throttle, aileron=aileron)).ailerons
    left = mix(biplane, crow_plan, phase, Sticks(throttle=throttle, aileron=-aileron)).ailerons
    for wing in ("upper", "lower"):
        assert right[f"{wing}_left"] == pytest.approx(float(left[f"{wing}_right"]), abs=1e-15)
        assert right[f"{wing}_right"] == pytest.approx(float(left[f"{wing}_left"]), abs=1e-15)


def test_signs(biplane: Plane, crow_plan: Plan) -> None:
    normal = crow_plan.phase("normal")
    done = mix(biplane, crow_plan, normal, Sticks(throttle=1.0, aileron=1.0, elevator=1.0, rudder=1.0))
    assert done.ailerons["lower_left"] > 0 > done.ailerons["lower_right"]  # stick right: left goes down
    assert done.elevator == pytest.approx(-normal.elevator)  # pulled: trailing edge up
    assert done.rudder == pytest.approx(-normal.rudder)  # right: trailing edge right
    assert done.motor == 1.0


@pytest.mark.invariant
def test_a_retraction_is_never_slowed(biplane: Plane, crow_plan: Plan) -> None:
    """What is commanded depends on the sticks of this moment alone, whatever came before."""
    phase = crow_plan.phase("snap")
    once = mix(biplane, crow_plan, phase, Sticks(throttle=0.7))
    after = mix(biplane, crow_plan, phase, Sticks(throttle=np.array([0.0, 0.0, 0.7])))
    for name, angle in once.ailerons.items():
        assert after.ailerons[name][2] == angle == 0.0
    assert after.deployment.tolist() == [1.0, 1.0, 0.0]
    assert after.elevator[2] == once.elevator == 0.0


@pytest.mark.parametrize("name", ["take-off", "normal", "snap", "spin", "landing"])
def test_the_crow_switch_works_in_every_phase_and_the_motor_does_not_mind(
    biplane: Plane, crow_plan: Plan, name: str
) -> None:
    phase = crow_plan.named(name)
    throttle = np.linspace(0, 1, 11)
    off = mix(biplane, crow_plan, phase, Sticks(throttle=throttle), crow_switch=False)
    on = mix(biplane, crow_plan, phase, Sticks(throttle=throttle))
    assert not off.deployment.any()
    assert not off.elevator.any()
    assert on.deployment.any() == phase.crow_live
    assert on.motor.tolist() == off.motor.tolist()


@pytest.mark.property
@given(st.floats(0, 1))
def test_the_elevator_follows_the_deployment_as_it_is(biplane: Plane, crow_plan: Plan, throttle: float) -> None:
    done = mix(biplane, crow_plan, crow_plan.phase("normal"), Sticks(throttle=throttle))
    assert crow_plan.crow is not None
    assert done.elevator == pytest.approx(float(done.deployment) * crow_plan.crow.elevator, abs=1e-15)
    assert done.ailerons["upper_left"] * crow_plan.crow.elevator_share == pytest.approx(done.elevator, abs=1e-15)


def test_roll_boost_grows_with_deployment(biplane: Plane, crow_plan: Plan) -> None:
    phase = replace(crow_plan.phase("normal"), roll_boost=0.4)
    done = mix(biplane, crow_plan, phase, Sticks(throttle=np.array([1.0, 0.25, 0.0]), aileron=1.0))
    roll = (done.ailerons["upper_left"] - done.ailerons["upper_right"]) / 2
    assert roll == pytest.approx(phase.aileron * np.array([1.0, 1.16, 1.4]))


@pytest.mark.limit
def test_without_crow_nothing_is_deployed(biplane: Plane, crow_plan: Plan) -> None:
    plan = replace(crow_plan, crow=None)
    phase = plan.phase("normal")
    assert not live_deployment(plan, phase, np.linspace(0, 1, 5)).any()
    done = mix(biplane, plan, phase, Sticks(throttle=0.0, aileron=0.5))
    share = float(soften(0.5, phase.aileron_exponential))
    assert done.ailerons["upper_left"] == pytest.approx(phase.aileron * share)
    assert done.ailerons["upper_right"] == pytest.approx(-phase.aileron * share)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"throttle": -0.1}, "throttle stick stands between 0 and 1"),
        ({"aileron": 1.1}, "aileron stick stands between -1 and 1"),
        ({"elevator": [0.0, float("nan")]}, "elevator stick"),
        ({"rudder": float("inf")}, "rudder stick"),
    ],
)
def test_sticks_beyond_their_ends_are_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueRangeError, match=words):
        Sticks(**changes)  # type: ignore[arg-type]
