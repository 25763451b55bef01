"""What the record is made into for the page: season, card, causes, export, and what flights teach."""

from __future__ import annotations

import itertools
import json
import math
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import TypeAdapter

from evenfall import workflow
from evenfall.app import messages
from evenfall.app.backend import Backend
from evenfall.app.engine import Engine
from evenfall.app.guard import Guard
from evenfall.app.messages import Ask
from evenfall.app.server import Application
from evenfall.app.workspace import Outcome, Workspace
from evenfall.errors import InputError
from evenfall.logs.evidence import Flight
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.planfile import write_plan
from evenfall.sheet.schema import TOPICS
from fit import flight_files, simulated

PLANE, PLAN = "bi.toml", "bi.plan.toml"
PORT = 8770
ACTION: TypeAdapter[Any] = TypeAdapter(messages.Action)
TOKENS = (f"token-{number:06d}" for number in itertools.count())


class App:
    """A folder with one tuned plane, and its engine."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.work = Workspace(folder)
        self.engine = Engine(self.work)

    def do(self, what: str, *, token: str | None = None, **rest: Any) -> Outcome:
        plane = {} if what in ("undo", "redo") else {"plane": PLANE}
        action = ACTION.validate_python({"what": what, **plane, **rest})
        if isinstance(action, messages.RecordAction):
            return self.engine.flights.act(action, token=token or next(TOKENS), role="owner")
        return self.work.act(action, token=token or next(TOKENS))

    def ask(self, topic: str, **rest: Any) -> Any:
        asked = Ask.model_validate({"kind": "ask", "seq": 1, "topic": topic, "plane": PLANE, "plan": PLAN, **rest})
        page = self.engine.answer(asked, progress=lambda words: None, cancelled=lambda: False)
        assert type(page) is TOPICS[topic]
        assert TOPICS[topic].model_validate_json(page.model_dump_json()) == page
        return page

    def save(self, date: str, **rest: Any) -> Outcome:
        return self.do("flight.save", plan=PLAN, form={"date": date, **rest})

    def state(self, file: str = PLAN) -> str:
        return next(entry.state for entry in self.work.folder_page().plans if entry.file == file)

    def again(self) -> None:
        """As after a restart."""
        self.close()
        self.work = Workspace(self.folder)
        self.engine = Engine(self.work)

    def close(self) -> None:
        self.engine.flights.records.close()
        self.work.close()


@pytest.fixture
def app(tmp_path: Path, tuned: Callable[[str], workflow.TuneAnswer]) -> Iterator[App]:
    (tmp_path / PLANE).write_bytes(demo_path(DEMOS[0]).read_bytes())
    plan = tuned(DEMOS[0]).plan
    assert plan is not None
    write_plan(plan, tmp_path / PLAN)
    made = App(tmp_path)
    yield made
    made.close()


def test_season_causes_and_card(app: App, served: Any) -> None:
    signs = app.ask("diagnose")
    assert signs.all_signs
    named = app.ask("diagnose", signs=[signs.all_signs[0].key])
    assert named.signs == (signs.all_signs[0].key,)
    assert sum(cause.probability for cause in named.causes) + named.other == pytest.approx(1, abs=0.2)
    with pytest.raises(InputError):
        app.ask("diagnose", signs=["sings"])
    assert app.ask("season").flights == ()
    app.save("2026-05-17", timed=[{"seconds": 4.4, "length_m": 100.0}], signs=["faster"])
    app.do("part.replaced", part="propeller", date="2026-05-20")
    with pytest.raises(InputError, match="say which aileron"):
        app.do("part.replaced", part="servo", date="2026-05-20")
    season = app.ask("season")
    rows = [(row.date, row.what) for row in season.rows if row.what != "plan"]
    assert rows == [("2026-05-20", "part"), ("2026-05-17", "flight")]
    assert season.flights[0].plan == PLAN
    assert any(kind.key == "servo:upper_left" for kind in season.kinds)
    card = app.ask("card")
    assert card.plan == PLAN
    browser = served.Browser(
        Application(Backend.of(app.work, app.engine), guard=Guard(PORT)).app, ("127.0.0.1", 5), f"127.0.0.1:{PORT}"
    )
    page = browser.get("/card.html", params={"plane": PLANE, "plan": PLAN})
    assert page.status_code == 200
    assert "script-src" not in page.headers["content-security-policy"]
    assert card.plan_hash in page.text
    high = browser.get("/card.html", params={"plane": PLANE, "plan": PLAN, "elevation_m": 1000})
    # ISO 2533: 8.500 C, 898.746 hPa, 1.11164 kg/m3 at 1000 m.
    assert "899\u00a0hPa at the field: 1.112\u00a0kg/m³" in high.text
    assert "1013\u00a0hPa at the field: 1.225\u00a0kg/m³" in page.text
    assert browser.get("/card.html").status_code == 400
    kept = browser.get("/record.json")
    assert "attachment" in kept.headers["content-disposition"]
    assert json.loads(kept.text)["records"]
    assert browser.get("/record.csv").text.count("2026-05-17") >= 1


# --- what flights teach


def test_from_a_record_to_the_next_plan(
    app: App, tuned: Callable[[str], workflow.TuneAnswer], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A record is sent in, confirmed and learned from; the change is taken in spite of a crash, and stands in the
    season."""
    answer = tuned(DEMOS[0])
    assert answer.plan is not None
    rng = np.random.default_rng(70_004)
    truth = simulated.draw(answer.ready, replace(answer.plan), rng)
    down = Flight(slope=-math.pi / 2)
    paths = [simulated.fly_line(truth, down, rng, length=120.0, entry=rng.uniform(15, 22)) for _ in range(2)]
    flight_files.write_record(tmp_path / "out.csv", paths, rng)
    body = (tmp_path / "out.csv").read_bytes()
    (tmp_path / "out.csv").unlink()

    nothing = app.ask("learn")
    assert (nothing.state, nothing.flights, nothing.proven, nothing.change) == ("no flights", 0, False, None)
    with pytest.raises(InputError, match="for a plan"):
        app.ask("learn", plan=None)
    with pytest.raises(InputError):
        app.do("change.take", plan=PLAN)

    arriving = app.engine.flights.incoming.begin()
    arriving.write(body)
    came = app.engine.flights.incoming.keep(arriving, name="Sonntag.csv")
    shown = app.ask("log", original=came.hash)
    cuts = [line for line in shown.lines if line.line == "vertical down"]
    assert len(cuts) == 2
    lines = [{"from_s": line.closed_s[0] + 0.5, "to_s": line.closed_s[1]} for line in cuts if line.closed_s]
    slow = {"towards": "canopy", "turning_deg_s": 3.0}
    app.save("2026-05-17", place="Wiese", recorded=[{"file": came.name, "line": lines}], pull=[slow])

    page = app.ask("learn")
    assert (page.state, page.flights, page.plan) == ("learned", 1, PLAN)
    assert len(page.pieces) == 3
    assert all(piece.name.startswith("2026-05-17 Wiese") for piece in page.pieces)
    assert came.hash not in page.model_dump_json()
    speed = next(one for one in page.speeds if one.line.startswith("vertical down"))
    assert speed.before_m_s is not None
    assert speed.after_m_s is not None
    assert speed.after_m_s.spread < 0.6 * speed.before_m_s.spread
    assert abs(speed.after_m_s.value - truth.down_speed(down)) < 2.5 * speed.after_m_s.spread
    begun = time.perf_counter()
    assert app.ask("learn") == page
    assert time.perf_counter() - begun < 0.5
    assert any(row.what == "learned" for row in app.ask("season").rows)
    if page.proven:
        app.do("plan.prove", plan=PLAN)
    else:
        with pytest.raises(InputError, match="Not proven"):
            app.do("plan.prove", plan=PLAN)

    assert page.change is not None
    assert not page.change.none
    before = app.work.plan_text(PLAN)[0]

    def crash(*given: Any, **more: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(app.work, "write_plan", crash)
        with pytest.raises(KeyboardInterrupt):
            app.do("change.take", plan=PLAN, token="change-000001")
    assert app.work.plan_text(PLAN)[0] == before
    app.again()
    done = app.do("change.take", plan=PLAN, token="change-000001")
    assert done.words == page.change.what
    after = app.work.plan_text(PLAN)[0]
    assert after != before
    assert app.do("change.take", plan=PLAN, token="change-000001") == done
    assert app.work.plan_text(PLAN)[0] == after
    (change,) = app.engine.flights.records.book.changes()
    assert change.what == page.change.what
    assert [row.words for row in app.ask("season").rows if row.what == "change"] != []
    app.do("undo", file=PLAN)
    assert app.work.plan_text(PLAN)[0] == before
    app.do("redo", file=PLAN)

    then = app.ask("learn")
    assert (then.state, then.flights, len(then.pieces)) == ("learned", 1, 3)
    assert not then.proven
    assert then.change is not None
    assert then.change.none
    assert page.change.what.rstrip(".") in then.change.why
    with pytest.raises(InputError, match="not flown yet"):
        app.do("change.take", plan=PLAN)
    frozen = app.do("plan.freeze", file=PLAN, label="kept").file
    with pytest.raises(InputError, match="frozen"):
        app.do("change.take", plan=frozen)


def test_a_proven_plan_is_marked_and_stays_so_when_frozen(app: App) -> None:
    records = app.engine.flights.records
    text = app.work.plan_text(PLAN)[0]
    assert app.state() == "tuned"
    records.prove(PLAN, text, why="flown")
    records.prove(PLAN, text, why="flown again")
    app.engine.flights.note_record()
    assert app.state() == "proven"
    assert len(records.book.proven_rows()) == 1
    assert app.ask("plan").state == "proven"
    frozen = app.do("plan.freeze", file=PLAN, label="kept").file
    entry = next(entry for entry in app.work.folder_page().plans if entry.file == frozen)
    assert (entry.state, entry.frozen_on is not None) == ("proven", True)
    app.do("plan.set", file=PLAN, changes={"threshold_percent": 40.0})
    assert app.state() == "edited"
    app.again()
    assert app.state(frozen) == "frozen"
    app.engine.warm(PLANE)
    assert app.state(frozen) == "proven"
