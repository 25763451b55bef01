"""Getting entries back out of a damaged logbook: from the database, the file beside it and the backups, together."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from evenfall.record.entries import Entry, EntryFile, aside, read_line, settle, write_whole
from evenfall.record.older import OLDER, older_entries
from evenfall.record.tables import built


@dataclass(frozen=True, kw_only=True)
class Found:
    """What could be gathered: entries by number, and the numbers of those that are missing."""

    entries: tuple[Entry, ...]
    missing: tuple[int, ...]


def backups(path: Path) -> list[Path]:
    """Backups of a logbook, newest first."""
    found = [p for p in path.parent.glob(f"{path.stem}.*.backup") if p.name.split(".")[1].isdigit()]
    return sorted(found, key=lambda p: int(p.name.split(".")[1]), reverse=True)


def gathered(path: Path, beside: EntryFile) -> Found:
    """Every sound entry of the database at `path`, the file of entries and the backups, each once."""
    sources = [salvaged(path), beside.entries, *(salvaged(backup) for backup in backups(path))]
    return joined(sources)


def joined(sources: Iterable[Iterable[Entry]]) -> Found:
    """Entries of several sources in one order. Two different ones under one number are both kept, the second at the
    end."""
    have: dict[int, Entry] = {}
    seen: set[str] = set()
    clashing: list[Entry] = []
    for source in sources:
        for entry in source:
            if entry.same in seen:
                continue
            seen.add(entry.same)
            if entry.n in have:
                clashing.append(entry)
            else:
                have[entry.n] = entry
    last = max(have, default=0)
    missing = [n for n in range(1, last + 1) if n not in have]
    for entry in clashing:
        last += 1
        have[last] = replace(entry, n=last)
    return Found(entries=tuple(have[n] for n in sorted(have)), missing=tuple(missing))


def salvaged(path: Path) -> tuple[Entry, ...]:
    """Sound entries of a database, read from both ends as far as it can be; none where it is no database."""
    if not path.exists():
        return ()
    base = sqlite3.connect(path, timeout=5.0, isolation_level=None)
    try:
        found = _lines_in(base)
        if found:
            return found
        for version in reversed(OLDER):
            with contextlib.suppress(sqlite3.Error, ValueError, TypeError):
                return older_entries(base, version)
    finally:
        base.close()
    return ()


def _lines_in(base: sqlite3.Connection) -> tuple[Entry, ...]:
    found: dict[int, Entry] = {}
    for order in ("", " order by n desc"):
        # the words of an error may hold damaged bytes themselves, which is a ValueError
        with contextlib.suppress(sqlite3.Error, ValueError):
            for (line,) in base.execute(f"select cast(line as blob) from entry{order}"):
                entry = read_line(bytes(line or b"").decode("utf-8", "replace"))
                if entry is not None:
                    found[entry.n] = entry
    return tuple(found[n] for n in sorted(found))


def put_back(path: Path, entries: Iterable[Entry], *, keep: bool) -> Path | None:
    """Write the database anew from entries, in one step; the damaged one is kept beside it where `keep`.

    Returns where it is kept. At every moment the folder holds all that it held before.
    """
    fresh = built(entries)
    try:
        body = fresh.serialize()
    finally:
        fresh.close()
    journal = path.with_name(path.name + "-journal")
    kept = None
    if path.exists() and keep:
        kept = aside(path)
        shutil.copyfile(path, kept)
        if journal.exists() and journal.stat().st_size:
            shutil.copyfile(journal, kept.with_name(kept.name + "-journal"))
        settle(path.parent)
    # a journal of the old file must not be rolled into the new one
    journal.unlink(missing_ok=True)
    write_whole(path, body)
    return kept
