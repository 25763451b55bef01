"""The arm offset solver: mirror offset found, refusals reasoned, everything read back from the fitted corner."""

import math
from dataclasses import replace

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.linkage.candidate import CentreShift, OffsetTask
from evenfall.linkage.corner import Corner, corner_limits, roll_retention
from evenfall.linkage.fourbar import FourBar, with_offset
from evenfall.linkage.offset import solve_offset, solve_plane, without_offset

rad, deg = math.radians, math.degrees
K = 0.44599  # arm/horn of the mirror offset: sin 16/(2 sin 18)


def long_task(stop_deg: float = 62.0, **more: object) -> OffsetTask:
    """A rod so long that the long-rod law holds, one pair of holes with the mirror offset's ratio."""
    bar = with_offset(FourBar(arm=K * 0.02, horn=0.02, rod=1.0, distance=2000.0, horn_above=True), 0.0)
    corner = Corner(name="lower_left", bar=bar, crow=rad(16), stop_low=rad(stop_deg), stop_high=rad(stop_deg))
    return OffsetTask(**({"corner": corner} | more))


def short_task(**more: object) -> OffsetTask:
    """Arm 10, horn 20, axes 60 apart, as on a small biplane, with holes to choose from."""
    bar = with_offset(FourBar(arm=0.010, horn=0.020, rod=0.06, distance=0.06), 0.0)
    corner = Corner(
        name="upper_left",
        bar=bar,
        crow=more.pop("crow", rad(-16)),
        stop_low=more.pop("stop", rad(62)),
        stop_high=more.pop("stop_high", rad(62)),
        hinge_up=more.pop("hinge_up", rad(45)),
    )
    holes = {"arm_holes": (0.008, 0.009, 0.010, 0.012), "horn_holes": (0.018, 0.020, 0.022, 0.024)}
    return OffsetTask(**({"corner": corner} | holes | more))


@pytest.mark.published
def test_mirror_offset_is_found() -> None:
    # Long-rod law, computed twice: stowed -18, deployed +18 deg mirrors the arm; gain .4242 against .4413, snap 17.15
    # stowed and 17.71 deployed at stops of +-62 deg; the retention at 7 deg is then 1.04, inside the 5 % band.
    task = long_task(shift=CentreShift(limit=rad(25), step=rad(0.1)))
    result = solve_offset(task)
    assert result.status == "met"
    assert result.best is not None
    assert -20.0 < deg(result.best.offset) < -14.0
    assert deg(result.best.corner.centre) == pytest.approx(0.0, abs=1e-9)  # square at the centre pulse halves the stops
    mirrored = roll_retention(replace(task.corner, bar=with_offset(task.corner.bar, rad(-18))), rad(7)).retention
    assert mirrored == pytest.approx(0.4413 / 0.4242, abs=5e-3)


@pytest.mark.published
def test_stops_of_forty_degrees_refuse_the_snap() -> None:
    # Long-rod law, computed twice: at +-40 deg only 9.1 to 9.5 deg are left; a snap must be refused.
    result = solve_offset(long_task(40.0))
    assert result.status == "limited"
    assert result.best is not None
    assert deg(min(result.best.snap_stowed, result.best.snap_deployed)) < 10.0
    assert "snap" in result.reason
    assert "servo stop" in result.reason


@pytest.mark.published
def test_without_offset_what_is_lost() -> None:
    # Long-rod law, computed twice: without offset .617/.731/.815 at stops of 45/50/60 deg.
    for stop, kept in ((45, 0.617), (50, 0.731), (60, 0.815)):
        loss = without_offset(long_task(stop), arm=K * 0.02, horn=0.02)
        assert loss.possible
        assert loss.retention == pytest.approx(kept, abs=5e-4)
        assert deg(loss.normal_lost) == pytest.approx(7 * (1 - kept), abs=4e-3)
        assert f"keeps {100 * loss.retention:.0f} %" in loss.text


@pytest.mark.published
def test_four_arm_horn_reaches_eighteen_without_pulse() -> None:
    # 25 teeth, 4 arms: 3.6 deg, so 18 deg is a tooth position; no pulse shift is needed for the gain.
    result = solve_offset(long_task(85.0, horn_arms=4, shift=CentreShift(means="none")))
    assert result.status == "met"
    assert result.best is not None
    assert result.best.shift == pytest.approx(0.0, abs=1e-9)
    assert math.remainder(deg(result.best.offset), 3.6) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.invariant
