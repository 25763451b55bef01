"""A plane file changed by values: comments, order and layout stay, and one quantity keeps one key."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from evenfall.errors import InputError
from evenfall.plane.text_edit import Path, add_entry, read, remove_entry, remove_value, rename_value, set_value
from evenfall.textfile import parse_toml
from evenfall.toml_table import shown
from evenfall.units import KINDS

Value = bool | float | str | tuple[float, float] | None
"""A value of a plane file's key: a pair is (value, spread); None removes the key."""

ORDER = (
    "speed", "mass", "wing", "wing.upper", "wing.upper.aileron", "wing.lower", "wing.lower.aileron", "tail", "fin",
    "body", "drag", "propeller", "motor", "controller", "battery", "servo", "servo.aileron", "linkage",
    "linkage.aileron", "rigging",
)  # fmt: skip
"""Tables of a plane file in the order of measuring: a new one takes its place by it."""
DEEPEST = 4
"""Parts a key may have."""
_PART = re.compile(r"[A-Za-z0-9_]{1,60}")
_LISTS = re.compile(r"levels|(arm|horn)_holes_[a-z]+")
"""Keys that hold a list whether or not the file has them yet."""
DRAG_PARTS: dict[str, dict[str, Any]] = {
    "wheel": {"what": "wheel", "count": 2, "diameter_mm": 55, "width_mm": 18},
    "wire": {"what": "wire", "count": 1, "length_mm": 150, "diameter_mm": 2.5},
    "strut": {"what": "strut", "count": 1, "length_mm": 150, "thickness_mm": 4},
    "cowl opening": {"what": "cowl opening", "height_mm": 20, "width_mm": 40},
    "area": {"what": "other part", "area_cm2": 5},
}
"""What a new part starts from: usual sizes, to be measured."""


def edited_text(text: str, edits: Mapping[str, Value]) -> str:
    """A plane file with keys set or removed.

    Args:
        text: the file; must be valid TOML (raises `FileFaults`), may have any other fault.
        edits: dotted key (`wing.upper.span_mm`, `drag.0.diameter_mm`) to its value. A key that names a quantity the
            table already has in another unit takes that key's place. For a key that holds a list a text with commas
            is the list.

    Raises `InputError` for keys that cannot be.

    >>> edited_text("span_mm = 1240  # with tips", {"span_in": 48.8, "name": "A"})
    'span_in = 48.8  # with tips\\nname = "A"'
    """
    paths = {key: path_of(key) for key in edits}
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    windows = "\r\n" in text
    body = text[len(mark) :].replace("\r\n", "\n") if windows else text[len(mark) :]
    try:
        read(body)
    except (ValueError, RecursionError):
        parse_toml(body, path="the plane file")
    for key, value in sorted(edits.items(), key=lambda edit: edit[1] is None):  # a key renamed keeps its place
        body = _edited(body, paths[key], value)
    return mark + (body.replace("\n", "\r\n") if windows else body)


def path_of(key: str) -> Path:
    """A dotted key in parts; raises `InputError` for one that no plane file can have.

    >>> path_of("drag.0.x_mm")
    ('drag', '0', 'x_mm')
    """
    parts = tuple(key.split("."))
    if not 1 <= len(parts) <= DEEPEST or not all(_PART.fullmatch(part) for part in parts):
        said = shown(key if key.isprintable() else ascii(key))
        raise InputError(
            f"{said} is no key of a plane file; it is 1 to {DEEPEST} names of letters, digits and _ with points between"
        )
    return parts


def with_part(text: str, kind: str) -> str:
    """A plane file with one more part that drags, of usual size, placed below the middle of the body."""
    values = dict(DRAG_PARTS[kind])
    return add_entry(text, "drag", {**values, "x_mm": 200, "z_mm": -100}, order=ORDER)


def without_part(text: str, index: int) -> str:
    """A plane file without the part at `index` (from 0) of its `[[drag]]` tables, its comments included."""
    return remove_entry(text, ("drag", str(index)))


def _edited(text: str, path: Path, value: Value) -> str:
    if value is None:
        return remove_value(text, path)
    table = _table(text, path)
    there = table.get(path[-1])
    meant: Any = value
    if isinstance(value, str) and (isinstance(there, list) or (there is None and _LISTS.fullmatch(path[-1]))):
        meant = listed(value)
    if path[-1] not in table and (other := same_quantity(path[-1], table)) is not None:
        return rename_value(text, (*path[:-1], other), path[-1], meant)
    return set_value(text, path, meant, order=ORDER)


def _table(text: str, path: Path) -> dict[str, Any]:
    node: Any = read(text)
    for part in path[:-1]:
        if isinstance(node, list):
            node = node[int(part)] if part.isdigit() and int(part) < len(node) else {}
        else:
            node = node.get(part, {}) if isinstance(node, dict) else {}
    return node if isinstance(node, dict) else {}


def listed(text: str) -> list[Any]:
    """A list written with commas: numbers where they are numbers, words else.

    >>> listed("0, 25.5, hard")
    [0, 25.5, 'hard']
    """
    items = [item.strip().strip("\"'") for item in text.strip().removeprefix("[").removesuffix("]").split(",")]
    return [_number(item) for item in items if item]


def _number(item: str) -> Any:
    if re.fullmatch(r"[-+]?\d{1,15}", item):
        return int(item)
    return float(item) if re.fullmatch(r"[-+]?(\d{1,15}\.\d{0,15}|\.\d{1,15})", item) else item


def same_quantity(key: str, table: Mapping[str, Any]) -> str | None:
    """A key of the table that names the same quantity in another unit.

    >>> same_quantity("span_in", {"root_chord_mm": 1, "span_mm": 2})
    'span_mm'
    """
    base, kinds = _quantity(key)
    for other in table:
        name, same = _quantity(other)
        if other != key and name == base and kinds & same:
            return other
    return None


def _quantity(key: str) -> tuple[str, frozenset[str]]:
    """Name of a quantity and the kinds its unit belongs to; the longest ending that is a unit counts."""
    best = max((s for units in KINDS.values() for s in units if key.endswith(f"_{s}")), key=len, default="")
    if not best:
        return key, frozenset()
    return key[: -len(best) - 1], frozenset(kind for kind, units in KINDS.items() if best in units)


def edits_of(given: Sequence[str]) -> dict[str, Value]:
    """Edits from texts like `propeller.pitch_in=6`: numbers, true and false, else words.

    Raises `InputError` with every text that is none.

    >>> edits_of(["propeller.pitch_in=6", "controller.synchronous=true"])
    {'propeller.pitch_in': 6.0, 'controller.synchronous': True}
    """
    made: dict[str, Value] = {}
    wrong = []
    for words in given:
        key, sign, value = (part.strip() for part in words.partition("="))
        if not key or not sign or not value:
            wrong.append(f"{shown(words)} is no change; write KEY=VALUE, for example propeller.pitch_in=6")
            continue
        try:
            made[key] = {"true": True, "false": False}[value] if value in ("true", "false") else float(value)
        except ValueError:
            made[key] = value
    if wrong:
        raise InputError("\n".join(wrong))
    return made
