"""Every motor-brake level with every arrangement: the crow it needs, what goes with it, and what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenfall.estimate import Estimate, combine
from evenfall.lines.balance import Airframe
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.line import SteadySpeed, steady_speeds
from evenfall.lines.shaft import PowerUnit, ShaftCurve, braked_shaft, omega_grid, propeller_torque_grid, shaft_curve
from evenfall.lines.spread import BEFORE, CROW_SETTING, Doubt, Nudge, narrowed, nudges
from evenfall.lines.variants import Place, VariantSpeeds, speeds_at_places
from evenfall.plane.airframe import Plane
from evenfall.plane.electrics import Battery, BrakeLevel, Motor
from evenfall.power.fold import fold_margin, fold_margins, states_with_doubt
from evenfall.power.train import shaft_states
from evenfall.radio.plan import Arrangement, Crow, MotorChoice, Plan, Throws, arrangements_of, wing_signs
from evenfall.tune.targets import Targets

Floats = NDArray[np.float64]

CROW_NODES = (0.0, 0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0)
"""Deployments solved between stowed and the limit of the hinges."""
DOWN_SPEED_NODES = (0.5, 0.7, 0.85, 1.0, 1.2, 1.5, 2.0, 2.6)
"""Speeds solved, in units of the wanted speed."""
_DOUBT_STEPS = 21

Reach = Literal["met", "too fast", "too slow", "no steady speed"]


@dataclass(frozen=True, kw_only=True)
class CrowLimit:
    """Most crow the hinges allow with the normal throw left, rad, and the wing that limits it."""

    angle: float
    wing: str


def crow_limit(plane: Plane, arrangement: Arrangement, throws: Throws) -> CrowLimit:
    """Most crow (rad) at which every aileron still has the normal throw on top inside its hinge's limit."""
    best = CrowLimit(angle=math.inf, wing="")
    for name, sign in zip(("upper", "lower"), wing_signs(arrangement), strict=True):
        wing = plane.wings.get(name)
        if wing is None or wing.aileron is None:
            continue
        room = (wing.aileron.throw_up if sign < 0 else wing.aileron.throw_down) - throws.normal
        if room < best.angle:
            best = CrowLimit(angle=max(room, 0.0), wing=name)
    return best


def crow_at(plane: Plane, arrangement: Arrangement, angle: float) -> Crow:
    """Crow of `angle` rad on every wing that has ailerons, with the common deployment curve."""
    upper, lower = wing_signs(arrangement)

    def on(name: str, sign: int) -> float:
        wing = plane.wings.get(name)
        return sign * angle if wing is not None and wing.aileron is not None else 0.0

    return Crow(
        arrangement=arrangement,
        upper=on("upper", upper),
        lower=on("lower", lower),
        threshold=0.45,
        curve=((0.0, 1.0), (0.45, 0.0), (1.0, 0.0)),
    )


@dataclass(frozen=True, kw_only=True)
class ArrangementDrag:
    """Vertical down drag of one arrangement; deployment 1 of `table` is the `limit`."""

    arrangement: Arrangement
    limit: CrowLimit
    table: DragTable


def arrangement_drags(frame: Airframe, *, wanted: float, throws: Throws) -> tuple[ArrangementDrag, ...]:
    """Vertical down drag of every arrangement over speeds around `wanted` m/s and crow up to the hinges' limit."""
    limits = {arrangement: crow_limit(frame.plane, arrangement, throws) for arrangement in arrangements_of(frame.plane)}
    limits = {arrangement: limit for arrangement, limit in limits.items() if limit.angle > math.radians(0.5)}
    if not limits:
        return ()
    tables = drag_tables(
        frame,
        wanted=wanted,
        slopes=-math.pi / 2,
        crow=[crow_at(frame.plane, arrangement, limit.angle) for arrangement, limit in limits.items()],
        speed_nodes=DOWN_SPEED_NODES,
        deployment_nodes=CROW_NODES,
    )
    return tuple(
        ArrangementDrag(arrangement=arrangement, limit=limit, table=table)
        for (arrangement, limit), table in zip(limits.items(), tables, strict=True)
    )


