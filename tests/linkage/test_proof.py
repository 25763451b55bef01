"""Bench proof: faults planted by a routine of its own geometry, read with gauge noise, named by the method."""

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.candidate import OffsetTask
from evenfall.linkage.corner import Corner
from evenfall.linkage.faults import PRIOR, hypotheses, judge
from evenfall.linkage.fourbar import FourBar, with_offset
from evenfall.linkage.offset import solve_plane
from evenfall.linkage.proof import (
    BenchProof,
    Kit,
    Positions,
    Readings,
    commands,
    fit_corner,
    prove,
)

Array = NDArray[np.float64]
rad, deg = math.radians, math.degrees
KIT = Kit(spline_teeth=25, arm_holes=(0.008, 0.010, 0.012, 0.014), horn_holes=(0.016, 0.019, 0.022, 0.025))
FAULTS = ("one tooth", "one hole", "gain", "slop", "reversed", "swapped plugs")
NOISE = rad(0.3)


# --- a bench of its own: two circles cut with vectors, nothing from the package's kinematics --------------------------


def nine_positions() -> Positions:
    """The recommended nine: stick left, middle and right, each with crow stowed, half and fully out."""
    out, stick = np.meshgrid([0.0, 0.5, 1.0], [-1.0, 0.0, 1.0], indexing="ij")
    return Positions(stick=stick.ravel(), deployment=out.ravel())


@dataclass
class Build:
    """What was really screwed together at one corner."""

    arm: float
    horn: float
    plug: str
    turned: float = 0.0
    gain: float = 1.0
    slop: float = 0.0
    rod_set: bool = True
    reversed: bool = False


def cut_circles(arm: float, horn: float, rod: float, bar: FourBar, angle: Array) -> Array:
    """Surface angle by cutting the rod's circle about the arm pin with the horn's circle about the hinge."""
    pin = arm * np.exp(1j * (np.pi / 2 - angle))
    hinge = complex(float(bar.distance), -float(bar.height))
    line = hinge - pin
    far = np.abs(line)
    along = (rod**2 - horn**2 + far**2) / (2 * far)
    across = np.sqrt(np.maximum(rod**2 - along**2, 0.0))
    horn_pin = pin + line / far * (along + 1j * across)
    neutral = complex(float(bar.setback), math.sqrt(horn**2 - float(bar.setback) ** 2))
    turned = -np.angle((horn_pin - hinge) / neutral)
    return np.where(np.abs(along) <= rod, (1.0 if bar.horn_above else -1.0) * turned, np.nan)


def rod_for(arm: float, horn: float, bar: FourBar, angle: float) -> float:
    hinge = complex(float(bar.distance), -float(bar.height))
    horn_pin = hinge + complex(float(bar.setback), math.sqrt(horn**2 - float(bar.setback) ** 2))
    return float(abs(horn_pin - arm * np.exp(1j * (np.pi / 2 - angle))))


def upright(corner: Corner) -> float:
    """Arm angle from the chord's normal that is square to the rod at neutral."""
    bar = corner.bar
    pin = complex(float(bar.distance) + float(bar.setback), 0) + 1j * (
        -float(bar.height) + math.sqrt(float(bar.horn) ** 2 - float(bar.setback) ** 2)
    )
    return math.pi / 2 - (float(np.angle(pin)) + math.acos(float(bar.arm) / abs(pin)))


