"""The motor brake against published steady states and against switched three-phase simulations."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import simulate_brake
from evenfall.errors import ValueRangeError
from evenfall.plane.electrics import BrakeLevel, Controller, Motor
from evenfall.power.brake import (
    UNKNOWN_FREQUENCIES,
    brake_frequencies,
    level_torque,
    plain_short_torque,
    pulsed_short_torque,
)

RPM = math.pi / 30.0
MOTOR = Motor(kv=900 * RPM, resistance=0.05, inductance=15e-6, pole_pairs=7, no_load_current=1.2, no_load_voltage=10.0)
CONTROLLER = Controller(resistance=0.0, levels=(), present_level="")
PLAIN = {"motor": MOTOR, "controller": CONTROLLER}
PULSED = {**PLAIN, "voltage": 15.5, "frequency": 8e3}


@pytest.mark.published
@pytest.mark.parametrize(("rpm", "expected"), [(1000, 0.2466), (2500, 0.4964), (4000, 0.5831), (5500, 0.5774)])
def test_plain_short(rpm: float, expected: float) -> None:
    # Steady state of a shorted three-phase machine, computed by two independent means; last printed digit.
    assert plain_short_torque(rpm * RPM, **PLAIN) == pytest.approx(expected, abs=5e-5)


@pytest.mark.published
def test_plain_short_is_greatest_where_reactance_equals_resistance() -> None:
    # .5879 N m at 4547 rpm: same source as above.
    rpm = np.arange(3000.0, 6000.0)
    torque = plain_short_torque(rpm * RPM, **PLAIN)
    assert rpm[np.argmax(torque)] == pytest.approx(4547.0, abs=1.0)
    assert torque.max() == pytest.approx(0.5879, abs=5e-5)


@pytest.mark.published
@pytest.mark.parametrize(("duty", "formula"), [(0.25, 0.0170), (0.5, 0.0638), (0.75, 0.1346), (0.9, 0.4634)])
def test_pulsed_short_formula(duty: float, formula: float) -> None:
    # The formula evaluated independently at 4000 rpm, 8 kHz, 15.5 V, .7 V; last printed digit.
    assert pulsed_short_torque(4000 * RPM, duty, **PULSED) == pytest.approx(formula, abs=5e-5)


@pytest.mark.published
@pytest.mark.parametrize(("duty", "simulated"), [(0.25, 0.0172), (0.5, 0.0647), (0.75, 0.1375), (0.9, 0.4604)])
def test_pulsed_short_formula_against_another_simulation(duty: float, simulated: float) -> None:
    # An independent switched three-phase simulation; within 3 %, the formula's own error there.
    assert pulsed_short_torque(4000 * RPM, duty, **PULSED) == pytest.approx(simulated, rel=0.03)


@pytest.mark.invariant
def test_own_simulation_agrees_and_keeps_its_energy() -> None:
    done = simulate_brake.simulate(simulate_brake.check_cases(), steps_per_pulse=48, pulses=60)
    # The other simulation's values (see above) and the plain short of the table: within 1 % (apart by up to .5 %).
    assert done.torque == pytest.approx([0.0172, 0.0647, 0.1375, 0.4604, 0.5831], rel=0.01)
    spent = done.copper + done.diodes + done.battery + done.stored
    assert spent == pytest.approx(done.shaft, rel=1e-3)
    assert np.all(done.battery[:-1] > 0.25 * done.shaft[:-1])
    assert done.battery[-1] == 0.0


FROZEN = [
    # kv rpm/V, R mohm, L uH, pole pairs, V, f Hz, duty, rpm, torque N m, and the formula's error found, percent.
    # Source: tools/simulate_brake.py, first eight cases of its sample, 96 steps a pulse.
    (764.099, 136.68, 34.1315, 5, 19.25, 8661.16, 0.702912, 6416.17, 0.18467, -2.58),
    (1187.41, 56.8163, 14.2365, 5, 11.55, 21148.5, 0.35891, 4214.97, 0.0088093, 0.02),
    (1059.4, 79.7038, 18.5071, 7, 15.40, 11564.1, 0.107775, 5924.87, 0.0021699, 0.60),
    (1362.49, 149.157, 37.9168, 6, 15.40, 8520.97, 0.930253, 3181.26, 0.051374, 1.72),
    (950.049, 89.6788, 19.1173, 5, 23.10, 20512.5, 0.45611, 4537.64, 0.016409, -0.82),
    (1375.81, 31.7805, 8.58199, 5, 19.25, 21866.1, 0.313157, 12669.4, 0.03114, 1.28),
    (925.166, 100.021, 38.8908, 7, 15.40, 17813.9, 0.993512, 1947.26, 0.17576, 0.04),
    (773.616, 61.7789, 17.6506, 6, 19.25, 8297.35, 0.671711, 6362.8, 0.26523, -6.75),
]


@pytest.mark.invariant
@pytest.mark.parametrize("row", FROZEN)
def test_formula_error_against_frozen_simulations(row: tuple[float, ...]) -> None:
    kv, milliohm, microhenry, pairs, volt, rate, duty, rpm, torque, error = row
    motor = Motor(
        kv=kv * RPM,
        resistance=milliohm * 1e-3,
        inductance=microhenry * 1e-6,
        pole_pairs=int(pairs),
        no_load_current=1.0,
        no_load_voltage=10.0,
    )
    got = pulsed_short_torque(rpm * RPM, duty, motor=motor, controller=CONTROLLER, voltage=volt, frequency=rate)
    assert 100.0 * (got / torque - 1.0) == pytest.approx(error, abs=0.05)


@pytest.mark.long
def test_formula_against_four_hundred_simulations() -> None:
    # Stated in the docstring of pulsed_short_torque: median within 1 %, 5-95 % within 6 %.
    cases = simulate_brake.sample(400)
    error = simulate_brake.formula(cases) / simulate_brake.simulate(cases).torque - 1.0
    low, middle, high = np.percentile(error, [5, 50, 95])
    assert abs(middle) < 0.01
    assert -0.06 < low < high < 0.06


@pytest.mark.limit
def test_no_duty_gives_no_torque_and_full_duty_the_plain_short() -> None:
    omega = np.linspace(0.0, 0.9 * MOTOR.kv * 15.5, 50)
    assert np.all(pulsed_short_torque(omega, 0.0, **PULSED) == 0.0)
    assert pulsed_short_torque(omega, 1.0, **PULSED) == pytest.approx(plain_short_torque(omega, **PLAIN), abs=0.0)


@pytest.mark.limit
@pytest.mark.parametrize(("share", "step"), [(0.4, 0.003), (0.6, 0.03)])
def test_step_of_the_formula_at_full_duty(share: float, step: float) -> None:
    # The pulse formula does not know that pulses no longer end as d nears 1: the step to the plain short, as found,
    # at a back-EMF of .4 and .6 of the battery's voltage. Windmilling stays below .4.
    omega = np.linspace(50.0, share * MOTOR.kv * 15.5, 50)
    jump = pulsed_short_torque(omega, 1.0 - 1e-9, **PULSED) / plain_short_torque(omega, **PLAIN) - 1.0
    assert np.all(jump > -1e-6)
    assert jump.max() < step


@pytest.mark.limit
def test_torque_goes_with_the_square_of_a_small_duty() -> None:
    small, smaller = pulsed_short_torque(4000 * RPM, np.array([2e-3, 1e-3]), **PULSED)
    assert small / smaller == pytest.approx(4.0, rel=2e-3)


@pytest.mark.published
def test_the_obvious_formula_overstates_tenfold() -> None:
    # I = d E/R: 13.8-fold at a quarter, 7.3-fold at half duty in this case (tools/simulate_brake.py).
    duty = np.array([0.25, 0.5])
    obvious = duty * (4000 * RPM / MOTOR.kv) / MOTOR.resistance / MOTOR.kv
    ratio = obvious / pulsed_short_torque(4000 * RPM, duty, **PULSED)
    assert ratio == pytest.approx([13.8, 7.3], rel=0.03)


@pytest.mark.property
def test_more_duty_brakes_more_and_a_higher_frequency_less_below_the_plain_short() -> None:
    omega = np.linspace(50.0, 450.0, 41)[:, None]
    torque = pulsed_short_torque(omega, np.linspace(0.0, 0.999, 60), **PULSED)
    assert np.all(np.diff(torque, axis=1) > 0.0)
    by_rate = pulsed_short_torque(400.0, 0.4, **PLAIN, voltage=15.5, frequency=np.array([8e3, 16e3, 24e3]))
    assert np.all(np.diff(by_rate) < 0.0)


@pytest.mark.invariant
def test_batch_equals_loop() -> None:
    omega, duty = np.linspace(0.0, 900.0, 9)[:, None], np.linspace(0.0, 1.0, 7)
    batch = pulsed_short_torque(omega, duty, **PULSED)
    single = [[pulsed_short_torque(w, d, **PULSED) for d in duty] for w in omega[:, 0]]
    assert batch == pytest.approx(np.array(single), rel=1e-14)


@pytest.mark.outside
def test_beyond_the_battery_voltage_the_diodes_brake_and_nothing_breaks() -> None:
    fast = np.array([1.2, 2.0, 5.0]) * MOTOR.kv * 15.5
    torque = pulsed_short_torque(fast[:, None], np.array([0.0, 0.3, 0.9]), **PULSED)
    assert np.all(np.isfinite(torque))
    assert np.all(torque > 0.0)


@pytest.mark.outside
@pytest.mark.parametrize("duty", [-0.1, 1.1])
def test_duty_outside_zero_to_one_is_refused(duty: float) -> None:
    with pytest.raises(ValueRangeError, match="must lie from 0 to 1"):
        pulsed_short_torque(400.0, duty, **PULSED)


@pytest.mark.limit
def test_controller_resistance_adds_to_the_windings() -> None:
    shared = {"motor": replace(MOTOR, resistance=0.04), "controller": replace(CONTROLLER, resistance=0.01)}
    assert plain_short_torque(300.0, **shared) == pytest.approx(plain_short_torque(300.0, **PLAIN), rel=1e-14)


@pytest.mark.limit
def test_measured_damping_replaces_the_formula() -> None:
    omega = np.array([0.0, 100.0, 500.0])
    measured = BrakeLevel(name="soft", percent=50, damping=2e-4)
    assert level_torque(measured, omega, **PULSED) == pytest.approx(2e-4 * omega, abs=0.0)
    guessed = level_torque(replace(measured, damping=None), omega, **PULSED)
    assert guessed == pytest.approx(pulsed_short_torque(omega, 0.5, **PULSED), abs=0.0)


@pytest.mark.limit
def test_unknown_frequency_means_three() -> None:
    assert brake_frequencies(CONTROLLER) == UNKNOWN_FREQUENCIES == (8e3, 16e3, 24e3)
    assert brake_frequencies(replace(CONTROLLER, brake_frequency=12e3, brake_frequency_known=True)) == (12e3,)


@pytest.mark.property
@given(
    kv=st.floats(300.0, 2500.0),
    resistance=st.floats(0.005, 0.5),
    tau=st.floats(0.1e-3, 1e-3),
    duty=st.floats(0.0, 1.0),
    share=st.floats(0.0, 1.5),
    frequency=st.floats(2e3, 48e3),
)
def test_torque_is_finite_and_never_drives(
    kv: float, resistance: float, tau: float, duty: float, share: float, frequency: float
) -> None:
    motor = replace(MOTOR, kv=kv * RPM, resistance=resistance, inductance=tau * resistance)
    torque = pulsed_short_torque(
        share * motor.kv * 15.5, duty, motor=motor, controller=CONTROLLER, voltage=15.5, frequency=frequency
    )
    assert np.isfinite(torque)
    assert torque >= 0.0
