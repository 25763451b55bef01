"""The motor as a drive: torque, current and loss at a throttle duty, with battery sag."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.plane.electrics import Battery, Controller, Motor

_ROTOR_DENSITY = 4000.0
"""Mass of an outrunner over the cylinder around it, kg/m^3. Common practice, no source; +-25 %."""
_ROTOR_SHARE = 0.45
"""Share of an outrunner's mass that turns (bell, magnets, shaft). Common practice, no source; +-20 %."""


@dataclass(frozen=True, kw_only=True)
class DrivePoint:
    """The driven motor at a shaft speed and throttle duty. Arrays of one shape.

    Args:
        torque: N m on the shaft, friction taken off; negative holds the propeller back.
        current: A in the windings, negative while it brakes.
        battery_current: A out of the battery, negative charges it.
        voltage: V at the battery's terminals.
        shaft_power: W given to the propeller.
        heat: W lost in windings, controller, diodes and motor friction (not the battery's own).
    """

    torque: NDArray[np.float64]
    current: NDArray[np.float64]
    battery_current: NDArray[np.float64]
    voltage: NDArray[np.float64]
    shaft_power: NDArray[np.float64]
    heat: NDArray[np.float64]


def torque_constant(motor: Motor) -> float:
    """Torque per ampere, N m/A: Kt = 1/kv with kv in rad/s per V, that is 60/(2 pi Kv) with Kv in rpm/V.

    Source: energy conversion without loss (torque x speed = back-EMF x current).

    >>> motor = Motor(kv=104.72, resistance=0.05, inductance=15e-6, pole_pairs=7, no_load_current=1, no_load_voltage=10)
    >>> round(torque_constant(motor), 5)
    0.00955
    """
    return 1.0 / motor.kv


def friction_torque(motor: Motor) -> float:
    """Torque of bearings and iron in N m, taken as constant in speed: Q0 = Kt I0.

    Also the breakaway torque of the stopped shaft. I0 is measured near full speed, so the value at a tenth of that
    is up to about a third too high (the eddy-current share grows with speed). Source: the usual three-constant motor.
    """
    return torque_constant(motor) * motor.no_load_current


def drive(
    omega: ArrayLike, command: ArrayLike, *, motor: Motor, controller: Controller, battery: Battery
) -> DrivePoint:
    """The driven motor with battery sag: I = (u V0 - E)/(R + u^2 Rb), E = Kt omega, torque Kt I - Q0.

    Args:
        omega: shaft speed, rad/s, >= 0, any shape.
        command: throttle duty u, 0 to 1, broadcast with omega.
        motor, controller, battery: as measured; R is winding plus controller resistance.

    The battery gives u I, so its sag u^2 Rb I appears in the motor's circuit. A `synchronous` controller lets I
    go negative (regenerative braking); any other one blocks it, freewheels through a diode for the share 1 - u of
    the period (u V0 - (1 - u) Vd in place of u V0) and leaves friction alone once the back-EMF is higher.
    Valid for continuous winding current; at a small load and throttle below about a half, ripple makes a
    non-synchronous controller run somewhat faster than this. No current limit. Source: averaged model of a
    step-down converter and the three-constant motor, e.g. Mohan, Undeland, Robbins, Power Electronics, from memory.
    """
    speed = np.asarray(omega, dtype=float)
    duty = np.asarray(command, dtype=float)
    kt = torque_constant(motor)
    friction = friction_torque(motor)
    emf = kt * speed
    resistance = motor.resistance + controller.resistance
    drop = 0.0 if controller.synchronous else (1.0 - duty) * controller.diode_drop
    current = (duty * battery.rest_voltage - drop - emf) / (resistance + duty**2 * battery.resistance)
    if not controller.synchronous:
        current = np.maximum(current, 0.0)
    battery_current = duty * current
    torque = kt * current - friction
    heat = current**2 * resistance + drop * current + friction * speed
    return DrivePoint(
        torque=torque,
        current=current,
        battery_current=battery_current,
        voltage=battery.rest_voltage - battery.resistance * battery_current,
        shaft_power=torque * speed,
        heat=heat,
    )


def rotor_inertia(motor: Motor) -> float | None:
    """Estimated moment of inertia of an outrunner's turning part, kg m^2: J = .45 m (.85 D/2)^2.

    D is the diameter of a cylinder as long as wide with the motor's mass at 4000 kg/m^3. None where the mass is not
    known. Good to about a factor of 1.5; it is commonly a tenth of the propeller's. Source: common practice, no source.
    """
    if motor.mass is None:
        return None
    diameter = (4.0 * motor.mass / (np.pi * _ROTOR_DENSITY)) ** (1.0 / 3.0)
    return float(_ROTOR_SHARE * motor.mass * (0.85 * diameter / 2.0) ** 2)
