"""Batteries and closed motors of many changed planes at once, as a flight along a path needs them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from evenfall.plane.airframe import Plane
from evenfall.power.battery import rest_voltage_per_cell
from evenfall.power.motor import friction_torque
from evenfall.power.train import brake_torque
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_NODES = 512


def each(planes: Sequence[Plane], number: Callable[[Plane], float]) -> Floats:
    """One number of every plane."""
    return np.array([number(plane) for plane in planes], float)


class Cells:
    """The batteries: rest voltage by the charge used, or constant."""

    def __init__(self, planes: Sequence[Plane], charge_left: float | None) -> None:
        self.charge_left = charge_left
        self.capacity = each(planes, lambda plane: plane.battery.capacity)
        self.resistance = each(planes, lambda plane: plane.battery.resistance)
        self.number = each(planes, lambda plane: plane.battery.cells)
        self.constant = each(planes, lambda plane: plane.battery.rest_voltage)
        own = planes[0].battery.rest_voltage_per_cell
        self.higher = each(planes, lambda plane: plane.battery.rest_voltage_per_cell / own)

    def rest(self, used: Floats) -> Floats:
        """Rest voltage after so much charge (A s), V."""
        if self.charge_left is None:
            return self.constant
        return np.asarray(self.number * self.higher * rest_voltage_per_cell(self.charge_left - used / self.capacity))

    def spent(self, used: Floats) -> Bools:
        """Batteries with nothing left."""
        if self.charge_left is None:
            return np.zeros(used.shape, bool)
        return np.asarray(used >= self.charge_left * self.capacity)


class HeldTorque:
    """Torque that a closed motor holds its shaft with, N m: braked, or friction alone; tables over shaft speed."""

    def __init__(self, planes: Sequence[Plane], plan: Plan, *, fastest: float) -> None:
        self.grid = np.linspace(0.0, fastest, _NODES)
        made: dict[object, int] = {}
        rows: list[Floats] = []
        own = []
        for plane in planes:
            key = (id(plane.motor), id(plane.controller), id(plane.battery), plane.corrections.brake_damping)
            if key not in made:
                made[key] = len(rows)
                rows.append(brake_torque(plane, plan.motor.level, self.grid))
            own.append(made[key] * _NODES)
        self.flat, self.base = np.concatenate(rows), np.array(own)
        self.steepest = max(float(np.diff(row).max()) for row in rows) / float(self.grid[1])
        self.friction = each(planes, lambda plane: friction_torque(plane.motor))

    def __call__(self, omega: Floats, brakes: Bools) -> Floats:
        place = np.minimum(omega / self.grid[1], _NODES - 1.000001)
        cell = place.astype(np.intp)
        share = place - cell
        cell = cell + self.base
        low = self.flat.take(cell)
        torque = low + share * (self.flat.take(cell + 1) - low)
        return np.asarray(np.where(brakes, torque, self.friction))
