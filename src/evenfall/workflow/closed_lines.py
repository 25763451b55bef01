"""Lines down with the stick closed: the speed that flights measure, whatever stick the plan holds them with."""

from __future__ import annotations

import math
from dataclasses import replace

from evenfall.advise.change import Change
from evenfall.advise.flight import NextFlight
from evenfall.estimate import Estimate
from evenfall.lines.holding import Holding
from evenfall.lines.spread import nudges, speed_estimates, surface_nudges
from evenfall.lines.survey import Survey, Tables, line_answer
from evenfall.numeric import Status
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import Ready

DOWN_LINES = ("vertical down", "45 down")
_SAME = 0.25
"""Part of the doubt within which two reckonings of a speed are of the same state of the shaft. Ours."""


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


def told_alike(
    change: Change | None, flight: NextFlight | None, speed: Estimate | None
) -> tuple[Change | None, NextFlight | None]:
    """The advice with the down speed of now as `closed_lines` has it, so that one number is told for one thing.

    Advice reckons with tables of a whole family of crows, which is quick and about a percent of the doubt off. Where
    the two are farther apart they are of different states of the shaft, and both stay as they are.
    """
    if speed is None or not math.isfinite(speed.spread):
        return change, flight
    if change is not None:
        effects = tuple(
            replace(effect, now=speed)
            if effect.target == "down speed" and abs(effect.now.value - speed.value) <= _SAME * speed.spread
            else effect
            for effect in change.effects
        )
        change = replace(change, effects=effects)
    if flight is not None and abs(flight.now.speed - speed.spread) <= _SAME * speed.spread:
        share = speed.spread / flight.now.speed
        bids = tuple(
            replace(bid, after=replace(bid.after, speed=share * bid.after.speed))
            for bid in (flight.best, *flight.others)
        )
        now = replace(flight.now, speed=speed.spread)
        flight = replace(flight, best=bids[0], others=bids[1:], now=now)
    return change, flight
