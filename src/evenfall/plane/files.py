"""Plane file to dataclasses, strictly: every fault at once, every guess named."""

from __future__ import annotations

import os
from dataclasses import dataclass

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import CORNERS, Body, DragPart, Fin, Mass, Plane, Tail, WantedSpeed, Wing
from evenfall.plane.controls import Linkage, Rigging, Servo
from evenfall.plane.electrics import Battery, Controller, Motor, Propeller
from evenfall.plane.fields import Fields, Ledger
from evenfall.plane.guesses import Guess, Spread
from evenfall.plane.read_airframe import (
    known,
    read_body,
    read_drag,
    read_fin,
    read_mass,
    read_speed,
    read_tail,
    read_wing,
)
from evenfall.plane.read_controls import read_linkages, read_rigging, read_servo
from evenfall.plane.read_electrics import read_battery, read_controller, read_motor, read_propeller
from evenfall.plane.sanity import check_fin, check_mass, check_pair, check_tail, check_wing
from evenfall.textfile import TomlText, parse_toml, read_toml
from evenfall.units import KINDS

FORMAT = 1
"""Version of the plane file this reader knows."""


@dataclass(frozen=True, kw_only=True)
class PlaneFile:
    """A plane file as read.

    Args:
        plane: the aeroplane, SI.
        spreads: dotted attribute path (`mass.cg_x`, `motor.resistance`) to one sigma and where it comes from.
        guesses: what the file lacks and what stands in for it.
        notes: harmless but worth a look.
        path, text: the file; `content_hash` is SHA-256 of its text.
    """

    plane: Plane
    spreads: dict[str, Spread]
    guesses: tuple[Guess, ...]
    notes: tuple[str, ...]
    path: str
    content_hash: str
    text: str


def load_plane(path: str | os.PathLike[str]) -> PlaneFile:
    """Read a plane file; raises `FileFaults` with every fault at once."""
    return _read(read_toml(path, what="plane file"))


def parse_plane(text: str, *, path: str = "plane.toml") -> PlaneFile:
    """The same for a text in hand; `path` is used in messages only."""
    return _read(parse_toml(text, path=path, what="plane file"))


@dataclass(kw_only=True)
class _Parts:
    wanted: WantedSpeed | None = None
    mass: Mass | None = None
    upper: Wing | None = None
    lower: Wing | None = None
    tail: Tail | None = None
    fin: Fin | None = None
    body: Body | None = None
    drag: tuple[DragPart, ...] = ()
    propeller: Propeller | None = None
    motor: Motor | None = None
    controller: Controller | None = None
    battery: Battery | None = None
    servo: Servo | None = None
    linkage: dict[str, Linkage] | None = None
    rigging: Rigging | None = None

    @property
    def wings(self) -> list[Wing]:
        return [wing for wing in (self.upper, self.lower) if wing is not None]


def _read(source: TomlText) -> PlaneFile:
    ledger = Ledger(lines=source.lines, notes=list(source.notes))
    top = Fields(source.data, "", ledger)
    parts = _Parts()
    _read_format(top)
    name = top.text("name", required=True, example='name = "My biplane"', longest=80)
    _read_datum(top)
    parts.wanted = read_speed(top)
    _read_wings(top, parts)
    _read_tail(top, parts)
    _read_mass(top, parts)
    _read_body(top, parts)
    _read_electrics(top, parts)
    _read_controls(top, parts)
    top.finish()
    ledger.raise_if_any(source.path)
    plane = _build(name or "", parts, ledger, source)
    return PlaneFile(
        plane=plane,
        spreads=dict(ledger.spreads),
        guesses=tuple(ledger.guesses),
        notes=tuple(ledger.notes),
        path=source.path,
        content_hash=source.content_hash,
        text=source.text,
    )


def _build(name: str, parts: _Parts, ledger: Ledger, source: TomlText) -> Plane:
    if (
        parts.wanted is None
        or parts.mass is None
        or parts.tail is None
        or parts.propeller is None
        or parts.motor is None
        or parts.controller is None
        or parts.battery is None
    ):
        raise AssertionError("a part is missing although no fault was noted")
    try:
        return Plane(
            name=name,
            wanted=parts.wanted,
            mass=parts.mass,
            upper=parts.upper,
            lower=parts.lower,
            tail=parts.tail,
            propeller=parts.propeller,
            motor=parts.motor,
            controller=parts.controller,
            battery=parts.battery,
            fin=parts.fin,
            body=parts.body,
            drag=parts.drag,
            aileron_servo=parts.servo,
            aileron_linkage=parts.linkage or {},
            rigging=parts.rigging,
        )
    except ValueRangeError as error:
        ledger.add("", str(error))
        ledger.raise_if_any(source.path)
        raise


def _read_format(top: Fields) -> None:
    version = top.integer("format", 1, 10**6)
    if not top.has("format"):
        top.fault("format", f"is missing; write format = {FORMAT} at the top of the file")
    elif version is not None and version != FORMAT:
        top.fault("format", f"is {version}; this edition reads {FORMAT}: update Evenfall or check the number")


