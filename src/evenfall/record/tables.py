"""The tables of the logbook, made from its entries alone, so that equal entries give equal tables."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from typing import Any

from evenfall.record.entries import VERSION, Entry, Row, canonical

APPLICATION = 0x45764C62
"""Marks the database as a logbook of ours."""

TABLES = (
    "create table entry (n integer primary key, line text not null) strict",
    "create table text (key text primary key, kind text not null check (kind in ('plane', 'plan')), name text not null,"
    " body text not null, n integer not null references entry (n)) strict",
    "create table original (hash text primary key, name text not null, size integer not null, ending text not null,"
    " kept integer not null, n integer not null references entry (n)) strict",
    "create table flight (token text primary key, removed integer not null) strict",
    "create table revision (token text not null references flight (token), revision integer not null,"
    " name text not null, date text not null, place text not null, air text not null, battery text not null,"
    " notes text not null, document text not null, pieces integer not null, plane text references text (key),"
    " plan text references text (key), n integer not null references entry (n), primary key (token, revision)) strict",
    "create table came_from (token text not null, revision integer not null, place integer not null,"
    " original text not null references original (hash), primary key (token, revision, place),"
    " foreign key (token, revision) references revision (token, revision)) strict",
    "create table learned (id text primary key, date text not null, plane text references text (key),"
    " plan text references text (key), plane_name text not null, body text not null,"
    " n integer not null references entry (n)) strict",
    "create table learned_from (learned text not null references learned (id), place integer not null,"
    " token text not null references flight (token), primary key (learned, place)) strict",
    "create table change (id text primary key, date text not null, plane_name text not null, what text not null,"
    " why text not null, from_plan text references text (key), to_plan text references text (key),"
    " expected text not null, to_check text not null, numbers text not null,"
    " n integer not null references entry (n)) strict",
    "create table effect (n integer primary key references entry (n), change text not null references change (id),"
    " date text not null, words text not null) strict",
    "create table part (id text primary key, date text not null, plane_name text not null, part text not null,"
    " corner text not null, note text not null, n integer not null references entry (n)) strict",
    "create table redone (n integer primary key references entry (n), part text not null references part (id),"
    " test text not null, date text not null) strict",
    "create table proven (n integer primary key references entry (n), plan text not null references text (key),"
    " date text not null, why text not null) strict",
)
NAMES = tuple(statement.split()[2] for statement in TABLES)
"""Names of the tables."""


def make(base: sqlite3.Connection) -> None:
    """Make the tables in an empty database."""
    for statement in TABLES:
        base.execute(statement)
    base.execute(f"pragma application_id = {APPLICATION}")
    base.execute(f"pragma user_version = {VERSION}")


def built(entries: Iterable[Entry]) -> sqlite3.Connection:
    """A database in memory made from entries, in the order of their numbers."""
    base = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    try:
        base.execute("pragma foreign_keys = on")
        make(base)
        base.execute("begin")
        for entry in sorted(entries, key=lambda item: item.n):
            apply(base, entry)
        base.execute("commit")
    except BaseException:
        base.close()
        raise
    return base


def apply(base: sqlite3.Connection, entry: Entry) -> None:
    """Enter one entry into the tables. What it refers to and is not there is left empty, or the row left out: that
    happens only where earlier entries were lost."""
    base.execute("insert into entry values (?, ?)", (entry.n, entry.line))
    act = KINDS.get(entry.what)
    if act is not None:
        act(base, entry.n, entry.row)


def _known(base: sqlite3.Connection, table: str, column: str, value: Any) -> Any:
    """The value where the table has it, else None."""
    found = base.execute(f"select 1 from {table} where {column} = ?", (value,)).fetchone()
    return value if found else None


def _text(base: sqlite3.Connection, n: int, row: Row) -> None:
    said = (row["key"], row["kind"], row["name"], row["body"], n)
    base.execute("insert or ignore into text values (?, ?, ?, ?, ?)", said)


def _original(base: sqlite3.Connection, n: int, row: Row) -> None:
    said = (row["hash"], row["name"], row["size"], row["ending"], int(row["kept"]), n)
    base.execute(
        "insert into original values (?, ?, ?, ?, ?, ?) on conflict (hash) do update set"
        " kept = max(kept, excluded.kept), ending = case when excluded.kept then excluded.ending else ending end",
        said,
    )


def _flight(base: sqlite3.Connection, n: int, row: Row) -> None:
    token, revision = row["token"], row["revision"]
    base.execute("insert or ignore into flight values (?, 0)", (token,))
    if base.execute("select 1 from revision where token = ? and revision = ?", (token, revision)).fetchone():
        last = base.execute("select max(revision) from revision where token = ?", (token,)).fetchone()
        revision = last[0] + 1
    words = (row["name"], row["date"], row["place"], canonical(row["air"]), canonical(row["battery"]), row["notes"])
    kept = (_known(base, "text", "key", row["plane"]), _known(base, "text", "key", row["plan"]))
    base.execute(
        f"insert into revision values ({', '.join('?' * 13)})",
        (token, revision, *words, row["document"], row["pieces"], *kept, n),
    )
    for place, original in enumerate(row["originals"]):
        if _known(base, "original", "hash", original):
            base.execute("insert into came_from values (?, ?, ?, ?)", (token, revision, place, original))


def _removed(base: sqlite3.Connection, n: int, row: Row) -> None:
    base.execute("update flight set removed = ? where token = ?", (int(row["removed"]), row["token"]))


def _learned(base: sqlite3.Connection, n: int, row: Row) -> None:
    body = {name: row[name] for name in ("names", "mean", "covariance", "speeds", "notes")}
    kept = (_known(base, "text", "key", row["plane"]), _known(base, "text", "key", row["plan"]))
    said = (row["id"], row["date"], *kept, row["plane_name"], canonical(body), n)
    if base.execute("insert or ignore into learned values (?, ?, ?, ?, ?, ?, ?)", said).rowcount:
        for place, token in enumerate(row["flights"]):
            if _known(base, "flight", "token", token):
                base.execute("insert into learned_from values (?, ?, ?)", (row["id"], place, token))


def _change(base: sqlite3.Connection, n: int, row: Row) -> None:
    plans = (_known(base, "text", "key", row["from_plan"]), _known(base, "text", "key", row["to_plan"]))
    said = (row["id"], row["date"], row["plane_name"], row["what"], row["why"], *plans, row["expected"], row["check"])
    base.execute(f"insert or ignore into change values ({', '.join('?' * 11)})", (*said, canonical(row["numbers"]), n))


def _effect(base: sqlite3.Connection, n: int, row: Row) -> None:
    if _known(base, "change", "id", row["change"]):
        base.execute("insert into effect values (?, ?, ?, ?)", (n, row["change"], row["date"], row["words"]))


def _part(base: sqlite3.Connection, n: int, row: Row) -> None:
    said = (row["id"], row["date"], row["plane_name"], row["part"], row["corner"], row["note"], n)
    base.execute("insert or ignore into part values (?, ?, ?, ?, ?, ?, ?)", said)


def _redone(base: sqlite3.Connection, n: int, row: Row) -> None:
    if _known(base, "part", "id", row["part"]):
        base.execute("insert into redone values (?, ?, ?, ?)", (n, row["part"], row["test"], row["date"]))


def _reopened(base: sqlite3.Connection, n: int, row: Row) -> None:
    base.execute("delete from redone where part = ? and test = ?", (row["part"], row["test"]))


def _proven(base: sqlite3.Connection, n: int, row: Row) -> None:
    if _known(base, "text", "key", row["plan"]):
        base.execute("insert into proven values (?, ?, ?, ?)", (n, row["plan"], row["date"], row["why"]))


KINDS: dict[str, Callable[[sqlite3.Connection, int, Row], None]] = {
    "text": _text,
    "original": _original,
    "flight": _flight,
    "removed": _removed,
    "learned": _learned,
    "change": _change,
    "effect": _effect,
    "part": _part,
    "redone": _redone,
    "reopened": _reopened,
    "proven": _proven,
}
"""Kinds of entries and what each does to the tables."""


def dump(base: sqlite3.Connection) -> list[Any]:
    """Everything in the database: the tables as declared, then every row of each."""
    declared = base.execute("select type, name, tbl_name, sql from sqlite_master order by type, name").fetchall()
    return [declared, *(base.execute(f"select * from {name} order by rowid").fetchall() for name in NAMES)]
