"""All steady states of a shaft: roots in shaft speed for a batch of air speeds, and curves of states as segments.

The residual f(V, omega) is the torque that slows the shaft: propeller plus everything that holds it back. A state is
a root of f; it is stable where f rises with omega. At omega = 0 the residual includes the breakaway friction, so the
shaft stands still, stably, wherever f(V, 0) > 0.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError

Floats = NDArray[np.float64]
Residual = Callable[[Floats, Floats], Floats]
"""f(speed, omega) in N m, broadcasting; m/s and rad/s."""


@dataclass(frozen=True, kw_only=True)
class Roots:
    """Roots of a residual, one row per speed, rising in omega, padded to the longest row.

    Args:
        omega: rad/s, shape (n, k), NaN where there is no further root; 0 for a stopped shaft.
        stable: shape (n, k), False where padded.
        count: number of roots, shape (n,).
    """

    omega: Floats
    stable: NDArray[np.bool_]
    count: NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Segments:
    """Curves of states in the plane of air speed (m/s) and shaft speed (rad/s), as m loose straight segments.

    Args:
        v0, w0, v1, w1: ends, shape (m,).
        stable: shape (m,).
        stopped: True where the shaft stands still, shape (m,).
    """

    v0: Floats
    w0: Floats
    v1: Floats
    w1: Floats
    stable: NDArray[np.bool_]
    stopped: NDArray[np.bool_]

    def __len__(self) -> int:
        return int(self.v0.size)


def polish(residual: Residual, speed: Floats, low: Floats, high: Floats, *, steps: int = 40) -> Floats:
    """Roots in omega inside brackets, all at once: false position with the Anderson-Bjorck weight.

    Args:
        residual: see `Residual`.
        speed, low, high: one entry per bracket, shape (m,), with residuals of opposite sign (or zero) at the ends.
        steps: greatest number of evaluations.

    Stops once every bracket or step is below 1e-9 of the shaft speed (plus 1e-7 rad/s). Source: N. Anderson, A. Bjorck,
    BIT 13 (1973) 253-264, from memory.
    """
    a, b = low.astype(float), high.astype(float)
    fa, fb = residual(speed, a), residual(speed, b)
    root = np.where(np.abs(fa) < np.abs(fb), a, b)
    for _ in range(steps):
        slope = fb - fa
        new = np.where(slope != 0.0, b - fb * (b - a) / np.where(slope == 0.0, 1.0, slope), 0.5 * (a + b))
        fn = residual(speed, new)
        moved = np.abs(new - root)
        root = new
        crossed = fn * fb <= 0.0
        weight = 1.0 - fn / np.where(fb == 0.0, 1.0, fb)
        weight = np.where(weight > 0.0, weight, 0.5)
        a, fa = np.where(crossed, b, a), np.where(crossed, fb, fa * weight)
        b, fb = new, fn
        tolerance = 1e-9 * np.abs(root) + 1e-7
        if np.all((np.abs(b - a) < tolerance) | (moved < tolerance) | (fn == 0.0)):
            break
    return root


def _touching(values: Floats) -> tuple[NDArray[np.int64], ...]:
    """Indices of inner nodes of the last axis whose parabola crosses zero between nodes of one sign.

    Two roots lie within two steps there. The last index counts inner nodes from 0.
    """
    step = np.diff(values, axis=-1)
    turning = np.nonzero(step[..., :-1] * step[..., 1:] <= 0.0)
    *front, node = turning
    left, mid, right = (values[(*front, node + k)] for k in (0, 1, 2))
    bend = left - 2.0 * mid + right
    peak = mid - (right - left) ** 2 / (8.0 * np.where(bend == 0.0, 1.0, bend))
    sign = mid > 0.0
    keep = ((left > 0.0) == sign) & ((right > 0.0) == sign) & ((peak > 0.0) != sign) & (bend != 0.0)
    return tuple(index[keep] for index in turning)


def count_stable(values: Floats) -> NDArray[np.int64]:
    """Number of stable states along the last axis of a residual sampled from omega = 0 upward.

    A stopped shaft counts as one. Pairs of roots that fall between two samples are seen by a parabola through three.
    """
    positive = values > 0.0
    rising = positive[..., 1:] & ~positive[..., :-1]
    count: NDArray[np.int64] = positive[..., 0].astype(np.int64) + rising.sum(axis=-1)
    np.add.at(count, _touching(values)[:-1], 1)
    return count


def all_roots(residual: Residual, speeds: Floats, omegas: Floats) -> Roots:
    """Every steady state for each of n air speeds: a scan over omega, then `polish`.

    Args:
        residual: see `Residual`; must be positive at the last omega of each row.
        speeds: m/s, shape (n,).
        omegas: rad/s, rising from 0, shape (m,) or one grid per speed (n, m).

    Two roots closer than a step are found where three samples show the dip between them. Raises `ValueRangeError` for
    a grid that does not start at 0.
    """
    grid = np.array(np.broadcast_to(omegas, (speeds.size, omegas.shape[-1])))
    if np.any(grid[:, 0] != 0.0) or np.any(np.diff(grid, axis=1) <= 0.0):
        raise ValueRangeError("the grid of shaft speeds must start at 0 and rise")
    values = np.array(residual(speeds[:, None], grid))
    _refine_dips(residual, speeds, grid, values)
    positive = values > 0.0
    row, col = np.nonzero(positive[:, 1:] != positive[:, :-1])
    root = polish(residual, speeds[row], grid[row, col], grid[row, col + 1])
    return _pad(speeds.size, np.flatnonzero(positive[:, 0]), row, root, positive[row, col + 1])


def _refine_dips(residual: Residual, speeds: Floats, grid: Floats, values: Floats) -> None:
    """Move nodes (in place) to the vertex of a parabola that crosses zero between samples."""
    row, col = _touching(values)
    if row.size == 0:
        return
    col = col + 1
    left, mid, right = grid[row, col - 1], grid[row, col], grid[row, col + 1]
    fl, fm, fr = values[row, col - 1], values[row, col], values[row, col + 1]
    first, second = (mid - left) * (fm - fr), (mid - right) * (fm - fl)
    vertex = mid - 0.5 * ((mid - left) * first - (mid - right) * second) / (first - second)
    vertex = np.clip(vertex, 0.55 * mid + 0.45 * left, 0.55 * mid + 0.45 * right)
    grid[row, col] = vertex
    values[row, col] = residual(speeds[row], vertex)


def _pad(
    size: int, stopped: NDArray[np.int64], row: NDArray[np.int64], root: Floats, stable: NDArray[np.bool_]
) -> Roots:
    """Roots by row, a stopped shaft first."""
    rows = np.concatenate([stopped, row])
    omegas = np.concatenate([np.zeros(stopped.size), root])
    flags = np.concatenate([np.ones(stopped.size, dtype=bool), stable])
    order = np.lexsort((omegas, rows))
    rows, omegas, flags = rows[order], omegas[order], flags[order]
    count = np.bincount(rows, minlength=size).astype(np.int64)
    rank = np.arange(rows.size) - np.repeat(np.cumsum(count) - count, count)
    width = int(count.max(initial=0))
    omega = np.full((size, width), np.nan)
    stability = np.zeros((size, width), dtype=bool)
    omega[rows, rank] = omegas
    stability[rows, rank] = flags
    return Roots(omega=omega, stable=stability, count=count)


def segments_from_grid(speeds: Floats, omegas: Floats, values: Floats) -> Segments:
    """Zero curves of a sampled residual by marching squares, with the stopped shaft along omega = 0.

    Args:
        speeds: m/s, rising, shape (n,).
        omegas: rad/s, rising from 0, shape (m,).
        values: residual in N m, shape (n, m).

    Ends lie on the grid's edges by linear interpolation, so they are off by the square of the step; polish them where
    it matters. Source: W. E. Lorensen, H. E. Cline, Computer Graphics 21 (1987) 163, in two dimensions.
    """
    positive = values > 0.0
    along_v = positive[1:, :] != positive[:-1, :]
    along_w = positive[:, 1:] != positive[:, :-1]
    edges = [along_v[:, :-1], along_w[1:, :], along_v[:, 1:], along_w[:-1, :]]
    crossings = np.add(edges[0], edges[1], dtype=np.int8)
    crossings += edges[2]
    crossings += edges[3]
    i, j = np.nonzero(crossings == 2)
    cut = np.stack([edge[i, j] for edge in edges], axis=-1)
    first = np.argmax(cut, axis=-1)
    last = 3 - np.argmax(cut[:, ::-1], axis=-1)
    si, sj = np.nonzero(crossings == 4)
    centre = 0.25 * (values[si, sj] + values[si + 1, sj] + values[si, sj + 1] + values[si + 1, sj + 1]) > 0.0
    through = centre == positive[si, sj]
    i = np.concatenate([i, si, si])
    j = np.concatenate([j, sj, sj])
    first = np.concatenate([first, np.zeros(si.size, dtype=np.int64), np.where(through, 2, 1)])
    last = np.concatenate([last, np.where(through, 1, 3), np.where(through, 3, 2)])
    v0, w0 = _edge_point(speeds, omegas, values, i, j, first)
    v1, w1 = _edge_point(speeds, omegas, values, i, j, last)
    stable = values[i, j + 1] + values[i + 1, j + 1] > values[i, j] + values[i + 1, j]
    s0, s1 = _stopped(speeds, values[:, 0])
    none = np.zeros(s0.size)
    return Segments(
        v0=np.concatenate([s0, v0]),
        w0=np.concatenate([none, w0]),
        v1=np.concatenate([s1, v1]),
        w1=np.concatenate([none, w1]),
        stable=np.concatenate([np.ones(s0.size, dtype=bool), stable]),
        stopped=np.concatenate([np.ones(s0.size, dtype=bool), np.zeros(v0.size, dtype=bool)]),
    )


_CORNERS = np.array([[[0, 0], [1, 0]], [[1, 0], [1, 1]], [[0, 1], [1, 1]], [[0, 0], [0, 1]]])
"""Corner offsets (speed, omega) of the two ends of a cell's edges: bottom, right, top, left."""


