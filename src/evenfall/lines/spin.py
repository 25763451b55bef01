"""Spin and snap roll by strips beyond the stall: an honest estimate, marked as such, and what it does to the line.

Spin: the plane turns about the vertical through its CG at an incidence a. Along that axis the moment vanishes, across
it the pitching moment balances the inertia couple (Iz - Ix) p r, and drag carries the weight:
    M_axis(a, w) = 0,  M_pitch(a, w) + (Iz - Ix) w^2 sin a cos a = 0,  D = W.
Snap: at an incidence beyond the stall the rolling moment about the flight path vanishes at full snap sticks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.strips import StripLoads, strip_loads
from evenfall.lines.balance import Airframe
from evenfall.plane.airframe import Plane
from evenfall.radio.phases import Phase
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]

ALPHAS = np.radians(np.arange(16.0, 71.0, 2.0))
"""Incidences tried in a spin, rad."""
TURNS = np.linspace(0.0, 1.2, 61)
"""Rates of turn tried, w b/(2 V)."""
SNAP_ALPHAS = np.radians([16.0, 20.0, 24.0])
"""Incidences of a snap, rad. Common practice, no source."""
GYRATION = 0.20
"""sqrt((Iz - Ix)/m) over the body's length. Common practice, no source; +-25 %."""
LOWEST, HIGHEST = 0.75, 1.25
"""Shares that radius of gyration and forces are tried with, for the range."""


