"""Answers of the workflow turned into declared pages. Converts units and puts things into words; computes nothing."""

from __future__ import annotations

import math

from evenfall.air import Air
from evenfall.estimate import Estimate
from evenfall.lines.survey import LineAnswer, SteadyEntry
from evenfall.numeric import Status
from evenfall.plane.electrics import BrakeLevel
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import plan_data
from evenfall.sheet.pages import (
    AirPage,
    CandidatePage,
    Cause,
    CrowAngles,
    DragShares,
    HoldingStickPage,
    LinePage,
    PlanPage,
    PredictPage,
    Retention,
    RollPage,
    Spreading,
    Steady,
    StraightnessPage,
    TargetPage,
    TunePage,
)
from evenfall.sheet.words import lower_first
from evenfall.tune.choose import Judged
from evenfall.workflow import Predicted, TuneAnswer

RPM = 60 / (2 * math.pi)

CAUSE_WORDS = {
    "corrections.parasite_drag": ("drag of body and parts", "timed level passes at full stick shrink it to a third"),
    "corrections.crow_drag": ("drag of the crow", "one timed vertical with crow out settles it"),
    "corrections.braked_propeller_drag": ("drag of the braked propeller", "one timed vertical without crow settles it"),
    "corrections.brake_damping": ("torque of the motor brake", "a spin-down measures the damping of the level"),
    "corrections.thrust": ("thrust of the propeller", "a timed level pass at known rpm settles it"),
    "mass.all_up": ("all-up mass", "a kitchen scale"),
    "motor.kv": ("kv of the motor", "a no-load run with a rev counter, propeller off"),
    "motor.resistance": ("resistance of the motor", "a milliohm meter or a voltage drop at known current"),
    "motor.inductance": ("inductance of the motor", "an LCR meter between two motor wires"),
    "motor.no_load_current": ("no-load current", "a current meter, propeller off"),
    "controller.resistance": ("resistance of the controller", "its data sheet"),
    "battery.capacity": ("capacity of the battery", "what a charger puts back after a flight"),
    "battery.resistance": ("resistance of the battery", "the charger's reading of the cells"),
    "controller.brake_frequency": ("pulse frequency of the motor brake", "its data sheet, or a sound recording"),
    "sections.transition": ("where the flow turns turbulent", "a timed line settles what it does to the drag"),
    "plan.crow_setting": ("setting of the crow angle", "an angle gauge on all four ailerons"),
    "plan.throw_setting": ("setting of the throw", "an angle gauge on all four ailerons"),
    "lifting line roll damping": ("roll damping of the lifting line", "timed rolls with crow stowed"),
    "corrections.roll_deployed": ("roll response with crow out", "timed rolls on the way down"),
    "corrections.crow_moment": ("pitching moment of the crow", "one vertical with crow, seen from the side"),
    "down speed": ("speed of the down line", "one timed vertical"),
    "mass.cg_x": ("position of the CG along the plane", "two scales or a balancer"),
    "mass.cg_z": ("height of the CG", "a two-point hang"),
    "upper.incidence": ("incidence of the upper wing", "an incidence gauge"),
    "lower.incidence": ("incidence of the lower wing", "an incidence gauge"),
    "tail.incidence": ("incidence of the tail", "an incidence gauge"),
    "battery.rest_voltage_per_cell": ("rest voltage of the battery", "a voltmeter before the flight"),
}
"""What each cause of a spread is called, and what measuring it takes."""

PREDICT_LIMITS = (
    "Still air; the entry to a line is marched with the stick closed at once.",
    "Roll rates are those of a lifting line, corrected for the roll damping that it overstates by a tenth.",
)

CAUTIONS = (
    "Propeller off for all bench work. Surfaces never prove the motor disarmed, and a braked motor is no restraint.",
    "First flights with crow: at height, with the abort action agreed (open the throttle; a crow-off switch).",
    "Failsafe: storing it with the stick closed also stores crow out; decide what the motor and the ailerons shall do.",
    "Braking loosens propeller nuts: check after the first flights.",
    "Local rules, club and site come first; a computed load is no airworthiness check.",
)


def air_page(air: Air) -> AirPage:
    """The air of a page."""
    return AirPage(density_kg_m3=air.density, temperature_c=air.temperature - 273.15, pressure_hpa=air.pressure / 100)


