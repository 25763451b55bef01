"""The tables [phase.NAME] and [corner.NAME] of a plan file: written and read strictly."""

from __future__ import annotations

import math
import re
from typing import Any

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.radio.corner_setup import SHIFT_MEANS, CornerSetup
from evenfall.radio.phases import LONGEST_NAME, PHASE_KINDS, Phase, check_phases
from evenfall.textfile import toml_number, toml_string
from evenfall.toml_table import Table, shown

_AXES = ("aileron", "elevator", "rudder")
_DEGREES_SLACK = 0.01
"""What rounding to .01 degree may add to a throw at the plane's limit."""
_HOLE_SLACK = 5e-5
"""A hole counts as one of the plane's within this, m."""


def toml_degrees(angle: float) -> str:
    """An angle (rad) in degrees as it stands in a plan file."""
    return toml_number(math.degrees(angle), 2)


def _key(name: str) -> str:
    """A table's name, quoted where TOML asks for it."""
    if re.fullmatch(r"[A-Za-z0-9_-]+", name):
        return name
    return toml_string(name)


def phase_rows(phase: Phase) -> list[str]:
    """A phase as rows of the file."""
    rows = [f"[phase.{_key(phase.name)}]", f'kind = "{phase.kind}"', f"crow_live = {str(phase.crow_live).lower()}"]
    rows += [f"{axis}_deg = {toml_degrees(getattr(phase, axis))}" for axis in _AXES]
    rows += [
        f"{axis}_exponential_percent = {toml_number(100 * getattr(phase, f'{axis}_exponential'), 1)}" for axis in _AXES
    ]
    return [*rows, f"roll_boost_percent = {toml_number(100 * phase.roll_boost, 1)}", ""]


def corner_rows(setup: CornerSetup) -> list[str]:
    """A corner as rows of the file."""
    return [
        f"[corner.{setup.corner}]",
        f"arm_hole_mm = {toml_number(1e3 * setup.arm_hole, 2)}",
        f"horn_hole_mm = {toml_number(1e3 * setup.horn_hole, 2)}",
        f"teeth = {setup.teeth}  # from square, pushing positive",
        f"arm = {setup.arm + 1}  # which arm of the horn carries the rod; 1 is the one in use",
        f"turned_over = {str(setup.turned_over).lower()}",
        f"offset_deg = {toml_degrees(setup.offset)}  # arm from square to its rod, surface at neutral",
        f"shift_us = {toml_number(1e6 * setup.shift, 1)}",
        f'shift_by = "{setup.shift_means}"',
        f"pulse_neutral_us = {toml_number(1e6 * setup.pulse_neutral, 1)}",
        f"pulse_deployed_us = {toml_number(1e6 * setup.pulse_deployed, 1)}",
        f"normal_turn_deg = {toml_degrees(setup.normal_turn)}  # servo turn either way",
        f"snap_turn_deg = {toml_degrees(setup.snap_turn)}",
        "",
    ]


def phase_data(phase: Phase) -> dict[str, Any]:
    """A phase as plain data in the units of the file, unrounded."""
    return {
        "name": phase.name,
        "kind": phase.kind,
        "crow_live": phase.crow_live,
        **{f"{axis}_deg": math.degrees(getattr(phase, axis)) for axis in _AXES},
        **{f"{axis}_exponential_percent": 100 * getattr(phase, f"{axis}_exponential") for axis in _AXES},
        "roll_boost_percent": 100 * phase.roll_boost,
    }


def corner_data(setup: CornerSetup) -> dict[str, Any]:
    """A corner as plain data in the units of the file, unrounded."""
    return {
        "corner": setup.corner,
        "arm_hole_mm": 1e3 * setup.arm_hole,
        "horn_hole_mm": 1e3 * setup.horn_hole,
        "teeth": setup.teeth,
        "arm": setup.arm + 1,
        "turned_over": setup.turned_over,
        "offset_deg": math.degrees(setup.offset),
        "shift_us": 1e6 * setup.shift,
        "shift_by": setup.shift_means,
        "pulse_neutral_us": 1e6 * setup.pulse_neutral,
        "pulse_deployed_us": 1e6 * setup.pulse_deployed,
        "normal_turn_deg": math.degrees(setup.normal_turn),
        "snap_turn_deg": math.degrees(setup.snap_turn),
        "words": setup.words,
    }


def read_phases(top: Table, plane: Plane) -> tuple[Phase, ...] | None:
    """The phases of a plan file; None where it has none or they cannot be used."""
    tables = top.table("phase")
    if tables is None:
        return None
    if not tables.data:
        tables.fault("", "holds no phase; write [phase.normal] and so on, or leave it out")
        return None
    found = [_read_phase(tables, name, plane) for name in tables.data]
    phases = tuple(phase for phase in found if phase is not None)
    if len(phases) < len(found):
        return None
    try:
        check_phases(phases)
    except ValueRangeError as error:
        tables.fault("", str(error))
        return None
    return phases


