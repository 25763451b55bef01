"""The down line with the stick closed: the speed that plan and airframe decide, whatever the pilot would hold."""

from __future__ import annotations

import math

from evenfall.estimate import Estimate
from evenfall.lines.holding import Holding
from evenfall.lines.spread import nudges, speed_estimates, surface_nudges
from evenfall.lines.survey import Survey, Tables, line_answer, plan_tables
from evenfall.numeric import Status
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import Ready

DOWN = "vertical down"


def closed_down(ready: Ready, plan: Plan, *, tables: Tables | None = None) -> Estimate | None:
    """Steady speed of the vertical down with the stick closed, m/s, with its spread; None without one.

    `tables` of the plan, where they were solved already. Of several stable speeds the one reached from the wanted
    speed.
    """
    solved = plan_tables(ready.frame, plan, wanted=ready.wanted) if tables is None else tables
    table = solved.lines[DOWN]
    held = Holding(slope=-math.pi / 2, stick=0.0, status=Status.OK, deployment=float(plan.deployment(0.0)), excess=0.0)
    line = line_answer(ready.unit, plan, table, name=DOWN, held=held, wanted=ready.wanted, entries=False)
    if line.speed is None:
        return None
    done = Survey(wanted=ready.wanted, lines=(line,), holding=())
    level = ready.file.plane.controller.level(plan.motor.level)
    inputs = nudges(ready.file.plane, ready.file.spreads, level=level, crow=plan.crow is not None)
    surfaces = surface_nudges(ready.frames, done, plan.crow)
    own = Tables(wanted=solved.wanted, lines={DOWN: table}, slopes=solved.slopes)
    found = speed_estimates(ready.unit, plan, own, done, inputs=inputs, surfaces=surfaces)[DOWN]
    return found[[entry.state for entry in line.steady].index(line.speed)]
