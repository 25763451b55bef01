"""What a file from a flight holds, shown before anything is learned from it: recordings, sound, clicked videos."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from evenfall.errors import FileFaults, InputError
from evenfall.logs import cut
from evenfall.logs.evidence_entries import Clicked
from evenfall.logs.evidence_file import read_flight_document
from evenfall.logs.recording import Opened, layout_of, open_recording
from evenfall.logs.sighting import SeenLine, seen_line
from evenfall.logs.sound import (
    FLIGHT,
    RPM,
    SPIN_DOWN,
    HeardPass,
    NothingHeardError,
    Spectrogram,
    fit_pass,
    hear,
    spectrogram,
)
from evenfall.logs.sound import Track as Note
from evenfall.logs.spin_down import SpinDown, fit_track
from evenfall.logs.track import Track, nothing
from evenfall.logs.wav import LONGEST, Recording, read_header, read_wav

LADDER = {"vertical down": -90.0, "45 down": -45.0, "level": 0.0, "45 up": 45.0, "vertical up": 90.0}
"""Lines of the ladder and their slopes, degrees."""
LADDER_OFF = math.radians(12)
"""A path further off than this is no line of the ladder. Ours, no source."""
HEIGHTS_SIGMA = math.radians(30)
"""One sigma of a slope of which only the height was recorded. Ours, no source."""
INERTIA_SIGMA = 0.05
"""Share, of a disc's inertia worked out from its mass and radius. Common practice, no source."""

Progress = Callable[[str], None]
Heard = Literal["line", "pass", "spin-down"]


@dataclass(frozen=True, kw_only=True)
class LogAnswer:
    """A recorded flight with its lines: those found, or those asked for.

    Args:
        refused: why a line that was asked for cannot be used, in words.
    """

    name: str
    opened: Opened
    lines: tuple[cut.Candidate, ...]
    wind: cut.Wind | None
    refused: tuple[str, ...] = ()


def show_log(
    path: Path, *, name: str, columns: Mapping[str, str] | None = None, progress: Progress | None = None
) -> LogAnswer:
    """Read a recorded flight, `columns` as the pilot names them, and find its straight lines.

    A table whose columns tell nothing yet is answered with its columns and the reasons, to choose what they hold.
    """
    say = progress or (lambda words: None)
    try:
        opened = open_recording(path, columns=columns, progress=lambda share: say(f"reading, {100 * share:.0f} %"))
    except InputError as error:
        return _unread(path, name, columns or {}, error)
    say("finding lines")
    track, known = _for_lines(opened.track)
    lines = tuple(known(line) for line in cut.lines(track))
    return LogAnswer(name=name, opened=opened, lines=lines, wind=cut.wind(opened.track))


def _for_lines(track: Track) -> tuple[Track, Callable[[cut.Candidate], cut.Candidate]]:
    """The track to find lines in, and what to say of each: where only heights were recorded, all go straight up or
    down."""
    there = np.isfinite(track.height)
    if np.isfinite(track.x).any() or not there.any():
        return track, lambda line: line
    flat = np.where(there, 0.0, np.nan)
    doubts = ("only heights were recorded: say which line it was; length and speed here are those of a vertical",)
    return replace(track, x=flat, y=flat), lambda line: replace(line, slope_sigma=HEIGHTS_SIGMA, doubts=doubts)


def _unread(path: Path, name: str, columns: Mapping[str, str], why: InputError) -> LogAnswer:
    """Columns of a table that cannot be read with what they hold now; raises `why` for any other file."""
    try:
        mapping = layout_of(path, columns)
    except InputError:
        mapping = None
    if mapping is None:
        raise why
    faults = why.faults if isinstance(why, FileFaults) else ()
    words = tuple(f"{fault.where}: {fault.message}" if fault.where else fault.message for fault in faults)
    opened = Opened(kind="csv", mapping=mapping, track=nothing())
    return LogAnswer(name=name, opened=opened, lines=(), wind=None, refused=words or (str(why),))


def cut_anew(answer: LogAnswer, cuts: Sequence[tuple[float, float]]) -> LogAnswer:
    """The same recording with exactly the lines from and to the given times, s, instead of those found."""
    found, refused = [], []
    track, known = _for_lines(answer.opened.track)
    for start, end in cuts:
        try:
            found.append(known(cut.between(track, start, end)))
        except InputError as error:
            refused.append(str(error))
    return replace(answer, lines=tuple(found), refused=tuple(refused))


