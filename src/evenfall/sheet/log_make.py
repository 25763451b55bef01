"""Pages of a recording, a sound and a clicked video: thinned, rounded and worded for confirming or trimming."""

from __future__ import annotations

import base64
import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from evenfall.logs.csv_log import units_of
from evenfall.logs.recording import HOLDS, NOTHING
from evenfall.sheet.log_page import ClickedPage, ColumnPage, LineCutPage, LogPage, SoundPage
from evenfall.workflow.showing import LogAnswer, SoundAnswer, ends_rpm, ladder_line, middle_rpm, rpm_of

if TYPE_CHECKING:
    from evenfall.logs.cut import Candidate, Wind
    from evenfall.logs.sighting import SeenLine
    from evenfall.logs.sound import Spectrogram
    from evenfall.logs.spin_down import SpinDown
    from evenfall.logs.track import Track

Floats = NDArray[np.float64]
POINTS = 2000
"""Most points of a recording shown."""
NEAR, AROUND_S = 800, 4.0
"""Most of these points kept for lines, and the time around each that belongs to it, s."""
LINES = 200
"""Most lines shown."""
PICTURE = (400, 256)
"""Most columns and rows of a spectrogram."""
LOUDEST_DB = 22.0
"""Level over the noise floor that is drawn as the loudest."""
TRACK = 1000
"""Most points of a note."""
_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright stroke"}
_G_CM2 = 1e-7
"""kg m^2 in g cm^2."""


# --- recordings ------------------------------------------------------------------------------------------------------


def log_page(answer: LogAnswer, *, file: str) -> LogPage:
    """A recording as the page shows it; `file` is its name in the record."""
    track, mapping = answer.opened.track, answer.opened.mapping
    rows = _chosen(track, answer.lines)
    lines = answer.lines[:LINES]
    notes = [*answer.refused, *track.notes]
    if len(answer.lines) > LINES:
        notes.append(f"{len(answer.lines)} straight lines found; the first {LINES} are shown")
    if not answer.lines and not answer.refused:
        notes.append(_no_lines(track))
    return LogPage(
        file=file,
        kind=answer.opened.kind,
        columns=()
        if mapping is None
        else tuple(
            ColumnPage(
                name=column.name,
                holds=column.quantity or NOTHING,
                unit=column.unit if column.quantity else "",
                sample=column.sample[:60],
            )
            for column in mapping.columns
        ),
        choices=() if mapping is None else _choices(),
        delimiter="" if mapping is None else _layout(mapping.delimiter, mapping.decimal_comma),
        notes=tuple(notes),
        time_s=tuple(np.round(track.time[rows], 2).tolist()),
        height_m=_values(_from_first(track.height)[rows], 2),
        east_m=_values(track.x[rows], 2),
        north_m=_values(track.y[rows], 2),
        speed_m_s=_values(_ground_speed(track)[rows], 2),
        throttle_percent=_values(100 * track.throttle[rows], 1),
        shaft_rpm=_values(track.rpm[rows], 0),
        lines=tuple(_line(line) for line in lines),
        wind=_wind(answer.wind),
    )


def _choices() -> tuple[str, ...]:
    """What a column may hold: each quantity, and each in another unit."""
    bare = list(HOLDS)
    return (*bare, *(f"{held} {unit}" for held in bare for unit in units_of(held) if held != "date"))


def _layout(delimiter: str, comma: bool) -> str:
    name = _DELIMITERS.get(delimiter, delimiter)
    return f"{name}, numbers with a decimal comma" if comma else name


def _no_lines(track: Track) -> str:
    if not np.isfinite(track.height).any():
        return "no lines can be found: the height is not in the record; choose the column that holds it"
    if not np.isfinite(track.x).any():
        return "only heights were recorded and none changes fast for 1.5 s; give start and end of a line by hand"
    return "no straight line of 1.5 s or more was found; give its start and end by hand"


def _from_first(values: Floats) -> Floats:
    there = np.flatnonzero(np.isfinite(values))
    return values - values[there[0]] if len(there) else values


def _ground_speed(track: Track) -> Floats:
    """Speed over ground as recorded, else from the positions a second apart."""
    if np.isfinite(track.ground_speed).any():
        return track.ground_speed
    there = np.isfinite(track.x) & np.isfinite(track.y)
    speed = np.full(len(track.time), np.nan)
    time = track.time[there]
    if len(time) > 3:
        before = np.clip(np.searchsorted(time, time - 0.5), 0, len(time) - 1)
        after = np.clip(np.searchsorted(time, time + 0.5), 0, len(time) - 1)
        seconds = np.maximum(time[after] - time[before], 1e-3)
        x, y = track.x[there], track.y[there]
        speed[there] = np.hypot(x[after] - x[before], y[after] - y[before]) / seconds
    return speed


