"""A plan in one radio: rounding, exactness with enough points, what poorer radios lose, the plan as flown."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.radio.channels import CornerTravel, end_limits
from evenfall.radio.plan import Crow, Plan
from evenfall.radio.planfile import load_plan, plan_text
from evenfall.radio.radio_description import RadioDescription, usual_radio
from evenfall.radio.settings import Settings, as_flown, radio_settings

RADIO = usual_radio()
FINE = replace(RADIO, pulse_step=5e-8, share_step=1e-4, curve_points=20)
ELEVATOR = math.radians(30)


@dataclass(frozen=True, kw_only=True)
class StraightTravel:
    """A corner whose linkage is not known: angle in proportion to pulse.

    Args:
        corner: "upper_left" and so on.
        angle_at_full: surface angle at +100 %, rad, signed; 100 % lies `unit` s from `centre`.
        least, most: pulses it may be given, s.
    """

    corner: str
    angle_at_full: float
    centre: float = 1.5e-3
    unit: float = 4e-4
    least: float = 0.9e-3
    most: float = 2.1e-3

    @property
    def pulse_low(self) -> float:
        """Shortest pulse, s."""
        return self.least

    @property
    def pulse_high(self) -> float:
        """Longest pulse, s."""
        return self.most

    def surface(self, pulse: np.ndarray) -> np.ndarray:
        """Surface angle at pulses, rad: angle_at_full (pulse - centre) / unit."""
        return np.asarray((np.asarray(pulse, float) - self.centre) * (self.angle_at_full / self.unit))

    def pulse(self, surface: np.ndarray) -> np.ndarray:
        """Pulse for surface angles, s."""
        return np.asarray(self.centre + np.asarray(surface, float) * (self.unit / self.angle_at_full))

    def roll_pulse(self, throw: float) -> float:
        """Change of pulse at full right stick, s: left ailerons go down, right ones up."""
        return (1.0 if self.corner.endswith("left") else -1.0) * throw * self.unit / self.angle_at_full


def travels(**changes: float) -> dict[str, CornerTravel]:
    """Four corners whose right servos lie the other way round."""
    given = {"angle_at_full": math.radians(35), **changes}
    full = given.pop("angle_at_full")
    return {
        name: StraightTravel(corner=name, angle_at_full=full if name.endswith("left") else -full, **given)
        for name in CORNERS
    }


def solve(plan: Plan, radio: RadioDescription = RADIO, **changes: float) -> Settings:
    return radio_settings(plan, radio, travels(**changes), elevator_at_full=ELEVATOR)


def lost(settings: Settings) -> dict[str, float]:
    """The largest of each kind, degrees."""
    return {item.what: math.degrees(item.angle) for item in reversed(settings.lost)}


@pytest.mark.limit
def test_a_fine_radio_flies_the_plan_as_it_is(crow_plan: Plan) -> None:
    settings = solve(crow_plan, FINE)
    assert settings.status == "met"
    assert not settings.lost
    assert settings.crow_error < math.radians(0.05)
    flown = as_flown(crow_plan, settings)
    assert flown.crow is not None
    assert crow_plan.crow is not None
    assert flown.crow.upper == pytest.approx(crow_plan.crow.upper, abs=1e-4)
    assert flown.crow.lower == pytest.approx(crow_plan.crow.lower, abs=1e-4)
    assert flown.crow.threshold == pytest.approx(crow_plan.crow.threshold)
    assert flown.crow.elevator_share == pytest.approx(crow_plan.crow.elevator_share, abs=3e-4)
    sticks = np.linspace(0, 1, 101)
    assert flown.deployment(sticks) == pytest.approx(crow_plan.deployment(sticks), abs=1e-2)
    for one, other in zip(flown.phases, crow_plan.phases, strict=True):
        assert one.aileron == pytest.approx(other.aileron, abs=1e-4)
        assert one.crow_live == other.crow_live


def test_signs_and_shares_by_hand(crow_plan: Plan) -> None:
    settings = solve(crow_plan)
    upper, lower = settings.channels["upper_left"], settings.channels["lower_right"]
    assert upper.neutral == pytest.approx(1.5e-3)
    assert upper.centre_shift == 0.0
    assert upper.crow == pytest.approx(0.41)  # 14.5 of 35 deg at 100 %
    assert lower.crow == pytest.approx(0.41)  # up, and reversed
    assert settings.channels["lower_left"].crow == pytest.approx(-0.41)
    assert upper.roll["normal"] == pytest.approx(0.2)  # 7 of 35 deg
    assert upper.roll["snap"] == pytest.approx(0.47)
    assert lower.roll["normal"] == pytest.approx(0.2)  # stick right raises it, and it is reversed
    assert settings.sticks == pytest.approx((0.0, 0.08, 0.25, 0.45, 1.0))
    assert settings.elevator[0] == pytest.approx(-0.05)  # 1.45 of 30 deg, trailing edge up
    assert settings.mixes_needed == 5
    normal = next(phase for phase in settings.phases if phase.name == "normal")
    assert normal.at_half[0] == pytest.approx(0.5 - 0.375 * 0.3)


@pytest.mark.property
@given(st.data(), st.integers(2, 17), st.booleans(), st.sampled_from([0.001, 0.005, 0.01]), st.sampled_from([1, 2]))
def test_every_number_is_on_the_radios_grid_and_neutral_and_full_crow_stay(
    crow_plan: Plan,
    crows: st.SearchStrategy[Crow],
    data: st.DataObject,
    points: int,
    movable: bool,
    step: float,
    sides: int,
) -> None:
    plan = replace(crow_plan, crow=data.draw(crows))
    radio = replace(RADIO, curve_points=points, points_movable=movable, share_step=step, straight_sides=sides)  # type: ignore[arg-type]
    settings = solve(plan, radio)
    assert len(settings.sticks) <= max(points, 3)
    if not movable and points > 2:
        assert settings.sticks == pytest.approx(np.linspace(0, 1, points))
    for name, channel in settings.channels.items():
        for share in (*channel.curve, *channel.roll.values(), channel.end_low_share, channel.end_high_share):
            assert share / step == pytest.approx(round(share / step), abs=1e-6)
        assert channel.curve[-1] == 0.0
        assert channel.neutral_error == pytest.approx(0.0, abs=1e-12)
        wanted = plan.crow.upper if name.startswith("upper") else plan.crow.lower  # type: ignore[union-attr]
        assert channel.full == pytest.approx(wanted, abs=math.radians(35) * (step / 2 + radio.pulse_step / 4e-4))
    flown = as_flown(plan, settings)
    assert flown.crow is not None
    assert flown.deployment(0.0) == pytest.approx(1.0)
    assert flown.deployment(1.0) == 0.0
    # Predicted again: no further from the plan than was said. The flown deployment is the mean of the corners' shares
    # of their own full angle, so a corner's error counts by its share, and rounding of that full angle comes on top.
    assert plan.crow is not None
    sticks = np.array([stick for stick, _ in flown.crow.curve])
    error = np.abs(flown.deployment(sticks) * flown.crow.upper - plan.deployment(sticks) * plan.crow.upper)
    grain = math.radians(35) * (step / 2 + radio.pulse_step / 4e-4)
    said = max((c.crow_error + grain) / abs(c.full) for c in settings.channels.values()) * abs(plan.crow.upper)
    assert error.max() <= said + grain


@pytest.mark.invariant
def test_left_and_right_are_mirrored(crow_plan: Plan) -> None:
    settings = solve(crow_plan)
    for wing in ("upper", "lower"):
        left, right = settings.channels[f"{wing}_left"], settings.channels[f"{wing}_right"]
        assert left.full == pytest.approx(right.full, abs=1e-12)
        assert left.curve == pytest.approx([-share for share in right.curve])
        assert left.roll == pytest.approx(right.roll)


def test_more_points_never_follow_worse(crow_plan: Plan) -> None:
    bent = replace(
        crow_plan.crow,  # type: ignore[type-var]
        curve=((0.0, 1.0), (0.1, 0.98), (0.2, 0.8), (0.3, 0.45), (0.4, 0.1), (0.45, 0.0), (1.0, 0.0)),
    )
    plan = replace(crow_plan, crow=bent)
    fine = replace(FINE, share_step=1e-4)
    errors = [solve(plan, replace(fine, curve_points=points)).crow_error for points in range(3, 9)]
    assert all(after <= before + math.radians(0.06) for before, after in zip(errors, errors[1:], strict=False))
    assert errors[0] > math.radians(1)
    assert errors[-1] < math.radians(0.06)


def test_straight_mixes_lose_the_curve_and_say_how_much(crow_plan: Plan) -> None:
    two = solve(crow_plan, replace(RADIO, curve_points=2))
    assert two.straight
    assert two.status == "limited"
    assert len(two.sticks) == 3
    error = lost(two)["deployment curve"]
    one = solve(crow_plan, replace(RADIO, curve_points=2, straight_sides=1))
    assert one.sticks == (0.0, 1.0)
    assert lost(one)["deployment curve"] > error > 0.5
    assert "straight mixes and an offset only" in two.lost[0].text
    assert "over the whole stick" in one.lost[0].text
    # Best of all offsets: no other one is better, to the radio's steps.
    crow = crow_plan.crow
    assert crow is not None
    sticks = np.linspace(0, 1, 401)
    wanted = crow_plan.deployment(sticks)
    least = min(
        float(np.abs(np.clip(1 - sticks / offset, 0, None) - wanted).max()) for offset in np.linspace(0.05, 1, 96)
    )
    assert error == pytest.approx(math.degrees(least * crow.upper), abs=0.25)


def test_missing_mixes(crow_plan: Plan) -> None:
    four = solve(crow_plan, replace(RADIO, free_mixes=4))
    assert four.elevator == ()
    assert lost(four)["elevator"] == pytest.approx(1.45)
    flown = as_flown(crow_plan, four).crow
    assert flown is not None
    assert flown.elevator_share == 0.0
    three = solve(crow_plan, replace(RADIO, free_mixes=3))
    assert three.status == "none"
    assert "needs 4 free mixes" in three.lost[0].text
    assert as_flown(crow_plan, three).crow is None
    assert all(channel.crow == 0.0 and channel.curve == () for channel in three.channels.values())


def test_without_mixes_per_phase_crow_stays_live_and_the_switch_is_named(crow_plan: Plan) -> None:
    settings = solve(crow_plan, replace(RADIO, phase_mixes=False))
    (row,) = [item for item in settings.lost if item.what == "phase"]
    assert "take-off, landing" in row.text
    assert "crow-off switch" in row.text
    assert all(phase.crow_live for phase in as_flown(crow_plan, settings).phases)


def test_roll_boost_needs_a_share_that_follows(crow_plan: Plan) -> None:
    phases = tuple(replace(phase, roll_boost=0.3) for phase in crow_plan.phases)
    plan = replace(crow_plan, phases=phases)
    settings = solve(plan)
    assert lost(settings)["boost"] == pytest.approx(0.3 * 16.5)
    assert {phase.roll_boost for phase in as_flown(plan, settings).phases} == {0.0}
    able = solve(plan, replace(RADIO, share_follows=True))
    assert "boost" not in lost(able)
    assert {phase.roll_boost for phase in as_flown(plan, able).phases} == {0.3}


def test_a_neutral_off_centre_needs_a_shift(crow_plan: Plan) -> None:
    """Servos whose neutral lies 100 us up: shifted where the radio can, told in degrees where not."""
    able = solve(crow_plan, centre=1.6e-3)
    assert able.channels["upper_left"].centre_shift == pytest.approx(0.25)
    assert "neutral" not in lost(able)
    unable = solve(crow_plan, replace(RADIO, centre_shift=False), centre=1.6e-3)
    assert lost(unable)["neutral"] == pytest.approx(35 * 100 / 400)
    assert "shifts no centre" in unable.lost[0].text
    assert unable.channels["upper_left"].full == pytest.approx(math.radians(14.5), abs=math.radians(0.2))
    short = solve(crow_plan, replace(RADIO, shift_limit=0.2), centre=1.6e-3)
    assert lost(short)["neutral"] == pytest.approx(35 * 20 / 400)
    assert "80 us at most" in short.lost[0].text


def test_travel_that_ends_early_is_told(crow_plan: Plan) -> None:
    short = solve(crow_plan, least=1.4e-3, most=1.6e-3)
    found = lost(short)
    assert found["crow"] == pytest.approx(14.5 - 35 * 100 / 400, abs=0.1)
    assert found["roll"] == pytest.approx(16.5 - 35 * 100 / 400, abs=0.1)
    assert any("snap, spin" in item.text for item in short.lost)
    flown = as_flown(crow_plan, short)
    assert math.degrees(flown.throws.snap) == pytest.approx(8.75, abs=0.1)


@pytest.mark.property
@given(st.floats(0.9e-3, 1.4e-3), st.floats(1.6e-3, 2.1e-3), st.sampled_from([0.5, 1.0, 1.5]))
def test_end_limits_lie_inside_corner_and_radio(low: float, high: float, limit: float) -> None:
    radio = replace(RADIO, limit=limit)
    least, most = end_limits(radio, StraightTravel(corner="upper_left", angle_at_full=0.5, least=low, most=high))
    assert max(low, 1.5e-3 - limit * 4e-4) - 1e-12 <= least <= max(low, 1.5e-3 - limit * 4e-4) + 4.1e-6
    assert min(high, 1.5e-3 + limit * 4e-4) + 1e-12 >= most >= min(high, 1.5e-3 + limit * 4e-4) - 4.1e-6


def test_a_throttle_curve_keeps_to_the_points_there_are(crow_plan: Plan) -> None:
    curve = ((0.0, 0.0), (0.2, 0.05), (0.5, 0.3), (0.8, 0.7), (1.0, 1.0))
    plan = replace(crow_plan, motor=replace(crow_plan.motor, throttle_curve=curve))
    five = solve(plan)
    assert [value for point in five.throttle_curve for value in point] == pytest.approx(
        [value for point in curve for value in point], abs=0.0051
    )
    assert "throttle curve" not in lost(five)
    two = solve(plan, replace(RADIO, curve_points=2))
    assert two.throttle_curve == ((0.0, 0.0), (1.0, 1.0))
    assert "throttle curve" in lost(two)
    assert as_flown(plan, two).motor.throttle_curve == two.throttle_curve


def test_the_flown_plan_is_a_plan_file(tmp_path, biplane: Plane, crow_plan: Plan) -> None:  # type: ignore[no-untyped-def]
    for radio in (RADIO, replace(RADIO, curve_points=2), replace(RADIO, points_movable=False)):
        flown = as_flown(crow_plan, solve(crow_plan, radio))
        path = tmp_path / "flown.plan.toml"
        path.write_text(plan_text(flown), encoding="utf-8")
        assert plan_text(load_plan(path, biplane)) == plan_text(flown)


@pytest.mark.limit
def test_without_crow_there_are_throws_only(crow_plan: Plan) -> None:
    plan = replace(crow_plan, crow=None)
    settings = solve(plan)
    assert settings.status == "met"
    assert settings.sticks == ()
    assert settings.mixes_needed == 0
    assert as_flown(plan, settings).crow is None
    bare = radio_settings(crow_plan, RADIO, {}, elevator_at_full=ELEVATOR)
    assert bare.channels == {}
    assert as_flown(crow_plan, bare).crow == crow_plan.crow
    with pytest.raises(ValueRangeError, match="must be above 0"):
        radio_settings(plan, RADIO, {}, elevator_at_full=0.0)
