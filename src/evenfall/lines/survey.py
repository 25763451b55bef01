"""Everything one plan does on the five lines: steady speeds at the stick each is flown with, and where entries end."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.lines.balance import Airframe
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.entry import ends_in, march, reached_from, stable_step
from evenfall.lines.holding import Holding, SlopeDrag, holding_sticks, slope_drag, stick_thrust
from evenfall.lines.line import LINES, SteadySpeed, steady_speeds
from evenfall.lines.shaft import (
    PowerUnit,
    Shaft,
    ShaftCurve,
    braked_shaft,
    driven_shaft,
    free_shaft,
    omega_grid,
    shaft_curve,
)
from evenfall.numeric import Status
from evenfall.plane.airframe import Plane
from evenfall.power.train import driven
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

SLOPES = tuple(math.radians(degrees) for degrees in range(-90, 91, 15))
"""Slopes of the holding stick, rad."""
ENTRY_SHARES = (0.3, 0.45, 0.6, 0.75, 0.9, 1.0, 1.1, 1.25, 1.4, 1.6)
"""Entry speeds tried, in units of the wanted speed."""
SERVO_LAG = 0.1
"""s, first-order lag of the deployment; servo and radio ramp together. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class SteadyEntry:
    """A steady speed and the entry speeds (m/s, lowest and highest of those tried) that end in it, None where none."""

    state: SteadySpeed
    reached_from: tuple[float, float] | None


@dataclass(frozen=True, kw_only=True)
class LineAnswer:
    """One line at the stick it is flown with.

    Args:
        slope: rad. stick, deployment: 0-1.
        closed: the motor is held closed there.
        status: of the holding stick, or of the speeds found there.
    """

    name: str
    slope: float
    stick: float
    deployment: float
    closed: bool
    status: Status
    steady: tuple[SteadyEntry, ...]

    @property
    def speed(self) -> SteadySpeed | None:
        """The stable steady speed most entries end in; None where there is none."""
        stable = [entry for entry in self.steady if entry.state.stable]
        reached = [entry for entry in stable if entry.reached_from is not None]
        best = max(reached or stable, key=_width, default=None)
        return None if best is None else best.state


def _width(entry: SteadyEntry) -> float:
    return 0.0 if entry.reached_from is None else entry.reached_from[1] - entry.reached_from[0] + 1.0


@dataclass(frozen=True, kw_only=True)
class Tables:
    """Drag of one plan: by line over speed and deployment, and at the wanted speed over slopes."""

    wanted: float
    lines: dict[str, DragTable]
    slopes: SlopeDrag


def plan_tables(frame: Airframe, plan: Plan, *, wanted: float) -> Tables:
    """Solve every balance a survey needs; `wanted` m/s."""
    tables = drag_tables(frame, wanted=wanted, slopes=list(LINES.values()), crow=plan.crow)
    return Tables(
        wanted=wanted,
        lines=dict(zip(LINES, tables, strict=True)),
        slopes=slope_drag(frame, plan, wanted=wanted, slopes=SLOPES),
    )


def tables_for(tables: Tables, plane: Plane) -> Tables:
    """The same balances for a plane with other corrections or mass: see `DragTable.weighing` for its reach."""
    weight = plane.mass.all_up * 9.80665
    lines = {name: table.corrected(plane.corrections).weighing(weight) for name, table in tables.lines.items()}
    return replace(tables, lines=lines)


@dataclass(frozen=True, kw_only=True)
class Survey:
    """The five lines and the holding sticks of one plan."""

    wanted: float
    lines: tuple[LineAnswer, ...]
    holding: tuple[Holding, ...]

    def line(self, name: str) -> LineAnswer:
        """The line of that name."""
        return next(answer for answer in self.lines if answer.name == name)


