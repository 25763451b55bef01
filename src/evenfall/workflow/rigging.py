"""Rig: how every corner is fitted and set."""

from __future__ import annotations

import os
from dataclasses import dataclass

from evenfall.air import Air
from evenfall.lines.fitting import Fitting, fitting
from evenfall.lines.landing import landing_change
from evenfall.lines.line import fastest_stable
from evenfall.lines.shaft import braked_shaft, free_shaft
from evenfall.lines.survey import line_curve
from evenfall.lines.throws import corner_travels
from evenfall.radio.failsafe import FailsafeKind, FailsafeTable, Tendency, failsafe_table
from evenfall.radio.phases import ThresholdChange
from evenfall.radio.radio_description import RadioDescription, load_radio, usual_radio
from evenfall.radio.settings import Settings, as_flown, radio_settings
from evenfall.workflow.prediction import Predicted, predict
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, silent


@dataclass(frozen=True, kw_only=True)
class RigAnswer:
    """How a plan is rigged and set.

    Args:
        fitting: corners, travel budget, loads.
        settings: the plan in one radio's pulses and shares; None where no linkage is described.
        flown: what the rounded settings are predicted to do; None without settings.
        failsafe: every way of storing it. landing: what crow would change on the approach.
    """

    predicted: Predicted
    radio: RadioDescription
    fitting: Fitting
    settings: Settings | None
    flown: Predicted | None
    failsafe: FailsafeTable
    landing: ThresholdChange


def rig(
    plane: PlaneInput,
    plan: PlanInput,
    *,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    air: Air | None = None,
    before: Predicted | None = None,
    progress: Progress = silent,
) -> RigAnswer:
    """How every corner is fitted and set: travel, loads, the radio's settings predicted again, failsafe, landing.

    Args:
        plane, plan: paths, or loaded. radio: what the radio can do; None takes a usual one.
        before: the prediction of this plan for this plane where it is known already.

    Raises `FileFaults` for files that cannot be used.
    """
    described = load_radio(radio) if isinstance(radio, str | os.PathLike) else radio or usual_radio()
    before = before or predict(plane, plan, air=air, progress=progress)
    ready, chosen = before.ready, before.plan
    progress("travel and servo load")
    work = fitting(ready.frame, chosen, wanted=ready.wanted)
    travels = corner_travels(ready.file.plane, chosen)
    settings = flown = None
    if travels:
        progress("settings for the radio")
        tail = ready.file.plane.tail
        settings = radio_settings(
            chosen, described, travels, elevator_at_full=min(tail.elevator_up, tail.elevator_down)
        )
        flown = predict(ready, as_flown(chosen, settings), progress=progress)
    progress("failsafe and landing")
    return RigAnswer(
        predicted=before,
        radio=described,
        fitting=work,
        settings=settings,
        flown=flown,
        failsafe=failsafe_table(ready.file.plane, chosen, _failsafe_speeds(before)),
        landing=landing_change(ready.frame, ready.unit, chosen, wanted=ready.wanted),
    )


def _failsafe_speeds(answer: Predicted) -> dict[FailsafeKind, Tendency]:
    """Down speeds of the ways of storing failsafe that leave the plane in a known state."""
    table = answer.tables.lines["vertical down"]
    braked = line_curve(braked_shaft(answer.ready.unit, answer.plan.motor.level), wanted=answer.ready.wanted)
    free = line_curve(free_shaft(answer.ready.unit), wanted=answer.ready.wanted)
    out = float(answer.plan.deployment(0.0))
    return {
        "closed pulse": Tendency(down_speed=fastest_stable(braked, table, 0.0), roll=0.0),
        "captured closed": Tendency(down_speed=fastest_stable(braked, table, out), roll=0.0),
        "no pulse": Tendency(down_speed=fastest_stable(free, table, 0.0)),
    }
