"""The power train joined: propeller, motor, motor brake and battery on one shaft.

Two ways to run it: *closed* (the controller holds the motor, one level of the motor brake acts) and *driven* (a
throttle duty). A closed shaft can have several steady states at one air speed; all are found, stable or not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.plane.corrections import Corrections
from evenfall.plane.electrics import Battery, BrakeLevel, Controller, Motor, Propeller
from evenfall.power.brake import level_torque
from evenfall.power.equilibria import Floats, all_roots, polish
from evenfall.power.motor import drive, friction_torque, rotor_inertia

SEA_LEVEL_DENSITY = 1.225
"""kg/m^3 (ISO 2533:1975)."""
_ROTOR_TO_PROPELLER = 0.1
"""Rotor inertia over propeller inertia where the motor's mass is unknown. Common practice, no source."""


class PropellerLoads(Protocol):
    """What the power train needs of a propeller map."""

    def loads(self, speed: ArrayLike, omega: ArrayLike, density: ArrayLike = ...) -> tuple[Floats, Floats]:
        """Thrust (N) and torque (N m, positive where the propeller absorbs); m/s, rad/s, kg/m^3, broadcasting."""
        ...


class PowerTrain(Protocol):
    """What the power train needs of a plane: any object with these parts, a `Plane` first of all."""

    @property
    def propeller(self) -> Propeller: ...
    @property
    def motor(self) -> Motor: ...
    @property
    def controller(self) -> Controller: ...
    @property
    def battery(self) -> Battery: ...
    @property
    def corrections(self) -> Corrections: ...


@dataclass(frozen=True, kw_only=True)
class ShaftStates:
    """Every steady state of the closed shaft, one row per air speed, rising in omega, padded to the longest row.

    Args:
        speed: m/s, shape (n,).
        omega: rad/s, shape (n, k); 0 for a stopped shaft, NaN where padded.
        thrust: N, negative where it holds the plane back, shape (n, k), NaN where padded.
        torque: N m that motor brake and friction hold against the propeller, shape (n, k), NaN where padded.
        stable: shape (n, k), False where padded.
        count: states per speed, stable or not, shape (n,).
    """

    speed: Floats
    omega: Floats
    thrust: Floats
    torque: Floats
    stable: NDArray[np.bool_]
    count: NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class DrivenState:
    """The driven shaft at an air speed and throttle duty. Arrays of one shape.

    Args:
        omega: rad/s.
        thrust: N.
        torque: N m of the motor on the propeller, friction taken off.
        current: A in the windings, negative while it brakes.
        battery_current: A out of the battery.
        voltage: V at the battery's terminals.
        converged: False where no balance was found (the shaft would run beyond the grid).
    """

    omega: Floats
    thrust: Floats
    torque: Floats
    current: Floats
    battery_current: Floats
    voltage: Floats
    converged: NDArray[np.bool_]


def propeller_loads(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    speed: ArrayLike,
    omega: ArrayLike,
    *,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
) -> tuple[Floats, Floats]:
    """Thrust (N) and torque (N m, positive absorbs) with the corrections that flights taught.

    Args:
        speed: m/s along the shaft. omega: rad/s, >= 0. They broadcast.
        density: kg/m^3.
        corrections: None takes the plane's.

    `thrust` acts where thrust or torque drive the plane, `braked_propeller_drag` where thrust is negative: both join
    at zero without a step. Source: definition of ours.
    """
    factors = plane.corrections if corrections is None else corrections
    thrust, torque = propeller_map.loads(speed, omega, density)
    return corrected_loads(thrust, torque, driving=factors.thrust, braking=factors.braked_propeller_drag)


def corrected_loads(thrust: Floats, torque: Floats, *, driving: ArrayLike, braking: ArrayLike) -> tuple[Floats, Floats]:
    """Thrust and torque times the factors of `propeller_loads`; factors broadcast with the loads."""
    return (
        np.asarray(thrust * np.where(thrust > 0.0, driving, braking)),
        np.asarray(torque * np.where(torque > 0.0, driving, 1.0)),
    )


def brake_torque(
    plane: PowerTrain,
    level: BrakeLevel | str,
    omega: ArrayLike,
    *,
    frequency: float | None = None,
    corrections: Corrections | None = None,
) -> Floats:
    """Total retarding torque in N m of the closed shaft, positive: motor brake plus friction.

    Args:
        level: a level or its name in the controller; percent 0 leaves friction alone.
        omega: rad/s, >= 0, any shape; at 0 it is the breakaway torque of the stopped shaft.
        frequency: pulse frequency, Hz; None takes the controller's (a guess where it is not known: see
            `evenfall.power.brake.brake_frequencies`).
        corrections: `brake_damping` multiplies the motor brake, not friction. None takes the plane's.

    Range and source: `evenfall.power.brake.pulsed_short_torque`, `evenfall.power.motor.friction_torque`.
    """
    factors = plane.corrections if corrections is None else corrections
    torque = level_torque(
        plane.controller.level(level) if isinstance(level, str) else level,
        omega,
        motor=plane.motor,
        controller=plane.controller,
        voltage=plane.battery.rest_voltage,
        frequency=plane.controller.brake_frequency if frequency is None else frequency,
    )
    return factors.brake_damping * torque + friction_torque(plane.motor)


