"""Steady speeds along a straight line: where the forces along the path and the torques on the shaft balance at once."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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


def excess_force(shaft: Shaft, table: DragTable, speed: Floats, omega: Floats, deployment: float) -> Floats:
    """Force along the path, N: thrust - drag - W sin(slope). Zero on a steady line, positive accelerates."""
    thrust, _ = shaft.loads(speed, omega)
    return np.asarray(thrust - table.drag(speed, deployment) - table.weight * math.sin(table.slope))


def steady_speeds(curve: ShaftCurve, table: DragTable, deployment: float) -> tuple[SteadySpeed, ...]:
    """Every steady speed on the line of `table` at a deployment (0-1), slowest first.

    The curve of shaft equilibria is cut by zero excess force segment by segment, so that folds need no book-keeping;
    each crossing is polished by Newton on both balances. Speeds below `table.lowest_speed` (stall) are left out.
    """
    shaft = curve.shaft
    start = excess_force(shaft, table, curve.speed_a, curve.omega_a, deployment)
    end = excess_force(shaft, table, curve.speed_b, curve.omega_b, deployment)
    crossed = (start > 0) != (end > 0)
    if not crossed.any():
        return ()
    share = start[crossed] / (start[crossed] - end[crossed])
    speed = curve.speed_a[crossed] + share * (curve.speed_b - curve.speed_a)[crossed]
    omega = curve.omega_a[crossed] + share * (curve.omega_b - curve.omega_a)[crossed]
    speed, omega = _polish(shaft, table, speed, omega, deployment)
    found: list[SteadySpeed] = []
    for v, w in sorted(zip(speed.tolist(), omega.tolist(), strict=True)):
        twin = any(abs(v - s.speed) < 2e-3 * v and abs(w - s.omega) < 5e-3 * max(w, 10.0) for s in found)
        if v <= max(table.lowest_speed, float(table.speeds[0])) or v > float(table.speeds[-1]) or twin:
            continue
        found.append(_steady(shaft, table, v, w, deployment))
    return tuple(found)


def _polish(shaft: Shaft, table: DragTable, speed: Floats, omega: Floats, deployment: float) -> tuple[Floats, Floats]:
    """Newton on force and torque together; keeps the starting point where a step would leave its neighbourhood."""
    v, w = speed.copy(), omega.copy()
    for _ in range(6):
        force, torque, jacobian = _linearised(shaft, table, v, w, deployment)
        determinant = jacobian[0] * jacobian[3] - jacobian[1] * jacobian[2]
        safe = np.where(np.abs(determinant) > 1e-12, determinant, np.inf)
        dv = -(force * jacobian[3] - torque * jacobian[1]) / safe
        dw = -(torque * jacobian[0] - force * jacobian[2]) / safe
        v = np.clip(v + dv, 0.97 * speed, 1.03 * speed)
        w = np.clip(w + dw, omega - 0.05 * omega - 5.0, omega + 0.05 * omega + 5.0)
    return v, w


def _linearised(
    shaft: Shaft, table: DragTable, v: Floats, w: Floats, deployment: float
) -> tuple[Floats, Floats, tuple[Floats, Floats, Floats, Floats]]:
    """Excess force and torque, and their derivatives (force by v, by w, torque by v, by w)."""
    dv, dw = 1e-3 * np.maximum(v, 1.0), 1e-3 * np.maximum(w, 20.0)

    def both(speed: Floats, omega: Floats) -> tuple[Floats, Floats]:
        return excess_force(shaft, table, speed, omega, deployment), shaft.excess_torque(speed, omega)

    force, torque = both(v, w)
    force_v, torque_v = both(v + dv, w)
    force_v0, torque_v0 = both(v - dv, w)
    force_w, torque_w = both(v, w + dw)
    force_w0, torque_w0 = both(v, w - dw)
    return (
        force,
        torque,
        (
            (force_v - force_v0) / (2 * dv),
            (force_w - force_w0) / (2 * dw),
            (torque_v - torque_v0) / (2 * dv),
            (torque_w - torque_w0) / (2 * dw),
        ),
    )


def _steady(shaft: Shaft, table: DragTable, speed: float, omega: float, deployment: float) -> SteadySpeed:
    v, w = np.array([speed]), np.array([omega])
    _, _, jacobian = _linearised(shaft, table, v, w, deployment)
    mass = table.weight / 9.80665
    a, b, c, d = (float(entry[0]) for entry in jacobian)
    trace = a / mass + d / shaft.inertia
    determinant = (a * d - b * c) / (mass * shaft.inertia)
    thrust, _ = shaft.loads(v, w)
    q = 0.5 * table.density * speed**2
    return SteadySpeed(
        speed=speed,
        omega=omega,
        stable=trace < 0 and determinant > 0,
        airframe=q * float(table.clean_area(v)[0]),
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
