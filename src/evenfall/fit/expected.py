"""What the engine expects of every piece of evidence, and how that moves with each correction."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.fit.ground import Ground
from evenfall.fit.learned import corrections_of
from evenfall.lines.bend import BendCase, bends
from evenfall.lines.flown import Flown, FlownLine, FlownVariant, fly
from evenfall.lines.holding import holding_sticks, slope_drag, stick_thrust
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.logs.evidence import (
    GUST_TIME,
    Damping,
    Evidence,
    Flight,
    HeldStick,
    Pull,
    ShaftSpeed,
    SteadySpeed,
    TimedLine,
    TimedRolls,
    TracedLine,
)
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import Corrections
from evenfall.power.train import brake_torque, driven, shaft_states

Floats = NDArray[np.float64]

_NUDGE = 0.02
"""Change of a ln factor and of a start speed's share for slopes of the march."""
_SETTLING = 12.0
"""Seconds marched for a speed that had settled."""
_MORE_MOMENT = 1.5
"""Factor on the moment of crow at which its part of a bend is found."""
CLEAN_BEND = 0.06
"""One sigma of the clean plane's bend before a pull without crow is seen, rad/s: what half a centimetre of CG height
does. Ours, no source."""
_LINE_FACTORS = ("parasite_drag", "crow_drag", "braked_propeller_drag", "brake_damping", "thrust")


@dataclass(frozen=True, kw_only=True)
class Expectation:
    """One piece of evidence against the engine, linearised. Residual = seen - expected, over what it is known to.

    Args:
        residual: (m,). jacobian: change of what is expected with each ln factor, (m, factors).
        noise: covariance of the numbers, (m, m).
        nuisance: change of what is expected with what else was not known (start speed, zero, wind), (m, k), each in
            units of its one sigma before this evidence.
    """

    residual: Floats
    jacobian: Floats
    noise: Floats
    nuisance: Floats


@dataclass(frozen=True, kw_only=True)
class _Line:
    index: int
    line: FlownLine
    level: str


def expectations(
    ground: Ground,
    evidence: Sequence[Evidence],
    names: Sequence[str],
    values: Floats,
    starts: Floats,
) -> list[Expectation]:
    """Every piece of evidence at ln factors `values` (n,) of `names`.

    Args:
        starts: factor on the start speed of each piece, (evidence,): 1 where it was as written down.
    """
    found: dict[int, Expectation] = {}
    found.update(_lines(ground, evidence, names, values, starts))
    clean = _clean_shift(ground, evidence)
    for index, item in enumerate(evidence):
        if index in found:
            continue
        seen, noise = _without_shift(item, clean) if isinstance(item, Pull) else _seen(item)
        own = _own_factors(item, names, ground)
        at = _single(ground, item, names, values)
        jacobian = np.zeros((1, len(names)))
        for name in own:
            column = names.index(name)
            moved = values.copy()
            moved[column] += _NUDGE
            jacobian[0, column] = (_single(ground, item, names, moved) - at) / _NUDGE
        found[index] = Expectation(
            residual=np.array([seen - at]),
            jacobian=jacobian,
            noise=np.array([[noise**2]]),
            nuisance=np.zeros((1, 0)),
        )
    return [found[index] for index in range(len(evidence))]


def _plane(ground: Ground, names: Sequence[str], values: Floats, level: str | None) -> Plane:
    factors = corrections_of(names, values, level=level)
    own = ground.unit.plane.corrections
    made = {name: getattr(own, name) * getattr(factors, name) for name in vars(factors)}
    return replace(ground.unit.plane, corrections=type(own)(**made))


def _brake(names: Sequence[str], level: str) -> str:
    own = f"brake_damping:{level}"
    return own if own in names else "brake_damping"


