"""Seeded ways of spoiling a plane file, and an independent reading of what is left: the oracle of the mutation test."""

from __future__ import annotations

import math
import random
import tomllib
from typing import Any

DEG = math.pi / 180
WING = {
    "span_mm": ("span", 1e-3),
    "root_chord_mm": ("root_chord", 1e-3),
    "tip_chord_mm": ("tip_chord", 1e-3),
    "root_le_x_mm": ("root_le_x", 1e-3),
    "tip_le_x_mm": ("tip_le_x", 1e-3),
    "z_mm": ("z", 1e-3),
    "dihedral_deg": ("dihedral", DEG),
    "incidence_deg": ("incidence_left", DEG),
}
AILERON = {
    "inner_y_mm": ("inner_y", 1e-3),
    "outer_y_mm": ("outer_y", 1e-3),
    "inner_chord_mm": ("inner_chord", 1e-3),
    "outer_chord_mm": ("outer_chord", 1e-3),
    "throw_up_deg": ("throw_up", DEG),
    "throw_down_deg": ("throw_down", DEG),
}
TABLES: dict[str, tuple[str, dict[str, tuple[str, float]]]] = {
    "": ("", {"speed_m_s": ("wanted.speed", 1.0)}),
    "mass": ("mass", {"all_up_g": ("all_up", 1e-3), "cg_x_mm": ("cg_x", 1e-3), "cg_z_mm": ("cg_z", 1e-3)}),
    "wing.upper": ("upper", WING),
    "wing.lower": ("lower", WING),
    "wing.upper.aileron": ("upper.aileron", AILERON),
    "wing.lower.aileron": ("lower.aileron", AILERON),
    "tail": (
        "tail",
        {key: WING[key] for key in ("span_mm", "root_chord_mm", "tip_chord_mm", "root_le_x_mm", "tip_le_x_mm", "z_mm")}
        | {
            "incidence_deg": ("incidence", DEG),
            "elevator_chord_percent": ("elevator_fraction", 0.01),
            "elevator_up_deg": ("elevator_up", DEG),
            "elevator_down_deg": ("elevator_down", DEG),
        },
    ),
    "fin": (
        "fin",
        {
            "height_mm": ("height", 1e-3),
            "root_chord_mm": ("root_chord", 1e-3),
            "tip_chord_mm": ("tip_chord", 1e-3),
            "root_le_x_mm": ("root_le_x", 1e-3),
            "tip_le_x_mm": ("tip_le_x", 1e-3),
            "root_z_mm": ("root_z", 1e-3),
            "rudder_chord_percent": ("rudder_fraction", 0.01),
            "rudder_throw_deg": ("rudder_throw", DEG),
        },
    ),
    "body": (
        "body",
        {
            "length_mm": ("length", 1e-3),
            "width_mm": ("width", 1e-3),
            "height_mm": ("height", 1e-3),
            "nose_x_mm": ("nose_x", 1e-3),
            "z_mm": ("z", 1e-3),
        },
    ),
    "propeller": (
        "propeller",
        {
            "diameter_in": ("diameter", 0.0254),
            "pitch_in": ("pitch", 0.0254),
            "blades": ("blades", 1.0),
            "chord_75_mm": ("chord_75", 1e-3),
            "mass_g": ("mass", 1e-3),
        },
    ),
    "motor": (
        "motor",
        {
            "kv_rpm_per_v": ("kv", math.pi / 30),
            "resistance_mohm": ("resistance", 1e-3),
            "inductance_uh": ("inductance", 1e-6),
            "pole_pairs": ("pole_pairs", 1.0),
            "no_load_current_a": ("no_load_current", 1.0),
            "no_load_v": ("no_load_voltage", 1.0),
            "mass_g": ("mass", 1e-3),
        },
    ),
    "controller": (
        "controller",
        {
            "resistance_mohm": ("resistance", 1e-3),
            "brake_pwm_khz": ("brake_frequency", 1e3),
            "closed_below_percent": ("closed_below", 0.01),
            "start_percent": ("start_stick", 0.01),
            "brake_delay_s": ("brake_delay", 1.0),
            "restart_delay_s": ("restart_delay", 1.0),
        },
    ),
    "battery": (
        "battery",
        {
            "cells": ("cells", 1.0),
            "capacity_mah": ("capacity", 3.6),
            "resistance_mohm": ("resistance", 1e-3),
            "rest_v_per_cell": ("rest_voltage_per_cell", 1.0),
        },
    ),
    "servo.aileron": (
        "aileron_servo",
        {
            "torque_kgf_cm": ("torque", 0.0980665),
            "supply_v": ("supply_voltage", 1.0),
            "spline_teeth": ("spline_teeth", 1.0),
            "horn_arms": ("horn_arms", 1.0),
            "travel_deg": ("travel", DEG),
            "pulse_low_us": ("pulse_low", 1e-6),
            "pulse_high_us": ("pulse_high", 1e-6),
        },
    ),
    "linkage.aileron": (
        "aileron_linkage.lower_left",
        {
            "arm_mm": ("arm", 1e-3),
            "horn_mm": ("horn", 1e-3),
            "rod_mm": ("rod", 1e-3),
            "axis_distance_mm": ("axis_distance", 1e-3),
            "axis_height_mm": ("axis_height", 1e-3),
        },
    ),
}
"""Dotted table to attribute prefix and, for each key, attribute and factor: written by hand, apart from the reader."""

