"""Holding stick: the line is really flown at the wanted speed there; ends, closed band, monotone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.lines.drag import drag_tables
from evenfall.lines.holding import (
    STICKS,
    Holding,
    SlopeDrag,
    StickThrust,
    holding_sticks,
    monotone,
    slope_drag,
    stick_thrust,
)
from evenfall.lines.line import steady_speeds
from evenfall.lines.survey import line_curve, shaft_at
from evenfall.numeric import Status
from evenfall.plane.corrections import Corrections
from evenfall.plane.starter import DEMOS
from evenfall.radio.plan import Plan, present_plan
from evenfall.workflow import Predicted, Ready, TuneAnswer

NEAR = (0.8, 0.9, 1.0, 1.12, 1.25)


def flown_speed(made: Ready, plan: Plan, held: Holding) -> float:
    """Stable steady speed nearest to the wanted one at a stick position, solved afresh from a table of that slope."""
    table = drag_tables(made.frame, wanted=made.wanted, slopes=held.slope, crow=plan.crow, speed_nodes=NEAR)[0]
    shaft, _ = shaft_at(made.unit, plan, held.stick)
    found = steady_speeds(line_curve(shaft, wanted=made.wanted), table, held.deployment)
    return min((s.speed for s in found if s.stable), key=lambda v: abs(v - made.wanted), default=math.nan)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_the_line_is_flown_at_the_wanted_speed(tuned: Callable[[str], TuneAnswer], name: str) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    assert answer.tuned.survey is not None
    held = [item for item in answer.tuned.survey.holding if item.status is Status.OK]
    assert len(held) >= 6
    for item in held:
        speed = flown_speed(answer.ready, answer.plan, item)
        assert speed == pytest.approx(answer.ready.wanted, rel=5e-3), (name, math.degrees(item.slope), item.stick)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_the_line_is_flown_at_the_wanted_speed_as_it_is_now(present: Callable[[str], Predicted], name: str) -> None:
    answer = present(name)
    for item in answer.survey.holding:
        if item.status is Status.OK:
            speed = flown_speed(answer.ready, answer.plan, item)
            assert speed == pytest.approx(answer.ready.wanted, rel=5e-3), (name, math.degrees(item.slope), item.stick)


def made_up(
    ready: Callable[[str], Ready], needs: list[float], *, carried: bool = True, step: float = 0.0
) -> tuple[Holding, ...]:
    """Holding sticks for made-up drags (N) on slopes that need no lift, thrust 10 N x stick, `step` N in the band."""
    unit = ready("biplane_124").unit
    plan = present_plan(unit.plane)
    n = len(needs)
    drag = SlopeDrag(
        slopes=np.zeros(n),
        deployments=np.zeros(1),
        clean=np.array(needs),
        crow=np.zeros((n, 1)),
        parts=np.zeros((n, 1)),
        carried=np.full(n, carried),
    )
    controller = unit.plane.controller
    closed = controller.closed_below > STICKS
    thrust = StickThrust(
        thrust=np.where(closed, -step, 10.0 * STICKS), closed=closed, uncertain=controller.start_stick > STICKS
    )
    return holding_sticks(unit, plan, drag, thrust)


def test_stick_of_a_straight_thrust(ready: Callable[[str], Ready]) -> None:
    (held,) = made_up(ready, [4.321])
    assert held.status is Status.OK
    assert held.stick == pytest.approx(0.4321, abs=1e-6)
    assert held.excess == 0.0


@pytest.mark.limit
def test_both_ends_of_the_stick(ready: Callable[[str], Ready]) -> None:
    fast, slow = made_up(ready, [-3.0, 14.0])
    assert (fast.status, fast.stick, fast.excess) == (Status.STICK_AT_CLOSED_END, 0.0, pytest.approx(3.0))
    assert (slow.status, slow.stick, slow.excess) == (Status.STICK_AT_OPEN_END, 1.0, pytest.approx(-4.0))


@pytest.mark.limit
def test_balanced_on_an_end_is_held(ready: Callable[[str], Ready]) -> None:
    weight = ready("biplane_124").frame.weight
    closed, opened = made_up(ready, [-0.0004 * weight, 10.0 + 0.0004 * weight])
    assert (closed.status, closed.stick) == (Status.OK, 0.0)
    assert (opened.status, opened.stick) == (Status.OK, 1.0)


def test_the_step_at_the_closed_band_is_flown_unsteadily(ready: Callable[[str], Ready]) -> None:
    controller = ready("biplane_124").unit.plane.controller
    (held,) = made_up(ready, [-0.5], step=2.0)
    assert held.status is Status.INSIDE_CLOSED_BAND
    assert held.stick == pytest.approx(controller.closed_below, abs=STICKS[1])
    assert held.excess > 0.0


def test_between_closed_band_and_start_the_motor_does_not_run(ready: Callable[[str], Ready]) -> None:
    controller = ready("biplane_124").unit.plane.controller
    middle = 0.5 * (controller.closed_below + controller.start_stick)
    (held,) = made_up(ready, [10.0 * middle], step=2.0)
    assert held.status is Status.INSIDE_CLOSED_BAND


@pytest.mark.outside
def test_a_slope_the_wing_does_not_carry_is_stalled(ready: Callable[[str], Ready]) -> None:
    (held,) = made_up(ready, [3.0], carried=False)
    assert held.status is Status.STALLED
    assert math.isnan(held.excess)


def hold(slope: float, stick: float, status: Status = Status.OK) -> Holding:
    return Holding(slope=math.radians(slope), stick=stick, status=status, deployment=0.0, excess=0.0)


def test_slopes_where_the_stick_falls_are_named() -> None:
    assert monotone([hold(-90, 0.0), hold(-45, 0.2), hold(0, 0.6)]) == ()
    assert monotone([hold(-90, 0.3), hold(-45, 0.2), hold(0, 0.6)]) == (math.radians(-45),)
    band = [hold(-90, 0.0), hold(-45, 0.04, Status.INSIDE_CLOSED_BAND), hold(0, 0.6, Status.STALLED)]
    assert monotone(band) == (math.radians(-45),)


@pytest.mark.invariant
def test_slope_drag_is_the_direct_balance_at_its_nodes(ready: Callable[[str], Ready]) -> None:
    from evenfall.lines.balance import balance
    from evenfall.tune.candidates import crow_at

    made = ready("biplane_124")
    plan = replace(present_plan(made.frame.plane), crow=crow_at(made.frame.plane, "up/down", math.radians(15)))
    slopes = np.radians([-90.0, -30.0, 0.0])
    drag = slope_drag(made.frame, plan, wanted=made.wanted, slopes=slopes)
    for row, slope in enumerate(slopes):
        for out in (0.0, 0.5, 1.0):
            direct = balance(made.frame, speed=made.wanted, slope=slope, crow=plan.crow, deployment=out)
            wanted = direct.drag_surfaces[0] + direct.drag_parts[0]
            assert drag.drag(row, np.array([out]), Corrections())[0] == pytest.approx(wanted, rel=2e-3)


def test_thrust_over_the_stick_brakes_in_the_band_and_drives_above(ready: Callable[[str], Ready]) -> None:
    made = ready("biplane_124")
    plan = present_plan(made.frame.plane)
    over = stick_thrust(made.unit, plan, wanted=made.wanted)
    controller = made.unit.plane.controller
    assert np.array_equal(over.closed, controller.closed_below > STICKS)
    assert np.all(over.thrust[over.closed] == over.thrust[0])
    assert over.thrust[0] < 0 < over.thrust[-1]
    assert np.all(np.diff(over.thrust[~over.closed]) > -1e-6)
    assert np.array_equal(over.uncertain, controller.start_stick > STICKS)
