"""What each action makes of which file: texts in, text out; nothing here touches the disk."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from evenfall.app import messages
from evenfall.app.entries import data
from evenfall.app.folder import PLAN_ENDING, bench_name, check_name, kind_of, own_plan, slug, stem_of
from evenfall.app.readings_file import with_reading
from evenfall.errors import EvenfallError, FileFaults, InputError
from evenfall.plane.airframe import Plane
from evenfall.plane.files import parse_plane
from evenfall.plane.plane_edit import edited_text, path_of, with_part, without_part
from evenfall.plane.starter import template_text
from evenfall.plane.text_edit import Path, literal, remove_value, set_value
from evenfall.radio.plan import Plan, present_plan
from evenfall.radio.planfile import frozen_text, is_edited, is_frozen, parse_plan, plan_text, thawed_text, unsealed
from evenfall.textfile import parse_toml

FileAction = (
    messages.PlaneSet | messages.TextSet | messages.PartAdd | messages.PartDrop | messages.PlanSet
    | messages.PlanFreeze | messages.PlanThaw | messages.PlaneNew | messages.BenchRead
)  # fmt: skip
"""Actions that make a new text of one file."""
PLAN_ORDER = ("crow", "motor", "phase", "corner", "computed_from", "seal")
"""Tables of a plan file in their order."""


@dataclass(frozen=True, kw_only=True)
class Change:
    """A file's new text and what was done, in words; None takes the file away."""

    file: str
    text: str | None
    words: str
    like: str | None = None
    """The file whose tuned plan is the new file's too."""


class Files(Protocol):
    """What an action may look at."""

    def text(self, file: str) -> str | None:
        """A file as it stands; None where there is none."""

    def revision(self, file: str) -> int:
        """Its revision; 0 where there is none."""

    def free_name(self, stem: str, ending: str) -> str:
        """A name nothing stands under yet."""

    def check_readings(self, file: str, plane: Plane, plan: Plan) -> None:
        """Raise where a file of readings has faults."""


def change(action: FileAction, files: Files, *, today: date) -> Change:
    """What an action comes to; raises `InputError` or `FileFaults` where it may not be done."""
    match action:
        case messages.PlaneSet():
            return _plane_set(action, files)
        case messages.PartAdd():
            text = _whole(action.file, _plane_text(action.file, files))
            return Change(file=action.file, text=with_part(text, action.part), words=f"{action.part} added")
        case messages.PartDrop():
            text = _whole(action.file, _plane_text(action.file, files))
            return Change(file=action.file, text=without_part(text, action.index), words=_dropped(text, action.index))
        case messages.TextSet():
            return _text_set(action, files)
        case messages.PlanSet():
            return _plan_set(action, files)
        case messages.PlanFreeze():
            return _plan_freeze(action, files, today)
        case messages.PlanThaw():
            return _plan_thaw(action, files)
        case messages.PlaneNew():
            return _plane_new(action, files)
        case messages.BenchRead():
            return _bench_read(action, files)


def refuse_frozen(file: str, text: str | None) -> None:
    """Raise where a plan is kept for good."""
    if text is not None and is_frozen(text):
        raise InputError(
            f"{file} is frozen and stays as it is; make it the plane's own plan again to go on from it, "
            "or change the plane's own plan"
        )


# --- planes ----------------------------------------------------------------------------------------------------------


def _plane_text(file: str, files: Files) -> str:
    text = files.text(file)
    if text is None:
        raise InputError(f"there is no file {file} in the folder; it may have been taken away or renamed")
    if not file.endswith(".toml") or kind_of(file, text) == "plan" or not files.revision(file):
        raise InputError(f"{file} is no plane file; name one")
    return text


def _whole(file: str, text: str) -> str:
    """The text where it is valid TOML; raises `FileFaults` with the rows that are not."""
    parse_toml(text.removeprefix("\ufeff"), path=file, what="plane file")
    return text


def read_plane(file: str, files: Files) -> Plane:
    """The plane of a file; raises `FileFaults` with every fault."""
    return parse_plane(_plane_text(file, files).removeprefix("\ufeff"), path=file).plane


def _plane_set(action: messages.PlaneSet, files: Files) -> Change:
    text = _whole(action.file, _plane_text(action.file, files))
    for key in action.edits:
        path_of(key)
    return Change(file=action.file, text=edited_text(text, action.edits), words=_edit_words(action.edits))


def _edit_words(edits: Mapping[str, Any]) -> str:
    if len(edits) != 1:
        return f"{len(edits)} values changed"
    ((key, value),) = edits.items()
    if value is None:
        return f"{key} taken out"
    said = f"{literal(value[0])} +- {literal(value[1])}" if isinstance(value, tuple) else _said(value)
    return f"{key} set to {said}"


