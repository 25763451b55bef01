"""A flown sequence part by part: how even the speed is and why not, height and box, load, energy and what is left."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.flown_path import EVEN, Ended, FlownPath
from evenfall.lines.loaded import LoadedDrag
from evenfall.plane.airframe import Plane
from evenfall.power.battery import rest_voltage_per_cell
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

_OPEN, _SHUT = 0.98, 0.02
"""Stick from which throttle counts as full, and below which as closed."""
_AFTER = 4.0
"""s after a stall turn, spin or snap during which slowness is put down to it. Ours, no source."""
_MOST_OF_IT = 0.5
"""Share of a deviation from which the wind is its cause. Ours, no source."""


class Why(Enum):
    """Why the speed of a part is off the wanted one. The value is stable (it appears in JSON)."""

    EVEN = "even"
    SLOWED = "slowed"
    BRAKES_AT_END = "brakes_at_end"
    CLOSED_BAND = "closed_band"
    FULL_THROTTLE = "full_throttle"
    AFTER_SLOW = "after_slow"
    SNAP = "snap"
    THROTTLE_LATE = "throttle_late"
    NO_POWER = "no_power"
    WIND = "wind"

    @property
    def text(self) -> str:
        """One sentence: the cause and what would help."""
        return _WHY[self]

    @property
    def short(self) -> str:
        """The cause in a few words; empty where even."""
        return _SHORT[self]


_SHORT = {
    Why.EVEN: "",
    Why.SLOWED: "slowed on purpose",
    Why.BRAKES_AT_END: "brakes at their end",
    Why.CLOSED_BAND: "closed band",
    Why.FULL_THROTTLE: "full throttle",
    Why.AFTER_SLOW: "gathering speed",
    Why.SNAP: "snap",
    Why.THROTTLE_LATE: "throttle on its way",
    Why.NO_POWER: "battery empty",
    Why.WIND: "wind",
}
_WHY = {
    Why.EVEN: "As even as wanted.",
    Why.SLOWED: "Speed is given up on purpose, for a stall turn or a spin.",
    Why.BRAKES_AT_END: "Too fast with the stick closed: crow and motor brake are at their end. More of either helps.",
    Why.CLOSED_BAND: "The stick lies where the motor is held closed or does not run yet: the speed comes and goes.",
    Why.FULL_THROTTLE: "Too slow at full throttle: more power, less drag or a flatter line helps.",
    Why.AFTER_SLOW: "A stall turn or a spin before it has taken the speed.",
    Why.SNAP: "A snap takes speed away.",
    Why.THROTTLE_LATE: "Hand, motor and crow follow later than the path turns.",
    Why.NO_POWER: "The battery is empty.",
    Why.WIND: "The moving air makes more than half of it: in still air the same plane and hand come closer.",
}


@dataclass(frozen=True, kw_only=True)
class FlownPart:
    """One part of a figure as flown by the first plane.

    Args:
        figure, part: indices into the sequence.
        start, end: place on the path, m. begun, ended: time, s.
        speed, slowest, fastest: mean in time and extremes, m/s.
        off: mean deviation from the wanted speed, m/s. worst: largest deviation, m/s, where speed is to be even;
            0 where it is given up on purpose throughout. worst_at: place of it, m.
        why: cause of `worst`. by_wind: share of `worst` that the moving air explains, m/s: speed over the ground less
            that of the same plane, plan and hand in still air at the same place; head wind along the path, gusts and
            what the pilot does about them together. Against the sign of `worst` where the wind helps. None in still
            air, and where the plane in still air did not get so far.
        thrust, drag, held: means along the way, N; `held` is weight along the path.
        low, high: height, m. aside, up: greatest angles as judged, rad.
        load_low, load_high: force across the path over weight, towards the canopy.
        stick, deployment: means in time, 0-1.
        counted: speed is to be even on it somewhere.
        estimated: flown as an estimate (snap, spin).
    """

    figure: int
    part: int
    start: float
    end: float
    begun: float
    ended: float
    speed: float
    slowest: float
    fastest: float
    off: float
    worst: float
    worst_at: float
    why: Why
    by_wind: float | None
    thrust: float
    drag: float
    held: float
    low: float
    high: float
    aside: float
    up: float
    load_low: float
    load_high: float
    stick: float
    deployment: float
    counted: bool
    estimated: bool


@dataclass(frozen=True, kw_only=True)
class FlightReport:
    """A flight as a whole.

    Args:
        parts: those that were flown. ended: how, `Ended.BLOWN` where still air would have let it fly on; end: place, m.
        unevenness: root mean square of speed over wanted speed less one, in time, where speed is to be even.
        within: share of that time within 5 %.
        duration: s. charge: used, A s; left: share of the battery, None with a constant battery.
        energy: out of the cells, J. current: greatest, A. voltage: lowest under load, V. empty: place, m, or None.
        fastest: m/s. low, high: height, m. aside, up: greatest angles as judged, rad.
    """

    parts: tuple[FlownPart, ...]
    ended: Ended
    end: float
    unevenness: float
    within: float
    duration: float
    charge: float
    left: float | None
    energy: float
    current: float
    voltage: float
    empty: float | None
    fastest: float
    low: float
    high: float
    aside: float
    up: float


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """The first plane's flight as arrays over the steps it flew, the entry first."""

    done: FlownPath
    wanted: float
    place: Floats
    owner: list[tuple[int, int]]
    how: list[str]
    time: Floats
    speed: Floats
    stick: Floats
    out: Floats
    closed: NDArray[np.bool_]
    command: Floats
    even: NDArray[np.bool_]
    calm: Floats | None
    thrust: Floats
    drag: Floats
    height: Floats
    aside: Floats
    up: Floats
    load: Floats


