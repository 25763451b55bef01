"""Plan and linkage together: corners as the plan fits them, pulses and angles there and back, the radio's version."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall import workflow
from evenfall.errors import ValueRangeError
from evenfall.lines.throws import (
    LinkedTravel,
    centre_shift,
    corner_travels,
    fitted_corner,
    fitted_corners,
    linkage_retention,
    phase_uses,
    real_angles,
    roll_turn,
    setup_as_measured,
)
from evenfall.linkage.budget import travel_budget
from evenfall.linkage.corner import corner_limits
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.mixer import Sticks, mix
from evenfall.radio.plan import Crow, Plan, present_plan
from evenfall.radio.planfile import load_plan, plan_text
from evenfall.radio.radio_description import usual_radio
from evenfall.radio.settings import as_flown, radio_settings


@pytest.fixture(scope="module")
def plane() -> Plane:
    return load_plane(demo_path("biplane_124")).plane


@pytest.fixture(scope="module")
def plan(plane: Plane) -> Plan:
    """Crow of 14.5 deg on linkages fitted by hand: lower arms 14.4 deg (one tooth) off square, shifted 36 us more."""
    crow = Crow(
        arrangement="up/down",
        upper=math.radians(-14.5),
        lower=math.radians(14.5),
        threshold=0.45,
        curve=((0.0, 1.0), (0.08, 1.0), (0.25, 0.4), (0.45, 0.0), (1.0, 0.0)),
        elevator_share=0.02,
    )
    bare = replace(present_plan(plane), crow=crow)
    corners = {}
    for name in CORNERS:
        sign = -1.0 if name.startswith("upper") else 1.0
        first = replace(
            setup_as_measured(plane, bare, name),
            horn_hole=0.017,
            teeth=round(sign),
            offset=sign * math.radians(18.0),
            shift=sign * 36e-6,
            shift_means="radio",
        )
        corner = fitted_corner(plane, replace(bare, corners={name: first}), name)
        corners[name] = replace(
            first,
            pulse_neutral=float(corner.pulse(corner.neutral)),
            pulse_deployed=float(corner.pulse(corner.deployed)),
            normal_turn=roll_turn(corner, bare.throws.normal),
            snap_turn=roll_turn(corner, bare.throws.snap),
        )
    return replace(bare, corners=corners)


def test_a_corner_stands_as_the_plan_fits_it(plane: Plane, plan: Plan) -> None:
    for name, corner in fitted_corners(plane, plan).items():
        setup = plan.corners[name]
        assert float(corner.bar.arm) == setup.arm_hole
        assert float(corner.bar.horn) == setup.horn_hole
        assert corner.neutral == pytest.approx(setup.offset, abs=1e-12)
        assert float(corner.pulse(corner.neutral)) == pytest.approx(1.5e-3 + setup.shift, abs=1e-12)
        assert float(corner.throw(corner.neutral)) == pytest.approx(0.0, abs=1e-9)
        # Ten microseconds a degree: 36 us are 3.6 deg, so the teeth make 14.4 of the 18 deg, one tooth of 25.
        assert math.degrees(corner.centre) == pytest.approx(math.copysign(14.4, setup.offset), abs=1e-6)


@pytest.mark.property
@given(st.sampled_from(CORNERS), st.floats(-0.35, 0.35), st.sampled_from(["radio", "servo"]))
def test_pulse_of_an_angle_gives_that_angle(plane: Plane, plan: Plan, name: str, angle: float, means: str) -> None:
    setups = {**plan.corners, name: replace(plan.corners[name], shift_means=means)}
    travel = corner_travels(plane, replace(plan, corners=setups))[name]
    pulse = float(travel.pulse(angle))
    if travel.pulse_low <= pulse <= travel.pulse_high:
        assert float(travel.surface(pulse)) == pytest.approx(angle, abs=1e-9)
    else:
        assert abs(float(travel.surface(pulse))) < abs(angle)


@pytest.mark.property
@given(st.floats(0, 1), st.floats(-1, 1), st.booleans(), st.sampled_from(["take-off", "normal", "snap", "spin"]))
def test_deployment_is_exact_and_roll_is_shared(
    plane: Plane, plan: Plan, throttle: float, aileron: float, switch: bool, name: str
) -> None:
    phase = plan.named(name)
    sticks = Sticks(throttle=throttle, aileron=aileron)
    told = mix(plane, plan, phase, sticks, crow_switch=switch)
    real = real_angles(plane, plan, phase, sticks, crow_switch=switch)
    level = real_angles(plane, plan, phase, Sticks(throttle=throttle), crow_switch=switch)
    straight = mix(plane, plan, phase, Sticks(throttle=throttle), crow_switch=switch)
    for corner in CORNERS:
        assert level[corner] == pytest.approx(float(straight.ailerons[corner]), abs=1e-9)
        # Through the linkage a throw is uneven, but never the other way round.
        assert (real[corner] - level[corner]) * (told.ailerons[corner] - straight.ailerons[corner]) >= -1e-12


@pytest.mark.invariant
@given(st.floats(0, 1), st.floats(-1, 1))
def test_left_and_right_are_mirrored_through_the_linkage(
    plane: Plane, plan: Plan, throttle: float, aileron: float
) -> None:
    phase = plan.named("snap")
    right = real_angles(plane, plan, phase, Sticks(throttle=throttle, aileron=aileron))
    left = real_angles(plane, plan, phase, Sticks(throttle=throttle, aileron=-aileron))
    for wing in ("upper", "lower"):
        assert right[f"{wing}_left"] == pytest.approx(float(left[f"{wing}_right"]), abs=1e-12)


def test_full_stick_stowed_gives_the_phases_throw(plane: Plane, plan: Plan) -> None:
    for phase in plan.phases:
        both = real_angles(plane, plan, phase, Sticks(throttle=1.0, aileron=np.array([-1.0, 1.0])))
        for angles in both.values():
            assert abs(angles[1] - angles[0]) / 2 == pytest.approx(phase.aileron, abs=1e-9)
    snap = replace(plan.named("snap"), roll_boost=0.2)
    plain = real_angles(plane, plan, plan.named("snap"), Sticks(throttle=0.0, aileron=0.4))["lower_left"]
    assert real_angles(plane, plan, snap, Sticks(throttle=0.0, aileron=0.4))["lower_left"] > plain


def test_pulses_of_angles(plane: Plane, plan: Plan) -> None:
    corners = fitted_corners(plane, plan)
    phase = plan.named("normal")
    angles = real_angles(plane, plan, phase, Sticks(throttle=np.array([1.0, 0.0])), corners=corners)
    pulses = {name: corner.pulse(corner.servo(angles[name])) for name, corner in corners.items()}
    for name, setup in plan.corners.items():
        assert pulses[name][0] == pytest.approx(setup.pulse_neutral, abs=1e-12)
        assert pulses[name][1] == pytest.approx(setup.pulse_deployed, abs=1e-12)


def test_the_offset_keeps_the_roll_and_other_holes_change_the_answer(plane: Plane, plan: Plan) -> None:
    kept = linkage_retention(plane, plan)
    square = {name: replace(setup, offset=0.0) for name, setup in plan.corners.items()}
    lost = linkage_retention(plane, replace(plan, corners=square))
    other = {name: replace(setup, horn_hole=0.020) for name, setup in plan.corners.items()}
    moved = linkage_retention(plane, replace(plan, corners=other))
    assert kept is not None
    assert lost is not None
    assert moved is not None
    assert lost < kept
    assert abs(moved - kept) > 1e-3


def test_phases_go_to_the_travel_budget(plane: Plane, plan: Plan) -> None:
    uses = phase_uses(plan, trim=math.radians(1))
    assert [use.crow for use in uses] == [phase.crow_live for phase in plan.phases]
    assert not any(use.crow for use in phase_uses(replace(plan, crow=None)))
    budget = travel_budget(tuple(fitted_corners(plane, plan).values()), uses)
    assert {share.phase for share in budget.shares} == {phase.name for phase in plan.phases}


def test_what_shifts_the_neutral_pulse_comes_from_the_radio(plane: Plane) -> None:
    servo = plane.aileron_servo
    assert servo is not None
    radio = usual_radio()
    shift = centre_shift(servo, radio)
    assert (shift.means, math.degrees(shift.limit)) == ("radio", pytest.approx(30.0))  # 300 us, 10 us a degree
    assert math.degrees(shift.step) == pytest.approx(0.1)
    assert centre_shift(servo, replace(radio, centre_shift=False)).means == "none"
    assert centre_shift(servo, None).means == "radio"


@pytest.mark.outside
def test_a_plane_without_linkages_does_what_it_is_told(plane: Plane, plan: Plan) -> None:
    bare = replace(plane, aileron_servo=None, aileron_linkage={})
    assert fitted_corners(bare, plan) == {}
    assert corner_travels(bare, plan) == {}
    assert linkage_retention(bare, plan) is None
    sticks, phase = Sticks(throttle=0.2, aileron=0.3), plan.named("normal")
    real, told = real_angles(bare, plan, phase, sticks), mix(bare, plan, phase, sticks).ailerons
    assert {name: float(angle) for name, angle in real.items()} == {name: float(a) for name, a in told.items()}
    with pytest.raises(ValueRangeError, match=r"upper left: no servo.*\[servo.aileron\]"):
        fitted_corner(bare, plan, "upper_left")


def test_end_limits_are_those_of_the_corner(plane: Plane, plan: Plan) -> None:
    for name, corner in fitted_corners(plane, plan).items():
        travel = LinkedTravel(corner=corner)
        limits = corner_limits(corner)
        ends = sorted(float(corner.pulse(end)) for end in (limits.low, limits.high))
        assert [travel.pulse_low, travel.pulse_high] == pytest.approx(ends), name


@pytest.mark.parametrize("name", DEMOS)
def test_tuned_demos_go_into_the_usual_radio_and_a_plan_file(  # type: ignore[no-untyped-def]
    tmp_path, tuned: Callable[[str], workflow.TuneAnswer], name: str
) -> None:
    answer = tuned(name)
    plane, made = answer.ready.file.plane, answer.tuned.plan
    assert made is not None
    path = tmp_path / "x.plan.toml"
    path.write_text(plan_text(made), encoding="utf-8")
    read = load_plan(path, plane)
    settings = radio_settings(read, usual_radio(), corner_travels(plane, read), elevator_at_full=plane.tail.elevator_up)
    assert settings.status != "none"
    assert not {item.what for item in settings.lost} & {"neutral", "crow", "elevator"}
    flown = as_flown(read, settings)
    assert flown.crow is not None
    assert read.crow is not None
    assert flown.crow.angle == pytest.approx(read.crow.angle, abs=math.radians(0.3))
    assert settings.crow_error < math.radians(2)
    for corner, fitted in fitted_corners(plane, read).items():
        if corner in read.corners:
            setup = read.corners[corner]
            assert float(fitted.pulse(fitted.neutral)) == pytest.approx(setup.pulse_neutral, abs=1e-7)
            assert float(fitted.pulse(fitted.deployed)) == pytest.approx(setup.pulse_deployed, abs=1e-6)


def test_the_reach_of_a_corner_is_that_of_its_linkage() -> None:
    """The angles at the limits, driven back through the inverse linkage, lie on the servo's limits."""
    from evenfall.lines.throws import corner_reaches, fitted_corners
    from evenfall.linkage.corner import corner_limits
    from evenfall.plane.files import load_plane
    from evenfall.plane.starter import demo_path
    from evenfall.radio.plan import present_plan

    plane = load_plane(demo_path("biplane_124")).plane
    corners = fitted_corners(plane, present_plan(plane))
    for name, reach in corner_reaches(plane).items():
        limits = corner_limits(corners[name])
        ends = sorted(float(corners[name].servo(angle)) for angle in (reach.low, reach.high))
        assert ends == pytest.approx([float(limits.low), float(limits.high)], abs=1e-6)
        assert reach.low < 0 < reach.high
        assert 0.2 < reach.gain < 1.0