def survey(unit: PowerUnit, plan: Plan, tables: Tables, *, entries: bool = True) -> Survey:
    """Steady speeds of the five lines, each at its holding stick or the nearest end, and the holding sticks.

    Args:
        entries: march from the entry speeds to find where each ends (otherwise `reached_from` is None).
    """
    thrust = stick_thrust(unit, plan, wanted=tables.wanted)
    holding = holding_sticks(unit, plan, tables.slopes, thrust)
    by_slope = {round(math.degrees(item.slope)): item for item in holding}
    answers = []
    for name, table in tables.lines.items():
        held = by_slope[round(math.degrees(table.slope))]
        answers.append(line_answer(unit, plan, table, name=name, held=held, wanted=tables.wanted, entries=entries))
    return Survey(wanted=tables.wanted, lines=tuple(answers), holding=holding)


def shaft_at(unit: PowerUnit, plan: Plan, stick: float) -> tuple[Shaft, bool]:
    """The shaft at a stick position (0-1), and whether the motor is held closed there."""
    if plan.motor.command(stick) < unit.plane.controller.closed_below:
        return braked_shaft(unit, plan.motor.level), True
    return driven_shaft(unit, float(plan.motor.command(stick))), False


def line_curve(shaft: Shaft, *, wanted: float) -> ShaftCurve:
    """Equilibria of a shaft over the speeds a line may have around `wanted` m/s."""
    speeds = wanted * np.linspace(0.3, 2.8, 140)
    return shaft_curve(shaft, speeds, omega_grid(shaft.unit.plane, float(speeds[-1])))


def line_answer(
    unit: PowerUnit,
    plan: Plan,
    table: DragTable,
    *,
    name: str,
    held: Holding,
    wanted: float,
    entries: bool = True,
) -> LineAnswer:
    """Every steady speed of one line at the stick it is flown with; `wanted` m/s, `entries`: where entries end too."""
    shaft, closed = shaft_at(unit, plan, held.stick)
    deployment = float(plan.deployment(held.stick))
    states = steady_speeds(line_curve(shaft, wanted=wanted), table, deployment)
    found = [SteadyEntry(state=state, reached_from=None) for state in states]
    if entries and len(states) == 1 and states[0].stable:
        # A single steady speed that is stable draws every entry: no march is needed.
        tried = [share * wanted for share in ENTRY_SHARES if share * wanted > table.lowest_speed]
        found = [SteadyEntry(state=states[0], reached_from=(min(tried), max(tried)))] if tried else found
    elif entries and states:
        found = _with_entries(unit, table, shaft, closed, deployment, states, wanted)
    return LineAnswer(
        name=name,
        slope=table.slope,
        stick=held.stick,
        deployment=deployment,
        closed=closed,
        status=line_status(held, states),
        steady=tuple(found),
    )


def line_status(held: Holding, states: tuple[SteadySpeed, ...]) -> Status:
    """What is to be said of a line: its holding stick, or that it has no or several stable steady speeds.

    A stick at either end says more than that no steady speed was found in the speeds a line may have.
    """
    stable = [state for state in states if state.stable]
    if held.status is Status.STALLED:
        return held.status
    if not stable and held.status in (Status.STICK_AT_CLOSED_END, Status.STICK_AT_OPEN_END):
        return held.status
    if not stable:
        return Status.NO_STEADY_SPEED
    if len(stable) > 1 and held.status is Status.OK:
        return Status.SEVERAL_SPEEDS
    return held.status


def _with_entries(
    unit: PowerUnit,
    table: DragTable,
    shaft: Shaft,
    closed: bool,
    deployment: float,
    states: tuple[SteadySpeed, ...],
    wanted: float,
) -> list[SteadyEntry]:
    speed = wanted * np.asarray(ENTRY_SHARES)
    speed = speed[speed > table.lowest_speed]
    plane = unit.plane
    started = driven(plane, unit.propeller, speed, 0.5, density=unit.density)
    result = march(
        table,
        free=free_shaft(unit) if closed else shaft,
        held=shaft,
        brake_delay=plane.controller.brake_delay if closed else 0.0,
        speed=speed,
        omega=started.omega,
        deployment=deployment,
        deployment_lag=SERVO_LAG,
        step=stable_step(shaft, speed=wanted, omega=float(np.median([s.omega for s in states]))),
        until=states,
    )
    ended = ends_in(result, states)
    return [
        SteadyEntry(state=state, reached_from=reached_from(speed, ended, index)) for index, state in enumerate(states)
    ]
