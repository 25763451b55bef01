"""Lines down with the stick closed: the speed that flights measure, whatever stick the plan holds them with."""

from __future__ import annotations

from dataclasses import replace

from evenfall.estimate import Estimate
from evenfall.lines.holding import Holding
from evenfall.lines.spread import nudges, speed_estimates, surface_nudges
from evenfall.lines.survey import Survey, Tables, line_answer
from evenfall.numeric import Status
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import Ready

DOWN_LINES = ("vertical down", "45 down")


def closed_lines(ready: Ready, plan: Plan, tables: Tables) -> dict[str, Estimate | None]:
    """Steady speed of each line down with the stick closed and its spread, m/s; None without a steady speed.

    `tables` are those of this plane with this plan. Where its spread cannot be given (next to a fold) it is infinite.
    """
    unit, lines = ready.unit, []
    for name in DOWN_LINES:
        table = tables.lines[name]
        held = Holding(slope=table.slope, stick=0.0, status=Status.OK, deployment=1.0, excess=0.0)
        lines.append(line_answer(unit, plan, table, name=name, held=held, wanted=ready.wanted, entries=False))
    done = Survey(wanted=ready.wanted, lines=tuple(lines), holding=())
    plane = ready.file.plane
    inputs = nudges(
        plane, ready.file.spreads, level=plane.controller.level(plan.motor.level), crow=plan.crow is not None
    )
    surfaces = surface_nudges(ready.frames, done, plan.crow)
    asked = replace(tables, lines={name: tables.lines[name] for name in DOWN_LINES})
    estimates = speed_estimates(unit, plan, asked, done, inputs=inputs, surfaces=surfaces)
    found: dict[str, Estimate | None] = {}
    for line in lines:
        if line.speed is None:
            found[line.name] = None
            continue
        known = estimates[line.name][[entry.state for entry in line.steady].index(line.speed)]
        found[line.name] = known or Estimate(value=line.speed.speed, spread=float("inf"))
    return found


def without_crow(ready: Ready, plan: Plan, tables: Tables) -> dict[str, float]:
    """Fastest stable speed of each line down with the stick closed and crow switched off, m/s; none left out.

    `tables` as in `closed_lines`.
    """
    clean, found = replace(plan, crow=None), {}
    for name in DOWN_LINES:
        table = tables.lines[name]
        held = Holding(slope=table.slope, stick=0.0, status=Status.OK, deployment=0.0, excess=0.0)
        line = line_answer(ready.unit, clean, table, name=name, held=held, wanted=ready.wanted, entries=False)
        stable = [entry.state.speed for entry in line.steady if entry.state.stable]
        if stable:
            found[name] = max(stable)
    return found
