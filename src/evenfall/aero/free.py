"""Free variables of many conditions at once: Newton by differences, then Broyden updates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Residual = Callable[[Array, NDArray[np.intp]], Array]
"""Residual (m, k), scaled to about 1, from the free variables (m, k) of these conditions of the batch (m,)."""


_GAIN = 0.3
"""A round of differences that leaves more than this share of the residual is the last one."""


@dataclass(frozen=True, kw_only=True)
class Found:
    """Free variables (n, k), the residual left there (n, k), its last Jacobian (n, k, k; NaN where none was taken) and
    where the residual is small enough (n,)."""

    free: Array
    residual: Array
    jacobian: Array
    converged: NDArray[np.bool_]


def solve_free(
    residual: Residual,
    start: Array,
    *,
    step: Array,
    largest: Array,
    tolerance: float = 1e-7,
    rounds: int = 3,
    jacobian: Array | None = None,
) -> Found:
    """Zero of `residual` for n conditions of k free variables.

    Each round takes differences once and then up to eight Broyden steps, each no longer than `largest`; a step that
    makes the residual more than 1.5 times larger is halved. Conditions stop one by one, so a batch equals a loop,
    and where a round gains little.

    Args:
        start: (n, k). step: for differences, (k,). largest: greatest change of a free variable in one step, (k,).
        tolerance: on the greatest component of the residual. rounds: of differences.
        jacobian: of a solution nearby, (n, k, k), taken instead of the first differences where it is finite.

    Beyond: `converged` False where no zero was reached, with the best values found.
    Source: Broyden, Mathematics of Computation 19 (1965) 577-593, good method.
    """
    x = np.array(start, float)
    n, k = x.shape
    every = np.arange(n)
    f = residual(x, every)
    best_x, best_f = x.copy(), f.copy()
    jacobian = np.full((n, k, k), np.nan) if jacobian is None else np.array(jacobian, float)
    known = np.asarray(np.isfinite(jacobian).all(axis=(1, 2)))
    before = np.full(n, np.inf)
    for turn in range(rounds):
        size = _size(best_f)
        rows = np.flatnonzero((size >= tolerance) & (size < _GAIN * before))
        if not rows.size:
            break
        before = size if turn > 0 else before
        x[rows], f[rows] = best_x[rows], best_f[rows]
        asked = rows[~known[rows]] if turn == 0 else rows
        for j in range(k if asked.size else 0):
            moved = x[asked].copy()
            moved[:, j] += step[j]
            jacobian[asked, :, j] = (residual(moved, asked) - f[asked]) / step[j]
        for _ in range(8):
            move = np.clip(_solve(jacobian[rows], -f[rows]), -largest, largest)
            fresh = residual(x[rows] + move, rows)
            worse = ~(_size(fresh) < 1.5 * _size(f[rows]) + tolerance)
            if worse.any():
                move[worse] *= 0.5
                fresh[worse] = residual(x[rows[worse]] + move[worse], rows[worse])
            off = fresh - f[rows] - np.einsum("nij,nj->ni", jacobian[rows], move)
            length = np.maximum(np.sum(move * move, axis=1), 1e-30)
            jacobian[rows] += off[:, :, None] * move[:, None, :] / length[:, None, None]
            x[rows] += move
            f[rows] = fresh
            better = rows[_size(fresh) < _size(best_f[rows])]
            best_x[better], best_f[better] = x[better], f[better]
            rows = rows[_size(f[rows]) >= tolerance]
            if not rows.size:
                break
    return Found(free=best_x, residual=best_f, jacobian=jacobian, converged=_size(best_f) < tolerance)


def _size(residual: Array) -> Array:
    return np.asarray(np.max(np.abs(residual), axis=1))


def _solve(jacobian: Array, goal: Array) -> Array:
    """Newton step; least squares where a Jacobian is singular."""
    try:
        return np.asarray(np.linalg.solve(jacobian, goal[:, :, None])[:, :, 0])
    except np.linalg.LinAlgError:
        return np.asarray((np.linalg.pinv(jacobian) @ goal[:, :, None])[:, :, 0])
