"""Flights as CSV: out and in again alike, once, whatever a spreadsheet made of it, every fault with its place."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from evenfall.errors import FileFaults, InputError
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import present_plan
from evenfall.radio.planfile import write_plan
from evenfall.record.csv_table import guarded, unguarded
from evenfall.record.exchange import write_csv
from evenfall.record.exchange_csv import exported_csv
from evenfall.record.logbook import Logbook
from evenfall.workflow.csv_import import take_in_csv
from evenfall.workflow.recording import add_flights

ONE = """format = 1
date = 2026-05-17
place = "=home; \\"field\\""
notes = '''
two
lines, "quoted"'''
signs = ["faster in the lower half"]
[air]
temperature_c = 18
wind_m_s = { value = 2.5, spread = 0.5 }
[battery]
before_v = 25.1
used_mah = 2200
[[recorded]]
file = "log.csv"
columns = { "GAlt" = "height m" }
[[recorded.line]]
from_s = 1
to_s = 4.5
[[recorded.line]]
line = "45 down"
from_s = 20
to_s = 25
crow = false
[[recorded]]
file = "log.csv"
[[timed]]
name = "-2"
line = "vertical down"
length_m = 100
seconds = { value = 4.4, spread = 0.2 }
entry_speed_m_s = 20
[[timed]]
name = "true"
level = "50"
length_m = 101.25
seconds = 4.5
"""
TWO = """format = 1
date = "2026-05-18T18:30"
notes = "@calm"
"""


def begin(folder: Path) -> Path:
    """A folder with a plane and its plan."""
    folder.mkdir(exist_ok=True)
    (folder / "p.toml").write_text(demo_path("biplane_124").read_text(encoding="utf-8"), encoding="utf-8")
    write_plan(present_plan(load_plane(folder / "p.toml").plane), folder / "p.plan.toml")
    return folder


@pytest.fixture
def source(tmp_path: Path) -> Path:
    """A folder with two flights in its logbook, the second changed once and taken out; `out.csv` is its export."""
    folder = begin(tmp_path / "source")
    (folder / "log.csv").write_text("time,speed\n0,20\n", encoding="utf-8")
    (folder / "one.flight.toml").write_text(ONE, encoding="utf-8")
    (folder / "two.flight.toml").write_text(TWO, encoding="utf-8")
    files = (folder / "one.flight.toml", folder / "two.flight.toml")
    add_flights(folder, folder / "p.toml", folder / "p.plan.toml", files)
    files[1].write_text(TWO.replace("@calm", "\\tgusts"), encoding="utf-8")
    (again,) = add_flights(folder, folder / "p.toml", folder / "p.plan.toml", files[1:])
    with Logbook(folder) as book:
        book.remove_flight(again.row.token)
        write_csv(book, folder / "out.csv")
    return folder


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_bytes().decode(), newline="")))


def written(path: Path, rows: list[dict[str, str]], *, delimiter: str = ",", ends: str = "\r\n") -> Path:
    made = io.StringIO()
    writer = csv.DictWriter(made, list(rows[0]), delimiter=delimiter, lineterminator=ends)
    writer.writeheader()
    writer.writerows(rows)
    path.write_bytes(made.getvalue().encode())
    return path


def faults(folder: Path, path: Path) -> list[tuple[int | None, str, str]]:
    """Line, column and words of every fault; nothing was entered."""
    with Logbook(folder) as book:
        before = book.count()
        with pytest.raises(FileFaults) as caught:
            take_in_csv(book, folder, path)
        assert book.count() == before
    return [(fault.line, fault.where, fault.message) for fault in caught.value.faults]


def test_what_goes_out_comes_in_alike_and_once(tmp_path: Path, source: Path) -> None:
    other = begin(tmp_path / "other")
    body = (source / "out.csv").read_bytes().decode()
    assert ',"\'=home; ""field""",' in body
    with Logbook(other) as book:
        done = take_in_csv(book, other, source / "out.csv")
        assert dict(done.entered) == {"text": 2, "flight": 2, "removed": 1}
        assert (done.already, done.conflicts, done.missing) == (0, (), ())
        assert exported_csv(book) == body
        first = book.flights()[0]
        assert (first.air["temperature"], first.battery["used"]) == (291.15, 7920.0)
        assert [item.name for item in book.originals()] == ["log.csv"]
        count = book.count()
        again = take_in_csv(book, other, source / "out.csv")
        assert (again.entered, again.already, again.conflicts, book.count()) == ({}, 2, (), count)
    with Logbook(source) as book:
        assert take_in_csv(book, source, source / "out.csv").already == 2
        sent, came = book.flights()[0], first
    assert (came.token, came.plane, came.plan, came.pieces) == (sent.token, sent.plane, sent.plan, sent.pieces)
    assert came.notes == 'two\nlines, "quoted"'


