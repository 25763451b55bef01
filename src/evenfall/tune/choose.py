"""Which candidate to fly: what refuses one, what speaks against one, and the order of the rest."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from evenfall.tune.candidates import Candidate
from evenfall.tune.targets import Targets, Weights

Verdict = Literal["chosen", "usable", "fickle", "refused"]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A candidate with its verdict, its cost (lower is better; the sum of `parts`) and the reasons in words."""

    candidate: Candidate
    verdict: Verdict
    cost: float
    parts: dict[str, float]
    reasons: tuple[str, ...]

    @property
    def why(self) -> str:
        """The reasons as one text."""
        return " ".join(self.reasons)


def judge(
    candidates: tuple[Candidate, ...], *, wanted: float, targets: Targets, weights: Weights
) -> tuple[Judged, ...]:
    """Every candidate with its verdict, best first: usable, then fickle, then refused, each by rising cost.

    The first one that is not refused is chosen; where all are refused none is.
    """
    judged = [_judge_one(item, wanted=wanted, targets=targets, weights=weights) for item in candidates]
    order = {"usable": 0, "fickle": 1, "refused": 2}
    judged.sort(key=lambda item: (order[item.verdict], item.cost))
    if judged and judged[0].verdict != "refused":
        first = judged[0]
        judged = [
            replace(first, verdict="chosen", reasons=("Chosen.", *first.reasons)),
            *(_compared(item, first, targets=targets) for item in judged[1:]),
        ]
    return tuple(judged)


def _compared(item: Judged, best: Judged, *, targets: Targets) -> Judged:
    """The same with what puts it behind the chosen one, the two weightiest shortcomings."""
    if item.verdict == "refused":
        return item
    behind = {name: item.parts[name] - best.parts[name] for name in item.parts}
    worst = sorted((name for name in behind if behind[name] > _WORTH_SAYING), key=lambda name: -behind[name])[:2]
    words = [_BEHIND[name](item.candidate, best.candidate) for name in worst]
    if not words:
        return item
    return replace(item, reasons=(f"Behind the chosen one: {', '.join(words)}.", *item.reasons))


_WORTH_SAYING = 0.02
_UNSTEADY = 0.1
"""What a second propeller speed counts among refused candidates, share of the wanted speed. Ours, no source."""


def _spread_of(item: Candidate) -> float:
    return item.speed_estimate.spread if item.speed_estimate is not None else math.nan


_BEHIND: dict[str, Callable[[Candidate, Candidate], str]] = {
    "fold": lambda item, best: f"{100 * item.shaft.fold_probability:.0f} % chance of two propeller speeds",
    "span": lambda item, best: (
        f"{100 * item.shaft.span_probability:.0f} % chance of two propeller speeds at other speeds"
    ),
    "doubt": lambda item, best: f"down speed less sure (+- {_spread_of(item):.2f} against {_spread_of(best):.2f} m/s)",
    "bend": lambda item, best: (
        f"stronger pull ({abs(math.degrees(item.curvature or 0)):.0f} against "
        f"{abs(math.degrees(best.curvature or 0)):.0f} deg/s)"
    ),
    "roll": lambda item, best: (
        f"less roll left ({100 * (item.retention or 0):.0f} against {100 * (best.retention or 0):.0f} %)"
    ),
    "hard": lambda item, best: "harder braking of the propeller",
    "reach": lambda item, best: (
        f"more crow ({math.degrees(item.angle):.1f} against {math.degrees(best.angle):.1f} deg)"
    ),
}
"""What puts a candidate behind another, by part of its cost."""


def _judge_one(item: Candidate, *, wanted: float, targets: Targets, weights: Weights) -> Judged:
    refusal = _refusal(item, wanted)
    parts = cost_parts(item, wanted=wanted, targets=targets, weights=weights)
    cost = sum(parts.values())
    if refusal:
        off = abs((item.speed or math.inf) - wanted) / wanted + (_UNSTEADY if item.states != 1 else 0.0)
        return Judged(candidate=item, verdict="refused", cost=100.0 * off + cost, parts=parts, reasons=(refusal,))
    doubts = _doubts(item, targets)
    verdict: Verdict = (
        "fickle" if item.states != 1 or item.shaft.fold_probability > targets.fold_probability else "usable"
    )
    return Judged(candidate=item, verdict=verdict, cost=cost, parts=parts, reasons=(*doubts, *_remarks(item)))