def predict_page(answer: Predicted) -> PredictPage:
    """The page of `predict`."""
    return PredictPage(
        plane=answer.ready.file.plane.name,
        plane_hash=answer.ready.file.content_hash,
        plan=answer.plan_name,
        wanted_speed_m_s=answer.ready.wanted,
        air=air_page(answer.ready.air),
        lines=tuple(_line_page(line, answer.estimates[line.name]) for line in answer.survey.lines),
        roll=tuple(
            RollPage(
                deployed=roll.deployed,
                throw_deg=math.degrees(roll.throw),
                rate_deg_s=math.degrees(roll.rate),
                rate=spreading(estimates[0], 180 / math.pi),
                section=spreading(estimates[1]),
                retention=Retention(
                    linkage=roll.linkage,
                    section=roll.section,
                    speed=roll.speed_share,
                    total=(1.0 if roll.linkage is None else roll.linkage) * roll.section * roll.speed_share,
                ),
            )
            for roll, estimates in zip(answer.rolls, answer.roll_estimates, strict=True)
        ),
        straightness=tuple(
            StraightnessPage(
                line=bend.line,
                inverted=bend.inverted,
                clean_deg_s=math.degrees(bend.clean),
                crow_deg_s=math.degrees(bend.crow),
                clean_deg_50m=math.degrees(bend.clean_bend),
                crow_deg_50m=math.degrees(bend.crow_bend),
                clean=spreading(estimates[0], 180 / math.pi),
                crow=spreading(estimates[1], 180 / math.pi),
                cure=bend.cure,
            )
            for bend, estimates in zip(answer.bends, answer.bend_estimates, strict=True)
        ),
        holding_stick=tuple(
            HoldingStickPage(
                slope_deg=math.degrees(held.slope),
                stick_percent=100 * held.stick if held.status in _HELD else None,
                status=held.status.value,
                stick=spreading(estimate, 100.0),
            )
            for held, estimate in zip(answer.survey.holding, answer.sticks, strict=True)
        ),
        warnings=_warnings(answer),
        limits=PREDICT_LIMITS,
    )


_HELD = (Status.OK, Status.INSIDE_CLOSED_BAND, Status.SEVERAL_SPEEDS)


def _line_page(line: LineAnswer, estimates: tuple[Estimate | None, ...]) -> LinePage:
    return LinePage(
        name=line.name,
        slope_deg=math.degrees(line.slope),
        stick_percent=100 * line.stick,
        status=line.status.value,
        remark="" if line.status is Status.OK else line.status.text,
        steady=tuple(_steady(entry, estimate) for entry, estimate in zip(line.steady, estimates, strict=True)),
    )


def _steady(entry: SteadyEntry, estimate: Estimate | None) -> Steady:
    state = entry.state
    return Steady(
        speed_m_s=spreading(estimate) or Spreading(value=state.speed, spread=None),
        shaft_rpm=state.omega * RPM,
        stable=state.stable,
        drag_n=DragShares(airframe=state.airframe, crow=state.crow, propeller=-state.thrust),
        reached_from_m_s=entry.reached_from,
    )


def spreading(estimate: Estimate | None, scale: float = 1.0) -> Spreading | None:
    """An estimate in the page's unit; a spread that cannot be given (infinite, next to a fold) is none."""
    if estimate is None:
        return None
    return Spreading(
        value=scale * estimate.value,
        spread=scale * estimate.spread if math.isfinite(estimate.spread) else None,
        causes=tuple(_cause(cause.name, cause.share) for cause in estimate.causes),
    )


def cause_words(name: str) -> str:
    """An uncertain input in the pilot's words."""
    return _cause(name, 0.0).name


def _cause(name: str, share: float) -> Cause:
    parts = name.removesuffix(" again").split(" and ")
    if len(parts) > 1:
        known = [CAUSE_WORDS.get(part, (part, None))[0] for part in parts]
        return Cause(name=" against ".join(known), share=share, buys="a line on which only one of them acts")
    words, buys = CAUSE_WORDS.get(parts[0], (parts[0], None))
    return Cause(name=words, share=share, buys=buys)


def _warnings(answer: Predicted) -> tuple[str, ...]:
    found = []
    plan_hash = answer.plan.computed_from.get("plane_hash")
    if plan_hash is not None and plan_hash != answer.ready.file.content_hash:
        found.append("The plan was computed from another state of this plane file: tune again or check the difference.")
    if answer.plan.plane_name != answer.ready.file.plane.name:
        found.append(f"The plan was made for {answer.plan.plane_name}, this plane is {answer.ready.file.plane.name}.")
    for line in answer.survey.lines:
        stable = [entry for entry in line.steady if entry.state.stable]
        if len(stable) > 1:
            speeds = " or ".join(f"{entry.state.speed:.1f}" for entry in stable)
            found.append(f"{line.name}: {speeds} m/s possible, the entry speed decides.")
        estimates = answer.estimates[line.name]
        if any(estimate is None for estimate in estimates):
            found.append(f"{line.name}: a steady speed lies so near a fold that its spread cannot be given.")
    found.extend(_unsure(answer))
    found.extend(answer.ready.file.notes)
    return tuple(found)


