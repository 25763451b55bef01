"""Curves on the speed map: lines of one down speed, the band of two shaft states, the chosen point and its doubt.

Lines of one speed are solved directly, brake by brake, rather than drawn through a grid: both propeller states keep
their own line where there are two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.line import SteadySpeed, linearised, returns, steady_speeds
from evenfall.lines.maps import BrakeCurves, MapBase, SpeedGrid, brake_curves, duty_shaft, duty_torque
from evenfall.lines.shaft import PowerUnit, braked_shaft, shaft_curve
from evenfall.plane.electrics import BrakeLevel
from evenfall.power.brake import brake_frequencies, pulsed_short_torque
from evenfall.power.equilibria import count_stable
from evenfall.power.motor import friction_torque

Floats = NDArray[np.float64]

_CONTOUR_BRAKES = np.linspace(0.0, 100.0, 101)
_BAND_BRAKES = np.linspace(0.0, 100.0, 41)
_STEPS = (0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
_MOST_CONTOURS = 14
_SPECK = 5e-4
"""Share of the map below which a patch of two speeds is left out: it is as small as the grid it was found on."""


@dataclass(frozen=True, kw_only=True)
class Contour:
    """One down speed (m/s) as pieces of (brake percent, crow rad), each (n, 2), brake rising, stable states only."""

    speed: float
    pieces: tuple[Floats, ...]


def contour_speeds(grid: SpeedGrid, wanted: float) -> tuple[float, ...]:
    """Round speeds for the lines of a map (m/s), at most fifteen, none that crowds the wanted one."""
    stable = grid.speed[grid.stable]
    if not stable.size:
        return ()
    low, high = float(stable.min()), float(stable.max())
    step = next((s for s in _STEPS if (high - low) / s <= _MOST_CONTOURS), _STEPS[-1])
    levels = step * np.arange(math.ceil(low / step), math.floor(high / step) + 1)
    return tuple(float(level) for level in levels if abs(level - wanted) > 0.35 * step)


def contours(base: MapBase, speeds: tuple[float, ...], *, top: float) -> tuple[Contour, ...]:
    """The line of each down speed (m/s) over the whole motor brake, crow from 0 to `top` (rad) with some margin."""
    return tuple(Contour(speed=speed, pieces=_contour(base, speed, top)) for speed in speeds)


def _contour(base: MapBase, speed: float, top: float) -> tuple[Floats, ...]:
    brake = _CONTOUR_BRAKES
    shaft = duty_shaft(base.unit, np.zeros(1))
    driving = shaft.loads(speed, base.omegas)[1]
    values = driving[None, :] + duty_torque(base.unit, brake[:, None], base.omegas[None, :])
    positive = values > 0.0
    column, low = np.nonzero(~positive[:, :-1] & positive[:, 1:])  # rising with omega: the shaft is stable
    part = values[column, low] / (values[column, low] - values[column, low + 1])
    omega = base.omegas[low] + part * (base.omegas[low + 1] - base.omegas[low])
    rest = np.flatnonzero(positive[:, 0])
    column, omega = np.concatenate([column, rest]), np.concatenate([omega, np.zeros(rest.size)])
    order = np.lexsort((omega, column))
    column, omega = column[order], omega[order]
    flown = np.full(omega.size, speed)
    angle = base.crow_angle(flown, shaft.loads(flown, omega)[0])
    near = (angle > -0.12 * top) & (angle < 1.12 * top)
    held = duty_shaft(base.unit, brake[column])
    _, jacobian = linearised(held, base.table, flown, omega, np.clip(angle / base.limit, 0.0, 1.0))
    stable = (omega == 0) | returns(jacobian, mass=base.table.weight / G0, inertia=held.inertia)
    keep = near & stable
    return _linked(
        column[keep], omega[keep], angle[keep], brake, jump=0.08 * float(base.omegas[-1]) * speed / base.speeds[-1]
    )


def _linked(
    column: NDArray[np.intp], omega: Floats, angle: Floats, brake: Floats, *, jump: float
) -> tuple[Floats, ...]:
    """Points joined from column to column into pieces, each to the nearest shaft speed (rad/s) within `jump`."""
    done: list[list[tuple[float, float]]] = []
    ends: list[tuple[float, list[tuple[float, float]]]] = []
    for index in range(brake.size):
        fresh: list[tuple[float, list[tuple[float, float]]]] = []
        for point in np.flatnonzero(column == index).tolist():
            off = [abs(end[0] - float(omega[point])) for end in ends]
            if off and min(off) <= jump:
                best = ends.pop(off.index(min(off)))
            else:
                best = (0.0, [])
                done.append(best[1])
            best[1].append((float(brake[index]), float(angle[point])))
            fresh.append((float(omega[point]), best[1]))
        ends = fresh
    return tuple(np.array(piece) for piece in done if len(piece) > 1)


@dataclass(frozen=True, kw_only=True)
class TwoSpeeds:
    """A patch of the map with two stable steady speeds: at each `brake` (percent) crow from `low` to `high` (rad)."""

    brake: Floats
    low: Floats
    high: Floats


def two_speeds(base: MapBase) -> tuple[TwoSpeeds, ...]:
    """Where the vertical down has two stable steady speeds, over the whole motor brake and crow to the limit.

    Along the shaft curve of one setting every point asks for one crow angle; where three points ask for the same, two
    of them are stable. Ends of a patch are halved to .3 percent of brake.
    """
    brakes = _BAND_BRAKES
    found = dict(zip(brakes.tolist(), _intervals(base, brakes), strict=True))
    for _ in range(3):
        order = sorted(found)
        new = [0.5 * (a + b) for a, b in zip(order, order[1:], strict=False) if _differ(found[a], found[b], base.limit)]
        if not new:
            break
        found.update(zip(new, _intervals(base, np.array(new)), strict=True))
    return _patches([(brake, found[brake]) for brake in sorted(found)], base.limit)


Interval = tuple[float, float]


def _differ(a: list[Interval], b: list[Interval], limit: float) -> bool:
    """True where two neighbouring settings are too unlike to be joined by straight lines."""
    if len(a) != len(b):
        return True
    return any(max(abs(x[0] - y[0]), abs(x[1] - y[1])) > 0.1 * limit for x, y in zip(a, b, strict=True))


def _intervals(base: MapBase, brake: Floats) -> list[list[Interval]]:
    """For each setting the crow angles (rad) with two stable speeds."""
    curves = brake_curves(base, brake)
    low, high = _asked(base, curves)
    return [_overlaps(low[curves.column == k], high[curves.column == k], base.limit) for k in range(brake.size)]


def _asked(base: MapBase, curves: BrakeCurves) -> tuple[Floats, Floats]:
    """Least and most crow (rad) each segment asks for, held to the map."""
    ends = [
        np.clip(base.crow_angle(speed, thrust), 0.0, base.limit)
        for speed, thrust in ((curves.speed_a, curves.thrust_a), (curves.speed_b, curves.thrust_b))
    ]
    return np.minimum(*ends), np.maximum(*ends)


def _overlaps(low: Floats, high: Floats, limit: float) -> list[Interval]:
    """Where at least three segments lie over each other, specks left out."""
    place = np.concatenate([low, high])
    step = np.concatenate([np.ones(low.size), -np.ones(high.size)])
    order = np.lexsort((step, place))
    place, over = place[order], np.cumsum(step[order]) >= 3
    found: list[Interval] = []
    for index in np.flatnonzero(over[:-1]).tolist():
        a, b = float(place[index]), float(place[index + 1])
        if found and a - found[-1][1] < 0.01 * limit:
            found[-1] = (found[-1][0], b)
        elif b > a:
            found.append((a, b))
    return [(a, b) for a, b in found if b - a > 0.004 * limit]


def _patches(columns: list[tuple[float, list[Interval]]], limit: float) -> tuple[TwoSpeeds, ...]:
    """Intervals of neighbouring settings that overlap, joined into patches; specks are left out."""
    done: list[list[tuple[float, float, float]]] = []
    ends: list[list[tuple[float, float, float]]] = []
    for brake, intervals in columns:
        fresh = []
        for low, high in intervals:
            patch = next((p for p in ends if p[-1][1] < high and p[-1][2] > low), None)
            if patch is None:
                patch = []
                done.append(patch)
            else:
                ends.remove(patch)
            patch.append((brake, low, high))
            fresh.append(patch)
        ends = fresh
    arrays = [np.array(patch) for patch in done if len(patch) > 1]
    wide = [float(np.trapezoid(a[:, 2] - a[:, 1], a[:, 0])) for a in arrays]
    return tuple(
        TwoSpeeds(brake=a[:, 0], low=a[:, 1], high=a[:, 2])
        for a, area in zip(arrays, wide, strict=True)
        if area > _SPECK * 100.0 * limit
    )


@dataclass(frozen=True, kw_only=True)
class ShaftBand:
    """Settings of the motor brake (percent, lowest and highest) with two shaft states at one airspeed (m/s).

    `likely` as computed; `doubtful` with the torque anywhere from half to twice that, at every pulse frequency that
    has to be tried. None where there are none.
    """

    speed: float
    likely: tuple[float, float] | None
    doubtful: tuple[float, float] | None


def shaft_band(base: MapBase, speed: float) -> ShaftBand:
    """The band of two shaft states at an airspeed, m/s."""
    plane = base.unit.plane
    driving = duty_shaft(base.unit, np.zeros(1)).loads(speed, base.omegas)[1]
    sigma = plane.doubt.sigma("brake_damping")
    own = plane.controller.brake_frequency
    likely, doubtful = np.zeros(_CONTOUR_BRAKES.size, dtype=bool), np.zeros(_CONTOUR_BRAKES.size, dtype=bool)
    for frequency in sorted({own, *brake_frequencies(plane.controller)}):
        pulsed = plane.corrections.brake_damping * pulsed_short_torque(
            base.omegas,
            _CONTOUR_BRAKES[:, None] / 100.0,
            motor=plane.motor,
            controller=plane.controller,
            voltage=plane.battery.rest_voltage,
            frequency=frequency,
        )
        for factor in np.exp(sigma * np.linspace(-1.0, 1.0, 5)):
            several = count_stable(driving + factor * pulsed + friction_torque(plane.motor)) > 1
            doubtful |= several
            if frequency == own and abs(factor - 1.0) < 1e-9:
                likely |= several
    return ShaftBand(speed=speed, likely=_longest(likely), doubtful=_longest(doubtful))


def _longest(flags: NDArray[np.bool_]) -> tuple[float, float] | None:
    """First and last percent of the longest run of settings, at least two of them."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    runs = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    first, last = max(runs, key=lambda run: run[1] - run[0], default=(0, 0))
    return None if last - first < 2 else (float(_CONTOUR_BRAKES[first]), float(_CONTOUR_BRAKES[last - 1]))


