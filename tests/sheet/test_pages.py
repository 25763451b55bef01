"""Declared pages: the keys that stay, every field described, nothing undeclared, no NaN; every page as text."""

from __future__ import annotations

import io
import json
import math
import typing
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from pydantic import BaseModel

from evenfall import workflow
from evenfall.air import standard_air
from evenfall.estimate import Estimate
from evenfall.lines.survey import LineAnswer, Survey
from evenfall.numeric import Status
from evenfall.plane.electrics import BrakeLevel
from evenfall.plane.starter import DEMOS
from evenfall.sheet import pages
from evenfall.sheet.make import CAUSE_WORDS, air_page, level_words, predict_page, spreading, summary, tune_page
from evenfall.sheet.pages import Page, PredictPage, Spreading, TunePage
from evenfall.sheet.text import console, force, predict_parts, speed, spread_of, tune_parts, with_spread
from evenfall.workflow import Predicted, TuneAnswer

Tuned = Callable[[str], TuneAnswer]
Present = Callable[[str], Predicted]
PAGES = [value for value in vars(pages).values() if isinstance(value, type) and issubclass(value, Page)]


def text_of(parts: list[typing.Any], width: int) -> str:
    screen = console(width)
    screen.file = io.StringIO()
    for part in parts:
        screen.print(part)
    return screen.file.getvalue()


