"""The levers of a plan in the pilot's own steps, each moved to where its target is expected to be met."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from evenfall.advise.limits import CROW_STEP, Ceiling
from evenfall.advise.outlook import Outlook, Prospects, sized
from evenfall.numeric import Status
from evenfall.radio.plan import Crow, MotorChoice, Plan
from evenfall.tune.candidates import fold_probability
from evenfall.tune.targets import Targets

Lever = Literal["crow", "elevator share", "split", "deployment point", "motor brake", "roll boost"]
Aim = Literal["down speed", "bend", "45 down stick", "roll"]

SHARE_STEP = 0.005
"""One step of the elevator share: half a percent of the larger aileron angle."""
POINT_STEP = 0.01
"""One step of the deployment point, stick."""
BOOST_STEP = 0.01
"""One step of the roll boost, share of the throw."""
MOST_SHARE = 0.5
"""Largest elevator share that counts as a cure. Ours, no source."""
MOST_SPLIT = 0.15
"""Largest split that counts as a trim, as in `evenfall.lines.straight`."""
_SPAN = 7
"""Speeds tried for two propeller speeds."""
_ROOM = 0.05
"""Stick kept between deployment point and level stick."""


@dataclass(frozen=True, kw_only=True)
class Option:
    """A lever moved, or what stops it.

    Args:
        aim: the target it is moved for. plan: with the move in; None where the lever cannot move.
        before, after, steps, wing: see `evenfall.advise.change.Step`.
        blocked: the ceiling of crow stopped it short.
        two_speeds: chance that the new motor-brake level has two propeller speeds somewhere about the wanted speed.
    """

    lever: Lever
    aim: Aim
    plan: Plan | None
    before: float | str
    after: float | str
    steps: int
    wing: str = ""
    blocked: bool = False
    two_speeds: float = 0.0


def options(prospects: Prospects, now: Outlook, top: Ceiling, off_target: Collection[Aim]) -> tuple[Option, ...]:
    """Every lever that could bring a target nearer; only targets in `off_target` move one."""
    plan, found = now.plan, []
    if "down speed" in off_target:
        crow = _crow(prospects, now, top) if plan.crow is not None and plan.crow.angle > 0 else None
        if crow is not None:
            found.append(crow)
        if crow is None or crow.blocked or crow.plan is None:
            found.extend(_levels(prospects, now))
    if "bend" in off_target and plan.crow is not None and plan.crow.angle > 0:
        share = _share(prospects, now)
        found.append(share)
        if isinstance(share.after, float) and abs(share.after) > MOST_SHARE:
            found.extend(_splits(prospects, now))
    if "45 down stick" in off_target and plan.crow is not None:
        point = _point(prospects, now)
        if point is not None:
            found.append(point)
    if "roll" in off_target and now.roll is not None:
        found.append(_boost(now))
    return tuple(found)


# --- crow ------------------------------------------------------------------------------------------------------------


def _crow(prospects: Prospects, now: Outlook, top: Ceiling) -> Option:
    """As many half degrees as bring the down speed nearest to the wanted one."""
    plan, wanted = now.plan, prospects.ready.wanted
    assert plan.crow is not None
    angle = plan.crow.angle
    highest = max(math.floor((top.angle - angle) / CROW_STEP + 1e-6), 0)
    lowest = -math.floor(angle / CROW_STEP + 1e-6)

    def off(steps: int) -> float:
        found = prospects.steady(sized(plan, angle + steps * CROW_STEP))
        return math.inf if found is None else found.speed - wanted

    faster = off(0) > 0
    low, high = (0, highest) if faster else (lowest, 0)
    blocked = faster and off(high) > 0
    while high - low > 1 and not blocked:
        middle = (low + high) // 2
        if off(middle) > 0:
            low = middle
        else:
            high = middle
    best = high if blocked else min((low, high), key=lambda steps: abs(off(steps)))
    return Option(
        lever="crow",
        aim="down speed",
        plan=sized(plan, angle + best * CROW_STEP) if best else None,
        before=angle,
        after=angle + best * CROW_STEP,
        steps=best,
        blocked=blocked,
    )


def _levels(prospects: Prospects, now: Outlook) -> list[Option]:
    """The other motor-brake level that brings the down speed nearest, the crow as it is.

    Levels that may hold the propeller at two speeds more likely than a tuned plan may are left out.
    """
    plan, wanted = now.plan, prospects.ready.wanted
    own = plan.motor.level
    tried: list[tuple[float, str, Plan]] = []
    for level in prospects.ready.file.plane.controller.levels:
        if level.name == own:
            continue
        unit, _ = prospects.unit(level.name)
        if fold_probability(unit, level, np.array([wanted]))[0] > Targets().fold_probability:
            continue
        motor = MotorChoice(level=level.name, percent=level.percent, throttle_curve=plan.motor.throttle_curve)
        changed = replace(plan, motor=motor)
        found = prospects.steady(changed)
        if found is not None:
            tried.append((abs(found.speed - wanted), level.name, changed))
    if not tried:
        return []
    _, name, changed = min(tried, key=lambda item: item[0])
    unit, _ = prospects.unit(name)
    low, high = Targets().speed_span
    chance = fold_probability(
        unit, prospects.ready.file.plane.controller.level(name), wanted * np.linspace(low, high, _SPAN)
    )[1]
    return [
        Option(lever="motor brake", aim="down speed", plan=changed, before=own, after=name, steps=0, two_speeds=chance)
    ]


# --- straightness ----------------------------------------------------------------------------------------------------


def _share(prospects: Prospects, now: Outlook) -> Option:
    """The elevator share that takes the expected bend of the vertical away, in half percents."""
    plan = now.plan
    assert plan.crow is not None
    before = plan.crow.elevator_share
    slope = prospects.bend_per_share(plan)
    steps = 0 if slope == 0.0 else round(-now.bend.value / slope / SHARE_STEP)
    after = before + steps * SHARE_STEP
    return Option(
        lever="elevator share",
        aim="bend",
        plan=_with_share(plan, after) if steps and abs(after) <= MOST_SHARE else None,
        before=before,
        after=after,
        steps=steps,
    )


def _with_share(plan: Plan, share: float) -> Plan:
    assert plan.crow is not None
    return replace(plan, crow=replace(plan.crow, elevator_share=round(share, 6)))


def _splits(prospects: Prospects, now: Outlook) -> list[Option]:
    """Half degrees less on one wing that take the bend away, within what counts as a trim."""
    plan = now.plan
    assert plan.crow is not None
    most = math.floor(MOST_SPLIT * plan.crow.angle / CROW_STEP)
    tried: list[tuple[float, Option]] = []
    for wing, before in (("upper", plan.crow.upper), ("lower", plan.crow.lower)):
        if before == 0.0:
            continue
        for steps in range(1, most + 1):
            after = before - math.copysign(steps * CROW_STEP, before)
            changed = replace(plan, crow=_on_wing(plan.crow, wing, after))
            bend = prospects.bends(changed)[0].value
            option = Option(
                lever="split", aim="bend", plan=changed, before=before, after=after, steps=-steps, wing=wing
            )
            tried.append((abs(bend), option))
    return [min(tried, key=lambda item: item[0])[1]] if tried else []


def _on_wing(crow: Crow, wing: str, angle: float) -> Crow:
    return replace(crow, upper=angle) if wing == "upper" else replace(crow, lower=angle)


# --- stick -----------------------------------------------------------------------------------------------------------


def _point(prospects: Prospects, now: Outlook) -> Option | None:
    """The deployment point that keeps crow in at level flight, or holds the 45 down with the stick."""
    plan = now.plan
    assert plan.crow is not None
    before = plan.crow.threshold
    free = now.level.stick - _ROOM if now.level.status is Status.OK else 1.0
    if before > now.level.stick and now.level.status is Status.OK:
        steps = math.floor((free - before) / POINT_STEP + 1e-9)
        return _pointed(plan, before, steps)
    for steps in range(1, math.floor((free - before) / POINT_STEP + 1e-9) + 1):
        option = _pointed(plan, before, steps)
        if option is not None and option.plan is not None:
            half, _ = prospects.held(option.plan)
            if half.status is Status.OK:
                return option
    return None


def _pointed(plan: Plan, before: float, steps: int) -> Option | None:
    assert plan.crow is not None
    after = before + steps * POINT_STEP
    start = max((stick for stick, out in plan.crow.curve if out >= 1.0), default=0.0)
    if not start + POINT_STEP < after < 1.0 or before <= start:
        return None
    stretch = (after - start) / (before - start)
    inner = tuple(
        (stick if stick <= start else round(start + stretch * (stick - start), 4), out)
        for stick, out in plan.crow.curve
        if stick <= before + 1e-9
    )
    curve = (*inner, (1.0, 0.0))
    crow = replace(plan.crow, threshold=round(after, 4), curve=curve)
    return Option(
        lever="deployment point",
        aim="45 down stick",
        plan=replace(plan, crow=crow),
        before=before,
        after=round(after, 4),
        steps=steps,
    )


def _boost(now: Outlook) -> Option:
    """The roll boost that gives the stowed roll with crow out, in percent."""
    plan = now.plan
    assert now.roll is not None
    before = plan.phase("normal").roll_boost
    wanted = (1.0 + before) / now.roll.value - 1.0
    steps = round((min(max(wanted, -0.5), 1.0) - before) / BOOST_STEP)
    after = round(before + steps * BOOST_STEP, 4)
    phases = tuple(
        replace(phase, roll_boost=after) if phase.name == plan.phase("normal").name else phase for phase in plan.phases
    )
    return Option(
        lever="roll boost",
        aim="roll",
        plan=replace(plan, phases=phases) if steps else None,
        before=before,
        after=after,
        steps=steps,
    )
