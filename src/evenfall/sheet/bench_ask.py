"""Asking for measured angles one at a time in a terminal; each goes to the file before the next is asked."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable, Sequence

from evenfall.lines.bench import BenchList
from evenfall.lines.bench_proof import form_rows, wanted_angle
from evenfall.logs.readings import LARGEST_DEG, PRESSED, Reading
from evenfall.logs.readings_form import FormRow, append_reading, take_back
from evenfall.sheet.bench_page import VIEW, sides

_FAR = 4.0
"""Degrees from the list at which a typed angle is asked again: a sign or a point may have slipped."""

HELP = (
    "PROPELLER OFF, motor wires off the controller.",
    VIEW,
    "Zero the gauge at the surface's neutral. Press the trailing edge lightly the way that is asked, then read.",
    "Enter alone skips, b takes the last angle back, q stops. Every angle is in the file at once.",
)

Step = tuple[FormRow, str, str]
"""Where, which surface, pressed up or down."""


def steps(bench: BenchList, known: Sequence[Reading]) -> list[Step]:
    """What is still to be asked, in the order of measuring."""
    done = {(r.phase, round(r.throttle, 3), round(r.aileron, 3), r.surface, r.direction) for r in known}
    return [
        (row, surface, pressed)
        for row in form_rows(bench)
        for surface in sides(list(bench.corners))
        for pressed, direction in PRESSED.items()
        if (row.phase, round(row.throttle, 3), round(row.aileron, 3), surface, direction) not in done
    ]


def ask_readings(
    bench: BenchList,
    path: str | os.PathLike[str],
    known: Sequence[Reading],
    *,
    ask: Callable[[str], str],
    say: Callable[[str], None],
) -> int:
    """Ask for every angle not yet in the file; returns how many were added.

    Args:
        known: readings already in the file.
        ask: shows a question and returns the line typed; raises `EOFError` at the end of the input.
    """
    todo = steps(bench, known)
    for words in HELP:
        say(words)
    say(f"{len(todo)} angles to go, into {os.fspath(path)}." if todo else f"Nothing is left to ask: {os.fspath(path)}.")
    at, sticks = 0, ""
    added: list[tuple[int, int]] = []
    while at < len(todo):
        row, surface, pressed = todo[at]
        if (now := _sticks(row)) != sticks:
            sticks = now
            say(f"\n{sticks}")
        answer = _answer(bench, todo[at], f"  [{at + 1}/{len(todo)}] ", ask=ask, say=say)
        if answer == "q":
            break
        if answer == "b":
            if not added:
                say("  Nothing to take back.")
                continue
            at, length = added.pop()
            take_back(path, length)
        elif answer == "":
            at += 1
        else:
            length = append_reading(path, row, surface=surface, pressed=pressed, angle_deg=float(answer))
            added.append((at, length))
            at += 1
    say(f"{len(added)} angles written to {os.fspath(path)}.")
    return len(added)


def _sticks(row: FormRow) -> str:
    side = "middle" if row.aileron == 0 else f"full {'right' if row.aileron > 0 else 'left'}"
    return f"Phase {row.phase}. Throttle {100 * row.throttle:.0f} %, aileron stick {side} ({row.words})."


def _answer(bench: BenchList, step: Step, lead: str, *, ask: Callable[[str], str], say: Callable[[str], None]) -> str:
    """A number as text, or "", "b", "q"; anything else is asked again, and so is a number far from the list."""
    row, surface, pressed = step
    wanted = math.degrees(wanted_angle(bench, row, surface)[0]) + 0.0
    doubted = ""
    while True:
        try:
            typed = ask(f"{lead}{surface.replace('_', ' ')}, pressed {pressed}: ").strip().lower()
        except (EOFError, KeyboardInterrupt):
            return "q"
        if typed in ("", "b", "q"):
            if typed == "" and doubted:
                return doubted
            return typed
        number = typed.replace("\u2212", "-").replace(",", ".").removesuffix("deg").strip()
        if not re.fullmatch(r"[-+]?(\d{1,3}(\.\d{0,6})?|\.\d{1,6})", number):
            say("    A number of degrees, please, for example -3.5 (or Enter, b, q).")
        elif abs(float(number)) > LARGEST_DEG:
            say(f"    {number} is beyond +-{LARGEST_DEG:g} degrees: is the point missing?")
        elif abs(float(number) - wanted) > _FAR and number != doubted:
            doubted = number
            say(f"    The list wants {wanted:+.1f}. Enter keeps {number}; or type it again.")
        else:
            return number
