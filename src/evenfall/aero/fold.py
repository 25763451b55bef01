"""Symmetric conditions solved on one half: no sideslip, roll or yaw, left and right controls alike.

The right half of every mirrored surface stands for both; the fin in the plane of symmetry carries nothing. Half the
unknowns, same answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.circulation import CirculationSolver
from evenfall.aero.flow import Flow
from evenfall.aero.influence import Lattice

Array = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class Fold:
    """Stations of the right half, of their mirror images, of the plane of symmetry; the solver of the right half."""

    right: Rows
    left: Rows
    middle: Rows
    solver: CirculationSolver

    def symmetric(self, flow: Flow, delta: Array) -> NDArray[np.bool_]:
        """Where flow and control angles `delta` (n, N) are the same on both sides, (n,)."""
        alike = (flow.beta == 0) & (flow.p == 0) & (flow.r == 0)
        alike &= np.all(delta[:, self.right] == delta[:, self.left], axis=1) & ~np.any(delta[:, self.middle], axis=1)
        if flow.wash is not None and flow.wash.ndim == 2:
            alike &= np.all(flow.wash[:, self.right] == flow.wash[:, self.left], axis=1)
        return np.asarray(alike)

    def unfold(self, gamma: Array, count: int) -> Array:
        """Circulation of all `count` stations (m, count) from that of the right half (m, half)."""
        whole = np.zeros((len(gamma), count))
        whole[:, self.right] = gamma
        whole[:, self.left] = gamma
        return whole


def make_fold(lattice: Lattice, normal: Array, aft: Array) -> Fold | None:
    """The fold of a symmetric set of surfaces, None where it is not symmetric about the plane y = 0.

    Args:
        normal, aft: as for `CirculationSolver`, (N, N).
    """
    mirror = _mirror_image(lattice)
    if mirror is None:
        return None
    side = lattice.point[:, 1]
    right, middle = np.flatnonzero(side > 1e-9), np.flatnonzero(np.abs(side) <= 1e-9)
    left = mirror[right]
    square = np.ix_(right, right), np.ix_(right, left)
    return Fold(
        right=right,
        left=left,
        middle=middle,
        solver=CirculationSolver(
            normal[square[0]] + normal[square[1]], aft[square[0]] + aft[square[1]], lattice.chord[right]
        ),
    )


def _mirror_image(lattice: Lattice) -> Rows | None:
    """Number of each station's mirror image (its own in the plane of symmetry), None where one has none."""
    flip = np.array([1.0, -1.0, 1.0])
    image = np.arange(lattice.count)
    for surface in range(len(lattice.surfaces)):
        rows = np.flatnonzero(lattice.surface == surface)
        in_plane = np.all(np.abs(lattice.point[rows, 1]) <= 1e-9)
        image[rows] = rows if in_plane else rows[::-1]
    same = all(
        np.allclose(values[image] * (flip if values.ndim == 2 else 1.0), values, atol=1e-12)
        for values in (lattice.point, lattice.forward, lattice.chord, lattice.fraction, lattice.thickness)
    )
    upright = np.abs(lattice.point[:, 1]) > 1e-9
    same &= np.allclose((lattice.normal[image] * flip)[upright], lattice.normal[upright], atol=1e-12)
    same &= bool(np.all((lattice.control[image] < 0) == (lattice.control < 0)))
    return image if same else None
