"""Phases: exponential and its inverse, defaults, what is refused, words about landing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.phases import (
    PHASE_KINDS,
    Phase,
    ThresholdChange,
    check_phases,
    default_phases,
    landing_words,
    soften,
)
from evenfall.radio.plan import MotorChoice, Plan, Throws, plane_phases

LANDING = default_phases()[-1]


@pytest.mark.limit
def test_exponential_ends() -> None:
    sticks = np.linspace(-1, 1, 21)
    assert soften(sticks, 0.0).tolist() == sticks.tolist()
    assert soften(sticks, 1.0) == pytest.approx(sticks**3)
    assert float(soften(1.0, 0.37)) == pytest.approx(1.0)
    assert float(soften(0.5, 0.3)) == pytest.approx(0.5 - 0.375 * 0.3)


@pytest.mark.invariant
@given(st.floats(0, 1))
def test_exponential_is_odd_and_never_falls(exponential: float) -> None:
    sticks = np.linspace(-1, 1, 401)
    shares = soften(sticks, exponential)
    assert shares == pytest.approx(-shares[::-1], abs=1e-15)
    assert np.all(np.diff(shares) >= 0)


def test_five_phases_with_crow_off_for_take_off_and_landing() -> None:
    phases = default_phases()
    assert [phase.name for phase in phases] == ["take-off", "normal", "snap", "spin", "landing"]
    assert [phase.crow_live for phase in phases] == [False, True, True, True, False]
    # Common practice, no source: 7 deg of aileron for normal flight, 16-17 deg for snaps.
    assert math.degrees(phases[1].aileron) == pytest.approx(7)
    assert 16 <= math.degrees(phases[2].aileron) <= 17


@pytest.mark.parametrize("name", DEMOS)
def test_default_phases_stay_inside_the_plane(name: str) -> None:
    plane = load_plane(demo_path(name)).plane
    for phase in plane_phases(plane):
        assert phase.elevator <= min(plane.tail.elevator_up, plane.tail.elevator_down)
        assert plane.fin is not None
        assert phase.rudder <= plane.fin.rudder_throw


def test_throws_of_a_plan_are_those_of_its_phases() -> None:
    motor = MotorChoice(level="x", percent=0.0)
    plan = Plan(plane_name="x", crow=None, motor=motor, phases=default_phases(normal=0.1, snap=0.2))
    assert plan.throws == Throws(normal=0.1, snap=0.2)
    assert plan.phase("spin").name == "spin"
    only = replace(plan, phases=(replace(plan.phases[1], name="mine"),))
    assert only.throws == Throws(normal=0.1, snap=0.1)
    assert only.phase("snap") is only.phases[0]
    assert only.named("mine").kind == "normal"
    with pytest.raises(ValueRangeError, match="there are mine"):
        only.named("normal")


@pytest.mark.outside
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": " "}, "1 to 40 printable"),
        ({"name": "x" * 41}, "1 to 40 printable"),
        ({"name": "a\nb"}, "1 to 40 printable"),
        ({"kind": "cruise"}, "none of take-off, normal"),
        ({"aileron": 0.0}, "leaves no roll"),
        ({"aileron": 1.2}, "between 0 and 60 deg"),
        ({"elevator": -0.1}, "elevator throw"),
        ({"rudder": math.nan}, "rudder throw"),
        ({"aileron_exponential": 1.1}, "exponential lies between 0 and 1"),
        ({"roll_boost": 2.0}, "roll boost lies between"),
    ],
)
def test_what_is_no_phase_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueRangeError, match=words):
        replace(LANDING, **changes)  # type: ignore[arg-type]


def test_names_differ_and_one_is_normal() -> None:
    normal = default_phases()[1]
    check_phases((normal,))
    with pytest.raises(ValueRangeError, match="two phases are called normal"):
        check_phases((normal, normal))
    with pytest.raises(ValueRangeError, match='kind "normal"'):
        check_phases((LANDING,))
    assert {"normal", "landing"} <= set(PHASE_KINDS)


def test_landing_is_explained_and_left_to_the_pilot() -> None:
    plain = landing_words(LANDING)
    assert "off in landing" in plain
    assert "motor brake acts all the same" in plain
    change = ThresholdChange(speed=-3.2, lift=-0.08, pitch=math.radians(4))
    full = landing_words(LANDING, change)
    assert "-3.2 m/s of speed, -8 % of lift, +4 deg/s of pitch" in full
    live: Phase = replace(LANDING, crow_live=True)
    assert "live in landing" in landing_words(live, change)
    for text in (plain, full, landing_words(live)):
        assert text.endswith("Your decision.")