def leaves(value: object) -> Iterator[object]:
    if isinstance(value, dict):
        for item in value.values():
            yield from leaves(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from leaves(item)
    else:
        yield value


@pytest.mark.documents
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_every_field_of_every_page_is_described(page: type[BaseModel]) -> None:
    assert page.__doc__
    for name, field in page.model_fields.items():
        assert field.description, f"{page.__name__}.{name}"
        assert field.description.endswith("."), f"{page.__name__}.{name}"


STAYS_PREDICT = {
    "lines": {"name", "slope_deg", "stick_percent", "status", "steady"},
    "roll": {"deployed", "throw_deg", "rate_deg_s", "retention"},
    "straightness": {"line", "inverted", "clean_deg_s", "crow_deg_s", "cure"},
    "holding_stick": {"slope_deg", "stick_percent"},
}
STAYS_TUNE = {
    "targets": {"name", "wanted", "got", "met"},
    "candidates": {
        "level",
        "brake_percent",
        "arrangement",
        "crow_deg",
        "shaft_states",
        "margin",
        "verdict",
        "why",
    },
}


@pytest.mark.documents
@pytest.mark.parametrize("name", DEMOS)
def test_keys_that_stay(tuned: Tuned, name: str) -> None:
    document = json.loads(json.dumps(tune_page(tuned(name)).model_dump(mode="json"), allow_nan=False))
    assert document["status"] in ("met", "limited", "none")
    for key, fields in STAYS_TUNE.items():
        assert document[key]
        assert all(fields <= set(row) for row in document[key]), key
    assert set(document["candidates"][0]["crow_deg"]) == {"upper", "lower"}
    assert set(document["plan"]) >= {"crow", "motor"}
    crow = {"arrangement", "upper_deg", "lower_deg", "threshold_percent", "curve", "elevator_share"}
    assert crow <= set(document["plan"]["crow"])
    assert {"level", "brake_percent", "throttle_curve"} <= set(document["plan"]["motor"])
    predicted = document["predicted"]
    for key, fields in STAYS_PREDICT.items():
        assert predicted[key]
        assert all(fields <= set(row) for row in predicted[key]), key
    assert [line["name"] for line in predicted["lines"]] == [
        "vertical down",
        "45 down",
        "level",
        "45 up",
        "vertical up",
    ]
    assert [line["slope_deg"] for line in predicted["lines"]] == pytest.approx([-90, -45, 0, 45, 90])
    steady = {"speed_m_s", "shaft_rpm", "stable", "drag_n", "reached_from_m_s"}
    for line in predicted["lines"]:
        for state in line["steady"]:
            assert steady <= set(state)
            assert {"value", "spread"} <= set(state["speed_m_s"])
            assert set(state["drag_n"]) == {"airframe", "crow", "propeller"}
            assert state["reached_from_m_s"] is None or len(state["reached_from_m_s"]) == 2
    for roll in predicted["roll"]:
        assert set(roll["retention"]) >= {"linkage", "section", "speed", "total"}


@pytest.mark.parametrize("name", DEMOS)
def test_pages_hold_no_nan(tuned: Tuned, present: Present, name: str) -> None:
    for page in (tune_page(tuned(name)), predict_page(present(name))):
        for leaf in leaves(page.model_dump()):
            assert not isinstance(leaf, float) or math.isfinite(leaf)
        assert type(page).model_validate_json(page.model_dump_json()) == page


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_pages_are_unrounded_and_balanced(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    page = tune_page(answer)
    assert page.predicted is not None
    weight = answer.ready.frame.weight
    for line in page.predicted.lines:
        for state in line.steady:
            shares = state.drag_n
            along = weight * math.sin(math.radians(line.slope_deg))
            assert shares.airframe + shares.crow + shares.propeller == pytest.approx(-along, abs=3e-3 * weight)
    for roll in page.predicted.roll:
        kept = roll.retention
        linkage = 1.0 if kept.linkage is None else kept.linkage
        assert kept.total == pytest.approx(linkage * kept.section * kept.speed, rel=1e-9)
        if not roll.deployed:
            assert roll.retention.section == 1.0


@pytest.mark.parametrize("width", [80, 140])
@pytest.mark.parametrize("system", ["metric", "imperial"])
@pytest.mark.parametrize("name", DEMOS)
def test_every_page_is_printed(tuned: Tuned, present: Present, name: str, system: str, width: int) -> None:
    tune_text = text_of(tune_parts(tune_page(tuned(name)), system), width)  # type: ignore[arg-type]
    predict_text = text_of(predict_parts(predict_page(present(name)), system), width)  # type: ignore[arg-type]
    unit = "m/s" if system == "metric" else "mph"
    for printed in (tune_text, predict_text):
        assert unit in printed
        assert "How it falls" in printed
        assert "nan" not in printed
        assert "None" not in printed
        for row in printed.split("\n"):
            assert len(row) <= width or "  " not in row.strip(), row
    assert "Targets" in tune_text
    assert "Propeller off for all bench work" in tune_text
    assert "Holding stick" in predict_text


# --- words ------------------------------------------------------------------------------------------------------------


def with_lines(answer: Predicted, *lines: LineAnswer) -> Predicted:
    """A prediction whose lines are replaced, without spreads."""
    done = Survey(wanted=answer.survey.wanted, lines=lines, holding=answer.survey.holding)
    estimates: dict[str, tuple[Estimate | None, ...]] = {line.name: (None,) * len(line.steady) for line in lines}
    return replace(answer, survey=done, estimates=estimates)


@pytest.mark.documents
@pytest.mark.parametrize("status", list(Status))
def test_every_status_is_printed_with_its_remedy(present: Present, status: Status) -> None:
    answer = present("biplane_124")
    line = replace(answer.survey.line("vertical down"), status=status)
    page = predict_page(with_lines(answer, line))
    assert page.lines[0].status == status.value
    assert page.lines[0].remark == ("" if status is Status.OK else status.text)
    printed = " ".join(text_of(predict_parts(page, "metric"), 400).split())
    if status is not Status.OK:
        assert status.text in printed
    empty = predict_page(with_lines(answer, replace(line, steady=())))
    assert " ".join(status.text.split()[:3]) in text_of(predict_parts(empty, "metric"), 400) or status is Status.OK


def test_two_speeds_are_warned_about_and_told_apart(present: Present) -> None:
    answer = present("biplane_124")
    line = answer.survey.line("vertical down")
    entry = line.steady[0]
    slow = replace(entry, state=replace(entry.state, speed=20.0), reached_from=(6.0, 14.0))
    divide = replace(entry, state=replace(entry.state, speed=20.5, stable=False), reached_from=None)
    fast = replace(entry, state=replace(entry.state, speed=21.0), reached_from=None)
    page = predict_page(with_lines(answer, replace(line, status=Status.SEVERAL_SPEEDS, steady=(slow, divide, fast))))
    assert "vertical down: 20.0 or 21.0 m/s possible, the entry speed decides." in page.warnings
    assert any("so near a fold that its spread cannot be given" in words for words in page.warnings)
    printed = text_of(predict_parts(page, "imperial"), 400)
    assert "reached from 13.4 to 31.3 mph" in printed
    assert "unstable: divides the entries" in printed
    assert "reached from none of the entry speeds tried" in printed
    assert "44.7 +- ?" in printed


def test_a_plan_for_another_plane_or_state_is_warned_about(tuned: Tuned, present: Present) -> None:
    plan = tuned("biplane_124").plan
    assert plan is not None
    answer = present("biplane_124")
    assert predict_page(replace(answer, plan=plan)).warnings == answer.ready.file.notes
    other = replace(plan, computed_from={"plane_hash": "0" * 64})
    assert "computed from another state of this plane file" in predict_page(replace(answer, plan=other)).warnings[0]
    named = replace(plan, plane_name="Another")
    assert "The plan was made for Another, this plane is" in predict_page(replace(answer, plan=named)).warnings[0]


def test_summary_says_what_was_met_missed_or_impossible(tuned: Tuned) -> None:
    answer = tuned("biplane_124")
    assert summary(answer).startswith("Motor brake ")
    met = replace(answer, tuned=replace(answer.tuned, status="met"))
    assert "every target is met" in summary(met)
    missed = tuple(replace(target, met=target.name != "straight vertical") for target in answer.tuned.targets)
    limited = replace(answer, tuned=replace(answer.tuned, status="limited", targets=missed))
    assert summary(limited).endswith("as wanted; not met: straight vertical.")
    nearest = summary(tuned("monoplane_160"))
    assert "This is the nearest: vertical down at" in nearest
    mono = tuned("monoplane_160")
    close = tuple(replace(target, met=target.name == "vertical down speed") for target in mono.tuned.targets)
    assert " as wanted; not met: " in summary(replace(mono, tuned=replace(mono.tuned, targets=close)))
    none = replace(answer, tuned=replace(answer.tuned, plan=None, remedies=("Buy hinges.",)), predicted=None)
    assert summary(none) == "No plan exists for this plane. Buy hinges."
    page = tune_page(replace(none, tuned=replace(none.tuned, status="none", targets=(), judged=())))
    assert page.plan is None
    assert page.predicted is None
    printed = text_of(tune_parts(page, "metric"), 100)
    assert "No plan exists" in printed
    assert "To gain it: Buy hinges." in printed


def test_level_words() -> None:
    assert level_words(BrakeLevel(name="25", percent=25.0)) == "25 %"
    assert level_words(BrakeLevel(name="soft", percent=33.3)) == "soft (33.3 %)"


@pytest.mark.documents
def test_every_cause_has_words_for_the_pilot(tuned: Tuned, present: Present) -> None:
    found: set[str] = set()
    for name in DEMOS:
        predicted = tuned(name).predicted
        assert predicted is not None
        for answer in (predicted, present(name)):
            for estimates in answer.estimates.values():
                found |= {cause.name for estimate in estimates if estimate is not None for cause in estimate.causes}
    assert found
    assert found <= set(CAUSE_WORDS), found - set(CAUSE_WORDS)


def test_numbers_in_words() -> None:
    assert speed(10.0, "metric") == "10.0"
    assert speed(10.0, "imperial") == "22.4"  # 1 m/s = 2.236936 mph
    assert force(1.0, "imperial") == "3.6"  # 1 N = 3.596943 ozf
    assert force(-0.0, "metric") == "0.0"
    assert with_spread(Spreading(value=24.12, spread=0.55), "metric") in ("24.1 +- 0.6", "24.1 +- 0.5")
    assert with_spread(Spreading(value=24.12, spread=None), "metric") == "24.1 +- ?"
    assert spread_of(None, 1) == ""
    assert spread_of(Spreading(value=0.5, spread=0.031), 0, 100.0) == " +- 3"


def test_air_page() -> None:
    page = air_page(standard_air(1000.0))
    # ISO 2533: 8.500 C, 898.746 hPa, 1.11164 kg/m3 at 1000 m.
    assert page.temperature_c == pytest.approx(8.5, abs=1e-9)
    assert page.pressure_hpa == pytest.approx(898.746, abs=2e-3)
    assert page.density_kg_m3 == pytest.approx(1.11164, abs=5e-6)


def test_pages_refuse_what_they_do_not_declare() -> None:
    with pytest.raises(ValueError, match="extra"):
        Spreading.model_validate({"value": 1.0, "spread": None, "more": 2})
    assert issubclass(PredictPage, Page)
    assert issubclass(TunePage, Page)
    assert workflow.Predicted is Predicted


def test_a_spread_that_cannot_be_given_is_none() -> None:
    page = spreading(Estimate(value=21.0, spread=math.inf), 2.0)
    assert page is not None
    assert page == Spreading(value=42.0, spread=None)
    json.dumps(page.model_dump(mode="json"), allow_nan=False)
    known = spreading(Estimate(value=21.0, spread=0.5), 2.0)
    assert known is not None
    assert known.spread == 1.0
    assert spreading(None) is None
