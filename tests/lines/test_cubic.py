"""Monotone cubics against SciPy's PCHIP, and their bounds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from evenfall.lines.cubic import monotone_cubic, monotone_cubic_each

numbers = st.floats(-10, 10).map(lambda value: round(value, 3))


@pytest.mark.outside
@given(st.integers(2, 7), st.integers(1, 4), st.randoms(use_true_random=False))
def test_equals_scipy(nodes: int, curves: int, random: object) -> None:
    rng = np.random.default_rng(random.getrandbits(32))  # type: ignore[attr-defined]
    x = np.cumsum(rng.uniform(0.05, 2.0, nodes))
    values = np.round(rng.uniform(-3, 3, (nodes, curves)), 1)  # rounded, so that equal neighbours occur
    at = rng.uniform(x[0], x[-1], 30)
    expected = PchipInterpolator(x, values, axis=0)(at)
    assert monotone_cubic(x, values, at) == pytest.approx(expected, abs=1e-12)
    own = at[:curves]
    each = monotone_cubic_each(x, values, own)
    assert each == pytest.approx(np.diag(PchipInterpolator(x, values, axis=0)(own)), abs=1e-12)


@pytest.mark.property
@given(st.lists(numbers, min_size=2, max_size=8))
def test_stays_between_neighbouring_nodes(values: list[float]) -> None:
    x = np.arange(len(values), dtype=float)
    y = np.array(values)
    at = np.linspace(0.0, x[-1], 101)
    found = monotone_cubic(x, y, at)
    k = np.minimum(at.astype(int), len(y) - 2)
    assert (found >= np.minimum(y[k], y[k + 1]) - 1e-9).all()
    assert (found <= np.maximum(y[k], y[k + 1]) + 1e-9).all()


@pytest.mark.limit
def test_nodes_and_straight_lines_are_exact() -> None:
    x = np.array([0.0, 0.3, 1.0, 2.5])
    y = np.stack([2 * x - 1, x**3], axis=1)
    assert monotone_cubic(x, y, x) == pytest.approx(y, abs=1e-14)
    at = np.linspace(0, 2.5, 21)
    assert monotone_cubic(x, y[:, 0], at) == pytest.approx(2 * at - 1, abs=1e-13)
