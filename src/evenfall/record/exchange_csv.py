"""The flights of a logbook as CSV: one row a piece of evidence, UTF-8 as in RFC 4180, keys as in the flight files."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections.abc import Mapping
from typing import Any

from evenfall.record.logbook import Logbook

HEAD = (
    "flight",
    "revision",
    "date",
    "place",
    "removed",
    "plane",
    "plane_hash",
    "plan",
    "plan_hash",
    "temperature_k",
    "pressure_pa",
    "elevation_m",
    "wind_m_s",
    "battery_before_v",
    "battery_after_v",
    "battery_used_c",
    "notes",
    "kind",
    "piece",
)
"""Columns of every row; those of the evidence follow, each key ending in its unit."""
_AIR = {"temperature_k": "temperature", "pressure_pa": "pressure", "elevation_m": "elevation", "wind_m_s": "wind"}
_BATTERY = {"battery_before_v": "before", "battery_after_v": "after", "battery_used_c": "used"}


def exported_csv(book: Logbook) -> str:
    """All flights as they stand, those taken out included; a flight without evidence has one row."""
    texts = {row.key: row.name for row in book.texts()}
    rows: list[dict[str, Any]] = []
    keys: dict[str, None] = {}
    for flight in book.flights(removed=True):
        base = {
            "flight": flight.token,
            "revision": flight.revision,
            "date": flight.date,
            "place": flight.place,
            "removed": _said(flight.removed),
            "plane": texts.get(flight.plane or "", ""),
            "plane_hash": flight.plane or "",
            "plan": texts.get(flight.plan or "", ""),
            "plan_hash": flight.plan or "",
            "notes": flight.notes,
            **{column: flight.air.get(name, "") for column, name in _AIR.items()},
            **{column: flight.battery.get(name, "") for column, name in _BATTERY.items()},
        }
        pieces = _pieces(flight.document)
        for kind, number, piece in pieces:
            said = {f"{key}_" if key in HEAD else key: _said(value) for key, value in piece.items()}
            keys.update(dict.fromkeys(said))
            rows.append({**base, **said, "kind": kind, "piece": number})
        if not pieces:
            rows.append(base)
    made = io.StringIO()
    writer = csv.DictWriter(made, fieldnames=[*HEAD, *sorted(keys)], restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return made.getvalue()


def _pieces(document: str) -> list[tuple[str, int, Mapping[str, Any]]]:
    """Kind, number and keys of every entry of a flight file, each line of a record by itself."""
    try:
        data = tomllib.loads(document)
    except ValueError:
        return []
    found: list[tuple[str, int, Mapping[str, Any]]] = []
    for kind, entries in data.items():
        if not isinstance(entries, list):
            continue
        tables = [entry for entry in entries if isinstance(entry, dict)]
        flat = []
        for table in tables:
            lines = [line for line in table.get("line", []) if isinstance(line, dict)] if kind == "recorded" else []
            flat += [{**{k: v for k, v in table.items() if k != "line"}, **line} for line in lines] or [table]
        found += [(kind, number, table) for number, table in enumerate(flat, 1)]
    return found


def _said(value: Any) -> str | int | float:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float | str):
        return value
    return json.dumps(value, ensure_ascii=False, default=str)
