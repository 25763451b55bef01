"""The record: flights, the season, replaced parts, and the card for a contest."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenfall.sheet.flight_form import FlightForm
from evenfall.sheet.pages import Page, Spreading


class OriginalPage(Page):
    """A file that evidence came from."""

    hash: str = Field(description="SHA-256 of its bytes, hexadecimal.")
    name: str = Field(description="Its name.")
    size: int = Field(description="Bytes.")
    kept: bool = Field(description="True where it is kept beside the record; a video is only named.")


class OriginalAnswer(Page):
    """A file that was sent in and is kept beside the record."""

    hash: str = Field(description="SHA-256 of its bytes, hexadecimal: what `log` and `sound` are asked about.")
    name: str = Field(description="Its name in the record, to be given as `file` in the form.")
    size: int = Field(description="Bytes.")
    kind: Literal["csv", "gpx", "nmea", "wav", "other"] = Field(description="What it seems to be.")
    words: str = Field(description="What can be done with it.")


class FlightFormPage(Page):
    """A flight of the record as its form."""

    token: str = Field(description="Which flight.")
    revision: int = Field(description="To be sent back as `base` when the form is saved.")
    plan: str = Field(description="Plan file it was flown with; empty where not known.")
    form: FlightForm = Field(description="What was seen.")


class FlightEntryPage(Page):
    """One flight in the list."""

    token: str = Field(description="Which flight.")
    date: str = Field(description="ISO 8601.")
    place: str = Field(description="Where.")
    plan: str = Field(description="What the plan was called; empty where not known.")
    plan_hash: str = Field(description="Hash of its plan; empty where not known.")
    pieces: int = Field(description="Pieces of evidence.")
    words: str = Field(description="What was seen, short.")
    revision: int = Field(description="Counts up with every change of the flight.")
    removed: bool = Field(description="Taken out; can be brought back.")
    originals: tuple[OriginalPage, ...] = Field(description="Files the evidence came from.")


class DoneAgainPage(Page):
    """A test that was done again."""

    test: str = Field(description="Which.")
    date: str = Field(description="When, ISO 8601.")
    noted: bool = Field(description="True where the pilot said so, which can be taken back; else a flight shows it.")
    words: str = Field(description="The same in words.")


class PartPage(Page):
    """A replaced or repaired part and what it voids."""

    key: str = Field(description="Which kind of part.")
    date: str = Field(description="When; empty in the list of what can be replaced.")
    words: str = Field(description="What was done, or what the part is called.")
    voids: tuple[str, ...] = Field(description="Tests to do again, in words.")
    open: tuple[str, ...] = Field(description="Those not done again yet.")
    done: tuple[DoneAgainPage, ...] = Field(default=(), description="Those done again, when and by what.")
    why: str = Field(description="Reason, with source or common practice.")
    token: str = Field(default="", description="Which entry of the record; empty in the list of what can be replaced.")


class SeasonRowPage(Page):
    """One thing that happened."""

    date: str = Field(description="ISO 8601.")
    what: Literal["flight", "change", "part", "learned", "proven", "plan", "test"] = Field(description="Kind.")
    words: str = Field(description="What.")
    why: str = Field(description="Reason; empty where none was given.")
    effect: str = Field(description="What it did; empty where not seen yet.")
    down_m_s: Spreading | None = Field(description="Vertical down speed believed then; null where not known.")


class SeasonPage(Page):
    """A plane's season: what changed, why, what it did."""

    plane: str = Field(description="Name of the plane.")
    note: str = Field(description="What was set aside or restored on opening the record; empty where nothing.")
    flights: tuple[FlightEntryPage, ...] = Field(description="Flights, newest first.")
    rows: tuple[SeasonRowPage, ...] = Field(description="Everything, newest first.")
    parts: tuple[PartPage, ...] = Field(description="Replaced parts, newest first.")
    kinds: tuple[PartPage, ...] = Field(description="Parts that can be replaced and what each voids.")
    wanted_m_s: float | None = Field(description="The wanted speed.")


class CardRowPage(Page):
    """What a surface must show at one stick position of a phase."""

    phase: str = Field(description="Phase.")
    do: str = Field(description="What to do with stick or switch.")
    see: str = Field(description="What must be seen.")


class CardPage(Page):
    """The card for a contest day: one screen, nothing to compute."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="What the plan is called.")
    plan_hash: str = Field(description="First twelve digits of its hash.")
    state: str = Field(description="tuned, edited, frozen, proven, in words.")
    date: str = Field(description="Date of the card.")
    checks: tuple[CardRowPage, ...] = Field(description="Half a minute of surfaces, phase by phase.")
    air: str = Field(description="Today's air in words.")
    speeds: tuple[str, ...] = Field(description="What the lines do in this air.")
    change: str = Field(description="Change this, or that nothing is to be changed.")
    cautions: tuple[str, ...] = Field(description="What can hurt.")
