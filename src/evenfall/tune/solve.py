"""The plan that meets the targets, or the nearest one with what stands in the way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from evenfall.errors import InputError
from evenfall.lines.balance import Airframe, balance
from evenfall.lines.bend import BendAnswer, BendCase, bends, down_lines
from evenfall.lines.holding import holding_sticks, monotone, slope_drag, stick_thrust
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.spread import Doubt
from evenfall.lines.survey import Survey, Tables, plan_tables, survey
from evenfall.linkage.candidate import CentreShift
from evenfall.radio.plan import Crow, MotorChoice, Plan, Throws, plane_phases
from evenfall.tune.candidates import (
    Candidate,
    all_candidates,
    arrangement_drags,
    crow_at,
    level_shafts,
    with_spreads,
)
from evenfall.tune.choose import Judged, judge
from evenfall.tune.curves import FRESH, TIRED, Curves, crow_with_curves, shape_curves, with_charge
from evenfall.tune.linkages import FittedLinkages, fit_linkages
from evenfall.tune.reached import (
    Target,
    line_targets,
    linkage_targets,
    no_plan_remedies,
    remedies_for,
    smooth_target,
    worth_measuring,
)
from evenfall.tune.targets import Targets, Weights

TuneStatus = Literal["met", "limited", "none"]


@dataclass(frozen=True, kw_only=True)
class Tuned:
    """Answer of `tune_plane`.

    Args:
        status: "met", "limited" (a plan, but not every target), "none" (no plan at all).
        plan, tables, survey, bends, curves, linkages: of the chosen candidate, None (or empty) without one.
        remedies: what would buy what is missing, in words.
    """

    status: TuneStatus
    judged: tuple[Judged, ...]
    targets: tuple[Target, ...]
    remedies: tuple[str, ...]
    plan: Plan | None
    tables: Tables | None
    survey: Survey | None
    bends: tuple[BendAnswer, ...]
    curves: Curves | None
    linkages: FittedLinkages | None


def tune_plane(
    frame: Airframe,
    unit: PowerUnit,
    *,
    wanted: float,
    targets: Targets | None = None,
    weights: Weights | None = None,
    throws: Throws | None = None,
    spreads: Mapping[str, Doubt] | None = None,
    shift: CentreShift | None = None,
) -> Tuned:
    """Try every motor-brake level with every arrangement, rank them, and build the plan of the best.

    Args:
        wanted: speed on every line, m/s.
        throws: normal and snap throw of the ailerons.
        spreads: of the plane file's numbers, by dotted path.
        shift: what can move the neutral pulse of an aileron; None is a usual radio's centre shift.
    """
    targets, weights, throws = targets or Targets(), weights or Weights(), throws or Throws()
    drags = arrangement_drags(frame, wanted=wanted, throws=throws)
    shafts = level_shafts(unit, wanted=wanted, targets=targets)
    candidates = all_candidates(unit, shafts, drags, wanted=wanted)
    level = balance(frame, speed=wanted, slope=0.0)
    level_thrust = float(level.drag_surfaces[0] + level.drag_parts[0])
    candidates = with_side_effects(
        frame, candidates, wanted=wanted, throws=throws, level_thrust=level_thrust, clean_alpha=float(level.alpha[0])
    )
    candidates = with_spreads(unit, candidates, spreads or {}, wanted=wanted)
    judged = judge(candidates, wanted=wanted, targets=targets, weights=weights)
    flyable = [item for item in judged if item.candidate.speed is not None]
    if not flyable:
        return Tuned(
            status="none",
            judged=judged,
            targets=(),
            remedies=no_plan_remedies(judged, frame.plane),
            plan=None,
            tables=None,
            survey=None,
            bends=(),
            curves=None,
            linkages=None,
        )
    best, linkages, judged = first_that_can_be_rigged(frame, flyable, judged, wanted=wanted, throws=throws, shift=shift)
    return _build(
        frame,
        unit,
        best,
        judged,
        linkages,
        wanted=wanted,
        targets=targets,
        throws=throws,
        level_thrust=level_thrust,
    )


def candidate_plan(
    frame: Airframe,
    unit: PowerUnit,
    judged: tuple[Judged, ...],
    *,
    level: str | None,
    arrangement: str | None,
    wanted: float,
    targets: Targets | None = None,
    throws: Throws | None = None,
    shift: CentreShift | None = None,
) -> Tuned:
    """The plan of the best candidate with this level and this arrangement (None: any), built as the chosen one is.

    Args:
        judged: the ranking of `tune_plane`. The other arguments are those of `tune_plane`.

    Raises `InputError` with the candidate's own reason where it has no plan, and for names that are not in the ranking.
    """
    targets, throws = targets or Targets(), throws or Throws()
    asked = [
        item
        for item in judged
        if level in (None, item.candidate.level.name) and arrangement in (None, item.candidate.arrangement)
    ]
    if not asked:
        names = dict.fromkeys(f"{item.candidate.level.name} {item.candidate.arrangement}" for item in judged)
        raise InputError(
            f"no candidate has level {level or 'any'} and arrangement {arrangement or 'any'}; there are "
            f"{', '.join(names) or 'none at all'}"
        )
    best = next((item for item in asked if item.candidate.speed is not None), None)
    if best is None:
        raise InputError(f"level {asked[0].candidate.level.name} {asked[0].candidate.arrangement}: {asked[0].why}")
    flown = balance(frame, speed=wanted, slope=0.0)
    return _build(
        frame,
        unit,
        best,
        judged,
        fit_linkages(frame, _crow(frame, best), throws, wanted=wanted, shift=shift),
        wanted=wanted,
        targets=targets,
        throws=throws,
        level_thrust=float(flown.drag_surfaces[0] + flown.drag_parts[0]),
    )


_TRIED = 6
"""Candidates whose linkages are solved before the best one is taken as it is."""


def first_that_can_be_rigged(
    frame: Airframe,
    flyable: list[Judged],
    judged: tuple[Judged, ...],
    *,
    wanted: float,
    throws: Throws,
    shift: CentreShift | None = None,
) -> tuple[Judged, FittedLinkages, tuple[Judged, ...]]:
    """The best candidate whose linkages meet their targets, those linkages, and the candidates with it in front.

    Surfaces and linkages are solved together in that order: a candidate whose crow, snap throw and roll the linkages
    cannot give stands back behind the next one; where none of the first few can be rigged the best stays.
    """
    first: tuple[Judged, FittedLinkages] | None = None
    passed: list[Judged] = []
    for item in [item for item in flyable if item.verdict != "refused"][:_TRIED] or flyable[:1]:
        crow = _crow(frame, item)
        linkages = fit_linkages(frame, crow, throws, wanted=wanted, shift=shift)
        first = first or (item, linkages)
        if linkages.status in ("met", "unknown"):
            return item, linkages, _in_front(item, judged, passed)
        note = f"Not with these linkages: {linkages.reason}"
        passed.append(replace(item, verdict="usable", reasons=(note, *item.reasons)))
    if first is None:
        raise AssertionError("no candidate to rig")
    return first[0], first[1], judged


def _in_front(item: Judged, judged: tuple[Judged, ...], passed: list[Judged]) -> tuple[Judged, ...]:
    """The candidates in order with `item` chosen and those passed over behind it."""
    if not passed:
        return judged
    noted = {id(one.candidate): one for one in passed}
    rest = tuple(noted.get(id(other.candidate), other) for other in judged if other.candidate is not item.candidate)
    words = tuple(reason for reason in item.reasons if not reason.startswith("Behind the chosen one"))
    return (replace(item, verdict="chosen", reasons=("Chosen: the best one its linkages can give.", *words)), *rest)


def _crow(frame: Airframe, item: Judged) -> Crow:
    """The candidate's crow, set to .01 deg."""
    one = item.candidate
    return crow_at(frame.plane, one.arrangement, round(math.degrees(one.angle), 2) * math.pi / 180)


