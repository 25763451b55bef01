"""Spreads: the same engine rerun with one input at a time moved by one sigma either way.

Power train, mass and the engine's factors act through `evenfall.lines.variants`; section data (transition) and the
setting of the crow act as factors on the surfaces' drag, found by solving the same balances once more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.estimate import Estimate, combine
from evenfall.lines.balance import Airframe, balance
from evenfall.lines.holding import Holding, SlopeDrag
from evenfall.lines.line import SteadySpeed, steady_speeds
from evenfall.lines.shaft import PowerUnit, omega_grid, shaft_curve
from evenfall.lines.survey import LineAnswer, Survey, Tables, shaft_at, tables_for
from evenfall.lines.variants import Variant, variant_speeds
from evenfall.numeric import Status
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import PRIOR_DOUBT, moved_along
from evenfall.plane.electrics import BrakeLevel
from evenfall.plane.perturb import attribute, perturbed
from evenfall.power.train import driven, shaft_states
from evenfall.radio.plan import Crow, Plan

Floats = NDArray[np.float64]

SPEED_INPUTS = (
    "mass.all_up",
    "motor.kv",
    "motor.resistance",
    "motor.inductance",
    "motor.no_load_current",
    "controller.resistance",
    "battery.resistance",
    "battery.rest_voltage_per_cell",
)
"""Inputs of the plane file whose spread moves a steady speed; geometry acts through the drag factors."""
SPEED_FACTORS = ("parasite_drag", "crow_drag", "braked_propeller_drag", "brake_damping", "thrust")
MEASURED_DAMPING_SIGMA = 0.1
"""One sigma of ln(torque) of a level whose damping was measured. Ours, no source."""
CROW_SETTING = math.radians(0.5)
"""One sigma of the crow angle as set with an angle gauge, rad. Common practice, no source."""


class Doubt(Protocol):
    """One sigma of an input in its own unit, as `evenfall.plane.guesses.Spread` gives it."""

    def absolute(self, value: float) -> float: ...


@dataclass(frozen=True, kw_only=True)
class Nudge:
    """One input one sigma down and up: `name` is its dotted path, `low` and `high` the changed aeroplanes."""

    name: str
    low: Variant
    high: Variant


def nudges(plane: Plane, spreads: Mapping[str, Doubt], *, level: BrakeLevel, crow: bool = True) -> tuple[Nudge, ...]:
    """Every uncertain input of a steady speed: factors of the engine by their priors, inputs by the file's spreads.

    A level whose damping was measured keeps a tenth of the doubt of the motor brake. An unknown frequency of the motor
    brake is 16 kHz, 8 and 24 kHz being one sigma away.
    """
    found = []
    for name, axis in speed_axes(plane, level=level, crow=crow):
        low, high = (moved_along(plane.corrections, axis, by=by) for by in (-1.0, 1.0))
        found.append(
            Nudge(
                name=name,
                low=Variant(plane=replace(plane, corrections=low)),
                high=Variant(plane=replace(plane, corrections=high)),
            )
        )
    if plane.doubt != PRIOR_DOUBT:
        unflown = replace(plane, doubt=PRIOR_DOUBT)
        for name, axis in speed_axes(unflown, level=level, crow=crow):
            low, high = (moved_along(plane.corrections, axis, by=by) for by in (-1.0, 1.0))
            both = (Variant(plane=replace(plane, corrections=moved)) for moved in (low, high))
            found.append(Nudge(name=BEFORE + name, low=next(both), high=next(both)))
    for path in SPEED_INPUTS:
        now = float(attribute(plane, path))
        sigma = spreads[path].absolute(now) if path in spreads else 0.0
        if sigma > 0:
            found.append(_input_nudge(plane, path, now - min(sigma, 0.6 * now), now + sigma))
    if not plane.controller.brake_frequency_known and level.damping is None and 0 < level.percent < 100:
        found.append(_input_nudge(plane, "controller.brake_frequency", 8e3, 24e3))
    return tuple(found)


BEFORE = "before flights: "
"""Begins the name of a nudge that stands for the doubt of a correction before flights."""


def narrowed(effects: Mapping[str, float]) -> dict[str, float]:
    """Effects of one-at-a-time changes with what flights have taught about everything else taken into account.

    Evidence is of speeds and forces: it narrows the doubt of an input or of the sections' transition on a number as
    much as it narrows that of the corrections on the same number, since it sees only their sum. So where effects named
    `BEFORE` are there, the others are scaled by (corrections now)/(corrections before), at most 1. Exact where all of
    them move the number alike; definition of ours.

    >>> narrowed({"corrections.crow_drag": 0.125, "before flights: corrections.crow_drag": 0.5, "mass.all_up": 0.2})
    {'corrections.crow_drag': 0.125, 'mass.all_up': 0.05}
    """
    before = math.hypot(*(effect for name, effect in effects.items() if name.startswith(BEFORE)))
    kept = {name: effect for name, effect in effects.items() if not name.startswith(BEFORE)}
    if before == 0.0:
        return kept
    now = math.hypot(*(effect for name, effect in kept.items() if name.startswith("corrections.")))
    share = min(now / before, 1.0)
    return {name: effect if name.startswith("corrections.") else share * effect for name, effect in kept.items()}


def speed_axes(plane: Plane, *, level: BrakeLevel, crow: bool = True) -> tuple[tuple[str, Mapping[str, float]], ...]:
    """Axes of doubt of the corrections that move a steady speed; that of a measured level is a tenth at most."""
    names = [
        factor
        for factor in SPEED_FACTORS
        if not ((factor == "crow_drag" and not crow) or (factor == "brake_damping" and level.percent <= 0))
    ]
    axes = plane.doubt.along(names)
    if level.damping is None:
        return axes
    most = min(plane.doubt.sigma("brake_damping"), MEASURED_DAMPING_SIGMA)
    return tuple((name, {"brake_damping": most} if set(axis) == {"brake_damping"} else axis) for name, axis in axes)


def _input_nudge(plane: Plane, path: str, low: float, high: float) -> Nudge:
    return Nudge(
        name=path,
        low=Variant(plane=perturbed(plane, {path: low})),
        high=Variant(plane=perturbed(plane, {path: high})),
    )


# --- surfaces --------------------------------------------------------------------------------------------------------


def surface_nudges(frames: Sequence[Airframe], done: Survey, crow: Crow | None) -> dict[str, tuple[Nudge, ...]]:
    """By line: what late and early transition do to the surfaces' drag, and half a degree of crow setting.

    Args:
        frames: the aeroplane with the nominal, the late and the early transition.
    """
    plane = frames[0].plane
    speeds = np.array([line.speed.speed if line.speed is not None else done.wanted for line in done.lines])
    slopes = np.array([line.slope for line in done.lines])
    out = np.array([line.deployment if crow is not None else 0.0 for line in done.lines])
    clean, crowed = zip(*(_surface_drags(frame, speeds, slopes, out, crow) for frame in frames), strict=True)
    found: dict[str, tuple[Nudge, ...]] = {}
    for index, line in enumerate(done.lines):
        added = crowed[0][index] - clean[0][index]
        both = [
            Variant(
                plane=plane,
                clean=float(clean[k][index] / clean[0][index]),
                crow=float((crowed[k][index] - clean[k][index]) / added) if abs(added) > 1e-6 else 1.0,
            )
            for k in (1, 2)
        ]
        found[line.name] = (Nudge(name="sections.transition", low=both[0], high=both[1]),)
    return found


def _surface_drags(
    frame: Airframe, speed: Floats, slope: Floats, deployment: Floats, crow: Crow | None
) -> tuple[Floats, Floats]:
    both = balance(
        frame,
        speed=np.tile(speed, 2),
        slope=np.tile(slope, 2),
        crow=crow,
        deployment=np.concatenate([0 * deployment, deployment]),
    ).drag_surfaces
    return both[: len(speed)], both[len(speed) :]


def setting_nudge(plane: Plane, tables: Tables, line: LineAnswer, crow: Crow) -> Nudge:
    """Crow set half a degree too small and too large: its drag at the line's speed and deployment, by the table.

    No doubt where the plan's crow is nil or adds no drag.
    """
    table = tables.lines[line.name]
    speed = line.speed.speed if line.speed is not None else tables.wanted
    now = float(table.shares(speed, line.deployment)[2])
    if crow.angle <= 0 or now <= 0:
        still = Variant(plane=plane, crow=1.0)
        return Nudge(name="plan.crow_setting", low=still, high=still)
    share = CROW_SETTING / crow.angle
    low, high = (float(table.shares(speed, line.deployment * (1 + s * share))[2]) for s in (-1, 1))
    if line.deployment * (1 + share) > 1:
        high = 2 * now - low
    return Nudge(
        name="plan.crow_setting",
        low=Variant(plane=plane, crow=low / now),
        high=Variant(plane=plane, crow=high / now),
    )


# --- speeds ----------------------------------------------------------------------------------------------------------


def speed_estimates(
    unit: PowerUnit,
    plan: Plan,
    tables: Tables,
    done: Survey,
    *,
    inputs: Sequence[Nudge],
    surfaces: Mapping[str, Sequence[Nudge]] | None = None,
) -> dict[str, tuple[Estimate | None, ...]]:
    """An estimate for every steady speed of every line at the same stick.

    None where no changed plane has a steady speed nearby on either side (it lies at a fold).
    """
    found = {}
    for line in done.lines:
        own = [*inputs, *(surfaces or {}).get(line.name, ())]
        if not line.closed:
            own = [nudge for nudge in own if nudge.name not in _CLOSED_ONLY]
        if plan.crow is not None and line.deployment > 0.02:
            own.append(setting_nudge(unit.plane, tables, line, plan.crow))
        found[line.name] = tuple(_state_estimate(unit, plan, tables, line, entry.state, own) for entry in line.steady)
    return found


_CLOSED_ONLY = ("corrections.brake_damping", "controller.brake_frequency", "motor.inductance")


def _state_estimate(
    unit: PowerUnit, plan: Plan, tables: Tables, line: LineAnswer, here: SteadySpeed, own: Sequence[Nudge]
) -> Estimate | None:
    variants = [variant for nudge in own for variant in (nudge.low, nudge.high)]
    moved = variant_speeds(
        unit,
        plan,
        tables.lines[line.name],
        stick=line.stick,
        deployment=line.deployment,
        near=here,
        variants=variants,
    )
    speeds = moved.speed.copy()
    for index in np.flatnonzero(~moved.found).tolist():
        speeds[index] = searched_speed(unit, plan, tables, line, here, variants[index])
    effects = {
        nudge.name: _effect(here.speed, float(speeds[2 * k]), float(speeds[2 * k + 1])) for k, nudge in enumerate(own)
    }
    return combine(here.speed, narrowed(effects)) if all(map(math.isfinite, effects.values())) else None


def _effect(here: float, low: float, high: float) -> float:
    """Half the difference; with one side lost over a fold, the other side's difference; NaN with both lost."""
    if math.isfinite(low) and math.isfinite(high):
        return 0.5 * (high - low)
    if math.isfinite(high):
        return high - here
    return here - low


