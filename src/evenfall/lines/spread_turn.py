"""Spreads of roll rates and of straightness: the same solves on frames with other sections, CG and incidences."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from evenfall.estimate import Estimate, combine
from evenfall.lines.balance import Airframe, airframe
from evenfall.lines.bend import BendAnswer, Bends
from evenfall.lines.rolls import RollAnswer
from evenfall.lines.spread import Doubt
from evenfall.plane.perturb import attribute, perturbed

ROLL_DAMPING = 0.07
"""One sigma of a rate of roll, share, for the lifting line's roll damping: half the 13 % by which a lifting surface
is lower (NACA ARR L5F23, summary)."""
THROW_SETTING = math.radians(0.3)
"""One sigma of an aileron throw as set with a gauge, rad. Common practice, no source."""

BEND_INPUTS = ("mass.cg_x", "mass.cg_z")
"""Inputs of the plane file that bend a line."""
INCIDENCE = math.radians(0.3)
"""One sigma of an incidence where the file gives none, rad: what an incidence gauge reads to (common practice)."""


@dataclass(frozen=True, kw_only=True)
class MovedFrame:
    """The aeroplane with one input one sigma up."""

    name: str
    frame: Airframe


def moved_frames(frame: Airframe, spreads: Mapping[str, Doubt]) -> tuple[MovedFrame, ...]:
    """The frame with CG, wing incidences and tail incidence each one sigma up; sections are shared."""
    plane = frame.plane
    changes: list[tuple[str, dict[str, float]]] = []
    for path in BEND_INPUTS:
        now = float(attribute(plane, path))
        sigma = spreads[path].absolute(now) if path in spreads else 0.0
        if sigma > 0:
            changes.append((path, {path: now + sigma}))
    groups: list[tuple[str, tuple[str, ...]]]
    groups = [(f"{name}.incidence", (f"{name}.incidence_left", f"{name}.incidence_right")) for name in plane.wings]
    groups.append(("tail.incidence", ("tail.incidence",)))
    for name, paths in groups:
        given = [spreads[path].absolute(0.0) for path in paths if path in spreads]
        sigma = max(given, default=INCIDENCE) or INCIDENCE
        changes.append((name, {path: float(attribute(plane, path)) + sigma for path in paths}))
    return tuple(
        MovedFrame(name=name, frame=airframe(perturbed(plane, change), frame.air, sections=frame.line.sections))
        for name, change in changes
    )


def bend_estimates(
    nominal: Sequence[BendAnswer],
    solve: Callable[[Airframe, Bends | None], Bends],
    *,
    moved: Sequence[MovedFrame],
    late: Airframe,
    early: Airframe,
) -> tuple[tuple[Estimate | None, Estimate | None], ...]:
    """Estimates (rad/s) of clean and crow bend of every line; None where a line was not solved.

    Args:
        solve: the bends of a frame, in the order of `nominal`, from those of a similar frame.
        late, early: the frames with late and early transition.
    """
    first = solve(late, None)
    last = solve(early, first)
    others = {item.name: solve(item.frame, first) for item in moved}
    more = solve(_with_moment(late), first)
    found: list[tuple[Estimate | None, Estimate | None]] = []
    for index, answer in enumerate(nominal):
        if not answer.converged:
            found.append((None, None))
            continue
        solved = {name: bent for name, bent in others.items() if bent.straight.converged[index]}
        clean = {name: float(bent.clean[index]) - answer.clean for name, bent in solved.items()}
        crow = {name: float(bent.crow[index]) - answer.crow for name, bent in solved.items()}
        if first.straight.converged[index] and last.straight.converged[index]:
            clean["sections.transition"] = 0.5 * float(last.clean[index] - first.clean[index])
            crow["sections.transition"] = 0.5 * float(last.crow[index] - first.crow[index])
        if first.straight.converged[index] and more.straight.converged[index]:
            crow["corrections.crow_moment"] = float(more.crow[index] - first.crow[index])
        found.append((combine(answer.clean, clean), combine(answer.crow, crow)))
    return tuple(found)


def _with_moment(frame: Airframe) -> Airframe:
    """The frame with the moment of crow one sigma larger: an elevator share that cures the bend does not cure that."""
    plane = frame.plane
    factor = plane.corrections.crow_moment * math.exp(plane.doubt.sigma("crow_moment"))
    corrections = replace(plane.corrections, crow_moment=factor)
    return replace(frame, plane=replace(plane, corrections=corrections))


def roll_estimates(
    nominal: Sequence[RollAnswer],
    solve: Callable[[Airframe], Sequence[RollAnswer]],
    *,
    late: Airframe,
    early: Airframe,
    speed_share_spread: float,
) -> tuple[tuple[Estimate | None, Estimate | None], ...]:
    """Estimates of the rate (rad/s) and of the section part of retention of every roll.

    Args:
        speed_share_spread: one sigma of the down speed over the wanted speed, which moves the deployed rates.
    """
    first, last = solve(late), solve(early)
    found: list[tuple[Estimate | None, Estimate | None]] = []
    for index, answer in enumerate(nominal):
        if not (answer.converged and first[index].converged and last[index].converged):
            found.append((None, None))
            continue
        rate = {
            "sections.transition": 0.5 * (last[index].rate - first[index].rate),
            "lifting line roll damping": ROLL_DAMPING * answer.rate,
            "plan.throw_setting": answer.rate * THROW_SETTING / answer.throw,
        }
        section = {"sections.transition": 0.5 * (last[index].section - first[index].section)}
        if answer.deployed:
            rate["down speed"] = answer.rate * speed_share_spread
            rate["corrections.roll_deployed"] = answer.rate * late.plane.doubt.sigma("roll_deployed")
            section["corrections.roll_deployed"] = answer.section * late.plane.doubt.sigma("roll_deployed")
        found.append((combine(answer.rate, rate), combine(answer.section, section)))
    return tuple(found)
