"""Tables of drag under load against the balances they stand for, and against the line engine."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from evenfall.lines.balance import balance, loaded_balance
from evenfall.lines.loaded import LoadedDrag
from evenfall.workflow import Predicted, TuneAnswer


@pytest.fixture(name="predicted", scope="module")
def _predicted(tuned: Callable[[str], TuneAnswer]) -> Predicted:
    found = tuned("biplane_124").predicted
    assert found is not None
    return found


@pytest.mark.invariant
def test_the_load_of_a_steady_line_gives_its_balance(predicted: Predicted) -> None:
    frame, crow = predicted.ready.frame, predicted.plan.crow
    slope, out = np.radians([-90.0, -45.0, 0.0, 45.0]), np.array([1.0, 0.6, 0.0, 0.0])
    line = balance(frame, speed=22.0, slope=slope, crow=crow, deployment=out)
    same = loaded_balance(
        frame, speed=22.0, normal=frame.weight * np.cos(slope), thrust=line.thrust, crow=crow, deployment=out
    )
    np.testing.assert_allclose(same.drag_surfaces, line.drag_surfaces, rtol=1e-5)
    np.testing.assert_allclose(same.alpha, line.alpha, atol=1e-6)


@pytest.mark.invariant
def test_tables_meet_fresh_balances_between_their_nodes(predicted: Predicted, loaded: LoadedDrag) -> None:
    frame, rng, n = predicted.ready.frame, np.random.default_rng(3), 80
    speed = predicted.ready.wanted * rng.uniform(0.5, 1.8, n)
    out, lift, pull = rng.uniform(0.0, 1.0, n), rng.uniform(-0.5, 0.5, n), rng.uniform(-0.25, 0.9, n)
    pressure = 0.5 * frame.air.density * speed**2
    normal, thrust = lift * pressure * loaded.area, pull * pressure * frame.disc
    solved = loaded_balance(frame, speed=speed, normal=normal, thrust=thrust, crow=predicted.plan.crow, deployment=out)
    assert solved.converged.all()
    found = loaded.drag(speed, normal, thrust, out, np.ones((n, 3)))
    off = np.abs(found / (solved.drag_surfaces + solved.drag_parts) - 1)
    assert np.median(off) < 0.005
    assert off.max() < 0.02
    np.testing.assert_allclose(loaded.incidence(speed, normal, thrust, out), solved.alpha, atol=np.radians(0.25))


@pytest.mark.invariant
def test_near_the_stall_tables_stay_close_to_fresh_balances(predicted: Predicted, loaded: LoadedDrag) -> None:
    frame, rng, n = predicted.ready.frame, np.random.default_rng(5), 80
    speed, out = predicted.ready.wanted * rng.uniform(0.5, 1.8, n), rng.uniform(0.0, 1.0, n)
    upright, pull = rng.random(n) < 0.5, rng.uniform(-0.25, 0.9, n)
    pressure = 0.5 * frame.air.density * speed**2
    share = rng.uniform(0.6, 0.9, n) * loaded.most_lift(speed, out, upright)
    normal, thrust = np.where(upright, 1, -1) * share * pressure * loaded.area, pull * pressure * frame.disc
    solved = loaded_balance(frame, speed=speed, normal=normal, thrust=thrust, crow=predicted.plan.crow, deployment=out)
    good = solved.converged
    assert good.mean() > 0.9
    found = loaded.drag(speed, normal, thrust, out, np.ones((n, 3)))
    off = np.abs(found / (solved.drag_surfaces + solved.drag_parts) - 1)[good]
    assert np.median(off) < 0.01
    assert np.quantile(off, 0.9) < 0.08


@pytest.mark.limit
def test_drag_grows_with_load_and_the_limits_follow_the_deployment(predicted: Predicted, loaded: LoadedDrag) -> None:
    weight, ones = predicted.ready.frame.weight, np.ones((5, 3))
    speed, nothing = np.full(5, 22.0), np.zeros(5)
    drags = loaded.drag(speed, weight * np.array([0.0, 1.0, 2.0, 3.0, 4.0]), nothing, nothing, ones)
    assert (np.diff(drags) > 0).all()
    growth = np.diff(drags)
    assert growth[3] > 2 * growth[0]
    upright = np.ones(2, bool)
    limits = loaded.most_lift(np.full(2, 22.0), np.array([0.0, 1.0]), upright)
    assert 0.8 < limits[1] < limits[0] < 1.4
    assert loaded.most_lift(np.array([9.0]), np.zeros(1), upright[:1])[0] < limits[0]


@pytest.mark.invariant
def test_factors_act_on_their_own_part(loaded: LoadedDrag) -> None:
    at = (np.full(1, 22.0), np.full(1, 5.0), np.full(1, -1.0), np.full(1, 0.5))
    parts = [float(loaded.drag(*at, np.eye(3)[k : k + 1])[0]) for k in range(3)]
    whole = float(loaded.drag(*at, np.array([[1.1, 0.8, 1.3]]))[0])
    assert whole == pytest.approx(1.1 * parts[0] + 0.8 * parts[1] + 1.3 * parts[2], rel=1e-12)
    assert min(parts) > 0
