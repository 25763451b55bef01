"""What a bench proof says to the pilot about one corner."""

from __future__ import annotations

import math

from evenfall.linkage.faults import DO_NOT_FLY, Verdict
from evenfall.linkage.load import slop_caution

_OPEN = (
    "neutral (measure it twice)",
    "gain (measure full stick)",
    "arm offset (measure with crow out, full stick)",
    "play (measure from both directions)",
)


def corner_text(
    name: str,
    best: Verdict,
    *,
    good: bool,
    fits: bool,
    pulse: float,
    cost: float,
    rest: tuple[str, ...],
    shown: float,
    known: tuple[bool, ...],
) -> str:
    """What the readings mean and what to do.

    Args:
        name: of the corner. best: the most probable hypothesis.
        good, fits: nothing needs doing; the readings agree with `best`.
        pulse: s to add at neutral. cost: change of the roll throw at full deployment, share.
        rest: kinds not ruled out. shown: surface at neutral, rad. known: which of the four unknowns were measured.
    """
    where = name.replace("_", " ").capitalize()
    if not fits:
        return f"{where}: the readings fit no single fault. Measure again, beginning with the one that stands out."
    fault = best.hypothesis.kind
    if good:
        named = "" if fault == "as planned" else f" ({best.hypothesis.label})"
        text = f"{where}: good enough{named}; neutral {round(math.degrees(shown), 1) + 0.0:+.1f} deg"
        text += f", roll with crow out {_percent(cost)}."
    else:
        text = f"{where}: {_action(best, pulse)}{_cost(fault, cost)}{_rest(fault, rest)}"
    missing = [words for words, fixed in zip(_OPEN, known, strict=True) if not fixed]
    return text + (
        f" Left open by these readings: {', '.join(missing)}." if missing and fault not in DO_NOT_FLY else ""
    )


def _percent(share: float) -> str:
    return f"{round(100 * share):+d} %" if round(100 * share) else "0 %"


def _cost(fault: str, cost: float) -> str:
    return "" if fault in DO_NOT_FLY else f" Roll with crow out changes by {_percent(cost)}."


def _rest(fault: str, rest: tuple[str, ...]) -> str:
    if not rest:
        return ""
    if {fault, *rest} >= {"one hole", "gain"}:
        return " Hole and gain cannot be told apart by these readings: look at the holes."
    return f" Not ruled out: {', '.join(rest)}."


def _action(best: Verdict, pulse: float) -> str:
    """What it is and what to do, by kind of fault."""
    kind, label = best.hypothesis.kind, best.hypothesis.label
    if kind in DO_NOT_FLY:
        return f"DO NOT FLY: {label}."
    if kind == "centre":
        return f"neutral is off. Move the pulse by {1e6 * pulse:+.0f} us or turn the rod's end."
    if kind == "gain":
        more = 100.0 * float(best.x[1] + best.x[2])
        travel = 100.0 / (1.0 + more / 100.0)
        return f"moves {more:+.1f} % against the plan. Set this servo's travel to {travel:.0f} % of what it is."
    if kind == "slop":
        slop = abs(float(best.x[3]))
        return slop_caution(slop) or f"{math.degrees(slop):.1f} deg of play."
    if kind == "one tooth":
        back = "pulling" if "pushing" in label else "pushing"
        return f"{label}. Turn it back one tooth {back} and set the rod to neutral again."
    if kind == "one hole":
        return f"{label}, not the planned one. Move the rod and set it to neutral again."
    return f"{label}."
