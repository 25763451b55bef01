"""Whole lines marched with a changed plane or plan: what a watcher tells of their speeds."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from evenfall.fit.learned import FACTORS
from evenfall.lines.flown import SERVO_LAG, FlownLine, FlownVariant, fly
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.survey import Survey, Tables
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import MotorChoice, Plan

Floats = NDArray[np.float64]

MARCH = 5.0
"""Length of a line in time, s; a line of 100 m at 20 m/s. Common practice, no source."""
MOVED = ("parasite_drag", "crow_drag", "braked_propeller_drag", "brake_damping", "thrust")
"""Factors of the engine that move a speed."""
_STEP = 0.1
_NOTHING = -12.0
"""ln of a factor that leaves nothing of crow's drag."""


@dataclass(frozen=True, kw_only=True)
class March:
    """A changed plane, or changed lines (not both), to be marched: what differs.

    Args:
        plane: None is the plane itself. start: factor on the entry speed. lag: of the crow, s. density: factor.
        level: another motor-brake level by name.
        idle: motor command (0-1) at the closed stick; None is held closed as planned.
    """

    plane: Plane | None = None
    start: float = 1.0
    lag: float = SERVO_LAG
    density: float = 1.0
    level: str | None = None
    idle: float | None = None

    @property
    def plain(self) -> bool:
        """The lines are flown as planned: only the plane or the entry differs."""
        return replace(self, plane=None, start=1.0) == March()


@dataclass(frozen=True, kw_only=True)
class Curve:
    """What marches show over one quantity: a quadratic through two sizes and nothing at 0, (3,) each."""

    low: float
    high: float
    at_low: Floats
    at_high: Floats

    def __call__(self, size: float) -> Floats:
        a, b = self.low, self.high
        return np.asarray(
            self.at_low * size * (size - b) / (a * (a - b)) + self.at_high * size * (size - a) / (b * (b - a))
        )


@dataclass(frozen=True, kw_only=True)
class Marches:
    """Lines of one plane with one plan under every change a cause can make. Three numbers each: ln of the speed in the
    lower half of the vertical down, ln of lower over upper half, ln of the speed on the vertical up.

    Args:
        own: of the plane as it is. by_factor: growth with the ln of every factor of the engine, (FACTORS, 3).
        curves: by quantity, less `own`: crow, parasite and propeller (ln of a factor), mass, density and start (share),
            voltage (V per cell), lag (s). single: levels by name, "idle" and "off" (no crow), less `own`.
    """

    own: Floats
    by_factor: Floats
    curves: Mapping[str, Curve]
    single: Mapping[str, Floats]


def marched(unit: PowerUnit, plan: Plan, tables: Tables, done: Survey, changes: Sequence[March]) -> Floats:
    """The three numbers of `Marches` for every change, (n, 3)."""
    answer = np.empty((len(changes), 3))
    plain = [k for k, one in enumerate(changes) if one.plain]
    if plain:
        variants = [FlownVariant(plane=changes[k].plane or unit.plane, start=changes[k].start) for k in plain]
        flown = fly(unit, _lines(unit, plan, tables, done, March()), variants)
        for column, k in enumerate(plain):
            answer[k] = _told(flown.time, flown.speed[:, :, column], flown.way[:, 0, column])
    other = [k for k, one in enumerate(changes) if not one.plain]
    if other:
        lines = [line for k in other for line in _lines(unit, plan, tables, done, changes[k])]
        flown = fly(unit, lines, [FlownVariant(plane=unit.plane)])
        for row, k in enumerate(other):
            both = slice(2 * row, 2 * row + 2)
            answer[k] = _told(flown.time, flown.speed[:, both, 0], flown.way[:, 2 * row, 0])
    return answer


def _lines(unit: PowerUnit, plan: Plan, tables: Tables, done: Survey, one: March) -> list[FlownLine]:
    flown = plan
    if one.level is not None:
        level = unit.plane.controller.level(one.level)
        flown = replace(flown, motor=replace(flown.motor, level=level.name, percent=level.percent))
    if one.idle is not None:
        curve = MotorChoice(level=flown.motor.level, percent=flown.motor.percent)
        flown = replace(flown, motor=replace(curve, throttle_curve=((0.0, one.idle), (1.0, 1.0))))
    lines = []
    for name in ("vertical down", "vertical up"):
        table, held = tables.lines[name], done.line(name)
        down = table.slope < 0
        lines.append(
            FlownLine(
                table=replace(table, density=table.density * one.density),
                plan=flown if down else plan,
                stick=held.stick,
                deployment=held.deployment,
                speed=tables.wanted if down or held.speed is None else held.speed.speed,
                fresh=down,
                duration=MARCH,
                lag=one.lag,
            )
        )
    return lines


