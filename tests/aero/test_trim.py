"""Trim, elevator held, neutral point, and the solver of free variables."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.aero.flow import Flow
from evenfall.aero.free import solve_free
from evenfall.aero.influence import build_lattice
from evenfall.aero.section import LinearSections
from evenfall.aero.surfaces import Control, SurfaceSpec
from evenfall.aero.trim import elevator_held, neutral_point, trim
from evenfall.aero.wings import LiftingLine

WEIGHT = 1.32 * 9.80665


def plane_line(*, cg=-0.03, tables=False):
    """One wing and a tail; the CG lies `cg` ahead of the wing's quarter chord."""
    surfaces = (
        SurfaceSpec(
            name="wing",
            root=(-cg, 0, 0),
            tip=(-cg, 0.65, 0),
            root_chord=0.2,
            tip_chord=0.2,
            controls=tuple(
                Control(name=f"wing_{s}", side=s, inner=0.1, outer=0.95, inner_fraction=0.25, outer_fraction=0.25)
                for s in ("left", "right")
            ),
        ),
        SurfaceSpec(
            name="tail",
            root=(-0.8 - cg, 0, -0.05),
            tip=(-0.8 - cg, 0.25, -0.05),
            root_chord=0.14,
            tip_chord=0.14,
            controls=(Control(name="elevator", inner=0, outer=1, inner_fraction=0.4, outer_fraction=0.4),),
            stations=12,
        ),
    )
    if tables:
        return LiftingLine(surfaces)
    return LiftingLine(surfaces, LinearSections(build_lattice(surfaces).fraction, cd=0.01))


@pytest.mark.invariant
@pytest.mark.parametrize("tables", [False, True])
def test_trim_meets_lift_and_moment(tables):
    line = plane_line(tables=tables)
    lift, extra = np.array([WEIGHT, -WEIGHT, 0.5 * WEIGHT]), np.array([0.0, 0.05, -0.05])
    found = trim(line, Flow(speed=20.0, alpha=0.0), lift=0.0)
    assert found.converged.all()
    found = trim(line, Flow(speed=20.0, alpha=0.0), lift=lift, moment_extra=extra)
    assert found.converged.all()
    check = line.solve(Flow(speed=20.0, alpha=found.alpha, deltas={"elevator": found.elevator}))
    assert check.lift == pytest.approx(lift, abs=2e-5)
    assert check.moment[:, 1] == pytest.approx(-extra, abs=1e-5)


@pytest.mark.invariant
def test_batch_trims_as_one_by_one():
    line = plane_line(tables=True)
    speed = np.array([14.0, 18.0, 24.0, 30.0])
    batch = trim(line, Flow(speed=speed, alpha=0.0), lift=WEIGHT)
    for k in range(4):
        one = trim(line, Flow(speed=speed[k], alpha=0.0), lift=WEIGHT)
        assert one.alpha[0] == pytest.approx(batch.alpha[k], abs=1e-10)
        assert one.elevator[0] == pytest.approx(batch.elevator[k], abs=1e-10)


@pytest.mark.invariant
def test_elevator_added_is_taken_off_the_trim():
    line, flow = plane_line(), Flow(speed=20.0, alpha=0.0)
    plain, added = trim(line, flow, lift=WEIGHT), trim(line, flow, lift=WEIGHT, elevator_add=0.1)
    assert added.elevator[0] == pytest.approx(plain.elevator[0] - 0.1, abs=1e-6)
    again = trim(line, flow, lift=WEIGHT, start=plain)
    assert again.alpha == pytest.approx(plain.alpha, abs=1e-9)


@pytest.mark.outside
def test_no_trim_beyond_the_stall():
    found = trim(plane_line(tables=True), Flow(speed=[6.0, 20.0], alpha=0.0), lift=WEIGHT)
    assert found.converged.tolist() == [False, True]
    assert np.all(np.isfinite(found.alpha))


@pytest.mark.invariant
def test_neutral_point_is_where_the_moment_stays():
    flow = Flow(speed=20.0, alpha=0.0)
    ahead = neutral_point(plane_line(cg=0.0), flow)[0]
    assert -0.13 < ahead < -0.05  # behind the wing's quarter chord, by the tail
    line = plane_line(cg=ahead)
    low, high = (line.solve(Flow(speed=20.0, alpha=np.radians(a))).moment[0, 1] for a in (-1.0, 1.0))
    assert high - low == pytest.approx(0.0, abs=1e-9)


@pytest.mark.limit
def test_elevator_held_at_trim_flies_level():
    line, flow = plane_line(), Flow(speed=20.0, alpha=0.0)
    level = trim(line, flow, lift=WEIGHT)
    held = elevator_held(line, flow, elevator=level.elevator, mass=1.32, slope=0.0)
    assert held.converged.all()
    assert held.pitch[0] == pytest.approx(0.0, abs=1e-6)
    assert held.alpha[0] == pytest.approx(level.alpha[0], abs=1e-7)
    over = trim(line, flow, lift=-WEIGHT)
    held = elevator_held(line, flow, elevator=over.elevator, mass=1.32, slope=0.0, inverted=True)
    assert held.pitch[0] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.invariant
def test_elevator_held_balances_a_pull():
    line, flow = plane_line(), Flow(speed=20.0, alpha=0.0)
    held = elevator_held(line, flow, elevator=-0.05, mass=1.32, slope=-np.pi / 2)
    assert held.pitch[0] > 0.05  # elevator up pulls to the canopy
    assert held.loads.lift[0] == pytest.approx(1.32 * 20.0 * held.pitch[0], rel=1e-5)
    assert held.loads.moment[0, 1] == pytest.approx(0.0, abs=1e-5)


@pytest.mark.property
@given(
    root=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
    bend=st.floats(0.0, 0.3),
)
def test_solve_free_finds_known_roots(root, bend):
    matrix = np.array([[1.0, 0.4], [-0.3, 0.8]])

    def residual(x, rows):
        away = x - np.array([root, root[::-1]])[rows]
        return away @ matrix.T + bend * away**2 * np.array([1.0, -1.0])

    found = solve_free(residual, np.zeros((2, 2)), step=np.array([1e-4, 1e-4]), largest=np.array([0.7, 0.7]))
    assert found.converged.all()
    assert residual(found.free, np.arange(2)) == pytest.approx(np.zeros((2, 2)), abs=1e-6)


@pytest.mark.outside
def test_solve_free_says_where_there_is_no_root():
    def residual(x, rows):
        return x**2 + np.array([[1.0], [-1.0]])[rows]

    found = solve_free(residual, np.full((2, 1), 0.5), step=np.array([1e-4]), largest=np.array([1.0]))
    assert found.converged.tolist() == [False, True]
    assert np.all(np.isfinite(found.free))


@pytest.mark.outside
def test_solve_free_survives_a_flat_start():
    def residual(x, rows):
        return np.where(np.abs(x) < 0.2, 1.0, x - 1.0)

    found = solve_free(residual, np.zeros((1, 1)), step=np.array([1e-3]), largest=np.array([1.0]))
    assert np.all(np.isfinite(found.free))
