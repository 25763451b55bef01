"""The whole tuning on the demo planes: status, what the plan file reproduces, common practice, refusals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from evenfall import workflow
from evenfall.numeric import Status
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.plan import ARRANGEMENTS, arrangements_of, wing_signs
from evenfall.radio.planfile import load_plan, plan_text, write_plan
from evenfall.tune.choose import Judged
from evenfall.tune.targets import Targets
from evenfall.workflow import TuneAnswer

Tuned = Callable[[str], TuneAnswer]
LARGER = ("biplane_124", "biplane_155")


def changed(name: str, **pairs: str) -> str:
    """Text of a demo plane with rows `key = value` replaced, every one of that key."""
    rows = demo_path(name).read_text(encoding="utf-8").split("\n")
    for key, value in pairs.items():
        hits = [index for index, row in enumerate(rows) if row.split("=")[0].strip() == key]
        assert hits, key
        for index in hits:
            rows[index] = f"{key} = {value}"
    return "\n".join(rows)


def plane_file(tmp_path: Path, name: str, **pairs: str) -> PlaneFile:
    path = tmp_path / "plane.toml"
    path.write_text(changed(name, **pairs), encoding="utf-8")
    return load_plane(path)


@pytest.mark.parametrize("name", DEMOS)
def test_status_says_whether_every_target_is_met(tuned: Tuned, name: str) -> None:
    answer = tuned(name).tuned
    missed = [target.name for target in answer.targets if not target.met]
    print(name, answer.status, "missed:", ", ".join(missed) or "nothing")
    assert answer.status == ("limited" if missed else "met")
    assert answer.plan is not None
    assert answer.remedies or not missed
    assert all(target.wanted and target.got for target in answer.targets)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_a_met_down_speed_is_the_predicted_one(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    target = next(target for target in answer.tuned.targets if target.name == "vertical down speed")
    assert answer.predicted is not None
    state = answer.predicted.survey.line("vertical down").speed
    assert state is not None
    within = abs(state.speed - answer.ready.wanted) <= Targets().speed_tolerance * answer.ready.wanted
    assert target.met == within
    if name in LARGER:
        assert within


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_predict_with_the_plan_file_equals_the_prediction_of_tune(tuned: Tuned, name: str, tmp_path: Path) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    assert answer.predicted is not None
    path = tmp_path / "x.plan.toml"
    write_plan(answer.plan, path)
    assert plan_text(load_plan(path, answer.ready.file.plane)) == plan_text(answer.plan)
    again = workflow.predict(answer.ready.file, path)
    assert again.plan_name == "x.plan.toml"
    for mine, theirs in zip(again.survey.lines, answer.predicted.survey.lines, strict=True):
        assert (mine.name, mine.status, len(mine.steady)) == (theirs.name, theirs.status, len(theirs.steady))
        assert mine.stick == pytest.approx(theirs.stick, abs=1e-6)
        for a, b in zip(mine.steady, theirs.steady, strict=True):
            assert a.state.speed == pytest.approx(b.state.speed, rel=1e-6)
            assert a.reached_from == b.reached_from
        for one, other in zip(again.estimates[mine.name], answer.predicted.estimates[mine.name], strict=True):
            assert (one is None) == (other is None)
            if one is not None and other is not None:
                assert one.spread == pytest.approx(other.spread, rel=1e-4)
    for mine_roll, their_roll in zip(again.rolls, answer.predicted.rolls, strict=True):
        assert mine_roll.rate == pytest.approx(their_roll.rate, rel=1e-4)
    for mine_bend, their_bend in zip(again.bends, answer.predicted.bends, strict=True):
        assert mine_bend.clean == pytest.approx(their_bend.clean, abs=1e-4)
        assert mine_bend.crow == pytest.approx(their_bend.crow, abs=5e-3)


def best_of(answer: TuneAnswer, percent: float) -> Judged:
    """The smallest crow among the opposed arrangements of the level nearest to a percent."""
    nearest = min((j.candidate.level.percent for j in answer.tuned.judged), key=lambda p: abs(p - percent))
    opposed = [
        j
        for j in answer.tuned.judged
        if j.candidate.level.percent == nearest and j.candidate.arrangement in ("up/down", "down/up")
    ]
    return min(opposed, key=lambda j: j.candidate.angle)


@pytest.mark.published
@pytest.mark.parametrize("name", LARGER)
def test_common_practice_of_crow_beside_a_quarter_brake(tuned: Tuned, name: str) -> None:
    # Common practice, no source: 11 to 16 deg beside a quarter of motor brake; the band of 8 to 22 deg is two-sided.
    answer = tuned(name)
    for percent in (0, 25, 50, 75, 100):
        item = best_of(answer, percent)
        print(f"{name} {percent} %: {math.degrees(item.candidate.angle):.1f} deg ({item.candidate.arrangement})")
    assert 8.0 <= math.degrees(best_of(answer, 25).candidate.angle) <= 22.0


@pytest.mark.published
@pytest.mark.parametrize("name", LARGER)
def test_half_brake_needs_about_the_same_crow_as_a_quarter(tuned: Tuned, name: str) -> None:
    """Common practice, no source: with half brake less crow, and hard to repeat. Computed: on the far side of the
    fold, where the propeller is stalled, half brake holds no more than a quarter; the difference is below a degree.
    The miss is reported, not bent: it rests on taking the level's percent as pulse duty."""
    answer = tuned(name)
    quarter, half = (math.degrees(best_of(answer, percent).candidate.angle) for percent in (25, 50))
    print(f"{name}: {quarter:.1f} deg at a quarter, {half:.1f} at half ({half - quarter:+.1f}; practice has less)")
    assert abs(half - quarter) < 2.0
    none = math.degrees(best_of(answer, 0).candidate.angle)
    assert quarter < none
    assert half < none


