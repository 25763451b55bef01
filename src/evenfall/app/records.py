"""The record of flights behind the page: one logbook of the folder, opened when it is first asked for.

Every action is entered at most once: what it enters is named by the action's own token, so that a page that sends it
again after a crash is answered and nothing stands twice.
"""

from __future__ import annotations

import json
import re
import threading
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from evenfall.app.messages import FlightSave
from evenfall.app.workspace import Outcome
from evenfall.errors import InputError
from evenfall.textfile import content_hash

if TYPE_CHECKING:
    from pathlib import Path

    from evenfall.advise.change import Change
    from evenfall.app import messages
    from evenfall.app.incoming import Incoming
    from evenfall.app.workspace import Workspace
    from evenfall.logs.evidence_entries import FlightRecord
    from evenfall.plane.files import PlaneFile
    from evenfall.record.logbook import Logbook
    from evenfall.record.rows import ChangeRow, FlightRow, Original
    from evenfall.sheet.flight_form import FlightForm
    from evenfall.sheet.record_page import FlightFormPage
    from evenfall.workflow.relearning import Relearned

_TOKEN = re.compile(r"[A-Za-z0-9_-]{8,64}")


@dataclass(frozen=True, kw_only=True)
class Found:
    """A file that evidence came from: where it lies and its name in the record."""

    path: Path
    name: str
    hash: str


@dataclass(frozen=True, kw_only=True)
class Entered:
    """A change of a plan as it was entered: the plan's text after it, and what is changed in words."""

    text: str
    words: str


