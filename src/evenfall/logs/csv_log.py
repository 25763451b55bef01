"""Recorded flights as CSV of any columns: layout and meaning guessed as data, to confirm or change, then read.

`guess` looks at the first rows only; `read_csv` streams the file with a bounded number of rows kept.
"""

from __future__ import annotations

import codecs
import csv
import io
import math
import re
from array import array
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from evenfall.errors import Fault, FileFaults, InputError
from evenfall.logs.stamps import clock_seconds, iso_seconds
from evenfall.logs.track import QUANTITIES, Track, cleaned

HEAD = 65536
"""Bytes looked at to guess the layout."""
ROWS = 400_000
"""Most rows kept; a longer record is thinned evenly, and that is said."""
WIDTH = 65536
"""Most characters of one line."""

_UNITS: dict[str, dict[str, float]] = {
    "angle": {"deg": math.radians(1), "°": math.radians(1), "rad": 1.0, "1e-7deg": math.radians(1e-7)},
    "length": {"m": 1.0, "ft": 0.3048, "km": 1000.0, "cm": 0.01, "mm": 0.001},
    "speed": {"m/s": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6, "kn": 1852 / 3600, "kt": 1852 / 3600,
              "kts": 1852 / 3600, "mph": 0.44704, "ft/s": 0.3048, "ft/min": 0.00508, "cm/s": 0.01},
    "rpm": {"rpm": 1.0, "1/min": 1.0, "u/min": 1.0, "krpm": 1000.0, "1/s": 60.0, "hz": 60.0},
    "share": {"-": 1.0, "1": 1.0, "%": 0.01},
    "volt": {"v": 1.0, "mv": 0.001},
    "ampere": {"a": 1.0, "ma": 0.001},
    "time": {"s": 1.0, "sec": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "min": 60.0, "clock": 1.0, "iso": 1.0,
             "epoch": 1.0, "epoch ms": 1e-3},
    "date": {"iso": 1.0},
}  # fmt: skip

_KIND = {
    "time": "time", "date": "date", "latitude": "angle", "longitude": "angle", "x": "length", "y": "length",
    "height": "length", "ground_speed": "speed", "vertical_speed": "speed", "rpm": "rpm", "throttle": "share",
    "voltage": "volt", "current": "ampere",
}  # fmt: skip

_WORDS: tuple[tuple[str, str], ...] = (
    ("latitude", r"\b(lat|latitude|breite|breitengrad)\b"),
    ("longitude", r"\b(lon|lng|long|longitude|länge|laenge|längengrad|laengengrad)\b"),
    ("vertical_speed", r"vertical|vspeed|vspd|\b(vario|climb|sink|steigen|steigrate|sinkrate|vz)\b"),
    ("height", r"\b(alt|altitude|height|höhe|hoehe|ele|elevation|z)\b"),
    ("ground_speed", r"\b(speed|gspd|gs|sog|velocity|geschwindigkeit|tempo|v)\b"),
    ("rpm", r"\b(rpm|drehzahl|revs|revolutions|umdrehungen)\b"),
    ("throttle", r"\b(throttle|thr|thro|gas|knüppel)\b"),
    ("voltage", r"\b(voltage|volt|volts|spannung|vbat|batt|battery|akku)\b"),
    ("current", r"\b(current|curr|strom|amps|ampere)\b"),
    ("date", r"^(date|datum|tag)$"),
    ("time", r"time|zeit|\b(t|date|stamp|sec|seconds|sekunden|ms|uhr)\b"),
    ("x", r"^(x|east|ost)\b"),
    ("y", r"^(y|north|nord)\b"),
)


@dataclass(frozen=True, kw_only=True)
class Column:
    """What one column means. `index` from 0; `quantity` is "time", "date", one of `track.QUANTITIES`, or None (not
    read); `unit` as in the words of the fault for a wrong one; `sample` is the first value, to show."""

    index: int
    name: str
    quantity: str | None
    unit: str = ""
    sample: str = ""


