"""Sound of the propeller as evidence: a line, a pass, a spin-down of a disc."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from evenfall.errors import InputError
from evenfall.logs.evidence import Evidence, ShaftSpeed
from evenfall.logs.evidence_entries import Measured, Sound
from evenfall.logs.sound import FLIGHT, RPM, SPIN_DOWN, Track, fit_pass, hear, rpm_on_line
from evenfall.logs.spin_down import fit_track
from evenfall.logs.wav import LONGEST, read_header, read_wav
from evenfall.workflow.day import Day

STEADY_SHARE = 0.03
"""Scatter of the shaft speed from which a line heard without its place is no steady one."""


def sound_speed(temperature: float) -> float:
    """Speed of sound in air, m/s, at K: 331.3 sqrt(T/273.15). Source: ideal gas, 331.3 m/s at 0 degrees C.

    >>> round(sound_speed(288.15), 1)
    340.3
    """
    return 331.3 * math.sqrt(temperature / 273.15)


def heard_evidence(day: Day, entry: Sound, *, name: str, progress: Callable[[str], None]) -> Evidence:
    """What a WAV file tells; raises `InputError` where it tells nothing."""
    progress(f"listening to {entry.called or entry.file}")
    path = day.folder / entry.file
    whole = read_header(path).seconds
    start, end = entry.part or (0.0, math.inf)
    if start >= whole:
        raise InputError(f"from_s is {start:g}; the sound is {whole:.1f} s long")
    seconds = min(end, whole) - start
    if seconds > LONGEST:
        raise InputError(f"{seconds:.0f} s of sound; {LONGEST:g} s can be heard at once: write from_s and to_s")
    recording = read_wav(path, start=start, seconds=max(seconds, 0.01))
    for note in recording.notes:
        day.say(f"{name}: {note}")
    bench = entry.what == "spin-down" and entry.inertia is not None
    blades = entry.marks if bench else day.ready.file.plane.propeller.blades
    manner = SPIN_DOWN if entry.what == "spin-down" else FLIGHT
    track = hear(recording, blades=blades, manner=manner)
    level = day.level(entry.flown.level) or day.plan.motor.level
    if entry.what == "spin-down":
        if entry.inertia is None:
            raise InputError(
                "a spin-down in flight is not worked out: the air keeps driving the propeller. Hear the line once the "
                'note has settled (what = "line"), or a disc behind a guard (disc_inertia_g_cm2)'
            )
        down = fit_track(track, inertia=entry.inertia.value, inertia_sigma=entry.inertia.sigma, guarded=True)
        return down.evidence(name, level)
    flight = day.flight(entry.flown)
    sonic = sound_speed(day.temperature)
    if entry.what == "pass":
        heard = fit_pass(track, sound_speed=sonic)
        made = heard.evidence(name, flight)
        share = math.hypot(
            heard.rpm_sigma / heard.rpm, heard.speed_sigma / heard.speed, flight.wind_sigma / heard.speed
        )
        return replace(made, sigma=made.omega * share)
    speed = day.speed(entry.speed, name)
    if entry.place is None:
        return _without_place(track, flight_speed=speed, sonic=sonic, name=name, day=day, entry=entry)
    place = entry.place
    heard = rpm_on_line(
        track,
        slope=entry.flown.slope,
        speed=speed.value,
        speed_sigma=speed.sigma,
        height=place.height,
        ahead=place.ahead,
        aside=place.aside,
        at=place.at,
        sound_speed=sonic,
    )
    omega = heard.rpm * RPM
    # The engine takes the speed as exact, so its doubt goes to the shaft speed that is nearly in proportion to it.
    share = math.hypot(heard.rpm_sigma / heard.rpm, speed.sigma / speed.value)
    return ShaftSpeed(name=name, flight=flight, omega=omega, sigma=share * omega, speed=speed.value)


def _without_place(
    track: Track, *, flight_speed: Measured, sonic: float, name: str, day: Day, entry: Sound
) -> ShaftSpeed:
    """A line heard from a place that was not written down: Doppler between none and that of flying straight in."""
    rpm = float(np.median(track.rpm))
    scatter = float(np.std(track.rpm)) / rpm
    if scatter > STEADY_SHARE:
        raise InputError(
            f"the note runs over {100 * scatter:.0f} percent; cut the part where it holds (from_s, to_s), write where "
            'the plane was (at_s, height_m), or say what = "pass" where it flew past'
        )
    most = 1.0 / (1.0 - flight_speed.value / sonic)
    middle = 0.5 * (1.0 + most)
    doubt = (most - 1.0) / math.sqrt(12) / middle
    day.say(
        f"{name}: where the plane was is not known; Doppler is taken as half of its most, +- {100 * doubt:.1f} percent"
    )
    omega = rpm * RPM / middle
    share = math.hypot(doubt, scatter, flight_speed.sigma / flight_speed.value)
    return ShaftSpeed(
        name=name, flight=day.flight(entry.flown), omega=omega, sigma=share * omega, speed=flight_speed.value
    )
