"""Tables of the plane file that describe the airframe: speed, mass, wings, tail, fin, body and drag parts."""

from __future__ import annotations

import math
import re
from typing import get_args

from evenfall.plane.airframe import Aileron, Body, DragKind, DragPart, Fin, Mass, Section, Tail, WantedSpeed, Wing
from evenfall.plane.fields import NAN, Fields
from evenfall.plane.guesses import THICKNESS_SIGMA, THROW_SIGMA, Spread
from evenfall.toml_table import nearest, shown

DEG = math.pi / 180
THINNEST, THICKEST = 0.06, 0.18
"""Range of section thickness the tables cover, over chord."""
PLATE_THICKNESS = 0.03
"""Thickness of the flat plate in the tables, over chord."""
WISH = (0.0, False)
"""A wanted speed is a wish and has no spread unless one is stated."""
INCIDENCE_SIGMA = 0.5 * DEG
"""One sigma of an incidence nobody measured, rad. Common practice, no source."""
_SECTIONS = 'a symmetric four-digit section "naca0006" to "naca0018", or "flat_plate"'


def known(value: float) -> bool:
    """False for the NaN that stands for an absent or faulty number."""
    return not math.isnan(value)


# --- wanted speed ----------------------------------------------------------------------------------------------------


def read_speed(top: Fields) -> WantedSpeed | None:
    """`speed_m_s = ...`, or a `[speed]` table with a two-way timed pass or the stick of level flight."""
    value = top.quantity("speed", "speed", 3.0, 80.0, path="wanted.speed", required=False, sigma=WISH)
    table = top.section("speed")
    if table is None:
        if not top.given("speed", "speed") and not top.has("speed"):
            top.fault("speed_m_s", "is missing; write speed_m_s = the speed wanted on every line, or a [speed] table")
        return WantedSpeed(speed=value) if known(value) else None
    if top.given("speed", "speed"):
        top.fault("speed", "stands beside a speed at the top of the file; keep one of the two")
        return None
    return _speed_table(table)


def _speed_table(table: Fields) -> WantedSpeed | None:
    wanted = table.quantity("wanted", "speed", 3.0, 80.0, path="wanted.speed", required=False, sigma=WISH)
    stick = table.quantity("level_stick", "ratio", 0.05, 1.0, path="wanted.level_stick", required=False, sigma=WISH)
    distance = table.quantity("distance", "length", 10.0, 2000.0, path="timed.distance", required=False)
    out = table.quantity("time_out", "time", 0.5, 120.0, path="timed.out", required=False, sigma=(0.2, False))
    back = table.quantity("time_back", "time", 0.5, 120.0, path="timed.back", required=False, sigma=(0.2, False))
    doubts = {name: table.faults.spreads.pop(f"timed.{name}", None) for name in ("distance", "out", "back")}
    if not table.sound:
        return None
    timed = [known(number) for number in (distance, out, back)]
    if sum([known(wanted), known(stick), any(timed)]) != 1:
        forms = "wanted_m_s; distance_m with time_out_s and time_back_s (a two-way pass); level_stick_percent"
        table.fault("", f"gives one of: {forms}")
        return None
    if any(timed):
        if not all(timed):
            table.fault(
                "", "a timed pass needs distance_m, time_out_s and time_back_s: there and back cancels the wind"
            )
            return None
        return _timed(table, distance, out, back, doubts)
    return WantedSpeed(speed=wanted) if known(wanted) else WantedSpeed(level_stick=stick)


def _timed(
    table: Fields, distance: float, out: float, back: float, doubts: dict[str, Spread | None]
) -> WantedSpeed | None:
    """V = (d/t1 + d/t2)/2, free of steady wind along the course; sigma by first order."""
    speed = 0.5 * distance * (1 / out + 1 / back)
    if not 3.0 <= speed <= 80.0:
        table.fault("", f"the timed pass gives {speed:.1f} m/s; allowed is 3 to 80 m/s: check distance and times")
        return None
    effects = (
        ("distance", distance, speed / distance),
        ("out", out, distance / out**2 / 2),
        ("back", back, distance / back**2 / 2),
    )
    variance = 0.0
    for name, value, slope in effects:
        if (doubt := doubts[name]) is not None:
            variance += (slope * doubt.absolute(value)) ** 2
    table.faults.spreads["wanted.speed"] = Spread(sigma=math.sqrt(variance), source="measured")
    wind = abs(distance / out - distance / back) / 2
    table.faults.notes.append(f"wanted speed by the timed pass: {speed:.1f} m/s, wind along the course {wind:.1f} m/s")
    return WantedSpeed(speed=speed)


