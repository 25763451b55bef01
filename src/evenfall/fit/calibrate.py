"""Corrections from evidence: robust joint least squares around what was believed before.

x minimises sum_i rho(chi_i^2) + (x - x0)' P^-1 (x - x0) over the ln factors x, with chi_i^2 of each piece of evidence
after what else was unknown of it (start speed, zero, wind) is taken out. rho is that of Student's t with 6 degrees of
freedom: a piece that disagrees counts less, is named, and is never dropped. Gauss-Newton with reweighting.
Source: normal equations and marginalised nuisances, Gelman et al., Bayesian Data Analysis, 3rd ed., sect. 14.8 and 17.2
(from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.fit.expected import Expectation, expectations
from evenfall.fit.ground import Ground
from evenfall.fit.learned import Learned, prior
from evenfall.lines.spread import MEASURED_DAMPING_SIGMA
from evenfall.logs.evidence import Damping, Evidence, TimedLine, TracedLine

Floats = NDArray[np.float64]

FREEDOM = 6.0
"""Degrees of freedom of Student's t: one piece at 5 sigma weighs a quarter of an ordinary one."""
OUTLIER = 3.0
"""Sigma from which a piece of evidence is named as an outlier."""
ALIKE = 0.8
"""Correlation from which two corrections count as not told apart."""
_STEPS = 40
_SETTLED = 0.02
"""Last move over the doubt of each ln factor from which the fit has come to rest."""
_LONGEST = 0.4
"""Largest change of a ln factor in one step."""


@dataclass(frozen=True, kw_only=True)
class EvidenceCheck:
    """One piece of evidence after the fit.

    Args:
        name: as given.
        off: how far it lies from what all the *other* evidence expects, in sigma of both together; signed for a single
            number, positive where more was seen than expected; for many, negative where nearer than their noise.
        weight: share of its full weight that it kept, 0 to 1.
        outlier: further off than `OUTLIER`.
        told: share by which it narrowed the doubt of the correction it taught most, 0 to 1.
        taught: name of that correction.
    """

    name: str
    off: float
    weight: float
    outlier: bool
    told: float
    taught: str


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """What the evidence says.

    Args:
        learned: corrections with their joint doubt. before: what was believed before.
        checks: every piece against the others, in order.
        alike: pairs of corrections that this evidence cannot tell apart, with their correlation.
        settled: the fit came to rest; False says that the corrections are the best found, not the best there are.
    """

    learned: Learned
    before: Learned
    checks: tuple[EvidenceCheck, ...]
    alike: tuple[tuple[str, str, float], ...]
    settled: bool


@dataclass(frozen=True, kw_only=True)
class _White:
    """One piece with even noise: residual (m,), jacobian (m, n), and what its nuisances became, (k,)."""

    residual: Floats
    jacobian: Floats
    nuisance: Floats

    @property
    def squares(self) -> float:
        return float(self.residual @ self.residual)


def calibrate(ground: Ground, evidence: Sequence[Evidence], *, before: Learned | None = None) -> Calibration:
    """Corrections that evidence teaches.

    Args:
        evidence: at least one piece. before: what was believed before it; None is the prior of `plane_prior`.

    A level other than the plan's gets a motor-brake correction of its own.
    """
    start = _with_levels(plane_prior(ground) if before is None else before, ground, evidence)
    precision = np.linalg.inv(start.covariance)
    x = start.mean.copy()
    starts = np.ones(len(evidence))
    weights = np.ones(len(evidence))
    white: list[_White] = []
    settled = False
    before_that, share = np.zeros(len(x)), 1.0
    for _ in range(_STEPS):
        expected = expectations(ground, evidence, start.names, x, starts)
        white = [_whitened(item) for item in expected]
        weights = np.array([_weight(item) for item in white])
        hessian: Floats = np.array(precision, float)
        gradient = precision @ (start.mean - x)
        for item, weight in zip(white, weights, strict=True):
            hessian += weight * item.jacobian.T @ item.jacobian
            gradient += weight * item.jacobian.T @ item.residual
        step: Floats = np.asarray(np.linalg.solve(hessian, gradient), float)
        if step @ hessian @ before_that < -0.5 * float(before_that @ hessian @ before_that):
            # Swinging across a kink, such as one shaft speed for another: go half as far.
            share *= 0.5
        before_that = step
        step = step * min(share, _LONGEST / max(float(np.abs(step).max()), 1e-12))
        x = x + step
        starts = np.array([_start(piece, item, step) for piece, item in zip(evidence, expected, strict=True)])
        covariance = np.linalg.inv(hessian)
        if np.all(np.abs(step) < _SETTLED * np.sqrt(np.diag(covariance))):
            settled = True
            break
    learned = Learned(names=start.names, mean=x, covariance=0.5 * (covariance + covariance.T))
    return Calibration(
        learned=learned,
        before=start,
        checks=tuple(
            _check(piece, item, float(weight), hessian, start)
            for piece, item, weight in zip(evidence, white, weights, strict=True)
        ),
        alike=_alike(learned, start),
        settled=settled,
    )


