"""What measured angles say about the bench list: every corner's fault, the elevator's share, what it costs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import InputError, ValueRangeError
from evenfall.lines.bench import BenchCorner, BenchList, roll_share, stick_worth, tolerance
from evenfall.linkage.corner import Corner
from evenfall.linkage.fourbar import forward, square, with_offset, working_range
from evenfall.linkage.proof import CENTRE_TOLERANCE, GAUGE_NOISE, BenchProof, CornerProof, Positions, Readings, prove
from evenfall.logs.readings import Reading
from evenfall.logs.readings_form import FormRow

Array = NDArray[np.float64]

_BACK = 6.0 * GAUGE_NOISE
"""A surface that goes back by more than this while its servo goes on has turned at a dead point, rad."""
_FAR = math.radians(3.0)
"""A reading this far off that nothing explains must not fly, rad. Common practice, no source."""
_CLEAR = math.radians(1.0)
"""An elevator share smaller than this has no way that could be wrong, rad."""


@dataclass(frozen=True, kw_only=True)
class OffReading:
    """A reading with what the list wants; angles in rad."""

    reading: Reading
    wanted: float
    tolerance: float

    @property
    def off(self) -> float:
        """Read less wanted, rad."""
        return self.reading.angle - self.wanted


@dataclass(frozen=True, kw_only=True)
class TailProof:
    """The elevator's share with crow.

    Args:
        wanted, got: change of the elevator from crow in to crow out, rad; got None where not measured at both.
        good, do_not_fly: the verdict.
    """

    wanted: float
    got: float | None
    good: bool
    do_not_fly: bool


@dataclass(frozen=True, kw_only=True)
class ListProof:
    """What the readings say.

    Args:
        proof: fault, probability and cure of every measured corner.
        unexplained: corners whose readings fit no single fault and lie far off: not to be flown either.
        over_centre: corners whose arm passes a dead point within the sticks' reach.
        tail: the elevator; None where there is no share or no reading of it.
        roll_loss: change of the plane's roll throw with crow out, share, mean over the measured corners.
        lean: roll the ailerons make with crow out and the stick in the middle, as a share of aileron stick, right
            positive; None where not measured at every corner. lean_spread: one sigma.
        off: every reading with what was wanted, in the order of the file.
        skipped: readings that could not be used because a limit comes before their position.
    """

    proof: BenchProof
    unexplained: tuple[str, ...]
    over_centre: tuple[str, ...]
    tail: TailProof | None
    roll_loss: float
    lean: float | None
    lean_spread: float
    off: tuple[OffReading, ...]
    skipped: tuple[Reading, ...]

    @property
    def do_not_fly(self) -> bool:
        """Something found must not fly."""
        return bool(
            self.proof.do_not_fly
            or self.unexplained
            or self.over_centre
            or (self.tail is not None and self.tail.do_not_fly)
        )

    @property
    def good(self) -> bool:
        """Every corner was measured and is good, and the elevator too where it was measured."""
        return self.proof.good and not self.over_centre and (self.tail is None or self.tail.good)


def form_rows(bench: BenchList) -> tuple[FormRow, ...]:
    """Where to measure: the nine positions in the phase with the largest aileron throw and crow live.

    Without crow the three of the stick alone.
    """
    live = [phase for phase in bench.plan.phases if phase.crow_live] or list(bench.plan.phases)
    phase = max(live, key=lambda p: p.aileron)
    outs = [(1.0, "crow in")]
    if bench.half is not None and phase.crow_live:
        outs += [(bench.half, "crow half out"), (0.0, "crow out")]
    sides = ((0.0, "stick middle"), (-1.0, "stick left"), (1.0, "stick right"))
    return tuple(
        FormRow(phase=phase.name, throttle=throttle, aileron=aileron, words=f"{out}, {side}")
        for throttle, out in outs
        for aileron, side in sides
    )


def wanted_angle(bench: BenchList, row: FormRow | Reading, surface: str) -> tuple[float, float]:
    """What the list wants at a position, and its tolerance, rad."""
    phase = bench.plan.named(row.phase)
    out = bench.deployment(phase, row.throttle)
    if surface == "elevator":
        return bench.tail(phase, row.throttle), tolerance(0.0)
    allowed = tolerance(float(roll_share(phase, out, row.aileron)) * phase.aileron)
    return bench.corners[surface].angle(phase, out, row.aileron), allowed


def judge_list(bench: BenchList, readings: Sequence[Reading]) -> ListProof:
    """Judge readings against the list; raises `InputError` where the plane file has no linkages to judge by.

    Readings of all phases are used together: each stick becomes a share of the corner's largest roll turn.
    """
    if not bench.provable:
        raise InputError(
            "readings can be judged only where the plane file describes servo and linkage of every aileron: "
            "add [servo.aileron] and [linkage.aileron]"
        )
    ailerons = [reading for reading in readings if reading.surface in bench.corners]
    if not ailerons:
        raise InputError("no aileron was measured: fill in at least one angle of one aileron")
    usable = [reading for reading in ailerons if not _beyond(bench, reading)]
    if not usable:
        raise InputError("every reading stands where a servo meets its limit before the stick's end: measure elsewhere")
    fitted = {name: corner.fitted for name, corner in bench.corners.items() if corner.fitted is not None}
    proof = _prove(bench, fitted, usable)
    over = tuple(
        name
        for name, found in proof.corners.items()
        if _passes_dead_point(bench, bench.corners[name], found, [r for r in usable if r.surface == name])
        or _turns_back(bench, name, usable)
    )
    off = tuple(_off(bench, reading) for reading in readings)
    far = {row.reading.surface for row in off if abs(row.off) > _FAR}
    lean, spread = _lean(bench, ailerons)
    costs = [found.roll_cost for found in proof.corners.values()]
    return ListProof(
        proof=proof,
        unexplained=tuple(name for name, found in proof.corners.items() if not found.fits and name in far),
        over_centre=over,
        tail=_judge_tail(bench, readings),
        roll_loss=math.fsum(costs) / len(costs),
        lean=lean,
        lean_spread=spread,
        off=off,
        skipped=tuple(reading for reading in ailerons if reading not in usable),
    )


def _beyond(bench: BenchList, reading: Reading) -> bool:
    phase = bench.plan.named(reading.phase)
    out = bench.deployment(phase, reading.throttle)
    return bench.corners[reading.surface].held(phase, out, reading.aileron)


def _off(bench: BenchList, reading: Reading) -> OffReading:
    wanted, allowed = wanted_angle(bench, reading, reading.surface)
    return OffReading(reading=reading, wanted=wanted, tolerance=allowed)


def _prove(bench: BenchList, fitted: dict[str, Corner], usable: Sequence[Reading]) -> BenchProof:
    """Every corner judged; its positions are shares of the largest roll turn that the phases read ask of it."""
    phases = {phase.name: phase for phase in bench.plan.phases}
    used = {reading.phase for reading in usable}
    most = {
        name: max(
            corner.turns[phase] * max(1.0, 1.0 + phases[phase].roll_boost) for phase in used if phase in corner.turns
        )
        for name, corner in bench.corners.items()
    }
    rows: dict[tuple[str, float, float], int] = {}
    for reading in usable:
        rows.setdefault((reading.phase, reading.throttle, reading.aileron), len(rows))
    read = {
        name: [reading for reading in usable if reading.surface == name]
        for name in fitted
        if any(reading.surface == name for reading in usable)
    }
    return prove(
        tuple(fitted.values()),
        {name: _positions(bench, name, rows, most[name]) for name in fitted},
        {
            name: Readings(
                position=tuple(rows[r.phase, r.throttle, r.aileron] for r in found),
                angle=tuple(r.angle for r in found),
                direction=tuple(r.direction for r in found),
            )
            for name, found in read.items()
        },
        turn=most,
        kits={name: corner.kit for name, corner in bench.corners.items()},
    )


def _positions(bench: BenchList, name: str, rows: Iterable[tuple[str, float, float]], most: float) -> Positions:
    """Positions of the sticks as shares of one corner's largest roll turn and of its crow travel in the servo."""
    corner = bench.corners[name]
    if corner.fitted is None:
        raise AssertionError("a corner without linkage has no positions")
    neutral = corner.fitted.neutral
    travel = corner.fitted.deployed - neutral
    sticks, outs = [], []
    for phase_name, throttle, aileron in rows:
        phase = bench.plan.named(phase_name)
        out = bench.deployment(phase, throttle)
        turn = float(roll_share(phase, out, aileron)) * corner.turns[phase_name]
        sticks.append(turn / most if most > 0 else 0.0)
        outs.append((float(corner.fitted.servo(out * corner.crow)) - neutral) / travel if abs(travel) > 1e-9 else 0.0)
    return Positions(stick=np.clip(sticks, -1.0, 1.0), deployment=np.clip(outs, 0.0, 1.0))


