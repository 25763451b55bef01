"""Plan files: a person may edit them, so writing never destroys an edit.

The last table holds a seal, the hash of everything above it. A file whose seal does not fit was edited. A file with
the key `frozen` (the date) is kept for good: the row is put in and taken out without touching anything else, so the
seal fits again once it is gone.
"""

from __future__ import annotations

import math
import os
import re
import textwrap
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

from evenfall.errors import EditedFileError, InputError, ValueRangeError
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.radio.phasefile import (
    corner_data,
    corner_rows,
    phase_data,
    phase_rows,
    read_corners,
    read_phases,
    toml_degrees,
)
from evenfall.radio.phases import Phase, landing_words
from evenfall.radio.plan import (
    ARRANGEMENTS,
    Crow,
    MotorChoice,
    Plan,
    Points,
    Throws,
    arrangements_of,
    plane_phases,
    wing_signs,
)
from evenfall.textfile import (
    TomlText,
    content_hash,
    numbered_backup,
    parse_toml,
    read_toml,
    toml_number,
    toml_string,
    write_atomic,
)
from evenfall.toml_rows import key_lines
from evenfall.toml_table import Faults, Table, shown

FORMAT = 1
_SAME_STICK_PERCENT = 0.6
"""Threshold and the point of the curve where deployment ends may differ by this much, from rounding."""
_FROZEN = re.compile(r"^\s*frozen\s*=", re.MULTILINE)
_SEAL = "\n[seal]  # shows whether this file was edited after it was written"


def plan_text(plan: Plan) -> str:
    """The plan as a file, seal included. Angles rounded to .01 degree, sticks to .1 percent."""
    rows = [
        "# An Evenfall plan. Edit it freely: it is never overwritten once edited.",
        "# Angles in degrees, trailing edge down positive. Curves are points [stick percent, value percent].",
        f"format = {FORMAT}",
        f"plane = {toml_string(plan.plane_name)}",
        "",
    ]
    if plan.crow is not None:
        crow = plan.crow
        rows += [
            "[crow]",
            f"arrangement = {toml_string(crow.arrangement)}  # upper wing / lower wing",
            f"upper_deg = {toml_degrees(crow.upper)}  # fully deployed",
            f"lower_deg = {toml_degrees(crow.lower)}",
            f"threshold_percent = {_percent(crow.threshold)}  # stick where deployment begins",
            f"curve = {_curve(crow.curve)}",
            f"elevator_share = {toml_number(crow.elevator_share, 4)}  # elevator angle over crow angle",
            "",
        ]
    rows += [
        "[motor]",
        f"level = {toml_string(plan.motor.level)}",
        f"brake_percent = {toml_number(plan.motor.percent, 2)}",
        f"throttle_curve = {_curve(plan.motor.throttle_curve)}",
        "",
        *_phase_notes(plan),
        *(row for phase in plan.phases for row in phase_rows(phase)),
        *(row for name in CORNERS if name in plan.corners for row in corner_rows(plan.corners[name])),
        "[computed_from]",
        *(f"{toml_string(name)} = {toml_string(text)}" for name, text in plan.computed_from.items()),
    ]
    body = "\n".join(rows)
    return f'{body}\n{_SEAL}\nwritten = "{content_hash(body)}"\n'


def is_edited(text: str) -> bool:
    """True where a plan file no longer is what was written, or never was ours.

    >>> is_edited("format = 1")
    True
    """
    body, mark, seal = text.replace("\r\n", "\n").rpartition(_SEAL)
    return not mark or seal.strip() != f'written = "{content_hash(body)}"'


def unsealed(text: str) -> str:
    """A plan file without its seal: one that was made by hand, not computed."""
    body, mark, _ = text.rpartition(_SEAL)
    return f"{body}\n" if mark else text


def is_frozen(text: str) -> bool:
    """True for a plan file that is kept for good.

    >>> is_frozen('format = 1\\nfrozen = "2026-07-01"'), is_frozen("format = 1")
    (True, False)
    """
    if not _FROZEN.search(text):
        return False
    try:
        return "frozen" in tomllib.loads(text.removeprefix("\ufeff"))
    except ValueError:
        return True


def frozen_text(text: str, day: date) -> str:
    """A plan file with the date of freezing; nothing else changes. The text must be valid TOML."""
    bare = thawed_text(text)
    rows = bare.split("\n")
    at = key_lines(bare).get("format", 0)
    end = "\r" if at and rows[at - 1].endswith("\r") else ""
    return "\n".join([*rows[:at], f'frozen = "{day.isoformat()}"{end}', *rows[at:]])


def thawed_text(text: str) -> str:
    """A plan file without the date of freezing; nothing else changes."""
    if not is_frozen(text):
        return text
    rows = text.split("\n")
    del rows[key_lines(text)["frozen"] - 1]
    return "\n".join(rows)


