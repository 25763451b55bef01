"""Deployment curves: shape, threshold and its reasons, smooth force over the stick."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.lines.holding import STICKS, holding_sticks, monotone, slope_drag, stick_thrust
from evenfall.plane.starter import DEMOS
from evenfall.tune.curves import FRESH, TIRED, _threshold, shape_curves, with_charge
from evenfall.tune.targets import Targets
from evenfall.workflow import TuneAnswer

Tuned = Callable[[str], TuneAnswer]


@pytest.mark.parametrize("name", DEMOS)
def test_deployment_is_full_to_the_start_stick_and_none_from_the_threshold(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    curves = answer.tuned.curves
    assert curves is not None
    sticks, shares = (np.array(column) for column in zip(*curves.deployment, strict=True))
    assert sticks[0] == 0.0
    assert sticks[-1] == 1.0
    assert np.all(np.diff(sticks) > 0)
    assert np.all(np.diff(shares) <= 0)
    assert np.interp(answer.ready.unit.plane.controller.start_stick, sticks, shares) == pytest.approx(1.0, abs=2e-3)
    assert np.interp(curves.threshold, sticks, shares) == pytest.approx(0.0, abs=1e-9)
    assert curves.reason.startswith(("deployment begins", "the level stick"))


@pytest.mark.documents
def test_every_reason_of_a_threshold() -> None:
    targets = Targets()
    assert _threshold(0.4, 0.6, 0.08, targets) == (0.4, "deployment begins where the motor begins to pull")
    assert _threshold(0.6, 0.5, 0.08, targets) == (
        0.45,
        "deployment begins as near to the level stick of a fresh battery as its margin allows",
    )
    low, words = _threshold(0.6, 0.2, 0.08, targets)
    assert low == 0.18
    assert words == "the level stick is so low that deployment cannot stay clear of it"


@pytest.mark.parametrize("name", DEMOS)
def test_crow_stays_stowed_at_the_level_stick_of_a_fresh_battery(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    target = next(t for t in answer.tuned.targets if t.name == "crow stowed from level upward")
    assert answer.plan is not None
    assert answer.tuned.tables is not None
    fresh = with_charge(answer.ready.unit, FRESH)
    thrust = stick_thrust(fresh, answer.plan, wanted=answer.ready.wanted)
    level = next(
        item
        for item in holding_sticks(fresh, answer.plan, answer.tuned.tables.slopes, thrust)
        if abs(item.slope) < 1e-9
    )
    if target.met:
        assert level.deployment == 0.0


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["biplane_124", "biplane_155"])
def test_force_over_the_stick_is_straight_where_the_crow_governs(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    assert answer.tuned.curves is not None
    assert answer.tuned.tables is not None
    unit, curves = answer.ready.unit, answer.tuned.curves
    start = unit.plane.controller.start_stick
    thrust = stick_thrust(unit, answer.plan, wanted=answer.ready.wanted).thrust
    slopes = answer.tuned.tables.slopes
    row = int(np.argmin(slopes.slopes))
    force = thrust - slopes.drag(row, answer.plan.deployment(STICKS), unit.plane.corrections)
    inside = (start <= STICKS) & (curves.threshold >= STICKS)
    line = np.polyval(np.polyfit(STICKS[inside], force[inside], 1), STICKS[inside])
    gained = force[inside][-1] - force[inside][0]
    assert gained > 0
    # Five points of a curve on a bent drag: within a twelfth of the force gained.
    assert np.abs(force[inside] - line).max() < gained / 12


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["biplane_124", "biplane_155"])
def test_the_holding_stick_rises_with_slope_fresh_and_tired(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    target = next(t for t in answer.tuned.targets if t.name == "holding stick rises with slope")
    wrong: list[float] = []
    for charge in (FRESH, TIRED):
        unit = with_charge(answer.ready.unit, charge)
        thrust = stick_thrust(unit, answer.plan, wanted=answer.ready.wanted)
        for inverted in (False, True):
            drag = slope_drag(
                answer.ready.frame,
                answer.plan,
                wanted=answer.ready.wanted,
                slopes=np.radians(np.arange(-90, 91, 15)),
                inverted=inverted,
            )
            wrong += monotone(holding_sticks(unit, answer.plan, drag, thrust))
    assert target.met == (not wrong)


@pytest.mark.limit
def test_a_tired_battery_needs_more_stick(tuned: Tuned) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    fresh, tired = (
        stick_thrust(with_charge(answer.ready.unit, charge), answer.plan, wanted=answer.ready.wanted).thrust
        for charge in (FRESH, TIRED)
    )
    assert fresh[-1] > tired[-1]


def test_without_crow_there_is_no_curve(tuned: Tuned) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    assert answer.tuned.tables is not None
    with pytest.raises(ValueError, match="without crow"):
        shape_curves(
            answer.ready.unit,
            replace(answer.plan, crow=None),
            answer.tuned.tables.slopes,
            wanted=22.0,
            targets=Targets(),
        )
