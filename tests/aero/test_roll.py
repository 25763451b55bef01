"""Steady roll and hinge moments."""

import numpy as np
import pytest

from evenfall.aero.flow import Flow
from evenfall.aero.influence import build_lattice
from evenfall.aero.roll import LIFTING_SURFACE, aileron_angles, steady_roll
from evenfall.aero.section import LinearSections, thin_flap
from evenfall.aero.surfaces import Control, SurfaceSpec
from evenfall.aero.wings import LiftingLine
from evenfall.errors import ValueRangeError

SPEED = 22.0


def cell(*, inner=0.13, outer=0.95, gap=0.33, fraction=0.28):
    def controls(name):
        ends = {"inner": inner, "outer": outer, "inner_fraction": fraction, "outer_fraction": fraction}
        return tuple(Control(name=f"{name}_{s}", side=s, **ends) for s in ("left", "right"))

    return tuple(
        SurfaceSpec(
            name=name,
            root=(0, 0, -sign * gap / 2),
            tip=(0, 0.62, -sign * gap / 2),
            root_chord=0.17,
            tip_chord=0.155,
            controls=controls(name),
        )
        for name, sign in (("upper", 1), ("lower", -1))
    )


def linear(surfaces, **options):
    return LiftingLine(surfaces, LinearSections(build_lattice(surfaces).fraction, **options))


@pytest.mark.published
def test_rectangular_wing_rolls_as_lifting_line_theory_says():
    # Ailerons 20-100 %, AR 6: pb/2V = 1.545 tau delta, lifting line [F].
    span, throw = 1.2, np.radians(6.0)
    controls = tuple(
        Control(name=f"w_{s}", side=s, inner=0.2, outer=1.0, inner_fraction=0.25, outer_fraction=0.25)
        for s in ("left", "right")
    )
    wing = SurfaceSpec(name="w", root=(0, 0, 0), tip=(0, span / 2, 0), root_chord=0.2, tip_chord=0.2, controls=controls)
    roll = steady_roll(linear([wing]), Flow(speed=SPEED, alpha=0.0), throw=throw, lifting_surface=1.0)
    assert roll.converged.all()
    helix = roll.rate[0] * span / (2 * SPEED)
    assert helix == pytest.approx(1.545 * float(thin_flap(0.25).tau) * throw, rel=0.01)


@pytest.mark.published
def test_rate_is_proportional_to_speed():
    # NACA TR 715: rate of roll proportional to speed at fixed throw.
    speed = np.array([10.0, 20.0, 30.0])
    roll = steady_roll(linear(cell()), Flow(speed=speed, alpha=0.0), throw=0.1)
    assert roll.rate / speed == pytest.approx(np.full(3, roll.rate[0] / speed[0]), rel=1e-6)


@pytest.mark.invariant
def test_left_is_the_mirror_of_right_and_batch_the_loop():
    line = LiftingLine(cell())
    throw = np.radians([-12.0, -5.0, 5.0, 12.0])
    roll = steady_roll(line, Flow(speed=SPEED, alpha=0.02), throw=throw)
    assert roll.converged.all()
    assert roll.rate == pytest.approx(-roll.rate[::-1], rel=1e-6)
    assert roll.yaw_moment == pytest.approx(-roll.yaw_moment[::-1], rel=1e-5)
    one = steady_roll(line, Flow(speed=SPEED, alpha=0.02), throw=throw[3])
    assert one.rate[0] == pytest.approx(roll.rate[3], abs=1e-10)
    again = steady_roll(line, Flow(speed=SPEED, alpha=0.02), throw=throw, start=roll)
    assert again.rate == pytest.approx(roll.rate, rel=1e-6)


@pytest.mark.invariant
def test_moment_vanishes_and_yaw_is_adverse_under_lift():
    line = LiftingLine(cell())
    roll = steady_roll(line, Flow(speed=SPEED, alpha=0.05), throw=0.15)
    assert roll.loads.moment[0, 0] == pytest.approx(0.0, abs=1e-5)
    assert roll.rate[0] > 0 > roll.yaw_moment[0]


@pytest.mark.limit
def test_no_throw_no_roll():
    assert steady_roll(LiftingLine(cell()), Flow(speed=SPEED, alpha=0.02), throw=0.0).rate[0] == pytest.approx(0.0)


@pytest.mark.invariant
def test_crow_costs_roll_rate_by_the_sections_alone():
    # Linear sections keep the rate but for the air the wings speed up between them (3 %); tables lose some of it: an up
    # and a down wing at 16 degrees.
    crow = {"upper_left": -0.28, "upper_right": -0.28, "lower_left": 0.28, "lower_right": 0.28}
    rates = {}
    for name, line in (("linear", linear(cell())), ("tables", LiftingLine(cell()))):
        stowed, out = (
            steady_roll(line, Flow(speed=SPEED, alpha=0.0, deltas=d), throw=np.radians(7.0)) for d in ({}, crow)
        )
        assert stowed.converged.all()
        assert out.converged.all()
        rates[name] = out.rate[0] / stowed.rate[0]
    assert rates["linear"] == pytest.approx(1.0, abs=0.04)
    assert 0.3 < rates["tables"] < 0.97


@pytest.mark.invariant
def test_differential_throw_and_lifting_surface():
    line, flow = linear(cell()), Flow(speed=SPEED, alpha=0.0)
    plain = steady_roll(line, flow, throw=0.1)
    more_up = steady_roll(line, flow, throw=0.1, throw_up=0.12)
    assert more_up.rate[0] == pytest.approx(1.1 * plain.rate[0], rel=5e-3)
    bare = steady_roll(line, flow, throw=0.1, lifting_surface=1.0)
    assert plain.rate[0] == pytest.approx(bare.rate[0] / LIFTING_SURFACE, rel=1e-9)
    angles = aileron_angles(line, Flow(speed=SPEED, alpha=0.0, deltas={"upper_left": 0.2}), 0.05, 0.06)
    assert angles["upper_left"][0] == pytest.approx(0.25)
    assert angles["upper_right"][0] == pytest.approx(-0.06)


def test_no_ailerons_is_said():
    wing = SurfaceSpec(name="w", root=(0, 0, 0), tip=(0, 0.5, 0), root_chord=0.2, tip_chord=0.2)
    with pytest.raises(ValueRangeError, match="no ailerons"):
        steady_roll(linear([wing]), Flow(speed=SPEED, alpha=0.0), throw=0.1)


@pytest.mark.published
def test_hinge_moment_of_a_wide_wing_is_thin_aerofoil_theory():
    # One aileron over a nearly two-dimensional wing: H = q cf^2 w (b1 alpha + b2 delta), b1, b2 as Houghton &
    # Carpenter sect. 4.5. Aspect ratio 200: incidence within 1 % of the geometric one.
    span, chord, delta = 40.0, 0.2, 0.1
    flap = Control(name="flap", inner=0.0, outer=1.0, inner_fraction=0.25, outer_fraction=0.25)
    wing = SurfaceSpec(
        name="w", root=(0, 0, 0), tip=(0, span / 2, 0), root_chord=chord, tip_chord=chord, controls=(flap,)
    )
    moment = linear([wing]).solve(Flow(speed=SPEED, alpha=0.05, deltas={"flap": delta})).hinge_moment["flap"][0]
    theory = thin_flap(0.25)
    pressure = 0.5 * 1.225 * SPEED**2
    expected = pressure * (0.25 * chord) ** 2 * span * float(theory.b1 * 0.05 + theory.b2 * delta)
    assert moment == pytest.approx(expected, rel=0.015)