@dataclass(frozen=True, kw_only=True)
class ChosenPoint:
    """The chosen level and crow on the map.

    Args:
        level: name. brake: percent of motor brake that holds like it (its own percent unless it was measured).
        crow: rad, fully deployed.
        states: every steady speed there.
        brake_range: percent, where the torque is within one sigma of doubt.
        crow_range: rad, the crow that changes the drag by one sigma of its doubt either way.
    """

    level: str
    brake: float
    crow: float
    states: tuple[SteadySpeed, ...]
    brake_range: tuple[float, float]
    crow_range: tuple[float, float]


def chosen_point(base: MapBase, level: BrakeLevel, crow: float) -> ChosenPoint:
    """Steady speeds of a level with crow (rad), and how far doubt of torque and drag moves the point on the map."""
    shaft = braked_shaft(base.unit, level)
    states = steady_speeds(
        shaft_curve(shaft, base.speeds, base.omegas, base.torque), base.table, min(crow / base.limit, 1.0)
    )
    stable = [state for state in states if state.stable]
    here = min(stable, key=lambda state: abs(state.speed - base.wanted), default=None)
    brake = level.percent
    if here is None:
        return ChosenPoint(
            level=level.name, brake=brake, crow=crow, states=states, brake_range=(brake, brake), crow_range=(crow, crow)
        )
    sigma = base.unit.plane.doubt.sigma("brake_damping")
    if level.damping is not None:
        brake, sigma = equivalent_percent(base.unit, level, here.omega), min(sigma, 0.1)
    return ChosenPoint(
        level=level.name,
        brake=brake,
        crow=crow,
        states=states,
        brake_range=_brake_range(base, brake, here.omega, sigma),
        crow_range=_crow_range(base, crow, here),
    )


