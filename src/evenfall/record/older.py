"""Logbooks of earlier versions, read as entries: equal files give equal entries."""

from __future__ import annotations

import json
import re
import sqlite3
from typing import Any

from evenfall.record.entries import Entry
from evenfall.textfile import content_hash

OLDER = (1, 2)
"""Versions that are brought up to date. 1 had texts and flights; 2 added the air and the pack's volts to a flight."""


def older_entries(base: sqlite3.Connection, version: int) -> tuple[Entry, ...]:
    """Entries of a logbook of version 1 or 2; sqlite3.Error where it is damaged."""
    made: list[Entry] = []
    keys: dict[str, str] = {}
    dates = dict(base.execute("select plane, min(date) from flight group by plane").fetchall())
    dates.update(base.execute("select plan, min(date) from flight group by plan").fetchall())
    for old, kind, name, body in base.execute("select hash, kind, name, body from text order by hash"):
        keys[old] = content_hash(body)
        row = {"key": keys[old], "kind": kind, "name": name, "body": body}
        made.append(_entry(len(made) + 1, dates.get(old, ""), "text", row))
    later = "air, volts_before, volts_after" if version == 2 else "'{}', null, null"
    for token, date, place, notes, plane, plan, air, before, after in base.execute(
        f"select token, date, place, notes, plane, plan, {later} from flight order by id"
    ):
        volts = {"before": before, "after": after}
        flight: dict[str, Any] = {
            "token": token,
            "revision": 1,
            "name": "",
            "date": date,
            "place": place,
            "air": json.loads(air),
            "battery": {name: value for name, value in volts.items() if value is not None},
            "notes": notes,
            "document": "",
            "pieces": 0,
            "plane": keys.get(plane),
            "plan": keys.get(plan),
            "originals": [],
        }
        made.append(_entry(len(made) + 1, date, "flight", flight))
    return tuple(made)


def _entry(n: int, date: str, what: str, row: dict[str, Any]) -> Entry:
    """Old logbooks did not say when something was entered: its day stands for it, in order."""
    day = date[:10] if re.fullmatch(r"\d{4}-\d\d-\d\d", date[:10]) else "1970-01-01"
    return Entry(n=n, at=f"{day}T00:00:00.{n % 1_000_000:06d}Z", what=what, row=row)
