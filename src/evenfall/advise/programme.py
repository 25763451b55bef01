"""The most even speed over a whole programme: crow and motor-brake level tried over doubts, wind and battery.

Every trial flies the programme once with a batch of planes: as it is, with the largest doubts, with a weak battery, and
in several days of wind. Crow of another size is the same tables at a scaled deployment, so that a trial costs its
flight alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.lines.blown import side_by_side
from evenfall.lines.flown_path import Ended, FlownPath
from evenfall.lines.fly import fly_path
from evenfall.lines.fly_spread import unevenness_of
from evenfall.lines.holding import SlopeDrag, holding_sticks, stick_thrust
from evenfall.lines.loaded import LoadedForces
from evenfall.lines.path import Path
from evenfall.lines.pilot import pilot_of
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.variants import Variant
from evenfall.radio.plan import MotorChoice, Plan
from evenfall.wind import WindDay

Floats = NDArray[np.float64]

SHARES = (0.2, 0.4, 0.6, 0.8, 1.0)
"""Crow tried at first, in shares of the most there can be."""
WEAK = (1.6, 0.85)
"""Resistance and capacity of a weak battery over the plane file's. Common practice, no source."""
_FAILED = 1.0
"""Unevenness that stands for a flight that did not come to its end."""


@dataclass(frozen=True, kw_only=True)
class Course:
    """What every trial flies: picklable, so that two processes can share the work.

    Args:
        unit, wanted: power train and wanted speed (m/s). plan: with the most crow there can be.
        forces, drags: tables for that crow. path: of the programme.
        variants: changed planes, the plane itself first. winds: m/s of the days tried. seeds: of their gusts.
    """

    unit: PowerUnit
    wanted: float
    plan: Plan
    forces: LoadedForces
    drags: SlopeDrag
    path: Path
    variants: tuple[Variant, ...]
    winds: tuple[float, ...] = (0.0, 4.0, 8.0)
    seeds: tuple[int, ...] = (1, 2)
    speed: float | None = None


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One plan over the programme.

    Args:
        level: of the motor brake. share: crow over the most there can be.
        calm, doubt: unevenness of the plane as it is, and root mean square over the changed planes.
        weak: with a weak battery. windy: by wind, root mean square over the gusts' seeds.
        energy: out of the cells in calm air, J. left: charge left, 0-1. ended: of the plane as it is in calm air.
    """

    level: str
    share: float
    calm: float
    doubt: float
    weak: float
    windy: tuple[float, ...]
    energy: float
    left: float
    ended: Ended

    @property
    def cost(self) -> float:
        """Root mean square of the unevenness over everything tried."""
        parts = (self.calm, self.doubt, self.weak, *self.windy)
        return math.sqrt(sum(part**2 for part in parts) / len(parts))


def trial_plan(course: Course, *, level: str, share: float) -> Plan:
    """The plan of a trial on the course's tables: deployment scaled, its own level."""
    plan = course.plan
    named = course.unit.plane.controller.level(level)
    motor = MotorChoice(level=named.name, percent=named.percent, throttle_curve=plan.motor.throttle_curve)
    if plan.crow is None:
        return replace(plan, motor=motor)
    curve = tuple((stick, share * value) for stick, value in plan.crow.curve)
    return replace(plan, motor=motor, crow=replace(plan.crow, curve=curve))


def fly_trial(course: Course, *, level: str, share: float) -> Trial:
    """Fly one plan."""
    plan = trial_plan(course, level=level, share=share)
    thrust = stick_thrust(course.unit, plan, wanted=course.wanted)
    pilot = pilot_of(holding_sticks(course.unit, plan, course.drags, thrust))
    itself = course.variants[0]
    battery = itself.plane.battery
    worn = replace(battery, resistance=WEAK[0] * battery.resistance, capacity=WEAK[1] * battery.capacity)
    weak = replace(itself, plane=replace(itself.plane, battery=worn))
    days = [WindDay(speed=wind) for wind in course.winds if wind > 0]
    still, blows = len(course.variants) + 1, len(course.seeds)
    done = fly_path(
        course.unit,
        plan,
        course.path,
        course.forces,
        wanted=course.wanted,
        pilot=pilot,
        variants=(*course.variants, weak, *(itself for _ in days for _ in course.seeds)),
        charge_left=1.0,
        wind=side_by_side(days, still=still, speed=course.wanted, seeds=course.seeds) if days else None,
        speed=course.speed,
    )
    uneven = _unevenness(done, course.wanted)
    charge = float(done.row("charge")[-1, 0])
    return Trial(
        level=level,
        share=share,
        calm=float(uneven[0]),
        doubt=_rms(uneven[: still - 1]),
        weak=float(uneven[still - 1]),
        windy=tuple(_rms(uneven[still + k * blows : still + (k + 1) * blows]) for k in range(len(days))),
        energy=float(done.row("battery")[-1, 0]),
        left=1.0 - charge / battery.capacity,
        ended=done.ended[0],
    )


def _unevenness(done: FlownPath, wanted: float) -> Floats:
    """Unevenness of every plane; `_FAILED` where it did not fly to the end."""
    values = unevenness_of(done, wanted)
    flown = np.array([end is Ended.FLOWN for end in done.ended])
    return np.where(flown, values, _FAILED)


def _rms(values: Floats) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def refined(trials: Sequence[Trial], *, level: str) -> float | None:
    """Share of crow at the lowest point of the parabola through the best trial of a level and its neighbours; None
    where the best lies at an end or the parabola adds nothing."""
    mine = sorted((item for item in trials if item.level == level), key=lambda item: item.share)
    if len(mine) < 3:
        return None
    best = min(range(len(mine)), key=lambda k: mine[k].cost)
    if best in (0, len(mine) - 1):
        return None
    x, y = zip(*((item.share, item.cost) for item in mine[best - 1 : best + 2]), strict=True)
    bend, slope, _ = np.polyfit(x, y, 2)
    if bend <= 0:
        return None
    found = float(np.clip(-slope / (2 * bend), x[0], x[2]))
    return None if min(abs(found - one) for one in x) < 0.02 else found


def front(trials: Sequence[Trial]) -> tuple[Trial, ...]:
    """Trials that no other beats in both evenness and energy, by rising energy."""
    kept: list[Trial] = []
    for item in sorted(trials, key=lambda trial: (trial.energy, trial.cost)):
        if not kept or item.cost < kept[-1].cost:
            kept.append(item)
    return tuple(kept)


def best_for_wind(trials: Sequence[Trial], which: int | None) -> Trial:
    """The evenest trial in the `which`-th wind above calm; None is calm air."""
    return min(trials, key=lambda item: item.calm if which is None else item.windy[which])
