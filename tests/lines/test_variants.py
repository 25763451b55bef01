"""Changed planes by Newton from a known speed: equal to the full search, and one batch equal to many."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenfall.lines.spread import searched_speed
from evenfall.lines.variants import Place, Variant, speeds_at_places, variant_speeds
from evenfall.plane.perturb import perturbed
from evenfall.workflow import Predicted


@pytest.fixture(scope="module")
def answer(tuned) -> Predicted:
    found = tuned("biplane_124").predicted
    assert found is not None
    return found


def variants(answer: Predicted) -> list[Variant]:
    plane = answer.ready.file.plane
    braked = replace(plane, corrections=replace(plane.corrections, braked_propeller_drag=1.3, parasite_drag=0.8))
    return [
        Variant(plane=plane),
        Variant(plane=plane, clean=1.1, crow=0.85),
        Variant(plane=braked),
        Variant(plane=perturbed(plane, {"mass.all_up": 1.1 * plane.mass.all_up})),
        Variant(plane=perturbed(plane, {"motor.resistance": 2 * plane.motor.resistance}), crow=1.2),
    ]


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["vertical down", "45 down", "vertical up"])
def test_equals_the_full_search(answer: Predicted, name: str) -> None:
    line = answer.survey.line(name)
    here = line.steady[0].state
    moved = variant_speeds(
        answer.ready.unit,
        answer.plan,
        answer.tables.lines[name],
        stick=line.stick,
        deployment=line.deployment,
        near=here,
        variants=variants(answer),
    )
    assert moved.found.all()
    assert moved.speed[0] == pytest.approx(here.speed, rel=1e-6)
    for speed, variant in zip(moved.speed, variants(answer), strict=True):
        full = searched_speed(answer.ready.unit, answer.plan, answer.tables, line, here, variant)
        assert math.isfinite(full)
        assert speed == pytest.approx(full, rel=1e-6)


@pytest.mark.invariant
def test_places_together_equal_places_apart(answer: Predicted) -> None:
    unit, plan = answer.ready.unit, answer.plan
    stick = answer.survey.line("vertical down").stick
    table = answer.tables.lines["vertical down"]
    near = answer.survey.line("vertical down").steady[0].state
    places = [Place(table=table, deployment=share, near=near) for share in (0.9, 1.0)]
    together = speeds_at_places(unit, plan, places, stick=stick, variants=variants(answer))
    for place, both in zip(places, together, strict=True):
        apart = variant_speeds(
            unit, plan, table, stick=stick, deployment=place.deployment, near=near, variants=variants(answer)
        )
        assert both.speed == pytest.approx(apart.speed, rel=1e-7)
        assert (both.found == apart.found).all()