def searched_speed(
    unit: PowerUnit, plan: Plan, tables: Tables, line: LineAnswer, here: SteadySpeed, variant: Variant
) -> float:
    """The steady speed of a changed plane by the full search, nearest to the one it came from; NaN without one."""
    changed = replace(unit, plane=variant.plane)
    table = tables_for(tables, variant.plane).lines[line.name].scaled(clean=variant.clean, crow=variant.crow)
    shaft, _ = shaft_at(changed, plan, line.stick)
    speeds = np.linspace(0.6 * here.speed, 1.6 * here.speed, 72)
    curve = shaft_curve(shaft, speeds, omega_grid(variant.plane, float(speeds[-1]), steps=150))
    states = steady_speeds(curve, table, line.deployment)
    alike = [state.speed for state in states if state.stable == here.stable]
    return min(alike, key=lambda speed: abs(speed - here.speed), default=math.nan)


# --- holding stick ---------------------------------------------------------------------------------------------------


def stick_estimates(
    unit: PowerUnit, plan: Plan, drag: SlopeDrag, holding: Sequence[Holding], *, wanted: float, inputs: Sequence[Nudge]
) -> tuple[Estimate | None, ...]:
    """An estimate for every holding stick (0-1) that is governed: the change of force over its change with stick.

    Linear about the nominal stick. None where the stick rests on an end or in the closed band.
    """
    sticks = np.array([held.stick for held in holding])
    governed = np.array([held.status is Status.OK and 0 < held.stick < 1 for held in holding])
    step = 0.01

    def forces(at: Floats, variant: Variant) -> Floats:
        return _forces(unit, plan, drag, at, wanted, variant, asked=governed)

    ahead = forces(np.minimum(sticks + step, 1.0), Variant(plane=unit.plane))
    behind = forces(np.maximum(sticks - step, 0.0), Variant(plane=unit.plane))
    per_stick = (ahead - behind) / (np.minimum(sticks + step, 1.0) - np.maximum(sticks - step, 0.0))
    effects: list[dict[str, float]] = [{} for _ in holding]
    for nudge in inputs:
        low, high = forces(sticks, nudge.low), forces(sticks, nudge.high)
        for index in np.flatnonzero(governed).tolist():
            effects[index][nudge.name] = 0.5 * float(high[index] - low[index]) / max(float(per_stick[index]), 1e-6)
    return tuple(
        combine(held.stick, narrowed(effects[index])) if governed[index] else None for index, held in enumerate(holding)
    )


def _forces(
    unit: PowerUnit,
    plan: Plan,
    drag: SlopeDrag,
    sticks: Floats,
    wanted: float,
    variant: Variant,
    *,
    asked: NDArray[np.bool_],
) -> Floats:
    """Excess force along the path (N) on every slope at its stick and the wanted speed, for a changed plane.

    Right on the slopes `asked` for only: elsewhere the motor counts as free even where it is held closed.
    """
    changed = replace(unit, plane=variant.plane)
    command = plan.motor.command(sticks)
    thrust = driven(changed.plane, changed.propeller, wanted, command, density=changed.density).thrust
    closed = (command < changed.plane.controller.closed_below) & asked
    if closed.any():
        states = shaft_states(changed.plane, changed.propeller, plan.motor.level, wanted, density=changed.density)
        stable = np.flatnonzero(states.stable[0])
        thrust = np.where(closed, states.thrust[0, stable[-1]] if stable.size else 0.0, thrust)
    held = drag.own_drags(plan.deployment(sticks), changed.plane.corrections)
    return np.asarray(thrust - held - changed.plane.mass.all_up * G0 * np.sin(drag.slopes))
