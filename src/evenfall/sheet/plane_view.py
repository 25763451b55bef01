"""The plane on the page: every measurement with its place in the file, what is wrong or guessed, and its shape."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from evenfall.errors import EvenfallError, Fault, FileFaults
from evenfall.plane.files import PlaneFile, parse_plane
from evenfall.plane.guesses import Guess
from evenfall.plane.perturb import attribute
from evenfall.sheet.folder_page import FaultPage
from evenfall.sheet.plane_facts import fact_pages, guess_pages, neutral_x, used_words
from evenfall.sheet.plane_fields import FieldSpec, TableSpec, table_specs
from evenfall.sheet.plane_page import (
    FactPage,
    FieldGroup,
    FieldPage,
    GuessPage,
    PlaneView,
    ShapePage,
    SolidPage,
    SurfacePage,
    Triple,
)
from evenfall.sheet.plane_shape import shape_page
from evenfall.textfile import content_hash
from evenfall.units import KINDS

__all__ = [
    "FactPage",
    "FieldGroup",
    "FieldPage",
    "GuessPage",
    "PlaneView",
    "ShapePage",
    "SolidPage",
    "SurfacePage",
    "Triple",
    "fault_pages",
    "field_key",
    "plane_view",
]

_FORM: dict[str, Literal["number", "text", "choice", "yes/no", "list"]] = {
    "number": "number",
    "whole": "number",
    "text": "text",
    "choice": "choice",
    "yes/no": "yes/no",
    "list": "list",
}


def plane_view(text: str, *, file: str, revision: int) -> PlaneView:
    """A plane file as the page shows it, whatever its state: usable, faulty, or no TOML at all (its faults alone)."""
    read, faults = _read(text, file)
    data = _data(text)
    groups = () if data is None else _groups(data, read, faults)
    labels = {one.path: _where(group.title, one.label) for group in groups for one in group.fields}
    name = data.get("name") if data is not None else None
    return PlaneView(
        file=file,
        revision=revision,
        name=read.plane.name if read is not None else name if isinstance(name, str) and name.strip() else file,
        plane_hash=content_hash(text),
        usable=read is not None,
        text=text,
        groups=groups,
        faults=fault_pages(faults),
        notes=() if read is None else read.notes,
        facts=() if read is None else fact_pages(read),
        guesses=() if read is None else guess_pages(read, labels),
        shape=None if read is None else shape_page(read.plane, neutral_x=neutral_x(read.plane)),
        wanted_speed_m_s=None if read is None else read.plane.wanted.speed,
    )


def fault_pages(faults: tuple[Fault, ...]) -> tuple[FaultPage, ...]:
    """Faults of a file as pages."""
    return tuple(FaultPage(where=fault.where, line=fault.line, words=fault.message) for fault in faults)


def field_key(base: str, suffix: str) -> str:
    """Key of a quantity in the file; the unit alone where it has no base."""
    return f"{base}_{suffix}" if base else suffix


def _read(text: str, file: str) -> tuple[PlaneFile | None, tuple[Fault, ...]]:
    try:
        return parse_plane(text, path=file), ()
    except FileFaults as error:
        return None, error.faults


def _data(text: str) -> dict[str, Any] | None:
    """The file's tables, or None where it is no TOML."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        return None


def _where(title: str, label: str) -> str:
    return label if title == "Plane" else f"{title.lower()}: {label}"


@dataclass(kw_only=True)
class _Notes:
    """What is said about single keys: faults by dotted key, guesses by dotted key; `used` are faults shown."""

    read: PlaneFile | None
    faults: dict[str, list[str]] = field(default_factory=dict)
    guesses: dict[str, Guess] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)

    def fault(self, paths: list[str]) -> str | None:
        """Faults at any of these keys or inside their value and spread."""
        wanted = {f"{path}{end}" for path in paths for end in ("", ".value", ".spread")}
        hits = [where for where in self.faults if where in wanted]
        self.used.update(hits)
        return " ".join(_sentence(words) for where in hits for words in self.faults[where]) or None


def _sentence(words: str) -> str:
    return words if words.endswith(".") else f"{words}."


def _groups(data: Mapping[str, Any], read: PlaneFile | None, faults: tuple[Fault, ...]) -> tuple[FieldGroup, ...]:
    notes = _Notes(read=read, guesses={guess.key: guess for guess in read.guesses} if read is not None else {})
    for fault in faults:
        notes.faults.setdefault(fault.where, []).append(fault.message)
    return tuple(_group(table, data, notes) for table in table_specs(data))


def _group(table: TableSpec, data: Mapping[str, Any], notes: _Notes) -> FieldGroup:
    values = _table(data, table.key)
    given = values if isinstance(values, dict) else {}
    fields = [_field(spec, table, given, data, notes) for spec in table.fields]
    return FieldGroup(
        key=table.key,
        title=table.title,
        part="drag" if table.key.startswith("drag.") else "",
        fields=(*fields, *_strangers(table, given, fields, notes)),
    )


def _table(data: Any, key: str) -> Any:
    """The table at a dotted key, list entries by number; None where there is none."""
    for part in key.split(".") if key else ():
        if isinstance(data, list) and part.isdigit() and int(part) < len(data):
            data = data[int(part)]
        else:
            data = data.get(part) if isinstance(data, dict) else None
    return data