class Records:
    """The logbook of the pilot's folder. Thread-safe."""

    def __init__(self, workspace: Workspace, incoming: Incoming) -> None:
        self._workspace = workspace
        self._incoming = incoming
        self._lock = threading.RLock()
        self._book: Logbook | None = None
        self._stamp = (0, 0)

    @property
    def book(self) -> Logbook:
        """The logbook; opened and checked at the first call."""
        with self._lock:
            if self._book is None:
                from evenfall.record.logbook import Logbook

                self._book = Logbook(self._workspace.folder.path)
            return self._book

    @property
    def open(self) -> bool:
        """The logbook was opened."""
        return self._book is not None

    @property
    def begun(self) -> bool:
        """Something was entered in this folder before, so that the logbook is worth opening."""
        return self._book is not None or (self._workspace.folder.path / "logbook").is_dir()

    def moved(self) -> bool:
        """Something was entered since this was asked last, by whatever program."""
        try:
            status = (self._workspace.folder.path / "logbook" / "logbook.entries").stat()
        except OSError:
            return False
        stamp = (status.st_mtime_ns, status.st_size)
        if stamp == self._stamp:
            return False
        self._stamp = stamp
        return True

    def close(self) -> None:
        """Let go of the files."""
        with self._lock:
            if self._book is not None:
                self._book.close()
                self._book = None

    # --- flights -----------------------------------------------------------------------------------------------------

    def save_flight(self, action: FlightSave, *, plane: PlaneFile, token: str) -> Outcome:
        """Enter a flight or its next revision; raises `FileFaults` with everything that is wrong with the form."""
        from evenfall.workflow.recording import flight_row

        flight = action.flight or token
        if not _TOKEN.fullmatch(flight):
            raise InputError("the name of a flight is 8 to 64 letters, digits, - and _; send it under another")
        record = read_form(action.form)
        text, _ = self._workspace.plane_text(action.plane)
        plan_text = None if action.plan is None else self._workspace.plan_text(action.plan)[0]
        with self._lock:
            book = self.book
            before = None if action.flight is None else book.flight(flight)
            originals, arrived = self._kept_originals(action.form, () if before is None else before.originals)
            plane_key = book.keep_text("plane", plane.plane.name, text)
            plan_key = None if plan_text is None else book.keep_text("plan", action.plan or "", plan_text)
            if before is not None and action.base == before.revision - 1 and before.document == _text(record):
                return _saved(before)
            row = replace(
                flight_row(
                    record,
                    _text(record),
                    originals=originals,
                    plane=plane_key if before is None else before.plane or plane_key,
                    plan=plan_key if before is None or action.plan is not None else before.plan,
                ),
                token=flight,
                revision=action.base + 1,
                name=self._called(record, flight),
            )
            book.save_flight(row)
            for path in arrived:
                path.unlink(missing_ok=True)
        return _saved(row)

    def _called(self, record: FlightRecord, token: str) -> str:
        """What a flight is called: its day and place, counted where there are several."""
        plain = " ".join(record.place.replace("/", " ").replace("\\", " ").split())
        bare = f"{record.date[:10]} {plain}".strip()
        taken = {row.name for row in self.book.flights(removed=True) if row.token != token}
        names = (bare if number == 1 else f"{bare} ({number})" for number in range(1, len(taken) + 2))
        return next(name for name in names if name not in taken)

    def _kept_originals(self, form: FlightForm, own: tuple[str, ...]) -> tuple[tuple[str, ...], list[Path]]:
        """Hashes of the files a form names, kept now, and those that wait no longer; `own` are the flight's before."""
        names = list(dict.fromkeys([*(part.file for part in form.recorded), *(part.file for part in form.sound)]))
        missing, hashes, arrived = [], [], []
        kept = {item.name: item for item in sorted(self.book.originals(), key=lambda item: item.hash in own)}
        for name in names:
            waiting = self._incoming.named(name)
            if waiting is not None:
                hashes.append(self.book.keep_original(waiting.name, waiting.path).hash)
                arrived.append(waiting.path)
            elif name in kept:
                hashes.append(kept[name].hash)
            else:
                missing.append(name)
        if missing:
            raise InputError(f"{', '.join(missing)}: not here any more; choose it from the disk again")
        return tuple(hashes), arrived

    def remove_flight(self, flight: str) -> Outcome:
        """Take a flight out; it can be brought back."""
        self.book.remove_flight(flight)
        return Outcome(file=flight, revision=self.book.flight(flight).revision, words="flight taken out")

    def restore_flight(self, flight: str) -> Outcome:
        """Bring a flight back."""
        self.book.restore_flight(flight)
        return Outcome(file=flight, revision=self.book.flight(flight).revision, words="flight brought back")

    def flight_page(self, flight: str) -> FlightFormPage:
        """A flight as its form; raises `InputError` where it was entered as a file that no form can show."""
        import tomllib

        from pydantic import ValidationError

        from evenfall.sheet.flight_form import FlightForm
        from evenfall.sheet.record_page import FlightFormPage

        row = self.book.flight(flight)
        try:
            document = {
                key: value for key, value in tomllib.loads(row.document).items() if key in FlightForm.model_fields
            }
            form = FlightForm.model_validate(document)
        except (ValueError, ValidationError):
            raise InputError(
                "this flight was entered from a file with more in it than the form can show; change that file and "
                "enter it again"
            ) from None
        plan = None if row.plan is None else self.book.text(row.plan)
        return FlightFormPage(token=row.token, revision=row.revision, plan="" if plan is None else plan.name, form=form)

    # --- files -------------------------------------------------------------------------------------------------------

    def file_of(self, key: str) -> Found:
        """A file that waits, or one that a flight names; by the hash of its bytes."""
        waiting = self._incoming.find(key)
        if waiting is not None:
            return Found(path=waiting.path, name=waiting.name, hash=key)
        if self.begun:
            for original in self.book.originals():
                if original.hash == key and original.path is not None:
                    return self._sound(original)
        raise InputError("this file is not here any more; choose it from the disk again")

    def _sound(self, original: Original) -> Found:
        found = self.book.original(original.hash)
        assert found.path is not None
        return Found(path=found.path, name=found.name, hash=found.hash)

    # --- parts and plans ---------------------------------------------------------------------------------------------

    def replace_part(self, action: messages.PartReplaced, *, plane: PlaneFile, token: str) -> Outcome:
        """Enter that a part was replaced, and say what that voids."""
        from evenfall.record.parts import PARTS
        from evenfall.workflow.recording import enter_part

        enter_part(self.book, plane, action.part, note=action.words, date=action.date, entry=token)
        part = PARTS[action.part.partition(":")[0]]
        return Outcome(file=token, revision=1, words=f"{part.name} replaced: do again {', '.join(part.voids)}")

    def note_test(self, action: messages.TestDone | messages.TestOpen) -> Outcome:
        """Enter that a test a part voids was done again, or take that back."""
        if action.what == "test.done":
            self.book.note_redone(action.part, action.test, date=action.date)
            return Outcome(file=action.part, revision=1, words=f"{action.test}: done again")
        self.book.note_open(action.part, action.test, date=today())
        return Outcome(file=action.part, revision=1, words=f"{action.test}: to do again")

    @property
    def count(self) -> int:
        """How many entries the record has."""
        return self.book.count() if self.begun else 0

    def standing(self) -> tuple[int, frozenset[str]]:
        """How many entries the record has, and the content hashes of the plans that are proven."""
        return self.count, frozenset(row.plan for row in self.book.proven_rows())

    # --- what flights taught -----------------------------------------------------------------------------------------

    def flown(self, plane: str) -> tuple[object, ...]:
        """Equal while neither flights nor replaced parts of a plane change."""
        if not self.begun:
            return ()
        book = self.book
        parts = [(row.id, row.date) for row in book.parts(plane)]
        return (*((row.token, row.revision) for row in book.flights(plane)), *parts)

    def with_names(self, text: str) -> str:
        """A text with kept files called as the pilot knows them."""
        if not self.begun:
            return text
        for original in self.book.originals():
            if original.path is not None and original.path.name in text:
                text = text.replace(original.path.name, json.dumps(original.name, ensure_ascii=False)[1:-1])
        return text

    def keep_learned(self, found: Relearned, *, plane_file: str, plan_file: str) -> None:
        """Enter what flights with this plan have taught, once for the same flights."""
        from evenfall.workflow.relearning import keep_learned

        if found.answer.calibration is None:
            return
        plane_text, plan_text = self._workspace.plane_text(plane_file)[0], self._workspace.plan_text(plan_file)[0]
        asked = (content_hash(plane_text), content_hash(plan_text), found.flights)
        with self._lock:
            name = found.answer.ready.file.plane.name
            if all((row.plane, row.plan, row.flights) != asked for row in self.book.learned_rows(name)):
                keep_learned(self.book, found, plane_text=plane_text, plan_text=plan_text, plan_name=plan_file)

    def waiting(self, plane: str, plan_text: str) -> ChangeRow | None:
        """The change that made this plan what it is and was not flown yet; None where there is none."""
        if not self.begun:
            return None
        key = content_hash(plan_text)
        made = [row for row in self.book.changes(plane) if row.to_plan == key]
        flown = any(row.plan == key for row in self.book.flights(plane))
        return made[-1] if made and not flown else None

    def change(self, token: str) -> Entered | None:
        """A change that was entered under this token; None where there is none."""
        row = next((row for row in self.book.changes() if row.id == token), None)
        text = None if row is None or row.to_plan is None else self.book.text(row.to_plan)
        return None if row is None or text is None else Entered(text=text.body, words=row.what)

    def enter_change(
        self, change: Change | None, *, plane: PlaneFile, plan_file: str, text: str, token: str
    ) -> Entered:
        """Enter what is to be changed, why, and what it should do; raises `InputError` where nothing is."""
        from evenfall.app.actions import changed_plan_text
        from evenfall.radio.planfile import parse_plan
        from evenfall.record.rows import ChangeRow
        from evenfall.sheet.advise_make import change_page

        before = self.waiting(plane.plane.name, text)
        if before is not None:
            raise InputError(f"{unflown(before.what)} Then ask for the next, or take it back with undo.")
        if change is None:
            raise InputError("no flight has been learned from yet: enter one, then ask for the change")
        page = change_page(change)
        if page.none:
            raise InputError(f"{page.what} {page.why}")
        old = parse_plan(text.removeprefix("\ufeff"), plane.plane, path=plan_file)
        made = changed_plan_text(text, old, change.plan, plane.plane)
        book = self.book
        row = ChangeRow(
            id=token,
            date=today(),
            plane_name=plane.plane.name,
            what=page.what,
            why=page.why,
            from_plan=book.keep_text("plan", plan_file, text),
            to_plan=book.keep_text("plan", plan_file, made),
            expected="; ".join(f"{one.target}: {one.now} now, {one.after} after" for one in page.effects),
            check=page.check,
        )
        book.add_change(row)
        return Entered(text=made, words=page.what)

    def prove(self, plan_file: str, text: str, *, why: str) -> Outcome:
        """Mark a plan as proven."""
        key = content_hash(text)
        with self._lock:
            if self.book.proven(key) is None:
                self.book.keep_text("plan", plan_file, text)
                self.book.mark_proven(key, why, date=today())
        return Outcome(file=plan_file, revision=self._workspace.plan_text(plan_file)[1], words=f"proven: {why}")


def read_form(form: FlightForm) -> FlightRecord:
    """The flight of a form; raises `FileFaults` with every fault at its place in the form."""
    from evenfall.logs.evidence_file import read_flight_document

    return read_flight_document(form.document(), name="the form")


def _text(record: FlightRecord) -> str:
    from evenfall.logs.evidence_file import flight_text

    return flight_text(record)


def unflown(what: str) -> str:
    """Words for a change that was taken and not flown."""
    return f"The last change was not flown yet ({what.rstrip('.')}). Fly it first: one change a flight."


def today() -> str:
    """Today, ISO 8601."""
    return datetime.now().date().isoformat()


def _saved(row: FlightRow) -> Outcome:
    pieces = f"{row.pieces} {'piece' if row.pieces == 1 else 'pieces'} of evidence"
    what = "flight entered" if row.revision == 1 else "flight changed"
    return Outcome(file=row.token, revision=row.revision, words=f"{what}, {pieces}")