def test_files_that_lie_nowhere_are_named(tmp_path: Path, source: Path) -> None:
    other = begin(tmp_path / "other")
    (other / "out.csv").write_bytes((source / "out.csv").read_bytes())
    with Logbook(other) as book:
        assert take_in_csv(book, other, other / "out.csv").missing == ("log.csv",)


def german(text: str) -> str:
    rows = list(csv.reader(io.StringIO(text, newline="")))
    made = io.StringIO()
    writer = csv.writer(made, delimiter=";", lineterminator="\r\n")
    for number, row in enumerate(rows):
        cells = [cell.replace(".", ",") if cell.replace(".", "").isdigit() and number else cell for cell in row]
        writer.writerow(
            [cell.upper() if cell in ("true", "false") and at < 19 else cell for at, cell in enumerate(cells)]
        )
    return made.getvalue()


@pytest.mark.parametrize(
    "act",
    [
        lambda text: "\ufeff" + text,
        german,
        lambda text: "\ufeffsep=;\r\n" + german(text) + ";;;;\r\n\r\n;;;\r\n",
        lambda text: text + "\r\n" + "," * 12 + "\r\n\r\n",
        lambda text: text.replace("\r\n", "\n"),
        lambda text: "\r\n\r\n" + text,
    ],
)
def test_what_a_spreadsheet_makes_of_it_is_the_same(tmp_path: Path, source: Path, act: Callable[[str], str]) -> None:
    body = (source / "out.csv").read_bytes().decode()
    other = begin(tmp_path / "other")
    (source / "changed.csv").write_bytes(act(body).encode())
    with Logbook(other) as book:
        take_in_csv(book, other, source / "changed.csv")
        assert exported_csv(book) == body


def test_wide_text_and_tabs(tmp_path: Path, source: Path) -> None:
    other = begin(tmp_path / "other")
    rows = rows_of(source / "out.csv")
    text = written(source / "tabs.csv", rows, delimiter="\t").read_bytes().decode()
    (source / "tabs.csv").write_bytes(text.encode("utf-16"))
    with Logbook(other) as book:
        take_in_csv(book, other, source / "tabs.csv")
        assert exported_csv(book) == (source / "out.csv").read_bytes().decode()


def test_columns_in_any_order_and_only_the_needed_ones(tmp_path: Path, source: Path) -> None:
    other = begin(tmp_path / "other")
    rows = rows_of(source / "out.csv")
    rng = random.Random(3)
    columns = list(rows[0])
    rng.shuffle(columns)
    rng.shuffle(rows)
    moved = written(source / "moved.csv", [{column: row[column] for column in columns} for row in rows])
    with Logbook(other) as book:
        take_in_csv(book, other, moved)
        left, right = exported_csv(book).splitlines(), (source / "out.csv").read_bytes().decode().splitlines()
        assert sorted(left) == sorted(right)
    third = begin(tmp_path / "third")
    name = load_plane(third / "p.toml").plane.name
    few = {"flight": "my-1", "date": "17.05.2026", "plane": name, "plan": "p.plan.toml", "kind": "timed"}
    path = written(
        tmp_path / "few.csv",
        [
            {**few, "length_m": "100", "seconds": "4.4", "place": ""},
            {**few, "date": "", "plane": "", "length_m": "100", "seconds": "4.5", "place": "home"},
        ],
    )
    with Logbook(third) as book:
        assert dict(take_in_csv(book, third, path).entered) == {"text": 2, "flight": 1}
        (row,) = book.flights(name)
        assert (row.date, row.place, row.pieces, row.revision) == ("2026-05-17", "home", 2, 1)
        assert take_in_csv(book, third, path).entered == {}