def with_side_effects(
    frame: Airframe,
    candidates: tuple[Candidate, ...],
    *,
    wanted: float,
    throws: Throws,
    level_thrust: float,
    clean_alpha: float,
) -> tuple[Candidate, ...]:
    """The candidates with the bend their crow adds and the section part of their roll retention, one batch each."""
    if not candidates:
        return candidates
    crows = [crow_at(frame.plane, item.arrangement, max(item.angle, 1e-6)) for item in candidates]
    cases = [
        BendCase(slope=-math.pi / 2, crow=crow, thrust=item.shaft.thrust[-1] if item.shaft.thrust else 0.0)
        for item, crow in zip(candidates, crows, strict=True)
    ]
    bent = bends(frame, cases, speed=wanted, level_thrust=level_thrust)
    rolls = [RollCase(crow=None, deployment=0.0, alpha=0.0, elevator=0.0, throw=throws.normal)]
    for item, crow in zip(candidates, crows, strict=True):
        share = item.share
        rolls.append(
            RollCase(
                crow=crow,
                deployment=1.0,
                alpha=float(item.drag.table.alpha_at(wanted, share)),
                elevator=float(item.drag.table.elevator_at(wanted, share)),
                throw=throws.normal,
            )
        )
    rolled = steady_rolls(frame, rolls, speed=wanted)
    return tuple(
        replace(
            item,
            curvature=float(bent.crow[index]) if bent.straight.converged[index] else None,
            retention=float(rolled.rate[index + 1] / rolled.rate[0]) if rolled.converged[index + 1] else None,
        )
        for index, item in enumerate(candidates)
    )


