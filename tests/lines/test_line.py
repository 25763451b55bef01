"""Steady speeds: both balances zero, the march agrees, folds, limits of the motor brake."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.lines.drag import DragTable
from evenfall.lines.entry import ends_in, march, stable_step
from evenfall.lines.holding import Holding
from evenfall.lines.line import LINES, SteadySpeed, level_speed, steady_speeds
from evenfall.lines.shaft import PowerUnit, braked_shaft, driven_shaft, free_shaft
from evenfall.lines.survey import LineAnswer, line_answer, line_curve
from evenfall.numeric import Status
from evenfall.plane.electrics import BrakeLevel
from evenfall.plane.starter import DEMOS
from evenfall.radio.plan import MotorChoice, Plan, present_plan
from evenfall.workflow import Predicted, Ready, TuneAnswer

MakeTable = Callable[..., DragTable]


def flown(unit: PowerUnit, table: DragTable, level: str, *, wanted: float = 22.0) -> LineAnswer:
    """The vertical with the stick closed at one level."""
    plan = Plan(plane_name="x", crow=None, motor=MotorChoice(level=level, percent=float(level)))
    held = Holding(slope=table.slope, stick=0.0, status=Status.OK, deployment=0.0, excess=0.0)
    return line_answer(unit, plan, table, name="vertical down", held=held, wanted=wanted)


@pytest.mark.invariant
@pytest.mark.parametrize("level", ["0", "25", "50", "75", "100"])
def test_steady_speeds_are_zeros_of_both_balances(folded: PowerUnit, constant_table: MakeTable, level: str) -> None:
    shaft = braked_shaft(folded, level)
    table = constant_table(0.03, 1.32)
    found = steady_speeds(line_curve(shaft, wanted=22.0), table, 0.0)
    assert found
    for state in found:
        v, w = np.array([state.speed]), np.array([state.omega])
        # Zero to a thousandth of weight and of the torque of friction and motor brake; a stopped shaft has no speed.
        thrust, _ = shaft.loads(v, w)
        assert abs(thrust[0] - table.drag(v, 0.0)[0] - table.held) < 1e-3 * table.weight
        scale = max(abs(float(shaft.holding_back(w)[0])), 1e-3)
        assert abs(shaft.excess_torque(v, w)[0]) < 5e-3 * scale or state.omega < 1.0
        assert state.airframe - state.thrust == pytest.approx(table.weight, rel=1e-3)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_steady_speeds_of_the_demos_are_zeros(present: Callable[[str], Predicted], name: str) -> None:
    answer = present(name)
    for line in answer.survey.lines:
        for entry in line.steady:
            state = entry.state
            held = answer.tables.lines[line.name].weight * math.sin(line.slope)
            left = state.thrust - state.airframe - state.crow - held
            assert abs(left) < 2e-3 * answer.ready.frame.weight, line.name


@pytest.mark.invariant
@pytest.mark.parametrize(("level", "entry"), [("25", 15.0), ("25", 30.0), ("50", 12.0), ("50", 30.0), ("75", 20.0)])
def test_the_march_ends_in_a_steady_speed(
    folded: PowerUnit, constant_table: MakeTable, level: str, entry: float
) -> None:
    shaft = braked_shaft(folded, level)
    table = constant_table(0.032, 1.32)
    found = steady_speeds(line_curve(shaft, wanted=22.0), table, 0.0)
    path = march(
        table,
        free=shaft,
        held=shaft,
        brake_delay=0.0,
        speed=np.array([entry]),
        omega=np.array([30.0 * entry]),
        deployment=0.0,
        step=stable_step(shaft, speed=22.0, omega=300.0),
    )
    index = int(ends_in(path, found)[0])
    assert index >= 0
    assert path.speed[-1, 0] == pytest.approx(found[index].speed, rel=2e-3)
    assert path.omega[-1, 0] == pytest.approx(found[index].omega, rel=5e-3)


@pytest.mark.published
def test_half_brake_gives_two_speeds_and_the_entry_decides(folded: PowerUnit, constant_table: MakeTable) -> None:
    """The fold on the line: 50 % duty at 8 kHz, the reference case of the braked propeller, on 1.32 kg."""
    answer = flown(folded, constant_table(0.034, 1.32), "50")
    assert answer.status is Status.SEVERAL_SPEEDS
    stable = [entry for entry in answer.steady if entry.state.stable]
    unstable = [entry for entry in answer.steady if not entry.state.stable]
    assert (len(stable), len(unstable)) == (2, 1)
    slow, fast = sorted(stable, key=lambda entry: entry.state.omega)
    assert slow.state.omega < unstable[0].state.omega < fast.state.omega
    assert unstable[0].reached_from is None
    assert slow.reached_from is not None
    assert fast.reached_from is not None
    # Slow entries let the motor brake stall the propeller; the ranges do not overlap.
    assert slow.reached_from[1] < fast.reached_from[0]
    # The stalled propeller holds less (reference case: 2.74 N against 3.35 N): that dive is the faster one.
    assert -slow.state.thrust < -fast.state.thrust
    assert slow.state.speed > fast.state.speed


@pytest.mark.published
@pytest.mark.parametrize("level", ["25", "75"])
def test_quarter_and_three_quarters_give_one_speed(folded: PowerUnit, constant_table: MakeTable, level: str) -> None:
    answer = flown(folded, constant_table(0.034, 1.32), level)
    assert answer.status is Status.OK
    assert len(answer.steady) == 1
    assert answer.steady[0].reached_from == (pytest.approx(6.6), pytest.approx(35.2))


def states_of(unit: PowerUnit, level: BrakeLevel, table: DragTable) -> tuple[SteadySpeed, ...]:
    return steady_speeds(line_curve(braked_shaft(unit, level), wanted=22.0), table, 0.0)


@pytest.mark.limit
def test_level_zero_is_friction_alone(folded: PowerUnit, constant_table: MakeTable) -> None:
    table = constant_table(0.034, 1.32)
    free = steady_speeds(line_curve(free_shaft(folded), wanted=22.0), table, 0.0)
    zero = states_of(folded, BrakeLevel(name="0", percent=0.0), table)
    assert len(free) == len(zero) == 1
    assert zero[0].speed == pytest.approx(free[0].speed, rel=1e-9)


@pytest.mark.limit
def test_an_endless_motor_brake_stops_the_propeller(folded: PowerUnit, constant_table: MakeTable) -> None:
    table = constant_table(0.034, 1.32)
    found = states_of(folded, BrakeLevel(name="x", percent=100.0, damping=100.0), table)
    stable = [state for state in found if state.stable]
    assert len(stable) == 1
    assert stable[0].omega < 0.5
    still, _ = folded.propeller.loads(np.array([stable[0].speed]), np.zeros(1), 1.225)
    assert stable[0].thrust == pytest.approx(float(still[0]), rel=2e-3)


@pytest.mark.invariant
def test_more_drag_is_slower(folded: PowerUnit, constant_table: MakeTable) -> None:
    speeds = [flown(folded, constant_table(area, 1.32), "25").steady[0].state.speed for area in (0.02, 0.03, 0.04)]
    assert speeds[0] > speeds[1] > speeds[2]


@pytest.mark.outside
def test_no_crossing_no_steady_speed(folded: PowerUnit, constant_table: MakeTable) -> None:
    table = constant_table(0.03, 1.32, slope=math.pi / 2)
    answer = flown(folded, table, "25")
    assert answer.steady == ()
    assert answer.speed is None
    assert answer.status is Status.NO_STEADY_SPEED


@pytest.mark.outside
def test_speeds_below_the_stall_are_left_out(folded: PowerUnit, constant_table: MakeTable) -> None:
    table = replace(constant_table(0.034, 1.32), lowest_speed=30.0)
    assert flown(folded, table, "25").steady == ()


def test_five_lines_from_down_to_up() -> None:
    assert [round(math.degrees(slope)) for slope in LINES.values()] == [-90, -45, 0, 45, 90]


@pytest.mark.invariant
def test_level_speed_is_found_again_by_the_level_line(ready: Callable[[str], Ready]) -> None:
    made = ready("biplane_124")
    speed = level_speed(made.frame, made.unit, 0.6)
    assert speed is not None
    assert level_speed(made.frame, made.unit, 0.7) > speed  # type: ignore[operator]
    from evenfall.lines.balance import balance

    level = balance(made.frame, speed=speed, slope=0.0)
    from evenfall.power.train import driven

    pull = driven(made.unit.plane, made.unit.propeller, speed, 0.6, density=made.unit.density).thrust
    assert float(pull) == pytest.approx(float(level.drag_surfaces[0] + level.drag_parts[0]), rel=0.01)


@pytest.mark.outside
def test_level_speed_at_a_stick_that_does_not_carry_is_none(ready: Callable[[str], Ready]) -> None:
    made = ready("biplane_155")
    assert level_speed(made.frame, made.unit, 0.02) is None


@pytest.mark.invariant
@pytest.mark.parametrize("stick", [0.3, 0.6, 1.0])
def test_driven_shaft_agrees_with_the_power_train(ready: Callable[[str], Ready], stick: float) -> None:
    from evenfall.power.train import driven

    made = ready("biplane_124")
    state = driven(made.unit.plane, made.unit.propeller, 22.0, stick, density=made.unit.density)
    left = driven_shaft(made.unit, stick).excess_torque(np.array([22.0]), np.atleast_1d(state.omega))
    assert abs(left[0]) < 1e-3 * max(abs(float(state.torque)), 0.05)


def test_present_plan_of_every_demo_has_a_down_speed(present: Callable[[str], Predicted]) -> None:
    for name in DEMOS:
        answer = present(name)
        down = answer.survey.line("vertical down")
        assert down.speed is not None
        assert answer.plan == present_plan(answer.ready.file.plane)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_crow_and_motor_brake_slow_the_demos_down(
    present: Callable[[str], Predicted], tuned: Callable[[str], TuneAnswer], name: str
) -> None:
    now, then = present(name).survey.line("vertical down"), tuned(name).tuned.survey
    assert then is not None
    down = then.line("vertical down").speed
    assert down is not None
    assert now.speed is not None
    assert down.speed < now.speed.speed
