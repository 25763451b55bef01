"""From plane and specification to horseshoes: positions, directions, controls, grid."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.aero.flow import Flow
from evenfall.aero.influence import build_lattice, grid, share_out
from evenfall.aero.section import LinearSections
from evenfall.aero.surfaces import Control, SurfaceSpec, plane_surfaces
from evenfall.aero.wings import LiftingLine
from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Aileron, Fin, Mass, Plane, Section, Tail, WantedSpeed, Wing
from evenfall.plane.electrics import Battery, BrakeLevel, Controller, Motor, Propeller


def make_plane(**changes):
    """A small biplane in the drawing frame, z up."""
    section = Section(thickness=0.12)
    aileron = Aileron(
        inner_y=0.08,
        outer_y=0.58,
        inner_chord=0.048,
        outer_chord=0.044,
        gap_sealed=True,
        throw_up=0.5,
        throw_down=0.5,
    )
    wing = Wing(
        span=1.24,
        root_chord=0.172,
        tip_chord=0.154,
        root_le_x=0.195,
        tip_le_x=0.204,
        z=0.138,
        section=section,
        aileron=aileron,
    )
    parts = {
        "name": "test",
        "wanted": WantedSpeed(speed=22.0),
        "mass": Mass(all_up=1.05, cg_x=0.25, cg_z=0.0),
        "upper": wing,
        "lower": dataclasses.replace(wing, z=-0.138, root_le_x=0.205, tip_le_x=0.214),
        "tail": Tail(
            span=0.5,
            root_chord=0.15,
            tip_chord=0.11,
            root_le_x=0.95,
            tip_le_x=0.97,
            z=0.0,
            section=Section(thickness=0.03, flat_plate=True),
            elevator_fraction=0.4,
            elevator_up=0.6,
            elevator_down=0.6,
        ),
        "fin": Fin(
            height=0.28,
            root_chord=0.2,
            tip_chord=0.12,
            root_le_x=0.95,
            tip_le_x=1.0,
            root_z=-0.05,
            section=Section(thickness=0.03, flat_plate=True),
            rudder_fraction=0.5,
            rudder_throw=0.7,
        ),
        "propeller": Propeller(diameter=0.33, pitch=0.165),
        "motor": Motor(
            kv=94.0, resistance=0.05, inductance=1.5e-5, pole_pairs=7, no_load_current=1.2, no_load_voltage=10.0
        ),
        "controller": Controller(resistance=0.005, levels=(BrakeLevel(name="0", percent=0.0),), present_level="0"),
        "battery": Battery(cells=4, capacity=7920.0, resistance=0.03),
    }
    return Plane(**{**parts, **changes})


def linear(surfaces):
    return LiftingLine(surfaces, LinearSections(build_lattice(surfaces).fraction))


def test_surfaces_of_a_plane():
    upper, lower, tail, fin = plane_surfaces(make_plane())
    assert (upper.name, lower.name, tail.name, fin.name) == ("upper", "lower", "tail", "fin")
    # Quarter chord at 195 + 43 = 238 mm aft and 138 mm up; the CG at 250 mm: 12 mm ahead of it, z down.
    assert upper.root == pytest.approx((0.012, 0.0, -0.138))
    assert upper.tip == pytest.approx((0.25 - 0.204 - 0.0385, 0.62, -0.138))
    assert lower.root[2] == pytest.approx(0.138)
    assert tail.root == pytest.approx((0.25 - 0.95 - 0.0375, 0.0, 0.0))
    assert fin.tip[2] < fin.root[2]
    line = linear(plane_surfaces(make_plane()))
    names = ("upper_left", "upper_right", "lower_left", "lower_right", "elevator", "rudder")
    assert line.controls == names
    assert line.stations == 22 + 22 + 12 + 6


def test_monoplane_and_no_fin():
    plane = make_plane(lower=None, fin=None)
    assert [s.name for s in plane_surfaces(plane)] == ["upper", "tail"]
    assert [s.name for s in plane_surfaces(make_plane(), with_fin=False)] == ["upper", "lower", "tail"]
    assert sum(s.stations for s in plane_surfaces(plane, stations_per_wing=44)) == 44 + 24


def test_geometry_of_the_lattice():
    plane = make_plane()
    lattice = build_lattice(plane_surfaces(plane))
    for index, area in ((0, plane.upper.area), (2, plane.tail.area)):
        assert lattice.area[lattice.surface == index].sum() == pytest.approx(area, rel=2e-3)
    wing = lattice.surface == 0
    assert np.all(np.diff(lattice.point[wing, 1]) > 0)
    assert lattice.normal[wing] == pytest.approx(np.tile([0.0, 0.0, -1.0], (22, 1)))
    assert lattice.normal[lattice.surface == 3] == pytest.approx(np.tile([0.0, 1.0, 0.0], (6, 1)))
    aileron = lattice.control == lattice.names.index("upper_right")
    assert lattice.left[aileron, 1].min() == pytest.approx(0.08)
    assert lattice.right[aileron, 1].max() == pytest.approx(0.58)
    chord = np.sum(lattice.width[aileron] * lattice.flap_chord[aileron]) / 0.5
    assert chord == pytest.approx(0.046, rel=5e-3)


@pytest.mark.parametrize(
    ("deltas", "which", "sign"),
    [
        ({"elevator": 0.1}, ("moment", 1), -1),
        ({"upper_left": 0.1, "upper_right": -0.1}, ("moment", 0), 1),
        ({"rudder": 0.1}, ("force", 1), 1),
        ({"rudder": 0.1}, ("moment", 2), -1),
    ],
)
def test_controls_push_the_right_way(deltas, which, sign):
    # Elevator down: nose down. Left aileron down: right roll. Rudder left: tail to the right, nose left.
    loads = linear(plane_surfaces(make_plane())).solve(Flow(speed=20.0, alpha=0.0, deltas=deltas))
    assert np.sign(getattr(loads, which[0])[0, which[1]]) == sign


def test_incidence_dihedral_and_fin_offset():
    plane = make_plane()
    upper = dataclasses.replace(plane.upper, incidence_left=0.02, incidence_right=0.0)
    loads = linear(plane_surfaces(dataclasses.replace(plane, upper=upper))).solve(Flow(speed=20.0, alpha=0.0))
    assert loads.lift[0] > 0
    assert loads.moment[0, 0] > 0  # left wing lifts more: right wing down
    bent = dataclasses.replace(plane.upper, dihedral=0.05)
    loads = linear(plane_surfaces(dataclasses.replace(plane, upper=bent, fin=None))).solve(
        Flow(speed=20.0, alpha=0.03, beta=0.1)
    )
    assert loads.moment[0, 0] < 0  # wind from the right lifts the right wing
    offset = dataclasses.replace(plane.fin, offset=0.03)
    loads = linear(plane_surfaces(dataclasses.replace(plane, fin=offset))).solve(Flow(speed=20.0, alpha=0.0))
    assert loads.force[0, 1] > 0


@pytest.mark.property
@given(
    ends=st.tuples(st.floats(0.02, 0.6), st.floats(0.65, 0.98)),
    stations=st.integers(6, 40),
    both_ends=st.booleans(),
)
def test_grid_keeps_its_breaks_and_stays_smooth(ends, stations, both_ends):
    edges, middle = grid([0.0, *ends, 1.0], stations, both_ends=both_ends)
    assert len(edges) == len(middle) + 1 == stations + 1
    step = np.diff(edges)
    assert np.all(step * step[0] > 0)
    for end in (0.0, *ends, 1.0):
        assert np.min(np.abs(edges - end)) < 1e-9
    low, high = np.minimum(edges[1:], edges[:-1]), np.maximum(edges[1:], edges[:-1])
    assert np.all((middle > low) & (middle < high))


@pytest.mark.property
@given(lengths=st.lists(st.floats(0.01, 10.0), min_size=1, max_size=6), total=st.integers(1, 60))
def test_share_out_adds_up(lengths, total):
    counts = share_out(lengths, total)
    assert min(counts) >= 1
    assert sum(counts) == max(total, len(lengths))


def spec(**changes):
    base = {"name": "w", "root": (0, 0, 0), "tip": (0, 0.5, 0), "root_chord": 0.2, "tip_chord": 0.2}
    return SurfaceSpec(**{**base, **changes})


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: spec(root_chord=0.0), "positive chords"),
        (lambda: spec(stations=21), "an even number where mirrored; got 21"),
        (
            lambda: Control(name="flap", inner=0.7, outer=0.3, inner_fraction=0.2, outer_fraction=0.2),
            "control 'flap' must lie between root and tip",
        ),
        (lambda: Flow(speed=float("nan"), alpha=0.0), "speed must be finite"),
        (lambda: Flow(speed=1.0, alpha=0.0, deltas={"flap": np.inf}), "flap must be finite"),
    ],
)
def test_wrong_input_is_refused(make, message):
    with pytest.raises(ValueRangeError, match=message):
        make()


@pytest.mark.invariant
def test_an_open_hinge_gap_takes_from_the_roll() -> None:
    """Sealing gains 1/5 to 1/3 of a flap's lift (flight tests quoted at `open_gap_share`): open ailerons roll less."""
    from dataclasses import replace

    from evenfall.aero.flow import Flow
    from evenfall.aero.roll import steady_roll
    from evenfall.aero.wings import LiftingLine
    from evenfall.plane.files import load_plane
    from evenfall.plane.starter import demo_path

    sealed = load_plane(demo_path("biplane_124")).plane
    assert sealed.upper is not None
    assert sealed.upper.aileron is not None
    wing = replace(sealed.upper, aileron=replace(sealed.upper.aileron, gap_sealed=False))
    lower = sealed.lower
    assert lower is not None
    assert lower.aileron is not None
    opened = replace(sealed, upper=wing, lower=replace(lower, aileron=replace(lower.aileron, gap_sealed=False)))
    flow = Flow(speed=np.array([22.0]), alpha=np.array([0.0]))
    rates = [
        steady_roll(LiftingLine(plane_surfaces(plane)), flow, throw=np.array([np.radians(10.0)])).rate[0]
        for plane in (sealed, opened)
    ]
    assert 0.6 < rates[1] / rates[0] < 0.95