def test_the_answer_holds_on_the_corner_it_gives() -> None:
    result = solve_offset(short_task())
    assert result.status == "met"
    best = result.best
    assert best is not None
    corner = best.corner
    assert corner.neutral == pytest.approx(best.offset, abs=1e-9)
    assert roll_retention(corner, rad(7)).retention == pytest.approx(best.retention, abs=1e-9)
    assert abs(best.retention - 1) <= 0.05
    limits = corner_limits(corner)
    places = {place.name: place for place in best.positions}
    for place in best.positions:
        assert limits.low - 1e-12 <= place.servo <= limits.high + 1e-12
        assert float(corner.throw(corner.servo_of_pulse(place.pulse))) == pytest.approx(place.surface, abs=1e-9)
    assert places["neutral"].surface == pytest.approx(0.0, abs=1e-9)
    assert places["deployed"].surface == pytest.approx(rad(-16), abs=1e-9)
    for state in ("stowed", "deployed"):
        throw = (places[f"snap down, {state}"].surface - places[f"snap up, {state}"].surface) / 2
        assert deg(throw) >= 16.5 - 1e-6
    assert best.room_low >= 0
    assert best.room_high >= 0
    ranks = [c.score for c in result.candidates]
    assert ranks == sorted(ranks)


@pytest.mark.invariant
def test_mirrored_corner_has_mirrored_pulses() -> None:
    task = short_task()
    other = replace(task, corner=replace(task.corner, name="upper_right", direction=-1, roll_sign=-1))
    plane = solve_plane({"upper_left": task, "upper_right": other})
    left, right = (plane.corners[name].best for name in ("upper_left", "upper_right"))
    assert left is not None
    assert right is not None
    assert left.shift_pulse == -right.shift_pulse
    assert [p.surface for p in left.positions] == [p.surface for p in right.positions]
    assert [p.pulse - 1.5e-3 for p in left.positions] == pytest.approx([1.5e-3 - p.pulse for p in right.positions])
    assert right.corner.name == "upper_right"
    assert solve_offset(other).best == right  # alone or with the others: the same answer
    assert plane.status == "met"
    assert plane.retention == pytest.approx((left.retention + right.retention) / 2)


@pytest.mark.invariant
def test_upside_down_is_the_same_task() -> None:
    one = solve_offset(short_task()).best
    task = short_task(crow=rad(16))
    above = replace(task, corner=replace(task.corner, bar=replace(task.corner.bar, horn_above=True)))
    two = solve_offset(above).best
    assert one is not None
    assert two is not None
    assert two.offset == pytest.approx(one.offset, abs=1e-12)
    assert two.retention == pytest.approx(one.retention, abs=1e-12)
    assert two.uneven == pytest.approx(-one.uneven, abs=1e-12)


@pytest.mark.limit
def test_no_crow_needs_no_offset() -> None:
    best = solve_offset(short_task(crow=0.0)).best
    assert best is not None
    assert best.offset == pytest.approx(0.0, abs=1e-9)
    assert best.retention == pytest.approx(1.0, abs=1e-9)


@pytest.mark.invariant
def test_other_holes_give_another_answer() -> None:
    small = solve_offset(short_task(arm_holes=(0.009,), horn_holes=(0.018,))).best
    large = solve_offset(short_task(arm_holes=(0.012,), horn_holes=(0.018,))).best
    assert small is not None
    assert large is not None
    assert abs(small.offset - large.offset) > rad(2)
    assert abs(small.snap_deployed - large.snap_deployed) > rad(2)


