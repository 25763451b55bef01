"""Flights from a table as `exchange_csv` writes it: rows of one flight together, read by the checks of flight files."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from evenfall.errors import Fault, FileFaults
from evenfall.logs.evidence_entries import FlightRecord
from evenfall.logs.evidence_file import read_flight_document
from evenfall.logs.evidence_kinds import READERS
from evenfall.record.csv_table import CsvRow, CsvTable, read_table, refuse
from evenfall.record.exchange_csv import AIR, BATTERY, HEAD, OF_FLIGHT, OF_RECORD
from evenfall.record.exchange_rows import KEY, NAME
from evenfall.toml_table import shown

TEXTS = frozenset({"name", "file", "line", "level", "phase", "by", "gusts", "wind", "what", "towards"})
"""Keys of the evidence that hold text; the others hold numbers, true or false, or lists."""
NEEDED = ("flight", "date")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA = re.compile(r"[+-]?\d*,\d+([eE][+-]?\d+)?")
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(\.\d{3})+(,\d*)?")
_DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})")
_LONGEST_PLACE = 10_000


@dataclass(frozen=True, kw_only=True)
class Named:
    """A plane or plan as a row names it; either may be empty."""

    name: str
    hash: str


@dataclass(frozen=True, kw_only=True)
class CsvFlight:
    """A flight of a table.

    Args:
        token: which flight. revision: its revision. removed: taken out.
        line: of its first row. called: name of its file or form. record: what was seen.
        air, battery: as in `evenfall.record.rows.FlightRow`.
    """

    token: str
    revision: int
    removed: bool
    line: int
    called: str
    plane: Named
    plan: Named
    air: Mapping[str, float]
    battery: Mapping[str, float]
    record: FlightRecord


def read_csv(body: bytes, *, path: str) -> tuple[CsvFlight, ...]:
    """The flights of a CSV file, in its order; raises `FileFaults` with every fault, its line and column."""
    table = read_table(body, path=path, known=HEAD, needed=NEEDED)
    faults: list[Fault] = []
    if not {"plane", "plane_hash"} & set(table.columns):
        faults.append(
            Fault(where="plane", line=1, message="this column is missing, and plane_hash too; keep one of them")
        )
    groups: dict[str, list[CsvRow]] = {}
    for row in table.rows:
        token = row.cells.get("flight", "").strip()
        if wrong := NAME(token):
            faults.append(
                Fault(where="flight", line=row.line, message=f"{wrong}; the same name in every row of a flight")
            )
        else:
            groups.setdefault(token, []).append(row)
    commas = table.comma and any(
        _COMMA.fullmatch(cell.strip()) for row in table.rows for key, cell in row.cells.items() if _is_number(key)
    )
    flights = [_Flight(table, token, rows, commas=commas).read(faults) for token, rows in groups.items()]
    if not table.rows:
        faults.append(Fault(where="", message="holds no flight: there is nothing below the head"))
    refuse(path, sorted(faults, key=lambda fault: fault.line or 0))
    return tuple(flight for flight in flights if flight is not None)


def _is_number(column: str) -> bool:
    return column in (*AIR, *BATTERY) or (column not in HEAD and column not in TEXTS)


class _Odd(ValueError):
    """A cell that cannot be read; its text says why."""


@dataclass(kw_only=True)
class _Piece:
    """An entry as it is put together, and the lines of the rows it came from."""

    data: dict[str, Any]
    line: int
    lines: list[int] = field(default_factory=list)


class _Flight:
    """The rows of one flight."""

    def __init__(self, table: CsvTable, token: str, rows: Sequence[CsvRow], *, commas: bool) -> None:
        self._table, self._token, self._rows, self._commas = table, token, rows, commas
        self._faults: list[Fault] = []
        self._found: dict[str, tuple[str, int]] = {}
        """Cells of the flight with the line each came from."""

    def read(self, faults: list[Fault]) -> CsvFlight | None:
        """The flight; None where something is wrong, noted in `faults`."""
        self._together()
        first = self._rows[0].line
        revision = self._cell("revision", self._whole, 1)
        removed = self._cell("removed", self._yes, False)
        numbers = {column: self._cell(column, self._float, None) for column in (*AIR, *BATTERY)}
        date, signs = self._cell("date", _date, ""), self._cell("signs", _list, None)
        if "date" not in self._found:
            self._note("date", first, "is empty; the logbook needs the day, as 2026-05-17")
        for column in ("plane_hash", "plan_hash"):
            if wrong := KEY(self._text(column)) if column in self._found else "":
                self._note(column, self._found[column][1], f"{wrong}; or leave it empty and name the file")
        if len(self._text("place")) > _LONGEST_PLACE:
            self._note("place", self._found["place"][1], f"is longer than {_LONGEST_PLACE} characters")
        pieces = self._pieces()
        document: dict[str, Any] = {"format": 1, "date": date, "signs": signs}
        document |= {key: self._text(key) for key in ("place", "notes") if key in self._found}
        document["air"] = {column: value for column in AIR if (value := numbers[column]) is not None}
        battery = {column: value for column in BATTERY if (value := numbers[column]) is not None}
        document["battery"] = {_battery_key(column): _battery_value(column, value) for column, value in battery.items()}
        document = {key: value for key, value in document.items() if value not in ({}, None)}
        document |= {kind: [piece.data for piece in found] for kind, found in pieces.items()}
        record = self._record(document, pieces)
        faults += self._faults
        if self._faults or record is None:
            return None
        return CsvFlight(
            token=self._token,
            revision=revision,
            removed=removed,
            line=first,
            called=self._text("called"),
            plane=Named(name=self._text("plane"), hash=self._text("plane_hash")),
            plan=Named(name=self._text("plan"), hash=self._text("plan_hash")),
            air={AIR[column]: float(value) for column in AIR if (value := numbers[column]) is not None},
            battery={BATTERY[column]: float(value) for column, value in battery.items()},
            record=record,
        )

    def _together(self) -> None:
        """What every row says of the flight; an empty cell says what the others say."""
        for row in self._rows:
            for column in OF_FLIGHT:
                cell = row.cells.get(column)
                if cell is None:
                    continue
                said, line = self._found.setdefault(column, (cell, row.line))
                if said != cell:
                    words = f"is {shown(cell)}, line {line} of the same flight says {shown(said)}; make them alike"
                    self._note(column, row.line, words)

    def _note(self, column: str, line: int | None, words: str) -> None:
        self._faults.append(Fault(where=column, line=line, message=words))

    def _text(self, column: str) -> str:
        return self._found.get(column, ("", 0))[0]

    def _cell(self, column: str, read: Any, without: Any) -> Any:
        if column not in self._found:
            return without
        cell, line = self._found[column]
        try:
            return read(cell.strip())
        except _Odd as error:
            self._note(column, line, str(error))
            return without

    def _pieces(self) -> dict[str, list[_Piece]]:
        """Entries by kind, in the order of their numbers, lines of one record together."""
        rows: dict[str, list[tuple[int, CsvRow]]] = {}
        numbers: dict[tuple[str, int], int] = {}
        for row in self._rows:
            kind = row.cells.get("kind", "").strip()
            given = [column for column in row.cells if column not in OF_FLIGHT and column != "kind"]
            if not kind and given:
                self._note("kind", row.line, f"is empty, and {given[0]} is given; write one of {', '.join(READERS)}")
            if not kind:
                continue
            if kind not in READERS:
                self._note("kind", row.line, f"must be one of {', '.join(READERS)}, not {shown(kind)}")
                continue
            number = len(rows.get(kind, ())) + 1
            if "piece" in row.cells:
                try:
                    number = self._whole(row.cells["piece"].strip())
                except _Odd as error:
                    self._note("piece", row.line, str(error))
                    continue
                before = numbers.setdefault((kind, number), row.line)
                if before != row.line:
                    self._note("piece", row.line, f"{kind} {number} stands in line {before} already; count on")
            rows.setdefault(kind, []).append((number, row))
        return {
            kind: self._of_kind(kind, [row for _, row in sorted(found, key=lambda one: one[0])])
            for kind, found in rows.items()
        }

    def _of_kind(self, kind: str, rows: Sequence[CsvRow]) -> list[_Piece]:
        found: list[_Piece] = []
        for row in rows:
            data = self._evidence(row)
            if kind != "recorded":
                found.append(_Piece(data=data, line=row.line))
                continue
            whole = {key: value for key, value in data.items() if key in OF_RECORD}
            part = {key: value for key, value in data.items() if key not in OF_RECORD}
            last = found[-1] if found else None
            if (
                last is None
                or not part
                or {k: v for k, v in last.data.items() if k != "line"} != whole
                or not last.lines
            ):
                last = _Piece(data=whole, line=row.line)
                found.append(last)
            if part:
                last.data.setdefault("line", []).append(part)
                last.lines.append(row.line)
        return found

    def _evidence(self, row: CsvRow) -> dict[str, Any]:
        data = {}
        for column in self._table.columns:
            if column in HEAD or column not in row.cells:
                continue
            key = column[:-1] if column.endswith("_") and column[:-1] in HEAD else column
            try:
                data[key] = row.cells[column] if key in TEXTS else self._value(row.cells[column].strip())
            except _Odd as error:
                self._note(column, row.line, str(error))
        return data

    def _record(self, document: Mapping[str, Any], pieces: Mapping[str, Sequence[_Piece]]) -> FlightRecord | None:
        try:
            return read_flight_document(document, name=self._text("called"))
        except FileFaults as faults:
            for fault in faults.faults:
                column, line = self._place(fault.where, pieces)
                self._note(column, line, fault.message)
        return None

    def _place(self, where: str, pieces: Mapping[str, Sequence[_Piece]]) -> tuple[str, int]:
        """Column and line of what a flight file would call so."""
        kind, _, rest = where.partition(".")
        if kind in pieces and rest.split(".")[0].isdigit():
            number, _, key = rest.partition(".")
            piece = pieces[kind][int(number)]
            inside = re.fullmatch(r"line\.(\d+)\.?(.*)", key) if piece.lines else None
            return (inside[2], piece.lines[int(inside[1])]) if inside else (key, piece.line)
        if kind in pieces:
            return "kind", pieces[kind][0].line
        column = {"battery.before_v": "battery_before_v", "battery.after_v": "battery_after_v"}.get(where, where)
        column = "battery_used_c" if column.startswith("battery.used") else column.removeprefix("air.")
        return column, self._found.get(column, ("", self._rows[0].line))[1]

    # --- cells -------------------------------------------------------------------------------------------------------

    def _value(self, cell: str) -> Any:
        """A number, true or false, a list or table; anything else as it stands, for the reader to refuse."""
        if cell.lower() in ("true", "false"):
            return cell.lower() == "true"
        if cell.startswith(("[", "{")):
            try:
                return json.loads(cell, parse_constant=_no_number)
            except (ValueError, RecursionError):
                raise _Odd(
                    f'must be a list or table as in [1.5, 2] or {{"value": 1, "spread": 0.1}}, not {shown(cell)}'
                ) from None
        return self._number(cell, cell)

    def _number(self, cell: str, without: Any) -> Any:
        if self._commas and _THOUSANDS.fullmatch(cell):
            raise _Odd(f"is {shown(cell)}, which may be read in two ways; write it without dividing thousands")
        if self._table.comma and _COMMA.fullmatch(cell):
            cell = cell.replace(",", ".")
        if not _NUMBER.fullmatch(cell) or len(cell) > 40:
            return without
        made = float(cell)
        if not math.isfinite(made):
            raise _Odd(f"must be a finite number, not {shown(cell)}")
        return int(cell) if re.fullmatch(r"[+-]?\d{1,15}", cell) else made

    def _float(self, cell: str) -> float:
        made = self._number(cell, None)
        if made is None:
            raise _Odd(f"must be a number such as 12.5, not {shown(cell)}")
        return float(made)

    def _whole(self, cell: str) -> int:
        made = self._number(cell, None)
        if made is None or made != int(made) or not 1 <= made <= 10**9:
            raise _Odd(f"must be a whole number from 1, not {shown(cell)}")
        return int(made)

    def _yes(self, cell: str) -> bool:
        if cell.lower() not in ("true", "false"):
            raise _Odd(f"must be true or false, not {shown(cell)}")
        return cell.lower() == "true"


def _date(cell: str) -> str:
    day = _DAY_FIRST.fullmatch(cell)
    made = f"{day[3]}-{int(day[2]):02d}-{int(day[1]):02d}" if day else cell
    try:
        dt.datetime.fromisoformat(made)
    except ValueError:
        raise _Odd(f"must be a date such as 2026-05-17 or 2026-05-17T18:30, not {shown(cell)}") from None
    return made


def _list(cell: str) -> Any:
    try:
        return json.loads(cell, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise _Odd(f'must be a list in square brackets, as ["sign one", "sign two"], not {shown(cell)}') from None


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def _battery_key(column: str) -> str:
    return "used_mah" if column == "battery_used_c" else column.removeprefix("battery_")


def _battery_value(column: str, value: float) -> float:
    """As the flight file has it: 3.6 C are 1 mAh."""
    return value / 3.6 if column == "battery_used_c" else value
