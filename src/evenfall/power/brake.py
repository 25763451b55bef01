"""The motor brake: plain short, pulsed short and measured damping. Torques are retarding, positive, without friction.

Partial motor brake: the high side of the controller is off, the low side shorts the windings for the share d of each
pulse period 1/f; for the rest of it the current freewheels through the diodes into the battery.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.plane.electrics import BrakeLevel, Controller, Motor
from evenfall.power.motor import torque_constant

UNKNOWN_FREQUENCIES = (8e3, 16e3, 24e3)
"""Pulse frequencies in Hz to try where a controller's own is not known. Common practice, no source."""
DAMPING_DOUBT = math.log(2.0)
"""One sigma of ln(torque) of a level that was not measured: a factor of two. A level's percent is neither torque nor
surely duty. Estimate of ours, no source."""

_P_NORM = 6.0
_PHASE_PEAK = math.pi / (3.0 * math.sqrt(3.0))
"""Peak phase EMF over the mean rectified line-to-line EMF, .6046."""


def brake_frequencies(controller: Controller) -> tuple[float, ...]:
    """Pulse frequencies in Hz to compute with: the controller's own, or 8, 16 and 24 kHz where it is not known."""
    return (controller.brake_frequency,) if controller.brake_frequency_known else UNKNOWN_FREQUENCIES


def plain_short_torque(omega: ArrayLike, *, motor: Motor, controller: Controller) -> NDArray[np.float64]:
    """Torque in N m with all windings shorted: Q = 1.5 r Ep^2/(omega (r^2 + X^2)).

    r = R/2, X = omega p L/2, Ep = .6046 Kt omega; greatest where X = r, falling beyond.

    Args:
        omega: shaft speed, rad/s, >= 0, any shape.
        motor, controller: line-to-line resistance (both together) and inductance, pole pairs, kv.

    Valid for sinusoidal EMF, steady speed and unsaturated iron; hot windings brake 10-25 % less at low speed.
    Source: steady state of a shorted permanent-magnet machine without saliency (textbook phasor diagram).

    >>> motor = Motor(kv=94.25, resistance=0.05, inductance=15e-6, pole_pairs=7, no_load_current=1, no_load_voltage=10)
    >>> controller = Controller(resistance=0.0, levels=(), present_level="")
    >>> round(float(plain_short_torque(418.9, motor=motor, controller=controller)), 3)
    0.583
    """
    speed = np.asarray(omega, dtype=float)
    resistance = 0.5 * (motor.resistance + controller.resistance)
    reactance = 0.5 * motor.pole_pairs * motor.inductance * speed
    gain = _PHASE_PEAK * torque_constant(motor)
    torque: NDArray[np.float64] = 1.5 * resistance * gain**2 * speed / (resistance**2 + reactance**2)
    return torque


def _discontinuous(
    emf: NDArray[np.float64],
    duty: NDArray[np.float64],
    period: NDArray[np.float64],
    clamp: float,
    *,
    motor: Motor,
    resistance: float,
) -> NDArray[np.float64]:
    """Torque in N m of current pulses that return to zero within each period."""
    tau = motor.inductance / resistance
    peak = emf / resistance * -np.expm1(-duty * period / tau)
    headroom = np.maximum(clamp - emf, 1e-3 * clamp)
    fall = np.minimum(tau * np.log1p(peak * resistance / headroom), (1.0 - duty) * period)
    factor = (math.pi**2 / 9.0) * torque_constant(motor)
    pulses: NDArray[np.float64] = factor * peak * (duty * period + fall) / (2.0 * period)
    return pulses


def _continuous(
    omega: NDArray[np.float64],
    emf: NDArray[np.float64],
    duty: NDArray[np.float64],
    clamp: float,
    *,
    motor: Motor,
    resistance: float,
) -> NDArray[np.float64]:
    """Torque in N m of a current that never stops: EMF against resistance, reactance and the mean diode voltage."""
    half = 0.5 * resistance
    reactance = 0.5 * motor.pole_pairs * motor.inductance * omega
    against = (2.0 / math.pi) * (1.0 - duty) * clamp
    peak = _PHASE_PEAK * emf
    square = half**2 + reactance**2
    root = np.sqrt(np.maximum(peak**2 * square - (reactance * against) ** 2, 0.0))
    current = np.where(peak > against, (root - half * against) / square, 0.0)
    steady: NDArray[np.float64] = 1.5 * (half * current + against) * current / np.maximum(omega, 1e-9)
    return steady


