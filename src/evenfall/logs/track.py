"""A recorded flight as arrays, cleaned: duplicates, clocks that jump, gaps and spikes are said in words."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from evenfall.errors import InputError

Floats = NDArray[np.float64]

EARTH_RADIUS = 6371008.8
"""Mean radius, m (IUGG 1980)."""

QUANTITIES = (
    "latitude", "longitude", "x", "y", "height", "ground_speed", "vertical_speed", "rpm", "throttle", "voltage",
    "current",
)  # fmt: skip
"""What a track can hold beside time."""

_SPIKE_FLOOR = {"x": 15.0, "y": 15.0, "height": 15.0, "ground_speed": 15.0, "vertical_speed": 15.0}


@dataclass(frozen=True, kw_only=True)
class Track:
    """A recorded flight. Arrays are (n,), NaN where nothing was recorded.

    Args:
        time: s from the start, rising. start: of the first row, UTC; None where the record has no date.
        latitude, longitude: rad. x, y: m east and north of the first position. height: m, any zero.
        ground_speed: m/s over ground. vertical_speed: m/s, up positive. rpm: of the shaft. throttle: stick 0-1.
        voltage: V. current: A.
        notes: what was found and left out while reading, in words. gaps: from and to, s.
    """

    time: Floats = field(repr=False)
    latitude: Floats = field(repr=False)
    longitude: Floats = field(repr=False)
    x: Floats = field(repr=False)
    y: Floats = field(repr=False)
    height: Floats = field(repr=False)
    ground_speed: Floats = field(repr=False)
    vertical_speed: Floats = field(repr=False)
    rpm: Floats = field(repr=False)
    throttle: Floats = field(repr=False)
    voltage: Floats = field(repr=False)
    current: Floats = field(repr=False)
    start: datetime | None = None
    notes: tuple[str, ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()


def nothing() -> Track:
    """A track without a row."""
    empty = {key: np.empty(0) for key in QUANTITIES}
    return Track(time=np.empty(0), start=None, notes=(), gaps=(), **empty)


def cleaned(name: str, time: Sequence[float] | Floats, columns: Mapping[str, Sequence[float] | Floats], *,
            dated: bool, notes: Sequence[str] = ()) -> Track:  # fmt: skip
    """Clean raw rows into a track.

    Args:
        name: of the file, for messages. time: s; since 1970 UTC where `dated`.
        columns: by name from `QUANTITIES`, SI and rad. notes: what the reader has found already.
    """
    stamps = np.asarray(time, dtype=float)
    said = list(notes)
    keep, words = _kept_rows(stamps)
    said += words
    if len(keep) < 3:
        raise InputError(
            f"{name}: {len(keep)} rows with a usable time, at least 3 are needed; check which column is the time"
        )
    stamps = stamps[keep]
    values = {key: np.full(len(keep), np.nan) for key in QUANTITIES}
    for key, column in columns.items():
        found = np.asarray(column, dtype=float)[keep]
        values[key] = np.where(np.isfinite(found) & (np.abs(found) < 1e9), found, np.nan)
    _placed(values, said)
    for key, floor in _SPIKE_FLOOR.items():
        count = _without_spikes(values[key], floor)
        if count:
            said.append(f"{key.replace('_', ' ')}: {_many(count, 'spike')} taken out")
    seconds = stamps - stamps[0]
    gaps = _gaps(seconds)
    if gaps:
        longest = max(b - a for a, b in gaps)
        said.append(f"{_many(len(gaps), 'gap')}, the longest {longest:.1f} s")
    start = _date(float(stamps[0])) if dated else None
    return Track(time=seconds, start=start, notes=tuple(said), gaps=gaps, **values)


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _date(stamp: float) -> datetime | None:
    try:
        return datetime.fromtimestamp(stamp, tz=UTC)
    except (ValueError, OverflowError, OSError):
        return None


def _kept_rows(time: Floats) -> tuple[NDArray[np.intp], list[str]]:
    """Rows of the longest part whose clock only runs forward, one of each time."""
    words = []
    rows = np.flatnonzero(np.isfinite(time) & (np.abs(time) < 1e12))
    if len(rows) < len(time):
        words.append(f"{len(time) - len(rows)} rows without a time left out")
    steps = np.diff(time[rows])
    if np.any(steps < 0):
        forward = rows[_longest_rise(time[rows])]
        words.append(
            f"the clock jumps back {_many(int(np.sum(steps < 0)), 'time')}: "
            f"{_many(len(rows) - len(forward), 'row')} out of order dropped"
        )
        rows = forward
    if len(rows):
        fresh = np.concatenate([[True], np.diff(time[rows]) > 0])
        if not fresh.all():
            words.append(f"{_many(int(np.sum(~fresh)), 'row')} with a time already seen left out")
        rows = rows[fresh]
    return rows, words


def _longest_rise(time: Floats) -> NDArray[np.intp]:
    """Indices of the longest part in order, neither neighbours nor their number being asked (patience sorting)."""
    tops: list[float] = []
    ends: list[int] = []
    before = [-1] * len(time)
    for index, value in enumerate(time.tolist()):
        pile = bisect_right(tops, value)
        before[index] = ends[pile - 1] if pile else -1
        if pile == len(tops):
            tops.append(value)
            ends.append(index)
        else:
            tops[pile] = value
            ends[pile] = index
    way = []
    index = ends[-1] if ends else -1
    while index >= 0:
        way.append(index)
        index = before[index]
    return np.array(way[::-1], dtype=np.intp)


def _placed(values: dict[str, Floats], said: list[str]) -> None:
    """Fill x and y from latitude and longitude, on a plane touching the ground at the first position."""
    latitude, longitude = values["latitude"], values["longitude"]
    outside = (np.abs(latitude) > np.pi / 2) | (np.abs(longitude) > np.pi) | ((latitude == 0) & (longitude == 0))
    if outside.any():
        latitude[outside] = np.nan
        longitude[outside] = np.nan
        said.append(f"{int(outside.sum())} impossible or empty positions taken out")
    there = np.flatnonzero(np.isfinite(latitude) & np.isfinite(longitude))
    if len(there):
        first = there[0]
        east = np.mod(longitude - longitude[first] + np.pi, 2 * np.pi) - np.pi
        values["x"] = EARTH_RADIUS * np.cos(latitude[first]) * east
        values["y"] = EARTH_RADIUS * (latitude - latitude[first])


def _without_spikes(values: Floats, floor: float) -> int:
    """Put NaN where a value stands off the median of its five neighbours by far more than the others do."""
    there = np.flatnonzero(np.isfinite(values))
    if len(there) < 7:
        return 0
    off = np.abs(values[there] - median_filter(values[there], size=5, mode="nearest"))
    limit = max(floor, 12 * float(np.median(off)))
    bad = there[off > limit]
    values[bad] = np.nan
    return len(bad)


def _gaps(time: Floats) -> tuple[tuple[float, float], ...]:
    steps = np.diff(time)
    wide = np.flatnonzero(steps > max(4 * float(np.median(steps)), 0.5))
    return tuple((float(time[i]), float(time[i + 1])) for i in wide)
