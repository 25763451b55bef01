"""The record in the app: flights entered, changed, taken out and brought back, exactly once; parts; guests."""

from __future__ import annotations

import importlib.util
import itertools
import random
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import pytest
from pydantic import TypeAdapter

from evenfall.app import messages
from evenfall.app.engine import Engine
from evenfall.app.messages import Ask
from evenfall.app.workspace import Outcome, Workspace
from evenfall.errors import FileFaults, InputError
from evenfall.plane.starter import demo_path
from evenfall.sheet.flight_form import FlightForm
from evenfall.sheet.record_page import FlightFormPage

ACTION: TypeAdapter[Any] = TypeAdapter(messages.Action)
TOKENS = (f"token-{number:06d}" for number in itertools.count())
TIMED = {"line": "vertical down", "seconds": 4.4, "length_m": 100.0}
FORM: dict[str, Any] = {"date": "2026-05-17", "place": "Wiese", "notes": "ruhig", "timed": [TIMED]}
CSV = ("time (s),height (m),x\n" + "\n".join(f"{k / 10},{200 - 2 * k},0" for k in range(60))).encode()


class App:
    """A folder with one plane and its engine."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.begin()

    def begin(self) -> None:
        self.work = Workspace(self.folder)
        self.engine = Engine(self.work)

    def again(self) -> None:
        self.close()
        self.begin()

    def close(self) -> None:
        self.engine.flights.records.close()
        self.work.close()

    def do(
        self, what: str, *, token: str | None = None, role: Literal["owner", "guest"] = "owner", **rest: Any
    ) -> Outcome:
        action = ACTION.validate_python({"what": what, "plane": "bi.toml", **rest})
        return self.engine.flights.act(action, token=token or next(TOKENS), role=role)

    def ask(self, topic: str, **rest: Any) -> Any:
        asked = Ask.model_validate({"kind": "ask", "seq": 1, "topic": topic, "plane": "bi.toml", **rest})
        return self.engine.answer(asked, progress=lambda words: None, cancelled=lambda: False)

    def send(self, body: bytes, name: str = "log.csv") -> Any:
        arriving = self.engine.flights.incoming.begin()
        arriving.write(body)
        return self.engine.flights.incoming.keep(arriving, name=name)

    def form(self, token: str) -> FlightFormPage:
        page = self.ask("flight", flight=token)
        assert isinstance(page, FlightFormPage)
        return page

    @property
    def book(self) -> Any:
        return self.engine.flights.records.book


@pytest.fixture
def app(tmp_path: Path) -> Iterator[App]:
    (tmp_path / "bi.toml").write_bytes(demo_path("biplane_124").read_bytes())
    made = App(tmp_path)
    yield made
    made.close()


def test_a_flight_is_entered_and_shown_again(app: App) -> None:
    assert app.work.folder_page().record == 0
    done = app.do("flight.save", token="flight-0001", form=FORM)
    assert (done.file, done.revision) == ("flight-0001", 1)
    assert done.words == "flight entered, 1 piece of evidence"
    page = app.form("flight-0001")
    assert page.form == FlightForm.model_validate(FORM)
    assert (page.revision, page.plan) == (1, "")
    assert app.work.folder_page().record > 0
    (row,) = app.book.flights()
    assert (row.place, row.notes, row.pieces) == ("Wiese", "ruhig", 1)
    assert app.book.text(row.plane).body == app.work.plane_text("bi.toml")[0]


def test_the_same_token_enters_once_even_after_a_restart(app: App) -> None:
    first = app.do("flight.save", token="flight-0001", form=FORM)
    assert app.do("flight.save", token="flight-0001", form=FORM) == first
    app.again()
    assert app.do("flight.save", token="flight-0001", form=FORM) == first
    assert len(app.book.flights()) == 1
    changed = {**FORM, "place": "Hang"}
    again = app.do("flight.save", token="change-0001", flight="flight-0001", base=1, form=changed)
    app.again()
    assert app.do("flight.save", token="change-0001", flight="flight-0001", base=1, form=changed) == again
    assert [row.place for row in app.book.history("flight-0001")] == ["Wiese", "Hang"]
    app.do("part.replaced", token="part-00001", part="propeller", date="2026-06-01", words="14 x 8")
    app.do("part.replaced", token="part-00001", part="propeller", date="2026-06-01", words="14 x 8")
    assert len(app.book.parts()) == 1


def test_two_who_change_one_flight(app: App) -> None:
    app.do("flight.save", token="flight-0001", form=FORM)
    app.do("flight.save", flight="flight-0001", base=1, form={**FORM, "place": "Hang"})
    with pytest.raises(InputError, match="changed elsewhere"):
        app.do("flight.save", flight="flight-0001", base=1, form={**FORM, "place": "Feld"})
    assert app.form("flight-0001").form.place == "Hang"
    with pytest.raises(InputError, match="no flight"):
        app.do("flight.save", flight="flight-0009", base=1, form=FORM)


def test_taken_out_and_brought_back(app: App) -> None:
    app.do("flight.save", token="flight-0001", form=FORM)
    assert app.do("flight.remove", flight="flight-0001").words == "flight taken out"
    app.do("flight.remove", flight="flight-0001")
    assert app.book.flights() == ()
    app.do("flight.restore", flight="flight-0001")
    assert len(app.book.flights()) == 1
    with pytest.raises(InputError, match="no flight"):
        app.do("flight.remove", flight="flight-0002")


def test_every_fault_of_a_form_at_its_place(app: App) -> None:
    wrong = {**FORM, "date": "yesterday", "timed": [TIMED, {**TIMED, "seconds": 0.0}, {"seconds": 4.0}]}
    with pytest.raises(FileFaults) as caught:
        app.do("flight.save", form=wrong)
    places = {fault.where for fault in caught.value.faults}
    assert "date" in places
    assert any(place.startswith("timed.1") for place in places)
    assert any(place.startswith("timed.2") for place in places)
    assert not (app.folder / "logbook").exists() or app.book.flights() == ()


MARKUP = """<script>alert(1)</script>"><img src=x>'''\"\"\"\\ \u202e \U0001f6e9 ]] [[timed]] \n\t#"""


