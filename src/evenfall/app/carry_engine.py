"""Answers what the page asks about a plan beyond one plane and one line: taken along to another plane, and tuned for a
whole programme. Both end in a plan that can be written.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from evenfall.app import messages
from evenfall.app.cache import Kept
from evenfall.app.folder import stem_of
from evenfall.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from evenfall.app.engine import Engine
    from evenfall.app.fly_engine import FlyEngine
    from evenfall.app.workspace import Workspace
    from evenfall.radio.plan import Plan
    from evenfall.sheet.pages import Page
    from evenfall.workflow.carrying import Carried
    from evenfall.workflow.programming import ProgrammeAnswer

Progress = Callable[[str], None]

CARRY_TOPICS = frozenset({"carry", "programme"})
"""Topics answered here."""


class CarryEngine:
    """Plans carried over and programmes tuned. Thread-safe; the last few of both are kept."""

    def __init__(self, workspace: Workspace, engine: Engine, programmes: FlyEngine) -> None:
        self._workspace = workspace
        self._engine = engine
        self._programmes = programmes
        self._carried: Kept[Carried] = Kept(3)
        self._tuned: Kept[ProgrammeAnswer] = Kept(2)

    def answer(self, ask: messages.Ask, say: Progress, cancelled: Callable[[], bool]) -> Page:
        """The page that answers one of `CARRY_TOPICS`."""
        if ask.topic == "carry":
            from evenfall.sheet.carry_page import carry_page

            if ask.to is None:
                raise InputError("which plane is the plan taken to? Choose one; the same one to try other parts on it")
            return carry_page(self._carry(ask.plane, ask.plan, ask.to, ask.what_if, ask.air, say))
        from evenfall.sheet.trade_picture import pictured

        return pictured(self._tune(ask.plane, ask.sequence, ask.winds_m_s, ask.air, say, cancelled))

    def plan(
        self, action: messages.PlanCarry | messages.PlanProgramme, say: Progress, cancelled: Callable[[], bool]
    ) -> Plan:
        """The plan that an action writes; raises `InputError` where there is none."""
        if isinstance(action, messages.PlanCarry):
            answer = self._carry(action.plane, action.plan, action.to, {}, action.air, say)
            if answer.plan is None:
                raise InputError(f"{action.to} has no plan that behaves like {action.plan}; nothing was written")
            return answer.plan
        tuned = self._tune(action.plane, action.sequence, action.winds_m_s, action.air, say, cancelled)
        if tuned.plan is None:
            raise InputError(f"no setting flies {action.sequence} to its end; nothing was written")
        return tuned.plan

    def plane_and_plan(self, action: messages.PlanCarry, name: str, say: Progress) -> tuple[str, Plan]:
        """Text of a plane file with the parts that an action tries, under a name of its own, and its plan.

        Raises `InputError` where there is no plan to keep.
        """
        from evenfall.workflow.keeping import kept

        said = " ".join(name.split())
        if not said or not said.isprintable():
            raise InputError("a plane's name is one line of printable characters; give it another")
        file, plan = kept(self._carry(action.plane, action.plan, action.to, action.what_if, action.air, say), said)
        return file.text, plan

    def _carry(
        self,
        plane: str,
        plan: str | None,
        to: str,
        what_if: Mapping[str, messages.Value],
        air: messages.AirAsk,
        say: Progress,
    ) -> Carried:
        from evenfall.workflow.carrying import carry, check_ailerons, level_asked, voided

        if plan is None:
            raise InputError("a plan is taken along: tune the plane first, or choose one of its plans")
        side = self._engine.saved_side(plane, plan, air, {})
        other = self._engine.plane_file(to, what_if)
        check_ailerons(other)
        level = level_asked(other, what_if)
        learned = self._engine.flights.learned(plane, plan, air, say)

        def make() -> Carried:
            first = self._engine.made_ready(side.file, air, say)
            there = self._engine.made_ready(other, air, say)
            return carry(first, side.plan, there, learned=learned, level=level, progress=say)

        found = self._carried.get((side.key, other.content_hash, level, repr(learned)), make)
        void = voided(what_if, same_level=level == side.plan.motor.level)
        return replace(found, first=replace(found.first, plan_name=side.plan_name), voids=void)

    def _tune(
        self,
        plane: str,
        sequence: str,
        winds: tuple[float, ...],
        air: messages.AirAsk,
        say: Progress,
        cancelled: Callable[[], bool],
    ) -> ProgrammeAnswer:
        from evenfall.app.engine import Cancelled
        from evenfall.workflow.programming import CORES, Stopped, tune_programme

        file = self._engine.plane_file(plane, {})
        flown = self._programmes.sequence(sequence)

        def make() -> ProgrammeAnswer:
            ready = self._engine.made_ready(file, air, say)
            keep = self._kept_at(plane, sequence)
            try:
                answer = tune_programme(
                    ready,
                    flown,
                    winds=winds,
                    keep=keep,
                    cores=min(CORES, os.cpu_count() or 1),
                    progress=say,
                    cancelled=cancelled,
                )
            except Stopped as stopped:
                raise Cancelled from stopped
            keep.unlink(missing_ok=True)
            return answer

        return self._tuned.get((file.content_hash, air, repr(flown), winds), make)

    def _kept_at(self, plane: str, sequence: str) -> Path:
        """Where settings that were flown are kept until all are, so that a tuning goes on where it was stopped."""
        folder = self._workspace.folder.path / ".evenfall"
        folder.mkdir(exist_ok=True)
        return folder / f"{stem_of(plane)}.{sequence}.programme"