OTHERS = {
    "": {"format", "name", "datum"},
    "wing.upper": {"section"},
    "wing.lower": {"section"},
    "wing.upper.aileron": {"hinge_gap"},
    "wing.lower.aileron": {"hinge_gap"},
    "tail": {"section"},
    "fin": {"section"},
    "propeller": {"shape"},
    "controller": {"levels", "present_level", "synchronous"},
    "servo.aileron": {"speed_s_per_60deg", "us_per_deg"},
    "linkage.aileron": {"arm_holes_mm", "horn_holes_mm"},
}
"""Keys that are no plain number."""

OPTIONAL = {
    "datum", "wing.upper.dihedral_deg", "wing.lower.dihedral_deg",
    "body.nose_x_mm", "body.z_mm", "propeller.blades", "motor.mass_g", "controller.synchronous",
    "linkage.aileron.axis_height_mm", "linkage.aileron.arm_holes_mm", "linkage.aileron.horn_holes_mm", "name",
}  # fmt: skip
"""Keys with a plain default that is no guess."""


def numbers(data: dict[str, Any]) -> list[tuple[str, str, float]]:
    """(dotted key, attribute path, SI value) of every plain number in a file."""
    found = []
    for table, (prefix, keys) in TABLES.items():
        node = at(data, table)
        if node is None:
            continue
        for key, (attribute, factor) in keys.items():
            if key in node:
                raw = node[key]["value"] if isinstance(node[key], dict) else node[key]
                path = f"{prefix}.{attribute}" if prefix else attribute
                found.append((f"{table}.{key}".lstrip("."), path, raw * factor))
    return found + _drag(data) + _inverse(data)


DRAG = {
    "wheel": ("diameter_mm", "width_mm"),
    "strut": ("length_mm", "thickness_mm"),
    "cowl opening": ("height_mm", "width_mm"),
}


def _drag(data: dict[str, Any]) -> list[tuple[str, str, float]]:
    found = []
    for index, part in enumerate(data.get("drag", [])):
        keys = dict(zip(DRAG[part["what"]], ("length", "width"), strict=True)) | {"x_mm": "x", "z_mm": "z"}
        for key, attribute in keys.items():
            raw = part[key]["value"] if isinstance(part[key], dict) else part[key]
            found.append((f"drag.{index}.{key}", f"drag.{index}.{attribute}", raw * 1e-3))
        found.append((f"drag.{index}.count", f"drag.{index}.count", part.get("count", 1)))
    return found


def _inverse(data: dict[str, Any]) -> list[tuple[str, str, float]]:
    servo = at(data, "servo.aileron") or {}
    rows = (("speed_s_per_60deg", "speed", math.pi / 3), ("us_per_deg", "gain", DEG / 1e-6))
    return [
        (f"servo.aileron.{key}", f"aileron_servo.{name}", top / (raw["value"] if isinstance(raw, dict) else raw))
        for key, name, top in rows
        if (raw := servo.get(key)) is not None
    ]


def words(data: dict[str, Any]) -> list[tuple[str, str, Any]]:
    """(dotted key, attribute path, value) of every choice and list in a file."""
    found: list[tuple[str, str, Any]] = []
    for table, prefix in (("wing.upper", "upper"), ("wing.lower", "lower"), ("tail", "tail"), ("fin", "fin")):
        node = at(data, table)
        if node is not None:
            thickness = int(node["section"].strip()[-2:]) / 100
            found.append((f"{table}.section", f"{prefix}.section.thickness", thickness))
        aileron = at(data, f"{table}.aileron")
        if aileron is not None:
            found.append((f"{table}.aileron", f"{prefix}.aileron.gap_sealed", aileron["hinge_gap"] == "sealed"))
    if "shape" in data["propeller"]:
        found.append(("propeller.shape", "propeller.shape", data["propeller"]["shape"]))
    if "synchronous" in data["controller"]:
        found.append(("controller.synchronous", "controller.synchronous", data["controller"]["synchronous"]))
    for index, level in enumerate(data["controller"]["levels"]):
        found.append(("controller.levels", f"controller.levels.{index}.percent", level))
    return found


