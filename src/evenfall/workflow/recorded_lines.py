"""Lines of a recorded flight as evidence: those the pilot has marked, or those that fit the ladder by themselves."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from evenfall.errors import Fault, InputError
from evenfall.logs import cut
from evenfall.logs.cut import CLOSED, Candidate
from evenfall.logs.evidence import Evidence, ShaftSpeed, TracedLine
from evenfall.logs.evidence_entries import FASTEST, LINES, Flown, Recorded, RecordedPart
from evenfall.logs.recording import open_recording
from evenfall.logs.track import Floats, Track
from evenfall.workflow.day import Day

SETTLING = 0.5
"""s after the stick was closed until crow, motor brake and shaft have come to rest."""
SHORTEST = 1.2
"""s of a line that is worth learning from."""
LEAN = math.radians(5)
"""A line within this of the ladder's slope, or within two sigma of its own, counts as that line."""
WRONG_SLOPE = math.radians(15)
"""A recorded slope further than this from the one written down is no such line."""
GROWTH = 1.5
"""s by which the ends of a line found by itself are moved out at most: half the widest smoothing."""
MOST_LINES = 20
"""Lines taken out of one record by themselves, longest first."""
STEADY_STICK = 0.03
"""Most scatter of the stick on a line flown under power."""
RPM_SIGMA = 0.015
"""Share, of a telemetered shaft speed. Common practice, no source."""


def recorded_evidence(
    day: Day, entry: Recorded, *, progress: Callable[[str], None]
) -> tuple[list[Evidence], list[Fault]]:
    """Every usable line of a record, and what could not be used."""
    name = entry.called or entry.file
    progress(f"reading {name}")
    opened = open_recording(day.folder / entry.file, columns=dict(entry.columns))
    track, label = opened.track, day.named(name)
    for note in track.notes:
        day.say(f"{label}: {note}")
    air = cut.wind(track)
    if air is not None:
        day.say(
            f"{label}: wind of {math.hypot(air.east, air.north):.1f} +- {air.sigma:.1f} m/s found from its level flight"
        )
    found: list[Evidence] = []
    faults: list[Fault] = []
    if not entry.parts:
        return _by_itself(day, track, air, label=label, where=entry.where)
    for part in entry.parts:
        name = f"{label}, {_name_of(part.flown)} at {part.start:.0f} s"
        try:
            found += _marked(day, track, air, part, name=name)
        except InputError as error:
            faults.append(Fault(where=part.where, message=f"{name}: {error}"))
    return found, faults


def _name_of(flown: Flown) -> str:
    line = flown.line or f"line of {math.degrees(flown.slope):+.0f} degrees"
    return line + ("" if flown.crow else " without crow") + (" inverted" if flown.inverted else "")


# --- marked by the pilot ---------------------------------------------------------------------------------------------


def _marked(day: Day, track: Track, air: cut.Wind | None, part: RecordedPart, *, name: str) -> list[Evidence]:
    flown = part.flown
    if part.start < -1e-6 or part.end > float(track.time[-1]) + 0.5:
        raise InputError(
            f"from {part.start:g} to {part.end:g} s lies outside the record; it runs from 0 to {track.time[-1]:.1f} s"
        )
    if not _has_positions(track):
        return [_by_height(day, track, part, name=name)]
    candidate = cut.between(track, part.start, part.end)
    off = abs(candidate.slope - flown.slope)
    if off > max(WRONG_SLOPE, 3 * candidate.slope_sigma):
        raise InputError(
            f"the record shows {math.degrees(candidate.slope):+.0f} degrees where "
            f"{math.degrees(flown.slope):+.0f} was written down; check from_s, to_s and line"
        )
    return _taken(day, track, air, candidate, flown, name=name)


def _has_positions(track: Track) -> bool:
    return int(np.sum(np.isfinite(track.x) & np.isfinite(track.y))) >= 6


def _by_height(day: Day, track: Track, part: RecordedPart, *, name: str) -> TracedLine:
    """A line of which only heights were recorded: the way is height over the sine of the slope."""
    climb = math.sin(part.flown.slope)
    if abs(climb) < 0.3:
        raise InputError("only heights were recorded, which tell no way on a line as flat as this")
    rows = (track.time >= part.start) & (track.time <= part.end) & np.isfinite(track.height)
    start = part.start
    if not part.flown.stick:
        open_at = track.time[(track.time <= part.end) & (track.throttle >= CLOSED)]
        start = max(start, float(open_at[-1]) + SETTLING) if len(open_at) else start
    rows &= track.time >= start
    if int(rows.sum()) < 8 or float(np.ptp(track.time[rows])) < SHORTEST:
        raise InputError(
            f"holds {int(rows.sum())} heights after the stick was closed; 8 over {SHORTEST:g} s are needed"
        )
    time = track.time[rows] - track.time[rows][0]
    # The same smoothing as for positions: the height stands for a place in space straight above or below.
    upright = replace(
        track,
        time=track.time[rows],
        x=np.zeros(int(rows.sum())),
        y=np.zeros(int(rows.sum())),
        height=track.height[rows] / abs(climb),
        **{key: getattr(track, key)[rows] for key in _OTHERS},
    )
    whole = cut.between(upright, float(upright.time[0]), float(upright.time[-1]))
    if (whole.slope > 0) != (climb > 0):
        raise InputError("the heights run the other way than the line written down; check from_s, to_s and line")
    made = cut.as_evidence(upright, replace(whole, closed=None), name=name)
    assert len(made.time) == len(time)
    return replace(_flyable(made), flight=day.flight(part.flown))


