"""How a plan is rigged and set, as a declared page."""

from __future__ import annotations

import math

from pydantic import Field

from evenfall.lines.bend import STRAIGHT_ENOUGH, BendAnswer
from evenfall.lines.fitting import Fitting
from evenfall.linkage.budget import Share
from evenfall.radio.channels import Channel
from evenfall.radio.phases import landing_words
from evenfall.sheet.make import CAUTIONS
from evenfall.sheet.pages import Page
from evenfall.workflow import RigAnswer


class CornerPage(Page):
    """One aileron: how it is fitted, what it does, what is set."""

    corner: str = Field(description="Wing and side as seen from behind.")
    fit: str = Field(description="Holes, teeth, pulse shift and offset in words; empty where the plan says nothing.")
    signs: tuple[str, ...] = Field(description="Which way it goes with the stick, with crow, with a longer pulse.")
    crow_deg: float = Field(description="Angle fully deployed, degrees, trailing edge down positive.")
    roll_kept: float = Field(description="Roll throw deployed over stowed at the same stick, normal throw.")
    resolution_deg: float = Field(description="Coarsest step of the surface for one step of the pulse, degrees.")
    servo_load: float | None = Field(description="Largest torque over stall torque, supply sagged; null if unknown.")
    servo_load_spread: float | None = Field(description="One sigma of the load; null if unknown.")
    travel_left_deg: float = Field(description="Least servo turn left in any phase, degrees; negative where it breaks.")
    tightest: str = Field(description="Phase and limit where that is.")
    neutral_us: float | None = Field(description="Pulse with the surface at neutral, us.")
    centre_shift_percent: float | None = Field(description="Centre shift of the channel, percent of its travel.")
    crow_percent: tuple[float, ...] = Field(description="Share of the travel at each point of the deployment curve.")
    roll_percent: dict[str, float] = Field(description="Share of the travel at full right stick, by phase.")
    ends_us: tuple[float, float] | None = Field(description="End limits, us.")


class RigPhasePage(Page):
    """One phase."""

    name: str = Field(description="As the pilot calls it.")
    crow: bool = Field(description="Crow live here.")
    aileron_deg: float = Field(description="Throw either way, degrees.")
    elevator_deg: float = Field(description="Throw either way, degrees.")
    rudder_deg: float = Field(description="Throw either way, degrees.")
    exponential_percent: tuple[float, float, float] = Field(description="Aileron, elevator, rudder.")
    roll_boost_percent: float = Field(description="Extra roll share at full deployment.")


class FailsafePage(Page):
    """One way of storing failsafe."""

    kind: str = Field(description="Hold, closed pulse, captured closed or no pulse.")
    motor: str = Field(description="What the motor does.")
    motor_acceptable: bool = Field(description="False where the motor may go on running.")
    crow: str = Field(description="Where the crow is.")
    what: str = Field(description="What the plane does.")
    store: str = Field(description="What to store.")
    test: str = Field(description="How to test it, propeller off.")
    recommended: bool = Field(description="The one to use where the receiver can.")


class SpeedChange(Page):
    """A line before and after rounding to the radio."""

    line: str = Field(description="The line.")
    planned_m_s: float | None = Field(description="Speed of the plan.")
    flown_m_s: float | None = Field(description="Speed with the radio's rounded settings.")


