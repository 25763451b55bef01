"""The logbook as one JSON file, and such a file taken into another logbook.

The file is a table with `format` "evenfall logbook", `version` 1, `records` in the order they were entered, each with
`what` (its kind), `at` (when, UTC) and `row` (the fields of `evenfall.record.exchange_rows.FIELDS`, in SI units), and
`files`: hash to base64 of the kept originals, empty where they lie in a folder beside it.
Taking in twice enters nothing twice. Nothing is overwritten: what contradicts the logbook is named and left out.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import shutil
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from evenfall.errors import Fault, FileFaults, InputError
from evenfall.record import originals
from evenfall.record.entries import Row, read_line, write_whole
from evenfall.record.exchange_csv import exported_csv
from evenfall.record.exchange_rows import FIELDS, faults_in, identity
from evenfall.record.logbook import Logbook
from evenfall.toml_table import shown

FORMAT = "evenfall logbook"
VERSION = 1
LARGEST = 1_000_000_000
"""Bytes of the largest file that is taken in."""
INSIDE = 200_000_000
"""Bytes of originals up to which they go inside the file."""
_MAX_FAULTS = 200

Record = Mapping[str, Any]
Where = Literal["inside", "beside", "none"]
"""Where kept originals go: into the file, into a folder beside it, nowhere."""


@dataclass(frozen=True, kw_only=True)
class TakenIn:
    """What taking in a file did.

    Args:
        entered: kind to number of records entered. already: records that were there before.
        conflicts: what contradicts the logbook and was left out, in words.
        missing: names of kept originals that did not come along.
    """

    entered: Mapping[str, int]
    already: int
    conflicts: tuple[str, ...]
    missing: tuple[str, ...]


def folder_of(path: Path) -> Path:
    """Where originals lie beside an exported file."""
    return path.with_name(f"{path.stem}.originals")


def exported(book: Logbook, *, inside: bool = True) -> str:
    """Everything in the logbook as JSON text; equal logbooks give equal text.

    Raises `InputError` where a kept original is damaged, or where they are too large to go inside.
    """
    records, files = [], {}
    for line in book.entries():
        entry = read_line(line)
        if entry is not None:
            records.append({"what": entry.what, "at": entry.at, "row": entry.row})
    if inside:
        kept = [item for item in book.originals() if item.path is not None]
        total = sum(item.size for item in kept)
        if total > INSIDE:
            raise InputError(
                f"the kept files have {total / 1e6:.0f} MB, more than the {INSIDE / 1e6:.0f} MB that go into one file; "
                "leave them beside it"
            )
        for item in kept:
            path = book.original(item.hash).path
            assert path is not None
            files[item.hash] = base64.b64encode(path.read_bytes()).decode()
    document = {"format": FORMAT, "version": VERSION, "records": records, "files": files}
    return json.dumps(document, indent=1, ensure_ascii=False, sort_keys=True, allow_nan=False) + "\n"


def write_export(book: Logbook, path: Path, *, where: Where = "inside") -> None:
    """Write the logbook to a file, whole or not at all; `InputError` where the disk refuses."""
    body = exported(book, inside=where == "inside").encode()
    try:
        if where == "beside":
            beside = folder_of(path)
            beside.mkdir(exist_ok=True)
            for item in book.originals():
                if item.path is not None:
                    kept = book.original(item.hash).path
                    assert kept is not None
                    shutil.copyfile(kept, beside / kept.name)
        write_whole(path, body)
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror or error}") from None


def write_csv(book: Logbook, path: Path) -> None:
    """Write the flights of a logbook as CSV, whole or not at all; `InputError` where the disk refuses."""
    try:
        write_whole(path, exported_csv(book).encode())
    except OSError as error:
        raise InputError(f"{path}: cannot be written: {error.strerror or error}") from None


def read_export(body: bytes, *, path: str) -> tuple[tuple[Record, ...], dict[str, bytes]]:
    """Records and files of an exported logbook; raises `FileFaults` with every fault at once."""
    faults: list[Fault] = []
    document = _document(body, path)
    records = document["records"]
    good: list[Record] = []
    seen: dict[tuple[Any, ...], Record] = {}
    for place, record in enumerate(records):
        found = [Fault(where=f"records.{place}.{name}".rstrip("."), message=words) for name, words in faults_in(record)]
        if not found:
            key = identity(record["what"], record["at"], record["row"])
            if key in seen and seen[key]["row"] != record["row"]:
                found.append(Fault(where=f"records.{place}", message="contradicts an earlier record of the same name"))
            seen.setdefault(key, record)
            good.append(record)
        faults += found
    files, wrong = _files(document.get("files", {}), good, all_known=not faults)
    faults += wrong
    if len(faults) > _MAX_FAULTS:
        more = Fault(where="", message=f"and {len(faults) - _MAX_FAULTS} faults more")
        faults = [*faults[:_MAX_FAULTS], more]
    if faults:
        raise FileFaults(path, tuple(faults))
    return tuple(good), files


def _document(body: bytes, path: str) -> dict[str, Any]:
    def fail(words: str, where: str = "") -> FileFaults:
        return FileFaults(path, (Fault(where=where, message=words),))

    if len(body) > LARGEST:
        raise fail(f"is larger than {LARGEST / 1e6:.0f} MB; export it with the originals beside it")
    try:
        document = json.loads(body.decode("utf-8-sig"), parse_constant=_refuse)
    except UnicodeDecodeError as error:
        raise fail(f"is not UTF-8 text (byte {error.start}); it was damaged or is another kind of file") from None
    except RecursionError:
        raise fail("is nested too deeply; it is no exported logbook") from None
    except json.JSONDecodeError as error:
        raise fail(f"line {error.lineno}: {error.msg}; the file is no JSON or was cut short") from None
    except ValueError as error:
        raise fail(f"{error}; the file is no exported logbook") from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise fail(f'is no exported logbook: format = "{FORMAT}" is missing')
    if document.get("version") != VERSION:
        raise fail(
            f"is {shown(document.get('version'))}, this Evenfall reads {VERSION}; use a newer one", where="version"
        )
    if not isinstance(document.get("records"), list):
        raise fail("must be a list", where="records")
    return document


def _refuse(word: str) -> Any:
    raise ValueError(f"holds {word}, which is no number")


def _files(given: Any, records: Sequence[Record], *, all_known: bool) -> tuple[dict[str, bytes], list[Fault]]:
    if not isinstance(given, dict):
        return {}, [Fault(where="files", message="must be a table of hash to base64")]
    wanted = {record["row"]["hash"] for record in records if record["what"] == "original" and record["row"]["kept"]}
    files: dict[str, bytes] = {}
    faults = []
    for key, text in given.items():
        try:
            if not isinstance(text, str):
                raise ValueError
            made = base64.b64decode(text, validate=True)
        except (ValueError, binascii.Error):
            faults.append(Fault(where=f"files.{key[:12]}", message="is no base64 text"))
            continue
        if hashlib.sha256(made).hexdigest() != key:
            faults.append(Fault(where=f"files.{key[:12]}", message="does not match its hash: it was damaged"))
        elif all_known and key not in wanted:
            faults.append(Fault(where=f"files.{key[:12]}", message="belongs to no record"))
        files[key] = made
    return files, faults


def take_in(book: Logbook, path: Path) -> TakenIn:
    """Take an exported file into a logbook. Raises `FileFaults` with every fault; then nothing is entered."""
    try:
        if path.stat().st_size > LARGEST:
            raise InputError(f"{path} is larger than {LARGEST / 1e6:.0f} MB; export it with the originals beside it")
        body = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path} cannot be read: {error.strerror or error}") from None
    records, files = read_export(body, path=str(path))
    _must_refer(book, records, str(path))
    missing = _kept_files(book, records, files, folder_of(path))
    counted: dict[str, int] = {}
    conflicts: list[str] = []
    already = 0

    def decide(base: sqlite3.Connection) -> list[tuple[str, Row, str]]:
        nonlocal already
        there = _there(base)
        items: list[tuple[str, Row, str]] = []
        broken: set[str] = set()
        for record in records:
            kind, row = record["what"], record["row"]
            key = identity(kind, record["at"], row)
            if kind == "flight" and row["token"] in broken:
                continue
            if key in there:
                if _same(kind, there[key], row):
                    already += 1
                    continue
                if kind != "original":
                    conflicts.append(_conflict(kind, row))
                    if kind == "flight":
                        broken.add(row["token"])
                    continue
            if kind == "removed" and _overtaken(there, record["at"], row):
                already += 1
                continue
            there[key] = row
            items.append((kind, row, record["at"]))
            counted[kind] = counted.get(kind, 0) + 1
        return items

    book.enter(decide)
    return TakenIn(entered=counted, already=already, conflicts=tuple(conflicts), missing=missing)


def _there(base: sqlite3.Connection) -> dict[tuple[Any, ...], Row]:
    found: dict[tuple[Any, ...], Row] = {}
    for (line,) in base.execute("select line from entry order by n"):
        entry = read_line(line)
        if entry is not None and entry.what in FIELDS:
            found[identity(entry.what, entry.at, entry.row)] = entry.row
    return found


def _same(kind: str, mine: Row, theirs: Row) -> bool:
    if kind == "text":
        return True  # the key is the hash of the body; another name for it is no contradiction
    if kind == "original":
        return bool(mine["kept"] or not theirs["kept"])  # else it comes along now
    return mine == theirs


def _overtaken(there: Iterable[tuple[Any, ...]], at: str, row: Row) -> bool:
    """The logbook says something later about whether this flight is taken out."""
    return any(key[0] == "removed" and key[2] == row["token"] and key[1] > at for key in there)


def _conflict(kind: str, row: Row) -> str:
    if kind == "flight":
        return (
            f"flight {row['token'][:12]} of {row['date'][:10]}, revision {row['revision']}: the logbook holds "
            "another one under this name; it and what follows it was left out"
        )
    return f"{kind} {str(row['id'])[:12]}: the logbook holds another one under this name; it was left out"


def _must_refer(book: Logbook, records: Sequence[Record], path: str) -> None:
    """Raise where a record names what is neither in the file nor in the logbook."""
    brought: dict[str, set[str]] = {kind: set() for kind in FIELDS}
    for record in records:
        names = {"text": "key", "original": "hash", "flight": "token", "change": "id", "part": "id"}
        if (name := names.get(record["what"])) is not None:
            brought[record["what"]].add(record["row"][name])
    texts = {row.key for row in book.texts()} | brought["text"]
    kept = {row.hash for row in book.originals()} | brought["original"]
    flights = {row.token for row in book.flights(removed=True)} | brought["flight"]
    changes = {row.id for row in book.changes()} | brought["change"]
    parts = {row.id for row in book.parts()} | brought["part"]
    known = {
        "plane": texts,
        "plan": texts,
        "from_plan": texts,
        "to_plan": texts,
        "originals": kept,
        "flights": flights,
        "token": flights,
        "change": changes,
    }
    faults = []
    for place, record in enumerate(records):
        for name in FIELDS[record["what"]]:
            among = parts if name == "part" and record["what"] in ("redone", "reopened") else known.get(name)
            if among is None:
                continue
            value = record["row"][name]
            given = value if isinstance(value, list) else [value]
            faults += [
                Fault(where=f"records.{place}.row.{name}", message=f"{str(item)[:12]} is neither in the file nor here")
                for item in given
                if item is not None and item not in among
            ]
    if faults:
        raise FileFaults(path, tuple(faults[:_MAX_FAULTS]))


def _kept_files(book: Logbook, records: Sequence[Record], files: Mapping[str, bytes], beside: Path) -> tuple[str, ...]:
    """Put the originals that came along into the logbook's folder; names of those that did not."""
    missing = []
    for record in records:
        row = record["row"]
        if record["what"] != "original" or not row["kept"]:
            continue
        key, ending = row["hash"], row["ending"]
        if originals.sound(originals.path_of(book.folder, key, ending), key):
            continue
        lying = beside / f"{key}{ending}"
        if key in files:
            originals.put(book.folder, f"original{ending}", files[key])
        elif originals.sound(lying, key):
            originals.put(book.folder, f"original{ending}", lying)
        else:
            missing.append(row["name"])
    return tuple(missing)
