"""The pilot's folder at work: every action saved at once and undone whenever wanted, edits from outside noticed.

How a change is made safe against a crash is told in `journal`; what each action does to a text in `actions`. Here the
two meet the disk, one change at a time: threads wait at one lock, processes at the journal's.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from evenfall.app import messages
from evenfall.app.actions import Change, change, refuse_frozen, remade
from evenfall.app.entries import Entries
from evenfall.app.folder import (
    BENCH_ENDING,
    PLAN_ENDING,
    FileKind,
    Folder,
    Stamp,
    bench_name,
    check_name,
    kind_of,
    own_plan,
    slug,
)
from evenfall.app.folder_view import FolderView
from evenfall.app.journal import Head, Intent, Journal
from evenfall.app.programmes import Programmes
from evenfall.errors import InputError
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import is_edited, plan_text
from evenfall.sheet.folder_page import FolderPage, SequenceEntry

_FRESH_NS = 100_000_000
"""A file written less than this ago is read again at the next look: its time may not have moved on yet."""
_MOST_NOTES = 20


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What an action came to: the file, its revision after it, and what was done in words."""

    file: str
    revision: int
    words: str


class Workspace:
    """One folder, safe for several threads. `close` lets go of its record; nothing is lost without."""

    def __init__(self, folder: str | os.PathLike[str], *, now: Callable[[], datetime] = datetime.now) -> None:
        self.folder = Folder(folder)
        self._now = now
        self._lock = threading.RLock()
        self._journal = Journal(self.folder.path)
        self._entries = Entries()
        self._stamps: dict[str, Stamp] = {}
        self._fresh: set[str] = set()
        self._heads: dict[str, Head] = {}
        self._kinds: dict[str, tuple[str, FileKind | None]] = {}
        self._notes: dict[str, str] = {}
        self._refused: list[str] = []
        self._programmes, self._offered = Programmes(), tuple[SequenceEntry, ...]()
        self._unread: set[str] = set()
        self._just: set[str] = set()
        self._page: FolderPage | None = None
        self._entered, self._proven = 0, frozenset[str]()
        self._started = False
        self._listeners: list[Callable[[], None]] = []
        self._looks: list[Callable[[], None]] = []
        if self._journal.note:
            self._note("", self._journal.note)
        with self._lock, self._journal.hold():
            self.folder.sweep()
            try:
                with self._journal.batch():
                    self._look()
            except InputError:
                self._stamps.clear()
                self._look()
        self._started = True

    def close(self) -> None:
        """Let go of the record's files."""
        with self._lock:
            self._journal.close()

    # --- reading -----------------------------------------------------------------------------------------------------

    def folder_page(self) -> FolderPage:
        """What lies in the folder, as of the last look."""
        with self._lock:
            if self._page is None:
                kinds = {file: kind for file, (_, kind) in self._kinds.items() if kind is not None}
                planes, plans = self._entries.lists(self._heads, kinds, self._proven)
                self._page = FolderPage(
                    folder=str(self.folder.path),
                    planes=planes,
                    plans=plans,
                    notes=(*self._notes.values(), *self._refused),
                    shared=None,
                    sequences=self._offered,
                    record=self._entered,
                )
            return self._page

    def note_record(self, count: int, proven: frozenset[str]) -> None:
        """Take note of how the record of flights stands: entries so far, content hashes of proven plans."""
        with self._lock:
            if (self._entered, self._proven) == (count, proven):
                return
            self._entered, self._proven = count, proven
            self._page = None
        self._tell()

    def plane_text(self, file: str) -> tuple[str, int]:
        """Text and revision of a plane file; `InputError` for any other."""
        return self._text(file, "plane")

    def plan_text(self, file: str) -> tuple[str, int]:
        """Text and revision of a plan file; `InputError` for any other."""
        return self._text(file, "plan")

    def _text(self, file: str, kind: FileKind) -> tuple[str, int]:
        check_name(file)
        if self.folder.stamp(file) != self._stamps.get(file) or file in self._fresh:
            self.poll()
        with self._lock:
            head = self._heads.get(file)
            if head is None or head.text is None or self._kind(file, head.text) != kind:
                self.folder.read(file)
                raise InputError(f"there is no {kind} file {file} in the folder; it may have been renamed")
            return head.text, head.revision

    def tuned_plan(self, plan_file: str) -> str | None:
        """Text of the plan as it was last computed; None where it never was."""
        check_name(plan_file)
        with self._lock:
            head = self._heads.get(plan_file)
            return None if head is None else head.tuned

    def readings_path(self, plan_file: str) -> Path:
        """Where the measured angles of a plan are kept, there or not."""
        check_name(plan_file)
        return self.folder.place(bench_name(plan_file))

    def subscribe(self, callback: Callable[[], None]) -> Callable[[], None]:
        """Call back after every change, from whichever thread made it; returns how to end that."""
        with self._lock:
            self._listeners.append(callback)

        def end() -> None:
            with self._lock:
                if callback in self._listeners:
                    self._listeners.remove(callback)

        return end

    # --- changing ----------------------------------------------------------------------------------------------------

    def act(self, action: messages.Action, *, token: str, role: Literal["owner", "guest"] = "owner") -> Outcome:
        """Carry out an action and save it; the same token again is answered, not repeated.

        Raises `InputError` or `FileFaults`; then nothing was changed.
        """
        if role != "owner" and not isinstance(action, messages.BenchRead):
            raise InputError("guests write bench readings and nothing else; ask the one who opened the folder")
        if isinstance(action, messages.ComputedAction):
            raise InputError(f"a plan is computed before it is written; ask for {action.what}")
        if isinstance(action, messages.RecordAction):
            raise InputError(f"{action.what} writes into the record of flights; ask the engine for it")

        def carry_out() -> Outcome:
            if isinstance(action, messages.Undo | messages.Redo):
                return self._step_back(action.file, action.what, token)
            made = change(action, self._view(), today=self._now().date())
            return self._save(made, token)

        return self._once(token, carry_out)

    def write_tuned(
        self, plane_file: str, plan: Plan, *, file: str | None = None, words: str = "plan computed", token: str
    ) -> Outcome:
        """Write a computed plan, the plane's own unless another file is named, and keep it to compare with."""
        target = check_name(own_plan(plane_file) if file is None else file)
        text = plan_text(plan)

        def carry_out() -> Outcome:
            self._refuse_tune(plane_file, target)
            outcome = self._save(Change(file=target, text=text, words=words), token)
            self._keep_tuned(target, text)
            return outcome

        return self._once(token, carry_out)

    def write_new_plane(self, text: str, plan: Plan, *, name: str, words: str, token: str) -> Outcome:
        """Write a plane with a computed plan as new files beside all others; each is undone by itself.

        Broken off between the two, the same token writes the plan of the plane that was begun. A plan that cannot be
        written takes the plane away with it.
        """
        first = f"{token} plane"

        def carry_out() -> Outcome:
            if (begun := self._journal.known(first)) is not None:
                file = begun.file
            else:
                stem = slug(name, otherwise="plane")
                file = self._view().free_name(stem, ".toml", beside=(PLAN_ENDING, BENCH_ENDING))
                self._save(Change(file=file, text=text, words=words), first)
            target, made = own_plan(file), plan_text(plan)
            try:
                outcome = self._save(Change(file=target, text=made, words=words), token)
            except InputError:
                self._step_back(file, "undo", f"{token} taken back")
                raise
            self._keep_tuned(target, made)
            return outcome

        return self._once(token, carry_out)

    def write_plan(
        self, plane_file: str, file: str, make: Callable[[Plan, Plane], Plan], *, words: str, token: str
    ) -> Outcome:
        """Change a plan of the folder by a function of it and its plane; undone as any change of it.

        Raises `InputError` for a frozen plan or one that is not there.
        """

        def carry_out() -> Outcome:
            return self._save(remade(plane_file, file, make, self._view(), words=words), token)

        return self._once(token, carry_out)

    def check_tune(self, plane_file: str, *, file: str | None = None) -> None:
        """Raise where a computed plan could not be written: before a long computation rather than after it."""
        self.poll()
        with self._lock:
            self._refuse_tune(plane_file, check_name(own_plan(plane_file) if file is None else file))

    def _refuse_tune(self, plane_file: str, target: str) -> None:
        view = self._view()
        if view.text(plane_file) is None:
            raise InputError(f"there is no plane file {plane_file} in the folder")
        text = view.text(target)
        if not target.endswith(PLAN_ENDING) or (text is not None and kind_of(target, text) != "plan"):
            raise InputError(f"{target} is no plan file; give the plan a name that ends in {PLAN_ENDING}")
        refuse_frozen(target, text)

    def also_poll(self, look: Callable[[], None]) -> None:
        """Have something else looked at whenever the folder is."""
        self._looks.append(look)

    def poll(self) -> bool:
        """Look whether anything changed outside, and record it; True where something did."""
        for look in self._looks:
            look()
        with self._lock:
            stamps = self.folder.names()
            if stamps == self._stamps and not self._fresh and not self._journal.moved():
                return False
            with self._journal.hold():
                changed = self._look()
        if changed:
            self._tell()
        return changed

    def _once(self, token: str, carry_out: Callable[[], Outcome]) -> Outcome:
        """Look first, then act, unless that was done before; listeners hear of it once the locks are free."""
        changed = False
        try:
            with self._lock, self._journal.hold():
                changed = self._look()
                known = self._journal.known(token)
                if known is not None:
                    return Outcome(file=known.file, revision=known.revision, words=known.words)
                outcome = carry_out()
                changed = True
                return outcome
        finally:
            if changed:
                self._tell()

    def _tell(self) -> None:
        with self._lock:
            listeners = list(self._listeners)
        for callback in listeners:
            callback()

    def _step_back(self, file: str, what: Literal["undo", "redo"], token: str) -> Outcome:
        check_name(file)
        head = self._heads.get(file)
        words = None if head is None else head.undo if what == "undo" else head.redo
        if head is None or words is None:
            raise InputError(f"there is nothing to {what} in {file}")
        if file in self._just:
            raise InputError(f"{file} was changed by another program just now; undo again takes that change back")
        said = f"{'taken back' if what == 'undo' else 'done again'}: {words}"
        self._replace(
            Intent(
                file=file,
                kind=what,
                words=said,
                made=self._made(),
                token=token,
                before=head.text,
                after=self._journal.beside(file, what),
            )
        )
        return Outcome(file=file, revision=self._heads[file].revision, words=said)

    def _save(self, made: Change, token: str) -> Outcome:
        file, head = made.file, self._heads.get(made.file)
        before = None if head is None else head.text
        if head is not None and before == made.text:
            return Outcome(file=file, revision=head.revision, words=f"{made.words}; it was so already")
        self._replace(
            Intent(
                file=file,
                kind="step",
                words=made.words,
                made=self._made(),
                token=token,
                before=before,
                after=made.text,
            )
        )
        if made.like is not None and (source := self._heads.get(made.like)) is not None and source.tuned is not None:
            self._keep_tuned(file, source.tuned)
        return Outcome(file=file, revision=self._heads[file].revision, words=made.words)

    def _replace(self, intent: Intent) -> None:
        """Intent, file, step: see `journal` for why a crash between them loses nothing."""
        self.folder.place(intent.file)
        if intent.file in self._unread:
            raise InputError(f"{self._notes.get(intent.file, intent.file)}; move it away first, so that it is not lost")
        self._journal.intend(intent)
        try:
            if self.folder.stamp(intent.file) != self._stamps.get(intent.file):
                raise InputError(f"{intent.file} was changed by another program at this very moment; do it again")
            self.folder.write(intent.file, intent.after)
        except BaseException:
            self._journal.abandon(intent.file)
            raise
        self._complete(intent.file)
        self._notes.pop(intent.file, None)

    def _complete(self, file: str) -> None:
        """The file is on the disk as intended."""
        head = self._heads[file] = self._journal.complete(file)
        if head.text is not None:
            self._kind(file, head.text)
        self._settle(file)

    def _settle(self, file: str) -> None:
        """Take note of how a file stands after it was read or written."""
        stamp = self.folder.stamp(file)
        self._page = None
        self._fresh.discard(file)
        if stamp is None:
            self._stamps.pop(file, None)
            return
        self._stamps[file] = stamp
        if stamp.written_ns > time.time_ns() - _FRESH_NS:
            self._fresh.add(file)

    def _view(self) -> FolderView:
        return FolderView(self.folder, self._heads, self._unread)

    def _made(self) -> str:
        return self._now().isoformat(timespec="seconds")

    def _note(self, file: str, words: str) -> None:
        self._notes.pop(file, None)
        self._notes[file] = words
        while len(self._notes) > _MOST_NOTES:
            del self._notes[next(iter(self._notes))]
        self._page = None

    def _kind(self, file: str, text: str) -> FileKind | None:
        """What a file is; one that was ours stays what it was however spoiled."""
        before = self._kinds.get(file)
        if before is None or before[0] != text:
            kind = kind_of(file, text)
            self._kinds[file] = (text, kind or (before[1] if before is not None else None))
        return self._kinds[file][1]

    def _keep_tuned(self, file: str, text: str) -> None:
        self._journal.set_tuned(file, text)
        head = self._journal.head(file)
        if head is not None:
            self._heads[file] = head
        self._page = None

    # --- looking -----------------------------------------------------------------------------------------------------

    def _look(self) -> bool:
        """Bring the record up to what is on the disk; True where anything is new. Called with both locks held."""
        self._just = set()
        changed = False
        if not self._started or self._journal.moved():
            heads = self._journal.heads()
            changed = heads != self._heads
            self._heads = heads
            self._journal.caught_up()
        changed |= self._recover()
        unfinished = {intent.file for intent in self._journal.unfinished()}
        stamps = self.folder.names()
        if stamps != self._stamps or not self._started:
            refused = self.folder.refused()
            changed |= refused != self._refused
            self._refused = refused
        offered = self._programmes.offered(self.folder, stamps, fresh=self._fresh)
        changed |= offered != self._offered
        self._offered = offered
        gone = [file for file, head in self._heads.items() if head.text is not None and file not in stamps]
        for file in [name for name in (*stamps, *gone) if name not in unfinished]:
            head = self._heads.get(file)
            known = self._started and stamps.get(file) == self._stamps.get(file) and file not in self._fresh
            if not known or (head is not None and self._kinds.get(file, ("", None))[0] != head.text):
                changed |= self._look_at(file)
        if changed:
            self._page = None
        return changed

    def _recover(self) -> bool:
        """Finish what a program that ended had begun."""
        done = False
        for intent in self._journal.unfinished():
            try:
                if self.folder.read(intent.file) == intent.before:
                    self.folder.write(intent.file, intent.after)
                self._complete(intent.file)
                done = True
            except InputError as error:
                self._note(intent.file, f"a change of {intent.file} is not finished: {error}")
        return done

    def _look_at(self, file: str) -> bool:
        """One file whose stamp has moved: what it holds against what is on record."""
        try:
            text = self.folder.read(file)
        except InputError as error:
            fresh = file not in self._unread
            self._unread.add(file)
            self._note(file, str(error))
            self._settle_quietly(file)
            return fresh
        was_unread = file in self._unread
        self._unread.discard(file)
        if was_unread:
            self._notes.pop(file, None)
        head = self._heads.get(file)
        known = None if head is None else head.text
        kind = self._kind(file, text) if text is not None else None
        if head is None and (text is None or kind is None):
            self._settle(file)
            return was_unread
        if head is not None and known == text:
            self._settle(file)
            return was_unread
        try:
            self._record(file, head, text)
        except InputError as error:
            self._note(file, str(error))
            return True
        self._settle(file)
        return True

    def _settle_quietly(self, file: str) -> None:
        try:
            self._settle(file)
        except InputError:
            self._stamps.pop(file, None)

    def _record(self, file: str, head: Head | None, text: str | None) -> None:
        """Take what another program did to a file into the record."""
        clock = self._now().strftime("%H:%M")
        if head is None:
            self._journal.begin(file, text)
            if self._started:
                self._note(file, f"{file} is new in the folder, put there by another program at {clock}")
        else:
            did = "deleted" if text is None else "put back" if head.text is None else "changed"
            back = "brings it back" if text is None else "takes it away again" if head.text is None else "takes it back"
            when = f"at {clock}" if self._started else "while Evenfall was closed"
            self._journal.changed_outside(file, text, words=f"{did} by another program {when}", made=self._made())
            self._note(file, f"{file} was {did} by another program {when}; undo {back}")
            self._just.add(file)
        if text is not None and self._kinds[file][1] == "plan" and not is_edited(text):
            self._journal.set_tuned(file, text)
        found = self._journal.head(file)
        if found is not None:
            self._heads[file] = found
