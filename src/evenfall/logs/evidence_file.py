"""Flight files: one flight with everything that was seen, `NAME.flight.toml`, or the same keys from a form."""

from __future__ import annotations

import datetime
import json
import math
import os
import re
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from evenfall.errors import Fault, FileFaults, InputError
from evenfall.logs.evidence_entries import AirSeen, BatterySeen, FlightRecord
from evenfall.logs.evidence_fields import EvidenceFields
from evenfall.logs.evidence_kinds import READERS, read_entries
from evenfall.logs.stamps import iso_seconds
from evenfall.plane.fields import Ledger
from evenfall.textfile import TomlText, parse_toml, read_toml, toml_string, write_new
from evenfall.toml_table import shown

FORMAT = 1
LONGEST_NOTE = 4000
DEEPEST = 8
"""Levels of lists and tables of a document."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_WHAT = "flight file"


def load_flight(path: str | os.PathLike[str]) -> FlightRecord:
    """Read a flight file; raises `FileFaults` with every fault at once."""
    return _read_text(read_toml(path, what=_WHAT))


def read_flight(text: str, *, path: str) -> FlightRecord:
    """The same for a text in hand; `path` is where its files lie beside, and is used in messages."""
    return _read_text(parse_toml(text, path=path, what=_WHAT))


def read_flight_document(document: Mapping[str, Any], *, name: str) -> FlightRecord:
    """A flight from plain data with the keys of the file, as a form sends them; what is None was not seen."""
    cleaned = _plain(document, name, 0)
    return _read(cleaned, path=name, lines={}, remarks=())


def _read_text(toml: TomlText) -> FlightRecord:
    return _read(_plain(toml.data, toml.path, 0), path=toml.path, lines=toml.lines, remarks=toml.notes)


def _plain(value: Any, name: str, depth: int) -> Any:
    """Plain data without what is None; dates become text."""
    if depth > DEEPEST:
        raise FileFaults(name, (Fault(where="", message="lists are nested too deeply; a flight needs three levels"),))
    if isinstance(value, Mapping):
        return {str(key): _plain(item, name, depth + 1) for key, item in value.items() if item is not None}
    if isinstance(value, list | tuple):
        return [_plain(item, name, depth + 1) for item in value]
    if isinstance(value, datetime.datetime | datetime.date):
        return value.isoformat()
    return value


def _read(data: dict[str, Any], *, path: str, lines: dict[str, int], remarks: tuple[str, ...]) -> FlightRecord:
    ledger = Ledger(lines=lines)
    top = EvidenceFields(data, "", ledger)
    top.integer("format", FORMAT, FORMAT, required=True)
    date = _date(top)
    place, plane, plan = (_words(top, key) for key in ("place", "plane", "plan"))
    notes = _note(top)
    signs = _signs(top)
    air, battery = _air(top), _battery(top)
    entries = read_entries(top)
    top.finish()
    ledger.raise_if_any(path)
    return FlightRecord(
        path=path,
        date=date,
        place=place,
        plane=plane,
        plan=plan,
        notes=notes,
        air=air,
        battery=battery,
        entries=entries,
        signs=signs,
        document=data,
        remarks=(*remarks, *ledger.notes),
    )


def _words(top: EvidenceFields, key: str) -> str:
    """A text that may be empty."""
    if top.data.get(key) == "":
        top.take(key)
        return ""
    return top.text(key) or ""


def _date(top: EvidenceFields) -> str:
    given = top.take("date")
    if given is None or given == "":
        return ""
    if not isinstance(given, str) or len(given) > 40 or math.isnan(iso_seconds(given)[0]):
        top.fault("date", f"must be a date such as 2026-05-17 or 2026-05-17T18:30, not {shown(given)}")
        return ""
    return given.strip()


def _note(top: EvidenceFields) -> str:
    given = top.take("notes")
    if given is None:
        return ""
    if not isinstance(given, str) or len(given) > LONGEST_NOTE:
        top.fault("notes", f"must be a text of at most {LONGEST_NOTE} characters, not {shown(given)}")
        return ""
    return given


def _signs(top: EvidenceFields) -> tuple[str, ...]:
    given = top.take("signs")
    if given is None:
        return ()
    if not isinstance(given, list) or len(given) > 20 or not all(isinstance(one, str) and one.strip() for one in given):
        top.fault("signs", f"must be a list of at most 20 signs in double quotes, not {shown(given)}")
        return ()
    return tuple(given)


def _air(top: EvidenceFields) -> AirSeen:
    table = top.table("air")
    if not isinstance(table, EvidenceFields):
        return AirSeen()
    return AirSeen(
        temperature=table.exact("temperature", "temperature", 233.15, 333.15),
        pressure=table.exact("pressure", "pressure", 4e4, 1.1e5),
        elevation=table.exact("elevation", "length", -500.0, 6000.0),
        wind=table.measured("wind", "speed", 0.0, 40.0, sigma=1.0),
    )


def _battery(top: EvidenceFields) -> BatterySeen:
    table = top.table("battery")
    if not isinstance(table, EvidenceFields):
        return BatterySeen()
    return BatterySeen(
        before=table.exact("before", "voltage", 0.5, 200.0),
        after=table.exact("after", "voltage", 0.5, 200.0),
        used=table.exact("used", "capacity", 0.0, 1e6),
    )


# --- writing ---------------------------------------------------------------------------------------------------------


def template_text() -> str:
    """The commented flight file."""
    return (files("evenfall") / "data" / "flight_template.toml").read_text(encoding="utf-8")


def write_template(path: str | os.PathLike[str]) -> None:
    """Write the commented flight file; one that is there already is left as it is, by an error."""
    try:
        write_new(path, template_text())
    except OSError as error:
        raise InputError(f"{os.fspath(path)}: cannot be written: {error.strerror or error}") from None


def flight_text(flight: FlightRecord | Mapping[str, Any]) -> str:
    """A flight as a file that reads back the same."""
    if isinstance(flight, FlightRecord):
        document, name = flight.document, flight.path
    else:
        document, name = flight, "flight"
    data = _plain(document, name, 0)
    rows = ["# A flight as Evenfall keeps it: what was seen, every number's key ending in its unit."]
    tables = {key: value for key, value in data.items() if _is_table(key, value)}
    rows += [f"{_key(key)} = {_value(value)}" for key, value in data.items() if key not in tables]
    for key, value in tables.items():
        for item in value if isinstance(value, list) else [value]:
            head = f"[[{_key(key)}]]" if isinstance(value, list) else f"[{_key(key)}]"
            rows += ["", head, *_table_rows(key, item)]
    return "\n".join(rows) + "\n"


def _is_table(key: str, value: Any) -> bool:
    return isinstance(value, dict) or (key in READERS and isinstance(value, list) and bool(value))


def _table_rows(name: str, table: dict[str, Any]) -> list[str]:
    lists = {"line"} if name == "recorded" else set()
    rows = [f"{_key(key)} = {_value(value)}" for key, value in table.items() if key not in lists]
    for key in lists & table.keys():
        for item in table[key]:
            rows += ["", f"[[{_key(name)}.{_key(key)}]]", *_table_rows(key, item)]
    return rows


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else json.dumps(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        inside = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, list):
        return f"[{', '.join(_value(item) for item in value)}]"
    if isinstance(value, str):
        return toml_string(value)
    return repr(value)
