"""Flights of a CSV file taken into a logbook: twice is once, nothing is overwritten, planes and plans are found."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from evenfall.errors import Fault, InputError
from evenfall.logs.evidence_entries import Clicked
from evenfall.logs.evidence_file import flight_text
from evenfall.plane.files import parse_plane
from evenfall.plane.starter import OTHER_ENDINGS
from evenfall.record import csv_table
from evenfall.record.csv_flights import CsvFlight, Named, read_csv
from evenfall.record.exchange import TakenIn
from evenfall.record.exchange_csv import rows_of
from evenfall.record.logbook import Logbook
from evenfall.record.row_making import plain
from evenfall.record.rows import FlightRow, TextKind
from evenfall.textfile import content_hash, read_toml
from evenfall.workflow.recording import flight_row

_ENDINGS = {"plane": ".toml", "plan": ".plan.toml"}


@dataclass(frozen=True, kw_only=True)
class _Text:
    """A plane or plan that rows may name."""

    kind: TextKind
    key: str
    name: str
    body: str


def take_in_csv(book: Logbook, folder: Path, path: Path) -> TakenIn:
    """Take the flights of a CSV file into the logbook of a folder.

    Planes and plans are those of the logbook, else files of the folder; files that evidence came from are taken from
    beside the CSV file, else from the logbook. Raises `FileFaults` with every fault; then nothing is entered.
    """
    try:
        if path.stat().st_size > csv_table.LARGEST:
            raise InputError(f"{path} is larger than {csv_table.LARGEST / 1e6:.0f} MB; divide it into several files")
        body = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror or error}") from None
    flights = read_csv(body, path=str(path))
    texts = _texts(book, folder)
    chosen, faults = {}, []
    for flight in flights:
        pair: dict[str, _Text | None] = {"plane": None, "plan": None}
        for kind, named in (("plane", flight.plane), ("plan", flight.plan)):
            try:
                pair[kind] = _find(texts, kind, named, folder)
            except InputError as error:
                column = f"{kind}_hash" if named.hash else kind
                faults.append(Fault(where=column, line=flight.line, message=str(error)))
        chosen[flight.token] = pair["plane"], pair["plan"]
    csv_table.refuse(str(path), faults)
    names = {text.key: text.name for text in texts}
    rows: list[tuple[FlightRow, bool]] = []
    conflicts: list[str] = []
    missing: dict[str, None] = {}
    already = 0
    for flight in flights:
        plane, plan = chosen[flight.token]
        row = replace(
            flight_row(
                flight.record,
                flight_text(flight.record),
                originals=(),
                plane=None if plane is None else plane.key,
                plan=None if plan is None else plan.key,
            ),
            token=flight.token,
            revision=flight.revision,
            name=flight.called,
            air=flight.air,
            battery=flight.battery,
        )
        history = book.history(flight.token)
        if any(_said(one, names) == _said(row, names) for one in history):
            already += 1
            if history[-1].removed != flight.removed:
                conflicts.append(_removed(flight))
        elif history and flight.revision <= history[-1].revision:
            conflicts.append(_conflict(flight, history[-1].revision))
        else:
            kept, gone = _originals(book, path.parent, flight)
            missing.update(dict.fromkeys(gone))
            rows.append((replace(row, originals=kept), flight.removed))
    counted = _enter(book, rows, [text for pair in chosen.values() for text in pair if text is not None])
    return TakenIn(entered=counted, already=already, conflicts=tuple(conflicts), missing=tuple(missing))


def _enter(book: Logbook, rows: Sequence[tuple[FlightRow, bool]], texts: Sequence[_Text]) -> dict[str, int]:
    """Enter flights with the texts they need, all or nothing; how many of each kind."""
    used = {key for row, _ in rows for key in (row.plane, row.plan)}
    counted: dict[str, int] = {}

    def decide(base: sqlite3.Connection) -> Sequence[tuple[str, Mapping[str, object]]]:
        items: list[tuple[str, Mapping[str, object]]] = []
        for text in {text.key: text for text in texts if text.key in used}.values():
            if not base.execute("select 1 from text where key = ?", (text.key,)).fetchone():
                items.append(("text", {"key": text.key, "kind": text.kind, "name": text.name, "body": text.body}))
        for row, removed in rows:
            have = base.execute(
                "select max(revision), removed from revision join flight using (token) where token = ?", (row.token,)
            ).fetchone()
            if have[0] is not None and have[0] >= row.revision:
                raise InputError(f"flight {row.token[:12]} was entered by another program just now; import once more")
            items.append(
                ("flight", {name: value for name, value in plain(row).items() if name not in ("removed", "at")})
            )
            if bool(have[1]) != removed:
                items.append(("removed", {"token": row.token, "removed": removed}))
        for what, _ in items:
            counted[what] = counted.get(what, 0) + 1
        return items

    book.enter(decide)
    return counted


def _said(row: FlightRow, names: Mapping[str, str]) -> list[dict[str, object]]:
    """What CSV says of a flight, whatever its revision and line ends."""
    return [
        {
            key: cell.replace("\r\n", "\n") if isinstance(cell, str) else cell
            for key, cell in one.items()
            if key not in ("revision", "removed") and cell != ""
        }
        for one in rows_of(row, names)
    ]


def _conflict(flight: CsvFlight, last: int) -> str:
    return (
        f"line {flight.line}, flight {flight.token[:12]} of {flight.record.date[:10]}: the logbook holds another one "
        f"as revision {last}; it was left out. To enter it as the next one write {last + 1} under revision"
    )


def _removed(flight: CsvFlight) -> str:
    state = "is taken out in the file and not here" if flight.removed else "is taken out here and not in the file"
    return f"line {flight.line}, flight {flight.token[:12]}: {state}; it stays so (`evenfall log remove` changes it)"


def _originals(book: Logbook, beside: Path, flight: CsvFlight) -> tuple[tuple[str, ...], list[str]]:
    """Hashes of the files a flight names, kept now, and names of those that are nowhere."""
    kept, gone = [], []
    before = {key for row in book.history(flight.token) for key in row.originals}
    here = {item.name: item.hash for item in sorted(book.originals(), key=lambda item: item.hash in before)}
    only_named = {entry.file for entry in flight.record.of(Clicked)}
    for name in flight.record.files:
        if name not in here and (beside / name).is_file():
            here[name] = book.keep_original(name, beside / name).hash
        if name in here:
            kept.append(here[name])
        elif name not in only_named:
            gone.append(name)
    return tuple(kept), gone


def _texts(book: Logbook, folder: Path) -> tuple[_Text, ...]:
    """Planes and plans of the logbook, then those of the folder it lacks."""
    found = {row.key: _Text(kind=row.kind, key=row.key, name=row.name, body=row.body) for row in book.texts()}
    for path in sorted(folder.glob("*.toml")):
        if path.name.endswith(OTHER_ENDINGS):
            continue
        try:
            body = read_toml(path).text
            if path.name.endswith(_ENDINGS["plan"]):
                kind, name = "plan", path.name
            else:
                kind, name = "plane", parse_plane(body, path=str(path)).plane.name
        except (InputError, OSError):
            continue
        key = content_hash(body)
        if key not in found:
            found[key] = _Text(kind="plane" if kind == "plane" else "plan", key=key, name=name, body=body)
    return tuple(found.values())


def _find(texts: Sequence[_Text], kind: str, named: Named, folder: Path) -> _Text | None:
    """The plane or plan a row names, None where it names none; `InputError` says what to do where there is no such."""
    of_kind = [text for text in texts if text.kind == kind]
    called = [text for text in of_kind if text.name == named.name]
    if named.hash:
        found = next((text for text in of_kind if text.key == named.hash), None)
        if found is None:
            raise InputError(_none_such(kind, named, folder, other=bool(called)))
        if named.name and found.name != named.name:
            raise InputError(
                f"{named.hash[:12]} is {found.name}, and the row says {named.name} under {kind}; empty one of the two"
            )
        return found
    if not named.name:
        return None
    if not called:
        raise InputError(_none_such(kind, named, folder, other=False))
    if len(called) > 1:
        hashes = ", ".join(text.key for text in called)
        raise InputError(f"there are {len(called)} versions of {named.name}; write one under {kind}_hash: {hashes}")
    return called[0]


def _none_such(kind: str, named: Named, folder: Path, *, other: bool) -> str:
    what = named.name or f"the {kind} {named.hash[:12]}"
    where = f"is neither in the logbook nor in {os.fspath(folder) or '.'}"
    if other:
        return (
            f"this version of {what} ({named.hash[:12]}) {where}, only another one; put the {kind} file as it was "
            f"flown there, or import the .json first, or empty {kind}_hash to take the version that is there"
        )
    return f"{what} {where}; put its {kind} file (*{_ENDINGS[kind]}) there, or import the .json first"
