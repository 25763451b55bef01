"""The bench page for a terminal: a list to work down, then what the readings say. Rounds; computes nothing."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING

from evenfall.sheet.bench_page import BenchPage, BenchPhasePage, CornerProofPage, PositionPage, ProofPage, sides

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

WIDTH = 100
_NO_FIT = ("reversed", "swapped plugs")
"""Faults beside which centre, gain and offset mean nothing."""


def bench_parts(page: BenchPage, *, pulses: bool = False) -> list[RenderableType]:
    """What `bench` prints: cautions first, then the proof where there are readings, else the list.

    Args:
        pulses: with the pulse each servo gets.
    """
    parts: list[RenderableType] = [f"Bench list: {page.plane} - {page.plan}", ""]
    if page.proof is not None:
        return _wrapped([*parts, f"! {page.cautions[0]}", "", *_proof_parts(page.proof)])
    parts += [f"! {caution}" for caution in page.cautions]
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
    return _wrapped(parts)


def _wrapped(parts: list[RenderableType]) -> list[RenderableType]:
    """Sentences broken at `WIDTH`, following lines under the first word."""
    rows: list[RenderableType] = []
    for part in parts:
        if isinstance(part, str) and len(part) > WIDTH:
            lead = re.match(r"\s*(\[.{1,2}\]\s+|! |\*\*\* )?", part)
            indent = " " * (lead.end() if lead else 0)
            if part.startswith("***"):
                indent = "***   "
            rows.append(textwrap.fill(part, WIDTH, subsequent_indent=indent, break_on_hyphens=False))
        else:
            rows.append(part)
    return rows


def _signs(page: BenchPage) -> list[str]:
    rows = [f"  [ ] {'; '.join(sign for sign in row.signs if not sign.startswith('longer'))}" for row in page.corners]
    fitted = [f"  [ ] {row.corner.replace('_', ' ')}: {row.fitted}" for row in page.corners if row.fitted]
    return [*rows, *(["  Arms:", *fitted] if fitted else [])]


def _phase_parts(phase: BenchPhasePage) -> list[RenderableType]:
    state = "crow live" if phase.crow_live else "crow off, whatever the throttle does"
    if phase.same_as is not None:
        tail = [row for row in phase.positions if row.elevator_percent]
        words = ", ".join(f"{row.position} {row.elevator_deg:+.1f} deg" for row in tail if row.elevator_deg is not None)
        return [f"Phase {phase.name} ({state}): as {phase.same_as}. Elevator stick: {words}."]
    return [_angle_table(phase, state), *_limits(phase)]


def _limits(phase: BenchPhasePage) -> list[str]:
    rows = []
    for row in phase.positions:
        if row.at_limit:
            names = ", ".join(name.replace("_", " ") for name in row.at_limit)
            rows.append(f"! {row.position}: the travel of {names} ends before this. Less throw, or another arm offset.")
    return rows


def _angle_table(phase: BenchPhasePage, state: str) -> Table:
    from evenfall.sheet.text import make_table

    names = sides(phase.positions[0].angle_deg) if phase.positions else []
    table = make_table(
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
            *((_signed(row.angle_deg[name], 1) for name in names) if not row.elevator_percent else [""] * len(names)),
            f"+-{row.within_deg:.1f}",
            "" if row.elevator_deg is None else _signed(row.elevator_deg, 1),
        )
    return table


def _pulse_table(phase: BenchPhasePage) -> Table:
    from evenfall.sheet.text import make_table

    names = sides(phase.positions[0].pulse_us)
    table = make_table(
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
        parts += ["", f"Roll of the whole plane with crow out: {_signed(proof.roll_percent)} % against the plan."]
        parts += _lean(proof)
        parts += [] if proof.good else _worst(proof)
    parts += [proof.good_enough_when, *(f"Note: {note}" for note in proof.notes)]
    return parts


def _corner_words(row: CornerProofPage) -> str:
    if row.verdict == "good enough":
        return row.text
    return f"{row.text}{row.sure}{' ' + row.remedy if row.remedy else ''}"


def _signed(value: float, places: int = 0) -> str:
    """A number with its sign, no sign for what rounds to zero."""
    rounded = round(value, places)
    return f"{rounded:+.{places}f}" if rounded else f"{0:.{places}f}"


def _numbers(proof: ProofPage) -> Table:
    from evenfall.sheet.text import make_table

    table = make_table(
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
        words = (_signed(values[0], 1), f"{values[1]:.0f}", _signed(values[2], 1), f"{abs(values[3]):.1f}")
        cells = [
            f"{word} +-{spread:.1f}" if known else "?"
            for word, spread, known in zip(words, spreads, row.measured, strict=True)
        ]
        if row.fault_kind in _NO_FIT:
            cells = ["-"] * len(cells)
        cost = "-" if row.verdict == "DO NOT FLY" else _signed(row.roll_cost_percent)
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
