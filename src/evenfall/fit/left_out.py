"""What all the other evidence expects of a piece that is a single number."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from evenfall.fit.calibrate import Calibration
from evenfall.fit.expected import expectations
from evenfall.fit.ground import Ground
from evenfall.logs.evidence import Damping, Evidence, HeldStick, Pull, ShaftSpeed, SteadySpeed, TimedLine, TimedRolls


def others_expect(ground: Ground, evidence: Sequence[Evidence], calibration: Calibration) -> tuple[float | None, ...]:
    """For each piece what the fit without it expects, in the piece's own unit; None for traced lines.

    Seconds for a timed stretch and for rolls, m/s, rad/s, N m, or the stick 0-1. The piece's own share is taken out of
    the normal equations, as for `EvidenceCheck.off`.
    """
    learned = calibration.learned
    at = expectations(ground, evidence, learned.names, learned.mean, np.ones(len(evidence)))
    hessian = np.linalg.inv(learned.covariance)
    found: list[float | None] = []
    for piece, one, check in zip(evidence, at, calibration.checks, strict=True):
        if len(one.residual) != 1:
            found.append(None)
            continue
        noise = float((one.noise + one.nuisance @ one.nuisance.T)[0, 0])
        row, residual = one.jacobian[0], float(one.residual[0])
        own = check.weight / noise
        others = np.linalg.inv(hessian - own * np.outer(row, row) + 1e-9 * np.eye(len(row)))
        left = residual + float(row @ others @ row) * own * residual
        found.append(_expected(piece, left))
    return tuple(found)


def _expected(piece: Evidence, left: float) -> float | None:
    """The number expected where `left` is seen less expected, in the form the fit compares."""
    if isinstance(piece, TimedLine):
        return piece.seconds - left
    if isinstance(piece, SteadySpeed):
        return piece.speed - left
    if isinstance(piece, ShaftSpeed):
        return piece.omega - left
    if isinstance(piece, Damping):
        return piece.torque * math.exp(-left)
    if isinstance(piece, TimedRolls):
        return piece.seconds * math.exp(left)
    if isinstance(piece, Pull):
        return piece.rate - left
    if isinstance(piece, HeldStick):
        return piece.flight.stick - left
    return None