@dataclass(frozen=True, kw_only=True)
class Mapping:
    """Layout of a file and meaning of its columns: plain data to confirm, change (`dataclasses.replace`) or keep.

    `skip` lines stand before the first row of numbers. `zone`: hours a clock without zone is ahead of UTC."""

    columns: tuple[Column, ...]
    delimiter: str
    decimal_comma: bool
    encoding: str
    skip: int
    zone: float = 0.0
    doubts: tuple[str, ...] = ()


def _encoding(head: bytes, name: str) -> str:
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if b"\0" in head:
        raise InputError(f"{name}: holds bytes of zero and is not text; export the record as CSV")
    try:
        codecs.getincrementaldecoder("utf-8")().decode(head)
        return "utf-8-sig"
    except UnicodeDecodeError:
        return "cp1252"


def _number(text: str, comma: bool) -> float:
    text = text.strip()
    try:
        return float(text.replace(",", ".") if comma else text)
    except ValueError:
        return math.nan


def _is_value(text: str) -> bool:
    if not text.strip():
        return False
    stamped = not math.isnan(clock_seconds(text)) or not math.isnan(iso_seconds(text)[0])
    return stamped or not math.isnan(_number(text, True))


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
    except csv.Error:
        return []


def _delimiter(lines: list[str]) -> str:
    body = lines[1:] or lines
    best, score = ",", 0.0
    for sign in (";", "\t", "|", ","):
        counts = Counter(line.count(sign) for line in body)
        count, often = counts.most_common(1)[0]
        if count and often / len(body) * (1.5 if sign != "," else 1.0) > score:
            best, score = sign, often / len(body) * (1.5 if sign != "," else 1.0)
    return best


def guess(path: Path) -> Mapping:
    """Layout and columns of a file, from names, units and the first values; doubts are said in words."""
    try:
        with path.open("rb") as file:
            head = file.read(HEAD)
    except OSError as error:
        raise InputError(f"{path.name}: cannot be opened ({error.strerror}); check the name") from None
    encoding = _encoding(head, path.name)
    text = codecs.getincrementaldecoder(encoding)("replace").decode(head)
    whole = text.splitlines()
    lines = [line for line in (whole[:-1] if len(head) == HEAD else whole) if line.strip()][:200]
    if len(lines) < 3:
        raise InputError(f"{path.name}: has {len(lines)} lines; a record needs at least 3 rows of numbers")
    delimiter = _delimiter(lines)
    rows = [_cells(line, delimiter) for line in lines]
    width = Counter(len(row) for row in rows).most_common(1)[0][0]
    valued = [len(r) == width and any(map(_is_value, r)) and sum(map(_is_value, r)) * 2 >= sum(map(bool, r))
              for r in rows]  # fmt: skip
    if not any(valued):
        raise InputError(f"{path.name}: no rows of numbers in the first {len(lines)} lines; export the record as CSV")
    first = valued.index(True)
    names = rows[first - 1] if first and len(rows[first - 1]) == width else [f"column {i + 1}" for i in range(width)]
    body = [row for row, good in zip(rows, valued, strict=True) if good]
    flat = [cell for row in body for cell in row]
    comma = delimiter != "," and sum(bool(re.fullmatch(r"-?\d*,\d+", c)) for c in flat) > sum(
        bool(re.fullmatch(r"-?\d*\.\d+", c)) for c in flat
    )
    columns: list[Column] = []
    doubts: list[str] = []
    for index, name in enumerate(names):
        samples = [row[index] for row in body if row[index]]
        column = _meaning(index, name, samples, comma)
        if column.quantity and column.quantity in {c.quantity for c in columns}:
            doubts.append(f"{name} looks like {column.quantity} too; the first such column is read")
            column = Column(index=index, name=name, quantity=None, sample=column.sample)
        columns.append(column)
    if not any(c.quantity == "time" for c in columns):
        doubts.append("no column looks like the time")
    skip = 0
    for number, line in enumerate(whole):
        if line == lines[first]:
            skip = number
            break
    return Mapping(columns=tuple(columns), delimiter=delimiter, decimal_comma=comma, encoding=encoding, skip=skip,
                   doubts=tuple(doubts))  # fmt: skip


