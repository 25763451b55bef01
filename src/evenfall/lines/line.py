"""Steady speeds along a straight line: where the forces along the path and the torques on the shaft balance at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.air import G0
from evenfall.lines.balance import Airframe
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.shaft import PowerUnit, Shaft, ShaftCurve, driven_shaft, omega_grid, shaft_curve

Floats = NDArray[np.float64]

LINES: dict[str, float] = {
    "vertical down": -math.pi / 2,
    "45 down": -math.pi / 4,
    "level": 0.0,
    "45 up": math.pi / 4,
    "vertical up": math.pi / 2,
}
"""The five lines and their slopes, rad."""


@dataclass(frozen=True, kw_only=True)
class SteadySpeed:
    """One steady speed of a line.

    Args:
        speed: m/s. omega: shaft speed, rad/s.
        stable: both speed and shaft speed return after a small disturbance.
        airframe, crow: N, drag of the clean aeroplane and what deployment adds.
        thrust: N, negative where the propeller brakes.
    """

    speed: float
    omega: float
    stable: bool
    airframe: float
    crow: float
    thrust: float


def steady_speeds(curve: ShaftCurve, table: DragTable, deployment: float) -> tuple[SteadySpeed, ...]:
    """Every steady speed on the line of `table` at a deployment (0-1), slowest first.

    The curve of shaft equilibria is cut by zero excess force segment by segment, so that folds need no book-keeping;
    each crossing is polished by Newton on both balances. Speeds below `table.lowest_speed` (stall) are left out.
    """
    start = curve.thrust_a - table.drag(curve.speed_a, deployment) - table.held
    end = curve.thrust_b - table.drag(curve.speed_b, deployment) - table.held
    crossed = (start > 0) != (end > 0)
    if not crossed.any():
        return ()
    share = start[crossed] / (start[crossed] - end[crossed])
    speed = curve.speed_a[crossed] + share * (curve.speed_b - curve.speed_a)[crossed]
    omega = curve.omega_a[crossed] + share * (curve.omega_b - curve.omega_a)[crossed]
    speed, omega, jacobian = polish_steady(curve.shaft, table, speed, omega, deployment)
    lowest = max(table.lowest_speed, float(table.speeds[0]))
    found: list[SteadySpeed] = []
    for index in np.lexsort((omega, speed)).tolist():
        v, w = float(speed[index]), float(omega[index])
        twin = any(abs(v - s.speed) < 2e-3 * v and abs(w - s.omega) < 5e-3 * max(w, 10.0) for s in found)
        if v <= lowest or v > float(table.speeds[-1]) or twin:
            continue
        found.append(_steady(curve.shaft, table, v, w, deployment, jacobian[:, :, index]))
    return tuple(found)


_SETTLED = 1e-7


class PathForces(Protocol):
    """What holds against a line, thrust apart: a `DragTable`, or several lines one entry each."""

    @property
    def held(self) -> float | Floats:
        """Weight along the path, N, positive holds back."""
        ...

    def drag(self, speed: ArrayLike, deployment: ArrayLike) -> Floats:
        """Drag of the airframe, N."""
        ...


def polish_steady(
    shaft: Shaft, table: PathForces, speed: Floats, omega: Floats, deployment: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    """Newton on force and torque together, held near its start; also the last derivatives (2, 2, n).

    Shaft and deployment may differ from entry to entry: all that is asked is that they broadcast to (n,). A stopped
    shaft (omega 0) is held by breakaway friction: it stays at rest and only the force is balanced.
    """
    v, w = speed, omega
    stopped = omega == 0.0
    for _ in range(6):
        residual, jacobian = linearised(shaft, table, v, w, deployment)
        residual[1, stopped] = jacobian[0, 1, stopped] = jacobian[1, 0, stopped] = 0.0
        jacobian[1, 1, stopped] = -1.0
        (a, b), (c, d) = jacobian
        determinant = a * d - b * c
        safe = np.where(np.abs(determinant) > 1e-12, determinant, np.inf)
        new_v = np.clip(v - (residual[0] * d - residual[1] * b) / safe, 0.97 * speed, 1.03 * speed)
        new_w = np.clip(
            w - (residual[1] * a - residual[0] * c) / safe, np.maximum(0.95 * omega - 5.0, 0.0), 1.05 * omega + 5.0
        )
        step = np.max(np.abs(new_v - v) / np.maximum(v, 1.0)) + np.max(np.abs(new_w - w) / np.maximum(w, 20.0))
        v, w = new_v, new_w
        if step < _SETTLED:
            break
    return v, w, jacobian


def linearised(shaft: Shaft, table: PathForces, v: Floats, w: Floats, deployment: ArrayLike) -> tuple[Floats, Floats]:
    """Excess force (N) and torque (N m), (2, n), and their derivatives by speed and shaft speed, (2, 2, n)."""
    dv, dw = 1e-3 * np.maximum(v, 1.0), 1e-3 * np.maximum(w, 20.0)
    speeds = np.stack([v, v + dv, v - dv, v, v])
    omegas = np.stack([w, w, w, w + dw, np.maximum(w - dw, 0.0)])
    thrust, torque = shaft.loads(speeds, omegas)
    force = thrust - table.drag(speeds, deployment) - table.held
    spin = -torque - shaft.holding_back(omegas)
    both = np.stack([force, spin])
    by_v = (both[:, 1] - both[:, 2]) / (2 * dv)
    by_w = (both[:, 3] - both[:, 4]) / (omegas[3] - omegas[4])
    return both[:, 0], np.stack([by_v, by_w], axis=1)


def returns(jacobian: Floats, *, mass: float, inertia: float) -> NDArray[np.bool_]:
    """True where speed and shaft speed return after a small disturbance: trace < 0, determinant > 0.

    Args:
        jacobian: (2, 2, ...) of `linearised`. mass: kg. inertia: kg m^2.
    """
    (a, b), (c, d) = jacobian
    return np.asarray((a / mass + d / inertia < 0) & (a * d - b * c > 0))


def _steady(
    shaft: Shaft, table: DragTable, speed: float, omega: float, deployment: float, jacobian: Floats
) -> SteadySpeed:
    v, w = np.array([speed]), np.array([omega])
    thrust, _ = shaft.loads(v, w)
    q = 0.5 * table.density * speed**2
    return SteadySpeed(
        speed=speed,
        omega=omega,
        stable=bool(returns(jacobian, mass=table.weight / G0, inertia=shaft.inertia)),
        airframe=q * float(table.clean_area(v, deployment)[0]),
        crow=q * float(table.crow_area(v, deployment)[0]),
        thrust=float(thrust[0]),
    )


def level_speed(frame: Airframe, unit: PowerUnit, stick: float) -> float | None:
    """Fastest stable level speed (m/s) at a stick position (0-1) with a straight throttle curve and crow stowed.

    None where the plane does not fly level there.
    """
    shaft = driven_shaft(unit, stick)
    pitch_speed = unit.plane.motor.kv * unit.plane.battery.rest_voltage * unit.plane.propeller.pitch / (2 * math.pi)
    scale = max(pitch_speed * stick, 5.0) / 1.6
    table = drag_tables(frame, wanted=scale, slopes=0.0)[0]
    speeds = np.linspace(float(table.speeds[0]), float(table.speeds[-1]), 120)
    curve = shaft_curve(shaft, speeds, omega_grid(unit.plane, float(speeds[-1])))
    stable = [state.speed for state in steady_speeds(curve, table, 0.0) if state.stable]
    return max(stable, default=None)


def fastest_stable(curve: ShaftCurve, table: DragTable, deployment: float) -> float | None:
    """The fastest stable steady speed of a line at a deployment, m/s; None without one."""
    return max((state.speed for state in steady_speeds(curve, table, deployment) if state.stable), default=None)
