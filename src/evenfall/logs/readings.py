"""Measured surface angles: a file of readings (TOML or CSV), read strictly.

Both kinds of file hold the same columns, one row for one position of the sticks. Stick positions are percent as the
pilot sets them (throttle 0 closed, aileron -100 left to 100 right), angles degrees, trailing edge down positive.
"""

from __future__ import annotations

import csv
import io
import math
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from evenfall.errors import Fault, FileFaults
from evenfall.textfile import parse_toml, read_text
from evenfall.toml_table import Faults, Table, nearest, shown

CORNERS = ("upper_left", "upper_right", "lower_left", "lower_right")
SURFACES = (*CORNERS, "elevator")
"""What can be measured; each has a column NAME_deg."""
PRESSED = {"up": 1, "down": -1}
"""Which way the trailing edge was pressed lightly, as the direction of `Reading`: pressed up, play leaves it high, as
when it arrives moving down."""
MOVING = {"down": 1, "up": -1}
STICKS = {"throttle_percent": (0.0, 100.0), "aileron_percent": (-100.0, 100.0)}
COLUMNS = ("phase", *STICKS, "pressed", "moving", *(f"{name}_deg" for name in SURFACES), "note")
LARGEST_DEG = 89.0
FORMAT = 1
MOST_ROWS = 2000
_MANY = 40
"""Faults listed before the rest is only counted."""
_COMMA = re.compile(r"[-+]?\d+,\d*")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One angle read at one surface.

    Args:
        surface: "upper_left" and so on, or "elevator".
        phase: name of the phase, as in the plan.
        throttle: stick 0 (closed) to 1. aileron: stick -1 (left) to 1 (right).
        direction: 1 trailing edge arrived moving down or was pressed up, -1 the other way, 0 not known.
        angle: rad, trailing edge down positive.
        line: of the file.
    """

    surface: str
    phase: str
    throttle: float
    aileron: float
    direction: int
    angle: float
    line: int | None = None


@dataclass(frozen=True, kw_only=True)
class ReadingFile:
    """A file of readings as read. `plane` is empty where the file names none; `notes` are harmless remarks."""

    path: str
    readings: tuple[Reading, ...]
    plane: str = ""
    notes: tuple[str, ...] = ()


def load_readings(
    path: str | os.PathLike[str],
    *,
    corners: Sequence[str],
    phases: Sequence[str],
    plane: str = "",
    may_be_empty: bool = False,
) -> ReadingFile:
    """Read a file of readings; raises `FileFaults` with every fault at once.

    Args:
        path: .toml, else CSV (comma, semicolon or tab; a decimal comma only with the last two).
        corners: ailerons the plane has. phases: names in the plan, the one taken where a row names none first.
        plane: name of the plane; another one in the file is a fault.
        may_be_empty: a form without any angle is no fault.
    """
    name = os.fspath(path)
    text, notes = _text(name)
    known = _Known(corners=tuple(corners), phases=tuple(phases), plane=plane, may_be_empty=may_be_empty)
    if name.lower().endswith(".toml"):
        return _read_toml(name, text, notes, known)
    return _read_csv(name, text, notes, known)


@dataclass(frozen=True, kw_only=True)
class _Known:
    corners: tuple[str, ...]
    phases: tuple[str, ...]
    plane: str
    may_be_empty: bool

    def phase(self, given: str) -> tuple[str, str]:
        """The phase meant, and what is wrong with the word."""
        for phase in self.phases:
            if phase.casefold() == given.casefold():
                return phase, ""
        near = nearest(given, self.phases)
        hint = f"; did you mean {near}?" if near else ""
        return "", f"there is no phase {shown(given)} in the plan; it has {', '.join(self.phases)}{hint}"

    def surface(self, surface: str) -> str:
        """What is wrong with a surface that has a reading."""
        if surface in self.corners or surface == "elevator":
            return ""
        return f"this plane has no {surface.replace('_', ' ')} aileron; leave the column empty"


def _readings(
    angles: Mapping[str, float], phase: str, sticks: Mapping[str, float | None], direction: int, line: int | None
) -> list[Reading]:
    """The readings of one row (angles in degrees, sticks in percent); none where a stick is missing."""
    throttle, aileron = sticks["throttle_percent"], sticks["aileron_percent"]
    if throttle is None or aileron is None:
        return []
    return [
        Reading(
            surface=surface,
            phase=phase,
            throttle=throttle / 100,
            aileron=aileron / 100,
            direction=direction,
            angle=math.radians(angle),
            line=line,
        )
        for surface, angle in angles.items()
    ]


# --- the file as text -------------------------------------------------------------------------------------------------


def _refuse(path: str, message: str) -> FileFaults:
    return FileFaults(path, (Fault(where="", message=message),))


def _text(path: str) -> tuple[str, tuple[str, ...]]:
    """The text of a file without byte-order mark, line ends made alike, and notes."""
    text, notes = read_text(
        path,
        what="file of readings",
        missing="--write-form writes an empty one to fill in",
        binary="save the table as CSV (text), not as a spreadsheet",
    )
    if "\r" in text:
        notes = (*notes, "the file has Windows line ends (CRLF): accepted")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise _refuse(path, "the file is empty; --write-form writes a form to fill in (under another name)")
    return text, notes


def _raise(path: str, faults: list[Fault]) -> None:
    if not faults:
        return
    ordered = sorted(dict.fromkeys(faults), key=lambda fault: (fault.line is None, fault.line or 0))
    if len(ordered) > _MANY:
        rest = len(ordered) - _MANY
        last = Fault(where="", message=f"and {rest} more; they may well have the same cause")
        ordered = [*ordered[:_MANY], last]
    raise FileFaults(path, tuple(ordered))


_NONE_READ = "no angle is filled in; write the degrees under upper_left_deg and so on, and leave out what you skip"


# --- TOML -------------------------------------------------------------------------------------------------------------


def _read_toml(path: str, text: str, notes: tuple[str, ...], known: _Known) -> ReadingFile:
    source = parse_toml(text, path=path, what="file of readings")
    faults = Faults(lines=source.lines)
    top = Table(source.data, "", faults)
    version = top.integer("format", 1, 1_000_000, required=True)
    if version is not None and version != FORMAT:
        top.fault("format", f"is {version}; this Evenfall reads readings of format {FORMAT}")
    plane = top.text("plane") or ""
    if plane and known.plane and plane != known.plane:
        top.fault("plane", f"is {shown(plane)}, but the plane file is of {shown(known.plane)}; use the right pair")
    readings: list[Reading] = []
    rows = top.tables("reading")
    for row in rows:
        readings += _toml_row(row, known)
    top.finish()
    if not readings and not faults.faults and not known.may_be_empty:
        faults.add("", _NONE_READ)
    if len(rows) > MOST_ROWS:
        faults.add("reading", f"has {len(rows)} rows; {MOST_ROWS} are the most")
    _raise(path, faults.faults)
    return ReadingFile(path=path, readings=tuple(readings), plane=plane, notes=notes)


def _toml_row(row: Table, known: _Known) -> list[Reading]:
    given = row.text("phase")
    phase, wrong = known.phase(given) if given is not None else (known.phases[0], "")
    if wrong:
        row.fault("phase", wrong)
    sticks = {key: row.number(key, *limits, required=True) for key, limits in STICKS.items()}
    pressed, moving = row.choice("pressed", tuple(PRESSED)), row.choice("moving", tuple(MOVING))
    if pressed is not None and moving is not None:
        row.fault("moving", _BOTH)
    row.text("note")
    angles = {}
    for surface in SURFACES:
        key = f"{surface}_deg"
        angle = row.number(key, -LARGEST_DEG, LARGEST_DEG)
        if angle is not None and (wrong := known.surface(surface)):
            row.fault(key, wrong)
        angles[surface] = angle
    if not row.sound:
        return []
    direction = PRESSED[pressed] if pressed else MOVING[moving] if moving else 0
    given_angles = {surface: angle for surface, angle in angles.items() if angle is not None}
    return _readings(given_angles, phase, sticks, direction, row.faults.line(row.where))


_BOTH = "pressed and moving stand in one row; keep the one you did"


# --- CSV --------------------------------------------------------------------------------------------------------------


@dataclass
class _Sheet:
    """A CSV file being read."""

    path: str
    known: _Known
    delimiter: str = ","
    header: tuple[str, ...] = ()
    faults: list[Fault] = field(default_factory=list)

    def fault(self, line: int | None, where: str, message: str) -> None:
        self.faults.append(Fault(where=where, message=message, line=line))

    @property
    def comma_decimals(self) -> bool:
        return self.delimiter != ","


def table_rows(text: str) -> Iterator[tuple[int, str]]:
    """Line number and row of everything but blank lines and lines that begin with #."""
    for number, row in enumerate(text.split("\n"), start=1):
        if row.strip(" \t;,") and not row.lstrip(" \t\"'").startswith("#"):
            yield number, row


