"""Rows to entries and back: what is checked before it is entered, and how columns become what the logbook hands out."""

from __future__ import annotations

import datetime as dt
import json
import math
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from evenfall.errors import InputError
from evenfall.record.rows import FlightRow, LearnedRow, TextRow, listed

FLIGHT = (
    "select r.*, f.removed, e.line from revision r join flight f using (token) join entry e using (n)"
    " left join text t on t.key = r.plane"
)
"""Flights at every revision, with whether they are removed and the line of their entry."""


TEXT = "select key, kind, name, body, line from text join entry using (n)"
"""Texts with the line of their entry."""


def text_row(row: Sequence[Any]) -> TextRow:
    """A kept text from its columns as `TEXT` selects them."""
    key, kind, name, body, line = row
    return TextRow(key=key, kind=kind, name=name, body=body, at=entered(line))


def today() -> str:
    """Today's date, ISO 8601, where the pilot is."""
    return dt.date.today().isoformat()


def day(date: str | None) -> str:
    """A date as given, checked, or today's."""
    if date is None:
        return today()
    try:
        dt.datetime.fromisoformat(date)
    except ValueError:
        raise InputError(f"{date!r} is no date; write it as 2026-05-01, or with a time 2026-05-01T14:30") from None
    return date


def plain(row: Any) -> dict[str, Any]:
    """A row as plain JSON, checked."""
    said: dict[str, Any] = {name: listed(value) for name, value in asdict(row).items()}
    if "date" in said:
        day(said["date"])
    for name in ("air", "battery", "numbers"):
        for key, value in said.get(name, {}).items():
            if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
                raise InputError(f"{name} {key} must be a finite number, not {value!r}")
            said[name][key] = float(value)
    return said


def must_have(base: sqlite3.Connection, table: str, column: str, key: str | None, words: str) -> None:
    """Raise `InputError` with these words where a key is given and the table has it not."""
    if key is not None and not base.execute(f"select 1 from {table} where {column} = ?", (key,)).fetchone():
        raise InputError(words)


def row_of(line: str) -> dict[str, Any]:
    """What the entry of a line says."""
    row: dict[str, Any] = json.loads(line)["row"]
    return row


def entered(line: str) -> str:
    """When the entry of a line was entered."""
    return str(json.loads(line)["at"])


def learned_row(found: tuple[str, str, str, str]) -> LearnedRow:
    """Corrections from their columns: id, plane, plan, line of the entry."""
    _, plane, plan, line = found
    row = row_of(line)
    speeds: Mapping[str, Sequence[float]] = row["speeds"]
    return LearnedRow(
        id=row["id"],
        date=row["date"],
        plane=plane or row["plane"],
        plan=plan or row["plan"],
        plane_name=row["plane_name"],
        names=tuple(row["names"]),
        mean=tuple(row["mean"]),
        covariance=tuple(tuple(line) for line in row["covariance"]),
        flights=tuple(row["flights"]),
        speeds={name: (value, spread) for name, (value, spread) in speeds.items()},
        notes=tuple(row["notes"]),
        at=entered(line),
    )


def flight_row(row: Sequence[Any], came: Mapping[tuple[str, int], Sequence[str]]) -> FlightRow:
    """A flight from its columns as `FLIGHT` selects them; `came`: originals by token and revision."""
    token, revision, name, date, place, air, battery, notes, document, pieces, plane, plan, _, removed, line = row
    return FlightRow(
        token=token,
        revision=revision,
        name=name,
        date=date,
        place=place,
        air=json.loads(air),
        battery=json.loads(battery),
        notes=notes,
        document=document,
        pieces=pieces,
        plane=plane,
        plan=plan,
        originals=tuple(came.get((token, revision), ())),
        removed=bool(removed),
        at=entered(line),
    )
