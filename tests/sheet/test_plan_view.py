"""A plan on the page, and what differs between two."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import present_plan
from evenfall.radio.planfile import parse_plan
from evenfall.sheet.plan_edit import apply_changes
from evenfall.sheet.plan_view import PlanChanges, PlanView, plan_diff, plan_view

FILE = load_plane(demo_path("biplane_124"))
GOLDEN = Path(__file__).parents[2] / "web" / "src" / "lib" / "kinematics" / "golden.json"
TEXT = json.loads(GOLDEN.read_text(encoding="utf-8"))["plans"]["biplane_124"]
PLAN = parse_plan(TEXT, FILE.plane)


def view(text: str | None, tuned: str | None = None) -> PlanView:
    return plan_view(FILE, text, file="a.plan.toml", label="mine", state="edited", revision=4, tuned=tuned)


@pytest.mark.limit
def test_the_plane_as_it_is_has_no_crow_and_nothing_to_compare() -> None:
    page = plan_view(FILE, None, file=None, label="as it is", state="as it is", revision=0, tuned=None)
    assert page.plan is not None
    assert page.plan.crow is None
    assert (page.text, page.faults, page.differs, page.tuned_known) == ("", (), (), False)
    assert page.levels == ("0", "25", "50", "75", "100")
    assert page.arrangements == ("up/down", "down/up", "both up", "both down")
    assert page.most_deg == pytest.approx(40.0)


@pytest.mark.invariant
def test_a_plan_equal_to_the_tuned_one_differs_in_nothing() -> None:
    page = view(TEXT, TEXT)
    assert page.tuned_known
    assert page.differs == ()
    assert page.plan is not None
    assert page.plan.crow is not None


@pytest.mark.outside
def test_a_faulty_plan_shows_its_faults_and_keeps_its_text() -> None:
    page = view(TEXT.replace("threshold_percent = ", "treshold_percent = "), TEXT)
    assert page.plan is None
    assert {"crow.threshold_percent", "crow.treshold_percent"} <= {fault.where for fault in page.faults}
    assert "treshold" in page.text
    assert view("a = = 1").faults


@pytest.mark.invariant
def test_differences_are_said_in_words_and_rounded_as_on_the_bench() -> None:
    crow = PLAN.crow
    assert crow is not None
    new = apply_changes(
        PLAN,
        PlanChanges.model_validate(
            {"angle_deg": 12.34, "level": "75", "phases": {"snap": {"aileron_deg": 10, "crow_live": False}}}
        ),
        FILE.plane,
    )
    rows = {row.what: (row.mine, row.other) for row in plan_diff(new, PLAN)}
    assert rows["motor-brake level"] == ("75", PLAN.motor.level)
    assert rows["crow, snap"] == ("off", "live")
    assert rows["aileron throw, snap"] == ("10.0 deg", f"{math.degrees(PLAN.throws.snap):.1f} deg")
    sign = "-" if crow.upper < 0 else ""
    assert rows["crow of the upper wing"][0] == f"{sign}12.3 deg"
    assert rows["pulse with crow out, lower left"][0].endswith(" us")
    assert "arm offset, lower left" not in rows
    assert "threshold" not in rows


@pytest.mark.limit
def test_what_rounds_to_the_same_is_no_difference() -> None:
    crow = PLAN.crow
    assert crow is not None
    assert plan_diff(replace(PLAN, crow=replace(crow, upper=crow.upper + 1e-6)), PLAN) == ()


@pytest.mark.limit
def test_crow_phases_and_corners_that_only_one_has() -> None:
    rows = {row.what: (row.mine, row.other) for row in plan_diff(present_plan(FILE.plane), PLAN)}
    assert rows["crow"][0] == "none"
    assert rows["crow"][1].endswith("deg")
    assert rows["linkage, upper left"][0] == "none"
    fewer = replace(PLAN, phases=PLAN.phases[:3])
    assert {row.what for row in plan_diff(fewer, PLAN)} == {"phase spin", "phase landing"}


@pytest.mark.invariant
def test_the_most_crow_follows_the_split() -> None:
    new = apply_changes(PLAN, PlanChanges(lower_deg=0.0), FILE.plane)
    from evenfall.radio.planfile import plan_text

    assert view(plan_text(new)).most_deg == pytest.approx(40.0)
