"""Five flights from a random plan: the recommended changes against a rule that pilots use.

Every flight is two vertical lines seen by recorder or video, four by stopwatch, with the pull seen on each. The rule is
told speed and bend as they are; the recommended changes know only what was seen.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest

from advise import flown_changes as flown
from evenfall.advise.change import next_change
from evenfall.advise.flight import LINES_FLOWN, PULL_SIGMA, Instrument, next_flight
from evenfall.advise.limits import ceiling
from evenfall.advise.outlook import Balances, Prospects, sized
from evenfall.fit.calibrate import calibrate
from evenfall.fit.ground import Ground
from evenfall.fit.learned import Learned, crow_set_anew
from evenfall.lines.spread import CROW_SETTING
from evenfall.logs.evidence import Pull
from evenfall.radio.plan import Plan
from evenfall.workflow import TuneAnswer
from fit import simulated

CASES = 100
FLIGHTS = 5
SPEED, BEND = 0.03, math.radians(2.0)
SEEN: tuple[Instrument, ...] = ("recorder", "video", "stopwatch")
MOST_RULE = 60


class Bench:
    """A tuned plane whose snap phase flies without crow, so that its hinges leave room for more of it."""

    def __init__(self, answer: TuneAnswer) -> None:
        assert answer.plan is not None
        assert answer.plan.crow is not None
        phases = tuple(
            replace(phase, crow_live=phase.crow_live and phase.kind == "normal") for phase in answer.plan.phases
        )
        self.ready, self.plan = answer.ready, replace(answer.plan, phases=phases)
        self.balances = Balances(ready=self.ready)
        self.top = ceiling(self.ready.frame, self.plan, wanted=self.ready.wanted)

    def start(self, rng: np.random.Generator) -> Plan:
        """The plan of the nominal plane with crow of 40 to 160 % within the ceiling and the elevator share off."""
        crow = self.plan.crow
        assert crow is not None
        angle = min(crow.angle * rng.uniform(0.4, 1.6), self.top.angle)
        plan = sized(self.plan, math.radians(round(2 * math.degrees(angle)) / 2))
        assert plan.crow is not None
        return replace(
            plan, crow=replace(plan.crow, elevator_share=round(crow.elevator_share + rng.uniform(-0.05, 0.05), 3))
        )


@dataclass(frozen=True)
class Outcome:
    """Flights until speed and bend were both within, math.inf where never; at the end; at a stated limit."""

    first: float
    stayed: bool
    limited: bool
    trail: tuple[str, ...]
    promised: tuple[float, ...]


def advised(bench: Bench, seed: int, instrument: Instrument) -> tuple[Outcome, float]:
    """One evening by the recommended changes, and the flights that the rule needs from the same start."""
    rng = np.random.default_rng(seed)
    ready = bench.ready
    truth = flown.draw(ready, bench.plan, rng)
    plan = bench.start(rng)
    off = 2 * flown.GAUGE * rng.normal()
    rule = by_rule(bench, truth, plan, off)
    learned: Learned | None = None
    flown_before = plan
    pulls: list[tuple[Plan, Pull]] = []
    first, within, limited = math.inf, False, False
    trail, promised = [], []
    expected: float | None = None
    for flight in range(1, FLIGHTS + 1):
        real = flown.as_set(plan, off)
        speed, bend = state(truth, real, ready.wanted)
        within = abs(speed - ready.wanted) <= SPEED * ready.wanted and abs(bend) <= BEND
        trail.append(f"{speed:.1f} m/s {math.degrees(bend):+.1f}")
        if within and math.isinf(first):
            first = flight
        if flight == FLIGHTS:
            break
        count = LINES_FLOWN[instrument]
        entry = rng.uniform(15, 22, count) * ready.wanted / 22.0
        see = {"recorder": "by_gps", "video": "by_video", "stopwatch": "by_stopwatch"}[instrument]
        paths = flown.fly_downs(truth, real, rng, lines=count, entry=entry)
        lines = [getattr(simulated, see)(path, flown.DOWN, rng, name=f"{k}") for k, path in enumerate(paths)]
        ground = Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted)
        if learned is not None:
            learned = crow_set_anew(learned, angle_of(flown_before), angle_of(plan), setting=CROW_SETTING)
        learned = calibrate(ground, lines, before=learned).learned
        seen = _capped(speed, ready.wanted)
        sigma = PULL_SIGMA[instrument]
        pulls += [(plan, pull) for pull in flown.pulls(truth, real, rng, speed=seen, sigma=sigma, lines=count)]
        if expected is not None:
            after = Prospects(bench.balances, learned).speed(plan)
            if after is not None:
                promised.append(after.spread / expected)
        change = next_change(ready, plan, learned, pulls=pulls, balances=bench.balances, most_crow=bench.top)
        if change is None:
            trail.append("no steady speed")
            continue
        limited = change.limit is not None
        told, bent = change.effects[0].now, change.effects[1].now
        trail.append(f"({told.value:.1f}+-{told.spread:.1f} {math.degrees(bent.value):+.1f})")
        trail.append(f"{change.verdict} {[(step.lever, step.steps or step.after) for step in change.steps]}")
        if change.verdict == "there":
            break
        if any(step.lever == "crow" for step in change.steps):
            off = flown.GAUGE * rng.normal()
        flown_before, plan = plan, change.plan
        if flight == 1 and seed % 4 < 2:
            lines_next = next_flight(
                ready,
                plan,
                learned,
                unlocked=("vertical down",),
                instruments=(instrument,),
                balances=bench.balances,
            )
            lines_bid = (
                next((bid for bid in (lines_next.best, *lines_next.others) if bid.kind == "lines" and bid.crow), None)
                if lines_next is not None
                else None
            )
            expected = None if lines_bid is None else lines_bid.after.speed
        else:
            expected = None
    return Outcome(first=first, stayed=within, limited=limited, trail=tuple(trail), promised=tuple(promised)), rule


def angle_of(plan: Plan) -> float:
    """Crow of the larger wing, rad."""
    assert plan.crow is not None
    return plan.crow.angle


def state(truth, plan: Plan, wanted: float) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    """Down speed and bend as they are."""
    speed = truth.down_speed(plan)
    return speed, truth.bend(plan, _capped(speed, wanted))


def _capped(speed: float, wanted: float) -> float:
    """A line that runs away is not flown to its end."""
    return min(speed, 1.6 * wanted)


def by_rule(bench: Bench, truth, plan: Plan, off: float) -> float:  # type: ignore[no-untyped-def]
    """Flights by the rule: one degree of crow and one percent of elevator share the right way after each flight.

    It is told speed and bend as they are, and its crow stays off by what it was first.
    """
    wanted = bench.ready.wanted
    for flight in range(1, MOST_RULE + 1):
        speed, bend = state(truth, flown.as_set(plan, off), wanted)
        fast = abs(speed - wanted) > SPEED * wanted
        if not fast and abs(bend) <= BEND:
            return flight
        crow = plan.crow
        assert crow is not None
        if fast:
            angle = crow.angle + math.copysign(math.radians(1.0), speed - wanted)
            if angle > bench.top.angle + 1e-9:
                return flight if abs(bend) <= BEND else math.inf
            plan = sized(plan, angle)
        if abs(bend) > BEND:
            assert plan.crow is not None
            share = plan.crow.elevator_share + math.copysign(0.01, bend)
            plan = replace(plan, crow=replace(plan.crow, elevator_share=share))
    return math.inf


@pytest.mark.long
def test_five_flights_bring_speed_and_line_near_in_fewer_flights_than_the_rule(
    tuned: Callable[[str], TuneAnswer],
) -> None:
    """Wanted: down speed within 3 % and bend within 2 deg/s, or the stated limit, within five flights in 90 of 100,
    in fewer flights than the rule.

    Found: 96 of 100, 92 still there at the end, none by a limit; median 3 flights against 7, fewer in 82, more in 10.
    """
    benches = [Bench(tuned(name)) for name in ("biplane_124", "biplane_155")]
    outcomes, rules = [], []
    for seed in range(CASES):
        outcome, rule = advised(benches[seed % 2], 70_000 + seed, SEEN[seed % 3])
        outcomes.append(outcome)
        rules.append(rule)
    reached = [item.first <= FLIGHTS or item.limited for item in outcomes]
    stayed = [item.stayed or item.limited for item in outcomes]
    ours, theirs = np.array([item.first for item in outcomes]), np.array(rules)
    promised = [share for item in outcomes for share in item.promised]
    print(
        f"reached {sum(reached)}, stated limit {sum(item.limited for item in outcomes)}, at the end {sum(stayed)}; "
        f"median flights {np.median(ours):.0f} against {np.median(theirs):.0f}, fewer in {np.sum(ours < theirs)}, "
        f"more in {np.sum(ours > theirs)}; promised doubt {np.median(promised):.2f}"
    )
    assert sum(reached) >= 90
    assert sum(stayed) >= 88
    assert np.median(ours) < np.median(theirs)
    assert np.sum(ours < theirs) > 2 * np.sum(ours > theirs)
    assert 0.7 < np.median(promised) < 1.4