def test_a_changed_flight_needs_the_next_revision(source: Path) -> None:
    rows = rows_of(source / "out.csv")
    for row in rows[:-1]:
        row["place"] = "away"
    with Logbook(source) as book:
        before = book.count()
        done = take_in_csv(book, source, written(source / "new.csv", rows))
        assert book.count() == before
        assert done.already == 1
        assert "write 2 under revision" in done.conflicts[0]
        for row in rows[:-1]:
            row["revision"] = "2"
        done = take_in_csv(book, source, written(source / "new.csv", rows))
        assert (dict(done.entered), done.conflicts) == ({"flight": 1}, ())
        (row_now,) = book.flights()
        assert (row_now.place, row_now.revision, len(row_now.originals)) == ("away", 2, 1)
        assert take_in_csv(book, source, source / "new.csv").entered == {}
        assert take_in_csv(book, source, source / "out.csv").already == 2


def test_taken_out_there_and_not_here_is_said(source: Path) -> None:
    rows = rows_of(source / "out.csv")
    rows[-1]["removed"] = "false"
    with Logbook(source) as book:
        done = take_in_csv(book, source, written(source / "new.csv", rows))
    assert "is taken out here and not in the file" in done.conflicts[0]


def test_planes_and_plans_that_are_not_there(tmp_path: Path, source: Path) -> None:
    bare = tmp_path / "bare"
    bare.mkdir()
    found = faults(bare, source / "out.csv")
    assert [where for _, where, _ in found] == ["plane_hash", "plan_hash"] * 2
    assert "put its plane file (*.toml) there, or import the .json first" in found[0][2]
    other = begin(tmp_path / "other")
    plane = other / "p.toml"
    plane.write_text(plane.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    (first, *_) = faults(other, source / "out.csv")
    assert first[:2] == (2, "plane_hash")
    assert "empty plane_hash to take the version that is there" in first[2]
    rows = [{**row, "plane_hash": ""} for row in rows_of(source / "out.csv")]
    with Logbook(other) as book:
        take_in_csv(book, other, written(source / "without.csv", rows))
        assert len(book.flights(load_plane(plane).plane.name)) == 1
    rows = [{**row, "plane": "another"} for row in rows_of(source / "out.csv")]
    with Logbook(source) as book, pytest.raises(FileFaults, match="empty one of the two"):
        take_in_csv(book, source, written(source / "wrong.csv", rows))


def put(row: int, column: str, cell: str) -> Callable[[list[dict[str, str]]], None]:
    def act(rows: list[dict[str, str]]) -> None:
        rows[row][column] = cell

    return act


@pytest.mark.parametrize(
    ("act", "line", "column", "words"),
    [
        (put(3, "seconds", "fast"), 8, "seconds", "must be a number"),
        (put(3, "seconds", "900"), 8, "seconds", "allowed is 0.1 to 600"),
        (put(3, "secnods", "3"), 8, "secnods", "is not known"),
        (put(1, "to_s", "2"), 4, "to_s", "not after from_s"),
        (put(1, "place", "away"), 4, "place", "line 2 of the same flight says"),
        (put(3, "kind", "timer"), 8, "kind", "must be one of recorded, timed"),
        (put(3, "kind", ""), 8, "kind", "is empty"),
        (put(4, "piece", "1"), 10, "piece", "stands in line 8 already"),
        (put(4, "piece", "x"), 10, "piece", "whole number"),
        (put(5, "date", "5/18/26"), 12, "date", "2026-05-17"),
        (put(5, "revision", "two"), 12, "revision", "whole number"),
        (put(5, "removed", "perhaps"), 12, "removed", "true or false"),
        (put(5, "flight", "a b"), 12, "flight", "letters"),
        (put(5, "plane_hash", "12"), 12, "plane_hash", "64 hexadecimal"),
        (put(5, "temperature_k", "18"), 12, "temperature_k", "allowed is"),
        (put(5, "battery_used_c", "much"), 12, "battery_used_c", "must be a number"),
        (put(5, "signs", "faster"), 12, "signs", "list in square brackets"),
        (put(0, "columns", '{"a":'), 2, "columns", "list or table"),
    ],
)
def test_faults_have_line_and_column(source: Path, act: Any, line: int, column: str, words: str) -> None:
    rows = [{"secnods": "", **row} for row in rows_of(source / "out.csv")]
    act(rows)
    found = faults(source, written(source / "bad.csv", rows))
    assert any((one[0], one[1]) == (line, column) and words in one[2] for one in found), found


def test_all_faults_at_once(source: Path) -> None:
    rows = rows_of(source / "out.csv")
    put(3, "seconds", "fast")(rows)
    put(5, "date", "soon")(rows)
    assert [(line, where) for line, where, _ in faults(source, written(source / "bad.csv", rows))] == [
        (8, "seconds"),
        (12, "date"),
    ]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (b"", "is empty"),
        (b"\xff\xfe\x00", "is not UTF-8"),
        (b"flight,date\nx,\xe4\n", "is not UTF-8"),
        (b"a\0b", "zero bytes"),
        (b"time,speed\n1,2\n", "names none of the columns"),
        (b"flight,dat,plane\nx,2026-05-01,y\n", 'is "dat" meant'),
        (b"flight,date\nx,2026-05-01\n", "plane_hash too"),
        (b"flight,date,date,plane\n", "names two columns"),
        (b"flight,date,plane\n", "holds no flight"),
        (b"flight,date,plane\nx,2026-05-01,a,b\n", "has 4 cells"),
        (b'flight,date,plane\nx,2026-05-01,"a\n', "a quote is missing"),
        (b"sep=|\nflight|date|plane\n", "is divided by"),
        (b"flight;date;plane;wind_m_s;pressure_pa\nx;2026-05-01;;1,5;1.013\n", "two ways"),
    ],
)
def test_what_is_no_such_file_is_refused(source: Path, body: bytes, words: str) -> None:
    (source / "bad.csv").write_bytes(body)
    assert any(words in message for _, _, message in faults(source, source / "bad.csv"))