def _extremes(bench: BenchList, corner: BenchCorner) -> Array:
    """Arm angles from square at every end of the sticks in every phase, rad."""
    asked = []
    for phase in bench.plan.phases:
        outs = [0.0, 1.0] if phase.crow_live and bench.half is not None else [0.0]
        asked += [corner.command(phase, out, [-1.0, 1.0]) for out in outs]
    return np.concatenate(asked)


def _passes_dead_point(bench: BenchList, corner: BenchCorner, found: CornerProof, rows: Sequence[Reading]) -> bool:
    """An arm that stands as the readings say goes past a dead point at some end of the sticks."""
    fitted = corner.fitted
    if fitted is None or found.fault in ("reversed", "swapped plugs"):
        return False
    if found.fits:
        fit = found.fit
        if not (fit.known[1] and fit.known[2]):
            return False
        offset, gain = fit.offset, fit.gain
    else:
        arm_offset = _arm_of(bench, corner, rows)
        if arm_offset is None:
            return False
        offset, gain = arm_offset, 1.0
    span = working_range(with_offset(fitted.bar, fitted.neutral + offset))
    turned = fitted.centre + gain * (_extremes(bench, corner) - fitted.centre)
    arm = float(square(fitted.bar)) + offset + turned
    return bool(np.any(arm < span.low - 1e-6) or np.any(arm > span.high + 1e-6))


