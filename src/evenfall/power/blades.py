"""Blade outlines: families from measured propellers, scaled by diameter, pitch and chord; or measured stations."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import numpy as np
import numpy.typing as npt

from evenfall.errors import DataError
from evenfall.plane.electrics import BladeShape, Propeller

Array = npt.NDArray[np.float64]

INCH = 0.0254
ROOT = 0.15
"""Innermost radius that carries load, over the tip radius: where the measured outlines begin."""
HUB = 0.10
"""Hub radius over tip radius in the hub loss. Assumed: a spinner of a tenth of the diameter."""
RULER = 0.75
"""Radius over tip radius at which chord is taken by ruler."""
THICKNESS_RADII = (0.15, 0.30, 0.75, 1.00)
THICKNESS = (0.15, 0.13, 0.09, 0.07)
"""Blade thickness over chord along the radius. Assumed, no measurement: moulded model propellers by calliper habit."""
STATIONS = 16
"""Gauss-Legendre stations between root and tip."""


@dataclass(frozen=True, kw_only=True)
class Character:
    """What a family's sections differ from the tabulated ones by.

    Args:
        angle_offset: added to the blade angle, rad: other camber, and how the printed angles were taken.
        drag_increment: added to the section drag coefficient: blunt edges, mould lines, roughness.
    """

    angle_offset: float = 0.0
    drag_increment: float = 0.0


PLAIN = Character()
"""The sections as tabulated."""
DRAG_INCREMENT = 0.0079
CHARACTERS: dict[str, Character] = {
    "slim": Character(angle_offset=math.radians(0.14), drag_increment=DRAG_INCREMENT),
    "medium": Character(angle_offset=math.radians(0.92), drag_increment=DRAG_INCREMENT),
    "broad": Character(angle_offset=math.radians(3.17), drag_increment=0.0142),
    "folding": Character(angle_offset=math.radians(0.14), drag_increment=DRAG_INCREMENT),
}
"""Fitted by `tools/check_propellers.py --fit` on the measured thrust and power of the families, at transition .5.

