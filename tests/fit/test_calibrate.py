"""Corrections from evidence made by the engine itself on a changed plane: what comes back, how sure, and outliers."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.errors import InputError, ValueRangeError
from evenfall.fit.calibrate import calibrate, plane_prior
from evenfall.fit.ground import Ground
from evenfall.fit.learned import FACTORS, Learned, prior, taught
from evenfall.lines.flown import FlownLine, FlownVariant, fly
from evenfall.logs.evidence import Damping, Evidence, Flight, Pull, SteadySpeed, TimedLine, TracedLine
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import PRIOR_SIGMA, Corrections
from evenfall.power.train import brake_torque
from evenfall.workflow import TuneAnswer, predict

DOWN = Flight(slope=-math.pi / 2)
CLEAN = Flight(slope=-math.pi / 2, crow=False)


@pytest.fixture(scope="module")
def ground(tuned: Callable[[str], TuneAnswer]) -> Ground:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    ready = answer.ready
    return Ground(frame=ready.frame, unit=ready.unit, plan=answer.plan, wanted=ready.wanted)


def changed(ground: Ground, **factors: float) -> Plane:
    return replace(ground.unit.plane, corrections=Corrections(**factors))


def flown_by(ground: Ground, plane: Plane, flight: Flight, speed: float, duration: float = 6.0):
    plan = ground.flown(flight)
    line = FlownLine(
        table=ground.table(flight),
        plan=plan,
        stick=flight.stick,
        deployment=float(plan.deployment(flight.stick)),
        speed=speed,
        fresh=True,
        duration=duration,
    )
    return fly(ground.unit, [line], [FlownVariant(plane=plane)], step=0.03)


def traced(
    ground: Ground,
    plane: Plane,
    flight: Flight,
    *,
    speed: float,
    noise: float,
    rng: np.random.Generator,
    name: str = "line",
) -> TracedLine:
    time = np.arange(0.0, 5.0, 0.1)
    way = flown_by(ground, plane, flight, speed).way_at(0, time)[:, 0] + noise * rng.normal(size=len(time))
    start = speed * (1 + 0.05 * rng.normal())
    return TracedLine(
        name=name,
        flight=flight,
        time=time,
        way=way,
        sigma=max(noise, 0.2),
        speed=start,
        speed_sigma=0.05 * speed,
        fresh=True,
    )


def down_speed(ground: Ground, plane: Plane) -> float:
    return float(flown_by(ground, plane, DOWN, ground.wanted, 12.0).speed[-1, 0, 0])


def doubt(ground: Ground, learned: Learned) -> float:
    """One sigma of the vertical down speed from what was learned, m/s."""
    at = down_speed(ground, taught(ground.unit.plane, learned))
    changes = []
    for way in learned.directions(least=0.02):
        moved = replace(learned, mean=learned.mean + np.array([way[name] for name in learned.names]))
        changes.append(down_speed(ground, taught(ground.unit.plane, moved)) - at)
    return math.hypot(*changes)


def test_exact_lines_with_and_without_crow_give_the_factors_back(ground: Ground) -> None:
    rng = np.random.default_rng(1)
    plane = changed(ground, parasite_drag=1.2, crow_drag=0.9)
    found = calibrate(
        ground,
        [
            traced(ground, plane, flight, speed=speed, noise=0.0, rng=rng, name=f"{flight.crow} {speed}")
            for flight in (DOWN, CLEAN)
            for speed in (14.0, 22.0, 30.0)
        ],
    )
    assert found.settled
    assert not any(check.outlier for check in found.checks)
    after = taught(ground.unit.plane, found.learned)
    for flight in (DOWN, CLEAN):
        wanted = flown_by(ground, plane, flight, 20.0, 12.0).speed[-1, 0, 0]
        got = flown_by(ground, after, flight, 20.0, 12.0).speed[-1, 0, 0]
        assert got == pytest.approx(wanted, rel=3e-3)


def test_a_reading_far_from_all_belief_still_comes_to_rest(ground: Ground) -> None:
    friction, torque = (float(brake_torque(ground.unit.plane, name, np.array(314.0))) for name in ("0", "100"))
    near = friction + 0.02 * (torque - friction)
    low = Damping(name="low", level="100", omega=314.0, torque=near, sigma=0.1)
    found = calibrate(ground, [low])
    assert found.settled
    assert found.checks[0].off < 0


def test_two_recorded_lines_bring_the_down_speed_within_three_percent(ground: Ground) -> None:
    rng = np.random.default_rng(7)
    errors, shares = [], []
    for _ in range(6):
        plane = changed(ground, **{name: math.exp(sigma * rng.normal()) for name, sigma in PRIOR_SIGMA.items()})
        lines = [traced(ground, plane, DOWN, speed=rng.uniform(14, 24), noise=3.2, rng=rng) for _ in range(2)]
        found = calibrate(ground, lines)
        truth, after = down_speed(ground, plane), down_speed(ground, taught(ground.unit.plane, found.learned))
        errors.append(after / truth - 1)
        shares.append((after - truth) / doubt(ground, found.learned))
    assert np.sqrt(np.mean(np.square(errors))) < 0.03
    assert 0.4 < np.sqrt(np.mean(np.square(shares))) < 1.6


def test_a_stretch_that_disagrees_is_named_and_weighs_less(ground: Ground) -> None:
    rng = np.random.default_rng(3)
    plane = changed(ground)
    lines: list[Evidence] = [
        traced(ground, plane, DOWN, speed=20.0, noise=2.0, rng=rng, name=f"line {k}") for k in range(4)
    ]
    seconds = float(np.diff([flown_by(ground, plane, DOWN, 20.0).time_at(0, way)[0] for way in (20.0, 100.0)])[0])
    wrong = TimedLine(
        name="stopwatch",
        flight=DOWN,
        skipped=20,
        length=80,
        seconds=0.75 * seconds,
        sigma=0.1,
        speed=20,
        speed_sigma=1,
        fresh=True,
    )
    found = calibrate(ground, [*lines, wrong])
    named = {check.name: check for check in found.checks}
    assert named["stopwatch"].outlier
    assert named["stopwatch"].off < -3
    assert named["stopwatch"].weight < 0.5
    assert not any(named[f"line {k}"].outlier for k in range(4))
    assert down_speed(ground, taught(ground.unit.plane, found.learned)) == pytest.approx(
        down_speed(ground, plane), rel=0.03
    )


def test_what_was_not_looked_at_stays_as_believed(ground: Ground) -> None:
    speed = float(flown_by(ground, changed(ground), CLEAN, 25.0, 12.0).speed[-1, 0, 0])
    found = calibrate(ground, [SteadySpeed(name="clean down", flight=CLEAN, speed=speed, sigma=0.3)])
    before = prior()
    for name in ("crow_drag", "crow_moment", "roll_deployed"):
        k = FACTORS.index(name)
        assert found.learned.mean[k] == pytest.approx(0.0, abs=1e-9)
        assert found.learned.sigma[k] == pytest.approx(before.sigma[k], rel=1e-6)
    assert found.learned.sigma[FACTORS.index("parasite_drag")] < before.sigma[FACTORS.index("parasite_drag")]


def test_a_single_sum_of_two_drags_is_said_not_to_tell_them_apart(ground: Ground) -> None:
    rng = np.random.default_rng(5)
    lines = [traced(ground, changed(ground), DOWN, speed=22.0, noise=0.3, rng=rng) for _ in range(6)]
    found = calibrate(ground, lines, before=prior(sigma={"brake_damping": 0.01, "braked_propeller_drag": 0.01}))
    assert ("parasite_drag", "crow_drag") in {pair[:2] for pair in found.alike} | {pair[1::-1] for pair in found.alike}


def test_a_spin_down_of_another_level_gets_its_own_factor(ground: Ground) -> None:
    plane = ground.unit.plane
    other = next(
        level.name for level in plane.controller.levels if level.percent > 0 and level.name != ground.plan.motor.level
    )
    torque = float(brake_torque(plane, other, np.array(300.0), corrections=Corrections(brake_damping=1.5)))
    found = calibrate(ground, [Damping(name="spin-down", level=other, omega=300.0, torque=torque, sigma=0.03)])
    assert found.learned.factor(f"brake_damping:{other}") == pytest.approx(1.5, rel=0.02)
    assert found.learned.factor("brake_damping") == 1.0
    with pytest.raises(InputError, match="has no level"):
        calibrate(ground, [Damping(name="x", level="nonsense", omega=300.0, torque=torque, sigma=0.03)])


def test_bend_teaches_the_moment_of_crow(ground: Ground) -> None:
    def learned(rate: float) -> float:
        seen = Pull(name="pull", flight=DOWN, rate=rate, sigma=math.radians(1))
        return calibrate(ground, [seen]).learned.factor("crow_moment")

    assert abs(math.log(learned(0.1) / learned(-0.1))) > 0.01


@pytest.mark.parametrize(
    "wrong",
    [
        {"time": np.array([0.0, 1.0]), "way": np.array([0.0, 20.0])},
        {"time": np.array([0.0, 2.0, 1.0]), "way": np.zeros(3)},
        {"time": np.array([0.0, 1.0, 2.0]), "way": np.array([0.0, np.nan, 3.0])},
        {"time": np.arange(3.0), "way": np.zeros(3), "sigma": 0.0},
        {"time": np.arange(3.0), "way": np.zeros(3), "correlation": -1.0},
    ],
)
def test_evidence_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    usual = {"name": "a line", "flight": DOWN, "sigma": 1.0, "speed": 20.0, "speed_sigma": 1.0}
    with pytest.raises(ValueRangeError, match="a line"):
        TracedLine(**{**usual, **wrong})  # type: ignore[arg-type]


@pytest.mark.invariant
def test_joint_doubt_goes_into_every_estimate(ground: Ground, tuned: Callable[[str], TuneAnswer]) -> None:
    rng = np.random.default_rng(11)
    lines = [traced(ground, changed(ground), DOWN, speed=20.0, noise=2.0, rng=rng) for _ in range(3)]
    learned = calibrate(ground, lines).learned
    plane = taught(ground.unit.plane, learned, level=ground.plan.motor.level)
    for name in FACTORS:
        assert plane.doubt.sigma(name) == pytest.approx(learned.sigma[FACTORS.index(name)], rel=1e-3, abs=1e-5)
    answer = tuned("biplane_124")
    before = predict(answer.ready.file, ground.plan).estimates["vertical down"][0]
    after = predict(replace(answer.ready.file, plane=plane), ground.plan).estimates["vertical down"][0]
    assert before is not None
    assert after is not None
    assert after.spread < 0.6 * before.spread
    assert 0.6 < after.spread / math.hypot(doubt(ground, learned), 0.25) < 1.7


def test_a_straight_cured_line_still_teaches_the_moment_of_crow(ground: Ground) -> None:
    """With the elevator share in, crow bends nothing; its moment is there all the same."""
    clean = Pull(name="clean", flight=CLEAN, rate=0.05, sigma=math.radians(0.2))
    seen = Pull(name="pull", flight=DOWN, rate=0.05 + math.radians(5.0), sigma=math.radians(0.2))
    found = calibrate(ground, [clean, seen]).learned
    assert found.factor("crow_moment") > 1.2
    assert found.sigma[FACTORS.index("crow_moment")] < 0.1
    alone = calibrate(ground, [seen]).learned
    assert alone.sigma[FACTORS.index("crow_moment")] > 2 * found.sigma[FACTORS.index("crow_moment")]
    again = calibrate(ground, [seen] * 20).learned
    assert again.sigma[FACTORS.index("crow_moment")] > 0.8 * alone.sigma[FACTORS.index("crow_moment")]


def test_a_measured_level_begins_with_a_tenth_of_doubt(tuned: Callable[[str], TuneAnswer]) -> None:
    """Damping in the plane file is a measurement: flights of that level start from it, others from a factor of two."""
    answer = tuned("biplane_124")
    assert answer.plan is not None
    plane, plan = answer.ready.unit.plane, answer.plan
    levels = tuple(
        replace(level, damping=1e-4) if level.name == plan.motor.level else level for level in plane.controller.levels
    )
    measured = replace(plane, controller=replace(plane.controller, levels=levels))
    for unit, sigma in ((answer.ready.unit, 0.69), (replace(answer.ready.unit, plane=measured), 0.1)):
        ground = Ground(frame=answer.ready.frame, unit=unit, plan=plan, wanted=answer.ready.wanted)
        start = plane_prior(ground)
        assert start.sigma[start.names.index("brake_damping")] == pytest.approx(sigma)
        assert start.sigma[start.names.index("crow_drag")] == pytest.approx(0.15)
