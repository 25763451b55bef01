"""The file behind the record of changes: made, checked, and set aside where it is damaged."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from evenfall.errors import InputError
from evenfall.textfile import numbered_backup

VERSION = 1
"""Of the tables below."""
_PATIENCE_S = 10.0
"""How long another process may hold the folder."""

_TABLES = """
create table file (
    name text primary key,
    revision integer not null,
    position integer not null,
    text text,
    tuned text
) without rowid;
create table step (
    id integer primary key,
    file text not null references file (name),
    number integer not null,
    words text not null,
    made text not null,
    token text,
    before text,
    after text,
    unique (file, number)
);
create table intent (
    file text primary key references file (name),
    kind text not null check (kind in ('step', 'undo', 'redo')),
    words text not null,
    made text not null,
    token text,
    before text,
    after text
);
create table token (
    id integer primary key,
    token text not null unique,
    file text not null references file (name),
    revision integer not null,
    words text not null
);
"""


def record(path: Path) -> tuple[sqlite3.Connection, str]:
    """The record in a file, made where there is none, and a note; a damaged one is set aside under a number.

    Raises `InputError` for one that a newer Evenfall wrote, `sqlite3.OperationalError` where the file cannot be used.
    """
    if path.is_symlink():
        raise InputError(f"{path} is a link; take it away")
    base = _connect(path)
    try:
        _settings(base)
        version = base.execute("pragma user_version").fetchone()[0]
        if version > VERSION:
            raise InputError(f"{path} was written by a newer Evenfall; update, or move it away")
        if version == VERSION:
            _check(base)
        elif base.execute("select count(*) from sqlite_master").fetchone()[0]:
            raise sqlite3.DatabaseError("not ours")
        else:
            _begin(base)
        return base, ""
    except InputError:
        base.close()
        raise
    except sqlite3.DatabaseError as error:
        base.close()
        if isinstance(error, sqlite3.OperationalError) and _is_passing(error):
            raise
    aside = numbered_backup(path)
    path.with_name(f"{path.name}-journal").unlink(missing_ok=True)
    base = _connect(path)
    _settings(base)
    _begin(base)
    kept = f"{path.parent.name}/{aside.name}"
    return base, f"The record of changes was damaged and is kept as {kept}; undo begins anew."


def passing_record() -> sqlite3.Connection:
    """A record that lasts as long as the program."""
    base = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    _settings(base)
    _begin(base)
    return base


def gate(path: Path) -> sqlite3.Connection:
    """The file whose lock one process at a time holds; it stays empty, so a damaged one is simply made anew."""
    if path.is_symlink() or (path.exists() and path.stat().st_size):
        path.unlink()
    return _connect(path)


def reason(error: Exception) -> str:
    """What is wrong, in words."""
    words = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return {"attempt to write a readonly database": "it may not be written"}.get(words, words[:1].lower() + words[1:])


def _check(base: sqlite3.Connection) -> None:
    """Raise `sqlite3.DatabaseError` where the file is not sound."""
    if base.execute("pragma integrity_check(1)").fetchone()[0] != "ok":
        raise sqlite3.DatabaseError("damaged")
    if base.execute("pragma foreign_key_check").fetchone() is not None:
        raise sqlite3.DatabaseError("damaged")
    for table in ("file", "step", "intent", "token"):
        base.execute(f"select * from {table} where 0").fetchone()


def _connect(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, timeout=_PATIENCE_S, isolation_level=None, check_same_thread=False)


def _settings(base: sqlite3.Connection) -> None:
    base.execute("pragma foreign_keys = on")
    base.execute("pragma synchronous = full")
    base.execute("pragma journal_mode = truncate").fetchone()


def _begin(base: sqlite3.Connection) -> None:
    base.execute("begin immediate")
    for statement in _TABLES.split(";"):
        base.execute(statement)
    base.execute(f"pragma user_version = {VERSION}")
    base.execute("commit")


def _is_passing(error: sqlite3.OperationalError) -> bool:
    """The file cannot be used now, which says nothing against what it holds."""
    return any(part in str(error) for part in ("locked", "readonly", "unable to open", "full", "I/O"))
