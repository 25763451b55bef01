"""Evenings of flights with a plan that changes between them: a plane that is not quite what its file says.

Beside what `tests/fit/simulated.py` makes different, this plane has its own CG, its own incidences and its own moment
of crow, so that it bends by itself; its crow is never set quite as asked, and its elevator mix is not quite as strong.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.balance import Airframe, airframe
from evenfall.lines.bend import BendCase, bends
from evenfall.lines.crow_tables import crow_family
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.line import fastest_stable
from evenfall.lines.shaft import PowerUnit, ShaftCurve, braked_shaft, driven_shaft, free_shaft
from evenfall.lines.spread_turn import BEND_INPUTS, INCIDENCE
from evenfall.lines.survey import line_curve
from evenfall.logs.evidence import Flight, Pull
from evenfall.plane.corrections import PRIOR_SIGMA, Corrections
from evenfall.plane.perturb import attribute, perturbed
from evenfall.power.train import driven, shaft_states
from evenfall.radio.plan import Crow, Plan
from evenfall.workflow import Ready
from fit import simulated

Floats = NDArray[np.float64]

DOWN = Flight(slope=-math.pi / 2)
GAUGE = math.radians(0.25)
"""One sigma of crow that is set anew, rad; the first setting is off by twice that."""
MIX = 0.05
"""One sigma of the strength of the elevator mix, share."""


@dataclass(frozen=True)
class Truth:
    """The plane that is flown: its frame and shafts, its drag on three slopes for every crow of the plan's split."""

    frame: Airframe
    unit: PowerUnit
    tables: tuple[DragTable, ...]
    top: float
    mix: float
    wanted: float
    level_thrust: float
    curves: dict[str, ShaftCurve] = field(default_factory=dict)

    def share(self, crow: Crow) -> float:
        """Deployment of the tables that is this crow."""
        return min(crow.angle / self.top, 1.0)

    def down_speed(self, plan: Plan) -> float:
        """Steady speed of the closed vertical down with a plan as it is really set, m/s; inf where it runs away."""
        assert plan.crow is not None
        table = self.tables[2]
        level = plan.motor.level
        if level not in self.curves:
            self.curves[level] = line_curve(braked_shaft(self.unit, level), wanted=float(table.speeds[-1]) / 2.8)
        found = fastest_stable(self.curves[level], table, self.share(plan.crow))
        return math.inf if found is None else found

    def bend(self, plan: Plan, speed: float) -> float:
        """Bend of the vertical with crow out at a speed, rad/s towards the canopy: rate goes with speed, the elevator
        stays as level flight at the wanted speed has trimmed it."""
        assert plan.crow is not None
        crow = replace(plan.crow, elevator_share=plan.crow.elevator_share * self.mix)
        level, wanted = plan.motor.level, self.wanted
        states = shaft_states(self.unit.plane, self.unit.propeller, level, wanted, density=self.unit.density)
        stable = np.flatnonzero(states.stable[0])
        thrust = float(states.thrust[0, stable[-1]]) if stable.size else 0.0
        case = BendCase(slope=-math.pi / 2, crow=crow, thrust=thrust)
        found = bends(self.frame, [case], speed=wanted, level_thrust=self.level_thrust)
        return float(found.clean[0] + found.crow[0]) * speed / wanted


