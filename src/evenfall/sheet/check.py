"""What `check` shows: the plane as read, its derived facts, the guesses and what measuring them would buy."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any, Literal

from evenfall.lines.throws import CornerReach
from evenfall.plane.airframe import Plane
from evenfall.plane.class_limits import ClassLimits, class_rows, known_classes
from evenfall.plane.facts import Fact, derived_facts
from evenfall.plane.files import PlaneFile
from evenfall.plane.perturb import attribute
from evenfall.sheet.rigging_page import margin_note
from evenfall.units import plain, preferred, show

WIDTH = 100


Reaches = Mapping[str, CornerReach]


def all_facts(read: PlaneFile, margin: float | None, reaches: Reaches | None = None) -> tuple[Fact, ...]:
    """Derived facts, with the static margin (share of mean chord) and the linkages' reach where they were computed."""
    facts = list(derived_facts(read.plane))
    for corner, reach in (reaches or {}).items():
        where = corner.replace("_", " ")
        facts += [
            Fact(key=f"linkage_up_{corner}_rad", words=f"linkage reaches up, {where}", value=-reach.low, kind="angle"),
            Fact(
                key=f"linkage_down_{corner}_rad", words=f"linkage reaches down, {where}", value=reach.high, kind="angle"
            ),
            Fact(key=f"linkage_gain_{corner}", words=f"surface per servo angle at neutral, {where}", value=reach.gain),
            Fact(key=f"arm_offset_{corner}_rad", words=f"arm from square, {where}", value=reach.offset, kind="angle"),
        ]
    if margin is not None:
        words = "CG ahead of the neutral point of all surfaces, of mean chord"
        facts.append(Fact(key="static_margin", words=words, value=margin, kind="ratio"))
    return tuple(facts)


def check_document(read: PlaneFile, *, margin: float | None = None, reaches: Reaches | None = None) -> dict[str, Any]:
    """For programs: unrounded, SI, angles in radians. `margin`: static margin, share of mean chord."""
    return {
        "file": read.path,
        "content_hash": read.content_hash,
        "name": read.plane.name,
        "facts": {fact.key: fact.value for fact in all_facts(read, margin, reaches)},
        "spreads": {
            path: {
                "value": attribute(read.plane, path),
                "spread": spread.absolute(attribute(read.plane, path)),
                "source": spread.source,
            }
            for path, spread in sorted(read.spreads.items())
        },
        "guesses": [
            {
                "key": guess.key,
                "value": guess.value,
                "spread": guess.spread,
                "why": guess.why,
                "buys": guess.buys,
                "how": guess.how,
            }
            for guess in read.guesses
        ],
        "classes": {
            limits.name: {
                "code": limits.code,
                "edition": limits.edition,
                "source": limits.source,
                "limits": [
                    {"what": row.what, "value": row.value, "limit": row.limit, "unit": row.unit, "within": row.within}
                    for row in class_rows(read.plane, limits)
                ],
            }
            for limits in known_classes()
        },
        "notes": list(_notes(read, margin)),
    }


def check_text(
    read: PlaneFile,
    *,
    system: Literal["metric", "imperial"] = "metric",
    margin: float | None = None,
    reaches: Reaches | None = None,
) -> str:
    """For a person, plain text."""
    blocks = [
        f"{read.plane.name}\n{read.path}, {read.content_hash[:12]}",
        _as_read(read, system),
        "Follows from it\n" + _rows([(fact.words, _fact(fact, system)) for fact in all_facts(read, margin, reaches)]),
        _guesses(read),
    ]
    blocks += [_class(read.plane, limits) for limits in known_classes()]
    if notes := _notes(read, margin):
        blocks.append("Notes\n" + "\n".join(_wrap(note, "  - ", "    ") for note in notes))
    return "\n\n".join(blocks) + "\n"


def _notes(read: PlaneFile, margin: float | None) -> tuple[str, ...]:
    note = "" if margin is None else margin_note(margin)
    return (*read.notes, note) if note else tuple(read.notes)


