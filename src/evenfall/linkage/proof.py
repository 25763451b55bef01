"""Proof on the bench: measured surface angles against the plan, fit by corner, which fault it is, what to do."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.corner import Corner, commanded
from evenfall.linkage.faults import DO_NOT_FLY, FAULTS, PROBES, Verdict, hypotheses, judge, probabilities
from evenfall.linkage.fourbar import forward, with_offset
from evenfall.linkage.load import SLOP_CAUTION, SLOP_NO_FLIGHT
from evenfall.linkage.prooftext import corner_text

Array = NDArray[np.float64]

GAUGE_NOISE = math.radians(0.3)
"""One sigma of an angle gauge on an aileron, rad. Common practice, no source."""
SURE = 0.95
"""Probability from which a fault counts as named; below, the next ones are named beside it."""
CENTRE_TOLERANCE = math.radians(0.5)
"""Neutral counts as right within this, rad. Common practice, no source."""
ROLL_TOLERANCE = 0.05
"""Roll at full deployment counts as right within this share."""
_HARMLESS = {"as planned", "centre", "gain", "slop"}
"""Kinds that may be left alone where they are small."""
_WEAK = np.array([math.radians(10.0), 0.5, math.radians(30.0), math.radians(2.0)])
"""What centre, gain, arm offset and slop may be at most before measuring, one sigma."""
_KNOWN = np.array([math.radians(1.5), 0.05, math.radians(4.0), math.radians(0.5)])
"""Spread below which each counts as measured."""


@dataclass(frozen=True, kw_only=True)
class Positions:
    """Where to measure. Arrays of one length.

    Args:
        stick: aileron stick -1 (left) to 1 (right).
        deployment: 0 to 1.
    """

    stick: Array
    deployment: Array

    def __post_init__(self) -> None:
        if self.stick.shape != self.deployment.shape or self.stick.ndim != 1:
            raise ValueRangeError("give one stick and one deployment for each position")
        if np.any(np.abs(self.stick) > 1) or np.any((self.deployment < 0) | (self.deployment > 1)):
            raise ValueRangeError("stick lies between -100 and 100 percent, deployment between 0 and 100 percent")


def commands(corner: Corner, positions: Positions, *, turn: float) -> Array:
    """Planned arm angle from square at every position, rad: neutral + deployment x crow travel + stick x roll turn.

    Args:
        turn: servo turn of the roll at full stick, rad (`Candidate.normal_turn` or `snap_turn`).
    """
    return commanded(corner, positions.deployment, positions.stick, turn=turn)


@dataclass(frozen=True, kw_only=True)
class Readings:
    """Angles read at one corner.

    Args:
        position: index into the positions, one for each reading.
        angle: rad, trailing edge down positive.
        direction: +1 reached with the trailing edge moving down, -1 moving up, 0 not known.
    """

    position: tuple[int, ...]
    angle: tuple[float, ...]
    direction: tuple[int, ...]

    def __post_init__(self) -> None:
        if not len(self.position) == len(self.angle) == len(self.direction) or not self.angle:
            raise ValueRangeError("give position, angle and direction for each reading, at least one")
        if not all(math.isfinite(value) and abs(value) < math.pi / 2 for value in self.angle):
            raise ValueRangeError("readings lie within +-90 deg: check for a missing decimal point")
        if not set(self.direction) <= {-1, 0, 1}:
            raise ValueRangeError("direction is 1 (moving down), -1 (moving up) or 0 (not known)")


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What could be one off on a corner: spline teeth, arm holes and horn holes (m)."""

    spline_teeth: int = 25
    arm_holes: tuple[float, ...] = ()
    horn_holes: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Fit:
    """Centre, gain, arm offset and slop of one corner, by weighted least squares.

    Args:
        centre: neutral off by, rad at the surface.
        gain: servo turn against planned, 1 as planned.
        offset: arm offset against planned, rad of arm.
        slop: peak to peak, rad at the surface.
        spread: one sigma of the four, in that order.
        covariance: shape (4, 4).
        known: whether the readings fix each of the four (else it rests on the assumption "as planned").
        chi2, freedom: squared residuals over noise variance, and readings less unknowns that are known.
    """

    centre: float
    gain: float
    offset: float
    slop: float
    spread: tuple[float, float, float, float]
    covariance: Array
    known: tuple[bool, bool, bool, bool]
    chi2: float
    freedom: int


