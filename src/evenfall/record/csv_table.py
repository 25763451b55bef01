"""A CSV file as a table of texts with the line of every row, whichever spreadsheet wrote it.

Commas, semicolons or tabs between the cells; quoted cells with line ends in them (RFC 4180); UTF-8, or UTF-16 with its
mark. Text that a spreadsheet would take for a formula stands behind an apostrophe, which is taken off again.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from evenfall.errors import Fault, FileFaults
from evenfall.toml_table import nearest, shown

LARGEST = 50_000_000
"""Bytes of the largest file taken in."""
MOST_ROWS = 200_000
MOST_FAULTS = 200
_DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}
_RISKY = re.compile(r"'*[=+\-@\t\r\n]")
_GUARDED = re.compile(r"'+[=+\-@\t\r\n]")


def guarded(text: str) -> str:
    """A text as a cell that no spreadsheet runs as a formula.

    >>> guarded("=1+1"), guarded("calm"), guarded("'-x")
    ("'=1+1", 'calm', "''-x")
    """
    return f"'{text}" if _RISKY.match(text) else text


def unguarded(cell: str) -> str:
    """The text of such a cell.

    >>> unguarded("'=1+1"), unguarded("calm"), unguarded("''-x")
    ('=1+1', 'calm', "'-x")
    """
    return cell[1:] if _GUARDED.match(cell) else cell


@dataclass(frozen=True, kw_only=True)
class CsvRow:
    """A row: cells by column, empty ones left out, and its line in the file, from 1."""

    line: int
    cells: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class CsvTable:
    """A table. `comma`: its numbers may be written with a decimal comma. `columns`: as they stand."""

    columns: tuple[str, ...]
    rows: tuple[CsvRow, ...]
    comma: bool


def read_table(body: bytes, *, path: str, known: Collection[str], needed: Collection[str]) -> CsvTable:
    """A file as a table; raises `FileFaults` with every fault.

    Args:
        known: columns, one of which at least is in the head; `needed`: those that must be.
    """
    text = _decoded(body, path)
    first = re.match(r"sep=(.)\r?\n", text)
    skipped = 0
    if first is not None:
        text, skipped = text[first.end() :], 1
    delimiter = first[1] if first is not None else _delimiter(text, known)
    if delimiter not in _DELIMITERS:
        raise _fault(path, f"is divided by {shown(delimiter)}; allowed are {', '.join(_DELIMITERS.values())}")
    read = _rows(text, delimiter, path, skipped)
    line, head = next(read, (1, []))
    columns = tuple(unguarded(cell.strip()) for cell in head)
    faults = _head_faults(columns, line, known, needed)
    rows: list[CsvRow] = []
    for line, cells in read:
        if not any(cell.strip() for cell in cells):
            continue
        if len(rows) == MOST_ROWS:
            raise _fault(path, f"has more than {MOST_ROWS} rows; divide it into several files")
        extra = [cell for cell in cells[len(columns) :] if cell.strip()]
        if extra:
            words = (
                f"has {len(cells)} cells, the head names {len(columns)} columns; put texts with {delimiter!r} in quotes"
            )
            faults.append(Fault(where="", line=line, message=words))
        named = zip(columns, cells, strict=False)
        good = {column: unguarded(cell) for column, cell in named if column and cell.strip()}
        for column, cell in zip(columns, cells, strict=False):
            if not column and cell.strip():
                faults.append(Fault(where="", line=line, message=f"{shown(cell)} stands in a column without a name"))
        rows.append(CsvRow(line=line, cells=good))
    refuse(path, faults)
    return CsvTable(columns=columns, rows=tuple(rows), comma=delimiter != ",")


def refuse(path: str, faults: list[Fault]) -> None:
    """Raise `FileFaults` where there are faults, the first of very many."""
    if len(faults) > MOST_FAULTS:
        more = Fault(where="", message=f"and {len(faults) - MOST_FAULTS} faults more")
        faults = [*faults[:MOST_FAULTS], more]
    if faults:
        raise FileFaults(path, tuple(faults))


def _fault(path: str, words: str, line: int | None = None) -> FileFaults:
    return FileFaults(path, (Fault(where="", message=words, line=line),))


def _decoded(body: bytes, path: str) -> str:
    if len(body) > LARGEST:
        raise _fault(path, f"is larger than {LARGEST / 1e6:.0f} MB; divide it into several files")
    wide = body.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = body.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = body[: error.start].count(b"\n") + 1
        raise _fault(path, "is not UTF-8 text; save it again as CSV with UTF-8", None if wide else line) from None
    if "\0" in text:
        raise _fault(path, "holds zero bytes: it is no CSV or was damaged; export it again")
    if not text.strip():
        raise _fault(path, "is empty; `evenfall export FOLDER flights.csv` writes one")
    return text


def _delimiter(text: str, known: Collection[str]) -> str:
    """What divides the head into the most known columns."""
    head = text.lstrip("\r\n").partition("\n")[0]

    def hits(delimiter: str) -> int:
        return sum(cell.strip().strip('"') in known for cell in head.split(delimiter))

    return max(_DELIMITERS, key=hits)


def _rows(text: str, delimiter: str, path: str, skipped: int) -> Iterator[tuple[int, list[str]]]:
    """Rows with the line each begins on; empty lines are left out."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + 1 + skipped
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            words = f'cannot be divided into cells ({error}); a quote is missing or one too many: write " inside as ""'
            raise _fault(path, words, line) from None
        if cells:
            yield line, cells


def _head_faults(columns: tuple[str, ...], line: int, known: Collection[str], needed: Collection[str]) -> list[Fault]:
    if not any(column in known for column in columns):
        words = f"names none of the columns {', '.join(needed)}; the first row must hold the names that `export` writes"
        return [Fault(where="", line=line, message=words)]
    faults = []
    for column in needed:
        if column not in columns:
            near = nearest(column, [given for given in columns if given not in known])
            hint = f"; is {shown(near)} meant?" if near else ""
            faults.append(Fault(where=column, line=line, message=f"this column is missing{hint}"))
    twice = dict.fromkeys(column for column in columns if column and columns.count(column) > 1)
    faults += [Fault(where=column, line=line, message="names two columns; take one out") for column in twice]
    return faults
