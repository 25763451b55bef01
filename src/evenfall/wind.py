"""Wind: a mean that grows with height and gusts of a published spectrum, seeded.

Mean: u(h) = u20 ln(h/z0)/ln(20 ft/z0). Gusts: Dryden's forms at low altitude (below 1000 ft), with scales and strengths
that go with height and wind. Source: MIL-F-8785C (1980) sect. 3.7 and MIL-HDBK-1797, formulas as restated in public
documentation of flight-dynamics libraries; the logarithmic law and its z0 of .15 ft from memory, lengths of other
ground after Stull, *An Introduction to Boundary Layer Meteorology* (1988), fig. 9.6 (from memory). Air is frozen
(Taylor): a plane meets it at its own air speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError

Floats = NDArray[np.float64]

FOOT = 0.3048
REFERENCE = 20 * FOOT
"""Height of the wind that a day is named by, m."""
LOWEST, HIGHEST = 10 * FOOT, 1000 * FOOT
"""Heights, m, within which the formulas hold; beyond them the values at the limit are taken."""
ROUGHNESS = {"runway, water": 0.0005, "mown grass": 0.01, "fields": 0.05, "hedges and trees": 0.4}
"""Roughness length of the ground, m."""


@dataclass(frozen=True, kw_only=True)
class WindDay:
    """The wind of a day.

    Args:
        speed: mean at 20 ft (6.1 m), m/s, 0 to 20.
        towards: heading it blows to, rad from north over east.
        roughness: of the ground upwind, m.
        gusty: with gusts of the spectrum; False: the mean alone.
    """

    speed: float
    towards: float = 0.0
    roughness: float = ROUGHNESS["mown grass"]
    gusty: bool = True

    def __post_init__(self) -> None:
        if not 0 <= self.speed <= 20:
            raise ValueRangeError(f"a wind of {self.speed:g} m/s; allowed is 0 to 20")
        if not 1e-5 <= self.roughness <= 1.0:
            raise ValueRangeError(f"a roughness length of {self.roughness:g} m; allowed is 0.00001 to 1")
        if not math.isfinite(self.towards):
            raise ValueRangeError("the heading of the wind must be a finite number")

    def mean(self, height: ArrayLike) -> Floats:
        """Mean wind at heights over the ground (m), m/s; nothing at the roughness length and below."""
        above = np.maximum(np.asarray(height, float), self.roughness)
        return np.asarray(self.speed * np.log(above / self.roughness) / math.log(REFERENCE / self.roughness))

    def scales(self, height: ArrayLike) -> GustScales:
        """Lengths and strengths of the gusts at heights (m)."""
        feet = np.clip(np.asarray(height, float), LOWEST, HIGHEST) / FOOT
        shape = 0.177 + 0.000823 * feet
        vertical = np.full(np.shape(feet), 0.1 * self.speed)
        along = feet / shape**1.2 * FOOT
        return GustScales(
            along_length=along,
            vertical_length=feet * FOOT,
            along=vertical / shape**0.4,
            vertical=vertical,
        )


@dataclass(frozen=True, kw_only=True)
class GustScales:
    """Length scales, m, and one sigma, m/s, along the wind (and across it) and vertically."""

    along_length: Floats
    vertical_length: Floats
    along: Floats
    vertical: Floats


def gusts(
    day: WindDay, *, step: float, height: Floats, speed: Floats, rng: np.random.Generator, runs: int = 1
) -> Floats:
    """Gusts met on a flight, m/s along the wind, across it (to its right) and up, shape (runs, n, 3).

    Args:
        step: s between the n samples. height: m, (n,). speed: air speed, m/s, (n,).

    Both processes are stepped exactly for scales that stay alike within a step; their strengths follow the height.
    Nothing where the day is not gusty.
    """
    n = len(height)
    found = np.zeros((runs, n, 3))
    if not day.gusty or day.speed == 0.0 or n == 0:
        return found
    scales = day.scales(height)
    fast = np.maximum(np.asarray(speed, float), 1.0)
    found[:, :, 0] = scales.along * _first_order(fast / scales.along_length, step, rng, runs)
    found[:, :, 1] = scales.along * _second_order(fast / scales.along_length, step, rng, runs)
    found[:, :, 2] = scales.vertical * _second_order(fast / scales.vertical_length, step, rng, runs)
    return found


def _first_order(rate: Floats, step: float, rng: np.random.Generator, runs: int) -> Floats:
    """Process of unit variance with transfer 1/(1 + s/a), `rate` a in 1/s, (runs, n)."""
    keep = np.exp(-rate * step)
    made = np.empty((runs, len(rate)))
    made[:, 0] = rng.normal(size=runs)
    for k in range(1, len(rate)):
        made[:, k] = keep[k] * made[:, k - 1] + math.sqrt(1 - keep[k] ** 2) * rng.normal(size=runs)
    return made


def _second_order(rate: Floats, step: float, rng: np.random.Generator, runs: int) -> Floats:
    """Process of unit variance with transfer (1 + sqrt(3) s/a)/(1 + s/a)^2, `rate` a in 1/s, (runs, n).

    In time scaled by a: states 1/(s + 1) and 1/(s + 1)^2 of white noise, whose exact step is
    [e^-d, 0; d e^-d, e^-d] with the noise covariance of its integral.
    """
    made = np.empty((runs, len(rate)))
    state = rng.normal(size=(runs, 2)) @ np.linalg.cholesky(np.array([[0.5, 0.25], [0.25, 0.25]])).T
    weights = np.array([math.sqrt(3.0), 1.0 - math.sqrt(3.0)])
    made[:, 0] = state @ weights
    for k in range(1, len(rate)):
        d = float(rate[k] * step)
        keep, twice = math.exp(-d), math.exp(-2 * d)
        noise = np.array(
            [
                [(1 - twice) / 2, (1 - twice * (1 + 2 * d)) / 4],
                [(1 - twice * (1 + 2 * d)) / 4, (2 - twice * (2 + 4 * d + 4 * d * d)) / 8],
            ]
        )
        root = np.linalg.cholesky(noise + 1e-18 * np.eye(2))
        moved = state @ np.array([[keep, d * keep], [0.0, keep]])
        state = moved + rng.normal(size=(runs, 2)) @ root.T
        made[:, k] = state @ weights
    return made
