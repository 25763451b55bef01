"""The speed map: every steady speed of the vertical down over crow and motor brake, stick closed.

The motor brake is a continuous percent here, taken as pulse duty; the shaft curve of each percent is made once and
cut by the drag of every crow angle at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.errors import ValueRangeError
from evenfall.lines.drag import DragTable
from evenfall.lines.line import polish_steady, returns
from evenfall.lines.shaft import PowerUnit, Shaft, omega_grid, propeller_torque_grid
from evenfall.power.brake import pulsed_short_torque
from evenfall.power.equilibria import segments_from_grid
from evenfall.power.motor import friction_torque

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

CROW_STEPS, BRAKE_STEPS = 41, 21
"""Size of the usual map."""
_SPEEDS = 160


@dataclass(frozen=True, kw_only=True)
class SpeedGrid:
    """Every steady speed of the vertical down, stick closed, on a grid of crow (rows) and motor brake (columns).

    Args:
        crow: rad, (n,). brake: percent, (m,).
        speed, omega, thrust: m/s, rad/s and N (negative where the propeller brakes), (n, m, k), slowest first, NaN
            where there is no further one.
        stable: (n, m, k), speed and shaft speed return after a small disturbance; False where padded.
    """

    crow: Floats
    brake: Floats
    speed: Floats
    omega: Floats
    thrust: Floats
    stable: Flags


@dataclass(frozen=True, kw_only=True)
class MapBase:
    """What every part of a map is made from.

    Args:
        unit: plane, propeller and air.
        table: drag on the vertical down; deployment 1 is crow at `limit`.
        limit: rad. wanted: m/s.
        speeds, omegas, torque: grid of airspeeds (m/s) and shaft speeds (rad/s) and the propeller's torque on it (N m).
    """

    unit: PowerUnit
    table: DragTable
    limit: float
    wanted: float
    speeds: Floats
    omegas: Floats
    torque: Floats

    def crow_angle(self, speed: Floats, thrust: Floats) -> Floats:
        """Crow (rad) at which a speed (m/s) is steady with this thrust (N): drag = W + T.

        Beyond stowed and the limit the angle goes on in a straight line: below 0 the clean aeroplane holds too much.
        """
        dynamic = 0.5 * self.table.density * speed**2
        need = (self.table.weight + thrust) / dynamic
        shares = self.table.deployments
        area = self.table.clean_area(speed[..., None], shares) + self.table.crow_area(speed[..., None], shares)
        area = np.maximum.accumulate(area, axis=-1) + 1e-9 * shares
        at = np.clip((area < need[..., None]).sum(axis=-1) - 1, 0, shares.size - 2)[..., None]
        low = np.take_along_axis(area, at, axis=-1)[..., 0]
        high = np.take_along_axis(area, at + 1, axis=-1)[..., 0]
        found = shares[at[..., 0]] + (need - low) / (high - low) * (shares[1] - shares[0])
        return np.asarray(self.limit * np.clip(found, -9.0, 9.0))


def map_base(unit: PowerUnit, table: DragTable, *, limit: float, wanted: float) -> MapBase:
    """Make the propeller's torque grid; `limit` (rad) is the crow at deployment 1 of `table`, `wanted` in m/s."""
    lowest = max(table.lowest_speed, float(table.speeds[0]), 0.3 * wanted)
    speeds = np.linspace(lowest, float(table.speeds[-1]), _SPEEDS)
    omegas = omega_grid(unit.plane, float(speeds[-1]))
    torque = propeller_torque_grid(unit, speeds, omegas)
    return MapBase(unit=unit, table=table, limit=limit, wanted=wanted, speeds=speeds, omegas=omegas, torque=torque)


def duty_torque(unit: PowerUnit, percent: Floats, omega: Floats) -> Floats:
    """Torque (N m) of motor brake and friction at `percent` of the motor brake and `omega` (rad/s), which broadcast."""
    plane = unit.plane
    pulsed = pulsed_short_torque(
        omega,
        np.asarray(percent) / 100.0,
        motor=plane.motor,
        controller=plane.controller,
        voltage=plane.battery.rest_voltage,
        frequency=plane.controller.brake_frequency,
    )
    return np.asarray(plane.corrections.brake_damping * pulsed + friction_torque(plane.motor))


def duty_shaft(unit: PowerUnit, percent: Floats) -> Shaft:
    """The closed shafts of many settings at once: `percent` (n,) goes with the last axis of speed and shaft speed."""

    def holding_back(omega: Floats) -> Floats:
        return duty_torque(unit, percent, omega)

    return Shaft(unit=unit, holding_back=holding_back, inertia=unit.inertia)


@dataclass(frozen=True, kw_only=True)
class BrakeCurves:
    """Shaft equilibria of many settings as loose segments (see `ShaftCurve`); `column` names the setting of each."""

    column: NDArray[np.intp]
    speed_a: Floats
    omega_a: Floats
    speed_b: Floats
    omega_b: Floats
    thrust_a: Floats
    thrust_b: Floats


