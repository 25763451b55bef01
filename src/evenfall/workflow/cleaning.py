"""Trim: the clean plane first."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall.air import Air
from evenfall.lines.balance import balance
from evenfall.lines.holding import stick_thrust
from evenfall.lines.rigging import CleanFlight, CleanReport, clean_lines, clean_report
from evenfall.plane.perturb import attribute
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, made_ready, plane_and_plan, silent


@dataclass(frozen=True, kw_only=True)
class Cleaned:
    """Everything `trim` knows. `elevator_share` is the plan's; None without crow."""

    ready: Ready
    plan_name: str
    elevator_share: float | None
    report: CleanReport


def clean(
    plane: PlaneInput,
    plan: PlanInput | None = None,
    *,
    air: Air | None = None,
    progress: Progress = silent,
) -> Cleaned:
    """Whether the clean plane flies its lines straight, what each fault of rigging does to them, and the cures.

    Args:
        plane: path of a plane file, or one that is loaded or made ready.
        plan: path of a plan file, or a plan: its motor-brake level and throttle are flown, its crow is not.
        air: None takes the standard atmosphere at sea level.

    Raises `FileFaults` for files that cannot be used.
    """
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air, progress=progress)
    file = ready.file
    progress("faults of rigging")
    level, climb = (float(t) for t in balance(ready.frame, speed=ready.wanted, slope=[0.0, 0.5 * math.pi]).thrust)
    closed = float(stick_thrust(ready.unit, chosen, wanted=ready.wanted).thrust[0])
    flight = CleanFlight(
        frame=ready.frame,
        lines=clean_lines(closed_thrust=closed, climb_thrust=climb),
        level_thrust=level,
        speed=ready.wanted,
    )
    sigmas = {path: spread.absolute(attribute(file.plane, path)) for path, spread in file.spreads.items()}
    guessed = [path for path, spread in file.spreads.items() if spread.source == "guess"]
    report = clean_report(flight, sigmas=sigmas, guessed=guessed, throw=chosen.throws.normal, crow=chosen.crow)
    share = None if chosen.crow is None else chosen.crow.elevator_share
    return Cleaned(ready=ready, plan_name=name, elevator_share=share, report=report)
