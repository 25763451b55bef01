"""The plan: what the pilot chooses, in SI units and stick positions from 0 (closed) to 1 (full)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Plane
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.phases import (
    NORMAL_THROW,
    SNAP_THROW,
    Phase,
    PhaseKind,
    check_phases,
    default_phases,
    first_of,
)

Arrangement = Literal["up/down", "down/up", "both up", "both down"]
"""Which way the ailerons go, upper wing / lower wing. A monoplane knows only "both up" and "both down"."""
ARRANGEMENTS: tuple[Arrangement, ...] = get_args(Arrangement)

_SIGNS: dict[Arrangement, tuple[int, int]] = {
    "up/down": (-1, 1),
    "down/up": (1, -1),
    "both up": (-1, -1),
    "both down": (1, 1),
}

Points = tuple[tuple[float, float], ...]
"""A curve as points (stick, value), stick rising, straight between them."""


def wing_signs(arrangement: Arrangement) -> tuple[int, int]:
    """Sign of the upper and the lower wing's deployment angle, trailing edge down positive.

    >>> wing_signs("up/down")
    (-1, 1)
    """
    return _SIGNS[arrangement]


def arrangements_of(plane: Plane) -> tuple[Arrangement, ...]:
    """The arrangements this plane can fly: all four with ailerons on both wings, two with ailerons on one."""
    with_ailerons = [name for name, wing in plane.wings.items() if wing.aileron is not None]
    return ARRANGEMENTS if len(with_ailerons) == 2 else ("both up", "both down") if with_ailerons else ()


def _check_points(name: str, points: Points, *, falling: bool) -> None:
    sticks = [stick for stick, _ in points]
    values = [value for _, value in points]
    if len(points) < 2:
        raise ValueRangeError(f"{name} needs at least two points, got {len(points)}")
    if not all(math.isfinite(number) for number in (*sticks, *values)):
        raise ValueRangeError(f"{name} holds a number that is not finite")
    if any(b <= a for a, b in itertools.pairwise(sticks)):
        raise ValueRangeError(f"{name}: stick positions must rise from point to point, got {sticks}")
    if min(sticks) < 0 or max(sticks) > 1 or min(values) < 0 or max(values) > 1:
        raise ValueRangeError(f"{name}: stick and value lie between 0 and 100 percent, got {points}")
    steps = [b - a for a, b in itertools.pairwise(values)]
    if falling and any(step > 0 for step in steps):
        raise ValueRangeError(f"{name} must never rise with the stick, got {values}")
    if not falling and any(step < 0 for step in steps):
        raise ValueRangeError(f"{name} must never fall with the stick, got {values}")


@dataclass(frozen=True, kw_only=True)
class Crow:
    """The deployment of the ailerons.

    Args:
        upper, lower: angle of each wing's ailerons fully deployed, rad, trailing edge down positive (0 without).
        threshold: stick where deployment begins, 0-1.
        curve: deployment (0-1) against stick (0-1); 1 at the closed end, 0 from the threshold up.
        elevator_share: elevator angle over the larger of the two wings' angles, both at full deployment, without
            unit; positive lowers the elevator's trailing edge. It follows the actual deployment.
    """

    arrangement: Arrangement
    upper: float
    lower: float
    threshold: float
    curve: Points
    elevator_share: float = 0.0

    def __post_init__(self) -> None:
        if self.arrangement not in ARRANGEMENTS:
            raise ValueRangeError(f"arrangement {self.arrangement!r} is none of {', '.join(ARRANGEMENTS)}")
        _check_points("the deployment curve", self.curve, falling=True)

    @property
    def angle(self) -> float:
        """Size of the larger of the two wings' angles, rad."""
        return max(abs(self.upper), abs(self.lower))

    @property
    def elevator(self) -> float:
        """Elevator angle added at full deployment, rad."""
        return self.elevator_share * self.angle

    def deployment(self, stick: ArrayLike) -> NDArray[np.float64]:
        """Deployment 0-1 at stick position(s) 0-1."""
        sticks, values = zip(*self.curve, strict=True)
        return np.asarray(np.interp(np.asarray(stick, float), sticks, values))