class RigPage(Page):
    """Answer of `rig`."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="Name of the plan.")
    radio: str = Field(description="Name of the radio description.")
    corners: tuple[CornerPage, ...] = Field(description="Every aileron; empty without servo and linkage.")
    curve_stick_percent: tuple[float, ...] = Field(description="Stick positions of the deployment curve's points.")
    elevator_percent: tuple[float, ...] = Field(description="Elevator share at these points, elevator down positive.")
    travel: str = Field(description="The travel budget in words, with the cheapest cure where it does not close.")
    supply: str = Field(description="Supply against all servos moving.")
    play: str = Field(description="Caution about play; empty where small or not measured.")
    lost: tuple[str, ...] = Field(description="What this radio cannot do of the plan.")
    speeds: tuple[SpeedChange, ...] = Field(description="The five lines before and after rounding.")
    phases: tuple[RigPhasePage, ...] = Field(description="The phases.")
    landing: str = Field(description="Why crow is off for landing, or what to expect.")
    straightness: tuple[str, ...] = Field(
        description="Cures in the plan: sign, size of one step, how to tell in the air."
    )
    failsafe: tuple[FailsafePage, ...] = Field(description="Every way of storing failsafe.")
    cautions: tuple[str, ...] = Field(description="Before bench work and the first flight.")


def rig_page(answer: RigAnswer) -> RigPage:
    """The page of `rig`."""
    plan, settings = answer.predicted.plan, answer.settings
    return RigPage(
        plane=answer.predicted.ready.file.plane.name,
        plan=answer.predicted.plan_name,
        radio=answer.radio.name,
        corners=tuple(_corner(answer, name) for name in answer.fitting.corners),
        curve_stick_percent=() if settings is None else tuple(100 * stick for stick in settings.sticks),
        elevator_percent=() if settings is None else tuple(100 * share for share in settings.elevator),
        travel=_NO_LINKAGE if answer.fitting.budget is None else answer.fitting.budget.text,
        supply=_supply_words(answer.fitting),
        play=answer.fitting.caution,
        lost=() if settings is None else tuple(item.text for item in settings.lost),
        speeds=_speeds(answer),
        phases=tuple(
            RigPhasePage(
                name=phase.name,
                crow=phase.crow_live and plan.crow is not None,
                aileron_deg=math.degrees(phase.aileron),
                elevator_deg=math.degrees(phase.elevator),
                rudder_deg=math.degrees(phase.rudder),
                exponential_percent=(
                    100 * phase.aileron_exponential,
                    100 * phase.elevator_exponential,
                    100 * phase.rudder_exponential,
                ),
                roll_boost_percent=100 * phase.roll_boost,
            )
            for phase in plan.phases
        ),
        landing=landing_words(plan.phase("landing"), answer.landing) if plan.crow is not None else "",
        straightness=straightness_words(
            answer.predicted.bends,
            plan.crow.elevator_share if plan.crow else 0.0,
            wings=len(answer.predicted.ready.file.plane.wings),
        ),
        failsafe=tuple(
            FailsafePage(
                kind=row.kind,
                motor=row.motor,
                motor_acceptable=row.motor_acceptable,
                crow=row.crow,
                what=row.text,
                store=row.store,
                test=row.test,
                recommended=row.recommended,
            )
            for row in answer.failsafe.rows
        ),
        cautions=(*CAUTIONS, *answer.failsafe.cautions[1:2]),
    )


def _supply_words(fitting: Fitting) -> str:
    """What the receiver supply gives, and how far the loads may be trusted; empty without servos."""
    if fitting.supply is None:
        return ""
    doubt = " Loads at the largest throws lie beyond the section tables: a trend only." if fitting.beyond else ""
    return fitting.supply.text + doubt


_NO_LINKAGE = "The plane file describes no servo and linkage: give [servo.aileron] and [linkage.aileron]."


def _corner(answer: RigAnswer, name: str) -> CornerPage:
    work = answer.fitting.corners[name]
    setup = answer.predicted.plan.corners.get(name)
    channel: Channel | None = None if answer.settings is None else answer.settings.channels.get(name)
    left, where = _tightest([row for row in _shares(answer) if row.corner == name])
    return CornerPage(
        corner=name.replace("_", " "),
        fit="" if setup is None else setup.words,
        signs=work.signs,
        crow_deg=math.degrees(work.corner.crow),
        roll_kept=work.retention,
        resolution_deg=math.degrees(work.resolution),
        servo_load=None if work.load is None else work.load.worst,
        servo_load_spread=None if work.load is None else work.load.spread,
        travel_left_deg=math.degrees(left),
        tightest=where,
        neutral_us=None if channel is None else 1e6 * channel.neutral,
        centre_shift_percent=None if channel is None else 100 * channel.centre_shift,
        crow_percent=() if channel is None else tuple(100 * share for share in channel.curve),
        roll_percent={} if channel is None else {phase: 100 * share for phase, share in channel.roll.items()},
        ends_us=None if channel is None else (1e6 * channel.end_low, 1e6 * channel.end_high),
    )


def _shares(answer: RigAnswer) -> tuple[Share, ...]:
    return () if answer.fitting.budget is None else answer.fitting.budget.shares


def _tightest(rows: list[Share]) -> tuple[float, str]:
    """Least turn left of one corner, rad, with its phase and limit."""
    worst = min(rows, key=lambda row: min(row.left_low, row.left_high))
    pulling = worst.left_low < worst.left_high
    left, cause = (worst.left_low, worst.low_cause) if pulling else (worst.left_high, worst.high_cause)
    return left, f"{worst.phase}, {cause}"


def _speeds(answer: RigAnswer) -> tuple[SpeedChange, ...]:
    if answer.flown is None:
        return ()

    def of(name: str, flown: bool) -> float | None:
        found = answer.flown if flown and answer.flown is not None else answer.predicted
        state = found.survey.line(name).speed
        return None if state is None else state.speed

    return tuple(
        SpeedChange(line=line.name, planned_m_s=of(line.name, False), flown_m_s=of(line.name, True))
        for line in answer.predicted.survey.lines
    )


def straightness_words(bends: tuple[BendAnswer, ...], share: float, *, wings: int = 2) -> tuple[str, ...]:
    """The cures a plan starts from, with sign, step, and how the pilot tells in the air which is right."""
    down = next((bend for bend in bends if bend.line == "vertical down" and not bend.inverted), None)
    if down is None:
        return ()
    rows = []
    if abs(down.clean) > STRAIGHT_ENOUGH:
        rows.append(down.cure)
    way = "no elevator" if share == 0 else f"elevator {'down' if share > 0 else 'up'}"
    rows += [
        f"Elevator share {share:+.3f} ({way} with deployment); one step is 0.010. First fly the vertical with the "
        "crow-off switch: it must be straight. Then with crow: if it now pulls to the canopy, add a step of elevator "
        "down (+); if to the belly, a step of elevator up (-)."
    ]
    if wings > 1:
        rows.append(
            "If the same step that straightens the vertical spoils the 45 with crow half out, it is lift, not moment: "
            "take 2 % less crow on the lower wing where the line drifts to the canopy without rotating, on the upper "
            "wing where it drifts to the belly, and put the share back."
        )
    return tuple(rows)
