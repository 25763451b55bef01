"""The linkage part of roll retention for a plane with a plan, or as its linkages stand."""

from __future__ import annotations

from evenfall.lines.bench import bench_corners
from evenfall.linkage.corner import retention
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan


def linkage_kept(plane: Plane, plan: Plan, throw: float) -> float | None:
    """Roll throw deployed over stowed at the same stick, mean of all corners; None where linkages are not described.

    Args:
        throw: mean of up and down stowed, rad.

    Corners stand as the plan fits them, else as measured. Without crow nothing is lost: 1.
    """
    corners = [corner.fitted for corner in bench_corners(plane, plan, []).values()]
    known = tuple(corner for corner in corners if corner is not None)
    if not known or len(known) < len(corners):
        return None
    return 1.0 if plan.crow is None else retention(known, throw)