# --- mass ------------------------------------------------------------------------------------------------------------


def read_mass(table: Fields, wings: list[Wing], half_span: float) -> Mass | None:
    """`[mass]`: all-up mass and its centre; vertical place by two plumb lines, else mid-height of the wings."""
    all_up = table.quantity("all_up", "mass", 0.05, 25.0, path="mass.all_up")
    hung = _hang(table)
    cg_x = table.x("cg_x", path="mass.cg_x", required=hung is None)
    cg_z = table.z("cg_z", path="mass.cg_z", required=False)
    cg_y = table.quantity("cg_y", "length", -0.2, 0.2, path="mass.cg_y", required=False)
    tip = table.quantity("tip_weight", "mass", -0.2, 0.2, path="mass.cg_y", required=False, sigma=(1e-3, False))
    if known(cg_y) and known(tip):
        table.fault("cg_y_mm", "gives the lateral balance twice: keep this or tip_weight_g")
    if not table.sound:
        return None
    if hung is not None:
        if not known(cg_x):
            cg_x = hung[0]
            table.faults.spreads["mass.cg_x"] = Spread(sigma=hung[2], source="measured")
        elif abs(cg_x - hung[0]) > 0.01:
            table.faults.notes.append(
                f"cg_x differs by {1000 * (hung[0] - cg_x):.0f} mm from where the plumb lines cross"
            )
        if not known(cg_z):
            cg_z = hung[1]
            table.faults.spreads["mass.cg_z"] = Spread(sigma=hung[3], source="measured")
    if not known(cg_z):
        middle = sum(wing.z for wing in wings) / len(wings) if wings else 0.0
        cg_z = table.guess("cg_z", "length", middle, 0.015, path="mass.cg_z")
    if known(tip):
        cg_y = tip * half_span / all_up
        doubt = table.faults.spreads["mass.cg_y"]
        table.faults.spreads["mass.cg_y"] = Spread(sigma=doubt.absolute(tip) * half_span / all_up, source=doubt.source)
    elif not known(cg_y):
        cg_y = table.guess("cg_y", "length", 0.0, 0.001, path="mass.cg_y")
    return Mass(all_up=all_up, cg_x=cg_x, cg_z=cg_z, cg_y=cg_y)


def _hang(table: Fields) -> tuple[float, float, float, float] | None:
    """Crossing of two plumb lines and its sigma: x, z, sigma x, sigma z in m; each line through two marked points."""
    hangs = table.sections("hang")
    points = [(hang.x("from_x"), hang.z("from_z"), hang.x("through_x"), hang.z("through_z")) for hang in hangs]
    if not hangs or not table.sound:
        return None
    if len(hangs) != 2:
        table.fault("hang", f"needs two entries, hung from two different points; there is {len(hangs)}")
        return None
    flat = [*points[0], *points[1]]
    crossing = _crossing(flat)
    if crossing is None:
        table.fault("hang", "the two plumb lines are nearly parallel; hang the plane from two points further apart")
        return None
    variance = [0.0, 0.0]
    for place in range(8):
        moved = list(flat)
        moved[place] += 0.002
        other = _crossing(moved) or crossing
        variance = [total + (b - a) ** 2 for total, a, b in zip(variance, crossing, other, strict=True)]
    return crossing[0], crossing[1], math.sqrt(variance[0]), math.sqrt(variance[1])


def _crossing(points: list[float]) -> tuple[float, float] | None:
    x1, z1, x2, z2, x3, z3, x4, z4 = points
    dx1, dz1, dx2, dz2 = x2 - x1, z2 - z1, x4 - x3, z4 - z3
    cross = dx1 * dz2 - dz1 * dx2
    if abs(cross) < 0.17 * math.hypot(dx1, dz1) * math.hypot(dx2, dz2) or cross == 0:
        return None
    along = ((x3 - x1) * dz2 - (z3 - z1) * dx2) / cross
    return x1 + along * dx1, z1 + along * dz1


# --- surfaces --------------------------------------------------------------------------------------------------------


