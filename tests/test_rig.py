"""The job `rig`: corners, travel, loads, the radio's settings predicted again, failsafe and landing."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evenfall import workflow
from evenfall.cli import app
from evenfall.lines.balance import Airframe
from evenfall.lines.fitting import fitting
from evenfall.lines.landing import landing_change
from evenfall.lines.loads import corner_moments
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.planfile import write_plan
from evenfall.radio.radio_description import usual_radio
from evenfall.sheet.rig_page import RigPage, rig_page
from evenfall.sheet.rig_text import rig_parts
from evenfall.sheet.text import console
from evenfall.tune.linkages import fit_linkages
from evenfall.workflow import Ready, RigAnswer, TuneAnswer

Tuned = Callable[[str], TuneAnswer]


@pytest.fixture(scope="module")
def rigged(tuned: Tuned) -> RigAnswer:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    return workflow.rig(answer.ready.file, answer.plan)


def test_the_demo_keeps_its_roll_and_its_snap_with_crow_out(tuned: Tuned) -> None:
    """Linkage retention within 5 % at normal throw and the snap throw there with crow out, on the 1.24 m demo."""
    linkages = tuned("biplane_124").tuned.linkages
    assert linkages is not None
    assert linkages.status == "met"
    assert linkages.retention == pytest.approx(1.0, abs=0.05)
    assert linkages.snap is not None
    assert linkages.snap >= math.radians(16.5) - 1e-9


def test_loads_beyond_the_section_tables_are_said_to_be_a_trend(rigged: RigAnswer) -> None:
    """Crow of 23 deg and the snap throw reach 39 deg; the tables end at 28."""
    assert rigged.fitting.beyond
    assert "beyond the section tables" in rig_page(rigged).supply
    within = replace(rigged, fitting=replace(rigged.fitting, beyond=False))
    assert "beyond" not in rig_page(within).supply


def test_no_default_stands_behind_the_answer(ready: Callable[[str], Ready], tuned: Tuned) -> None:
    """Other holes give other settings; holes that cannot do it are refused with a reason."""
    made, plan = ready("biplane_124"), tuned("biplane_124").plan
    assert plan is not None
    assert plan.crow is not None
    plane = made.frame.plane

    def with_holes(arm: tuple[float, ...], horn: tuple[float, ...]) -> Airframe:
        linkage = {
            name: replace(item, arm_holes=arm, horn_holes=horn, arm=arm[0], horn=horn[0])
            for name, item in plane.aileron_linkage.items()
        }
        return replace(made.frame, plane=replace(plane, aileron_linkage=linkage))

    usual = fit_linkages(made.frame, plan.crow, plan.throws, wanted=made.wanted)
    other = fit_linkages(with_holes((0.012,), (0.024,)), plan.crow, plan.throws, wanted=made.wanted)
    short = fit_linkages(with_holes((0.004,), (0.024,)), plan.crow, plan.throws, wanted=made.wanted)
    assert other.setups["upper_left"].arm_hole == pytest.approx(0.012)
    assert other.setups["upper_left"].offset != pytest.approx(usual.setups["upper_left"].offset, abs=1e-3)
    assert short.status in ("limited", "none")
    assert short.reason


@pytest.mark.parametrize("name", DEMOS)
def test_hinge_moments_pull_the_ailerons_back(ready: Callable[[str], Ready], tuned: Tuned, name: str) -> None:
    """Air holds a deflected aileron back: moment against angle beyond a few degrees, growing with speed squared."""
    made, plan = ready(name), tuned(name).plan
    assert plan is not None
    slow = corner_moments(made.frame, plan.crow, wanted=made.wanted, throws=(0.2,), overspeed=1.0)
    fast = corner_moments(made.frame, plan.crow, wanted=made.wanted, throws=(0.2,), overspeed=1.3)
    for corner, moments in slow.items():
        far = np.abs(moments.angle) > math.radians(10)
        assert far.any()
        assert np.all(moments.moment[far] * moments.angle[far] < 0)
        ratio = fast[corner].moment[far] / moments.moment[far]
        assert np.all((ratio > 1.3) & (ratio < 2.1))  # 1.69 by speed squared, Reynolds number beside it


def test_the_budget_of_the_demo_closes_and_one_of_too_much_crow_does_not(
    ready: Callable[[str], Ready], tuned: Tuned
) -> None:
    made, plan = ready("biplane_124"), tuned("biplane_124").plan
    assert plan is not None
    assert plan.crow is not None
    good = fitting(made.frame, plan, wanted=made.wanted)
    assert good.budget is not None
    assert good.budget.closes
    more = replace(plan, crow=replace(plan.crow, upper=1.6 * plan.crow.upper, lower=1.6 * plan.crow.lower))
    bad = fitting(made.frame, more, wanted=made.wanted)
    assert bad.budget is not None
    assert not bad.budget.closes
    assert "snap" in bad.budget.text or "spin" in bad.budget.text
    assert "ure" in bad.budget.text


def test_servo_load_grows_with_speed(ready: Callable[[str], Ready], tuned: Tuned) -> None:
    made, plan = ready("biplane_124"), tuned("biplane_124").plan
    assert plan is not None
    loads = [fitting(made.frame, plan, wanted=share * made.wanted).corners["upper_left"].load for share in (1.0, 1.4)]
    assert loads[0] is not None
    assert loads[1] is not None
    assert loads[1].worst > 1.5 * loads[0].worst


def test_a_plane_without_linkage_is_told_so(ready: Callable[[str], Ready], tuned: Tuned) -> None:
    made, plan = ready("biplane_124"), tuned("biplane_124").plan
    assert plan is not None
    assert plan.crow is not None
    bare = replace(made.frame, plane=replace(made.frame.plane, aileron_servo=None, aileron_linkage={}))
    assert fit_linkages(bare, plan.crow, plan.throws, wanted=made.wanted).status == "unknown"
    assert fitting(bare, replace(plan, corners={}), wanted=made.wanted).corners == {}


def test_rounded_settings_fly_the_same_lines(rigged: RigAnswer) -> None:
    assert rigged.flown is not None
    for line in rigged.predicted.survey.lines:
        after = rigged.flown.survey.line(line.name)
        assert line.speed is not None
        assert after.speed is not None
        assert after.speed.speed == pytest.approx(line.speed.speed, rel=0.01)


def test_landing_change_is_that_of_braking(ready: Callable[[str], Ready], tuned: Tuned) -> None:
    made, answer = ready("biplane_124"), tuned("biplane_124")
    assert answer.plan is not None
    change = landing_change(made.frame, made.unit, answer.plan, wanted=made.wanted)
    assert change.speed is not None
    assert change.speed < 0  # crow slows the glide
    none = landing_change(made.frame, made.unit, replace(answer.plan, crow=None), wanted=made.wanted)
    assert none.speed is None
    assert none.lift is None


def test_failsafe_speeds_are_those_of_the_lines(rigged: RigAnswer) -> None:
    down = rigged.predicted.survey.line("vertical down").speed
    assert down is not None
    captured = rigged.failsafe.row("captured closed").tendency.down_speed
    closed = rigged.failsafe.row("closed pulse").tendency.down_speed
    assert captured == pytest.approx(down.speed, rel=5e-3)
    assert closed is not None
    assert closed > 1.2 * down.speed
    assert not rigged.failsafe.row("hold").motor_acceptable


@pytest.mark.documents
def test_every_field_of_the_page_is_described() -> None:
    for field in RigPage.model_fields.values():
        assert field.description


@pytest.mark.parametrize("width", [80, 140])
def test_the_page_is_printed(rigged: RigAnswer, width: int) -> None:
    page = rig_page(rigged)
    screen = console(width)
    with screen.capture() as caught:
        for part in rig_parts(page, "metric"):
            screen.print(part)
    text = caught.get()
    assert "upper left" in text
    assert "Propeller off" in text
    assert "stick right: down" in text.replace("\n", " ") or "right: down" in text
    json.dumps(page.model_dump(mode="json"), allow_nan=False)


def test_the_command_writes_json(tuned: Tuned, tmp_path: Path) -> None:
    from typer.testing import CliRunner

    plan = tuned("biplane_124").plan
    assert plan is not None
    write_plan(plan, tmp_path / "a.plan.toml")
    done = CliRunner().invoke(app, ["rig", str(demo_path("biplane_124")), str(tmp_path / "a.plan.toml"), "--json"])
    assert done.exit_code == 0
    page = json.loads(done.stdout)
    assert page["radio"] == usual_radio().name
    assert len(page["corners"]) == 4


def test_what_moves_the_centre_is_the_pilots_own(ready: Callable[[str], Ready], tuned: Tuned) -> None:
    """The radio's centre shift, else a programmable servo, else teeth alone; a horn that turns over adds half teeth."""
    from evenfall.lines.throws import centre_shift

    made, plan = ready("biplane_124"), tuned("biplane_124").plan
    assert plan is not None
    assert plan.crow is not None
    servo = made.frame.plane.aileron_servo
    assert servo is not None
    fixed = replace(usual_radio(), centre_shift=False)
    assert centre_shift(servo, usual_radio()).means == "radio"
    assert centre_shift(servo, fixed).means == "none"
    assert centre_shift(replace(servo, programmable=True), fixed).means == "servo"
    teeth = fit_linkages(made.frame, plan.crow, plan.throws, wanted=made.wanted, shift=centre_shift(servo, fixed))
    assert all(setup.shift == 0 for setup in teeth.setups.values())
    turned = replace(made.frame, plane=replace(made.frame.plane, aileron_servo=replace(servo, horn_turns_over=True)))
    finer = fit_linkages(turned, plan.crow, plan.throws, wanted=made.wanted, shift=centre_shift(servo, fixed))
    assert finer.retention is not None
    assert teeth.retention is not None
    assert abs(finer.retention - 1) <= abs(teeth.retention - 1) + 0.02