def check_target(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Raise `EditedFileError` where a plan may not be written: before a long computation rather than after it."""
    target = Path(path)
    try:
        edited = _edited_file(target)
        frozen = edited and is_frozen(target.read_text(encoding="utf-8", errors="replace"))
    except (OSError, ValueError) as error:
        raise EditedFileError(f"{target} cannot be used: {_reason(error)}; choose another name") from None
    if target.is_dir():
        raise EditedFileError(f"{target} is a directory; give the plan a file name such as my_plane.plan.toml")
    if not target.parent.is_dir():
        raise EditedFileError(f"there is no folder {target.parent}; make it first or choose another name")
    if frozen and not force:
        raise EditedFileError(f"{target} is frozen, kept for good: choose another name for the new plan")
    if edited and not force:
        raise EditedFileError(
            f"{target} exists and was edited (or is no plan of ours): left as it is. "
            "Choose another name, or use --force to keep it as a numbered backup."
        )


def _edited_file(target: Path) -> bool:
    return target.is_file() and is_edited(target.read_text(encoding="utf-8", errors="replace"))


def _reason(error: Exception) -> str:
    words = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return words[:1].lower() + words[1:]


def write_plan(plan: Plan, path: str | os.PathLike[str], *, force: bool = False) -> Path | None:
    """Write a plan file atomically; a file there that is no longer as written is refused.

    With `force` such a file is kept as a numbered backup, whose name is returned.
    """
    target = Path(path)
    check_target(target, force=force)
    try:
        backup = numbered_backup(target) if _edited_file(target) else None
        write_atomic(target, plan_text(plan))
    except (OSError, ValueError) as error:
        raise InputError(f"{target} cannot be written: {_reason(error)}; choose another place") from None
    return backup


def load_plan(path: str | os.PathLike[str], plane: Plane) -> Plan:
    """Read a plan file for a plane; raises `FileFaults` with every fault at once."""
    return _read(read_toml(path, what="plan file"), plane)


def parse_plan(text: str, plane: Plane, *, path: str = "plan file") -> Plan:
    """The same for a text in hand; `path` is used in messages only."""
    return _read(parse_toml(text, path=path, what="plan file"), plane)


def _read(source: TomlText, plane: Plane) -> Plan:
    faults = Faults(lines=source.lines)
    top = Table(source.data, "", faults)
    version = top.integer("format", 1, 1_000_000, required=True)
    if version is not None and version != FORMAT:
        top.fault("format", f"is {version}; this Evenfall reads plan files of format {FORMAT}")
    name = top.text("plane", required=True)
    _check_frozen(top)
    crow = _read_crow(top, plane)
    motor = _read_motor(top, plane)
    phases = _read_phases(top, plane)
    corners = read_corners(top, plane)
    origin = top.table("computed_from")
    seal = top.table("seal")
    if seal is not None:
        seal.text("written")
    computed = dict(origin.data) if origin is not None else {}
    for key in computed:
        origin.text(key)  # type: ignore[union-attr]
    top.finish()
    faults.raise_if_any(source.path)
    if motor is None or phases is None:
        raise AssertionError("a part of the plan is missing although no fault was noted")
    return Plan(plane_name=name or "", crow=crow, motor=motor, phases=phases, corners=corners, computed_from=computed)


def _check_frozen(top: Table) -> None:
    """The date of freezing must be one."""
    raw = top.take("frozen")
    if raw is None or (isinstance(raw, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", raw) and _is_date(raw)):
        return
    top.fault("frozen", f'must be a date such as "2026-07-01", not {shown(raw)}; without the row it is not frozen')


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _read_crow(top: Table, plane: Plane) -> Crow | None:
    table = top.table("crow")
    if table is None:
        return None
    arrangement = table.choice("arrangement", ARRANGEMENTS, required=True)
    possible = arrangements_of(plane)
    if arrangement is not None and arrangement not in possible:
        table.fault("arrangement", f"is {shown(arrangement)}; this plane can fly {', '.join(possible) or 'no crow'}")
    upper = table.number("upper_deg", -45.0, 45.0, required=True)
    lower = table.number("lower_deg", -45.0, 45.0, required=True)
    threshold = table.number("threshold_percent", 0.0, 100.0, required=True)
    curve = _read_curve(table, "curve", falling=True)
    share = table.number("elevator_share", -3.0, 3.0)
    for key, value in (("upper", upper), ("lower", lower)):
        wing = plane.wings.get(key)
        if value and (wing is None or wing.aileron is None):
            table.fault(f"{key}_deg", f"is {value:g}, but the {key} wing has no ailerons; write 0")
        elif value and wing is not None and wing.aileron is not None:
            most = math.degrees(wing.aileron.throw_up if value < 0 else wing.aileron.throw_down)
            if abs(value) > most + 0.01:
                table.fault(f"{key}_deg", f"is {value:g}, but the hinges of the {key} wing allow {most:g} that way")
    if arrangement is None or upper is None or lower is None or threshold is None or curve is None:
        return None
    for key, value, sign in zip(("upper", "lower"), (upper, lower), wing_signs(arrangement), strict=True):  # type: ignore[arg-type]
        if value * sign < 0:
            table.fault(f"{key}_deg", f"is {value:g}, but {shown(arrangement)} asks for {-value:g}; change one of them")
    stowed = [100 * stick for stick, out in curve if out == curve[-1][1]]
    if min(abs(stick - threshold) for stick in stowed) > _SAME_STICK_PERCENT:
        table.fault(
            "threshold_percent", f"is {threshold:g}, but deployment ends at {stowed[0]:g} in the curve; change both"
        )
    return Crow(
        arrangement=arrangement,  # type: ignore[arg-type]
        upper=math.radians(upper),
        lower=math.radians(lower),
        threshold=threshold / 100,
        curve=curve,
        elevator_share=share or 0.0,
    )


def _read_motor(top: Table, plane: Plane) -> MotorChoice | None:
    table = top.table("motor", required=True)
    if table is None:
        return None
    known = [level.name for level in plane.controller.levels]
    level = table.choice("level", known, required=True)
    percent = table.number("brake_percent", 0.0, 100.0)
    curve = _read_curve(table, "throttle_curve", falling=False)
    if level is None or curve is None:
        return None
    own = plane.controller.level(level).percent
    if percent is not None and abs(percent - own) > 0.05:
        table.fault("brake_percent", f"is {percent:g}, but level {shown(level)} of this plane is {own:g}; change level")
    return MotorChoice(level=level, percent=own, throttle_curve=curve)


def _read_phases(top: Table, plane: Plane) -> tuple[Phase, ...] | None:
    """The phases; without any the five usual ones, with the throws of [throws] if it is there."""
    throws = _read_throws(top)
    if top.has("phase"):
        if top.has("throws"):
            top.fault("throws", "stands beside [phase]: give the aileron throws in the phases and remove this table")
        return read_phases(top, plane)
    return None if throws is None else plane_phases(plane, throws)


def _read_throws(top: Table) -> Throws | None:
    table = top.table("throws")
    if table is None:
        return Throws()
    normal = table.number("normal_deg", 0.1, 45.0, required=True)
    snap = table.number("snap_deg", 0.1, 45.0, required=True)
    if normal is None or snap is None:
        return None
    return Throws(normal=math.radians(normal), snap=math.radians(snap))


def _read_curve(table: Table, key: str, *, falling: bool) -> Points | None:
    raw = table.take(key, required=True)
    if raw is None:
        return None
    if not isinstance(raw, list) or not all(isinstance(point, list) and len(point) == 2 for point in raw):
        table.fault(key, "is no list of points; write [[0, 100], [45, 0], [100, 0]]")
        return None
    points = []
    for point in raw:
        if not all(table.is_number(key, value) for value in point):
            return None
        points.append((float(point[0]) / 100, float(point[1]) / 100))
    try:
        if falling:
            Crow(arrangement="both up", upper=0.0, lower=0.0, threshold=0.0, curve=tuple(points))
        else:
            MotorChoice(level="", percent=0.0, throttle_curve=tuple(points))
    except ValueRangeError as error:
        table.fault(key, str(error))
        return None
    return tuple(points)


def _phase_notes(plan: Plan) -> list[str]:
    """What the phases' numbers mean, and why crow is off for landing."""
    landing = next((phase for phase in plan.phases if phase.kind == "landing"), None)
    rows = [
        "# Phases. Throws either way at full stick; the aileron's is the mean of up and down. Exponential e: share of",
        "# throw = x (1 - e) + e x^3. The crow-off switch works in every phase, and so does the motor brake.",
    ]
    if landing is not None and plan.crow is not None:
        rows += [f"# {line}" for line in textwrap.wrap(landing_words(landing), 110)]
    return rows


def _percent(share: float) -> str:
    return toml_number(100 * share, 1)


def _curve(points: Points) -> str:
    return "[" + ", ".join(f"[{_percent(stick)}, {_percent(value)}]" for stick, value in points) + "]"


def plan_data(plan: Plan) -> dict[str, Any]:
    """The plan as plain data in the units of the file, unrounded."""
    crow = plan.crow
    return {
        "crow": None
        if crow is None
        else {
            "arrangement": crow.arrangement,
            "upper_deg": math.degrees(crow.upper),
            "lower_deg": math.degrees(crow.lower),
            "threshold_percent": 100 * crow.threshold,
            "curve": [(100 * stick, 100 * value) for stick, value in crow.curve],
            "elevator_share": crow.elevator_share,
        },
        "motor": {
            "level": plan.motor.level,
            "brake_percent": plan.motor.percent,
            "throttle_curve": [(100 * stick, 100 * value) for stick, value in plan.motor.throttle_curve],
        },
        "phases": [phase_data(phase) for phase in plan.phases],
        "corners": [corner_data(plan.corners[name]) for name in CORNERS if name in plan.corners],
    }