@dataclass(frozen=True, kw_only=True)
class LevelShaft:
    """What one level does at the wanted speed, and the curve of its shaft.

    Args:
        thrust: N at the wanted speed, each stable state, slowest shaft first.
        omega: rad/s of these states.
        margin: distance to the nearest fold at the wanted speed, percent of brake, negative inside; None without one.
        fold_probability: chance that doubt of the level's torque gives two states at the wanted speed.
        double_speeds: lowest and highest speed of the targets' span (m/s) with two states, None without.
        span_probability: chance that doubt gives two states somewhere in that span.
        stronger: the curve of the level 5 percent stronger, and by how many percent; None where there is none.
    """

    level: BrakeLevel
    curve: ShaftCurve
    thrust: tuple[float, ...]
    omega: tuple[float, ...]
    margin: float | None
    fold_probability: float
    double_speeds: tuple[float, float] | None
    span_probability: float
    stronger: tuple[ShaftCurve, float] | None


def level_shafts(unit: PowerUnit, *, wanted: float, targets: Targets) -> tuple[LevelShaft, ...]:
    """Every level of the controller at the wanted speed (m/s), with its distance from the fold."""
    speeds = wanted * np.linspace(0.3, max(DOWN_SPEED_NODES), 160)
    omegas = omega_grid(unit.plane, float(speeds[-1]))
    torque = propeller_torque_grid(unit, speeds, omegas)
    span = wanted * np.linspace(*targets.speed_span, 13)
    return tuple(
        _level_shaft(unit, level, wanted, span, speeds, omegas, torque) for level in unit.plane.controller.levels
    )


def _level_shaft(
    unit: PowerUnit, level: BrakeLevel, wanted: float, span: Floats, speeds: Floats, omegas: Floats, torque: Floats
) -> LevelShaft:
    plane, propeller, density = unit.plane, unit.propeller, unit.density
    states = shaft_states(plane, propeller, level, wanted, density=density)
    stable = states.stable[0]
    several = states_with_doubt(plane, propeller, level, span, factors=(1.0,), density=density)[:, 0].max(axis=0) > 1
    at_wanted, in_span = fold_probability(unit, level, np.append(span, wanted))
    changed = _stronger(level)

    def curve(of: BrakeLevel) -> ShaftCurve:
        return shaft_curve(braked_shaft(unit, of), speeds, omegas, torque)

    return LevelShaft(
        level=level,
        curve=curve(level),
        thrust=tuple(states.thrust[0, stable].tolist()),
        omega=tuple(states.omega[0, stable].tolist()),
        margin=fold_margin(plane, propeller, level, np.array([wanted]), density=density).percent,
        fold_probability=at_wanted,
        double_speeds=(float(span[several].min()), float(span[several].max())) if several.any() else None,
        span_probability=in_span,
        stronger=None if changed is None else (curve(changed[0]), changed[1]),
    )