def _flyable(line: TracedLine) -> TracedLine:
    """The line; raises where its speed is a slip of a column or its unit."""
    mean = float(line.way[-1] - line.way[0]) / float(line.time[-1])
    if not 2.0 <= mean <= FASTEST:
        raise InputError(f"runs at {mean:.3g} m/s; allowed is 2 to {FASTEST:g}: check the columns and their units")
    return replace(line, speed=min(max(line.speed, 0.3 * mean), 3.0 * mean))


_OTHERS = ("latitude", "longitude", "ground_speed", "vertical_speed", "rpm", "throttle", "voltage", "current")


def _taken(
    day: Day, track: Track, air: cut.Wind | None, candidate: Candidate, flown: Flown, *, name: str
) -> list[Evidence]:
    """A line as evidence, with its shaft speed where that was recorded."""
    down = flown.slope < -0.2
    stick = flown.stick if flown.stick is not None else 0.0 if down else _stick_of(track, candidate)
    if stick is None:
        raise InputError("stick_percent is missing, and the record holds no throttle; on this line the stick decides")
    part = candidate
    if stick == 0.0 and candidate.closed is not None:
        start = _settled(track, candidate.closed[0])
        if candidate.closed[1] - start < SHORTEST:
            raise InputError(
                f"the stick is closed for {candidate.closed[1] - candidate.closed[0]:.1f} s only; "
                f"{SHORTEST + SETTLING:g} s are needed"
            )
        part = replace(candidate, closed=(start, candidate.closed[1]))
    elif stick == 0.0 and np.any(np.isfinite(track.throttle)):
        raise InputError("the record shows no closed stick there; write stick_percent if it was held open")
    made = cut.as_evidence(
        track, part, name=name, air=air, inverted=flown.inverted, stick=stick, crow=flown.crow, gust=flown.gust
    )
    made = _flyable(made)
    slope = _slope(candidate, flown.slope)
    known = day.flight(flown, slope=slope)
    wind = (made.flight.wind, made.flight.wind_sigma) if air is not None else (known.wind, known.wind_sigma)
    flight = replace(known, stick=stick, wind=wind[0], wind_sigma=wind[1])
    line = replace(made, flight=flight)
    return [line, *_shaft(track, part, line, stick)]


def _slope(candidate: Candidate, written: float) -> float:
    """The ladder's slope where the record agrees with it; else the recorded one to whole degrees."""
    off = abs(candidate.slope - written)
    upright = abs(abs(written) - math.pi / 2) < 0.05
    if off <= 2 * candidate.slope_sigma or (upright and off < math.radians(10)):
        return written
    return math.radians(round(math.degrees(candidate.slope)))


def _settled(track: Track, closed_at: float) -> float:
    """When everything has come to rest after the stick was closed at `closed_at`, s of the track."""
    known = np.isfinite(track.throttle) & (track.time <= closed_at + 1e-9)
    open_at = track.time[known & (track.throttle >= CLOSED)]
    return max(closed_at, float(open_at[-1]) + SETTLING) if len(open_at) else closed_at


def _stick_of(track: Track, candidate: Candidate) -> float | None:
    rows = (track.time >= candidate.start) & (track.time <= candidate.end) & np.isfinite(track.throttle)
    values: Floats = track.throttle[rows]
    if len(values) < 5:
        return None
    if float(np.std(values)) > STEADY_STICK:
        raise InputError("the stick moves on this line; only lines at one stick can be used")
    return float(np.clip(np.mean(values), 0.0, 1.0))


def _shaft(track: Track, part: Candidate, line: TracedLine, stick: float) -> list[Evidence]:
    """Recorded shaft speed at the end of a line, where its speed has come near to steady."""
    start, end = part.closed if stick == 0.0 and part.closed else (part.start, part.end)
    late = (track.time >= end - 0.4 * (end - start)) & (track.time <= end) & np.isfinite(track.rpm) & (track.rpm > 0)
    values = track.rpm[late]
    if len(values) < 3:
        return []
    rpm = float(np.median(values))
    speed, doubt = part.speed_end - line.flight.wind, max(line.speed_sigma / 3, 0.5)
    if speed < 3.0:
        return []
    share = math.hypot(RPM_SIGMA, doubt / speed, line.flight.wind_sigma / speed, float(np.std(values)) / rpm / 2)
    omega = rpm * math.pi / 30
    return [ShaftSpeed(name=f"{line.name}, shaft", flight=line.flight, omega=omega, sigma=share * omega, speed=speed)]


