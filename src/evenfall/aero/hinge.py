"""Hinge moments of the ailerons in the worst moment of a roll command, for the servos."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.flow import Flow
from evenfall.aero.roll import aileron_angles
from evenfall.aero.wings import LiftingLine

Array = NDArray[np.float64]


def hinge_moments(line: LiftingLine, flow: Flow) -> dict[str, Array]:
    """Hinge moment of every control, N m, positive trailing edge down, (n,).

    H = q c_f^2 w ch summed over the stations of the control, q local, c_f its chord, w the station's width.
    """
    return line.solve(flow).hinge_moment


def snap_hinge_moments(line: LiftingLine, flow: Flow, *, throw: ArrayLike) -> dict[str, Array]:
    """Hinge moment of largest size of every aileron when a roll command goes in, N m with its sign, (n,).

    Right and left command on top of the angles in `flow` (crow, trim), before the plane has begun to roll: rolling
    relieves the aileron. Sealed or open gaps make no difference here; see the validity of the section tables.

    Args:
        throw: of the command, rad, (n,).
    """
    right, left = (
        line.solve(flow.with_(deltas=aileron_angles(line, flow, sign * np.asarray(throw, float)))).hinge_moment
        for sign in (1.0, -1.0)
    )
    names = aileron_angles(line, flow, 0.0)
    return {name: np.where(np.abs(right[name]) >= np.abs(left[name]), right[name], left[name]) for name in names}