def test_words_are_kept_as_they_were_written(app: App) -> None:
    form = {**FORM, "notes": MARKUP, "place": "Süd <b> \U0001f6e9", "signs": ["pulls <i>"]}
    app.do("flight.save", token="flight-0001", form=form)
    app.again()
    page = app.form("flight-0001")
    assert (page.form.notes, page.form.place, page.form.signs) == (MARKUP, "Süd <b> \U0001f6e9", ("pulls <i>",))


def test_files_of_a_flight_are_kept_with_it(app: App) -> None:
    came = app.send(CSV)
    recorded = [
        {"file": came.name, "line": [{"from_s": 1.0, "to_s": 4.0}, {"from_s": 4.0, "to_s": 5.0, "crow": False}]}
    ]
    done = app.do("flight.save", token="flight-0001", form={**FORM, "recorded": recorded})
    assert done.words == "flight entered, 3 pieces of evidence"
    assert not came.path.exists()
    (original,) = app.book.originals()
    assert (original.hash, original.name, original.path.read_bytes()) == (came.hash, came.name, CSV)
    assert app.ask("log", original=came.hash).file == came.name
    app.do("flight.save", flight="flight-0001", base=1, form={**FORM, "recorded": recorded, "notes": "more"})
    assert app.book.flight("flight-0001").originals == (came.hash,)
    again = app.send(CSV, "other.csv")
    assert again.hash == came.hash


def test_a_file_that_is_not_there_is_said_and_nothing_entered(app: App) -> None:
    with pytest.raises(InputError, match=r"nowhere\.csv: not here any more"):
        app.do("flight.save", form={**FORM, "recorded": [{"file": "nowhere.csv"}]})
    assert app.book.flights() == ()


def test_a_flight_keeps_its_own_file_of_two_of_one_name(app: App) -> None:
    app.do("flight.save", token="flight-0001", form=FORM)
    row = app.book.flight("flight-0001")
    keys = [app.book.keep_original("log.csv", CSV + bytes([48 + number])).hash for number in range(2)]
    for number, key in enumerate(keys):
        app.book.save_flight(replace(row, token=f"entered-{number}", name=f"f{number}", originals=(key,)))
    form = {**FORM, "recorded": [{"file": "log.csv"}]}
    for number, key in enumerate(keys):
        app.do("flight.save", flight=f"entered-{number}", base=1, form=form)
        assert app.book.flight(f"entered-{number}").originals == (key,)


