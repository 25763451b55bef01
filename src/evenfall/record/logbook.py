"""The pilot's logbook: planes and plans by hash, flights, what they taught, changes, parts, what is proven.

Nothing in it is overwritten: a changed flight is a new revision, a removed one is marked. What a call returned is on
the disk.
"""

from __future__ import annotations

import json
import sqlite3
import uuid
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any

from evenfall.errors import InputError
from evenfall.record import originals
from evenfall.record.logbook_file import Decide, Item, LogbookFile
from evenfall.record.parts import PARTS
from evenfall.record.row_making import (
    FLIGHT,
    TEXT,
    day,
    entered,
    flight_row,
    learned_row,
    must_have,
    plain,
    row_of,
    text_row,
)
from evenfall.record.rows import ChangeRow, FlightRow, LearnedRow, Original, PartRow, ProvenRow, TextKind, TextRow
from evenfall.textfile import content_hash

FOLDER = "logbook"
"""Folder of the logbook inside the pilot's folder of planes."""


class Logbook:
    """The logbook of a folder of planes; it lies in `logbook` inside. For several threads and several programs.

    `note` says what was set aside or put right, empty where nothing. Every method raises `InputError` in
    plain words where the disk refuses; then nothing was entered.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder / FOLDER
        self._file = LogbookFile(self.folder)

    @property
    def note(self) -> str:
        """What was set aside or put right so far, in words."""
        return self._file.note

    def __enter__(self) -> Logbook:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the files."""
        self._file.close()

    def enter(self, decide: Decide) -> int:
        """Enter what `decide` says, all or nothing (for `evenfall.record.exchange`); how many entries were made."""
        return self._file.enter(decide)

    # --- texts and originals ---------------------------------------------------------------------------------------

    def keep_text(self, kind: TextKind, name: str, body: str) -> str:
        """Keep the text of a plane (`name`: the plane's name) or plan (its file's name) once; its content hash."""
        key = content_hash(body)
        row = {"key": key, "kind": kind, "name": name, "body": body}
        self._once("text", "key", key, ("text", row))
        return key

    def text(self, key: str) -> TextRow | None:
        """The text kept under a hash; None where there is none."""
        rows = self._rows(f"{TEXT} where key = ?", (key,))
        return text_row(rows[0]) if rows else None

    def texts(self, kind: TextKind | None = None) -> tuple[TextRow, ...]:
        """All texts kept, oldest first."""
        return tuple(map(text_row, self._rows(f"{TEXT} where ?1 is null or kind = ?1 order by n", (kind,))))

    def keep_original(self, name: str, source: bytes | Path) -> Original:
        """Keep a file that evidence came from under the hash of its bytes; a video is only named."""
        digest, size, ending, kept = originals.put(self.folder, name, source)
        row = {"hash": digest, "name": name, "size": size, "ending": ending, "kept": kept}

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            have = base.execute("select kept from original where hash = ?", (digest,)).fetchone()
            return [] if have is not None and (have[0] or not kept) else [("original", row)]

        self._file.enter(decide)
        path = originals.path_of(self.folder, digest, ending) if kept else None
        return Original(hash=digest, name=name, size=size, path=path)

    def originals(self) -> tuple[Original, ...]:
        """All files that evidence came from."""
        rows = self._rows("select hash, name, size, ending, kept from original order by n", ())
        return tuple(
            Original(
                hash=digest,
                name=name,
                size=size,
                path=originals.path_of(self.folder, digest, ending) if kept else None,
            )
            for digest, name, size, ending, kept in rows
        )

    def original(self, digest: str) -> Original:
        """One of them, found whole. InputError where it is not kept, gone, or not what it was."""
        found = next((item for item in self.originals() if item.hash == digest), None)
        if found is None:
            raise InputError(f"no file with the hash {digest[:12]} is in the logbook")
        if found.path is not None and not originals.sound(found.path, digest):
            raise InputError(f"{found.name}: the kept file is gone or was changed; give the file again to put it right")
        return found

    def damaged_originals(self) -> tuple[Original, ...]:
        """Kept files that are gone or no longer what they were; reads every one of them."""
        return tuple(o for o in self.originals() if o.path is not None and not originals.sound(o.path, o.hash))

    # --- flights ---------------------------------------------------------------------------------------------------

    def save_flight(self, row: FlightRow) -> str:
        """Enter a flight, or its next revision; its token. The same revision again is answered, not repeated.

        InputError where another one is already there under this revision: it was changed elsewhere.
        """
        token = row.token or uuid.uuid4().hex
        said = plain(replace(row, token=token))
        for name in ("removed", "at"):
            del said[name]

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            rows = base.execute("select revision, line from revision join entry using (n) where token = ?", (token,))
            have = {revision: json.loads(line)["row"] for revision, line in rows.fetchall()}
            if row.revision in have and {**have[row.revision], "revision": row.revision} == said:
                return []
            last = max(have, default=0)
            if row.revision != last + 1:
                raise InputError(
                    f"the flight of {row.date} was changed elsewhere (revision {last}); look at it and save it again"
                    if last
                    else f"a new flight begins with revision 1, not {row.revision}"
                )
            must_have(base, "text", "key", row.plane, "the plane is not in the logbook: keep its text first")
            must_have(base, "text", "key", row.plan, "the plan is not in the logbook: keep its text first")
            for digest in row.originals:
                must_have(base, "original", "hash", digest, "an original is not in the logbook: keep it first")
            return [("flight", said)]

        self._file.enter(decide)
        return token

    def remove_flight(self, token: str) -> None:
        """Take a flight out; it is kept and can be brought back."""
        self._mark(token, removed=True)

    def restore_flight(self, token: str) -> None:
        """Bring a flight back."""
        self._mark(token, removed=False)

    def flights(self, plane_name: str | None = None, *, removed: bool = False) -> tuple[FlightRow, ...]:
        """Flights as they stand, oldest first; of one plane by its name. With `removed` also those taken out."""
        rows = self._rows(
            f"{FLIGHT} where r.revision = (select max(revision) from revision m where m.token = r.token)"
            " and (?1 is null or t.name = ?1) and (?2 or not f.removed) order by r.date, r.n",
            (plane_name, removed),
        )
        return self._flights(rows)

    def flight(self, token: str) -> FlightRow:
        """A flight as it stands, removed or not; InputError where there is none."""
        found = self.history(token)
        if not found:
            raise InputError(f"no flight {token} is in the logbook; the list shows them")
        return found[-1]

    def history(self, token: str) -> tuple[FlightRow, ...]:
        """All revisions of a flight, oldest first."""
        return self._flights(self._rows(f"{FLIGHT} where r.token = ? order by r.revision", (token,)))

    # --- what flights taught, changes, parts -----------------------------------------------------------------------

    def add_learned(self, row: LearnedRow) -> str:
        """Enter corrections; their id."""
        day(row.date)

        def refer(base: sqlite3.Connection) -> None:
            must_have(base, "text", "key", row.plane, "the plane is not in the logbook: keep its text first")
            must_have(base, "text", "key", row.plan, "the plan is not in the logbook: keep its text first")
            for token in row.flights:
                must_have(base, "flight", "token", token, f"flight {token} is not in the logbook")

        return self._add("learned", row, refer)

    def learned(self, plane: str) -> LearnedRow | None:
        """The latest corrections of a plane, given by its content hash or its name; None where there are none."""
        found = self.learned_rows(plane)
        return found[-1] if found else None

    def learned_rows(self, plane: str | None = None) -> tuple[LearnedRow, ...]:
        """All corrections, oldest first; of one plane by content hash or name."""
        rows = self._rows(
            "select id, plane, plan, line from learned join entry using (n)"
            " where ?1 is null or plane = ?1 or plane_name = ?1 order by n",
            (plane,),
        )
        return tuple(learned_row(row) for row in rows)

    def add_change(self, row: ChangeRow) -> str:
        """Enter a change; its id. Effects are entered by `note_effect`."""
        day(row.date)

        def refer(base: sqlite3.Connection) -> None:
            for key in (row.from_plan, row.to_plan):
                must_have(base, "text", "key", key, "the plan is not in the logbook: keep its text first")

        return self._add("change", row, refer, without=("effects",))

    def changes(self, plane_name: str | None = None) -> tuple[ChangeRow, ...]:
        """Changes, oldest first."""
        rows = self._rows(
            "select id, line from change join entry using (n) where ?1 is null or plane_name = ?1 order by date, n",
            (plane_name,),
        )
        seen = self._rows("select change, date, words from effect order by n", ())
        made = []
        for key, line in rows:
            effects = tuple((date, words) for change, date, words in seen if change == key)
            made.append(ChangeRow(**row_of(line), effects=effects, at=entered(line)))
        return tuple(made)

    def note_effect(self, change: str, words: str, *, date: str | None = None) -> None:
        """Enter what a change did; a later word does not replace an earlier one."""
        row = {"change": change, "date": day(date), "words": words}

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            must_have(base, "change", "id", change, f"no change {change} is in the logbook")
            return [("effect", row)]

        self._file.enter(decide)

    def add_part(self, row: PartRow) -> str:
        """Enter a replaced or repaired part; its id."""
        day(row.date)
        if row.part not in PARTS:
            raise InputError(f"{row.part!r} is no part we know; there are {', '.join(PARTS)}")
        return self._add("part", row, lambda base: None, without=("redone",))

    def parts(self, plane_name: str | None = None) -> tuple[PartRow, ...]:
        """Replaced parts, oldest first, with the tests done again since."""
        rows = self._rows(
            "select id, line from part join entry using (n) where ?1 is null or plane_name = ?1 order by date, n",
            (plane_name,),
        )
        done = self._rows("select part, test, date from redone order by n", ())
        return tuple(
            PartRow(
                **row_of(line),
                redone=tuple((test, date) for part, test, date in done if part == key),
                at=entered(line),
            )
            for key, line in rows
        )

    def note_redone(self, part: str, test: str, *, date: str | None = None) -> None:
        """Enter that a test voided by a part was done again; the same of the same day is entered once."""
        row = {"part": part, "test": test, "date": day(date)}

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            found = base.execute("select part from part where id = ?", (part,)).fetchone()
            if found is None:
                raise InputError(f"no part {part} is in the logbook")
            voids = PARTS[found[0]].voids if found[0] in PARTS else ()
            if test not in voids:
                raise InputError(f"{test!r} is not among what this part voids: {', '.join(voids)}")
            there = base.execute("select date from redone where part = ? and test = ? order by n", (part, test))
            return [] if there.fetchall()[-1:] == [(row["date"],)] else [("redone", row)]

        self._file.enter(decide)

    def note_open(self, part: str, test: str, *, date: str | None = None) -> None:
        """Take back that a test voided by a part was done again: it is to be done still."""
        row = {"part": part, "test": test, "date": day(date)}

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            must_have(base, "part", "id", part, f"no part {part} is in the logbook")
            there = base.execute("select 1 from redone where part = ? and test = ?", (part, test)).fetchone()
            return [("reopened", row)] if there else []

        self._file.enter(decide)

    def mark_proven(self, plan: str, why: str, *, date: str | None = None) -> None:
        """Enter that a kept plan is proven, and why."""
        row = {"plan": plan, "date": day(date), "why": why}

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            must_have(base, "text", "key", plan, "the plan is not in the logbook: keep its text first")
            return [("proven", row)]

        self._file.enter(decide)

    def proven(self, plan: str) -> ProvenRow | None:
        """Since when and why a plan is proven, as said last; None where it is not."""
        return next((row for row in reversed(self.proven_rows()) if row.plan == plan), None)

    def proven_rows(self) -> tuple[ProvenRow, ...]:
        """All that was said to be proven, oldest first."""
        rows = self._rows("select plan, date, why, line from proven join entry using (n) order by n", ())
        return tuple(ProvenRow(plan=plan, date=date, why=why, at=entered(line)) for plan, date, why, line in rows)

    def count(self) -> int:
        """How many entries were made."""
        return int(self._rows("select coalesce(max(n), 0) from entry", ())[0][0])

    def entries(self) -> tuple[str, ...]:
        """Every entry as its line, oldest first (see `evenfall.record.entries`)."""
        return tuple(line for (line,) in self._rows("select line from entry order by n", ()))

    # --- inside ----------------------------------------------------------------------------------------------------

    def _rows(self, statement: str, values: Sequence[Any]) -> list[Any]:
        with self._file.reading() as base:
            return base.execute(statement, tuple(values)).fetchall()

    def _once(self, table: str, column: str, key: str, item: Item) -> None:
        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            return [] if base.execute(f"select 1 from {table} where {column} = ?", (key,)).fetchone() else [item]

        self._file.enter(decide)

    def _add(self, what: str, row: Any, refer: Any, *, without: tuple[str, ...] = ()) -> str:
        key: str = row.id or uuid.uuid4().hex
        said = {name: value for name, value in plain(replace(row, id=key)).items() if name not in (*without, "at")}

        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            have = base.execute(f"select line from {what} join entry using (n) where id = ?", (key,)).fetchone()
            if have is not None:
                if json.loads(have[0])["row"] == json.loads(json.dumps(said)):
                    return []
                raise InputError(f"another {what} is in the logbook under {key}; enter this one under a new name")
            refer(base)
            return [(what, said)]

        self._file.enter(decide)
        return key

    def _mark(self, token: str, *, removed: bool) -> None:
        def decide(base: sqlite3.Connection) -> Sequence[Item]:
            have = base.execute("select removed from flight where token = ?", (token,)).fetchone()
            if have is None:
                raise InputError(f"no flight {token} is in the logbook; the list shows them")
            return [] if bool(have[0]) == removed else [("removed", {"token": token, "removed": removed})]

        self._file.enter(decide)

    def _flights(self, rows: Sequence[Any]) -> tuple[FlightRow, ...]:
        came: dict[tuple[str, int], list[str]] = {}
        for token, revision, digest in self._rows(
            "select token, revision, original from came_from order by token, revision, place", ()
        ):
            came.setdefault((token, revision), []).append(digest)
        return tuple(flight_row(row, came) for row in rows)
