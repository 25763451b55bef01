"""The logbook goes out as JSON and CSV and comes in again: equal, once, without overwriting, every fault named."""

from __future__ import annotations

import csv
import io
import json
import random
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from evenfall.errors import FileFaults, InputError
from evenfall.record.exchange import exported, folder_of, take_in, write_export
from evenfall.record.exchange_csv import HEAD, exported_csv
from evenfall.record.exchange_rows import FIELDS
from evenfall.record.logbook import Logbook
from evenfall.record.rows import FlightRow
from evenfall.record.tables import KINDS


@pytest.fixture
def filled(tmp_path: Path, made: ModuleType) -> Path:
    """A folder with a filled logbook."""
    with Logbook(tmp_path / "whole") as book:
        made.fill(book)
    return tmp_path / "whole"


@pytest.fixture
def text(filled: Path) -> str:
    """Its export."""
    with Logbook(filled) as book:
        return exported(book)


def test_every_kind_of_entry_can_go_out(text: str) -> None:
    assert FIELDS.keys() == KINDS.keys()
    assert {record["what"] for record in json.loads(text)["records"]} == FIELDS.keys()


@pytest.mark.parametrize("where", ["inside", "beside"])
def test_round_trip_is_equal_and_twice_is_once(
    tmp_path: Path, filled: Path, made: ModuleType, text: str, where: Any
) -> None:
    path = tmp_path / "out.json"
    with Logbook(filled) as book:
        held = made.everything(book)
        write_export(book, path, where=where)
    assert folder_of(path).is_dir() == (where == "beside")
    with Logbook(tmp_path / "other") as book:
        done = take_in(book, path)
        assert sum(done.entered.values()) == len(json.loads(text)["records"])
        assert (done.conflicts, done.missing) == ((), ())
        assert made.everything(book) == held
        assert exported(book) == text
        assert book.damaged_originals() == ()
        again = take_in(book, path)
        assert (again.entered, again.conflicts) == ({}, ())
        assert again.already == sum(done.entered.values())
        assert made.everything(book) == held
    with Logbook(tmp_path / "other") as book:
        assert book.note == ""
        assert made.everything(book) == held


def test_originals_left_behind_are_named(tmp_path: Path, filled: Path) -> None:
    with Logbook(filled) as book:
        write_export(book, tmp_path / "out.json", where="none")
    with Logbook(tmp_path / "other") as book:
        assert take_in(book, tmp_path / "out.json").missing == ("log.csv",)
        assert [item.name for item in book.damaged_originals()] == ["log.csv"]
    with Logbook(filled) as book:
        write_export(book, tmp_path / "out.json")
    with Logbook(tmp_path / "other") as book:
        assert take_in(book, tmp_path / "out.json").missing == ()
        assert book.damaged_originals() == ()


def test_two_logbooks_are_merged_and_contradictions_said(tmp_path: Path, filled: Path, text: str) -> None:
    (tmp_path / "out.json").write_text(text, encoding="utf-8")
    with Logbook(tmp_path / "other") as book:
        book.save_flight(FlightRow(token="mine", date="2026-04-01"))
        book.save_flight(FlightRow(token="flight-0", date="2026-04-02", notes="another flight"))
        done = take_in(book, tmp_path / "out.json")
        (conflict,) = done.conflicts
        assert "flight flight-0 of 2026-05-01, revision 1" in conflict
        assert [row.notes for row in book.history("flight-0")] == ["another flight"]
        assert {row.token for row in book.flights(removed=True)} == {"mine", *(f"flight-{n}" for n in range(4))}


def test_a_flight_changed_on_the_other_side_comes_in_as_its_next_revision(tmp_path: Path, filled: Path) -> None:
    with Logbook(filled) as book:
        write_export(book, tmp_path / "out.json")
    with Logbook(tmp_path / "other") as book:
        take_in(book, tmp_path / "out.json")
    with Logbook(filled) as book:
        book.save_flight(replace(book.flight("flight-1"), revision=2, notes="changed"))
        book.restore_flight("flight-3")
        write_export(book, tmp_path / "out.json")
    with Logbook(tmp_path / "other") as book:
        book.remove_flight("flight-2")
        done = take_in(book, tmp_path / "out.json")
        assert done.entered == {"flight": 1, "removed": 1}
        assert book.flight("flight-1").notes == "changed"
        assert not book.flight("flight-3").removed
        assert book.flight("flight-2").removed


def test_what_was_said_later_here_stands(tmp_path: Path, filled: Path) -> None:
    with Logbook(filled) as book:
        write_export(book, tmp_path / "out.json")
        book.restore_flight("flight-3")
    with Logbook(tmp_path / "other") as book:
        with Logbook(filled) as whole:
            write_export(whole, tmp_path / "later.json")
        take_in(book, tmp_path / "later.json")
        take_in(book, tmp_path / "out.json")
        assert not book.flight("flight-3").removed


def _change(key: str, value: Any, what: str = "flight") -> Callable[[Any], None]:
    def act(document: Any) -> None:
        record = next(record for record in document["records"] if record["what"] == what)
        (record if key in ("what", "at") else record["row"])[key] = value

    return act


