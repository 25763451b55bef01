"""Flights of a plane that is not quite what its file says, seen through instruments: none of the fit's shortcuts.

The plane flown differs in every correction, in mass, kv, resistances, transition and in how the crow was set. It flies
an arc from level into the line, closes the throttle somewhere near its end, its servos turn at their own pace, the air
is gusty, and the shaft has inertia. Everything is integrated by an adaptive method of SciPy on balances solved anew for
the changed plane. What a recorder, a camera or a stopwatch makes of it is evidence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from evenfall.air import G0
from evenfall.lines.balance import airframe
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.line import fastest_stable
from evenfall.lines.shaft import PowerUnit, Shaft, braked_shaft, driven_shaft, free_shaft
from evenfall.lines.survey import line_curve
from evenfall.logs.evidence import Flight, TimedLine, TracedLine
from evenfall.plane.corrections import PRIOR_SIGMA, Corrections
from evenfall.plane.perturb import attribute, perturbed
from evenfall.power.train import driven
from evenfall.radio.plan import Plan
from evenfall.workflow import Ready

Floats = NDArray[np.float64]

INPUTS = ("mass.all_up", "motor.kv", "motor.resistance", "battery.resistance", "battery.rest_voltage_per_cell")
SERVO_RATE = math.radians(60) / 0.1
"""rad/s of surface: a quick small servo through a linkage of about one to one."""
SLOPES = (0.0, -math.pi / 4, -math.pi / 2)


@dataclass(frozen=True)
class Truth:
    """The plane that is flown: its shafts, its drag on three slopes, and its plan as really set."""

    unit: PowerUnit
    plan: Plan
    tables: tuple[DragTable, ...]
    clean: tuple[DragTable, ...]

    def drag(self, speed: float, slope: float, deployment: float, load: float, *, crow: bool) -> float:
        """Drag on any slope between the solved ones, N; a load factor adds an eighth of the drag for each g^2 - 1."""
        tables = self.tables if crow else self.clean
        values = [float(table.drag(speed, deployment)) for table in tables]
        held = float(np.interp(-slope, [-angle for angle in SLOPES], values))
        return held * (1 + 0.12 * max(load**2 - 1, 0.0))

    def down_speed(self, flight: Flight) -> float:
        """Steady speed of the vertical down, m/s."""
        table = (self.tables if flight.crow else self.clean)[2]
        curve = line_curve(braked_shaft(self.unit, self.plan.motor.level), wanted=table.speeds[-1] / 2.8)
        found = fastest_stable(curve, table, float(self.plan.deployment(flight.stick)) if flight.crow else 0.0)
        assert found is not None
        return found


def draw(ready: Ready, plan: Plan, rng: np.random.Generator, *, made: Corrections | None = None) -> Truth:
    """One plane of those the file may stand for; `made` are its corrections, drawn from the prior where not given."""
    if made is None:
        made = Corrections(**{name: math.exp(sigma * rng.normal()) for name, sigma in PRIOR_SIGMA.items()})
    plane = replace(ready.file.plane, corrections=made)
    changes = {}
    for path in INPUTS:
        now = float(attribute(plane, path))
        sigma = ready.file.spreads[path].absolute(now) if path in ready.file.spreads else 0.0
        changes[path] = now + float(np.clip(rng.normal(), -2, 2)) * sigma
    plane = perturbed(plane, changes)
    set_plan = plan
    if plan.crow is not None:
        off = math.radians(0.5)
        crow = replace(
            plan.crow,
            upper=plan.crow.upper + off * rng.normal() * (plan.crow.upper != 0),
            lower=plan.crow.lower + off * rng.normal() * (plan.crow.lower != 0),
        )
        set_plan = replace(plan, crow=crow)
    frame = airframe(plane, ready.air, transition=float(np.clip(0.5 + 0.35 * rng.normal(), 0, 1)))
    solve = {"wanted": ready.wanted, "slopes": SLOPES}
    return Truth(
        unit=PowerUnit(plane=plane, propeller=ready.unit.propeller, density=ready.air.density),
        plan=set_plan,
        tables=tuple(drag_tables(frame, crow=set_plan.crow, **solve)),  # type: ignore[arg-type]
        clean=tuple(drag_tables(frame, crow=None, **solve)),  # type: ignore[arg-type]
    )


@dataclass(frozen=True)
class Path:
    """What really happened: time s, way m along the path, height lost m, slope rad, and when the stick closed."""

    time: Floats
    way: Floats
    lost: Floats
    slope: Floats
    speed: Floats
    closed_at: float
    line_from: float


def gusts(rng: np.random.Generator, duration: float, *, sigma: float, scale: float) -> tuple[Floats, Floats]:
    """Gusts along the path: a first-order process of one sigma (m/s) and a time scale (s), every 50 ms."""
    time = np.arange(0.0, duration + 0.05, 0.05)
    keep = math.exp(-0.05 / scale)
    air = np.empty(len(time))
    air[0] = sigma * rng.normal()
    for k in range(1, len(time)):
        air[k] = keep * air[k - 1] + sigma * math.sqrt(1 - keep**2) * rng.normal()
    return time, air


def fly_line(truth: Truth, flight: Flight, rng: np.random.Generator, *, length: float, entry: float) -> Path:
    """An arc of some 15 m radius from level at `entry` m/s into the line, then `length` m of it."""
    radius = rng.uniform(12.0, 18.0)
    arc = radius * abs(flight.slope)
    closes = arc * rng.uniform(0.6, 1.0)
    duration = 3.0 * (arc + length) / max(entry, 10.0)
    when, air = gusts(rng, duration, sigma=0.5, scale=1.5)
    plane, unit = truth.unit.plane, truth.unit
    power = float(rng.uniform(0.35, 0.55))
    running, held, loose = driven_shaft(unit, power), braked_shaft(unit, truth.plan.motor.level), free_shaft(unit)
    angle = truth.plan.crow.angle if flight.crow and truth.plan.crow is not None else 0.0
    target = float(truth.plan.deployment(flight.stick)) if flight.crow else 0.0
    rate = SERVO_RATE / angle if angle > 0 else 1.0
    omega = float(driven(plane, unit.propeller, entry, power, density=unit.density).omega)
    closed_at = math.inf

    def shaft_of(time: float) -> Shaft:
        if time < closed_at:
            return running
        return loose if time < closed_at + plane.controller.brake_delay else held

    def rates(time: float, y: Floats) -> Floats:
        way, v, w, out, _ = y
        slope = flight.slope * min(way / arc, 1.0)
        load = math.cos(slope) + (v * v / (radius * G0) if way < arc else 0.0)
        through = max(v + float(np.interp(time, when, air)), 1.0)
        shaft = shaft_of(time)
        thrust, torque = shaft.loads(through, max(w, 0.0))
        spin = (-float(torque) - float(shaft.holding_back(np.array(max(w, 0.0))))) / shaft.inertia
        held_back = truth.drag(through, slope, out, load, crow=flight.crow)
        move = rate if out < target - 1e-4 and time >= closed_at else 0.0
        force = float(thrust) - held_back - plane.mass.all_up * G0 * math.sin(slope)
        return np.array([v, force / plane.mass.all_up, spin, move, -v * math.sin(slope)])

    def reaches(where: float):
        def event(_: float, y: Floats) -> float:
            return float(y[0] - where)

        event.terminal = True  # type: ignore[attr-defined]
        return event

    state = np.array([0.0, entry, omega, 0.0, 0.0])
    first = solve_ivp(
        rates, (0.0, duration), state, events=reaches(closes), max_step=0.05, rtol=1e-4, dense_output=True
    )
    closed_at = float(first.t[-1])
    second = solve_ivp(
        rates, (closed_at, duration), first.y[:, -1], events=reaches(arc + length), max_step=0.03, rtol=1e-4
    )
    time = np.concatenate([first.t, second.t[1:]])
    way = np.concatenate([first.y[0], second.y[0][1:]])
    return Path(
        time=time,
        way=way,
        lost=np.concatenate([first.y[4], second.y[4][1:]]),
        slope=flight.slope * np.minimum(way / arc, 1.0),
        speed=np.concatenate([first.y[1], second.y[1][1:]]),
        closed_at=closed_at,
        line_from=float(np.interp(arc, way, time)),
    )


def _start(path: Path, at: float, rng: np.random.Generator, share: float) -> tuple[float, float]:
    speed = float(np.interp(at, path.time, path.speed))
    return max(speed * (1 + share * rng.normal()), 3.0), share * speed


def by_gps(path: Path, flight: Flight, rng: np.random.Generator, *, name: str) -> TracedLine:
    """10 Hz positions of 2.5 m CEP (2.1 m an axis, 3.2 m in height), from when the line stands."""
    begin = max(path.line_from, path.closed_at + 0.5)
    time = np.arange(begin, path.time[-1], 0.1)
    way = np.interp(time, path.time, path.way)
    sigma = math.hypot(3.2 * math.sin(flight.slope), 2.1 * math.cos(flight.slope))
    speed, doubt = _start(path, begin, rng, 0.12)
    return TracedLine(
        name=name,
        flight=flight,
        time=time - begin,
        way=way - way[0] + sigma * rng.normal(size=len(time)),
        sigma=sigma,
        speed=speed,
        speed_sigma=doubt,
    )


def by_video(path: Path, flight: Flight, rng: np.random.Generator, *, name: str) -> TracedLine:
    """Clicks 2 px off at 25 frames a second, every third frame; 1920 px over 60 degrees at 90 m; span known to 1 %."""
    begin = max(path.line_from, path.closed_at + 0.5)
    time = np.arange(begin, path.time[-1], 0.12)
    way = np.interp(time, path.time, path.way)
    sigma = 2 * 90.0 * math.radians(60) / 1920
    speed, doubt = _start(path, begin, rng, 0.12)
    scale = 1 + 0.01 * rng.normal()
    return TracedLine(
        name=name,
        flight=flight,
        time=time - begin,
        way=scale * (way - way[0]) + sigma * rng.normal(size=len(time)),
        sigma=sigma,
        scale_sigma=0.01,
        speed=speed,
        speed_sigma=doubt,
    )


def by_stopwatch(path: Path, flight: Flight, rng: np.random.Generator, *, name: str) -> TimedLine:
    """100 m between two heights, .3 s of thumb."""
    begin = max(path.line_from, path.closed_at + 0.5)
    start = float(np.interp(begin, path.time, path.way))
    skipped = 10.0
    ends = np.interp([start + skipped, start + skipped + 100.0], path.way, path.time)
    speed, doubt = _start(path, begin, rng, 0.15)
    return TimedLine(
        name=name,
        flight=flight,
        skipped=skipped,
        length=100.0,
        seconds=max(float(ends[1] - ends[0]) + 0.3 * rng.normal(), 0.5),
        sigma=0.3,
        speed=speed,
        speed_sigma=doubt,
    )
