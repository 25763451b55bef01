"""Spread of steady speeds: the same engine rerun with one input at a time moved by one sigma either way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from evenfall.estimate import Estimate, combine
from evenfall.lines.drag import DragTable
from evenfall.lines.line import SteadySpeed, steady_speeds
from evenfall.lines.shaft import PowerUnit, omega_grid, shaft_curve
from evenfall.lines.survey import LineAnswer, Survey, Tables, shaft_at, tables_for
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import PRIOR_SIGMA
from evenfall.plane.perturb import attribute, perturbed
from evenfall.radio.plan import Plan

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
_SPEED_FACTORS = ("parasite_drag", "crow_drag", "braked_propeller_drag", "brake_damping", "thrust")


class Doubt(Protocol):
    """One sigma of an input in its own unit, as `evenfall.plane.guesses.Spread` gives it."""

    def absolute(self, value: float) -> float: ...


@dataclass(frozen=True, kw_only=True)
class Nudge:
    """One input one sigma down and up: `name` is its dotted path, `low` and `high` the changed planes."""

    name: str
    low: Plane
    high: Plane


def nudges(plane: Plane, spreads: Mapping[str, Doubt], *, crow: bool = True) -> tuple[Nudge, ...]:
    """Every uncertain input of a steady speed: factors of the engine by their priors, inputs by the file's spreads.

    A level whose damping was measured keeps a tenth of the doubt of the motor brake.
    """
    found = []
    for factor in _SPEED_FACTORS:
        if factor == "crow_drag" and not crow:
            continue
        sigma = PRIOR_SIGMA[factor]
        level = plane.controller.level(plane.controller.present_level)
        if factor == "brake_damping" and level.damping is not None:
            sigma = 0.1
        now = getattr(plane.corrections, factor)
        low, high = (replace(plane.corrections, **{factor: now * math.exp(s * sigma)}) for s in (-1, 1))
        name = f"corrections.{factor}"
        found.append(Nudge(name=name, low=replace(plane, corrections=low), high=replace(plane, corrections=high)))
    for path in SPEED_INPUTS:
        now = float(attribute(plane, path))
        sigma = spreads[path].absolute(now) if path in spreads else 0.0
        if sigma <= 0:
            continue
        step = min(sigma, 0.6 * now)
        found.append(
            Nudge(name=path, low=perturbed(plane, {path: now - step}), high=perturbed(plane, {path: now + sigma}))
        )
    return tuple(found)


def speed_estimates(
    unit: PowerUnit, plan: Plan, tables: Tables, done: Survey, *, inputs: tuple[Nudge, ...]
) -> dict[str, tuple[Estimate | None, ...]]:
    """An estimate for every steady speed of every line at the same stick; None where no changed plane has a
    steady speed nearby (it lies at a fold)."""
    effects: dict[str, list[dict[str, float]]] = {line.name: [{} for _ in line.steady] for line in done.lines}
    for nudge in inputs:
        for line in done.lines:
            if not line.closed and nudge.name == "corrections.brake_damping":
                continue
            low = _moved(unit, plan, tables, line, nudge.low)
            high = _moved(unit, plan, tables, line, nudge.high)
            for index, entry in enumerate(line.steady):
                effects[line.name][index][nudge.name] = _effect(entry.state, low[index], high[index])
    return {
        line.name: tuple(
            combine(entry.state.speed, effects[line.name][index])
            if all(math.isfinite(effect) for effect in effects[line.name][index].values())
            else None
            for index, entry in enumerate(line.steady)
        )
        for line in done.lines
    }


def _effect(here: SteadySpeed, low: SteadySpeed | None, high: SteadySpeed | None) -> float:
    """Half the difference; with one side lost over a fold, the other side's difference; NaN with both lost."""
    if low is not None and high is not None:
        return 0.5 * (high.speed - low.speed)
    if high is not None:
        return high.speed - here.speed
    if low is not None:
        return here.speed - low.speed
    return math.nan


def _moved(unit: PowerUnit, plan: Plan, tables: Tables, line: LineAnswer, plane: Plane) -> list[SteadySpeed | None]:
    """The steady speeds of a line for a changed plane, each nearest to the one it came from."""
    if not line.steady:
        return []
    changed = PowerUnit(plane=plane, propeller=unit.propeller, density=unit.density)
    table: DragTable = tables_for(tables, plane).lines[line.name]
    shaft, _ = shaft_at(changed, plan, line.stick)
    speeds_now = [entry.state.speed for entry in line.steady]
    speeds = np.linspace(0.6 * min(speeds_now), 1.6 * max(speeds_now), 72)
    curve = shaft_curve(shaft, speeds, omega_grid(plane, float(speeds[-1]), steps=150))
    states = steady_speeds(curve, table, line.deployment)
    return [_same(entry.state, states) for entry in line.steady]


def _same(here: SteadySpeed, states: tuple[SteadySpeed, ...]) -> SteadySpeed | None:
    """The state of the same stability that is nearest in speed."""
    alike = [state for state in states if state.stable == here.stable]
    return min(alike, key=lambda state: abs(state.speed - here.speed), default=None)
