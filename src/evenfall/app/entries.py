"""The folder as the page lists it: planes, their plans, and in which state each is."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Set
from dataclasses import dataclass
from typing import Any, Literal

from evenfall.app.folder import FileKind, own_plan, stem_of
from evenfall.app.journal import Head
from evenfall.errors import FileFaults
from evenfall.plane.airframe import Plane
from evenfall.plane.files import parse_plane
from evenfall.radio.planfile import is_edited, is_frozen, parse_plan, thawed_text
from evenfall.sheet.folder_page import PlaneEntry, PlanEntry
from evenfall.textfile import content_hash

State = Literal["tuned", "edited", "frozen", "proven"]


@dataclass(frozen=True, kw_only=True)
class PlaneRead:
    """What is known of a plane file's text."""

    text: str
    name: str
    plane: Plane | None


@dataclass(frozen=True, kw_only=True)
class PlanRead:
    """What is known of a plan file's text, tried on its plane."""

    text: str
    tuned: str | None
    plane_text: str | None
    plane: str
    usable: bool
    state: State
    frozen_on: str | None


class Entries:
    """Makes the entries of the folder; what has not changed is not read again."""

    def __init__(self) -> None:
        self._planes: dict[str, PlaneRead] = {}
        self._plans: dict[str, PlanRead] = {}
        self._names: dict[str, tuple[str, str]] = {}

    def plane(self, file: str, text: str) -> PlaneRead:
        """A plane file by its text."""
        found = self._planes.get(file)
        if found is None or found.text != text:
            found = self._planes[file] = _read_plane(file, text)
        return found

    def plane_of(self, file: str, text: str) -> str:
        """Name of the plane a plan file names."""
        found = self._names.get(file)
        if found is None or found[0] != text:
            name = data(text).get("plane")
            found = self._names[file] = (text, name if isinstance(name, str) else "")
        return found[1]

    def lists(
        self, heads: Mapping[str, Head], kinds: Mapping[str, FileKind], proven: Set[str] = frozenset()
    ) -> tuple[tuple[PlaneEntry, ...], tuple[PlanEntry, ...]]:
        """Entries of every file that is there; `proven` are content hashes of plans that flights have proven."""
        texts = {file: head.text for file, head in heads.items() if head.text is not None and file in kinds}
        planes = {file: self.plane(file, text) for file, text in texts.items() if kinds[file] == "plane"}
        plans = {file: text for file, text in texts.items() if kinds[file] == "plan"}
        homes = {file: home(file, self.plane_of(file, text), planes) for file, text in plans.items()}
        return (
            tuple(_plane_entry(heads[file], read, homes) for file, read in sorted(planes.items())),
            tuple(self._plan_entry(heads[file], planes, homes[file], proven) for file in sorted(plans)),
        )

    def _plan_entry(
        self, head: Head, planes: Mapping[str, PlaneRead], plane_file: str | None, proven: Set[str]
    ) -> PlanEntry:
        read = self._plan(head, planes.get(plane_file) if plane_file is not None else None)
        return PlanEntry(
            file=head.file,
            label=label(head.file, plane_file),
            plane=read.plane,
            usable=read.usable,
            state="proven" if proven and is_proven(read.text, proven) else read.state,
            frozen_on=read.frozen_on,
            revision=head.revision,
            undo=head.undo,
            redo=head.redo,
        )

    def _plan(self, head: Head, plane: PlaneRead | None) -> PlanRead:
        text, plane_text = head.text or "", None if plane is None else plane.text
        found = self._plans.get(head.file)
        if found is None or (found.text, found.tuned, found.plane_text) != (text, head.tuned, plane_text):
            day = data(text).get("frozen") if is_frozen(text) else None
            found = self._plans[head.file] = PlanRead(
                text=text,
                tuned=head.tuned,
                plane_text=plane_text,
                plane=self.plane_of(head.file, text),
                usable=_is_usable(head.file, text, None if plane is None else plane.plane),
                state=state(text, head.tuned),
                frozen_on=None if day is None else str(day),
            )
        return found


def home(plan: str, plane_name: str, planes: Mapping[str, PlaneRead]) -> str | None:
    """The plane file a plan belongs to: by its file name first, by the plane it names else; None where none fits."""
    stem = stem_of(plan)
    named = [file for file in planes if stem == stem_of(file) or stem.startswith(f"{stem_of(file)}.")]
    if named:
        return max(named, key=len)
    same = sorted(file for file, read in planes.items() if plane_name and read.name == plane_name)
    return same[0] if same else None


def label(plan: str, plane: str | None) -> str:
    """What to call a plan: of a frozen copy the label it was given."""
    stem = stem_of(plan)
    if plane is not None and stem == stem_of(plane):
        return "plan"
    if plane is not None and stem.startswith(f"{stem_of(plane)}."):
        stem = stem[len(stem_of(plane)) + 1 :]
    return stem.replace("_", " ")


def state(text: str, tuned: str | None) -> State:
    """Kept for good, as computed, or changed by hand."""
    if is_frozen(text):
        return "frozen"
    if not is_edited(text) or (tuned is not None and _content(text) == _content(tuned)):
        return "tuned"
    return "edited"


def is_proven(text: str, proven: Set[str]) -> bool:
    """Flights have proven this plan, or the one it is a frozen copy of."""
    return content_hash(text) in proven or (is_frozen(text) and content_hash(thawed_text(text)) in proven)


def data(text: str) -> dict[str, Any]:
    """The file as plain data; empty where it cannot be read."""
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError):
        return {}


def _content(text: str) -> dict[str, Any]:
    return {key: value for key, value in data(text).items() if key not in ("seal", "computed_from", "frozen")}


def _read_plane(file: str, text: str) -> PlaneRead:
    try:
        plane = parse_plane(text.removeprefix("\ufeff"), path=file).plane
    except FileFaults:
        name = data(text).get("name")
        said = name.strip() if isinstance(name, str) and name.isprintable() and 0 < len(name.strip()) <= 80 else ""
        return PlaneRead(text=text, name=said or stem_of(file), plane=None)
    return PlaneRead(text=text, name=plane.name, plane=plane)


def _is_usable(file: str, text: str, plane: Plane | None) -> bool:
    if plane is None:
        return False
    try:
        parse_plan(text.removeprefix("\ufeff"), plane, path=file)
    except FileFaults:
        return False
    return True


def _plane_entry(head: Head, read: PlaneRead, homes: Mapping[str, str | None]) -> PlaneEntry:
    own = own_plan(head.file)
    mine = sorted(plan for plan, plane in homes.items() if plane == head.file)
    return PlaneEntry(
        file=head.file,
        name=read.name,
        usable=read.plane is not None,
        revision=head.revision,
        undo=head.undo,
        redo=head.redo,
        own_plan=own,
        plans=tuple(sorted(mine, key=lambda plan: plan != own)),
    )