def read_section(table: Fields, chord: float, path: str) -> Section | None:
    """A section by name, or by the greatest thickness a calliper finds at the root."""
    name = table.text("section")
    measured = table.quantity("thickness", "length", 0.0005, 0.2, required=False)
    share = table.quantity("thickness", "ratio", 0.005, 0.3, required=False)
    given = table.given("thickness", "length") or table.given("thickness", "ratio")
    if "section" not in table.data and not given:
        table.fault("section", f"is missing; write {_SECTIONS}, or thickness_mm by calliper at the root")
        return None
    if not table.sound:
        return None
    if known(measured) and known(share):
        table.fault("thickness_mm", "gives the thickness twice; keep one")
        return None
    thickness = measured / chord if known(measured) and known(chord) else share
    section = _named_section(table, name, thickness)
    if section is not None:
        sigma = 0.002 if section.flat_plate else THICKNESS_SIGMA
        table.faults.spreads[f"{path}.section.thickness"] = Spread(sigma=sigma, source="measured")
    return section


def _named_section(table: Fields, name: str | None, thickness: float) -> Section | None:
    plain = re.sub(r"[\s_-]", "", name.lower()) if name is not None else "naca"
    if plain == "flatplate":
        if known(thickness) and thickness > THINNEST:
            table.fault(
                "section", f"a plate of {100 * thickness:.0f} % is no plate; leave out section and keep the thickness"
            )
            return None
        return Section(thickness=thickness if known(thickness) else PLATE_THICKNESS, flat_plate=True)
    if name is not None:
        found = re.fullmatch(r"naca(\d)(\d)(\d\d)", plain)
        if not found:
            near = nearest(plain, ["naca0012", "flatplate"])
            hint = {"naca0012": '; did you mean "naca0012"?', "flatplate": '; did you mean "flat_plate"?'}.get(
                near or "", ""
            )
            table.fault("section", f"{shown(name)} has no table; write {_SECTIONS}{hint}")
            return None
        if found.group(1) != "0" or found.group(2) != "0":
            table.fault("section", f"{shown(name)} is cambered; only symmetric sections have tables: write {_SECTIONS}")
            return None
        by_name = int(found.group(3)) / 100
        if known(thickness) and abs(thickness - by_name) > 0.02:
            table.fault(
                "section", f"{shown(name)} and a thickness of {100 * thickness:.1f} % contradict; keep the measured one"
            )
            return None
        thickness = thickness if known(thickness) else by_name
    elif thickness < THINNEST - 0.005:
        table.fault(
            "section", f'{100 * thickness:.1f} % is thinner than the tables (6 to 18 %); write section = "flat_plate"'
        )
        return None
    if not THINNEST - 0.0051 <= thickness <= THICKEST + 0.0051:
        table.fault("section", f"a thickness of {100 * thickness:.1f} % is outside the tables; allowed is 6 to 18 %")
        return None
    return Section(thickness=min(max(thickness, THINNEST), THICKEST))


def read_wing(table: Fields, name: str, *, at_datum: bool) -> Wing | None:
    """`[wing.upper]` or `[wing.lower]`; `at_datum`: its root leading edge is the datum of the file."""
    span = table.quantity("span", "length", 0.2, 6.0, path=f"{name}.span")
    root = table.quantity("root_chord", "length", 0.03, 1.5, path=f"{name}.root_chord")
    tip = table.quantity("tip_chord", "length", 0.01, 1.5, path=f"{name}.tip_chord")
    root_x = table.x("root_le_x", path=f"{name}.root_le_x", required=not at_datum)
    tip_x = table.x("tip_le_x", path=f"{name}.tip_le_x")
    z = table.z("z", path=f"{name}.z", required=not at_datum)
    if at_datum:
        root_x = root_x if known(root_x) else -table.faults.origin_x
        z = z if known(z) else -table.faults.origin_z
    dihedral = table.quantity("dihedral", "angle", -20 * DEG, 30 * DEG, path=f"{name}.dihedral", required=False)
    left, right = _incidences(table, name)
    section = read_section(table, root, name)
    aileron_table = table.section("aileron")
    aileron = _read_aileron(aileron_table, name) if aileron_table is not None else None
    if not table.sound or section is None:
        return None
    return Wing(
        span=span,
        root_chord=root,
        tip_chord=tip,
        root_le_x=root_x,
        tip_le_x=tip_x,
        z=z,
        section=section,
        dihedral=dihedral if known(dihedral) else 0.0,
        incidence_left=left,
        incidence_right=right,
        aileron=aileron,
    )