# --- by themselves ---------------------------------------------------------------------------------------------------


def _by_itself(
    day: Day, track: Track, air: cut.Wind | None, *, label: str, where: str
) -> tuple[list[Evidence], list[Fault]]:
    """Every cut line that fits the ladder, and why the others were left."""
    if not _has_positions(track):
        message = (
            f"{label}: holds no positions, so lines cannot be found by themselves; add [[recorded.line]] with from_s, "
            "to_s and line"
        )
        return [], [Fault(where=where, message=message)]
    fitting = [(candidate, name) for candidate in cut.lines(track) if (name := _ladder(candidate)) is not None]
    fitting.sort(key=lambda pair: pair[0].start - pair[0].end)
    if len(fitting) > MOST_LINES:
        day.say(f"{label}: {len(fitting)} lines fit the ladder; the {MOST_LINES} longest are looked at")
    found: list[Evidence] = []
    taken: list[str] = []
    left: dict[str, list[str]] = {}
    for candidate, line in sorted(fitting[:MOST_LINES], key=lambda pair: pair[0].start):
        part = candidate
        words = f"{line} at {candidate.start:.0f} s"
        try:
            flown = _guessed(track, candidate, line)
            if flown.stick == 0.0 and candidate.closed is not None:
                part = _grown(track, candidate)
            found += _taken(day, track, air, part, flown, name=f"{label}, {words}")
            taken.append(words)
        except InputError as error:
            left.setdefault(str(error), []).append(words)
    if taken:
        day.say(f"{label}: cut out by themselves, upright and with crow as in the plan: {', '.join(taken)}")
    if left:
        reasons = "; ".join(f"{', '.join(rows)} ({why})" for why, rows in left.items())
        day.say(f"{label}: not used: {reasons}")
    if not found:
        message = (
            f"{label}: no line fits the ladder and could be used; add [[recorded.line]] with from_s, to_s and line"
        )
        return [], [Fault(where=where, message=message)]
    return found, []


def _grown(track: Track, candidate: Candidate) -> Candidate:
    """A line with a closed stick, its ends moved out while the positions stay on it.

    Smoothing has eaten them where positions are noisy. Blocks of .4 s are taken while their mean lies on the line
    within two sigma, `GROWTH` at most.
    """
    rows = np.isfinite(track.x) & np.isfinite(track.y) & np.isfinite(track.height)
    time = track.time[rows]
    points = np.column_stack([track.x, track.y, track.height])[rows]
    inside = (time >= candidate.start) & (time <= candidate.end)
    middle = points[inside].mean(axis=0)
    axis = np.linalg.svd(points[inside] - middle, full_matrices=False)[2][0]
    off = (points - middle) - np.outer((points - middle) @ axis, axis)
    block = max(3, round(0.4 / float(np.median(np.diff(time)))))
    near = 2.0 * max(candidate.across, 0.5) / math.sqrt(block)
    first, last = (int(k) for k in np.flatnonzero(inside)[[0, -1]])

    def stays(k: int, to: int) -> bool:
        span = abs(float(time[to] - time[k]))
        return span < 1.0 and float(np.linalg.norm(off[min(k, to) : max(k, to)].mean(axis=0))) < near

    while first >= block and candidate.start - time[first - block] <= GROWTH and stays(first, first - block):
        first -= block
    while last + block < len(time) and time[last + block] - candidate.end <= GROWTH and stays(last + 1, last + block):
        last += block
    return cut.between(track, float(time[first]), float(time[last]))


def _ladder(candidate: Candidate) -> str | None:
    near = min(LINES, key=lambda name: abs(LINES[name] - candidate.slope))
    off = abs(LINES[near] - candidate.slope)
    return near if off <= max(LEAN, min(2 * candidate.slope_sigma, 2 * LEAN)) else None


def _guessed(track: Track, candidate: Candidate, line: str) -> Flown:
    """How a line was flown as far as the record tells: stick closed, or held at one place."""
    slope = LINES[line]
    known = np.any(np.isfinite(track.throttle))
    if slope < -0.2 and candidate.closed is not None:
        return Flown(slope=slope, line=line, stick=0.0)
    if known:
        return Flown(slope=slope, line=line, stick=_stick_of(track, candidate))
    if line == "vertical down":
        return Flown(slope=slope, line=line, stick=0.0)
    raise InputError("the throttle was not recorded; mark the line and write its stick")
