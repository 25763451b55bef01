"""The next flight: of what may be flown already, what is expected to shrink the doubt of the targets most.

Every flight that could be flown is turned into the evidence it would give, seen with what the pilot has. The engine's
slopes say what that evidence would tell of each correction, and the covariance after it is known before it is flown:
P' = (P^-1 + sum J' C^-1 J)^-1. It does not depend on what will be seen, only on where the slopes are taken. Source:
Bayesian experimental design for a linear model, Chaloner and Verdinelli (1995), Statistical Science 10, 273 (from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from evenfall.advise.bending import BendState
from evenfall.advise.change import AIMED, ROLL_TOLERANCE
from evenfall.advise.outlook import Balances, Prospects, ReadyPlane
from evenfall.fit.expected import expectations
from evenfall.fit.ground import Ground
from evenfall.fit.learned import Learned, prior
from evenfall.lines.line import SteadySpeed
from evenfall.lines.variants import Variant, variant_speeds
from evenfall.logs.evidence import (
    Damping,
    Evidence,
    Flight,
    Pull,
    ShaftSpeed,
    TimedLine,
    TimedRolls,
    TracedLine,
)
from evenfall.logs.evidence import (
    SteadySpeed as SteadySeen,
)
from evenfall.numeric import Status
from evenfall.plane.corrections import moved_along
from evenfall.radio.plan import Plan
from evenfall.tune.targets import Targets

Floats = NDArray[np.float64]

Instrument = Literal["recorder", "video", "stopwatch", "sound"]
LineName = Literal["level", "45 down", "vertical down", "bench"]
Kind = Literal["lines", "level passes", "rolls", "spin-down"]

PULL_SIGMA: dict[Instrument, float] = {
    "recorder": math.radians(2.0),
    "video": math.radians(1.0),
    "stopwatch": math.radians(2.0),
    "sound": math.radians(2.0),
}
"""One sigma of a bend as seen, rad/s: by video, or by eye (9 degrees over 100 m). Ours, no source."""
LINES_FLOWN: dict[Instrument, int] = {"recorder": 2, "video": 2, "stopwatch": 4, "sound": 2}
"""Lines of one flight: one timed by hand tells little, so there are more of them. Ours, no source."""
ENOUGH = 0.97
"""Where the doubt of every target keeps more than this share of itself, another flight tells nothing. Ours."""
_SLOPES: dict[LineName, float] = {
    "level": 0.0,
    "45 down": -math.pi / 4,
    "vertical down": -math.pi / 2,
    "bench": 0.0,
}
_LINE = 80.0
"""Metres of line that count."""
_NUDGE = 0.05
"""Change of a ln factor for the slopes of a steady speed."""


@dataclass(frozen=True, kw_only=True)
class Doubts:
    """One sigma of the targets: closed down speed m/s, bend of the vertical rad/s, roll (None without a boost)."""

    speed: float
    bend: float
    roll: float | None


@dataclass(frozen=True, kw_only=True)
class Bid:
    """One flight that could be flown.

    Args:
        crow: with crow, or with crow switched off. count: how many lines, passes or rolls.
        after: the doubts expected after it. cost: what is left, in squares of tolerances.
    """

    kind: Kind
    line: LineName
    crow: bool
    instrument: Instrument
    count: int
    after: Doubts
    cost: float


@dataclass(frozen=True, kw_only=True)
class NextFlight:
    """What to fly next.

    Args:
        best: the flight. others: the next best of another kind or line, best first.
        now: the doubts now. tolerance: what they are measured against.
        enough: no flight shrinks a doubt by more than a few percent.
        most: the target whose doubt it shrinks most.
    """

    best: Bid
    others: tuple[Bid, ...]
    now: Doubts
    tolerance: Doubts
    enough: bool
    most: Literal["down speed", "bend", "roll"]


def next_flight(
    ready: ReadyPlane,
    plan: Plan,
    learned: Learned | None,
    *,
    unlocked: Collection[LineName],
    instruments: Collection[Instrument],
    pulls: Iterable[tuple[Plan, Pull]] = (),
    targets: Targets | None = None,
    balances: Balances | None = None,
    ground: Ground | None = None,
) -> NextFlight | None:
    """The flight that is expected to shrink the doubt of the targets most.

    Args:
        ready: the plane as its file has it, made ready. plan: as it will be flown.
        unlocked: lines that may be flown already; "bench" for what needs no flight.
        instruments: what the pilot has. pulls, targets, balances: as in `next_change`.
        ground: of this plane and plan where it is there.

    None where nothing may be flown with anything, or the plan has no steady vertical down.
    """
    aims = AIMED if targets is None else targets
    kept = Balances(ready=ready) if balances is None else balances
    prospects = Prospects(kept, learned, pulls=pulls, home=plan.motor.level)
    near, estimate = prospects.steady(plan), prospects.speed(plan)
    if near is None or estimate is None:
        return None
    known = prior() if learned is None else learned
    flights = _flights(prospects, plan, near, unlocked, instruments)
    if not flights:
        return None
    footing = ground or Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted)
    slopes = speed_slopes(prospects, plan, near, known)
    before = math.sqrt(max(float(slopes @ known.covariance @ slopes), 1e-18))
    roll = prospects.roll(plan)
    now = Doubts(
        speed=estimate.spread,
        bend=prospects.bends(plan)[0].spread,
        roll=None if roll is None else roll.spread,
    )
    tolerance = Doubts(
        speed=aims.speed_tolerance * ready.wanted,
        bend=aims.straightness,
        roll=None if roll is None else ROLL_TOLERANCE,
    )
    bids = []
    for flight, information in zip(flights, _told(footing, known, flights), strict=True):
        covariance = np.linalg.inv(np.linalg.inv(known.covariance) + information)
        left = math.sqrt(max(float(slopes @ covariance @ slopes), 0.0)) / before
        row = known.names.index("roll_deployed")
        narrower = math.sqrt(covariance[row, row] / known.covariance[row, row])
        after = Doubts(
            speed=estimate.spread * min(left, 1.0),
            bend=_bend_after(prospects, plan, flight.pulls),
            roll=None if now.roll is None else now.roll * narrower,
        )
        bids.append(replace(flight.bid, after=after, cost=_cost(after, tolerance)))
    order = sorted(bids, key=lambda bid: bid.cost)
    best = order[0]
    shares = _shares(now, best.after)
    return NextFlight(
        best=best,
        others=_others(order),
        now=now,
        tolerance=tolerance,
        enough=min(shares.values()) > ENOUGH,
        most=_most(now, best.after, tolerance),
    )


def speed_slopes(prospects: Prospects, plan: Plan, near: SteadySpeed, known: Learned) -> Floats:
    """Change of the closed down speed with each ln factor of `known`, m/s, (n,)."""
    unit, _ = prospects.unit(plan.motor.level)
    own = f"brake_damping:{plan.motor.level}"
    named: dict[int, str] = {}
    for row, name in enumerate(known.names):
        factor = name.partition(":")[0]
        if ":" in name and name != own:
            continue
        if factor == "brake_damping" and ":" not in name and own in known.names:
            continue
        if factor not in ("crow_moment", "roll_deployed"):
            named[row] = factor
    changed = [
        Variant(plane=replace(unit.plane, corrections=moved_along(unit.plane.corrections, {name: _NUDGE}, by=by)))
        for name in named.values()
        for by in (-1.0, 1.0)
    ]
    moved = variant_speeds(
        unit,
        plan,
        prospects.balances.down(plan.crow).corrected(unit.plane.corrections),
        stick=0.0,
        deployment=prospects.balances.tables(plan.crow).share(plan.crow),
        near=near,
        variants=changed,
    )
    slopes = np.zeros(len(known.names))
    for k, row in enumerate(named):
        if moved.found[2 * k] and moved.found[2 * k + 1]:
            slopes[row] = float(moved.speed[2 * k + 1] - moved.speed[2 * k]) / (2 * _NUDGE)
    return slopes


# --- what could be flown ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Flight:
    """A flight as a bid without numbers, and the evidence it would give: for the corrections, and of the bend."""

    bid: Bid
    evidence: tuple[Evidence, ...]
    pulls: tuple[Pull, ...] = ()


_NOTHING = Doubts(speed=0.0, bend=0.0, roll=None)


def _bid(kind: Kind, line: LineName, instrument: Instrument, count: int, *, crow: bool) -> Bid:
    return Bid(kind=kind, line=line, crow=crow, instrument=instrument, count=count, after=_NOTHING, cost=0.0)


def _flights(
    prospects: Prospects,
    plan: Plan,
    near: SteadySpeed,
    unlocked: Collection[LineName],
    instruments: Collection[Instrument],
) -> list[_Flight]:
    """Everything that may be flown with what the pilot has."""
    found: list[_Flight] = []
    half, level = prospects.held(plan)
    for instrument in instruments:
        for line in ("vertical down", "45 down"):
            if line not in unlocked:
                continue
            for crow in (True, False) if plan.crow is not None else (False,):
                stick = half.stick if line == "45 down" and half.status is Status.OK else 0.0
                flight = Flight(slope=_SLOPES[line], stick=stick, crow=crow)
                found.append(_lines(line, flight, instrument, near, crow=crow))
        if "level" in unlocked and instrument != "sound" and level.status is Status.OK:
            flight = Flight(slope=0.0, stick=level.stick, crow=False)
            found.append(_passes(flight, instrument, prospects.ready.wanted))
        if "vertical down" in unlocked and instrument in ("stopwatch", "video") and plan.crow is not None:
            found.append(_rolls(plan, instrument, near.speed))
        measured = plan.motor.percent > 0
        if instrument == "sound" and measured and "bench" in unlocked:
            torque = Damping(name="spin-down", level=plan.motor.level, omega=300.0, torque=0.01, sigma=0.1)
            found.append(_Flight(bid=_bid("spin-down", "bench", "sound", 1, crow=False), evidence=(torque,)))
    return found


def _lines(line: LineName, flight: Flight, instrument: Instrument, near: SteadySpeed, *, crow: bool) -> _Flight:
    """A few lines, each with the pull that is seen on it."""
    speed = 0.8 * near.speed
    seconds = _LINE / near.speed
    lines: list[Evidence] = []
    count = LINES_FLOWN[instrument]
    for k in range(count):
        name = f"{line} {k}"
        if instrument == "stopwatch":
            lines.append(
                TimedLine(
                    name=name,
                    flight=flight,
                    skipped=10.0,
                    length=_LINE,
                    seconds=seconds,
                    sigma=0.3,
                    speed=speed,
                    speed_sigma=0.15 * speed,
                )
            )
        elif instrument == "sound":
            lines.append(
                ShaftSpeed(
                    name=name, flight=flight, omega=near.omega, sigma=max(0.015 * near.omega, 1.0), speed=near.speed
                )
            )
        else:
            time = np.arange(0.0, seconds, 0.1 if instrument == "recorder" else 0.12)
            steep = math.hypot(3.2 * math.sin(flight.slope), 2.1 * math.cos(flight.slope))
            lines.append(
                TracedLine(
                    name=name,
                    flight=flight,
                    time=time,
                    way=speed * time,
                    sigma=steep if instrument == "recorder" else 0.1,
                    scale_sigma=0.0 if instrument == "recorder" else 0.01,
                    speed=speed,
                    speed_sigma=0.12 * speed,
                )
            )
    pulls = tuple(Pull(name=f"pull {k}", flight=flight, rate=0.0, sigma=PULL_SIGMA[instrument]) for k in range(count))
    return _Flight(bid=_bid("lines", line, instrument, count, crow=crow), evidence=tuple(lines), pulls=pulls)


def _passes(flight: Flight, instrument: Instrument, speed: float) -> _Flight:
    """Level passes both ways, so that the wind falls out."""
    sigma = {"recorder": 0.3, "video": 0.3, "stopwatch": 0.07 * speed / math.sqrt(2.0), "sound": 1.0}[instrument]
    seen = SteadySeen(name="level", flight=flight, speed=speed, sigma=sigma)
    return _Flight(bid=_bid("level passes", "level", instrument, 2, crow=False), evidence=(seen,))


def _rolls(plan: Plan, instrument: Instrument, speed: float) -> _Flight:
    """Two rolls on a vertical with crow out, twice."""
    sigma = 0.3 if instrument == "stopwatch" else 0.1
    flight = Flight(slope=_SLOPES["vertical down"])
    seen = TimedRolls(
        name="rolls", flight=flight, rolls=2.0, seconds=3.0, sigma=sigma, throw=plan.throws.normal, speed=speed
    )
    return _Flight(bid=_bid("rolls", "vertical down", instrument, 2, crow=True), evidence=(seen, seen))


# --- what it would tell ----------------------------------------------------------------------------------------------


def _told(ground: Ground, known: Learned, flights: Sequence[_Flight]) -> list[Floats]:
    """Information of every flight on the ln factors, (n, n) each."""
    every = [item for flight in flights for item in flight.evidence]
    expected = iter(expectations(ground, every, known.names, known.mean, np.ones(len(every))))
    found = []
    for flight in flights:
        information = np.zeros((len(known.names), len(known.names)))
        for _ in flight.evidence:
            item = next(expected)
            covariance = item.noise + item.nuisance @ item.nuisance.T
            information += item.jacobian.T @ np.linalg.solve(covariance, item.jacobian)
        found.append(information)
    return found


def _bend_after(prospects: Prospects, plan: Plan, pulls: Sequence[Pull]) -> float:
    """One sigma of the bend of the vertical after pulls like these, rad/s: the state does not move, its doubt does."""
    state: BendState = prospects.state
    vertical = prospects.balances.parts(plan)[0]
    for pull in pulls:
        parts = prospects.balances.parts(plan, ((pull.flight.slope, pull.flight.inverted),))[0]
        slopes = parts.slopes if pull.flight.crow else np.array([1.0, 0.0, 0.0])
        state = state.seen(float(slopes @ state.mean), slopes, pull.sigma)
    return state.doubt(vertical.slopes)


def _cost(doubts: Doubts, tolerance: Doubts) -> float:
    cost = (doubts.speed / tolerance.speed) ** 2 + (doubts.bend / tolerance.bend) ** 2
    if doubts.roll is not None and tolerance.roll is not None:
        cost += (doubts.roll / tolerance.roll) ** 2
    return cost


def _shares(now: Doubts, after: Doubts) -> dict[Literal["down speed", "bend", "roll"], float]:
    """Share of each doubt that is left."""
    found: dict[Literal["down speed", "bend", "roll"], float] = {
        "down speed": after.speed / max(now.speed, 1e-12),
        "bend": after.bend / max(now.bend, 1e-12),
    }
    if now.roll is not None and after.roll is not None:
        found["roll"] = after.roll / max(now.roll, 1e-12)
    return found


def _most(now: Doubts, after: Doubts, tolerance: Doubts) -> Literal["down speed", "bend", "roll"]:
    """The target whose doubt falls most, in squares of its tolerance."""
    falls: dict[Literal["down speed", "bend", "roll"], float] = {
        "down speed": (now.speed**2 - after.speed**2) / tolerance.speed**2,
        "bend": (now.bend**2 - after.bend**2) / tolerance.bend**2,
    }
    if now.roll is not None and after.roll is not None and tolerance.roll is not None:
        falls["roll"] = (now.roll**2 - after.roll**2) / tolerance.roll**2
    return max(falls, key=lambda name: falls[name])


def _others(order: Sequence[Bid]) -> tuple[Bid, ...]:
    """The next two that are of another kind, line or crow than those before."""
    taken = [order[0]]
    for bid in order[1:]:
        if len(taken) == 3:
            break
        if all((bid.kind, bid.line, bid.crow) != (one.kind, one.line, one.crow) for one in taken):
            taken.append(bid)
    return tuple(taken[1:])