def ladder_line(slope: float) -> str:
    """Line of the ladder a slope (rad) belongs to; empty where none is near.

    >>> ladder_line(math.radians(-82)), ladder_line(math.radians(-65))
    ('vertical down', '')
    """
    name = min(LADDER, key=lambda line: abs(math.radians(LADDER[line]) - slope))
    return name if abs(math.radians(LADDER[name]) - slope) <= LADDER_OFF else ""


@dataclass(frozen=True, kw_only=True)
class SoundAnswer:
    """What was heard in a sound.

    Args:
        seconds: length of the file. picture: None where it is silent or too short.
        note: the propeller's note, None where it was not heard.
        why: the reason why it was not heard, or why no pass or spin-down can be made of it; else empty.
        shaft: shaft speed over a pass with Doppler taken out. spin: what a spin-down says of a disc.
        speed: air or ground speed said to it, m/s.
    """

    name: str
    what: Heard
    seconds: float
    recording: Recording | None
    note: Note | None
    picture: Spectrogram | None
    why: str = ""
    shaft: HeardPass | None = None
    spin: SpinDown | None = None
    speed: float | None = None


def show_sound(
    path: Path,
    *,
    name: str,
    what: Heard,
    blades: int,
    part: tuple[float | None, float | None] = (None, None),
    speed: float | None = None,
    disc_inertia: float | None = None,
    progress: Progress | None = None,
) -> SoundAnswer:
    """Listen to a WAV file.

    Args:
        blades: of the propeller; a disc for a spin-down has one mark. part: from and to, s into the file.
        speed: m/s, where known. disc_inertia: of a guarded disc with the rotor, kg m^2; giving it confirms the guard.

    What cannot be heard is an answer with its reason; raises `InputError` where the file cannot be read.
    """
    say = progress or (lambda words: None)
    length = read_header(path).seconds
    start = max(part[0] or 0.0, 0.0)
    end = min(length if part[1] is None else part[1], length)
    if end <= start:
        raise InputError(f"{name}: the part from {start:g} to {end:g} s holds nothing; the file is {length:.1f} s long")
    if end - start > LONGEST:
        raise InputError(
            f"{name}: {end - start:.0f} s of sound; up to {LONGEST:g} s are listened to at once. Choose the part with "
            "the line."
        )
    say("listening")
    recording = read_wav(path, start=start, seconds=max(end - start, 1e-3))
    spinning = what == "spin-down"
    marks = 1 if spinning and disc_inertia is not None else blades
    manner = SPIN_DOWN if spinning else FLIGHT
    answer = SoundAnswer(
        name=name, what=what, seconds=length, recording=recording, note=None, picture=None, speed=speed
    )
    try:
        note = hear(recording, blades=marks, manner=manner)
    except NothingHeardError as error:
        return replace(answer, why=str(error), picture=spectrogram(recording, manner=manner))
    picture = Spectrogram(time=note.picture_time, hz=note.picture_hz, above_db=note.picture_db)
    answer = replace(answer, note=note, picture=picture)
    try:
        if what == "pass":
            return replace(answer, shaft=fit_pass(note))
        if spinning and disc_inertia is not None:
            doubt = INERTIA_SIGMA * disc_inertia
            return replace(answer, spin=fit_track(note, inertia=disc_inertia, inertia_sigma=doubt, guarded=True))
    except InputError as error:
        return replace(answer, why=str(error))
    return answer


def middle_rpm(note: Note) -> tuple[float, float]:
    """Shaft speed as heard, rpm, with one sigma; Doppler not taken out."""
    count = max(len(note.time) / note.overlap, 1.0)
    rpm = note.rpm
    return float(np.median(rpm)), float(np.hypot(np.std(rpm), np.median(note.sigma_rpm)) / math.sqrt(count))


def ends_rpm(note: Note) -> tuple[float, float]:
    """Shaft speed at the first and last moments heard, rpm."""
    return float(np.median(note.rpm[:3])), float(np.median(note.rpm[-3:]))


def rpm_of(omega: float) -> float:
    """Revolutions a minute of rad/s."""
    return omega / RPM


def show_clicked(entry: Mapping[str, Any]) -> SeenLine:
    """A clicked video, as the entry of a flight file, as a way along its line.

    Raises `InputError` or `FileFaults` where it fits no camera or too little was clicked.
    """
    flight = read_flight_document({"format": 1, "date": "2000-01-01", "clicked": [entry]}, name="the clicked places")
    clicked = flight.entries[0]
    assert isinstance(clicked, Clicked)
    return seen_line(clicked)
