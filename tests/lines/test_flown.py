"""Lines marched together against the single march, and the order of the march."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.lines.entry import march
from evenfall.lines.flown import SERVO_LAG, FlownLine, FlownVariant, fly
from evenfall.lines.shaft import free_shaft
from evenfall.lines.survey import shaft_at
from evenfall.plane.corrections import Corrections
from evenfall.power.train import driven
from evenfall.workflow import Predicted, TuneAnswer


@pytest.fixture(name="tuned")
def _tuned(tuned: Callable[[str], TuneAnswer]) -> Predicted:
    found = tuned("biplane_124").predicted
    assert found is not None
    return found


def line_of(present: Predicted, name: str, speed: float, *, fresh: bool = True) -> FlownLine:
    down = present.survey.line(name)
    return FlownLine(
        table=present.tables.lines[name],
        plan=present.plan,
        stick=down.stick,
        deployment=down.deployment,
        speed=speed,
        fresh=fresh,
        duration=5.0,
    )


@pytest.mark.invariant
@pytest.mark.parametrize("speed", [13.0, 22.0, 30.0])
def test_the_same_as_one_line_marched_alone(tuned: Predicted, speed: float) -> None:
    unit, plan = tuned.ready.unit, tuned.plan
    line = line_of(tuned, "vertical down", speed)
    shaft, _ = shaft_at(unit, plan, line.stick)
    alone = march(
        line.table,
        free=free_shaft(unit),
        held=shaft,
        brake_delay=unit.plane.controller.brake_delay,
        speed=np.array([speed]),
        omega=driven(unit.plane, unit.propeller, [speed], 0.5, density=unit.density).omega,
        deployment=line.deployment,
        deployment_lag=SERVO_LAG,
        duration=5.0,
        step=0.01,
    )
    together = fly(unit, [line], [FlownVariant(plane=unit.plane)], step=0.01)
    np.testing.assert_allclose(together.speed[:, 0, 0][: len(alone.speed)], alone.speed[:, 0], rtol=2e-5)
    np.testing.assert_allclose(together.way[-1, 0, 0], alone.height[-1, 0], rtol=2e-5)
    # The shaft's torque is read from a table of 512 shaft speeds.
    np.testing.assert_allclose(together.omega[-1, 0, 0], alone.omega[-1, 0], rtol=2e-3)


@pytest.mark.invariant
def test_lines_and_variants_do_not_touch_each_other(tuned: Predicted) -> None:
    unit = tuned.ready.unit
    heavy = replace(unit.plane, corrections=Corrections(crow_drag=1.3))
    lines = [line_of(tuned, "vertical down", 18.0), line_of(tuned, "45 down", 24.0, fresh=False)]
    both = fly(unit, lines, [FlownVariant(plane=unit.plane), FlownVariant(plane=heavy)], step=0.02)
    for row, line in enumerate(lines):
        for column, plane in enumerate((unit.plane, heavy)):
            one = fly(unit, [line], [FlownVariant(plane=plane)], step=float(both.time[1]))
            np.testing.assert_allclose(both.speed[:, row, column], one.speed[:, 0, 0], rtol=1e-9)
    assert both.speed[-1, 0, 1] < both.speed[-1, 0, 0] - 0.3


@pytest.mark.convergence
def test_smaller_steps_change_little(tuned: Predicted) -> None:
    line = line_of(tuned, "vertical down", 15.0)
    unit = tuned.ready.unit
    ends = [fly(unit, [line], [FlownVariant(plane=unit.plane)], step=step).way_at(0, np.array([4.0]))[0, 0]
            for step in (0.04, 0.02, 0.005)]  # fmt: skip
    assert abs(ends[0] - ends[2]) < 0.01
    assert abs(ends[1] - ends[2]) < 0.005


def test_time_over_a_way_and_way_over_time_agree(tuned: Predicted) -> None:
    line = line_of(tuned, "vertical down", 20.0)
    unit = tuned.ready.unit
    done = fly(unit, [line], [FlownVariant(plane=unit.plane), FlownVariant(plane=unit.plane, start=1.2)], step=0.02)
    for way in (5.0, 40.0, 80.0):
        times = done.time_at(0, way)
        assert times[1] < times[0]
        back = np.diag(done.way_at(0, times))
        np.testing.assert_allclose(back, way, atol=2e-3)
    assert np.isinf(done.time_at(0, 1e4)).all()
