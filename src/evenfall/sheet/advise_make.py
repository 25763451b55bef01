"""The next change and the next flight in words: the pilot's steps, what they are expected to do, what confirms them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from evenfall.advise.change import Change, Check, Effect, Step
from evenfall.advise.flight import Bid, Doubts, Instrument, LineName, NextFlight
from evenfall.advise.levers import SHARE_STEP
from evenfall.advise.limits import Ceiling
from evenfall.estimate import Estimate
from evenfall.radio.plan import Crow
from evenfall.sheet.gates import GatePage
from evenfall.sheet.learn_page import ChangePage, EffectPage, NextFlightPage

_TIMED = 100.0
"""Metres over which a speed is told as a time."""
_BENT = 50.0
"""Metres over which a bend is told as an angle."""
_TARGETS = {
    "down speed": "speed of the vertical down, stick closed",
    "bend": "bend of the vertical with crow",
    "bend of crow, 45 down upright": "bend that crow adds on the 45 down, upright",
    "bend of crow, 45 down inverted": "bend that crow adds on the 45 down, inverted",
    "45 down stick": "stick that holds the 45 down",
    "roll": "roll with crow out over stowed",
}
_COUNTS = {1: "One", 2: "Two", 3: "Three", 4: "Four"}
_SEEN: dict[Instrument, str] = {
    "recorder": "with the recorder on board",
    "video": "filmed from the side",
    "stopwatch": "timed by stopwatch",
    "sound": "with the sound recorded",
}


# --- change ----------------------------------------------------------------------------------------------------------


def change_page(change: Change) -> ChangePage:
    """The next change in words."""
    none = not change.steps
    what = "Change nothing." if none else " ".join(_step(step, change) for step in change.steps)
    if none and change.verdict in ("doubt", "step"):
        what = "Change nothing, fly it again."
    return ChangePage(
        what=what,
        why=_why(change),
        none=none,
        effects=tuple(_effect(effect) for effect in change.effects),
        check=_check(change.check, change),
        limit="" if change.limit is None else _limit(change.limit, change),
    )


def _step(step: Step, change: Change) -> str:
    if step.lever == "motor brake":
        words = f"Motor brake: level {step.after} instead of {step.before}"
        if step.two_speeds < 0.05:
            return f"{words}."
        chance = f"{100 * step.two_speeds:.0f} % chance"
        return f"{words}; {chance} of two propeller speeds about the wanted speed: fly it high."
    assert isinstance(step.before, float)
    assert isinstance(step.after, float)
    if step.lever == "crow":
        more = "more" if step.steps > 0 else "less"
        moved = abs(math.degrees(step.after - step.before))
        return f"Crow: {moved:.1f} deg {more} at full deployment{_wings(change.plan.crow)}."
    if step.lever == "split":
        return (
            f"Crow of the {step.wing} wing: {abs(math.degrees(step.after)):.1f} deg instead of "
            f"{abs(math.degrees(step.before)):.1f}, the other wing as it is."
        )
    if step.lever == "elevator share":
        angle = 0.0 if change.plan.crow is None else change.plan.crow.angle
        way = "down" if step.after > step.before else "up"
        return (
            f"Elevator with crow: {100 * SHARE_STEP * abs(step.steps):.1f} percent further {way}, from "
            f"{100 * step.before:+z.1f} to {100 * step.after:+z.1f} percent of the crow angle "
            f"({math.degrees(step.after * angle):+z.1f} deg at full deployment, down positive)."
        )
    if step.lever == "deployment point":
        return f"Deployment point: {100 * step.after:.0f} % stick instead of {100 * step.before:.0f}."
    return f"Roll boost with crow: {100 * step.after:.0f} percent instead of {100 * step.before:.0f}."


def _wings(crow: Crow | None) -> str:
    if crow is None:
        return ""
    angles = [(name, abs(math.degrees(angle))) for name, angle in (("upper", crow.upper), ("lower", crow.lower))]
    there = [(name, angle) for name, angle in angles if angle > 0]
    if len({round(angle, 1) for _, angle in there}) == 1:
        return f", {there[0][1]:.1f} deg in all"
    return ", " + " and ".join(f"{name} {angle:.1f} deg" for name, angle in there) + " in all"


def _why(change: Change) -> str:
    deciding = next((effect for effect in change.effects if effect.target == change.about), None)
    words = [] if deciding is None else [_stands(deciding)]
    if change.verdict == "change":
        words.append(f"Chance that this brings it nearer: {_percent(change.chance)}.")
        if change.then is not None:
            words.append(f"One change a flight; {_later(change.then)} waits until this one has been seen.")
    elif change.verdict == "there":
        words = ["Every target is met and known well enough."]
    elif change.verdict == "doubt":
        words.append("What is known is too little to justify a change: another flight tells more.")
    elif change.verdict == "step":
        words.append("That is less than one step of what could be changed.")
    elif change.verdict == "limit":
        words.append("No lever brings it nearer.")
    else:
        words.append("Nothing in this plan can be moved for it.")
    if change.rigging:
        side = "canopy" if change.clean.value > 0 else "belly"
        words.append(
            f"Without crow it bends to the {side} at {abs(math.degrees(change.clean.value)):.0f} deg/s: rigging first, "
            "`evenfall trim` names the change."
        )
    return " ".join(words)


def _stands(effect: Effect) -> str:
    name = _TARGETS[effect.target]
    return f"{name[0].upper()}{name[1:]}: {_value(effect.target, effect.now)}, wanted {_wanted(effect)}."


def _percent(chance: float) -> str:
    return "over 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def _later(step: Step) -> str:
    if step.lever == "motor brake":
        return f"level {step.after} of the motor brake"
    return {"crow": "crow", "split": "the split of the wings", "elevator share": "the elevator"}.get(
        step.lever, f"the {step.lever}"
    )


def _effect(effect: Effect) -> EffectPage:
    return EffectPage(
        target=_TARGETS[effect.target],
        now=_value(effect.target, effect.now),
        after=_value(effect.target, effect.after),
        wanted=_wanted(effect) if effect.decides else "not aimed at by itself",
    )


def _value(target: str, number: Estimate) -> str:
    if target == "down speed":
        return f"{number.value:.1f} +- {number.spread:.1f} m/s"
    if target.startswith("bend"):
        return f"{math.degrees(number.value):+z.1f} +- {math.degrees(number.spread):.1f} deg/s"
    if target == "45 down stick":
        return f"{100 * number.value:.0f} %"
    return f"{100 * number.value:.0f} +- {100 * number.spread:.0f} %"


def _wanted(effect: Effect) -> str:
    if effect.target == "down speed":
        return f"{effect.wanted:.1f} m/s within {effect.tolerance:.1f}"
    if effect.target.startswith("bend"):
        return f"within {math.degrees(effect.tolerance):.0f} deg/s"
    return f"{100 * effect.wanted:.0f} % within {100 * effect.tolerance:.0f}"


def _check(check: Check, change: Change) -> str:
    if check.target == "down speed":
        low, high = check.wanted - check.within, check.wanted + check.within
        return (
            f"Vertical down, stick closed, once the speed is even: {_TIMED:.0f} m in {_TIMED / check.wanted:.1f} s "
            f"({_TIMED / high:.1f} to {_TIMED / low:.1f} s), that is {check.wanted:.1f} +- {check.within:.1f} m/s."
        )
    if check.target == "bend":
        speed = change.effects[0].after.value
        over = _BENT / speed
        low, high = (math.degrees((check.wanted + sign * check.within) * over) for sign in (-1.0, 1.0))
        return (
            f"Vertical down with crow, elevator let go at level trim, seen from the side: over {_BENT:.0f} m the line "
            f"turns between {low:+z.0f} and {high:+z.0f} deg, towards the canopy positive."
        )
    if check.target == "45 down stick":
        return (
            f"45 down at even speed: the stick stands at {100 * check.wanted:.0f} +- {100 * check.within:.0f} %, and "
            "level flight shows no crow."
        )
    low, high = (100 * (check.wanted + sign * check.within) for sign in (-1.0, 1.0))
    return (
        "Two rolls down with crow out and two with crow off, each timed: the rate with crow is "
        f"{low:.0f} to {high:.0f} % of the other."
    )


def _limit(limit: Ceiling, change: Change) -> str:
    angle = math.degrees(limit.angle)
    snap = math.degrees(change.plan.throws.snap)
    if limit.kind == "servo load":
        words = f"At the stated limit: beyond {angle:.1f} deg of crow a servo is loaded over half its stall torque."
        buys = "A stronger servo, a shorter arm or a longer horn"
    elif limit.kind == "snap throw":
        words = (
            f"At the stated limit: beyond {angle:.1f} deg of crow the {limit.wing} wing's hinges leave less than the "
            f"snap throw of {snap:.1f} deg."
        )
        buys = "More aileron throw, a smaller snap throw, crow off in the snap phase"
    else:
        words = (
            f"At the stated limit: beyond {angle:.1f} deg of crow the {limit.wing} wing's hinges leave less than the "
            "normal throw."
        )
        buys = "More aileron throw"
    left = f" The vertical stays {change.missing:.1f} m/s too fast." if change.missing >= 0.05 else ""
    return f"{words}{left} {buys}, a propeller of lower pitch or less weight would buy more."


# --- flight ----------------------------------------------------------------------------------------------------------


def flight_page(flight: NextFlight, gates: Sequence[GatePage] = ()) -> NextFlightPage:
    """The next flight in words; its entry height from the sheet's gates where they are given."""
    best = flight.best
    why = _bid_doubts(flight.now, best.after)
    if flight.enough:
        steep = any(_is_steep(bid) for bid in (best, *flight.others))
        first = (
            "Another flight would tell little more." if steep else "It comes first: steeper lines are flown after it."
        )
        why = f"{first} {why}"
    height = next((gate.height_m.total for gate in gates if gate.height_m and _is_line(gate.name, best.line)), None)
    return NextFlightPage(
        what=f"{_bid(best)}.",
        why=why,
        height="" if height is None else f"Enter at {math.ceil(height / 5) * 5:.0f} m or more above the ground.",
        others=tuple(f"{_bid(bid)}: {_after(bid.after)}{_runs_away(bid)}" for bid in flight.others),
    )


