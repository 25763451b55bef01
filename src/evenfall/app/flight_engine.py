"""Answers what the page asks about flights: the record, what flights teach, causes, recordings and sound."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from evenfall.app import messages
from evenfall.app.cache import Kept
from evenfall.app.incoming import Incoming
from evenfall.app.records import Records
from evenfall.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from evenfall.app.engine import Engine
    from evenfall.app.messages import Ask, RecordAction
    from evenfall.app.workspace import Outcome, Workspace
    from evenfall.sheet.pages import Page
    from evenfall.workflow.showing import LogAnswer

Progress = Callable[[str], None]

FLIGHT_TOPICS = frozenset({"season", "flight", "learn", "diagnose", "card", "log", "sound", "clicked"})
"""Topics answered here."""


class FlightEngine:
    """The record of flights and what is made of it. Thread-safe."""

    def __init__(self, workspace: Workspace, engine: Engine) -> None:
        self._workspace = workspace
        self._engine = engine
        self._logs: Kept[LogAnswer] = Kept(2)

    @cached_property
    def incoming(self) -> Incoming:
        """Files that wait for a flight that names them."""
        return Incoming(self._workspace.folder.path / ".evenfall" / "incoming")

    @cached_property
    def records(self) -> Records:
        """The record of the folder; its file is opened when it is first needed."""
        return Records(self._workspace, self.incoming)

    def answer(self, ask: Ask, say: Progress) -> Page:
        """The page of `evenfall.sheet.schema.TOPICS` that answers one of `FLIGHT_TOPICS`."""
        make: Callable[[Ask, Progress], Page] | None = getattr(self, f"_{ask.topic}", None)
        if make is None:
            raise InputError(f"{ask.topic} cannot be answered by this version; update Evenfall")
        return make(ask, say)

    def act(self, action: RecordAction, *, token: str, role: Literal["owner", "guest"]) -> Outcome:
        """Write into the record; the same token again is answered, not repeated."""
        if role != "owner" and not isinstance(action, messages.FlightSave):
            raise InputError("guests enter flights and bench readings, nothing else; ask the one who opened the folder")
        try:
            return self._acted(action, token)
        finally:
            self.note_record()

    def _acted(self, action: RecordAction, token: str) -> Outcome:
        match action:
            case messages.FlightSave():
                return self.records.save_flight(action, plane=self._engine.plane_file(action.plane, {}), token=token)
            case messages.FlightRemove():
                return self.records.remove_flight(action.flight)
            case messages.FlightRestore():
                return self.records.restore_flight(action.flight)
            case messages.PartReplaced():
                return self.records.replace_part(action, plane=self._engine.plane_file(action.plane, {}), token=token)
            case _:
                raise InputError(f"{action.what} cannot be done by this version; update Evenfall")

    def note_record(self) -> None:
        """Tell the folder how the record stands; nothing is opened where none was begun."""
        if self.records.begun:
            self._workspace.note_record(*self.records.standing())

    # The record

    def _flight(self, ask: Ask, say: Progress) -> Page:
        if ask.flight is None:
            raise InputError("which flight is meant? Choose one of the list")
        return self.records.flight_page(ask.flight)

    # Files from a flight

    def _original(self, ask: Ask) -> tuple[Path, str]:
        """Where a file that was sent in lies, and its name in the record."""
        if ask.original is None:
            raise InputError("which file is meant? Choose a record or a sound from the disk first")
        found = self.records.file_of(ask.original)
        return found.path, found.name

    def _log(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.log_make import log_page
        from evenfall.workflow.showing import cut_anew, show_log

        path, name = self._original(ask)
        key = (ask.original, tuple(sorted(ask.columns.items())))
        whole = self._logs.get(key, lambda: show_log(path, name=name, columns=ask.columns, progress=say))
        return log_page(cut_anew(whole, ask.cuts) if ask.cuts else whole, file=name)

    def _sound(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.log_make import disc_inertia, sound_page
        from evenfall.workflow.showing import show_sound

        path, name = self._original(ask)
        given = ask.sound
        if given is None:
            raise InputError("what was heard? Say line, pass or spin-down")
        blades = self._engine.plane_file(ask.plane, {}).plane.propeller.blades
        disc = given.disc_inertia_g_cm2
        answer = show_sound(
            path,
            name=name,
            what=given.what,
            blades=blades,
            part=(given.from_s, given.to_s),
            speed=given.speed_m_s,
            disc_inertia=None if disc is None else disc_inertia(disc),
            progress=say,
        )
        return sound_page(answer, file=name)

    def _clicked(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.log_make import clicked_page
        from evenfall.workflow.showing import show_clicked

        if ask.clicked is None:
            raise InputError("nothing was clicked yet; click the plane's place in five frames or more")
        return clicked_page(show_clicked(ask.clicked.entry()))
