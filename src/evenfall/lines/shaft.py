"""The shaft at one stick position: propeller against motor brake or drive, and the curve of its equilibria."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.plane.airframe import Plane
from evenfall.plane.electrics import BrakeLevel
from evenfall.power.equilibria import segments_from_grid
from evenfall.power.motor import drive
from evenfall.power.train import PropellerLoads, brake_torque, propeller_loads, shaft_inertia

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class PowerUnit:
    """Plane, propeller map and air density (kg/m^3) together: what every shaft is made from."""

    plane: Plane
    propeller: PropellerLoads
    density: float

    @property
    def inertia(self) -> float:
        """Of all that turns, kg m^2."""
        return shaft_inertia(self.plane)


@dataclass(frozen=True, kw_only=True)
class Shaft:
    """Propeller and motor at one stick position.

    Args:
        unit: plane, propeller and air.
        holding_back: torque (N m) the motor holds the shaft back with at shaft speeds (rad/s), negative where it
            drives; bearing friction included.
        inertia: kg m^2.
    """

    unit: PowerUnit
    holding_back: Callable[[Floats], Floats]
    inertia: float

    def loads(self, speed: ArrayLike, omega: ArrayLike) -> tuple[Floats, Floats]:
        """Thrust (N) and torque the propeller absorbs (N m), corrections applied."""
        return propeller_loads(self.unit.plane, self.unit.propeller, speed, omega, density=self.unit.density)

    def excess_torque(self, speed: ArrayLike, omega: ArrayLike) -> Floats:
        """Torque that speeds the shaft up, N m; zero in equilibrium."""
        _, torque = self.loads(speed, omega)
        return np.asarray(-torque - self.holding_back(np.asarray(omega, float)))


def braked_shaft(unit: PowerUnit, level: BrakeLevel | str, *, frequency: float | None = None) -> Shaft:
    """The shaft in the closed band: a level of the motor brake, and friction. `frequency` (Hz) overrides."""

    def holding_back(omega: Floats) -> Floats:
        return brake_torque(unit.plane, level, omega, frequency=frequency)

    return Shaft(unit=unit, holding_back=holding_back, inertia=unit.inertia)


def free_shaft(unit: PowerUnit) -> Shaft:
    """The shaft with the motor neither braked nor driven: friction alone (the controller's brake delay)."""
    return braked_shaft(unit, BrakeLevel(name="none", percent=0.0))


def driven_shaft(unit: PowerUnit, command: float) -> Shaft:
    """The shaft driven at a motor command (0-1), battery sag included."""
    plane = unit.plane

    def holding_back(omega: Floats) -> Floats:
        return np.asarray(
            -drive(omega, command, motor=plane.motor, controller=plane.controller, battery=plane.battery).torque
        )

    return Shaft(unit=unit, holding_back=holding_back, inertia=unit.inertia)


@dataclass(frozen=True, kw_only=True)
class ShaftCurve:
    """Every equilibrium of a shaft over airspeed, as loose segments from (speed_a, omega_a) to (speed_b, omega_b).

    `thrust_a`, `thrust_b` (N) at their ends.
    """

    shaft: Shaft
    speed_a: Floats
    omega_a: Floats
    speed_b: Floats
    omega_b: Floats
    thrust_a: Floats
    thrust_b: Floats


def omega_grid(plane: Plane, fastest: float, *, steps: int = 300) -> Floats:
    """Shaft speeds (rad/s) from rest past every equilibrium at airspeeds up to `fastest` (m/s).

    A windmilling propeller advances at least some .8 of its pitch a turn; a driven one stays below kv times voltage.
    """
    windmilling = 2 * np.pi * fastest / (0.8 * plane.propeller.pitch)
    driven = 1.05 * plane.motor.kv * plane.battery.rest_voltage
    return np.linspace(0.0, max(windmilling, driven), steps)


def shaft_curve(shaft: Shaft, speeds: Floats, omegas: Floats, torque: Floats | None = None) -> ShaftCurve:
    """Equilibria of the shaft over a grid of airspeeds (m/s) and shaft speeds (rad/s, from 0).

    `torque` is the propeller's on that grid (N m, speeds x omegas) where it is known already.
    """
    if torque is None:
        torque = propeller_torque_grid(shaft.unit, speeds, omegas)
    parts = segments_from_grid(speeds, omegas, torque + shaft.holding_back(omegas)[None, :])
    return ShaftCurve(
        shaft=shaft,
        speed_a=parts.v0,
        omega_a=parts.w0,
        speed_b=parts.v1,
        omega_b=parts.w1,
        thrust_a=shaft.loads(parts.v0, parts.w0)[0],
        thrust_b=shaft.loads(parts.v1, parts.w1)[0],
    )


def propeller_torque_grid(unit: PowerUnit, speeds: Floats, omegas: Floats) -> Floats:
    """Torque the propeller absorbs (N m) on a grid of airspeeds and shaft speeds, for several shaft curves."""
    return propeller_loads(unit.plane, unit.propeller, speeds[:, None], omegas[None, :], density=unit.density)[1]
