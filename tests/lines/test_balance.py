"""Balances on a line: lift recomputed, upright against inverted, batch against loop, limits."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.aero.wings import Flow
from evenfall.air import standard_air
from evenfall.lines.balance import Airframe, Balance, airframe, balance, parts_drag, stream_increment
from evenfall.plane.airframe import Plane
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.plan import Crow, surface_deltas
from evenfall.tune.candidates import crow_at
from evenfall.workflow import Ready

MakeReady = Callable[[str], Ready]
CROW_DEG = 14.0


def crow_of(plane: Plane) -> Crow:
    name = "up/down" if len(plane.wings) == 2 else "both up"
    return crow_at(plane, name, math.radians(CROW_DEG))  # type: ignore[arg-type]


def loads_of(frame: Airframe, found: Balance, *, speed: np.ndarray, crow: Crow | None, deployment: np.ndarray):  # type: ignore[no-untyped-def]
    """The lifting line solved again at the incidence and elevator a balance gave."""
    stream = stream_increment(speed, found.thrust, density=frame.air.density, disc=frame.disc)
    flow = Flow(
        speed=speed,
        alpha=found.alpha,
        deltas={**surface_deltas(frame.plane, crow, deployment), "elevator": found.elevator},
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
        wash=stream[:, None] * frame.in_stream,
    )
    return frame.line.solve(flow)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_lift_and_moment_are_balanced_when_recomputed(ready: MakeReady, name: str) -> None:
    frame, wanted = ready(name).frame, ready(name).wanted
    crow = crow_of(frame.plane)
    slope = np.radians([-90, -45, 0, 0, 45, -45])
    deployment = np.array([1.0, 1.0, 0.0, 0.4, 0.0, 0.0])
    speed = np.full(6, wanted)
    found = balance(frame, speed=speed, slope=slope, crow=crow, deployment=deployment)
    assert found.converged.all()
    loads = loads_of(frame, found, speed=speed, crow=crow, deployment=deployment)
    weight = frame.weight
    lift = loads.lift + found.thrust * np.sin(found.alpha)
    # Started afresh, the circulation of deployed sections settles a few 1e-4 of lift coefficient away.
    force = 0.5 * frame.air.density * wanted**2 * frame.plane.wing_area
    assert lift == pytest.approx(weight * np.cos(slope), abs=5e-4 * force)
    stream = stream_increment(speed, found.thrust, density=frame.air.density, disc=frame.disc)
    moment = loads.moment[:, 1] + parts_drag(frame, speed, stream)[1] + found.thrust * frame.plane.mass.cg_z
    assert moment == pytest.approx(0.0, abs=5e-4 * force * frame.plane.mean_chord)
    drag = found.drag_surfaces + found.drag_parts
    # The thrust taken is that of a steady line to the accuracy of the second pass.
    assert found.thrust == pytest.approx(drag + weight * np.sin(slope), abs=0.03 * weight)


@pytest.fixture(scope="module")
def mirrored() -> Airframe:
    """A biplane that is the same upside down: no stagger, equal wings about thrust line and CG, tail on the line."""
    plane = load_plane(demo_path("biplane_124")).plane
    upper = replace(plane.upper, z=0.15, incidence_left=0.0, incidence_right=0.0, dihedral=0.0)
    plane = replace(
        plane,
        upper=upper,
        lower=replace(upper, z=-0.15),
        tail=replace(plane.tail, z=0.0, incidence=0.0),
        fin=None,
        mass=replace(plane.mass, cg_z=0.0),
        body=None if plane.body is None else replace(plane.body, z=0.0),
        drag=tuple(replace(part, z=0.0) for part in plane.drag),
    )
    return airframe(plane, standard_air())


@pytest.mark.invariant
@pytest.mark.parametrize("arrangement", ["up/down", "down/up"])
def test_inverted_equals_upright_on_the_vertical_of_a_mirrored_plane(mirrored: Airframe, arrangement: str) -> None:
    # Turned over, up/down stays up/down: what bends the path changes sign, drag does not.
    crow = crow_at(mirrored.plane, arrangement, math.radians(CROW_DEG))  # type: ignore[arg-type]
    speeds = np.array([16.0, 22.0, 28.0])
    found = [balance(mirrored, speed=speeds, slope=-np.pi / 2, inverted=i, crow=crow, deployment=1.0) for i in (0, 1)]
    assert found[0].drag_surfaces == pytest.approx(found[1].drag_surfaces, rel=1e-6)
    assert found[0].alpha == pytest.approx(0.0, abs=1e-6)
    assert found[0].elevator == pytest.approx(0.0, abs=1e-5)


@pytest.mark.invariant
def test_level_inverted_mirrors_level_upright(mirrored: Airframe) -> None:
    up, down = (balance(mirrored, speed=22.0, slope=[0.0, -0.7], inverted=i) for i in (False, True))
    assert up.drag_surfaces == pytest.approx(down.drag_surfaces, rel=1e-5)
    assert up.alpha == pytest.approx(-down.alpha, abs=1e-6)
    assert up.elevator == pytest.approx(-down.elevator, abs=1e-5)


@pytest.mark.invariant
def test_batch_equals_loop(ready: MakeReady) -> None:
    frame = ready("biplane_124").frame
    crow = crow_of(frame.plane)
    rng = np.random.default_rng(5)
    speed, slope = rng.uniform(15, 35, 6), rng.uniform(-1.5, 1.5, 6)
    deployment, inverted = rng.uniform(0, 1, 6), rng.random(6) > 0.5
    batch = balance(frame, speed=speed, slope=slope, inverted=inverted, crow=crow, deployment=deployment)
    for k in range(6):
        one = balance(frame, speed=speed[k], slope=slope[k], inverted=inverted[k], crow=crow, deployment=deployment[k])
        for field in ("alpha", "elevator", "drag_surfaces", "drag_parts", "thrust"):
            assert getattr(one, field)[0] == pytest.approx(getattr(batch, field)[k], rel=1e-5, abs=1e-6), field


@pytest.mark.limit
def test_no_crow_and_no_deployment_are_the_clean_plane(ready: MakeReady) -> None:
    frame = ready("biplane_124").frame
    crow = crow_of(frame.plane)
    clean = balance(frame, speed=22.0, slope=[-1.5, 0.0])
    stowed = balance(frame, speed=22.0, slope=[-1.5, 0.0], crow=crow, deployment=0.0)
    assert np.array_equal(clean.drag_surfaces, stowed.drag_surfaces)
    out = balance(frame, speed=22.0, slope=[-1.5, 0.0], crow=crow, deployment=1.0)
    assert np.all(out.drag_surfaces > 1.5 * clean.drag_surfaces)


@pytest.mark.outside
def test_below_the_stall_the_balance_says_so(ready: MakeReady) -> None:
    frame = ready("biplane_155").frame
    found = balance(frame, speed=[3.0, 24.0], slope=0.0)
    assert found.converged.tolist() == [False, True]
    assert np.isfinite(found.drag_surfaces).all()


def test_given_thrust_is_taken_as_given(ready: MakeReady) -> None:
    frame = ready("biplane_124").frame
    found = balance(frame, speed=22.0, slope=[0.0, 0.0], thrust=[0.0, 10.0])
    assert found.thrust.tolist() == [0.0, 10.0]
    assert found.drag_parts[1] > found.drag_parts[0]  # parts stand in the stream


@pytest.mark.published
def test_stream_behind_an_actuator_disc() -> None:
    # Froude: V_j = sqrt(V^2 + 2 T/(rho A)); at rest with T = rho A v^2 / 2, V_j = v.
    assert stream_increment(0.0, 0.5 * 1.225 * 0.05 * 100.0, density=1.225, disc=0.05) == pytest.approx(10.0)
    assert stream_increment(20.0, 0.0, density=1.225, disc=0.05) == 0.0
    assert stream_increment(20.0, -1.0, density=1.225, disc=0.05) < 0.0


@pytest.mark.outside
def test_braking_beyond_momentum_theory_is_held_at_its_end() -> None:
    most = stream_increment(20.0, -1e3, density=1.225, disc=0.05)
    assert most == pytest.approx(20.0 * (math.sqrt(1 - 0.3) - 1))


@pytest.mark.invariant
def test_thin_air_needs_more_incidence_and_gives_the_same_lift() -> None:
    plane = load_plane(demo_path("biplane_124")).plane
    low, high = airframe(plane, standard_air(0.0)), airframe(plane, standard_air(2000.0))
    at_low, at_high = (balance(frame, speed=22.0, slope=0.0) for frame in (low, high))
    assert at_high.alpha[0] > at_low.alpha[0]
    # Density ratio of ISO 2533 (1.00649 / 1.225); friction rises by some 3 % with the lower Reynolds number.
    ratio = at_high.drag_parts[0] / at_low.drag_parts[0]
    assert 1.00649 / 1.225 < ratio < 1.04 * 1.00649 / 1.225
