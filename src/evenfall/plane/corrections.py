"""Factors on the engine that flights teach: 1 (or 0 for a shift) before any flight.

Every factor multiplies one part of the physics. Priors say how far each may be off (one sigma), until flights shrink
them.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace


@dataclass(frozen=True, kw_only=True)
class Corrections:
    """Factors on parts of the physics, all without unit.

    Args:
        parasite_drag: on the drag areas of body and parts.
        crow_drag: on what deployment adds to the drag of the surfaces.
        braked_propeller_drag: on the propeller's drag while the motor does not drive it.
        brake_damping: on the motor brake's torque.
        thrust: on the propeller's thrust and torque while driven.
        crow_moment: on the pitching moment that deployment adds.
        roll_deployed: on the roll moment of the ailerons in proportion to deployment.
    """

    parasite_drag: float = 1.0
    crow_drag: float = 1.0
    braked_propeller_drag: float = 1.0
    brake_damping: float = 1.0
    thrust: float = 1.0
    crow_moment: float = 1.0
    roll_deployed: float = 1.0


PRIOR_SIGMA: dict[str, float] = {
    "parasite_drag": 0.30,
    "crow_drag": 0.15,
    "braked_propeller_drag": 0.15,
    "brake_damping": 0.69,
    "thrust": 0.05,
    "crow_moment": 0.30,
    "roll_deployed": 0.20,
}
"""One sigma of ln(factor) before flights: parasite drag from parts +-30 %, crow drag +-15 %, brake damping a factor of
two (ln 2 = .69), the rest estimates of ours. Common practice, no source."""


@dataclass(frozen=True)
class FactorDoubt:
    """How far the corrections may be off, together.

    Args:
        axes: independent changes, one sigma each: every axis names factors and the change of their logarithm. Before
            flights each factor is an axis of its own; what flights cannot tell apart shares one.
    """

    axes: tuple[tuple[tuple[str, float], ...], ...]

    def sigma(self, name: str) -> float:
        """One sigma of ln(factor), whatever the others do."""
        return math.hypot(*(change for axis in self.axes for factor, change in axis if factor == name))

    def along(self, names: Collection[str]) -> tuple[tuple[str, Mapping[str, float]], ...]:
        """The axes within these factors, each with a name of its own made of the factors that move most in it."""
        found: dict[str, Mapping[str, float]] = {}
        for axis in self.axes:
            within = {factor: change for factor, change in axis if factor in names and change != 0.0}
            if not within:
                continue
            order = sorted(within, key=lambda factor: -abs(within[factor]))
            most = [factor for factor in order[:2] if abs(within[factor]) > 0.5 * abs(within[order[0]])]
            name = " and ".join(f"corrections.{factor}" for factor in most)
            while name in found:
                name += " again"
            found[name] = within
        return tuple(found.items())


def moved_along(corrections: Corrections, axis: Mapping[str, float], *, by: float) -> Corrections:
    """Corrections moved along an axis by so many sigma.

    >>> moved_along(Corrections(), {"thrust": 0.1}, by=-1.0).thrust < 1.0
    True
    """
    factors = {name: getattr(corrections, name) * math.exp(by * change) for name, change in axis.items()}
    return replace(corrections, **factors)


PRIOR_DOUBT = FactorDoubt(axes=tuple(((name, sigma),) for name, sigma in PRIOR_SIGMA.items()))
"""Before any flight: every factor by itself."""
