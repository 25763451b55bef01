"""What a record of an exported logbook may hold: every field of every kind, checked before anything is entered."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from evenfall.record.parts import PARTS
from evenfall.textfile import content_hash
from evenfall.toml_table import shown

Check = Callable[[Any], str]
"""Says what is wrong with a value, empty where nothing."""

LONGEST = 5_000_000
"""Characters of the longest text."""
_HEX = re.compile(r"[0-9a-f]{64}")
_AT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z")


def _text(longest: int = LONGEST, *, empty: bool = True) -> Check:
    def check(value: Any) -> str:
        if not isinstance(value, str) or len(value) > longest or not (value or empty):
            return f"must be a text of {0 if empty else 1} to {longest} characters, not {shown(value)}"
        return "" if _encodes(value) else "holds half a character; write it again"

    return check


def _encodes(value: str) -> bool:
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return True


def _matching(pattern: re.Pattern[str], what: str) -> Check:
    def check(value: Any) -> str:
        good = isinstance(value, str) and pattern.fullmatch(value) is not None
        return "" if good else f"must be {what}, not {shown(value)}"

    return check


def _day(value: Any) -> str:
    try:
        dt.datetime.fromisoformat(value)
    except (TypeError, ValueError):
        return f"must be a date such as 2026-05-17, not {shown(value)}"
    return ""


def _moment(value: Any) -> str:
    wrong = _matching(_AT, "a moment such as 2026-05-17T18:30:00.000000Z")(value)
    return wrong or _day(value)


def _whole(low: int, high: int) -> Check:
    def check(value: Any) -> str:
        good = isinstance(value, int) and not isinstance(value, bool) and low <= value <= high
        return "" if good else f"must be a whole number from {low} to {high}, not {shown(value)}"

    return check


def _number(value: Any) -> str:
    good = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e300
    return "" if good and math.isfinite(value) else f"must be a finite number, not {shown(value)}"


def _yes(value: Any) -> str:
    return "" if isinstance(value, bool) else f"must be true or false, not {shown(value)}"


def _one_of(*words: str) -> Check:
    def check(value: Any) -> str:
        good = isinstance(value, str) and value in words
        return "" if good else f"must be one of {', '.join(words)}, not {shown(value)}"

    return check


def _or_null(inner: Check) -> Check:
    return lambda value: "" if value is None else inner(value)


def _list(inner: Check, longest: int = 10_000) -> Check:
    def check(value: Any) -> str:
        if not isinstance(value, list) or len(value) > longest:
            return f"must be a list of at most {longest}, not {shown(value)}"
        return next((f"[{place}] {wrong}" for place, item in enumerate(value) if (wrong := inner(item))), "")

    return check


def _table(inner: Check) -> Check:
    def check(value: Any) -> str:
        if not isinstance(value, dict) or len(value) > 1000:
            return f"must be a table, not {shown(value)}"
        name = _text(200, empty=False)
        for key, item in value.items():
            if wrong := name(key) or inner(item):
                return f"{shown(key)} {wrong}"
        return ""

    return check


def _pair(value: Any) -> str:
    return _list(_number)(value) or ("" if len(value) == 2 else "must be two numbers: value and spread")


KEY = _matching(_HEX, "a hash of 64 hexadecimal digits")
NAME = _matching(re.compile(r"[A-Za-z0-9_.:-]{1,100}"), "1 to 100 letters, digits and _ . : -")

FIELDS: Mapping[str, Mapping[str, Check]] = {
    "text": {"key": KEY, "kind": _one_of("plane", "plan"), "name": _text(1000), "body": _text()},
    "original": {
        "hash": KEY,
        "name": _text(1000),
        "size": _whole(0, 2**53),
        "ending": _matching(re.compile(r"|\.[a-z0-9]{1,8}"), "an ending such as .csv"),
        "kept": _yes,
    },
    "flight": {
        "token": NAME,
        "revision": _whole(1, 10**9),
        "name": _text(1000),
        "date": _day,
        "place": _text(10_000),
        "air": _table(_number),
        "battery": _table(_number),
        "notes": _text(),
        "document": _text(),
        "pieces": _whole(0, 10**9),
        "plane": _or_null(KEY),
        "plan": _or_null(KEY),
        "originals": _list(KEY),
    },
    "removed": {"token": NAME, "removed": _yes},
    "learned": {
        "id": NAME,
        "date": _day,
        "plane": KEY,
        "plan": KEY,
        "plane_name": _text(1000),
        "names": _list(_text(200, empty=False), 1000),
        "mean": _list(_number, 1000),
        "covariance": _list(_list(_number, 1000), 1000),
        "flights": _list(NAME),
        "speeds": _table(_pair),
        "notes": _list(_text()),
    },
    "change": {
        "id": NAME,
        "date": _day,
        "plane_name": _text(1000),
        "what": _text(),
        "why": _text(),
        "from_plan": _or_null(KEY),
        "to_plan": _or_null(KEY),
        "expected": _text(),
        "check": _text(),
        "numbers": _table(_number),
    },
    "effect": {"change": NAME, "date": _day, "words": _text()},
    "part": {
        "id": NAME,
        "date": _day,
        "plane_name": _text(1000),
        "part": _one_of(*PARTS),
        "corner": _text(100),
        "note": _text(),
    },
    "redone": {"part": NAME, "test": _text(1000), "date": _day},
    "reopened": {"part": NAME, "test": _text(1000), "date": _day},
    "proven": {"plan": KEY, "date": _day, "why": _text()},
}
"""Kinds of records and their fields; every field is there, null only where a check allows it."""


def faults_in(record: Any) -> Iterator[tuple[str, str]]:
    """Every (field, fault) of one record: its kind, when it was entered, and its row."""
    if not isinstance(record, dict):
        yield "", f"must be a table, not {shown(record)}"
        return
    for name in record.keys() - {"what", "at", "row"}:
        yield str(name)[:60], "is not known here; known are what, at, row"
    if wrong := _moment(record.get("at")):
        yield "at", wrong
    kind, row = record.get("what"), record.get("row")
    if not isinstance(kind, str) or kind not in FIELDS:
        yield "what", f"must be one of {', '.join(FIELDS)}, not {shown(kind)}"
        return
    if not isinstance(row, dict):
        yield "row", f"must be a table, not {shown(row)}"
        return
    fields = FIELDS[kind]
    for name, check in fields.items():
        if name not in row:
            yield f"row.{name}", "is missing"
        elif wrong := check(row[name]):
            yield f"row.{name}", wrong
    for name in row.keys() - fields.keys():
        yield f"row.{str(name)[:60]}", f"is not known in a {kind}; known are {', '.join(fields)}"
    yield from _together(kind, row)


def _together(kind: str, row: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Fields that must agree with each other."""
    try:
        if kind == "text" and content_hash(row["body"]) != row["key"]:
            yield "row.body", "does not match its key: it was changed after it was written"
        if kind == "learned":
            many = len(row["names"])
            if len(row["mean"]) != many or [len(line) for line in row["covariance"]] != [many] * many:
                yield "row.covariance", f"and mean must fit the {many} names"
    except (KeyError, TypeError, AttributeError, UnicodeEncodeError):
        return


def identity(kind: str, at: str, row: Mapping[str, Any]) -> tuple[Any, ...]:
    """What makes an entry the same one in another logbook."""
    match kind:
        case "text":
            return (kind, row["key"])
        case "original":
            return (kind, row["hash"])
        case "flight":
            return (kind, row["token"], row["revision"])
        case "learned" | "change" | "part":
            return (kind, row["id"])
        case _:
            return (kind, at, *(row[name] for name in FIELDS[kind]))
