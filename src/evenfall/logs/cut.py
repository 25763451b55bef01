"""Straight lines cut out of a recorded flight, each as data to confirm or trim, and as evidence to learn from."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import savgol_filter

from evenfall.errors import ValueRangeError
from evenfall.logs.evidence import Flight, TracedLine
from evenfall.logs.track import Track

Floats = NDArray[np.float64]

WINDOW, WIDEST = 1.5, 3.0
"""Seconds smoothed over to find the lines: least, and most where positions are noisy."""
TURN = math.radians(20)
"""Fastest turn of the path on a line, rad/s. Our choice: figures bend at 60 degrees a second and more."""
CLOSED = 0.05
"""Throttle below which it counts as closed."""
POSITION_FLOOR = 0.3
"""Least one sigma of a way, m. Our choice, no source."""
WANDER = 0.5
"""Slow error of a receiver that hides in a smooth fit, m after one second and growing with the root of time: that of a
first-order process of 2 m one sigma and half a minute. Common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A straight part of a flight.

    Args:
        start, end: s of the track. slope: rad, climbing positive, with one sigma. heading: rad from north over east.
        speed_start, speed_end: m/s along the path, over ground. length: m. across: rms off the straight line, m.
        closed: from and to of its longest closed-throttle part, s; None where there is none or throttle is unknown.
        doubts: in words, what to look at before confirming.
    """

    start: float
    end: float
    slope: float
    slope_sigma: float
    heading: float
    speed_start: float
    speed_end: float
    length: float
    across: float
    closed: tuple[float, float] | None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Wind:
    """Air's movement over ground, m/s towards east and north, one sigma of each."""

    east: float
    north: float
    sigma: float

    def along(self, slope: float, heading: float) -> float:
        """Part along a path, m/s, pushing positive."""
        return math.cos(slope) * (self.east * math.sin(heading) + self.north * math.cos(heading))


def lines(track: Track, *, shortest: float = 1.5, slowest: float = 4.0) -> tuple[Candidate, ...]:
    """Straight lines of at least `shortest` s flown faster than `slowest` m/s, in order of time."""
    found = []
    held = _points(track)
    for time, way in _pieces(track):
        speed, turn = _motion(time, way)
        size = np.linalg.norm(speed, axis=1)
        for first, last in _runs((turn < TURN) & (size > slowest)):
            if time[last] - time[first] >= shortest and last - first >= 5:
                found.append(_candidate(track, float(time[first]), float(time[last]), held))
    return tuple(found)


def trimmed(track: Track, candidate: Candidate, *, start: float | None = None, end: float | None = None) -> Candidate:
    """The same line from `start` to `end`, s of the track."""
    return _candidate(track, candidate.start if start is None else start, candidate.end if end is None else end)


def between(track: Track, start: float, end: float) -> Candidate:
    """The part from `start` to `end`, s of the track, taken as one line whatever its shape."""
    return _candidate(track, start, end)


def wind(track: Track) -> Wind | None:
    """Wind from level flight in several directions, air speed taken as alike in all; None where they do not suffice."""
    speeds = [_motion(time, way)[0] for time, way in _pieces(track)]
    v = np.concatenate(speeds) if speeds else np.zeros((0, 3))
    flat = v[(np.abs(v[:, 2]) < 0.2 * np.hypot(v[:, 0], v[:, 1])) & (np.hypot(v[:, 0], v[:, 1]) > 5)][:, :2]
    if len(flat) < 50:
        return None
    matrix = np.column_stack([2 * flat, np.ones(len(flat))])
    answer, _, rank, _ = np.linalg.lstsq(matrix, np.sum(flat**2, axis=1), rcond=None)
    spread = np.linalg.eigvalsh(np.cov((flat / np.linalg.norm(flat, axis=1)[:, None]).T))
    if rank < 3 or spread[0] < 0.1:
        return None
    east, north = float(answer[0]), float(answer[1])
    air = np.hypot(flat[:, 0] - east, flat[:, 1] - north)
    apart = max(len(flat) * float(np.median(np.diff(track.time))) / 5, 3.0)
    return Wind(east=east, north=north, sigma=max(float(np.std(air)) * math.sqrt(2 / apart), 0.3))


def as_evidence(
    track: Track, candidate: Candidate, *, name: str, air: Wind | None = None, inverted: bool = False,
    stick: float = 0.0, crow: bool = True, gust: float = 0.4, fresh: bool = False,
) -> TracedLine:  # fmt: skip
    """A confirmed line as evidence: its closed part where the stick is 0 and the throttle known, else all of it.

    Noise and its correlation time come from what a smooth fit leaves over, slow errors are `WANDER`. The start speed is
    given three times its doubt, since the positions it comes from count as well. `air` None: wind unknown, 2 m/s one
    sigma.
    """
    start, end = candidate.closed if stick == 0 and candidate.closed else (candidate.start, candidate.end)
    time, point = _stretch(_points(track), start, end)
    way = point @ _direction(point)
    seconds = time - time[0]
    degree = 3 if len(way) >= 16 else 2
    scale = seconds[-1]
    matrix = np.vander(seconds / scale, degree + 1, increasing=True)
    answer = np.linalg.lstsq(matrix, way, rcond=None)[0]
    left = way - matrix @ answer
    sigma = max(math.sqrt(float(left @ left) / max(len(way) - degree - 1, 1)), POSITION_FLOOR)
    alike = float(left[1:] @ left[:-1]) / max(float(left @ left), 1e-12)
    step = float(np.median(np.diff(time)))
    correlation = -step / math.log(min(alike, 0.95)) if alike > 0.1 else 0.0
    doubt = np.linalg.inv(matrix.T @ matrix)[1, 1] * sigma**2 * (1 + 2 * correlation / step)
    level = math.cos(candidate.slope)
    pushing = air.along(candidate.slope, candidate.heading) if air else 0.0
    flight = Flight(slope=candidate.slope, inverted=inverted, stick=stick, crow=crow, gust=gust, wind=pushing,
                    wind_sigma=(air.sigma if air else 2.0) * level)  # fmt: skip
    speed = float(answer[1]) / scale
    return TracedLine(name=name, flight=flight, time=seconds, way=way - answer[0], sigma=sigma, correlation=correlation,
                      wander=WANDER, speed=max(speed, 0.1), speed_sigma=max(3 * math.sqrt(float(doubt)) / scale, 0.5),
                      fresh=fresh)  # fmt: skip


