"""The flights of a logbook as CSV: one row a piece of evidence, UTF-8 as in RFC 4180, keys as in the flight files."""

from __future__ import annotations

import csv
import io
import json
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from evenfall.record.csv_table import guarded
from evenfall.record.logbook import Logbook
from evenfall.record.rows import FlightRow

OF_FLIGHT = (
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
    "signs",
    "called",
)
"""Columns of a flight, the same in every row of it. `called`: name of its file or form."""
HEAD = (*OF_FLIGHT, "kind", "piece")
"""Columns of every row; those of the evidence follow, each key ending in its unit."""
AIR = {"temperature_k": "temperature", "pressure_pa": "pressure", "elevation_m": "elevation", "wind_m_s": "wind"}
BATTERY = {"battery_before_v": "before", "battery_after_v": "after", "battery_used_c": "used"}
OF_RECORD = ("name", "file", "columns")
"""Keys of a recorded flight itself; its others are of a line marked in it."""
LACKS = (
    "CSV holds the flights as they stand. It does not hold the files they came from, earlier revisions, corrections, "
    "changes, parts, what is proven, or the texts of planes and plans: for those export as .json."
)
"""What CSV cannot hold, in words."""


def exported_csv(book: Logbook) -> str:
    """All flights as they stand, those taken out included; a flight without evidence has one row."""
    texts = {row.key: row.name for row in book.texts()}
    rows = [row for flight in book.flights(removed=True) for row in rows_of(flight, texts)]
    keys = dict.fromkeys(key for row in rows for key in row if key not in HEAD)
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\r\n")
    names = [*HEAD, *sorted(keys)]
    writer.writerow([guarded(name) for name in names])
    for row in rows:
        cells = (row.get(name, "") for name in names)
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in cells])
    return made.getvalue()


def rows_of(flight: FlightRow, texts: Mapping[str, str]) -> Sequence[Mapping[str, str | int | float]]:
    """The rows of a flight, cells by column. `texts`: name of every kept plane and plan by its hash."""
    data = _data(flight.document)
    base: dict[str, str | int | float] = {
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
        "signs": _said(data["signs"]) if data.get("signs") else "",
        "called": flight.name,
        **{column: flight.air.get(name, "") for column, name in AIR.items()},
        **{column: flight.battery.get(name, "") for column, name in BATTERY.items()},
    }
    rows = []
    for kind, number, piece in _pieces(data):
        said = {f"{key}_" if key in HEAD else key: _said(value) for key, value in piece.items()}
        rows.append({**base, **said, "kind": kind, "piece": number})
    return rows or [base]


def _data(document: str) -> Mapping[str, Any]:
    try:
        return tomllib.loads(document)
    except (ValueError, RecursionError):
        return {}


def _pieces(data: Mapping[str, Any]) -> list[tuple[str, int, Mapping[str, Any]]]:
    """Kind, number and keys of every entry of a flight file, each line of a record by itself."""
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
