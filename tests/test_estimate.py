"""Estimates: root sum of squares, shares, refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.estimate import Estimate, combine, one_at_a_time

EFFECTS = st.dictionaries(st.text("abc", min_size=1, max_size=4), st.floats(-10, 10), min_size=1, max_size=8)


@pytest.mark.property
@given(EFFECTS)
def test_root_sum_of_squares(effects: dict[str, float]) -> None:
    found = combine(1.0, effects)
    assert found.spread == pytest.approx(math.sqrt(sum(e * e for e in effects.values())))
    assert sum(cause.share for cause in found.causes) <= 1 + 1e-9
    assert list(found.causes) == sorted(found.causes, key=lambda cause: -cause.share)
    assert len(found.causes) <= 3


@pytest.mark.limit
def test_no_effects_no_spread() -> None:
    assert combine(5.0, {}) == Estimate(value=5.0, spread=0.0)
    assert combine(5.0, {"a": 0.0}).causes == ()


@pytest.mark.outside
def test_effects_without_answer_are_refused() -> None:
    with pytest.raises(ValueRangeError, match="mass"):
        combine(5.0, {"mass": float("nan"), "x": 1.0})
    with pytest.raises(ValueRangeError, match="zero or more"):
        Estimate(value=1.0, spread=-1.0)
    with pytest.raises(ValueRangeError):
        Estimate(value=1.0, spread=float("nan"))


def test_one_at_a_time() -> None:
    assert one_at_a_time(22.0, 23.0) == 0.5
