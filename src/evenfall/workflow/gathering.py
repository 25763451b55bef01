"""A flight's entries turned into evidence: throws of a phase, air and wind of the day, records cut, sound heard."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from evenfall.errors import EvenfallError, Fault, FileFaults, InputError
from evenfall.fit.causes import chart
from evenfall.logs.evidence import (
    Damping,
    Evidence,
    HeldStick,
    Pull,
    ShaftSpeed,
    SteadySpeed,
    TimedLine,
    TimedRolls,
)
from evenfall.logs.evidence_entries import (
    Clicked,
    DampingSeen,
    Entry,
    FlightRecord,
    HeadingSeen,
    Held,
    PullSeen,
    Recorded,
    Rolls,
    ShaftSeen,
    Sound,
    Steady,
    Timed,
    Trim,
)
from evenfall.logs.sighting import traced
from evenfall.radio.plan import Plan
from evenfall.workflow.day import Day, density_of
from evenfall.workflow.heard_lines import heard_evidence
from evenfall.workflow.observed import observed
from evenfall.workflow.ready import Progress, Ready, silent
from evenfall.workflow.recorded_lines import recorded_evidence


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """What a flight, or several, give to learn from.

    Args:
        evidence: usable pieces; names begin with what the flight is called.
        sources: for each piece, where its entry stands (`timed.0`).
        notes: what was assumed or found, in words. faults: what could not be used, and why.
    """

    evidence: tuple[Evidence, ...]
    sources: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()


def label_of(record: FlightRecord) -> str:
    """What a flight is called: its date, or the name of its file."""
    name = os.path.basename(record.path).removesuffix(".toml").removesuffix(".flight")
    return f"{record.date} {name}".strip() if record.date and not name.startswith(record.date[:10]) else name


def evidence_of(
    record: FlightRecord, ready: Ready, plan: Plan, *, folder: Path | None = None, progress: Progress = silent
) -> Gathered:
    """Evidence of one flight of a plane with a plan.

    Args:
        folder: where its files lie; None is beside the flight file.

    An entry that cannot be used becomes a fault that says why; nothing is left out in silence.
    """
    seen = record.air
    day = Day(
        ready=ready,
        plan=plan,
        label=label_of(record),
        folder=Path(record.path).parent if folder is None else folder,
        density=density_of(seen),
        wind=seen.wind,
        temperature=seen.temperature or ready.air.temperature,
    )
    plane = ready.file.plane.name
    if record.plane and record.plane.casefold() != plane.casefold():
        day.say(f'{day.label}: was written for "{record.plane}" and is used for "{plane}"')
    found: list[Evidence] = []
    sources: list[str] = []
    faults: list[Fault] = []
    for entry in record.entries:
        try:
            made, wrong = _made(day, entry, progress)
        except FileFaults as error:
            words = "; ".join(f"{fault.where}: {fault.message}".removeprefix(": ") for fault in error.faults)
            made, wrong = [], [Fault(where=entry.where, message=day.about(entry.name, words))]
        except EvenfallError as error:
            made, wrong = [], [Fault(where=entry.where, message=day.about(entry.name, _said(entry, error)))]
        found += made
        sources += [entry.where] * len(made)
        faults += wrong
    return Gathered(evidence=tuple(found), sources=tuple(sources), notes=tuple(day.notes), faults=tuple(faults))


def together(parts: list[Gathered]) -> Gathered:
    """Several flights as one."""
    return Gathered(
        evidence=tuple(piece for part in parts for piece in part.evidence),
        sources=tuple(source for part in parts for source in part.sources),
        notes=tuple(dict.fromkeys(note for part in parts for note in part.notes)),
        faults=tuple(fault for part in parts for fault in part.faults),
    )


def _said(entry: Entry, error: EvenfallError) -> str:
    """Why an entry cannot be used, its file by the pilot's name."""
    if isinstance(entry, Recorded | Sound) and entry.called:
        return str(error).replace(entry.file, entry.called)
    return str(error)


Made = tuple[list[Evidence], list[Fault]]


