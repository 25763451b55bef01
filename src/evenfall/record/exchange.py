"""The logbook as JSON text and back; what is already there is not entered twice."""

from __future__ import annotations

import json

from evenfall.errors import InputError
from evenfall.record.logbook import Logbook, hash_of

FLIGHT = {"token": str, "date": str, "place": str, "notes": str, "air": str}
TEXT = {"hash": str, "kind": str, "name": str, "body": str}


def exported(book: Logbook) -> str:
    """Everything in the logbook as JSON text."""
    flights = [{name: value for name, value in row.items() if name != "id"} for row in book.flights()]
    return json.dumps({"version": 1, "texts": book.texts(), "flights": flights}, indent=1, sort_keys=True) + "\n"


def faults_of(body: str) -> tuple[str, ...]:
    """Every fault of an exported text, in words; empty where it can be taken in."""
    try:
        data = json.loads(body)
    except ValueError as error:
        return (f"not JSON: {error}",)
    if not isinstance(data, dict) or data.get("version") != 1:
        return ("not an exported logbook of version 1",)
    faults = []
    for part, wanted in (("texts", TEXT), ("flights", FLIGHT)):
        rows = data.get(part)
        if not isinstance(rows, list):
            faults.append(f"{part} is missing or no list")
            continue
        for number, row in enumerate(rows, 1):
            if not isinstance(row, dict):
                faults.append(f"{part} {number} is no table")
                continue
            bad = [f"{part} {number}: {name} must be text" for name in wanted if not isinstance(row.get(name), str)]
            if part == "texts" and not bad and hash_of(row["body"].encode()) != row["hash"]:
                bad.append(f"texts {number}: the text does not match its hash")
            faults += bad
    return tuple(faults)


def take_in(book: Logbook, body: str) -> None:
    """Merge an exported text into the logbook; InputError names every fault and nothing is entered."""
    if faults := faults_of(body):
        raise InputError("; ".join(faults))
    data = json.loads(body)
    for row in data["texts"]:
        book.keep_text(row["kind"], row["name"], row["body"])
    for row in data["flights"]:
        book.add_flight(**{**row, "air": json.loads(row["air"])})