def test_a_file_that_is_not_there(source: Path) -> None:
    with Logbook(source) as book, pytest.raises(InputError, match="cannot be read"):
        take_in_csv(book, source, source / "none.csv")


@pytest.mark.parametrize("text", ["=1", "'=1", "''+x", "-2", "@a", "'quoted'", "plain", "\tx", "'"])
def test_no_cell_is_a_formula_and_every_text_comes_back(text: str) -> None:
    assert guarded(text)[0] not in "=+-@\t\r\n"
    assert unguarded(guarded(text)) == text


def test_mutated_files_are_refused_plainly_or_taken_in(tmp_path: Path, source: Path) -> None:
    rng = random.Random(20261125)
    body = (source / "out.csv").read_bytes()
    bits = [
        b'"',
        b",",
        b";",
        b"\r\n",
        b"\0",
        b"\xff",
        b"-",
        b"1e999",
        b"[",
        b"{}",
        b"true",
        b"'",
        b"=",
        b"\xef\xbb\xbf",
    ]
    taken = 0
    for number in range(200):
        made = bytearray(body)
        for _ in range(rng.randint(1, 4)):
            at = rng.randrange(len(made))
            match rng.randrange(4):
                case 0:
                    made[at : at + rng.randint(1, 30)] = b""
                case 1:
                    made[at:at] = rng.choice(bits)
                case 2:
                    made[at] = rng.randrange(256)
                case _:
                    made[at:at] = made[at : at + rng.randint(1, 200)]
        path = source / "mutated.csv"
        path.write_bytes(bytes(made))
        folder = source if number % 10 else begin(tmp_path / f"to-{number}")
        with Logbook(folder) as book:
            before = book.count()
            try:
                done = take_in_csv(book, folder, path)
            except InputError:
                assert book.count() == before
                continue
            taken += 1
            assert sum(done.entered.values()) + done.already + len(done.conflicts) > 0
            count = book.count()
            assert take_in_csv(book, folder, path).entered == {}
            assert book.count() == count
    assert 0 < taken < 200
