"""Every kind of entry of a flight file, read strictly: keys, units, limits, and honest doubt where none is given."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, cast

from evenfall.logs.evidence_entries import (
    FASTEST,
    STOPWATCH,
    DampingSeen,
    Entry,
    HeadingSeen,
    Heard,
    HeardPlace,
    Held,
    Measured,
    PullSeen,
    Rolls,
    ShaftSeen,
    Sound,
    Steady,
    Trim,
)
from evenfall.logs.evidence_fields import (
    LONGEST,
    EvidenceFields,
    file_beside,
    judged_speed,
    read_flown,
    stick_needed,
    stopped,
)
from evenfall.logs.evidence_lines import read_clicked, read_recorded, read_timed

STICK_SIGMA = 0.03
"""Share of the stick's way. Common practice, no source."""
RATE_SIGMA = math.radians(2)
"""rad/s, of a bend judged by eye. Common practice, no source."""
OFF_SIGMA = 1.5
"""m, of what a line ends beside its straight course. Common practice, no source."""


def _sound(table: EvidenceFields, name: str) -> Entry | None:
    what = table.choice("what", ("line", "pass", "spin-down"), required=True)
    flown = read_flown(table, usual="level" if what == "pass" else "vertical down")
    if what != "spin-down":
        stick_needed(table, flown)
    file = file_beside(table)
    ends = [table.exact(key, "time", 0.0, 1e5) for key in ("from", "to")]
    start, end = ends[0] or 0.0, ends[1]
    if end is not None and end <= start:
        table.fault("to_s", f"is {end:g}, not after from_s {start:g}")
    speed = judged_speed(table)
    places = [
        table.exact(key, kind, low, high)
        for key, kind, low, high in (
            ("at", "time", 0.0, 1e5),
            ("height", "length", -500.0, LONGEST),
            ("ahead", "length", -LONGEST, LONGEST),
            ("aside", "length", -LONGEST, LONGEST),
        )
    ]
    at, height, ahead, aside = places
    place = None
    if any(value is not None for value in places):
        if what != "line":
            table.fault("at_s", 'a place is used with what = "line" only; take it out')
        if at is None or height is None:
            table.fault("at_s", "and height_m are both needed to say where the plane was (ahead_m, aside_m: else 0)")
        else:
            place = HeardPlace(at=at, height=height, ahead=ahead or 0.0, aside=aside or 0.0)
    inertia = table.figure("disc_inertia_g_cm2", 0.1, 1e5, sigma=0.03, relative=True)
    marks = table.integer("marks", 1, 12)
    if inertia is not None and what in ("line", "pass"):
        table.fault("disc_inertia_g_cm2", 'is used with what = "spin-down" only; take it out')
    if what is None or not table.sound:
        return None
    return Sound(
        name=name,
        where=table.where,
        what=cast("Heard", what),
        flown=flown,
        file=file,
        part=None if end is None and start == 0.0 else (start, math.inf if end is None else end),
        speed=speed,
        place=place,
        inertia=None if inertia is None else Measured(inertia.value * 1e-7, inertia.sigma * 1e-7),
        marks=marks or 1,
    )


def _rolls(table: EvidenceFields, name: str) -> Entry | None:
    flown = read_flown(table)
    stick_needed(table, flown)
    rolls = table.number("rolls", 0.25, 50.0, required=True)
    took = stopped(table)
    phase = table.text("phase", longest=40) or "normal"
    speed = judged_speed(table)
    if rolls is None or took is None:
        return None
    return Rolls(name=name, where=table.where, flown=flown, rolls=rolls, took=took, phase=phase, speed=speed)


