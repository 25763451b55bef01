"""Clean first: every fault of rigging has the right sign and size, and the cures do what they say."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall import workflow
from evenfall.aero.body import side_areas
from evenfall.aero.influence import build_lattice
from evenfall.aero.section import LinearSections
from evenfall.aero.surfaces import plane_surfaces
from evenfall.air import standard_air
from evenfall.lines.balance import airframe, balance
from evenfall.lines.bend import BendCase, bends
from evenfall.lines.hands_off import FlownLine, hands_off, level_controls, roll_with_yaw
from evenfall.lines.rig_faults import DEG, record, rigged, rigging_faults, with_wing
from evenfall.lines.rigging import (
    LEAST_MARGIN,
    TOLERANCE,
    CleanFlight,
    Flown,
    clean_lines,
    clean_report,
    fault_effect,
    worst,
)
from evenfall.plane.airframe import Body, Plane
from evenfall.plane.controls import Rigging
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.plan import Crow
from evenfall.sheet.rigging_page import RiggingPage, rigging_page, rigging_parts, verdict

AIR = standard_air()
SPEED = 22.0
PITCH, ROLL, YAW = range(3)
DOWN, HALF, HALF_INVERTED, UP = range(4)


def flight(plane: Plane, *, closed: float = -2.4, level: float = 3.0, climb: float = 14.0) -> CleanFlight:
    """The clean lines of a plane with linear sections (lift slope 2 pi, cd .012)."""
    sections = LinearSections(build_lattice(plane_surfaces(rigged(plane))).fraction, cd=0.012)
    frame = airframe(plane, AIR, sections=sections)
    lines = clean_lines(closed_thrust=closed, climb_thrust=climb)
    return CleanFlight(frame=frame, lines=lines, level_thrust=level, speed=SPEED)


@pytest.fixture(scope="module")
def plane() -> Plane:
    """The 1.24 m demo with its tail set to the wings."""
    found = load_plane(demo_path("biplane_124")).plane
    return replace(found, tail=replace(found.tail, incidence=0.0))


@pytest.fixture(scope="module")
def clean(plane: Plane) -> CleanFlight:
    return flight(plane)


def faulty(plane: Plane, **values: float) -> Plane:
    """The plane with these faults, by key."""
    for fault in rigging_faults(plane):
        if fault.key in values:
            plane = fault.put(plane, values[fault.key])
    return plane


def mirrored(plane: Plane) -> Plane:
    """The plane seen in a mirror."""
    for name, wing in plane.wings.items():
        turned = replace(wing, incidence_left=wing.incidence_right, incidence_right=wing.incidence_left)
        plane = with_wing(plane, name, turned)
    rigging = record(plane)
    flipped = {
        key: -value
        for key in ("tail_squareness", "tail_tilt", "side_thrust", "tip_balance")
        if (value := getattr(rigging, key)) is not None
    }
    assert plane.fin is not None
    return replace(plane, fin=replace(plane.fin, offset=-plane.fin.offset), rigging=replace(rigging, **flipped))


EVERY = {
    "upper_twist": 0.4 * DEG,
    "lower_twist": -0.1 * DEG,
    "decalage": 0.3 * DEG,
    "tail_incidence": -0.2 * DEG,
    "tail_tilt": 0.003,
    "tail_squareness": 0.002,
    "fin_offset": 0.3 * DEG,
    "lateral_balance": 6e-4,
    "down_thrust": 0.5 * DEG,
    "side_thrust": 1.0 * DEG,
}


@pytest.mark.invariant
def test_a_true_plane_has_no_lateral_motion(clean: CleanFlight) -> None:
    found = clean.fly(clean.frame.plane)
    assert found.converged
    assert np.abs(found.neutral[:, [ROLL, YAW]]).max() < 1e-5
    assert np.abs(found.trimmed[:, [ROLL, YAW]]).max() < 1e-5
    assert abs(found.held.aileron) < 1e-5
    assert abs(found.held.rudder) < 1e-5


@pytest.mark.invariant
@pytest.mark.parametrize("trimmed", [False, True])
def test_mirror(clean: CleanFlight, trimmed: bool) -> None:
    bent = faulty(clean.frame.plane, **EVERY)
    one, two = clean.fly(bent), clean.fly(mirrored(bent))
    assert one.converged
    assert two.converged
    a, b = (item.trimmed if trimmed else item.neutral for item in (one, two))
    assert np.abs(a[:, ROLL]).max() > 1e-3
    assert a[:, PITCH] == pytest.approx(b[:, PITCH], abs=2e-6)
    assert a[:, ROLL] == pytest.approx(-b[:, ROLL], abs=2e-6)
    assert a[:, YAW] == pytest.approx(-b[:, YAW], abs=2e-6)


@pytest.mark.limit
@pytest.mark.parametrize("key", ["upper_twist", "side_thrust", "fin_offset", "lateral_balance", "down_thrust", "cg_x"])
def test_small_faults_are_linear(clean: CleanFlight, key: str) -> None:
    """Half a fault has half the effect, within 4 % of the largest rate (linear sections; geometry is not linear)."""
    plane = clean.frame.plane
    fault = next(item for item in rigging_faults(plane) if item.key == key)
    base = clean.fly(plane)
    size = 0.5 * fault.unit

    def effect(amount: float) -> np.ndarray:
        return clean.fly(fault.put(plane, fault.value(plane) + amount)).neutral - base.neutral

    whole, half = effect(size), effect(0.5 * size)
    assert np.abs(whole).max() > 1e-5
    assert whole == pytest.approx(2 * half, abs=0.04 * np.abs(whole).max())


@pytest.mark.limit
def test_two_small_faults_add_up(clean: CleanFlight) -> None:
    """Within 4 % of the largest rate."""
    plane = clean.frame.plane
    base = clean.fly(plane).trimmed
    one = clean.fly(faulty(plane, side_thrust=1 * DEG)).trimmed - base
    two = clean.fly(faulty(plane, lateral_balance=1e-3)).trimmed - base
    both = clean.fly(faulty(plane, side_thrust=1 * DEG, lateral_balance=1e-3)).trimmed - base
    assert both == pytest.approx(one + two, abs=0.04 * np.abs(both).max())


def test_side_thrust_turns_the_nose_with_the_thrust(clean: CleanFlight) -> None:
    """Right thrust pulls the nose right under power and pushes it left under a braked propeller."""
    found = clean.fly(faulty(clean.frame.plane, side_thrust=1 * DEG))
    assert found.neutral[UP, YAW] > 0 > found.neutral[DOWN, YAW]
    assert found.held.rudder > 0  # trailing edge left pushes the tail right: the nose goes left


def test_weathercock(clean: CleanFlight) -> None:
    """Nose pushed right: the wind comes from the left, and the fin holds against it."""
    frame = clean.airframe(faulty(clean.frame.plane, side_thrust=1 * DEG))
    held, _ = level_controls(frame, speed=SPEED, thrust=3.0, lateral=False)
    found = hands_off(frame, clean.lines, held, speed=SPEED)
    assert found.sideslip[UP] < 0 < found.sideslip[DOWN]


def test_dihedral_rolls_away_from_the_wind(clean: CleanFlight) -> None:
    """A fin turned leading edge right yaws the nose left, so the wind comes from the right; dihedral rolls left."""
    plane = faulty(clean.frame.plane, fin_offset=1 * DEG)
    bent = plane
    for name, wing in plane.wings.items():
        bent = with_wing(bent, name, replace(wing, dihedral=4 * DEG))
    flat, with_dihedral = clean.fly(plane), flight(bent).fly(bent)
    assert flat.neutral[DOWN, YAW] < 0
    assert with_dihedral.neutral[DOWN, ROLL] < flat.neutral[DOWN, ROLL] - 0.5 * DEG


def test_roll_from_twist_by_strip_theory() -> None:
    """Rectangular wing: p b/2V = 1.5 times half the difference of incidence.

    Strip theory with equal lift slopes: integral of y over integral of y^2 from 0 to 1. A lifting line gives a little
    more (ailerons from 20 to 100 % of the span: strip 1.440, lifting line 1.545 at aspect ratio 6, computed twice from
    the published formulae), so 0 to 12 % more is allowed.
    """
    plane = load_plane(demo_path("monoplane_160")).plane
    name, wing = next(iter(plane.wings.items()))
    straight = replace(wing, tip_chord=wing.root_chord, tip_le_x=wing.root_le_x, dihedral=0.0)
    plane = with_wing(plane, name, straight)
    one = flight(plane, closed=0.0, level=0.0, climb=0.0)
    twist = 0.5 * DEG
    found = one.fly(faulty(plane, **{f"{name}_twist": twist}))
    helix = found.neutral[DOWN, ROLL] * 0.5 * wing.span / SPEED
    assert 1.5 * twist / 2 * 0.99 <= helix <= 1.5 * twist / 2 * 1.12


@pytest.mark.limit
def test_cg_on_the_45_against_the_vertical(plane: Plane) -> None:
    """The bend a CG makes is that of the lift level flight has and the line lacks: 1 - cos(45) of the vertical's.

    Inverted, off inverted level trim, the same to the belly. Linear sections, no thrust: within 3 % of the vertical.
    """
    one = flight(plane, closed=0.0, level=0.0, climb=0.0)
    fault = next(item for item in rigging_faults(plane) if item.key == "cg_x")
    change = fault_effect(one, fault, one.fly(plane), sigmas={}).unit_trimmed[:, PITCH]
    assert change[DOWN] < 0
    share = 1 - math.cos(math.pi / 4)
    assert change[HALF] / change[DOWN] == pytest.approx(share, abs=0.03)
    assert change[HALF_INVERTED] / change[DOWN] == pytest.approx(-share, abs=0.03)
    assert change[UP] / change[DOWN] == pytest.approx(1.0, abs=0.03)


@pytest.mark.limit
def test_a_heavy_wing_on_the_45_against_the_vertical(plane: Plane) -> None:
    """Aileron trim holds W y, a line needs cos(slope) of it: 1 on the vertical, .293 on the 45, 1.707 inverted.

    The size on the vertical by hand: p = -m g y / damping, damping of a cell of rectangular wings by strip theory
    (lift slope a): q S a b^2/(12 V); the lifting line's induced flow and taper lower a, so within 45 %. Inverted the
    ratio may be off by .08: sideslip couples into roll with the lift of inverted trim, which grows with the margin.
    """
    one = flight(plane, closed=0.0, level=0.0, climb=0.0)
    moment = 2e-3
    found = one.fly(faulty(plane, lateral_balance=moment)).trimmed[:, ROLL]
    assert found[DOWN] < 0
    share = 1 - math.cos(math.pi / 4)
    assert found[HALF] / found[DOWN] == pytest.approx(share, abs=0.03)
    assert found[HALF_INVERTED] / found[DOWN] == pytest.approx(2 - share, abs=0.08)
    aspect = 1.24**2 / (0.5 * plane.wing_area)
    slope = 2 * math.pi * aspect / (aspect + 4)
    damping = 0.5 * AIR.density * SPEED**2 * plane.wing_area * slope * 1.24**2 / (12 * SPEED)
    assert found[DOWN] == pytest.approx(-moment * 9.80665 / damping, rel=0.45)


@pytest.mark.parametrize(("shift", "sign"), [(0.0, 1), (-0.08, -1)])
def test_tilted_tail(plane: Plane, shift: float, sign: int) -> None:
    """Level with the CG behind the wings' quarter chord the tail lifts; tilted right tip high, it pushes left: nose
    right. With the CG 80 mm forward the tail is loaded down and the sign turns."""
    moved = replace(plane, mass=replace(plane.mass, cg_x=plane.mass.cg_x + shift))
    quarter = [wing.quarter_chord_x for wing in plane.wings.values()]
    assert sign * (moved.mass.cg_x - sum(quarter) / 2) > 0
    one = flight(moved)
    frame = one.airframe(faulty(moved, tail_tilt=0.02))
    held, _ = level_controls(frame, speed=SPEED, thrust=3.0, lateral=False)
    found = hands_off(frame, [FlownLine(name="level", slope=0.0, thrust=3.0)], held, speed=SPEED)
    assert sign * found.yaw[0] > 1e-4


@pytest.mark.parametrize("name", DEMOS)
def test_pitch_agrees_with_the_bend_solver(name: str, ready: Callable[[str], workflow.Ready]) -> None:
    """Two solvers of one question; this one also turns drag with the flow and counts thrust across it: .2 deg/s."""
    made = ready(name)
    level, climb = (float(t) for t in balance(made.frame, speed=made.wanted, slope=[0.0, math.pi / 2]).thrust)
    lines = clean_lines(closed_thrust=-0.5 * level, climb_thrust=climb)
    cases = [BendCase(slope=line.slope, crow=None, thrust=line.thrust, inverted=line.inverted) for line in lines[:3]]
    other = bends(made.frame, cases, speed=made.wanted, level_thrust=level).clean
    own = CleanFlight(frame=made.frame, lines=lines, level_thrust=level, speed=made.wanted).fly(made.frame.plane)
    assert own.trimmed[:3, PITCH] == pytest.approx(other, abs=0.2 * DEG)


@pytest.mark.invariant
def test_roll_with_the_fin_in_the_solve(clean: CleanFlight) -> None:
    frame = clean.airframe(clean.frame.plane)
    held, found = level_controls(frame, speed=SPEED, thrust=3.0)
    assert found
    right = roll_with_yaw(frame, clean.lines[0], held, throw=7 * DEG, speed=SPEED)
    left = roll_with_yaw(frame, clean.lines[0], held, throw=-7 * DEG, speed=SPEED)
    assert right.converged
    assert right.rate > 1.0
    assert left.rate == pytest.approx(-right.rate, rel=1e-3)
    assert left.sideslip == pytest.approx(-right.sideslip, abs=1e-4)
    assert left.adverse == pytest.approx(right.adverse, abs=1e-4)


def test_roll_with_crow_out(clean: CleanFlight) -> None:
    """Linear sections: crow adds no roll of its own and hardly changes the rate."""
    crow = Crow(arrangement="up/down", upper=-14 * DEG, lower=14 * DEG, threshold=0.45, curve=((0.0, 1.0), (0.45, 0.0)))
    report = clean_report(clean, crow=crow)
    assert report.roll is not None
    assert report.roll_crow is not None
    assert report.roll_crow.converged
    assert report.roll_crow.rate == pytest.approx(report.roll.rate, rel=0.1)


def test_adverse_yaw_grows_with_incidence(plane: Plane) -> None:
    """Rolling at lift, the down-going aileron drags: the nose goes against the roll, as it does not without lift."""
    one = flight(plane)
    frame = one.airframe(plane)
    held, _ = level_controls(frame, speed=12.0, thrust=3.0)
    level = FlownLine(name="level", slope=0.0, thrust=3.0)
    down = FlownLine(name="vertical down", slope=-math.pi / 2, thrust=-1.0)
    adverse = [roll_with_yaw(frame, line, held, throw=5 * DEG, speed=12.0).adverse for line in (down, level)]
    assert adverse[1] > adverse[0] + 0.005


def test_without_fin_yaw_is_left_out(plane: Plane) -> None:
    bare = replace(plane, fin=None)
    found = flight(bare).fly(faulty(bare, upper_twist=0.5 * DEG))
    assert found.converged
    assert np.all(found.neutral[:, YAW] == 0)
    assert found.neutral[DOWN, ROLL] > 1 * DEG
    assert "fin_offset" not in {fault.key for fault in rigging_faults(bare)}


@pytest.mark.property
def test_every_fault_reads_back_what_was_put(plane: Plane) -> None:
    for fault in rigging_faults(plane):
        assert fault.value(fault.put(plane, 0.5 * fault.unit)) == pytest.approx(0.5 * fault.unit), fault.key
        for sign in (1, -1):
            words = fault.cure(plane, sign * fault.unit)
            assert words != fault.cure(plane, -sign * fault.unit), fault.key


def test_words_of_cures(plane: Plane) -> None:
    words = {fault.key: fault.cure(plane, -0.3 * fault.unit) for fault in rigging_faults(plane)}
    assert words["lower_twist"] == "0.3 deg less incidence on the left panel of the lower wing"
    assert words["decalage"] == "0.3 deg more incidence on both panels of the lower wing"
    assert words["side_thrust"] == "0.3 deg more thrust to the left"
    assert words["down_thrust"] == "0.3 deg more up thrust"
    assert words["cg_x"] == "CG 0.3 mm forward"
    assert words["lateral_balance"].endswith("g at the left tip")


def test_a_recorded_fault_is_found_and_put_right(clean: CleanFlight) -> None:
    """3 deg of down thrust forgotten in the nose: it explains the bend and is the first cure."""
    plane = replace(clean.frame.plane, rigging=Rigging(down_thrust=4 * DEG, tip_balance=0.0, slop=0.5 * DEG))
    one = replace(clean, frame=replace(clean.frame, plane=plane))
    report = clean_report(one, sigmas={"rigging.down_thrust": 0.2 * DEG})
    assert not report.straight
    found = report.explains(DOWN, PITCH)
    assert found is not None
    assert found.fault.key == "down_thrust"
    assert found.sigma == pytest.approx(0.2 * DEG)
    first = report.cures[0]
    assert (first.fault.key, first.recorded) == ("down_thrust", True)
    assert first.words == "4 deg more up thrust"
    assert worst(one, first.flown) < worst(one, report.present)
    assert "4 deg more up thrust" in first.sentence
    assert "No crow cure before that." in verdict(report)
    assert report.play is not None
    assert report.play.slop == 0.5 * DEG
    assert report.play.roll > 0


def test_forward_cg_is_cured_by_moving_it_aft(plane: Plane) -> None:
    """No recorded fault: the CG cure is solved by the engine, in whole millimetres, within the margin kept."""
    forward = replace(plane, mass=replace(plane.mass, cg_x=plane.mass.cg_x - 0.008))
    one = flight(forward)
    report = clean_report(one)
    assert not report.straight
    assert report.explains(DOWN, PITCH) is None
    cure = next(item for item in report.cures if item.fault.key == "cg_x")
    assert cure.change > 0
    assert cure.change * 1e3 == pytest.approx(round(cure.change * 1e3))
    assert report.margin - cure.change / forward.mean_chord >= LEAST_MARGIN - 1e-9
    again = one.fly(replace(forward, mass=replace(forward.mass, cg_x=forward.mass.cg_x + cure.change)))
    if cure is report.cures[0]:
        assert again.trimmed == pytest.approx(cure.flown.trimmed, abs=1e-6)
    assert worst(one, report.cured) < worst(one, report.present)
    assert report.neutral_x == pytest.approx(clean_report(flight(plane)).neutral_x, abs=1e-3)


def test_tip_balance_and_squareness_act(plane: Plane) -> None:
    made = rigged(replace(plane, rigging=Rigging(tip_balance=1.05e-3, tail_squareness=0.0048)))
    assert made.mass.cg_y == pytest.approx(1e-3)
    assert made.fin is not None
    assert made.fin.offset == pytest.approx(0.01)


def test_body_in_sideslip() -> None:
    """Munk: N = -2 (k2 - k1) volume q beta with the added mass of a plate, half of the box: .0115 m^3 by hand."""
    force, couple = side_areas(Body(length=1.08, width=0.08, height=0.165))
    assert force == pytest.approx(2 * 0.08 * 0.165)
    assert couple == pytest.approx(2 * math.pi / 4 * 0.165**2 * 1.08 * 0.5)


def test_worst_looks_down_only(clean: CleanFlight) -> None:
    rates = np.zeros((4, 3))
    rates[UP] = 1.0
    flown = Flown(neutral=rates, trimmed=rates, held=clean.fly(clean.frame.plane).held, converged=True)
    assert worst(clean, flown) == 0.0
    rates[HALF, ROLL] = -2 * TOLERANCE[ROLL]
    assert worst(clean, flown) == pytest.approx(2.0)


@pytest.fixture(scope="module", params=DEMOS)
def answer(request: pytest.FixtureRequest) -> workflow.Cleaned:
    return workflow.clean(demo_path(request.param))


def test_demos_answer(answer: workflow.Cleaned) -> None:
    report = answer.report
    assert report.present.converged
    assert all(item.converged for item in report.effects)
    assert np.abs(report.present.trimmed[:, [ROLL, YAW]]).max() < 0.05 * DEG
    page = rigging_page(answer)
    assert RiggingPage.model_validate_json(page.model_dump_json()) == page
    assert page.straight == (not page.verdict.startswith("Rigging first"))
    assert page.steps[0].step.startswith("Squareness")
    assert len(page.steps) == (8 if len(answer.ready.file.plane.wings) > 1 else 7)
    assert len(rigging_parts(page, "imperial")) > 6
    thrust = next(step for step in page.steps if step.step.startswith("Thrust line"))
    assert "out of track" not in thrust.expect
    told = rigging_page(replace(answer, report=replace(report, blade_tip=-4e-4)))
    assert any("Blade tips 0.4 mm out of track" in step.expect for step in told.steps)
    if not page.straight:
        assert worst(report.flight, report.cured) < worst(report.flight, report.present)


def test_the_small_biplane_flies_straight() -> None:
    assert workflow.clean(demo_path("biplane_124")).report.straight
