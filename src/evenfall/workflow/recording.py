"""Record: flight files entered into the logbook with the files they name, and a plane's season read back from it."""

from __future__ import annotations

import datetime as dt
import math
import os
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from evenfall.errors import FileFaults, InputError
from evenfall.logs.evidence_entries import Clicked, Entry, FlightRecord, PullSeen, Recorded, Rolls, Sound, Timed
from evenfall.logs.evidence_file import flight_text, load_flight, read_flight, read_flight_document
from evenfall.plane.files import PlaneFile
from evenfall.radio.planfile import load_plan
from evenfall.record import originals
from evenfall.record import parts as known
from evenfall.record.logbook import FOLDER, Logbook
from evenfall.record.parts import PARTS, Part
from evenfall.record.row_making import today
from evenfall.record.rows import ChangeRow, FlightRow, LearnedRow, Original, PartRow, ProvenRow, TextRow
from evenfall.textfile import read_toml
from evenfall.workflow.ready import plane_file
from evenfall.workflow.recorded_day import recorded_day

RECORDS = (".csv", ".txt", ".log", ".gpx", ".nmea")
"""Endings of recorded flights that may be entered without a flight file."""


@dataclass(frozen=True, kw_only=True)
class Entered:
    """A flight as it was entered. `new`: it was not in the logbook in this form before."""

    row: FlightRow
    new: bool


def add_flights(
    folder: Path,
    plane: str | os.PathLike[str],
    plan: str | os.PathLike[str],
    flights: Sequence[str | os.PathLike[str]],
) -> tuple[Entered, ...]:
    """Enter flight files (or recorded flights by themselves) into the logbook of a folder, with the files they name.

    A recorded flight by itself is of the day it holds, else of the day its file was last written. The file of a flight
    that is there already becomes its next revision. Raises `FileFaults` for files that cannot be
    used; then nothing is entered.
    """
    file = plane_file(plane)
    load_plan(plan, file.plane)
    read = [_read(Path(path)) for path in flights]
    with Logbook(folder) as book:
        plane_key = book.keep_text("plane", file.plane.name, read_toml(plane).text)
        plan_key = book.keep_text("plan", os.path.basename(os.fspath(plan)), read_toml(plan, what="plan file").text)
        there = {row.name: row for row in book.flights(file.plane.name, removed=True)}
        return tuple(
            _enter(book, record, text, there.get(Path(record.path).name), plane_key, plan_key) for record, text in read
        )


def _read(path: Path) -> tuple[FlightRecord, str]:
    if path.suffix.lower() in RECORDS and path.is_file():
        day = recorded_day(path) or dt.date.fromtimestamp(path.stat().st_mtime)
        document = {"format": 1, "date": day.isoformat(), "recorded": [{"file": path.name}]}
        record = read_flight_document(document, name=str(path))
        return record, flight_text(record)
    record = load_flight(path)
    if not record.date:
        raise InputError(f'{path}: the logbook needs the day; write date = "2026-05-17" at the top of the file')
    missing = [name for name in record.files if not _may_lack(record, name) and not (path.parent / name).is_file()]
    if missing:
        raise InputError(f"{path}: {', '.join(missing)} should lie beside it and does not; put it there")
    return record, read_toml(path, what="flight file").text


def _may_lack(record: FlightRecord, name: str) -> bool:
    """A video is only named, so that it need not be here."""
    return any(entry.file == name for entry in record.of(Clicked))


def _enter(book: Logbook, record: FlightRecord, text: str, before: FlightRow | None, plane: str, plan: str) -> Entered:
    path = Path(record.path)
    kept = [
        book.keep_original(name, path.parent / name).hash for name in record.files if (path.parent / name).is_file()
    ]
    row = flight_row(record, text, originals=kept, plane=plane, plan=plan)
    if before is None:
        token = book.save_flight(row)
        return Entered(row=book.flight(token), new=True)
    row = replace(row, token=before.token, revision=before.revision)
    same = replace(before, removed=False, at="") == row
    if not same:
        row = replace(row, revision=before.revision + 1)
        book.save_flight(row)
    if before.removed:
        book.restore_flight(before.token)
    return Entered(row=book.flight(before.token), new=not same)


