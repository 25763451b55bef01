"""The plane as a declared page: its measurements, faults, facts, guesses and shape."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenfall.sheet.folder_page import FaultPage
from evenfall.sheet.pages import Page

Triple = tuple[float, float, float]


class FieldPage(Page):
    """One measurement of the plane file."""

    path: str = Field(description="Dotted key in the file, unit included; drag.0.diameter_mm for lists.")
    label: str = Field(description="What is measured, in the pilot's words.")
    unit: str = Field(description="Unit as shown; empty without one.")
    kind: Literal["number", "text", "choice", "yes/no", "list"] = Field(description="What is entered.")
    value: float | bool | str | None = Field(description="As in the file, or null; lists as text with commas.")
    spread: float | None = Field(description="One sigma in the same unit; null where unknown.")
    source: Literal["stated", "measured", "guess", "none"] = Field(description="Where the spread comes from.")
    given: bool = Field(description="The file holds the key.")
    required: bool = Field(description="The plane cannot be used without it.")
    guess: str | None = Field(description="What stands in for it, in words; null where nothing does.")
    buys: str | None = Field(description="What measuring it would buy; null where it is not guessed.")
    how: str | None = Field(description="How to measure it.")
    choices: tuple[str, ...] = Field(description="Allowed words of a choice.")
    other_units: tuple[str, ...] = Field(description="Other key endings the file may use.")
    fault: str | None = Field(description="What is wrong with it and what to do; null where nothing.")
    help: str = Field(description="Key of the help text; empty without one.")


class FieldGroup(Page):
    """One table of the plane file."""

    key: str = Field(description="Dotted key of the table.")
    title: str = Field(description="In words.")
    part: Literal["", "drag"] = Field(description="drag: one entry of a list that can be taken away.")
    fields: tuple[FieldPage, ...] = Field(description="Its measurements.")


class FactPage(Page):
    """Something that follows from the measurements."""

    name: str = Field(description="What.")
    value: str = Field(description="Rounded, with unit.")
    meaning: str = Field(description="Why it matters, in a sentence; empty where plain.")


class GuessPage(Page):
    """A number the file lacks, best buy first."""

    path: str = Field(description="Key that would give it.")
    what: str = Field(description="In words.")
    used: str = Field(description="What is used instead, with its spread.")
    buys: str = Field(description="What measuring it would buy.")
    how: str = Field(description="How to measure it.")


class SurfacePage(Page):
    """A flat piece of the plane in the drawing frame (mm: x aft, y right, z up; origin on propeller disc and thrust
    line)."""

    name: str = Field(description="upper_left, upper_left_aileron, tail_right, elevator_left, fin, rudder and so on.")
    part: Literal["wing", "aileron", "tail", "elevator", "fin", "rudder"] = Field(description="What it is.")
    outline: tuple[Triple, ...] = Field(description="Corners in order, leading edge inner first.")
    hinge: tuple[Triple, Triple] | None = Field(description="Hinge line inner to outer end; null where fixed.")
    thickness_mm: float = Field(description="Greatest thickness at the root.")


class SolidPage(Page):
    """Body, wheel, strut or opening."""

    name: str = Field(description="In words.")
    shape: Literal["body", "wheel", "bar", "plate"] = Field(description="How to draw it.")
    at: Triple = Field(description="Centre, mm.")
    size: Triple = Field(description="Extent along x, y, z, mm.")


class ShapePage(Page):
    """The plane to scale."""

    surfaces: tuple[SurfacePage, ...] = Field(description="Lifting surfaces and what hinges on them, both sides.")
    solids: tuple[SolidPage, ...] = Field(description="The rest.")
    propeller_mm: float = Field(description="Diameter; disc at the origin.")
    blades: int = Field(description="Blades.")
    cg: Triple = Field(description="Centre of gravity, mm.")
    neutral_x_mm: float | None = Field(description="Neutral point, mm; null where not computed.")
    length_mm: float = Field(description="Overall length.")
    span_mm: float = Field(description="Overall span.")
    height_mm: float = Field(description="Overall height.")


class PlaneView(Page):
    """Answer of topic `plane`."""

    file: str = Field(description="Plane file.")
    revision: int = Field(description="Its revision.")
    name: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the file.")
    usable: bool = Field(description="Read without faults.")
    text: str = Field(description="The file.")
    groups: tuple[FieldGroup, ...] = Field(description="Its tables in the order of measuring.")
    faults: tuple[FaultPage, ...] = Field(description="Every fault.")
    notes: tuple[str, ...] = Field(description="Harmless but worth a look.")
    facts: tuple[FactPage, ...] = Field(description="What follows; empty where the file cannot be used.")
    guesses: tuple[GuessPage, ...] = Field(description="What was guessed.")
    shape: ShapePage | None = Field(description="Its shape; the last usable one is kept by the page. Null if unusable.")
    wanted_speed_m_s: float | None = Field(description="Wanted speed; null where it has to be computed or is missing.")