def _lines(
    ground: Ground, evidence: Sequence[Evidence], names: Sequence[str], values: Floats, starts: Floats
) -> dict[int, Expectation]:
    """Evidence that is a stretch of line: all of one motor-brake level in one march."""
    flown = [(k, item) for k, item in enumerate(evidence) if isinstance(item, TracedLine | TimedLine | SteadySpeed)]
    ground.solve([item.flight for _, item in flown])
    by_level: dict[str, list[_Line]] = {}
    for index, item in flown:
        plan = ground.flown(item.flight)
        line = FlownLine(
            table=ground.table(item.flight),
            plan=plan,
            stick=item.flight.stick,
            deployment=float(plan.deployment(item.flight.stick)),
            speed=float(starts[index]) * max(item.speed - item.flight.wind, 1.0),
            fresh=not isinstance(item, SteadySpeed) and item.fresh,
            duration=_duration(item),
        )
        by_level.setdefault(plan.motor.level, []).append(_Line(index=index, line=line, level=plan.motor.level))
    found: dict[int, Expectation] = {}
    for level, lines in by_level.items():
        columns = [names.index(_brake(names, level) if name == "brake_damping" else name) for name in _LINE_FACTORS]
        planes = [_plane(ground, names, values, level)]
        for column in columns:
            moved = values.copy()
            moved[column] += _NUDGE
            planes.append(_plane(ground, names, moved, level))
        variants = [*(FlownVariant(plane=plane) for plane in planes), FlownVariant(plane=planes[0], start=1.0 + _NUDGE)]
        done = fly(ground.unit, [line.line for line in lines], variants, step=0.03)
        for row, flying in enumerate(lines):
            seen = evidence[flying.index]
            assert isinstance(seen, TracedLine | TimedLine | SteadySpeed)
            start = float(starts[flying.index])
            found[flying.index] = _line_expectation(seen, done, row, columns, len(names), start)
    return found


def _duration(item: TracedLine | TimedLine | SteadySpeed) -> float:
    if isinstance(item, TracedLine):
        return float(item.time[-1]) + 0.1
    if isinstance(item, TimedLine):
        # Long enough for the slowest variant worth looking at.
        return 2.0 * (item.seconds + item.skipped / item.speed) + 1.0
    return _SETTLING


def _line_expectation(
    item: TracedLine | TimedLine | SteadySpeed, done: Flown, row: int, columns: list[int], count: int, start: float
) -> Expectation:
    wind = item.flight.wind
    if isinstance(item, TracedLine):
        found = done.way_at(row, item.time) + wind * item.time[:, None]
        seen, noise = item.way - item.way[0], _alike(item) + _gusts(item.flight.gust, item.time, item.time)
    elif isinstance(item, TimedLine):
        found = _seconds(done, row, item)[None, :]
        share = item.length_sigma / item.length * item.seconds
        over = np.array([item.seconds])
        pushed = float(_gusts(item.flight.gust, over, over)[0, 0]) * (item.seconds / item.length) ** 2
        seen, noise = np.array([item.seconds]), np.array([[item.sigma**2 + share**2 + pushed]])
    else:
        found = done.speed[-1, row][None, :] + wind
        seen, noise = np.array([item.speed]), np.array([[item.sigma**2]])
    at = found[:, 0]
    slopes = (found[:, 1:] - at[:, None]) / _NUDGE
    jacobian = np.zeros((len(seen), count))
    jacobian[:, columns] = slopes[:, :-1]
    nuisance = []
    residual = seen - at
    if not isinstance(item, SteadySpeed):
        air_speed = max(item.speed - wind, 1.0)
        # The start speed has been moved to `start` already: what is left of its doubt is around that.
        nuisance.append(slopes[:, -1] * item.speed_sigma / air_speed)
        residual = residual - slopes[:, -1] * (1.0 - start)
    if isinstance(item, TracedLine):
        nuisance.append(np.full(len(seen), 1e3 * item.sigma))
        if item.scale_sigma > 0:
            nuisance.append(found[:, 0] * item.scale_sigma)
    if item.flight.wind_sigma > 0:
        nuisance.append(_wind(item, found[:, 0]) * item.flight.wind_sigma)
    columns_of = np.stack(nuisance, axis=1) if nuisance else np.zeros((len(seen), 0))
    return Expectation(residual=residual, jacobian=jacobian, noise=noise, nuisance=columns_of)


def _alike(item: TracedLine) -> Floats:
    """Covariance of ways whose errors die away with the correlation time, and of those that walk off, m^2."""
    since = item.time - item.time[0]
    walk: Floats = item.wander**2 * np.minimum(since[:, None], since[None, :])
    if item.correlation == 0:
        return np.diag(np.full(len(item.time), item.sigma**2)) + walk
    apart = np.abs(item.time[:, None] - item.time[None, :]) / item.correlation
    return np.asarray(item.sigma**2 * np.exp(-apart) + walk)