def flight_row(
    record: FlightRecord, text: str, *, originals: Sequence[str], plane: str | None, plan: str | None
) -> FlightRow:
    """A flight as the logbook keeps it. `text`: of its file; `originals`: hashes of kept files; plane, plan: keys."""
    air = {name: getattr(record.air, name) for name in ("temperature", "pressure", "elevation")}
    if record.air.wind is not None:
        air["wind"] = record.air.wind.value
    battery = {name: getattr(record.battery, name) for name in ("before", "after", "used")}
    return FlightRow(
        name=Path(record.path).name,
        date=record.date,
        place=record.place,
        air={name: float(value) for name, value in air.items() if value is not None},
        battery={name: float(value) for name, value in battery.items() if value is not None},
        notes=record.notes,
        document=text,
        plane=plane,
        plan=plan,
        originals=tuple(originals),
        pieces=sum(max(len(getattr(entry, "parts", ())), 1) for entry in record.entries),
    )


def record_of(book: Logbook, row: FlightRow) -> FlightRecord:
    """A kept flight read again, its files under the names they are kept by in `originals_folder`.

    Raises `FileFaults` where its text cannot be read by this version.
    """
    record = read_flight(row.document, path=row.name or row.token)
    found = {item.hash: item for item in book.originals()}
    kept = [found[key] for key in row.originals if key in found]
    names = {item.name: item for item in kept}
    here = [name for name in record.files if not _may_lack(record, name)]
    if len(here) == len(kept):
        names = {**dict(zip(here, kept, strict=True)), **names}
    entries = []
    for entry in record.entries:
        if isinstance(entry, Recorded | Sound) and entry.file in names:
            item = names[entry.file]
            entry = replace(entry, file=f"{item.hash}{originals.ending_of(item.name)}", called=entry.file)
        entries.append(entry)
    return replace(record, entries=tuple(entries))


def originals_folder(book: Logbook) -> Path:
    """Where kept files lie."""
    return book.folder / originals.FOLDER


# --- the season ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class SeasonFlight:
    """A flight of the season.

    Args:
        plan: its plan's text; None where not known. seen: kind of entry to how many. signs: of the diagnosis.
        originals: files it came from. tests: tests of `evenfall.record.parts` that it shows to be done.
    """

    row: FlightRow
    plan: TextRow | None
    seen: Mapping[str, int] = field(default_factory=dict)
    signs: tuple[str, ...] = ()
    originals: tuple[Original, ...] = ()
    tests: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class DoneAgain:
    """A test done again. `date`: when; `noted`: said by the pilot, else a flight of that day shows it."""

    test: str
    date: str
    noted: bool


