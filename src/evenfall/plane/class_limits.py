"""Limits of competition classes held against a plane. Data with edition and source; the current code decides."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from evenfall.plane.airframe import Plane

FULL_CELL = 4.20
"""V of a full lithium-polymer cell at rest. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class ClassLimits:
    """One class: lengths in m, mass in kg, voltage in V, sound in dB(A) as `sound_how` says."""

    name: str
    words: str
    code: str
    edition: str
    source: str
    span_m: float
    length_m: float
    mass_kg: float
    voltage_v: float
    sound_db: float
    sound_how: str


@dataclass(frozen=True, kw_only=True)
class LimitRow:
    """One limit held against a plane.

    Args:
        what: in words. value: of the plane; None where nobody knows. limit: in the same `unit`.
    """

    what: str
    value: float | None
    limit: float
    unit: str

    @property
    def within(self) -> bool | None:
        """Inside the limit; None where the value is not known."""
        return None if self.value is None else self.value <= self.limit


@cache
def known_classes() -> tuple[ClassLimits, ...]:
    """The classes that ship with the package."""
    text = (files("evenfall") / "data" / "classes.toml").read_text(encoding="utf-8")
    return tuple(ClassLimits(**table) for table in tomllib.loads(text)["class"])


def class_rows(plane: Plane, limits: ClassLimits) -> tuple[LimitRow, ...]:
    """Size, mass, voltage and sound of a plane against a class. Sound is never known before it is measured."""
    ends = [plane.tail.tip_le_x + plane.tail.tip_chord, plane.tail.root_le_x + plane.tail.root_chord]
    if plane.fin is not None:
        ends += [plane.fin.root_le_x + plane.fin.root_chord, plane.fin.tip_le_x + plane.fin.tip_chord]
    front = 0.0
    if plane.body is not None:
        ends.append(plane.body.nose_x + plane.body.length)
        front = min(front, plane.body.nose_x)
    return (
        LimitRow(what="span", value=max(wing.span for wing in plane.wings.values()), limit=limits.span_m, unit="m"),
        LimitRow(what="length", value=max(ends) - front, limit=limits.length_m, unit="m"),
        LimitRow(what="mass with battery", value=plane.mass.all_up, limit=limits.mass_kg, unit="kg"),
        LimitRow(
            what="voltage of the full pack", value=FULL_CELL * plane.battery.cells, limit=limits.voltage_v, unit="V"
        ),
        LimitRow(what="sound", value=None, limit=limits.sound_db, unit="dB(A)"),
    )
