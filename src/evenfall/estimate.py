"""A number with its spread and what causes it. Spreads come from rerunning the same engine on changed inputs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from evenfall.errors import ValueRangeError

LARGEST = 3
"""Causes an estimate names."""


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One cause of spread.

    Args:
        name: dotted attribute path (`mass.cg_x`) or a factor of the engine (`corrections.crow_drag`).
        share: of the variance, 0 to 1.
    """

    name: str
    share: float


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A value, one sigma, and the largest causes, largest first.

    Args:
        value, spread: in the same unit; spread is one sigma.
        causes: their shares of the variance add up to one at most.
    """

    value: float
    spread: float
    causes: tuple[Cause, ...] = ()

    def __post_init__(self) -> None:
        if not self.spread >= 0:
            raise ValueRangeError(f"a spread is zero or more, got {self.spread!r}")


def combine(value: float, effects: Mapping[str, float], *, largest: int = LARGEST) -> Estimate:
    """Estimate from the effects of one-at-a-time changes: spread = sqrt(sum of effect^2).

    Args:
        value: with every input as it is.
        effects: change of the result when that input moves by one sigma, same unit as `value`; signs do not matter.
        largest: causes to name.

    Holds for independent inputs and effects that are nearly linear over one sigma; an effect that is not finite (no
    answer for the changed input) raises `ValueRangeError`. Source: JCGM 100:2008 (GUM), eq. 10.

    >>> combine(24.0, {"mass.all_up": 0.3, "corrections.crow_drag": -0.4}).spread
    0.5
    """
    wrong = [name for name, effect in effects.items() if not math.isfinite(effect)]
    if wrong:
        raise ValueRangeError(f"no finite effect of {', '.join(wrong)}")
    spread = math.hypot(*effects.values())
    ordered = sorted(effects.items(), key=lambda item: (-abs(item[1]), item[0]))
    causes = tuple(Cause(name=name, share=(effect / spread) ** 2) for name, effect in ordered[:largest] if effect != 0)
    return Estimate(value=value, spread=spread, causes=causes)


def one_at_a_time(low: float, high: float) -> float:
    """Effect of one sigma from the results one sigma below and above: (high - low)/2."""
    return 0.5 * (high - low)
