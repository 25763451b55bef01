"""Height a line needs: to settle at its steady speed, to decide, and to pull out of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall.air import G0
from evenfall.errors import ValueRangeError

LOAD_FACTOR = 4.0
"""Lift over weight of a careful pull-out. Common practice, no source."""
ENTRY_SHARE = 0.5
"""Speed at the entry over the steady speed: a push over the top. Common practice, no source."""
SETTLED = 0.95
"""Share of the steady speed that counts as reached. Ours, no source."""
DECIDE = 1.0
"""Time to see and decide, s. Common practice, no source."""
RESERVE = 30.0
"""Height kept below every pull-out, m. Ours, no source."""


@dataclass(frozen=True, kw_only=True)
class EntryHeight:
    """Heights in m that add up to the lowest entry: line, figure on it, time to decide, pull-out, reserve."""

    settle: float
    figure: float
    decide: float
    pull_out: float
    reserve: float = RESERVE

    @property
    def total(self) -> float:
        """Lowest height of the entry above the ground, m."""
        return self.settle + self.figure + self.decide + self.pull_out + self.reserve


def pull_out_height(speed: float, slope: float, *, load_factor: float = LOAD_FACTOR) -> float:
    """Height lost from a descending line to level flight, m.

    R = V^2 / (g (n - 1)), h = R (1 - cos slope).

    Args:
        speed: m/s, taken as constant. slope: rad, descending negative. load_factor: lift over weight n, above 1.

    n - 1 is the least curvature on the arc, at its bottom; the steeper part is tighter, so the height is never too
    small by it. Source: kinematics of a circular arc.
    """
    _check(speed, slope)
    if not (math.isfinite(load_factor) and load_factor > 1):
        raise ValueRangeError(f"a pull-out needs a load factor above 1, got {load_factor}")
    return speed**2 / (G0 * (load_factor - 1.0)) * (1.0 - math.cos(slope))


def settling_length(speed: float, slope: float, *, entry: float = ENTRY_SHARE, settled: float = SETTLED) -> float:
    """Length of a descending line until its steady speed is nearly reached, m.

    s = V^2 / (2 g sin |slope|) ln[(1 - entry^2) / (1 - settled^2)], from d(v^2)/ds = 2 g sin |slope| (1 - v^2/V^2).

    Args:
        speed: steady speed V, m/s. slope: rad, below 0. entry, settled: shares of V, 0 <= entry, settled < 1.

    Zero where the entry is faster than `settled`. Holds for drag as the square of speed. Source: kinematics with
    quadratic drag.
    """
    _check(speed, slope)
    if not (entry >= 0 and 0 < settled < 1):
        raise ValueRangeError(f"shares of the steady speed lie between 0 and 1, got {entry} and {settled}")
    if entry >= settled:
        return 0.0
    return speed**2 / (2.0 * G0 * -math.sin(slope)) * math.log((1.0 - entry**2) / (1.0 - settled**2))


def entry_height(speed: float, slope: float, *, figure: float = 0.0) -> EntryHeight:
    """Lowest entry of a descending line, in its parts.

    Args:
        speed: m/s, the fastest to reckon with. slope: rad, below 0. figure: s spent on the line beyond settling.
    """
    sink = speed * -math.sin(slope)
    return EntryHeight(
        settle=settling_length(speed, slope) * -math.sin(slope),
        figure=sink * figure,
        decide=sink * DECIDE,
        pull_out=pull_out_height(speed, slope),
    )


def _check(speed: float, slope: float) -> None:
    if not (math.isfinite(speed) and speed > 0):
        raise ValueRangeError(f"a speed is above 0 m/s, got {speed}")
    if not -0.5 * math.pi - 1e-9 <= slope < 0:
        raise ValueRangeError(f"a descending line slopes between -90 and 0 deg, got {math.degrees(slope):g}")