One drag increment for both and one angle a family, from five slim and two medium propellers with measured outlines.
Broad: both from the only one measured, so nothing is left to score it on. Folding: the slim family's (assumption).
"""


@dataclass(frozen=True, kw_only=True, eq=False)
class Blade:
    """One blade at its integration stations.

    Args:
        radius: tip radius, m.
        blades: number of blades.
        r, chord: m, shape (n,).
        angle: chord line to the disc, rad, shape (n,).
        thickness: over chord, shape (n,).
        width: integration weight, m, shape (n,).
    """

    radius: float
    blades: int
    r: Array
    chord: Array
    angle: Array
    thickness: Array
    width: Array

    @property
    def area(self) -> float:
        """Planform area of all blades outside the root, m^2."""
        return float(self.blades * np.sum(self.chord * self.width))


@dataclass(frozen=True, kw_only=True, eq=False)
class Outline:
    """Chord and angle along the radius: `x` = r/R, `chord` over R, `angle` in rad, each shape (n,)."""

    x: Array
    chord: Array
    angle: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Family:
    """Mean outline of a family.

    Args:
        x: r/R. chord: over the chord at 75 % radius. pitch: local pitch 2 pi r tan(angle) over the nominal one.
        diameters, ruler: smallest and largest measured diameter, m; chord at 75 % radius over R there.
    """

    x: Array
    chord: Array
    pitch: Array
    diameters: tuple[float, float]
    ruler: tuple[float, float]

    def ruler_chord(self, diameter: float) -> float:
        """Chord at 75 % radius over R: a straight line through the members, held beyond the measured diameters."""
        return float(np.interp(diameter, self.diameters, self.ruler))


@lru_cache(maxsize=1)
def measured_outlines() -> dict[tuple[str, float, float], Outline]:
    """The nine measured blades by (shape, diameter_in, pitch_in). Source: `data/propeller_blades.csv`."""
    try:
        text = (resources.files("evenfall") / "data" / "propeller_blades.csv").read_text("utf-8")
        lines = [line for line in text.splitlines() if line and not line.startswith("#")][1:]
        rows: dict[tuple[str, float, float], list[list[float]]] = {}
        for line in lines:
            shape, diameter, pitch, *values = line.split(",")
            rows.setdefault((shape, float(diameter), float(pitch)), []).append([float(v) for v in values])
    except (OSError, ValueError) as error:
        raise DataError("the table of blade outlines is missing or damaged: reinstall Evenfall") from error
    out = {}
    for key, values_ in rows.items():
        table = np.array(values_)
        out[key] = Outline(x=table[:, 0], chord=table[:, 1], angle=np.radians(table[:, 2]))
    return out


def family_of(shape: BladeShape, *, without: tuple[str, float, float] | None = None) -> Family:
    """Mean outline of a family.

    Chord over that at 75 % radius and local pitch over nominal pitch are averaged over the measured members; the
    chord at 75 % radius over R follows the diameter (small propellers are broader). A local pitch that follows
    pitch/diameter was tried: propellers left out of the average were met worse. No measured outline of a folding
    blade is at hand: it is taken as the slim family's (assumption).
    `without` leaves one measured propeller out (scoring on propellers not averaged over).
    """
    name = "slim" if shape == "folding" else shape
    members = [(key, value) for key, value in measured_outlines().items() if key[0] == name and key != without]
    x = members[0][1].x
    ruler = np.array([np.interp(RULER, o.x, o.chord) for _, o in members])
    diameters, ends = _line(np.array([key[1] * INCH for key, _ in members]), ruler)
    return Family(
        x=x,
        chord=np.mean([o.chord / c for (_, o), c in zip(members, ruler, strict=True)], axis=0),
        pitch=np.mean([math.pi * x * np.tan(o.angle) * key[1] / key[2] for key, o in members], axis=0),
        diameters=diameters,
        ruler=ends,
    )


def _line(x: Array, y: Array) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of the least-squares line over the range of x; level where all x are one."""
    first, last = float(x.min()), float(x.max())
    line = np.polynomial.Polynomial.fit(x, y, 1 if last > first else 0)
    return (first, last), (float(line(first)), float(line(last)))


def outline(propeller: Propeller, *, without: tuple[str, float, float] | None = None) -> Outline:
    """Outline of a propeller: its measured stations, or its family's scaled by diameter, pitch and ruler chord.

    angle = atan(local pitch ratio x pitch/(2 pi r)); chord scales with that at 75 % radius.
    """
    if propeller.stations:
        rows = sorted((s.radius / propeller.radius, s.chord / propeller.radius, s.angle) for s in propeller.stations)
        table = np.array(rows)
        return Outline(x=table[:, 0], chord=table[:, 1], angle=table[:, 2])
    family = family_of(propeller.shape, without=without)
    ruler = propeller.chord_75 / propeller.radius if propeller.chord_75 else family.ruler_chord(propeller.diameter)
    angle = np.arctan(family.pitch * propeller.pitch / (math.pi * family.x * propeller.diameter))
    return Outline(x=family.x, chord=family.chord * ruler, angle=angle)


def blade(shape: Outline, *, radius: float, blades: int, angle_offset: float = 0.0, stations: int = STATIONS) -> Blade:
    """Blade of an outline at Gauss-Legendre stations between root and tip; `angle_offset` in rad turns all of it."""
    nodes, weights = np.polynomial.legendre.leggauss(stations)
    half = 0.5 * (1.0 - ROOT)
    x = ROOT + half * (nodes + 1.0)
    return Blade(
        radius=radius,
        blades=blades,
        r=x * radius,
        chord=np.interp(x, shape.x, shape.chord) * radius,
        angle=np.interp(x, shape.x, shape.angle) + angle_offset,
        thickness=np.interp(x, THICKNESS_RADII, THICKNESS),
        width=weights * half * radius,
    )
