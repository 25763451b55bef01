"""Answers what the page asks about a whole programme: one flight, or two side by side."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from evenfall.app.cache import Kept
from evenfall.errors import InputError
from evenfall.plane.starter import PROGRAMMES, SEQUENCE_ENDING, programme_path

if TYPE_CHECKING:
    from evenfall.app.engine import Engine, Side
    from evenfall.app.messages import Ask
    from evenfall.app.workspace import Workspace
    from evenfall.lines.loaded import LoadedDrag
    from evenfall.lines.sequence import Sequence
    from evenfall.sheet.fly_page import FlyPage
    from evenfall.wind import WindDay
    from evenfall.workflow.flying import Flown

Progress = Callable[[str], None]


class FlyEngine:
    """Programmes flown. Thread-safe; the last few flights are kept, and tables of drag for another wind."""

    def __init__(self, workspace: Workspace, engine: Engine) -> None:
        self._workspace = workspace
        self._engine = engine
        self._forces: Kept[LoadedDrag] = Kept(4)
        self._kept: Kept[Flown] = Kept(4)

    def answer(self, ask: Ask, here: Side, there: Side | None, say: Progress) -> FlyPage:
        """The page of a flight; with a second flight of the same where there is a second side.

        Raises `InputError` for a sequence that is not there or cannot be flown.
        """
        from evenfall.sheet.fly_make import fly_against_page, fly_page
        from evenfall.sheet.wind_words import wind_words
        from evenfall.wind import WindDay
        from evenfall.workflow.flying import compare

        sequence = self.sequence(ask.sequence)
        day = WindDay(speed=ask.wind_m_s, towards=math.radians(ask.wind_towards_deg))
        first = self.flown(here, sequence, day, say)
        if there is None:
            return fly_page(first, wind=wind_words(day))
        say("the other one")
        second = self.flown(there, sequence, day, say)
        return fly_against_page(compare(first, second), wind=wind_words(day))

    def sequence(self, name: str) -> Sequence:
        """A programme of the folder, or one that comes with Evenfall."""
        from evenfall.lines.sequence_file import load_sequence, parse_sequence

        if name in PROGRAMMES:
            return load_sequence(programme_path(name))
        if not name.endswith(SEQUENCE_ENDING):
            raise InputError(
                f"{name} is no programme: give {', '.join(PROGRAMMES)} or a file NAME{SEQUENCE_ENDING} of the folder"
            )
        text = self._workspace.folder.read(name)
        if text is None:
            raise InputError(f"there is no {name} in the folder; it may have been renamed")
        return parse_sequence(text, path=name)

    def flown(self, side: Side, sequence: Sequence, day: WindDay, say: Progress) -> Flown:
        """A programme flown with a plan in the wind of a day; kept."""
        from evenfall.lines.loaded import loaded_drag
        from evenfall.workflow.flying import day_of, fly

        def fresh() -> Flown:
            ready = self._engine.made_ready(side.file, side.air, say)
            say("balances under load")
            forces = self._forces.get(
                (side.plane_key, repr(side.plan.crow)),
                lambda: loaded_drag(ready.frame, side.plan.crow, wanted=ready.wanted),
            )
            return fly(ready, side.plan, sequence, wind=day_of(day, ready), forces=forces, progress=say)

        known = self._kept.get((side.key, repr(sequence), day), fresh)
        return replace(known, plan_name=side.plan_name)
