"""The demo planes' linkages, read from their files, end in a plan; other holes give another one."""

import math
from dataclasses import replace

import numpy as np
import pytest

from evenfall.linkage.budget import PhaseUse, travel_budget
from evenfall.linkage.candidate import OffsetTask
from evenfall.linkage.corner import Corner, commanded, corner_limits, retention
from evenfall.linkage.fitted import budget_choices, corner_as_measured, offset_task, proof_kit
from evenfall.linkage.offset import solve_plane
from evenfall.plane.controls import Linkage, Servo
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path

rad, deg = math.radians, math.degrees

SERVO = Servo(
    torque=0.25,
    supply_voltage=6.0,
    speed=13.0,
    spline_teeth=25,
    horn_arms=4,
    gain=rad(0.1) / 1e-6,
    travel=rad(62),
    pulse_low=0.95e-3,
    pulse_high=2.2e-3,
)
LINKAGE = Linkage(arm=0.010, horn=0.020, rod=0.061, axis_distance=0.06)


def tasks(name: str, upper_deg: float, lower_deg: float, **more: object) -> dict[str, OffsetTask]:
    plane = load_plane(demo_path(name)).plane
    assert plane.aileron_servo is not None
    found = {}
    for corner, linkage in plane.aileron_linkage.items():
        aileron = plane.wings[corner.split("_")[0]].aileron
        assert aileron is not None
        crow = rad(upper_deg if corner.startswith("upper") else lower_deg)
        limits = {"throw_up": aileron.throw_up, "throw_down": aileron.throw_down}
        one = corner_as_measured(corner, plane.aileron_servo, linkage, crow=crow, **limits)
        found[corner] = offset_task(one, plane.aileron_servo, linkage, **more)
    return found


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("crow_deg", [11.0, 16.0])
def test_demos_keep_their_roll_and_have_their_snap(name: str, crow_deg: float) -> None:
    given = tasks(name, -crow_deg, crow_deg)
    result = solve_plane(given)
    assert result.status == "met", result.reason
    assert abs(result.retention - 1) <= 0.05
    corners = tuple(r.best.corner for r in result.corners.values() if r.best is not None)
    assert retention(corners, rad(7)) == pytest.approx(result.retention, abs=1e-9)
    as_it_is = retention(tuple(task.corner for task in given.values()), rad(7))
    assert as_it_is < result.retention  # the demos stand near square


@pytest.mark.invariant
def test_small_demo_answer_follows_the_holes() -> None:
    given = tasks("biplane_124", -14, 14)
    first = solve_plane(given).corners["lower_left"].best
    other = {
        name: replace(task, arm_holes=task.arm_holes[-1:], horn_holes=task.horn_holes[:1])
        for name, task in given.items()
    }
    second = solve_plane(other).corners["lower_left"].best
    assert first is not None
    assert second is not None
    assert (first.corner.bar.arm, first.corner.bar.horn) != (second.corner.bar.arm, second.corner.bar.horn)
    assert abs(first.offset - second.offset) > rad(2)


@pytest.mark.invariant
def test_mirrored_and_reversed_turn_the_pulse() -> None:
    fields = {"crow": rad(16), "throw_up": rad(40), "throw_down": rad(40)}
    plain = corner_as_measured("lower_left", SERVO, LINKAGE, **fields)
    mirrored = corner_as_measured("lower_right", SERVO, replace(LINKAGE, mirrored=True), **fields)
    both = corner_as_measured("lower_right", SERVO, replace(LINKAGE, mirrored=True, reversed=True), **fields)
    assert (plain.direction, mirrored.direction, both.direction) == (1, -1, 1)
    assert (plain.roll_sign, mirrored.roll_sign) == (1, -1)
    # pulses 950 to 2200 us at .1 deg/us: 55 deg shorter, 62 (the travel) longer
    assert (deg(plain.stop_low), deg(plain.stop_high)) == pytest.approx((55.0, 62.0))
    assert (deg(mirrored.stop_low), deg(mirrored.stop_high)) == pytest.approx((62.0, 55.0))
    assert float(plain.pulse(plain.neutral)) == pytest.approx(1.5e-3)


@pytest.mark.invariant
def test_surface_angle_has_crow_and_roll_with_their_signs() -> None:
    left: Corner = corner_as_measured("lower_left", SERVO, LINKAGE, crow=rad(16), throw_up=rad(25), throw_down=rad(25))
    right = replace(left, name="lower_right", roll_sign=-1)
    turn = rad(15)

    def angle(corner: Corner, deployment: float, stick: float) -> float:
        return float(corner.throw(commanded(corner, deployment, stick, turn=turn)))

    assert angle(left, 1.0, 0.0) == pytest.approx(rad(16), abs=1e-9)
    assert angle(left, 0.0, 1.0) > 0 > angle(right, 0.0, 1.0)
    limits = corner_limits(left)
    ends = [float(left.throw(end)) for end in (limits.low, limits.high)]
    assert max(ends) == pytest.approx(rad(25), abs=1e-9)  # the hinge limit
    assert limits.low_cause in (0, 2)
    assert np.all(np.diff(commanded(left, np.linspace(0, 1, 5), 0.0, turn=turn)) * left.bar.sense > 0)


@pytest.mark.invariant
def test_plan_of_the_small_demo_has_a_travel_budget_that_closes() -> None:
    plane = load_plane(demo_path("biplane_124")).plane
    assert plane.aileron_servo is not None
    result = solve_plane(tasks("biplane_124", -14, 14))
    corners = tuple(r.best.corner for r in result.corners.values() if r.best is not None)
    choices = {n: budget_choices(plane.aileron_servo, link) for n, link in plane.aileron_linkage.items()}
    phases = (
        PhaseUse(name="normal", crow=True, roll=rad(7), trim=rad(0.5)),
        PhaseUse(name="snap", crow=True, roll=rad(16.5)),
        PhaseUse(name="landing", crow=False, roll=rad(10)),
    )
    budget = travel_budget(corners, phases, choices=choices)
    assert budget.closes, budget.text
    wild = travel_budget(corners, (PhaseUse(name="snap", crow=True, roll=rad(24)),), choices=choices)
    assert not wild.closes
    assert wild.cures
    kit = proof_kit(plane.aileron_servo, plane.aileron_linkage["upper_left"])
    assert kit.spline_teeth == plane.aileron_servo.spline_teeth
