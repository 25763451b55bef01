"""Flights in the logbook: kept through kills, two writers and a full disk."""

import random
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from evenfall.errors import InputError
from evenfall.record import logbook_file
from evenfall.record.logbook import Logbook

WRITER = """
import sys
from pathlib import Path
from evenfall.record.logbook import Logbook
book = Logbook(Path(sys.argv[1]))
for number in range(int(sys.argv[3])):
    print(book.add_flight(date="2026-05-01", place="field", token=f"{sys.argv[2]}-{number}"), flush=True)
"""


def _writer(folder: Path, name: str, count: int) -> "subprocess.Popen[str]":
    command = [sys.executable, "-c", WRITER, str(folder), name, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def _tokens(folder: Path) -> set[object]:
    book = Logbook(folder)
    found = {flight["token"] for flight in book.flights()}
    assert book.note == ""
    book.close()
    return found


@pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.long)])
def test_killed_writers_lose_nothing_acknowledged(tmp_path: Path, count: int) -> None:
    draw, said = random.Random(6), 0
    for run in range(count):
        writer = _writer(tmp_path, str(run), 10_000)
        assert writer.stdout is not None
        first = writer.stdout.readline().strip()
        time.sleep(draw.uniform(0.0, 0.03))
        writer.kill()
        acknowledged = {first, *writer.stdout.read().split("\n")[:-1]}
        writer.stdout.close()
        writer.wait()
        said += len(acknowledged)
        assert acknowledged <= _tokens(tmp_path)
    assert said >= count


def test_two_writers(tmp_path: Path) -> None:
    writers = [_writer(tmp_path, name, 20) for name in "ab"]
    assert [len(writer.communicate()[0].split()) for writer in writers] == [20, 20]
    assert len(_tokens(tmp_path)) == 40


def test_full_disk_is_said_and_nothing_is_lost(tmp_path: Path) -> None:
    book = Logbook(tmp_path)
    book.add_flight(date="2026-05-01", place="field", token="one")
    pages = book._base.execute("pragma page_count").fetchone()[0]
    book._base.execute(f"pragma max_page_count = {pages}")
    with pytest.raises(InputError, match="disk is full"):
        book.add_flight(date="2026-05-02", place="field", notes="x" * 50_000)
    book.close()
    assert _tokens(tmp_path) == {"one"}


def test_version_one_is_brought_up_to_date(tmp_path: Path) -> None:
    old = sqlite3.connect(tmp_path / logbook_file.FILE)
    old.executescript(logbook_file.TABLES + "pragma user_version = 1;")
    old.execute("insert into flight (token, date, place, notes) values ('old', '2025-05-01', 'field', '')")
    old.commit()
    old.close()
    book = Logbook(tmp_path)
    assert [(f["token"], f["air"], f["volts_before"]) for f in book.flights()] == [("old", "{}", None)]
    book.close()


def test_unknown_plane_is_refused(tmp_path: Path) -> None:
    book = Logbook(tmp_path)
    with pytest.raises(InputError, match="keep its text first"):
        book.add_flight(date="2026-05-01", place="field", plane="none")
    key = book.keep_text("plane", "p", "name = 1\n")
    assert book.keep_text("plane", "p", "name = 1\n") == key
    assert book.text(key) == "name = 1\n"
    book.close()
