"""A pilot on the throttle: the holding stick of the slope, corrected for the speed seen, through reaction and hand."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.lines.holding import Holding
from evenfall.numeric import Status

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Pilot:
    """How the throttle is moved: stick = holding stick + gain (wanted - speed) + growth integral of the same.

    Args:
        sines, sticks: sine of the slope, rising, and the stick (0-1) that holds the wanted speed there.
        rest, slowing: stick, and stick per m/s, while speed is given up on purpose.
        gain: stick per m/s. growth: stick per m. forget: s after which an old deviation counts no more.
        lag: of eye and hand, s, first order. quickest: stick per s, 0 to 1 being the whole way.
        hands_off: the stick stays where it is.

    Gains, lag and quickness: common practice, no source.
    """

    sines: tuple[float, ...]
    sticks: tuple[float, ...]
    gain: float = 0.05
    rest: float = 0.15
    slowing: float = 0.15
    growth: float = 0.02
    forget: float = 4.0
    lag: float = 0.25
    quickest: float = 2.0
    hands_off: bool = False

    def holding(self, sine: float) -> float:
        """Stick that holds the wanted speed on a slope, 0-1."""
        right = bisect_left(self.sines, sine)
        if right == 0 or right == len(self.sines):
            return self.sticks[min(right, len(self.sticks) - 1)]
        low, high = self.sines[right - 1], self.sines[right]
        share = (sine - low) / (high - low)
        return self.sticks[right - 1] + share * (self.sticks[right] - self.sticks[right - 1])

    def rates(
        self, stick: Floats, behind: Floats, grown: Floats, sine: float, *, slowing: bool = False
    ) -> tuple[Floats | float, Floats | float]:
        """Change of stick (1/s) and of the integral (m/s) for a speed that lies `behind` the wanted one, m/s.

        `grown` is the integral so far, m. `slowing`: speed is being given up on purpose.
        """
        if self.hands_off:
            return 0.0, 0.0
        if slowing:
            asked = self.rest + self.slowing * behind
        else:
            asked = self.holding(sine) + self.gain * behind + self.growth * grown
        asked = np.minimum(np.maximum(asked, 0.0), 1.0)
        moved = np.minimum(np.maximum((asked - stick) / self.lag, -self.quickest), self.quickest)
        return moved, (0.0 if slowing else behind) - grown / self.forget


def pilot_of(holding: Sequence[Holding]) -> Pilot:
    """The pilot who knows the holding sticks of a plan; slopes that stall are left out."""
    known = sorted((math.sin(item.slope), item.stick) for item in holding if item.status is not Status.STALLED)
    return Pilot(sines=tuple(sine for sine, _ in known), sticks=tuple(stick for _, stick in known))


def held_stick(stick: float) -> Pilot:
    """A hand that does not move."""
    return Pilot(sines=(-1.0, 1.0), sticks=(stick, stick), hands_off=True)
