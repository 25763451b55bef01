"""The bench list and its proof as declared pages: words, degrees and microseconds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from pydantic import Field

from evenfall.lines.bench import BenchList, BenchPhase, Shown, stick_worth
from evenfall.lines.bench_proof import ListProof, OffReading, TailProof
from evenfall.linkage.corner import corner_words
from evenfall.linkage.faults import DO_NOT_FLY
from evenfall.linkage.load import SLOP_CAUTION, SLOP_NO_FLIGHT
from evenfall.linkage.proof import CENTRE_TOLERANCE, ROLL_TOLERANCE, CornerProof
from evenfall.plane.electrics import Controller
from evenfall.radio.plan import Plan
from evenfall.radio.radio_description import RadioDescription
from evenfall.sheet.pages import Page

VIEW = "Left and right as seen by a person standing behind the plane. Degrees: trailing edge down +, up -."


class PositionPage(Page):
    """One position of the sticks."""

    position: str = Field(description="The position in words.")
    throttle_percent: float = Field(description="Throttle stick, 0 closed to 100 full.")
    aileron_percent: float = Field(description="Aileron stick, -100 left to 100 right.")
    elevator_percent: float = Field(description="Elevator stick, -100 pushed to 100 pulled.")
    crow_out_percent: float = Field(description="How far crow is out, 0 to 100.")
    angle_deg: dict[str, float] = Field(description="What each aileron must show, trailing edge down positive.")
    within_deg: float = Field(description="How far the mean of two readings may be from it.")
    elevator_deg: float | None = Field(description="What the elevator must show; null where it is not looked at.")
    pulse_us: dict[str, float] = Field(description="Pulse each servo gets; empty without servos in the plane file.")
    at_limit: tuple[str, ...] = Field(description="Ailerons whose travel ends before this position.")


class BenchPhasePage(Page):
    """One phase of the list."""

    name: str = Field(description="As the plan calls it.")
    crow_live: bool = Field(description="Whether the throttle stick moves crow.")
    same_as: str | None = Field(description="An earlier phase whose ailerons and crow do the same; null if none.")
    positions: tuple[PositionPage, ...] = Field(description="Positions in the order of checking.")


class FittedPage(Page):
    """How one corner is fitted and which way it goes."""

    corner: str = Field(description="upper_left and so on.")
    fitted: str = Field(description="Holes, teeth and offset of the arm; empty where the plan does not say.")
    signs: tuple[str, ...] = Field(description="Which way it goes with stick, crow and pulse.")


class CornerProofPage(Page):
    """What the readings say about one aileron."""

    corner: str = Field(description="upper_left and so on.")
    verdict: str = Field(description='"good enough", "put right" or "DO NOT FLY".')
    fault: str = Field(description="The fault exactly, or as planned.")
    fault_kind: str = Field(description="Its kind, one of the keys of probability.")
    probability: dict[str, float] = Field(description="Probability of every kind of fault, 0 to 1.")
    sure: str = Field(description="How sure the fault is, in words with a space before; empty where not weighed.")
    text: str = Field(description="What it is and what it costs.")
    remedy: str = Field(description="What to do; empty where nothing.")
    centre_deg: float = Field(description="Neutral off by, at the surface.")
    gain: float = Field(description="Servo turn against planned, 1 as planned.")
    offset_deg: float = Field(description="Arm offset against planned, degrees of arm.")
    slop_deg: float = Field(description="Play at the trailing edge, degrees peak to peak.")
    spread: tuple[float, float, float, float] = Field(
        description="One sigma of centre (degrees), gain, offset (degrees) and play (degrees)."
    )
    measured: tuple[bool, bool, bool, bool] = Field(
        description="Whether the readings fix centre, gain, offset and play; else the value rests on the plan."
    )
    pulse_us: float = Field(description="Pulse to add at neutral to centre the surface, microseconds.")
    teeth: int = Field(description="Teeth to turn the arm on its spline, pushing positive.")
    roll_cost_percent: float = Field(description="Change of its roll throw with crow out.")


class ReadingPage(Page):
    """One reading against the list."""

    line: int | None = Field(description="Line of the file.")
    surface: str = Field(description="What was measured.")
    phase: str = Field(description="Phase.")
    throttle_percent: float = Field(description="Throttle stick.")
    aileron_percent: float = Field(description="Aileron stick, right positive.")
    read_deg: float = Field(description="As read.")
    wanted_deg: float = Field(description="What the list wants.")
    within: bool = Field(description="Within the tolerance of the mean of two readings.")


class ElevatorPage(Page):
    """The elevator's share with crow."""

    wanted_deg: float = Field(description="Change from crow in to crow out.")
    got_deg: float | None = Field(description="As measured; null where not measured with crow in and out.")
    good: bool = Field(description="Good enough.")
    do_not_fly: bool = Field(description="It moves the wrong way.")
    text: str = Field(description="In words.")


