"""Circulation of every horseshoe for many conditions at once: shared-inverse Newton, then damped full Newton.

Unknown per condition: Gamma (N,). Equation at each control point: Gamma = V c cl(alpha)/2 with V and alpha from the
undisturbed air plus what all horseshoes induce.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
LiftFunction = Callable[[Array, NDArray[np.intp] | None], Array]
"""cl (m, N) from incidence (m, N) of these rows of the batch (None for all)."""

TOLERANCE = 1e-10
"""On the residual of Gamma over (speed x greatest chord)."""
NOMINAL_SLOPE = 5.6
INNER_STEPS = 3
OUTER_STEPS = 14
FULL_STEPS = 40
SLOPE_RANGE = (-3.0, 9.0)


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One batch: undisturbed air along normal and aft chord (m/s, (n, N)), section lift, scale of Gamma (n,)."""

    upward: Array
    aft: Array
    lift: LiftFunction
    scale: Array


@dataclass(frozen=True, kw_only=True)
class State:
    """Gamma with the local air and what the sections make of it, all (m, N)."""

    gamma: Array
    upward: Array
    aft: Array
    speed: Array
    alpha: Array
    cl: Array
    residual: Array

    def error(self, scale: Array) -> Array:
        """Greatest residual over the scale, (m,)."""
        return np.asarray(np.max(np.abs(self.residual), axis=1) / scale)


class CirculationSolver:
    """Solves batches for one geometry.

    Args:
        normal, aft: velocity along the lift normal and along the chord (nose to tail) at control point j per unit
            circulation of horseshoe i, 1/m, (N, N).
        chord: m, (N,).
    """

    def __init__(self, normal: Array, aft: Array, chord: Array) -> None:
        self.half_chord = 0.5 * chord
        self._both = np.ascontiguousarray(np.concatenate([normal, aft]).T)
        self._normal, self._aft = normal, aft
        shared = np.eye(len(chord)) - (self.half_chord * NOMINAL_SLOPE)[:, None] * normal
        self._shared = np.ascontiguousarray(np.linalg.inv(shared).T)

    def solve(self, problem: Problem, start: Array | None) -> tuple[State, NDArray[np.bool_]]:
        """Gamma for every condition from `start` (n, N) or from rest, and where it converged (n,)."""
        gamma = np.zeros_like(problem.upward) if start is None else np.array(start, float)
        state = self._state(problem, gamma, None)
        error = state.error(problem.scale)
        state, error = self._shared_newton(problem, state, error)
        left = np.flatnonzero(~(error < TOLERANCE))
        if left.size:
            state, error = self._full_newton(problem, state, error, left)
        return state, error < TOLERANCE

    def _state(self, problem: Problem, gamma: Array, rows: NDArray[np.intp] | None) -> State:
        n = gamma.shape[1]
        induced = gamma @ self._both
        upward = induced[:, :n] + (problem.upward if rows is None else problem.upward[rows])
        aft = induced[:, n:] + (problem.aft if rows is None else problem.aft[rows])
        alpha = np.arctan2(upward, aft)
        speed = np.sqrt(upward * upward + aft * aft)
        cl = problem.lift(alpha, rows)
        return State(
            gamma=gamma,
            upward=upward,
            aft=aft,
            speed=speed,
            alpha=alpha,
            cl=cl,
            residual=gamma - self.half_chord * speed * cl,
        )

    def _gains(self, state: State, slope: Array) -> tuple[Array, Array]:
        """d(V c cl/2) by d(upward) and d(aft), (m, N)."""
        per = self.half_chord / np.maximum(state.speed, 1e-9)
        return (
            per * (state.cl * state.upward + slope * state.aft),
            per * (state.cl * state.aft - slope * state.upward),
        )

    def _shared_newton(self, problem: Problem, state: State, error: Array) -> tuple[State, Array]:
        """Newton whose linear step is found by a few turns with one inverse for all; slopes from secants."""
        n = len(self.half_chord)
        slope = np.full_like(state.cl, NOMINAL_SLOPE)
        for _ in range(OUTER_STEPS):
            todo = error >= TOLERANCE
            if not todo.any():
                break
            up, along = self._gains(state, slope)
            goal = -state.residual
            step = goal @ self._shared
            for _ in range(INNER_STEPS):
                induced = step @ self._both
                short = goal - step + up * induced[:, :n] + along * induced[:, n:]
                step = step + short @ self._shared
            trial = self._state(problem, state.gamma + np.where(todo[:, None], step, 0.0), None)
            slope = _secant(state, trial, slope)
            state, error = trial, trial.error(problem.scale)
        return state, error

    def _full_newton(self, problem: Problem, state: State, error: Array, left: NDArray[np.intp]) -> tuple[State, Array]:
        """Newton with each condition's own Jacobian and a step halved until the residual falls."""
        gamma = state.gamma.copy()
        bad = left[~np.isfinite(error[left]) | (error[left] > 1.0)]
        gamma[bad] = 0.0
        rows = left
        for _ in range(FULL_STEPS):
            now = self._state(problem, gamma[rows], rows)
            size = now.error(problem.scale[rows])
            keep = size >= TOLERANCE
            if not keep.any():
                break
            rows = rows[keep]
            now = _take(now, keep)
            step = self._newton_step(problem, now, rows)
            gamma[rows] += self._damped(problem, now, step, rows)[:, None] * step
        final = self._state(problem, gamma, None)
        return final, final.error(problem.scale)

    def _newton_step(self, problem: Problem, now: State, rows: NDArray[np.intp]) -> Array:
        small = 1e-4
        slope = (problem.lift(now.alpha + small, rows) - problem.lift(now.alpha - small, rows)) / (2 * small)
        up, along = self._gains(now, np.clip(slope, *SLOPE_RANGE))
        jacobian = np.eye(len(self.half_chord)) - up[:, :, None] * self._normal - along[:, :, None] * self._aft
        try:
            return np.asarray(np.linalg.solve(jacobian, -now.residual[:, :, None])[:, :, 0])
        except np.linalg.LinAlgError:
            return -0.3 * now.residual

    def _damped(self, problem: Problem, now: State, step: Array, rows: NDArray[np.intp]) -> Array:
        """Share of the step to take, per condition: the largest of 1, 1/2, ... 1/64 that lowers the residual."""
        scale = problem.scale[rows]
        best = np.sum(now.residual**2, axis=1)
        share = np.full(len(rows), 1.0)
        open_ = np.ones(len(rows), bool)
        for _ in range(6):
            at = np.flatnonzero(open_)
            trial = self._state(problem, now.gamma[at] + share[at, None] * step[at], rows[at])
            lower = (np.sum(trial.residual**2, axis=1) < best[at]) | (trial.error(scale[at]) < TOLERANCE)
            open_[at[lower]] = False
            if not open_.any():
                break
            share[open_] *= 0.5
        return share


def _secant(old: State, new: State, slope: Array) -> Array:
    """Section lift slope between two iterates where they differ enough, else as before."""
    change = new.alpha - old.alpha
    clear = np.abs(change) > 1e-7
    fresh = (new.cl - old.cl) / np.where(clear, change, 1.0)
    return np.where(clear, np.clip(fresh, *SLOPE_RANGE), slope)


def _take(state: State, keep: NDArray[np.bool_]) -> State:
    return State(
        gamma=state.gamma[keep],
        upward=state.upward[keep],
        aft=state.aft[keep],
        speed=state.speed[keep],
        alpha=state.alpha[keep],
        cl=state.cl[keep],
        residual=state.residual[keep],
    )
