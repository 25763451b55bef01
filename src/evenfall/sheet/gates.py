"""First flights in their order: what to fly, how high to enter, when to stop and what to do then."""

from __future__ import annotations

import math

import numpy as np
from pydantic import Field

from evenfall.lines.pull_out import RESERVE, EntryHeight, entry_height
from evenfall.radio.phases import first_of
from evenfall.radio.plan import Plan
from evenfall.sheet.pages import Page
from evenfall.workflow import RigAnswer

STEPS = (0.25, 0.5, 1.0)
"""Steps in which crow is taken out at first."""
SPIN_SECONDS = 4.0
"""Time for a spin of three turns and its recovery, s. Common practice, no source."""
UNKNOWN_SPREAD = 0.1
"""One sigma over the speed where none could be given. Ours, no source."""
_VERTICAL, _DIAGONAL = math.radians(-90.0), math.radians(-45.0)


class HeightPage(Page):
    """Lowest entry, in parts that add up, m."""

    settle: float = Field(description="Down the line until the speed is settled.")
    figure: float = Field(description="For the figure flown on it.")
    decide: float = Field(description="One second to decide.")
    pull_out: float = Field(description="Pull-out to level at four times the weight.")
    reserve: float = Field(description="Kept below it.")
    total: float = Field(description="Their sum.")


class GatePage(Page):
    """One gate; the next opens only when it is passed."""

    name: str = Field(description="What is flown.")
    task: str = Field(description="What to do.")
    passed: str = Field(description="What must be seen before the next.")
    abort: str = Field(description="What to do when anything is different.")
    speed_m_s: float | None = Field(description="Predicted speed plus two sigma; null on the ground.")
    height_m: HeightPage | None = Field(description="Lowest entry above the ground; null on the ground.")


def first_flights(answer: RigAnswer) -> tuple[GatePage, ...]:
    """The gates of a plan, from the bench to the landing."""
    plan = answer.predicted.plan
    vertical = fastest(answer, "vertical down")
    diagonal = fastest(answer, "45 down")
    rows = [_bench(plan), _level(answer, vertical), _diagonal(answer, diagonal), _down(answer, vertical)]
    if first_of(plan.phases, "snap"):
        rows.append(_snap(answer, vertical))
    if first_of(plan.phases, "spin"):
        rows.append(_spin(answer, vertical))
    rows.append(_landing(answer, diagonal))
    return tuple(rows)


def fastest(answer: RigAnswer, line: str) -> float:
    """Fastest speed to reckon with on a line, m/s: the greatest of its stable speeds, each plus two sigma.

    The wanted speed where the line has no steady speed.
    """
    before = answer.predicted
    found = [
        entry.state.speed + 2.0 * (UNKNOWN_SPREAD * entry.state.speed if known is None else known.spread)
        for entry, known in zip(before.survey.line(line).steady, before.estimates[line], strict=True)
        if entry.state.stable
    ]
    return max(found, default=before.ready.wanted * (1.0 + 2.0 * UNKNOWN_SPREAD))


def stick_of(plan: Plan, deployment: float) -> float:
    """Throttle stick (0-1) at which crow is that far out; the highest such stick.

    Straight between the points of the curve, as the radio has it.
    """
    sticks = np.linspace(0.0, 1.0, 2001)
    return float(sticks[np.flatnonzero(plan.deployment(sticks) >= deployment - 1e-9)[-1]])


def _height(found: EntryHeight) -> HeightPage:
    return HeightPage(
        settle=found.settle,
        figure=found.figure,
        decide=found.decide,
        pull_out=found.pull_out,
        reserve=RESERVE,
        total=found.total,
    )


def _bench(plan: Plan) -> GatePage:
    crow = "crow out and in, " if plan.crow is not None else ""
    return GatePage(
        name="Bench signs",
        task=f"The bench page is ticked. At the field again, propeller off: stick right, {crow}elevator, rudder.",
        passed="Every surface goes the way the bench page says.",
        abort="Do not fly.",
        speed_m_s=None,
        height_m=None,
    )


def _stick(share: float) -> str:
    return "closed" if share < 0.005 else f"{100 * share:.0f} %"


def _switch(plan: Plan) -> str:
    return "Crow-off switch if it rolls or pitches by itself. " if plan.crow is not None else ""


