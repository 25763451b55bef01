"""Every key a plane file may hold, in the order of measuring: where it stands, what it is, in what units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from evenfall.plane.airframe import CORNERS

Form = Literal["number", "whole", "text", "choice", "yes/no", "list"]


@dataclass(frozen=True, kw_only=True)
class FieldSpec:
    """One key of a table.

    Args:
        base: key without its unit; empty where the unit is the whole key.
        label: in the pilot's words.
        form: what is entered.
        kind: kind of quantity (`evenfall.units.KINDS`); empty for a plain number, text or choice.
        required: the table cannot be used without it.
        unless: not required where one of these keys stands in the same table; with `_` at its end, in any unit.
        attribute: of the plane's part it sets, for its spread; empty where it has none.
        choices: allowed words.
        help: key of the help text.
    """

    base: str
    label: str
    form: Form
    kind: str = ""
    required: bool = False
    unless: tuple[str, ...] = ()
    attribute: str = ""
    choices: tuple[str, ...] = ()
    help: str = ""


@dataclass(frozen=True, kw_only=True)
class TableSpec:
    """One table of the file.

    Args:
        key: dotted key; empty for the top of the file.
        title: in words.
        fields: its keys.
        path: attribute path of the part in the plane.
        needed: the file must hold the table.
    """

    key: str
    title: str
    fields: tuple[FieldSpec, ...]
    path: str = ""
    needed: bool = False


def _q(
    base: str, kind: str, label: str, help: str, attribute: str = "", *, need: bool = False, unless: str = ""
) -> FieldSpec:
    return FieldSpec(
        base=base, label=label, form="number", kind=kind, required=need, help=help, attribute=attribute or base,
        unless=tuple(unless.split()),
    )  # fmt: skip


def _whole(base: str, label: str, help: str, *, need: bool = False) -> FieldSpec:
    return FieldSpec(base=base, label=label, form="whole", required=need, help=help, attribute=base)


def _text(base: str, label: str, help: str, *, need: bool = False, unless: str = "") -> FieldSpec:
    return FieldSpec(base=base, label=label, form="text", required=need, help=help, unless=tuple(unless.split()))


def _choice(base: str, label: str, help: str, words: str, *, need: bool = False) -> FieldSpec:
    return FieldSpec(base=base, label=label, form="choice", required=need, help=help, choices=tuple(words.split()))


def _flag(base: str, label: str, help: str) -> FieldSpec:
    return FieldSpec(base=base, label=label, form="yes/no", help=help)


TOP = (
    _text("name", "name of the plane", "name", need=True),
    _q("speed", "speed", "wanted speed on every line", "wanted_speed", "wanted.speed", need=True, unless="speed"),
    _choice("datum", "where x and z count from", "datum", "propeller wing"),
    _whole("format", "edition of the file", "format", need=True),
)
SPEED = (
    _q("wanted", "speed", "wanted speed on every line", "wanted_speed", "speed"),
    _q("level_stick", "ratio", "throttle stick of level flight to match", "wanted_speed"),
    _q("distance", "length", "timed pass: distance between the marks", "timed_pass"),
    _q("time_out", "time", "timed pass: time out", "timed_pass"),
    _q("time_back", "time", "timed pass: time back", "timed_pass"),
)
MASS = (
    _q("all_up", "mass", "all-up mass with battery", "all_up_mass", need=True),
    _q("cg_x", "length", "CG aft of the datum", "cg", need=True, unless="hang"),
    _q("cg_z", "length", "CG above the datum", "cg_height"),
    _q("cg_y", "length", "CG to the right of the middle", "lateral_balance"),
    _q("tip_weight", "mass", "weight on the left tip that levels the wings", "lateral_balance", "cg_y"),
)
HANG = tuple(
    _q(base, "length", label, "cg_height", need=True)
    for base, label in (
        ("from_x", "hung from, x"), ("from_z", "hung from, z"),
        ("through_x", "plumb line passes, x"), ("through_z", "plumb line passes, z"),
    )
)  # fmt: skip
SECTION = (
    _text("section", "section", "section", need=True, unless="thickness_"),
    _q("thickness", "length", "thickness at the root by calliper", "section", "section.thickness"),
    _q("thickness", "ratio", "thickness over chord", "section", "section.thickness"),
)
PLANFORM = (
    _q("span", "length", "span, tip to tip", "span", need=True),
    _q("root_chord", "length", "chord at the root", "chord", need=True),
    _q("tip_chord", "length", "chord at the tip", "chord", need=True),
    _q("root_le_x", "length", "leading edge at the root, x", "place", need=True),
    _q("tip_le_x", "length", "leading edge at the tip, x", "sweep", need=True),
)
WING = (
    *PLANFORM,
    _q("z", "length", "height of the wing, z", "gap", need=True),
    _q("dihedral", "angle", "dihedral", "dihedral"),
    _q("incidence", "angle", "incidence to the thrust line", "incidence", "incidence_left"),
    _q("incidence_left", "angle", "incidence of the left panel", "incidence"),
    _q("incidence_right", "angle", "incidence of the right panel", "incidence"),
    *SECTION,
)
AILERON = (
    _q("inner_y", "length", "inner end from the middle, y", "aileron_span", need=True),
    _q("outer_y", "length", "outer end from the middle, y", "aileron_span", need=True),
    _q("inner_chord", "length", "chord behind the hinge line, inner end", "aileron_chord", need=True),
    _q("outer_chord", "length", "chord behind the hinge line, outer end", "aileron_chord", need=True),
    _choice("hinge_gap", "hinge gap", "hinge_gap", "sealed open", need=True),
    _q("throw_up", "angle", "greatest throw up", "greatest_throw", need=True),
    _q("throw_down", "angle", "greatest throw down", "greatest_throw", need=True),
)
TAIL = (
    *PLANFORM,
    _q("z", "length", "height of the tail, z", "place", need=True),
    _q("incidence", "angle", "incidence to the thrust line", "incidence"),
    _q("elevator_chord", "ratio", "elevator chord over tail chord", "tail_chord", "elevator_fraction", need=True),
    _q("elevator_up", "angle", "greatest elevator throw up", "greatest_throw", need=True),
    _q("elevator_down", "angle", "greatest elevator throw down", "greatest_throw", need=True),
    *SECTION,
)
FIN = (
    _q("height", "length", "height, lower to upper end", "fin_height", need=True),
    *PLANFORM[1:],
    _q("root_z", "length", "lower end, z", "fin_height", need=True),
    _q("offset", "angle", "fin turned, leading edge right positive", "fin_offset"),
    _q("rudder_chord", "ratio", "rudder chord over fin chord", "tail_chord", "rudder_fraction", need=True),
    _q("rudder_throw", "angle", "greatest rudder throw either way", "greatest_throw", need=True),
    *SECTION,
)
BODY = (
    _q("length", "length", "length", "body", need=True),
    _q("width", "length", "greatest width", "body", need=True),
    _q("height", "length", "greatest height", "body", need=True),
    _q("nose_x", "length", "nose, x", "body"),
    _q("z", "length", "middle of the body, z", "body"),
)
DRAG_DIMENSIONS: Mapping[str, tuple[tuple[str, str], tuple[str, str]]] = {
    "wheel": (("diameter", "diameter"), ("width", "width")),
    "wire": (("length", "length"), ("diameter", "diameter")),
    "strut": (("length", "length"), ("thickness", "thickness across the flow")),
    "cowl_opening": (("height", "height"), ("width", "width")),
    "plate": (("height", "height"), ("width", "width")),
}
"""Kind of drag part to base and label of its two dimensions, the part's `length` and `width`."""
DRAG_HEAD = (
    _text("what", "what it is", "drag_part", need=True),
    _text("name", "name", "drag_part"),
    _whole("count", "how many alike", "drag_part"),
)
DRAG_REST = (
    _q("area", "area", "drag area instead of dimensions", "drag_area"),
    _q("x", "length", "place, x", "drag_part", need=True),
    _q("z", "length", "place, z", "drag_part", need=True),
)
PROPELLER = (
    _q("diameter", "length", "diameter", "propeller", need=True),
    _q("pitch", "length", "pitch", "propeller", need=True),
    _whole("blades", "blades", "propeller"),
    _choice("shape", "shape of the blades", "blade_shape", "slim medium broad folding"),
    _q("chord_75", "length", "blade chord at 75 % radius", "blade_chord"),
    _q("mass", "mass", "mass of the propeller", "propeller_mass"),
    _q("x", "length", "propeller disc, x", "datum"),
    _q("z", "length", "thrust line, z", "datum"),
)
STATION = (
    _q("r", "length", "radius", "blade_station", "radius", need=True),
    _q("chord", "length", "chord", "blade_station", need=True),
    _q("angle", "angle", "angle to the disc", "blade_station", need=True),
)
MOTOR = (
    _q("kv", "kv", "speed constant kv", "motor_kv", need=True),
    _q("resistance", "resistance", "resistance between two wires", "motor_resistance"),
    _q("inductance", "inductance", "inductance between two wires", "motor_inductance"),
    _whole("pole_pairs", "pole pairs", "pole_pairs"),
    _q("no_load_current", "current", "no-load current", "no_load"),
    _q("no_load", "voltage", "voltage of the no-load run", "no_load", "no_load_voltage"),
    _q("mass", "mass", "mass of the motor", "motor_kv"),
)
CONTROLLER = (
    FieldSpec(
        base="levels", label="motor-brake levels", form="list", required=True, unless=("level",), help="brake_levels"
    ),
    FieldSpec(base="present_level", label="level set now", form="choice", help="brake_levels"),
    _q("resistance", "resistance", "resistance of the controller", "controller", ""),
    _q("brake_pwm", "frequency", "pulse frequency of the motor brake", "brake_frequency", "brake_frequency"),
    _flag("synchronous", "brakes into the battery at low throttle", "synchronous"),
    _q("closed_below", "ratio", "closed band ends at", "closed_band"),
    _q("start", "ratio", "start stick", "closed_band", "start_stick"),
    _q("brake_delay", "time", "brake delay", "brake_delays"),
    _q("restart_delay", "time", "restart delay", "brake_delays"),
    _q("diode_drop", "voltage", "voltage lost in one diode", "controller"),
)
LEVEL = (
    FieldSpec(base="name", label="name of the level", form="text", required=True, help="measured_level"),
    FieldSpec(base="percent", label="percent of the controller's scale", form="number", help="measured_level"),
    _q("damping", "damping", "torque over shaft speed", "measured_level", need=True),
)
BATTERY = (
    _whole("cells", "cells in series", "battery", need=True),
    _q("capacity", "capacity", "capacity", "battery", need=True),
    _q("resistance", "resistance", "resistance of the pack", "battery_resistance"),
    _q("rest", "cell_voltage", "voltage of a cell at rest, in mid-flight", "rest_voltage", "rest_voltage_per_cell"),
)
SERVO = (
    _q("torque", "torque", "stall torque", "servo", need=True),
    _q("supply", "voltage", "at supply voltage", "servo", "supply_voltage", need=True),
    _q("speed", "servo_speed", "speed without load", "servo", need=True),
    _whole("spline_teeth", "teeth of the spline", "spline", need=True),
    _whole("horn_arms", "arms of the fitted horn", "spline"),
    _q("", "servo_gain", "pulse for each degree", "servo_gain", "gain"),
    _q("travel", "angle", "greatest turn either way", "servo_travel"),
    _q("pulse_low", "pulse", "shortest pulse it obeys", "servo_travel"),
    _q("pulse_high", "pulse", "longest pulse it obeys", "servo_travel"),
    _flag("programmable", "its centre can be moved in the servo", "servo"),
    _flag("horn_turns_over", "horn turned over stands half a tooth further", "spline"),
)
LINKAGE = (
    _q("arm", "length", "servo arm, axis to pin", "arm", need=True),
    _q("horn", "length", "horn, hinge line to pin", "horn", need=True),
    _q("rod", "length", "rod, pin to pin", "four_bar", need=True),
    _q("axis_distance", "length", "servo axis to hinge line, along the chord", "four_bar", need=True),
    _q("axis_height", "length", "servo axis above the hinge line", "four_bar"),
    _q("horn_setback", "length", "horn pin aft of the hinge line", "horn"),
    FieldSpec(base="arm_holes", label="holes of the arm", form="list", kind="length", help="arm"),
    FieldSpec(base="horn_holes", label="holes of the horn", form="list", kind="length", help="horn"),
    _flag("horn_above", "horn on the upper side", "four_bar"),
    _flag("crossed", "arm on the side away from the horn", "four_bar"),
    _flag("mirrored", "servo lies the other way round", "servo_direction"),
    _flag("reversed", "channel reversed in the radio", "servo_direction"),
)
RIGGING = (
    _q("tail_squareness", "length", "tail tips to the wing, right longer", "squareness"),
    _q("tail_tilt", "length", "tail tips in height, right higher", "squareness"),
    _q("side_thrust", "angle", "side thrust, right", "thrust_line"),
    _q("down_thrust", "angle", "down thrust", "thrust_line"),
    _q("tip_balance", "mass_moment", "moment that levels the wings, right heavy", "lateral_balance"),
    _q("slop", "angle", "play of an aileron, end to end", "slop"),
    _q("blade_tip_difference", "length", "blade tips out of track", "blade_track"),
)


