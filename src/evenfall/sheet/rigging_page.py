"""What `trim` shows: the clean lines, every fault of rigging with its effect, the cures, and the order of trimming."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from evenfall.lines.hands_off import RollWithYaw
from evenfall.lines.rigging import TOLERANCE, CleanReport, Cure, FaultEffect
from evenfall.sheet.make import air_page
from evenfall.sheet.pages import AirPage, Page
from evenfall.units import plain, preferred
from evenfall.workflow import Cleaned

if TYPE_CHECKING:
    from rich.console import RenderableType

System = Literal["metric", "imperial"]

LIMITS = (
    "Swirl of the propeller's stream, torque and gyroscopic moments are left out; so is the body in pitch.",
    "The body in sideslip is a slender-body estimate, good to a factor of 1.5: yaw shares that doubt.",
    "Rates are those the plane settles in at the start of a line, still air.",
    "Roll rates from faults are those of a lifting line, which may be 10 % low.",
    "Blade tips out of track are felt as vibration; no aerodynamic effect is computed for them.",
)


class RatesPage(Page):
    """Rates on one line, degrees a second: pitch to the canopy, roll right wing down, yaw nose right positive."""

    pitch_deg_s: float = Field(description="Pitch, towards the canopy positive.")
    roll_deg_s: float = Field(description="Roll, right wing down positive.")
    yaw_deg_s: float = Field(description="Yaw (heading), nose right positive.")


class CleanLinePage(Page):
    """One clean line flown hands off after level trim."""

    line: str = Field(description="The line.")
    rates: RatesPage = Field(description="Rates on it.")
    pitch_deg_50m: float = Field(description="Pitch over 50 m of line, degrees.")
    roll_deg_50m: float = Field(description="Roll over 50 m of line, degrees.")
    yaw_deg_50m: float = Field(description="Heading over 50 m of line, degrees.")
    judged: bool = Field(description="It decides whether clean is straight.")
    straight: bool = Field(description="Within the tolerance.")


class FaultLinePage(Page):
    """Effect of a fault on one line."""

    line: str = Field(description="The line.")
    untrimmed: RatesPage = Field(description="With ailerons and rudder neutral.")
    trimmed: RatesPage = Field(description="After level trim: what is left on the line.")


class FaultPage(Page):
    """One fault of rigging."""

    key: str = Field(description="Its name.")
    words: str = Field(description="What it is, with its sign.")
    unit: str = Field(description="Unit of value and spread.")
    value: float | None = Field(description="As recorded; null where it was not taken.")
    spread: float = Field(description="One sigma of the record, or of a build nobody checked where not taken.")
    per: float = Field(description="Amount the sensitivities stand for, in that unit.")
    sensitivity: tuple[FaultLinePage, ...] = Field(description="Effect of that amount more, per line.")
    effect: tuple[FaultLinePage, ...] | None = Field(
        description="Effect of the recorded fault, per line; null where there is none or no value is the true one."
    )
    doubt: RatesPage = Field(description="One sigma on the clean vertical that comes of its doubt, after level trim.")


class CurePage(Page):
    """One change of rigging."""

    words: str = Field(description="What to change.")
    effect: str = Field(description="What it does, as computed.")
    puts_right: bool = Field(description="It puts a recorded fault right.")
    after: tuple[CleanLinePage, ...] = Field(description="The lines with this and all cures before it.")


class StepPage(Page):
    """One step of trimming."""

    step: str = Field(description="What to trim.")
    why: str = Field(description="Why here in the order. Common practice, no source.")
    expect: str = Field(description="The size of its effect, as computed for this plane.")
    tell: str = Field(description="How it shows in the air or on the bench.")


class RollYawPage(Page):
    """A roll on the clean vertical with the fin in the solve."""

    rate_deg_s: float = Field(description="Rate of roll.")
    yaw_deg_s: float = Field(description="Yaw of the heading about the lift direction, nose right positive.")
    sideslip_deg: float = Field(description="Sideslip, wind from the right positive.")
    adverse: float = Field(description="Yaw against the roll over the rate of roll; negative: with the roll.")
    wander_deg: float = Field(description="Half angle of the cone the path turns on.")


class RiggingPage(Page):
    """Answer of `trim`."""

    plane: str = Field(description="Name of the plane.")
    plane_hash: str = Field(description="Content hash of the plane file.")
    plan: str = Field(description="What was flown: as it is now, or the plan's name. Crow is stowed throughout.")
    wanted_speed_m_s: float = Field(description="Speed on every line.")
    air: AirPage = Field(description="The air.")
    straight: bool = Field(description="Clean is straight: crow may be cured.")
    verdict: str = Field(description="The same in words, with the fault that explains most.")
    tolerance: RatesPage = Field(description="What passes as straight.")
    lines: tuple[CleanLinePage, ...] = Field(description="The clean lines.")
    static_margin: float = Field(description="CG ahead of the neutral point, share of mean chord.")
    neutral_point_mm: float = Field(description="Neutral point of all surfaces, mm aft of the datum.")
    faults: tuple[FaultPage, ...] = Field(description="Every fault, in the order it is put right.")
    play_roll_deg_s: float | None = Field(description="One sigma of roll from play; null where none was recorded.")
    play_crow_deg: float | None = Field(description="One sigma of the crow angle from play; null likewise.")
    roll: RollYawPage | None = Field(description="A roll on the vertical; null without ailerons.")
    roll_crow: RollYawPage | None = Field(description="The same with crow out; null without crow in the plan.")
    cures: tuple[CurePage, ...] = Field(description="What to change, in order.")
    steps: tuple[StepPage, ...] = Field(description="The order of trimming that a plan depends on.")
    limits: tuple[str, ...] = Field(description="What this answer leaves out.")


def _rates(row: object) -> RatesPage:
    pitch, roll, yaw = (math.degrees(float(value)) + 0.0 for value in row)  # type: ignore[attr-defined]
    return RatesPage(pitch_deg_s=pitch, roll_deg_s=roll, yaw_deg_s=yaw)


def _lines(report: CleanReport, rates: object) -> tuple[CleanLinePage, ...]:
    flight = report.flight
    judged = set(flight.judged.tolist())
    pages = []
    for index, line in enumerate(flight.lines):
        row = rates[index]  # type: ignore[index]
        over = [math.degrees(float(value)) * 50 / flight.speed for value in row]
        pages.append(
            CleanLinePage(
                line=line.name,
                rates=_rates(row),
                pitch_deg_50m=over[0],
                roll_deg_50m=over[1],
                yaw_deg_50m=over[2],
                judged=index in judged,
                straight=bool((abs(row) <= TOLERANCE).all()),
            )
        )
    return tuple(pages)


def _fault(report: CleanReport, item: FaultEffect) -> FaultPage:
    unit = preferred(item.fault.kind)

    def per_line(neutral: object, trimmed: object) -> tuple[FaultLinePage, ...]:
        return tuple(
            FaultLinePage(line=line.name, untrimmed=_rates(neutral[k]), trimmed=_rates(trimmed[k]))  # type: ignore[index]
            for k, line in enumerate(report.flight.lines)
        )

    return FaultPage(
        key=item.fault.key,
        words=item.fault.words,
        unit=unit.symbol,
        value=None if item.value is None else unit.from_si(item.value),
        spread=unit.spread_from_si(1.0, item.sigma),
        per=unit.from_si(item.fault.unit),
        sensitivity=per_line(item.unit_neutral, item.unit_trimmed),
        effect=None if item.trimmed is None else per_line(item.neutral, item.trimmed),
        doubt=_rates(item.doubt[0]),
    )


def _cure(report: CleanReport, cure: Cure) -> CurePage:
    return CurePage(
        words=cure.words,
        effect=cure.sentence,
        puts_right=cure.recorded,
        after=_lines(report, cure.flown.trimmed),
    )


def _roll(roll: RollWithYaw | None) -> RollYawPage | None:
    if roll is None:
        return None
    return RollYawPage(
        rate_deg_s=math.degrees(roll.rate),
        yaw_deg_s=math.degrees(roll.yaw),
        sideslip_deg=math.degrees(roll.sideslip),
        adverse=roll.adverse,
        wander_deg=math.degrees(roll.wander),
    )


NOSE_HEAVY = 0.25
"""Share of mean chord; 5 to 20 % ahead of the neutral point is common practice in aerobatics, no source."""


def margin_note(margin: float) -> str:
    """What is wrong with a CG this far (share of mean chord) ahead of the neutral point; empty where it is usual."""
    if margin < 0:
        return (
            f"the CG lies {-100 * margin:.0f} % of chord behind the neutral point: the plane is unstable. "
            "Check cg_x and the tail's place, else move the CG forward"
        )
    if margin > NOSE_HEAVY:
        return (
            f"the CG lies {100 * margin:.0f} % of chord ahead of the neutral point, 5 to 20 % is common: nose heavy, "
            "so level trim bends every line. Check cg_x, else move the CG aft step by step"
        )
    return ""


def verdict(report: CleanReport) -> str:
    """Whether clean is straight; if not, which line is worst, what explains it, and what the cures reach."""
    flight, rates = report.flight, report.present.trimmed
    share = abs(rates) / TOLERANCE
    judged = flight.judged.tolist()
    line = max(judged, key=lambda k: float(share[k].max()))
    axis = int(share[line].argmax())
    name = ("pitch", "roll", "yaw")[axis]
    size = f"{math.degrees(float(rates[line, axis])):+z.1f} deg/s of {name} on the {flight.lines[line].name}"
    if report.straight:
        return f"Clean is straight (at most {size}): crow may be cured now."
    explained = report.explains(line, axis)
    because = "No recorded fault explains it."
    if explained is not None and explained.trimmed is not None:
        part = math.degrees(float(explained.trimmed[line, axis]))
        because = f"The recorded fault that explains most is {explained.fault.words}: {part:+z.1f} deg/s of it."
    note = margin_note(report.margin)
    end = f"No change of rigging in its usual range helps enough: {note or 'check the record'}."
    if report.cures:
        reached = max(float((abs(report.cured.trimmed[k]) / TOLERANCE).max()) for k in judged)
        whole = "brings it inside the tolerance" if reached <= 1 else f"leaves {reached:.1f} times the tolerance"
        end = (
            f"The cure below {whole}."
            if len(report.cures) == 1
            else f"The cures below {whole}".replace("brings", "bring").replace("leaves", "leave") + "."
        )
    return f"Rigging first: {size}. {because} {end} No crow cure before that."


def rigging_page(answer: Cleaned) -> RiggingPage:
    """The page of `trim`."""
    report = answer.report
    play = report.play
    return RiggingPage(
        plane=answer.ready.file.plane.name,
        plane_hash=answer.ready.file.content_hash,
        plan=answer.plan_name,
        wanted_speed_m_s=answer.ready.wanted,
        air=air_page(answer.ready.air),
        straight=report.straight,
        verdict=verdict(report),
        tolerance=_rates(TOLERANCE),
        lines=_lines(report, report.present.trimmed),
        static_margin=report.margin,
        neutral_point_mm=1e3 * report.neutral_x,
        faults=tuple(_fault(report, item) for item in report.effects),
        play_roll_deg_s=None if play is None else math.degrees(play.roll),
        play_crow_deg=None if play is None else math.degrees(play.crow),
        roll=_roll(report.roll),
        roll_crow=_roll(report.roll_crow),
        cures=tuple(_cure(report, cure) for cure in report.cures),
        steps=trimming_steps(report, elevator_share=answer.elevator_share),
        limits=LIMITS,
    )


def _size(report: CleanReport, key: str, *, line: int, axis: int, trimmed: bool = True) -> str:
    item = report.effect(key)
    rates = item.unit_trimmed if trimmed else item.unit_neutral
    unit = preferred(item.fault.kind)
    amount = f"{plain(unit.from_si(item.fault.unit))} {unit.symbol}"
    return f"{math.degrees(float(rates[line, axis])) + 0.0:+z.2f} deg/s a {amount}"


def _roll_words(roll: RollWithYaw | None, how: str) -> str:
    if roll is None:
        return "no ailerons"
    return (
        f"{how} {math.degrees(roll.rate):.0f} deg/s, {100 * roll.adverse:+z.1f} % adverse yaw, "
        f"{math.degrees(roll.wander):.1f} deg of wander"
    )


def _track_words(report: CleanReport) -> str:
    """Blade tips out of track, with a space before it; empty where they are in track or nobody looked."""
    if not report.blade_tip:
        return ""
    return f" Blade tips {1e3 * abs(report.blade_tip):.1f} mm out of track: put shaft, hub and blades right first."


def trimming_steps(report: CleanReport, *, elevator_share: float | None) -> tuple[StepPage, ...]:
    """The order of trimming a plan depends on. Common practice, no source; effect sizes are the engine's."""
    wings = [item.fault.key for item in report.effects if item.fault.key.endswith("_twist")]
    keys = {item.fault.key for item in report.effects}
    twist = ", ".join(
        f"{key.removesuffix('_twist')} wing {_size(report, key, line=0, axis=1, trimmed=False)}" for key in wings
    )
    decalage = (
        f" Upper against lower: {_size(report, 'decalage', line=0, axis=0)} of pitch." if "decalage" in keys else ""
    )
    fin = f" Fin: {_size(report, 'fin_offset', line=0, axis=2, trimmed=False)} of yaw." if "fin_offset" in keys else ""
    share = "not planned yet" if elevator_share is None else f"{elevator_share:+.3f} of the crow angle"
    rolled = _roll_words(report.roll, "clean") + (
        "" if report.roll_crow is None else "; " + _roll_words(report.roll_crow, "with crow")
    )
    split = (
        (
            StepPage(
                step="Split of the wings",
                why="It changes lift more than moment: after the elevator share, and no more than a few percent.",
                expect="Computed by predict for a plan: percent less crow on one wing.",
                tell="The line drifts towards canopy or belly without turning.",
            ),
        )
        if len(wings) > 1
        else ()
    )
    return (
        StepPage(
            step="Squareness and incidences, left against right",
            why="Twist is trimmed out with ailerons in level flight, so it hides until speed or crow changes.",
            expect=f"Roll before any trim, vertical down: {twist}.{fin}{decalage}",
            tell="Incidence meter on every panel; tips to tail by string. In the air: aileron trim is needed at all.",
        ),
        StepPage(
            step="Lateral balance",
            why="Aileron trim for a heavy wing rolls the plane where no lift is needed: first this, then verticals.",
            expect=f"Vertical down: {_size(report, 'lateral_balance', line=0, axis=1)} of roll after level trim; "
            f"45 inverted: {_size(report, 'lateral_balance', line=2, axis=1)}.",
            tell="Hang it by spinner and tail. In the air: the heavy wing drops upright and inverted.",
        ),
        StepPage(
            step="CG by the 45 and the vertical",
            why="It sets how much elevator level flight holds, and that is what bends every line flown off it.",
            expect=f"CG now {100 * report.margin:.1f} % of chord ahead of the neutral point. Vertical down: "
            f"{_size(report, 'cg_x', line=0, axis=0)} of pitch; 45: {_size(report, 'cg_x', line=1, axis=0)}.",
            tell="45 down that flattens out both upright and inverted: CG aft; that steepens both ways: forward.",
        ),
        StepPage(
            step="Thrust line, power on and closed",
            why="It acts only with thrust, and against itself under the braked propeller: trim it on both verticals.",
            expect=f"Down thrust: {_size(report, 'down_thrust', line=3, axis=0)} of pitch up the vertical, "
            f"{_size(report, 'down_thrust', line=0, axis=0)} down it. Side thrust: "
            f"{_size(report, 'side_thrust', line=3, axis=2)} of yaw up, "
            f"{_size(report, 'side_thrust', line=0, axis=2)} down.{_track_words(report)}",
            tell="Pull vertical at full power and close the stick: what changes is the thrust line.",
        ),
        StepPage(
            step="Clean vertical down",
            why="What is left here is added to every line with crow; crow must not be made to hide it.",
            expect="; ".join(
                f"{name} {math.degrees(float(report.present.trimmed[0, k])) + 0.0:+z.1f} deg/s"
                for k, name in enumerate(("pitch", "roll", "yaw"))
            )
            + f" now, {math.degrees(TOLERANCE[0]):.0f} deg/s of pitch pass as straight.",
            tell="Crow switched off, stick closed, three lines each way across the wind.",
        ),
        StepPage(
            step="Crow moment: elevator share",
            why="Crow's moment grows with deployment, so its cure must too. Clean has to be straight first.",
            expect=f"Elevator share {share}.",
            tell="The same vertical with crow out: it bends where the clean one did not.",
        ),
        *split,
        StepPage(
            step="Roll: differential and response, crow out",
            why="Rolls are judged on a straight line; any earlier step changes what they show.",
            expect=f"{rolled[0].upper()}{rolled[1:]}.",
            tell="Rolls down the vertical leave the heading; roll rate as in level flight.",
        ),
    )