def fold_probability(unit: PowerUnit, level: BrakeLevel, span: Floats) -> tuple[float, float]:
    """Chance that the doubt of a level's torque gives two shaft states: at the last speed of `span` (m/s), and at any.

    The doubt is log-normal with one sigma of a factor of two (a tenth where the damping was measured); frequencies to
    try are taken as equally likely.
    """
    if level.percent <= 0:
        return 0.0, 0.0
    sigma = unit.plane.doubt.sigma("brake_damping")
    if level.damping is not None:
        sigma = min(sigma, 0.1)
    middle = (np.arange(_DOUBT_STEPS) + 0.5) / _DOUBT_STEPS
    factors = [math.exp(sigma * NormalDist().inv_cdf(float(share))) for share in middle]
    counts = states_with_doubt(unit.plane, unit.propeller, level, span, factors=factors, density=unit.density)
    several = counts > 1
    return float(several[:, :, -1].mean()), float(several.any(axis=2).mean())


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One level with one arrangement.

    Args:
        angle: crow, rad, that gives the wanted down speed, or the nearest end.
        reach: whether the wanted speed is met, or why not.
        states: stable shaft states at the wanted speed.
        speed: m/s on the vertical down with that crow; `other_speeds` where further stable ones exist.
        fastest, slowest: m/s with no crow and with crow at its limit.
        per_degree: m/s for one more degree of crow. per_brake: m/s for 5 percent more brake.
        snap_room: rad, least hinge throw left for roll at full deployment.
        curvature: rad/s the crow adds on the vertical before a cure; None until computed.
        retention: section part of roll retention at normal throw; None until computed.
        speed_estimate: of the down speed with crow set to half a degree; angle_estimate: of the crow the wanted speed
            needs, rad. None without a steady speed, or before `with_spreads`.
        margin_spread: one sigma of the shaft's margin, percent of brake; None without a margin.
    """

    shaft: LevelShaft
    drag: ArrangementDrag
    angle: float
    reach: Reach
    states: int
    speed: float | None
    other_speeds: tuple[float, ...]
    fastest: float | None
    slowest: float | None
    per_degree: float | None
    per_brake: float | None
    snap_room: float
    curvature: float | None = None
    retention: float | None = None
    speed_estimate: Estimate | None = None
    angle_estimate: Estimate | None = None
    margin_spread: float | None = None

    @property
    def share(self) -> float:
        """The crow as a share of the hinges' limit: deployment in `drag.table`."""
        return self.angle / self.drag.limit.angle

    @property
    def level(self) -> BrakeLevel:
        """The level of the motor brake."""
        return self.shaft.level

    @property
    def arrangement(self) -> Arrangement:
        """The arrangement."""
        return self.drag.arrangement


def candidate(unit: PowerUnit, shaft: LevelShaft, drag: ArrangementDrag, *, wanted: float) -> Candidate:
    """The crow at which the plane falls at the wanted speed (m/s) with this level, and what surrounds it."""
    limit = drag.limit.angle
    thrust = shaft.thrust[-1] if shaft.thrust else 0.0
    need = drag.table.weight + thrust
    share, reach = _share_for(drag.table, wanted, need)
    angle = share * limit
    now = _stable(shaft.curve, drag.table, share)
    chosen = _nearest(now, wanted)
    if chosen is None:
        reach = "no steady speed"
    degree = math.radians(1.0)
    step = degree if angle + degree <= limit else -degree
    moved = _nearest(_stable(shaft.curve, drag.table, (angle + step) / limit), chosen.speed if chosen else wanted)
    per_degree = None if chosen is None or moved is None else (moved.speed - chosen.speed) * degree / step
    none = _nearest(_stable(shaft.curve, drag.table, 0.0), 3 * wanted)
    most = _nearest(_stable(shaft.curve, drag.table, 1.0), 0.0)
    return Candidate(
        shaft=shaft,
        drag=drag,
        angle=angle,
        reach=reach,
        states=len(shaft.thrust),
        speed=None if chosen is None else chosen.speed,
        other_speeds=tuple(s.speed for s in now if chosen is not None and abs(s.speed - chosen.speed) > 0.02 * s.speed),
        fastest=None if none is None else none.speed,
        slowest=None if most is None else most.speed,
        per_degree=per_degree,
        per_brake=None if chosen is None else _per_brake(shaft, drag, share, chosen),
        snap_room=snap_room(unit.plane, drag.arrangement, angle),
    )


def snap_room(plane: Plane, arrangement: Arrangement, angle: float) -> float:
    """Least hinge throw left at full deployment on the side the crow has moved to, rad."""
    rooms = []
    for name, sign in zip(("upper", "lower"), wing_signs(arrangement), strict=True):
        wing = plane.wings.get(name)
        if wing is not None and wing.aileron is not None:
            rooms.append((wing.aileron.throw_up if sign < 0 else wing.aileron.throw_down) - angle)
    return min(rooms, default=0.0)