def test_a_crash_between_keeping_the_file_and_entering_the_flight(app: App, monkeypatch: pytest.MonkeyPatch) -> None:
    came = app.send(CSV)
    form = {**FORM, "recorded": [{"file": came.name}]}

    def crash(row: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(app.book, "save_flight", crash)
    with pytest.raises(KeyboardInterrupt):
        app.do("flight.save", token="flight-0001", form=form)
    app.again()
    assert app.ask("log", original=came.hash).file == came.name
    app.do("flight.save", token="flight-0001", form=form)
    assert app.book.flight("flight-0001").originals == (came.hash,)
    assert len(app.book.originals()) == 1


def test_guests_enter_flights_and_nothing_else(app: App) -> None:
    app.do("flight.save", token="flight-0001", role="guest", form=FORM)
    refused: list[dict[str, Any]] = [
        {"what": "flight.remove", "flight": "flight-0001"},
        {"what": "flight.restore", "flight": "flight-0001"},
        {"what": "part.replaced", "part": "propeller", "date": "2026-05-17"},
        {"what": "test.done", "part": "part-00001", "test": "range check", "date": "2026-05-17"},
        {"what": "test.open", "part": "part-00001", "test": "range check"},
        {"what": "change.take", "plan": "bi.plan.toml"},
        {"what": "plan.prove", "plan": "bi.plan.toml"},
    ]
    for action in refused:
        with pytest.raises(InputError, match="guests"):
            app.do(**action, role="guest")
    assert len(app.book.flights()) == 1


def test_parts(app: App) -> None:
    done = app.do("part.replaced", part="propeller", date="2026-06-01", words="14 x 8")
    assert "do again" in done.words
    with pytest.raises(InputError, match="no part we know"):
        app.do("part.replaced", part="wheel of fortune", date="2026-06-01")
    with pytest.raises(InputError, match="date"):
        app.do("part.replaced", part="propeller", date="soon")


def test_a_test_is_done_again_and_taken_back(app: App) -> None:
    app.do("part.replaced", token="part-00001", part="propeller", date="2026-06-01", words="14 x 8")
    said = {"part": "part-00001", "test": "current at full throttle"}
    for _ in range(2):
        done = app.do("test.done", token="test-00001", date="2026-06-02", **said)
        assert done.words == "current at full throttle: done again"
        app.again()
    (part,) = app.ask("season").parts
    assert said["test"] not in part.open
    assert [(one.test, one.date, one.noted) for one in part.done] == [(said["test"], "2026-06-02", True)]
    rows = [(row.what, row.date) for row in app.ask("season").rows]
    assert rows == [("test", "2026-06-02"), ("part", "2026-06-01")]
    count = app.book.count()
    for _ in range(2):
        assert app.do("test.open", **said).words == "current at full throttle: to do again"
    assert app.book.count() == count + 1
    (part,) = app.ask("season").parts
    assert (part.open, part.done) == (part.voids, ())
    with pytest.raises(InputError, match="not among what this part voids"):
        app.do("test.done", date="2026-06-02", part="part-00001", test="range check")
    with pytest.raises(InputError, match="no part"):
        app.do("test.done", date="2026-06-02", part="part-00009", test="range check")
    with pytest.raises(InputError, match="date"):
        app.do("test.done", date="soon", **said)


@pytest.mark.parametrize("token", ["a/../../b", "flight 0001", "flight-00\u00e91", "x" * 64 + "'"])
def test_names_of_flights_are_plain(app: App, token: str) -> None:
    with pytest.raises(InputError, match="letters, digits"):
        app.do("flight.save", token=token, form=FORM)


def test_looking_begins_no_record(app: App) -> None:
    app.engine.flights.note_record()
    with pytest.raises(InputError):
        app.ask("log", original="0" * 64)
    assert app.ask("season").flights == ()
    assert app.ask("season").kinds
    with pytest.raises(InputError, match="nothing was entered"):
        app.engine.flights.exported("json")
    assert not (app.folder / "logbook").exists()


def test_what_another_program_enters_is_noticed(app: App) -> None:
    from evenfall.record.logbook import Logbook

    app.do("flight.save", form=FORM)
    told: list[int] = []
    app.work.subscribe(lambda: told.append(app.work.folder_page().record))
    before = app.work.folder_page().record
    assert not app.work.poll()
    with Logbook(app.folder) as other:
        other.keep_text("plan", "x.plan.toml", "x = 1")
    app.work.poll()
    assert told == [before + 1]
    app.work.poll()
    assert told == [before + 1]


# --- killed ----------------------------------------------------------------------------------------------------------

WRITER = Path(__file__).with_name("keeps_entering.py")


def enter_until_killed(folder: Path, first: int, after_s: float) -> int:
    """The last flight that was answered before the process was killed."""
    with subprocess.Popen([sys.executable, str(WRITER), str(folder), str(first)], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"ready\n"
        time.sleep(after_s)
        process.kill()
        said = process.stdout.read().split()
    return int(said[-1]) if said else first


def check_after(folder: Path, last: int) -> None:
    """Every answered flight is there with its file; what was not answered is entered once when it is sent again."""
    spec = importlib.util.spec_from_file_location("keeps_entering", WRITER)
    assert spec is not None
    assert spec.loader is not None
    writer = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(writer)
    work = Workspace(folder)
    engine = Engine(work)
    book = engine.flights.records.book
    assert book.note == ""
    assert len(book.flights()) in (last, last + 1)
    assert book.damaged_originals() == ()
    for number in (last, last + 1):
        assert writer.save(engine, number) == f"flight-{number:06d}"
    rows = book.flights()
    assert [row.token for row in rows] == [f"flight-{number:06d}" for number in range(1, last + 2)]
    for row, number in zip(rows, range(1, last + 2), strict=True):
        assert row.notes == f"flight {number}"
        (key,) = row.originals
        assert book.original(key).path.read_bytes() == writer.body(number)
    engine.flights.records.close()
    work.close()


def kills(folder: Path, times: int, seed: int) -> None:
    (folder / "plane.toml").write_bytes(demo_path("biplane_124").read_bytes())
    rng, last = random.Random(seed), 0
    for _ in range(times):
        last = enter_until_killed(folder, last + 1, rng.uniform(0.0, 0.4))
        check_after(folder, last)
        last += 1


def test_killed_while_entering(tmp_path: Path) -> None:
    kills(tmp_path, 1, 1)


@pytest.mark.long
def test_killed_while_entering_many_times(tmp_path: Path) -> None:
    kills(tmp_path, 40, 2)
