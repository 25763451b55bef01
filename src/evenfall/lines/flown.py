"""Straight lines as they were flown: many lines and many slightly different aeroplanes marched together.

The physics is that of `evenfall.lines.entry`; here every line has its own slope, stick, air and start, and every line
is flown by every variant at once, so that what a change of one factor does to a whole evening's lines is one batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.lines.shaft import PowerUnit, Shaft, free_shaft
from evenfall.lines.survey import shaft_at
from evenfall.plane.airframe import Plane
from evenfall.power.train import corrected_loads, driven, shaft_inertia, shaft_states
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

SERVO_LAG = 0.1
"""First-order lag of servo and linkage, s. Common practice, no source."""
_TORQUE_NODES = 512


@dataclass(frozen=True, kw_only=True)
class FlownLine:
    """One straight line from a moment on at which its speed is roughly known.

    Args:
        table: drag on its slope (with the crow it was flown with), its air's density included.
        plan: motor-brake level, throttle curve.
        stick: throttle stick 0-1. deployment: 0-1 that the stick asks for.
        speed: at the start, m/s through the air.
        fresh: the stick was moved to `stick` at the start (crow still stowed, brake delay ahead, propeller still
            driven); False where everything has settled by then.
        duration: s.
        lag: of the deployment behind its stick, s, first order.
    """

    table: DragTable
    plan: Plan
    stick: float
    deployment: float
    speed: float
    fresh: bool
    duration: float
    lag: float = SERVO_LAG


@dataclass(frozen=True, kw_only=True)
class FlownVariant:
    """One changed aeroplane on every line: the plane (corrections, power train, mass) and a factor on the start speed
    of each line, (lines,) or 1."""

    plane: Plane
    start: Floats | float = 1.0


@dataclass(frozen=True, kw_only=True)
class Flown:
    """Histories: time (steps,) s; speed m/s, shaft speed rad/s, way along the path m, each (steps, lines, variants).

    A line ends at its duration: later rows go on with it and mean nothing.
    """

    time: Floats
    speed: Floats
    omega: Floats
    way: Floats

    def way_at(self, line: int, times: Floats) -> Floats:
        """Way of every variant at times of one line, (times, variants): cubic between steps."""
        return _hermite(self.time, self.way[:, line], self.speed[:, line], times)

    def time_at(self, line: int, way: float) -> Floats:
        """Time at which every variant has gone `way` metres on one line, s, (variants,); inf where not reached."""
        gone = self.way[:, line]
        found = np.full(gone.shape[1], math.inf)
        for column in range(gone.shape[1]):
            past = int(np.searchsorted(gone[:, column], way))
            if past == 0:
                found[column] = self.time[0]
            elif past < len(self.time):
                # Speed changes little within a step: one Newton step from the chord.
                share = (way - gone[past - 1, column]) / (gone[past, column] - gone[past - 1, column])
                found[column] = self.time[past - 1] + share * (self.time[past] - self.time[past - 1])
        return found


def _hermite(time: Floats, way: Floats, speed: Floats, at: Floats) -> Floats:
    step = time[1] - time[0]
    place = np.clip(at / step, 0.0, len(time) - 1.000001)
    i = place.astype(int)
    s = (place - i)[:, None]
    return np.asarray(
        way[i] * (1 + 2 * s) * (1 - s) ** 2
        + way[i + 1] * s**2 * (3 - 2 * s)
        + step * (speed[i] * s * (1 - s) ** 2 - speed[i + 1] * s**2 * (1 - s))
    )


class _Drags:
    """Drag of every line and variant by one look-up: the lines' tables stacked."""

    def __init__(self, lines: Sequence[FlownLine], variants: Sequence[FlownVariant]) -> None:
        tables = [line.table for line in lines]
        columns = max(table.surfaces.shape[1] for table in tables)
        self.low = np.array([[table.speeds[0]] for table in tables])
        self.step = np.array([[table.speeds[1] - table.speeds[0]] for table in tables])
        self.rows, self.columns = tables[0].surfaces.shape[0], columns
        surfaces = np.stack([np.broadcast_to(t.surfaces, (self.rows, columns)) for t in tables])
        parts = np.stack([np.broadcast_to(t.parts, (self.rows, columns)) for t in tables])
        stowed = np.broadcast_to(surfaces[:, :, :1], surfaces.shape)
        self.flat = np.stack([stowed, parts, surfaces - stowed], axis=-1).reshape(-1, 3)
        self.base = (np.arange(len(tables)) * self.rows * columns)[:, None]
        self.half_density = np.array([[0.5 * table.density] for table in tables])
        made = [variant.plane.corrections for variant in variants]
        self.factors = np.array([[1.0, item.parasite_drag, item.crow_drag] for item in made])

    def __call__(self, v: Floats, deployment: Floats) -> Floats:
        """Drag, N, (lines, variants) for speeds (lines, variants) and deployments (lines, 1)."""
        row = np.clip((v - self.low) / self.step, 0.0, self.rows - 1.000001)
        i = row.astype(np.intp)
        f = (row - i)[..., None]
        if self.columns == 1:
            index = self.base + i
            area = self.flat[index] * (1 - f) + self.flat[index + 1] * f
        else:
            column = np.clip(deployment * (self.columns - 1), 0.0, self.columns - 1.000001)
            j = column.astype(np.intp)
            g = (column - j)[..., None]
            index = self.base + i * self.columns + j
            near = self.flat[index] * (1 - g) + self.flat[index + 1] * g
            index = index + self.columns
            far = self.flat[index] * (1 - g) + self.flat[index + 1] * g
            area = near * (1 - f) + far * f
        return np.asarray(self.half_density * v**2 * np.einsum("gnk,nk->gn", area, self.factors))


