"""The one conversion between the drawing frame of the plane file and body axes.

Drawing frame: x aft, y right, z up, origin at the datum. Body axes: x forward, y right, z down, origin at the CG.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.plane.airframe import Mass


def body_position(x: ArrayLike, y: ArrayLike, z: ArrayLike, *, mass: Mass) -> NDArray[np.float64]:
    """Positions in body axes about the CG, m, shape (..., 3), from drawing-frame x, y, z (m, broadcast together).

    >>> from evenfall.plane.airframe import Mass
    >>> body_position(0.3, 0.1, 0.2, mass=Mass(all_up=1.0, cg_x=0.25, cg_z=0.15)).round(3).tolist()
    [-0.05, 0.1, -0.05]
    """
    x, y, z = np.broadcast_arrays(np.asarray(x, float), np.asarray(y, float), np.asarray(z, float))
    return np.stack([mass.cg_x - x, y - mass.cg_y, mass.cg_z - z], axis=-1)