def _gusts(sigma: float, one: Floats, two: Floats) -> Floats:
    """Covariance of the ways that gusts have pushed by two sets of times, m^2: the integral of a first-order process.

    The aeroplane follows the air in a second or so; taken as at once. Source: Gardiner, Handbook of Stochastic Methods,
    3rd ed., sect. 3.8.4 (Ornstein-Uhlenbeck process, integrated; from memory).
    """
    s, t = one[:, None] / GUST_TIME, two[None, :] / GUST_TIME
    kept = 2 * np.minimum(s, t) - 1 + np.exp(-s) + np.exp(-t) - np.exp(-np.abs(s - t))
    return np.asarray((sigma * GUST_TIME) ** 2 * kept)


def _seconds(done: Flown, row: int, item: TimedLine) -> Floats:
    """Time over the stretch for every variant, s; the end of the march where it was not reached."""
    start, end = done.time_at(row, item.skipped), done.time_at(row, item.skipped + item.length)
    reached = np.isfinite(end)
    return np.where(reached, end - np.where(reached, start, 0.0), done.time[-1])


def _wind(item: TracedLine | TimedLine | SteadySpeed, expected: Floats) -> Floats:
    """Change of what is seen for 1 m/s more wind along the path."""
    if isinstance(item, TracedLine):
        return item.time
    if isinstance(item, TimedLine):
        return -expected / item.speed
    return np.ones(1)


def _seen(item: Evidence) -> tuple[float, float]:
    """The number that was seen, in a form whose noise is even, and its one sigma."""
    if isinstance(item, ShaftSpeed):
        return item.omega, item.sigma
    if isinstance(item, Damping):
        return math.log(item.torque), item.sigma
    if isinstance(item, TimedRolls):
        return math.log(2 * math.pi * item.rolls / item.seconds), item.sigma / item.seconds
    if isinstance(item, HeldStick):
        return item.flight.stick, item.sigma
    raise AssertionError(f"{type(item).__name__} is a stretch of line")


def _own_factors(item: Evidence, names: Sequence[str], ground: Ground) -> list[str]:
    """Factors that move what is expected of a single number."""
    if isinstance(item, Damping):
        return [_brake(names, item.level)]
    if isinstance(item, TimedRolls):
        return ["roll_deployed"] if item.flight.crow else []
    if isinstance(item, Pull):
        return ["crow_moment"] if item.flight.crow else []
    brake = _brake(names, ground.flown(item.flight).motor.level)
    if isinstance(item, ShaftSpeed):
        return ["thrust", brake]
    return [name if name != "brake_damping" else brake for name in _LINE_FACTORS]


def _single(ground: Ground, item: Evidence, names: Sequence[str], values: Floats) -> float:
    """What the engine expects of one number, in the form of `_seen`."""
    if isinstance(item, Damping):
        ground.check_level(item.level)
        plane = _plane(ground, names, values, item.level)
        return math.log(max(float(brake_torque(plane, item.level, np.array(item.omega))), 1e-12))
    assert not isinstance(item, TracedLine | TimedLine | SteadySpeed)
    plan = ground.flown(item.flight)
    plane = _plane(ground, names, values, plan.motor.level)
    if isinstance(item, ShaftSpeed):
        return _omega(ground, item, plane)
    if isinstance(item, TimedRolls):
        factor = 1.0 + (plane.corrections.roll_deployed - 1.0) * float(plan.deployment(item.flight.stick))
        return math.log(max(_roll_rate(ground, item) * factor, 1e-6))
    if isinstance(item, Pull):
        clean, crow, moment = _bend(ground, item.flight)
        return clean + crow + (plane.corrections.crow_moment - 1.0) * moment
    return _stick(ground, item.flight, plane)


def _omega(ground: Ground, item: ShaftSpeed, plane: Plane) -> float:
    """Shaft speed at the air speed; of several settled states the one nearest to what was heard."""
    plan, density = ground.flown(item.flight), item.flight.density or ground.unit.density
    command = float(plan.motor.command(item.flight.stick))
    if command >= plane.controller.closed_below:
        return float(driven(plane, ground.unit.propeller, item.speed, command, density=density).omega)
    states = shaft_states(plane, ground.unit.propeller, plan.motor.level, item.speed, density=density)
    stable = states.omega[0][states.stable[0]]
    return float(stable[np.argmin(np.abs(stable - item.omega))]) if stable.size else 0.0


