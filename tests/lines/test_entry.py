"""The march from an entry speed: closed formulas, order, energy, delays."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.lines.entry import March, ends_in, march, reached_from, stable_step
from evenfall.lines.line import SteadySpeed, steady_speeds
from evenfall.lines.shaft import PowerUnit, braked_shaft, free_shaft

MakeTable = Callable[..., DragTable]


def area_for(terminal: float, mass: float) -> float:
    return 2 * mass * G0 / (1.225 * terminal**2)


def dive(idle: Any, table: DragTable, *, entry: float = 20.0, step: float = 0.02, duration: float = 5.0) -> March:
    return march(
        table,
        free=idle,
        held=idle,
        brake_delay=0.0,
        speed=np.array([entry]),
        omega=np.zeros(1),
        deployment=0.0,
        duration=duration,
        step=step,
    )


@pytest.mark.published
@pytest.mark.parametrize(("height", "speed"), [(10.0, 21.462), (60.0, 24.306)])
def test_dive_against_the_closed_formula(idle: Any, constant_table: MakeTable, height: float, speed: float) -> None:
    # V^2 = Vt^2 - (Vt^2 - V0^2) exp(-2 g h/Vt^2), V0 20, Vt 25: formula, evaluated; the printed digit.
    path = dive(idle, constant_table(area_for(25.0, 1.3), 1.3))
    assert np.interp(height, path.height[:, 0], path.speed[:, 0]) == pytest.approx(speed, abs=6e-4)


@pytest.mark.published
def test_terminal_speed_of_a_falling_body(idle: Any, constant_table: MakeTable) -> None:
    # sqrt(2 W/(rho CD S)), 80 kg, CD 1, .7 m^2, 1.225 kg/m^3: 42.78 m/s (NASA Glenn educational page); printed digit.
    path = dive(idle, constant_table(0.7, 80.0), entry=10.0, duration=60.0, step=0.05)
    assert path.speed[-1, 0] == pytest.approx(42.78, abs=5e-3)


@pytest.mark.convergence
def test_march_is_of_the_fourth_order(idle: Any, constant_table: MakeTable) -> None:
    table = constant_table(area_for(25.0, 1.3), 1.3)
    exact = 25.0 * math.tanh(math.atanh(20.0 / 25.0) + G0 * 4.0 / 25.0)
    error = [abs(dive(idle, table, step=h, duration=4.0).speed[-1, 0] - exact) for h in (0.8, 0.4, 0.2)]
    orders = np.log2(np.array(error[:-1]) / np.array(error[1:]))
    assert np.all(orders > 3.7)
    assert np.all(orders < 4.6)


@pytest.mark.convergence
def test_order_with_the_shaft_and_its_brake_delay(folded: PowerUnit, constant_table: MakeTable) -> None:
    # The delay lies on a whole step, so the brake's jump costs no order; table kinks keep it near three.
    table = constant_table(0.034, 1.32)

    def end(step: float) -> float:
        path = march(
            table,
            free=free_shaft(folded),
            held=braked_shaft(folded, "25"),
            brake_delay=0.1,
            speed=np.array([18.0]),
            omega=np.array([500.0]),
            deployment=1.0,
            duration=0.4,
            step=step,
        )
        return float(path.speed[-1, 0])

    best = end(0.000625)
    error = [abs(end(h) - best) for h in (0.02, 0.01, 0.005)]
    assert error[2] < error[1] / 4 < error[0] / 16
    assert error[0] < 2e-3


@pytest.mark.invariant
@pytest.mark.parametrize("slope", [-90, -45, 0, 45])
def test_work_of_all_forces_is_the_change_of_kinetic_energy(
    folded: PowerUnit, constant_table: MakeTable, slope: int
) -> None:
    table = constant_table(0.03, 1.32, slope=math.radians(slope), crow=0.02)
    shaft = braked_shaft(folded, "25")
    path = march(
        table,
        free=shaft,
        held=shaft,
        brake_delay=0.0,
        speed=np.array([15.0, 25.0]),
        omega=np.array([450.0, 600.0]),
        deployment=1.0,
        duration=1.5,
        step=0.005,
    )
    thrust, _ = shaft.loads(path.speed, path.omega)
    power = (thrust - table.drag(path.speed, path.deployment)) * path.speed
    work = np.sum(0.5 * (power[1:] + power[:-1]) * 0.005, axis=0) + 1.32 * G0 * path.height[-1]
    gained = 0.5 * 1.32 * (path.speed[-1] ** 2 - path.speed[0] ** 2)
    scale = np.sum(np.abs(power), axis=0) * 0.005
    assert np.abs(work - gained) == pytest.approx(0.0, abs=float(2e-4 * scale.max()))


@pytest.mark.invariant
def test_spin_energy_of_the_shaft(folded: PowerUnit, constant_table: MakeTable) -> None:
    shaft = braked_shaft(folded, "25")
    path = march(
        constant_table(0.034, 1.32),
        free=shaft,
        held=shaft,
        brake_delay=0.0,
        speed=np.array([22.0]),
        omega=np.array([700.0]),
        deployment=0.0,
        duration=1.0,
        step=0.001,
    )
    power = shaft.excess_torque(path.speed, path.omega) * path.omega
    work = float(np.sum(0.5 * (power[1:] + power[:-1])) * 0.001)
    gained = float(0.5 * shaft.inertia * (path.omega[-1] ** 2 - path.omega[0] ** 2)[0])
    assert work == pytest.approx(gained, rel=2e-3)


def test_height_is_lost_downward_and_gained_upward(idle: Any, constant_table: MakeTable) -> None:
    down = dive(idle, constant_table(0.03, 1.3), duration=0.5)
    up = dive(idle, constant_table(0.03, 1.3, slope=math.pi / 2), duration=0.5)
    assert down.height[-1, 0] > 9.0
    assert up.height[-1, 0] < -8.0


@pytest.mark.limit
def test_deployment_follows_the_servo(idle: Any, constant_table: MakeTable) -> None:
    path = march(
        constant_table(0.03, 1.3, crow=0.02),
        free=idle,
        held=idle,
        brake_delay=0.0,
        speed=np.array([20.0]),
        omega=np.zeros(1),
        deployment=0.8,
        deployment_lag=0.1,
        duration=0.5,
    )
    assert path.deployment[:, 0] == pytest.approx(0.8 * (1 - np.exp(-path.time / 0.1)), abs=1e-4)


def test_motor_runs_free_until_the_brake_delay_is_over(folded: PowerUnit, constant_table: MakeTable) -> None:
    held = braked_shaft(folded, "50")

    def path(delay: float) -> March:
        return march(
            constant_table(0.034, 1.32),
            free=free_shaft(folded),
            held=held,
            brake_delay=delay,
            speed=np.array([22.0]),
            omega=np.array([560.0]),
            deployment=0.0,
            duration=0.4,
            step=0.005,
        )

    late, never = path(0.2), path(9.0)
    before = late.time <= 0.2 + 1e-9
    assert np.array_equal(late.omega[before], never.omega[before])
    assert np.all(late.omega[~before] < never.omega[~before])


@pytest.mark.limit
def test_a_line_that_stops_is_held_at_walking_pace(idle: Any, constant_table: MakeTable) -> None:
    path = dive(idle, constant_table(0.03, 1.3, slope=math.pi / 2), entry=15.0)
    assert path.speed.min() == 1.0


def test_stable_step_follows_the_stiffness_of_the_shaft(folded: PowerUnit) -> None:
    soft = stable_step(free_shaft(folded), speed=22.0, omega=550.0, longest=1.0)
    hard = stable_step(braked_shaft(folded, "100"), speed=22.0, omega=50.0, longest=1.0)
    assert 0 < hard < soft < 1.0
    assert stable_step(free_shaft(folded), speed=22.0, omega=550.0, longest=0.001) == 0.001


def state(speed: float, omega: float, *, stable: bool = True) -> SteadySpeed:
    return SteadySpeed(speed=speed, omega=omega, stable=stable, airframe=1.0, crow=0.0, thrust=0.0)


def test_ends_are_told_apart_by_shaft_speed_and_unstable_ones_left_out() -> None:
    path = March(
        time=np.zeros(1),
        speed=np.array([[22.0, 22.1, 22.0, 30.0]]),
        omega=np.array([[300.0, 490.0, 400.0, 490.0]]),
        deployment=np.zeros((1, 4)),
        height=np.zeros((1, 4)),
    )
    ended = ends_in(path, (state(22.0, 300.0), state(22.0, 400.0, stable=False), state(22.1, 490.0)))
    assert ended.tolist() == [0, 2, -1, -1]
    assert reached_from(np.array([10.0, 20.0, 30.0, 40.0]), ended, 2) == (20.0, 20.0)
    assert reached_from(np.array([10.0, 20.0, 30.0, 40.0]), ended, 1) is None


@pytest.mark.invariant
def test_a_march_that_ends_once_settled_ends_as_the_whole_one(tuned) -> None:
    """The demo whose chosen level has two propeller speeds at the entries tried: same ends, shorter march."""
    from evenfall.lines.shaft import braked_shaft, free_shaft
    from evenfall.lines.survey import line_curve

    answer = tuned("monoplane_160").predicted
    unit, table, wanted = answer.ready.unit, answer.tables.lines["vertical down"], answer.ready.wanted
    held = braked_shaft(unit, answer.plan.motor.level)
    states = steady_speeds(line_curve(held, wanted=wanted), table, 1.0)
    speed = wanted * np.array([0.4, 0.7, 1.0, 1.5])
    omega = np.full(4, 500.0)
    step = stable_step(held, speed=wanted, omega=float(np.median([s.omega for s in states])))
    both = [
        march(
            table,
            free=free_shaft(unit),
            held=held,
            brake_delay=0.1,
            speed=speed,
            omega=omega,
            deployment=1.0,
            step=step,
            until=until,
        )
        for until in ((), states)
    ]
    assert len(both[1].time) < len(both[0].time)
    assert both[1].speed.shape == (len(both[1].time), 4)
    assert (ends_in(both[0], states) == ends_in(both[1], states)).all()
    assert (ends_in(both[1], states) >= 0).all()
