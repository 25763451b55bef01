"""The march from an entry speed: speed, shaft speed and deployment in time along a straight line, batched.

At time zero the stick closes: the motor runs free for the controller's brake delay, then brakes; the crow follows with
the servo's lag. Which steady speed an entry ends in is read off the end of the march.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.lines.line import SteadySpeed
from evenfall.lines.shaft import Shaft

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class March:
    """Histories of a batch of entries. Arrays (steps, n): time (steps,) s, speed m/s, omega rad/s, deployment 0-1,
    height lost m."""

    time: Floats
    speed: Floats
    omega: Floats
    deployment: Floats
    height: Floats


def march(
    table: DragTable,
    *,
    free: Shaft,
    held: Shaft,
    brake_delay: float,
    speed: Floats,
    omega: Floats,
    deployment: float,
    deployment_start: float = 0.0,
    deployment_lag: float = 0.1,
    duration: float = 15.0,
    step: float = 0.02,
    until: tuple[SteadySpeed, ...] = (),
) -> March:
    """March every entry with fourth-order Runge-Kutta.

    m dV/dt = T - D - W sin(slope); J domega/dt = excess torque; d(deployment)/dt = (target - deployment)/lag.

    Args:
        free, held: the shaft before and after the `brake_delay` (s).
        speed, omega: at entry, m/s and rad/s, (n,).
        deployment: target, 0-1; `deployment_lag`: s, first order.
        duration, step: s; `stable_step` gives a step that the shaft's own time constant allows.
        until: ends the march before `duration` once every entry has settled in a stable one of these steady speeds.

    Speeds are held above 1 m/s: a line that stops ends there. Error of the fourth order in the step; the
    motor brake takes hold at the step nearest to the delay.
    """
    steps = round(duration / step)
    mass = table.weight / G0
    state = np.stack([speed.astype(float), omega.astype(float), np.full(len(speed), deployment_start), 0 * speed])
    history = np.empty((steps + 1, *state.shape))
    history[0] = state

    def rates(shaft: Shaft, y: Floats) -> Floats:
        v, w = np.maximum(y[0], 1.0), np.maximum(y[1], 0.0)
        thrust, torque = shaft.loads(v, w)
        force = thrust - table.drag(v, y[2]) - table.weight * math.sin(table.slope)
        spin = (-torque - shaft.holding_back(w)) / shaft.inertia
        spin = np.where((y[1] <= 0.0) & (spin < 0.0), 0.0, spin)
        return np.stack([force / mass, spin, (deployment - y[2]) / deployment_lag, -v * math.sin(table.slope)])

    for k in range(steps):
        shaft = free if (k + 0.5) * step < brake_delay else held
        k1 = rates(shaft, state)
        k2 = rates(shaft, state + 0.5 * step * k1)
        k3 = rates(shaft, state + 0.5 * step * k2)
        k4 = rates(shaft, state + step * k3)
        state = state + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        state[0] = np.maximum(state[0], 1.0)
        state[1] = np.maximum(state[1], 0.0)
        history[k + 1] = state
        if until and k % _LOOKS == 0 and k * step > brake_delay and _settled(state, deployment, until):
            history = history[: k + 2]
            break
    return March(
        time=np.arange(len(history), dtype=float) * step,
        speed=history[:, 0],
        omega=history[:, 1],
        deployment=history[:, 2],
        height=history[:, 3],
    )


_LOOKS = 20
"""Steps between two looks at whether all entries have settled."""


def _settled(state: Floats, deployment: float, steady: tuple[SteadySpeed, ...]) -> bool:
    """Every entry lies so near to a stable steady speed, with the crow in place, that it ends there."""
    if np.max(np.abs(state[2] - deployment)) > 1e-3:
        return False
    there = np.zeros(state.shape[1], bool)
    for item in steady:
        near = np.abs(state[0] - item.speed) < 0.01 * item.speed
        there |= near & (np.abs(state[1] - item.omega) < 0.02 * max(item.omega, 20.0)) & item.stable
    return bool(there.all())


def stable_step(shaft: Shaft, *, speed: float, omega: float, longest: float = 0.02) -> float:
    """Step in s for `march`: at most `longest` and the shaft's time constant J/(dQ/domega) at that point.

    Fourth-order Runge-Kutta is stable to 2.78 time constants. Source: Hairer, Wanner, *Solving Ordinary Differential
    Equations II*, sect. IV.2 (from memory).
    """
    around = np.array([0.8, 1.2]) * max(omega, 50.0)
    torque = shaft.excess_torque(np.full(2, speed), around)
    damping = -(torque[1] - torque[0]) / (around[1] - around[0])
    return min(longest, shaft.inertia / max(float(damping), 1e-9))


def ends_in(result: March, steady: tuple[SteadySpeed, ...]) -> NDArray[np.int64]:
    """Index of the stable steady speed each entry ends in, -1 where it ends in none, shape (n,)."""
    final_v, final_w = result.speed[-1], result.omega[-1]
    answer = np.full(final_v.shape, -1)
    for index, state in enumerate(steady):
        if not state.stable:
            continue
        near = np.abs(final_v - state.speed) < 0.03 * state.speed
        near &= np.abs(final_w - state.omega) < 0.06 * max(state.omega, 20.0)
        answer[near] = index
    return answer


def reached_from(entry_speed: Floats, ended: NDArray[np.int64], index: int) -> tuple[float, float] | None:
    """Lowest and highest entry speed (m/s) that ends in that steady speed, None where none does."""
    chosen = entry_speed[ended == index]
    return (float(chosen.min()), float(chosen.max())) if chosen.size else None
