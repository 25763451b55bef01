"""The pictures: speed map, shaft torques, holding stick, drag shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenfall.air import Air
from evenfall.estimate import Estimate
from evenfall.lines.shaft_picture import ShaftPicture, torque_curves
from evenfall.lines.stick_picture import StickPicture, stick_picture
from evenfall.lines.survey import Survey, plan_tables, survey
from evenfall.radio.plan import Plan, Throws
from evenfall.tune.plane_map import (
    MapReach,
    PlaneMap,
    bare_map,
    map_arrangement,
    map_reach,
    plane_map,
    with_choice,
)
from evenfall.tune.solve import tune_plane
from evenfall.workflow.prediction import Predicted, predict
from evenfall.workflow.ready import (
    PlaneInput,
    PlanInput,
    Progress,
    Ready,
    made_ready,
    plane_and_plan,
    plane_file,
    silent,
)


@dataclass(frozen=True, kw_only=True)
class MapAnswer:
    """The speed map of one arrangement; `estimate` is of the down speed at the chosen point, None where unknown."""

    ready: Ready
    plan_name: str
    throws: Throws
    map: PlaneMap
    estimate: Estimate | None


def speed_map(
    plane: PlaneInput,
    plan: PlanInput | None = None,
    *,
    arrangement: str | None = None,
    air: Air | None = None,
    progress: Progress = silent,
) -> MapAnswer:
    """Down speed over crow and motor brake, stick closed, with every steady state and what stands in the way.

    Args:
        plane: path of a plane file, or one that is loaded or made ready.
        plan: path of a plan file or a plan, marked on the map; None marks what `tune` would choose.
        arrangement: "up/down", "down/up", "both up" or "both down"; None takes that of the plan.
        air: None takes the standard atmosphere at sea level.

    Raises `InputError` for files that cannot be used and for an arrangement the plane cannot fly.
    """
    given = plane if isinstance(plane, Ready) else plane_file(plane)
    file = plane_file(given)
    asked = map_arrangement(file.plane, arrangement)
    if plan is not None:
        known = predict(given, plan, air=air, progress=progress)
        return _map_of_plan(known, arrangement=arrangement, progress=progress)
    ready = made_ready(given, air, progress=progress)
    progress("every level and arrangement")
    judged = tune_plane(ready.frame, ready.unit, wanted=ready.wanted, spreads=file.spreads).judged
    items = [j.candidate for j in judged if arrangement is None or j.candidate.arrangement == asked]
    best = next((item for item in items if item.speed is not None), None)
    progress("speed map")
    drawn = plane_map(
        ready.frame,
        ready.unit,
        wanted=ready.wanted,
        arrangement=asked if best is None else best.arrangement,
        level=None if best is None else best.level,
        angle=0.0 if best is None else best.angle,
    )
    estimate = None if best is None else best.speed_estimate
    return MapAnswer(ready=ready, plan_name="tuned", throws=Throws(), map=drawn, estimate=estimate)


def _map_of_plan(known: Predicted, *, arrangement: str | None, progress: Progress) -> MapAnswer:
    """The map around a plan."""
    ready, plan = known.ready, known.plan
    progress("speed map")
    drawn = map_drawn(ready, map_asked(ready, plan, arrangement))
    down = known.survey.line("vertical down")
    states = [entry.state for entry in down.steady]
    estimate = known.estimates["vertical down"][states.index(down.speed)] if down.speed is not None else None
    return map_around(
        ready, plan, known.plan_name, drawn, at_stop=_at_stop(plan, down.closed, down.deployment), estimate=estimate
    )


def _at_stop(plan: Plan, closed: bool, deployment: float) -> bool:
    """The vertical down is flown where the map is drawn: stick closed, crow fully out."""
    return closed and (plan.crow is None or deployment > 0.999)


def map_asked(ready: Ready, plan: Plan, arrangement: str | None) -> MapReach:
    """What is drawn for a plan: its own split between the wings, or another arrangement with equal angles."""
    own = None if plan.crow is None else plan.crow.arrangement
    asked = map_arrangement(ready.file.plane, arrangement or own)
    return map_reach(ready.file.plane, asked, crow=plan.crow if own is None or asked == own else None)


def map_drawn(ready: Ready, reach: MapReach) -> PlaneMap:
    """The map of a plane before anything is chosen on it."""
    return bare_map(ready.frame, ready.unit, reach, wanted=ready.wanted)


def map_around(
    ready: Ready, plan: Plan, name: str, drawn: PlaneMap, *, at_stop: bool, estimate: Estimate | None
) -> MapAnswer:
    """A map with a plan called `name` chosen on it; another arrangement than the plan's has no chosen point.

    Args:
        at_stop: the plan's vertical down is flown with the stick closed and crow fully out; `estimate` is of its speed.
    """
    mine = plan.crow is None or drawn.arrangement == plan.crow.arrangement
    chosen = with_choice(
        drawn,
        throws=plan.throws,
        level=ready.file.plane.controller.level(plan.motor.level) if mine else None,
        angle=0.0 if plan.crow is None else plan.crow.angle,
    )
    return MapAnswer(
        ready=ready,
        plan_name=name,
        throws=plan.throws,
        map=chosen,
        estimate=estimate if mine and at_stop else None,
    )


@dataclass(frozen=True, kw_only=True)
class ShaftAnswer:
    """The shaft-torque picture of a plane."""

    ready: Ready
    picture: ShaftPicture


def shaft_picture(plane: PlaneInput, *, speeds: Sequence[float] | None = None, air: Air | None = None) -> ShaftAnswer:
    """Windmilling torque and motor-brake torque over shaft speed, and every state where they meet.

    Args:
        speeds: airspeeds, m/s; None takes .7, 1 and 1.3 of the wanted speed.
    """
    ready = made_ready(plane if isinstance(plane, Ready) else plane_file(plane), air)
    asked = [share * ready.wanted for share in (0.7, 1.0, 1.3)] if speeds is None else [*speeds]
    return ShaftAnswer(ready=ready, picture=torque_curves(ready.unit, np.asarray(asked, float)))


@dataclass(frozen=True, kw_only=True)
class StickAnswer:
    """The holding-stick picture of a plan."""

    ready: Ready
    plan_name: str
    picture: StickPicture


def holding_stick(
    plane: PlaneInput,
    plan: PlanInput | None = None,
    *,
    inverted: bool = False,
    air: Air | None = None,
) -> StickAnswer:
    """Holding stick over slope every 5 degrees, with crow and without; arguments as for `predict`."""
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air)
    picture = stick_picture(ready.frame, ready.unit, chosen, wanted=ready.wanted, inverted=inverted)
    return StickAnswer(ready=ready, plan_name=name, picture=picture)


@dataclass(frozen=True, kw_only=True)
class SharesAnswer:
    """Who holds against the flight on the five lines of a plan."""

    ready: Ready
    plan_name: str
    survey: Survey


def drag_shares(
    plane: PlaneInput,
    plan: PlanInput | None = None,
    *,
    air: Air | None = None,
) -> SharesAnswer:
    """Speed, stick and drag shares of the five lines, without spreads: quick; arguments as for `predict`."""
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air)
    done = survey(ready.unit, chosen, plan_tables(ready.frame, chosen, wanted=ready.wanted))
    return SharesAnswer(ready=ready, plan_name=name, survey=done)