def _meaning(index: int, name: str, samples: list[str], comma: bool, named: str | None = None) -> Column:
    sample = samples[0] if samples else ""
    found = re.search(r"[\[(]([^\])]*)[\])]", name)
    unit = found.group(1).strip().lower() if found else ""
    plain = re.sub(r"[\[(].*", "", name).lower().replace("_", " ").replace("-", " ").strip()
    quantity = named or next((key for key, words in _WORDS if re.search(words, plain)), None)
    if quantity is None:
        return Column(index=index, name=name, quantity=None, sample=sample)
    units = _UNITS[_KIND[quantity]]
    last = plain.split()[-1] if plain.split() else ""
    if unit not in units and last in units and quantity != "rpm":
        unit = last
    values = [abs(v) for v in (_number(s, comma) for s in samples) if not math.isnan(v)]
    if quantity == "date":
        unit = "iso"
    elif quantity == "time" and (unit not in units or unit in ("s", "ms")):
        unit = _time_unit(unit, sample, values)
    elif unit not in units:
        unit = "%" if quantity == "throttle" and values and max(values) > 1.5 else next(iter(units))
        if _KIND[quantity] == "angle" and values and max(values) > 1000:
            unit = "1e-7deg"
    return Column(index=index, name=name, quantity=quantity, unit=unit, sample=sample)


def units_of(quantity: str) -> tuple[str, ...]:
    """Units a quantity may be recorded in, the usual one first; empty for one that is not read."""
    return tuple(_UNITS[_KIND[quantity]]) if quantity in _KIND else ()


def unit_of(column: Column, quantity: str) -> str:
    """Unit of a column whose quantity was named by hand: from its title or its first value, else the usual one."""
    return _meaning(0, column.name, [column.sample], "," in column.sample, quantity).unit