@dataclass(frozen=True, kw_only=True)
class SeasonPart:
    """A replaced part: what it is, the tests not done again since, and those that were, in the part's order."""

    row: PartRow
    part: Part
    open: tuple[str, ...]
    done: tuple[DoneAgain, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Season:
    """A plane's season, each list oldest first. `wanted`: m/s, None where the file gives it by the stick."""

    plane: str
    note: str
    wanted: float | None
    flights: tuple[SeasonFlight, ...]
    parts: tuple[SeasonPart, ...]
    changes: tuple[ChangeRow, ...]
    learned: tuple[LearnedRow, ...]
    proven: tuple[ProvenRow, ...]
    plans: Mapping[str, TextRow]


def season(book: Logbook, plane: PlaneFile) -> Season:
    """What happened to a plane, found by its name over all versions of its file."""
    name = plane.plane.name
    texts = {text.key: text for text in book.texts()}
    kept = {item.hash: item for item in book.originals()}
    flights = tuple(_season_flight(row, texts, kept) for row in book.flights(name, removed=True))
    changes = book.changes(name)
    used = {flight.row.plan for flight in flights}
    used |= {key for change in changes for key in (change.from_plan, change.to_plan)}
    return Season(
        plane=name,
        note=book.note,
        wanted=plane.plane.wanted.speed,
        flights=flights,
        parts=tuple(_season_part(row, flights) for row in book.parts(name) if row.part in PARTS),
        changes=changes,
        learned=book.learned_rows(name),
        proven=tuple(row for row in book.proven_rows() if row.plan in used or _for(texts[row.plan], name)),
        plans={key: texts[key] for key in used if key in texts},
    )


def season_flight(book: Logbook, row: FlightRow) -> SeasonFlight:
    """One flight as the season has it."""
    texts, kept = {text.key: text for text in book.texts()}, {item.hash: item for item in book.originals()}
    return _season_flight(row, texts, kept)


def _for(plan: TextRow, plane: str) -> bool:
    """A plan's text names the plane it was made for."""
    return f'\nplane = "{plane}"' in f"\n{plan.body}"


def _season_flight(row: FlightRow, texts: Mapping[str, TextRow], kept: Mapping[str, Original]) -> SeasonFlight:
    base = SeasonFlight(
        row=row,
        plan=texts.get(row.plan or ""),
        originals=tuple(kept[key] for key in row.originals if key in kept),
    )
    if not row.document:
        return base
    try:
        record = read_flight(row.document, path=row.name or row.token)
    except (FileFaults, InputError):
        return base
    seen = Counter(entry.where.partition(".")[0] for entry in record.entries)
    return replace(base, seen=dict(seen), signs=record.signs, tests=_shown(record))


def _shown(record: FlightRecord) -> frozenset[str]:
    """Tests that a flight shows to be done."""
    found = {known.LEVEL} if record.entries else set()
    for entry in record.entries:
        if isinstance(entry, Rolls):
            found.add(known.ROLLS)
        for slope, inside in _lines(entry):
            if slope < math.radians(-75):
                found |= {known.DOWN, known.DIAGONAL}
            elif slope < math.radians(-30):
                found.add(known.DIAGONAL)
            if isinstance(entry, PullSeen) and not inside:
                found.add(known.STRAIGHT)
    if record.battery.before is not None and record.battery.after is not None:
        found.add(known.VOLTS)
    return frozenset(found)


def _lines(entry: Entry) -> list[tuple[float, bool]]:
    """Slopes an entry was flown at, and whether crow was on."""
    if isinstance(entry, Recorded):
        return [(part.flown.slope, part.flown.crow) for part in entry.parts]
    if isinstance(entry, Timed | Clicked | Sound | PullSeen):
        return [(entry.flown.slope, entry.flown.crow)]
    return []


def _season_part(row: PartRow, flights: Sequence[SeasonFlight]) -> SeasonPart:
    part = PARTS[row.part]
    done = {test: DoneAgain(test=test, date=date, noted=True) for test, date in row.redone}
    for flight in flights:
        if not flight.row.removed and flight.row.date[:10] > row.date[:10]:
            for test in flight.tests:
                done.setdefault(test, DoneAgain(test=test, date=flight.row.date, noted=False))
    return SeasonPart(
        row=row,
        part=part,
        open=tuple(test for test in part.voids if test not in done),
        done=tuple(done[test] for test in part.voids if test in done),
    )


def has_logbook(folder: Path) -> bool:
    """A logbook was begun in this folder."""
    return (folder / FOLDER).is_dir()


# --- what is entered by hand ----------------------------------------------------------------------------------------


def enter_part(book: Logbook, plane: PlaneFile, part: str, *, note: str, date: str | None, entry: str = "") -> str:
    """Enter a replaced part, `servo:upper_left` for one of an aileron, of a day or today; the entry's id, `entry` where
    given."""
    key, corner = part_named(plane, part)
    row = PartRow(id=entry, date=date or today(), plane_name=plane.plane.name, part=key, corner=corner, note=note)
    return book.add_part(row)


def part_named(plane: PlaneFile, part: str) -> tuple[str, str]:
    """Kind and corner of a part as it is written; `InputError` where the plane has no such part."""
    key, _, corner = part.partition(":")
    corners = [
        f"{name}_{side}" for name, wing in plane.plane.wings.items() if wing.aileron for side in ("left", "right")
    ]
    if key not in PARTS:
        raise InputError(f"{key!r} is no part we know; there are {', '.join(PARTS)}")
    if PARTS[key].one_corner and corners and corner not in corners:
        ways = ", ".join(f"{key}:{name}" for name in corners)
        raise InputError(f"say which aileron: {ways}")
    if corner and not PARTS[key].one_corner:
        raise InputError(f"{key} sits on no single aileron; write {key} alone")
    return key, corner


def note_test(
    book: Logbook, plane: PlaneFile, part: str, test: str, *, date: str | None = None, undo: bool = False
) -> str:
    """Note that a test voided by the newest such part was done again, named by its first words, or take that back; the
    test's name."""
    key, _, corner = part.partition(":")
    mine = [item for item in season(book, plane).parts if item.row.part == key and corner in ("", item.row.corner)]
    if not mine:
        raise InputError(f"no {part} was entered for this plane; `evenfall log part` enters one")
    last = mine[-1]
    found = [name for name in last.part.voids if name.startswith(test)]
    if len(found) != 1:
        raise InputError(f"{test!r} names no one test; there are {', '.join(last.part.voids)}")
    (book.note_open if undo else book.note_redone)(last.row.id, found[0], date=date)
    return found[0]


def flight_named(book: Logbook, first: str) -> FlightRow:
    """The flight whose token begins so; `InputError` where none or several do."""
    found = [row for row in book.flights(removed=True) if row.token.startswith(first)]
    if len(found) != 1:
        many = f"{len(found)} flights of the logbook begin" if found else "no flight of the logbook begins"
        raise InputError(f"{many} with {first!r}; `evenfall log list` shows them")
    return found[0]


def enter_change(
    book: Logbook,
    plane: PlaneFile,
    what: str,
    *,
    why: str = "",
    plan: str | os.PathLike[str] | None = None,
    check: str = "",
    date: str | None = None,
) -> str:
    """Enter a change, after which `plan` is flown; the entry's id. The plan flown last stands for the one before."""
    key = None if plan is None else _kept_plan(book, plane, plan)
    flown = [row.plan for row in book.flights(plane.plane.name) if row.plan is not None]
    return book.add_change(
        ChangeRow(
            date=date or today(),
            plane_name=plane.plane.name,
            what=what,
            why=why,
            from_plan=flown[-1] if flown else None,
            to_plan=key,
            check=check,
        )
    )


def enter_effect(book: Logbook, plane: PlaneFile, words: str, *, date: str | None = None) -> ChangeRow:
    """Enter what the last change of a plane did; the change."""
    changes = book.changes(plane.plane.name)
    if not changes:
        raise InputError("no change of this plane is in the logbook; `evenfall log change` enters one")
    book.note_effect(changes[-1].id, words, date=date)
    return changes[-1]


def enter_proven(
    book: Logbook, plane: PlaneFile, plan: str | os.PathLike[str], *, why: str, date: str | None = None
) -> str:
    """Mark a plan file as proven; its content hash."""
    key = _kept_plan(book, plane, plan)
    book.mark_proven(key, why, date=date)
    return key


def _kept_plan(book: Logbook, plane: PlaneFile, plan: str | os.PathLike[str]) -> str:
    load_plan(plan, plane.plane)
    return book.keep_text("plan", os.path.basename(os.fspath(plan)), read_toml(plan, what="plan file").text)
