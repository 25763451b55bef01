"""What one plane's corrections say of another."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.fit.carry import carry_over, shares
from evenfall.fit.learned import Learned, prior
from evenfall.workflow import Ready, TuneAnswer


def learned_of(**factors: float) -> Learned:
    """Factors known to 2 %, the rest as before."""
    start = prior()
    mean, covariance = start.mean.copy(), start.covariance.copy()
    for name, value in factors.items():
        k = start.names.index(name)
        mean[k], covariance[k, k] = math.log(value), 0.02**2
    return Learned(names=start.names, mean=mean, covariance=covariance)


def test_the_same_power_train_comes_along_and_another_controller_does_not(tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    plane = answer.ready.file.plane
    learned = learned_of(brake_damping=1.6, crow_drag=0.9)
    over = carry_over(learned, plane, plane, plan=answer.plan, other_plan=answer.plan)
    assert over.learned.factor("brake_damping") == pytest.approx(1.6**0.95)
    changed = replace(plane, controller=replace(plane.controller, brake_frequency=24e3))
    other = carry_over(learned, plane, changed, plan=answer.plan, other_plan=answer.plan)
    assert other.learned.factor("brake_damping") == 1.0
    kept = {item.name: item for item in other.factors}
    assert kept["brake_damping"].sigma == pytest.approx(0.69)
    assert not kept["brake_damping"].carried
    assert kept["crow_drag"].carried
    assert not kept["thrust"].carried  # nothing was known of it
    assert kept["thrust"].sigma == pytest.approx(0.05)


def test_nothing_known_carries_nothing(tuned: Callable[[str], TuneAnswer], ready: Callable[[str], Ready]) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    over = carry_over(
        prior(), answer.ready.file.plane, ready("biplane_155").file.plane, plan=answer.plan, other_plan=None
    )
    np.testing.assert_allclose(over.learned.covariance, prior().covariance, atol=1e-15)
    assert not np.any(over.learned.mean)


def test_doubt_grows_on_the_way_and_never_beyond_the_prior(
    tuned: Callable[[str], TuneAnswer], ready: Callable[[str], Ready]
) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    rng = np.random.default_rng(4)
    start = prior()
    root = rng.normal(size=(len(start.names), 3))
    # what a few numbers have told: the information of three random directions
    information = np.linalg.inv(start.covariance) + 400 * root @ root.T
    learned = Learned(names=start.names, mean=0.1 * start.sigma, covariance=np.linalg.inv(information))
    over = carry_over(learned, answer.ready.file.plane, ready("biplane_155").file.plane, plan=answer.plan,
                      other_plan=None).learned  # fmt: skip
    assert np.all(np.linalg.eigvalsh(over.covariance) > 0)
    assert np.all(over.sigma >= learned.sigma - 1e-12)
    assert np.all(over.sigma <= start.sigma + 1e-12)


def test_levels_the_other_controller_lacks_stay_behind(tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    plane = answer.ready.file.plane
    names = (*prior().names, "brake_damping:50")
    start = prior(names)
    fewer = replace(plane, controller=replace(plane.controller, levels=plane.controller.levels[:2]))
    over = carry_over(start, plane, fewer, plan=answer.plan, other_plan=None)
    assert "brake_damping:50" not in over.learned.names
    assert "brake_damping" in over.learned.names


def test_shares_are_correlations(ready: Callable[[str], Ready], tuned: Callable[[str], TuneAnswer]) -> None:
    plan = tuned("biplane_124").plan
    assert plan is not None
    for name in ("biplane_124", "biplane_155", "foam_biplane_085", "monoplane_160"):
        found = shares(ready("biplane_124").file.plane, ready(name).file.plane, plan=plan)
        assert set(found) == set(prior().names)
        assert all(0.0 <= value < 1.0 for value in found.values())
    assert found["crow_moment"] == 0.0
