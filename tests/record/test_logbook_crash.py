"""The program ends at every single step of writing, opening, putting right and bringing up to date: nothing is lost."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from evenfall.record import entries as lines
from evenfall.record.logbook import FOLDER, Logbook
from evenfall.record.logbook_file import FILE, backups
from evenfall.record.rows import FlightRow

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a program that can copy itself")
ENDED, DONE = 9, 0


class _Steps:
    """Counts the steps by which files are changed, and ends the program before or after the chosen one."""

    def __init__(self, end_at: int) -> None:
        self.left = end_at

    def step(self) -> None:
        self.left -= 1
        if self.left < 0:
            os._exit(ENDED)

    def around(self, act: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*args: Any, **kwargs: Any) -> Any:
            self.step()
            made = act(*args, **kwargs)
            self.step()
            return made

        return counted


def _patched(steps: _Steps) -> None:
    """Only ever called in a copy of this program."""
    for module, name in ((os, "fsync"), (os, "replace"), (os, "truncate"), (shutil, "copyfile"), (Path, "unlink")):
        setattr(module, name, steps.around(getattr(module, name)))

    class Counted(sqlite3.Connection):
        def execute(self, statement: str, *rest: Any) -> sqlite3.Cursor:
            if statement.startswith(("commit", "insert", "begin immediate", "create")):
                return steps.around(super().execute)(statement, *rest)  # type: ignore[no-any-return]
            return super().execute(statement, *rest)

    connect = sqlite3.connect

    def connected(path: Any, **kwargs: Any) -> sqlite3.Connection:
        return connect(path, **kwargs) if path == ":memory:" else connect(path, factory=Counted, **kwargs)

    sqlite3.connect = connected  # type: ignore[assignment]


def _ends(act: Callable[[], None], end_at: int) -> bool:
    """Run it in a copy of this program that ends at a step; True where it did, False where it came to its end."""
    child = os.fork()
    if child == 0:
        try:
            _patched(_Steps(end_at))
            act()
        except BaseException:
            os._exit(1)
        os._exit(DONE)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    assert code in (ENDED, DONE), code
    return code == ENDED


def _enter(folder: Path) -> None:
    with Logbook(folder) as book:
        book.save_flight(FlightRow(token="new", date="2026-06-01", notes="x" * 9000))


def _open(folder: Path) -> None:
    Logbook(folder).close()


def _damage(folder: Path) -> None:
    path = folder / FOLDER / FILE
    body = bytearray(path.read_bytes())
    body[len(body) // 2 : len(body) // 2 + 200] = b"\xaa" * 200
    path.write_bytes(body)


def _damage_entries(folder: Path) -> None:
    path = folder / FOLDER / lines.FILE
    path.write_bytes(path.read_bytes().replace(b"flight-1", b"flight-x", 1))


def _lose_entries(folder: Path) -> None:
    _damage_entries(folder)
    _damage(folder)


def _older(folder: Path) -> None:
    shutil.rmtree(folder / FOLDER)
    (folder / FOLDER).mkdir()
    base = sqlite3.connect(folder / FOLDER / FILE)
    base.executescript(
        "create table text (hash text primary key, kind text, name text, body text) strict;"
        "create table flight (id integer primary key, token text, date text, place text, notes text, plane text,"
        " plan text) strict; insert into text values ('aa', 'plane', 'Demo', 'name = 1');"
        "insert into flight (token, date, place, notes, plane) values ('old', '2025-05-01', 'f', '', 'aa');"
        "pragma user_version = 1;"
    )
    base.close()


def _behind(folder: Path) -> None:
    """The database as a program left it that was killed between both files."""
    before = (folder / FOLDER / FILE).read_bytes()
    _enter(folder)
    (folder / FOLDER / FILE).write_bytes(before)


CASES = {
    "entering": (lambda folder: None, _enter),
    "putting the database right": (_damage, _open),
    "putting the entries right": (_damage_entries, _open),
    "putting both right from the backup": (_lose_entries, _open),
    "bringing up to date": (_older, _open),
    "taking up what was in flight": (_behind, _open),
    "entering into a damaged one": (_damage, _enter),
}


@pytest.mark.parametrize("stride", [pytest.param(6, id="some"), pytest.param(1, marks=pytest.mark.long, id="all")])
@pytest.mark.parametrize("name", CASES)
def test_ended_at_every_step(tmp_path: Path, made: ModuleType, name: str, stride: int) -> None:
    prepare, act = CASES[name]
    whole = tmp_path / "whole"
    with Logbook(whole) as book:
        made.fill(book, flights=3)
    _open(whole)
    prepare(whole)
    shutil.copytree(whole, tmp_path / "sound")
    with Logbook(tmp_path / "sound") as book:
        held = made.everything(book)
    act(tmp_path / "sound")
    with Logbook(tmp_path / "sound") as book:
        after = made.everything(book)
    end_at = min(2, stride - 1)
    while True:
        folder = tmp_path / "case"
        shutil.copytree(whole, folder)
        ended = _ends(lambda folder=folder: act(folder), end_at)  # type: ignore[misc]
        with Logbook(folder) as book:
            found = made.everything(book)
            assert "lost" not in book.note, (end_at, book.note)
        if act is _enter:
            assert [row.token for row in found[2]] in ([r.token for r in held[2]], [r.token for r in after[2]]), end_at
            assert found[-1][: len(held[-1])] == held[-1], end_at
        else:
            assert found == held, end_at
        with Logbook(folder) as book:
            assert book.note == "", end_at
            assert made.everything(book) == found
        assert all(
            sqlite3.connect(backup).execute("pragma quick_check").fetchone()
            for backup in backups(folder / FOLDER / FILE)
        )
        shutil.rmtree(folder)
        if not ended:
            break
        end_at += stride
    assert end_at >= 8