@dataclass(frozen=True, kw_only=True)
class MotorChoice:
    """The motor brake's level and the throttle curve.

    Args:
        level: name of the controller's level.
        percent: what that level is on the scale 0-100.
        throttle_curve: motor command (0-1) against stick (0-1).
    """

    level: str
    percent: float
    throttle_curve: Points = ((0.0, 0.0), (1.0, 1.0))

    def __post_init__(self) -> None:
        _check_points("the throttle curve", self.throttle_curve, falling=False)

    def command(self, stick: ArrayLike) -> NDArray[np.float64]:
        """Motor command 0-1 at stick position(s) 0-1."""
        sticks, values = zip(*self.throttle_curve, strict=True)
        return np.asarray(np.interp(np.asarray(stick, float), sticks, values))


@dataclass(frozen=True, kw_only=True)
class Throws:
    """Aileron throws either way of the phases normal and snap, rad."""

    normal: float = NORMAL_THROW
    snap: float = SNAP_THROW


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A braking plan for one plane.

    Args:
        plane_name: the plane it was made for.
        phases: at least one of kind "normal"; names differ.
        corners: how each aileron corner is fitted, by name; empty where linkages were not planned.
        computed_from: what it was computed from, name to text (plane hash, air, version).
    """

    plane_name: str
    crow: Crow | None
    motor: MotorChoice
    phases: tuple[Phase, ...] = field(default_factory=default_phases)
    corners: Mapping[str, CornerSetup] = field(default_factory=dict)
    computed_from: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        check_phases(self.phases)
        for name, setup in self.corners.items():
            if setup.corner != name:
                raise ValueRangeError(f"corner {name!r} holds the settings of {setup.corner!r}")

    @property
    def throws(self) -> Throws:
        """Aileron throws of the first normal and the first snap phase; without a snap phase its throw is the normal."""
        normal = self.phase("normal").aileron
        snap = first_of(self.phases, "snap")
        return Throws(normal=normal, snap=normal if snap is None else snap.aileron)

    def phase(self, kind: PhaseKind) -> Phase:
        """The first phase of a kind; the normal one where there is none of it."""
        found = first_of(self.phases, kind) or first_of(self.phases, "normal")
        if found is None:
            raise AssertionError("a plan without a normal phase was made")
        return found

    def named(self, name: str) -> Phase:
        """The phase of that name; raises with the names there are."""
        for phase in self.phases:
            if phase.name == name:
                return phase
        raise ValueRangeError(f"no phase is called {name!r}; there are {', '.join(p.name for p in self.phases)}")

    def deployment(self, stick: ArrayLike) -> NDArray[np.float64]:
        """Deployment 0-1 at stick position(s) 0-1; zero without crow."""
        if self.crow is None:
            return np.zeros(np.shape(stick))
        return self.crow.deployment(stick)


def plane_phases(plane: Plane, throws: Throws | None = None) -> tuple[Phase, ...]:
    """The five phases a plan starts from: elevator and rudder throws of the plane, these aileron throws."""
    throws = throws or Throws()
    return default_phases(
        normal=throws.normal,
        snap=throws.snap,
        elevator=min(plane.tail.elevator_up, plane.tail.elevator_down),
        rudder=plane.fin.rudder_throw if plane.fin is not None else 0.0,
    )


def present_plan(plane: Plane) -> Plan:
    """The plane as it is now: no crow, the present motor-brake level, a straight throttle curve."""
    level = plane.controller.level(plane.controller.present_level)
    return Plan(
        plane_name=plane.name,
        crow=None,
        motor=MotorChoice(level=level.name, percent=level.percent),
        phases=plane_phases(plane),
    )


def surface_deltas(
    plane: Plane, crow: Crow | None, deployment: ArrayLike, *, roll: ArrayLike = 0.0
) -> dict[str, NDArray[np.float64]]:
    """Aileron angles by corner, rad trailing edge down positive, at a deployment and a roll throw.

    Args:
        deployment: 0-1, any shape.
        roll: aileron throw added either way, rad, right roll positive: right ailerons up, left down.
    """
    deployment, roll = np.broadcast_arrays(np.asarray(deployment, float), np.asarray(roll, float))
    angles: dict[str, NDArray[np.float64]] = {}
    for name, wing in plane.wings.items():
        if wing.aileron is None:
            continue
        full = 0.0 if crow is None else (crow.upper if name == "upper" else crow.lower)
        angles[f"{name}_left"] = deployment * full + roll
        angles[f"{name}_right"] = deployment * full - roll
    return angles
