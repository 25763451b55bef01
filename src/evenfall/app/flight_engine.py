"""Answers what the page asks about flights: the record, what flights teach, causes, recordings and sound."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenfall.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Literal

    from evenfall.app.messages import Ask, RecordAction
    from evenfall.app.workspace import Outcome, Workspace
    from evenfall.sheet.pages import Page

    Progress = Callable[[str], None]

FLIGHT_TOPICS = frozenset({"season", "flight", "learn", "diagnose", "card", "log", "sound", "clicked"})
"""Topics answered here."""


class FlightEngine:
    """The record of flights and what is made of it. Thread-safe."""

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace

    def answer(self, ask: Ask, say: Progress) -> Page:
        """The page of `evenfall.sheet.schema.TOPICS` that answers one of `FLIGHT_TOPICS`."""
        raise InputError(f"{ask.topic} cannot be answered by this version; update Evenfall")

    def act(self, action: RecordAction, *, token: str, role: Literal["owner", "guest"]) -> Outcome:
        """Write into the record; the same token again is answered, not repeated."""
        raise InputError(f"{action.what} cannot be done by this version; update Evenfall")