def at(data: dict[str, Any], dotted: str) -> dict[str, Any] | None:
    """A table by dotted name."""
    node: Any = data
    for part in dotted.split(".") if dotted else []:
        node = node.get(part) if isinstance(node, dict) else None
    return node if isinstance(node, dict) else None


def unknown_keys(data: dict[str, Any]) -> list[str]:
    """Keys a file of these tables may not hold (drag parts apart)."""
    tables = {"drag", "wing", "servo", "linkage", *(name for name in TABLES if name)}
    found = []
    for table, (_, keys) in TABLES.items():
        for key in at(data, table) or {}:
            dotted = f"{table}.{key}".lstrip(".")
            if key not in keys and key not in OTHERS.get(table, ()) and dotted not in tables:
                found.append(dotted)
    return found


def all_keys() -> list[str]:
    """Every dotted key of the full demo."""
    return [
        f"{table}.{key}".lstrip(".")
        for table, (_, keys) in TABLES.items()
        for key in sorted((*keys, *OTHERS.get(table, ())))
        if f"{table}.{key}" != "mass.cg_z_mm"
    ]


def parsed(text: str) -> dict[str, Any] | None:
    """The file as plain data, or None."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        return None


VALUES = (
    '"twelve"', '"22,5"', "-1", "-0.001", "0", "1e9", "1e308", "-1e308", "nan", "inf", "-inf", "true", "[]", "{}",
    "[1, 2]",
    '""', "1979-05-27", "0x7f", "1e-9", "{ value = 1 }", "{ value = nan, spread = 1 }", "{ value = 10, spread = -1 }",
    "{ spread = 1 }", "{ value = 10, spraed = 1 }", "9" * 400, "22,5", "1_000", "'x'", "07",
)  # fmt: skip


WRONG_TABLES = ("[wings]", "[wing.middle]", "[[wing]]", "[drag]", "[x.y.z]", "", "[mass]")
WAYS = (
    "delete",
    "duplicate",
    "value",
    "value",
    "value",
    "scale",
    "typo",
    "typo",
    "table",
    "truncate",
    "bytes",
    "swap",
    "move",
)


def mutate(text: str, rng: random.Random) -> tuple[str, bytes]:
    """One spoiled file: the way it was spoiled, and its bytes."""
    way = rng.choice(WAYS)
    rows = text.split("\n")
    plain = [index for index, row in enumerate(rows) if "=" in row and not row.startswith("#")]
    place = rng.choice(plain)
    key, _, rest = rows[place].partition("=")
    if way == "delete":
        for index in sorted(rng.sample(plain, rng.choice([1, 1, 2, 5])), reverse=True):
            del rows[index]
    elif way == "duplicate":
        rows.insert(rng.randrange(len(rows)), rows[place])
    elif way == "value":
        rows[place] = f"{key}= {rng.choice(VALUES)}"
    elif way == "scale":
        factor = rng.choice([-1.0, 0.001, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1000.0])
        try:
            rows[place] = f"{key}= {float(rest.split('#')[0]) * factor!r}"
        except ValueError:
            rows[place] = f"{key}= {factor!r}"
    elif way == "typo":
        name = list(key.rstrip())
        spot = rng.randrange(len(name))
        change = rng.choice(["drop", "double", "other", "case"])
        if change == "drop":
            del name[spot]
        elif change == "double":
            name.insert(spot, name[spot])
        elif change == "case":
            name[spot] = name[spot].swapcase()
        else:
            name[spot] = rng.choice("abcxyz_q")
        rows[place] = f"{''.join(name)} ={rest}"
    elif way == "table":
        heads = [index for index, row in enumerate(rows) if row.startswith("[")]
        head = rng.choice(heads)
        rows[head] = rng.choice(
            ["[wings]", "[wing.middle]", "[[wing]]", "[drag]", "[x.y.z]", "", "[mass]", rows[head] + "]"]
        )
    elif way == "truncate":
        return way, text.encode()[: rng.randrange(len(text))]
    elif way == "bytes":
        raw = bytearray(text.encode())
        for _ in range(rng.choice([1, 3, 40])):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        return way, bytes(raw)
    elif way == "swap":
        other = rng.choice(plain)
        other_key = rows[other].partition("=")[0]
        rows[place], rows[other] = f"{other_key}={rest}", f"{key}={rows[other].partition('=')[2]}"
    else:
        row = rows.pop(place)
        rows.insert(rng.randrange(len(rows)), row)
    return way, "\n".join(rows).encode()
