"""The record of every change in the pilot's folder: what undo needs, kept across restarts and crashes.

One SQLite file, `.evenfall/journal.sqlite`. Every change of a file is one step with the text before and after, what
was done in words, when, and the token of the action that asked for it; a position per file says how many steps are in
force. A change is carried out in three moves:

1. the intent (both texts, words, token) is committed;
2. the file is replaced atomically;
3. the intent becomes a step, committed.

Killed before 1, nothing has happened. Killed between 1 and 3, the intent tells what was meant: `recover` finds the
file as before (the replacing is done again) or as after (only the step is missing), so neither the change nor its undo
nor its token is lost, and the same action sent again is not carried out twice. Where the file could not be written
the intent is taken away and the steps that redo would use are still there. A file that is neither is another program's
work: the intent becomes a step first, so that both texts can be had back.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from evenfall.app.journal_file import gate, passing_record, reason, record
from evenfall.errors import InputError

FOLDER = ".evenfall"
FILE = "journal.sqlite"
MOST_STEPS = 500
"""Steps kept per file."""
MOST_BYTES = 50_000_000
"""Size beyond which the oldest steps of all files are let go."""
MOST_TOKENS = 5000

IntentKind = Literal["step", "undo", "redo"]


@dataclass(frozen=True, kw_only=True)
class Head:
    """Where a file stands.

    Args:
        text: what the file holds as far as we know; None where it is gone.
        undo, redo: words of the step that would be taken back or done again; None where there is none.
        tuned: text of the plan as it was last computed, of plan files.
    """

    file: str
    revision: int
    position: int
    text: str | None
    undo: str | None
    redo: str | None
    tuned: str | None


@dataclass(frozen=True, kw_only=True)
class Intent:
    """A change that is meant and perhaps not yet on the disk."""

    file: str
    kind: IntentKind
    words: str
    made: str
    token: str | None
    before: str | None
    after: str | None


@dataclass(frozen=True, kw_only=True)
class Known:
    """What an action came to, by its token."""

    file: str
    revision: int
    words: str


class Journal:
    """The record of one folder. Not for several threads at once; several processes wait for each other in `hold`.

    `note` says what was odd on opening. In a folder that cannot be written the record lasts as long as the program.
    """

    def __init__(self, folder: Path) -> None:
        self.note = ""
        self._void: set[str] = set()
        self._depth = 0
        self._batched = False
        self._lock: sqlite3.Connection | None = None
        self._base = self._open(folder)
        self._seen = self._version()

    def close(self) -> None:
        """Let go of the files."""
        self._base.close()
        if self._lock is not None:
            self._lock.close()

    # --- opening -----------------------------------------------------------------------------------------------------

    def _open(self, folder: Path) -> sqlite3.Connection:
        home = folder / FOLDER
        if home.is_symlink() or (home.exists() and not home.is_dir()):
            raise InputError(f"{home} must be a plain folder of Evenfall's own; take away what stands there")
        try:
            home.mkdir(exist_ok=True)
            self._lock = gate(home / "lock.sqlite")
            with self.hold():
                base, self.note = record(home / FILE)
                return base
        except (OSError, sqlite3.OperationalError) as error:
            if self._lock is not None:
                self._lock.close()
                self._lock = None
            if "locked" in str(error):
                raise InputError(f"another program holds {home}; close it and start again") from None
            self.note = f"Changes cannot be recorded in {folder}: {reason(error)}. Undo ends with the program."
            return passing_record()

    @contextmanager
    def hold(self) -> Iterator[None]:
        """Keep other processes out of the folder for as long as this lasts; freed when the process dies."""
        if self._depth == 0 and self._lock is not None:
            try:
                self._lock.execute("begin exclusive")
            except sqlite3.OperationalError as error:
                if "locked" not in str(error):
                    raise
                raise InputError("another Evenfall is busy in this folder; try again") from None
        self._depth += 1
        try:
            yield
        finally:
            self._depth -= 1
            if self._depth == 0 and self._lock is not None:
                self._lock.execute("rollback")

    def _version(self) -> int:
        return int(self._base.execute("pragma data_version").fetchone()[0])

    def moved(self) -> bool:
        """True where another process has recorded something since `caught_up`."""
        return self._version() != self._seen

    def caught_up(self) -> None:
        """What other processes have recorded so far is known."""
        self._seen = self._version()

    # --- reading -----------------------------------------------------------------------------------------------------

    def heads(self) -> dict[str, Head]:
        """Every file there is a record of."""
        rows = self._base.execute(f"{_HEAD} order by name").fetchall()
        return {row[0]: _head(row) for row in rows}

    def head(self, file: str) -> Head | None:
        """One file; None where there is no record of it."""
        row = self._base.execute(f"{_HEAD} where name = ?", (file,)).fetchone()
        return None if row is None else _head(row)

    def known(self, token: str) -> Known | None:
        """What the action of that token came to; None where it was never carried out."""
        row = self._base.execute("select file, revision, words from token where token = ?", (token,)).fetchone()
        return None if row is None else Known(file=row[0], revision=row[1], words=row[2])

    def steps(self, file: str) -> list[tuple[int, str, str]]:
        """Number, words and time of every step of a file, oldest first."""
        found = self._base.execute("select number, words, made from step where file = ? order by number", (file,))
        return [(row[0], row[1], row[2]) for row in found]

    def beside(self, file: str, kind: Literal["undo", "redo"]) -> str | None:
        """The text undo or redo leads to; None where that is no file. Ask only where `Head` has words for it."""
        column, shift = ("before", 0) if kind == "undo" else ("after", 1)
        row = self._base.execute(
            f"select {column} from step join file on name = file where file = ? and number = position + {shift}",
            (file,),
        ).fetchone()
        if row is None:
            raise AssertionError(f"no step to {kind} in {file}")
        return None if row[0] is None else str(row[0])

    # --- writing -----------------------------------------------------------------------------------------------------

    @contextmanager
    def batch(self) -> Iterator[None]:
        """Commit all that is recorded within at once: many files take no longer than one."""
        with self._transaction():
            self._batched = True
            try:
                yield
            finally:
                self._batched = False

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        if self._batched:
            yield
            return
        try:
            self._base.execute("begin immediate")
            try:
                yield
                self._base.execute("commit")
            except BaseException:
                if self._base.in_transaction:
                    self._base.execute("rollback")
                raise
        except sqlite3.Error as error:
            raise InputError(
                f"the record of changes in {FOLDER} cannot be written: {reason(error)}. Make room or allow writing, "
                "then do it again"
            ) from None

    def begin(self, file: str, text: str | None) -> None:
        """Take a file into the record as it stands; no step."""
        with self._transaction():
            self._base.execute("insert into file values (?, 1, 0, ?, null)", (file, text))

    def intend(self, intent: Intent) -> None:
        """Commit what is meant, before the file is touched."""
        with self._transaction():
            if self._base.execute("select 1 from file where name = ?", (intent.file,)).fetchone() is None:
                self._base.execute("insert into file values (?, 0, 0, null, null)", (intent.file,))
            self._base.execute(
                "insert into intent values (?, ?, ?, ?, ?, ?, ?)",
                (intent.file, intent.kind, intent.words, intent.made, intent.token, intent.before, intent.after),
            )

    def abandon(self, file: str) -> None:
        """Take an intent away whose file could not be written; nothing else has changed."""
        self._void.add(file)
        self._drop_void()

    def _drop_void(self) -> None:
        try:
            with self._transaction():
                for file in self._void:
                    self._base.execute("delete from intent where file = ?", (file,))
                    self._base.execute("delete from file where name = ? and revision = 0", (file,))
            self._void.clear()
        except InputError:
            return  # tried again before the next recovery

    def complete(self, file: str) -> Head:
        """Turn the intent of a file into its step, in force; the file is on the disk."""
        with self._transaction():
            return self._complete(file)

    def _complete(self, file: str) -> Head:
        row = self._base.execute(f"select {_INTENT} from intent where file = ?", (file,)).fetchone()
        intent = Intent(**dict(zip(_INTENT.split(", "), row, strict=True)))
        self._base.execute("delete from intent where file = ?", (file,))
        if intent.kind == "step":
            self._add_step(intent)
        else:
            shift = -1 if intent.kind == "undo" else 1
            self._base.execute(
                "update file set position = position + ?, revision = revision + 1, text = ? where name = ?",
                (shift, intent.after, file),
            )
        head = self.head(file)
        if head is None:
            raise AssertionError(f"{file} has no record")
        if intent.token is not None:
            self._base.execute(
                "insert or ignore into token (token, file, revision, words) values (?, ?, ?, ?)",
                (intent.token, file, head.revision, intent.words),
            )
            self._base.execute("delete from token where id <= (select max(id) from token) - ?", (MOST_TOKENS,))
        return head

    def _add_step(self, intent: Intent) -> None:
        file = intent.file
        position = self._base.execute("select position from file where name = ?", (file,)).fetchone()[0]
        self._base.execute("delete from step where file = ? and number > ?", (file, position))
        self._base.execute(
            "insert into step (file, number, words, made, token, before, after) values (?, ?, ?, ?, ?, ?, ?)",
            (file, position + 1, intent.words, intent.made, intent.token, intent.before, intent.after),
        )
        self._base.execute(
            "update file set position = position + 1, revision = revision + 1, text = ? where name = ?",
            (intent.after, file),
        )
        self._base.execute("delete from step where file = ? and number <= ?", (file, position + 1 - MOST_STEPS))
        self._shorten()

    def _shorten(self) -> None:
        """Let the oldest steps go until the record is of its size; what redo can no longer reach goes with them."""
        size = self._base.execute("pragma page_size").fetchone()[0]
        while True:
            pages = self._base.execute("pragma page_count").fetchone()[0]
            spare = self._base.execute("pragma freelist_count").fetchone()[0]
            if (pages - spare) * size <= MOST_BYTES:
                return
            oldest = self._base.execute(
                "select step.id, file, number > position from step join file on name = file "
                "where id < (select max(id) from step) order by id limit 1"
            ).fetchone()
            if oldest is None:
                return
            if oldest[2]:
                self._base.execute("delete from step where file = ? and number >= "
                                   "(select number from step where id = ?)", (oldest[1], oldest[0]))  # fmt: skip
            else:
                self._base.execute("delete from step where id = ?", (oldest[0],))

    def changed_outside(self, file: str, text: str | None, *, words: str, made: str) -> None:
        """Record what another program made of a file, as a step undo can take back."""
        with self._transaction():
            before = self._base.execute("select text from file where name = ?", (file,)).fetchone()[0]
            self._add_step(
                Intent(file=file, kind="step", words=words, made=made, token=None, before=before, after=text)
            )

    def set_tuned(self, file: str, text: str | None) -> None:
        """Keep the text of a plan as it was computed."""
        with self._transaction():
            self._base.execute("update file set tuned = ? where name = ?", (text, file))

    def unfinished(self) -> list[Intent]:
        """Changes that were meant when a program ended before it had finished them."""
        if self._void:
            self._drop_void()
        rows = self._base.execute(f"select {_INTENT} from intent").fetchall()
        intents = [Intent(**dict(zip(_INTENT.split(", "), row, strict=True))) for row in rows]
        return [intent for intent in intents if intent.file not in self._void]


_INTENT = "file, kind, words, made, token, before, after"
_HEAD = """select name, revision, position, text, tuned,
    (select words from step where step.file = name and number = position),
    (select words from step where step.file = name and number = position + 1)
    from file"""


def _head(row: tuple[str, int, int, str | None, str | None, str | None, str | None]) -> Head:
    name, revision, position, text, tuned, undo, redo = row
    return Head(file=name, revision=revision, position=position, text=text, undo=undo, redo=redo, tuned=tuned)
