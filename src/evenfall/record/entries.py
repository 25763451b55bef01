"""Entries: what was written into the logbook, one after the other, each a line of text with its own checksum.

Everything else in the logbook is made from them. They lie in the database and, as the same lines, in a file beside it
that only grows, so that either can be written again from the other.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from evenfall.errors import InputError

FILE = "logbook.entries"
VERSION = 3
"""Of the logbook: its tables and its entries."""

Row = Mapping[str, Any]
"""What an entry says: plain JSON, by name."""


def canonical(document: Any) -> str:
    """JSON text in the one way we write it: names sorted, no spaces, no NaN.

    >>> canonical({"b": 1.5, "a": "x"})
    '{"a":"x","b":1.5}'
    """
    return json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def sum_of(text: str) -> str:
    """SHA-256 of a text in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


HEAD = canonical({"logbook": VERSION})
"""First line of the file of entries."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry.

    Args:
        n: number, from 1. at: when it was entered, ISO 8601 in UTC, later than the one before.
        what: kind (see `evenfall.record.tables.KINDS`). row: what it says.
    """

    n: int
    at: str
    what: str
    row: Row

    @property
    def line(self) -> str:
        """The line it stands in, checksum included, without the line end."""
        said = {"n": self.n, "at": self.at, "what": self.what, "row": self.row}
        return canonical({**said, "sum": sum_of(canonical(said))})

    @property
    def same(self) -> str:
        """What makes it this entry, whatever its number."""
        return canonical([self.at, self.what, self.row])


def read_line(line: str) -> Entry | None:
    """The entry of a line; None where the line is not exactly as it was written."""
    try:
        said = json.loads(line)
        given = said.pop("sum")
        if sum_of(canonical(said)) != given:
            return None
        entry = Entry(n=said["n"], at=said["at"], what=said["what"], row=said["row"])
        whole = isinstance(entry.n, int) and entry.n > 0 and entry.line == line
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    return entry if whole else None


class EntryFile:
    """The file of entries as found, whatever its state. `body` is None where there is no file."""

    def __init__(self, body: bytes | None) -> None:
        self.there = body is not None
        self.body = body or b""

    @cached_property
    def version(self) -> int:
        """The version its first line names; 0 where that line is not sound."""
        return _version(self.body.partition(b"\n")[0].decode("utf-8", "replace"))

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """Sound entries, as they stand."""
        return tuple(entry for entry in self._lines if entry is not None)

    @cached_property
    def bad(self) -> int:
        """Lines that are not as they were written, the first one included."""
        return sum(entry is None for entry in self._lines) + (self.there and not self.version and self.body != b"")

    @cached_property
    def ends_sound(self) -> bool:
        """The last line is whole and as it was written, so that what was entered last is there."""
        if not self.body.endswith(b"\n"):
            return False
        return self._lines[-1] is not None if self._lines else bool(self.version)

    @cached_property
    def _lines(self) -> tuple[Entry | None, ...]:
        return tuple(read_line(raw.decode("utf-8", "replace")) for raw in self.body.split(b"\n")[1:-1])


def read_entries(path: Path) -> EntryFile:
    """The file of entries at a path; OSError where it cannot be read at all."""
    try:
        return EntryFile(path.read_bytes())
    except FileNotFoundError:
        return EntryFile(None)


def file_body(rows: Iterable[str]) -> bytes:
    """The file that holds these lines."""
    return "".join(f"{line}\n" for line in (HEAD, *rows)).encode()


def append(path: Path, entries: Iterable[Entry]) -> None:
    """Put entries at the end and wait until they are on the disk; on failure the file is cut back to what it was."""
    left = memoryview("".join(f"{entry.line}\n" for entry in entries).encode())
    with path.open("ab", buffering=0) as file:
        before = file.seek(0, os.SEEK_END)
        try:
            while left:
                left = left[file.write(left) :]
            os.fsync(file.fileno())
        except BaseException:
            cut(path, before)
            raise


def cut(path: Path, length: int) -> None:
    """Cut the file back to a length in bytes."""
    os.truncate(path, length)


def write_whole(path: Path, body: bytes) -> None:
    """Put a file in place at once, old or new and never half, and wait until it is on the disk."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    settle(path.parent)


def settle(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def aside(path: Path) -> Path:
    """A free name beside a file for its damaged self: `logbook.damaged-1.sqlite`."""
    number = 1
    while (free := path.with_name(f"{path.stem}.damaged-{number}{path.suffix}")).exists():
        number += 1
    return free


def checked(row: Row) -> Row:
    """The row as it comes back from its own text; InputError where it cannot be kept."""
    try:
        text = canonical(row)
        text.encode()
        made: Row = json.loads(text)
    except (ValueError, TypeError, RecursionError) as error:
        raise InputError(f"this cannot be kept in the logbook: {error}; numbers must be finite, text plain") from None
    return made


def _version(line: str) -> int:
    try:
        said = json.loads(line)
        version = said.get("logbook", 0) if isinstance(said, dict) and len(said) == 1 else 0
    except (ValueError, RecursionError):
        return 0
    return version if isinstance(version, int) else 0