def _incidences(table: Fields, name: str) -> tuple[float, float]:
    low, high = -15 * DEG, 15 * DEG
    paths = (f"{name}.incidence_left", f"{name}.incidence_right")
    both = table.quantity("incidence", "angle", low, high, path=paths, required=False)
    left = table.quantity("incidence_left", "angle", low, high, path=paths[0], required=False)
    right = table.quantity("incidence_right", "angle", low, high, path=paths[1], required=False)
    if known(both) and (known(left) or known(right)):
        table.fault("incidence_deg", "stands beside incidence_left or incidence_right; keep one number or the two")
    elif known(left) != known(right):
        lacking = "incidence_right_deg" if known(left) else "incidence_left_deg"
        table.fault(lacking, "is missing: give both sides, or one incidence_deg")
    if known(both):
        return both, both
    if known(left) and known(right):
        return left, right
    if table.sound:
        for path in paths:
            table.faults.spreads[path] = Spread(sigma=INCIDENCE_SIGMA, source="guess")
        table.note_guess("incidence_deg", paths[0], "0 deg", "+-0.5 deg", "wing.incidence")
    return 0.0, 0.0


def _read_aileron(table: Fields, name: str) -> Aileron | None:
    path = f"{name}.aileron"
    inner_y = table.quantity("inner_y", "length", 0.0, 3.0, path=f"{path}.inner_y")
    outer_y = table.quantity("outer_y", "length", 0.02, 3.0, path=f"{path}.outer_y")
    inner_chord = table.quantity("inner_chord", "length", 0.003, 1.0, path=f"{path}.inner_chord")
    outer_chord = table.quantity("outer_chord", "length", 0.003, 1.0, path=f"{path}.outer_chord")
    gap = table.choice("hinge_gap", ("sealed", "open"), required=True)
    limits = (2 * DEG, 60 * DEG)
    sigma = (THROW_SIGMA, False)
    up = table.quantity("throw_up", "angle", *limits, path=f"{path}.throw_up", sigma=sigma)
    down = table.quantity("throw_down", "angle", *limits, path=f"{path}.throw_down", sigma=sigma)
    if not table.sound:
        return None
    return Aileron(
        inner_y=inner_y,
        outer_y=outer_y,
        inner_chord=inner_chord,
        outer_chord=outer_chord,
        gap_sealed=gap == "sealed",
        throw_up=up,
        throw_down=down,
    )


def read_tail(table: Fields) -> Tail | None:
    """`[tail]`: the horizontal tail with its elevator."""
    span = table.quantity("span", "length", 0.05, 3.0, path="tail.span")
    root = table.quantity("root_chord", "length", 0.02, 1.0, path="tail.root_chord")
    tip = table.quantity("tip_chord", "length", 0.01, 1.0, path="tail.tip_chord")
    root_x = table.x("root_le_x", path="tail.root_le_x")
    tip_x = table.x("tip_le_x", path="tail.tip_le_x")
    z = table.z("z", path="tail.z")
    incidence = table.quantity("incidence", "angle", -15 * DEG, 15 * DEG, path="tail.incidence", required=False)
    fraction = table.quantity("elevator_chord", "ratio", 0.10, 1.0, path="tail.elevator_fraction")
    sigma = (THROW_SIGMA, False)
    up = table.quantity("elevator_up", "angle", 3 * DEG, 80 * DEG, path="tail.elevator_up", sigma=sigma)
    down = table.quantity("elevator_down", "angle", 3 * DEG, 80 * DEG, path="tail.elevator_down", sigma=sigma)
    section = read_section(table, root, "tail")
    if not table.sound or section is None:
        return None
    if not known(incidence):
        incidence = table.guess("incidence", "angle", 0.0, INCIDENCE_SIGMA, path="tail.incidence")
    return Tail(
        span=span,
        root_chord=root,
        tip_chord=tip,
        root_le_x=root_x,
        tip_le_x=tip_x,
        z=z,
        section=section,
        elevator_fraction=fraction,
        elevator_up=up,
        elevator_down=down,
        incidence=incidence,
    )


