"""The wind of a day as a flight along a path meets it, and what gusts do to a line with crow in and out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.lines.flown_path import FlownPath
from evenfall.lines.fly import HELD, Wind
from evenfall.wind import WindDay, gusts

Floats = NDArray[np.float64]

STEP = 0.05
"""s between samples of the gusts."""
USUAL_HEIGHT = 60.0
"""m: gusts are made with the lengths of this height; their strength follows the height flown at."""


@dataclass(frozen=True, kw_only=True)
class Blown:
    """Wind of one day for n planes, each in gusts of its own.

    Axes of `evenfall.lines.path`: x to the right along the flight line, y away from the judges, z up.
    """

    day: WindDay
    made: Floats
    duration: float

    def __call__(self, height: float, time: Floats) -> Floats:
        """m/s at a height (m) and the planes' times (s, (n,)), (3, n); as `evenfall.lines.fly.Wind`."""
        when = np.clip(time, 0.0, self.duration - STEP) / STEP
        low = when.astype(int)
        share = (when - low)[:, None]
        rows = np.arange(len(self.made)) if len(self.made) == len(low) else np.zeros(len(low), int)
        gust = self.made[rows, low] * (1 - share) + self.made[rows, low + 1] * share
        here, usual = self.day.scales(height), self.day.scales(USUAL_HEIGHT)
        if self.day.speed > 0:
            gust = gust * np.array([float(here.along / usual.along)] * 2 + [float(here.vertical / usual.vertical)])
        along = float(self.day.mean(height)) + gust[:, 0]
        cos, sin = math.cos(self.day.towards), math.sin(self.day.towards)
        across = gust[:, 1]
        return np.stack([along * cos + across * sin, along * sin - across * cos, gust[:, 2]])


def blown(day: WindDay, *, speed: float, seeds: Sequence[int], duration: float = 600.0) -> Wind:
    """The wind of a day for planes at an air speed (m/s), one for each seed. `towards` counts from the flight line's
    right away from the judges, rad."""
    n = int(duration / STEP) + 2
    height, fast = np.full(n, USUAL_HEIGHT), np.full(n, speed)
    made = np.concatenate(
        [gusts(day, step=STEP, height=height, speed=fast, rng=np.random.default_rng(seed)) for seed in seeds]
    )
    return Blown(day=day, made=made, duration=duration)


def side_by_side(days: Sequence[WindDay], *, still: int, speed: float, seeds: Sequence[int]) -> Wind:
    """Wind for one batch: `still` planes in calm air, then one for each day and seed."""
    blowing = [blown(day, speed=speed, seeds=seeds) for day in days]

    def wind(height: float, time: Floats) -> Floats:
        found = np.zeros((3, len(time)))
        for k, day in enumerate(blowing):
            rows = slice(still + k * len(seeds), still + (k + 1) * len(seeds))
            found[:, rows] = day(height, time[rows])
        return found

    return wind


def last_in_calm(wind: Wind) -> Wind:
    """The wind for every plane of a batch but the last, which flies in still air."""

    def found(height: float, time: Floats) -> Floats:
        still = np.zeros((3, len(time)))
        still[:, :-1] = wind(height, time[:-1])
        return still

    return found


def drifting(done: FlownPath, wind: Wind) -> float:
    """Share of the first plane's time, 0-1, in which more blows across its path than it leans against: it leaves its
    line with the rest (`evenfall.lines.fly.HELD`). Stall turns and spins, which hold no line, are left out."""
    steps = int(np.searchsorted(done.place, done.end[0] + 1e-6))
    time, speed = (done.row(name)[:steps, 0] for name in ("time", "speed"))
    lost = np.zeros(steps, bool)
    for k in range(steps):
        piece = done.path.pieces[int(done.piece[k])]
        if piece.how in ("spin", "stall turn"):
            continue
        way = float(done.place[k]) - piece.start
        ahead, blowing = np.array(piece.attitude(way)[0]), wind(piece.position_at(way)[2], time[k : k + 1])[:, 0]
        lost[k] = np.linalg.norm(blowing - ahead * (ahead @ blowing)) > HELD * speed[k]
    spans = np.diff(time, prepend=0.0)
    return float(spans[lost].sum() / max(float(spans.sum()), 1e-9))


@dataclass(frozen=True, kw_only=True)
class GustResponse:
    """How the speed of a line follows gusts along it.

    Args:
        time: s in which a deviation of the speed falls to 1/e: m/(dD/dV).
        ground: one sigma of the speed over the ground, air: of the speed through the air, m/s, in gusts of `sigma`.
    """

    time: float
    ground: float
    air: float
    sigma: float


def gust_response(
    table: DragTable, *, deployment: float, speed: float, day: WindDay, height: float = 60.0
) -> GustResponse:
    """A line at a speed (m/s) and deployment (0-1) in the gusts of a day; airframe alone, propeller left out.

    m dV/dt = -(dD/dV) (V - u) for small deviations, u a first-order process of rate a = V/L: the variance over the
    ground is sigma^2/(1 + a tau), through the air sigma^2 a tau/(1 + a tau). More drag follows the air sooner: less
    deviation through the air, more over the ground.
    """
    low, high = (float(table.drag(share * speed, deployment)) for share in (0.97, 1.03))
    slope = (high - low) / (0.06 * speed)
    mass = table.weight / G0
    scales = day.scales(height)
    sigma = float(scales.along) if day.gusty else 0.0
    rate = speed / float(scales.along_length)
    tau = mass / max(slope, 1e-9)
    follows = 1.0 / (1.0 + rate * tau)
    return GustResponse(time=tau, ground=sigma * math.sqrt(follows), air=sigma * math.sqrt(1.0 - follows), sigma=sigma)
