"""Why half motor brake is hard, as curves: windmilling torque against what each level holds, and where they meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.lines.shaft import PowerUnit
from evenfall.power.train import brake_torque, shaft_grid, shaft_states

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """A steady state of the closed shaft: m/s, rad/s, N m, N; the level's name; stable or not."""

    level: str
    speed: float
    omega: float
    torque: float
    thrust: float
    stable: bool


@dataclass(frozen=True, kw_only=True)
class ShaftPicture:
    """Torques over shaft speed.

    Args:
        omega: rad/s, (n,).
        speeds: airspeeds, m/s, (m,).
        driving: N m the air drives the shaft with, (m, n), positive forward; the dip where the blade stalls shows here.
        levels: names, in the controller's order. holding: N m each level and friction hold, (k, n).
        meetings: every steady state of every level at every airspeed.
    """

    omega: Floats
    speeds: Floats
    driving: Floats
    levels: tuple[str, ...]
    holding: Floats
    meetings: tuple[Meeting, ...]


def torque_curves(unit: PowerUnit, speeds: Floats, *, count: int = 200) -> ShaftPicture:
    """Windmilling torque at airspeeds (m/s), torque of every level of the controller, and all their intersections.

    The grid of `count` shaft speeds ends past windmilling at the highest airspeed.
    """
    plane, levels = unit.plane, unit.plane.controller.levels
    omega = shaft_grid(plane.propeller, float(np.max(speeds)), count=count)
    driving = -unit.propeller.loads(speeds[:, None], omega[None, :], unit.density)[1]
    meetings = []
    for level in levels:
        states = shaft_states(plane, unit.propeller, level, speeds, density=unit.density)
        for row, column in zip(*np.nonzero(~np.isnan(states.omega)), strict=True):
            meetings.append(
                Meeting(
                    level=level.name,
                    speed=float(states.speed[row]),
                    omega=float(states.omega[row, column]),
                    torque=float(states.torque[row, column]),
                    thrust=float(states.thrust[row, column]),
                    stable=bool(states.stable[row, column]),
                )
            )
    return ShaftPicture(
        omega=omega,
        speeds=speeds,
        driving=np.asarray(driving),
        levels=tuple(level.name for level in levels),
        holding=np.array([brake_torque(plane, level, omega) for level in levels]),
        meetings=tuple(meetings),
    )