def _edge_point(
    speeds: Floats,
    omegas: Floats,
    values: Floats,
    i: NDArray[np.int64],
    j: NDArray[np.int64],
    edge: NDArray[np.int64],
) -> tuple[Floats, Floats]:
    """Where the residual crosses zero on an edge of cell (i, j)."""
    (ia, ja), (ib, jb) = ((i + _CORNERS[edge, end, 0], j + _CORNERS[edge, end, 1]) for end in (0, 1))
    fa, fb = values[ia, ja], values[ib, jb]
    part = fa / np.where(fa == fb, 1.0, fa - fb)
    return speeds[ia] + part * (speeds[ib] - speeds[ia]), omegas[ja] + part * (omegas[jb] - omegas[ja])


def _stopped(speeds: Floats, at_rest: Floats) -> tuple[Floats, Floats]:
    """Pieces of the speed axis on which the residual of the stopped shaft is positive."""
    fa, fb = at_rest[:-1], at_rest[1:]
    va, vb = speeds[:-1], speeds[1:]
    cross = va + (vb - va) * fa / np.where(fa == fb, 1.0, fa - fb)
    start = np.where(fa > 0.0, va, cross)
    end = np.where(fb > 0.0, vb, cross)
    keep = (fa > 0.0) | (fb > 0.0)
    return start[keep], end[keep]