def plane_prior(ground: Ground) -> Learned:
    """Before any flight, as the plane file has it: a level whose damping was measured is known to a tenth."""
    return prior(sigma=_measured(ground, ["brake_damping"]))


def _measured(ground: Ground, names: Sequence[str]) -> dict[str, float]:
    """One sigma of motor-brake factors whose level's damping stands in the plane file."""
    controller, own = ground.unit.plane.controller, ground.plan.motor.level
    levels = {name: name.partition(":")[2] or own for name in names}
    return {
        name: MEASURED_DAMPING_SIGMA for name, level in levels.items() if controller.level(level).damping is not None
    }


def _with_levels(before: Learned, ground: Ground, evidence: Sequence[Evidence]) -> Learned:
    """What was believed, with a factor for every motor-brake level that evidence was taken with."""
    own = ground.plan.motor.level
    asked = set()
    for item in evidence:
        level = item.level if isinstance(item, Damping) else item.flight.level
        if level is not None and level != own:
            ground.check_level(level)
            asked.add(f"brake_damping:{level}")
    more = sorted(asked - set(before.names))
    if not more:
        return before
    extra = prior(more, sigma=_measured(ground, more))
    n, m = len(before.names), len(more)
    covariance = np.zeros((n + m, n + m))
    covariance[:n, :n], covariance[n:, n:] = before.covariance, extra.covariance
    return Learned(names=(*before.names, *more), mean=np.concatenate([before.mean, extra.mean]), covariance=covariance)


def _whitened(item: Expectation) -> _White:
    covariance = item.noise + item.nuisance @ item.nuisance.T
    lower = np.linalg.cholesky(covariance)
    both = np.linalg.solve(lower, np.column_stack([item.residual, item.jacobian]))
    return _White(
        residual=both[:, 0],
        jacobian=both[:, 1:],
        nuisance=item.nuisance.T @ np.linalg.solve(covariance, item.residual),
    )


def _weight(item: _White) -> float:
    count = len(item.residual)
    return (FREEDOM + count) / (FREEDOM + item.squares) if item.squares > count else 1.0


def _start(piece: Evidence, item: Expectation, step: Floats) -> float:
    """Factor on the start speed that goes best with what was seen, after the step."""
    if not isinstance(piece, TracedLine | TimedLine):
        return 1.0
    covariance = item.noise + item.nuisance @ item.nuisance.T
    left = item.residual - item.jacobian @ step
    share = float(item.nuisance[:, 0] @ np.linalg.solve(covariance, left))
    air_speed = max(piece.speed - piece.flight.wind, 1.0)
    return float(np.clip(1.0 + share * piece.speed_sigma / air_speed, 0.5, 1.7))


def _check(piece: Evidence, item: _White, weight: float, hessian: Floats, before: Learned) -> EvidenceCheck:
    """A piece against the others: the fit without it by taking its share out of the normal equations."""
    information = weight * item.jacobian.T @ item.jacobian
    others = np.linalg.inv(hessian - information + 1e-9 * np.eye(len(hessian)))
    moved = others @ (weight * item.jacobian.T @ item.residual)
    left = item.residual + item.jacobian @ moved
    spread = np.eye(len(left)) + item.jacobian @ others @ item.jacobian.T
    squares = float(left @ np.linalg.solve(spread, left))
    off = _sigma_of(squares, len(left))
    if len(left) == 1:
        off = math.copysign(math.sqrt(squares), float(left[0]))
    with_it = np.sqrt(np.diag(np.linalg.inv(hessian)))
    narrowed = 1.0 - with_it / np.sqrt(np.diag(others))
    most = int(np.argmax(narrowed))
    return EvidenceCheck(
        name=piece.name,
        off=off,
        weight=weight,
        # Many numbers that lie nearer than their noise are no fault of theirs.
        outlier=(abs(off) if len(left) == 1 else off) > OUTLIER,
        told=float(np.clip(narrowed[most], 0.0, 1.0)),
        taught=before.names[most],
    )


def _sigma_of(squares: float, count: int) -> float:
    """Sigma of a normal that is as rare as this sum of squares of `count` numbers; negative where it is small.

    Source: Wilson and Hilferty (1931), PNAS 17, 684.
    """
    spread = 2.0 / (9.0 * count)
    return (math.pow(squares / count, 1.0 / 3.0) - (1.0 - spread)) / math.sqrt(spread)


def _alike(learned: Learned, before: Learned) -> tuple[tuple[str, str, float], ...]:
    """Pairs whose doubts hang together although the evidence touched them."""
    sigma = learned.sigma
    correlation = learned.covariance / np.outer(sigma, sigma)
    found = []
    for one in range(len(sigma)):
        for two in range(one):
            if abs(correlation[one, two]) > ALIKE and not math.isclose(sigma[one], before.sigma[one], rel_tol=0.02):
                found.append((learned.names[two], learned.names[one], float(correlation[one, two])))
    return tuple(sorted(found, key=lambda pair: -abs(pair[2])))