def draw(ready: Ready, plan: Plan, rng: np.random.Generator) -> Truth:
    """One plane of those the file may stand for."""
    inputs: tuple[str, ...] = simulated.INPUTS
    made = Corrections(**{name: math.exp(sigma * rng.normal()) for name, sigma in PRIOR_SIGMA.items()})
    plane = replace(ready.file.plane, corrections=made)
    changes = {}
    for path in (*inputs, *BEND_INPUTS):
        now = float(attribute(plane, path))
        sigma = ready.file.spreads[path].absolute(now) if path in ready.file.spreads else 0.0
        changes[path] = now + float(np.clip(rng.normal(), -2, 2)) * sigma
    for name in plane.wings:
        off = 0.7 * INCIDENCE * rng.normal()
        for side in ("left", "right"):
            path = f"{name}.incidence_{side}"
            changes[path] = float(attribute(plane, path)) + off
    changes["tail.incidence"] = float(attribute(plane, "tail.incidence")) + 0.7 * INCIDENCE * rng.normal()
    plane = perturbed(plane, changes)
    frame = airframe(plane, ready.air, transition=float(np.clip(0.5 + 0.35 * rng.normal(), 0, 1)))
    family = crow_family(plane, plan.crow)
    assert family is not None
    slopes = (0.0, -math.pi / 4, -math.pi / 2)
    tables = tuple(drag_tables(frame, wanted=ready.wanted, slopes=slopes, crow=family.largest))
    return Truth(
        frame=frame,
        unit=PowerUnit(plane=plane, propeller=ready.unit.propeller, density=ready.air.density),
        tables=tables,
        top=family.top,
        mix=1.0 + MIX * rng.normal(),
        wanted=ready.wanted,
        level_thrust=float(tables[0].drag(ready.wanted, 0.0)),
    )


def as_set(plan: Plan, off: float) -> Plan:
    """The plan as the pilot's gauge has really set it: crow `off` (rad) larger on both wings."""
    crow = plan.crow
    assert crow is not None
    factor = max(crow.angle + off, 0.0) / crow.angle
    elevator = crow.elevator_share / factor if factor > 0 else crow.elevator_share
    return replace(
        plan, crow=replace(crow, upper=factor * crow.upper, lower=factor * crow.lower, elevator_share=elevator)
    )


