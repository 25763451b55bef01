"""What a plan does on the five lines and over all slopes, from tables: fast enough to follow a hand on a slider.

The same equations as `survey`, all lines in one batch. Nothing is marched: of several stable speeds the one with the
fastest shaft counts, because a closing throttle arrives from above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.air import G0
from evenfall.lines.crow_tables import CrowTables, LineStack
from evenfall.lines.holding import Holding, StickThrust, holding_sticks
from evenfall.lines.line import LINES, SteadySpeed, polish_steady, returns
from evenfall.lines.map_curves import equivalent_percent
from evenfall.lines.shaft import PowerUnit, Shaft
from evenfall.lines.shaft_tables import ShaftTables
from evenfall.lines.survey import line_status
from evenfall.numeric import Status
from evenfall.plane.electrics import BrakeLevel
from evenfall.power.motor import drive
from evenfall.power.train import brake_torque
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class QuickLine:
    """One line at the stick it is flown with.

    Args:
        slope: rad. stick, deployment: 0-1. closed: the motor is held closed there.
        states: every steady speed, slowest first.
    """

    name: str
    slope: float
    stick: float
    deployment: float
    closed: bool
    status: Status
    states: tuple[SteadySpeed, ...]

    @property
    def speed(self) -> SteadySpeed | None:
        """The stable steady speed with the fastest shaft; None without one."""
        return max((state for state in self.states if state.stable), key=lambda state: state.omega, default=None)


@dataclass(frozen=True, kw_only=True)
class Quick:
    """What a plan does, without spreads.

    Args:
        with_crow, without_crow: holding sticks over slopes.
        step: N along the path gained where the motor comes free of the closed band.
        brake: percent of motor brake that holds like the level.
    """

    wanted: float
    lines: tuple[QuickLine, ...]
    with_crow: tuple[Holding, ...]
    without_crow: tuple[Holding, ...]
    step: float
    brake: float

    def line(self, name: str) -> QuickLine:
        """The line of that name."""
        return next(line for line in self.lines if line.name == name)


def quick(shafts: ShaftTables, tables: CrowTables, plan: Plan) -> Quick:
    """Speeds and holding sticks of a plan. Raises `ValueRangeError` for more crow than the tables hold."""
    share = tables.share(plan.crow)
    thrust = shafts.thrust(plan)
    bare = replace(plan, crow=None)
    without = holding_sticks(shafts.unit, bare, tables.slope_drag(0.0), thrust)
    held = without
    if plan.crow is not None:
        held = holding_sticks(shafts.unit, plan, tables.slope_drag(share), thrust)
    by_slope = {round(math.degrees(item.slope)): item for item in held}
    flown = [by_slope[round(math.degrees(slope))] for slope in LINES.values()]
    lines = _lines(shafts, tables.stack(share), plan, flown, share)
    down = lines[0].speed
    level = shafts.unit.plane.controller.level(plan.motor.level)
    return Quick(
        wanted=shafts.wanted,
        lines=lines,
        with_crow=held,
        without_crow=without,
        step=_step(thrust),
        brake=level.percent if down is None else equivalent_percent(shafts.unit, level, down.omega),
    )


def _step(thrust: StickThrust) -> float:
    opened = int(np.argmin(thrust.closed))
    return 0.0 if opened == 0 else float(thrust.thrust[opened] - thrust.thrust[opened - 1])


@dataclass(frozen=True, kw_only=True)
class _Entries:
    """Several lines one entry each: what `polish_steady` needs of the path."""

    stack: LineStack
    line: Index

    @property
    def held(self) -> Floats:
        return self.stack.held[self.line]

    def drag(self, speed: ArrayLike, deployment: ArrayLike) -> Floats:
        v = np.asarray(speed, float)
        area = self.stack.area(self.stack.total, self.line, v, deployment)
        return np.asarray(0.5 * self.stack.density * v**2 * area)


def _lines(
    shafts: ShaftTables, stack: LineStack, plan: Plan, flown: list[Holding], share: float
) -> tuple[QuickLine, ...]:
    """The five lines, each at its stick."""
    commands = plan.motor.command([held.stick for held in flown])
    closed = commands < shafts.unit.plane.controller.closed_below
    out = plan.deployment([held.stick for held in flown])
    level = shafts.unit.plane.controller.level(plan.motor.level)
    curves = [
        shafts.braked(level.name) if shut else shafts.driven(command)
        for shut, command in zip(closed.tolist(), commands.tolist(), strict=True)
    ]
    line = np.repeat(np.arange(len(curves)), [curve.speed_a.size for curve in curves])
    entries, deployed = _Entries(stack=stack, line=line), share * out
    speed_a, speed_b = (np.concatenate([getattr(curve, name) for curve in curves]) for name in ("speed_a", "speed_b"))
    start = np.concatenate([curve.thrust_a for curve in curves]) - entries.held - entries.drag(speed_a, deployed[line])
    end = np.concatenate([curve.thrust_b for curve in curves]) - entries.held - entries.drag(speed_b, deployed[line])
    crossed = np.flatnonzero((start > 0) != (end > 0))
    part = start[crossed] / (start[crossed] - end[crossed])
    line = line[crossed]
    omega_a, omega_b = (
        np.concatenate([getattr(curve, name) for curve in curves])[crossed] for name in ("omega_a", "omega_b")
    )
    states = _solved(
        shafts.unit,
        stack,
        line,
        speed_a[crossed] + part * (speed_b - speed_a)[crossed],
        omega_a + part * (omega_b - omega_a),
        deployed[line],
        _mixed_shaft(shafts.unit, level, closed[line], commands[line]),
    )
    return tuple(
        QuickLine(
            name=name,
            slope=held.slope,
            stick=held.stick,
            deployment=float(out[index]),
            closed=bool(closed[index]),
            status=line_status(held, states[index]),
            states=states[index],
        )
        for index, (name, held) in enumerate(zip(LINES, flown, strict=True))
    )


def _mixed_shaft(unit: PowerUnit, level: BrakeLevel, closed: Flags, command: Floats) -> Shaft:
    """A shaft whose entries (last axis) are braked or driven, each at its own command."""
    plane = unit.plane

    def holding_back(omega: Floats) -> Floats:
        torque = np.empty(omega.shape)
        torque[..., closed] = brake_torque(plane, level, omega[..., closed])
        torque[..., ~closed] = -drive(
            omega[..., ~closed],
            command[~closed],
            motor=plane.motor,
            controller=plane.controller,
            battery=plane.battery,
        ).torque
        return torque

    return Shaft(unit=unit, holding_back=holding_back, inertia=unit.inertia)


def _solved(
    unit: PowerUnit, stack: LineStack, line: Index, speed: Floats, omega: Floats, deployed: Floats, shaft: Shaft
) -> list[tuple[SteadySpeed, ...]]:
    """Every crossing polished, by line, slowest first; stalled ones, those beyond the tables and twins left out."""
    found: list[list[SteadySpeed]] = [[] for _ in range(stack.held.size)]
    if speed.size == 0:
        return [() for _ in found]
    speed, omega, jacobian = polish_steady(shaft, _Entries(stack=stack, line=line), speed, omega, deployed)
    stable = returns(jacobian, mass=stack.weight / G0, inertia=shaft.inertia)
    thrust = shaft.loads(speed, omega)[0]
    pressure = 0.5 * stack.density * speed**2
    clean = pressure * stack.area(stack.clean, line, speed, deployed)
    crow = pressure * stack.area(stack.crow, line, speed, deployed)
    for k in np.lexsort((omega, speed, line)).tolist():
        row, v, w = int(line[k]), float(speed[k]), float(omega[k])
        twin = any(abs(v - s.speed) < 2e-3 * v and abs(w - s.omega) < 5e-3 * max(w, 10.0) for s in found[row])
        if twin or v <= stack.lowest[row] or v > stack.fastest[row]:
            continue
        found[row].append(
            SteadySpeed(
                speed=v,
                omega=w,
                stable=bool(stable[k]),
                airframe=float(clean[k]),
                crow=float(crow[k]),
                thrust=float(thrust[k]),
            )
        )
    return [tuple(states) for states in found]
