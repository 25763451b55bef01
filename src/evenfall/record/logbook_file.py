"""The logbook's files: opened, checked whole, brought up to date, backed up, put right where they are damaged.

In the folder lie the database `logbook.sqlite` (full sync, foreign keys, rollback journal, so that the folder may be a
synced one), the file of entries `logbook.entries` (see `evenfall.record.entries`), at most three backups, and an
empty file whose lock one program at a time holds while it writes. An entry goes to the file of entries first, then to
the database; only then is it said to be entered. On opening both are compared byte by byte and row by row.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from evenfall.errors import InputError
from evenfall.record import entries as lines
from evenfall.record.entries import VERSION, Entry, EntryFile, Row
from evenfall.record.older import OLDER, older_entries
from evenfall.record.recovery import backups, gathered, joined, put_back
from evenfall.record.refusals import passing, said
from evenfall.record.tables import apply, built, dump, make

FILE = "logbook.sqlite"
GATE = "logbook.lock"
BACKUPS = 3
"""Backups kept beside the logbook."""
MAYBE = "What was entered last may be missing."
PATIENCE_S = 30.0
"""How long another program may hold the logbook."""

Item = tuple[str, Row]
"""Kind of an entry and what it says."""
Decide = Callable[[sqlite3.Connection], Sequence[Item | tuple[str, Row, str]]]
"""Looks at the logbook as it is and says what to enter; a third part is when it was entered at first."""


class Damaged(Exception):
    """The database is not as it was written."""


class LogbookFile:
    """An open logbook; for several threads and several programs. `note` says what was put right on opening.

    Where the files are found damaged while they are open, the call says so and the next one puts them right.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / FILE
        self.beside = folder / lines.FILE
        self.note = ""
        self._lock = threading.RLock()
        self._base: sqlite3.Connection | None = None
        self._file: tuple[int, int] = (0, 0)
        self._doubtful = False
        with said(self.path, "the logbook cannot be opened"):
            folder.mkdir(parents=True, exist_ok=True)
            with self._gate():
                self._open()

    def close(self) -> None:
        """Let go of the files."""
        with self._lock:
            if self._base is not None:
                self._base.close()
                self._base = None

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The database to read from, as it stands at one moment."""
        with self._lock, said(self.path, "the logbook cannot be read"), self._watched():
            if self._doubtful or _identity(self.path) == (0, 0):
                with self._gate():
                    self._open_anew()
            base = self._current()
            base.execute("begin")
            try:
                yield base
            finally:
                if base.in_transaction:
                    base.execute("rollback")

    def enter(self, decide: Decide) -> int:
        """Enter what `decide` says, all or nothing; how many entries were made. On the disk when this returns."""
        with self._lock, said(self.path, "nothing was entered"), self._gate(), self._watched():
            if self._doubtful or _identity(self.path) == (0, 0):
                self._open_anew()
            base = self._current()
            before = self._length(base)
            if not self.beside.exists() or self.beside.stat().st_size != before:
                self._say(self._reconcile(base))
                before = self._length(base)
            base.execute("begin immediate")
            try:
                made = self._numbered(base, decide(base))
                for entry in made:
                    apply(base, entry)
                if made:
                    lines.append(self.beside, made)
                try:
                    base.execute("commit")
                except BaseException:
                    lines.cut(self.beside, before)
                    raise
            except BaseException:
                if base.in_transaction:
                    base.execute("rollback")
                raise
            return len(made)

    # --- while writing ---------------------------------------------------------------------------------------------

    @contextmanager
    def _gate(self) -> Iterator[None]:
        """One program and thread at a time; freed by the system where a program is killed."""
        path = self.folder / GATE
        with contextlib.suppress(OSError):
            if path.stat().st_size:
                path.unlink()
        gate = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
        try:
            gate.execute("begin exclusive")
            yield
        finally:
            gate.close()

    @contextmanager
    def _watched(self) -> Iterator[None]:
        """Remembers that the files were found damaged."""
        try:
            yield
        except (sqlite3.Error, UnicodeDecodeError) as error:
            self._doubtful = not (isinstance(error, sqlite3.Error) and passing(error, self.path))
            raise

    def _open_anew(self) -> None:
        """Close, check and put right; the gate is held."""
        if self._base is None:
            raise InputError("the logbook is closed")
        self._base.close()
        before, self.note = self.note, ""
        self._open()
        self._doubtful = False
        self.note = " ".join(words for words in (before, self.note) if words)

    def _say(self, notes: Sequence[str]) -> None:
        self.note = " ".join(words for words in (self.note, *notes) if words)

    def _current(self) -> sqlite3.Connection:
        """The connection, made anew where another program has put the file back."""
        if self._base is None:
            raise InputError("the logbook is closed")
        there = _identity(self.path)
        if there != self._file:
            self._base.close()
            self._base = _connected(self.path)
            self._file = there
        return self._base

    @staticmethod
    def _length(base: sqlite3.Connection) -> int:
        """Bytes that the file of entries must have."""
        held = base.execute("select coalesce(sum(length(cast(line as blob)) + 1), 0) from entry").fetchone()[0]
        return len(lines.HEAD.encode()) + 1 + int(held)

    @staticmethod
    def _numbered(base: sqlite3.Connection, items: Sequence[Any]) -> list[Entry]:
        last = base.execute("select max(n) from entry").fetchone()[0] or 0
        at = ""
        if last:
            found = lines.read_line(base.execute("select line from entry where n = ?", (last,)).fetchone()[0])
            at = "" if found is None else found.at
        made = []
        for what, row, *first in items:
            last += 1
            at = first[0] if first else _later(at)
            made.append(Entry(n=last, at=at, what=what, row=lines.checked(row)))
        return made

    # --- opening ---------------------------------------------------------------------------------------------------

    def _open(self) -> None:
        """Open, check, put right, back up; the gate is held."""
        beside = lines.read_entries(self.beside)
        if beside.version > VERSION:
            raise InputError(_newer(self.path, beside.version))
        notes: list[str] = []
        self._base = self._checked_or_put_right(beside, notes)
        self._file = _identity(self.path)
        notes += self._reconcile(self._base, whole=not notes)
        notes += self._back_up(self._base)
        self.note = " ".join(notes)

    def _checked_or_put_right(self, beside: EntryFile, notes: list[str]) -> sqlite3.Connection:
        base = None
        try:
            if self.path.exists():
                base = _connected(self.path)
                version = _checked(base)
                if version == VERSION:
                    return base
                if version in OLDER:
                    old = older_entries(base, version)
                    self._keep_backup(base.serialize())
                    base.close()
                    whole = joined([old, beside.entries]).entries
                    put_back(self.path, whole, keep=False)
                    if not beside.there:
                        lines.write_whole(self.beside, lines.file_body(entry.line for entry in whole))
                    return _connected(self.path)
                if version > VERSION and not beside.version:
                    raise InputError(_newer(self.path, version))
                if version or beside.entries or backups(self.path):
                    raise Damaged
            elif not beside.entries and not backups(self.path):
                base = _connected(self.path)
            if base is not None:
                base.execute("begin immediate")
                make(base)
                base.execute("commit")
                return base
        except InputError:
            _closed(base)
            raise
        except (Damaged, sqlite3.Error, ValueError, TypeError, OverflowError) as error:
            _closed(base)
            if isinstance(error, sqlite3.Error) and passing(error, self.path):
                raise
        notes.append(self._put_right(beside))
        base = _connected(self.path)
        if _checked(base) != VERSION:
            raise InputError(f"{self.path} could not be put right; move it away and open the logbook again")
        return base

    def _put_right(self, beside: EntryFile) -> str:
        found = gathered(self.path, beside)
        was_there = self.path.exists()
        kept = put_back(self.path, found.entries, keep=True)
        if was_there:
            words = f"{FILE} was damaged and is set aside as {'' if kept is None else kept.name}; it was written again"
        else:
            words = f"{FILE} was missing and was written again"
        many = len(found.entries)
        words += f" with {many} {'entry' if many == 1 else 'entries'}."
        if found.missing:
            listed = ", ".join(str(n) for n in found.missing[:20]) + (" and more" if len(found.missing) > 20 else "")
            return f"{words} Entries lost: {len(found.missing)} (number {listed})."
        if not beside.there:
            return f"{words} {lines.FILE} was missing too: what was entered last may be lost."
        return f"{words} {'Nothing is missing.' if beside.ends_sound else MAYBE}"

    def _reconcile(self, base: sqlite3.Connection, *, whole: bool = True) -> list[str]:
        """Make database and file of entries hold the same; what was put right, in words.

        `whole`: the database was found sound, so that it can be said whether anything is missing.
        """
        found = lines.read_entries(self.beside)
        rows = [line for (line,) in base.execute("select line from entry order by n").fetchall()]
        if found.body == lines.file_body(rows):
            return []
        mine = [entry for entry in map(lines.read_line, rows) if entry is not None]
        known = {entry.same for entry in mine}
        if ahead := [entry for entry in found.entries if entry.same not in known]:
            numbers = {entry.n for entry in mine}
            mine = list(joined([mine, ahead]).entries)
            base.execute("begin immediate")
            try:
                for entry in mine:
                    if entry.n not in numbers:
                        apply(base, entry)
                base.execute("commit")
            except BaseException:
                if base.in_transaction:
                    base.execute("rollback")
                raise
        notes = []
        if found.bad:
            kept = lines.aside(self.beside)
            lines.write_whole(kept, found.body)
            notes.append(f"{lines.FILE} was damaged and is set aside as {kept.name}; it was written again.")
        elif not found.there and mine:
            notes.append(f"{lines.FILE} was missing and was written again.")
        if notes and whole:
            held = len(found.entries) + found.bad
            notes.append("Nothing is missing." if len(mine) >= held else MAYBE)
        lines.write_whole(self.beside, lines.file_body(entry.line for entry in mine))
        return notes

    def _back_up(self, base: sqlite3.Connection) -> list[str]:
        """Keep the logbook, found sound, beside itself; a full disk is said and hinders nothing."""
        # through SQLite: opening the file a second time and closing it would drop this program's locks
        now = base.serialize()
        have = backups(self.path)
        try:
            if not have or have[0].read_bytes() != now:
                self._keep_backup(now)
            for old in backups(self.path)[BACKUPS:]:
                old.unlink()
            for left in self.folder.glob(".logbook.*.part"):
                left.unlink(missing_ok=True)
        except OSError as error:
            return [f"No backup could be written: {error.strerror or error}."]
        return []

    def _keep_backup(self, body: bytes) -> None:
        have = backups(self.path)
        number = int(have[0].name.split(".")[1]) + 1 if have else 1
        lines.write_whole(self.path.with_name(f"{self.path.stem}.{number}.backup"), body)


def _connected(path: Path) -> sqlite3.Connection:
    base = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None, check_same_thread=False)
    try:
        base.execute("pragma foreign_keys = on")
        base.execute("pragma synchronous = full")
        base.execute("pragma journal_mode = truncate").fetchone()
    except BaseException:
        base.close()
        raise
    return base


def _checked(base: sqlite3.Connection) -> int:
    """Version of a database found sound; 0 where it is empty. Raises `Damaged` or sqlite3.Error."""
    # a changed byte in the head can forbid writing
    base.execute("begin immediate")
    base.execute("rollback")
    if base.execute("pragma integrity_check(1)").fetchone()[0] != "ok":
        raise Damaged
    version = int(base.execute("pragma user_version").fetchone()[0])
    tables = base.execute("select count(*) from sqlite_master").fetchone()[0]
    if (version == 0) != (tables == 0):
        raise Damaged
    if base.execute("pragma foreign_key_check").fetchone() is not None:
        raise Damaged
    if version == VERSION:
        _compared(base)
    return version


def _compared(base: sqlite3.Connection) -> None:
    """Raise `Damaged` unless every entry is as written and every table as its entries make it."""
    found = []
    for n, line in base.execute("select n, line from entry order by n"):
        entry = lines.read_line(line)
        if entry is None or entry.n != n:
            raise Damaged
        found.append(entry)
    fresh = built(found)
    try:
        if dump(fresh) != dump(base):
            raise Damaged
    finally:
        fresh.close()


def _identity(path: Path) -> tuple[int, int]:
    """Which file lies there now."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return (0, 0)
    return (found.st_dev, found.st_ino)


def _later(than: str) -> str:
    """Now in UTC, later than another moment."""
    now = dt.datetime.now(dt.UTC).replace(tzinfo=None)
    with contextlib.suppress(ValueError):
        now = max(now, dt.datetime.fromisoformat(than.rstrip("Z")) + dt.timedelta(microseconds=1))
    return now.isoformat(timespec="microseconds") + "Z"


def _closed(base: sqlite3.Connection | None) -> None:
    if base is not None:
        base.close()


def _newer(path: Path, version: int) -> str:
    return f"{path} is of version {version}, this Evenfall reads up to {VERSION}; use a newer one"


__all__ = ["BACKUPS", "FILE", "GATE", "Decide", "Item", "LogbookFile", "backups"]
