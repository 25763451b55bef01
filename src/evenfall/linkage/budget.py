"""Travel budget: what crow, roll and trim use of the servo in every phase, what is left, and the cheapest cure.

Commands add in servo travel, as a radio mixes them: servo = neutral + deployment x crow travel + stick x roll turn
x (1 + boost x deployment) + trim. Angles in rad, arm angles from square.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.candidate import RETENTION_BAND
from evenfall.linkage.corner import CAUSES, Corner, corner_limits, mean_throw, roll_retention, turn_for_mean
from evenfall.linkage.fourbar import inverse, square, with_offset, working_range

Array = NDArray[np.float64]

_DEPLOYMENTS = np.linspace(0.0, 1.0, 5)
_STICKS = np.array([-1.0, 0.0, 1.0])


@dataclass(frozen=True, kw_only=True)
class PhaseUse:
    """What a phase asks of the ailerons.

    Args:
        name: as the pilot calls it.
        crow: whether crow is live.
        roll: mean of up and down at full stick, stowed, rad.
        trim: surface angle of trim either way, rad.
        boost: share of roll travel added at full deployment (0 for none).
    """

    name: str
    crow: bool
    roll: float
    trim: float = 0.0
    boost: float = 0.0

    def __post_init__(self) -> None:
        if not (0 <= self.roll < math.pi / 2 and 0 <= self.trim < math.pi / 4 and self.boost > -1):
            raise ValueRangeError(
                f"phase {self.name}: roll lies between 0 and 90 deg, trim between 0 and 45 deg, boost above -1; got "
                f"{math.degrees(self.roll):.1f} deg, {math.degrees(self.trim):.1f} deg, {self.boost}"
            )


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What may be changed on a corner to make the budget close.

    Args:
        arm_holes, horn_holes: radii available, m.
        arm_step: step of the arm on its spline, rad; 0 where it cannot be moved.
        shift_limit: greatest pulse shift of neutral as a servo turn, rad.
        throw_normal: mean throw at which the roll must stay within 5 % of the stowed one, rad.
    """

    arm_holes: tuple[float, ...] = ()
    horn_holes: tuple[float, ...] = ()
    arm_step: float = 0.0
    shift_limit: float = math.radians(25.0)
    throw_normal: float = math.radians(7.0)


@dataclass(frozen=True, kw_only=True)
class Share:
    """Use of one corner's travel in one phase; servo turns in rad.

    Args:
        crow, roll, trim: turn each uses (roll at full stick, with boost at full deployment).
        low, high: extreme arm angles asked, from square.
        left_low, left_high: turn left to the nearest limit pulling and pushing; negative where it breaks.
        low_cause, high_cause: what that limit is.
        closes: nothing is exceeded.
    """

    corner: str
    phase: str
    crow: float
    roll: float
    trim: float
    low: float
    high: float
    left_low: float
    left_high: float
    low_cause: str
    high_cause: str
    closes: bool


@dataclass(frozen=True, kw_only=True)
class Break:
    """Where the budget does not close, at its worst stick and deployment.

    Args:
        pushing: the limit met on the pushing side.
        cause: "servo stop", "over-centre", "hinge limit", "surface contact" or "out of reach".
        servo: servo turn missing, rad.
        surface: mean roll throw or crow missing at the surface, rad.
        stick, deployment: where it is worst.
        binding: the servo would push against a fixed surface and stall.
        text: in words.
    """

    corner: str
    phase: str
    pushing: bool
    cause: str
    servo: float
    surface: float
    stick: float
    deployment: float
    binding: bool
    text: str


@dataclass(frozen=True, kw_only=True)
class Cure:
    """One change that closes a corner's budget.

    Args:
        kind: "less crow", "less roll", "other hole", "more offset", "other tooth".
        amount: rad of crow, roll, offset or tooth; arm over horn for a hole.
        cost: share of what is given up, to rank by; judged, not physical.
        text: in words, with what it costs.
    """

    corner: str
    kind: str
    amount: float
    cost: float
    text: str


@dataclass(frozen=True, kw_only=True)
class Budget:
    """Every corner in every phase.

    Args:
        closes: nothing is exceeded anywhere.
        shares: one for each corner and phase.
        breaks: worst first.
        cures: cheapest first, for the corners that break.
        text: one or two sentences.
    """

    closes: bool
    shares: tuple[Share, ...]
    breaks: tuple[Break, ...]
    cures: tuple[Cure, ...]
    text: str


@dataclass(frozen=True, kw_only=True)
class _Case:
    """Arm angles asked in every corner case, axes deployment, stick, trim."""

    servo: Array
    crow: float
    roll: float
    trim: float
    unreached: str