def _field(
    spec: FieldSpec, table: TableSpec, given: Mapping[str, Any], data: Mapping[str, Any], notes: _Notes
) -> FieldPage:
    units = KINDS[spec.kind] if spec.kind else {"": None}
    keys = {field_key(spec.base, suffix) if suffix else spec.base: suffix for suffix in units}
    key = next((one for one in keys if one in given and not _is_table(spec, given[one])), next(iter(keys)))
    unit = units[keys[key]]
    raw = None if _is_table(spec, given.get(key)) else given.get(key)
    paths = [f"{table.key}.{one}" if table.key else one for one in keys]
    path = f"{table.key}.{key}" if table.key else key
    guess = next((notes.guesses[one] for one in paths if one in notes.guesses), None)
    spread, source = _spread(spec, table, raw, keys[key], notes, guessed=guess is not None)
    return FieldPage(
        path=path,
        label=spec.label,
        unit=unit.symbol if unit is not None else "",
        kind=_FORM[spec.form],
        value=_value(raw),
        spread=spread,
        source=source,
        given=raw is not None,
        required=_required(spec, table, given, data),
        guess=None if guess is None else used_words(guess),
        buys=None if guess is None else guess.buys,
        how=None if guess is None else guess.how,
        choices=_choices(spec, data),
        other_units=tuple(suffix for suffix in units if suffix and suffix != keys[key]),
        fault=notes.fault(paths),
        help=spec.help,
    )


def _is_table(spec: FieldSpec, raw: Any) -> bool:
    """A table of that name stands beside the field (`speed`, `aileron`); a value with its spread is none."""
    return isinstance(raw, dict) and spec.kind == ""


def _required(spec: FieldSpec, table: TableSpec, given: Mapping[str, Any], data: Mapping[str, Any]) -> bool:
    there = table.needed or _table(data, table.key) is not None
    replaced = any(base in given or (base.endswith("_") and _starts(given, base)) for base in spec.unless)
    return spec.required and there and not replaced


def _starts(given: Mapping[str, Any], base: str) -> bool:
    return any(key.startswith(base) for key in given)


def _value(raw: Any) -> float | bool | str | None:
    """A value of the file as the page shows it; a value with its spread loses it, lists become text."""
    if isinstance(raw, dict):
        raw = raw.get("value")
    if isinstance(raw, bool | str) or raw is None:
        return raw
    if isinstance(raw, int | float):
        return float(raw) if _finite(raw) else str(raw)
    if isinstance(raw, list):
        return ", ".join(item if isinstance(item, str) else _plain(item) for item in raw)
    return str(raw)


def _finite(raw: float) -> bool:
    try:
        return math.isfinite(raw)
    except OverflowError:
        return False


def _plain(item: Any) -> str:
    return f"{item:g}" if isinstance(item, int | float) and not isinstance(item, bool) and _finite(item) else str(item)


def _choices(spec: FieldSpec, data: Mapping[str, Any]) -> tuple[str, ...]:
    """The allowed words; the levels of the file for the one that is set."""
    if spec.base != "present_level":
        return spec.choices
    controller = data.get("controller")
    table = controller if isinstance(controller, dict) else {}
    levels = table.get("levels")
    names: list[Any] = levels if isinstance(levels, list) else []
    if not names and isinstance(table.get("level"), list):
        names = [row.get("name") for row in table["level"] if isinstance(row, dict)]
    return tuple(name.strip() if isinstance(name, str) else _plain(name) for name in names if name is not None)


def _spread(
    spec: FieldSpec, table: TableSpec, raw: Any, suffix: str, notes: _Notes, *, guessed: bool
) -> tuple[float | None, Literal["stated", "measured", "guess", "none"]]:
    """One sigma in the field's unit and where it comes from."""
    stated = raw.get("spread") if isinstance(raw, dict) else None
    if isinstance(stated, int | float) and not isinstance(stated, bool) and _finite(stated):
        return float(stated), "stated"
    if notes.read is None or not spec.attribute or not spec.kind or (raw is None and not guessed):
        return None, "none"
    path = spec.attribute if "." in spec.attribute and not table.key else f"{table.path}.{spec.attribute}"
    known = _known_spread(notes.read, path)
    if known is None:
        return None, "none"
    value, sigma, source = known
    unit = KINDS[spec.kind][suffix]
    if spec.attribute == "section.thickness":
        return None, source
    return _rounded(unit.spread_from_si(value, sigma)), source


def _known_spread(read: PlaneFile, path: str) -> tuple[float, float, Literal["stated", "measured", "guess"]] | None:
    """Value and sigma in SI of an attribute, and where the spread comes from; of the first corner for `*`."""
    if "*" in path:
        start, end = path.split("*")
        path = next((one for one in read.spreads if one.startswith(start) and one.endswith(end)), path)
    spread = read.spreads.get(path)
    if spread is None:
        return None
    try:
        value = attribute(read.plane, path)
    except EvenfallError:
        return None
    if not isinstance(value, int | float):
        return None
    return float(value), spread.absolute(float(value)), spread.source


def _rounded(value: float) -> float:
    """To six significant digits, so that a spread of 2 mm is shown as such."""
    return float(f"{value:.6g}")


def _strangers(table: TableSpec, given: Mapping[str, Any], fields: list[FieldPage], notes: _Notes) -> list[FieldPage]:
    """Keys of the file that no field shows and that are faulty: shown as they stand, so that they can be put right."""
    shown = {one.path for one in fields}
    found = []
    for key, raw in given.items():
        path = f"{table.key}.{key}" if table.key else key
        if path in shown or path not in notes.faults or path in notes.used:
            continue
        if isinstance(raw, dict | list) and not (isinstance(raw, dict) and "value" in raw):
            continue
        fault = notes.fault([path])
        value = _value(raw)
        found.append(
            FieldPage(
                path=path,
                label=key,
                unit="",
                kind="yes/no" if isinstance(value, bool) else "text" if isinstance(value, str) else "number",
                value=value,
                spread=None,
                source="none",
                given=True,
                required=False,
                guess=None,
                buys=None,
                how=None,
                choices=(),
                other_units=(),
                fault=fault,
                help="",
            )
        )
    return found