def _read_phase(tables: Table, name: str, plane: Plane) -> Phase | None:
    table = tables.table(name)
    if table is None:
        return None
    if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
        table.fault("", f"a phase name is one line of 1 to {LONGEST_NAME} printable characters")
    kind = table.choice("kind", PHASE_KINDS) or (name if name in PHASE_KINDS else "other")
    crow_live = table.boolean("crow_live", required=True)
    throws = {
        axis: table.number(f"{axis}_deg", 0.1 if axis == "aileron" else 0.0, 60.0, required=True) for axis in _AXES
    }
    soft = {axis: table.number(f"{axis}_exponential_percent", 0.0, 100.0) for axis in _AXES}
    boost = table.number("roll_boost_percent", -50.0, 100.0)
    limits = {"elevator": max(plane.tail.elevator_up, plane.tail.elevator_down)}
    if plane.fin is not None:
        limits["rudder"] = plane.fin.rudder_throw
    for axis, limit in limits.items():
        value, most = throws[axis], math.degrees(limit)
        if value is not None and value > most + _DEGREES_SLACK:
            table.fault(f"{axis}_deg", f"is {value:g}, but the {axis} of this plane moves {most:g} at most")
    if not table.sound or crow_live is None:
        return None
    return Phase(
        name=name,
        kind=kind,  # type: ignore[arg-type]
        crow_live=crow_live,
        **{axis: math.radians(value or 0.0) for axis, value in throws.items()},
        **{f"{axis}_exponential": (value or 0.0) / 100 for axis, value in soft.items()},
        roll_boost=(boost or 0.0) / 100,
    )


def read_corners(top: Table, plane: Plane) -> dict[str, CornerSetup]:
    """The corners of a plan file, by name; empty where it has none."""
    tables = top.table("corner")
    if tables is None:
        return {}
    there = [name for name in CORNERS if (wing := plane.wings.get(name.split("_")[0])) and wing.aileron is not None]
    found = {}
    for name in tables.data:
        table = tables.table(name)
        if table is None:
            continue
        setup = _read_corner(table, name, plane) if name in CORNERS else None
        if name not in there:
            table.fault("", f"there is no such aileron; this plane has {', '.join(there) or 'none'}")
        if setup is not None:
            found[name] = setup
    return {name: found[name] for name in CORNERS if name in found}


def _read_corner(table: Table, name: str, plane: Plane) -> CornerSetup | None:
    arm_hole = table.number("arm_hole_mm", 1.0, 200.0, required=True)
    horn_hole = table.number("horn_hole_mm", 1.0, 200.0, required=True)
    teeth = table.integer("teeth", -60, 60, required=True)
    arm = table.integer("arm", 1, 12)
    over = table.boolean("turned_over")
    offset = table.number("offset_deg", -89.0, 89.0, required=True)
    shift = table.number("shift_us", -1500.0, 1500.0, required=True)
    means = table.choice("shift_by", SHIFT_MEANS, required=True)
    neutral = table.number("pulse_neutral_us", 300.0, 3000.0, required=True)
    deployed = table.number("pulse_deployed_us", 300.0, 3000.0, required=True)
    normal = table.number("normal_turn_deg", 0.0, 180.0, required=True)
    snap = table.number("snap_turn_deg", 0.0, 180.0, required=True)
    linkage = plane.aileron_linkage.get(name)
    if linkage is not None:
        _check_hole(table, "arm_hole_mm", arm_hole, (*linkage.arm_holes, linkage.arm) if linkage.arm_holes else ())
        _check_hole(table, "horn_hole_mm", horn_hole, (*linkage.horn_holes, linkage.horn) if linkage.horn_holes else ())
    if means == "none" and shift:
        table.fault("shift_us", f'is {shift:g}, but nothing shifts the pulse; write 0, or shift_by = "radio"')
    numbers = (arm_hole, horn_hole, offset, shift, neutral, deployed, normal, snap)
    if not table.sound or teeth is None or any(value is None for value in numbers):
        return None
    one, two, lean, us, rest, out, small, large = (value or 0.0 for value in numbers)
    return CornerSetup(
        corner=name,
        arm_hole=one / 1e3,
        horn_hole=two / 1e3,
        teeth=teeth,
        arm=(arm or 1) - 1,
        turned_over=bool(over),
        offset=math.radians(lean),
        shift=us / 1e6,
        shift_means=means,  # type: ignore[arg-type]
        pulse_neutral=rest / 1e6,
        pulse_deployed=out / 1e6,
        normal_turn=math.radians(small),
        snap_turn=math.radians(large),
    )


def _check_hole(table: Table, key: str, value: float | None, holes: tuple[float, ...]) -> None:
    """Fault where the plane has no such hole; a plane without a list of holes takes any."""
    if value is None or not holes or any(abs(value / 1e3 - hole) <= _HOLE_SLACK for hole in holes):
        return
    known = ", ".join(toml_number(1e3 * hole, 2) for hole in sorted(set(holes)))
    table.fault(key, f"is {shown(value)}; the plane file has holes at {known} mm: use one, or list it there")
