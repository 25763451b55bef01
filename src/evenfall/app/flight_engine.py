"""Answers what the page asks about flights: the record, what flights teach, causes, recordings and sound."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from evenfall.app import messages
from evenfall.app.actions import refuse_frozen
from evenfall.app.cache import Kept
from evenfall.app.incoming import Incoming
from evenfall.app.records import Records, unflown
from evenfall.errors import EvenfallError, InputError
from evenfall.textfile import content_hash

if TYPE_CHECKING:
    from pathlib import Path

    from evenfall.app.engine import Engine
    from evenfall.app.messages import Ask, RecordAction
    from evenfall.app.workspace import Outcome, Workspace
    from evenfall.fit.diagnose import Case
    from evenfall.fit.learned import Learned
    from evenfall.record.logbook import Logbook
    from evenfall.sheet.learn_page import LearnPage
    from evenfall.sheet.pages import Page
    from evenfall.sheet.record_page import CardPage
    from evenfall.workflow.contest import ContestCard
    from evenfall.workflow.relearning import Relearned
    from evenfall.workflow.showing import LogAnswer

Progress = Callable[[str], None]


def silent(words: str) -> None:
    """Nobody is told."""


FLIGHT_TOPICS = frozenset({"season", "flight", "learn", "diagnose", "card", "log", "sound", "clicked"})
"""Topics answered here."""


class FlightEngine:
    """The record of flights and what is made of it. Thread-safe."""

    def __init__(self, workspace: Workspace, engine: Engine) -> None:
        self._workspace = workspace
        self._engine = engine
        workspace.also_poll(self._look)
        self._logs: Kept[LogAnswer] = Kept(2)
        self._cards: Kept[ContestCard] = Kept(2)
        self._cases: Kept[Case] = Kept(2)
        self._learned: Kept[Relearned] = Kept(4)

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
            case messages.TestDone() | messages.TestOpen():
                return self.records.note_test(action)
            case messages.ChangeTake():
                return self._take_change(action, token)
            case messages.PlanProve():
                text, _ = self._workspace.plan_text(action.plan)
                page = self._learn_page(action.plane, action.plan, messages.AirAsk(), silent)
                if not page.proven:
                    raise InputError(page.proven_words)
                if self._workspace.plan_text(action.plan)[0] != text:
                    raise InputError(f"{action.plan} was changed at this very moment; look at it and do it again")
                return self.records.prove(action.plan, text, why=page.proven_words)

    def _take_change(self, action: messages.ChangeTake, token: str) -> Outcome:
        """Enter the change that the flights call for, then write it into the plan; a crash between is made good by
        the same action sent again."""
        from evenfall.radio.planfile import parse_plan

        plane = self._engine.plane_file(action.plane, {})
        entered = self.records.change(token)
        if entered is None:
            text, _ = self._workspace.plan_text(action.plan)
            refuse_frozen(action.plan, text)
            change = self._relearned(action.plane, action.plan, messages.AirAsk(), silent)[0].answer.change
            entered = self.records.enter_change(change, plane=plane, plan_file=action.plan, text=text, token=token)
        wanted = parse_plan(entered.text, plane.plane, path=action.plan)
        try:
            return self._workspace.write_plan(
                action.plane, action.plan, lambda plan, plane: wanted, words=entered.words, token=token
            )
        except InputError as error:
            self.records.book.note_effect(token, f"not carried out: {error}")
            raise

    def note_record(self) -> None:
        """Tell the folder how the record stands; nothing is opened where none was begun."""
        if self.records.begun:
            self._workspace.note_record(*self.records.standing())

    def _look(self) -> None:
        """Notice what other programs enter, once the record was opened."""
        if self.records.open and self.records.moved():
            with contextlib.suppress(EvenfallError):
                self.note_record()

    # The record

    def _flight(self, ask: Ask, say: Progress) -> Page:
        if ask.flight is None:
            raise InputError("which flight is meant? Choose one of the list")
        return self.records.flight_page(ask.flight)

    def _learn(self, ask: Ask, say: Progress) -> Page:
        return self._learn_page(ask.plane, ask.plan, ask.air, say)

    def _learn_page(self, plane: str, plan: str | None, air: messages.AirAsk, say: Progress) -> LearnPage:
        from evenfall.sheet.learn_make import learn_page
        from evenfall.sheet.learn_page import ChangePage

        found, name = self._relearned(plane, plan, air, say)
        page = learn_page(found.answer)
        page = page.model_copy(update={"plan": name, "notes": (*found.notes, *page.notes)})
        waiting = None if plan is None else self.records.waiting(page.plane, self._workspace.plan_text(plan)[0])
        if waiting is not None:
            said = ChangePage(what="Fly the last change first", why=unflown(waiting.what), none=True, effects=(),
                              check=waiting.check)  # fmt: skip
            page = page.model_copy(update={"change": said})
        return type(page).model_validate_json(self.records.with_names(page.model_dump_json()))

    def _relearned(self, plane: str, plan: str | None, air: messages.AirAsk, say: Progress) -> tuple[Relearned, str]:
        """What all flights of a plane teach about a saved plan, and what that plan is called."""
        from evenfall.workflow.learning import learn
        from evenfall.workflow.relearning import Relearned, learn_from_log

        if plan is None:
            raise InputError("Flights are judged for a plan: tune the plane first, or choose one of its plans.")
        side = self._engine.saved_side(plane, plan, air, {})
        text, _ = self._workspace.plan_text(plan)
        key = (side.key, content_hash(text), self.records.flown(side.file.plane.name))

        def make() -> Relearned:
            untaught = self._engine.prediction(side, say)
            book = self._book()
            if book is None:
                answer = learn(untaught.ready, side.plan, (), untaught=untaught, progress=say)
                return Relearned(answer=answer, before=None, flights=(), notes=())
            found = learn_from_log(book, untaught.ready, text, plan_name=plan, untaught=untaught, progress=say)
            if air == messages.AirAsk():
                self.records.keep_learned(found, plane_file=plane, plan_file=plan)
                self.note_record()
            return found

        return self._learned.get(key, make), side.plan_name

    def learned(self, plane: str, plan: str, air: messages.AirAsk, say: Progress) -> Learned | None:
        """What all flights of a plane have taught, with this plan last; None where none was entered or taught."""
        return self._relearned(plane, plan, air, say)[0].learned if self.records.begun else None

    def _season(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.record_make import empty_season, season_page
        from evenfall.workflow.recording import season

        file = self._engine.plane_file(ask.plane, {})
        if not self.records.begun:
            return empty_season(file)
        return season_page(season(self.records.book, file), file)

    def _card(self, ask: Ask, say: Progress) -> Page:
        return self.card(ask.plane, ask.plan, air=ask.air, say=say)

    def card(
        self, plane: str, plan: str | None, *, air: messages.AirAsk | None = None, say: Progress = silent
    ) -> CardPage:
        """The card of a saved plan for today's air."""
        from evenfall.sheet.card_make import card_page
        from evenfall.workflow.contest import contest_card

        if plan is None:
            raise InputError("a card is made for a plan: tune the plane first, or choose one of its plans")
        asked = air or messages.AirAsk()
        text, _ = self._workspace.plan_text(plan)
        ready = self._engine.made_ready(self._engine.plane_file(plane, {}), asked, say)
        key = (ready.file.content_hash, asked, plan, text, self.records.count)
        made = self._cards.get(key, lambda: contest_card(ready, text, plan_name=plan, book=self._book(), progress=say))
        return card_page(made)

    def _book(self) -> Logbook | None:
        """The logbook where one was begun: looking at a folder writes nothing into it."""
        return self.records.book if self.records.begun else None

    def card_file(self, plane: str, plan: str, *, air: messages.AirAsk | None = None) -> bytes:
        """The card as one file for the phone."""
        from evenfall.sheet.card_html import card_html

        return card_html(self.card(plane, plan, air=air)).encode()

    def exported(self, kind: Literal["json", "csv"]) -> bytes:
        """Everything in the record, files inside, as JSON; or its flights as CSV."""
        from evenfall.record.exchange import exported
        from evenfall.record.exchange_csv import exported_csv

        if not self.records.begun:
            raise InputError("nothing was entered into the record of this folder yet; enter a flight first")
        return (exported if kind == "json" else exported_csv)(self.records.book).encode()

    def _diagnose(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.diagnose_make import diagnose_page, unasked_page
        from evenfall.workflow.diagnosing import diagnose

        side = self._engine.saved_side(ask.plane, ask.plan, ask.air, {})
        if not ask.signs:
            return unasked_page(side.file.plane.name, side.plan_name)
        ready = self._engine.made_ready(side.file, ask.air, say)
        known = self._cases.known(side.key)
        learned = None
        if ask.plan is not None and self.records.begun:
            answer = self._relearned(ask.plane, ask.plan, ask.air, say)[0].answer
            learned = answer.calibration or answer.known
        found = diagnose(ready, side.plan, ask.signs, case=known, learned=learned, progress=say)
        self._cases.get(side.key, lambda: found.case)
        return diagnose_page(replace(found, plan_name=side.plan_name))

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