def column_mark(header: str) -> str:
    """The mark between the columns: the one the header has most of."""
    return max(";\t,", key=header.count)


def row_cells(row: str, delimiter: str) -> list[str] | None:
    """The cells of one row; None where a quote is not closed."""
    try:
        parsed = next(csv.reader(io.StringIO(row), delimiter=delimiter, strict=True), [])
    except csv.Error:
        return None
    return [cell.strip().strip("\u00a0") for cell in parsed]


def _read_csv(path: str, text: str, notes: tuple[str, ...], known: _Known) -> ReadingFile:
    rows = list(table_rows(text))
    sheet = _Sheet(path=path, known=known)
    if not rows:
        raise _refuse(path, "the file has no header and no readings; --write-form writes a form to fill in")
    number, first = rows[0]
    sheet.delimiter = column_mark(first)
    _read_header(sheet, number, first)
    readings: list[Reading] = []
    if sheet.header:
        for number, row in rows[1 : MOST_ROWS + 1]:
            readings += _csv_row(sheet, number, row)
        if len(rows) - 1 > MOST_ROWS:
            sheet.fault(None, "", f"the file has {len(rows) - 1} rows; {MOST_ROWS} are the most")
        if not readings and not sheet.faults and not known.may_be_empty:
            sheet.fault(None, "", _NONE_READ)
    _raise(path, sheet.faults)
    return ReadingFile(path=path, readings=tuple(readings), notes=notes)


