"""What a plan reaches of each target, in words, and what would buy what is missing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall.air import G0
from evenfall.lines.bend import BendAnswer
from evenfall.lines.loads import OVERSPEED
from evenfall.lines.survey import Survey
from evenfall.linkage.candidate import LOAD_SHARE, RETENTION_BAND
from evenfall.numeric import Status
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan, Throws, arrangements_of
from evenfall.tune.candidates import DOWN_SPEED_NODES, Candidate
from evenfall.tune.choose import Judged, speeds_words
from evenfall.tune.curves import Curves
from evenfall.tune.linkages import FittedLinkages
from evenfall.tune.targets import Targets


@dataclass(frozen=True, kw_only=True)
class Target:
    """One target: what was asked, what counts as met, what the plan reaches."""

    name: str
    wanted: str
    got: str
    met: bool


def line_targets(
    item: Candidate,
    plan: Plan,
    done: Survey,
    lines: tuple[BendAnswer, ...],
    *,
    wanted: float,
    targets: Targets,
    throws: Throws,
) -> tuple[Target, ...]:
    """What lines, propeller, bend and throws must reach.

    Args:
        item: the candidate chosen. done: its lines. lines: bend of the down lines, the vertical first.
        wanted: speed on every line, m/s.
    """
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
            got=f"threshold {100 * _threshold_of(plan):.0f} %, level stick {100 * level.stick:.0f} %"
            + ("" if level.status is Status.OK else f": {level.status.text}"),
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


def smooth_target(curves: Curves, unsteady: dict[str, tuple[float, ...]], plane: Plane, wanted: float) -> Target:
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


def linkage_targets(linkages: FittedLinkages, throws: Throws) -> tuple[Target, ...]:
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
    return f"two {speeds_words(*item.shaft.double_speeds)}"


def remedies_for(
    item: Candidate, reached: tuple[Target, ...], *, wanted: float, level: Status = Status.OK
) -> tuple[str, ...]:
    """What would buy each target that is missed; `level`: how level flight is held at the wanted speed."""
    missed = {target.name for target in reached if not target.met}
    found = []
    if "vertical down speed" in missed:
        found.append(speed_remedy(item, wanted))
    if "one propeller speed" in missed or "doubt of the level" in missed:
        found.append(
            "Measure the damping of this level (a spin-down gives it) and enter it under [[controller.level]]: "
            "that settles which propeller speed it holds. Or take a level further from the fold."
            if item.level.damping is None
            else "Take a level further from the fold."
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
        found.append(
            "The level stick is low: a smaller propeller pitch or a throttle curve that raises it makes room."
            if level is Status.OK
            else f"Level flight itself: {level.text}"
        )
    return tuple(found)


def worth_measuring(best: Judged, judged: tuple[Judged, ...]) -> tuple[str, ...]:
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


def speed_remedy(item: Candidate, wanted: float) -> str:
    """What would buy the wanted speed (m/s) that a candidate does not reach, in words."""
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


def no_plan_remedies(judged: tuple[Judged, ...], plane: Plane) -> tuple[str, ...]:
    """What would buy a plan where there is none."""
    if not arrangements_of(plane):
        return ("This plane has no ailerons in its file, so it can fly no crow: give [wing.upper.aileron].",)
    if not judged:
        return ("No aileron has throw left for crow beyond the normal throw: hinges that allow more would buy a plan.",)
    return (
        f"No level gives a steady vertical down below {max(DOWN_SPEED_NODES):.1f} times the wanted speed: check mass, "
        "propeller and drag in the plane file, allow more aileron throw, or ask for a higher speed.",
    )
