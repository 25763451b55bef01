"""Where the points of a mix's curve stand, and their values, so that the worst error along the stick is least."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Curves to be followed by straight pieces with points at common stick positions.

    Args:
        stick: (m,), rising from 0 to 1.
        value: (rows, m), what each row should be; constant from `foot` on.
        weight: (rows, m), what one unit of value counts there, so that errors of rows compare.
        foot: index from which every row rests at its last value.
    """

    stick: Array
    value: Array
    weight: Array
    foot: int


def followed(wanted: Wanted, knots: Indices, values: Array) -> Array:
    """The pieces through `values` (rows, points) at `knots`, on the sticks of `wanted`: (rows, m)."""
    at = wanted.stick[list(knots)]
    return np.stack([np.interp(wanted.stick, at, row) for row in values])


def worst(wanted: Wanted, knots: Indices, values: Array) -> float:
    """Worst weighted error of any row anywhere."""
    return float(np.max(np.abs(followed(wanted, knots, values) - wanted.value) * wanted.weight, initial=0.0))


def even_knots(wanted: Wanted, count: int) -> Indices:
    """Evenly spaced points; every position must be among the sticks."""
    return tuple(int(np.argmin(np.abs(wanted.stick - stick))) for stick in np.linspace(0.0, 1.0, count))


def chord_errors(wanted: Wanted) -> Array:
    """Worst weighted error of the chord from each stick to each later one, (m, m); 0 below the diagonal."""
    stick, count = wanted.stick, len(wanted.stick)
    errors = np.zeros((count, count))
    for start in range(wanted.foot):
        ends = np.arange(start + 1, wanted.foot + 1)
        span = stick[ends] - stick[start]
        part = np.clip((stick[None, :] - stick[start]) / span[:, None], 0.0, 1.0)
        inside = (stick[None, :] >= stick[start]) & (stick[None, :] <= stick[ends][:, None])
        for value, weight in zip(wanted.value, wanted.weight, strict=True):
            chord = value[start] + part * (value[ends] - value[start])[:, None]
            error = np.max(np.where(inside, np.abs(chord - value) * weight, 0.0), axis=1)
            errors[start, ends] = np.maximum(errors[start, ends], error)
    return errors


def free_knots(wanted: Wanted, count: int, *, good: float) -> Indices:
    """At most `count` points, one of them at the foot, whose chords follow best; fewer where `good` is met already.

    Exact for chords: the least worst error over all choices of points, by dynamic programming.
    """
    foot, last = wanted.foot, len(wanted.stick) - 1
    inner = count - (1 if foot < last else 0)  # points from stick 0 to the foot, both included
    errors = chord_errors(wanted)
    best = [errors[0, : foot + 1]]
    came: list[NDArray[np.intp]] = [np.zeros(foot + 1, np.intp)]
    while len(best) < inner - 1 and best[-1][foot] > good:
        through = np.maximum(
            best[-1][:, None], np.where(np.tri(foot + 1, dtype=bool), np.inf, errors[: foot + 1, : foot + 1])
        )
        came.append(np.argmin(through, axis=0))
        best.append(np.min(through, axis=0))
    found = [foot]
    for step in range(len(best) - 1, 0, -1):
        found.append(int(came[step][found[-1]]))
    knots = sorted({0, *found})
    return (*knots, last) if foot < last else tuple(knots)


def best_values(wanted: Wanted, knots: Indices) -> Array:
    """Values (rows, points) with the least worst error, each row by itself.

    Both ends of the curve are kept exact: full deployment at the closed end, rest from the foot on. Values never turn
    back. A linear programme.
    """
    rows = []
    for value, weight in zip(wanted.value, wanted.weight, strict=True):
        rows.append(_row_values(wanted, knots, value, weight))
    return np.stack(rows) if rows else np.zeros((0, len(knots)))


def _row_values(wanted: Wanted, knots: Indices, value: Array, weight: Array) -> Array:
    from scipy.optimize import linprog

    fixed = value[list(knots)].copy()
    free = [place for place, knot in enumerate(knots) if 0 < knot < wanted.foot]
    if not free:
        return fixed
    at = wanted.stick[list(knots)]
    shape = np.stack([np.interp(wanted.stick, at, row) for row in np.eye(len(knots))], axis=1)
    rest = value - shape @ np.where(np.isin(np.arange(len(knots)), free), 0.0, fixed)
    upper = np.column_stack([shape[:, free] * weight[:, None], -np.ones(len(value))])
    lower = np.column_stack([-shape[:, free] * weight[:, None], -np.ones(len(value))])
    limits = np.concatenate([rest * weight, -rest * weight])
    low, high = sorted((float(value[0]), float(value[-1])))
    solved = linprog(
        np.r_[np.zeros(len(free)), 1.0],
        A_ub=np.vstack([upper, lower]),
        b_ub=limits,
        bounds=[(low, high)] * len(free) + [(0.0, None)],
        method="highs",
    )
    if solved.status != 0:
        return fixed
    fixed[free] = solved.x[:-1]
    way = 1.0 if value[-1] >= value[0] else -1.0
    return np.asarray(way * np.maximum.accumulate(way * fixed))


def best_straight(wanted: Wanted) -> Indices:
    """The straight mix with an offset that follows best: full at the closed end, at rest from the offset up."""
    last = len(wanted.stick) - 1
    found: Indices = (0, last)
    least = np.inf
    for offset in range(1, last + 1):
        knots: Indices = (0, offset, last) if offset < last else (0, last)
        values = wanted.value[:, [0, *([last] * (len(knots) - 1))]]
        error = worst(wanted, knots, values)
        if error < least - 1e-15:
            found, least = knots, error
    return found


def straight_values(wanted: Wanted, knots: Indices) -> Array:
    """Values of a straight mix: full at the closed end, the rest value at every other point."""
    return wanted.value[:, [0, *([len(wanted.stick) - 1] * (len(knots) - 1))]]
