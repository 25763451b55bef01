"""Changes of a plan by hand: each does what it says, keeps the rest, fits the corners anew or is refused in words."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenfall.errors import InputError, ValueRangeError
from evenfall.lines.refit import squared
from evenfall.lines.throws import fitted_corner, fitted_corners, roll_turn
from evenfall.plane.airframe import Plane
from evenfall.plane.files import load_plane, parse_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Plan, present_plan
from evenfall.radio.planfile import parse_plan, plan_text
from evenfall.sheet.plan_edit import apply_changes
from evenfall.sheet.plan_view import CornerChanges, PhaseChanges, PlanChanges

GOLDEN = Path(__file__).parents[2] / "web" / "src" / "lib" / "kinematics" / "golden.json"
PLANES = {name: load_plane(demo_path(name)).plane for name in ("biplane_124", "monoplane_160")}
TEXTS = json.loads(GOLDEN.read_text(encoding="utf-8"))["plans"]
PLANE = PLANES["biplane_124"]
PLAN = parse_plan(TEXTS["biplane_124"], PLANE)
CROW = PLAN.crow
assert CROW is not None


def changed(plan: Plan = PLAN, plane: Plane = PLANE, **changes: object) -> Plan:
    return apply_changes(plan, PlanChanges.model_validate(changes), plane)


def reread(plan: Plan, plane: Plane = PLANE) -> Plan:
    """The plan through its file: whatever a change gives can be written and read."""
    return parse_plan(plan_text(plan), plane)


@pytest.mark.limit
def test_no_change_changes_nothing() -> None:
    assert changed() == PLAN
    assert changed(present_plan(PLANE)) == present_plan(PLANE)


# --- crow ------------------------------------------------------------------------------------------------------------


@pytest.mark.invariant
def test_the_angle_scales_both_wings_and_keeps_their_split() -> None:
    uneven = changed(upper_deg=math.degrees(CROW.upper) / 2)
    assert uneven.crow is not None
    new = changed(uneven, angle_deg=10)
    assert new.crow is not None
    assert new.crow.angle == pytest.approx(math.radians(10))
    assert new.crow.upper / new.crow.lower == pytest.approx(uneven.crow.upper / uneven.crow.lower)
    assert new.crow.curve == CROW.curve
    assert reread(new).crow is not None


@pytest.mark.invariant
def test_a_new_arrangement_keeps_the_sizes_and_turns_the_elevator_only_where_both_wings_turn() -> None:
    for arrangement, signs, share in (
        ("up/down", (-1, 1), None), ("down/up", (1, -1), None), ("both up", (-1, -1), CROW.elevator_share)
    ):  # fmt: skip
        new = changed(arrangement=arrangement, angle_deg=12).crow
        assert new is not None
        sizes = (abs(CROW.upper), abs(CROW.lower))
        wanted = [sign * math.radians(12) * size / max(sizes) for sign, size in zip(signs, sizes, strict=True)]
        assert [new.upper, new.lower] == pytest.approx(wanted)
        if share is None:
            same = arrangement == CROW.arrangement
            share = CROW.elevator_share if same else -CROW.elevator_share
        assert new.elevator_share == pytest.approx(share)


@pytest.mark.property
@settings(deadline=None, max_examples=40)
@given(st.floats(5, 100), st.floats(0, 1))
def test_a_new_threshold_stretches_the_curve_and_keeps_its_shape(threshold: float, part: float) -> None:
    new = apply_changes(replace(PLAN, corners={}), PlanChanges(threshold_percent=threshold), PLANE).crow
    assert new is not None
    assert new.threshold == pytest.approx(threshold / 100)
    stretched = float(new.deployment(part * new.threshold))
    assert stretched == pytest.approx(float(CROW.deployment(part * CROW.threshold)), abs=1e-9)
    assert float(new.deployment(1.0)) == 0.0
    assert float(new.deployment(min(1.0, new.threshold + 0.01))) <= 1e-9


@pytest.mark.invariant
def test_a_curve_brings_its_own_threshold() -> None:
    new = changed(curve=((0, 100), (20, 40), (35, 0), (100, 0)))
    assert new.crow is not None
    assert new.crow.threshold == pytest.approx(0.35)
    assert reread(new).crow is not None
    both = changed(curve=((0, 100), (50, 0), (100, 0)), threshold_percent=25).crow
    assert both is not None
    assert both.curve == ((0.0, 1.0), (0.25, 0.0), (1.0, 0.0))


@pytest.mark.limit
def test_crow_given_to_a_plan_without_starts_small_and_straight() -> None:
    for name, plane in PLANES.items():
        new = changed(present_plan(plane), plane, crow=True).crow
        assert new is not None
        assert new.angle == pytest.approx(math.radians(10))
        assert new.threshold == 0.3
        assert new.curve == ((0.0, 1.0), (0.3, 0.0), (1.0, 0.0))
        there = [wing for wing in ("upper", "lower") if getattr(new, wing) != 0]
        assert there == [wing for wing, one in plane.wings.items() if one.aileron is not None], name
    assert changed(crow=False).crow is None


@pytest.mark.outside
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"angle_deg": 55}, "allowed is 0 to 40.0 deg"),
        ({"upper_deg": -5 if CROW.upper > 0 else 5}, "is against"),
        ({"upper_deg": 5, "angle_deg": 5}, "alone"),
        ({"threshold_percent": 2}, "allowed is 5 to 100 %"),
        ({"curve": ((0, 50), (50, 100), (100, 0))}, "never rise"),
        ({"curve": ((0, 100), (50, 20), (100, 20))}, "come down to 0"),
        ({"curve": ((50, 100), (20, 0), (100, 0))}, "must rise from point to point"),
        ({"crow": False, "angle_deg": 5}, "at once"),
        ({"level": "33"}, "the controller has 0, 25, 50, 75, 100"),
        ({"throttle_curve": ((0, 50), (100, 20))}, "never fall"),
        ({"phases": {"speed": {}}}, "there are take-off, normal, snap, spin, landing"),
        ({"phases": {"normal": {"elevator_deg": 50}}}, "allowed is 0 to 30.0 deg"),
        ({"phases": {"normal": {"rudder_deg": 50}}}, "allowed is 0 to 35.0 deg"),
        ({"phases": {"normal": {"aileron_deg": 0}}}, "leaves no roll"),
        ({"phases": {"normal": {"aileron_exponential_percent": -20}}}, "allowed is 0 to 100 %"),
        ({"corners": {"middle": {}}}, "has upper_left, upper_right, lower_left, lower_right"),
        ({"corners": {"upper_left": {"arm_hole_mm": 9.3}}}, "the plane file has"),
        ({"corners": {"upper_left": {"arm": 8}}}, "the servo horn has"),
        ({"corners": {"upper_left": {"teeth": 12}}}, "allowed is 85 deg either way"),
    ],
)
def test_refusals_say_what_is_allowed(changes: dict[str, object], words: str) -> None:
    with pytest.raises(InputError) as caught:
        changed(**changes)
    assert words in str(caught.value)


@pytest.mark.outside
def test_a_plan_without_crow_refuses_its_settings_and_a_plane_without_ailerons_refuses_crow() -> None:
    with pytest.raises(InputError, match="no crow, so angle_deg cannot be set"):
        changed(present_plan(PLANE), angle_deg=5)
    upper, lower = PLANE.upper, PLANE.lower
    assert upper is not None
    assert lower is not None
    bare = replace(PLANE, upper=replace(upper, aileron=None), lower=replace(lower, aileron=None))
    with pytest.raises(InputError, match="no ailerons"):
        changed(present_plan(bare), bare, crow=True)
    one = PLANES["monoplane_160"]
    with_crow = changed(present_plan(one), one, crow=True)
    with pytest.raises(ValueRangeError, match="both up, both down"):
        changed(with_crow, one, arrangement="up/down")


@pytest.mark.outside
def test_what_cannot_assemble_is_refused_with_the_reason() -> None:
    text = demo_path("biplane_124").read_text()
    far = parse_plane(text.replace("horn_holes_mm = [14.0, 17.0, 20.0]", "horn_holes_mm = [5.0, 14.0, 17.0, 20.0]"))
    with pytest.raises(ValueRangeError, match=r"upper left: .*"):
        changed(PLAN, far.plane, corners={"upper_left": {"horn_hole_mm": 5.0, "teeth": -3}}, angle_deg=39)


# --- motor, phases, corners ------------------------------------------------------------------------------------------


@pytest.mark.invariant
def test_level_throttle_curve_and_phases_are_set_and_the_rest_is_kept() -> None:
    new = changed(
        level="75",
        throttle_curve=((0, 0), (50, 40), (100, 100)),
        elevator_share=0.25,
        phases={"normal": PhaseChanges(aileron_deg=9, roll_boost_percent=20), "landing": PhaseChanges(crow_live=True)},
    )
    assert (new.motor.level, new.motor.percent) == ("75", 75.0)
    assert new.motor.throttle_curve[1] == (0.5, 0.4)
    assert new.named("normal").aileron == pytest.approx(math.radians(9))
    assert new.named("normal").roll_boost == 0.2
    assert new.named("normal").elevator == PLAN.named("normal").elevator
    assert new.named("landing").crow_live
    assert new.named("snap") == PLAN.named("snap")
    assert new.crow == replace(CROW, elevator_share=0.25)
    assert new.computed_from == PLAN.computed_from


@pytest.mark.invariant
def test_pulses_and_turns_follow_crow_and_throws() -> None:
    new = changed(angle_deg=8, phases={"normal": {"aileron_deg": 5}})
    for name, setup in new.corners.items():
        corner = fitted_corner(PLANE, new, name)
        assert setup.pulse_deployed == pytest.approx(float(corner.pulse(corner.deployed)), abs=1e-12)
        assert float(corner.throw(corner.servo_of_pulse(setup.pulse_deployed))) == pytest.approx(corner.crow, abs=1e-9)
        assert setup.normal_turn == pytest.approx(roll_turn(corner, math.radians(5)))
        old = PLAN.corners[name]
        assert (setup.offset, setup.teeth, setup.arm_hole) == (old.offset, old.teeth, old.arm_hole)
        assert abs(setup.pulse_deployed - old.pulse_deployed) > 50e-6
        assert setup.normal_turn < old.normal_turn


@pytest.mark.invariant
def test_a_tooth_moves_the_offset_by_a_tooth_and_a_shift_moves_it_back() -> None:
    servo = PLANE.aileron_servo
    assert servo is not None
    old = PLAN.corners["lower_left"]
    one = changed(corners={"lower_left": CornerChanges(teeth=old.teeth + 1)}).corners["lower_left"]
    tooth = 2 * math.pi / servo.spline_teeth
    assert one.offset - old.offset == pytest.approx(tooth)
    assert one.pulse_neutral == pytest.approx(old.pulse_neutral, abs=1e-9)
    way = fitted_corner(PLANE, PLAN, "lower_left").direction
    back = -way * tooth / servo.gain
    moved = changed(corners={"lower_left": CornerChanges(teeth=old.teeth + 1, shift_us=1e6 * (old.shift + back))})
    assert moved.corners["lower_left"].offset == pytest.approx(old.offset)
    assert moved.corners["lower_left"].pulse_neutral == pytest.approx(old.pulse_neutral + back, abs=1e-9)
    assert moved.corners["lower_left"].shift_means == "radio"
    assert moved.corners["upper_left"] == changed(angle_deg=math.degrees(CROW.angle)).corners["upper_left"]


@pytest.mark.invariant
def test_a_hole_changes_the_turn_for_the_same_throw() -> None:
    linkage = PLANE.aileron_linkage["upper_left"]
    old = PLAN.corners["upper_left"]
    other = next(hole for hole in linkage.arm_holes if abs(hole - old.arm_hole) > 1e-3)
    new = changed(corners={"upper_left": {"arm_hole_mm": 1e3 * other}}).corners["upper_left"]
    assert new.arm_hole == pytest.approx(other)
    assert (new.normal_turn < old.normal_turn) == (other > old.arm_hole)
    assert new.offset == old.offset


@pytest.mark.limit
def test_a_corner_the_plan_said_nothing_about_starts_as_it_stands() -> None:
    plan = changed(present_plan(PLANE), corners={"upper_left": {"teeth": 0}})
    assert list(plan.corners) == ["upper_left"]
    there = fitted_corner(PLANE, present_plan(PLANE), "upper_left")
    assert plan.corners["upper_left"].offset == pytest.approx(there.neutral)
    assert plan.corners["upper_left"].pulse_neutral == pytest.approx(1.5e-3)


@pytest.mark.limit
def test_squared_arms_stand_square_at_the_centre_pulse() -> None:
    for corner in fitted_corners(PLANE, squared(PLANE, PLAN)).values():
        assert corner.neutral == pytest.approx(0.0, abs=1e-9)
        assert corner.centre == pytest.approx(0.0, abs=1e-9)


@pytest.mark.property
@settings(deadline=None, max_examples=25)
@given(
    angle=st.floats(0.5, 20), threshold=st.floats(15, 70), aileron=st.floats(1, 12),
    arrangement=st.sampled_from(["up/down", "down/up", "both up", "both down"]),
)  # fmt: skip
def test_whatever_is_accepted_can_be_written_and_read(
    angle: float, threshold: float, aileron: float, arrangement: str
) -> None:
    try:
        new = changed(
            angle_deg=angle,
            threshold_percent=threshold,
            arrangement=arrangement,
            phases={"normal": {"aileron_deg": aileron}},
        )
    except InputError as error:
        assert "reach" in str(error) or "pulse" in str(error) or "meet" in str(error)
        return
    again = reread(new)
    assert again.crow is not None
    assert again.crow.angle == pytest.approx(math.radians(angle), abs=1e-4)
    assert plan_text(again).split("[seal]")[0] == plan_text(new).split("[seal]")[0]
