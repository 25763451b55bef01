"""Logbooks of other versions: older ones are brought up to date, newer ones left alone."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from types import ModuleType

import pytest

from evenfall.errors import InputError
from evenfall.record import entries as lines
from evenfall.record.logbook import FOLDER, Logbook
from evenfall.record.logbook_file import FILE, backups
from evenfall.record.rows import FlightRow


def test_newer_logbooks_are_refused_and_left_alone(tmp_path: Path, made: ModuleType) -> None:
    folder = tmp_path
    with Logbook(folder) as book:
        made.fill(book)
    base = sqlite3.connect(folder / FOLDER / FILE)
    base.execute("pragma user_version = 99")
    base.close()
    beside = folder / FOLDER / lines.FILE
    beside.write_bytes(beside.read_bytes().replace(b'{"logbook":3}', b'{"logbook":99}'))
    before = {path.name: path.read_bytes() for path in (folder / FOLDER).iterdir() if path.is_file()}
    with pytest.raises(InputError, match="version 99, this Evenfall reads up to 3"):
        Logbook(folder)
    assert {path.name: path.read_bytes() for path in (folder / FOLDER).iterdir() if path.is_file()} == before


OLD = """
create table text (hash text primary key, kind text not null check (kind in ('plane', 'plan')), name text not null,
    body text not null) strict;
create table flight (id integer primary key, token text not null unique, date text not null,
    place text not null, notes text not null,
    plane text references text (hash), plan text references text (hash)) strict;
insert into text values ('aa', 'plane', 'Demo', 'name = 1');
insert into flight (token, date, place, notes, plane) values ('old', '2025-05-01', 'field', 'seen', 'aa');
"""
ADDED = """
alter table flight add column air text not null default '{}';
alter table flight add column volts_before real;
alter table flight add column volts_after real;
update flight set air = '{"temperature": 290.0}', volts_before = 12.5;
"""


@pytest.mark.parametrize(("version", "made_by"), [(1, OLD), (2, OLD + ADDED)])
@pytest.mark.parametrize("harm", ["none", "entries of it already beside", "version changed"])
def test_older_logbooks_are_brought_up_to_date(tmp_path: Path, version: int, made_by: str, harm: str) -> None:
    path = tmp_path / FOLDER / FILE
    path.parent.mkdir()
    old = sqlite3.connect(path)
    old.executescript(f"{made_by} pragma user_version = {version};")
    old.close()
    whole = path.read_bytes()
    if harm == "entries of it already beside":
        Logbook(tmp_path).close()
        path.write_bytes(whole)
    if harm == "version changed":
        path.write_bytes(whole[:63] + b"\x03" + whole[64:])
    with Logbook(tmp_path) as book:
        (flight,) = book.flights("Demo")
        assert (flight.token, flight.date, flight.place, flight.notes) == ("old", "2025-05-01", "field", "seen")
        assert flight.air == ({"temperature": 290.0} if version == 2 else {})
        assert flight.battery == ({"before": 12.5} if version == 2 else {})
        assert (book.note == "") == (harm != "version changed")
        book.save_flight(FlightRow(token="new", date="2026-05-01"))
    with Logbook(tmp_path) as book:
        assert book.note == ""
        assert [row.token for row in book.flights()] == ["old", "new"]
    if harm == "none":
        assert whole in [backup.read_bytes() for backup in backups(path)]