def pulsed_short_torque(
    omega: ArrayLike, duty: ArrayLike, *, motor: Motor, controller: Controller, voltage: float, frequency: ArrayLike
) -> NDArray[np.float64]:
    """Torque in N m with the windings shorted for the share `duty` of each period and freewheeling for the rest.

    E = Kt omega, Vx = V + 2 Vd, tau = L/R, T = 1/f. Pulses that end within the period:
    ip = E/R (1 - exp(-d T/tau)), tf = min(tau ln(1 + ip R/(Vx - E)), (1 - d) T),
    Q = (pi^2/9) Kt ip (d T + tf)/(2 T). Current that never ends: (r I + U)^2 + (X I)^2 = Ep^2, U = (2/pi)(1 - d) Vx,
    I = 0 where Ep < U, Q = 1.5 (r I + U) I/omega. The two are joined by a p-norm, p = 6; d = 1 is the plain short.

    Args:
        omega: shaft speed, rad/s, >= 0.
        duty: 0 to 1; 0 gives no torque.
        motor, controller: line-to-line values, the two resistances added; diode drop of the controller.
        voltage: of the battery, V (at rest: the charging current is small).
        frequency: pulse frequency, Hz. omega, duty and frequency broadcast.

    Valid up to a back-EMF of .6 of the battery's voltage, 8-24 kHz, tau .2-.4 ms. There, against 400 switched
    three-phase simulations (tools/simulate_brake.py), the median error is +.2 %, 5-95 % lie within -3 and +5 %, and
    single cases where Ep is close to U err by up to 25 %. Beyond it is a trend: for .6-.95 of the voltage, or tau to .8
    ms, 5-95 % reach +25 %. Faster than the battery's voltage the diodes conduct without pulses; the continuous
    formula gives about that. Just below d = 1 the formula lies up to 3 % above the plain short (.6 of the voltage; .1 %
    at .4). A real level may differ by a factor of two throughout (`DAMPING_DOUBT`).
    Source: averaged circuit, derived for Evenfall, checked by that simulation.
    """
    speed = np.asarray(omega, dtype=float)
    share = np.asarray(duty, dtype=float)
    rate = np.asarray(frequency, dtype=float)
    if np.any((share < 0.0) | (share > 1.0)):
        raise ValueRangeError("the duty of the motor brake must lie from 0 to 1")
    resistance = motor.resistance + controller.resistance
    clamp = voltage + 2.0 * controller.diode_drop
    emf = torque_constant(motor) * speed
    first = _discontinuous(emf, share, 1.0 / rate, clamp, motor=motor, resistance=resistance)
    second = _continuous(speed, emf, share, clamp, motor=motor, resistance=resistance)
    larger = np.maximum(first, second)
    ratio = np.minimum(first, second) / np.maximum(larger, 1e-30)
    joined = larger * (1.0 + ratio**_P_NORM) ** (1.0 / _P_NORM)
    return np.where(share >= 1.0, plain_short_torque(speed, motor=motor, controller=controller), joined)


def level_torque(
    level: BrakeLevel, omega: ArrayLike, *, motor: Motor, controller: Controller, voltage: float, frequency: float
) -> NDArray[np.float64]:
    """Torque in N m of one level: measured damping x omega where there is one, else its percent taken as duty.

    Args:
        level: percent 0-100, optional damping in N m per (rad/s).
        omega: shaft speed, rad/s, >= 0, any shape.
        motor, controller, voltage, frequency: as for `pulsed_short_torque`.

    A measured damping holds near the shaft speed at which it was measured; it is a straight line through zero, while
    the formulas bend over. Source: as `pulsed_short_torque`.
    """
    if level.damping is not None:
        return level.damping * np.asarray(omega, dtype=float)
    return pulsed_short_torque(
        omega, level.percent / 100.0, motor=motor, controller=controller, voltage=voltage, frequency=frequency
    )