def _points(track: Track) -> tuple[Floats, Floats]:
    """Times and east, north, up of the rows that have all three."""
    point = np.column_stack([track.x, track.y, track.height])
    there = np.all(np.isfinite(point), axis=1)
    return track.time[there], point[there]


def _pieces(track: Track) -> list[tuple[Floats, Floats]]:
    """Parts without gaps, at even steps."""
    time, point = _points(track)
    if len(time) < 8:
        return []
    step = max(float(np.median(np.diff(time))), 0.02)
    breaks = np.flatnonzero(np.diff(time) > max(4 * step, 0.5)) + 1
    found = []
    for rows in np.split(np.arange(len(time)), breaks):
        span = time[rows[-1]] - time[rows[0]]
        if len(rows) >= 8 and span > WINDOW:
            even = time[rows[0]] + step * np.arange(int(span / step) + 1)
            found.append((even, np.column_stack([np.interp(even, time[rows], point[rows, k]) for k in range(3)])))
    return found


def _motion(time: Floats, point: Floats) -> tuple[Floats, Floats]:
    """Smoothed velocity, m/s, and how fast its direction turns, rad/s."""
    step = float(time[1] - time[0])
    # The second difference of white noise of one sigma s has sigma sqrt(6) s; the second derivative of a parabola
    # fitted to n points has sigma sqrt(720 / n^5) s / step^2. The window holds a quarter of TURN at 20 m/s.
    noise = float(np.median(np.abs(np.diff(point, 2, axis=0)))) / 0.6745 / math.sqrt(6)
    needed = (720 * (noise / (step**2 * 20 * TURN / 4)) ** 2) ** 0.2
    window = min(max(int(WINDOW / step) | 1, 5, int(min(needed, WIDEST / step)) | 1), (len(time) - 1) | 1)
    window -= 2 * (window > len(time))
    speed = savgol_filter(point, window, 2, deriv=1, delta=step, axis=0)
    change = savgol_filter(point, window, 2, deriv=2, delta=step, axis=0)
    size = np.maximum(np.sum(speed**2, axis=1), 1e-6)
    return speed, np.linalg.norm(np.cross(speed, change), axis=1) / size


def _runs(good: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.diff(np.concatenate([[0], good.astype(int), [0]]))
    return [(int(a), int(b) - 1) for a, b in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)]


def _stretch(held: tuple[Floats, Floats], start: float, end: float) -> tuple[Floats, Floats]:
    time, point = held
    first, last = np.searchsorted(time, [start - 1e-9, end + 1e-9])
    if last - first < 6:
        raise ValueRangeError(
            f"the line from {start:.1f} to {end:.1f} s holds {max(int(last - first), 0)} positions, 6 are needed; "
            "move its start or end"
        )
    return time[first:last], point[first:last]


def _direction(point: Floats) -> Floats:
    """Unit vector of the straight line closest to the points, pointing as flown."""
    axis = np.linalg.svd(point - point.mean(axis=0), full_matrices=False)[2][0]
    forward: Floats = axis if (point[-1] - point[0]) @ axis > 0 else -axis
    return forward


def _candidate(track: Track, start: float, end: float, held: tuple[Floats, Floats] | None = None) -> Candidate:
    time, point = _stretch(held or _points(track), start, end)
    axis = _direction(point)
    way = point @ axis
    off = point - point.mean(axis=0)
    off = off - np.outer(off @ axis, axis)
    across = math.sqrt(float(np.mean(np.sum(off**2, axis=1))))
    length = float(way[-1] - way[0])
    seconds = time - time[0]
    fit = np.polynomial.Polynomial.fit(seconds, way, 2).deriv()
    sigma = math.atan2(across / math.sqrt(2), float(np.std(way)) * math.sqrt(max(len(time) / 10, 1)))
    doubts = []
    if across > 3:
        doubts.append(f"the path lies {across:.1f} m off a straight line; trim it")
    if length < 20:
        doubts.append(f"only {length:.0f} m long")
    closed = _closed(track, start, end)
    if not np.any(np.isfinite(track.throttle)):
        doubts.append("the throttle was not recorded; trim the line to where the stick was closed")
    return Candidate(start=start, end=end, slope=math.asin(float(np.clip(axis[2], -1, 1))), slope_sigma=sigma,
                     heading=math.atan2(axis[0], axis[1]), speed_start=float(fit(seconds[0])),
                     speed_end=float(fit(seconds[-1])), length=length, across=across, closed=closed,
                     doubts=tuple(doubts))  # fmt: skip


def _closed(track: Track, start: float, end: float) -> tuple[float, float] | None:
    rows = np.flatnonzero((track.time >= start) & (track.time <= end) & np.isfinite(track.throttle))
    runs = _runs(track.throttle[rows] < CLOSED)
    if not runs:
        return None
    first, last = max(runs, key=lambda run: run[1] - run[0])
    if last - first < 5:
        return None
    return float(track.time[rows[first]]), float(track.time[rows[last]])
