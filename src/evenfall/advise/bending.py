"""How a down line bends with any crow, and what pulls that were seen say about it.

bend = clean + shift + crow + (moment - 1) x moment part + elevator x elevator part, rad/s towards the canopy. The
engine gives the parts; shift (drag of parts and CG height that are not quite as measured), moment (the learned factor
on the moment of crow) and elevator (effect of the share) are joint normal and move with every pull. All linear: one
update each, in any order. Source: Kalman's measurement update, e.g. Gelb, Applied Optimal Estimation, sect. 4.2 (from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.fit.expected import CLEAN_BEND
from evenfall.fit.learned import Learned, prior
from evenfall.lines.balance import Airframe
from evenfall.lines.bend import BendCase, bends
from evenfall.logs.evidence import Pull
from evenfall.plane.corrections import Corrections
from evenfall.radio.plan import Crow

Floats = NDArray[np.float64]

ELEVATOR_EFFECT = 0.1
"""One sigma of the elevator's effect in ln. Ours, no source."""
_MORE_MOMENT = 1.5
"""Factor on the moment of crow at which its part of the bend is found."""
_LESS_SHARE = 0.02
"""Change of the elevator share by which its part of the bend is found."""

Line = tuple[float, bool]
"""Slope (rad) and inverted."""
VERTICAL: Line = (-math.pi / 2, False)
DIAGONAL: Line = (-math.pi / 4, False)
DIAGONAL_INVERTED: Line = (-math.pi / 4, True)
LOOKED_AT = (VERTICAL, DIAGONAL, DIAGONAL_INVERTED)


@dataclass(frozen=True, kw_only=True)
class BendParts:
    """Bend of one line with one crow, rad/s towards the canopy.

    Args:
        clean: without crow. crow: added by it, elevator share in, with a moment factor of 1.
        moment: change with the moment factor. elevator: what the elevator share does to `crow`.
        per_share: change of the bend with the elevator share, rad/s for a share of 1.
        solved: every balance was found.
    """

    clean: float
    crow: float
    moment: float
    elevator: float
    per_share: float
    solved: bool

    def total(self, state: BendState) -> float:
        """Bend expected with crow out."""
        return self.clean + self.crow + float(self.slopes @ state.mean)

    @property
    def slopes(self) -> Floats:
        """Change of the bend with shift, moment and elevator, (3,)."""
        return np.array([1.0, self.moment, self.elevator])


@dataclass(frozen=True, kw_only=True)
class BendState:
    """What is known of shift (rad/s), moment - 1 and elevator - 1: mean (3,) and covariance (3, 3)."""

    mean: Floats
    covariance: Floats

    def doubt(self, slopes: Floats) -> float:
        """One sigma of a bend that moves by `slopes` (3,) with the three, rad/s."""
        return math.sqrt(max(float(slopes @ self.covariance @ slopes), 0.0))

    def seen(self, residual: float, slopes: Floats, sigma: float) -> BendState:
        """After one pull: residual over what the engine alone expects, rad/s, with its own one sigma."""
        spread = self.covariance @ slopes
        gain = spread / (float(slopes @ spread) + sigma**2)
        covariance = self.covariance - np.outer(gain, spread)
        mean = self.mean + gain * (residual - float(slopes @ self.mean))
        return BendState(mean=mean, covariance=0.5 * (covariance + covariance.T))


def before_pulls(learned: Learned | None = None, *, own: float = 1.0) -> BendState:
    """What is believed before any pull; the moment of crow as something else has taught it, or the prior, times the
    plane's own factor."""
    known = prior() if learned is None else learned
    row = known.names.index("crow_moment")
    factor = own * math.exp(float(known.mean[row]))
    return BendState(
        mean=np.array([0.0, factor - 1.0, 0.0]),
        covariance=np.diag([CLEAN_BEND**2, (factor * float(known.sigma[row])) ** 2, ELEVATOR_EFFECT**2]),
    )


def bend_parts(
    frame: Airframe, crows: Sequence[Crow | None], lines: Sequence[Line], *, speed: float, thrust: float, level: float
) -> list[list[BendParts]]:
    """Parts for every crow (outer) on every line (inner), all in one batch.

    Args:
        speed: m/s. thrust: N with the stick closed. level: N that hold level flight.
    """
    plain = replace(frame, plane=replace(frame.plane, corrections=Corrections()))
    more = replace(frame, plane=replace(frame.plane, corrections=Corrections(crow_moment=_MORE_MOMENT)))
    given = [(crow, line) for crow in crows for line in lines]
    flown = [BendCase(slope=line[0], inverted=line[1], crow=crow, thrust=thrust) for crow, line in given]
    held = [replace(case, crow=_with_less_elevator(case.crow)) for case in flown]
    one = bends(plain, [*flown, *held], speed=speed, level_thrust=level)
    two = bends(more, flown, speed=speed, level_thrust=level)
    count = len(flown)
    per_share = (one.crow[:count] - one.crow[count:]) / _LESS_SHARE
    found = [
        BendParts(
            clean=float(one.clean[k]),
            crow=float(one.crow[k]) if crow is not None else 0.0,
            moment=float(two.crow[k] - one.crow[k]) / (_MORE_MOMENT - 1.0) if crow is not None else 0.0,
            elevator=float(per_share[k]) * crow.elevator_share if crow is not None else 0.0,
            per_share=float(per_share[k]) if crow is not None else 0.0,
            solved=bool(one.straight.converged[k] and one.straight.converged[k + count] and two.straight.converged[k]),
        )
        for k, (crow, _) in enumerate(given)
    ]
    return [found[k : k + len(lines)] for k in range(0, count, len(lines))]


def _with_less_elevator(crow: Crow | None) -> Crow | None:
    return None if crow is None else replace(crow, elevator_share=crow.elevator_share - _LESS_SHARE)


@dataclass(frozen=True, kw_only=True)
class SeenPull:
    """A pull and the parts of the bend of the line it was seen on, with the crow it was flown with."""

    pull: Pull
    parts: BendParts


def taught_by(state: BendState, pulls: Iterable[SeenPull]) -> BendState:
    """What is known after pulls."""
    for item in pulls:
        parts = item.parts
        if not parts.solved:
            continue
        if item.pull.flight.crow:
            state = state.seen(item.pull.rate - parts.clean - parts.crow, parts.slopes, item.pull.sigma)
        else:
            state = state.seen(item.pull.rate - parts.clean, np.array([1.0, 0.0, 0.0]), item.pull.sigma)
    return state