def _told(time: Floats, speed: Floats, way: Floats) -> tuple[float, float, float]:
    """What a watcher tells of histories: speed (steps, lines), way of the first line."""
    end = min(int(np.searchsorted(time, MARCH)), len(time) - 1)
    middle = float(np.interp(0.5 * way[end], way[: end + 1], time[: end + 1]))
    upper, lower = 0.5 * way[end] / middle, 0.5 * way[end] / (time[end] - middle)
    return math.log(lower), math.log(lower / upper), math.log(float(speed[end, 1]))


def marches(unit: PowerUnit, plan: Plan, tables: Tables, done: Survey) -> Marches:
    """Every march a diagnosis needs, in two batches."""
    plane = unit.plane
    asked: dict[tuple[str, float], March] = {("own", 0.0): March()}
    asked |= {(f"factor {name}", _STEP): March(plane=with_factor(plane, name, _STEP)) for name in MOVED}
    makers: dict[str, tuple[float, float, Callable[[float], Plane]]] = {
        "crow": (-0.35, 0.25, partial(with_factor, plane, "crow_drag")),
        "parasite": (-0.6, -0.25, partial(with_factor, plane, "parasite_drag")),
        "propeller": (-0.25, 0.25, partial(with_propeller, plane)),
        "mass": (-0.08, 0.08, partial(with_mass, plane)),
        "voltage": (-0.3, -0.12, partial(with_voltage, plane)),
    }
    for name, (low, high, put) in makers.items():
        asked |= {(name, size): March(plane=put(size)) for size in (low, high)}
    asked |= {("start", size): March(start=1 + size) for size in (-0.3, 0.3)}
    asked |= {("density", size): March(density=1 + size) for size in (-0.08, 0.08)}
    if plan.crow is not None:
        asked |= {("lag", size): March(lag=SERVO_LAG + size) for size in (0.4, 1.2)}
        asked["off", 1.0] = March(plane=with_factor(plane, "crow_drag", _NOTHING))
    others = [level.name for level in plane.controller.levels if level.name != plan.motor.level]
    asked |= {(level, 1.0): March(level=level) for level in others}
    asked["idle", 1.0] = March(idle=1.2 * plane.controller.start_stick)
    values = marched(unit, plan, tables, done, list(asked.values()))
    found = {key: row - values[0] for key, row in zip(asked, values, strict=True)}
    curves = {}
    for name in (*makers, "start", "density", "lag"):
        both = sorted(size for other, size in asked if other == name)
        if both:
            low, high = both
            curves[name] = Curve(low=low, high=high, at_low=found[name, low], at_high=found[name, high])
    by_factor = np.zeros((len(FACTORS), 3))
    for name in MOVED:
        by_factor[FACTORS.index(name)] = found[f"factor {name}", _STEP] / _STEP
    single = {name: row for (name, size), row in found.items() if size == 1.0}
    return Marches(own=values[0], by_factor=by_factor, curves=curves, single=single)


def with_factor(plane: Plane, name: str, change: float) -> Plane:
    """The plane with one factor of the engine moved by a change of its ln."""
    made = replace(plane.corrections, **{name: getattr(plane.corrections, name) * math.exp(change)})
    return replace(plane, corrections=made)


def with_propeller(plane: Plane, change: float) -> Plane:
    """Another propeller: braked drag by a change of its ln, thrust by half of it. Common practice, no source."""
    return with_factor(with_factor(plane, "braked_propeller_drag", change), "thrust", 0.5 * change)


def with_mass(plane: Plane, change: float) -> Plane:
    """The plane heavier by a share."""
    return replace(plane, mass=replace(plane.mass, all_up=plane.mass.all_up * (1 + change)))


def with_voltage(plane: Plane, change: float) -> Plane:
    """The plane with other cells, V at rest each."""
    volts = plane.battery.rest_voltage_per_cell + change
    return replace(plane, battery=replace(plane.battery, rest_voltage_per_cell=volts))