class _Torques:
    """Torque that holds every shaft back, by one look-up on a common grid of shaft speeds."""

    def __init__(self, shafts: Sequence[Sequence[Shaft]], fastest: float) -> None:
        self.grid = np.linspace(0.0, fastest, _TORQUE_NODES)
        made: dict[int, Floats] = {}
        rows = []
        for line in shafts:
            for shaft in line:
                if id(shaft) not in made:
                    made[id(shaft)] = np.asarray(shaft.holding_back(self.grid), float)
                rows.append(made[id(shaft)])
        self.flat = np.concatenate(rows)
        self.base = (np.arange(len(rows)) * _TORQUE_NODES).reshape(len(shafts), -1)

    def __call__(self, omega: Floats) -> Floats:
        place = np.clip(omega / self.grid[1], 0.0, _TORQUE_NODES - 1.000001)
        i = place.astype(np.intp)
        f = place - i
        index = self.base + i
        return np.asarray(self.flat[index] * (1 - f) + self.flat[index + 1] * f)


def fly(unit: PowerUnit, lines: Sequence[FlownLine], variants: Sequence[FlownVariant], *, step: float = 0.02) -> Flown:
    """March every line with every variant, fourth-order Runge-Kutta in `step` (s).

    m dV/dt = T - D - W sin(slope); J domega/dt = excess torque; crow follows its stick with the line's lag; the motor
    runs free for the controller's brake delay where the line is `fresh`.

    Args:
        unit: plane, propeller and air; each line's own density is taken from its table.

    Speeds are held above 1 m/s. The shaft's time constant (20-100 ms) sets the largest step that is stable: halved
    until it is below. Source: as `evenfall.lines.entry.march`.
    """
    planes = [variant.plane for variant in variants]
    shafts, free, started = _shafts(unit, lines, planes)
    fastest = 1.2 * _fastest(unit, lines)
    held, loose = _Torques(shafts, fastest), _Torques(free, fastest)
    drags = _Drags(lines, variants)
    mass = np.array([plane.mass.all_up for plane in planes])
    inertia = np.array([shaft_inertia(plane) for plane in planes])
    driving = np.array([plane.corrections.thrust for plane in planes])
    braking = np.array([plane.corrections.braked_propeller_drag for plane in planes])
    density = np.array([[line.table.density] for line in lines])
    pull = np.array([[G0 * math.sin(line.table.slope)] for line in lines])
    target = np.array([[line.deployment] for line in lines])
    fresh = np.array([[line.fresh] for line in lines])
    lag = np.array([[line.lag] for line in lines])
    closed = np.array([[shaft_at(unit, line.plan, line.stick)[1]] for line in lines])
    delay = unit.plane.controller.brake_delay
    shape = (len(lines), len(variants))
    start = np.stack([np.broadcast_to(variant.start, (len(lines),)) for variant in variants], axis=1)
    v = np.array([[line.speed] for line in lines]) * start
    w = np.broadcast_to(started, shape).copy()
    out = np.where(fresh, 0.0, target)

    def rates(torques: Floats, v: Floats, w: Floats, out: Floats) -> tuple[Floats, Floats, Floats]:
        v, w = np.maximum(v, 1.0), np.maximum(w, 0.0)
        thrust, torque = corrected_loads(*unit.propeller.loads(v, w, density), driving=driving, braking=braking)
        spin = (-torque - torques) / inertia
        spin = np.where((w <= 0.0) & (spin < 0.0), 0.0, spin)
        return (thrust - drags(v, out)) / mass - pull, spin, (target - out) / lag

    step = _stable(rates, held, v, np.maximum(w, 50.0), target, step)
    duration = max(line.duration for line in lines)
    steps = max(2, math.ceil(duration / step))
    history = np.empty((3, steps + 1, *shape))
    way = np.zeros(shape)
    history[:, 0] = v, w, way
    for k in range(steps):
        waits = fresh & closed & ((k + 0.5) * step < delay)

        def holding(w: Floats, waits: NDArray[np.bool_] = waits) -> Floats:
            return np.where(waits, loose(w), held(w)) if waits.any() else held(w)

        a = rates(holding(w), v, w, out)
        b = rates(holding(w + 0.5 * step * a[1]), v + 0.5 * step * a[0], w + 0.5 * step * a[1], out + 0.5 * step * a[2])
        c = rates(holding(w + 0.5 * step * b[1]), v + 0.5 * step * b[0], w + 0.5 * step * b[1], out + 0.5 * step * b[2])
        d = rates(holding(w + step * c[1]), v + step * c[0], w + step * c[1], out + step * c[2])
        way = way + step * (v + step / 6 * (a[0] + b[0] + c[0]))
        v = np.maximum(v + step / 6 * (a[0] + 2 * b[0] + 2 * c[0] + d[0]), 1.0)
        w = np.maximum(w + step / 6 * (a[1] + 2 * b[1] + 2 * c[1] + d[1]), 0.0)
        out = out + step / 6 * (a[2] + 2 * b[2] + 2 * c[2] + d[2])
        history[:, k + 1] = v, w, way
    return Flown(time=step * np.arange(steps + 1, dtype=float), speed=history[0], omega=history[1], way=history[2])