def _roll_rate(ground: Ground, item: TimedRolls) -> float:
    """Steady roll before the learned factor, rad/s, proportional to speed."""
    return ground.remembered((item.flight, item.throw, item.speed), lambda: _solve_roll(ground, item))


def _solve_roll(ground: Ground, item: TimedRolls) -> float:
    plan = ground.flown(item.flight)
    table = ground.table(item.flight)
    out = float(plan.deployment(item.flight.stick))
    case = RollCase(
        crow=plan.crow,
        deployment=out,
        alpha=float(table.alpha_at(item.speed, out)),
        elevator=float(table.elevator_at(item.speed, out)),
        throw=item.throw,
    )
    plain = replace(ground.frame, plane=replace(ground.frame.plane, corrections=type(ground.frame.plane.corrections)()))
    return float(abs(steady_rolls(plain, [case], speed=item.speed).rate[0]))


def _bend(ground: Ground, flight: Flight) -> tuple[float, float, float]:
    """Bend of the clean plane, what crow adds before the learned factor, and its change with that factor, rad/s."""
    return ground.remembered(("bend", flight), lambda: _solve_bend(ground, flight))


def _solve_bend(ground: Ground, flight: Flight) -> tuple[float, float, float]:
    plan = ground.flown(flight)
    closed = float(stick_thrust(ground.unit, plan, wanted=ground.wanted).thrust[0])
    table = ground.table(Flight(slope=0.0, crow=flight.crow))
    plain, more = (
        replace(ground.frame, plane=replace(ground.frame.plane, corrections=Corrections(crow_moment=factor)))
        for factor in (1.0, _MORE_MOMENT)
    )
    case = BendCase(slope=flight.slope, crow=plan.crow, thrust=closed, inverted=flight.inverted)
    held = float(table.drag(ground.wanted, 0.0))
    one = bends(plain, [case], speed=ground.wanted, level_thrust=held)
    clean, crow = float(one.clean[0]), float(one.crow[0])
    if plan.crow is None:
        return clean, 0.0, 0.0
    # The share of the elevator is no part of the moment that deployment adds: only that moment has the factor.
    two = bends(more, [case], speed=ground.wanted, level_thrust=held)
    return clean, crow, (float(two.crow[0]) - crow) / (_MORE_MOMENT - 1.0)


@dataclass(frozen=True, kw_only=True)
class _CleanShift:
    """Bend of the clean plane over what is computed, from pulls without crow: rad/s, its one sigma, and the number of
    pulls with crow that share it."""

    value: float
    sigma: float
    shared: int


def _clean_shift(ground: Ground, evidence: Sequence[Evidence]) -> _CleanShift:
    pulls = [item for item in evidence if isinstance(item, Pull)]
    weight, total = 1.0 / CLEAN_BEND**2, 0.0
    for item in pulls:
        if not item.flight.crow:
            weight += 1.0 / item.sigma**2
            total += (item.rate - _bend(ground, item.flight)[0]) / item.sigma**2
    shared = sum(item.flight.crow for item in pulls)
    return _CleanShift(value=total / weight, sigma=weight**-0.5, shared=shared)


def _without_shift(item: Pull, clean: _CleanShift) -> tuple[float, float]:
    """A pull with the clean plane's own shift taken out, and its one sigma, rad/s.

    Pulls with crow share the doubt of that shift: n of them with n times its variance each say together what they say.
    """
    if not item.flight.crow:
        return item.rate, math.hypot(item.sigma, CLEAN_BEND)
    return item.rate - clean.value, math.hypot(item.sigma, math.sqrt(clean.shared) * clean.sigma)


def _stick(ground: Ground, flight: Flight, plane: Plane) -> float:
    plan = ground.flown(flight)
    unit = replace(ground.unit, plane=plane)
    drag = ground.remembered(
        ("slope", flight.slope, flight.inverted, flight.crow),
        lambda: slope_drag(ground.frame, plan, wanted=ground.wanted, slopes=[flight.slope], inverted=flight.inverted),
    )
    return holding_sticks(unit, plan, drag, stick_thrust(unit, plan, wanted=ground.wanted))[0].stick
