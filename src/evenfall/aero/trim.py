"""Trim: incidence and elevator for a wanted lift at zero moment, and what an elevator held there does elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.flow import Flow, WingLoads
from evenfall.aero.free import solve_free
from evenfall.aero.section import NOMINAL_TRANSITION
from evenfall.aero.surfaces import plane_surfaces
from evenfall.aero.wings import LiftingLine
from evenfall.air import G0, Air, standard_air
from evenfall.plane.airframe import Plane

Array = NDArray[np.float64]
STEP_ANGLE = 2e-3
LARGEST_ANGLE = 0.15
TOLERANCE = 1e-7


@dataclass(frozen=True, kw_only=True)
class Trim:
    """Incidence and elevator (rad, (n,)), the loads there, the scaled Jacobian (n, 2, 2) for a start from here, and
    where a trim exists (n,)."""

    alpha: Array
    elevator: Array
    loads: WingLoads
    jacobian: Array
    converged: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Held:
    """Incidence (rad) and pitch rate (rad/s, positive to the canopy) with the elevator held, (n,), loads, the scaled
    Jacobian (n, 2, 2) for a start from here, outcome."""

    alpha: Array
    pitch: Array
    loads: WingLoads
    jacobian: Array
    converged: NDArray[np.bool_]


class Warm:
    """Solves the line again and again from the last circulation of each condition."""

    def __init__(self, line: LiftingLine, n: int, start: Array | None) -> None:
        self.line = line
        self.gamma = np.full((n, line.stations), np.nan) if start is None else np.array(start, float)

    def solve(self, flow: Flow, rows: NDArray[np.intp]) -> WingLoads:
        """Loads of these conditions, started from their last circulation."""
        start = self.gamma[rows]
        loads = self.line.solve(flow, start=np.where(np.isfinite(start), start, 0.0))
        self.gamma[rows] = np.where(loads.converged[:, None], loads.circulation, np.nan)
        return loads


def force_scale(line: LiftingLine, flow: Flow) -> tuple[Array, float]:
    """Dynamic pressure times area of all surfaces (N, (n,)) and their mean chord (m)."""
    area = float(np.sum(line.lattice.area))
    chord = float(np.sum(line.lattice.area * line.lattice.chord)) / area
    return 0.5 * flow.density * np.maximum(flow.speed, 1e-3) ** 2 * area, chord


def _elevator(flow: Flow, angle: Array, added: Array, rows: NDArray[np.intp]) -> dict[str, Array]:
    return {"elevator": angle + added[rows]}


_SLOPES: WeakKeyDictionary[LiftingLine, Array] = WeakKeyDictionary()


def _trim_slopes(line: LiftingLine) -> Array:
    """Derivatives of the scaled residual of `trim` by incidence and elevator about zero at 20 m/s, (2, 2), per rad.

    Coefficients change little with speed, so every trim of the line starts from these; kept with the line.
    """
    if line not in _SLOPES:
        free = STEP_ANGLE * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
        flow = Flow(speed=np.full(3, 20.0), alpha=free[:, 0], deltas={"elevator": free[:, 1]})
        scale, chord = force_scale(line, flow)
        loads = line.solve(flow)
        scaled = np.stack([loads.lift / scale, loads.moment[:, 1] / (scale * chord)], axis=1)
        _SLOPES[line] = (scaled[1:] - scaled[0]).T / STEP_ANGLE
    return _SLOPES[line]


def trim(
    line: LiftingLine,
    flow: Flow,
    *,
    lift: ArrayLike,
    moment_extra: ArrayLike = 0.0,
    elevator_add: ArrayLike = 0.0,
    start: Trim | None = None,
    tolerance: float = TOLERANCE,
) -> Trim:
    """Incidence and elevator at which lift is as wanted and the pitching moment about the CG zero.

    L(alpha, delta) = lift, M(alpha, delta) + moment_extra = 0; angles in `flow` for incidence and elevator are first
    guesses only.

    Args:
        lift: N normal to the flight path, positive to the canopy, (n,).
        moment_extra: N m of pitch from outside (thrust line, parts), nose up positive, (n,).
        elevator_add: rad on top of the free elevator angle (a share of the crow), (n,); not part of the answer.
        start: an earlier answer nearby.
        tolerance: on lift over q S and moment over q S c.

    Beyond the stall no trim exists: `converged` is False and the nearest values are returned.
    """
    flow = flow.spread(lift, moment_extra, elevator_add)
    n = len(flow)
    wanted, extra, added = (np.broadcast_to(np.asarray(v, float), n) for v in (lift, moment_extra, elevator_add))
    scale, chord = force_scale(line, flow)
    warm = Warm(line, n, None if start is None else start.loads.circulation)
    guess = np.zeros(n)
    x0 = np.stack([flow.alpha, flow.deltas.get("elevator", guess)] if start is None else [start.alpha, start.elevator])

    def at(free: Array, rows: NDArray[np.intp]) -> WingLoads:
        part = flow.take(rows).with_(alpha=free[:, 0], deltas=_elevator(flow, free[:, 1], added, rows))
        return warm.solve(part, rows)

    def residual(free: Array, rows: NDArray[np.intp]) -> Array:
        loads = at(free, rows)
        return np.stack(
            [
                (loads.lift - wanted[rows]) / scale[rows],
                (loads.moment[:, 1] + extra[rows]) / (scale[rows] * chord),
            ],
            axis=1,
        )

    found = solve_free(
        residual,
        x0.T,
        step=np.array([STEP_ANGLE, STEP_ANGLE]),
        largest=np.array([LARGEST_ANGLE, 2 * LARGEST_ANGLE]),
        tolerance=tolerance,
        jacobian=np.tile(_trim_slopes(line), (n, 1, 1)) if start is None else start.jacobian,
    )
    loads = at(found.free, np.arange(n))
    return Trim(
        alpha=found.free[:, 0],
        elevator=found.free[:, 1],
        loads=loads,
        jacobian=found.jacobian,
        converged=found.converged & loads.converged,
    )


def elevator_held(
    line: LiftingLine,
    flow: Flow,
    *,
    elevator: ArrayLike,
    mass: float,
    slope: ArrayLike,
    inverted: ArrayLike = False,
    moment_extra: ArrayLike = 0.0,
    start: Held | None = None,
) -> Held:
    """Incidence and pitch rate the plane takes up on a line while the elevator is held.

    M(alpha, q) + moment_extra = 0 and L(alpha, q) = m V q +- W cos(slope), + upright, - inverted.

    Args:
        elevator: rad, (n,). mass: kg. slope: of the line, rad, 90 deg straight up, (n,).
        inverted: canopy to the ground, (n,). On a vertical it makes no difference.
        moment_extra: N m of pitch from outside, nose up positive, (n,).

    The rate is that of the start of the line; `converged` is False where none exists (stalled).
    """
    flow = flow.spread(elevator, slope, inverted, moment_extra)
    n = len(flow)
    held, extra, angle = (np.broadcast_to(np.asarray(v, float), n) for v in (elevator, moment_extra, slope))
    weight = np.where(np.broadcast_to(inverted, n), -1.0, 1.0) * mass * G0 * np.cos(angle)
    scale, chord = force_scale(line, flow)
    warm = Warm(line, n, None if start is None else start.loads.circulation)
    x0 = np.stack([flow.alpha, flow.q] if start is None else [start.alpha, start.pitch])

    def at(free: Array, rows: NDArray[np.intp]) -> WingLoads:
        part = flow.take(rows).with_(alpha=free[:, 0], q=free[:, 1], deltas={"elevator": held[rows]})
        return warm.solve(part, rows)

    def residual(free: Array, rows: NDArray[np.intp]) -> Array:
        loads = at(free, rows)
        need = mass * flow.speed[rows] * free[:, 1] + weight[rows]
        return np.stack(
            [
                (loads.lift - need) / scale[rows],
                (loads.moment[:, 1] + extra[rows]) / (scale[rows] * chord),
            ],
            axis=1,
        )

    found = solve_free(
        residual,
        x0.T,
        step=np.array([STEP_ANGLE, 0.05]),
        largest=np.array([LARGEST_ANGLE, 3.0]),
        jacobian=None if start is None else start.jacobian,
    )
    loads = at(found.free, np.arange(n))
    return Held(
        alpha=found.free[:, 0],
        pitch=found.free[:, 1],
        loads=loads,
        jacobian=found.jacobian,
        converged=found.converged & loads.converged,
    )


def neutral_point(line: LiftingLine, flow: Flow, *, half_step: float = np.radians(1.0)) -> Array:
    """Neutral point of all surfaces together: x in body axes, m ahead of the CG (negative aft), (n,).

    x = dM/dL between incidences alpha - 1 deg and alpha + 1 deg of `flow`, M about the CG and L along body -z.
    """
    low, high = (line.solve(flow.with_(alpha=flow.alpha + step)) for step in (-half_step, half_step))
    up = low.force[:, 2] - high.force[:, 2]
    return np.asarray((high.moment[:, 1] - low.moment[:, 1]) / np.where(np.abs(up) > 1e-12, up, np.nan))


def static_margin(plane: Plane, *, speed: float, air: Air | None = None, line: LiftingLine | None = None) -> float:
    """Distance of the CG ahead of the neutral point over the mean chord of the wings, at zero incidence.

    Args:
        speed: m/s. air: None takes the standard atmosphere at sea level. line: of this plane, where there is one.

    The body is left out: it moves the neutral point forward by a few percent of the chord, so this is an upper bound.
    """
    air = standard_air() if air is None else air
    if line is None:
        line = LiftingLine(plane_surfaces(plane, with_fin=False), transition=NOMINAL_TRANSITION)
    flow = Flow(
        speed=np.array([speed]), alpha=np.zeros(1), density=np.array([air.density]), viscosity=np.array([air.viscosity])
    )
    return float(-neutral_point(line, flow)[0] / plane.mean_chord)