class ProofPage(Page):
    """What the readings say about the plane."""

    verdict: str = Field(description="The whole in one or two sentences.")
    do_not_fly: tuple[str, ...] = Field(description="What must not fly, one sentence each, worst first.")
    good: bool = Field(description="Everything was measured and is good enough.")
    good_enough_when: str = Field(description="What counts as good enough.")
    corners: tuple[CornerProofPage, ...] = Field(description="Every measured aileron.")
    elevator: ElevatorPage | None = Field(description="The elevator; null where it was not measured.")
    roll_percent: float = Field(description="Change of the plane's roll throw with crow out.")
    lean_percent: float | None = Field(
        description="Aileron stick that holds what crow rolls by itself, right roll positive; null where not known."
    )
    lean_spread_percent: float = Field(description="One sigma of it.")
    missing: tuple[str, ...] = Field(description="Ailerons without readings.")
    notes: tuple[str, ...] = Field(description="What the readings cannot show, and readings left out.")
    readings: tuple[ReadingPage, ...] = Field(description="Every reading against the list.")


class BenchPage(Page):
    """Answer of `bench`."""

    plane: str = Field(description="Name of the plane.")
    plan: str = Field(description="Which plan.")
    cautions: tuple[str, ...] = Field(description="Before anything is switched on.")
    motor: tuple[str, ...] = Field(description="Throttle ends, closed band, motor brake, switches: in order.")
    view: str = Field(description="How sides and signs are meant.")
    corners: tuple[FittedPage, ...] = Field(description="How every aileron is fitted and which way it goes.")
    phases: tuple[BenchPhasePage, ...] = Field(description="What must be shown, phase by phase.")
    error_costs: str = Field(description="Where the tolerance comes from and what an error costs.")
    notes: tuple[str, ...] = Field(description="What the list had to assume.")
    proof: ProofPage | None = Field(description="What the readings say; null without readings.")


def bench_page(
    bench: BenchList,
    *,
    plan_name: str,
    proof: ListProof | None = None,
    radio: RadioDescription | None = None,
    notes: tuple[str, ...] = (),
) -> BenchPage:
    """The page of a bench list, and of the readings where there are some; with a radio also what it cannot send.

    `notes`: harmless remarks about the file of readings.
    """
    return BenchPage(
        plane=bench.plane.name,
        plan=plan_name,
        cautions=_cautions(),
        motor=tuple(_motor(bench.plan, bench.plane.controller)),
        view=VIEW,
        corners=_corners(bench),
        phases=tuple(_phases(bench.phases)),
        error_costs=_error_costs(bench),
        notes=(*bench.notes, *_unsendable(bench, radio)),
        proof=None if proof is None else _proof(proof, notes),
    )


def _unsendable(bench: BenchList, radio: RadioDescription | None) -> list[str]:
    """Ailerons whose pulses lie beyond what the radio sends."""
    if radio is None:
        return []
    reach = radio.limit * radio.unit
    rows = []
    for name in bench.corners:
        pulses = [row.pulses[name] for phase in bench.phases for row in phase.rows if name in row.pulses]
        worst = max(pulses, key=lambda pulse: abs(pulse - radio.pulse_centre), default=radio.pulse_centre)
        if abs(worst - radio.pulse_centre) > reach + 1e-9:
            rows.append(
                f"{_where(name)} needs a pulse of {1e6 * worst:.0f} us; {radio.name} sends "
                f"{1e6 * (radio.pulse_centre - reach):.0f} to {1e6 * (radio.pulse_centre + reach):.0f} us."
            )
    return rows