def flight_report(
    done: FlownPath,
    plane: Plane,
    plan: Plan,
    *,
    wanted: float,
    charge_left: float | None,
    calm: Floats | None = None,
) -> FlightReport:
    """The flight of the first plane; `wanted` in m/s, `charge_left` as it was flown with.

    `calm`: speed of the same plane in still air place by place, m/s, (steps,), nan where it did not get; None where
    the flight itself was in still air.
    """
    seen = _seen(done, plan, wanted, calm)
    spans = np.diff(seen.time, prepend=seen.time[0])
    off = seen.speed / wanted - 1.0
    weights = spans * seen.even
    total = float(weights.sum())
    flow = electrics(done, plane, charge_left)
    charge, steps = done.row("charge")[:, 0], slice(0, len(seen.place))
    empty = float(done.empty[0])
    return FlightReport(
        parts=tuple(_parts(seen, plane)),
        ended=_ended(done, len(seen.place), calm),
        end=float(done.end[0]),
        unevenness=math.sqrt(float((weights * off**2).sum()) / total) if total > 0 else 0.0,
        within=float(weights[np.abs(off) <= EVEN].sum()) / total if total > 0 else 0.0,
        duration=float(seen.time[-1]),
        charge=float(charge[-1]),
        left=None if flow.left is None else float(flow.left[-1]),
        energy=float(done.row("battery")[len(seen.place) - 1, 0]),
        current=float(flow.current[steps].max()),
        voltage=float(flow.voltage[steps].min()),
        empty=empty if math.isfinite(empty) else None,
        fastest=float(seen.speed.max()),
        low=float(seen.height.min()),
        high=float(seen.height.max()),
        aside=float(np.abs(seen.aside).max()),
        up=float(seen.up.max()),
    )


def _ended(done: FlownPath, steps: int, calm: Floats | None) -> Ended:
    """How the first plane ended: by the wind where the same plane in still air got farther."""
    short = done.ended[0] in (Ended.STALLED, Ended.STOPPED)
    if short and calm is not None and steps < len(calm) and math.isfinite(calm[steps]):
        return Ended.BLOWN
    return done.ended[0]


@dataclass(frozen=True, kw_only=True)
class Electrics:
    """The first plane's power train place by place, (steps,): means of the step that ends there.

    Args:
        thrust: N. current: A out of the battery. voltage: V under it. left: share of the charge; None where constant.
    """

    thrust: Floats
    current: Floats
    voltage: Floats
    left: Floats | None


def electrics(done: FlownPath, plane: Plane, charge_left: float | None) -> Electrics:
    """Thrust, current, voltage and charge of a flight begun with `charge_left`."""
    charge, time = done.row("charge")[:, 0], done.row("time")[:, 0]
    current = np.diff(charge, prepend=0.0) / np.maximum(np.diff(time, prepend=-1.0), 1e-9)
    thrust = np.diff(done.row("thrust")[:, 0], prepend=0.0) / np.maximum(np.diff(done.place, prepend=-1.0), 1e-9)
    thrust[0], current[0] = thrust[1], current[1]
    left = None if charge_left is None else np.maximum(charge_left - charge / plane.battery.capacity, 0.0)
    rest = plane.battery.rest_voltage if left is None else plane.battery.cells * rest_voltage_per_cell(left)
    return Electrics(thrust=thrust, current=current, voltage=rest - plane.battery.resistance * current, left=left)


def incidences(done: FlownPath, forces: LoadedDrag, plane: Plane, thrust: Floats) -> Floats:
    """Incidence of the first plane's thrust line place by place, rad, (steps,); `thrust` in N."""
    lift = G0 * plane.mass.all_up * done.load_factors()[:, 0]
    return forces.incidence(done.row("speed")[:, 0], lift, thrust, done.row("deployment")[:, 0])


