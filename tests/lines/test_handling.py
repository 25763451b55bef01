"""Roll and load factor of a plane, and throws that give them on another."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.lines.handling import handling, matched_phases
from evenfall.radio.plan import present_plan
from evenfall.workflow import Ready


def test_the_same_plane_keeps_its_throws(ready: Callable[[str], Ready]) -> None:
    of = ready("biplane_124")
    found = handling(of.frame, speed=of.wanted)
    plan = present_plan(of.file.plane)
    phases, rows = matched_phases(plan, found, found, of.frame)
    for phase, before in zip(phases, plan.phases, strict=True):
        assert phase.aileron == pytest.approx(before.aileron, rel=1e-9)
        assert phase.elevator == pytest.approx(before.elevator, rel=1e-9)
        assert phase.rudder == before.rudder
    assert all(row.met for row in rows)


def test_matched_throws_give_the_same_answers(ready: Callable[[str], Ready]) -> None:
    one, two = ready("biplane_124"), ready("biplane_155")
    first, other = (handling(of.frame, speed=one.wanted) for of in (one, two))
    plan = present_plan(one.file.plane)
    phases, rows = matched_phases(plan, first, other, two.frame)
    normal = phases[[phase.kind for phase in phases].index("normal")]
    assert other.roll_at(normal.aileron) == pytest.approx(first.roll_at(plan.phase("normal").aileron), rel=1e-6)
    assert normal.elevator / other.elevator_per_g == pytest.approx(
        plan.phase("normal").elevator / first.elevator_per_g, rel=1e-6
    )
    assert {row.surface for row in rows} == {"aileron", "elevator", "rudder"}


def test_a_hinge_that_does_not_reach_is_said(ready: Callable[[str], Ready]) -> None:
    one = ready("biplane_124")
    found = handling(one.frame, speed=one.wanted)
    slow = replace(found, roll=0.3 * found.roll)
    plan = present_plan(one.file.plane)
    phases, rows = matched_phases(plan, found, slow, one.frame)
    row = next(row for row in rows if row.surface == "aileron" and row.phase == plan.phase("snap").name)
    assert not row.met
    assert row.other == slow.throw[-1]
    assert max(phase.aileron for phase in phases) == slow.throw[-1]


def test_elevator_for_a_g_goes_with_the_margin_and_falls_with_speed(ready: Callable[[str], Ready]) -> None:
    """At twice the speed a g is a quarter of the lift coefficient and a quarter of the elevator, but for the damping
    by the pitch rate, which goes with 1/V^2 as well."""
    one = ready("biplane_124")
    slow, fast = (handling(one.frame, speed=speed) for speed in (15.0, 30.0))
    assert slow.elevator_per_g / fast.elevator_per_g == pytest.approx(4.0, rel=0.15)
    assert slow.greatest_load is not None
    lift = one.frame.plane.mass.all_up * 9.80665 * slow.greatest_load
    top = lift / (0.5 * one.air.density * 15.0**2 * one.file.plane.wing_area)
    assert 0.8 < top < 1.5
    assert np.all(np.diff(slow.roll) > 0)
    assert math.degrees(fast.roll_at(math.radians(7))) > 1.7 * math.degrees(slow.roll_at(math.radians(7)))