def _case(corner: Corner, phase: PhaseUse) -> _Case:
    """Arm angles for every deployment, stick and trim of a phase, without regard to limits."""
    zero, span = square(corner.bar), working_range(corner.bar)
    ends = {"low": span.low - zero, "high": span.high - zero}
    turn = float(turn_for_mean(corner.bar, corner.neutral, phase.roll, **ends))
    most = float(mean_throw(corner.bar, corner.neutral, turn, **ends))
    unreached = "" if most >= phase.roll - 1e-6 else "roll"
    crow = 0.0
    if phase.crow:
        crow = corner.deployed - corner.neutral
        if not bool(inverse(corner.bar, corner.crow).reachable):
            unreached = "crow"
    trim = max(abs(float(t)) for t in corner.servo([phase.trim, -phase.trim]) - corner.neutral)
    out = (_DEPLOYMENTS if phase.crow else _DEPLOYMENTS[:1])[:, None, None]
    stick, trims = _STICKS[None, :, None], np.array([-trim, 0.0, trim])[None, None, :]
    roll_way = corner.roll_sign * corner.bar.sense
    servo = corner.neutral + out * crow + roll_way * stick * turn * (1.0 + phase.boost * out) + trims
    roll = turn * (1.0 + max(phase.boost, 0.0) * float(phase.crow))
    return _Case(servo=servo, crow=crow, roll=roll, trim=trim, unreached=unreached)


def _share(corner: Corner, phase: PhaseUse, case: _Case) -> Share:
    limits = corner_limits(corner)
    low, high = float(case.servo.min()), float(case.servo.max())
    left_low, left_high = low - float(limits.low), float(limits.high) - high
    return Share(
        corner=corner.name,
        phase=phase.name,
        crow=abs(case.crow),
        roll=case.roll,
        trim=case.trim,
        low=low,
        high=high,
        left_low=left_low,
        left_high=left_high,
        low_cause=CAUSES[int(limits.low_cause)],
        high_cause=CAUSES[int(limits.high_cause)],
        closes=min(left_low, left_high) >= -1e-9 and not case.unreached,
    )


def _breaks(corner: Corner, phase: PhaseUse, case: _Case, share: Share) -> list[Break]:
    """The ends at which this corner and phase break."""
    found = []
    where = f"{corner.name.replace('_', ' ')}, {phase.name}"
    if case.unreached:
        wanted = corner.crow if case.unreached == "crow" else phase.roll
        text = f"{where}: {abs(math.degrees(wanted)):.1f} deg of {case.unreached} is out of the linkage's reach."
        found.append(_break(corner, phase, case, pushing=True, cause="out of reach", servo=math.inf, text=text))
    for pushing, left, cause in ((False, share.left_low, share.low_cause), (True, share.left_high, share.high_cause)):
        if left < -1e-9 and not case.unreached:
            row = _break(corner, phase, case, pushing=pushing, cause=cause, servo=-left, text="")
            text = (
                f"{where}: {cause} {'pushing' if pushing else 'pulling'} is passed by {math.degrees(-left):.1f} deg of "
                f"servo ({math.degrees(row.surface):.1f} deg of surface) at stick {100 * row.stick:+.0f} %, crow "
                f"{100 * row.deployment:.0f} % out."
            )
            found.append(replace(row, text=text + (" The servo would stall there." if row.binding else "")))
    return found


def _break(
    corner: Corner, phase: PhaseUse, case: _Case, *, pushing: bool, cause: str, servo: float, text: str
) -> Break:
    flat = int(case.servo.argmax() if pushing else case.servo.argmin())
    out, stick, _ = np.unravel_index(flat, case.servo.shape)
    asked = float(case.servo.ravel()[flat])
    limits = corner_limits(corner)
    held = min(max(asked, float(limits.low)), float(limits.high))
    missing = abs(float(corner.throw(asked) - corner.throw(held))) if math.isfinite(servo) else math.inf
    return Break(
        corner=corner.name,
        phase=phase.name,
        pushing=pushing,
        cause=cause,
        servo=servo,
        surface=missing,
        stick=float(_STICKS[stick]),
        deployment=float(_DEPLOYMENTS[out]),
        binding=cause in ("hinge limit", "surface contact"),
        text=text,
    )


def closes(corner: Corner, phases: tuple[PhaseUse, ...]) -> bool:
    """Whether one corner stays inside every limit in every phase, at every stick, deployment and trim."""
    return all(_share(corner, phase, _case(corner, phase)).closes for phase in phases)


def travel_shares(corners: tuple[Corner, ...], phases: tuple[PhaseUse, ...]) -> tuple[Share, ...]:
    """The use of every corner's travel in every phase, without a search for cures: `Budget.shares` alone."""
    return tuple(_share(corner, phase, _case(corner, phase)) for corner in corners for phase in phases)