def shaft_grid(propeller: Propeller, speed: float, *, count: int = 400) -> Floats:
    """Shaft speeds in rad/s from 0 to beyond windmilling at `speed` (m/s): 0 ... 2 pi V/(.8 pitch).

    A windmilling propeller advances at least its pitch per turn, so the last of the `count` values is beyond every
    closed state. Source: kinematics.
    """
    top: Floats = np.linspace(0.0, 2.0 * math.pi * max(speed, 1.0) / (0.8 * propeller.pitch), count)
    return top


def shaft_states(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    level: BrakeLevel | str,
    speeds: ArrayLike,
    *,
    frequency: float | None = None,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
    count: int = 240,
) -> ShaftStates:
    """Every steady state of the closed shaft at each air speed: propeller torque + motor brake + friction = 0.

    Args:
        level, frequency, corrections: as for `brake_torque`.
        speeds: m/s, shape (n,) or one number.
        density: kg/m^3.
        count: samples per speed of the scan for roots, from 0 to `shaft_grid`'s end.

    The shaft stands still, stably, where the stopped propeller's torque is below the friction torque. Reverse rotation
    is left out. Range: that of the propeller map and of `brake_torque`. Source: definition.
    """
    speed = np.atleast_1d(np.asarray(speeds, dtype=float))

    def residual(v: Floats, w: Floats) -> Floats:
        holding = brake_torque(plane, level, w, frequency=frequency, corrections=corrections)
        return propeller_map.loads(v, w, density)[1] + holding

    grid = shaft_grid(plane.propeller, 1.0, count=count) * np.maximum(speed, 1.0)[:, None]
    roots = all_roots(residual, speed, grid)
    thrust = propeller_loads(
        plane,
        propeller_map,
        speed[:, None],
        np.nan_to_num(roots.omega),
        density=density,
        corrections=corrections,
    )[0]
    torque = -propeller_map.loads(speed[:, None], np.nan_to_num(roots.omega), density)[1]
    padded = np.isnan(roots.omega)
    return ShaftStates(
        speed=speed,
        omega=roots.omega,
        thrust=np.where(padded, np.nan, thrust),
        torque=np.where(padded, np.nan, torque),
        stable=roots.stable,
        count=roots.count,
    )


def driven(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    speed: ArrayLike,
    command: ArrayLike,
    *,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
    count: int = 48,
) -> DrivenState:
    """The driven shaft at each air speed and throttle duty: propeller torque = motor torque, battery sag included.

    Args:
        speed: m/s, any shape. command: throttle duty, 0 to 1. They broadcast.
        density: kg/m^3.
        corrections: None takes the plane's.
        count: samples in shaft speed of the scan.

    Where several speeds balance (a freewheeling propeller), the fastest is taken: a running motor arrives from above.
    A motor that cannot turn the propeller stands at 0. Range: `evenfall.power.motor.drive` and the
    map. Source: definition.
    """
    spread = np.broadcast_arrays(np.asarray(speed, dtype=float), np.asarray(command, dtype=float))
    shape = spread[0].shape
    v: Floats = spread[0].ravel()
    u: Floats = spread[1].ravel()

    def residual(vv: Floats, uu: Floats, w: Floats) -> Floats:
        absorbed = propeller_loads(plane, propeller_map, vv, w, density=density, corrections=corrections)[1]
        return absorbed - _drive_torque(plane, w, uu)

    free = shaft_grid(plane.propeller, 1.0, count=2)[1] * np.maximum(v, 1.0)
    top = np.maximum(free, 1.02 * plane.motor.kv * u * plane.battery.rest_voltage)
    grid = np.linspace(0.0, 1.0, count)[None, :] * top[:, None]
    slow = residual(v[:, None], u[:, None], grid) < 0.0
    turns = slow.any(axis=1)
    last = np.where(turns, count - 1 - np.argmax(slow[:, ::-1], axis=1), 0)
    converged = last < count - 1
    index = np.arange(v.size)
    low, high = grid[index, last], grid[index, np.minimum(last + 1, count - 1)]
    omega = np.zeros(v.size)
    solve = turns & converged
    omega[solve] = polish(lambda vv, w: residual(vv, u[solve], w), v[solve], low[solve], high[solve])
    omega = np.where(converged, omega, top)
    point = drive(omega, u, motor=plane.motor, controller=plane.controller, battery=plane.battery)
    thrust = propeller_loads(plane, propeller_map, v, omega, density=density, corrections=corrections)[0]
    return DrivenState(
        omega=omega.reshape(shape),
        thrust=thrust.reshape(shape),
        torque=point.torque.reshape(shape),
        current=point.current.reshape(shape),
        battery_current=point.battery_current.reshape(shape),
        voltage=point.voltage.reshape(shape),
        converged=converged.reshape(shape),
    )


def _drive_torque(plane: PowerTrain, omega: Floats, command: Floats) -> Floats:
    """Motor torque in N m at a throttle duty, friction taken off."""
    return drive(omega, command, motor=plane.motor, controller=plane.controller, battery=plane.battery).torque


def shaft_inertia(plane: PowerTrain) -> float:
    """Moment of inertia of all that turns, kg m^2: propeller (`evenfall.power.propeller.inertia`) plus rotor.

    Where the motor's mass is unknown the rotor counts as a tenth of the propeller. Source: common practice, no source.
    """
    from evenfall.power.propeller import inertia

    blades = inertia(plane.propeller)
    rotor = rotor_inertia(plane.motor)
    return blades + (_ROTOR_TO_PROPELLER * blades if rotor is None else rotor)