def _read_header(sheet: _Sheet, number: int, row: str) -> None:
    cells = row_cells(row, sheet.delimiter)
    if cells is None:
        sheet.fault(number, "", "the header has a quote that is not closed; remove the quotes")
        return
    names = [cell.lower() for cell in cells]
    while names and not names[-1]:
        names.pop()
    if not set(names) & set(COLUMNS):
        sheet.fault(
            number,
            "",
            "the first row must name the columns, for example "
            "phase;throttle_percent;aileron_percent;pressed;upper_left_deg; --write-form writes it",
        )
        return
    for name in sorted({name for name in names if names.count(name) > 1}):
        sheet.fault(number, name, "stands in the header twice; keep one" if name else "a column has no name; name it")
    for name in names:
        if name and name not in COLUMNS:
            sheet.fault(number, name, _unknown_column(name))
    if not any(f"{surface}_deg" in names for surface in SURFACES):
        sheet.fault(number, "", "no column holds angles; name one upper_left_deg, or lower_right_deg and so on")
    for name in STICKS:
        if name not in names:
            sheet.fault(number, name, "this column is missing; it tells where the stick stood")
    sheet.header = tuple(names)


def _unknown_column(name: str) -> str:
    for surface in SURFACES:
        if name.startswith(surface):
            return f"angles are in degrees and the column says so: {surface}_deg"
    for stick in STICKS:
        if name.startswith(stick.partition("_")[0]):
            return f"sticks are in percent and the column says so: {stick}"
    near = nearest(name, COLUMNS)
    return f"is no column of readings; did you mean {near}?" if near else f"is none of {', '.join(COLUMNS)}"