@pytest.mark.invariant
def test_pulse_steps_and_limits_are_kept() -> None:
    shift = CentreShift(means="servo", limit=rad(5), step=rad(0.4))
    result = solve_offset(short_task(shift=shift, horn_arms=4))
    for one in result.candidates:
        assert abs(one.shift) <= rad(5) + 1e-9
        assert math.remainder(one.shift, rad(0.4)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.invariant
def test_load_counts() -> None:
    angles, moments = (-0.6, 0.0, 0.6), (0.2, 0.1, 0.2)
    weak = solve_offset(short_task(moment_angles=angles, moments=moments, stall_torque=0.05))
    strong = solve_offset(short_task(moment_angles=angles, moments=moments, stall_torque=0.5))
    assert strong.status == "met"
    assert strong.best is not None
    assert 0 < strong.best.load < 0.5
    assert weak.status == "limited"
    assert "stall torque" in weak.reason


@pytest.mark.outside
def test_refusals_say_why() -> None:
    far = solve_offset(short_task(crow=rad(-60)))
    assert far.status == "none"
    assert far.best is None
    assert "Crow reaches" in far.reason
    low = solve_offset(short_task(hinge_up=rad(14)))
    assert low.status == "none"
    assert "hinge limit" in low.reason
    rod = solve_offset(short_task(rod_longest=0.05))
    assert rod.status == "limited"
    assert "rod" in rod.reason
    tiny = solve_offset(short_task(arm_holes=(0.003,), horn_holes=(0.03,)))
    assert tiny.status == "none"
    assert "arm over horn" in tiny.reason
    both = solve_plane({"upper_left": short_task(), "lower_left": short_task(crow=rad(-60))})
    assert both.status == "none"
    assert both.reason.startswith("lower left:")


@pytest.mark.outside
def test_nonsense_throws_are_refused() -> None:
    with pytest.raises(ValueRangeError, match="throws"):
        short_task(throw_normal=rad(20), throw_snap=rad(16))
    with pytest.raises(ValueRangeError, match="hinge moment"):
        short_task(moments=(0.1,))


@pytest.mark.property
@pytest.mark.parametrize("count", [40, pytest.param(200, marks=pytest.mark.long)])
def test_random_linkages_end_in_a_plan_or_a_reason(count: int) -> None:
    rng = np.random.default_rng(2024)
    tally = {"met": 0, "limited": 0, "none": 0}
    for _ in range(count):
        arm, horn = rng.uniform(0.007, 0.016), rng.uniform(0.012, 0.028)
        bar = FourBar(
            arm=arm,
            horn=horn,
            rod=0.06,
            distance=rng.uniform(0.035, 0.11),
            height=rng.uniform(-0.012, 0.012),
            setback=rng.uniform(-0.25, 0.25) * horn,
            crossed=bool(rng.random() < 0.15),
            horn_above=bool(rng.integers(2)),
        )
        corner = Corner(
            name="lower_left",
            bar=with_offset(bar, 0.0),
            crow=rng.choice([-1, 1]) * rad(rng.uniform(6, 22)),
            stop_low=rad(rng.uniform(40, 75)),
            stop_high=rad(rng.uniform(40, 75)),
            hinge_up=rad(rng.uniform(25, 50)),
            hinge_down=rad(rng.uniform(25, 50)),
        )
        task = OffsetTask(
            corner=corner,
            throw_snap=rad(rng.uniform(12, 20)),
            arm_holes=tuple(arm * f for f in (0.85, 1.0, 1.15)),
            horn_holes=tuple(horn * f for f in (0.85, 1.0, 1.15)),
            spline_teeth=int(rng.choice([23, 24, 25])),
            horn_arms=int(rng.choice([1, 2, 4, 6])),
            turn_over=bool(rng.integers(2)),
            shift=CentreShift(means=str(rng.choice(["radio", "servo", "none"])), limit=rad(rng.uniform(3, 25))),
        )
        result = solve_offset(task)
        tally[result.status] += 1
        assert result.reason.endswith(".")
        assert "nan" not in result.reason
        if result.best is None:
            assert result.status == "none"
            continue
        best = result.best
        numbers = [best.retention, best.snap_stowed, best.snap_deployed, best.score, *(p.pulse for p in best.positions)]
        assert np.isfinite(numbers).all()
        assert result.no_offset is not None
        if result.status == "met":
            assert abs(roll_retention(best.corner, task.throw_normal).retention - 1) <= 0.05 + 1e-9
            assert min(best.snap_stowed, best.snap_deployed) >= task.throw_snap - 1e-6
    assert sum(tally.values()) == count
    assert tally["met"] > count / 4, tally  # the study is not made of refusals
    assert tally["limited"] + tally["none"] > count / 10, tally  # nor of gifts