def _level(answer: RigAnswer, speed: float) -> GatePage:
    plan = answer.predicted.plan
    if plan.crow is None:
        task, passed = "Level, close the throttle, hold level until it slows.", "No pitch, no roll, no surge."
        abort = "Open the throttle."
    else:
        sticks = ", ".join(f"{100 * stick_of(plan, out):.0f} %" for out in STEPS[:-1])
        task = (
            f"Level and fast. Throttle to {sticks}, then closed: crow a quarter, half, full. Hold each three seconds. "
            "Then roll left and right with crow out."
        )
        passed = "No roll, little pitch, alike at each step; it rolls both ways."
        abort = f"Throttle above {100 * plan.crow.threshold:.0f} %: crow goes in. Does it not: crow-off switch."
    return GatePage(
        name="Level at height" + (", crow in steps" if plan.crow is not None else ""),
        task=task,
        passed=passed,
        abort=abort,
        speed_m_s=speed,
        height_m=_height(entry_height(speed, _VERTICAL)),
    )


def _diagonal(answer: RigAnswer, speed: float) -> GatePage:
    plan, line = answer.predicted.plan, answer.predicted.survey.line("45 down")
    return GatePage(
        name="45 down",
        task=f"Enter slow. Throttle {_stick(line.stick)}, hold the line to the end, time it.",
        passed="Even speed, straight, rolls as expected.",
        abort=f"Throttle stays where it is, pull to level, then power. {_switch(plan)}".strip(),
        speed_m_s=speed,
        height_m=_height(entry_height(speed, _DIAGONAL)),
    )


def _down(answer: RigAnswer, speed: float) -> GatePage:
    plan, line = answer.predicted.plan, answer.predicted.survey.line("vertical down")
    faster = answer.failsafe.row("closed pulse").tendency.down_speed
    off = ""
    if plan.crow is not None and faster is not None:
        off = f"Crow off, it runs away to {faster:.0f} m/s: pull at once. "
    first = "First with crow off, short; then with crow. " if plan.crow is not None else ""
    return GatePage(
        name="Vertical down",
        task=f"{first}Enter slow, throttle {_stick(line.stick)}, time it.",
        passed="Even speed in the lower half, straight, no surge of the propeller.",
        abort=f"Throttle stays closed, pull to level, then power. {_switch(plan)}{off}".strip(),
        speed_m_s=speed,
        height_m=_height(entry_height(speed, _VERTICAL)),
    )


def _snap(answer: RigAnswer, speed: float) -> GatePage:
    plan = answer.predicted.plan
    throw = plan.throws.snap
    rates = [roll.rate for roll in answer.predicted.rolls if abs(roll.throw - throw) < 1e-9 and roll.rate > 0]
    seconds = 2.0 * math.pi / min(rates, default=math.pi)
    return GatePage(
        name="Snap",
        task="Snap phase. One on a level line, one on the 45, then one on the vertical, stopped.",
        passed="It stops where the sticks stop, and the line goes on at the same speed.",
        abort="Sticks to the middle, normal phase, throttle stays closed, pull to level.",
        speed_m_s=speed,
        height_m=_height(entry_height(speed, _VERTICAL, figure=seconds)),
    )


def _spin(answer: RigAnswer, speed: float) -> GatePage:
    crow = answer.predicted.plan.crow is not None
    first = "Crow-off switch, rudder" if crow else "Rudder"
    return GatePage(
        name="Spin",
        task=f"Spin phase, three turns upright, out on a vertical line{' with crow' if crow else ''}.",
        passed="Out within half a turn of letting go, line straight, same speed.",
        abort=f"{first} against it, elevator to the middle, pull to level.",
        speed_m_s=speed,
        height_m=_height(entry_height(speed, _VERTICAL, figure=SPIN_SECONDS)),
    )


def _landing(answer: RigAnswer, speed: float) -> GatePage:
    plan = answer.predicted.plan
    live = plan.phase("landing").crow_live and plan.crow is not None
    if plan.crow is None:
        task = "Try the approach at height first: throttle closed, the motor brake acts."
    elif live:
        task = (
            "Try the approach at height first: throttle over "
            f"{100 * plan.crow.threshold:.0f} % and back; crow comes and goes. Then land."
        )
    else:
        over = f"{100 * plan.crow.threshold:.0f} %"
        task = f"Landing phase. Try the approach at height: throttle over {over} and back. Crow stays in. Then land."
    return GatePage(
        name="Landing",
        task=task,
        passed="You know what the throttle does on the approach." if live else "Nothing changes but power.",
        abort="Power, climb away, normal phase.",
        speed_m_s=speed,
        height_m=_height(entry_height(speed, _DIAGONAL)),
    )