def _unsure(answer: Predicted) -> tuple[str, ...]:
    """Rolls and bends that lie beyond the section tables or did not settle."""
    found = []
    beyond = [f"{math.degrees(roll.throw):.0f} deg {_out(roll.deployed)}" for roll in answer.rolls if not roll.valid]
    if beyond:
        found.append(f"Roll at {', '.join(beyond)}: {lower_first(Status.BEYOND_DATA.text)}")
    unsettled = [
        f"{math.degrees(roll.throw):.0f} deg {_out(roll.deployed)}" for roll in answer.rolls if not roll.converged
    ]
    unsettled += [bend.line + (", inverted" if bend.inverted else "") for bend in answer.bends if not bend.converged]
    if unsettled:
        found.append(f"{', '.join(unsettled)}: {lower_first(Status.NOT_CONVERGED.text)}")
    return tuple(found)


def _out(deployed: bool) -> str:
    return "with crow out" if deployed else "with crow stowed"


def plan_page(plan: Plan) -> PlanPage:
    """The plan as in its file."""
    return PlanPage.model_validate(plan_data(plan))


def tune_page(answer: TuneAnswer) -> TunePage:
    """The page of `tune`."""
    tuned = answer.tuned
    return TunePage(
        plane=answer.ready.file.plane.name,
        plane_hash=answer.ready.file.content_hash,
        status=tuned.status,
        summary=summary(answer),
        wanted_speed_m_s=answer.ready.wanted,
        air=air_page(answer.ready.air),
        plan=None if tuned.plan is None else plan_page(tuned.plan),
        targets=tuple(
            TargetPage(name=target.name, wanted=target.wanted, got=target.got, met=target.met)
            for target in tuned.targets
        ),
        candidates=tuple(_candidate_page(item, answer) for item in tuned.judged),
        predicted=None if answer.predicted is None else predict_page(answer.predicted),
        remedies=tuned.remedies,
        cautions=CAUTIONS,
    )


def _candidate_page(item: Judged, answer: TuneAnswer) -> CandidatePage:
    one = item.candidate
    crow = _angles(item, answer)
    reach = None if one.slowest is None or one.fastest is None else (one.slowest, one.fastest)
    return CandidatePage(
        level=one.level.name,
        brake_percent=one.level.percent,
        arrangement=one.arrangement,
        crow_deg=crow,
        shaft_states=one.states,
        margin=one.shaft.margin,
        margin_spread=one.margin_spread,
        crow=spreading(one.angle_estimate, 180 / math.pi),
        speed=spreading(one.speed_estimate),
        fold_probability=one.shaft.fold_probability,
        down_speed_m_s=one.speed,
        reach_m_s=reach,
        roll_retention=one.retention,
        curvature_deg_s=None if one.curvature is None else math.degrees(one.curvature),
        per_degree_m_s=one.per_degree,
        per_5_brake_m_s=one.per_brake,
        verdict=item.verdict,
        why=item.why,
    )


def _angles(item: Judged, answer: TuneAnswer) -> CrowAngles:
    from evenfall.radio.plan import wing_signs

    upper, lower = wing_signs(item.candidate.arrangement)
    angle = math.degrees(item.candidate.angle)
    wings = answer.ready.file.plane.wings

    def on(name: str, sign: int) -> float | None:
        wing = wings.get(name)
        return sign * angle if wing is not None and wing.aileron is not None else None

    return CrowAngles(upper=on("upper", upper), lower=on("lower", lower))


def level_words(level: BrakeLevel) -> str:
    """A level in words: its name, with the percent where the name does not say it."""
    return f"{level.name} %" if level.name == f"{level.percent:g}" else f"{level.name} ({level.percent:.3g} %)"


def summary(answer: TuneAnswer) -> str:
    """The plan, or why there is none, in two or three sentences."""
    tuned = answer.tuned
    if tuned.plan is None or not tuned.judged:
        reasons = " ".join(tuned.remedies)
        return f"No plan exists for this plane. {reasons}"
    best = next(item for item in tuned.judged if item.candidate.speed is not None).candidate
    crow = tuned.plan.crow
    if crow is None:
        return "No crow is needed."
    which = f"{crow.arrangement} (upper/lower wing) " if len(answer.ready.file.plane.wings) > 1 else ""
    angles = " / ".join(
        f"{abs(math.degrees(angle)):.1f} deg {'down' if angle > 0 else 'up'}"
        for angle in (crow.upper, crow.lower)
        if angle
    )
    head = (
        f"Motor brake {level_words(best.level)}, crow {which}{angles}, deploying from "
        f"{100 * crow.threshold:.0f} % stick to full at the closed end."
    )
    speed = best.speed
    if tuned.status == "met":
        tail = f"Vertical down at {speed:.1f} m/s, the wanted speed; every target is met."
    elif best.reach == "met" or any(target.met for target in tuned.targets if target.name == "vertical down speed"):
        missed = ", ".join(target.name for target in tuned.targets if not target.met)
        tail = f"Vertical down at {speed:.1f} m/s as wanted; not met: {missed}."
    else:
        tail = (
            f"This is the nearest: vertical down at {speed:.1f} m/s, wanted is {answer.ready.wanted:.1f}. "
            + " ".join(tuned.remedies[:1])
        )
    return f"{head} {tail}"