def _cautions() -> tuple[str, ...]:
    return (
        "PROPELLER OFF, for all of this. The nut too: a motor brake throws loose what is only half tight.",
        "For the angles unplug the motor from the controller (all three wires): the list asks for full throttle.",
        "Ailerons that stand as with a closed throttle do not prove that the motor is off, "
        "and a braked motor holds nothing.",
    )


def _motor(plan: Plan, controller: Controller) -> list[str]:
    """Checks of throttle and motor brake, motor plugged in, propeller off."""
    band = _last_stick(plan, controller.closed_below)
    start = _last_stick(plan, controller.start_stick)
    level = plan.motor
    rows = [
        "Throttle ends: teach them to the controller as it asks for it, throttle trim in the middle.",
        f"Set the motor brake to level {level.level} ({level.percent:.3g} %) in the controller, and read it back.",
        f"Closed band: stick closed, then open slowly. Up to {100 * band:.0f} % of the stick the motor must stand; "
        f"by {100 * start:.0f} % it must run.",
    ]
    if level.percent > 0:
        rows += [
            "Motor brake: run the bare motor at a third of the throttle, then close the stick. The shaft must stop "
            "at once, not run down.",
            "The same with the throttle trim at its upper end, and again at its lower end. If the shaft runs down "
            "now, the trim lifts the closed stick out of the closed band: switch the trim off, or lower the end.",
        ]
    else:
        rows.append("No motor brake in this plan: run the bare motor, close the stick; the shaft must run down freely.")
    if plan.crow is not None:
        rows.append(
            "Crow-off switch, in every phase: stick closed, switch it. All ailerons and the elevator go back to "
            "neutral; the motor brake stays."
        )
    rows.append(
        "Transmitter off: the motor must stop by itself. Look where the ailerons go and write it down; then on again."
    )
    return rows


def _last_stick(plan: Plan, command: float) -> float:
    """Throttle stick up to which the motor command stays below `command`."""
    low, high = 0.0, 1.0
    for _ in range(30):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if float(plan.motor.command(mid)) < command else (low, mid)
    return high


def _corners(bench: BenchList) -> tuple[FittedPage, ...]:
    rows = []
    for name, corner in bench.corners.items():
        if corner.fitted is not None:
            signs = corner_words(corner.fitted)
        else:
            where = name.replace("_", " ")
            signs = (f"stick right: {where} goes {'down' if corner.left else 'up'}",)
            if corner.crow:
                signs = (*signs, f"crow out: {where} goes {'down' if corner.crow > 0 else 'up'}")
        rows.append(FittedPage(corner=name, fitted=corner.words, signs=signs))
    return tuple(rows)


def _phases(phases: Sequence[BenchPhase]) -> list[BenchPhasePage]:
    rows: list[BenchPhasePage] = []
    seen: list[BenchPhase] = []
    for item in phases:
        same = next((old.phase.name for old in seen if _alike(old, item)), None)
        rows.append(
            BenchPhasePage(
                name=item.phase.name,
                crow_live=item.phase.crow_live,
                same_as=same,
                positions=tuple(_position(row) for row in item.rows),
            )
        )
        seen.append(item)
    return rows


def _alike(one: BenchPhase, two: BenchPhase) -> bool:
    """Both phases show the same at every position, the elevator's stick aside."""
    if len(one.rows) != len(two.rows):
        return False
    for a, b in zip(one.rows, two.rows, strict=True):
        if (a.words, a.throttle, a.aileron) != (b.words, b.throttle, b.aileron):
            return False
        if any(abs(a.angles[name] - b.angles[name]) > 1e-6 for name in a.angles):
            return False
    return True


def _position(row: Shown) -> PositionPage:
    return PositionPage(
        position=row.words,
        throttle_percent=100 * row.throttle,
        aileron_percent=100 * row.aileron,
        elevator_percent=100 * row.elevator,
        crow_out_percent=100 * row.deployment,
        angle_deg={name: math.degrees(angle) for name, angle in row.angles.items()},
        within_deg=math.degrees(row.tolerance),
        elevator_deg=None if row.tail is None else math.degrees(row.tail),
        pulse_us={name: 1e6 * pulse for name, pulse in row.pulses.items()},
        at_limit=row.held,
    )


