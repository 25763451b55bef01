"""The driven motor."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenfall.plane.electrics import Battery, Controller, Motor
from evenfall.power.motor import drive, friction_torque, rotor_inertia, torque_constant

RPM = math.pi / 30.0
MOTOR = Motor(
    kv=900 * RPM, resistance=0.05, inductance=15e-6, pole_pairs=7, no_load_current=1.2, no_load_voltage=10.0, mass=0.1
)
CONTROLLER = Controller(resistance=0.006, levels=(), present_level="")
SYNCHRONOUS = replace(CONTROLLER, synchronous=True)
PACK = Battery(cells=4, capacity=7920.0, resistance=0.02, rest_voltage_per_cell=3.875)


@pytest.mark.published
@pytest.mark.parametrize(("rpm_per_volt", "expected", "digit"), [(1000, 0.0095493, 5e-8), (500, 0.019099, 5e-7)])
def test_torque_constant(rpm_per_volt: float, expected: float, digit: float) -> None:
    # Kt = 60/(2 pi Kv), by hand; last printed digit.
    assert torque_constant(replace(MOTOR, kv=rpm_per_volt * RPM)) == pytest.approx(expected, abs=digit)


@pytest.mark.limit
def test_no_load_speed_draws_the_no_load_current() -> None:
    # At full throttle the torque vanishes where the current is I0: omega = kv (V0 - I0 (R + Rc + Rb)).
    omega = MOTOR.kv * (PACK.rest_voltage - 1.2 * (0.05 + 0.006 + 0.02))
    point = drive(omega, 1.0, motor=MOTOR, controller=CONTROLLER, battery=PACK)
    assert point.current == pytest.approx(1.2, rel=1e-9)
    assert point.torque == pytest.approx(0.0, abs=1e-12)


@pytest.mark.published
def test_stalled_current_by_hand() -> None:
    # Ohm's law at u = 1, omega = 0: 15.5 / (.05 + .006 + .02) = 203.947 A, and 15.5 - .02 x 203.947 = 11.421 V.
    point = drive(0.0, 1.0, motor=MOTOR, controller=CONTROLLER, battery=PACK)
    assert point.current == pytest.approx(203.947, abs=5e-4)
    assert point.voltage == pytest.approx(11.421, abs=5e-4)


@pytest.mark.invariant
@pytest.mark.parametrize("controller", [CONTROLLER, SYNCHRONOUS])
def test_energy_balance_at_the_terminals(controller: Controller) -> None:
    omega = np.linspace(0.0, 1800.0, 25)[:, None]
    point = drive(omega, np.linspace(0.0, 1.0, 11), motor=MOTOR, controller=controller, battery=PACK)
    given = point.voltage * point.battery_current
    assert given == pytest.approx(point.shaft_power + point.heat, abs=1e-9)


@pytest.mark.limit
def test_only_a_synchronous_controller_brakes_while_driving() -> None:
    omega = 0.6 * MOTOR.kv * PACK.rest_voltage
    freewheel = drive(omega, 0.2, motor=MOTOR, controller=CONTROLLER, battery=PACK)
    braking = drive(omega, 0.2, motor=MOTOR, controller=SYNCHRONOUS, battery=PACK)
    assert freewheel.torque == pytest.approx(-friction_torque(MOTOR), abs=1e-15)
    assert freewheel.battery_current == 0.0
    assert braking.torque < -5.0 * friction_torque(MOTOR)
    assert braking.battery_current < 0.0
    assert braking.voltage > PACK.rest_voltage


@pytest.mark.invariant
def test_batch_equals_loop() -> None:
    omega, command = np.linspace(0.0, 1500.0, 7), np.linspace(0.0, 1.0, 7)
    batch = drive(omega, command, motor=MOTOR, controller=SYNCHRONOUS, battery=PACK).torque
    single = [drive(w, u, motor=MOTOR, controller=SYNCHRONOUS, battery=PACK).torque for w, u in zip(omega, command)]  # noqa: B905
    assert batch == pytest.approx(np.array(single), abs=0.0)


@pytest.mark.property
def test_torque_rises_with_throttle_and_falls_with_speed() -> None:
    omega, command = np.linspace(0.0, 1500.0, 31)[:, None], np.linspace(0.05, 1.0, 20)
    torque = drive(omega, command, motor=MOTOR, controller=SYNCHRONOUS, battery=PACK).torque
    assert np.all(np.diff(torque, axis=0) < 0.0)
    running = torque > 0.0
    assert np.all(np.diff(torque, axis=1)[running[:, :-1]] > 0.0)


@pytest.mark.golden
def test_rotor_inertia_estimate() -> None:
    # Estimate: common practice, no source. A 100 g outrunner is about 3 to 4 cm across and turns some 1e-5 kg m^2.
    assert rotor_inertia(replace(MOTOR, mass=None)) is None
    estimate = rotor_inertia(MOTOR)
    assert estimate is not None
    assert 0.5e-5 < estimate < 2e-5
