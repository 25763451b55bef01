"""A recorded flight of any kind that is read: what kind a file is, and its track with the columns as the pilot names
them."""

from __future__ import annotations

import codecs
import re
from collections.abc import Callable, Iterable
from collections.abc import Mapping as Table
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from evenfall.errors import Fault, FileFaults, InputError
from evenfall.logs.csv_log import Mapping, guess, read_csv, unit_of, units_of
from evenfall.logs.gpx import read_gpx
from evenfall.logs.nmea import read_nmea, sentence
from evenfall.logs.track import QUANTITIES, Track
from evenfall.toml_table import nearest, shown

RecordKind = Literal["csv", "gpx", "nmea"]
FileKind = Literal["csv", "gpx", "nmea", "wav", "other"]
NOTHING = "nothing"
"""What a column holds that is not read."""
HOLDS = (NOTHING, "time", "date", *QUANTITIES)
"""What a column may hold."""
_HEAD = 8192


def kind_of_file(path: Path) -> FileKind:
    """What a file is by its first bytes; "csv" for any text with numbers in columns."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError as error:
        raise InputError(f"{path.name}: cannot be opened ({error.strerror}); check the name") from None
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        return "wav"
    wide = head[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    text = head.decode("utf-16" if wide else "utf-8", "replace").lstrip("\ufeff \r\n\t")
    if re.search(r"<([A-Za-z0-9]+:)?gpx[\s>]", text):
        return "gpx"
    lines = text.splitlines()
    if any(sentence(line) is not None for line in lines[:20]):
        return "nmea"
    if "\0" in text or len(lines) < 2:
        return "other"
    return "csv" if sum(bool(re.search(r"\d.*[,;\t|]", line)) for line in lines) * 2 >= len(lines) - 2 else "other"


def remapped(mapping: Mapping, columns: Table[str, str], *, name: str) -> Mapping:
    """The layout with columns as the pilot names them: column to "height" or "height ft"; the unit as guessed where
    none is named. A guessed column that another takes the place of is not read."""
    faults = []
    found = {column.name: column for column in mapping.columns}
    changed: dict[str, tuple[str | None, str]] = {}
    for title, what in columns.items():
        quantity, _, unit = " ".join(what.split()).lower().partition(" ")
        quantity = quantity or NOTHING
        if title not in found:
            faults.append(Fault(where=f"columns.{title}", message=f"there is no such column{_near(title, found)}"))
        elif quantity not in HOLDS:
            words = f"{shown(quantity)} is not read; choose one of {', '.join(HOLDS)}{_near(quantity, HOLDS)}"
            faults.append(Fault(where=f"columns.{title}", message=words))
        elif unit and unit not in units_of(quantity):
            words = f"unit {shown(unit)} is not known; choose one of {', '.join(units_of(quantity))}"
            faults.append(Fault(where=f"columns.{title}", message=words))
        else:
            changed[title] = (None if quantity == NOTHING else quantity, unit)
    if faults:
        raise FileFaults(name, tuple(faults))
    taken = {quantity for quantity, _ in changed.values() if quantity is not None}
    made = []
    for column in mapping.columns:
        if column.name in changed:
            held, unit = changed[column.name]
            unit = unit or (unit_of(column, held) if held is not None else "")
            made.append(replace(column, quantity=held, unit=unit))
        elif column.quantity in taken:
            made.append(replace(column, quantity=None, unit=""))
        else:
            made.append(column)
    return replace(mapping, columns=tuple(made))


def _near(given: str, known: Iterable[str]) -> str:
    near = nearest(given, known)
    return f"; did you mean {near}?" if near else ""


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A recording as read: `mapping` is the layout of a CSV file, None for the others."""

    kind: RecordKind
    mapping: Mapping | None
    track: Track


def layout_of(path: Path, columns: Table[str, str]) -> Mapping | None:
    """Layout of a table with its columns as the pilot names them, whether or not they can be read so; None for what
    is no table."""
    return remapped(guess(path), columns, name=path.name) if kind_of_file(path) == "csv" else None


def open_recording(
    path: Path, *, columns: Table[str, str] | None = None, progress: Callable[[float], None] | None = None
) -> Opened:
    """Read a recorded flight; raises `InputError` or `FileFaults` where it cannot be.

    Args:
        columns: what columns of a CSV file hold where the guess is wrong, see `remapped`.
        progress: called with the share read of a CSV file, 0 to 1.
    """
    kind = kind_of_file(path)
    if kind == "gpx":
        return Opened(kind=kind, mapping=None, track=read_gpx(path))
    if kind == "nmea":
        return Opened(kind=kind, mapping=None, track=read_nmea(path))
    if kind == "wav":
        raise InputError(f"{path.name}: is a sound; a recorded flight is CSV, GPX or NMEA")
    mapping = remapped(guess(path), columns or {}, name=path.name)
    return Opened(kind="csv", mapping=mapping, track=read_csv(path, mapping=mapping, progress=progress))