def bench(
    rng: np.random.Generator,
    corners: dict[str, Corner],
    builds: dict[str, Build],
    turns: dict[str, float],
    positions: Positions,
    *,
    ways: tuple[int, ...] = (1, -1),
    noise: float = NOISE,
) -> tuple[dict[str, Readings], dict[str, Array]]:
    """Readings of every corner, and the angles without noise or play."""
    readings, true = {}, {}
    for name, build in builds.items():
        corner, giver = corners[name], corners[build.plug]
        way = giver.roll_sign * (1.0 if giver.bar.horn_above else -1.0)
        asked = giver.neutral + positions.deployment * (giver.deployed - giver.neutral)
        asked = asked + way * positions.stick * turns[giver.name]
        pulse = giver.direction * (asked - giver.centre) / giver.servo_gain * (-1.0 if build.reversed else 1.0)
        zero = upright(corner) + build.turned
        angle = zero + corner.centre + corner.direction * corner.servo_gain * build.gain * pulse
        rod = float(corner.bar.rod)
        if build.rod_set:
            rod = rod_for(build.arm, build.horn, corner.bar, zero + corner.neutral)
        surface = cut_circles(build.arm, build.horn, rod, corner.bar, angle)
        rows = [
            (i, float(s - way * build.slop / 2 + rng.normal(0.0, noise)), way)
            for i, s in enumerate(surface)
            for way in ways
            if np.isfinite(s) and abs(s) < 1.4
        ]
        index, read, direction = zip(*rows, strict=True)
        readings[name] = Readings(position=index, angle=read, direction=direction)
        true[name] = surface
    return readings, true


def good_builds(corners: dict[str, Corner]) -> dict[str, Build]:
    return {n: Build(arm=float(c.bar.arm), horn=float(c.bar.horn), plug=n) for n, c in corners.items()}


def planted(rng: np.random.Generator, corners: dict[str, Corner], fault: str) -> tuple[list[str], dict[str, Build]]:
    """One fault at a corner drawn by lot; swapped plugs concern two."""
    builds = good_builds(corners)
    names = list(corners)
    name = names[rng.integers(len(names))]
    one = builds[name]
    if fault == "one tooth":
        one.turned, one.rod_set = float(rng.choice([-1, 1])) * 2 * math.pi / 25, bool(rng.integers(2))
    elif fault == "one hole":
        part, holes = (("arm", KIT.arm_holes), ("horn", KIT.horn_holes))[rng.integers(2)]
        here = int(np.argmin(np.abs(np.array(holes) - getattr(one, part))))
        near = [k for k in (here - 1, here + 1) if 0 <= k < len(holes)]
        setattr(one, part, holes[near[rng.integers(len(near))]])
        one.rod_set = bool(rng.integers(2))
    elif fault == "gain":
        one.gain = 1.0 + 0.04 * float(rng.choice([-1, 1]))
    elif fault == "slop":
        one.slop = rad(1.0)
    elif fault == "reversed":
        one.reversed = True
    else:
        other = [n for n in names if n != name][rng.integers(len(names) - 1)]
        one.plug, builds[other].plug = other, name
        return [name, other], builds
    return [name], builds


def random_plane(rng: np.random.Generator) -> tuple[dict[str, Corner], dict[str, float]]:
    """Four corners with the offset solver's plan, arms and horns on either side, any arrangement."""
    while True:
        distance, height, back = rng.uniform(0.04, 0.09), rng.uniform(-0.006, 0.006), rng.uniform(-0.003, 0.003)
        crow = rad(rng.uniform(11, 18))
        tasks = {}
        for wing in ("upper", "lower"):
            sign, above = float(rng.choice([-1, 1])), bool(rng.integers(2))
            bar = FourBar(
                arm=0.010, horn=0.019, rod=0.06, distance=distance, height=height, setback=back, horn_above=above
            )
            for side, way in (("left", 1), ("right", -1)):
                corner = Corner(
                    name=f"{wing}_{side}",
                    bar=with_offset(bar, 0.0),
                    crow=sign * crow,
                    stop_low=rad(62),
                    stop_high=rad(62),
                    direction=way,
                    roll_sign=way,
                )
                tasks[corner.name] = OffsetTask(
                    corner=corner, arm_holes=KIT.arm_holes, horn_holes=KIT.horn_holes, horn_arms=4
                )
        found = solve_plane(tasks).corners
        chosen = {name: result.best for name, result in found.items() if result.best is not None}
        if len(chosen) == 4:
            return (
                {name: best.corner for name, best in chosen.items()},
                {name: best.snap_turn for name, best in chosen.items()},
            )