@dataclass(frozen=True, kw_only=True)
class CornerProof:
    """What the readings say about one corner.

    Args:
        fit: centre, gain, offset, slop without regard to a cause.
        fault: the most probable kind, one of `evenfall.linkage.faults.FAULTS`.
        detail: which one exactly.
        probability: by kind.
        alternatives: other kinds that cannot be ruled out.
        fits: the readings agree with the best hypothesis within their noise.
        odd_reading: index of the reading that disagrees most where they do not.
        pulse: s of pulse to add at neutral to centre the surface.
        teeth: teeth to turn the arm, pushing positive.
        roll_cost: change of the roll throw at full deployment, share (-.1 is a tenth lost).
        good: nothing needs doing.
        do_not_fly: stands out.
        text: what it is and what to do.
    """

    corner: str
    fit: Fit
    fault: str
    detail: str
    probability: dict[str, float]
    alternatives: tuple[str, ...]
    fits: bool
    odd_reading: int | None
    pulse: float
    teeth: int
    roll_cost: float
    good: bool
    do_not_fly: bool
    text: str


@dataclass(frozen=True, kw_only=True)
class BenchProof:
    """The whole bench record.

    Args:
        corners: by name.
        good: every corner is good and every corner was measured.
        do_not_fly: corners that must not fly.
        missing: corners without readings.
        alike: pairs of corners whose plugs could be exchanged without any reading showing it (and without harm).
        text: one or two sentences.
    """

    corners: dict[str, CornerProof] = field(default_factory=dict)
    good: bool
    do_not_fly: tuple[str, ...]
    missing: tuple[str, ...]
    alike: tuple[tuple[str, str], ...]
    text: str


def fit_corner(
    corner: Corner, command: ArrayLike, angle: ArrayLike, direction: ArrayLike, *, noise: float = GAUGE_NOISE
) -> Fit:
    """Weighted least squares for centre, gain, arm offset and slop, linear about the plan, iterated.

    angle = T(offset; pivot + gain (command - pivot)) + centre - direction slop/2, T the exact four-bar with its rod set
    to neutral.

    Args:
        command: planned arm angle from square, rad; angle: read, rad; direction: +1, -1, 0; one length.
        noise: one sigma of a reading, rad.

    Each unknown carries a very weak prior (10 deg, 50 %, 30 deg, 2 deg), so that fewer readings than unknowns still
    answer; `known` tells which were fixed by the readings. Source: Gauss-Newton least squares.
    """
    servo, read, way = (np.asarray(value, float) for value in (command, angle, direction))

    arm = servo - corner.centre

    def model(x: Array) -> tuple[Array, Array]:
        """Surface angles, and their derivative by the servo gain."""
        bar = with_offset(corner.bar, corner.neutral + x[2])
        motion = forward(bar, corner.square + corner.centre + (1.0 + x[1]) * arm + x[2])
        return np.asarray(motion.throw + x[0] - way * x[3] / 2.0), np.asarray(motion.gain * arm)

    x: Array = np.zeros(4)
    step = np.array([0.0, 0.0, 1e-4, 0.0])
    for _ in range(6):
        shown, by_gain = model(x)
        by_offset = (model(x + step)[0] - model(x - step)[0]) / 2e-4
        slopes = np.stack([np.ones_like(arm), by_gain, by_offset, -way / 2.0], axis=1) / noise
        normal = slopes.T @ slopes + np.diag(1.0 / _WEAK**2)
        new = np.asarray(np.linalg.solve(normal, slopes.T @ ((read - shown) / noise + slopes @ x)), float)
        x, before = np.clip(new, -1.5 * _WEAK, 1.5 * _WEAK), x
        if np.all(np.abs(x - before) < 1e-6):
            break
    covariance: Array = np.asarray(np.linalg.inv(normal), float)
    spread = np.sqrt(np.diag(covariance))
    known = spread < _KNOWN
    residual = (read - model(x)[0]) / noise
    return Fit(
        centre=float(x[0]),
        gain=1.0 + float(x[1]),
        offset=float(x[2]),
        slop=float(x[3]),
        spread=(float(spread[0]), float(spread[1]), float(spread[2]), float(spread[3])),
        covariance=covariance,
        known=(bool(known[0]), bool(known[1]), bool(known[2]), bool(known[3])),
        chi2=float(residual @ residual),
        freedom=int(read.size - known.sum()),
    )