def brake_curves(base: MapBase, brake: Floats) -> BrakeCurves:
    """Shaft equilibria of every setting of the motor brake in percent, (m,)."""
    holding = duty_torque(base.unit, brake[:, None], base.omegas[None, :])
    parts = [segments_from_grid(base.speeds, base.omegas, base.torque + row) for row in holding]
    ends = [np.concatenate([getattr(part, name) for part in parts]) for name in ("v0", "w0", "v1", "w1")]
    shaft = duty_shaft(base.unit, np.zeros(1))
    return BrakeCurves(
        column=np.repeat(np.arange(brake.size), [len(part) for part in parts]),
        speed_a=ends[0],
        omega_a=ends[1],
        speed_b=ends[2],
        omega_b=ends[3],
        thrust_a=shaft.loads(ends[0], ends[1])[0],
        thrust_b=shaft.loads(ends[2], ends[3])[0],
    )


def speed_grid(base: MapBase, crow: Floats, brake: Floats) -> SpeedGrid:
    """Every steady speed at crow angles (rad, (n,), 0 to the limit) and motor brake (percent, (m,), 0 to 100).

    Speeds outside the drag table are left out. Raises `ValueRangeError` beyond the limits.
    """
    if crow.min() < 0 or crow.max() > base.limit * (1 + 1e-9):
        raise ValueRangeError(f"crow must lie from 0 to {math.degrees(base.limit):.1f} deg, the limit of the hinges")
    if brake.min() < 0 or brake.max() > 100:
        raise ValueRangeError("the motor brake must lie from 0 to 100 percent")
    curves = brake_curves(base, brake)
    share = crow / base.limit
    start = _excess(base, curves.speed_a, curves.thrust_a, share)
    end = _excess(base, curves.speed_b, curves.thrust_b, share)
    segment, row = np.nonzero((start > 0) != (end > 0))
    at = start[segment, row] / (start[segment, row] - end[segment, row])
    speed = curves.speed_a[segment] + at * (curves.speed_b - curves.speed_a)[segment]
    omega = curves.omega_a[segment] + at * (curves.omega_b - curves.omega_a)[segment]
    column = curves.column[segment]
    shaft = duty_shaft(base.unit, brake[column])
    speed, omega, jacobian = polish_steady(shaft, base.table, speed, omega, share[row])
    stable = returns(jacobian, mass=base.table.weight / G0, inertia=shaft.inertia)
    thrust = shaft.loads(speed, omega)[0]
    inside = (speed > max(base.table.lowest_speed, float(base.table.speeds[0]))) & (speed <= base.table.speeds[-1])
    keep = np.flatnonzero(inside)
    return _pad(crow, brake, row[keep], column[keep], speed[keep], omega[keep], thrust[keep], stable[keep])


def _excess(base: MapBase, speed: Floats, thrust: Floats, share: Floats) -> Floats:
    """Force along the path, N, (segments, shares): W + T - D, drag straight between the rows of the table."""
    table = base.table
    rows = table.clean_area(table.speeds[:, None], share) + table.crow_area(table.speeds[:, None], share)
    at = np.clip((speed - table.speeds[0]) / (table.speeds[1] - table.speeds[0]), 0.0, table.speeds.size - 1.000001)
    index = at.astype(np.intp)
    part = (at - index)[:, None]
    area = rows[index] * (1 - part) + rows[index + 1] * part
    return np.asarray((table.weight + thrust)[:, None] - (0.5 * table.density * speed**2)[:, None] * area)


def _pad(
    crow: Floats,
    brake: Floats,
    row: NDArray[np.intp],
    column: NDArray[np.intp],
    speed: Floats,
    omega: Floats,
    thrust: Floats,
    stable: Flags,
) -> SpeedGrid:
    """Crossings sorted into cells, slowest first; twins (one state found from two segments) dropped."""
    cell = row * brake.size + column
    order = np.lexsort((omega, speed, cell))
    cell, speed, omega = cell[order], speed[order], omega[order]
    twin = np.zeros(cell.size, dtype=bool)
    for back in (1, 2):
        near = (
            (cell[back:] == cell[:-back])
            & (np.abs(speed[back:] - speed[:-back]) < 2e-3 * speed[back:])
            & (np.abs(omega[back:] - omega[:-back]) < 5e-3 * np.maximum(omega[back:], 10.0))
        )
        twin[back:] |= near
    cell, speed, omega, order = cell[~twin], speed[~twin], omega[~twin], order[~twin]
    count = np.bincount(cell, minlength=crow.size * brake.size)
    rank = np.arange(cell.size) - np.repeat(np.cumsum(count) - count, count)
    shape = (crow.size * brake.size, max(int(count.max(initial=0)), 1))

    def spread(values: Floats) -> Floats:
        full = np.full(shape, np.nan)
        full[cell, rank] = values
        return full.reshape(crow.size, brake.size, -1)

    flags = np.zeros(shape, dtype=bool)
    flags[cell, rank] = stable[order]
    return SpeedGrid(
        crow=crow,
        brake=brake,
        speed=spread(speed),
        omega=spread(omega),
        thrust=spread(thrust[order]),
        stable=flags.reshape(crow.size, brake.size, -1),
    )