def _seen(done: FlownPath, plan: Plan, wanted: float, calm: Floats | None) -> _Seen:
    steps = int(np.searchsorted(done.place, done.end[0] + 1e-6))
    pieces = [done.path.pieces[number] for number in done.piece[:steps].tolist()]
    where = done.positions()[:steps]
    away = done.path.sequence.distance + where[:, 1]
    how = [piece.how for piece in pieces]
    ways = np.maximum(np.diff(done.place[:steps], prepend=done.place[0] - 1.0), 1e-9)
    return _Seen(
        done=done,
        wanted=wanted,
        place=done.place[:steps],
        owner=[(piece.figure, piece.part) for piece in pieces],
        how=list(how),
        time=done.row("time")[:steps, 0],
        speed=done.row("speed")[:steps, 0],
        stick=done.row("stick")[:steps, 0],
        out=done.row("deployment")[:steps, 0],
        closed=done.closed[:steps, 0],
        command=plan.motor.command(done.row("stick")[:steps, 0]),
        even=done.counted(wanted)[:steps],
        calm=calm,
        thrust=np.diff(done.row("thrust")[:steps, 0], prepend=0.0) / ways,
        drag=np.diff(done.row("drag")[:steps, 0], prepend=0.0) / ways,
        height=where[:, 2],
        aside=np.arctan2(where[:, 0], away),
        up=np.arctan2(where[:, 2], np.hypot(where[:, 0], away)),
        load=done.load_factors()[:steps, 0],
    )


def _parts(seen: _Seen, plane: Plane) -> Iterator[FlownPart]:
    weight = plane.mass.all_up * G0
    first = 1
    while first < len(seen.place):
        last = first
        while last + 1 < len(seen.place) and seen.owner[last + 1] == seen.owner[first]:
            last += 1
        rows = slice(first, last + 1)
        spans = np.diff(seen.time[first - 1 : last + 1])
        ways = np.diff(seen.place[first - 1 : last + 1])
        length, lasting = float(ways.sum()), max(float(spans.sum()), 1e-9)
        even = seen.even[rows]
        off = seen.speed[rows] - seen.wanted
        at = int(np.argmax(np.abs(off) * even)) + first
        worst = float(seen.speed[at] - seen.wanted) if even.any() else 0.0
        by_wind = None
        if seen.calm is not None and even.any() and math.isfinite(seen.calm[at]):
            by_wind = float(seen.speed[at] - seen.calm[at])
        mean = length / lasting
        yield FlownPart(
            figure=seen.owner[first][0],
            part=seen.owner[first][1],
            start=float(seen.place[first - 1]),
            end=float(seen.place[last]),
            begun=float(seen.time[first - 1]),
            ended=float(seen.time[last]),
            speed=mean,
            slowest=float(seen.speed[rows].min()),
            fastest=float(seen.speed[rows].max()),
            off=mean - seen.wanted,
            worst=worst,
            worst_at=float(seen.place[at]),
            why=_why(seen, at, worst, by_wind, plane, counted=bool(even.any())),
            by_wind=by_wind,
            thrust=float((seen.thrust[rows] * ways).sum()) / length,
            drag=float((seen.drag[rows] * ways).sum()) / length,
            held=weight * float(seen.height[last] - seen.height[first - 1]) / length,
            low=float(seen.height[first - 1 : last + 1].min()),
            high=float(seen.height[first - 1 : last + 1].max()),
            aside=float(np.abs(seen.aside[rows]).max()),
            up=float(seen.up[rows].max()),
            load_low=float(seen.load[rows].min()),
            load_high=float(seen.load[rows].max()),
            stick=float((seen.stick[rows] * spans).sum()) / lasting,
            deployment=float((seen.out[rows] * spans).sum()) / lasting,
            counted=bool(even.any()),
            estimated=any(how in ("snap", "spin") for how in seen.how[rows]),
        )
        first = last + 1


def _why(seen: _Seen, at: int, worst: float, by_wind: float | None, plane: Plane, *, counted: bool) -> Why:
    """The cause of a deviation (m/s) at step `at`, of which the wind explains `by_wind` (m/s)."""
    recent = seen.how[int(np.searchsorted(seen.time, seen.time[at] - _AFTER, side="right")) : at + 1]
    slow = "stall turn" in recent or "spin" in recent
    if not counted:
        return Why.AFTER_SLOW if slow and seen.how[at] not in ("stall turn", "spin") else Why.SLOWED
    if abs(worst) <= EVEN * seen.wanted:
        return Why.EVEN
    if by_wind is not None and by_wind / worst > _MOST_OF_IT:
        return Why.WIND
    stick, command = float(seen.stick[at]), float(seen.command[at])
    if seen.place[at] >= seen.done.empty[0]:
        return Why.NO_POWER
    if worst > 0:
        if stick <= _SHUT:
            return Why.BRAKES_AT_END
        between = plane.controller.closed_below <= command < plane.controller.start_stick
        return Why.CLOSED_BAND if between or seen.closed[at] else Why.THROTTLE_LATE
    if slow:
        return Why.AFTER_SLOW
    if "snap" in recent:
        return Why.SNAP
    return Why.FULL_THROTTLE if stick >= _OPEN else Why.THROTTLE_LATE