def _arm_of(bench: BenchList, corner: BenchCorner, rows: Sequence[Reading]) -> float | None:
    """Arm offset against planned, rad, that explains readings no single fault explains; None where none does.

    Scan of the exact four-bar with its rod set to neutral, the centre free: chi2 within 5 sigma of its mean.
    """
    fitted = corner.fitted
    if fitted is None or len(rows) < 5:
        return None
    phases = {phase.name: phase for phase in bench.plan.phases}
    servo = np.array(
        [float(corner.command(phases[r.phase], bench.deployment(phases[r.phase], r.throttle), r.aileron)) for r in rows]
    )
    read, best = np.array([row.angle for row in rows]), (math.inf, 0.0)
    for offset in np.radians(np.arange(-85.0, 85.5, 0.5)):
        try:
            bar = with_offset(fitted.bar, fitted.neutral + float(offset))
        except ValueRangeError:
            continue
        left = read - forward(bar, float(square(fitted.bar)) + servo + offset).throw
        chi2 = float(np.sum(((left - left.mean()) / GAUGE_NOISE) ** 2))
        best = min(best, (chi2, float(offset)))
    n = len(rows)
    return best[1] if best[0] <= n + 5.0 * math.sqrt(2.0 * n) else None


def _turns_back(bench: BenchList, name: str, usable: Sequence[Reading]) -> bool:
    """The surface turns near one end of the travel and keeps going back while the servo goes on: two steps or more,
    or one too large for a slip of the gauge."""
    corner = bench.corners[name]
    if corner.fitted is None:
        return False
    for direction in (1, -1, 0):
        points: dict[float, list[float]] = {}
        for reading in usable:
            if reading.surface == name and reading.direction == direction:
                phase = bench.plan.named(reading.phase)
                out = bench.deployment(phase, reading.throttle)
                key = round(float(corner.command(phase, out, reading.aileron)), 4)
                points.setdefault(key, []).append(reading.angle)
        angle = np.array([float(np.mean(points[key])) for key in sorted(points)])
        if angle.size >= 5 and _peaks_inside(angle):
            return True
    return False


def _peaks_inside(angle: Array) -> bool:
    """One way up to a peak, then back by more than noise over the last two points or more."""
    for run in (angle, -angle, angle[::-1], -angle[::-1]):
        top = int(run.argmax())
        if not 2 <= top <= run.size - 3:
            continue
        rises, falls = np.diff(run[: top + 1]), np.diff(run[top:])
        if rises.min() > -_BACK / 2 and falls.max() < _BACK / 2 and run[top] - run[-1] > _BACK:
            return True
    return False


def _lean(bench: BenchList, ailerons: Sequence[Reading]) -> tuple[float | None, float]:
    """Roll of the deployed ailerons with the stick in the middle as a share of normal aileron stick, and one sigma."""
    offs: dict[str, list[float]] = {name: [] for name in bench.corners}
    for reading in ailerons:
        phase = bench.plan.named(reading.phase)
        if reading.aileron == 0.0 and bench.deployment(phase, reading.throttle) > 0.99:
            offs[reading.surface].append(_off(bench, reading).off)
    if not offs or not all(offs.values()):
        return None, 0.0
    throw, count = bench.plan.throws.normal, len(offs)
    parts = [
        stick_worth(float(np.mean(rows)), throw, ailerons=count) * (1.0 if bench.corners[name].left else -1.0)
        for name, rows in offs.items()
    ]
    sigma = math.sqrt(math.fsum(GAUGE_NOISE**2 / len(rows) for rows in offs.values()))
    return math.fsum(parts), stick_worth(sigma, throw, ailerons=count)


def _judge_tail(bench: BenchList, readings: Sequence[Reading]) -> TailProof | None:
    """Straight line of the elevator over deployment, stick neutral, against the share wanted."""
    wanted = 0.0 if bench.plan.crow is None else bench.plan.crow.elevator
    rows = [reading for reading in readings if reading.surface == "elevator"]
    if not rows:
        return None
    out = np.array([bench.deployment(bench.plan.named(r.phase), r.throttle) for r in rows])
    angle = np.array([reading.angle for reading in rows])
    if np.ptp(out) < 0.5:
        return TailProof(wanted=wanted, got=None, good=True, do_not_fly=False)
    got = float(np.polyfit(out, angle, 1)[0])
    wrong = abs(wanted) > _CLEAR and got * wanted < 0 and abs(got) > CENTRE_TOLERANCE
    off = abs(got - wanted)
    return TailProof(wanted=wanted, got=got, good=off <= max(2 * GAUGE_NOISE, 0.1 * abs(wanted)), do_not_fly=wrong)
