"""The four-bar against Freudenstein's equation, a textbook example, the long-rod law, and itself."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.linkage.fourbar import (
    FourBar,
    Reach,
    forward,
    fourbar,
    inverse,
    offset_of,
    square,
    throw_at,
    with_offset,
    working_range,
)
from evenfall.plane.controls import Linkage

rad = math.radians


def bars() -> st.SearchStrategy[FourBar]:
    """Linkages as they are found on small planes, any offset to 35 deg."""

    def build(arm: float, horn: float, distance: float, height: float, back: float, flags: int, off: float) -> FourBar:
        bar = FourBar(
            arm=arm,
            horn=horn,
            rod=distance,
            distance=distance,
            height=height,
            setback=back * horn,
            crossed=bool(flags & 1),
            horn_above=bool(flags & 2),
        )
        return with_offset(bar, off)

    return st.builds(
        build,
        st.floats(0.006, 0.02),
        st.floats(0.008, 0.03),
        st.floats(0.03, 0.12),
        st.floats(-0.02, 0.02),
        st.floats(-0.5, 0.5),
        st.integers(0, 3),
        st.floats(-0.6, 0.6),
    )


@pytest.mark.published
def test_textbook_four_bar() -> None:
    # Norton, Design of Machinery, example 4-1 (from memory, numbers reproduced): a 40, b 120, c 80, d 100, t2 40.
    bar = FourBar(arm=40.0, horn=80.0, rod=120.0, distance=100.0)
    assert 90 - math.degrees(bar.sense * throw_at(bar, rad(90 - 40))) == pytest.approx(57.325, abs=5e-4)


@pytest.mark.published
def test_freudenstein_equation_holds() -> None:
    # Freudenstein, Trans. ASME 77 (1955): K1 cos t4 - K2 cos t2 + K3 = cos(t2 - t4), angles from the line of axes.
    a, b, c, d = 0.011, 0.07, 0.019, 0.066
    bar = FourBar(arm=a, horn=c, rod=b, distance=d)
    theta = np.linspace(-0.9, 0.9, 19)
    t2 = math.pi / 2 - theta
    t4 = math.pi / 2 - bar.sense * throw_at(bar, theta)
    k1, k2, k3 = d / a, d / c, (a**2 - b**2 + c**2 + d**2) / (2 * a * c)
    assert np.allclose(k1 * np.cos(t4) - k2 * np.cos(t2) + k3, np.cos(t2 - t4), atol=1e-12)


@pytest.mark.published
def test_short_rod_example() -> None:
    # Exact four-bar, computed twice: arm 10, horn 20, both square to the line of axes, 60 apart, rod 60.828.
    bar = FourBar(arm=10.0, horn=20.0, rod=math.hypot(60.0, 10.0), distance=60.0, horn_above=True)
    assert bar.rod == pytest.approx(60.828, abs=5e-4)
    throw = np.degrees(throw_at(bar, np.radians([-45.0, -18.0, 18.0, 45.0])))
    assert throw == pytest.approx([-21.550, -9.007, 8.763, 19.731], abs=5e-4)


@pytest.mark.published
def test_mirror_offset_by_the_long_rod_law() -> None:
    # sin(throw) = k [sin(theta) - sin(theta_stowed)], arm from -18 to +18 deg for 16 deg of crow: k .4460,
    # gain k cos(theta)/cos(throw) .4242 stowed and .4413 deployed (formula, computed twice); a rod of a kilometre.
    bar = with_offset(FourBar(arm=0.00892, horn=0.02, rod=1e3, distance=1e3, horn_above=True), rad(-18))
    motion = forward(bar, np.radians([-18.0, 18.0]) + square(bar))
    assert np.degrees(motion.throw) == pytest.approx([0.0, 16.0], abs=5e-3)
    assert motion.gain == pytest.approx([0.4242, 0.4413], abs=5e-5)


@pytest.mark.limit
def test_long_rod_law_is_the_limit_of_the_exact_one() -> None:
    theta = np.radians(np.linspace(-60, 60, 25))
    wanted = np.arcsin(0.446 * (np.sin(theta) - np.sin(rad(-18))))  # rod much longer than arm and horn
    errors = []
    for length in (1.0, 10.0, 100.0):
        bar = with_offset(FourBar(arm=0.00892, horn=0.02, rod=length, distance=length, horn_above=True), rad(-18))
        errors.append(np.abs(throw_at(bar, theta + square(bar)) - wanted).max())
    assert errors[0] < rad(0.5)
    assert errors[1] == pytest.approx(errors[0] / 10, rel=0.1)  # first order in 1/length
    assert errors[2] == pytest.approx(errors[1] / 10, rel=0.1)


@pytest.mark.property
@settings(max_examples=150, deadline=None)
@given(bars())
def test_inverse_undoes_forward(bar: FourBar) -> None:
    span = working_range(bar)
    theta = np.linspace(span.low + 1e-3, span.high - 1e-3, 101)
    motion = forward(bar, theta)
    back = inverse(bar, motion.throw)
    assert np.abs(throw_at(bar, back.theta) - motion.throw).max() < 1e-9
    steep = np.abs(motion.gain) > 0.02  # at the arm's dead point one throw has two arm angles
    assert np.abs(back.theta - theta)[steep].max() < 1e-9
    assert back.reachable.all()


@pytest.mark.property
@settings(max_examples=150, deadline=None)
@given(bars())
def test_working_range_ends_at_the_dead_points(bar: FourBar) -> None:
    span = working_range(bar)
    inside = forward(bar, np.linspace(span.low + 1e-3, span.high - 1e-3, 201))
    assert inside.works.all()
    assert not forward(bar, np.array([span.low - 1e-3, span.high + 1e-3])).works.any()
    assert np.all(np.sign(inside.gain) == bar.sense)


@pytest.mark.property
@settings(max_examples=100, deadline=None)
@given(bars(), st.floats(-0.5, 0.5))
def test_gain_is_the_derivative(bar: FourBar, theta: float) -> None:
    span = working_range(bar)
    assume(span.low + 0.05 < theta < span.high - 0.05)
    step = 1e-6
    slope = (throw_at(bar, theta + step) - throw_at(bar, theta - step)) / (2 * step)
    assert forward(bar, theta).gain == pytest.approx(float(slope), rel=1e-6, abs=1e-7)


@pytest.mark.property
@settings(max_examples=100, deadline=None)
@given(bars())
def test_offset_and_rod_are_one(bar: FourBar) -> None:
    assert abs(throw_at(bar, square(bar) + offset_of(bar))) < 1e-9
    assert with_offset(bar, offset_of(bar)).rod == pytest.approx(float(np.asarray(bar.rod)), abs=1e-12)


@pytest.mark.property
def test_square_is_square_to_the_rod() -> None:
    bar = with_offset(FourBar(arm=0.012, horn=0.02, rod=0.06, distance=0.06, height=0.004, setback=0.003), 0.0)
    motion = forward(bar, square(bar))
    assert motion.arm_lever == pytest.approx(0.012, abs=1e-12)


@pytest.mark.invariant
def test_horn_above_mirrors_the_throw() -> None:
    below = FourBar(arm=0.01, horn=0.02, rod=0.0608, distance=0.06)
    above = FourBar(arm=0.01, horn=0.02, rod=0.0608, distance=0.06, horn_above=True)
    theta = np.linspace(-0.7, 0.7, 15)
    assert np.array_equal(throw_at(below, theta), -throw_at(above, theta))
    assert forward(below, 0.1).gain < 0 < forward(above, 0.1).gain


@pytest.mark.invariant
def test_batch_equals_loop() -> None:
    arms = np.array([0.008, 0.010, 0.012])
    batch = with_offset(FourBar(arm=arms, horn=0.02, rod=0.06 + 0 * arms, distance=0.06, height=0.003), -0.3)
    loop = [with_offset(FourBar(arm=float(a), horn=0.02, rod=0.06, distance=0.06, height=0.003), -0.3) for a in arms]
    assert np.array_equal(throw_at(batch, 0.2), [float(throw_at(bar, 0.2)) for bar in loop])
    assert np.allclose(working_range(batch).high, [float(working_range(bar).high) for bar in loop], atol=1e-15)


@pytest.mark.outside
def test_an_arm_angle_that_does_not_assemble_is_named() -> None:
    bar = FourBar(arm=0.02, horn=0.01, rod=0.06, distance=0.06)  # arm longer than horn: the horn locks first
    far = forward(bar, np.radians([-80.0, 0.0, 80.0]))
    assert [Reach(int(code)) for code in far.reach] == [Reach.ROD_TOO_SHORT, Reach.OK, Reach.ROD_TOO_LONG]
    assert np.isfinite(far.throw).all()
    assert far.gain[0] == far.gain[2] == 0.0
    assert not inverse(bar, rad(120)).reachable
    span = working_range(bar)
    assert not span.low_arm
    assert not span.high_arm
    assert "lengthen" in Reach.ROD_TOO_SHORT.text
    assert "shorten" in Reach.ROD_TOO_LONG.text


@pytest.mark.outside
@pytest.mark.parametrize(("name", "value"), [("arm", 0.0), ("rod", -1.0), ("distance", math.nan), ("setback", 0.03)])
def test_lengths_are_checked(name: str, value: float) -> None:
    lengths = {"arm": 0.01, "horn": 0.02, "rod": 0.06, "distance": 0.06, "setback": 0.0} | {name: value}
    with pytest.raises(ValueRangeError, match=name):
        FourBar(**lengths)


@pytest.mark.invariant
def test_measured_linkage_takes_its_side() -> None:
    measured = {"arm": 0.01, "horn": 0.02, "rod": 0.06, "axis_distance": 0.058, "axis_height": 0.005}
    assert fourbar(Linkage(**measured)).height == -0.005  # horn below: the servo axis lies away from the horn's side
    assert fourbar(Linkage(**measured, horn_above=True)).height == 0.005
