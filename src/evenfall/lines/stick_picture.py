"""The holding stick over many slopes, with crow and without, and the step at the end of the closed band."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.lines.balance import Airframe
from evenfall.lines.holding import Holding, holding_sticks, slope_drag, stick_thrust
from evenfall.lines.shaft import PowerUnit
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

PICTURE_SLOPES = tuple(math.radians(degrees) for degrees in range(-90, 91, 5))
"""Slopes of the picture, rad."""


@dataclass(frozen=True, kw_only=True)
class StickPicture:
    """Holding sticks of one plan.

    Args:
        crow: with the plan's crow. clean: the same plan without; equal to `crow` where the plan has none.
        threshold: stick where deployment begins, None without crow. closed_below: end of the closed band.
        step: N along the path gained where the motor comes free of the closed band, positive pushes.
    """

    inverted: bool
    crow: tuple[Holding, ...]
    clean: tuple[Holding, ...]
    threshold: float | None
    closed_below: float
    step: float


def stick_picture(
    frame: Airframe,
    unit: PowerUnit,
    plan: Plan,
    *,
    wanted: float,
    slopes: ArrayLike = PICTURE_SLOPES,
    inverted: bool = False,
) -> StickPicture:
    """Holding sticks at the wanted speed (m/s) over `slopes` (rad), upright or inverted."""
    thrust = stick_thrust(unit, plan, wanted=wanted)
    bare = replace(plan, crow=None)
    clean = holding_sticks(unit, bare, slope_drag(frame, bare, wanted=wanted, slopes=slopes, inverted=inverted), thrust)
    crow = clean
    if plan.crow is not None:
        crow = holding_sticks(
            unit, plan, slope_drag(frame, plan, wanted=wanted, slopes=slopes, inverted=inverted), thrust
        )
    opened = int(np.argmin(thrust.closed))
    step = 0.0 if opened == 0 else float(thrust.thrust[opened] - thrust.thrust[opened - 1])
    return StickPicture(
        inverted=inverted,
        crow=crow,
        clean=clean,
        threshold=None if plan.crow is None else plan.crow.threshold,
        closed_below=unit.plane.controller.closed_below,
        step=step,
    )