def _build(
    frame: Airframe,
    unit: PowerUnit,
    best: Judged,
    judged: tuple[Judged, ...],
    linkages: FittedLinkages,
    *,
    wanted: float,
    targets: Targets,
    throws: Throws,
    level_thrust: float,
) -> Tuned:
    item = best.candidate
    closed_thrust = item.shaft.thrust[-1] if item.shaft.thrust else 0.0
    crow = _with_elevator(
        frame, _crow(frame, best), wanted=wanted, closed_thrust=closed_thrust, level_thrust=level_thrust
    )
    motor = MotorChoice(level=item.level.name, percent=item.level.percent)
    plan = Plan(
        plane_name=frame.plane.name,
        crow=crow,
        motor=motor,
        phases=plane_phases(frame.plane, throws),
        corners=linkages.setups,
    )
    tables = plan_tables(frame, plan, wanted=wanted)
    curves = shape_curves(unit, plan, tables.slopes, wanted=wanted, targets=targets)
    crow = crow_with_curves(crow, curves)
    plan = replace(plan, crow=crow)
    done = survey(unit, plan, tables)
    lines = down_lines(frame, crow, speed=wanted, closed_thrust=closed_thrust, level_thrust=level_thrust)
    unsteady = unsteady_slopes(frame, unit, plan, tables, wanted=wanted)
    reached = (
        *line_targets(item, plan, done, lines, wanted=wanted, targets=targets, throws=throws),
        smooth_target(curves, unsteady, unit.plane, wanted),
        *linkage_targets(linkages, throws),
    )
    return Tuned(
        status="met" if all(target.met for target in reached) else "limited",
        judged=judged,
        targets=reached,
        remedies=(
            *remedies_for(item, reached, wanted=wanted, level=done.line("level").status),
            *((linkages.reason,) if linkages.status in ("limited", "none", "unknown") else ()),
            *worth_measuring(best, judged),
        ),
        plan=plan,
        tables=tables,
        survey=done,
        bends=lines,
        curves=curves,
        linkages=linkages,
    )


def unsteady_slopes(
    frame: Airframe, unit: PowerUnit, plan: Plan, tables: Tables, *, wanted: float
) -> dict[str, tuple[float, ...]]:
    """Slopes (rad) where the holding stick does not rise: upright and inverted, battery fresh and tired."""
    drags = {
        "upright": tables.slopes,
        "inverted": slope_drag(frame, plan, wanted=wanted, slopes=tables.slopes.slopes, inverted=True),
    }
    found = {}
    for charge, words in ((FRESH, "fresh battery"), (TIRED, "tired battery")):
        charged = with_charge(unit, charge)
        thrust = stick_thrust(charged, plan, wanted=wanted)
        for way, drag in drags.items():
            found[f"{way}, {words}"] = monotone(holding_sticks(charged, plan, drag, thrust))
    return found


def _with_elevator(frame: Airframe, crow: Crow, *, wanted: float, closed_thrust: float, level_thrust: float) -> Crow:
    """The crow with the elevator share that takes its bend away on the vertical, rounded to .001."""
    case = BendCase(slope=-math.pi / 2, crow=crow, thrust=closed_thrust)
    found = bends(frame, [case], speed=wanted, level_thrust=level_thrust, with_cure=True)
    if found.cure is None or not found.cure.elevator_exists[0] or crow.angle < math.radians(0.5):
        return crow
    return replace(crow, elevator_share=round(float(found.cure.share[0]), 3))