def _largest(good: Callable[[float], bool]) -> float | None:
    """Largest factor 0-1 for which `good` holds, to 1/1000; None if not even 0."""
    if not good(0.0):
        return None
    low, high = 0.0, 1.0
    for _ in range(10):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if good(mid) else (low, mid)
    return low


def _following(corner: Corner, part: float) -> Corner | None:
    """The corner with `part` of its crow and of its arm offset, rod readjusted."""
    return _valid(corner, crow=part * corner.crow, bar=with_offset(corner.bar, part * corner.neutral))


def _less_crow(corner: Corner, phases: tuple[PhaseUse, ...]) -> list[Cure]:
    """Less crow with the fitting as it is, or with the arm offset reduced in proportion: whichever costs less crow."""
    if corner.crow == 0.0 or not any(phase.crow for phase in phases):
        return []

    def follows(part: float) -> bool:
        new = _following(corner, part)
        return new is not None and closes(new, phases)

    fixed = _largest(lambda part: closes(replace(corner, crow=part * corner.crow), phases))
    moved = _largest(follows)
    options = [
        (fixed or 0.0, fixed is not None, ""),
        (moved or 0.0, moved is not None, ", arm offset less in proportion"),
    ]
    possible = [(part, note) for part, good, note in options if good]
    if not possible:
        return []
    part, note = max(possible, key=lambda option: option[0] - (0.02 if option[1] else 0.0))
    less = abs(corner.crow) * (1.0 - part)
    text = f"{math.degrees(less):.1f} deg less crow ({math.degrees(abs(corner.crow) - less):.1f} deg left){note}"
    return [Cure(corner=corner.name, kind="less crow", amount=less, cost=1.0 - part, text=text)]


def _less_roll(corner: Corner, phases: tuple[PhaseUse, ...]) -> list[Cure]:
    broken = {phase.name for phase in phases if not closes(corner, (phase,))}

    def cut(part: float) -> tuple[PhaseUse, ...]:
        return tuple(replace(p, roll=part * p.roll) if p.name in broken else p for p in phases)

    part = _largest(lambda f: closes(corner, cut(f)))
    if part is None:
        return []
    largest = max(phase.roll for phase in phases if phase.name in broken)
    less = (1.0 - part) * largest
    text = f"{math.degrees(less):.1f} deg less roll throw in {' and '.join(sorted(broken))}"
    text += f" ({math.degrees(part * largest):.1f} deg left)"
    return [Cure(corner=corner.name, kind="less roll", amount=less, cost=1.0 - part, text=text)]


def _keeps_roll(corner: Corner, choices: Choices) -> bool:
    return abs(roll_retention(corner, choices.throw_normal).retention - 1.0) <= RETENTION_BAND


def _valid(corner: Corner, **changes: object) -> Corner | None:
    try:
        return replace(corner, **changes)  # type: ignore[arg-type]
    except ValueRangeError:
        return None


def _refitted(corner: Corner, arm: float, horn: float, phases: tuple[PhaseUse, ...], choices: Choices) -> Corner | None:
    """The corner with other holes and the first offset, the present one first, that closes and keeps the roll."""
    for part in (1.0, 0.85, 0.7, 0.55, 0.4, 0.2, 0.0, 1.2):
        bar = with_offset(replace(corner.bar, arm=arm, horn=horn), part * corner.neutral)
        new = _valid(corner, bar=bar)
        if new is None or abs(new.neutral - new.centre) > choices.shift_limit:
            continue
        if closes(new, phases) and (corner.crow == 0.0 or _keeps_roll(new, choices)):
            return new
    return None


def _other_hole(corner: Corner, phases: tuple[PhaseUse, ...], choices: Choices) -> list[Cure]:
    """The pair of holes nearest to the present ratio that closes and keeps the roll."""
    here = float(np.asarray(corner.bar.arm)) / float(np.asarray(corner.bar.horn))
    arms = choices.arm_holes or (float(np.asarray(corner.bar.arm)),)
    horns = choices.horn_holes or (float(np.asarray(corner.bar.horn)),)
    usable = [horn for horn in horns if horn > abs(float(np.asarray(corner.bar.setback)))]
    pairs = sorted(((arm, horn) for arm in arms for horn in usable), key=lambda p: abs(p[0] / p[1] / here - 1.0))
    for arm, horn in pairs:
        new = _refitted(corner, arm, horn, phases, choices)
        if new is None:
            continue
        ratio = arm / horn
        text = (
            f"arm hole {1000 * arm:.1f} mm and horn hole {1000 * horn:.1f} mm with the arm "
            f"{math.degrees(new.neutral):+.0f} deg from square: servo load {100 * (ratio / here - 1.0):+.0f} %"
        )
        cost = 0.03 + 0.3 * abs(ratio / here - 1.0)
        return [Cure(corner=corner.name, kind="other hole", amount=ratio, cost=cost, text=text)]
    return []


