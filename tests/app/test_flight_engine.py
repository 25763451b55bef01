"""What the record is made into for the page: season, card, causes, export, and what flights teach."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

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
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.planfile import write_plan
from evenfall.sheet.schema import TOPICS

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
        action = ACTION.validate_python({"what": what, "plane": PLANE, **rest})
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
    signs = app.ask("diagnose")
    assert signs.all_signs
    named = app.ask("diagnose", signs=[signs.all_signs[0].key])
    assert named.signs == (signs.all_signs[0].key,)
    assert sum(cause.probability for cause in named.causes) + named.other == pytest.approx(1, abs=0.2)
    with pytest.raises(InputError):
        app.ask("diagnose", signs=["sings"])
    card = app.ask("card")
    assert card.plan == PLAN
    browser = served.Browser(
        Application(Backend.of(app.work, app.engine), guard=Guard(PORT)).app, ("127.0.0.1", 5), f"127.0.0.1:{PORT}"
    )
    page = browser.get("/card.html", params={"plane": PLANE, "plan": PLAN})
    assert page.status_code == 200
    assert "script-src" not in page.headers["content-security-policy"]
    assert card.plan_hash in page.text
    assert browser.get("/card.html").status_code == 400
    kept = browser.get("/record.json")
    assert "attachment" in kept.headers["content-disposition"]
    assert json.loads(kept.text)["records"]
    assert browser.get("/record.csv").text.count("2026-05-17") >= 1
