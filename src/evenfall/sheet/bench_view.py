"""Everything the page needs to move ailerons, arms, rods and horns by itself, as the real ones move."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from pydantic import Field

from evenfall.errors import EvenfallError
from evenfall.lines.fitting import TRIM
from evenfall.lines.loads import SAGGED_SUPPLY, corner_moments
from evenfall.lines.refit import squared
from evenfall.lines.throws import fitted_corners, phase_uses
from evenfall.linkage.budget import Share, travel_shares
from evenfall.linkage.corner import CAUSES, Corner, corner_limits, retention, roll_retention
from evenfall.linkage.load import servo_load, stall_torque
from evenfall.plane.airframe import Plane
from evenfall.plane.files import PlaneFile
from evenfall.radio.channels import crow_angle
from evenfall.radio.phasefile import phase_data
from evenfall.radio.plan import Plan
from evenfall.sheet.pages import Page, PlanPhasePage
from evenfall.workflow.ready import Ready


class LinkagePage(Page):
    """One aileron's linkage, SI and radians: the arguments of `evenfall.linkage.fourbar.FourBar` and of the corner."""

    corner: str = Field(description="upper_left and so on.")
    arm: float = Field(description="Servo arm radius, m.")
    horn: float = Field(description="Horn radius, m.")
    rod: float = Field(description="Rod, pin to pin, m.")
    distance: float = Field(description="Servo axis to hinge line along the chord, m.")
    height: float = Field(description="Servo axis beyond the hinge line towards the horn's side, m.")
    setback: float = Field(description="Horn pin aft of the hinge line at neutral, m.")
    crossed: bool = Field(description="The arm stands on the side away from the horn.")
    horn_above: bool = Field(description="The horn stands on the upper side.")
    square: float = Field(description="Arm angle square to its rod, from the chord's normal, rad.")
    centre: float = Field(description="Arm from square at the centre pulse, rad.")
    offset: float = Field(description="Arm from square with the surface at neutral, rad.")
    direction: float = Field(description="+1 where a longer pulse pushes the rod.")
    servo_gain: float = Field(description="Servo angle per pulse, rad/s.")
    pulse_centre: float = Field(description="Centre pulse, s.")
    low: float = Field(description="Least throw any limit allows, rad, trailing edge down positive.")
    high: float = Field(description="Greatest throw any limit allows, rad.")
    low_words: str = Field(description="What ends the travel there.")
    high_words: str = Field(description="What ends the travel there.")
    y: float = Field(description="Spanwise place of the servo, m, right positive.")


class WingMix(Page):
    """Crow of one wing."""

    wing: str = Field(description="upper or lower.")
    crow: float = Field(description="Angle fully deployed, rad, trailing edge down positive.")


class CornerOut(Page):
    """What one corner keeps with crow out."""

    corner: str = Field(description="upper_left and so on.")
    kept_normal: float | None = Field(description="Roll throw deployed over stowed at equal stick, normal phase.")
    kept_snap: float | None = Field(description="The same at snap throw.")
    offset_deg: float = Field(description="Arm offset.")
    left_deg: float = Field(description="Least servo turn left in any phase; negative where it breaks.")
    tightest: str = Field(description="Phase and limit where that is.")
    servo_load: float | None = Field(description="Largest torque over stall torque; null if unknown.")


