"""Corners fitted anew: an unchanged plan stays as tuned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall.lines.refit import refitted
from evenfall.plane.starter import DEMOS
from evenfall.radio.planfile import plan_text
from evenfall.workflow import TuneAnswer


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_a_tuned_plan_fitted_anew_is_the_same_plan(tuned: Callable[[str], TuneAnswer], name: str) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    plane = answer.ready.file.plane
    assert plan_text(refitted(plane, answer.plan)) == plan_text(answer.plan)
    if answer.plan.crow is None or not answer.plan.corners:
        return
    more = replace(answer.plan, crow=replace(answer.plan.crow, upper=0.9 * answer.plan.crow.upper))
    assert plan_text(refitted(plane, more)) != plan_text(answer.plan)