def _csv_row(sheet: _Sheet, line: int, row: str) -> list[Reading]:
    cells = row_cells(row, sheet.delimiter)
    if cells is None:
        sheet.fault(line, "", "a quote is not closed in this row; remove the quotes")
        return []
    while len(cells) > len(sheet.header) and not cells[-1]:
        cells.pop()
    if len(cells) != len(sheet.header):
        hint = ""
        if not sheet.comma_decimals and len(cells) > len(sheet.header):
            hint = "; if these are decimal commas, put ; between the columns (then they are understood) or write points"
        elif len(cells) < len(sheet.header):
            hint = "; an empty cell still needs its mark between the columns"
        sheet.fault(line, "", f"has {len(cells)} cells, the header names {len(sheet.header)} columns{hint}")
        return []
    before = len(sheet.faults)
    cell = dict(zip(sheet.header, cells, strict=True))
    angles = {
        surface: angle
        for surface in SURFACES
        if (angle := _number(sheet, line, f"{surface}_deg", cell, -LARGEST_DEG, LARGEST_DEG)) is not None
    }
    for surface in angles:
        if wrong := sheet.known.surface(surface):
            sheet.fault(line, f"{surface}_deg", wrong)
    phase, direction = _phase(sheet, line, cell), _direction(sheet, line, cell)
    sticks = {name: _number(sheet, line, name, cell, *limits) for name, limits in STICKS.items()}
    for name, value in sticks.items():
        if value is None and angles and not cell.get(name):
            sheet.fault(line, name, "is empty; write where the stick stood")
    if len(sheet.faults) > before:
        return []
    return _readings(angles, phase, sticks, direction, line)


def _phase(sheet: _Sheet, line: int, cell: Mapping[str, str]) -> str:
    given = cell.get("phase", "")
    if not given:
        return sheet.known.phases[0]
    phase, wrong = sheet.known.phase(given)
    if wrong:
        sheet.fault(line, "phase", wrong)
    return phase


def _direction(sheet: _Sheet, line: int, cell: Mapping[str, str]) -> int:
    found = 0
    for name, words in (("pressed", PRESSED), ("moving", MOVING)):
        given = cell.get(name, "").lower()
        if not given:
            continue
        if given not in words:
            sheet.fault(line, name, f"must be up, down or empty, not {shown(given)}")
        elif found:
            sheet.fault(line, name, _BOTH)
        else:
            found = words[given]
    return found


def _number(sheet: _Sheet, line: int, name: str, cell: Mapping[str, str], low: float, high: float) -> float | None:
    given = cell.get(name, "")
    if not given:
        return None
    text = given.replace("\u2212", "-")
    if _COMMA.fullmatch(text):
        if not sheet.comma_decimals:
            sheet.fault(
                line, name, f"{given} has a decimal comma; write {text.replace(',', '.')}, or ; between columns"
            )
            return None
        text = text.replace(",", ".")
    if not re.fullmatch(r"[-+]?(\d{1,6}(\.\d{0,12})?|\.\d{1,12})", text):
        unit = name.rpartition("_")[2]
        sheet.fault(line, name, f"must be a plain number of {unit}, not {shown(given)}; leave it empty if not measured")
        return None
    value = float(text)
    if not low <= value <= high:
        sheet.fault(line, name, f"is {shown(value)}; allowed is {low:g} to {high:g}")
        return None
    return value
