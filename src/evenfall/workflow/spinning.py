"""Spin and snap of a plan, and the line after the spin: estimates by strips, marked as such."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from evenfall.lines.entry import march, stable_step
from evenfall.lines.sequence import Line, Spin
from evenfall.lines.shaft import free_shaft
from evenfall.lines.spin import SnapAnswer, SpinAnswer, pro_spin, snap_roll, steady_spin
from evenfall.lines.survey import SERVO_LAG, Tables, plan_tables, shaft_at
from evenfall.lines.throws import linkage_retention
from evenfall.radio.plan import Plan
from evenfall.workflow.flying import Flown
from evenfall.workflow.ready import Ready

DOWN = "vertical down"
CLOSE = 0.05
"""Share of the wanted speed within which the line counts as even."""
DURATION = 8.0


@dataclass(frozen=True, kw_only=True)
class ExitLine:
    """The vertical down after the spin, stick closed.

    Args:
        crow: with crow out. start: speed it begins with, m/s. height: m until within 5 % of the wanted speed; None
            where it does not come there within 8 s. end: speed after these, m/s.
    """

    crow: bool
    start: float
    height: float | None
    end: float


@dataclass(frozen=True, kw_only=True)
class SpinSnap:
    """Spin and snap of a plan; None where strips find none.

    Args:
        spin: with the throws of the spin phase, crow as that phase has it. snaps: with crow stowed and, where there is
            crow, fully out: at the throw the linkages leave.
        exits: with crow, where there is one, and without.
    """

    ready: Ready
    plan: Plan
    plan_name: str
    spin: SpinAnswer | None
    snaps: tuple[tuple[bool, SnapAnswer | None], ...]
    exits: tuple[ExitLine, ...]


def spin_snap(ready: Ready, plan: Plan, name: str, *, tables: Tables | None = None) -> SpinSnap:
    """Spin, snap rolls at the wanted speed, and the line after the spin; `tables` of this plan where known."""
    frame, crow = ready.frame, plan.crow
    phase = plan.phase("spin")
    out = float(plan.deployment(0.0)) if phase.crow_live else 0.0
    spin = steady_spin(frame, pro_spin(frame, phase, crow, out))
    snap = plan.phase("snap")
    stowed = snap_roll(frame, pro_spin(frame, snap, crow, 0.0), speed=ready.wanted)
    snaps = [(False, stowed)]
    if crow is not None:
        kept = linkage_retention(ready.file.plane, plan, throw=snap.aileron) or 1.0
        left = replace(snap, aileron=snap.aileron * kept)
        snaps.append((True, snap_roll(frame, pro_spin(frame, left, crow, 1.0), speed=ready.wanted)))
    solved = plan_tables(frame, plan, wanted=ready.wanted) if tables is None else tables
    exits: tuple[ExitLine, ...] = ()
    if spin is not None:
        ways = (False,) if crow is None else (True, False)
        exits = tuple(_exit(ready, plan, solved, start=spin.sink.value, crow=way) for way in ways)
    return SpinSnap(ready=ready, plan=plan, plan_name=name, spin=spin, snaps=tuple(snaps), exits=exits)


def _exit(ready: Ready, plan: Plan, tables: Tables, *, start: float, crow: bool) -> ExitLine:
    held, _ = shaft_at(ready.unit, plan, 0.0)
    windmilling = 0.8 * start * 2 * math.pi / ready.file.plane.propeller.pitch
    gone = march(
        tables.lines[DOWN],
        free=free_shaft(ready.unit),
        held=held,
        brake_delay=0.0,
        speed=np.array([start]),
        omega=np.array([windmilling]),
        deployment=float(plan.deployment(0.0)) if crow else 0.0,
        deployment_lag=SERVO_LAG,
        duration=DURATION,
        step=stable_step(held, speed=ready.wanted, omega=windmilling),
    )
    near = np.abs(gone.speed[:, 0] / ready.wanted - 1.0) < CLOSE
    first = int(np.argmax(near)) if near.any() else None
    return ExitLine(
        crow=crow,
        start=start,
        height=None if first is None else float(gone.height[first, 0]),
        end=float(gone.speed[-1, 0]),
    )


def spin_of(flown: Flown) -> SpinSnap | None:
    """Spin and snap of a flown programme; None where it has neither."""
    parts = [part for figure in flown.sequence.figures for part in figure.parts]
    snaps = any(roll.snap for part in parts if isinstance(part, Line) for roll in part.rolls)
    if not snaps and not any(isinstance(part, Spin) for part in parts):
        return None
    return spin_snap(flown.ready, flown.plan, flown.plan_name)
