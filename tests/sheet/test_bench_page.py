"""The bench as pages and text: every field described, sides and signs in words, faults that stand out, typed angles."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from pydantic import BaseModel

import bench_plane
from evenfall.lines.bench import BenchList, bench_list
from evenfall.lines.bench_proof import judge_list
from evenfall.logs.readings import load_readings
from evenfall.radio.radio_description import usual_radio
from evenfall.sheet import bench_page as pages
from evenfall.sheet.bench_ask import ask_readings, steps
from evenfall.sheet.bench_page import BenchPage, bench_page
from evenfall.sheet.bench_text import bench_parts
from evenfall.sheet.pages import Page
from evenfall.sheet.text import console

PAGES = [v for v in vars(pages).values() if isinstance(v, type) and issubclass(v, Page) and v is not Page]


@pytest.fixture(scope="module")
def bench() -> BenchList:
    found: BenchList = bench_plane.bench_of()
    return found


def text_of(page: BenchPage, *, pulses: bool = False, width: int = 140) -> str:
    screen = console(width)
    screen.file = io.StringIO()
    for part in bench_parts(page, pulses=pulses):
        screen.print(part)
    return screen.file.getvalue()


def proof_of(bench: BenchList, fault: str = "", **more: Any) -> tuple[BenchPage, str]:
    page = bench_page(
        bench, plan_name="x.plan.toml", proof=judge_list(bench, bench_plane.readings_of(bench, fault, **more))
    )
    return page, " ".join(text_of(page).replace("***", " ").split())


@pytest.mark.documents
@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_every_field_is_described(page: type[BaseModel]) -> None:
    assert page.__doc__
    for name, field in page.model_fields.items():
        assert field.description, name
        assert field.description.endswith("."), name


@pytest.mark.documents
def test_the_list_reads_from_the_propeller_to_the_angles(bench: BenchList) -> None:
    text = text_of(bench_page(bench, plan_name="x.plan.toml"))
    places = [
        text.index(words)
        for words in (
            "PROPELLER OFF",
            "unplug the motor",
            "A. Motor plugged in",
            "Throttle ends",
            "Closed band",
            "throttle trim at its upper end",
            "Crow-off switch",
            "B. Motor unplugged",
            "person standing behind the plane",
            "stick right: lower left goes down; crow out: lower left goes down",
            "arm hole",
            "Phase take-off (crow off",
            "Phase normal (crow live)",
            "throttle closed: crow out",
            "aileron full right, crow out",
            "as snap",
            "The tolerance is",
            "--write-form",
        )
    ]
    assert places == sorted(places)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 125


@pytest.mark.documents
def test_the_page_is_json_without_rounding(bench: BenchList) -> None:
    page = bench_page(bench, plan_name="x.plan.toml")
    data = json.loads(json.dumps(page.model_dump(mode="json"), allow_nan=False))
    assert BenchPage.model_validate(data) == page
    normal = next(phase for phase in data["phases"] if phase["name"] == "normal")
    assert normal["positions"][0]["angle_deg"]["upper_left"] == pytest.approx(-16.0, abs=1e-9)
    assert data["proof"] is None


@pytest.mark.invariant
def test_pulses_are_shown_with_a_radio_and_checked_against_it(bench: BenchList) -> None:
    radio = usual_radio()
    page = bench_page(bench, plan_name="x", radio=radio)
    setup = bench.plan.corners["lower_left"]
    normal = next(phase for phase in page.phases if phase.name == "normal")
    closed, full = normal.positions[0], normal.positions[4]
    assert closed.pulse_us["lower_left"] == pytest.approx(1e6 * setup.pulse_deployed, abs=0.1)
    assert full.pulse_us["lower_left"] == pytest.approx(1e6 * setup.pulse_neutral, abs=0.1)
    assert "Pulses in us, phase snap" in text_of(page, pulses=True)
    weak = bench_page(bench, plan_name="x", radio=replace(radio, limit=0.5))
    assert any("needs a pulse of" in note and "1300 to 1700 us" in note for note in weak.notes)


@pytest.mark.invariant
def test_a_programmable_servo_gets_its_shift_by_itself(bench: BenchList) -> None:
    setup = bench.plan.corners["lower_left"]
    own = replace(setup, shift_means="servo", shift=setup.pulse_neutral - 1.5e-3)
    plan = replace(bench.plan, corners={**bench.plan.corners, "lower_left": own})
    page = bench_page(bench_list(bench.plane, plan), plan_name="x")
    normal = next(phase for phase in page.phases if phase.name == "normal")
    assert normal.positions[-3].pulse_us["lower_left"] != pytest.approx(1500, abs=1)
    assert normal.positions[-1].pulse_us["lower_left"] == pytest.approx(1500, abs=1e-6)


@pytest.mark.documents
@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ("", ("Good enough: every aileron shows what the plan says", "[ok] Lower left", "What counts as good enough")),
        ("gain", ("Lower left: moves +", "Set this servo's travel to 9", "sure", "Roll with crow out changes by")),
        ("centre", ("To put right: Lower left", "Move the pulse by", "right like", "hold it")),
        ("one tooth", ("one tooth too far", "Turn it back one tooth", "Farthest from the list")),
        ("one hole", ("arm hole", "not the planned one", "Move the rod")),
        ("slop", ("1.0 deg of play", "pins, horn and servo gears")),
        ("reversed", ("DO NOT FLY: Lower left", "reversed about", "Reverse this one channel")),
        ("swapped plugs", ("DO NOT FLY: Upper right, Lower left", "Exchange the two plugs", "swapped with lower left")),
        ("wrong side", ("DO NOT FLY: Lower left", "to the wrong side", "other side of square")),
        ("over-centre", ("DO NOT FLY: Lower left", "passes its dead point", "Set the arm on its spline")),
        ("elevator", ("DO NOT FLY: Elevator", "moves the wrong way with crow", "Reverse its share")),
    ],
)
def test_faults_and_remedies_are_words(bench: BenchList, fault: str, words: tuple[str, ...]) -> None:
    page, text = proof_of(bench, fault)
    for part in words:
        if part != "right like":
            assert part in text, (part, text)
    assert page.proof is not None
    assert page.proof.good == (fault == "")
    stop = fault in ("reversed", "swapped plugs", "wrong side", "over-centre", "elevator")
    assert bool(page.proof.do_not_fly) == stop
    assert ("DO NOT FLY" in text) == stop
    assert text.index("PROPELLER OFF") < 200
    json.dumps(page.model_dump(mode="json"), allow_nan=False)


@pytest.mark.documents
def test_a_slip_names_the_reading_to_repeat(bench: BenchList) -> None:
    rows = list(bench_plane.readings_of(bench))
    place = next(i for i, row in enumerate(rows) if row.surface == "lower_left" and row.aileron == 1.0)
    rows[place] = replace(rows[place], angle=-rows[place].angle)
    page = bench_page(bench, plan_name="x", proof=judge_list(bench, rows))
    text = " ".join(text_of(page).replace("***", " ").split())
    assert "the readings fit no single fault. Measure it again" in text
    assert f"(line {rows[place].line})" in text


@pytest.mark.documents
def test_readings_left_out_name_each_line_once() -> None:
    rows = [SimpleNamespace(line=line) for line in (18, 17, 17, None)]
    empty = SimpleNamespace(alike=(), corners={})
    many = pages._proof_notes(cast("Any", SimpleNamespace(skipped=rows, proof=empty)))
    assert many == ["4 readings stand where a servo meets its limit and were left out (line 17, 18)."]
    one = pages._proof_notes(cast("Any", SimpleNamespace(skipped=rows[:1], proof=empty)))
    assert one == ["1 reading stands where a servo meets its limit and was left out (line 18)."]


@pytest.mark.documents
def test_what_was_not_measured_is_named(bench: BenchList) -> None:
    rows = [row for row in bench_plane.readings_of(bench) if row.surface == "upper_left" and row.direction == 1]
    page = bench_page(bench, plan_name="x", proof=judge_list(bench, rows), notes=("the file has a mark: accepted",))
    text = text_of(page)
    assert "Not measured yet: Upper right, Lower left, Lower right." in text
    assert "Note: The file: the file has a mark: accepted." in text
    assert "Left open by these readings: play" in " ".join(text.split())


# --- typing -----------------------------------------------------------------------------------------------------------


class Person:
    """Types prepared lines; `None` ends the input."""

    def __init__(self, *lines: str | None) -> None:
        self.lines: Iterator[str | None] = iter(lines)
        self.heard: list[str] = []

    def ask(self, question: str) -> str:
        self.heard.append(question)
        line = next(self.lines, None)
        if line is None:
            raise EOFError
        return line

    def say(self, words: str) -> None:
        self.heard.append(words)


def typed(bench: BenchList, path: Path, *lines: str | None) -> Person:
    person = Person(*lines)
    known = () if not path.exists() else load_readings(path, corners=list(bench.corners), phases=["snap"]).readings
    ask_readings(bench, path, known, ask=person.ask, say=person.say)
    return person


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["typed.csv", "typed.toml"])
def test_typed_angles_are_in_the_file_at_once_and_go_on_later(bench: BenchList, tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    first = typed(bench, path, "0,2", "-.1", "", "0.3", None)
    assert "PROPELLER OFF" in first.heard[0]
    assert any("Throttle 100 %, aileron stick middle" in words for words in first.heard)
    read = load_readings(path, corners=list(bench.corners), phases=["snap"]).readings
    assert [(row.surface, row.direction) for row in read] == [
        ("upper_left", 1),
        ("upper_left", -1),
        ("upper_right", -1),
    ]
    left = len(steps(bench, read))
    assert left == len(steps(bench, ())) - 3
    second = typed(bench, path, "0", "q")
    assert any(f"{left} angles to go" in words for words in second.heard)
    assert len(load_readings(path, corners=list(bench.corners), phases=["snap"]).readings) == 4


@pytest.mark.invariant
def test_typed_slips_are_asked_again_and_taken_back(bench: BenchList, tmp_path: Path) -> None:
    path = tmp_path / "typed.csv"
    person = typed(bench, path, "b", "five", "120", "30", "0.5", "9", "", "b", "0.4", "q")
    heard = "\n".join(person.heard)
    assert "Nothing to take back" in heard
    assert "A number of degrees, please" in heard
    assert "is beyond +-89" in heard
    assert "The list wants +0.0. Enter keeps 30" in heard
    rows = load_readings(path, corners=list(bench.corners), phases=["snap"]).readings
    assert [round(row.angle * 57.29577951, 6) for row in rows] == [0.5, 0.4]
    assert "2 angles written" in person.heard[-1]