def _drop(document: Any) -> None:
    del document["records"][0]


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (_change("date", "May"), "must be a date"),
        (_change("pieces", -1), "a whole number"),
        (_change("pieces", True), "a whole number"),
        (_change("notes", 7), "must be a text"),
        (_change("notes", "\ud800"), "half a character"),
        (_change("air", {"wind": "strong"}), "must be a finite number"),
        (_change("token", "../x"), "letters, digits"),
        (_change("plane", "x"), "a hash of 64"),
        (_change("odd", 1), "is not known in a flight"),
        (_change("what", "note"), "must be one of text"),
        (_change("at", "yesterday"), "must be a moment"),
        (_change("body", "x", "text"), "does not match its key"),
        (_change("mean", [1.0], "learned"), "must fit the 2 names"),
        (_change("part", "wheel", "part"), "must be one of propeller"),
        (_change("ending", "/../x", "original"), "an ending such as"),
        (_drop, "is neither in the file nor here"),
        (lambda document: document.update(version=2), "this Evenfall reads 1"),
        (lambda document: document.update(format="x"), "is no exported logbook"),
        (lambda document: document.update(records=1), "must be a list"),
        (lambda document: document["files"].update({"0" * 64: "eA=="}), "does not match its hash"),
        (lambda document: document["files"].update({"0" * 64: "?"}), "is no base64"),
    ],
)
def test_faults_are_named_and_nothing_is_entered(tmp_path: Path, text: str, act: Any, words: str) -> None:
    document = json.loads(text)
    act(document)
    (tmp_path / "out.json").write_text(json.dumps(document))
    with Logbook(tmp_path / "other") as book:
        with pytest.raises(FileFaults) as found:
            take_in(book, tmp_path / "out.json")
        assert words in str(found.value)
        assert book.entries() == ()


def test_all_faults_come_at_once(tmp_path: Path, text: str) -> None:
    document = json.loads(text)
    for record in document["records"]:
        record["at"] = 0
    (tmp_path / "out.json").write_text(json.dumps(document))
    with Logbook(tmp_path / "other") as book, pytest.raises(FileFaults) as found:
        take_in(book, tmp_path / "out.json")
    assert len(found.value.faults) == len(document["records"])


_ODD: tuple[Any, ...] = (
    None,
    True,
    -1,
    1e308,
    10**30,
    "",
    "x" * 50,
    [],
    {},
    [[]],
    {"a": None},
    float("nan"),
    "\ud800",
    "\0",
)


def _mutated(text: str, draw: random.Random) -> bytes:
    """The export with something wrong in it: bytes, values, order."""
    if draw.random() < 0.4:
        body = bytearray(text.encode())
        match draw.randrange(3):
            case 0:
                body[draw.randrange(len(body))] ^= draw.randrange(1, 256)
            case 1:
                del body[draw.randrange(len(body)) :]
            case _:
                start = draw.randrange(len(body))
                del body[start : start + draw.randrange(1, 40)]
        return bytes(body)
    document = json.loads(text)
    for _ in range(draw.randrange(1, 4)):
        place: Any = document
        while True:
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            if not keys:
                break
            key = draw.choice(keys)
            if isinstance(place[key], dict | list) and draw.random() < 0.85:
                place = place[key]
                continue
            if draw.random() < 0.2:
                del place[key]
            else:
                place[key] = deepcopy(draw.choice(_ODD))
            break
    return json.dumps(document).encode("utf-8", "surrogatepass")


@pytest.mark.parametrize(
    "count", [pytest.param(100, id="everyday"), pytest.param(3000, marks=pytest.mark.long, id="long")]
)
def test_mutated_files_are_refused_plainly_or_taken_in_sound(tmp_path: Path, text: str, count: int) -> None:
    draw, refused = random.Random(11), 0
    path = tmp_path / "out.json"
    for case in range(count):
        path.write_bytes(_mutated(text, draw))
        with Logbook(tmp_path / f"other-{case % 20}") as book:
            before = book.entries()
            try:
                take_in(book, path)
            except InputError as error:
                refused += 1
                assert len(str(error)) > 20
                assert book.entries() == before
        if case % 20 == 19:
            with Logbook(tmp_path / f"other-{case % 20}") as book:
                assert book.note == ""
    assert refused > count // 2


def test_a_logbook_that_cannot_be_written_or_read(tmp_path: Path, filled: Path) -> None:
    with Logbook(filled) as book:
        with pytest.raises(InputError, match="cannot be written"):
            write_export(book, tmp_path / "none" / "out.json")
        with pytest.raises(InputError, match="cannot be read"):
            take_in(book, tmp_path / "none.json")
        path = book.originals()[0].path
        assert path is not None
        path.write_bytes(b"changed")
        with pytest.raises(InputError, match="give the file again"):
            write_export(book, tmp_path / "out.json")
    assert not (tmp_path / "out.json").exists()


def test_csv_has_a_row_for_every_piece(tmp_path: Path) -> None:
    document = (
        'format = 1\n[[timed]]\nline = "vertical down"\nseconds = 4.5\n[[timed]]\nname = "a, \\"b\\""\n'
        '[[recorded]]\nfile = "x.csv"\n[[recorded.line]]\nfrom_s = 1\n[[recorded.line]]\nfrom_s = 5\ncrow = true\n'
    )
    with Logbook(tmp_path) as book:
        plane = book.keep_text("plane", "Demo", "a = 1\n")
        book.save_flight(
            FlightRow(date="2026-05-01", document=document, plane=plane, notes="two\nlines", air={"wind": 2.5})
        )
        book.save_flight(FlightRow(date="2026-05-02", document="", notes="übung"))
        text = exported_csv(book)
    assert text.split("\r\n")[0].split(",")[: len(HEAD)] == list(HEAD)
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [(row["kind"], row["piece"]) for row in rows] == [
        ("timed", "1"),
        ("timed", "2"),
        ("recorded", "1"),
        ("recorded", "2"),
        ("", ""),
    ]
    assert [row["from_s"] for row in rows] == ["", "", "1", "5", ""]
    assert rows[1]["name"] == 'a, "b"'
    assert (rows[0]["notes"], rows[0]["wind_m_s"], rows[0]["plane"]) == ("two\nlines", "2.5", "Demo")
    assert (rows[3]["file"], rows[3]["crow"]) == ("x.csv", "true")
    assert rows[4]["notes"] == "übung"
