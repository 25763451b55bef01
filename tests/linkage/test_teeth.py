"""Arm angles on the spline."""

import math

import pytest

from evenfall.errors import ValueRangeError
from evenfall.linkage.teeth import arm_settings, arm_step, tooth

deg = math.degrees


@pytest.mark.published
def test_steps() -> None:
    # 360/teeth: 24 teeth 15.0 deg, 25 teeth 14.4 deg; 25 teeth with a 4-arm horn 360/lcm(25, 4) = 3.6 deg.
    assert deg(tooth(24)) == pytest.approx(15.0)
    assert deg(tooth(25)) == pytest.approx(14.4)
    assert deg(arm_step(25, 4)) == pytest.approx(3.6)


@pytest.mark.published
def test_eighteen_degrees_with_four_arms_exactly() -> None:
    # 18 deg = 5 steps of 3.6 deg.
    found = [s for s in arm_settings(25, 4) if abs(deg(s.turn) - 18.0) < 1e-9]
    assert len(found) == 1
    assert found[0].teeth * 14.4 + found[0].arm * 90.0 == pytest.approx(18.0, abs=1e-9)
    assert "rod on arm" in found[0].words


@pytest.mark.limit
def test_half_tooth() -> None:
    assert deg(arm_step(25, 2)) == pytest.approx(7.2)  # two arms on an odd spline
    assert deg(arm_step(24, 2)) == pytest.approx(15.0)  # two arms on an even spline gain nothing
    assert deg(arm_step(24, 1, turn_over=True)) == pytest.approx(7.5)
    assert arm_step(25, 2, turn_over=True) == arm_step(25, 2)  # the half tooth is there already
    assert any("turned over" in s.words for s in arm_settings(24, 1, turn_over=True))


@pytest.mark.property
@pytest.mark.parametrize(("teeth", "arms", "over"), [(24, 1, False), (24, 4, True), (25, 4, False), (25, 6, True)])
def test_settings_are_even_and_reach_their_angle(teeth: int, arms: int, over: bool) -> None:
    step = arm_step(teeth, arms, turn_over=over)
    settings = arm_settings(teeth, arms, turn_over=over)
    assert [s.turn / step for s in settings] == pytest.approx([round(s.turn / step) for s in settings])
    assert len(settings) == 2 * int(math.radians(70) / step + 1e-9) + 1
    for s in settings:
        raw = s.teeth * tooth(teeth) + s.arm * 2 * math.pi / arms + (0.5 * tooth(teeth) if s.turned_over else 0.0)
        assert math.remainder(raw - s.turn, 2 * math.pi) == pytest.approx(0.0, abs=1e-9)
    assert next(s for s in settings if s.turn == 0).words == "arm as it is"


@pytest.mark.outside
def test_nonsense_is_refused() -> None:
    with pytest.raises(ValueRangeError, match="teeth"):
        tooth(0)
    with pytest.raises(ValueRangeError, match="arm"):
        arm_step(25, 0)
