"""Simulated flights written as files: what a recorder, a camera and a stopwatch leave behind."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

EARTH = 6371008.8
AT = (47.0, 8.0)


def record_rows(paths: Sequence[Any]) -> list[tuple[float, float, float, float]]:
    """Time s, east m, height m, stick 0-1 every .1 s: level flight, the line, level flight far below, again."""
    rows: list[tuple[float, float, float, float]] = []
    now = 0.0
    for path in paths:
        entry = float(path.speed[0])
        rows += [(now + s, entry * (s - 4.0), 220.0, 0.5) for s in np.arange(0.0, 4.0, 0.1)]
        now += 4.0
        times = np.arange(0.0, path.time[-1], 0.1)
        lost, way = np.interp(times, path.time, path.lost), np.interp(times, path.time, path.way)
        ahead = np.cumsum(np.sqrt(np.maximum(np.diff(way, prepend=0.0) ** 2 - np.diff(lost, prepend=0.0) ** 2, 0.0)))
        rows += [
            (now + t, e, 220.0 - h, 0.5 if t < path.closed_at else 0.0)
            for t, e, h in zip(times, ahead, lost, strict=True)
        ]
        now += float(times[-1]) + 20.0
    return rows


def write_record(file: Path, paths: Sequence[Any], rng: np.random.Generator, *, throttle: bool = True) -> None:
    """A 10 Hz record of 2.5 m CEP (2.1 m an axis, 3.2 m in height) as CSV."""
    head = "Time [s],Latitude,Longitude,Altitude [m]" + (",Throttle [%]" if throttle else "")
    lines = [head]
    for time, east, height, stick in record_rows(paths):
        e, n, h = east + 2.1 * rng.normal(), 2.1 * rng.normal(), height + 3.2 * rng.normal()
        latitude = AT[0] + math.degrees(n / EARTH)
        longitude = AT[1] + math.degrees(e / EARTH / math.cos(math.radians(AT[0])))
        row = f"{time:.2f},{latitude:.8f},{longitude:.8f},{h:.2f}"
        lines.append(row + (f",{100 * stick:.0f}" if throttle else ""))
    file.write_text("\n".join(lines) + "\n")


def video_entry(path: Any, rng: np.random.Generator, *, distance: float = 90.0) -> str:
    """The same line clicked in a video: 60 degrees over 1920 px, camera 30 degrees up, clicks 2 px off, as TOML.

    The line ends 25 m above the camera's height. View, tilt and distance are as wrong as their spreads say.
    """
    begin = max(path.line_from, path.closed_at + 0.5)
    times = np.arange(begin, path.time[-1], 0.12)
    lost = np.interp(times, path.time, path.lost)
    above = 25.0 + lost[-1] - lost
    focal = 960.0 / math.tan(math.radians(0.5 * (60 + 0.5 * rng.normal())))
    tilt, far = math.radians(30 + 0.3 * rng.normal()), distance + rng.normal()
    depth = far * math.cos(tilt) + above * math.sin(tilt)
    up = above * math.cos(tilt) - far * math.sin(tilt)
    x = 960.0 + 2 * rng.normal(size=len(times))
    y = 540.0 - focal * up / depth + 2 * rng.normal(size=len(times))
    clicks = ", ".join(f"[{t - begin:.3f}, {a:.1f}, {b:.1f}]" for t, a, b in zip(times, x, y, strict=True))
    return (
        '[[clicked]]\nfile = "line.mp4"\nline = "vertical down"\nwidth_px = 1920\nheight_px = 1080\n'
        f"distance_m = {{ value = {distance}, spread = 1 }}\nfield_of_view_deg = {{ value = 60, spread = 0.5 }}\n"
        f"camera_elevation_deg = {{ value = 30, spread = 0.3 }}\nclicks = [{clicks}]\n"
    )


def stopwatch_entry(path: Any, rng: np.random.Generator) -> str:
    """The same line timed over 100 m by thumb, as TOML."""
    begin = max(path.line_from, path.closed_at + 0.5)
    start = float(np.interp(begin, path.time, path.way))
    ends = np.interp([start + 10.0, start + 110.0], path.way, path.time)
    entry = float(np.interp(begin, path.time, path.speed)) * (1 + 0.15 * rng.normal())
    return (
        f'[[timed]]\nline = "vertical down"\nseconds = {max(float(ends[1] - ends[0]) + 0.3 * rng.normal(), 0.5):.2f}\n'
        f"length_m = {{ value = {100 + 3 * rng.normal():.1f}, spread = 3 }}\nskipped_m = 10\n"
        f"entry_speed_m_s = {max(entry, 5.0):.1f}\n"
    )
