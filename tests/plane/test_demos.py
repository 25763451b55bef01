"""The invented demo planes are consistent with themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenfall.aero.trim import static_margin
from evenfall.air import G0
from evenfall.plane.airframe import Plane
from evenfall.plane.facts import stagger
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.power.propeller import propeller_map
from evenfall.power.train import driven


def demo(name: str) -> Plane:
    return load_plane(demo_path(name)).plane


@pytest.mark.parametrize("name", DEMOS)
def test_named_as_invented(name: str) -> None:
    text = demo_path(name).read_text(encoding="utf-8")
    assert text.startswith("# An invented aeroplane")
    assert "(invented)" in demo(name).name


def test_the_four_sizes() -> None:
    spans = [max(wing.span for wing in demo(name).wings.values()) for name in DEMOS]
    assert spans == pytest.approx([1.24, 1.55, 0.85, 1.60], abs=0.02)
    assert [len(demo(name).wings) for name in DEMOS] == [2, 2, 2, 1]
    assert all(wing.section.flat_plate for wing in demo("foam_biplane_085").wings.values())
    small, heavy = demo("biplane_124"), demo("biplane_155")
    assert heavy.tail.area / heavy.wing_area < small.tail.area / small.wing_area
    assert heavy.mass.all_up > small.mass.all_up


@pytest.mark.parametrize("name", DEMOS)
def test_small_stagger(name: str) -> None:
    """Quarter-chord stagger 5 to 15 mm."""
    found = stagger(demo(name))
    assert found is None or 0.005 <= found <= 0.015


@pytest.mark.parametrize("name", DEMOS)
def test_centre_ahead_of_the_computed_neutral_point(name: str) -> None:
    """4 to 8 % of mean chord, neutral point of all surfaces together from +-1 deg of incidence."""
    plane = demo(name)
    assert 0.04 <= static_margin(plane, speed=plane.wanted.speed or 0.0) <= 0.08


@pytest.mark.parametrize("name", DEMOS)
def test_power_fits_the_plane(name: str) -> None:
    """Static thrust above 1.3 times the weight; thrust left at the wanted speed; pitch speed above it."""
    plane = demo(name)
    speed = plane.wanted.speed or 0.0
    state = driven(plane, propeller_map(plane.propeller), np.array([0.0, speed]), 1.0)
    weight = plane.mass.all_up * G0
    assert state.converged.all()
    assert 1.3 * weight < state.thrust[0] < 4 * weight
    assert state.thrust[1] > 0.5 * weight
    assert state.omega[1] * plane.propeller.pitch / (2 * math.pi) > 1.05 * speed