def _time_unit(unit: str, sample: str, values: list[float]) -> str:
    if not math.isnan(clock_seconds(sample)):
        return "clock"
    if not values and not math.isnan(iso_seconds(sample)[0]):
        return "iso"
    if values and values[0] > 1e11:
        return "epoch ms"
    if values and values[0] > 5e8:
        return "epoch"
    if unit in ("s", "ms"):
        return unit
    steps = [b - a for a, b in zip(values, values[1:], strict=False) if b > a]
    return "ms" if steps and sorted(steps)[len(steps) // 2] >= 10 else "s"


def _checked(name: str, mapping: Mapping) -> None:
    faults = []
    used = [c for c in mapping.columns if c.quantity is not None]
    for column in used:
        if column.quantity not in _KIND:
            allowed = ", ".join(("time", "date", *QUANTITIES))
            faults.append(Fault(where=column.name, message=f"{column.quantity} is not read; choose one of {allowed}"))
        elif column.unit not in _UNITS[_KIND[column.quantity]]:
            allowed = ", ".join(_UNITS[_KIND[column.quantity]])
            faults.append(
                Fault(where=column.name, message=f'unit "{column.unit}" is not known; choose one of {allowed}')
            )
    for quantity, count in Counter(c.quantity for c in used).items():
        if count > 1:
            faults.append(Fault(where=str(quantity), message=f"given by {count} columns; choose one"))
    if not any(c.quantity == "time" for c in used):
        faults.append(Fault(where="time", message="no column is the time; choose the one that is"))
    if not any(c.quantity in QUANTITIES for c in used):
        faults.append(Fault(where="", message="no column but the time is known; choose what the columns are"))
    if len(mapping.delimiter) != 1:
        faults.append(Fault(where="delimiter", message="must be one character"))
    if faults:
        raise FileFaults(name, tuple(faults))


def read_csv(path: Path, *, mapping: Mapping | None = None, progress: Callable[[float], None] | None = None) -> Track:
    """Track of a CSV file.

    Args:
        mapping: as confirmed; None guesses. progress: called with the share read, 0 to 1.
    """
    mapping = mapping or guess(path)
    _checked(path.name, mapping)
    used = [c for c in mapping.columns if c.quantity not in (None, "time", "date")]
    clock = next(c for c in mapping.columns if c.quantity == "time")
    day = next((c for c in mapping.columns if c.quantity == "date"), None)
    stores = [array("d") for _ in used]
    factors = [_UNITS[_KIND[str(c.quantity)]][c.unit] for c in used]
    stamps = array("d")
    short, unread, step, seen, unzoned, days, last = 0, 0, 1, 0, 0, 0, -math.inf
    widest = max(c.index for c in mapping.columns if c.quantity is not None)
    for row in _rows(path, mapping, progress):
        if len(row) <= widest:
            short += 1
            continue
        seen += 1
        if seen % step:
            continue
        stamp, zoned = _stamp(row, clock, day, mapping)
        unzoned += not zoned
        if clock.unit == "clock" and day is None:
            days += stamp - last < -43200
            last = stamp if not math.isnan(stamp) else last
            stamp += 86400.0 * days
        stamps.append(stamp)
        for column, factor, store in zip(used, factors, stores, strict=True):
            value = _number(row[column.index], mapping.decimal_comma) * factor
            unread += math.isnan(value) and bool(row[column.index].strip())
            store.append(value)
        if len(stamps) >= ROWS:
            stamps = stamps[1::2]
            stores = [store[1::2] for store in stores]
            step *= 2
    notes = [*mapping.doubts]
    if short:
        notes.append(f"{short} rows with too few columns left out")
    if unread:
        notes.append(f"{unread} values could not be read as numbers")
    if unzoned:
        notes.append(f"times without a zone taken as {mapping.zone:g} hours ahead of UTC")
    if days:
        notes.append(f"the clock passed midnight {days} times")
    if step > 1:
        notes.append(f"a long record: every {step}th row kept")
    dated = clock.unit in ("iso", "epoch", "epoch ms") or day is not None
    columns = {str(c.quantity): store for c, store in zip(used, stores, strict=True)}
    return cleaned(path.name, stamps, columns, dated=dated, notes=notes)


def _stamp(row: list[str], clock: Column, day: Column | None, mapping: Mapping) -> tuple[float, bool]:
    text = row[clock.index]
    if clock.unit == "iso":
        stamp, zoned = iso_seconds(text)
        return (stamp if zoned else stamp - 3600 * mapping.zone), zoned
    if clock.unit == "clock":
        stamp = clock_seconds(text)
    else:
        stamp = _number(text, mapping.decimal_comma) * _UNITS["time"][clock.unit]
    if day is None:
        return stamp, True
    return iso_seconds(row[day.index])[0] + stamp - 3600 * mapping.zone, False


def _rows(path: Path, mapping: Mapping, progress: Callable[[float], None] | None) -> Iterator[list[str]]:
    try:
        size = max(path.stat().st_size, 1)
        with path.open("rb") as raw, io.TextIOWrapper(raw, mapping.encoding, "replace") as file:
            number = 0
            while line := file.readline(WIDTH):
                number += 1
                if progress and number % 20000 == 0:
                    progress(min(raw.tell() / size, 1.0))
                if number > mapping.skip and line.strip():
                    yield _cells(line, mapping.delimiter)
    except (OSError, LookupError, UnicodeError) as error:
        raise InputError(f"{path.name}: cannot be read ({error}); check the file and its encoding") from None
    if progress:
        progress(1.0)
