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
Rows = NDArray[np.intp]
LiftFunction = Callable[[Array], tuple[Array, Array]]
"""cl and its slope by incidence (1/rad), (m, N) each, from incidence (m, N)."""

TOLERANCE = 1e-10
"""On the residual of Gamma over (speed x greatest chord)."""
NOMINAL_SLOPE = 5.6
INNER_STEPS = 3
OUTER_STEPS = 8
HALVINGS = 1
"""A step that raises the residual is halved this often, then taken all the same: stalled sections need the way up."""
CAREFUL_SLOPES = (1.0, 8.0)
"""Range for section slopes while far from the solution: tables have steps (dead band, stall) that mislead Newton."""
TRUE_SLOPES = (-30.0, 30.0)
CAREFUL_STEPS = 3
TRUE_FIRST = 4
FULL_PLAN = (TRUE_SLOPES,) * TRUE_FIRST + ((CAREFUL_SLOPES,) * 20 + (TRUE_SLOPES,) * 6) * 2


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One batch of n conditions.

    Args:
        upward, aft: undisturbed air along the lift normal and aft along the chord, m/s, (n, N).
        scale: speed x greatest chord, m^2/s, (n,).
        bind: section lift for these rows of the batch.
    """

    upward: Array
    aft: Array
    scale: Array
    bind: Callable[[Rows], LiftFunction]


@dataclass(kw_only=True)
class State:
    """Gamma, local air and what the sections make of it, (m, N) each."""

    gamma: Array
    upward: Array
    aft: Array
    speed: Array
    alpha: Array
    cl: Array
    slope: Array
    residual: Array

    def take(self, rows: Rows | NDArray[np.bool_]) -> State:
        """These rows."""
        return State(**{name: value[rows] for name, value in vars(self).items()})

    def put(self, rows: Rows, part: State) -> None:
        """Overwrite these rows with the rows of `part`."""
        for name, value in vars(self).items():
            value[rows] = getattr(part, name)


def evaluate(gamma: Array, upward: Array, aft: Array, lift: LiftFunction, chord: Array) -> State:
    """What the sections make of local air along normal and chord (m/s) at a circulation, (m, N) each."""
    alpha = np.arctan2(upward, aft)
    speed = np.sqrt(upward * upward + aft * aft)
    cl, slope = lift(alpha)
    residual = 0.5 * chord * speed
    residual *= cl
    residual -= gamma
    return State(gamma=gamma, upward=upward, aft=aft, speed=speed, alpha=alpha, cl=cl, slope=slope, residual=residual)


class CirculationSolver:
    """Solves batches for one geometry.

    Args:
        normal, aft: velocity along the lift normal and along the chord (nose to tail) at control point j per unit
            circulation of horseshoe i, 1/m, (N, N).
        chord: m, (N,).
    """

    def __init__(self, normal: Array, aft: Array, chord: Array) -> None:
        self.chord, self.half_chord = chord, 0.5 * chord
        self.count = len(chord)
        self._normal, self._aft = normal, aft
        self._both = np.ascontiguousarray(np.concatenate([normal, aft]).T)
        inverse = np.linalg.inv(np.eye(self.count) - (self.half_chord * NOMINAL_SLOPE)[:, None] * normal)
        self._shared = np.ascontiguousarray(np.concatenate([inverse, normal @ inverse, aft @ inverse]).T)

    def solve(self, problem: Problem, start: Array | None) -> tuple[State, NDArray[np.bool_]]:
        """Gamma for every condition from `start` (n, N) or from rest, and where it converged (n,)."""
        every = np.arange(len(problem.upward))
        gamma = np.zeros_like(problem.upward) if start is None else np.array(start, float)
        result = self._state(gamma, problem, every, problem.bind(every))
        rest = self._shared_newton(problem, result, every)
        if rest.size:
            rest = self._full_newton(problem, result, rest)
        converged = np.ones(len(every), bool)
        converged[rest] = False
        return result, converged

    def state(self, gamma: Array, problem: Problem) -> State:
        """What a given circulation (n, N) makes of the air and the sections."""
        every = np.arange(len(gamma))
        return self._state(gamma, problem, every, problem.bind(every))

    def _error(self, state: State, scale: Array) -> Array:
        return np.asarray(np.max(np.abs(state.residual), axis=1) / scale)

    def _state(self, gamma: Array, problem: Problem, rows: Rows, lift: LiftFunction) -> State:
        induced = gamma @ self._both
        upward = induced[:, : self.count] + problem.upward[rows]
        aft = induced[:, self.count :] + problem.aft[rows]
        return evaluate(gamma, upward, aft, lift, self.chord)

    def _gains(self, state: State, slopes: tuple[float, float]) -> tuple[Array, Array]:
        """d(V c cl/2) by d(upward) and d(aft), (m, N), with section slopes held inside a range."""
        slope = np.minimum(np.maximum(state.slope, slopes[0]), slopes[1])
        per = self.half_chord / np.maximum(state.speed, 1e-9)
        return (
            per * (state.cl * state.upward + slope * state.aft),
            per * (state.cl * state.aft - slope * state.upward),
        )

    def _shared_newton(self, problem: Problem, result: State, rows: Rows) -> Rows:
        """Newton whose linear step is found by a few turns with one inverse for all; returns the rows left over."""
        n = self.count
        state, lift = result, problem.bind(rows)
        for turn in range(OUTER_STEPS):
            going = ~(self._error(state, problem.scale[rows]) < TOLERANCE)
            if not going.all():
                rows = rows[going]
                if not rows.size:
                    return rows
                state, lift = state.take(going), problem.bind(rows)
            step = self._linear_step(state, CAREFUL_SLOPES if turn < CAREFUL_STEPS else TRUE_SLOPES)
            state = evaluate(
                state.gamma + step[:, :n],
                state.upward + step[:, n : 2 * n],
                state.aft + step[:, 2 * n :],
                lift,
                self.chord,
            )
            result.put(rows, state)
        return rows[~(self._error(state, problem.scale[rows]) < TOLERANCE)]

    def _linear_step(self, state: State, slopes: tuple[float, float]) -> Array:
        """Newton step with what it induces, (m, 3 N): the best sum of `INNER_STEPS` turns with the shared inverse."""
        n = self.count
        up, along = self._gains(state, slopes)
        short = state.residual
        pieces: list[Array] = []
        effects = np.empty((len(short), INNER_STEPS, n))
        for turn in range(INNER_STEPS):
            piece = short @ self._shared
            effect = piece[:, :n] - up * piece[:, n : 2 * n] - along * piece[:, 2 * n :]
            pieces.append(piece)
            effects[:, turn] = effect
            short = short - effect
        square = effects @ effects.transpose(0, 2, 1)
        goal = (effects @ state.residual[:, :, None])[:, :, 0]
        shares = _small_solve(square, goal)
        step = shares[:, :1] * pieces[0]
        for turn in range(1, INNER_STEPS):
            step += shares[:, turn, None] * pieces[turn]
        return step

    def _full_newton(self, problem: Problem, result: State, rows: Rows) -> Rows:
        """Newton with each condition's own Jacobian: a few true steps, then from rest by turns careful and true."""
        state = result.take(rows)
        for turn, slopes in enumerate(FULL_PLAN):
            lift = problem.bind(rows)
            if turn == TRUE_FIRST:
                state = self._state(np.zeros_like(state.gamma), problem, rows, lift)
            state = self._damped(state, self._newton_step(state, slopes), lift)
            result.put(rows, state)
            going = ~(self._error(state, problem.scale[rows]) < TOLERANCE)
            rows, state = rows[going], state.take(going)
            if not rows.size:
                break
        return rows

    def _newton_step(self, state: State, slopes: tuple[float, float]) -> Array:
        up, along = self._gains(state, slopes)
        jacobian = up[:, :, None] * -self._normal
        jacobian -= along[:, :, None] * self._aft
        jacobian[:, np.arange(self.count), np.arange(self.count)] += 1.0
        try:
            return np.asarray(np.linalg.solve(jacobian, state.residual[:, :, None])[:, :, 0])
        except np.linalg.LinAlgError:
            return 0.3 * state.residual

    def _damped(self, state: State, step: Array, lift: LiftFunction) -> State:
        """The state after the step, halved up to `HALVINGS` times where the residual grows, per condition."""
        n = self.count
        induced = step @ self._both
        before = np.sum(state.residual**2, axis=1)
        share = np.ones((len(step), 1))
        for _ in range(HALVINGS + 1):
            trial = evaluate(
                state.gamma + share * step,
                state.upward + share * induced[:, :n],
                state.aft + share * induced[:, n:],
                lift,
                self.chord,
            )
            higher = ~(np.sum(trial.residual**2, axis=1) < before)
            if not higher.any():
                break
            share[higher] *= 0.5
        return trial


def _small_solve(square: Array, goal: Array) -> Array:
    """Symmetric positive systems (m, k, k) x = (m, k) of small k, slightly damped."""
    k = goal.shape[1]
    ridge = 1e-13 * np.trace(square, axis1=1, axis2=2) + 1e-300
    return np.asarray(np.linalg.solve(square + ridge[:, None, None] * np.eye(k), goal[:, :, None])[:, :, 0])