def plane(seed: int = 5) -> tuple[dict[str, Corner], dict[str, float]]:
    return random_plane(np.random.default_rng(seed))


def judged(
    corners: dict[str, Corner], readings: dict[str, Readings], turns: dict[str, float], kit: Kit = KIT
) -> BenchProof:
    kits = dict.fromkeys(corners, kit)
    return prove(tuple(corners.values()), nine_positions(), readings, turn=turns, kits=kits)


# --- the study --------------------------------------------------------------------------------------------------------


@pytest.mark.property
@pytest.mark.parametrize("count", [60, pytest.param(600, marks=pytest.mark.long)])
def test_planted_faults_are_named(count: int) -> None:
    # .3 deg gauge noise, nine positions both ways: named rightly in 98 of 100. A swap that moves no surface by more
    # than 1 deg cannot be seen and is not drawn (the method lists such pairs as alike).
    rng = np.random.default_rng(20240)
    planes = [random_plane(rng) for _ in range(max(count // 20, 4))]
    wrong, false, done = Counter(), 0, 0
    while done < count:
        fault = FAULTS[done % len(FAULTS)]
        corners, turns = planes[rng.integers(len(planes))]
        bad, builds = planted(rng, corners, fault)
        readings, true = bench(rng, corners, builds, turns, nine_positions())
        if fault == "swapped plugs":
            _, plain = bench(rng, corners, good_builds(corners), turns, nine_positions())
            if max(np.nanmax(np.abs(true[name] - plain[name])) for name in bad) < rad(1.0):
                continue
        done += 1
        proof = judged(corners, readings, turns)
        if any(proof.corners[name].fault != fault for name in bad):
            wrong[fault] += 1
        false += sum(proof.corners[name].fault != "as planned" for name in corners if name not in bad)
    assert sum(wrong.values()) <= 0.02 * count, wrong
    assert false <= 0.02 * 3 * count


# --- one by one -------------------------------------------------------------------------------------------------------


@pytest.mark.limit
def test_a_plane_as_planned_is_good_enough() -> None:
    corners, turns = plane()
    readings, _ = bench(np.random.default_rng(1), corners, good_builds(corners), turns, nine_positions())
    proof = judged(corners, readings, turns)
    assert proof.good
    assert proof.do_not_fly == ()
    assert proof.text == "Every corner shows what the plan says. Good enough."
    for one in proof.corners.values():
        assert one.fault == "as planned"
        assert sum(one.probability.values()) == pytest.approx(1.0)
        assert abs(one.roll_cost) < 0.03
        assert "good enough" in one.text


@pytest.mark.invariant
def test_bench_of_this_file_and_package_agree_without_fault() -> None:
    corners, turns = plane()
    _, true = bench(np.random.default_rng(1), corners, good_builds(corners), turns, nine_positions())
    for name, corner in corners.items():
        assert corner.throw(commands(corner, nine_positions(), turn=turns[name])) == pytest.approx(true[name], abs=1e-9)


@pytest.mark.property
@pytest.mark.parametrize("fault", ["reversed", "swapped plugs"])
def test_dangerous_faults_stand_out(fault: str) -> None:
    corners, turns = plane()
    builds = good_builds(corners)
    if fault == "reversed":
        builds["lower_left"].reversed = True
    else:
        builds["lower_left"].plug, builds["lower_right"].plug = "lower_right", "lower_left"
    readings, _ = bench(np.random.default_rng(2), corners, builds, turns, nine_positions())
    proof = judged(corners, readings, turns)
    assert "lower_left" in proof.do_not_fly
    one = proof.corners["lower_left"]
    assert one.fault == fault
    assert "DO NOT FLY" in one.text
    assert not proof.good


@pytest.mark.property
def test_offset_to_the_wrong_side_must_not_fly() -> None:
    corners, turns = plane()
    name = max(corners, key=lambda key: abs(corners[key].neutral))
    assert abs(corners[name].neutral) > rad(8)
    builds = good_builds(corners)
    builds[name].turned = -2 * corners[name].neutral
    readings, _ = bench(np.random.default_rng(2), corners, builds, turns, nine_positions())
    assert judged(corners, readings, turns).corners[name].fault in ("wrong side", "one tooth")


@pytest.mark.property
def test_repairs_are_in_pulses_and_teeth() -> None:
    corners, turns = plane()
    builds = good_builds(corners)
    builds["upper_left"].turned = 2 * math.pi / 25
    readings, _ = bench(np.random.default_rng(3), corners, builds, turns, nine_positions())
    tooth = judged(corners, readings, turns).corners["upper_left"]
    assert tooth.fault == "one tooth"
    assert tooth.teeth == -1
    assert "pulling" in tooth.text
    # neutral 2 deg low: the pulse that is to be added moves it back
    corner = corners["upper_left"]
    command = commands(corner, nine_positions(), turn=turns["upper_left"])
    off = Readings(position=tuple(range(9)), angle=tuple(corner.throw(command) + rad(2)), direction=(0,) * 9)
    centre = judged(corners, {"upper_left": off}, turns).corners["upper_left"]
    assert centre.fault == "centre"
    moved = corner.servo_of_pulse(corner.pulse(corner.neutral) + centre.pulse)
    assert float(corner.throw(moved)) == pytest.approx(rad(-2), abs=rad(0.1))
    assert "us" in centre.text


@pytest.mark.property
def test_hole_and_gain_that_look_alike_are_said_to() -> None:
    # Horn holes 4 % apart: the surface moves 4 % less, which a gain would do too.
    corners, turns = plane()
    name = "lower_left"
    horn = float(corners[name].bar.horn)
    builds = good_builds(corners)
    builds[name].horn = horn * 1.04
    readings, _ = bench(np.random.default_rng(4), corners, builds, turns, nine_positions())
    one = judged(corners, readings, turns, replace(KIT, horn_holes=(horn, horn * 1.04))).corners[name]
    assert {one.fault, *one.alternatives} >= {"gain", "one hole"}
    assert one.probability["gain"] + one.probability["one hole"] > 0.9
    assert "cannot be told apart" in one.text


@pytest.mark.outside
def test_fewer_readings_say_what_they_leave_open() -> None:
    corners, _ = plane()
    turns = dict.fromkeys(corners, rad(12))  # a normal throw; a snap throw would show the offset by its unevenness
    three = Positions(stick=np.array([-1.0, 0.0, 1.0]), deployment=np.zeros(3))
    readings, _ = bench(np.random.default_rng(5), corners, good_builds(corners), turns, three, ways=(1,))
    proof = prove(tuple(corners.values()), three, {"upper_left": readings["upper_left"]}, turn=turns)
    one = proof.corners["upper_left"]
    assert not one.fit.known[3]  # slop needs both directions
    assert not one.fit.known[2]  # the offset needs crow out
    assert one.fit.known[0]
    assert "play (measure from both directions)" in one.text
    assert "arm offset (measure with crow out" in one.text
    assert proof.missing == ("upper_right", "lower_left", "lower_right")
    assert not proof.good
    assert "Not measured yet" in proof.text


@pytest.mark.outside
def test_readings_that_fit_nothing_are_said_to_fit_nothing() -> None:
    corners, turns = plane()
    readings, _ = bench(np.random.default_rng(6), corners, good_builds(corners), turns, nine_positions())
    row = readings["upper_left"]
    angles = list(row.angle)
    angles[7] += rad(9)  # a slip of the pen
    one = judged(corners, {"upper_left": replace(row, angle=tuple(angles))}, turns).corners["upper_left"]
    assert not one.fits
    assert one.odd_reading == 7
    assert not one.good
    assert "no single fault" in one.text


@pytest.mark.outside
def test_nonsense_readings_are_refused() -> None:
    corners, turns = plane()
    with pytest.raises(ValueRangeError, match="decimal point"):
        Readings(position=(0,), angle=(12.0,), direction=(1,))
    with pytest.raises(ValueRangeError, match="direction"):
        Readings(position=(0,), angle=(0.1,), direction=(2,))
    with pytest.raises(ValueRangeError, match="at least one"):
        Readings(position=(), angle=(), direction=())
    with pytest.raises(ValueRangeError, match="no corner is called"):
        judged(corners, {"middle": Readings(position=(0,), angle=(0.1,), direction=(1,))}, turns)
    with pytest.raises(ValueRangeError, match="does not exist"):
        judged(corners, {"upper_left": Readings(position=(9,), angle=(0.1,), direction=(1,))}, turns)
    with pytest.raises(ValueRangeError, match="stick lies"):
        Positions(stick=np.array([2.0]), deployment=np.array([0.0]))


@pytest.mark.property
def test_fit_gives_back_what_was_planted_within_its_spread() -> None:
    corners, turns = plane()
    corner = corners["lower_right"]
    command = np.repeat(commands(corner, nine_positions(), turn=turns["lower_right"]), 2)
    way = np.tile([1.0, -1.0], 9)
    rng = np.random.default_rng(8)
    scores = []
    for _ in range(60):
        centre, gain, slop = rng.normal(0, rad(1)), rng.normal(1, 0.03), abs(rng.normal(0, rad(1)))
        move = rng.normal(0, rad(3))
        moved = with_offset(corner.bar, corner.neutral + move)
        other = replace(corner, bar=moved, centre=corner.centre + move)
        angle = other.throw(corner.centre + move + gain * (command - corner.centre)) + centre - way * slop / 2
        fit = fit_corner(corner, command, angle + rng.normal(0, NOISE, 18), way)
        assert all(fit.known)
        planted_values = np.array([centre, gain, move, slop])
        found = np.array([fit.centre, fit.gain, fit.offset, fit.slop])
        scores.append((found - planted_values) @ np.linalg.solve(fit.covariance, found - planted_values))
    # chi-squared with 4 degrees of freedom: mean 4, standard error of 60 means sqrt(8/60) = .37
    assert np.mean(scores) == pytest.approx(4.0, abs=1.5)


@pytest.mark.invariant
def test_evidence_is_exact_for_a_linear_case() -> None:
    # With no gain spread the prediction is linear: the evidence is a Gaussian with covariance noise^2 + J P J'.
    corners, turns = plane()
    corner = corners["upper_left"]
    probes = Positions(
        stick=np.append(nine_positions().stick, [0, -1, 1]),
        deployment=np.append(nine_positions().deployment, [0, 1, 1]),
    )
    command = commands(corner, probes, turn=turns["upper_left"])
    plain = next(
        h
        for h in hypotheses(corner, command, spline_teeth=25, arm_holes=(), horn_holes=(), others={})
        if h.kind == "as planned"
    )
    plain = replace(plain, spread=np.array([rad(1.0), 1e-9, 1e-9, rad(0.5)]))
    way = np.array([1.0, -1.0] * 4 + [1.0])
    angle = corner.throw(command[:9]) + np.random.default_rng(9).normal(0, rad(0.8), 9)
    found = judge(plain, angle, way, noise=NOISE)
    columns = np.stack([np.ones(9), -way / 2], axis=1) * np.array([rad(1.0), rad(0.5)])
    covariance = NOISE**2 * np.eye(9) + columns @ columns.T
    off = angle - corner.throw(command[:9])
    exact = -0.5 * (off @ np.linalg.solve(covariance, off) + np.linalg.slogdet(2 * np.pi * covariance)[1])
    assert found.log_evidence == pytest.approx(exact, abs=1e-6)


@pytest.mark.invariant
def test_priors_sum_to_one() -> None:
    assert sum(PRIOR.values()) == pytest.approx(1.0)
