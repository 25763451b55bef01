"""The speed map of a plane: one arrangement over the whole crow and motor brake, its limits, the chosen point."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from evenfall.errors import InputError
from evenfall.lines.balance import Airframe
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.map_curves import (
    ChosenPoint,
    Contour,
    ShaftBand,
    TwoSpeeds,
    chosen_point,
    contour_speeds,
    contours,
    shaft_band,
    two_speeds,
)
from evenfall.lines.maps import BRAKE_STEPS, CROW_STEPS, MapBase, SpeedGrid, map_base, speed_grid
from evenfall.lines.shaft import PowerUnit
from evenfall.plane.airframe import Plane
from evenfall.plane.electrics import BrakeLevel
from evenfall.radio.plan import Arrangement, Crow, Throws, arrangements_of, wing_signs
from evenfall.tune.candidates import CROW_NODES, DOWN_SPEED_NODES, crow_at


@dataclass(frozen=True, kw_only=True)
class MapLimit:
    """Crow (rad) from which on the hinges of a wing leave less than `throw` (rad) for roll."""

    kind: Literal["snap", "normal"]
    crow: float
    throw: float
    wing: str


@dataclass(frozen=True, kw_only=True)
class PlaneMap:
    """Everything a picture of the speed map needs.

    Args:
        base: `base.limit` is the top of the map, the stop of the hinges.
        wanted: the line of the wanted speed. contours: the others.
        two_speeds: where the vertical down has two stable speeds. band: settings with two shaft states at the wanted
            speed. limits: lowest first, those below the top. chosen: None where nothing is chosen.
    """

    arrangement: Arrangement
    base: MapBase
    grid: SpeedGrid
    wanted: Contour
    contours: tuple[Contour, ...]
    two_speeds: tuple[TwoSpeeds, ...]
    band: ShaftBand
    limits: tuple[MapLimit, ...]
    chosen: ChosenPoint | None


def hinge_stop(plane: Plane, arrangement: Arrangement) -> tuple[float, str]:
    """The crow (rad) at which the first wing's ailerons reach the stop of their hinges, and that wing."""
    stops = []
    for name, sign in zip(("upper", "lower"), wing_signs(arrangement), strict=True):
        wing = plane.wings.get(name)
        if wing is not None and wing.aileron is not None:
            stops.append((wing.aileron.throw_up if sign < 0 else wing.aileron.throw_down, name))
    return min(stops, default=(0.0, ""))


def map_arrangement(plane: Plane, asked: str | None) -> Arrangement:
    """The arrangement asked for, or the plane's first; raises `InputError` where there is no such crow."""
    known = arrangements_of(plane)
    if not known:
        raise InputError(f"{plane.name} has no ailerons, so there is no crow to draw a speed map over")
    if asked is None:
        return known[0]
    for arrangement in known:
        if arrangement == asked.strip():
            return arrangement
    raise InputError(f"no arrangement {asked!r} on this plane: it can fly {', '.join(known)}")


def map_table(frame: Airframe, crow: Crow, *, wanted: float) -> DragTable:
    """Drag on the vertical down over speed and deployment of a crow; `wanted` in m/s."""
    return drag_tables(
        frame,
        wanted=wanted,
        slopes=-math.pi / 2,
        crow=crow,
        speed_nodes=DOWN_SPEED_NODES,
        deployment_nodes=CROW_NODES,
    )[0]


@dataclass(frozen=True, kw_only=True)
class MapReach:
    """Which crow a map is drawn over: one split between the wings from stowed to `top` (rad). Equal for equal maps."""

    arrangement: Arrangement
    upper: float
    lower: float
    top: float


def map_reach(plane: Plane, arrangement: Arrangement, *, crow: Crow | None = None, angle: float = 0.0) -> MapReach:
    """The crow of a map: split like `crow`, or alike on both wings; up to the stop of the hinges, `crow` or `angle`
    (rad) where that is larger. Raises `InputError` where the hinges allow none."""
    stop, wing = hinge_stop(plane, arrangement)
    if crow is not None and crow.angle > 0:
        top = max(stop, crow.angle)
        shares = round(crow.upper / crow.angle, 9), round(crow.lower / crow.angle, 9)
    else:
        top = max(stop, angle)
        alike = crow_at(plane, arrangement, 1.0)
        shares = alike.upper, alike.lower
    if top < math.radians(1.0):
        raise InputError(f"the hinges of the {wing} wing allow no crow {arrangement}: nothing to draw")
    return MapReach(arrangement=arrangement, upper=shares[0], lower=shares[1], top=top)


def plane_map(
    frame: Airframe,
    unit: PowerUnit,
    *,
    wanted: float,
    arrangement: Arrangement,
    throws: Throws | None = None,
    level: BrakeLevel | None = None,
    crow: Crow | None = None,
    angle: float = 0.0,
    steps: tuple[int, int] = (CROW_STEPS, BRAKE_STEPS),
) -> PlaneMap:
    """The speed map of one arrangement.

    Args:
        wanted: m/s. throws: normal and snap throw that must be left.
        level: the chosen one, None where nothing is chosen.
        crow: the chosen crow, whose split between the wings the map keeps; None takes equal angles, chosen at `angle`
            (rad).
        steps: crow angles and brake settings of the grid.
    """
    reach = map_reach(frame.plane, arrangement, crow=crow, angle=angle)
    drawn = bare_map(frame, unit, reach, wanted=wanted, steps=steps)
    return with_choice(
        drawn, throws=throws, level=level, angle=crow.angle if crow is not None and crow.angle > 0 else angle
    )


def bare_map(
    frame: Airframe,
    unit: PowerUnit,
    reach: MapReach,
    *,
    wanted: float,
    steps: tuple[int, int] = (CROW_STEPS, BRAKE_STEPS),
) -> PlaneMap:
    """A map without limits and chosen point, for several choices; `wanted` in m/s."""
    full = replace(
        crow_at(frame.plane, reach.arrangement, reach.top),
        upper=reach.upper * reach.top,
        lower=reach.lower * reach.top,
    )
    base = map_base(unit, map_table(frame, full, wanted=wanted), limit=reach.top, wanted=wanted)
    grid = speed_grid(base, np.linspace(0.0, reach.top, steps[0]), np.linspace(0.0, 100.0, steps[1]))
    lines = contours(base, (wanted, *contour_speeds(grid, wanted)), top=reach.top)
    return PlaneMap(
        arrangement=reach.arrangement,
        base=base,
        grid=grid,
        wanted=lines[0],
        contours=lines[1:],
        two_speeds=two_speeds(base),
        band=shaft_band(base, wanted),
        limits=(),
        chosen=None,
    )


def with_choice(
    drawn: PlaneMap, *, throws: Throws | None = None, level: BrakeLevel | None = None, angle: float = 0.0
) -> PlaneMap:
    """The map with the limits of these throws and the point of a level and a crow `angle` (rad); None chooses none."""
    throws = throws or Throws()
    stop, wing = hinge_stop(drawn.base.unit.plane, drawn.arrangement)
    kinds: tuple[tuple[Literal["snap", "normal"], float], ...] = (("snap", throws.snap), ("normal", throws.normal))
    limits = [MapLimit(kind=kind, crow=max(stop - throw, 0.0), throw=throw, wing=wing) for kind, throw in kinds]
    return replace(
        drawn,
        limits=tuple(sorted(limits, key=lambda limit: limit.crow)),
        chosen=None if level is None else chosen_point(drawn.base, level, angle),
    )
