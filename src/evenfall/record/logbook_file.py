"""Opening the logbook file: full sync, foreign keys, no write-ahead log, checked and backed up on opening.

No command uses it yet. Known to be missing: a changed byte inside a row's text passes the check unseen, entries
since the last opening are lost where a damaged file is replaced by its backup, and that replacement is not atomic.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from evenfall.errors import InputError

FILE = "logbook.sqlite"
BACKUPS = 3
"""Backups kept beside the logbook."""
VERSION = 2
TABLES = """
create table text (hash text primary key, kind text not null check (kind in ('plane', 'plan')), name text not null,
    body text not null) strict;
create table flight (id integer primary key, token text not null unique, date text not null,
    place text not null, notes text not null,
    plane text references text (hash), plan text references text (hash)) strict;
"""
STEPS = {
    1: (
        "alter table flight add column air text not null default '{}'",
        "alter table flight add column volts_before real",
        "alter table flight add column volts_after real",
    ),
}
"""Statements that bring a logbook from this version to the next."""


def open_logbook(folder: Path) -> tuple[sqlite3.Connection, str]:
    """Open or make the logbook of `folder`; the words say what was set aside and restored, empty if nothing.

    Raises InputError where the file cannot be read or written or comes from a newer Evenfall.
    """
    path, note = folder / FILE, ""
    try:
        try:
            base = _checked(path)
        except sqlite3.DatabaseError as error:
            if isinstance(error, sqlite3.OperationalError):
                raise
            note = _restore(path)
            base = _checked(path)
        _back_up(base, path)
    except (OSError, sqlite3.Error) as error:
        raise InputError(
            f"{path} cannot be opened: {error}; check that the folder can be written and the disk has room"
        ) from None
    return base, note


def backups(path: Path) -> list[Path]:
    """Backups of the logbook, newest first."""
    found = [p for p in path.parent.glob(f"{path.stem}.*.backup") if p.name.split(".")[1].isdigit()]
    return sorted(found, key=lambda p: int(p.name.split(".")[1]), reverse=True)


def _checked(path: Path) -> sqlite3.Connection:
    base = sqlite3.connect(path, timeout=10.0, isolation_level=None)
    try:
        base.execute("pragma foreign_keys = on")
        base.execute("pragma synchronous = full")
        if base.execute("pragma integrity_check").fetchall() != [("ok",)]:
            raise sqlite3.DatabaseError("damaged")
        base.execute("begin immediate")
        version = base.execute("pragma user_version").fetchone()[0]
        if version > VERSION:
            raise InputError(f"{path} is of version {version}, this Evenfall reads up to {VERSION}; use a newer one")
        if version == 0:
            for statement in TABLES.split(";")[:-1]:
                base.execute(statement)
            version = 1
        for step in range(version, VERSION):
            for statement in STEPS[step]:
                base.execute(statement)
        if version < VERSION:
            base.execute(f"pragma user_version = {VERSION}")
        base.execute("commit")
    except BaseException:
        base.close()
        raise
    return base


def _restore(path: Path) -> str:
    number = 1
    while (aside := path.with_name(f"{path.stem}.damaged-{number}.sqlite")).exists():
        number += 1
    os.replace(path, aside)
    journal = path.with_name(path.name + "-journal")
    if journal.exists():
        os.replace(journal, aside.with_name(aside.name + "-journal"))
    for backup in backups(path):
        try:
            _checked(backup).close()
        except sqlite3.DatabaseError:
            continue
        path.write_bytes(backup.read_bytes())
        return (
            f"The logbook was damaged and is set aside as {aside.name}; {backup.name} was restored. "
            "What was entered after that backup is missing."
        )
    return f"The logbook was damaged and is set aside as {aside.name}; there was no good backup, a new one was begun."


def _back_up(base: sqlite3.Connection, path: Path) -> None:
    have = backups(path)
    base.execute("begin immediate")
    try:
        # through SQLite: opening the file a second time and closing it would drop this process's locks
        now = base.serialize()
        if have and have[0].read_bytes() == now:
            return
        number = int(have[0].name.split(".")[1]) + 1 if have else 1
        part = path.with_name(f"{path.stem}.part")
        with part.open("wb") as file:
            file.write(now)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path.with_name(f"{path.stem}.{number}.backup"))
    finally:
        base.execute("rollback")
    for old in backups(path)[BACKUPS:]:
        old.unlink()