def _read_datum(top: Fields) -> None:
    """Where x and z count from; with the wing as datum the propeller's place must be known."""
    datum = top.choice("datum", ("propeller", "wing"))
    raw = top.data.get("propeller")
    if not isinstance(raw, dict):
        return
    place = Fields(raw, "propeller", top.faults)
    x = place.quantity("x", "length", -2.0, 1.0, required=datum == "wing")
    z = place.quantity("z", "length", -1.0, 1.0, required=datum == "wing")
    if datum == "wing":
        top.faults.origin_x = x if known(x) else 0.0
        top.faults.origin_z = z if known(z) else 0.0
    elif (known(x) and x != 0) or (known(z) and z != 0):
        top.fault("propeller", 'x and z of the propeller belong to datum = "wing"; here the propeller is the datum')


def _read_wings(top: Fields, parts: _Parts) -> None:
    table = top.section("wing")
    if table is None:
        if not top.has("wing"):
            top.fault("wing", "no wing; write [wing.upper], [wing.lower] or both")
        return
    upper, lower = table.section("upper"), table.section("lower")
    if not table.has("upper") and not table.has("lower"):
        table.fault("", "no wing; write [wing.upper], [wing.lower] or both")
    at_datum = top.data.get("datum") == "wing"
    if upper is not None:
        parts.upper = read_wing(upper, "upper", at_datum=at_datum)
        if parts.upper is not None:
            check_wing(upper, parts.upper)
    if lower is not None:
        parts.lower = read_wing(lower, "lower", at_datum=at_datum and upper is None)
        if parts.lower is not None:
            check_wing(lower, parts.lower)
    check_pair(top.faults, parts.upper, parts.lower)


def _read_mass(top: Fields, parts: _Parts) -> None:
    table = top.section("mass", required=True)
    if table is None:
        return
    half_span = 0.5 * max((wing.span for wing in parts.wings), default=1.0)
    parts.mass = read_mass(table, parts.wings, half_span)
    if parts.mass is not None:
        check_mass(table, parts.mass, parts.wings, parts.tail)


def _read_tail(top: Fields, parts: _Parts) -> None:
    table = top.section("tail", required=True)
    if table is not None:
        parts.tail = read_tail(table)
        if parts.tail is not None:
            check_tail(table, parts.tail, parts.wings)
    fin = top.section("fin")
    if fin is not None:
        parts.fin = read_fin(fin)
        if parts.fin is not None:
            check_fin(fin, parts.fin, parts.wings)
    elif not top.has("fin"):
        top.faults.notes.append("no [fin]: adverse yaw and the vertical in yaw are not worked out")


def _read_body(top: Fields, parts: _Parts) -> None:
    body = top.section("body")
    if body is not None:
        parts.body = read_body(body)
    elif not top.has("body"):
        top.faults.notes.append("no [body]: its drag is not counted")
    parts.drag = tuple(
        part for index, table in enumerate(top.sections("drag")) if (part := read_drag(table, index)) is not None
    )
    if not top.has("drag"):
        top.faults.notes.append("no [[drag]] parts: wheels, wires, struts and openings are not counted")


def _read_electrics(top: Fields, parts: _Parts) -> None:
    propeller = top.section("propeller", required=True)
    if propeller is not None:
        for axis in ("x", "z"):
            propeller.known.extend(f"{axis}_{suffix}" for suffix in KINDS["length"])
            propeller.kinds.append((axis, "length"))
        parts.propeller = read_propeller(propeller)
    motor = top.section("motor", required=True)
    if motor is not None:
        parts.motor = read_motor(motor, parts.mass)
    controller = top.section("controller", required=True)
    if controller is not None:
        parts.controller = read_controller(controller)
    battery = top.section("battery", required=True)
    if battery is not None:
        parts.battery = read_battery(battery)


def _read_controls(top: Fields, parts: _Parts) -> None:
    servo = top.section("servo")
    if servo is not None:
        table = servo.section("aileron", required=True)
        parts.servo = read_servo(table) if table is not None else None
    else:
        top.faults.notes.append("no [servo.aileron]: servo load and travel are not worked out")
    linkage = top.section("linkage")
    corners = [
        f"{name}_{side}"
        for name, wing in (("upper", parts.upper), ("lower", parts.lower))
        if wing is not None and wing.aileron is not None
        for side in ("left", "right")
    ]
    if linkage is not None:
        table = linkage.section("aileron", required=True)
        wings_read = all(
            getattr(parts, name) is not None
            for name in ("upper", "lower")
            if isinstance(top.data.get("wing"), dict) and name in top.data["wing"]
        )
        parts.linkage = read_linkages(table, corners if wings_read else list(CORNERS)) if table is not None else None
    else:
        top.faults.notes.append("no [linkage.aileron]: arm offset and the linkage part of the roll are not worked out")
    rigging = top.section("rigging")
    parts.rigging = read_rigging(rigging) if rigging is not None else None
