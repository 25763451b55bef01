"""The plan that meets the targets, or the nearest one with what stands in the way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from evenfall.air import G0
from evenfall.errors import InputError
from evenfall.lines.balance import Airframe, balance
from evenfall.lines.bend import BendAnswer, BendCase, bends, down_lines
from evenfall.lines.holding import holding_sticks, monotone, slope_drag, stick_thrust
from evenfall.lines.loads import OVERSPEED
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.spread import Doubt
from evenfall.lines.survey import Survey, Tables, plan_tables, survey
from evenfall.linkage.candidate import LOAD_SHARE, RETENTION_BAND, CentreShift
from evenfall.numeric import Status
from evenfall.plane.airframe import Plane
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
from evenfall.tune.targets import Targets, Weights

TuneStatus = Literal["met", "limited", "none"]


@dataclass(frozen=True, kw_only=True)
class Target:
    """One target: what was asked, what counts as met, what the plan reaches."""

    name: str
    wanted: str
    got: str
    met: bool


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
            remedies=_no_plan_remedies(frame, judged),
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
        *_targets(item, plan, done, lines, wanted=wanted, targets=targets, throws=throws),
        _smooth_target(curves, unsteady, unit.plane, wanted),
        *_linkage_targets(linkages, throws),
    )
    return Tuned(
        status="met" if all(target.met for target in reached) else "limited",
        judged=judged,
        targets=reached,
        remedies=(
            *_remedies(item, reached, wanted=wanted),
            *((linkages.reason,) if linkages.status in ("limited", "none", "unknown") else ()),
            *_worth_measuring(best, judged),
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


def _smooth_target(curves: Curves, unsteady: dict[str, tuple[float, ...]], plane: Plane, wanted: float) -> Target:
    """The holding stick rises smoothly with slope; the step at the closed band in N and in m/s of down speed."""
    faulty = {words: slopes for words, slopes in unsteady.items() if slopes}
    step = curves.step * wanted / (2 * plane.mass.all_up * G0)
    shown = f"step where the motor comes free {curves.step:+z.1f} N, about {step:+z.1f} m/s on the vertical"
    if not faulty:
        return Target(
            name="holding stick rises with slope",
            wanted="every slope, upright and inverted, battery fresh and tired",
            got=f"yes; {shown}",
            met=True,
        )
    words = "; ".join(
        f"{way}: {', '.join(f'{math.degrees(slope):.0f}' for slope in slopes)} deg" for way, slopes in faulty.items()
    )
    return Target(
        name="holding stick rises with slope",
        wanted="every slope, upright and inverted, battery fresh and tired",
        got=f"not at {words}; {shown}",
        met=False,
    )


def _with_elevator(frame: Airframe, crow: Crow, *, wanted: float, closed_thrust: float, level_thrust: float) -> Crow:
    """The crow with the elevator share that takes its bend away on the vertical, rounded to .001."""
    case = BendCase(slope=-math.pi / 2, crow=crow, thrust=closed_thrust)
    found = bends(frame, [case], speed=wanted, level_thrust=level_thrust, with_cure=True)
    if found.cure is None or not found.cure.elevator_exists[0] or crow.angle < math.radians(0.5):
        return crow
    return replace(crow, elevator_share=round(float(found.cure.share[0]), 3))


def _targets(
    item: Candidate,
    plan: Plan,
    done: Survey,
    lines: tuple[BendAnswer, ...],
    *,
    wanted: float,
    targets: Targets,
    throws: Throws,
) -> tuple[Target, ...]:
    down, half, level = done.line("vertical down"), done.line("45 down"), done.line("level")
    speed = down.speed.speed if down.speed is not None else math.nan
    within = targets.speed_tolerance * wanted
    low, high = (share * wanted for share in targets.speed_span)
    double = item.shaft.double_speeds
    after = lines[0].clean + lines[0].crow if lines else math.nan
    found = [
        Target(
            name="vertical down speed",
            wanted=f"{wanted:.1f} m/s within {within:.1f}",
            got=f"{speed:.1f} m/s" if math.isfinite(speed) else "no steady speed",
            met=abs(speed - wanted) <= within,
        ),
        Target(
            name="one propeller speed",
            wanted=f"from {low:.1f} to {high:.1f} m/s",
            got="one" if double is None and item.states == 1 else _double_words(item),
            met=double is None and item.states == 1,
        ),
        Target(
            name="doubt of the level",
            wanted=f"at most {100 * targets.fold_probability:.0f} % chance of two propeller speeds at {wanted:.1f} m/s",
            got=f"{100 * item.shaft.fold_probability:.0f} %",
            met=item.shaft.fold_probability <= targets.fold_probability,
        ),
        Target(
            name="straight vertical",
            wanted=f"bends less than {math.degrees(targets.straightness):.0f} deg/s, elevator share in",
            got=f"{math.degrees(after):+z.1f} deg/s (clean {math.degrees(lines[0].clean):+z.1f})"
            if lines
            else "not solved",
            met=abs(after) <= targets.straightness,
        ),
        Target(
            name="crow stowed from level upward",
            wanted=f"threshold {100 * targets.stowed_margin:.0f} % below the level stick",
            got=f"threshold {100 * _threshold_of(plan):.0f} %, level stick {100 * level.stick:.0f} %",
            met=level.status is Status.OK and _threshold_of(plan) <= level.stick - targets.stowed_margin + 5e-3,
        ),
        Target(
            name="45 down held by the stick",
            wanted="a stick outside the closed band",
            got=f"stick {100 * half.stick:.0f} %" + ("" if half.status is Status.OK else f": {half.status.text}"),
            met=half.status is Status.OK,
        ),
        Target(
            name="snap throw with crow out",
            wanted=f"{math.degrees(throws.snap):.1f} deg inside the hinges",
            got=f"{math.degrees(item.snap_room):.1f} deg",
            met=item.snap_room >= throws.snap,
        ),
    ]
    return tuple(found)


def _linkage_targets(linkages: FittedLinkages, throws: Throws) -> tuple[Target, ...]:
    """What the linkages must keep: the roll response, the snap throw, the servos within half their stall torque."""
    if linkages.status == "unknown":
        return ()
    if linkages.retention is None or linkages.snap is None:
        return (Target(name="linkages", wanted="every corner can be fitted", got=linkages.reason, met=False),)
    load = linkages.load or 0.0
    return (
        Target(
            name="roll kept by the linkages",
            wanted=f"within {100 * RETENTION_BAND:.0f} % at {math.degrees(throws.normal):.0f} deg of throw",
            got=f"{100 * linkages.retention:.0f} %",
            met=abs(linkages.retention - 1) <= RETENTION_BAND,
        ),
        Target(
            name="snap throw by the linkages",
            wanted=f"{math.degrees(throws.snap):.1f} deg with crow out",
            got=f"{math.degrees(linkages.snap):.1f} deg",
            met=linkages.snap >= throws.snap - 1e-6,
        ),
        Target(
            name="servo load",
            wanted=f"under {100 * LOAD_SHARE:.0f} % of the stall torque at {OVERSPEED} times the speed, supply sagged",
            got=f"{100 * load:.0f} %",
            met=load <= LOAD_SHARE,
        ),
    )


def _threshold_of(plan: Plan) -> float:
    return plan.crow.threshold if plan.crow is not None else 0.0


def _double_words(item: Candidate) -> str:
    if item.states > 1:
        return f"{item.states} at the wanted speed"
    if item.shaft.double_speeds is None:
        return "none stable"
    low, high = item.shaft.double_speeds
    return f"two between {low:.1f} and {high:.1f} m/s"


def _remedies(item: Candidate, reached: tuple[Target, ...], *, wanted: float) -> tuple[str, ...]:
    """What would buy each target that is missed."""
    missed = {target.name for target in reached if not target.met}
    found = []
    if "vertical down speed" in missed:
        found.append(_speed_remedy(item, wanted))
    if "one propeller speed" in missed or "doubt of the level" in missed:
        found.append(
            "Measure the damping of this level (a spin-down gives it) and enter it under [[controller.level]]: "
            "that settles which propeller speed it holds. Or take a level further from the fold."
        )
    if "straight vertical" in missed:
        found.append("Straighten the clean plane first (incidences, thrust line, CG), then tune again.")
    if "45 down held by the stick" in missed and item.reach == "met":
        found.append("Less crow near the closed end, or a controller with a smaller closed band, frees the 45 down.")
    if "snap throw with crow out" in missed:
        short = math.degrees(item.snap_room)
        found.append(
            f"Hinges that allow more throw, or a snap throw of {short:.0f} deg, or less crow with more motor brake."
        )
    if "crow stowed from level upward" in missed:
        found.append("The level stick is low: a smaller propeller pitch or a throttle curve that raises it makes room.")
    return tuple(found)


def _worth_measuring(best: Judged, judged: tuple[Judged, ...]) -> tuple[str, ...]:
    """The level that would need least crow, where only the doubt of its brake keeps it back."""
    chosen = best.candidate
    others = [
        item.candidate
        for item in judged
        if item.verdict in ("usable", "fickle")
        and item.candidate.reach == "met"
        and item.candidate.arrangement == chosen.arrangement
        and item.candidate.level.damping is None
        and item.candidate.angle < chosen.angle - math.radians(1.0)
        and item.candidate.shaft.span_probability > 0.05
    ]
    if not others:
        return ()
    least = min(others, key=lambda item: item.angle)
    saved = math.degrees(chosen.angle - least.angle)
    return (
        f"Level {least.level.name} would need {saved:.1f} deg less crow; a spin-down that measures its damping tells "
        "whether it holds one propeller speed.",
    )


def _speed_remedy(item: Candidate, wanted: float) -> str:
    limit = math.degrees(item.drag.limit.angle)
    if item.reach == "too fast":
        table = item.drag.table
        thrust = item.shaft.thrust[-1] if item.shaft.thrust else 0.0
        missing = table.weight + thrust - float(table.drag(wanted, 1.0))
        return (
            f"{missing:.1f} N of drag are missing at {wanted:.1f} m/s with {limit:.0f} deg of crow on the "
            f"{item.drag.limit.wing} wing's hinges: more aileron throw, wider ailerons, less weight, a lower-pitched "
            f"propeller, or a wanted speed of {item.speed:.1f} m/s would buy it."
        )
    return "Less motor brake, a higher-pitched propeller or a lower wanted speed would buy it."


def _no_plan_remedies(frame: Airframe, judged: tuple[Judged, ...]) -> tuple[str, ...]:
    if not judged:
        return ("No aileron has throw left for crow beyond the normal throw: hinges that allow more would buy a plan.",)
    return ("No level gives a steady vertical down: check mass, propeller and drag in the plane file.",)