def cost_parts(item: Candidate, *, wanted: float, targets: Targets, weights: Weights) -> dict[str, float]:
    """A candidate's shortcomings, each in steps of `Weights`."""
    spread = item.speed_estimate.spread / wanted if item.speed_estimate is not None else 0.1
    return {
        "fold": weights.fold * item.shaft.fold_probability / targets.fold_probability,
        "span": weights.span * item.shaft.span_probability / targets.fold_probability,
        "doubt": spread / weights.doubt,
        "bend": abs(item.curvature or 0.0) / weights.bend,
        "roll": (1.0 - (item.retention if item.retention is not None else 1.0)) / weights.roll,
        "hard": weights.hard * item.level.percent / 100,
        "reach": weights.reach * item.angle / max(item.drag.limit.angle, 1e-6),
    }


def _refusal(item: Candidate, wanted: float) -> str | None:
    limit = math.degrees(item.drag.limit.angle)
    if item.reach == "no steady speed":
        return "No steady speed on the vertical down with this level."
    if item.reach == "too fast":
        return (
            f"Still {item.speed:.1f} m/s with {limit:.0f} deg of crow, the most the {item.drag.limit.wing} wing's "
            f"hinges allow; wanted is {wanted:.1f}."
        )
    if item.reach == "too slow":
        return f"Only {item.speed:.1f} m/s even without crow: this level holds too much; wanted is {wanted:.1f}."
    return None


def _doubts(item: Candidate, targets: Targets) -> tuple[str, ...]:
    reasons = []
    name = item.level.name
    if item.states > 1:
        speeds = " or ".join(f"{speed:.1f}" for speed in (item.speed or 0.0, *item.other_speeds))
        reasons.append(
            f"{item.states} propeller speeds possible at the wanted speed: {speeds} m/s, entry speed decides."
        )
    elif item.states == 0:
        reasons.append("No stable propeller speed at the wanted speed.")
    elif item.shaft.fold_probability > targets.fold_probability:
        percent = round(100 * item.shaft.fold_probability)
        near = "" if item.shaft.margin is None else f", {abs(item.shaft.margin):.0f} percent of brake from the fold"
        known = "to a factor of two only" if item.level.damping is None else "to a tenth only"
        reasons.append(
            f"One propeller speed as computed{near}, but level {name} is known {known}: {percent} % chance of two."
        )
    if item.states == 1 and item.shaft.double_speeds is not None:
        where = speeds_words(*item.shaft.double_speeds)
        reasons.append(f"Two propeller speeds {where}: entries at such a speed take longer to settle.")
    return tuple(reasons)


def speeds_words(low: float, high: float) -> str:
    """Where something holds from `low` to `high` (m/s): at one speed, or between two."""
    first, last = f"{low:.1f}", f"{high:.1f}"
    return f"at {first} m/s" if first == last else f"between {first} and {last} m/s"


def _remarks(item: Candidate) -> tuple[str, ...]:
    remarks = []
    if item.per_brake is not None and abs(item.per_brake) > 0.5:
        remarks.append(f"Sensitive: 5 percent of brake move the down speed by {item.per_brake:+.1f} m/s.")
    if item.retention is not None:
        remarks.append(f"Rolls at {100 * item.retention:.0f} % of the stowed roll rate.")
    if item.curvature is not None and abs(item.curvature) > math.radians(5):
        side = "canopy" if item.curvature > 0 else "belly"
        remarks.append(
            f"Pulls to the {side} at {abs(math.degrees(item.curvature)):.0f} deg/s until the elevator share is in."
        )
    return tuple(remarks)
