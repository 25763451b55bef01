"""The plane to scale in the drawing frame: surfaces with their hinge lines, body, wheels, struts and openings."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from evenfall.plane.airframe import Aileron, DragPart, Fin, Plane, Section, Tail, Wing
from evenfall.sheet.plane_page import ShapePage, SolidPage, SurfacePage, Triple

_SIDES = (("left", -1.0), ("right", 1.0))
_ALL_MOVING_HINGE = 0.25
"""Where a surface that moves as a whole is hinged, share of its chord."""


def shape_page(plane: Plane, *, neutral_x: float | None = None) -> ShapePage:
    """The plane's shape; `neutral_x`: neutral point, m aft of the propeller, or None."""
    surfaces: list[SurfacePage] = []
    for name, wing in plane.wings.items():
        surfaces += _wing(name, wing)
    surfaces += _tail(plane.tail)
    if plane.fin is not None:
        surfaces += _fin(plane.fin)
    solids = tuple(_solids(plane))
    low, high = _box(surfaces, solids)
    return ShapePage(
        surfaces=tuple(surfaces),
        solids=solids,
        propeller_mm=1e3 * plane.propeller.diameter,
        blades=plane.propeller.blades,
        cg=_mm(plane.mass.cg_x, plane.mass.cg_y, plane.mass.cg_z),
        neutral_x_mm=None if neutral_x is None else round(1e3 * neutral_x, 2),
        length_mm=round(max(high[0], 0.0) - min(low[0], 0.0), 2),
        span_mm=round(high[1] - low[1], 2),
        height_mm=round(high[2] - low[2], 2),
    )


def _mm(x: float, y: float, z: float) -> Triple:
    return (round(1e3 * x, 2), round(1e3 * y, 2), round(1e3 * z, 2))


def _box(surfaces: list[SurfacePage], solids: tuple[SolidPage, ...]) -> tuple[Triple, Triple]:
    points: list[Triple] = [corner for surface in surfaces for corner in surface.outline]
    for solid in solids:
        for sign in (-0.5, 0.5):
            x, y, z = (at + sign * size for at, size in zip(solid.at, solid.size, strict=True))
            points.append((x, y, z))
    xs, ys, zs = zip(*points, strict=True)
    return (min(xs), min(ys), min(zs)), (max(xs), max(ys), max(zs))


def _thickness(section: Section, chord: float, share: float = 0.3) -> float:
    """Thickness in mm at a share of the chord: the four-digit law, or the plate's.

    y = 5 t (.2969 sqrt(x) - .126 x - .3516 x^2 + .2843 x^3 - .1015 x^4), NACA report 460, 1933, equation 1.
    """
    if section.flat_plate:
        return round(1e3 * section.thickness * chord, 2)
    x = share
    half = 5 * (0.2969 * math.sqrt(x) - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1015 * x**4)
    return round(1e3 * section.thickness * chord * 2 * half, 2)


class _Panel:
    """One side of a wing: points at a distance from the middle and a distance aft of the leading edge."""

    def __init__(self, wing: Wing, side: float) -> None:
        self.wing, self.side = wing, side
        self.incidence = wing.incidence_left if side < 0 else wing.incidence_right

    def chord(self, y: float) -> float:
        wing = self.wing
        return wing.root_chord + (wing.tip_chord - wing.root_chord) * y / (0.5 * wing.span)

    def at(self, y: float, aft: float) -> Triple:
        wing = self.wing
        lead = wing.root_le_x + (wing.tip_le_x - wing.root_le_x) * y / (0.5 * wing.span)
        behind = aft - 0.25 * self.chord(y)
        x = lead + 0.25 * self.chord(y) + behind * math.cos(self.incidence)
        z = wing.z + y * math.tan(wing.dihedral) - behind * math.sin(self.incidence)
        return _mm(x, self.side * y, z)

    def hinge(self, aileron: Aileron, y: float) -> float:
        """Distance of the hinge line aft of the leading edge, m."""
        share = (y - aileron.inner_y) / (aileron.outer_y - aileron.inner_y)
        return self.chord(y) - (aileron.inner_chord + share * (aileron.outer_chord - aileron.inner_chord))