def _runs_away(bid: Bid) -> str:
    return " Without crow it runs away: enter higher, pull out early." if _is_steep(bid) and not bid.crow else ""


def _is_steep(bid: Bid) -> bool:
    return bid.kind not in ("spin-down", "level passes")


def _is_line(gate: str, line: LineName) -> bool:
    return gate.lower().startswith(line)


def _bid(bid: Bid) -> str:
    crow = "with crow" if bid.crow else "with crow off"
    if bid.kind == "spin-down":
        return (
            "A spin-down of the motor brake on the bench: propeller off, in its place a light disc of known inertia "
            "behind a guard, nobody in its plane, sound recorded"
        )
    if bid.kind == "level passes":
        return f"Two level passes, one each way, {_SEEN[bid.instrument]}"
    if bid.kind == "rolls":
        return f"Two rolls on a vertical down with crow out, twice, {_SEEN[bid.instrument]}"
    line = "vertical lines down, stick closed" if bid.line == "vertical down" else "45 lines down"
    count = _COUNTS.get(bid.count, str(bid.count))
    return f"{count} {line}, {crow}, {_SEEN[bid.instrument]}, elevator let go so that the pull shows"


def _bid_doubts(now: Doubts, after: Doubts) -> str:
    words = (
        f"Doubt of the down speed {now.speed:.1f} m/s now, {after.speed:.1f} expected after it; of the bend "
        f"{math.degrees(now.bend):.1f} deg/s now, {math.degrees(after.bend):.1f} after it"
    )
    if now.roll is None or after.roll is None:
        return f"{words}."
    return f"{words}; of the roll {100 * now.roll:.0f} % now, {100 * after.roll:.0f} after it."


def _after(doubts: Doubts) -> str:
    words = f"{doubts.speed:.1f} m/s and {math.degrees(doubts.bend):.1f} deg/s would be left"
    return words + ("." if doubts.roll is None else f", {100 * doubts.roll:.0f} % of roll.")