def read_fin(table: Fields) -> Fin | None:
    """`[fin]`: fin and rudder."""
    height = table.quantity("height", "length", 0.03, 1.5, path="fin.height")
    root = table.quantity("root_chord", "length", 0.02, 1.0, path="fin.root_chord")
    tip = table.quantity("tip_chord", "length", 0.01, 1.0, path="fin.tip_chord")
    root_x = table.x("root_le_x", path="fin.root_le_x")
    tip_x = table.x("tip_le_x", path="fin.tip_le_x")
    root_z = table.z("root_z", path="fin.root_z")
    offset = table.quantity("offset", "angle", -10 * DEG, 10 * DEG, path="fin.offset", required=False)
    fraction = table.quantity("rudder_chord", "ratio", 0.10, 1.0, path="fin.rudder_fraction")
    throw = table.quantity(
        "rudder_throw", "angle", 3 * DEG, 80 * DEG, path="fin.rudder_throw", sigma=(THROW_SIGMA, False)
    )
    section = read_section(table, root, "fin")
    if not table.sound or section is None:
        return None
    return Fin(
        height=height,
        root_chord=root,
        tip_chord=tip,
        root_le_x=root_x,
        tip_le_x=tip_x,
        root_z=root_z,
        section=section,
        rudder_fraction=fraction,
        rudder_throw=throw,
        offset=offset if known(offset) else 0.0,
    )


# --- body and drag parts ---------------------------------------------------------------------------------------------


def read_body(table: Fields) -> Body | None:
    """`[body]`: greatest length, width and height."""
    length = table.quantity("length", "length", 0.1, 5.0, path="body.length")
    width = table.quantity("width", "length", 0.003, 1.0, path="body.width")
    height = table.quantity("height", "length", 0.003, 1.0, path="body.height")
    nose_x = table.x("nose_x", path="body.nose_x", required=False)
    z = table.z("z", path="body.z", required=False)
    if not table.sound:
        return None
    return Body(
        length=length,
        width=width,
        height=height,
        nose_x=nose_x if known(nose_x) else 0.0,
        z=z if known(z) else 0.0,
    )


_DIMENSIONS: dict[str, tuple[str, str]] = {
    "wheel": ("diameter", "width"),
    "wire": ("length", "diameter"),
    "strut": ("length", "thickness"),
    "cowl_opening": ("height", "width"),
    "plate": ("height", "width"),
}
"""Keys of length and width for every kind of drag part."""
_DIMENSION_KEYS = {key for keys in _DIMENSIONS.values() for key in keys}


def read_drag(table: Fields, index: int) -> DragPart | None:
    """One `[[drag]]` entry: a kind with its two dimensions, or a drag area."""
    what = table.text("what", required=True, example='what = "wheel"', longest=60)
    label = table.text("name", longest=60)
    x = table.x("x", path=f"drag.{index}.x")
    z = table.z("z", path=f"drag.{index}.z")
    count = table.integer("count", 1, 50)
    area = table.quantity("area", "area", 1e-7, 0.2, path=f"drag.{index}.area", required=False, sigma=(0.30, True))
    kind = re.sub(r"[\s_-]+", "_", what.strip().lower()) if what is not None else ""
    if kind in _DIMENSIONS:
        keys = _DIMENSIONS[kind]
        needed = not table.given("area", "area")
        length, width = (
            table.quantity(key, "length", 0.0002, 3.0, path=f"drag.{index}.{name}", required=needed, sigma=(0.05, True))
            for key, name in zip(keys, ("length", "width"), strict=True)
        )
        if not needed and (known(length) or known(width)):
            table.fault("area_cm2", f"stands beside {keys[0]} or {keys[1]}; keep the area or the dimensions")
    else:
        length = width = NAN
        if what is None or not table.given("area", "area"):
            table.known.extend(key for key in table.data if key.rpartition("_")[0] in _DIMENSION_KEYS)
        if what is not None and not table.given("area", "area"):
            near = nearest(kind, _DIMENSIONS)
            hint = f'; did you mean "{near.replace("_", " ")}"?' if near else ""
            words = ", ".join(name.replace("_", " ") for name in _DIMENSIONS)
            table.fault("what", f"{shown(what)} needs area_cm2 (drag area); with dimensions it is one of {words}{hint}")
    if not table.sound or what is None:
        return None
    return DragPart(
        what=label or what,
        x=x,
        z=z,
        area=area if known(area) else None,
        kind=_kind(kind),
        length=length if known(length) else None,
        width=width if known(width) else None,
        count=count or 1,
    )


def _kind(word: str) -> DragKind | None:
    for kind in get_args(DragKind):
        if kind == word:
            return kind  # type: ignore[no-any-return]
    return None
