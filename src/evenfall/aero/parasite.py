"""Drag areas of body and parts from their dimensions.

Coefficients are for whole parts in free flow, good to some 30 %; the drag of fittings and of parts in each other's
wake is inside that doubt. `Corrections.parasite_drag` replaces the doubt once flights have taught it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.air import Air
from evenfall.plane.airframe import Body, DragPart, Plane

COEFFICIENTS: dict[str, tuple[float, str]] = {
    "wheel": (0.25, "regular wheel and tyre on diameter x width; Raymer, Aircraft Design, table 12.6 (from memory)"),
    "wire": (1.1, "round wire below the critical Reynolds number, on diameter x length; Hoerner, ch. 3 (from memory)"),
    "strut": (0.30, "blunt-edged narrow strut on width x length; Hoerner, ch. 3 (from memory)"),
    "cowl_opening": (0.6, "cooling air losing most of its momentum, on the opening; common practice, no source"),
    "plate": (1.17, "flat plate across the flow, on length x width; Hoerner, ch. 3 (from memory)"),
}
"""Drag coefficient of each kind of part, and where it is from."""

_WETTED_SHARE = 0.75
"""Wetted area of a tapering fuselage over that of its box, ends left out. Common practice, no source."""
_BODY_EXCESS = 1.5
"""Interference and fittings on a body: factor on its friction and form drag (Raymer gives 1.0 to 1.5, from memory)."""


@dataclass(frozen=True, kw_only=True)
class PointDrag:
    """Drag areas (m^2, (n,) over speed) acting at x, z of the drawing frame, m; `behind_disc` where the propeller's
    stream meets the part."""

    what: str
    area: NDArray[np.float64]
    x: float
    z: float
    behind_disc: bool


def friction_coefficient(reynolds: ArrayLike) -> NDArray[np.float64]:
    """Turbulent flat-plate friction, mean over the length: .455 / (log10 Re)^2.58.

    Valid 1e5 to 1e9. Source: Prandtl-Schlichting, as in Raymer, *Aircraft Design*, eq. 12.27 without Mach term.
    """
    return np.asarray(0.455 / np.log10(np.asarray(reynolds, float)) ** 2.58)


def body_drag_area(body: Body, air: Air, speed: ArrayLike) -> NDArray[np.float64]:
    """Drag area of the fuselage, m^2: friction x form factor x interference x wetted area.

    Form factor 1 + 60/f^3 + f/400 with fineness f = length / equivalent diameter (Raymer, eq. 12.31).
    `speed` in m/s, any shape, sets the Reynolds number and is taken as at least 5 m/s.
    """
    diameter = math.sqrt(4 / math.pi * body.width * body.height)
    fineness = body.length / diameter
    reynolds = air.density * np.maximum(np.asarray(speed, float), 5.0) * body.length / air.viscosity
    wetted = _WETTED_SHARE * 2 * (body.width + body.height) * body.length
    form = 1 + 60 / fineness**3 + fineness / 400
    return np.asarray(_BODY_EXCESS * friction_coefficient(reynolds) * form * wetted)


def part_drag_area(part: DragPart) -> float:
    """Drag area of a part, m^2: as given for all of them, or coefficient x length x width x count."""
    if part.area is not None:
        return part.area
    if part.kind is None or part.length is None or part.width is None:
        raise ValueError(f"drag part {part.what!r} has neither a drag area nor kind and dimensions")
    coefficient, _ = COEFFICIENTS[part.kind]
    return coefficient * part.length * part.width * part.count


def drag_points(plane: Plane, air: Air, speed: ArrayLike) -> tuple[PointDrag, ...]:
    """Every drag area of body and parts, before `Corrections.parasite_drag`, at speeds (m/s, (n,)).

    Whatever lies aft of the disc and within one propeller radius of the thrust line is behind the disc.
    """
    radius = plane.propeller.radius
    points = []
    if plane.body is not None:
        area = body_drag_area(plane.body, air, speed)
        middle = plane.body.nose_x + 0.5 * plane.body.length
        points.append(PointDrag(what="body", area=area, x=middle, z=plane.body.z, behind_disc=True))
    for part in plane.drag:
        inside = part.x > 0 and abs(part.z) < radius
        area = np.full(np.shape(speed), part_drag_area(part))
        points.append(PointDrag(what=part.what, area=area, x=part.x, z=part.z, behind_disc=inside))
    return tuple(points)
