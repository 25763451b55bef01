"""The next flight: what is open decides it, only what is unlocked is named, and the doubt it promises is what comes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from evenfall.advise.flight import Instrument, NextFlight, next_flight
from evenfall.advise.outlook import Balances
from evenfall.fit.calibrate import calibrate
from evenfall.fit.ground import Ground
from evenfall.fit.learned import FACTORS, Learned, prior
from evenfall.logs.evidence import Flight, SteadySpeed
from evenfall.workflow import TuneAnswer

ALL = ("bench", "level", "45 down", "vertical down")


@pytest.fixture(scope="module")
def answer(tuned: Callable[[str], TuneAnswer]) -> TuneAnswer:
    return tuned("biplane_124")


@pytest.fixture(scope="module")
def balances(answer: TuneAnswer) -> Balances:
    return Balances(ready=answer.ready)


def ask(answer: TuneAnswer, balances: Balances, learned: Learned | None, **given: object) -> NextFlight:
    assert answer.plan is not None
    asked: dict[str, object] = {"unlocked": ALL, "instruments": ("recorder",), **given}
    plan = asked.pop("plan", answer.plan)
    found = next_flight(answer.ready, plan, learned, balances=balances, **asked)  # type: ignore[arg-type]
    assert found is not None
    return found


def sure_but(name: str, sigma: float = 0.15) -> Learned:
    return prior(sigma={factor: sigma if factor == name else 0.004 for factor in FACTORS})


def test_a_doubtful_crow_is_flown_with_crow_and_a_doubtful_body_shows_without(
    answer: TuneAnswer, balances: Balances
) -> None:
    crow = ask(answer, balances, sure_but("crow_drag"))
    assert (crow.best.kind, crow.best.line, crow.best.crow) == ("lines", "vertical down", True)
    assert crow.best.after.speed < 0.8 * crow.now.speed
    without = next((bid for bid in crow.others if bid.line == "vertical down" and not bid.crow), None)
    assert without is None or without.after.speed > crow.best.after.speed


def test_only_what_is_unlocked_is_flown(answer: TuneAnswer, balances: Balances) -> None:
    found = ask(answer, balances, None, unlocked=("level", "45 down"))
    assert found.best.line in ("level", "45 down")
    assert all(bid.line in ("level", "45 down") for bid in found.others)
    assert answer.plan is not None
    nothing = next_flight(
        answer.ready, answer.plan, None, unlocked=(), instruments=get_args(Instrument), balances=balances
    )
    assert nothing is None


def test_every_instrument_leads_somewhere_and_none_makes_doubt_larger(answer: TuneAnswer, balances: Balances) -> None:
    for instrument in get_args(Instrument):
        found = ask(answer, balances, None, instruments=(instrument,))
        assert found.best.instrument == instrument
        for bid in (found.best, *found.others):
            assert bid.after.speed <= found.now.speed * (1 + 1e-9)
            assert bid.after.bend <= found.now.bend * (1 + 1e-9)


def test_video_tells_more_than_a_stopwatch(answer: TuneAnswer, balances: Balances) -> None:
    video = ask(answer, balances, None, instruments=("video",))
    watch = ask(answer, balances, None, instruments=("stopwatch",))
    assert video.best.after.speed < watch.best.after.speed
    both = ask(answer, balances, None, instruments=("video", "stopwatch"))
    assert both.best.instrument == "video"


def test_a_braked_level_of_unknown_damping_asks_for_a_spin_down(answer: TuneAnswer, balances: Balances) -> None:
    assert answer.plan is not None
    level = next(level for level in answer.ready.file.plane.controller.levels if level.percent > 20)
    motor = replace(answer.plan.motor, level=level.name, percent=level.percent)
    found = ask(
        answer,
        balances,
        sure_but("brake_damping", 0.3),
        plan=replace(answer.plan, motor=motor),
        instruments=("sound",),
        unlocked=("bench",),
    )
    assert found.best.kind == "spin-down"


def test_rolls_are_asked_for_where_the_boost_is_in_doubt(answer: TuneAnswer, balances: Balances) -> None:
    assert answer.plan is not None
    phases = tuple(replace(phase, roll_boost=0.5) if phase.kind == "normal" else phase for phase in answer.plan.phases)
    found = ask(
        answer,
        balances,
        sure_but("roll_deployed", 0.4),
        plan=replace(answer.plan, phases=phases),
        instruments=("stopwatch",),
    )
    assert found.now.roll is not None
    rolls = next(bid for bid in (found.best, *found.others) if bid.kind == "rolls")
    assert rolls.after.roll is not None
    assert rolls.after.roll < 0.9 * found.now.roll


@pytest.mark.invariant
def test_the_promised_doubt_is_what_the_fit_finds(answer: TuneAnswer, balances: Balances) -> None:
    """A level pass as promised, given to the fit: the doubt of the down speed comes out the same."""
    assert answer.plan is not None
    ready, plan = answer.ready, answer.plan
    ground = Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted)
    found = ask(answer, balances, None, unlocked=("level",), ground=ground)
    assert found.best.kind == "level passes"
    level = next(line for line in answer.tuned.survey.line("level").steady) if answer.tuned.survey else None
    assert level is not None
    stick = answer.tuned.survey.line("level").stick  # type: ignore[union-attr]
    seen = SteadySpeed(name="level", flight=Flight(slope=0.0, stick=stick, crow=False), speed=ready.wanted, sigma=0.3)
    learned = calibrate(ground, [seen]).learned
    after = ask(answer, balances, learned, unlocked=("level",), ground=ground)
    assert after.now.speed == pytest.approx(found.best.after.speed, rel=0.05)


def test_where_all_is_known_another_flight_is_said_to_tell_nothing(answer: TuneAnswer, balances: Balances) -> None:
    sure = prior(sigma=dict.fromkeys(FACTORS, 0.0001))
    found = ask(answer, balances, sure, unlocked=("level",))
    assert found.enough
    assert not math.isnan(found.best.cost)
    assert np.isfinite(found.now.bend)
