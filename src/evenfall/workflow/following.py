"""Follow a hand on a slider: speeds and sticks of a plan from tables, without spreads."""

from __future__ import annotations

from dataclasses import dataclass

from evenfall.estimate import Estimate
from evenfall.lines.crow_tables import CrowFamily, CrowTables, crow_family, crow_tables
from evenfall.lines.quick import Quick, quick
from evenfall.lines.rolls import RollAnswer, roll_answers
from evenfall.lines.shaft_tables import ShaftTables
from evenfall.lines.spread import nudges, speed_estimates, surface_nudges
from evenfall.lines.survey import LineAnswer, SteadyEntry, Survey, Tables
from evenfall.lines.throws import linkage_retention
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import Ready

DOWN = "vertical down"


@dataclass(frozen=True, kw_only=True)
class QuickAnswer:
    """What a plan does, without spreads."""

    ready: Ready
    plan: Plan
    plan_name: str
    quick: Quick


def family_of(ready: Ready, plan: Plan) -> CrowFamily | None:
    """The family of crow whose tables a plan needs: the same for every size of one split between the wings."""
    return crow_family(ready.file.plane, plan.crow)


def shafts_of(ready: Ready) -> ShaftTables:
    """Shaft equilibria, for every plan of a plane."""
    return ShaftTables(ready.unit, wanted=ready.wanted)


def tables_of(ready: Ready, family: CrowFamily | None) -> CrowTables:
    """Balances, for every plan of a family."""
    return crow_tables(ready.frame, family, wanted=ready.wanted)


def follow(ready: Ready, plan: Plan, name: str, *, shafts: ShaftTables, tables: CrowTables) -> QuickAnswer:
    """Speeds of the five lines and holding sticks of a plan called `name`."""
    return QuickAnswer(ready=ready, plan=plan, plan_name=name, quick=quick(shafts, tables, plan))


def down_estimate(answer: QuickAnswer, tables: CrowTables) -> Estimate | None:
    """Speed of the vertical down with its spread and causes; None without a steady speed, or too near to a fold."""
    ready, plan, line = answer.ready, answer.plan, answer.quick.line(DOWN)
    if line.speed is None:
        return None
    share = tables.share(plan.crow)
    own = Tables(
        wanted=ready.wanted,
        lines={DOWN: tables.line(DOWN, share).reaching(share)},
        slopes=tables.slope_drag(share),
    )
    flown = LineAnswer(
        name=DOWN,
        slope=line.slope,
        stick=line.stick,
        deployment=line.deployment,
        closed=line.closed,
        status=line.status,
        steady=(SteadyEntry(state=line.speed, reached_from=None),),
    )
    done = Survey(wanted=ready.wanted, lines=(flown,), holding=())
    level = ready.file.plane.controller.level(plan.motor.level)
    inputs = nudges(ready.file.plane, ready.file.spreads, level=level, crow=plan.crow is not None)
    surfaces = surface_nudges(ready.frames, done, plan.crow)
    return speed_estimates(ready.unit, plan, own, done, inputs=inputs, surfaces=surfaces)[DOWN][0]


def down_rolls(answer: QuickAnswer, tables: CrowTables) -> tuple[RollAnswer, ...]:
    """Rolls at normal and snap throw on the vertical down, stowed and deployed."""
    ready, plan = answer.ready, answer.plan
    share = tables.share(plan.crow)
    table, state = tables.line(DOWN, share), answer.quick.line(DOWN).speed
    throws = plan.throws
    kept = {throw: linkage_retention(ready.file.plane, plan, throw=throw) for throw in (throws.normal, throws.snap)}
    return roll_answers(
        ready.frame,
        plan.crow,
        throws=(throws.normal, throws.snap),
        wanted=ready.wanted,
        down_speed=None if state is None else state.speed,
        alpha=(float(table.alpha_at(ready.wanted, 0.0)), float(table.alpha_at(ready.wanted, share))),
        elevator=(float(table.elevator_at(ready.wanted, 0.0)), float(table.elevator_at(ready.wanted, share))),
        linkage=kept.get,
    )