def _wing(name: str, wing: Wing) -> Iterator[SurfacePage]:
    half, aileron = 0.5 * wing.span, wing.aileron
    for word, side in _SIDES:
        panel = _Panel(wing, side)
        outline = [panel.at(0.0, 0.0), panel.at(half, 0.0), panel.at(half, panel.chord(half))]
        if aileron is not None:
            inner, outer = aileron.inner_y, min(aileron.outer_y, half)
            hinges = panel.hinge(aileron, inner), panel.hinge(aileron, outer)
            trail_in, trail_out = panel.at(inner, panel.chord(inner)), panel.at(outer, panel.chord(outer))
            hinge_in, hinge_out = panel.at(inner, hinges[0]), panel.at(outer, hinges[1])
            outline += [trail_out, hinge_out, hinge_in, trail_in]
        outline.append(panel.at(0.0, panel.chord(0.0)))
        yield SurfacePage(
            name=f"{name}_{word}",
            part="wing",
            outline=_without_repeats(outline),
            hinge=None,
            thickness_mm=_thickness(wing.section, wing.root_chord),
        )
        if aileron is not None:
            share = hinges[0] / panel.chord(inner)
            yield SurfacePage(
                name=f"{name}_{word}_aileron",
                part="aileron",
                outline=(hinge_in, hinge_out, trail_out, trail_in),
                hinge=(hinge_in, hinge_out),
                thickness_mm=_thickness(wing.section, panel.chord(inner), share),
            )


def _without_repeats(points: list[Triple]) -> tuple[Triple, ...]:
    """The outline without a point that stands on the one before it (a hinge that ends at the tip)."""
    kept = [point for place, point in enumerate(points) if place == 0 or math.dist(point, points[place - 1]) > 1e-6]
    return tuple(kept)


def _tail(tail: Tail) -> Iterator[SurfacePage]:
    half = 0.5 * tail.span

    def at(side: float, y: float, share: float) -> Triple:
        chord = tail.root_chord + (tail.tip_chord - tail.root_chord) * y / half
        lead = tail.root_le_x + (tail.tip_le_x - tail.root_le_x) * y / half
        behind = (share - 0.25) * chord
        x = lead + 0.25 * chord + behind * math.cos(tail.incidence)
        return _mm(x, side * y, tail.z - behind * math.sin(tail.incidence))

    cut = 1.0 - tail.elevator_fraction
    for word, side in _SIDES:
        edges = {share: (at(side, 0.0, share), at(side, half, share)) for share in (0.0, _ALL_MOVING_HINGE, cut, 1.0)}
        thick = tail.section, tail.root_chord
        yield from _halves((f"tail_{word}", f"elevator_{word}"), ("tail", "elevator"), edges, cut=cut, thick=thick)


def _fin(fin: Fin) -> Iterator[SurfacePage]:
    def at(up: float, share: float) -> Triple:
        chord = fin.root_chord + (fin.tip_chord - fin.root_chord) * up
        lead = fin.root_le_x + (fin.tip_le_x - fin.root_le_x) * up
        behind = (share - 0.25) * chord
        x = lead + 0.25 * chord + behind * math.cos(fin.offset)
        return _mm(x, -behind * math.sin(fin.offset), fin.root_z + up * fin.height)

    cut = 1.0 - fin.rudder_fraction
    edges = {share: (at(0.0, share), at(1.0, share)) for share in (0.0, _ALL_MOVING_HINGE, cut, 1.0)}
    yield from _halves(("fin", "rudder"), ("fin", "rudder"), edges, cut=cut, thick=(fin.section, fin.root_chord))