class KinematicsPage(Page):
    """Answer of topic `kinematics`. Angles rad, lengths m, sticks -1 to 1 (throttle 0 to 1)."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="Name of the plan.")
    phases: tuple[PlanPhasePage, ...] = Field(description="Phases with throws and exponentials.")
    curve: tuple[tuple[float, float], ...] = Field(description="Deployment over throttle stick, 0 to 1; empty without.")
    wings: tuple[WingMix, ...] = Field(description="Wings with ailerons.")
    elevator_crow: float = Field(description="Elevator added at full deployment, rad, trailing edge down positive.")
    throttle_curve: tuple[tuple[float, float], ...] = Field(description="Motor command over stick, 0 to 1.")
    closed_below: float = Field(description="End of the closed band, 0 to 1.")
    linkages: tuple[LinkagePage, ...] = Field(description="Every described linkage; empty without.")
    missing: str = Field(description="Why linkages are missing, and which keys would give them; empty where all there.")
    without_offset: bool = Field(description="Arms square to their rods instead of as planned.")
    kept: tuple[CornerOut, ...] = Field(description="What each corner keeps with crow out.")
    kept_words: str = Field(description="With and without offset in a sentence.")
    cautions: tuple[str, ...] = Field(description="Before bench work.")


class SheetAnswer(Page):
    """Answer of topic `sheet`: where the printed sheet can be had."""

    ready: bool = Field(description="A sheet can be made.")
    why_not: str = Field(description="What is missing; empty where ready.")
    pdf: str = Field(description="Address of the PDF; &paper=letter for the other paper.")
    html: str = Field(description="Address of the file for the phone.")
    pages: tuple[str, ...] = Field(description="Addresses of the pages as pictures (SVG).")
    bytes_html: int = Field(description="Size of the phone's file.")


def kinematics_page(
    plane: PlaneFile, plan: Plan, *, name: str, without_offset: bool = False, ready: Ready | None = None
) -> KinematicsPage:
    """Everything the page needs to move the ailerons of a plan by itself.

    Args:
        name: what the plan is called.
        without_offset: arms square to their rods, corners fitted anew, instead of as planned.
        ready: the plane made ready, for the servo loads; without it they are null.
    """
    body, missing = plane.plane, ""
    planned: dict[str, Corner] = {}
    square: dict[str, Corner] = {}
    why_not = ""
    try:
        planned = fitted_corners(body, plan)
    except EvenfallError as error:
        missing = str(error)
    try:
        square = fitted_corners(body, squared(body, plan))
    except EvenfallError as error:
        why_not = str(error)
    corners = square if without_offset else planned
    missing = (why_not if without_offset else missing) or _missing(body, corners)
    works = _works(corners, plan)
    loads = {} if ready is None else _loads(ready, plan, corners)
    return KinematicsPage(
        plane=body.name,
        plan=name,
        phases=tuple(PlanPhasePage.model_validate(phase_data(phase)) for phase in plan.phases),
        curve=() if plan.crow is None else plan.crow.curve,
        wings=tuple(
            WingMix(wing=wing, crow=crow_angle(plan, f"{wing}_left"))
            for wing, there in body.wings.items()
            if there.aileron is not None
        ),
        elevator_crow=0.0 if plan.crow is None else plan.crow.elevator,
        throttle_curve=plan.motor.throttle_curve,
        closed_below=body.controller.closed_below,
        linkages=tuple(_linkage(body, corner) for corner in corners.values()),
        missing=missing,
        without_offset=without_offset,
        kept=tuple(_corner_out(corner, works[name], loads.get(name)) for name, corner in corners.items()),
        kept_words=_compared(plan, tuple(planned.values()), tuple(square.values()), why_not),
        cautions=_cautions({name: work.shares for name, work in works.items()}),
    )


def _linkage(plane: Plane, corner: Corner) -> LinkagePage:
    limits, bar = corner_limits(corner), corner.bar
    ends = sorted(
        (float(corner.throw(float(at))), CAUSES[int(cause)])
        for at, cause in ((limits.low, limits.low_cause), (limits.high, limits.high_cause))
    )
    aileron = plane.wings[corner.name.partition("_")[0]].aileron
    if aileron is None:
        raise AssertionError("a corner without aileron was fitted")
    middle = 0.5 * (aileron.inner_y + aileron.outer_y)
    return LinkagePage(
        corner=corner.name,
        arm=float(bar.arm),
        horn=float(bar.horn),
        rod=float(bar.rod),
        distance=float(bar.distance),
        height=float(bar.height),
        setback=float(bar.setback),
        crossed=bar.crossed,
        horn_above=bar.horn_above,
        square=corner.square,
        centre=corner.centre,
        offset=corner.neutral,
        direction=float(corner.direction),
        servo_gain=corner.servo_gain,
        pulse_centre=corner.pulse_centre,
        low=ends[0][0],
        high=ends[1][0],
        low_words=ends[0][1],
        high_words=ends[1][1],
        y=-middle if corner.name.endswith("left") else middle,
    )


@dataclass(frozen=True, kw_only=True)
class _Work:
    """Travel and roll of a corner; equal for corners that are mirror images, which are worked out once."""

    shares: tuple[Share, ...]
    normal: float | None
    snap: float | None


def _works(corners: Mapping[str, Corner], plan: Plan) -> dict[str, _Work]:
    uses, throws = phase_uses(plan, trim=TRIM), plan.throws
    twins: dict[Corner, _Work] = {}
    found = {}
    for name, corner in corners.items():
        twin = replace(corner, name=name.partition("_")[0], roll_sign=1)
        if twin not in twins:
            kept = plan.crow is not None
            twins[twin] = _Work(
                shares=travel_shares((twin,), uses),
                normal=roll_retention(twin, throws.normal).retention if kept else None,
                snap=roll_retention(twin, throws.snap).retention if kept else None,
            )
        found[name] = twins[twin]
    return found


def _loads(ready: Ready, plan: Plan, corners: Mapping[str, Corner]) -> dict[str, float]:
    """Largest torque over stall torque of every servo, at 1.3 times the wanted speed and sagged supply."""
    servo, throws = ready.file.plane.aileron_servo, plan.throws
    if servo is None or not corners:
        return {}
    asked = tuple(throw + TRIM for throw in (throws.normal, throws.snap))
    moments = corner_moments(ready.frame, plan.crow, wanted=ready.wanted, throws=asked)
    stall = stall_torque(servo.torque, servo.supply_voltage, SAGGED_SUPPLY * servo.supply_voltage)
    return {
        name: servo_load(corner, corner.servo(moments[name].angle), moments[name].moment, stall=stall).worst
        for name, corner in corners.items()
        if name in moments
    }


def _corner_out(corner: Corner, work: _Work, load: float | None) -> CornerOut:
    tight = min(work.shares, key=lambda share: min(share.left_low, share.left_high))
    cause = tight.low_cause if tight.left_low < tight.left_high else tight.high_cause
    return CornerOut(
        corner=corner.name,
        kept_normal=work.normal,
        kept_snap=work.snap,
        offset_deg=math.degrees(corner.neutral),
        left_deg=math.degrees(min(tight.left_low, tight.left_high)),
        tightest=f"{tight.phase}, {cause}",
        servo_load=load,
    )


def _compared(plan: Plan, planned: tuple[Corner, ...], square: tuple[Corner, ...], why_not: str) -> str:
    """What the arms as planned keep of the roll against arms square to their rods."""
    if plan.crow is None or plan.crow.angle == 0 or not planned:
        return ""
    throw = plan.throws.normal
    if not square:
        return f"With every arm square to its rod this crow cannot be had: {why_not}."
    kept = f"With crow out the linkages keep {100 * retention(planned, throw):.0f} % of the roll at normal throw"
    alone = 100 * retention(square, throw)
    return f"{kept} with the arms as planned, {alone:.0f} % with every arm square to its rod."


def _missing(plane: Plane, corners: Mapping[str, Corner]) -> str:
    """Which keys would describe the linkages that are not there."""
    wanted = [
        f"{name}_{side}" for name, wing in plane.wings.items() if wing.aileron is not None for side in ("left", "right")
    ]
    absent = [name for name in wanted if name not in corners]
    if not wanted:
        return "This plane has no ailerons in its file; give [wing.upper.aileron]."
    if not absent:
        return ""
    tables = [
        key
        for key, there in (("[servo.aileron]", plane.aileron_servo), ("[linkage.aileron]", plane.aileron_linkage))
        if not there
    ] or [f"[linkage.aileron.{name}]" for name in absent]
    return (
        "Arms and rods are not drawn, and the ailerons move exactly as told: "
        f"give {' and '.join(tables)} in the plane file."
    )


def _cautions(shares: Mapping[str, tuple[Share, ...]]) -> tuple[str, ...]:
    found = ["Propeller off before the throttle stick moves."]
    tight = {
        corner: [share.phase for share in rows if not share.closes]
        for corner, rows in shares.items()
        if not all(share.closes for share in rows)
    }
    if tight:
        where = ", ".join(corner.replace("_", " ") for corner in tight)
        phases = ", ".join(dict.fromkeys(phase for names in tight.values() for phase in names))
        found.append(
            f"Travel runs out at full stick and trim in {phases}: {where}. Do not hold a servo against its limit."
        )
    return tuple(found)
