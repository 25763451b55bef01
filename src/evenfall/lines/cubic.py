"""Monotone cubic interpolation (PCHIP) of many curves at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def monotone_cubic(x: Floats, values: Floats, at: Floats) -> Floats:
    """Values (m, ...) at the points `at` (m,) of curves given by `values` (n, ...) on the rising nodes `x` (n,).

    Cubic Hermite pieces that neither overshoot nor add bends; beyond the nodes the end pieces go on. Source: F. N.
    Fritsch & J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304, end slopes by three points as in C. Moler,
    Numerical Computing with MATLAB (2004), sect. 3.6; tests compare with SciPy.
    """
    piece = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    low, high, slope_low, slope_high = _weights(x, at, piece, values.ndim)
    slopes = _slopes(x, values)
    return np.asarray(
        low * values[piece] + high * values[piece + 1] + slope_low * slopes[piece] + slope_high * slopes[piece + 1]
    )


def monotone_cubic_each(x: Floats, values: Floats, at: Floats) -> Floats:
    """As `monotone_cubic`, every curve of `values` (n, m) at its own point of `at` (m,)."""
    piece = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    low, high, slope_low, slope_high = _weights(x, at, piece, 1)
    slopes, own = _slopes(x, values), np.arange(len(at))
    return np.asarray(
        low * values[piece, own]
        + high * values[piece + 1, own]
        + slope_low * slopes[piece, own]
        + slope_high * slopes[piece + 1, own]
    )


def _weights(x: Floats, at: Floats, piece: NDArray[np.intp], dimensions: int) -> list[Floats]:
    """Weights of both values and both slopes of each point's piece, for values of so many dimensions."""
    width = np.diff(x)[piece]
    t = (at - x[piece]) / width
    found = (
        (1 + 2 * t) * (1 - t) ** 2,
        t * t * (3 - 2 * t),
        width * t * (1 - t) ** 2,
        width * t * t * (t - 1),
    )
    return [weight.reshape(-1, *[1] * (dimensions - 1)) for weight in found]


def _slopes(x: Floats, values: Floats) -> Floats:
    """Slopes at the nodes, (n, ...)."""
    width = np.diff(x).reshape(-1, *[1] * (values.ndim - 1))
    rise = np.diff(values, axis=0) / width
    if len(x) == 2:
        return np.repeat(rise, 2, axis=0)
    before, after = rise[:-1], rise[1:]
    first, second = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    alike = before * after > 0
    safe_before, safe_after = np.where(alike, before, 1.0), np.where(alike, after, 1.0)
    inner = np.where(alike, (first + second) / (first / safe_before + second / safe_after), 0.0)
    ends = (
        _end_slope(width[0], width[1], rise[0], rise[1]),
        _end_slope(width[-1], width[-2], rise[-1], rise[-2]),
    )
    return np.concatenate([ends[0][None], inner, ends[1][None]])


def _end_slope(width: Floats, next_width: Floats, rise: Floats, next_rise: Floats) -> Floats:
    """Three-point slope at an end, held so that the first piece stays monotone."""
    slope = ((2 * width + next_width) * rise - width * next_rise) / (width + next_width)
    slope = np.where(np.sign(slope) != np.sign(rise), 0.0, slope)
    turning = (np.sign(rise) != np.sign(next_rise)) & (np.abs(slope) > 3 * np.abs(rise))
    return np.where(turning, 3 * rise, slope)
