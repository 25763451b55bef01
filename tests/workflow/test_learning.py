"""Whole flights through files: what comes out is near the truth, says how sure it is, and is quick."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from evenfall.errors import FileFaults, InputError
from evenfall.fit.calibrate import calibrate
from evenfall.fit.ground import Ground
from evenfall.lines.survey import tables_for
from evenfall.logs.evidence import Evidence, Flight, SteadySpeed, TimedLine, TracedLine
from evenfall.logs.evidence_file import load_flight, read_flight
from evenfall.radio.plan import MotorChoice, present_plan
from evenfall.workflow import Ready, TuneAnswer
from evenfall.workflow.closed_lines import closed_lines
from evenfall.workflow.gathering import evidence_of
from evenfall.workflow.learning import LearnAnswer, learn, taught_ready
from fit import flight_files, simulated

DOWN = Flight(slope=-math.pi / 2)
CASES = 40


def flown(answer: TuneAnswer, seed: int) -> tuple[float, list[Any], np.random.Generator]:
    """True down speed of a drawn plane and two of its vertical lines."""
    rng = np.random.default_rng(seed)
    truth = simulated.draw(answer.ready, answer.plan, rng)
    paths = [simulated.fly_line(truth, DOWN, rng, length=120.0, entry=rng.uniform(15, 22)) for _ in range(2)]
    return truth.down_speed(DOWN), paths, rng


@pytest.fixture(scope="module")
def sunday(
    tuned: Callable[[str], TuneAnswer], tmp_path_factory: pytest.TempPathFactory
) -> tuple[LearnAnswer, float, Path]:
    """A recorded flight of two lines with a video of the second and a stopwatch on the first, learned from."""
    answer = tuned("biplane_124")
    speed, paths, rng = flown(answer, 70_004)
    folder = tmp_path_factory.mktemp("sunday")
    flight_files.write_record(folder / "a.csv", paths, rng)
    (folder / "sunday.flight.toml").write_text(
        'format = 1\ndate = 2026-05-17\n[[recorded]]\nfile = "a.csv"\n'
        + flight_files.video_entry(paths[1], rng)
        + flight_files.stopwatch_entry(paths[0], rng)
        + '[[recorded]]\nfile = "none.csv"\n'
    )
    assert answer.plan is not None
    return learn(answer.ready, answer.plan, [folder / "sunday.flight.toml"], untaught=answer.predicted), speed, folder


def test_a_flight_through_files_brings_the_down_speed_near(sunday: tuple[LearnAnswer, float, Path]) -> None:
    answer, speed, _ = sunday
    down = next(one for one in answer.closed if one.line == "vertical down")
    assert down.before is not None
    assert down.after is not None
    assert abs(down.after.value - speed) < 2 * down.after.spread
    assert down.after.spread < 0.5 * down.before.spread
    assert abs(down.after.value / speed - 1) < 0.04


def test_everything_is_there_and_what_was_not_used_is_said(sunday: tuple[LearnAnswer, float, Path]) -> None:
    answer, _, _ = sunday
    gathered, calibration = answer.gathered, answer.calibration
    assert calibration is not None
    kinds = {type(piece) for piece in gathered.evidence}
    assert {TracedLine, TimedLine} <= kinds
    assert len(gathered.evidence) == len(calibration.checks) == len(answer.expected) == len(gathered.sources)
    timed = next(k for k, piece in enumerate(gathered.evidence) if isinstance(piece, TimedLine))
    piece, expected = gathered.evidence[timed], answer.expected[timed]
    assert isinstance(piece, TimedLine)
    assert expected is not None
    assert expected == pytest.approx(piece.seconds, rel=0.25)
    # Seen less expected has the sign of the check, whatever else is in it.
    assert (piece.seconds - expected) * calibration.checks[timed].off >= 0
    (fault,) = gathered.faults
    assert fault.where == "recorded.1"
    assert answer.taught is not None
    assert answer.taught.ready.wanted == answer.untaught.ready.wanted
    assert answer.change is not None
    assert answer.flight is not None


def test_the_fit_of_twenty_pieces_takes_less_than_two_seconds(
    sunday: tuple[LearnAnswer, float, Path],
) -> None:
    answer, _, _ = sunday
    evidence: list[Evidence] = []
    while len(evidence) < 20:
        evidence += [replace(piece, name=f"{piece.name} {len(evidence)}") for piece in answer.gathered.evidence]
    ground = Ground(frame=answer.ready.frame, unit=answer.ready.unit, plan=answer.plan, wanted=answer.ready.wanted)
    spent = []
    for _ in range(2):
        start = time.process_time()
        found = calibrate(ground, evidence[:20])
        spent.append(time.process_time() - start)
        if spent[-1] < 2.0:
            break
    assert min(spent) < 2.0
    assert found.settled


def test_nothing_to_learn_from_is_an_answer(sunday: tuple[LearnAnswer, float, Path]) -> None:
    before = sunday[0]
    empty = learn(before.ready, before.plan, [read_flight("format = 1", path="x")], untaught=before.untaught)
    assert empty.calibration is None
    assert empty.taught is None
    assert empty.change is None
    assert empty.flight is not None
    assert all(one.before == one.after for one in empty.closed)


def test_evidence_the_engine_has_no_answer_for_is_left_out_and_said(
    sunday: tuple[LearnAnswer, float, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    from evenfall.workflow import learning

    # By its name: the package also holds a function called calibrate.
    fit = sys.modules["evenfall.fit.calibrate"]
    before = sunday[0]
    real = learning.expectations

    def some(ground: Ground, pieces: Any, *rest: Any) -> Any:
        if any(isinstance(piece, SteadySpeed) for piece in pieces):
            raise InputError("no balance there")
        return real(ground, pieces, *rest)

    monkeypatch.setattr(learning, "expectations", some)
    monkeypatch.setattr(fit, "expectations", some)
    text = "format = 1\n[[held]]\nstick_percent = 3\n[[steady]]\nstick_percent = 50\nspeed_m_s = 22"
    got = learn(before.ready, before.plan, [read_flight(text, path="x")], untaught=before.untaught, advise=False)
    assert [piece.name for piece in got.gathered.evidence] == ["x, held 1"]
    assert [fault.message for fault in got.gathered.faults] == ["x, steady 1: no balance there"]


def test_files_that_are_no_flight_are_explained(sunday: tuple[LearnAnswer, float, Path], tmp_path: Path) -> None:
    before = sunday[0]
    (tmp_path / "odd.bin").write_bytes(b"\0\1\2" * 50)
    (tmp_path / "plan.toml").write_text("format = 1\n[crow]\nupper_deg = 3")
    for name, error, words in (
        ("odd.bin", InputError, "neither a flight file"),
        ("none.csv", InputError, "no such file"),
        ("plan.toml", FileFaults, "crow: is not known"),
    ):
        with pytest.raises(error, match=words):
            learn(before.ready, before.plan, [tmp_path / name], untaught=before.untaught)


CONTRADICTING = """format = 1
[[timed]]
seconds = 5
length_m = 100
[[timed]]
crow = false
seconds = 4.4
length_m = 100
[[rolls]]
rolls = 2
seconds = 2.5
[[held]]
line = "45 down"
stick_percent = 12
[[steady]]
stick_percent = 55
speed_m_s = 21
[[shaft]]
shaft_rpm = 4000
"""


@pytest.mark.parametrize(("level", "percent"), [("25", 25.0), ("75", 75.0)])
def test_pieces_that_contradict_each_other_come_to_rest(
    ready: Callable[[str], Ready], level: str, percent: float
) -> None:
    """A shaft speed that lies between two states makes the fit swing; slow weights make it creep."""
    made = ready("biplane_124")
    plan = replace(present_plan(made.file.plane), motor=MotorChoice(level=level, percent=percent))
    ground = Ground(frame=made.frame, unit=made.unit, plan=plan, wanted=made.wanted)
    found = calibrate(ground, evidence_of(read_flight(CONTRADICTING, path="x"), made, plan).evidence)
    assert found.settled
    assert all(check.weight > 0 for check in found.checks)


@pytest.mark.long
def test_flights_through_files_are_as_near_as_they_say(tuned: Callable[[str], TuneAnswer], tmp_path: Path) -> None:
    """Wanted: one sigma within 3 % by recorder or video, 5 % by stopwatch; intervals hold what they should.

    Of 40 cases an interval of 68 % holds 46 to 90 % and one of 95 % at least 85 % (3 sigma of counting); one sigma is
    told to a tenth, which is allowed on top. Video may hold more: the lens is given a doubt that the simulated camera
    does not have. The lines of the records are found by themselves.
    """
    answer = tuned("biplane_124")
    assert answer.plan is not None
    assert answer.predicted is not None
    ready, plan = answer.ready, answer.plan
    ground = Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted)
    rows: dict[str, list[tuple[float, float, float]]] = {
        "recorder": [],
        "no throttle": [],
        "video": [],
        "stopwatch": [],
    }
    for seed in range(CASES):
        speed, paths, rng = flown(answer, 71_000 + seed)
        flight_files.write_record(tmp_path / "a.csv", paths, rng)
        flight_files.write_record(tmp_path / "b.csv", paths, rng, throttle=False)
        texts = {
            "recorder": '[[recorded]]\nfile = "a.csv"\n',
            "no throttle": '[[recorded]]\nfile = "b.csv"\n',
            "video": "".join(flight_files.video_entry(path, rng) for path in paths),
            "stopwatch": "".join(flight_files.stopwatch_entry(path, rng) for path in paths),
        }
        for name, text in texts.items():
            (tmp_path / "x.flight.toml").write_text("format = 1\n" + text)
            gathered = evidence_of(load_flight(tmp_path / "x.flight.toml"), ready, plan)
            assert gathered.evidence, (name, seed, gathered.faults)
            then = taught_ready(ready, calibrate(ground, gathered.evidence).learned, plan)
            tables = tables_for(answer.predicted.tables, then.file.plane)
            down = closed_lines(then, plan, tables)["vertical down"]
            assert down is not None
            rows[name].append((down.value, down.spread, speed))
    for name, most in (("recorder", 0.03), ("no throttle", 0.03), ("video", 0.03), ("stopwatch", 0.05)):
        value, spread, truth = np.array(rows[name]).T
        error, share = value / truth - 1, np.abs(value - truth) / spread
        within = float(np.quantile(np.abs(error), 0.6827))
        inner, outer = float(np.mean(share < 1)), float(np.mean(share < 1.96))
        print(f"{name}: one sigma {100 * within:.2f} %, held {inner:.2f} and {outer:.2f}")
        assert within < 1.1 * most, name
        assert 0.46 <= inner <= (1.0 if name == "video" else 0.90), (name, inner)
        assert outer >= 0.85, (name, outer)


def test_a_flight_named_twice_is_refused(sunday: tuple[LearnAnswer, float, Path]) -> None:
    answer, _, folder = sunday
    name = folder / "sunday.flight.toml"
    with pytest.raises(InputError, match="named twice and would count twice"):
        learn(answer.ready, answer.plan, [name, folder / "." / "sunday.flight.toml"], untaught=answer.untaught)
