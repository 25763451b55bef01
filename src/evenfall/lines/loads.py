"""Hinge moments of every aileron over its working angles, for linkages and servos."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.wings import Flow
from evenfall.lines.balance import Airframe, balance
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]

OVERSPEED = 1.3
"""Speed for the servos' load, in units of the wanted speed: the design's own margin."""
SAGGED_SUPPLY = 0.85
"""Supply voltage with every servo working over the rated one. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class CornerMoments:
    """Hinge moments of one corner.

    Args:
        angle: surface angle, rad, rising, trailing edge down positive. moment: N m, the largest at each angle.
        reached: the section tables hold there.
    """

    angle: Floats
    moment: Floats
    reached: NDArray[np.bool_]


def corner_moments(
    frame: Airframe, crow: Crow | None, *, wanted: float, throws: Sequence[float], overspeed: float = OVERSPEED
) -> dict[str, CornerMoments]:
    """Hinge moment of every aileron over the angles a plan uses, on the vertical at `overspeed` times `wanted` (m/s).

    Crow stowed and out, each with every throw (rad) rolling both ways before the roll has begun: the largest moment
    counts. H = q c_f^2 w ch summed over the stations of the aileron, q local, c_f its chord, w the station's width;
    sealed or open gaps make no difference. Range: that of the section tables.
    """
    rolls = np.array(sorted({0.0, *(sign * throw for throw in throws for sign in (-1.0, 1.0))}))
    out = np.array([0.0, 1.0] if crow is not None else [0.0])
    deployment, roll = (grid.ravel() for grid in np.meshgrid(out, rolls, indexing="ij"))
    speed = overspeed * wanted
    held = balance(frame, speed=speed, slope=-np.pi / 2, crow=crow, deployment=out)
    state = np.repeat(np.arange(len(out)), len(rolls))
    angles = surface_deltas(frame.plane, crow, deployment, roll=roll)
    flow = Flow(
        speed=np.full(len(roll), speed),
        alpha=held.alpha[state],
        deltas={**angles, "elevator": held.elevator[state]},
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
    )
    solved = frame.line.solve(flow)
    valid = np.asarray(solved.valid > 0.999)
    return {name: _by_angle(angles[name], solved.hinge_moment[name], valid) for name in angles}


def _by_angle(angle: Floats, moment: Floats, valid: NDArray[np.bool_]) -> CornerMoments:
    """One moment an angle, the largest in size where an angle occurs twice."""
    steps = np.round(angle, 6)
    unique = np.unique(steps)
    largest = np.array([moment[steps == step][np.argmax(np.abs(moment[steps == step]))] for step in unique])
    reached = np.array([bool(valid[steps == step].all()) for step in unique])
    return CornerMoments(angle=unique, moment=largest, reached=reached)
