"""Spin and snap by strips: symmetric, of the right order, and what each input does."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.aero.section import LinearSections
from evenfall.aero.strips import strip_loads
from evenfall.aero.surfaces import SurfaceSpec
from evenfall.aero.wings import LiftingLine
from evenfall.lines.balance import airframe
from evenfall.lines.spin import pro_spin, snap_roll, steady_spin
from evenfall.radio.plan import present_plan
from evenfall.workflow import Ready

STILL = np.zeros((1, 3))


def line_of(slope: float = 2 * math.pi, cd: float = 0.02) -> LiftingLine:
    wing = SurfaceSpec(name="wing", root=(0, 0, 0), tip=(0, 0.6, 0), root_chord=0.2, tip_chord=0.2)
    return LiftingLine([wing], LinearSections(np.full(22, 0.0), slope=slope, cd=cd))


def test_strips_of_a_straight_wing() -> None:
    """Lift q S 2 pi sin or a, drag q S cd: by hand at 20 m/s and 4 deg, S = .24 m^2."""
    loads = strip_loads(line_of(), speed=20.0, alpha=[math.radians(4)], rates=STILL, deltas={}, density=1.225,
                        viscosity=1.789e-5)  # fmt: skip
    pressure = 0.5 * 1.225 * 400 * 0.24
    along = np.array([math.cos(math.radians(4)), 0, math.sin(math.radians(4))])
    across = np.array([math.sin(math.radians(4)), 0, -math.cos(math.radians(4))])
    assert loads.force[0] @ -along == pytest.approx(pressure * 0.02, rel=1e-6)
    assert loads.force[0] @ across == pytest.approx(pressure * 2 * math.pi * math.radians(4), rel=0.01)


def test_roll_damping_of_strips() -> None:
    """Strip theory: Clp = -a/6 for a rectangular wing (Clp by p b/2V; cl slope a), here with a drag of nothing."""
    p = 1.0
    loads = strip_loads(line_of(cd=0.0), speed=20.0, alpha=[0.0], rates=np.array([[p, 0.0, 0.0]]), deltas={},
                        density=1.225, viscosity=1.789e-5)  # fmt: skip
    moment = loads.moment[0, 0] / (0.5 * 1.225 * 400 * 0.24 * 1.2)
    assert moment / (p * 1.2 / 40) == pytest.approx(-2 * math.pi / 6, rel=0.02)


def test_left_is_right_mirrored(ready: Callable[[str], Ready]) -> None:
    line = ready("biplane_124").frame.line
    angles = {"upper_left": 0.2, "upper_right": -0.1, "elevator": -0.3, "rudder": -0.4}
    mirrored = {"upper_left": -0.1, "upper_right": 0.2, "elevator": -0.3, "rudder": 0.4}
    one, two = (
        strip_loads(line, speed=15.0, alpha=[0.5], rates=np.array([[side * 3.0, 0.2, side * 2.0]]), deltas=deltas,
                    density=1.2, viscosity=1.8e-5)
        for side, deltas in ((1.0, angles), (-1.0, mirrored))
    )  # fmt: skip
    np.testing.assert_allclose(two.force[0], one.force[0] * [1, -1, 1], atol=1e-9)
    np.testing.assert_allclose(two.moment[0], one.moment[0] * [-1, 1, -1], atol=1e-9)


@pytest.mark.parametrize("name", ["biplane_124", "biplane_155", "foam_biplane_085", "monoplane_160"])
def test_demo_planes_spin_and_snap_in_the_usual_order(ready: Callable[[str], Ready], name: str) -> None:
    """Common practice, no source: model spins of .4 to 1.5 turns a second at 20 to 60 deg, snaps of 1 to 3 a second."""
    of = ready(name)
    plan = present_plan(of.file.plane)
    spin = steady_spin(of.frame, pro_spin(of.frame, plan.phase("spin"), None, 0.0))
    assert spin is not None
    assert 0.4 < spin.turn.value / (2 * math.pi) < 1.5
    assert 20 < math.degrees(spin.alpha.value) < 60
    assert spin.sink.low <= spin.sink.value <= spin.sink.high
    assert spin.sink.value < of.wanted
    assert spin.height.value == pytest.approx(2 * math.pi * spin.sink.value / spin.turn.value)
    assert spin.load >= 1.0  # drag alone carries the weight
    snap = snap_roll(of.frame, pro_spin(of.frame, plan.phase("snap"), None, 0.0), speed=of.wanted)
    assert snap is not None
    assert 1.0 < snap.rate.value / (2 * math.pi) < 3.0


def test_heavier_sinks_faster_by_the_root_of_weight(ready: Callable[[str], Ready]) -> None:
    of = ready("biplane_124")
    plan = present_plan(of.file.plane)
    heavy = replace(of.file.plane, mass=replace(of.file.plane.mass, all_up=1.44 * of.file.plane.mass.all_up))
    light, other = (
        steady_spin(frame, pro_spin(frame, plan.phase("spin"), None, 0.0))
        for frame in (of.frame, airframe(heavy, of.air))
    )
    assert light is not None
    assert other is not None
    # the inertia couple grows with the mass too, so incidence may move a little and drag with it
    assert other.sink.value / light.sink.value == pytest.approx(1.2, rel=0.08)


def test_neutral_sticks_do_not_spin_and_snaps_go_with_speed(ready: Callable[[str], Ready]) -> None:
    of = ready("biplane_124")
    plan = present_plan(of.file.plane)
    sticks = pro_spin(of.frame, plan.phase("snap"), None, 0.0)
    slow, fast = (snap_roll(of.frame, sticks, speed=speed) for speed in (12.0, 24.0))
    assert slow is not None
    assert fast is not None
    assert fast.rate.value / slow.rate.value == pytest.approx(2.0, rel=0.1)
    assert fast.load / slow.load == pytest.approx(4.0, rel=0.15)
    assert sticks["elevator"] < 0
    assert sticks["rudder"] < 0
    assert sticks["upper_left"] > 0 > sticks["upper_right"]