def fly_downs(truth: Truth, plan: Plan, rng: np.random.Generator, *, lines: int, entry: Floats) -> list[Any]:
    """Vertical downs from level through an arc of some 15 m, `simulated.Path` each, marched together.

    As `simulated.fly_line`: driven until the stick closes near the end of the arc, free for the brake's delay, then
    held; crow at the servo's own pace; gusty air. Fourth-order Runge-Kutta in 30 ms.
    """
    assert plan.crow is not None
    plane, unit, length, step = truth.unit.plane, truth.unit, 120.0, 0.03
    radius = rng.uniform(12.0, 18.0, lines)
    arc = radius * 0.5 * math.pi
    closes = arc * rng.uniform(0.6, 1.0, lines)
    duration = float(3.0 * (arc + length).max() / max(float(entry.min()), 10.0))
    half_steps = np.arange(0.0, duration + 2 * step, step / 2)
    blown = [simulated.gusts(rng, duration, sigma=0.5, scale=1.5) for _ in range(lines)]
    air = np.stack([np.interp(half_steps, when, speed) for when, speed in blown], axis=1)
    powers = rng.uniform(0.35, 0.55, lines)
    running = [driven_shaft(unit, float(power)) for power in powers]
    held, loose = braked_shaft(unit, plan.motor.level), free_shaft(unit)
    target = truth.share(plan.crow)
    rate = simulated.SERVO_RATE / truth.top
    density = 0.5 * unit.density
    columns = truth.tables[0].deployments.size - 1
    area = np.stack([_areas(table) for table in truth.tables])
    gap = [float(table.speeds[1] - table.speeds[0]) for table in truth.tables]
    starts = [float(table.speeds[0]) for table in truth.tables]

    def drag(speed: Floats, slope: Floats, out: Floats, load: Floats) -> Floats:
        values = []
        for k in range(3):
            row = np.clip((speed - starts[k]) / gap[k], 0, area.shape[1] - 1.000001)
            column = np.clip(out * columns, 0, columns - 1e-6)
            i, j = row.astype(int), column.astype(int)
            f, g = row - i, column - j
            one = area[k, i, j] * (1 - g) + area[k, i, j + 1] * g
            two = area[k, i + 1, j] * (1 - g) + area[k, i + 1, j + 1] * g
            values.append(one * (1 - f) + two * f)
        share = np.clip(-slope / (math.pi / 4), 0, 2)
        first = np.where(share < 1, values[0] + (values[1] - values[0]) * share, 0)
        second = np.where(share >= 1, values[1] + (values[2] - values[1]) * (share - 1), 0)
        held_back = density * speed**2 * (first + second)
        return np.asarray(held_back * (1 + 0.12 * np.maximum(load**2 - 1, 0.0)))

    way, v, out, lost = np.zeros(lines), entry.copy(), np.zeros(lines), np.zeros(lines)
    w = np.array(
        [
            float(driven(plane, unit.propeller, float(e), float(p), density=unit.density).omega)
            for e, p in zip(entry, powers, strict=True)
        ]
    )
    closed_at = np.full(lines, np.inf)
    rows = [(0.0, way, lost, v, np.zeros(lines))]

    def rates(time: float, way: Floats, v: Floats, w: Floats, out: Floats) -> tuple[Floats, ...]:
        slope = -0.5 * math.pi * np.minimum(way / arc, 1.0)
        load = np.cos(slope) + np.where(way < arc, v * v / (radius * G0), 0.0)
        through, w = np.maximum(v + air[round(2 * time / step)], 1.0), np.maximum(w, 0.0)
        thrust, torque = held.loads(through, w)
        back = np.where(time < closed_at + plane.controller.brake_delay, loose.holding_back(w), held.holding_back(w))
        on = time < closed_at
        if on.any():
            back = np.where(on, [float(one.holding_back(np.array(x))) for one, x in zip(running, w, strict=True)], back)
        move = np.where((out < target - 1e-4) & ~on, rate, 0.0)
        force = thrust - drag(through, slope, out, load) - plane.mass.all_up * G0 * np.sin(slope)
        return v, force / plane.mass.all_up, (-torque - back) / unit.inertia, move, -v * np.sin(slope)

    time = 0.0
    while time < duration and (way < arc + length).any():
        a = rates(time, way, v, w, out)
        b = rates(time + step / 2, *(x + step / 2 * d for x, d in zip((way, v, w, out), a, strict=False)))
        c = rates(time + step / 2, *(x + step / 2 * d for x, d in zip((way, v, w, out), b, strict=False)))
        d = rates(time + step, *(x + step * e for x, e in zip((way, v, w, out), c, strict=False)))
        moved = [
            x + step / 6 * (p + 2 * q + 2 * r + s)
            for x, p, q, r, s in zip((way, v, w, out, lost), a, b, c, d, strict=True)
        ]
        way, v, w, out, lost = moved
        v, w, out = np.maximum(v, 1.0), np.maximum(w, 0.0), np.minimum(out, target)
        time += step
        closed_at = np.where((way >= closes) & ~np.isfinite(closed_at), time, closed_at)
        rows.append((time, way, lost, v, -0.5 * math.pi * np.minimum(way / arc, 1.0)))
    times = np.array([row[0] for row in rows])
    ways, losts, speeds, slopes = (np.stack([row[k] for row in rows]) for k in (1, 2, 3, 4))
    found = []
    for k in range(lines):
        until = int(np.searchsorted(ways[:, k], arc[k] + length)) + 1
        found.append(
            simulated.Path(
                time=times[:until],
                way=ways[:until, k],
                lost=losts[:until, k],
                slope=slopes[:until, k],
                speed=speeds[:until, k],
                closed_at=float(closed_at[k]),
                line_from=float(np.interp(arc[k], ways[:, k], times)),
            )
        )
    return found


def _areas(table: DragTable) -> Floats:
    """Drag area over speeds and deployments, corrections applied, m^2."""
    v, d = np.meshgrid(table.speeds, table.deployments, indexing="ij")
    return np.asarray(table.clean_area(v, d) + table.crow_area(v, d))


def pulls(truth: Truth, plan: Plan, rng: np.random.Generator, *, speed: float, sigma: float, lines: int) -> list[Pull]:
    """The pulls as they are seen, one on each line."""
    bend = truth.bend(plan, speed)
    return [Pull(name=f"pull {k}", flight=DOWN, rate=bend + sigma * rng.normal(), sigma=sigma) for k in range(lines)]
