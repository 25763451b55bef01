"""A demo plane with a plan whose corners are solved, and readings made for it, for the tests of the bench."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np

from evenfall.lines.bench import BenchList, bench_list
from evenfall.lines.bench_proof import form_rows
from evenfall.linkage.candidate import CentreShift
from evenfall.linkage.fourbar import forward, square, with_offset
from evenfall.linkage.offset import solve_plane
from evenfall.logs.readings import Reading
from evenfall.plane.airframe import Plane
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Crow, MotorChoice, Plan, Throws
from evenfall.tune.linkages import corner_setup, corner_tasks

rad, deg = math.radians, math.degrees
GAUGE = rad(0.3)
FAULTS = ("one tooth", "one hole", "gain", "slop", "centre", "reversed", "swapped plugs", "wrong side", "over-centre")


@cache
def demo(name: str = "biplane_124", crow_deg: float = 16.0) -> tuple[Plane, Plan]:
    """A demo plane and a plan with crow up/down and every corner fitted."""
    plane = load_plane(demo_path(name)).plane
    crow = Crow(
        arrangement="up/down",
        upper=-rad(crow_deg),
        lower=rad(crow_deg),
        threshold=0.45,
        curve=((0.0, 1.0), (0.05, 1.0), (0.45, 0.0), (1.0, 0.0)),
        elevator_share=0.25,
    )
    level = plane.controller.levels[2]
    plan = Plan(plane_name=plane.name, crow=crow, motor=MotorChoice(level=level.name, percent=level.percent))
    solved = solve_plane(corner_tasks(plane, crow, Throws(), {}))
    setups = {n: corner_setup(n, r.best, CentreShift()) for n, r in solved.corners.items() if r.best is not None}
    return plane, replace(plan, corners=setups)


def bench_of(name: str = "biplane_124") -> BenchList:
    """Its bench list."""
    return bench_list(*demo(name), level_stick=0.57)


def readings_of(
    bench: BenchList, fault: str = "", *, corner: str = "lower_left", seed: int = 1, noise: float = GAUGE
) -> tuple[Reading, ...]:
    """The form filled in by a gauge with noise, one fault at a corner (swapped: with the other wing's other side)."""
    rng = np.random.default_rng(seed)
    partner = "upper_right" if corner == "lower_left" else "lower_left"
    rows = []
    for row in form_rows(bench):
        for direction in (1, -1):
            for name in bench.corners:
                giver = {corner: partner, partner: corner}.get(name, name) if fault == "swapped plugs" else name
                angle = _surface(bench, row.phase, row.throttle, row.aileron, name, giver, fault * (name == corner))
                angle -= direction * rad(1.0) / 2 if fault == "slop" and name == corner else 0.0
                rows.append(_reading(row.phase, row.throttle, row.aileron, name, direction, angle, rng, noise))
            tail = bench.tail(bench.plan.named(row.phase), row.throttle)
            tail *= -1.0 if fault == "elevator" else 1.0
            rows.append(_reading(row.phase, row.throttle, row.aileron, "elevator", direction, tail, rng, noise))
    return tuple(replace(row, line=number + 2) for number, row in enumerate(rows))


def _reading(
    phase: str,
    throttle: float,
    aileron: float,
    surface: str,
    direction: int,
    angle: float,
    rng: np.random.Generator,
    noise: float,
) -> Reading:
    read = angle + float(rng.normal(0.0, noise))
    return Reading(surface=surface, phase=phase, throttle=throttle, aileron=aileron, direction=direction, angle=read)


def _surface(
    bench: BenchList, phase_name: str, throttle: float, aileron: float, name: str, giver: str, fault: str
) -> float:
    phase = bench.plan.named(phase_name)
    out = bench.deployment(phase, throttle)
    sender, fitted = bench.corners[giver].fitted, bench.corners[name].fitted
    assert sender is not None
    assert fitted is not None
    pulse = float(sender.pulse(bench.corners[giver].command(phase, out, aileron)))
    if fault == "reversed":
        pulse = 2 * fitted.pulse_centre - pulse
    servo, bar, move = float(fitted.servo_of_pulse(pulse)), fitted.bar, 0.0
    if fault == "gain":
        servo = fitted.centre + 1.06 * (servo - fitted.centre)
    elif fault in ("one tooth", "wrong side", "over-centre"):
        past = -rad(70) if fitted.neutral < 0 else rad(55)  # beyond the dead point at one end of the snap
        move = {"one tooth": 2 * math.pi / 25, "wrong side": -2 * fitted.neutral, "over-centre": past}[fault]
        bar = with_offset(bar, fitted.neutral + move)
    elif fault == "one hole":
        holes = sorted(hole for hole in bench.corners[name].kit.arm_holes if abs(hole - float(bar.arm)) > 1e-5)
        near = min(holes, key=lambda hole: abs(hole - float(bar.arm)))
        bar = with_offset(replace(bar, arm=near), fitted.neutral)
    angle = float(forward(bar, servo + float(square(fitted.bar)) + move).throw)
    return angle + (rad(2.0) if fault == "centre" else 0.0)