def rigging_parts(page: RiggingPage, system: System) -> list[RenderableType]:
    """What `trim` prints, part by part."""
    from evenfall.sheet.text import make_table, speed, speed_unit

    head = (
        f"{page.plane} - {page.plan}, crow stowed, {speed(page.wanted_speed_m_s, system)} {speed_unit(system)}. "
        f"CG {100 * page.static_margin:.1f} % of chord ahead of the neutral point ({page.neutral_point_mm:.0f} mm)."
    )
    lines = make_table(
        "Clean lines hands off (pitch to the canopy +, roll right wing down +, yaw nose right +)",
        ("line", "left"), ("pitch deg/s", "right"), ("roll deg/s", "right"), ("yaw deg/s", "right"),
        ("over 50 m deg", "right"), ("straight", "left"),
    )  # fmt: skip
    for line in page.lines:
        over = f"{line.pitch_deg_50m:+z.1f} {line.roll_deg_50m:+z.1f} {line.yaw_deg_50m:+z.1f}"
        word = ("yes" if line.straight else "NO") if line.judged else "(not judged)"
        lines.add_row(line.line, *_three(line.rates, 1), over, word)
    faults = make_table(
        "What each fault does to the vertical down (after level trim; roll and yaw also before it)",
        ("fault", "left"), ("recorded", "right"), ("per", "right"), ("pitch", "right"), ("roll", "right"),
        ("yaw", "right"), ("untrimmed roll, yaw", "right"), ("1 sigma of pitch", "right"), ("recorded does", "left"),
    )  # fmt: skip
    for fault in page.faults:
        now = fault.sensitivity[0]
        faults.add_row(
            fault.words,
            "-" if fault.value is None else f"{plain(fault.value, 3)} +- {plain(fault.spread, 1)} {fault.unit}",
            f"{plain(fault.per, 3)} {fault.unit}",
            *_three(now.trimmed, 2),
            f"{now.untrimmed.roll_deg_s + 0:+z.2f} {now.untrimmed.yaw_deg_s + 0:+z.2f}",
            f"{fault.doubt.pitch_deg_s:.2f}",
            "" if fault.effect is None else " ".join(_three(fault.effect[0].trimmed, 2)),
        )
    steps = make_table(
        "Order of trimming (common practice; sizes computed)",
        ("", "right"), ("step", "left"), ("why here", "left"), ("expect", "left"), ("how it shows", "left"),
    )  # fmt: skip
    for number, step in enumerate(page.steps, 1):
        steps.add_row(str(number), step.step, step.why, step.expect, step.tell)
    parts: list[RenderableType] = [head, page.verdict, *(f"Cure: {cure.effect}" for cure in page.cures), lines, faults]
    if page.play_roll_deg_s is not None and page.play_crow_deg is not None:
        parts.append(
            f"Play of the ailerons leaves {page.play_roll_deg_s:.1f} deg/s of roll and {page.play_crow_deg:.2f} deg of "
            "crow open (one sigma)."
        )
    parts.append(steps)
    parts.extend(f"Not in this answer: {limit}" for limit in page.limits)
    return parts


def _three(rates: RatesPage, places: int) -> tuple[str, str, str]:
    pitch, roll, yaw = (
        f"{round(value, places) + 0.0:+.{places}f}" for value in (rates.pitch_deg_s, rates.roll_deg_s, rates.yaw_deg_s)
    )
    return pitch, roll, yaw