def _error_costs(bench: BenchList) -> str:
    count, throw = len(bench.corners), bench.plan.throws.normal
    worth = 100 * stick_worth(CENTRE_TOLERANCE, throw, ailerons=count)
    return (
        f"The tolerance is for the mean of two readings: a gauge errs by 0.3 deg, {_deg(CENTRE_TOLERANCE)} deg at one "
        f"aileron has to be held with {worth:.0f} % of aileron stick, and {100 * ROLL_TOLERANCE:.0f} % of a throw is "
        f"{100 * ROLL_TOLERANCE:.0f} % of its roll."
    )


def _deg(angle: float) -> str:
    return f"{math.degrees(angle):.1f}"


# --- the proof --------------------------------------------------------------------------------------------------------


def _proof(found: ListProof, notes: tuple[str, ...]) -> ProofPage:
    proof = found.proof
    corners = tuple(_corner_proof(found, corner) for corner in proof.corners.values())
    stop = [
        f"{_where(row.corner)}: {row.fault}{row.sure}. {row.remedy}" for row in corners if row.verdict == "DO NOT FLY"
    ]
    tail = None if found.tail is None else _elevator(found.tail)
    if tail is not None and tail.do_not_fly:
        stop.append(tail.text)
    return ProofPage(
        verdict=_verdict(found, stop, corners),
        do_not_fly=tuple(stop),
        good=found.good,
        good_enough_when=(
            f"What counts as good enough: neutral within {_deg(CENTRE_TOLERANCE)} deg, roll with crow out within "
            f"{100 * ROLL_TOLERANCE:.0f} %, play under {_deg(SLOP_CAUTION)} deg, at every aileron."
        ),
        corners=corners,
        elevator=tail,
        roll_percent=100 * found.roll_loss,
        lean_percent=None if found.lean is None else 100 * found.lean,
        lean_spread_percent=100 * found.lean_spread,
        missing=proof.missing,
        notes=(*_proof_notes(found), *(f"The file: {note}." for note in notes)),
        readings=tuple(_reading(row) for row in found.off),
    )


def _where(name: str) -> str:
    return name.replace("_", " ").capitalize()


def _verdict(found: ListProof, stop: Sequence[str], corners: Sequence[CornerProofPage]) -> str:
    if stop:
        names = [_where(row.corner) for row in corners if row.verdict == "DO NOT FLY"]
        if found.tail is not None and found.tail.do_not_fly:
            names.append("Elevator")
        return f"DO NOT FLY: {', '.join(names)}."
    wrong = [_where(row.corner) for row in corners if row.verdict == "put right"]
    if found.tail is not None and not found.tail.good:
        wrong.append("Elevator")
    parts = [f"To put right: {', '.join(wrong)}."] if wrong else []
    if found.proof.missing:
        parts.append(f"Not measured yet: {', '.join(_where(name) for name in found.proof.missing)}.")
    return " ".join(parts) or "Good enough: every aileron shows what the plan says."


def _corner_proof(whole: ListProof, found: CornerProof) -> CornerProofPage:
    deg, fit = math.degrees, found.fit
    over, lost = found.corner in whole.over_centre, found.corner in whole.unexplained
    stop = found.do_not_fly or over or lost
    fault = found.detail
    if over and (found.fault not in DO_NOT_FLY or not found.fits):
        fault = "over-centre: the arm passes its dead point and the surface comes back"
    elif not found.fits:
        fault = "the readings fit no single fault"
    elif abs(fit.slop) >= SLOP_NO_FLIGHT and found.fault not in DO_NOT_FLY:
        fault = f"{deg(abs(fit.slop)):.1f} deg of play, it can flutter"
    remedy = _remedy(whole, found, over=over)
    return CornerProofPage(
        corner=found.corner,
        verdict="DO NOT FLY" if stop else "good enough" if found.good else "put right",
        fault=fault,
        fault_kind=found.fault,
        probability=found.probability,
        sure=_sure(found.probability[found.fault]) if found.fits and not over and found.fault != "as planned" else "",
        text=found.text if found.fits else f"{_where(found.corner)}: {fault}.",
        remedy=remedy,
        centre_deg=deg(fit.centre),
        gain=fit.gain,
        offset_deg=deg(fit.offset),
        slop_deg=deg(fit.slop),
        spread=(deg(fit.spread[0]), fit.spread[1], deg(fit.spread[2]), deg(fit.spread[3])),
        measured=fit.known,
        pulse_us=1e6 * found.pulse,
        teeth=found.teeth,
        roll_cost_percent=100 * found.roll_cost,
    )