def _pull(table: EvidenceFields, name: str) -> Entry | None:
    flown = read_flown(table)
    towards = table.choice("towards", ("canopy", "belly", "none"), required=True)
    rate = table.measured("turning", "turn_rate", 0.0, math.radians(120), sigma=RATE_SIGMA)
    turned = table.measured("bent", "angle", 0.0, math.radians(90), sigma=math.radians(3))
    off = table.measured("off", "length", 0.0, 500.0, sigma=OFF_SIGMA)
    length = table.exact("over", "length", 2.0, LONGEST)
    speed = judged_speed(table)
    ways = {"turning": ("turning", "turn_rate"), "bent": ("bent", "angle"), "off": ("off", "length")}
    given = [key for key, pair in ways.items() if table.has_any(*pair)]
    if towards == "none" and not given:
        if length is None:
            rate, given = Measured(0.0, RATE_SIGMA), ["turning"]
        else:
            off, given = Measured(0.0, OFF_SIGMA), ["off"]
    if len(given) != 1:
        said = "keep one" if given else "is missing"
        table.fault("bent_deg", f"{said} of turning_deg_s, bent_deg with over_m, off_m with over_m")
        return None
    if given[0] != "turning" and length is None:
        if not table.has_any("over", "length"):
            table.fault("over_m", "is missing; write the length of line over which it was seen")
        return None
    numbers = [table.certain(key, number) for key, number in (("turning", rate), ("bent", turned), ("off", off))]
    sign = {"canopy": 1.0, "belly": -1.0, "none": 0.0, None: 0.0}[towards]
    signed = [None if number is None else Measured(sign * number.value, number.sigma) for number in numbers]
    if not table.sound or all(number is None for number in signed):
        return None
    return PullSeen(
        name=name,
        where=table.where,
        flown=flown,
        rate=signed[0],
        turned=signed[1],
        off=signed[2],
        length=length,
        speed=speed,
    )


def _heading(table: EvidenceFields, name: str) -> Entry | None:
    flown = read_flown(table)
    yawed = table.measured("yawed", "angle", -math.pi, math.pi, sigma=math.radians(5))
    rolled = table.measured("rolled", "angle", -math.tau, math.tau, sigma=math.radians(10))
    length = table.exact("over", "length", 2.0, LONGEST)
    if not any(table.has_any(key, "angle") for key in ("yawed", "rolled")):
        table.fault("yawed_deg", "is missing; write yawed_deg (nose right positive) or rolled_deg")
        return None
    return HeadingSeen(name=name, where=table.where, flown=flown, yawed=yawed, rolled=rolled, length=length)


def _held(table: EvidenceFields, name: str) -> Entry | None:
    stick = table.measured("stick", "ratio", 0.0, 1.0, sigma=STICK_SIGMA)
    flown = read_flown(table)
    if not table.has_any("stick", "ratio"):
        table.fault("stick_percent", "is missing; write the stick at which the line went at the wanted speed")
    stick = table.certain("stick_percent", stick)
    return None if stick is None else Held(name=name, where=table.where, flown=flown, stick=stick)


def _steady(table: EvidenceFields, name: str) -> Entry | None:
    flown = read_flown(table, usual="level")
    stick_needed(table, flown)
    speed = table.measured("speed", "speed", 2.0, FASTEST, sigma=0.05, relative=True)
    there, back = (table.measured(key, "speed", 2.0, FASTEST, sigma=0.5) for key in ("there", "back"))
    length = table.measured("length", "length", 10.0, LONGEST, sigma=0.01, relative=True)
    out, home = (table.figure(key, 0.1, 600.0, sigma=STOPWATCH) for key in ("there_s", "back_s"))
    given = [
        words
        for words, there_is in (
            ("speed_m_s", table.has_any("speed", "speed")),
            ("there_m_s and back_m_s", any(table.has_any(key, "speed") for key in ("there", "back"))),
            ("length_m with there_s and back_s", table.has_any("length", "length")),
        )
        if there_is
    ]
    if len(given) != 1:
        said = "keep one" if given else "is missing"
        table.fault("speed_m_s", f"{said} of speed_m_s, there_m_s and back_m_s, length_m with there_s and back_s")
        return None
    if speed is not None:
        found: Measured | None = speed
    elif "there_m_s" in given[0]:
        if there is None or back is None:
            table.fault("back_m_s", "and there_m_s are both needed: the mean of both ways takes the wind out")
            return None
        found = Measured(0.5 * (there.value + back.value), 0.5 * math.hypot(there.sigma, back.sigma))
    else:
        found = _timed_both_ways(table, length, out, home)
    found = table.certain("speed_m_s", found)
    if found is None:
        return None
    return Steady(name=name, where=table.where, flown=flown, speed=found)