def _halves(
    names: tuple[str, str],
    parts: tuple[Literal["tail", "fin"], Literal["elevator", "rudder"]],
    edges: dict[float, tuple[Triple, Triple]],
    *,
    cut: float,
    thick: tuple[Section, float],
) -> Iterator[SurfacePage]:
    """The fixed part before the hinge line and the moving one behind it; all of it moves where nothing is fixed."""
    whole = cut < 1e-6
    lead, trail = edges[0.0], edges[1.0]
    hinge = edges[_ALL_MOVING_HINGE if whole else cut]
    section, chord = thick
    if not whole:
        yield SurfacePage(
            name=names[0],
            part=parts[0],
            outline=(lead[0], lead[1], hinge[1], hinge[0]),
            hinge=None,
            thickness_mm=_thickness(section, chord),
        )
    front = lead if whole else hinge
    yield SurfacePage(
        name=names[1],
        part=parts[1],
        outline=(front[0], front[1], trail[1], trail[0]),
        hinge=hinge,
        thickness_mm=_thickness(section, chord, 0.3 if whole else max(cut, 0.3)),
    )


def _solids(plane: Plane) -> Iterator[SolidPage]:
    body = plane.body
    if body is not None:
        at = _mm(body.nose_x + 0.5 * body.length, 0.0, body.z)
        yield SolidPage(name="body", shape="body", at=at, size=_mm(body.length, body.width, body.height))
    for part in plane.drag:
        yield from _part(plane, part)


def _part(plane: Plane, part: DragPart) -> Iterator[SolidPage]:
    """One drag part, as often as it is there; only a drag area: a plate of that area."""
    shape: Literal["wheel", "bar", "plate"]
    if part.kind is None or part.length is None or part.width is None:
        side = math.sqrt(part.area or 0.0)
        shape, size = "plate", _mm(0.0, side, side)
    elif part.kind == "wheel":
        shape, size = "wheel", _mm(part.length, part.width, part.length)
    elif part.kind in ("cowl_opening", "plate"):
        shape, size = "plate", _mm(0.0, part.width, part.length)
    elif _stands(plane, part):
        shape, size = "bar", _mm(part.width, part.width, part.length)
    else:
        shape, size = "bar", _mm(part.width, part.length, part.width)
    for y in _places(plane, part, size[1] / 1e3):
        yield SolidPage(name=part.what, shape=shape, at=_mm(part.x, y, part.z), size=size)


def _stands(plane: Plane, part: DragPart) -> bool:
    """A strut is drawn upright; a wire too where it fits between the wings, else it runs across."""
    gap = abs(plane.upper.z - plane.lower.z) if plane.upper is not None and plane.lower is not None else 0.0
    return part.kind == "strut" or (part.length or 0.0) < 1.3 * gap


def _between_wings(plane: Plane, part: DragPart) -> bool:
    if plane.upper is None or plane.lower is None or part.kind not in ("strut", "wire"):
        return False
    return plane.lower.z < part.z < plane.upper.z and (part.length or 0.0) > 0.6 * (plane.upper.z - plane.lower.z)


def _places(plane: Plane, part: DragPart, width: float) -> Iterator[float]:
    """Distances from the middle, m: pairs left and right, an odd one in the middle. The file does not hold them."""
    half = 0.5 * max(wing.span for wing in plane.wings.values())
    beside = 0.5 * plane.body.width if plane.body is not None else 0.06 * half
    if _between_wings(plane, part):
        first, step = 0.6 * half, -0.3 * half
    elif part.kind == "wheel" or (part.kind in ("strut", "wire") and _stands(plane, part)):
        wheels = [other.width for other in plane.drag if other.kind == "wheel" and other.width is not None]
        first, step = max(beside + max(wheels, default=width), 0.16 * half), 0.1 * half
    elif part.kind == "wire":
        first, step = 0.5 * (0.5 * half + beside), 0.05 * half
    else:
        first, step = min(0.75 * width, max(beside - 0.5 * width, 0.5 * width)), 1.2 * width
    if part.count % 2:
        yield 0.0
    for pair in range(part.count // 2):
        y = max(first + step * pair, 0.02 * half) if step < 0 else first + step * pair
        yield -y
        yield y
