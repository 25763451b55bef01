"""Predict: speeds, holding stick, rolls and straightness of a plane with a plan, each with its spread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from evenfall.air import Air
from evenfall.estimate import Estimate
from evenfall.lines.balance import Airframe
from evenfall.lines.bend import BendAnswer, Bends, down_bends, down_lines
from evenfall.lines.holding import stick_thrust
from evenfall.lines.rolls import RollAnswer, roll_answers
from evenfall.lines.spread import nudges, speed_estimates, stick_estimates, surface_nudges
from evenfall.lines.spread_turn import bend_estimates, moved_frames, roll_estimates
from evenfall.lines.survey import Survey, Tables, plan_tables, survey
from evenfall.lines.throws import linkage_retention
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, made_ready, plane_and_plan, silent


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """Everything `predict` knows: five lines, holding sticks, rolls, straightness, each with its estimates.

    `roll_estimates` hold rate and section part of each roll, `bend_estimates` clean and crow bend of each line.
    """

    ready: Ready
    plan: Plan
    plan_name: str
    tables: Tables
    survey: Survey
    estimates: dict[str, tuple[Estimate | None, ...]]
    sticks: tuple[Estimate | None, ...]
    rolls: tuple[RollAnswer, ...]
    roll_estimates: tuple[tuple[Estimate | None, Estimate | None], ...]
    bends: tuple[BendAnswer, ...]
    bend_estimates: tuple[tuple[Estimate | None, Estimate | None], ...]


def predict(
    plane: PlaneInput,
    plan: PlanInput | None = None,
    *,
    air: Air | None = None,
    progress: Progress = silent,
) -> Predicted:
    """Steady speeds, holding stick, roll and straightness of a plane with a plan, or as it is now.

    Args:
        plane: path of a plane file, or one that is loaded or made ready.
        plan: path of a plan file, a plan, or None for no crow and the present motor-brake level.
        air: None takes the standard atmosphere at sea level.

    Raises `FileFaults` for files that cannot be used.
    """
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air, progress=progress)
    progress("balances")
    tables = plan_tables(ready.frame, chosen, wanted=ready.wanted)
    progress("steady speeds")
    done = survey(ready.unit, chosen, tables)
    return complete(ready, chosen, name, tables, done, bends=None, progress=progress)


def complete(
    ready: Ready,
    plan: Plan,
    name: str,
    tables: Tables,
    done: Survey,
    *,
    bends: tuple[BendAnswer, ...] | None,
    progress: Progress,
) -> Predicted:
    """Add spreads, rolls and straightness to a survey."""
    progress("spreads")
    brake = ready.file.plane.controller.level(plan.motor.level)
    inputs = nudges(ready.file.plane, ready.file.spreads, level=brake, crow=plan.crow is not None)
    frames = ready.frames
    surfaces = surface_nudges(frames, done, plan.crow)
    estimates = speed_estimates(ready.unit, plan, tables, done, inputs=inputs, surfaces=surfaces)
    sticks = stick_estimates(ready.unit, plan, tables.slopes, done.holding, wanted=ready.wanted, inputs=inputs)
    progress("rolls and straightness")

    kept = {
        throw: linkage_retention(ready.file.plane, plan, throw=throw)
        for throw in (plan.throws.normal, plan.throws.snap)
    }

    def rolls_of(frame: Airframe) -> tuple[RollAnswer, ...]:
        return _rolls(frame, plan, tables, done, wanted=ready.wanted, linkage=kept.get)

    closed = float(stick_thrust(ready.unit, plan, wanted=ready.wanted).thrust[0])
    level = float(tables.lines["level"].drag(ready.wanted, 0.0))

    def bends_of(frame: Airframe, near: Bends | None) -> Bends:
        return down_bends(frame, plan.crow, speed=ready.wanted, closed_thrust=closed, level_thrust=level, near=near)

    _, late, early = frames
    rolls = rolls_of(ready.frame)
    if bends is None:
        bends = down_lines(ready.frame, plan.crow, speed=ready.wanted, closed_thrust=closed, level_thrust=level)
    moved = moved_frames(ready.frame, ready.file.spreads)
    return Predicted(
        ready=ready,
        plan=plan,
        plan_name=name,
        tables=tables,
        survey=done,
        estimates=estimates,
        sticks=sticks,
        rolls=rolls,
        roll_estimates=roll_estimates(
            rolls, rolls_of, late=late, early=early, speed_share_spread=_down_spread(estimates, ready.wanted)
        ),
        bends=bends,
        bend_estimates=bend_estimates(bends, bends_of, moved=moved, late=late, early=early),
    )


def _rolls(
    frame: Airframe,
    plan: Plan,
    tables: Tables,
    done: Survey,
    *,
    wanted: float,
    linkage: Callable[[float], float | None],
) -> tuple[RollAnswer, ...]:
    """Rolls at normal and snap throw on the vertical down, stowed and deployed."""
    down = tables.lines["vertical down"]
    state = done.line("vertical down").speed
    return roll_answers(
        frame,
        plan.crow,
        throws=(plan.throws.normal, plan.throws.snap),
        wanted=wanted,
        down_speed=None if state is None else state.speed,
        alpha=(float(down.alpha_at(wanted, 0.0)), float(down.alpha_at(wanted, 1.0))),
        elevator=(float(down.elevator_at(wanted, 0.0)), float(down.elevator_at(wanted, 1.0))),
        linkage=linkage,
    )


def _down_spread(estimates: dict[str, tuple[Estimate | None, ...]], wanted: float) -> float:
    """One sigma of the vertical down speed over the wanted speed, the largest of its states."""
    return max((item.spread / wanted for item in estimates["vertical down"] if item is not None), default=0.0)