_REMEDIES = {
    "reversed": "Reverse this one channel in the radio (or turn the servo's own direction), then measure it again.",
    "swapped plugs": "Exchange the two plugs at the receiver, then measure both again.",
    "wrong side": "Take the arm off and set it as many teeth to the other side of square, rod to neutral again.",
    "slop": "Look for the play at pins, horn and servo gears, one after the other, by hand.",
}


def _sure(share: float) -> str:
    return " (over 99 % sure)" if share > 0.99 else f" ({100 * share:.0f} % sure)"


def _remedy(whole: ListProof, found: CornerProof, *, over: bool) -> str:
    if found.fault in DO_NOT_FLY and found.fits:
        return _REMEDIES[found.fault]
    if over:
        return "Set the arm on its spline as the plan says, or take less throw; then measure it again."
    if found.fits:
        return "" if found.good else _REMEDIES.get(found.fault, "")
    rows = [row for row in whole.off if row.reading.surface == found.corner and row.reading not in whole.skipped]
    odd = rows[found.odd_reading] if found.odd_reading is not None and found.odd_reading < len(rows) else None
    if odd is None:
        return "Measure it again: a slip of the gauge, or two faults at once."
    line = "" if odd.reading.line is None else f" (line {odd.reading.line})"
    return (
        f"Measure it again: a slip of the gauge, or two faults at once. Begin with throttle "
        f"{100 * odd.reading.throttle:.0f} %, aileron {100 * odd.reading.aileron:+.0f} %{line}: read "
        f"{math.degrees(odd.reading.angle):+.1f}, wanted {math.degrees(odd.wanted):+.1f} deg."
    )


def _elevator(tail: TailProof) -> ElevatorPage:
    wanted = math.degrees(tail.wanted)
    got = None if tail.got is None else math.degrees(tail.got)
    if got is None:
        text = "Elevator: measured with crow in or out only; its share needs both."
    elif tail.do_not_fly:
        text = (
            f"Elevator: moves the wrong way with crow ({got:+.1f} deg, wanted {wanted:+.1f}). "
            "Reverse its share in the radio."
        )
    elif tail.good:
        text = f"Elevator: moves {got:+.1f} deg with crow, wanted {wanted:+.1f}. Good enough."
    else:
        text = f"Elevator: moves {got:+.1f} deg with crow, wanted {wanted:+.1f}."
        if abs(got) > 0.5 and got * wanted > 0:
            text += f" Set its share to {100 * wanted / got:.0f} % of what it is."
    return ElevatorPage(wanted_deg=wanted, got_deg=got, good=tail.good, do_not_fly=tail.do_not_fly, text=text)


def _proof_notes(found: ListProof) -> list[str]:
    rows = []
    for one, two in found.proof.alike:
        rows.append(
            f"{_where(one)} and {two.replace('_', ' ')} move alike: readings cannot show whether their plugs are "
            "exchanged, and it does no harm."
        )
    if found.skipped:
        lines = ", ".join(str(line) for line in sorted({row.line for row in found.skipped if row.line is not None}))
        place = f" (line {lines})" if lines else ""
        count = len(found.skipped)
        stand = "1 reading stands" if count == 1 else f"{count} readings stand"
        left = "was left out" if count == 1 else "were left out"
        rows.append(f"{stand} where a servo meets its limit and {left}{place}.")
    if found.proof.corners and not any(corner.fit.known[3] for corner in found.proof.corners.values()):
        rows.append("Play was not measured: press the trailing edge lightly up, read, press it down, read.")
    return rows


def _reading(row: OffReading) -> ReadingPage:
    return ReadingPage(
        line=row.reading.line,
        surface=row.reading.surface,
        phase=row.reading.phase,
        throttle_percent=100 * row.reading.throttle,
        aileron_percent=100 * row.reading.aileron,
        read_deg=math.degrees(row.reading.angle),
        wanted_deg=math.degrees(row.wanted),
        within=abs(row.off) <= row.tolerance,
    )


def sides(corners: Mapping[str, object] | Sequence[str]) -> list[str]:
    """Corner names in the order of tables: upper before lower, left before right."""
    return sorted(corners, key=lambda name: (not name.startswith("upper"), not name.endswith("left")))
