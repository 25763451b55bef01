"""The next change of a plan: the one that brings the plane, as flights have taught it, nearest to its targets.

Every lever is moved in the pilot's own steps to where its target is expected to be met; the cost of a plan is the sum
over targets of ((off)^2 + (doubt)^2) / (tolerance)^2, and the lever that saves most of it is changed. A change must
be worth a step, and its target must be further off than its own doubt: otherwise the better answer is another flight.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

from evenfall.advise.levers import Aim, Lever, Option, options
from evenfall.advise.limits import Ceiling, ceiling
from evenfall.advise.outlook import Balances, Outlook, Prospects, ReadyPlane
from evenfall.estimate import Estimate
from evenfall.fit.learned import Learned
from evenfall.lines.bend import STRAIGHT_ENOUGH
from evenfall.logs.evidence import Pull
from evenfall.numeric import Status
from evenfall.radio.plan import Plan
from evenfall.tune.targets import Targets

Verdict = Literal["change", "there", "doubt", "step", "limit", "none"]
"""Change; every target is met and known well; off but within doubt; off by less than a step; at a limit; no lever."""

AIMED = Targets(straightness=math.radians(2.0))
"""What a change aims at: the speed as a tuned plan, the bend to 2 deg/s."""
NEAR_ENOUGH = 0.5
"""Share of a tolerance within which a target is left alone."""
LIKELY = 0.6
"""Chance of an improvement from which a change is worth a flight: the target is half a sigma off. Ours, no source."""
_UNSEEN = 0.84
"""The same for a target that no flight has shown yet: two sigma off."""
ROLL_TOLERANCE = 0.1
"""Roll with crow out over stowed may be off by this share. Ours, no source."""
_STICK_COST = 4.0
"""Cost of a 45 down that is not held by the stick, or of crow out in level flight: two tolerances off."""


@dataclass(frozen=True, kw_only=True)
class Effect:
    """One target: what is expected now and after the change, what is wanted, and within what; SI.

    `decides` is False for what is told beside the targets.
    """

    target: str
    now: Estimate
    after: Estimate
    wanted: float
    tolerance: float
    decides: bool = True


@dataclass(frozen=True, kw_only=True)
class Step:
    """One lever moved.

    Args:
        before, after: rad for crow and split (of the wing named), share of the larger aileron angle for the elevator,
            stick for the deployment point, share of the throw for the roll boost, name for the motor brake.
        steps: how many of the pilot's steps, signed; 0 for a level.
        two_speeds: see `evenfall.advise.levers.Option`.
    """

    lever: Lever
    before: float | str
    after: float | str
    steps: int
    wing: str = ""
    two_speeds: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Check:
    """What confirms the change: the line, the number, and within what it must be seen (both SI)."""

    target: Aim
    line: str
    wanted: float
    within: float


@dataclass(frozen=True, kw_only=True)
class Change:
    """The change for the next flight, or the reason for none.

    Args:
        verdict: see `Verdict`. steps: empty where nothing is changed. plan: with the steps in.
        about: the target that decided. effects: on every target, expected with spread.
        chance: that the target decided on comes nearer, 0 to 1; 0 where nothing is changed.
        limit: what stands in the way of more crow where it does. missing: m/s that the down speed stays too fast there.
        then: what would come next, one flight later; None for nothing.
        clean: bend of the vertical without crow, rad/s; `rigging` where it asks for rigging first.
    """

    verdict: Verdict
    steps: tuple[Step, ...]
    plan: Plan
    about: Aim
    effects: tuple[Effect, ...]
    chance: float
    check: Check
    limit: Ceiling | None
    missing: float
    then: Step | None
    clean: Estimate
    rigging: bool


def next_change(
    ready: ReadyPlane,
    plan: Plan,
    learned: Learned | None,
    *,
    pulls: Iterable[tuple[Plan, Pull]] = (),
    targets: Targets | None = None,
    most: int = 1,
    balances: Balances | None = None,
    most_crow: Ceiling | None = None,
) -> Change | None:
    """The next change of a plan for a plane as learned; None where its vertical down has no steady speed to judge.

    Args:
        ready: the plane as its file has it, made ready. learned: None knows of no flight.
        pulls: every pull seen, with the plan it was flown with.
        targets: None is `AIMED`. most: levers to change at once.
        balances: kept from earlier calls for this plane. most_crow: the ceiling where it is known.
    """
    aims = AIMED if targets is None else targets
    kept = Balances(ready=ready) if balances is None else balances
    prospects = Prospects(kept, learned, pulls=pulls, home=plan.motor.level)
    now = prospects.at(plan)
    if now is None:
        return None
    top = ceiling(ready.frame, plan, wanted=ready.wanted) if most_crow is None else most_crow
    steps: list[Step] = []
    start, at_limit = now, False
    first: _Found | None = None
    while True:
        verdict, found, blocked = _best(prospects, now, top, aims)
        at_limit = at_limit or blocked
        if found is None or len(steps) == most:
            break
        first = first or found
        steps.append(found.step)
        now = found.after
    if first is not None:
        verdict = "change"
    about = first.about if first is not None else _worst(start, prospects.ready.wanted, aims)
    clean = prospects.clean_bend(plan)
    return Change(
        verdict=verdict,
        steps=tuple(steps),
        plan=now.plan,
        about=about,
        effects=_effects(start, now, prospects.ready.wanted, aims),
        chance=0.0 if first is None else first.chance,
        check=_check(about, now, prospects.ready.wanted, aims),
        limit=top if at_limit else None,
        missing=max(now.speed.value - prospects.ready.wanted, 0.0) if at_limit else 0.0,
        then=None if found is None or first is None else found.step,
        clean=clean,
        rigging=abs(clean.value) - clean.spread > STRAIGHT_ENOUGH,
    )


# --- targets ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Off:
    """How far one target is off: signed, its one sigma, and its tolerance."""

    aim: Aim
    off: float
    spread: float
    tolerance: float

    @property
    def cost(self) -> float:
        return (self.off**2 + self.spread**2) / self.tolerance**2


def _offs(outlook: Outlook, wanted: float, targets: Targets) -> dict[Aim, _Off]:
    speed, bend = outlook.speed, outlook.bend
    found: dict[Aim, _Off] = {
        "down speed": _Off(
            aim="down speed",
            off=speed.value - wanted,
            spread=speed.spread,
            tolerance=targets.speed_tolerance * wanted,
        ),
        "bend": _Off(aim="bend", off=bend.value, spread=bend.spread, tolerance=targets.straightness),
    }
    wrong = _stick_off(outlook, targets)
    found["45 down stick"] = _Off(aim="45 down stick", off=wrong, spread=0.0, tolerance=1.0)
    if outlook.roll is not None:
        found["roll"] = _Off(
            aim="roll", off=outlook.roll.value - 1.0, spread=outlook.roll.spread, tolerance=ROLL_TOLERANCE
        )
    return found


def _stick_off(outlook: Outlook, targets: Targets) -> float:
    """Off by two tolerances where the stick does not hold the 45 down, or where crow is out in level flight."""
    if outlook.half.status is Status.INSIDE_CLOSED_BAND:
        return math.sqrt(_STICK_COST)
    crow = outlook.plan.crow
    if crow is not None and outlook.level.status is Status.OK and outlook.level.stick < crow.threshold:
        return math.sqrt(_STICK_COST)
    return 0.0


def _cost(outlook: Outlook, wanted: float, targets: Targets) -> float:
    return sum(item.cost for item in _offs(outlook, wanted, targets).values())


def _worst(outlook: Outlook, wanted: float, targets: Targets) -> Aim:
    return max(_offs(outlook, wanted, targets).values(), key=lambda item: item.cost).aim


# --- choice ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Found:
    step: Step
    about: Aim
    after: Outlook
    chance: float
    saves: float


def _best(prospects: Prospects, now: Outlook, top: Ceiling, targets: Targets) -> tuple[Verdict, _Found | None, bool]:
    """What is to be done, the lever that saves most, and whether the ceiling of crow stands in the way."""
    wanted = prospects.ready.wanted
    offs = _offs(now, wanted, targets)
    cost = _cost(now, wanted, targets)
    off_target = {aim for aim, item in offs.items() if abs(item.off) > NEAR_ENOUGH * item.tolerance}
    if not off_target:
        known = all(item.spread <= item.tolerance for item in offs.values())
        return ("there" if known else "doubt"), None, False
    tried: Sequence[Option] = options(prospects, now, top, off_target)
    blocked = any(option.blocked for option in tried)
    good: list[_Found] = []
    unsure = False
    for option in tried:
        if option.plan is None or option.plan == now.plan:
            continue
        after = prospects.at(option.plan, reset=option.lever in ("crow", "split"))
        if after is None:
            continue
        item, moved = offs[option.aim], _offs(after, wanted, targets)[option.aim]
        chance = _chance(item, moved)
        saves = cost - _cost(after, wanted, targets) + _reset(after, now, wanted, targets)
        if saves <= 0.0:
            continue
        if chance < (LIKELY if _is_seen(prospects, option.aim) else _UNSEEN):
            unsure = True
            continue
        good.append(_Found(step=_step(option), about=option.aim, after=after, chance=chance, saves=saves))
    if good:
        return "change", max(good, key=lambda found: found.saves), blocked
    if unsure:
        return "doubt", None, blocked
    if blocked:
        return "limit", None, True
    unmet = [offs[aim] for aim in off_target if abs(offs[aim].off) > offs[aim].tolerance]
    return ("step" if not unmet or tried else "none"), None, False


def _is_seen(prospects: Prospects, aim: Aim) -> bool:
    """Flights have told something of a target."""
    return bool(prospects.seen) if aim == "bend" else prospects.learned is not None


def _reset(after: Outlook, now: Outlook, wanted: float, targets: Targets) -> float:
    """The doubt of setting crow anew is told but must not speak against every change."""
    more = max(after.speed.spread**2 - now.speed.spread**2, 0.0)
    return more / (targets.speed_tolerance * wanted) ** 2


def _chance(now: _Off, after: _Off) -> float:
    """Chance that a target comes nearer: what it is off lies beyond half the change, given its doubt."""
    moved = abs(after.off - now.off)
    beyond = abs(now.off) - 0.5 * moved
    if now.spread == 0.0:
        return 1.0 if beyond > 0.0 else 0.0
    return NormalDist().cdf(beyond / now.spread)


def _step(option: Option) -> Step:
    return Step(
        lever=option.lever,
        before=option.before,
        after=option.after,
        steps=option.steps,
        wing=option.wing,
        two_speeds=option.two_speeds,
    )


# --- what it does ----------------------------------------------------------------------------------------------------


def _effects(now: Outlook, after: Outlook, wanted: float, targets: Targets) -> tuple[Effect, ...]:
    found = [
        Effect(
            target="down speed",
            now=now.speed,
            after=after.speed,
            wanted=wanted,
            tolerance=targets.speed_tolerance * wanted,
        ),
        Effect(target="bend", now=now.bend, after=after.bend, wanted=0.0, tolerance=targets.straightness),
    ]
    for name, one, two in (
        ("bend of crow, 45 down upright", now.diagonal, after.diagonal),
        ("bend of crow, 45 down inverted", now.diagonal_inverted, after.diagonal_inverted),
    ):
        found.append(Effect(target=name, now=one, after=two, wanted=0.0, tolerance=targets.straightness, decides=False))
    if now.half.status is Status.OK and after.half.status is Status.OK:
        sticks = [Estimate(value=item.half.stick, spread=0.0) for item in (now, after)]
        found.append(
            Effect(
                target="45 down stick",
                now=sticks[0],
                after=sticks[1],
                wanted=after.half.stick,
                tolerance=targets.stowed_margin,
                decides=False,
            )
        )
    if now.roll is not None and after.roll is not None:
        found.append(Effect(target="roll", now=now.roll, after=after.roll, wanted=1.0, tolerance=ROLL_TOLERANCE))
    return tuple(found)


def _check(about: Aim, after: Outlook, wanted: float, targets: Targets) -> Check:
    if about == "bend":
        within = max(targets.straightness, after.bend.spread)
        return Check(target=about, line="vertical down", wanted=after.bend.value, within=within)
    if about == "45 down stick":
        return Check(target=about, line="45 down", wanted=after.half.stick, within=targets.stowed_margin)
    if about == "roll":
        assert after.roll is not None
        return Check(target=about, line="vertical down", wanted=after.roll.value, within=ROLL_TOLERANCE)
    within = max(targets.speed_tolerance * wanted, after.speed.spread)
    return Check(target=about, line="vertical down", wanted=after.speed.value, within=within)
