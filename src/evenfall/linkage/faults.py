"""What a bench reading would show under each fault, and how probable each fault is.

Every hypothesis predicts the surface from the exact four-bar with four small unknowns x = (centre, servo gain, lever
gain, slop), each with a prior spread; the fault's own unknown has a wide one. Their evidence (Laplace, exact for the
linear ones) is compared by Bayes' rule. Arm angles from square, rad.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.corner import Corner
from evenfall.linkage.fourbar import FourBar, forward, inverse, square, with_offset
from evenfall.linkage.teeth import tooth

Array = NDArray[np.float64]

FAULTS = ("as planned", "centre", "gain", "slop", "one tooth", "one hole", "reversed", "swapped plugs", "wrong side")
"""Kinds of fault; the last three mean: do not fly."""
DO_NOT_FLY = ("reversed", "swapped plugs", "wrong side")
PRIOR = {
    "as planned": 0.42,
    "centre": 0.12,
    "gain": 0.20,
    "slop": 0.08,
    "one tooth": 0.05,
    "one hole": 0.05,
    "reversed": 0.03,
    "swapped plugs": 0.03,
    "wrong side": 0.02,
}
"""Probability of each kind before measuring. Judged, no source: servo gain is known to some 15 % only until it is
measured, so it is the commonest; a set of nine positions outweighs all of it."""

PROBES = ((0.0, 0.0), (-1.0, 1.0), (1.0, 1.0))
"""Stick and deployment whose commands follow the readings: neutral, then full roll either way with crow out."""

_SMALL = np.array([math.radians(0.4), 0.005, 0.005, math.radians(0.2)])
"""Spread of centre, servo gain, lever gain and slop on a corner set up as planned: a few us of pulse, .05 mm of hole.
Judged, no source."""
_WIDE = np.array([math.radians(3.0), 0.05, 0.05, math.radians(1.0)])
"""Spread of the unknown that is at fault."""


@dataclass(frozen=True, kw_only=True)
class Hypothesis:
    """One way a corner may be fitted.

    Args:
        kind: one of `FAULTS`.
        label: what exactly, in words.
        bar: the four-bar as it would be.
        servo: arm angle from the chord's normal at every reading, rad, without gain error.
        pivot: arm angle from the chord's normal at the centre pulse, rad.
        spread: prior spread of centre, servo gain, lever gain, slop.
        weight: prior probability within its kind.
        swapped_with: the other corner of swapped plugs, else empty.
        probe: the same at the commands `PROBES`, for what the fault costs.
    """

    kind: str
    label: str
    bar: FourBar
    servo: Array
    pivot: float
    spread: Array
    weight: float
    probe: Array
    swapped_with: str = ""

    def predict(self, servo: Array, x: Array, direction: Array) -> Array:
        """Surface angle, rad: (1 + h) T(pivot + (1 + g)(servo - pivot)) + c - d w/2, servo from the chord's normal."""
        turned = self.pivot + (1.0 + x[1]) * (servo - self.pivot)
        return np.asarray((1.0 + x[2]) * forward(self.bar, turned).throw + x[0] - direction * x[3] / 2.0)

    def at(self, x: Array, direction: Array) -> tuple[Array, Array]:
        """`predict` at the readings, and its derivatives by centre, servo gain, lever gain, slop: (readings, 4)."""
        arm = self.servo - self.pivot
        motion = forward(self.bar, self.pivot + (1.0 + x[1]) * arm)
        shown = (1.0 + x[2]) * motion.throw + x[0] - direction * x[3] / 2.0
        columns = [np.ones_like(arm), (1.0 + x[2]) * motion.gain * arm, motion.throw, -direction / 2.0]
        return np.asarray(shown), np.stack(columns, axis=1)


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A hypothesis after the readings.

    Args:
        hypothesis: what was assumed.
        x: most probable centre (rad), servo gain, lever gain, slop (rad).
        covariance: of x, shape (4, 4).
        chi2: squared residuals over the noise variance at x.
        log_evidence: natural logarithm of the probability density of the readings.
    """

    hypothesis: Hypothesis
    x: Array
    covariance: Array
    chi2: float
    log_evidence: float


def judge(hypothesis: Hypothesis, angle: Array, direction: Array, *, noise: float) -> Verdict:
    """Most probable unknowns of a hypothesis and its evidence, by Gauss-Newton with Gaussian priors.

    log p(y) = -chi2/2 - |x/s|^2/2 - log det(I + S J'J S/noise^2)/2 - n log(noise sqrt(2 pi)), s the prior spreads.
    Source: Laplace's approximation (MacKay, Information Theory, Inference, and Learning Algorithms, ch. 27, from
    memory); exact where the prediction is linear in the unknowns.
    """
    spread = hypothesis.spread
    x: Array = np.zeros(4)
    shown, slopes = hypothesis.at(x, direction)
    for _ in range(4):
        scaled = slopes * spread / noise
        off = (angle - shown) / noise + scaled @ (x / spread)
        new = spread * np.linalg.solve(np.eye(4) + scaled.T @ scaled, scaled.T @ off)
        new[1:3] = np.clip(new[1:3], -0.5, 0.5)
        settled = bool(np.all(np.abs(new - x) < 1e-6 * spread))
        x = new
        shown, slopes = hypothesis.at(x, direction)
        if settled:
            break
    scaled = slopes * spread / noise
    matrix = np.eye(4) + scaled.T @ scaled
    residual = (angle - shown) / noise
    chi2 = float(residual @ residual)
    log = -0.5 * (chi2 + float((x / spread) @ (x / spread)) + float(np.linalg.slogdet(matrix)[1]))
    log -= angle.size * math.log(noise * math.sqrt(2.0 * math.pi))
    covariance = np.linalg.inv(matrix) * np.outer(spread, spread)
    return Verdict(hypothesis=hypothesis, x=x, covariance=covariance, chi2=chi2, log_evidence=log)


@dataclass(frozen=True, kw_only=True)
class _Maker:
    """Builds hypotheses for one corner and its commanded arm angles, those of `PROBES` last."""

    corner: Corner
    command: Array

    @property
    def zero(self) -> float:
        return self.corner.square

    def make(
        self,
        kind: str,
        label: str,
        *,
        bar: FourBar | None = None,
        move: float = 0.0,
        flip: float | None = None,
        wide: int | None = None,
        weight: float = 1.0,
    ) -> Hypothesis:
        """`move` turns the arm on its spline; `flip` reverses the servo about that angle from square."""
        zero = self.zero
        turned = self.command if flip is None else 2.0 * flip - self.command
        servo = turned + zero + move
        spread = _SMALL.copy()
        if wide is not None:
            spread[wide] = _WIDE[wide]
        return Hypothesis(
            kind=kind,
            label=label,
            bar=bar or self.corner.bar,
            servo=servo[: -len(PROBES)],
            pivot=self.corner.centre + zero + move,
            spread=spread,
            weight=weight,
            probe=servo[-len(PROBES) :],
        )

    def recentred(self, bar: FourBar, move: float = 0.0) -> FourBar | None:
        """`bar` with its rod set to neutral at the planned neutral pulse; None if it does not assemble there."""
        try:
            new = with_offset(bar, self.corner.neutral + self.zero + move - float(square(bar)))
        except ValueRangeError:
            return None
        return new if bool(inverse(new, 0.0).reachable) else None


def hypotheses(
    corner: Corner,
    command: Array,
    *,
    spline_teeth: int,
    arm_holes: tuple[float, ...],
    horn_holes: tuple[float, ...],
    others: dict[str, tuple[Corner, Array]],
) -> tuple[Hypothesis, ...]:
    """Everything that is held possible for one corner.

    Args:
        corner: as planned.
        command: planned arm angle from square at every reading and then at `PROBES`, rad.
        spline_teeth, arm_holes, horn_holes: what could be one off.
        others: the other corners with their own commands likewise (for swapped plugs).
    """
    maker = _Maker(corner=corner, command=command)
    found = [
        maker.make("as planned", "as planned"),
        maker.make("centre", "neutral off", wide=0),
        maker.make("gain", "servo turns more or less than planned", wide=1, weight=0.7),
        maker.make("gain", "surface moves more or less than planned", wide=2, weight=0.3),
        maker.make("slop", "play", wide=3),
        maker.make("reversed", "reversed about the centre pulse", flip=corner.centre, weight=0.5),
        maker.make("reversed", "reversed about neutral", flip=corner.neutral, weight=0.5),
        *_teeth(maker, spline_teeth),
        *_holes(maker, arm_holes, horn_holes),
        *_swaps(maker, others),
    ]
    return tuple(found)


def _teeth(maker: _Maker, teeth: int) -> list[Hypothesis]:
    found = []
    one = tooth(teeth)
    for count in (1, -1):
        way = "pushing" if count > 0 else "pulling"
        move = count * one
        found.append(maker.make("one tooth", f"arm one tooth too far {way}", move=move, weight=0.25))
        bar = maker.recentred(maker.corner.bar, move)
        if bar is not None:
            label = f"arm one tooth too far {way}, rod set to neutral"
            found.append(maker.make("one tooth", label, bar=bar, move=move, weight=0.25))
    move = -2.0 * maker.corner.neutral
    bar = maker.recentred(maker.corner.bar, move)
    if bar is not None and abs(move) > math.radians(10.0) and abs(abs(move) - one) > math.radians(1.5):
        found.append(maker.make("wrong side", "arm offset to the wrong side, rod set to neutral", bar=bar, move=move))
    return found


def _neighbours(holes: tuple[float, ...], used: float) -> list[float]:
    below = [hole for hole in holes if hole < used - 1e-5]
    above = [hole for hole in holes if hole > used + 1e-5]
    return ([max(below)] if below else []) + ([min(above)] if above else [])


def _holes(maker: _Maker, arm_holes: tuple[float, ...], horn_holes: tuple[float, ...]) -> list[Hypothesis]:
    bar = maker.corner.bar
    arm, horn = float(np.asarray(bar.arm)), float(np.asarray(bar.horn))
    options = [(f"arm hole {1000 * hole:.1f} mm", {"arm": hole}) for hole in _neighbours(arm_holes, arm)]
    options += [
        (f"horn hole {1000 * hole:.1f} mm", {"horn": hole})
        for hole in _neighbours(horn_holes, horn)
        if hole > abs(float(np.asarray(bar.setback)))
    ]
    found = []
    for name, change in options:
        new = replace(bar, **change)  # type: ignore[arg-type]
        weight = 0.5 / len(options)
        if bool(inverse(new, 0.0).reachable):
            found.append(maker.make("one hole", f"{name} in use", bar=new, weight=weight))
        centred = maker.recentred(new)
        if centred is not None:
            found.append(maker.make("one hole", f"{name} in use, rod set to neutral", bar=centred, weight=weight))
    return found


def _swaps(maker: _Maker, others: dict[str, tuple[Corner, Array]]) -> list[Hypothesis]:
    found = []
    for name, (other, command) in others.items():
        servo = maker.corner.servo_of_pulse(other.pulse(command)) + maker.zero
        label = f"plug swapped with {name.replace('_', ' ')}"
        base = maker.make("swapped plugs", label, weight=1.0 / len(others))
        found.append(replace(base, servo=servo[: -len(PROBES)], probe=servo[-len(PROBES) :], swapped_with=name))
    return found


def _log_sum(logs: list[float]) -> float:
    top = max(logs)
    return top + math.log(math.fsum(math.exp(value - top) for value in logs))


def probabilities(verdicts: dict[str, tuple[Verdict, ...]]) -> dict[str, tuple[float, ...]]:
    """Probability of every verdict of every corner by Bayes' rule.

    Faults of different corners are independent, except swapped plugs: those are a fault of two corners at once, so
    that both must speak for it. Prior of a kind x weight x evidence, normalised. A corner without readings counts as
    silent.
    """
    logs = {
        name: [v.log_evidence + math.log(PRIOR[v.hypothesis.kind] * v.hypothesis.weight) for v in rows]
        for name, rows in verdicts.items()
    }
    alone = {
        name: _log_sum([value for value, v in zip(logs[name], rows, strict=True) if not v.hypothesis.swapped_with])
        - math.log(1.0 - PRIOR["swapped plugs"])
        for name, rows in verdicts.items()
    }
    swaps: dict[frozenset[str], float] = {}
    for name, rows in verdicts.items():
        for verdict in rows:
            other = verdict.hypothesis.swapped_with
            if other:
                pair = frozenset((name, other))
                swaps[pair] = swaps.get(pair, 0.0) + verdict.log_evidence - alone[name]
    prior = PRIOR["swapped plugs"] / max(len(swaps), 1)
    states = {pair: value + math.log(prior) for pair, value in swaps.items()}
    whole = _log_sum([math.log(1.0 - PRIOR["swapped plugs"]), *states.values()])
    pairs = {pair: math.exp(value - whole) for pair, value in states.items()}
    return {name: _corner_shares(name, rows, logs[name], pairs) for name, rows in verdicts.items()}


def _corner_shares(
    name: str, rows: tuple[Verdict, ...], logs: list[float], pairs: dict[frozenset[str], float]
) -> tuple[float, ...]:
    swapped = [pairs[frozenset((name, v.hypothesis.swapped_with))] if v.hypothesis.swapped_with else 0.0 for v in rows]
    own = [value for value, v in zip(logs, rows, strict=True) if not v.hypothesis.swapped_with]
    total, left = _log_sum(own), max(1.0 - math.fsum(swapped), 0.0)
    return tuple(
        share if v.hypothesis.swapped_with else left * math.exp(value - total)
        for share, value, v in zip(swapped, logs, rows, strict=True)
    )