def _said(value: bool | float | str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value if len(value) <= 40 and value.isprintable() else "a text"
    return literal(value)


def _dropped(text: str, index: int) -> str:
    parts = data(text).get("drag")
    part = parts[index] if isinstance(parts, list) and index < len(parts) else None
    what = (part.get("name") or part.get("what")) if isinstance(part, dict) else None
    return f"{what if isinstance(what, str) and what.isprintable() and len(what) <= 60 else 'part'} taken away"


def _plane_new(action: messages.PlaneNew, files: Files) -> Change:
    text = template_text() if action.source is None else _plane_text(action.source, files)
    name = " ".join(action.name.split())
    if not name or not name.isprintable():
        raise InputError("a plane's name is one line of printable characters; give it another")
    file = files.free_name(slug(name, otherwise="plane"), ".toml")
    return Change(file=file, text=edited_text(_whole(file, text), {"name": name}), words=f"{name} begun")


# --- texts -----------------------------------------------------------------------------------------------------------


def _text_set(action: messages.TextSet, files: Files) -> Change:
    file = check_name(action.file)
    if not file.endswith(".toml"):
        raise InputError(f"{file} is no plane or plan file; its readings are changed one by one")
    old = files.text(file)
    what = "plan file" if kind_of(file, action.text) == "plan" else "plane file"
    if old is not None and not files.revision(file):
        raise InputError(f"{file} is there already and is no plane or plan file; choose another name")
    refuse_frozen(file, old if old is not None and kind_of(file, old) == "plan" else None)
    if action.base != files.revision(file):
        raise InputError(
            f"{file} has been changed since this text was begun (it is at change {files.revision(file)}, the text at "
            f"{action.base}); read it again, then make your change there"
        )
    parse_toml(action.text.removeprefix("\ufeff"), path=file, what=what)
    if kind_of(file, action.text) is None:
        raise InputError(f"the text is neither a plane nor a plan file; {file} stays as it is")
    return Change(file=file, text=action.text, words="text changed" if old is not None else "file put in the folder")


# --- plans -----------------------------------------------------------------------------------------------------------


def _plan_name(file: str) -> str:
    if not check_name(file).endswith(PLAN_ENDING):
        raise InputError(f"{file} is no plan file; its name ends in {PLAN_ENDING}")
    return file


def _existing_plan(file: str, files: Files) -> str:
    text = files.text(file)
    if text is None:
        raise InputError(f"there is no plan file {file} in the folder; tune the plane first, or change its plan")
    if kind_of(file, text) != "plan":
        raise InputError(f"{file} is no plan file")
    return text


def _plan_set(action: messages.PlanSet, files: Files) -> Change:
    from evenfall.sheet.plan_edit import apply_changes

    plane = read_plane(action.plane, files)
    text = files.text(action.file)
    if text is None and action.file != own_plan(action.plane):
        text = _existing_plan(action.file, files)
    refuse_frozen(action.file, text)
    begun = plan_text(present_plan(plane)) if text is None else _existing_plan(action.file, files)
    old = parse_plan(begun.removeprefix("\ufeff"), plane, path=action.file)
    new = apply_changes(old, action.changes, plane)
    made = changed_plan_text(begun, old, new, plane)
    if text is None and not is_edited(made):
        made = unsealed(made)
    return Change(file=action.file, text=made, words=_plan_words(action))


def remade(plane_file: str, file: str, make: Callable[[Plan, Plane], Plan], files: Files, *, words: str) -> Change:
    """A plan changed by a function of it and its plane; what does not differ stays as it stands in the file."""
    plane, text = read_plane(plane_file, files), _existing_plan(_plan_name(file), files)
    refuse_frozen(file, text)
    old = parse_plan(text.removeprefix("\ufeff"), plane, path=file)
    return Change(file=file, text=changed_plan_text(text, old, make(old, plane), plane), words=words)


def _plan_words(action: messages.PlanSet) -> str:
    said = action.changes.model_dump(exclude_none=True, exclude_defaults=True)
    names = [*(key for key in said if key not in ("phases", "corners"))]
    names += [f"phase {name}" for name in said.get("phases", {})]
    names += [str(name) for name in said.get("corners", {})]
    readable = [name.removesuffix("_percent").removesuffix("_deg").replace("_", " ") for name in names]
    return f"{', '.join(readable[:4]) or 'plan'}{' and more' if len(readable) > 4 else ''} changed"


def changed_plan_text(text: str, old: Plan, new: Plan, plane: Plane) -> str:
    """A plan file with what differs between two plans changed in place, all else as it stands, the seal too.

    A file whose layout does not allow that is written anew, without seal.
    """
    try:
        made = _changed_in_place(text, old, new)
        if plan_text(parse_plan(made.removeprefix("\ufeff"), plane)) == plan_text(new):
            return made
    except (InputError, ValueError):
        pass
    return unsealed(plan_text(new))


def _changed_in_place(text: str, old: Plan, new: Plan) -> str:
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    windows = "\r\n" in text
    made = text[len(mark) :].replace("\r\n", "\n")
    was, wanted = dict(_leaves(data(plan_text(old)))), dict(_leaves(data(plan_text(new))))
    for path, value in wanted.items():
        if path[0] not in ("seal", "computed_from") and was.get(path) != value:
            made = set_value(made, path, value, order=PLAN_ORDER)
    for path in was.keys() - wanted.keys():
        made = remove_value(made, path)
    for table in _tables(was) - _tables(wanted):
        made = remove_value(made, table)
    return mark + (made.replace("\n", "\r\n") if windows else made)


def _leaves(table: Mapping[str, Any], above: Path = ()) -> list[tuple[Path, Any]]:
    found: list[tuple[Path, Any]] = []
    for key, value in table.items():
        path = (*above, key)
        found += _leaves(value, path) if isinstance(value, dict) else [(path, value)]
    return found


def _tables(leaves: Mapping[Path, Any]) -> set[Path]:
    return {path[:-1] for path in leaves if len(path) > 1}


def _plan_freeze(action: messages.PlanFreeze, files: Files, today: date) -> Change:
    text = _existing_plan(action.file, files)
    parse_toml(text.removeprefix("\ufeff"), path=action.file, what="plan file")
    _plane_text(action.plane, files)
    label = slug(action.label, otherwise="")
    if not label:
        raise InputError("a name for the copy needs a letter or a digit; give it another")
    file = files.free_name(f"{stem_of(action.plane)}.{label}", PLAN_ENDING)
    words = " ".join(action.label.split())
    said = words if words.isprintable() else label
    return Change(file=file, text=frozen_text(text, today), words=f"kept as {said}", like=action.file)


def _plan_thaw(action: messages.PlanThaw, files: Files) -> Change:
    text = _existing_plan(action.file, files)
    if not is_frozen(text):
        raise InputError(f"{action.file} is not frozen; change it as it is")
    _plane_text(action.plane, files)
    own, bare = own_plan(action.plane), thawed_text(text)
    parse_toml(bare.removeprefix("\ufeff"), path=action.file, what="plan file")
    if own == action.file:
        return Change(file=own, text=bare, words="no longer frozen")
    refuse_frozen(own, files.text(own))
    return Change(file=own, text=bare, words=f"{stem_of(action.file)} made the plan again")


# --- readings --------------------------------------------------------------------------------------------------------


def _bench_read(action: messages.BenchRead, files: Files) -> Change:
    plane = read_plane(action.plane, files)
    text = files.text(_plan_name(action.plan))
    if text is None and action.plan != own_plan(action.plane):
        text = _existing_plan(action.plan, files)
    plan = present_plan(plane) if text is None else parse_plan(text.removeprefix("\ufeff"), plane, path=action.plan)
    phases = [phase.name for phase in plan.phases]
    if action.phase not in phases:
        raise InputError(f"the plan has no phase {action.phase!a}; it has {', '.join(phases)}")
    if action.elevator_percent and action.angles_deg.get("elevator") is not None:
        raise InputError("the elevator is measured with its stick in the middle: only throttle and aileron are kept")
    corners = aileron_corners(plane)
    for surface in action.angles_deg:
        if surface not in (*corners, "elevator"):
            raise InputError(f"{surface!a} is not measured on this plane; there are {', '.join(corners)} and elevator")
    file = bench_name(action.plan)
    old = files.text(file)
    if old is not None:
        files.check_readings(file, plane, plan)
    try:
        made = with_reading(
            old,
            action.angles_deg,
            phase=action.phase,
            throttle_percent=action.throttle_percent,
            aileron_percent=action.aileron_percent,
            first_phase=phases[0],
        )
    except FileFaults:
        raise
    except EvenfallError as error:
        raise InputError(f"{file}: {error}") from None
    read = [surface.replace("_", " ") for surface in action.angles_deg]
    return Change(file=file, text=made, words=f"{', '.join(read)} measured in {action.phase}")


def aileron_corners(plane: Plane) -> list[str]:
    """Ailerons the plane has, as `upper_left`."""
    return [
        f"{name}_{side}" for name, wing in plane.wings.items() if wing.aileron is not None for side in ("left", "right")
    ]