@pytest.mark.parametrize("name", DEMOS)
def test_a_level_whose_doubt_reaches_the_fold_is_fickle(tuned: Tuned, name: str) -> None:
    accepted = Targets().fold_probability
    for item in tuned(name).tuned.judged:
        if item.verdict == "refused":
            continue
        reaches = item.candidate.states != 1 or item.candidate.shaft.fold_probability > accepted
        if reaches:
            assert item.verdict in ("fickle", "chosen")
            assert "propeller speed" in item.why
        else:
            assert item.verdict != "fickle"
    if name in LARGER:
        assert any(item.verdict == "fickle" for item in tuned(name).tuned.judged)


@pytest.mark.parametrize("name", DEMOS)
def test_every_level_meets_every_arrangement_once(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    plane = answer.ready.file.plane
    pairs = [(item.candidate.level.name, item.candidate.arrangement) for item in answer.tuned.judged]
    assert sorted(pairs) == sorted((lv.name, arr) for lv in plane.controller.levels for arr in arrangements_of(plane))


def test_a_monoplane_tries_both_of_its_arrangements(tuned: Tuned) -> None:
    answer = tuned("monoplane_160")
    assert {item.candidate.arrangement for item in answer.tuned.judged} == {"both up", "both down"}
    assert arrangements_of(load_plane(demo_path("biplane_124")).plane) == ARRANGEMENTS
    assert answer.plan is not None
    assert answer.plan.crow is not None
    assert 0.0 in (answer.plan.crow.upper, answer.plan.crow.lower)


@pytest.mark.parametrize("name", DEMOS)
def test_candidates_are_consistent(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    for item in answer.tuned.judged:
        one = item.candidate
        assert 0.0 <= one.angle <= one.drag.limit.angle + 1e-9
        assert one.speed is not None
        assert one.fastest is not None
        assert one.slowest is not None
        assert one.slowest - 1e-6 <= one.speed <= one.fastest + 1e-6
        if one.reach == "met":
            assert one.speed == pytest.approx(answer.ready.wanted, rel=2e-3)
        else:
            assert item.verdict == "refused"
        assert one.per_degree is None or one.per_degree < 0.0
    verdicts = [item.verdict for item in answer.tuned.judged]
    order = ["chosen", "usable", "fickle", "refused"]
    assert verdicts == sorted(verdicts, key=order.index)
    assert verdicts.count("chosen") <= 1


@pytest.mark.parametrize("name", DEMOS)
def test_the_plan_can_be_set_on_the_plane(tuned: Tuned, name: str) -> None:
    answer = tuned(name)
    assert answer.plan is not None
    crow = answer.plan.crow
    assert crow is not None
    for wing, angle, sign in zip(
        ("upper", "lower"), (crow.upper, crow.lower), wing_signs(crow.arrangement), strict=True
    ):
        assert angle * sign >= 0.0
        surface = answer.ready.file.plane.wings.get(wing)
        if surface is None or surface.aileron is None:
            assert angle == 0.0
    start = answer.ready.file.plane.controller.start_stick
    assert crow.deployment(0.0) == 1.0
    assert crow.deployment(start) == pytest.approx(1.0, abs=2e-3)
    assert crow.deployment(crow.threshold) == 0.0
    assert crow.deployment(1.0) == 0.0


def test_no_throw_left_for_crow_is_no_plan_and_says_what_would_buy_one(tmp_path: Path) -> None:
    file = plane_file(tmp_path, "monoplane_160", throw_up_deg="7", throw_down_deg="7")
    answer = workflow.tune(file)
    assert answer.tuned.status == "none"
    assert answer.plan is None
    assert answer.predicted is None
    assert answer.tuned.judged == ()
    assert "hinges that allow more would buy a plan" in answer.tuned.remedies[0]


def test_too_slow_even_without_crow_is_told(tmp_path: Path) -> None:
    file = plane_file(tmp_path, "biplane_124", speed_m_s="45.0")
    answer = workflow.tune(file)
    slow = [item for item in answer.tuned.judged if item.candidate.reach == "too slow"]
    assert slow
    assert all("even without crow: this level holds too much" in item.why for item in slow)
    assert all(item.candidate.angle == 0.0 for item in slow)
    assert answer.tuned.status == "limited"
    assert any("Less motor brake" in words for words in answer.tuned.remedies)


@pytest.mark.outside
@pytest.mark.parametrize("start", ["0", "39"])
def test_odd_start_sticks_still_give_a_curve(tmp_path: Path, start: str) -> None:
    closed = "0" if start == "0" else "30"
    file = plane_file(tmp_path, "biplane_124", start_percent=start, closed_below_percent=closed)
    answer = workflow.tune(file)
    assert answer.plan is not None
    assert answer.plan.crow is not None
    path = tmp_path / "x.plan.toml"
    write_plan(answer.plan, path)
    read = load_plan(path, file.plane).crow
    assert read is not None
    for crow in (answer.plan.crow, read):
        assert crow.deployment(float(start) / 100) == pytest.approx(1.0, abs=2e-3)
        assert crow.deployment(crow.threshold) == pytest.approx(0.0, abs=2e-3)


@pytest.mark.outside
def test_a_wanted_speed_below_the_stall_gets_no_traceback(tmp_path: Path) -> None:
    file = plane_file(tmp_path, "biplane_155", speed_m_s="6.0")
    answer = workflow.tune(file)
    assert answer.tuned.status in ("limited", "none")
    if answer.predicted is not None:
        level = answer.predicted.survey.line("level")
        assert level.status in (Status.STALLED, Status.NO_STEADY_SPEED)


def test_wanted_speed_as_fast_as_level_at_a_stick(tmp_path: Path) -> None:
    from evenfall.errors import InputError

    file = load_plane(demo_path("biplane_124"))
    plane = replace(file.plane, wanted=replace(file.plane.wanted, speed=None, level_stick=0.6))
    made = workflow.prepare(replace(file, plane=plane))
    assert 10.0 < made.wanted < 40.0
    slow = replace(plane, wanted=replace(plane.wanted, level_stick=0.01))
    with pytest.raises(InputError, match="does not fly level at 1 % stick"):
        workflow.wanted_speed(replace(made.frame, plane=slow), made.unit)


@pytest.mark.limit
def test_measured_damping_shrinks_the_doubt_of_its_level(tuned: Tuned) -> None:
    from evenfall.tune.candidates import fold_probability

    unit = tuned("biplane_124").ready.unit
    import numpy as np

    level = unit.plane.controller.level("50")
    span = np.linspace(15.0, 29.0, 5)
    assert fold_probability(unit, replace(level, percent=0.0), span) == (0.0, 0.0)
    wanted, anywhere = fold_probability(unit, level, span)
    assert 0.0 <= wanted <= anywhere <= 1.0
    known = fold_probability(unit, replace(level, damping=2e-3), span)
    assert known[1] in (0.0, 1.0) or known[1] <= anywhere
