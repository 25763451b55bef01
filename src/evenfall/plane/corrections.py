"""Factors on the engine that flights teach: 1 (or 0 for a shift) before any flight.

Every factor multiplies one part of the physics. Priors say how far each may be off (one sigma), until flights shrink
them.
"""

from __future__ import annotations

from dataclasses import dataclass


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
