"""The bend of the vertical as pulls teach it: linear updates in any order, parts that add up."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.advise.bending import VERTICAL, BendState, before_pulls, bend_parts
from evenfall.advise.outlook import Balances
from evenfall.lines.bend import BendCase, bends
from evenfall.plane.corrections import Corrections
from evenfall.workflow import TuneAnswer


@pytest.mark.invariant
def test_pulls_count_the_same_in_any_order() -> None:
    rng = np.random.default_rng(3)
    seen = [(float(rng.normal(0, 0.1)), rng.normal(size=3), float(rng.uniform(0.02, 0.1))) for _ in range(5)]

    def after(order: list[int]) -> BendState:
        state = before_pulls()
        for k in order:
            state = state.seen(*seen[k])
        return state

    one, two = after([0, 1, 2, 3, 4]), after([3, 0, 4, 2, 1])
    assert np.allclose(one.mean, two.mean)
    assert np.allclose(one.covariance, two.covariance)
    assert np.all(np.diag(one.covariance) < np.diag(before_pulls().covariance))


@pytest.mark.invariant
def test_many_exact_pulls_leave_the_pull_itself() -> None:
    slopes = np.array([1.0, 0.15, -0.1])
    state = before_pulls()
    for _ in range(30):
        state = state.seen(0.12, slopes, 0.01)
    assert float(slopes @ state.mean) == pytest.approx(0.12, abs=1e-3)
    assert state.doubt(slopes) == pytest.approx(0.01 / math.sqrt(30), rel=0.05)


@pytest.mark.invariant
def test_parts_add_up_to_the_bend_of_the_engine(tuned: Callable[[str], TuneAnswer]) -> None:
    """The moment of crow and the elevator share as the engine has them, within what is not linear of them."""
    answer = tuned("biplane_124")
    assert answer.plan is not None
    crow = answer.plan.crow
    assert crow is not None
    ready = answer.ready
    given = {"speed": ready.wanted, "thrust": -1.0, "level": 6.0}
    parts = bend_parts(ready.frame, [crow], [VERTICAL], **given)[0][0]
    assert parts.solved

    def engine(share: float, factor: float) -> float:
        plane = replace(ready.frame.plane, corrections=Corrections(crow_moment=factor))
        case = BendCase(slope=-math.pi / 2, crow=replace(crow, elevator_share=share), thrust=-1.0)
        found = bends(replace(ready.frame, plane=plane), [case], speed=ready.wanted, level_thrust=6.0)
        return float(found.clean[0] + found.crow[0])

    assert parts.clean + parts.crow == pytest.approx(engine(crow.elevator_share, 1.0), abs=1e-6)
    moment = BendState(mean=np.array([0.0, -0.3, 0.0]), covariance=np.eye(3))
    assert parts.total(moment) == pytest.approx(engine(crow.elevator_share, 0.7), abs=math.radians(0.2))
    weaker = BendState(mean=np.array([0.0, 0.0, -0.5]), covariance=np.eye(3))
    assert parts.total(weaker) == pytest.approx(engine(0.5 * crow.elevator_share, 1.0), abs=math.radians(0.5))


def test_a_plane_with_a_learned_moment_of_its_own_starts_from_it(tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    assert before_pulls(own=1.4).mean[1] == pytest.approx(0.4)
    balances = Balances(ready=answer.ready)
    assert balances.parts(answer.plan) is balances.parts(answer.plan)
