"""A plan taken along to another plane and tuned for a whole programme, as the page asks for it and has it written."""

from __future__ import annotations

import itertools
import re
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from evenfall import workflow
from evenfall.advise.programme import Trial
from evenfall.app.engine import Cancelled, Engine
from evenfall.app.messages import Ask, FlightRemove, FlightSave, PlanCarry, PlanProgramme, Undo
from evenfall.app.workspace import Workspace
from evenfall.errors import InputError
from evenfall.lines.flown_path import Ended
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import load_plan, write_plan
from evenfall.sheet.carry_page import CarryPage
from evenfall.sheet.programme_page import EvennessPage
from evenfall.workflow import programming
from evenfall.workflow.carrying import carry

PLANE, PLAN, OTHER = "first.toml", "first.plan.toml", "other.toml"
TOKENS = (f"token-{number:06d}" for number in itertools.count())


class App:
    """A folder with a tuned plane and one to take its plan to."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.work = Workspace(folder)
        self.engine = Engine(self.work)

    def ask(self, topic: str, *, cancelled: Callable[[], bool] = lambda: False, **rest: Any) -> Any:
        asked = Ask.model_validate({"kind": "ask", "seq": 1, "topic": topic, "plane": PLANE, "plan": PLAN, **rest})
        page = self.engine.answer(asked, progress=lambda words: None, cancelled=cancelled)
        assert type(page).model_validate_json(page.model_dump_json()) == page
        return page


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory, tuned: Callable[[str], workflow.TuneAnswer]) -> Iterator[App]:
    folder = tmp_path_factory.mktemp("carry")
    (folder / PLANE).write_bytes(demo_path("biplane_124").read_bytes())
    (folder / OTHER).write_bytes(demo_path("biplane_155").read_bytes())
    plan = tuned("biplane_124").plan
    assert plan is not None
    write_plan(plan, folder / PLAN)
    made = App(folder)
    yield made
    made.engine.flights.records.close()
    made.work.close()


def test_a_plan_taken_along_is_answered_written_and_taken_back(app: App) -> None:
    page = app.ask("carry", to=OTHER)
    assert isinstance(page, CarryPage)
    assert page.down_m_s is not None
    assert page.down_m_s.value == pytest.approx(page.wanted_m_s, abs=0.5)
    assert (page.plan, page.flights, page.voids) == (PLAN, False, ())
    assert not (app.folder / ".evenfall" / "logbook").exists()
    began = time.perf_counter()
    assert app.ask("carry", to=OTHER) == page
    assert time.perf_counter() - began < 0.5

    plan = app.engine.carries.plan(
        PlanCarry(what="plan.carry", plane=PLANE, plan=PLAN, to=OTHER), lambda words: None, lambda: False
    )
    token = next(TOKENS)
    done = app.work.write_tuned(OTHER, plan, words="plan taken along from first.toml", token=token)
    assert (done.file, done.words) == ("other.plan.toml", "plan taken along from first.toml")
    written = load_plan(app.folder / done.file, app.engine.plane_file(OTHER, {}).plane)
    assert written.crow is not None
    assert plan.crow is not None
    assert written.crow.angle == pytest.approx(plan.crow.angle, abs=2e-3)
    app.work.act(Undo(what="undo", file=done.file), token=next(TOKENS))
    assert not (app.folder / done.file).exists()


@pytest.mark.long
@pytest.mark.invariant
def test_the_page_is_what_the_workflow_carries(app: App) -> None:
    alone = carry(app.folder / PLANE, app.folder / PLAN, app.folder / OTHER)
    page = app.ask("carry", to=OTHER)
    assert alone.down is not None
    assert page.down_m_s.value == pytest.approx(alone.down.value, rel=1e-9)


@pytest.mark.long
def test_what_if_says_which_tests_it_voids_and_writes_nothing(app: App) -> None:
    before = (app.folder / PLANE).read_bytes()
    page = app.ask("carry", to=PLANE, what_if={"propeller.pitch_in": 6.0})
    assert page.possible
    assert page.voids
    assert page.settings
    assert (app.folder / PLANE).read_bytes() == before


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "which plane"),
        ({"to": OTHER, "plan": None}, "tune the plane first"),
        ({"to": "gone.toml"}, "gone.toml"),
        ({"to": OTHER, "what_if": {"propeller.pitch_in": -3.0}}, "pitch"),
    ],
)
def test_what_cannot_be_carried_is_said(app: App, asked: dict[str, Any], words: str) -> None:
    with pytest.raises(Exception, match=words) as found:
        app.ask("carry", **asked)
    assert isinstance(found.value, InputError) or hasattr(found.value, "faults")


def test_a_plane_without_ailerons_takes_no_plan_and_the_page_says_so_at_once(app: App) -> None:
    text = demo_path("biplane_155").read_text(encoding="utf-8")
    bare = app.folder / "bare.toml"
    bare.write_text(re.sub(r"(?ms)^\[wing\.\w+\.aileron\].*?(?=^\[)", "", text), encoding="utf-8")
    said: list[str] = []
    asked = {"kind": "ask", "seq": 1, "topic": "carry", "plane": PLANE, "plan": PLAN, "to": "bare.toml"}
    with pytest.raises(InputError, match=r"has no ailerons in its file.*give \[wing\.upper\.aileron\]$"):
        app.engine.answer(Ask.model_validate(asked), progress=said.append, cancelled=lambda: False)
    assert not any(said)
    bare.unlink()


@pytest.mark.long
def test_what_flights_have_taught_comes_along(app: App) -> None:
    before = app.ask("carry", to=OTHER)
    form = {"date": "2026-05-17", "steady": [{"speed_m_s": 24.5}] * 3}
    save = FlightSave.model_validate({"what": "flight.save", "plane": PLANE, "plan": PLAN, "form": form})
    done = app.engine.flights.act(save, token=next(TOKENS), role="owner")
    page = app.ask("carry", to=OTHER)
    assert page.flights
    assert any(row.first != 1.0 and row.carried for row in page.carried)
    assert page.down_m_s is not None
    assert page.before_m_s is not None
    assert page.before_m_s.value != pytest.approx(page.down_m_s.value, abs=0.05)

    gone = FlightRemove.model_validate({"what": "flight.remove", "plane": PLANE, "flight": done.file})
    app.engine.flights.act(gone, token=next(TOKENS), role="owner")
    again = app.ask("carry", to=OTHER)
    assert again.down_m_s.value == pytest.approx(before.down_m_s.value, rel=1e-9)


# A programme: the flights themselves are replaced, they take minutes


def flown(course: programming.Course, *, level: str, share: float) -> Trial:
    cost = 0.05 + 0.04 * (share - 0.7) ** 2 + 0.01 * len(level)
    return Trial(
        level=level, share=share, calm=cost, doubt=cost, weak=cost, windy=(cost,) * len(course.winds[1:]),
        energy=3600.0 * (1 + share), left=0.4, ended=Ended.FLOWN,
    )  # fmt: skip


@pytest.fixture
def trials(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """Counts settings flown; `stop` is set once `enough` were."""
    seen = SimpleNamespace(count=0, enough=10**6, stop=threading.Event())

    def fly_trial(course: programming.Course, *, level: str, share: float) -> Trial:
        seen.count += 1
        if seen.count >= seen.enough:
            seen.stop.set()
        return flown(course, level=level, share=share)

    monkeypatch.setattr(programming, "fly_trial", fly_trial)
    monkeypatch.setattr(programming, "CORES", 1)
    return seen


@pytest.mark.long
def test_a_programme_stopped_goes_on_where_it_was_and_is_written(app: App, trials: SimpleNamespace) -> None:
    trials.enough = 4
    with pytest.raises(Cancelled):
        app.ask("programme", sequence="eight", winds_m_s=(0.0, 4.0), cancelled=trials.stop.is_set)
    kept = app.folder / ".evenfall" / "first.eight.programme"
    assert len(kept.read_text(encoding="utf-8").splitlines()) == 4

    trials.enough = 10**6
    page = app.ask("programme", sequence="eight", winds_m_s=(0.0, 4.0))
    assert isinstance(page, EvennessPage)
    assert page.possible
    assert page.winds_m_s == (4.0,)
    assert trials.count == len(page.trials)
    assert not kept.exists()
    assert page.picture.startswith("<svg")
    assert "<style" not in page.picture
    assert page.picture.count('class="point best"') == 1

    before = trials.count
    action = PlanProgramme(what="plan.programme", plane=PLANE, sequence="eight", winds_m_s=(0.0, 4.0))
    plan = app.engine.carries.plan(action, lambda words: None, lambda: False)
    assert trials.count == before
    done = app.work.write_tuned(PLANE, plan, words="plan tuned for eight", token=next(TOKENS))
    assert done.file == PLAN
    assert app.work.folder_page().plans[0].undo == "plan tuned for eight"


def test_a_programme_that_is_not_there(app: App) -> None:
    with pytest.raises(InputError, match="is no programme"):
        app.ask("programme", sequence="nine")


# Over the socket


def test_nothing_waits_behind_a_programme_and_a_newer_ask_ends_it(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.say(page, kind="ask", seq=1, topic="programme", plane=served.PLANE)
        assert served.read(page, "progress")["words"] == "programme flown"
        served.say(page, kind="ask", seq=2, topic="predict", plane=served.PLANE)
        assert served.read(page, "answer")["seq"] == 2
        served.say(page, kind="ask", seq=3, topic="programme", plane=served.PLANE, sequence="seventeen")
        assert served.read(page, "dropped")["seq"] == 1
        served.say(page, kind="cancel", channel="programme")
        assert served.read(page, "dropped")["seq"] == 3


def test_a_carried_plan_and_a_programme_are_written_once_each(running: Any, served: Any) -> None:
    running.engine.gate.set()
    with running.connect() as page:
        served.read(page, "hello")
        served.act(page, "token-0001", 1, what="plan.carry", plane="a.toml", plan="a.plan.toml", to="b.toml")
        assert served.read(page, "done")["seq"] == 1
        served.act(page, "token-0002", 2, what="plan.programme", plane="a.toml", sequence="eight")
        assert served.read(page, "done")["seq"] == 2
    assert running.workspace.acted == ["plan.carry of a.toml", "plan.programme of a.toml"]


def test_a_server_that_closes_stops_a_programme(running: Any, served: Any) -> None:
    with running.connect() as page:
        served.read(page, "hello")
        served.act(page, "token-0001", 1, what="plan.programme", plane="a.toml", sequence="eight")
        assert running.engine.begun.wait(5)
        running.application.live.closing = True
        assert served.read(page, "refused")["seq"] == 1
    assert running.workspace.acted == []
