"""Height of a pull-out and of the line before it: circular arc and quadratic drag by hand, and by marching."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.air import G0
from evenfall.errors import ValueRangeError
from evenfall.lines.pull_out import DECIDE, RESERVE, entry_height, pull_out_height, settling_length

DOWN, DIAGONAL = math.radians(-90), math.radians(-45)


@pytest.mark.published
def test_arc_by_hand() -> None:
    # R = V^2 / (g (n - 1)): 30 m/s at n = 4 turns on 900 / 29.42 = 30.59 m (kinematics of a circle, by hand).
    assert pull_out_height(30.0, DOWN) == pytest.approx(30.59, abs=0.01)
    assert pull_out_height(30.0, DIAGONAL) == pytest.approx(30.59 * (1 - math.sqrt(0.5)), abs=0.01)


@pytest.mark.invariant
def test_arc_is_not_less_than_a_marched_pull_out() -> None:
    # With lift n W the arc turns at (n - cos slope) g / V: tighter than n - 1 until the bottom.
    speed, load, slope, height, step = 25.0, 4.0, DOWN, 0.0, 1e-4
    while slope < 0:
        slope += (load - math.cos(slope)) * G0 / speed * step
        height -= speed * math.sin(slope) * step
    assert 0.8 * pull_out_height(speed, DOWN) < height <= pull_out_height(speed, DOWN)


@given(st.floats(5, 60), st.floats(0.0, 0.9), st.floats(-90, -20))
@pytest.mark.invariant
def test_settling_equals_a_march(speed: float, entry: float, slope_deg: float) -> None:
    slope = math.radians(slope_deg)
    v, s, step = entry * speed, 0.0, 2e-3
    sine = -math.sin(slope)
    while v < 0.95 * speed:
        middle = v + 0.5 * step * G0 * sine * (1 - (v / speed) ** 2)
        v += step * G0 * sine * (1 - (middle / speed) ** 2)
        s += middle * step
    assert s == pytest.approx(settling_length(speed, slope, entry=entry), abs=0.2 + 0.002 * speed**2 / G0)


@pytest.mark.limit
def test_fast_entry_needs_no_line() -> None:
    assert settling_length(25.0, DOWN, entry=1.0) == 0.0


def test_parts_add_up() -> None:
    found = entry_height(25.0, DOWN, figure=2.0)
    assert found.figure == pytest.approx(50.0)
    assert found.decide == pytest.approx(25.0 * DECIDE)
    assert found.total == pytest.approx(found.settle + found.figure + found.decide + found.pull_out + RESERVE)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("speed", "slope", "load"), [(0.0, DOWN, 4.0), (math.nan, DOWN, 4.0), (20.0, 0.1, 4.0), (20.0, DOWN, 1.0)]
)
def test_refused(speed: float, slope: float, load: float) -> None:
    with pytest.raises(ValueRangeError):
        pull_out_height(speed, slope, load_factor=load)
