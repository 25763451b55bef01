"""A what-if kept: the plane with its changes as a file of its own, its plan beside it, never over a file there is."""

from __future__ import annotations

import contextlib
import os
from dataclasses import replace
from pathlib import Path

from evenfall.errors import EditedFileError, InputError
from evenfall.plane.files import PlaneFile, parse_plane
from evenfall.plane.plane_edit import edited_text
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import plan_text
from evenfall.textfile import write_new
from evenfall.workflow.carrying import Carried

_PLAN = ".plan.toml"


def kept(answer: Carried, name: str) -> tuple[PlaneFile, Plan]:
    """The other plane with its changes under a name of its own, and its plan.

    Raises `InputError` where there is no plan to keep.
    """
    if answer.plan is None:
        raise InputError(f"{answer.tuned.ready.file.plane.name} has no plan like this; nothing was written")
    tried = answer.tuned.ready.file
    file = parse_plane(edited_text(tried.text, {"name": name}), path=tried.path)
    origin = {**answer.plan.computed_from, "plane_hash": file.content_hash}
    return file, replace(answer.plan, plane_name=file.plane.name, computed_from=origin)


def plan_beside(plane: str | os.PathLike[str]) -> Path:
    """Where the plan of a new plane file goes; raises `EditedFileError` where either may not be written."""
    target = Path(plane)
    if target.suffix != ".toml" or target.name.endswith(_PLAN) or target.name == ".toml":
        raise EditedFileError(f"{target} is no name for a plane file; give it one that ends in .toml")
    if not target.parent.is_dir():
        raise EditedFileError(f"there is no folder {target.parent}; make it first or choose another name")
    plan = target.with_name(f"{target.stem}{_PLAN}")
    for path in (target, plan):
        if path.exists() or path.is_symlink():
            raise EditedFileError(f"{path} exists and is left as it is; choose another name")
    return plan


def write_kept(answer: Carried, plane: str | os.PathLike[str], *, name: str) -> Path:
    """Write plane file and plan, both or neither; returns the plan's path. Raises as `kept` and `plan_beside` do."""
    target, beside = Path(plane), plan_beside(plane)
    file, plan = kept(answer, name)
    begun: list[Path] = []
    try:
        for path, text in ((target, file.text), (beside, plan_text(plan))):
            begun.append(path)
            write_new(path, text)
    except OSError as error:
        _take_away(begun)
        raise InputError(f"{target} cannot be written: {error.strerror or error}; choose another place") from None
    except EditedFileError:
        _take_away(begun[:-1])
        raise
    return beside


def _take_away(paths: list[Path]) -> None:
    for path in paths:
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
