"""What lies in the pilot's folder, and faults in words."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from evenfall.sheet.pages import Page


class FaultPage(Page):
    """One fault of a file."""

    where: str = Field(description="Dotted key; empty for the file as a whole.")
    line: int | None = Field(description="Line of the file, from 1; null for a missing key.")
    words: str = Field(description="What came, what is allowed, what to do.")


class PlaneEntry(Page):
    """A plane file of the folder."""

    file: str = Field(description="Name of the file.")
    name: str = Field(description="Name of the plane; the file's where it cannot be read.")
    usable: bool = Field(description="Read without faults.")
    revision: int = Field(description="Counts up with every change.")
    undo: str | None = Field(description="What undo would take back; null where nothing.")
    redo: str | None = Field(description="What redo would do; null where nothing.")
    own_plan: str = Field(description="Name of the plane's own plan file, there or not.")
    plans: tuple[str, ...] = Field(description="Plan files made for it, its own first where it is there.")


class PlanEntry(Page):
    """A plan file of the folder."""

    file: str = Field(description="Name of the file.")
    label: str = Field(description="What to call it.")
    plane: str = Field(description="Name of the plane it was made for.")
    usable: bool = Field(description="Read without faults.")
    state: Literal["tuned", "edited", "frozen", "proven"] = Field(
        description="As computed, changed by hand, kept for good, or proven by flights."
    )
    frozen_on: str | None = Field(description="Date of freezing; null where not frozen.")
    revision: int = Field(description="Counts up with every change.")
    undo: str | None = Field(description="What undo would take back; null where nothing.")
    redo: str | None = Field(description="What redo would do; null where nothing.")


class SequenceEntry(Page):
    """A programme of figures to fly."""

    file: str = Field(description="Name of the file; of one that comes with Evenfall the name it goes by.")
    name: str = Field(description="What it calls itself; empty where it does not say.")
    hash: str = Field(description="Of its content: another one where it has changed.")


class FolderPage(Page):
    """The pilot's folder."""

    folder: str = Field(description="Where it is.")
    planes: tuple[PlaneEntry, ...] = Field(description="Plane files.")
    plans: tuple[PlanEntry, ...] = Field(description="Plan files.")
    notes: tuple[str, ...] = Field(description="What to know, for example that a file was changed by another program.")
    shared: str | None = Field(description="Address for the local network; null where not shared.")
    sequences: tuple[SequenceEntry, ...] = Field(
        default=(), description="Programmes to fly: those that come with Evenfall, then files of the folder."
    )
    record: int = Field(default=0, description="Counts up with every entry into the record of flights.")
