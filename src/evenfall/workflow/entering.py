"""Enter a line: speed, shaft and crow in time from an entry speed on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from evenfall.errors import InputError
from evenfall.lines.crow_tables import CrowTables
from evenfall.lines.entry import March, ends_in, march, stable_step
from evenfall.lines.line import LINES, SteadySpeed
from evenfall.lines.quick import QuickLine, quick
from evenfall.lines.shaft import free_shaft
from evenfall.lines.shaft_tables import ShaftTables
from evenfall.lines.survey import SERVO_LAG, shaft_at
from evenfall.power.train import driven
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import Ready

DURATION = 15.0
"""s, of a march that does not settle."""
_UPRIGHT = 1e-3
"""Cosine of the slope of a line that asks no lift."""
ENTRY_COMMAND = 0.5
"""Motor command the entry is flown with before the stick moves."""


@dataclass(frozen=True, kw_only=True)
class MarchAnswer:
    """A line from its entry on.

    Args:
        line: at the stick it is flown with. entry: m/s.
        march: one entry; deployment 1 is the plan's crow fully out.
        end: the steady speed it settles in, None where none within the time.
    """

    ready: Ready
    plan_name: str
    line: QuickLine
    entry: float
    march: March
    end: SteadySpeed | None


def enter(
    ready: Ready,
    plan: Plan,
    name: str,
    *,
    line: str,
    entry: float | None,
    shafts: ShaftTables,
    tables: CrowTables,
) -> MarchAnswer:
    """March one line of a plan called `name` from an entry speed (m/s; None is the wanted one).

    The entry comes with crow stowed and the motor at half throttle; then the stick goes to where the line is flown.
    Raises `InputError` for a line that is none of the five and for an entry the wings cannot carry.
    """
    if line not in LINES:
        raise InputError(f"there is no line {line!r}; there are {', '.join(LINES)}")
    flown = quick(shafts, tables, plan).line(line)
    share = tables.share(plan.crow)
    table = tables.line(line, share)
    start = ready.wanted if entry is None else entry
    lifting = abs(math.cos(table.slope)) > _UPRIGHT
    least = max(table.lowest_speed, float(table.speeds[0]) if lifting else 0.0)
    if start < least:
        raise InputError(f"{start:.1f} m/s is too slow to enter {line}: it is computed from {least:.1f} m/s on")
    shaft, closed = shaft_at(ready.unit, plan, flown.stick)
    speed = np.array([max(start, 1.0)])
    running = driven(ready.file.plane, ready.unit.propeller, speed, ENTRY_COMMAND, density=ready.unit.density)
    omega = float(np.median([state.omega for state in flown.states])) if flown.states else float(running.omega[0])
    full = max(share, 1e-12)
    gone = march(
        table,
        free=free_shaft(ready.unit) if closed else shaft,
        held=shaft,
        brake_delay=ready.file.plane.controller.brake_delay if closed else 0.0,
        speed=speed,
        omega=running.omega,
        deployment=share * flown.deployment,
        deployment_lag=SERVO_LAG,
        duration=DURATION,
        step=stable_step(shaft, speed=ready.wanted, omega=omega),
        until=flown.states,
    )
    ended = int(ends_in(gone, flown.states)[0])
    return MarchAnswer(
        ready=ready,
        plan_name=name,
        line=flown,
        entry=float(speed[0]),
        march=March(
            time=gone.time,
            speed=gone.speed[:, 0],
            omega=gone.omega[:, 0],
            deployment=gone.deployment[:, 0] / full,
            height=gone.height[:, 0],
        ),
        end=flown.states[ended] if ended >= 0 else None,
    )
