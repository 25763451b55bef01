"""Forces on strips that do not know of each other: an estimate beyond the stall, where a lifting line has no answer.

Every station feels the flow of the plane's own motion alone, its section is taken from the tables and from a separated
plate beyond them. Left out: downwash, blanketing of the fin by the tail, delay of the stall by rotation. Good to some
30 % in force and to the order of magnitude in moment; wherever it is shown it must be marked as an estimate.
Source of the manner: strip theory of autorotation, Glauert, R&M 595 (1919), and Etkin, *Dynamics of Flight* (from
memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.wings import LiftingLine, cross

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class StripLoads:
    """Force (N) and moment about the CG (N m) of all surfaces in body axes, (n, 3)."""

    force: Array
    moment: Array


def strip_loads(
    line: LiftingLine,
    *,
    speed: ArrayLike,
    alpha: ArrayLike,
    rates: Array,
    deltas: Mapping[str, float],
    density: float,
    viscosity: float,
) -> StripLoads:
    """Loads of n motions without sideslip.

    Args:
        speed: m/s. alpha: incidence of the thrust line, rad, any. Both (n,).
        rates: body rates p, q, r in rad/s, (n, 3). deltas: angle of each control, rad; left out is neutral.
    """
    lattice = line.lattice
    fast, incidence = (np.asarray(value, float) for value in np.broadcast_arrays(speed, alpha))
    moving = np.stack([fast * np.cos(incidence), 0 * fast, fast * np.sin(incidence)], axis=-1)
    of_point = moving[:, None, :] + cross(rates[:, None, :], lattice.point[None])
    ahead = np.einsum("nik,ik->ni", of_point, lattice.forward)
    sinking = -np.einsum("nik,ik->ni", of_point, lattice.normal)
    angle, local = np.arctan2(sinking, ahead), np.hypot(sinking, ahead)
    delta = np.zeros(lattice.count)
    for index, name in enumerate(lattice.names):
        delta[lattice.control == index] = deltas.get(name, 0.0)
    found = line.sections.loads(angle, np.broadcast_to(delta, angle.shape), density * local * lattice.chord / viscosity)
    pressure = 0.5 * density * local**2 * lattice.area
    cos, sin = np.cos(angle)[..., None], np.sin(angle)[..., None]
    up = cos * lattice.normal + sin * lattice.forward
    back = -cos * lattice.forward + sin * lattice.normal
    force = pressure[..., None] * (found.cl[..., None] * up + found.cd[..., None] * back)
    pitch_axis = cross(lattice.forward, lattice.normal)
    moment = cross(np.broadcast_to(lattice.point, force.shape), force)
    moment += (pressure * found.cm * lattice.chord)[..., None] * pitch_axis
    return StripLoads(force=force.sum(axis=1), moment=moment.sum(axis=1))