Rates = Callable[[Floats, Floats, Floats, Floats], tuple[Floats, Floats, Floats]]


def _stable(rates: Rates, held: _Torques, v: Floats, w: Floats, out: Floats, longest: float) -> float:
    """Step that the fastest of the shafts allows, s: at most 1.4 of its time constants (RK4 is stable to 2.78)."""
    low, high = 0.85 * w, 1.15 * w
    damping = (rates(held(low), v, low, out)[1] - rates(held(high), v, high, out)[1]) / (high - low)
    return float(min(longest, 1.4 / max(float(damping.max()), 1e-9)))


def _shafts(
    unit: PowerUnit, lines: Sequence[FlownLine], planes: Sequence[Plane]
) -> tuple[list[list[Shaft]], list[list[Shaft]], Floats]:
    """Shafts of every line and variant at the stick and free of the motor, and the shaft speed each line starts with
    (rad/s, (lines, 1)). Planes that share motor, controller, battery and brake factor share a shaft."""
    made: dict[object, Shaft] = {}

    def shaft(plane: Plane, key: object, make: Callable[[PowerUnit], Shaft]) -> Shaft:
        alike = (key, id(plane.motor), id(plane.controller), id(plane.battery), plane.corrections.brake_damping)
        if alike not in made:
            made[alike] = make(replace(unit, plane=plane))
        return made[alike]

    held, free, started = [], [], []
    for line in lines:
        key = (id(line.plan.motor), line.stick)
        at_stick = partial(_at_stick, line)
        held.append([shaft(plane, key, at_stick) for plane in planes])
        free.append([shaft(plane, "free", free_shaft) for plane in planes])
        started.append([_start(unit, line)])
    return held, free, np.array(started)


def _at_stick(line: FlownLine, unit: PowerUnit) -> Shaft:
    return shaft_at(unit, line.plan, line.stick)[0]


def _start(unit: PowerUnit, line: FlownLine) -> float:
    """Shaft speed a line starts with, rad/s: driven at half stick before the stick moves, settled otherwise. Of several
    settled states the fastest: a closing stick arrives from above."""
    plane, density = unit.plane, line.table.density
    closed = shaft_at(unit, line.plan, line.stick)[1]
    if line.fresh or not closed:
        command = 0.5 if line.fresh else float(line.plan.motor.command(line.stick))
        return float(driven(plane, unit.propeller, line.speed, command, density=density).omega)
    states = shaft_states(plane, unit.propeller, line.plan.motor.level, line.speed, density=density)
    stable = states.omega[0][states.stable[0]]
    return float(stable[-1]) if stable.size else 0.0


def _fastest(unit: PowerUnit, lines: Sequence[FlownLine]) -> float:
    """A shaft speed beyond every state, rad/s."""
    plane = unit.plane
    speed = max(max(line.speed, float(line.table.speeds[-1])) for line in lines)
    return float(max(2 * math.pi * speed / (0.8 * plane.propeller.pitch), plane.motor.kv * plane.battery.rest_voltage))
