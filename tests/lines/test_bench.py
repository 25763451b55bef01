"""Bench list and its proof: what must be shown, tolerance, planted faults, several phases together, refusals."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

import bench_plane
from evenfall.errors import InputError
from evenfall.lines.bench import BenchList, bench_list, stick_worth, tolerance
from evenfall.lines.bench_proof import form_rows, judge_list, wanted_angle
from evenfall.lines.throws import real_angles
from evenfall.logs.readings import Reading
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.mixer import Sticks, mix
from evenfall.radio.plan import present_plan

rad, deg = math.radians, math.degrees


@pytest.fixture(scope="module")
def bench() -> BenchList:
    found: BenchList = bench_plane.bench_of()
    return found


# --- the list ---------------------------------------------------------------------------------------------------------


@pytest.mark.invariant
def test_the_list_shows_what_plan_and_linkage_give(bench: BenchList) -> None:
    for item in bench.phases:
        for row in item.rows:
            sticks = Sticks(throttle=row.throttle, aileron=row.aileron, elevator=row.elevator)
            real = real_angles(bench.plane, bench.plan, item.phase, sticks)
            for name, angle in row.angles.items():
                assert angle == pytest.approx(float(real[name]), abs=1e-9), (item.phase.name, row.words, name)
            if row.tail is not None:
                told = float(mix(bench.plane, bench.plan, item.phase, sticks).elevator)
                assert row.tail == pytest.approx(told, abs=1e-12)


@pytest.mark.limit
def test_crow_out_shows_the_plans_angles_and_crow_off_none(bench: BenchList) -> None:
    crow = bench.plan.crow
    assert crow is not None
    closed = {item.phase.name: item.rows[0] for item in bench.phases}
    for name, row in closed.items():
        live = bench.plan.named(name).crow_live
        assert row.throttle == 0.0
        assert row.deployment == (1.0 if live else 0.0)
        assert row.angles["upper_left"] == pytest.approx(crow.upper if live else 0.0, abs=1e-9)
        assert row.angles["lower_right"] == pytest.approx(crow.lower if live else 0.0, abs=1e-9)
        assert row.tail == pytest.approx(crow.elevator if live else 0.0, abs=1e-12)


@pytest.mark.invariant
def test_left_and_right_are_mirror_images(bench: BenchList) -> None:
    normal = next(item for item in bench.phases if item.phase.kind == "normal")
    rows = {(row.throttle, row.aileron): row.angles for row in normal.rows if row.elevator == 0}
    for throttle in (0.0, 1.0):
        right, left = rows[throttle, 1.0], rows[throttle, -1.0]
        for wing in ("upper", "lower"):
            assert right[f"{wing}_left"] == pytest.approx(left[f"{wing}_right"], abs=1e-9)
            assert right[f"{wing}_left"] > rows[throttle, 0.0][f"{wing}_left"] > right[f"{wing}_right"]


@pytest.mark.invariant
def test_throttle_rows_are_closed_quarter_half_threshold_level_full(bench: BenchList) -> None:
    normal = next(item for item in bench.phases if item.phase.kind == "normal")
    sticks = [row.throttle for row in normal.rows if row.aileron == 0 and row.elevator == 0]
    assert sticks == [0.0, 0.25, 0.45, 0.57, 1.0]  # half out at 25 %: one row with the quarter
    assert "crow half out" in normal.rows[1].words
    assert [row.deployment for row in normal.rows[2:5]] == [0.0, 0.0, 0.0]


@pytest.mark.limit
def test_tolerance_is_gauge_neutral_or_a_twentieth_of_the_roll() -> None:
    assert deg(tolerance(0.0)) == pytest.approx(0.5)
    assert deg(tolerance(rad(16.5))) == pytest.approx(0.825)
    assert tolerance(0.0) > 2 * rad(0.3) / math.sqrt(2)  # what two readings can show
    # one of four ailerons wrong by 1 deg against 7 deg of full stick: 1/28
    assert stick_worth(rad(1), rad(7), ailerons=4) == pytest.approx(1 / 28)
    assert stick_worth(rad(1), 0.0, ailerons=4) == 0.0


@pytest.mark.limit
def test_a_plan_without_crow_or_corners_still_has_a_list() -> None:
    plane = load_plane(demo_path("biplane_124")).plane
    found = bench_list(plane, present_plan(plane))
    assert found.half is None
    assert found.phases[0].rows[0].words == "sticks in the middle, throttle anywhere"
    assert any("nothing about arms" in note for note in found.notes)
    assert len(form_rows(found)) == 3


@pytest.mark.outside
def test_without_linkages_the_list_stands_but_nothing_is_judged() -> None:
    plane, plan = bench_plane.demo()
    bare = bench_list(replace(plane, aileron_servo=None, aileron_linkage={}), replace(plan, corners={}))
    assert not bare.provable
    assert "readings cannot be judged" in bare.notes[0]
    row = next(row for item in bare.phases for row in item.rows if item.phase.kind == "normal" and row.aileron == 1)
    assert row.angles["upper_left"] == pytest.approx(rad(7))
    assert row.pulses == {}
    with pytest.raises(InputError, match=r"\[linkage.aileron\]"):
        judge_list(bare, bench_plane.readings_of(bench_plane.bench_of()))


@pytest.mark.outside
def test_a_crow_edited_against_its_pulse_is_told() -> None:
    plane, plan = bench_plane.demo()
    setup = plan.corners["lower_left"]
    odd = replace(plan, corners={**plan.corners, "lower_left": replace(setup, pulse_deployed=setup.pulse_neutral)})
    notes = bench_list(plane, odd).notes
    assert len(notes) == 1
    assert "Lower left: the plan's pulse with crow out gives +0.0 deg" in notes[0]


@pytest.mark.invariant
def test_the_form_asks_nine_positions_of_the_widest_phase(bench: BenchList) -> None:
    rows = form_rows(bench)
    assert {row.phase for row in rows} == {"snap"}
    assert [(row.throttle, row.aileron) for row in rows] == [(t, a) for t in (1.0, 0.25, 0.0) for a in (0.0, -1.0, 1.0)]
    angle, allowed = wanted_angle(bench, rows[-1], "elevator")
    assert deg(angle) == pytest.approx(4.0)
    assert allowed == tolerance(0.0)


# --- the proof --------------------------------------------------------------------------------------------------------


@pytest.mark.property
@pytest.mark.parametrize("count", [45, pytest.param(450, marks=pytest.mark.long)])
def test_planted_faults_are_named_and_the_grave_ones_stop_the_flight(bench: BenchList, count: int) -> None:
    # .3 deg gauge noise, nine positions both ways: at most 2 in 100 missed. 6 % of gain costs about 5 % of roll, the
    # edge of what is good enough, so it need only be named.
    missed: Counter[str] = Counter()
    for number in range(count):
        fault = bench_plane.FAULTS[number % len(bench_plane.FAULTS)]
        corner = list(bench.corners)[(number // len(bench_plane.FAULTS)) % 4]
        found = judge_list(bench, bench_plane.readings_of(bench, fault, corner=corner, seed=number))
        named = corner in found.over_centre if fault == "over-centre" else found.proof.corners[corner].fault == fault
        grave = fault in ("reversed", "swapped plugs", "wrong side", "over-centre")
        missed[fault] += not named or found.do_not_fly != grave or (found.good and fault != "gain")
    assert sum(missed.values()) <= 0.02 * count, missed


@pytest.mark.limit
@pytest.mark.parametrize("seed", range(12))
def test_a_sound_plane_is_good_enough(bench: BenchList, seed: int) -> None:
    found = judge_list(bench, bench_plane.readings_of(bench, seed=seed))
    assert found.good
    assert not found.do_not_fly
    assert found.over_centre == found.unexplained == ()
    assert abs(found.roll_loss) < 0.02
    assert found.lean is not None
    assert abs(found.lean) < 4 * found.lean_spread


@pytest.mark.limit
def test_readings_without_noise_hit_the_list(bench: BenchList) -> None:
    found = judge_list(bench, bench_plane.readings_of(bench, noise=0.0))
    assert max(abs(row.off) for row in found.off) < 1e-9
    fit = found.proof.corners["upper_right"].fit
    assert (fit.centre, fit.gain, fit.offset, fit.slop) == pytest.approx((0, 1, 0, 0), abs=1e-4)


@pytest.mark.invariant
def test_phases_are_judged_together(bench: BenchList) -> None:
    """Readings in normal (with exponential, half stick) and snap describe the same corner."""
    rows = []
    rng = np.random.default_rng(4)
    for phase, throttle, aileron in (
        ("normal", 1.0, 0.5), ("normal", 0.0, -1.0), ("normal", 0.1, 0.0), ("snap", 1.0, 1.0), ("snap", 0.0, 1.0),
        ("snap", 0.0, -1.0), ("landing", 0.0, 1.0), ("landing", 0.0, 0.0),
    ):  # fmt: skip
        for name in bench.corners:
            blank = Reading(surface=name, phase=phase, throttle=throttle, aileron=aileron, direction=0, angle=0.0)
            angle = wanted_angle(bench, blank, name)[0] + float(rng.normal(0, rad(0.3)))
            rows.append(replace(blank, angle=angle))
    found = judge_list(bench, rows)
    assert {proof.fault for proof in found.proof.corners.values()} == {"as planned"}
    assert found.tail is None


@pytest.mark.invariant
def test_what_a_neutral_error_costs_in_stick(bench: BenchList) -> None:
    found = judge_list(bench, bench_plane.readings_of(bench, "centre", noise=0.0))
    # 2 deg down at one left aileron of four against 7 deg: rolls right like 7 % of stick
    assert found.lean == pytest.approx(2 / 28, rel=1e-6)
    other = judge_list(bench, bench_plane.readings_of(bench, "centre", corner="upper_right", noise=0.0))
    assert other.lean == pytest.approx(-2 / 28, rel=1e-6)


@pytest.mark.limit
def test_the_elevators_share(bench: BenchList) -> None:
    good = judge_list(bench, bench_plane.readings_of(bench)).tail
    assert good is not None
    assert good.good
    assert good.got == pytest.approx(rad(4), abs=rad(0.4))
    wrong = judge_list(bench, bench_plane.readings_of(bench, "elevator"))
    assert wrong.tail is not None
    assert wrong.tail.do_not_fly
    assert wrong.do_not_fly
    crow_in = [row for row in bench_plane.readings_of(bench) if row.surface != "elevator" or row.throttle == 1.0]
    half = judge_list(bench, crow_in).tail
    assert half is not None
    assert half.got is None


@pytest.mark.outside
def test_a_slip_of_the_gauge_fits_nothing_and_stops_until_measured_again(bench: BenchList) -> None:
    rows = list(bench_plane.readings_of(bench))
    place = next(i for i, row in enumerate(rows) if row.surface == "lower_left" and row.aileron == 1.0)
    rows[place] = replace(rows[place], angle=-rows[place].angle)
    found = judge_list(bench, rows)
    assert found.unexplained == ("lower_left",)
    assert found.do_not_fly
    assert not found.proof.corners["lower_left"].fits


@pytest.mark.outside
def test_readings_behind_a_limit_are_left_out() -> None:
    plane, plan = bench_plane.demo()
    tight = bench_list(plane, replace(plan, corners={}))  # as measured: the snap with crow out meets a stop
    rows = bench_plane.readings_of(tight)
    found = judge_list(tight, rows)
    assert found.skipped
    assert all(row.phase == "snap" and row.throttle == 0.0 for row in found.skipped)
    with pytest.raises(InputError, match="meets its limit"):
        judge_list(tight, found.skipped)


@pytest.mark.outside
def test_no_aileron_measured_is_refused(bench: BenchList) -> None:
    with pytest.raises(InputError, match="no aileron was measured"):
        judge_list(bench, [row for row in bench_plane.readings_of(bench) if row.surface == "elevator"])


@pytest.mark.outside
def test_few_readings_answer_and_name_what_is_missing(bench: BenchList) -> None:
    rows = [row for row in bench_plane.readings_of(bench) if row.surface == "upper_left" and row.aileron == 0.0]
    found = judge_list(bench, rows)
    assert set(found.proof.missing) == {"upper_right", "lower_left", "lower_right"}
    assert not found.good
    assert found.lean is None
