"""A what-if written as a new plane with its plan: names, undo, what breaks off between the two, and over the socket."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from evenfall.app.engine import Engine
from evenfall.app.messages import Ask, PlanCarry
from evenfall.app.workspace import Outcome
from evenfall.errors import InputError
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import load_plan, plan_text
from evenfall.sheet.carry_page import CarryPage
from workspace_bench import TEXT, TOKENS, Bench

NEW = TEXT.replace("Demo biplane 1.24 m (invented)", "Lighter")
LEVEL = {"controller.present_level": "75"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    (tmp_path / "bi.toml").write_text(TEXT, encoding="utf-8")
    made = Bench(tmp_path)
    yield made
    made.work.close()


@pytest.fixture
def plan(tuned: Callable[[str], Any]) -> Plan:
    found: Plan = tuned("biplane_124").plan
    return found


def kept(bench: Bench, plan: Plan, token: str | None = None) -> Outcome:
    return bench.work.write_new_plane(NEW, plan, name="Lighter", words="begun", token=token or next(TOKENS))


def test_a_plane_and_its_plan_are_new_files_and_can_be_taken_back(bench: Bench, plan: Plan) -> None:
    done = kept(bench, plan)
    assert (done.file, done.words) == ("lighter.plan.toml", "begun")
    assert (bench.text("lighter.toml"), bench.text("lighter.plan.toml")) == (NEW, plan_text(plan))
    assert bench.plane("lighter.toml").plans == ("lighter.plan.toml",)
    assert bench.plan("lighter.plan.toml").state == "tuned"
    assert bench.text() == TEXT
    for file in ("lighter.plan.toml", "lighter.toml"):
        bench.do("undo", file=file)
        assert not (bench.folder / file).exists()
    assert [plane.file for plane in bench.work.folder_page().planes] == ["bi.toml"]


@pytest.mark.parametrize("there", ["lighter.toml", "Lighter.plan.toml", "lighter.bench.csv"])
def test_nothing_that_is_there_is_written_over(bench: Bench, plan: Plan, there: str) -> None:
    (bench.folder / there).write_text("of another\n", encoding="utf-8")
    assert kept(bench, plan).file == "lighter_2.plan.toml"
    assert kept(bench, plan).file == "lighter_3.plan.toml"
    assert bench.text(there) == "of another\n"


def test_the_same_token_writes_once_even_broken_off_between_the_two(
    bench: Bench, plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = bench.work.folder.write

    def killed(name: str, text: str | None) -> None:
        if name.endswith(".plan.toml"):
            raise KeyboardInterrupt
        write(name, text)

    monkeypatch.setattr(bench.work.folder, "write", killed)
    with pytest.raises(KeyboardInterrupt):
        kept(bench, plan, "token-broken-off")
    bench.again()
    assert not (bench.folder / "lighter.plan.toml").exists()
    done = kept(bench, plan, "token-broken-off")
    assert kept(bench, plan, "token-broken-off") == done
    assert sorted(path.name for path in bench.folder.glob("l*")) == ["lighter.plan.toml", "lighter.toml"]


def test_a_plan_that_cannot_be_written_takes_its_plane_away(
    bench: Bench, plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = bench.work.folder.write

    def full(name: str, text: str | None) -> None:
        if name.endswith(".plan.toml"):
            raise InputError("no space left")
        write(name, text)

    monkeypatch.setattr(bench.work.folder, "write", full)
    with pytest.raises(InputError, match="no space left"):
        kept(bench, plan)
    assert sorted(path.name for path in bench.folder.glob("*.toml")) == ["bi.toml"]


def test_what_was_tried_is_what_is_kept(bench: Bench, plan: Plan) -> None:
    bench.work.write_tuned("bi.toml", plan, token=next(TOKENS))
    engine = Engine(bench.work)

    def action(**rest: Any) -> PlanCarry:
        given = {"what": "plan.carry", "plane": "bi.toml", "plan": "bi.plan.toml", "to": "bi.toml", "what_if": LEVEL}
        return PlanCarry.model_validate({**given, **rest})

    ask = Ask.model_validate(
        {"kind": "ask", "seq": 1, "topic": "carry", "plane": "bi.toml", "plan": "bi.plan.toml", "to": "bi.toml",
         "what_if": LEVEL}
    )  # fmt: skip
    page = engine.answer(ask, progress=lambda words: None, cancelled=lambda: False)
    assert isinstance(page, CarryPage)
    assert [row.other for row in page.settings if row.what == "motor-brake level"] == ["75"]
    assert "motor brake by spin-down" in page.voids
    assert page.words.startswith("Motor brake held at 75 as asked, 0 would be chosen.")
    assert any(note.startswith("Motor brake at 75: Behind the chosen one") for note in page.notes)

    said: list[str] = []
    text, made = engine.carries.plane_and_plan(action(), "  Hard \t brake ", said.append)
    assert said == []
    done = bench.work.write_new_plane(text, made, name="Hard brake", words="begun", token=next(TOKENS))
    plane = engine.plane_file("hard_brake.toml", {})
    assert (plane.plane.name, plane.plane.controller.present_level) == ("Hard brake", "75")
    written = load_plan(bench.folder / done.file, plane.plane)
    assert (written.motor.level, written.plane_name) == ("75", "Hard brake")
    assert written.computed_from["plane_hash"] == plane.content_hash
    with pytest.raises(InputError, match="printable"):
        engine.carries.plane_and_plan(action(), "a\x07b", said.append)
    engine.flights.records.close()


def test_over_the_socket(running: Any, served: Any) -> None:
    """A name writes two files, once; parts without a name are refused before anything is computed."""
    asked = {"what": "plan.carry", "plane": "a.toml", "plan": "a.plan.toml", "to": "a.toml", "what_if": LEVEL}
    running.engine.gate.set()
    with running.connect() as page:
        served.read(page, "hello")
        served.act(page, "token-0001", 1, **asked)
        assert "give it a name" in served.read(page, "refused")["words"]
        assert running.workspace.acted == []
        for seq in (2, 3):
            served.act(page, "token-0002", seq, **asked, name="Hard brake")
            assert served.read(page, "done")["seq"] == seq
    assert running.workspace.acted == [("Hard brake", "text of a.toml", "plan of a.toml")]
