"""What flights at one motor-brake level say about another: half of it, and never more than was learned."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenfall.fit.learned import SHARED_LEVELS, Learned, for_level, prior, taught
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import PRIOR_SIGMA
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path


@pytest.fixture(scope="module")
def plane() -> Plane:
    return load_plane(demo_path("biplane_124")).plane


def flown() -> Learned:
    """Motor brake twice as strong as predicted, known to a tenth; hand in hand with the propeller's drag."""
    before = prior()
    row, other = before.names.index("brake_damping"), before.names.index("braked_propeller_drag")
    mean, covariance = before.mean.copy(), before.covariance.copy()
    mean[row], covariance[row, row] = math.log(2.0), 0.1**2
    covariance[row, other] = covariance[other, row] = -0.005
    return Learned(names=before.names, mean=mean, covariance=covariance)


@pytest.mark.limit
def test_nothing_learned_says_nothing_of_another_level(plane: Plane) -> None:
    found = for_level(prior(), plane.controller, "75", first="50")
    assert found.factor("brake_damping:75") == 1.0
    assert found.sigma[-1] == pytest.approx(PRIOR_SIGMA["brake_damping"])


def test_half_of_what_was_learned_goes_to_another_level(plane: Plane) -> None:
    known = flown()
    found = for_level(known, plane.controller, "75", first="50")
    assert found.factor("brake_damping") == known.factor("brake_damping")
    assert math.log(found.factor("brake_damping:75")) == pytest.approx(SHARED_LEVELS * math.log(2.0))
    assert 0.8 * PRIOR_SIGMA["brake_damping"] < found.sigma[-1] < PRIOR_SIGMA["brake_damping"]
    assert found.covariance[-1, known.names.index("braked_propeller_drag")] == pytest.approx(-0.0025)
    assert np.linalg.eigvalsh(found.covariance).min() > 0
    own, other = (taught(plane, found, level=level) for level in ("50", "75"))
    assert own.corrections.brake_damping == pytest.approx(2.0)
    assert other.corrections.brake_damping == pytest.approx(math.sqrt(2.0))
    assert other.doubt.sigma("brake_damping") > 5 * own.doubt.sigma("brake_damping")


@pytest.mark.invariant
def test_the_same_level_and_a_known_one_stay(plane: Plane) -> None:
    known = flown()
    assert for_level(known, plane.controller, "50", first="50") is known
    both = for_level(known, plane.controller, "75", first="50")
    assert for_level(both, plane.controller, "75", first="50") is both
    bare = prior(("crow_drag", "thrust"))
    assert for_level(bare, plane.controller, "75", first="50") is bare
    third = for_level(both, plane.controller, "25", first="75")
    expected = SHARED_LEVELS * float(both.mean[-1])
    assert third.mean[-1] == pytest.approx(expected)
