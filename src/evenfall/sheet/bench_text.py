"""The bench page for a terminal: a list to work down, then what the readings say. Rounds; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenfall.sheet.bench_page import BenchPage, CornerProofPage, PhasePage, PositionPage, ProofPage, sides

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def bench_parts(page: BenchPage, *, pulses: bool = False) -> list[RenderableType]:
    """What `bench` prints: cautions first, then the proof where there are readings, else the list.

    Args:
        pulses: with the pulse each servo gets.
    """
    parts: list[RenderableType] = [f"Bench list: {page.plane} - {page.plan}", ""]
    parts += [f"! {caution}" for caution in page.cautions]
    if page.proof is not None:
        return [*parts, "", *_proof_parts(page.proof)]
    parts += ["", "A. Motor plugged in, PROPELLER OFF", *(f"  [ ] {row}" for row in page.motor)]
    parts += ["", f"B. Motor unplugged. {page.view}", *_signs(page)]
    parts += ["", "C. Angles, phase by phase"]
    for phase in page.phases:
        parts += ["", *_phase_parts(phase)]
        if pulses and phase.same_as is None and any(row.pulse_us for row in phase.positions):
            parts.append(_pulse_table(phase))
    parts += ["", page.error_costs, *(f"Note: {note}" for note in page.notes)]
    parts += ["", "D. Measure and let it judge: --write-form FILE writes a form, --measured FILE reads it back,"]
    parts += ["   --measured FILE --type asks one angle at a time."]
    return parts


def _signs(page: BenchPage) -> list[str]:
    rows = [f"  [ ] {'; '.join(sign for sign in row.signs if not sign.startswith('longer'))}" for row in page.corners]
    fitted = [f"  [ ] {row.corner.replace('_', ' ')}: {row.fitted}" for row in page.corners if row.fitted]
    return [*rows, *(["  Arms:", *fitted] if fitted else [])]


def _phase_parts(phase: PhasePage) -> list[RenderableType]:
    state = "crow live" if phase.crow_live else "crow off, whatever the throttle does"
    if phase.same_as is not None:
        tail = [row for row in phase.positions if row.elevator_percent]
        words = ", ".join(f"{row.position} {row.elevator_deg:+.1f} deg" for row in tail if row.elevator_deg is not None)
        return [f"Phase {phase.name} ({state}): as {phase.same_as}. Elevator stick: {words}."]
    return [_angle_table(phase, state), *_limits(phase)]


def _limits(phase: PhasePage) -> list[str]:
    rows = []
    for row in phase.positions:
        if row.at_limit:
            names = ", ".join(name.replace("_", " ") for name in row.at_limit)
            rows.append(f"! {row.position}: the travel of {names} ends before this. Less throw, or another arm offset.")
    return rows


def _angle_table(phase: PhasePage, state: str) -> Table:
    from evenfall.sheet.text import _table

    names = sides(phase.positions[0].angle_deg) if phase.positions else []
    table = _table(
        f"Phase {phase.name} ({state})",
        ("sticks", "left"),
        ("throttle %", "right"),
        *((name.replace("_", " "), "right") for name in names),
        ("within", "right"),
        ("elevator", "right"),
    )
    for row in phase.positions:
        table.add_row(
            row.position,
            f"{row.throttle_percent:.0f}",
            *((_angle(row.angle_deg[name]) for name in names) if not row.elevator_percent else [""] * len(names)),
            f"+-{row.within_deg:.1f}",
            "" if row.elevator_deg is None else _angle(row.elevator_deg),
        )
    return table


def _angle(value: float) -> str:
    rounded = round(value, 1) + 0.0
    return "0.0" if rounded == 0 else f"{rounded:+.1f}"


def _pulse_table(phase: PhasePage) -> Table:
    from evenfall.sheet.text import _table

    names = sides(phase.positions[0].pulse_us)
    table = _table(
        f"Pulses in us, phase {phase.name}", ("sticks", "left"), *((name.replace("_", " "), "right") for name in names)
    )
    for row in phase.positions:
        if not row.elevator_percent:
            table.add_row(row.position, *(_pulse(row, name) for name in names))
    return table


def _pulse(row: PositionPage, name: str) -> str:
    return f"{row.pulse_us[name]:.0f}"


# --- the proof --------------------------------------------------------------------------------------------------------


def _proof_parts(proof: ProofPage) -> list[RenderableType]:
    parts: list[RenderableType] = []
    if proof.do_not_fly:
        bar = "*" * 72
        parts += [bar, f"*** {proof.verdict}", *(f"*** {row}" for row in proof.do_not_fly), bar, ""]
    else:
        parts += [proof.verdict, ""]
    stopped = [row.corner for row in proof.corners if row.verdict == "DO NOT FLY"]
    for row in proof.corners:
        if row.corner not in stopped:
            parts.append(f"{'[ok] ' if row.verdict == 'good enough' else '[ ]  '}{_corner_words(row)}")
    if proof.elevator is not None and not proof.elevator.do_not_fly:
        parts.append(f"{'[ok] ' if proof.elevator.good else '[ ]  '}{proof.elevator.text}")
    if proof.do_not_fly and proof.missing:
        parts.append(f"Not measured yet: {', '.join(name.replace('_', ' ') for name in proof.missing)}.")
    parts += ["", _numbers(proof)]
    if not stopped:
        parts += ["", f"Roll of the whole plane with crow out: {proof.roll_percent:+.0f} % against the plan."]
        parts += _lean(proof)
    parts += _worst(proof)
    parts += [proof.good_enough_when, *(f"Note: {note}" for note in proof.notes)]
    return parts


def _corner_words(row: CornerProofPage) -> str:
    sure = row.probability.get(row.fault_kind, 0.0)
    likely = "" if row.verdict == "good enough" or sure > 0.995 else f" ({100 * sure:.0f} % sure.)"
    return f"{row.text}{likely}{' ' + row.remedy if row.remedy else ''}"


def _numbers(proof: ProofPage) -> Table:
    from evenfall.sheet.text import _table

    table = _table(
        "As measured against the plan (+- one sigma; ? where the readings leave it open)",
        ("aileron", "left"),
        ("neutral deg", "right"),
        ("servo turn %", "right"),
        ("arm deg", "right"),
        ("play deg", "right"),
        ("roll, crow out %", "right"),
        ("verdict", "left"),
    )
    for row in proof.corners:
        values = (row.centre_deg, 100 * row.gain, row.offset_deg, row.slop_deg)
        spreads = (row.spread[0], 100 * row.spread[1], row.spread[2], row.spread[3])
        formats = ("+.1f", ".0f", "+.1f", ".1f")
        cells = [
            f"{value + 0.0:{form}} +-{spread:.1f}" if known else "?"
            for value, spread, form, known in zip(values, spreads, formats, row.measured, strict=True)
        ]
        cost = "-" if row.verdict == "DO NOT FLY" else f"{row.roll_cost_percent + 0.0:+.0f}"
        table.add_row(row.corner.replace("_", " "), *cells, cost, row.verdict)
    return table


def _lean(proof: ProofPage) -> list[str]:
    if proof.lean_percent is None or abs(proof.lean_percent) < max(2 * proof.lean_spread_percent, 3.0):
        return []
    way, hold = ("right", "left") if proof.lean_percent > 0 else ("left", "right")
    return [
        f"! With crow out and the stick in the middle the ailerons roll the plane {way}: it takes about "
        f"{abs(proof.lean_percent):.0f} % of {hold} stick to hold it."
    ]


def _worst(proof: ProofPage) -> list[str]:
    off = [row for row in proof.readings if not row.within]
    if not off:
        return []
    worst = max(off, key=lambda row: abs(row.read_deg - row.wanted_deg))
    place = f"line {worst.line}: " if worst.line is not None else ""
    return [
        f"Farthest from the list, {place}{worst.surface.replace('_', ' ')}, throttle {worst.throttle_percent:.0f} %, "
        f"aileron {worst.aileron_percent:+.0f} %: read {worst.read_deg:+.1f}, wanted {worst.wanted_deg:+.1f} deg."
    ]