@dataclass(frozen=True, kw_only=True)
class Range:
    """A nominal value with the lowest and highest that the estimate allows."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class SpinAnswer:
    """A steady spin; an estimate by strips.

    Args:
        alpha: rad. turn: rad/s about the vertical. sink: m/s. height: lost in a turn, m.
        load: greatest force on the surfaces over the weight.
    """

    alpha: Range
    turn: Range
    sink: Range
    height: Range
    load: float


@dataclass(frozen=True, kw_only=True)
class SnapAnswer:
    """A snap roll at one speed; an estimate by strips.

    Args:
        rate: rad/s. load: normal force over the weight at its entry, the greatest of the incidences tried.
    """

    rate: Range
    load: float


def pro_spin(frame: Airframe, phase: Phase, crow: Crow | None, deployment: float) -> dict[str, float]:
    """Angles of every control, rad, with full sticks into a right spin or snap: elevator up, rudder and roll right."""
    plane = frame.plane
    roll = {name: float(angle) for name, angle in surface_deltas(plane, crow, deployment, roll=phase.aileron).items()}
    limits = {name: _limit(plane, name, angle) for name, angle in roll.items()}
    elevator = -min(phase.elevator, plane.tail.elevator_up)
    if crow is not None:
        elevator += deployment * crow.elevator
    known = set(frame.line.controls)
    found = {**limits, "elevator": elevator, "rudder": -phase.rudder}
    return {name: angle for name, angle in found.items() if name in known}


def steady_spin(frame: Airframe, deltas: Mapping[str, float]) -> SpinAnswer | None:
    """The steady right spin at these control angles; None where no rate holds it beyond the stall."""
    plane = frame.plane
    body = plane.tail.root_le_x if plane.body is None else plane.body.length
    first = math.sqrt(2 * frame.weight / (frame.air.density * plane.wing_area))
    rough = _spin(_grid(frame, deltas, sink=first), frame.weight, inertia=_inertia(plane, body, GYRATION))
    if rough is None:
        return None
    grid = _grid(frame, deltas, sink=rough[2])
    nominal = _spin(grid, frame.weight, inertia=_inertia(plane, body, GYRATION)) or rough
    tried = [
        _spin(grid, frame.weight, inertia=_inertia(plane, body, share * GYRATION), force=force)
        for share in (LOWEST, 1.0, HIGHEST)
        for force in (LOWEST, 1.0, HIGHEST)
    ]
    found = [nominal, *(item for item in tried if item is not None)]

    def ranged(values: list[float]) -> Range:
        return Range(value=values[0], low=min(values), high=max(values))

    return SpinAnswer(
        alpha=ranged([item[0] for item in found]),
        turn=ranged([item[1] for item in found]),
        sink=ranged([item[2] for item in found]),
        height=ranged([2 * math.pi * item[2] / item[1] for item in found]),
        load=nominal[3],
    )


def snap_roll(frame: Airframe, deltas: Mapping[str, float], *, speed: float) -> SnapAnswer | None:
    """Snap roll at a speed (m/s) and these control angles; None where nothing rolls."""
    half = _half_span(frame)
    rates, loads = [], []
    for alpha in SNAP_ALPHAS:
        turn = TURNS * speed / half
        made = _turning(frame, np.full(len(turn), alpha), turn, speed, deltas)
        axis = _axis(np.full(len(turn), alpha))
        moment = np.einsum("nk,nk->n", made.moment, axis)
        rate = _last_root(turn, moment)
        if rate is not None:
            rates.append(rate)
        loads.append(float(np.linalg.norm(made.force[0])) / frame.weight)
    if not rates:
        return None
    middle = float(np.median(rates))
    return SnapAnswer(rate=Range(value=middle, low=min(rates), high=max(rates)), load=max(loads))


def _limit(plane: Plane, name: str, angle: float) -> float:
    aileron = plane.wings[name.rpartition("_")[0]].aileron
    if aileron is None:
        return 0.0
    return float(np.clip(angle, -aileron.throw_up, aileron.throw_down))


def _inertia(plane: Plane, body: float, share: float) -> float:
    """Iz - Ix, kg m^2."""
    return plane.mass.all_up * (share * body) ** 2


def _half_span(frame: Airframe) -> float:
    return float(np.max(np.abs(frame.line.lattice.point[:, 1])))


def _axis(alpha: Floats) -> Floats:
    """Unit vector of the flight path in body axes, (n, 3)."""
    return np.stack([np.cos(alpha), 0 * alpha, np.sin(alpha)], axis=-1)


def _turning(frame: Airframe, alpha: Floats, turn: Floats, speed: float, deltas: Mapping[str, float]) -> StripLoads:
    return strip_loads(
        frame.line,
        speed=np.full(len(alpha), speed),
        alpha=alpha,
        rates=turn[:, None] * _axis(alpha),
        deltas=deltas,
        density=frame.air.density,
        viscosity=frame.air.viscosity,
    )


def _last_root(turn: Floats, moment: Floats) -> float | None:
    """The fastest rate at which a moment that drives turns into one that damps; None where none does."""
    down = np.flatnonzero((moment[:-1] > 0) & (moment[1:] <= 0))
    if not len(down):
        return None
    k = int(down[-1])
    return float(turn[k] + (turn[k + 1] - turn[k]) * moment[k] / (moment[k] - moment[k + 1]))


@dataclass(frozen=True, kw_only=True)
class _Grid:
    """Strips over incidence (rows) and rate of turn (columns) at one sink: rates rad/s, moments N m, forces N."""

    sink: float
    turn: Floats
    axis: Floats
    pitch: Floats
    drag: Floats
    size: Floats


def _grid(frame: Airframe, deltas: Mapping[str, float], *, sink: float) -> _Grid:
    alpha, share = (grid.ravel() for grid in np.meshgrid(ALPHAS, TURNS, indexing="ij"))
    turn = share * sink / _half_span(frame)
    made = _turning(frame, alpha, turn, sink, deltas)
    shape, axis = (len(ALPHAS), len(TURNS)), _axis(alpha)
    return _Grid(
        sink=sink,
        turn=turn.reshape(shape),
        axis=np.einsum("nk,nk->n", made.moment, axis).reshape(shape),
        pitch=made.moment[:, 1].reshape(shape),
        drag=-np.einsum("nk,nk->n", made.force, axis).reshape(shape),
        size=np.linalg.norm(made.force, axis=1).reshape(shape),
    )


def _spin(
    grid: _Grid, weight: float, *, inertia: float, force: float = 1.0
) -> tuple[float, float, float, float] | None:
    """Incidence, rate, sink and load of the steady spin with all forces times `force`.

    Air forces and inertia both go with the square of the sink, so the balance of moments holds at any; drag sets it.
    """
    twist = inertia * grid.turn**2 * (np.sin(ALPHAS) * np.cos(ALPHAS))[:, None]
    over = force * grid.pitch + twist
    rows = np.full((4, len(ALPHAS)), np.nan)
    for k, turn in enumerate(grid.turn):
        root = _last_root(turn, grid.axis[k])
        if root is not None:
            rows[:, k] = root, *(np.interp(root, turn, row[k]) for row in (over, grid.drag, grid.size))
    at = _first_balance(rows[1])
    if at is None:
        return None
    k, part = at
    alpha, turn_at, drag, size = (
        float(row[k] + part * (row[k + 1] - row[k])) for row in (ALPHAS, rows[0], rows[2], rows[3])
    )
    if drag <= 0:
        return None
    grown = math.sqrt(weight / (force * drag))
    return alpha, turn_at * grown, grid.sink * grown, force * size * grown**2 / weight


def _first_balance(over: Floats) -> tuple[int, float] | None:
    """Where the pitching moment first goes from nose up to nose down with incidence: cell and share in it.

    Nose down from the first incidence on: the spin lies at the edge of the stall, which is where it is given.
    """
    known = np.flatnonzero(np.isfinite(over[:-1]) & np.isfinite(over[1:]))
    if not len(known):
        return None
    for k in known:
        if over[k] > 0 >= over[k + 1]:
            return int(k), float(over[k] / (over[k] - over[k + 1]))
    first, last = int(known[0]), int(known[-1])
    return (first, 0.0) if over[first] <= 0 else (last, 1.0)