def _roll_cost(corner: Corner, verdict: Verdict, planned: Array) -> float:
    """Roll throw at full deployment under the verdict over the planned one, less 1."""
    _, left, right = verdict.hypothesis.predict(verdict.hypothesis.probe, verdict.x, np.zeros(3))
    wanted = corner.throw(planned[1:])
    span = float(wanted[1] - wanted[0])
    return float(right - left) / span - 1.0 if abs(span) > 1e-9 else 0.0


def _centring(corner: Corner, verdict: Verdict) -> tuple[float, float]:
    """Surface angle at the neutral command, rad, and the pulse in s that would remove it."""
    held = verdict.hypothesis
    shown = float(held.predict(held.probe, verdict.x, np.zeros(3))[0])
    gain = float(forward(held.bar, held.probe[0]).gain) * (1.0 + float(verdict.x[1]))
    turn = -shown / gain if abs(gain) > 1e-3 else 0.0
    return shown, corner.direction * turn / corner.servo_gain


@dataclass(frozen=True, kw_only=True)
class _Weighed:
    """One corner's readings with every hypothesis judged; `planned` are the commands of `PROBES`."""

    corner: Corner
    fit: Fit
    verdicts: tuple[Verdict, ...]
    planned: Array
    angle: Array
    direction: Array
    noise: float


def _probed(positions: Positions, index: NDArray[np.intp]) -> Positions:
    """The positions that were read, then those of `PROBES`."""
    return Positions(
        stick=np.append(positions.stick[index], [stick for stick, _ in PROBES]),
        deployment=np.append(positions.deployment[index], [out for _, out in PROBES]),
    )


def _weigh(
    corner: Corner,
    positions: Mapping[str, Positions],
    readings: Readings,
    *,
    turn: float,
    kit: Kit,
    others: dict[str, tuple[Corner, float]],
    noise: float,
) -> _Weighed:
    index = np.asarray(readings.position, np.intp)
    if index.min() < 0 or index.max() >= positions[corner.name].stick.size:
        raise ValueRangeError(f"{corner.name}: a reading names a position that does not exist")
    command = commands(corner, _probed(positions[corner.name], index), turn=turn)
    angle, direction = np.asarray(readings.angle, float), np.asarray(readings.direction, float)
    held = hypotheses(
        corner,
        command,
        spline_teeth=kit.spline_teeth,
        arm_holes=kit.arm_holes,
        horn_holes=kit.horn_holes,
        others={name: (c, commands(c, _probed(positions[name], index), turn=far)) for name, (c, far) in others.items()},
    )
    return _Weighed(
        corner=corner,
        fit=fit_corner(corner, command[: angle.size], angle, direction, noise=noise),
        verdicts=tuple(judge(hypothesis, angle, direction, noise=noise) for hypothesis in held),
        planned=command[angle.size :],
        angle=angle,
        direction=direction,
        noise=noise,
    )


def _conclude(weighed: _Weighed, share: tuple[float, ...]) -> CornerProof:
    pairs = list(zip(share, weighed.verdicts, strict=True))
    by_kind = {kind: math.fsum(p for p, v in pairs if v.hypothesis.kind == kind) for kind in FAULTS}
    fault = max(by_kind, key=lambda kind: by_kind[kind])
    best = max((pair for pair in pairs if pair[1].hypothesis.kind == fault), key=lambda pair: pair[0])[1]
    residual = (weighed.angle - _shown(best, weighed.direction)) / weighed.noise
    return _report(weighed.corner, weighed.fit, best, by_kind, planned=weighed.planned, residual=residual)


def _shown(verdict: Verdict, direction: Array) -> Array:
    return verdict.hypothesis.predict(verdict.hypothesis.servo, verdict.x, direction)


def _fits(residual: Array) -> bool:
    """chi2 within 3.7 sigma of its mean (Wilson-Hilferty), about 1 in 10,000 by chance."""
    n = residual.size
    cube = (float(residual @ residual) / n) ** (1.0 / 3.0)
    return bool((cube - (1.0 - 2.0 / (9.0 * n))) / math.sqrt(2.0 / (9.0 * n)) < 3.7)


