"""Lifting surfaces as the lifting line sees them: straight tapered halves with controls, in body axes about the CG.

Body axes: x forward, y right, z down. A surface runs tip to tip, or from one tip to its root (the fin).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Aileron, Plane, Wing
from evenfall.plane.axes import body_position

Point = tuple[float, float, float]
TAIL_STATIONS = 12
FIN_STATIONS = 6


@dataclass(frozen=True, kw_only=True)
class Control:
    """A plain flap on part of a surface.

    Args:
        name: by which `Flow.deltas` gives its angle; two controls may share a name.
        inner, outer: its ends, share of the way from root to tip (0-1).
        inner_fraction, outer_fraction: control chord over local chord at these ends.
        side: which half of a mirrored surface carries it.
        gap_open: the hinge gap is not sealed.
    """

    name: str
    inner: float
    outer: float
    inner_fraction: float
    outer_fraction: float
    side: Literal["left", "right", "both"] = "both"
    gap_open: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.inner < self.outer <= 1 + 1e-9:
            raise ValueRangeError(
                f"control {self.name!r} must lie between root and tip (0-1), got {self.inner:.3g} to {self.outer:.3g}"
            )


@dataclass(frozen=True, kw_only=True)
class SurfaceSpec:
    """A straight tapered surface.

    Args:
        name: any, unique among the surfaces solved together.
        root, tip: quarter-chord points of the right half (of the only half where not mirrored), m, body axes.
        root_chord, tip_chord: m.
        incidence: of the right half, rad, positive leading edge towards the lift normal.
        incidence_left: of the left half; None as the right.
        thickness: of the chord. flat_plate: a flat plate instead of a symmetric four-digit section.
        controls: the flaps on it.
        mirrored: True adds the left half, mirrored in the plane y = root y. False (a fin) makes a single half whose
            lift normal is (root - tip) x forward: with the tip above the root, to the right.
        stations: number of horseshoes, both halves together.
        elliptic: chord falls from `root_chord` to the tip as a half ellipse; `tip_chord` is not used (for checks).

    Valid to about 15 deg of sweep and 20 deg of dihedral: within one surface the influence is that of a straight
    line (no kink at the root). Nothing is refused beyond; the error grows with the square of the angle.
    """

    name: str
    root: Point
    tip: Point
    root_chord: float
    tip_chord: float
    incidence: float = 0.0
    incidence_left: float | None = None
    thickness: float = 0.12
    flat_plate: bool = False
    controls: tuple[Control, ...] = ()
    mirrored: bool = True
    stations: int = 22
    elliptic: bool = False

    def __post_init__(self) -> None:
        if not (self.root_chord > 0 and (self.tip_chord > 0 or self.elliptic)):
            raise ValueRangeError(f"surface {self.name!r} needs positive chords")
        if self.stations < 2 or (self.mirrored and self.stations % 2):
            raise ValueRangeError(
                f"surface {self.name!r} needs at least 2 stations, an even number where mirrored; got {self.stations}"
            )


def _point(x: float, y: float, z: float, plane: Plane) -> Point:
    px, py, pz = body_position(x, y, z, mass=plane.mass).tolist()
    return (px, py, pz)


def _ailerons(name: str, wing: Wing, aileron: Aileron) -> tuple[Control, ...]:
    half = 0.5 * wing.span

    def fraction(y: float, chord: float) -> float:
        return chord / (wing.root_chord + (wing.tip_chord - wing.root_chord) * y / half)

    sides: tuple[Literal["left", "right"], ...] = ("left", "right")
    return tuple(
        Control(
            name=f"{name}_{side}",
            inner=aileron.inner_y / half,
            outer=min(aileron.outer_y / half, 1.0),
            inner_fraction=fraction(aileron.inner_y, aileron.inner_chord),
            outer_fraction=fraction(aileron.outer_y, aileron.outer_chord),
            side=side,
            gap_open=not aileron.gap_sealed,
        )
        for side in sides
    )


def _wing(name: str, wing: Wing, plane: Plane, *, stations: int) -> SurfaceSpec:
    half = 0.5 * wing.span
    tip_z = wing.z + half * math.tan(wing.dihedral)
    return SurfaceSpec(
        name=name,
        root=_point(wing.root_le_x + 0.25 * wing.root_chord, 0.0, wing.z, plane),
        tip=_point(wing.tip_le_x + 0.25 * wing.tip_chord, half, tip_z, plane),
        root_chord=wing.root_chord,
        tip_chord=wing.tip_chord,
        incidence=wing.incidence_right,
        incidence_left=wing.incidence_left,
        thickness=wing.section.thickness,
        flat_plate=wing.section.flat_plate,
        controls=_ailerons(name, wing, wing.aileron) if wing.aileron else (),
        stations=stations,
    )


def _tail(plane: Plane, *, stations: int) -> SurfaceSpec:
    tail = plane.tail
    return SurfaceSpec(
        name="tail",
        root=_point(tail.root_le_x + 0.25 * tail.root_chord, 0.0, tail.z, plane),
        tip=_point(tail.tip_le_x + 0.25 * tail.tip_chord, 0.5 * tail.span, tail.z, plane),
        root_chord=tail.root_chord,
        tip_chord=tail.tip_chord,
        incidence=tail.incidence,
        thickness=tail.section.thickness,
        flat_plate=tail.section.flat_plate,
        controls=(_whole("elevator", tail.elevator_fraction),),
        stations=stations,
    )


def _whole(name: str, fraction: float) -> Control:
    return Control(name=name, inner=0.0, outer=1.0, inner_fraction=fraction, outer_fraction=fraction)


def _fin(plane: Plane, *, stations: int) -> SurfaceSpec | None:
    fin = plane.fin
    if fin is None:
        return None
    return SurfaceSpec(
        name="fin",
        root=_point(fin.root_le_x + 0.25 * fin.root_chord, 0.0, fin.root_z, plane),
        tip=_point(fin.tip_le_x + 0.25 * fin.tip_chord, 0.0, fin.root_z + fin.height, plane),
        root_chord=fin.root_chord,
        tip_chord=fin.tip_chord,
        incidence=fin.offset,
        thickness=fin.section.thickness,
        flat_plate=fin.section.flat_plate,
        controls=(_whole("rudder", fin.rudder_fraction),),
        mirrored=False,
        stations=stations,
    )


def plane_surfaces(plane: Plane, *, stations_per_wing: int = 22, with_fin: bool = True) -> tuple[SurfaceSpec, ...]:
    """The surfaces of a plane: wings (upper first), tail, fin where there is one and `with_fin`.

    Controls are named `upper_left`, `upper_right`, `lower_left`, `lower_right`, `elevator`, `rudder`; angles positive
    trailing edge down (rudder: trailing edge left). Positions pass through `evenfall.plane.axes.body_position`.

    Args:
        stations_per_wing: horseshoes per wing, even; the tail gets 12 and the fin 6 at 22, in proportion otherwise.
    """
    scale = stations_per_wing / 22
    surfaces = [_wing(name, wing, plane, stations=stations_per_wing) for name, wing in plane.wings.items()]
    surfaces.append(_tail(plane, stations=max(2, 2 * round(TAIL_STATIONS * scale / 2))))
    fin = _fin(plane, stations=max(2, round(FIN_STATIONS * scale))) if with_fin else None
    return (*surfaces, fin) if fin is not None else tuple(surfaces)