def _chosen(track: Track, lines: tuple[Candidate, ...]) -> NDArray[np.intp]:
    """Rows to show: all, or the highest and lowest of each of many short pieces, and more around every line."""
    count = len(track.time)
    if count <= POINTS:
        return np.arange(count)
    ends = np.searchsorted(track.time, [edge for line in lines[:LINES] for edge in (line.start, line.end)])
    ends = np.clip(ends, 0, count - 1)
    near = _near(track, lines)
    pieces = (POINTS - 2 - len(ends) - len(near)) // 2
    values = next((v for v in (track.height, track.ground_speed, track.x) if np.isfinite(v).any()), track.time)
    edges = np.linspace(0, count, pieces + 1).astype(int)
    low, high = np.where(np.isfinite(values), values, np.inf), np.where(np.isfinite(values), values, -np.inf)
    spots = [
        (a + int(np.argmin(low[a:b])), a + int(np.argmax(high[a:b]))) for a, b in zip(edges, edges[1:], strict=False)
    ]
    found: NDArray[np.intp] = np.unique(np.concatenate([[0, count - 1], ends, near, np.ravel(spots)])).astype(np.intp)
    return found


def _near(track: Track, lines: tuple[Candidate, ...]) -> NDArray[np.intp]:
    """Rows on and around the lines, at most `NEAR` of them: a line shown by itself has all of its own."""
    margin = [max(0.5 * (line.end - line.start), AROUND_S) for line in lines[:LINES]]
    there = np.zeros(len(track.time), dtype=bool)
    for line, more in zip(lines[:LINES], margin, strict=True):
        there |= (track.time >= line.start - more) & (track.time <= line.end + more)
    rows = np.flatnonzero(there)
    return rows[:: max(1, math.ceil(len(rows) / NEAR))]


def _values(values: Floats, digits: int) -> tuple[float | None, ...]:
    rounded = np.round(values, digits) + 0.0
    return tuple(float(value) if math.isfinite(value) else None for value in rounded)


def _line(line: Candidate) -> LineCutPage:
    return LineCutPage(
        from_s=round(line.start, 2),
        to_s=round(line.end, 2),
        line=ladder_line(line.slope),
        slope_deg=round(math.degrees(line.slope), 1),
        slope_sigma_deg=round(math.degrees(line.slope_sigma), 1),
        speed_from_m_s=round(line.speed_start, 2),
        speed_to_m_s=round(line.speed_end, 2),
        length_m=round(line.length, 1),
        across_m=round(line.across, 2),
        closed_s=None if line.closed is None else (round(line.closed[0], 2), round(line.closed[1], 2)),
        doubts=line.doubts,
    )


def _wind(wind: Wind | None) -> str:
    if wind is None:
        return "Wind not found: that takes level flight in several directions. It is left to the doubt of each line."
    speed = math.hypot(wind.east, wind.north)
    if speed < wind.sigma:
        return f"Wind below {max(wind.sigma, 0.1):.1f} m/s, from level flight."
    source = math.degrees(math.atan2(-wind.east, -wind.north)) % 360
    return (
        f"Wind {speed:.1f} +- {wind.sigma:.1f} m/s from {source:.0f} degrees, from level flight in several directions."
    )


# --- sound -----------------------------------------------------------------------------------------------------------


def sound_page(answer: SoundAnswer, *, file: str) -> SoundPage:
    """A sound as the page shows it; `file` is its name in the record."""
    note = answer.note
    times, frequencies, level = ((), (), "") if answer.picture is None else _picture(answer.picture)
    thin = slice(None) if note is None else slice(None, None, max(1, math.ceil(len(note.time) / TRACK)))
    rpm = _shaft(answer)
    return SoundPage(
        file=file,
        seconds=round(answer.seconds, 2),
        heard=note is not None,
        words=_heard(answer, rpm),
        time_s=times,
        frequency_hz=frequencies,
        level=level,
        track_s=() if note is None else tuple(np.round(note.time[thin], 3).tolist()),
        track_rpm=() if note is None else _values(note.rpm[thin], 0),
        track_hz=() if note is None else _values(note.hz[thin], 2),
        shaft_rpm=None if rpm is None else round(rpm[0], 1),
        shaft_rpm_sigma=None if rpm is None else round(rpm[1], 1),
        damping_words=_damping(answer),
    )


def _picture(picture: Spectrogram) -> tuple[tuple[float, ...], tuple[float, ...], str]:
    """Spectrogram over the noise floor, loudest of each block kept, as bytes row by row from the lowest frequency."""
    level = np.clip(picture.above_db / LOUDEST_DB * 255, 0, 255).astype(np.uint8)
    columns, rows = (
        np.linspace(0, size, min(size, most) + 1).astype(int)[:-1]
        for size, most in zip(level.shape, PICTURE, strict=True)
    )
    small = np.maximum.reduceat(np.maximum.reduceat(level, columns, axis=0), rows, axis=1)
    body = base64.b64encode(np.ascontiguousarray(small.T).tobytes()).decode("ascii")
    times, frequencies = np.round(picture.time[columns], 3), np.round(picture.hz[rows], 1)
    return tuple(times.tolist()), tuple(frequencies.tolist()), body