def _more_offset(corner: Corner, phases: tuple[PhaseUse, ...], choices: Choices) -> list[Cure]:
    """The smallest change of the offset (by pulse, rod readjusted) that closes and keeps the roll."""
    for size in np.radians(np.arange(1.0, 31.0)):
        for move in (size, -size):
            offset = corner.neutral + float(move)
            if abs(offset - corner.centre) > choices.shift_limit:
                continue
            new = _valid(corner, bar=with_offset(corner.bar, offset))
            if new is not None and closes(new, phases) and _keeps_roll(new, choices):
                more = "more" if abs(offset) > abs(corner.neutral) else "less"
                text = f"{math.degrees(size):.0f} deg {more} arm offset by pulse, rod readjusted to neutral"
                cost = 0.05 + 0.1 * float(size) / math.radians(25.0)
                return [Cure(corner=corner.name, kind="more offset", amount=float(move), cost=cost, text=text)]
    return []


def _other_tooth(corner: Corner, phases: tuple[PhaseUse, ...], choices: Choices) -> list[Cure]:
    """Another tooth with the pulse shifted back: the arm stays where it is, the stops move."""
    if choices.arm_step <= 0:
        return []
    for count in (1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6):
        centre = corner.centre + count * choices.arm_step
        if abs(corner.neutral - centre) > choices.shift_limit:
            continue
        if closes(replace(corner, centre=centre), phases):
            plural, way = "" if abs(count) == 1 else "s", "pushing" if count > 0 else "pulling"
            text = f"arm {abs(count)} step{plural} of {math.degrees(choices.arm_step):.1f} deg {way}"
            text += ", neutral shifted back by pulse"
            cost = 0.04 + 0.01 * abs(count)
            amount = count * choices.arm_step
            return [Cure(corner=corner.name, kind="other tooth", amount=amount, cost=cost, text=text)]
    return []


def cures(corner: Corner, phases: tuple[PhaseUse, ...], choices: Choices) -> tuple[Cure, ...]:
    """Every single change that closes this corner's budget, cheapest first; each one verified by computing it again.

    Cost: the share of crow or roll given up; holes, teeth and pulse shift cost little, more where load or roll suffer.
    The ranking is a judgement, the closing is computed.
    """
    found = [
        *_less_crow(corner, phases),
        *_less_roll(corner, phases),
        *_other_hole(corner, phases, choices),
        *_more_offset(corner, phases, choices),
        *_other_tooth(corner, phases, choices),
    ]
    return tuple(sorted(found, key=lambda cure: cure.cost))


def travel_budget(
    corners: tuple[Corner, ...], phases: tuple[PhaseUse, ...], *, choices: dict[str, Choices] | None = None
) -> Budget:
    """Every corner case of sticks, deployment and trim against stops, dead points, hinge limits and contact.

    Args:
        corners: as fitted or planned, with their crow.
        phases: what each phase asks.
        choices: by corner name, what may be changed; without, only less crow, less roll and pulse shift are tried.

    Exact within the linear mix of the module's equation: the extremes of a straight mix lie at its corner cases.
    """
    if not corners or not phases:
        raise ValueRangeError("a travel budget needs at least one corner and one phase")
    shares: list[Share] = []
    breaks: list[Break] = []
    remedies: list[Cure] = []
    for corner in corners:
        broken = False
        for phase in phases:
            case = _case(corner, phase)
            share = _share(corner, phase, case)
            shares.append(share)
            breaks += [] if share.closes else _breaks(corner, phase, case, share)
            broken = broken or not share.closes
        if broken:
            remedies += cures(corner, phases, (choices or {}).get(corner.name, Choices()))
    breaks.sort(key=lambda row: -row.servo)
    remedies.sort(key=lambda cure: cure.cost)
    return Budget(
        closes=not breaks,
        shares=tuple(shares),
        breaks=tuple(breaks),
        cures=tuple(remedies),
        text=_text(shares, breaks, remedies),
    )


def _text(shares: list[Share], breaks: list[Break], remedies: list[Cure]) -> str:
    if breaks:
        first = next((cure for cure in remedies if cure.corner == breaks[0].corner), None)
        cure = f"Cheapest cure: {first.text}." if first else "No single change of crow, roll, hole or offset closes it."
        return f"{breaks[0].text} {cure}"
    tight = min(shares, key=lambda share: min(share.left_low, share.left_high))
    left = min(tight.left_low, tight.left_high)
    cause = tight.low_cause if tight.left_low < tight.left_high else tight.high_cause
    where = f"{tight.corner.replace('_', ' ')}, {tight.phase}"
    return f"The budget closes. Tightest: {where}, {math.degrees(left):.1f} deg of servo left to the {cause}."
