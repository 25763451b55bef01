"""A fitted corner: limits, roll retention and snap throw of the mirror offset, pulses, play, words."""

import math

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.linkage.corner import (
    CAUSES,
    Corner,
    corner_limits,
    corner_words,
    mean_throw,
    play,
    retention,
    roll_retention,
    turn_for_mean,
)
from evenfall.linkage.fourbar import FourBar, with_offset

rad = math.radians
K = 0.44599  # arm/horn of the mirror offset, CHECKS value .4460


def long_rod(offset_deg: float, stop_deg: float, **more: object) -> Corner:
    bar = FourBar(arm=K * 0.02, horn=0.02, rod=1.0, distance=2000.0, horn_above=True)
    fields = {"crow": rad(16), "stop_low": rad(stop_deg), "stop_high": rad(stop_deg)} | more
    return Corner(name="lower_left", bar=with_offset(bar, rad(offset_deg)), **fields)


def snap_throws(corner: Corner) -> tuple[float, float]:
    """Mean of up and down for the turn the nearer stop allows, stowed and deployed, deg."""
    limits = corner_limits(corner)
    found = []
    for at in (corner.neutral, corner.deployed):
        room = min(at - limits.low, limits.high - at)
        found.append(math.degrees(mean_throw(corner.bar, at, room, low=limits.low, high=limits.high)))
    return found[0], found[1]


@pytest.mark.published
def test_mirror_offset_snap_throw() -> None:
    # Long-rod law, computed twice: end stops +-62 deg about square: 17.15 stowed, 17.71 deployed; +-60: 16.50, 17.05;
    # +-40: only 9.1 to 9.5 deg left.
    assert snap_throws(long_rod(-18, 62)) == pytest.approx((17.15, 17.71), abs=6e-3)
    assert snap_throws(long_rod(-18, 60)) == pytest.approx((16.50, 17.05), abs=6e-3)
    short = snap_throws(long_rod(-18, 40))
    assert short == pytest.approx((9.14, 9.50), abs=6e-3)
    corner = long_rod(-18, 62)
    assert math.degrees(corner.deployed) == pytest.approx(18.0, abs=2e-3)
    limits = corner_limits(corner)
    assert (corner.deployed - corner.neutral) / (limits.high - corner.neutral) == pytest.approx(0.45, abs=5e-4)
    assert CAUSES[int(limits.low_cause)] == CAUSES[int(limits.high_cause)] == "servo stop"


@pytest.mark.published
@pytest.mark.parametrize(("stop", "kept"), [(45, 0.617), (50, 0.731), (60, 0.815)])
def test_without_offset_roll_is_lost(stop: float, kept: float) -> None:
    # Long-rod law, computed twice: 7 deg of roll, same k without offset.
    assert roll_retention(long_rod(0, stop), rad(7)).retention == pytest.approx(kept, abs=5e-4)


@pytest.mark.limit
def test_no_crow_keeps_everything() -> None:
    assert roll_retention(long_rod(-18, 60, crow=0.0), rad(7)).retention == pytest.approx(1.0, abs=1e-9)


@pytest.mark.invariant
def test_plane_retention_is_the_mean_of_its_corners() -> None:
    with_, without = long_rod(-18, 60), long_rod(0, 60)
    each = [roll_retention(c, rad(7)).retention for c in (with_, without)]
    assert retention((with_, without), rad(7)) == pytest.approx(sum(each) / 2)


@pytest.mark.invariant
def test_horn_below_and_crow_up_is_the_same_linkage_seen_from_below() -> None:
    above = long_rod(-18, 60)
    bar = FourBar(arm=K * 0.02, horn=0.02, rod=1.0, distance=2000.0)
    below = Corner(
        name="upper_left", bar=with_offset(bar, rad(-18)), crow=rad(-16), stop_low=rad(60), stop_high=rad(60)
    )
    assert roll_retention(below, rad(7)).retention == pytest.approx(roll_retention(above, rad(7)).retention, abs=1e-9)


@pytest.mark.property
def test_turn_for_mean_is_undone_by_mean_throw() -> None:
    corner = long_rod(-18, 60)
    ends = {"low": -1.5, "high": 1.5}
    wanted = np.radians(np.linspace(1, 15, 8))
    turn = turn_for_mean(corner.bar, corner.neutral, wanted, **ends)
    assert np.allclose(mean_throw(corner.bar, corner.neutral, turn, **ends), wanted, atol=1e-10)


@pytest.mark.property
def test_pulse_round_trip_and_direction() -> None:
    corner = long_rod(-18, 60, direction=-1, centre=rad(-14.4))
    servo = np.radians([-50.0, -18.0, 40.0])
    assert np.allclose(corner.servo_of_pulse(corner.pulse(servo)), servo, atol=1e-12)
    # [CP] about 10 us per degree: 3.6 deg beyond the centre's arm angle, pulling, is 36 us longer when mirrored
    assert corner.pulse(rad(-18)) == pytest.approx(1.536e-3, abs=1e-9)


@pytest.mark.limit
def test_each_limit_can_be_the_nearest() -> None:
    assert CAUSES[int(corner_limits(long_rod(-18, 60, hinge_down=rad(20))).high_cause)] == "hinge limit"
    assert CAUSES[int(corner_limits(long_rod(-18, 60, contact_down=rad(15))).high_cause)] == "surface contact"
    wide = corner_limits(long_rod(-18, 85))
    assert CAUSES[int(wide.low_cause)] == "over-centre"
    assert math.degrees(wide.low) == pytest.approx(-80.0, abs=0.01)  # dead point of a long rod at 90, 10 deg kept free


@pytest.mark.limit
def test_play_on_a_square_linkage() -> None:
    corner = long_rod(0, 60)
    found = play(corner, 0.0, pin_play=1e-4, gear_play=rad(0.5))
    # square: gain k, horn lever = horn radius; 1 us = .1 deg of servo
    assert found.slop == pytest.approx(K * rad(0.5) + 1e-4 / 0.02, rel=1e-6)
    assert found.resolution == pytest.approx(K * rad(0.1), rel=1e-6)
    assert found.hysteresis == pytest.approx(float(found.slop) + 2 * K * rad(0.1), rel=1e-6)


@pytest.mark.invariant
def test_signs_in_words() -> None:
    corner = long_rod(-18, 60)
    assert corner_words(corner) == (
        "stick right: lower left goes down",
        "crow out: lower left goes down",
        "longer pulse: lower left goes down",
    )
    turned = long_rod(-18, 60, direction=-1, crow=rad(-16), roll_sign=-1)
    assert [row.rsplit(" ", 1)[1] for row in corner_words(turned)] == ["up", "up", "up"]


@pytest.mark.outside
def test_a_corner_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueRangeError, match="stop_low"):
        long_rod(-18, -5)
    with pytest.raises(ValueRangeError, match="direction"):
        long_rod(-18, 60, direction=0)
    with pytest.raises(ValueRangeError, match="do not meet"):
        Corner(name="lower_left", bar=FourBar(arm=0.01, horn=0.02, rod=0.2, distance=0.06))