def _made(day: Day, entry: Entry, progress: Callable[[str], None]) -> Made:
    name = day.named(entry.name)
    if isinstance(entry, Recorded):
        return recorded_evidence(day, entry, progress=progress)
    if isinstance(entry, HeadingSeen | Trim):
        day.say(f"{name}: {_for_diagnosis(entry, day)}; no correction is learned from it")
        return [], []
    if isinstance(entry, Clicked):
        line, notes = traced(entry, day.flight(entry.flown), name=name)
        for note in notes:
            day.say(note)
        return [line], []
    if isinstance(entry, Sound):
        return [heard_evidence(day, entry, name=name, progress=progress)], []
    return [_plain(day, entry, name)], []


def _for_diagnosis(entry: HeadingSeen | Trim, day: Day) -> str:
    """What an entry is good for where it teaches nothing."""
    shown = observed(entry, speed=day.ready.wanted)
    seen = [f'"{sign.words}"' for key, sign in chart().signs.items() if key in shown.seen]
    if seen:
        return f"for the diagnosis it says {' and '.join(seen)}"
    return (
        "it tells the diagnosis what was not seen" if shown.absent else "it is too small, or too unsure, to be a sign"
    )


def _plain(day: Day, entry: Entry, name: str) -> Evidence:
    """Entries that are a number or two."""
    if isinstance(entry, Timed):
        return _timed(day, entry, name)
    if isinstance(entry, Rolls):
        return _rolls(day, entry, name)
    if isinstance(entry, PullSeen):
        speed = day.ready.wanted if entry.speed is None else entry.speed.value
        bend = entry.bend(speed)
        return Pull(name=name, flight=day.flight(entry.flown), rate=bend.value, sigma=bend.sigma)
    if isinstance(entry, Held):
        flight = replace(day.flight(entry.flown), stick=entry.stick.value)
        return HeldStick(name=name, flight=flight, sigma=entry.stick.sigma)
    if isinstance(entry, Steady):
        still = entry.flown.wind is None
        flight = day.flight(entry.flown, still=still)
        return SteadySpeed(name=name, flight=flight, speed=entry.speed.value, sigma=entry.speed.sigma)
    if isinstance(entry, ShaftSeen):
        speed_seen = day.speed(entry.speed, name)
        share = math.hypot(entry.omega.sigma / entry.omega.value, speed_seen.sigma / speed_seen.value)
        return ShaftSpeed(
            name=name,
            flight=day.flight(entry.flown),
            omega=entry.omega.value,
            sigma=share * entry.omega.value,
            speed=speed_seen.value,
        )
    if isinstance(entry, DampingSeen):
        level = day.level(entry.level)
        assert level is not None
        share = entry.torque.sigma / entry.torque.value
        return Damping(name=name, level=level, omega=entry.omega, torque=entry.torque.value, sigma=share)
    raise InputError("this kind of entry is not used")


def _timed(day: Day, entry: Timed, name: str) -> TimedLine:
    entered = day.speed(entry.entry, name)
    return TimedLine(
        name=name,
        flight=day.flight(entry.flown),
        length=entry.length.value,
        length_sigma=entry.length.sigma,
        seconds=entry.took.value,
        sigma=entry.took.sigma,
        skipped=entry.skipped,
        speed=entered.value,
        speed_sigma=entered.sigma,
        fresh=not entry.settled,
    )


def _rolls(day: Day, entry: Rolls, name: str) -> TimedRolls:
    phase = day.phase(entry.phase)
    flown = entry.flown
    if flown.crow and not phase.crow_live:
        day.say(f"{name}: crow is off in the phase {phase.name}")
        flown = replace(flown, crow=False)
    flight = day.flight(flown)
    speed = day.speed(entry.speed, name)
    out = float(day.plan.deployment(flight.stick)) if flown.crow else 0.0
    # A wrong speed moves the expected rate in proportion.
    sigma = math.hypot(entry.took.sigma, entry.took.value * speed.sigma / speed.value)
    return TimedRolls(
        name=name,
        flight=flight,
        rolls=entry.rolls,
        seconds=entry.took.value,
        sigma=sigma,
        throw=phase.aileron * (1.0 + phase.roll_boost * out),
        speed=speed.value,
    )