def _share_for(table: DragTable, wanted: float, need: float) -> tuple[float, Reach]:
    """Deployment (of the limit) at which drag at the wanted speed is `need`, N."""
    shares = np.linspace(0.0, 1.0, 201)
    drag = table.drag(np.full_like(shares, wanted), shares)
    if drag[0] >= need:
        return 0.0, "met" if drag[0] < 1.005 * need else "too slow"
    enough = np.flatnonzero(drag >= need)
    if not enough.size:
        return float(shares[int(np.argmax(drag))]), "too fast"
    k = int(enough[0])
    return float(shares[k - 1] + (need - drag[k - 1]) / (drag[k] - drag[k - 1]) * (shares[1] - shares[0])), "met"


def _stable(curve: ShaftCurve, table: DragTable, share: float) -> tuple[SteadySpeed, ...]:
    return tuple(s for s in steady_speeds(curve, table, share) if s.stable)


def _nearest(states: tuple[SteadySpeed, ...], speed: float) -> SteadySpeed | None:
    return min(states, key=lambda s: abs(s.speed - speed), default=None)


_BRAKE_STEP = 5.0
"""Percent of brake of which `Candidate.per_brake` tells the effect."""


def _stronger(level: BrakeLevel) -> tuple[BrakeLevel, float] | None:
    """The level 5 percent stronger, or weaker near the top, and the step taken; None where it cannot be changed."""
    step = _BRAKE_STEP if level.percent <= 100.0 - _BRAKE_STEP else -_BRAKE_STEP
    if level.damping is None:
        return replace(level, percent=level.percent + step), step
    if level.percent <= 0:
        return None
    return replace(level, damping=level.damping * (1 + step / level.percent)), step


def _per_brake(shaft: LevelShaft, drag: ArrangementDrag, share: float, here: SteadySpeed) -> float | None:
    """Change of down speed (m/s) for 5 percent more brake, along the branch the shaft is on."""
    if shaft.stronger is None:
        return None
    curve, step = shaft.stronger
    near = [s for s in _stable(curve, drag.table, share) if abs(s.omega - here.omega) < 0.35 * max(here.omega, 50.0)]
    moved = _nearest(tuple(near), here.speed)
    if moved is None or not 0.75 * here.speed <= moved.speed <= 1.3 * here.speed:
        return None
    return (moved.speed - here.speed) * _BRAKE_STEP / step


def all_candidates(
    unit: PowerUnit, shafts: tuple[LevelShaft, ...], drags: tuple[ArrangementDrag, ...], *, wanted: float
) -> tuple[Candidate, ...]:
    """Every level with every arrangement, each with the crow it needs for `wanted` m/s."""
    return tuple(candidate(unit, shaft, drag, wanted=wanted) for shaft in shafts for drag in drags)


def with_spreads(
    unit: PowerUnit, candidates: tuple[Candidate, ...], spreads: Mapping[str, Doubt], *, wanted: float
) -> tuple[Candidate, ...]:
    """The candidates with spreads of down speed, of crow needed for `wanted` m/s, and of the margin to the fold."""
    inputs = {item.level.name: nudges(unit.plane, spreads, level=item.level) for item in candidates}
    margins = margin_spreads(unit, inputs, wanted)
    found: dict[int, Candidate] = {}
    for name, own in inputs.items():
        rows = [row for row, item in enumerate(candidates) if item.level.name == name]
        spread = _level_spreads(unit, [candidates[row] for row in rows], own, margins[name])
        found.update(zip(rows, spread, strict=True))
    return tuple(found[row] for row in range(len(candidates)))