def _as_read(read: PlaneFile, system: Literal["metric", "imperial"]) -> str:
    plane = read.plane
    wanted = plane.wanted
    rows = []
    if wanted.speed is not None:
        rows.append(("wanted speed", _spread(read, "wanted.speed", "speed", system)))
    elif wanted.level_stick is not None:
        rows.append(("wanted speed", f"as fast as level at {100 * wanted.level_stick:.0f} % stick"))
    rows += [
        ("all-up mass", _spread(read, "mass.all_up", "mass", system)),
        ("CG aft of the propeller", _spread(read, "mass.cg_x", "length", system)),
        ("CG above the thrust line", _spread(read, "mass.cg_z", "length", system)),
    ]
    for name, wing in plane.wings.items():
        chord = f"{_length(wing.root_chord, system)} to {_length(wing.tip_chord, system)}"
        section = "flat plate" if wing.section.flat_plate else "symmetric section"
        rows.append(
            (
                f"{name} wing",
                f"{_length(wing.span, system)} span, chord {chord}, {section} {100 * wing.section.thickness:.1f} %",
            )
        )
    propeller, motor, battery = plane.propeller, plane.motor, plane.battery
    rows += [
        (
            "propeller",
            f"{plain(propeller.diameter / 0.0254)} x {plain(propeller.pitch / 0.0254)} in, "
            f"{propeller.blades} blades, {propeller.shape}",
        ),
        (
            "motor",
            f"{_spread(read, 'motor.kv', 'kv', system)}, {_spread(read, 'motor.resistance', 'resistance', system)}",
        ),
        ("battery", f"{battery.cells} cells, {show(battery.capacity, 'capacity', system=system)}"),
        (
            "motor brake",
            f"levels {', '.join(level.name for level in plane.controller.levels)}; "
            f"now {plane.controller.present_level}",
        ),
        ("motor", f"{motor.pole_pairs} pole pairs, {show(motor.inductance, 'inductance', system=system, digits=3)}"),
    ]
    if plane.drag:
        rows.append(("drag parts", ", ".join(f"{part.count} x {part.what}" for part in plane.drag)))
    return "As read\n" + _rows(rows)


def _class(plane: Plane, limits: ClassLimits) -> str:
    """Limits of a class beside the plane."""
    rows = []
    for row in class_rows(plane, limits):
        limit = f"at most {plain(row.limit)} {row.unit}"
        if row.value is None:
            rows.append((row.what, f"{limit}, {limits.sound_how}; to be measured"))
        else:
            verdict = "within" if row.within else "ABOVE"
            rows.append((row.what, f"{plain(row.value, 3)} {row.unit}, {limit}: {verdict}"))
    head = f"Limits of {limits.name} ({limits.words}; {limits.code}, {limits.edition}: the current code decides)"
    return _wrap(head, "", "") + "\n" + _rows(rows)


def _guesses(read: PlaneFile) -> str:
    if not read.guesses:
        return "Nothing was guessed."
    lines = ["Guessed, because the file does not say"]
    for guess in read.guesses:
        lines.append(f"  {guess.key}: {guess.value} ({guess.spread}), {guess.why}")
        lines.append(_wrap(f"measuring it buys: {guess.buys}", "      ", "      "))
        lines.append(_wrap(f"how: {guess.how}", "      ", "      "))
    return "\n".join(lines)


def _spread(read: PlaneFile, path: str, kind: str, system: Literal["metric", "imperial"]) -> str:
    value = attribute(read.plane, path)
    unit = preferred(kind, system)
    if path not in read.spreads:
        return show(value, kind, system=system)
    spread = unit.spread_from_si(value, read.spreads[path].absolute(value))
    return f"{plain(unit.from_si(value))} +- {plain(spread, 1)} {unit.symbol}"


def _fact(fact: Fact, system: Literal["metric", "imperial"]) -> str:
    if fact.kind == "number":
        return plain(fact.value, 3)
    return show(fact.value, fact.kind, system=system, digits=3)


def _length(value: float, system: Literal["metric", "imperial"]) -> str:
    return show(value, "length", system=system)


def _rows(rows: list[tuple[str, str]]) -> str:
    width = max(len(words) for words, _ in rows)
    return "\n".join(f"  {words:<{width}}  {text}" for words, text in rows)


def _wrap(text: str, first: str, following: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=following)