def _report(
    corner: Corner, fit: Fit, best: Verdict, by_kind: dict[str, float], *, planned: Array, residual: Array
) -> CornerProof:
    fault = best.hypothesis.kind
    fits = _fits(residual)
    shown, pulse = _centring(corner, best)
    cost = _roll_cost(corner, best, planned)
    slop = abs(float(best.x[3]))
    rest = tuple(
        kind for kind in sorted(by_kind, key=lambda k: -by_kind[k]) if kind != fault and by_kind[kind] > 1.0 - SURE
    )
    small = abs(shown) <= CENTRE_TOLERANCE and abs(cost) <= ROLL_TOLERANCE and slop <= SLOP_CAUTION
    good = fits and small and {fault, *rest} <= _HARMLESS
    label = best.hypothesis.label
    teeth = 0
    if fault == "one tooth":
        teeth = -1 if "pushing" in label else 1
    return CornerProof(
        corner=corner.name,
        fit=fit,
        fault=fault,
        detail=label,
        probability=by_kind,
        alternatives=rest,
        fits=fits,
        odd_reading=None if fits else int(np.abs(residual).argmax()),
        pulse=pulse,
        teeth=teeth,
        roll_cost=cost,
        good=good,
        do_not_fly=fault in DO_NOT_FLY or slop >= SLOP_NO_FLIGHT or not (fits or small),
        text=corner_text(
            corner.name, best, good=good, fits=fits, pulse=pulse, cost=cost, rest=rest, shown=shown, known=fit.known
        ),
    )


def _good_text(found: dict[str, CornerProof]) -> str:
    notes = [proof.text for proof in found.values() if proof.fault != "as planned"]
    return " ".join(["Good enough.", *notes]) if notes else "Every corner shows what the plan says. Good enough."


def _alike(
    corners: tuple[Corner, ...], positions: Mapping[str, Positions], turns: dict[str, float], noise: float
) -> tuple[tuple[str, str], ...]:
    """Pairs of corners that would show the same to within `noise` with their plugs exchanged."""
    servo = {corner.name: commands(corner, positions[corner.name], turn=turns[corner.name]) for corner in corners}

    def moved(corner: Corner, other: Corner) -> float:
        swapped = corner.servo_of_pulse(other.pulse(servo[other.name]))
        return float(np.abs(corner.throw(swapped) - corner.throw(servo[corner.name])).max())

    pairs = [(a, b) for i, a in enumerate(corners) for b in corners[i + 1 :]]
    return tuple((a.name, b.name) for a, b in pairs if max(moved(a, b), moved(b, a)) < noise)


def prove(
    corners: tuple[Corner, ...],
    positions: Positions | Mapping[str, Positions],
    readings: dict[str, Readings],
    *,
    turn: float | Mapping[str, float],
    kits: dict[str, Kit] | None = None,
    noise: float = GAUGE_NOISE,
) -> BenchProof:
    """Judge every corner that was measured against its plan: which fault, how sure, what to do.

    Single faults only (swapped plugs count as one of two corners); readings that fit none are said to fit none.

    Args:
        corners: as planned, all of the plane. readings: by corner name.
        positions: of sticks, one for all or by corner name (then of one length, the same sticks in the same order, in
            shares of each corner's own roll turn and crow travel).
        turn: servo turn of the roll at full stick, rad, one for all or by corner name. kits: by corner name.
        noise: one sigma of a reading, rad.
    """
    named = {corner.name: corner for corner in corners}
    unknown = sorted(set(readings) - set(named))
    if unknown:
        raise ValueRangeError(f"no corner is called {', '.join(unknown)}; there are {', '.join(named)}")
    places = {name: positions if isinstance(positions, Positions) else positions[name] for name in named}
    turns = {name: turn if isinstance(turn, (int, float)) else turn[name] for name in named}
    weighed = {
        name: _weigh(
            named[name],
            places,
            row,
            turn=turns[name],
            kit=(kits or {}).get(name, Kit()),
            others={key: (corner, turns[key]) for key, corner in named.items() if key != name},
            noise=noise,
        )
        for name, row in readings.items()
    }
    shares = probabilities({name: row.verdicts for name, row in weighed.items()})
    found = {name: _conclude(row, shares[name]) for name, row in weighed.items()}
    missing = tuple(name for name in named if name not in found)
    stop = tuple(name for name, proof in found.items() if proof.do_not_fly)
    bad = [proof.text for proof in found.values() if not proof.good]
    if missing:
        bad.append(f"Not measured yet: {', '.join(name.replace('_', ' ') for name in missing)}.")
    return BenchProof(
        corners=found,
        good=not bad,
        do_not_fly=stop,
        missing=missing,
        alike=_alike(corners, places, turns, noise),
        text=" ".join(bad) or _good_text(found),
    )