def _fill(fields: tuple[FieldSpec, ...], **changes: Any) -> tuple[FieldSpec, ...]:
    return tuple(replace(one, **changes) for one in fields)


def _entries(data: Any, *keys: str) -> int:
    for key in keys:
        data = data.get(key) if isinstance(data, dict) else None
    return len(data) if isinstance(data, list) else 0


def _inner(data: Any, *keys: str) -> Any:
    for key in keys:
        data = data.get(key) if isinstance(data, dict) else None
    return data


def drag_fields(what: object) -> tuple[FieldSpec, ...]:
    """The keys of one drag part of that kind; the drag area alone for any other word."""
    word = "_".join(what.strip().lower().replace("-", " ").replace("_", " ").split()) if isinstance(what, str) else ""
    sizes = tuple(
        _q(base, "length", label, "drag_part", attribute, need=True, unless="area_")
        for (base, label), attribute in zip(DRAG_DIMENSIONS.get(word, ()), ("length", "width"), strict=False)
    )
    return (*DRAG_HEAD, *sizes, *DRAG_REST)


def table_specs(data: Mapping[str, Any]) -> tuple[TableSpec, ...]:
    """The tables of a file in the order of measuring; entries of lists one by one, corners that have ailerons."""
    found = [
        TableSpec(key="", title="Plane", fields=TOP, needed=True),
        TableSpec(key="speed", title="Wanted speed from a flight", fields=SPEED, path="wanted"),
        TableSpec(key="mass", title="Mass", fields=MASS, path="mass", needed=True),
        *_listed(data, ("mass", "hang"), "Hung from point", HANG, ""),
    ]
    wings = _inner(data, "wing")
    for name in ("upper", "lower"):
        there = isinstance(wings, dict) and name in wings
        title = f"{name.capitalize()} wing"
        found.append(TableSpec(key=f"wing.{name}", title=title, fields=_at_datum(data, name), path=name))
        if there or not isinstance(wings, dict) or not wings:
            key, path = f"wing.{name}.aileron", f"{name}.aileron"
            found.append(TableSpec(key=key, title=f"Ailerons of the {name} wing", fields=AILERON, path=path))
    found += [
        TableSpec(key="tail", title="Tail", fields=TAIL, path="tail", needed=True),
        TableSpec(key="fin", title="Fin", fields=FIN, path="fin"),
        TableSpec(key="body", title="Body", fields=BODY, path="body"),
    ]
    for index in range(_entries(data, "drag")):
        part = data["drag"][index]
        what = part.get("what") if isinstance(part, dict) else None
        said = part.get("name", what) if isinstance(part, dict) else None
        title = said.strip().capitalize() if isinstance(said, str) and said.strip() else f"Part {index + 1}"
        found.append(
            TableSpec(key=f"drag.{index}", title=title, fields=drag_fields(what), path=f"drag.{index}", needed=True)
        )
    found += [
        TableSpec(key="propeller", title="Propeller", fields=_propeller(data), path="propeller", needed=True),
        *_listed(data, ("propeller", "station"), "Blade station", STATION, "propeller.stations"),
        TableSpec(key="motor", title="Motor", fields=MOTOR, path="motor", needed=True),
        TableSpec(key="controller", title="Controller", fields=CONTROLLER, path="controller", needed=True),
        *_listed(data, ("controller", "level"), "Measured level", LEVEL, "controller.levels"),
        TableSpec(key="battery", title="Battery", fields=BATTERY, path="battery", needed=True),
        TableSpec(key="servo.aileron", title="Aileron servo", fields=SERVO, path="aileron_servo"),
        TableSpec(key="linkage.aileron", title="Aileron linkage", fields=LINKAGE, path="aileron_linkage.*"),
    ]
    for corner in CORNERS:
        aileron = _inner(data, "wing", corner.partition("_")[0], "aileron")
        if aileron is not None or _inner(data, "linkage", "aileron", corner) is not None:
            found.append(
                TableSpec(
                    key=f"linkage.aileron.{corner}",
                    title=f"Linkage, {corner.replace('_', ' ')} alone",
                    fields=_fill(LINKAGE, required=False),
                    path=f"aileron_linkage.{corner}",
                )
            )
    return (*found, TableSpec(key="rigging", title="Rigging", fields=RIGGING, path="rigging"))


def _listed(
    data: Mapping[str, Any], keys: tuple[str, str], title: str, fields: tuple[FieldSpec, ...], path: str
) -> list[TableSpec]:
    return [
        TableSpec(
            key=f"{keys[0]}.{keys[1]}.{index}",
            title=f"{title} {index + 1}",
            fields=fields,
            path=f"{path}.{index}" if path else "",
            needed=True,
        )
        for index in range(_entries(data, *keys))
    ]


def _at_datum(data: Mapping[str, Any], name: str) -> tuple[FieldSpec, ...]:
    """The wing's keys; the one that is the datum need not say where it stands."""
    upper = _inner(data, "wing", "upper") is not None
    if data.get("datum") != "wing" or (name == "lower" and upper):
        return WING
    return tuple(_fill((one,), required=False)[0] if one.base in ("root_le_x", "z") else one for one in WING)


def _propeller(data: Mapping[str, Any]) -> tuple[FieldSpec, ...]:
    """The propeller's keys; its place is needed where the wing is the datum."""
    if data.get("datum") != "wing":
        return PROPELLER
    return tuple(_fill((one,), required=True)[0] if one.base in ("x", "z") else one for one in PROPELLER)