def _shaft(answer: SoundAnswer) -> tuple[float, float] | None:
    """Shaft speed and one sigma, rpm; None where there is no single one."""
    if answer.note is None or answer.what == "spin-down":
        return None
    if answer.shaft is not None:
        return answer.shaft.rpm, answer.shaft.rpm_sigma
    if answer.what == "pass":
        return None
    rpm, sigma = middle_rpm(answer.note)
    return rpm, math.hypot(sigma, doppler_share(answer.speed) * rpm)


def doppler_share(speed: float | None) -> float:
    """One sigma of Doppler that is not taken out, as a share: a plane that comes or goes as likely as not."""
    return (speed or 20.0) / 340.0 / math.sqrt(3)


def _turns(rpm: float, sigma: float) -> str:
    """A shaft speed to ten turns a minute, where its spread deserves no more."""
    places = -1 if sigma >= 10 else 0
    return f"{round(rpm, places):.0f} +- {round(sigma, places):.0f} rpm"


def _heard(answer: SoundAnswer, rpm: tuple[float, float] | None) -> str:
    note, recording = answer.note, answer.recording
    said = [] if recording is None else list(recording.notes)
    if note is None:
        return " ".join([answer.why, *said])
    first, last = float(note.time[0]), float(note.time[-1])
    words = f"Heard from {first:.1f} to {last:.1f} s with {note.blades} {'mark' if note.blades == 1 else 'blades'}."
    if answer.what == "spin-down":
        begin, end = ends_rpm(note)
        words += f" The shaft slows from {begin:.0f} to {end:.0f} rpm in {last - first:.1f} s."
    elif rpm is not None and answer.shaft is not None:
        shaft = answer.shaft
        words += (
            f" {_turns(*rpm)} with Doppler taken out: passing {shaft.distance:.0f} m away at "
            f"{shaft.speed:.0f} +- {shaft.speed_sigma:.0f} m/s over ground."
        )
    elif rpm is not None:
        words += f" {_turns(*rpm)} as heard; whether the plane came or went is in the doubt."
    return " ".join([words, *([answer.why] if answer.why else []), *said])


def _damping(answer: SoundAnswer) -> str:
    if answer.what != "spin-down" or answer.note is None:
        return ""
    if answer.spin is None:
        if answer.why:
            return answer.why
        return "How fast it slows is kept. For a torque, give the inertia of the guarded disc."
    return _spin(answer.spin)


def _spin(spin: SpinDown) -> str:
    return (
        f"{1e3 * spin.torque:.2f} +- {1e3 * spin.torque_sigma:.2f} mN m at {rpm_of(spin.omega):.0f} rpm, friction "
        f"included; damping {1e6 * spin.damping:.2f} +- {1e6 * spin.damping_sigma:.2f} uN m s/rad."
    )


def disc_inertia(g_cm2: float) -> float:
    """kg m^2 of an inertia in g cm^2."""
    return g_cm2 * _G_CM2


# --- video -----------------------------------------------------------------------------------------------------------


def clicked_page(seen: SeenLine, *, notes: tuple[str, ...] = ()) -> ClickedPage:
    """Clicked places as a way along the line."""
    time, way = seen.time, seen.way
    middle = float(way[-1] - way[0]) / float(time[-1] - time[0])
    degree = 2 if len(time) >= 6 else 1
    fit = np.polynomial.Polynomial.fit(time, way, degree).deriv()
    first, last = float(fit(time[0])), float(fit(time[-1]))
    words = (
        f"{way[-1]:.0f} m of line in {time[-1]:.2f} s, {middle:.1f} m/s on average. Each click is good to "
        f"{seen.sigma:.1f} m, the scale to {100 * seen.scale_sigma:.0f} %."
    )
    return ClickedPage(
        time_s=tuple(np.round(time, 4).tolist()),
        way_m=tuple(np.round(way, 3).tolist()),
        sigma_m=round(seen.sigma, 3),
        slope_deg=round(math.degrees(seen.slope), 1),
        speed_m_s=(round(first, 2), round(last, 2)),
        words=" ".join([words, *_improve(seen), *notes]),
    )


def _improve(seen: SeenLine) -> list[str]:
    said: list[str] = []
    if seen.across > 0.03 * float(seen.way[-1]) + 3 * seen.sigma:
        said.append(f"The clicks lie {seen.across:.1f} m off a straight line: keep to the straight part.")
    if seen.scale_sigma > 0.06:
        said.append("The scale is the largest doubt: measure the distance to the line, or the angle of view, better.")
    elif seen.sigma > 0.1 * float(seen.way[-1]):
        said.append("The line is short against the doubt of a click: click further apart.")
    return said