def _timed_both_ways(
    table: EvidenceFields, length: Measured | None, out: Measured | None, home: Measured | None
) -> Measured | None:
    """Air speed from times over a length both ways: V = L/2 (1/t1 + 1/t2)."""
    if length is None or out is None or home is None:
        table.fault("there_s", "and back_s are both needed with length_m")
        return None
    each = [length.value / took.value for took in (out, home)]
    if not all(2.0 <= speed <= FASTEST for speed in each):
        table.fault("length_m", f"makes {each[0]:.0f} and {each[1]:.0f} m/s; allowed is 2 to {FASTEST:g}")
        return None
    value = 0.5 * sum(each)
    timing = 0.5 * math.hypot(*(speed * took.sigma / took.value for speed, took in zip(each, (out, home), strict=True)))
    return Measured(value, math.hypot(timing, value * length.sigma / length.value))


def _shaft(table: EvidenceFields, name: str) -> Entry | None:
    flown = read_flown(table)
    stick_needed(table, flown)
    omega = table.measured("shaft", "shaft_speed", 1.0, 5000.0, sigma=0.015, relative=True)
    if omega is None and not table.has_any("shaft", "shaft_speed"):
        table.fault("shaft_rpm", "is missing")
    omega, speed = table.certain("shaft_rpm", omega), judged_speed(table)
    return None if omega is None else ShaftSeen(name=name, where=table.where, flown=flown, omega=omega, speed=speed)


def _damping(table: EvidenceFields, name: str) -> Entry | None:
    level = table.text("level", required=True, longest=40)
    omega = table.exact("shaft", "shaft_speed", 1.0, 5000.0)
    torque = table.measured("torque", "torque", 1e-6, 10.0, sigma=0.1, relative=True)
    if omega is None and not table.has_any("shaft", "shaft_speed"):
        table.fault("shaft_rpm", "is missing")
    if torque is None and not table.has_any("torque", "torque"):
        table.fault("torque_mN_m", "is missing; any unit will do, for example torque_N_m")
    torque = table.certain("torque_mN_m", torque)
    if level is None or omega is None or torque is None:
        return None
    return DampingSeen(name=name, where=table.where, level=level, omega=omega, torque=torque)


def _trim(table: EvidenceFields, name: str) -> Entry | None:
    flown = read_flown(table)
    angle = table.measured("elevator", "angle", -1.0, 1.0, sigma=math.radians(0.3))
    share = table.measured("elevator", "ratio", -1.0, 1.0, sigma=0.01)
    if table.has_any("elevator", "angle") == table.has_any("elevator", "ratio"):
        table.fault("elevator_percent", "is missing; write elevator_percent or elevator_deg, one of them, up positive")
        return None
    return Trim(name=name, where=table.where, flown=flown, angle=angle, share=share)


READERS: dict[str, Callable[[EvidenceFields, str], Entry | None]] = {
    "recorded": read_recorded,
    "timed": read_timed,
    "clicked": read_clicked,
    "sound": _sound,
    "rolls": _rolls,
    "pull": _pull,
    "heading": _heading,
    "held": _held,
    "steady": _steady,
    "shaft": _shaft,
    "damping": _damping,
    "trim": _trim,
}
"""Kinds of entry by the name of their list of tables, in the order in which they are kept."""
MOST_ENTRIES = 200
"""Of one kind."""


def read_entries(top: EvidenceFields) -> tuple[Entry, ...]:
    """Every entry of a flight file; faults are noted and faulty entries left out."""
    found: list[Entry] = []
    for kind, read in READERS.items():
        tables: list[Any] = top.tables(kind)
        if len(tables) > MOST_ENTRIES:
            top.fault(kind, f"holds {len(tables)} entries; allowed is {MOST_ENTRIES}")
            continue
        for number, table in enumerate(tables, start=1):
            entry = read(table, _name(table, kind, number))
            if entry is not None:
                found.append(entry)
    return tuple(found)


def _name(table: EvidenceFields, kind: str, number: int) -> str:
    return table.text("name", longest=60) or f"{kind} {number}"
