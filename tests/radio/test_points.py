"""Points of a curve: best of all choices, exact where they suffice, ends kept."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.radio.points import (
    Wanted,
    best_straight,
    best_values,
    chord_errors,
    even_knots,
    free_knots,
    straight_values,
    worst,
)


def bent(power: float, *, count: int = 21, foot: int = 12, weight: float = 1.0) -> Wanted:
    """A deployment that falls as a power of the way to the foot."""
    stick = np.linspace(0.0, 1.0, count)
    part = np.clip(stick / stick[foot], 0.0, 1.0)
    value = (1.0 - part**power)[None, :]
    return Wanted(stick=stick, value=value, weight=weight + 0 * value, foot=foot)


@pytest.mark.property
@given(st.floats(0.4, 3.0), st.integers(3, 6))
def test_free_points_are_the_best_of_all_choices(power: float, count: int) -> None:
    wanted = bent(power)
    errors = chord_errors(wanted)
    knots = free_knots(wanted, count, good=0.0)
    assert knots[0] == 0
    assert knots[-2:] == (wanted.foot, len(wanted.stick) - 1)
    assert len(knots) <= count
    found = max(errors[a, b] for a, b in itertools.pairwise(knots))
    least = min(
        max(errors[a, b] for a, b in itertools.pairwise((0, *inner, wanted.foot)))
        for inner in itertools.combinations(range(1, wanted.foot), count - 3)
    )
    assert found == pytest.approx(least, abs=1e-14)


@pytest.mark.property
@given(st.floats(0.4, 3.0), st.integers(3, 7), st.booleans())
def test_values_beat_those_on_the_curve_and_keep_the_ends(power: float, count: int, movable: bool) -> None:
    wanted = bent(power)
    knots = free_knots(wanted, count, good=0.0) if movable else even_knots(wanted, count)
    values = best_values(wanted, knots)
    on_curve = wanted.value[:, list(knots)]
    assert worst(wanted, knots, values) <= worst(wanted, knots, on_curve) + 1e-12
    assert values[0, 0] == pytest.approx(1.0)
    assert values[0, -1] == 0.0
    assert np.all(np.diff(values[0]) <= 1e-15)


@pytest.mark.limit
def test_a_curve_with_few_corners_is_met_exactly_with_no_point_wasted() -> None:
    stick = np.linspace(0.0, 1.0, 101)
    value = np.interp(stick, [0, 0.08, 0.25, 0.45, 1.0], [1, 1, 0.4, 0, 0])[None, :]
    wanted = Wanted(stick=stick, value=value, weight=np.ones_like(value), foot=45)
    knots = free_knots(wanted, 9, good=1e-9)
    assert [stick[knot] for knot in knots] == pytest.approx([0, 0.08, 0.25, 0.45, 1])
    assert worst(wanted, knots, best_values(wanted, knots)) < 1e-9


def test_a_foot_at_the_end_and_one_near_the_start() -> None:
    whole = bent(2.0, foot=20)
    assert free_knots(whole, 4, good=0.0)[-1] == 20
    assert len(free_knots(whole, 4, good=0.0)) == 4
    near = bent(2.0, foot=1)
    assert free_knots(near, 5, good=0.0) == (0, 1, 20)


@pytest.mark.property
@given(st.floats(0.4, 3.0))
def test_the_straight_version_is_the_best_offset(power: float) -> None:
    wanted = bent(power)
    knots = best_straight(wanted)
    here = worst(wanted, knots, straight_values(wanted, knots))
    for offset in range(1, 20):
        other = (0, offset, 20)
        assert here <= worst(wanted, other, straight_values(wanted, other)) + 1e-12
    if power == 1.0:
        assert here < 1e-12


@pytest.mark.limit
def test_a_straight_curve_needs_no_more_than_a_straight_mix() -> None:
    wanted = bent(1.0)
    assert best_straight(wanted) == (0, 12, 20)
    assert free_knots(wanted, 8, good=1e-9) == (0, 12, 20)


def test_errors_of_rows_are_weighed_together() -> None:
    one, two = bent(2.0), bent(0.6)
    both = Wanted(
        stick=one.stick,
        value=np.vstack([one.value, two.value]),
        weight=np.vstack([one.weight, 1e-9 * two.weight]),
        foot=one.foot,
    )
    assert free_knots(both, 5, good=0.0) == free_knots(one, 5, good=0.0)