def _duty_curve(unit: PowerUnit, omega: float) -> tuple[Floats, Floats]:
    """Percent of motor brake and its torque without friction (N m) at a shaft speed, rad/s."""
    percent = np.linspace(0.0, 100.0, 1001)
    return percent, duty_torque(unit, percent, np.full(1, omega)) - friction_torque(unit.plane.motor)


def equivalent_percent(unit: PowerUnit, level: BrakeLevel, omega: float) -> float:
    """Percent of motor brake whose torque is nearest to that of a level at a shaft speed (rad/s): a level's own percent
    unless its damping was measured."""
    if level.damping is None:
        return level.percent
    percent, torque = _duty_curve(unit, max(omega, 1.0))
    measured = unit.plane.corrections.brake_damping * level.damping * max(omega, 1.0)
    off = np.abs(torque - measured)
    close = off <= off.min() + 0.01 * measured
    return float(percent[close][np.argmin(np.abs(percent[close] - level.percent))])


def _brake_range(base: MapBase, brake: float, omega: float, sigma: float) -> tuple[float, float]:
    """Settings around `brake` whose torque stays within one sigma (of its logarithm)."""
    percent, torque = _duty_curve(base.unit, max(omega, 1.0))
    index = int(np.argmin(np.abs(percent - brake)))
    if torque[index] <= 0:
        return brake, brake
    far = np.abs(np.log(np.maximum(torque, 1e-12) / torque[index])) > sigma
    below, above = np.flatnonzero(far[:index]), np.flatnonzero(far[index:])
    low = percent[below[-1]] if below.size else 0.0
    high = percent[index + above[0]] if above.size else 100.0
    return float(low), float(high)


def _crow_range(base: MapBase, crow: float, here: SteadySpeed) -> tuple[float, float]:
    """Crow that holds the same speed with the drag of crow, body and parts and propeller one sigma off, together."""
    table = base.table
    speed = np.full(1, here.speed)
    dynamic = 0.5 * table.density * here.speed**2
    parts = float(table.corrections.parasite_drag * table.shares(speed, crow / base.limit)[1][0]) * dynamic
    held = {"crow_drag": here.crow, "parasite_drag": parts, "braked_propeller_drag": -min(here.thrust, 0.0)}
    axes = base.unit.plane.doubt.along(held)
    off = math.hypot(*(sum(held[name] * change for name, change in axis.items()) for _, axis in axes))
    ends = [float(base.crow_angle(speed, np.full(1, here.thrust + sign * off))[0]) for sign in (-1, 1)]
    return max(ends[0], 0.0), min(ends[1], 1.5 * base.limit)
