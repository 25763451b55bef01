"""Symmetric conditions solved on one half give what the whole gives."""

import numpy as np
import pytest

from evenfall.aero.flow import Flow
from evenfall.aero.influence import build_lattice
from evenfall.aero.section import LinearSections
from evenfall.aero.surfaces import Control, SurfaceSpec
from evenfall.aero.wings import LiftingLine

ENDS = {"inner": 0.13, "outer": 0.95, "inner_fraction": 0.28, "outer_fraction": 0.3}


def plane(*, y=0.0, incidence_left=None, left_inner=0.13, fin_offset=0.0):
    wings = tuple(
        SurfaceSpec(
            name=name,
            root=(0.01 * sign, y, -0.16 * sign),
            tip=(0.0, y + 0.62, -0.16 * sign - 0.02),
            root_chord=0.17,
            tip_chord=0.15,
            incidence_left=incidence_left,
            controls=(
                Control(name=f"{name}_left", side="left", **{**ENDS, "inner": left_inner}),
                Control(name=f"{name}_right", side="right", **ENDS),
            ),
        )
        for name, sign in (("upper", 1), ("lower", -1))
    )
    tail = SurfaceSpec(
        name="tail",
        root=(-0.75, y, 0.01),
        tip=(-0.77, y + 0.25, 0.01),
        root_chord=0.15,
        tip_chord=0.11,
        controls=(Control(name="elevator", inner=0, outer=1, inner_fraction=0.4, outer_fraction=0.4),),
        stations=12,
        flat_plate=True,
    )
    fin = SurfaceSpec(
        name="fin",
        root=(-0.75, y, 0.03),
        tip=(-0.8, y, -0.25),
        root_chord=0.2,
        tip_chord=0.12,
        incidence=fin_offset,
        controls=(Control(name="rudder", inner=0, outer=1, inner_fraction=0.5, outer_fraction=0.5),),
        mirrored=False,
        stations=6,
    )
    return (*wings, tail, fin)


def conditions(line, n):
    draw = np.random.default_rng(7).uniform
    upper, lower = draw(-0.3, 0.3, n), draw(-0.3, 0.3, n)
    return Flow(
        speed=draw(14, 30, n),
        alpha=draw(-0.1, 0.1, n),
        q=draw(-1, 1, n),
        p=np.where(np.arange(n) % 3 == 0, draw(-3, 3, n), 0.0),
        deltas={
            "upper_left": upper,
            "upper_right": upper,
            "lower_left": lower,
            "lower_right": np.where(np.arange(n) % 5 == 0, 0.1, lower),
            "elevator": draw(-0.2, 0.2, n),
            "rudder": np.where(np.arange(n) % 7 == 0, 0.1, 0.0),
        },
        wash=draw(-2, 5, n)[:, None] * (np.abs(line.lattice.point[:, 1]) < 0.17),
    )


@pytest.mark.invariant
@pytest.mark.parametrize("tables", [True, False])
def test_half_equals_whole(tables):
    specs = plane()
    sections = None if tables else LinearSections(build_lattice(specs).fraction, cd=0.01)
    folded, whole = LiftingLine(specs, sections), LiftingLine(specs, sections)
    assert folded._fold is not None
    whole._fold = None
    flow = conditions(folded, 45)
    one, other = folded.solve(flow), whole.solve(flow)
    assert one.converged.all()
    assert one.force == pytest.approx(other.force, abs=2e-7)
    assert one.moment == pytest.approx(other.moment, abs=2e-7)
    assert one.circulation == pytest.approx(other.circulation, abs=1e-7)
    again = folded.solve(flow, start=one.circulation)
    assert again.force == pytest.approx(one.force, abs=2e-7)


@pytest.mark.invariant
def test_symmetric_conditions_push_straight_ahead():
    line = LiftingLine(plane())
    loads = line.solve(Flow(speed=20.0, alpha=[0.02, 0.05], deltas={"upper_left": 0.2, "upper_right": 0.2}))
    assert np.abs(loads.side).max() < 1e-9
    assert np.abs(loads.moment[:, [0, 2]]).max() < 1e-9


@pytest.mark.invariant
def test_mixed_batch_equals_loop():
    line = LiftingLine(plane())
    flow = conditions(line, 30)
    batch = line.solve(flow)
    for k in range(12):
        one = line.solve(flow.take(slice(k, k + 1)))
        assert one.force[0] == pytest.approx(batch.force[k], abs=1e-10)
        assert one.moment[0] == pytest.approx(batch.moment[k], abs=1e-10)


@pytest.mark.limit
@pytest.mark.parametrize("crooked", [{"y": 0.004}, {"incidence_left": 0.01}, {"left_inner": 0.2}, {"fin_offset": 0.01}])
def test_a_crooked_plane_is_solved_whole(crooked):
    specs = plane(**crooked)
    line = LiftingLine(specs, LinearSections(build_lattice(specs).fraction))
    assert line._fold is None
    loads = line.solve(Flow(speed=20.0, alpha=0.03, deltas={"upper_left": 0.1, "upper_right": 0.1}))
    assert abs(loads.moment[0, 0]) + abs(loads.side[0]) > 1e-5