def _level_spreads(
    unit: PowerUnit, items: Sequence[Candidate], inputs: Sequence[Nudge], margin: float | None
) -> list[Candidate]:
    """Candidates of one level with their spreads, all arrangements in one batch."""
    starts = [_nearest(_stable(item.shaft.curve, item.drag.table, item.share), item.speed or 0.0) for item in items]
    places = [
        Place(table=item.drag.table, deployment=item.share, near=here)
        for item, here in zip(items, starts, strict=True)
        if here is not None and item.per_degree is not None
    ]
    if not places:
        return [replace(item, margin_spread=margin) for item in items]
    level = items[0].level
    moved = iter(
        speeds_at_places(
            unit,
            Plan(plane_name="", crow=None, motor=MotorChoice(level=level.name, percent=level.percent)),
            places,
            stick=0.0,
            variants=[variant for nudge in inputs for variant in (nudge.low, nudge.high)],
        )
    )
    return [
        replace(item, margin_spread=margin)
        if here is None or item.per_degree is None
        else _with_spread(item, here, item.per_degree, inputs, next(moved), margin)
        for item, here in zip(items, starts, strict=True)
    ]


def _with_spread(
    item: Candidate,
    here: SteadySpeed,
    per_degree: float,
    inputs: Sequence[Nudge],
    moved: VariantSpeeds,
    margin: float | None,
) -> Candidate:
    effects = {}
    for index, nudge in enumerate(inputs):
        low, high = (float(moved.speed[2 * index + side]) for side in (0, 1))
        low_found, high_found = (bool(moved.found[2 * index + side]) for side in (0, 1))
        if not (low_found or high_found):
            return replace(item, margin_spread=margin)
        low, high = (low if low_found else 2 * here.speed - high), (high if high_found else 2 * here.speed - low)
        effects[nudge.name] = 0.5 * (high - low)
    effects = narrowed(effects)
    per_radian = per_degree / math.radians(1.0)
    setting = {"plan.crow_setting": per_radian * CROW_SETTING}
    return replace(
        item,
        speed_estimate=combine(here.speed, {**effects, **setting}),
        angle_estimate=combine(item.angle, {name: -effect / per_radian for name, effect in effects.items()})
        if per_radian != 0.0
        else None,
        margin_spread=margin,
    )


_MARGIN_INPUTS = ("motor.inductance", "motor.resistance", "battery.rest_voltage_per_cell")


def margin_spreads(unit: PowerUnit, inputs: Mapping[str, Sequence[Nudge]], wanted: float) -> dict[str, float | None]:
    """One sigma of every level's margin, percent of brake: the same margins for planes nudged in what moves the fold.

    The frequency is not nudged: the margin already is the worst of those to try. Levels share planes nudged alike.
    """
    speeds, names = np.array([wanted]), tuple(inputs)
    known: dict[tuple[float, Motor, Battery], dict[str, float]] = {}

    def margin(plane: Plane, name: str) -> float:
        key = plane.corrections.brake_damping, plane.motor, plane.battery
        if key not in known:
            found = fold_margins(plane, unit.propeller, names, speeds, density=unit.density)
            percents = (item.percent for item in found)
            known[key] = {n: math.nan if p is None else p for n, p in zip(names, percents, strict=True)}
        return known[key][name]

    return {
        name: _root_sum(
            0.5 * (margin(nudge.high.plane, name) - margin(nudge.low.plane, name))
            for nudge in own
            if nudge.name in _MARGIN_INPUTS or _brakes_differ(nudge)
        )
        for name, own in inputs.items()
    }


def _brakes_differ(nudge: Nudge) -> bool:
    if nudge.name.startswith(BEFORE):
        return False
    return nudge.low.plane.corrections.brake_damping != nudge.high.plane.corrections.brake_damping


def _root_sum(effects: Iterable[float]) -> float | None:
    """Root of the sum of squares of the finite ones; None without any."""
    known = [effect for effect in effects if math.isfinite(effect)]
    return math.hypot(*known) if known else None
