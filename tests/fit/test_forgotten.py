"""What a replaced part takes away from what was learned."""

from __future__ import annotations

import numpy as np

from evenfall.fit.forgotten import forgot
from evenfall.fit.learned import Learned, prior
from evenfall.plane.corrections import PRIOR_SIGMA


def learned() -> Learned:
    names = ("parasite_drag", "brake_damping", "brake_damping:3", "thrust")
    root = np.array([[0.1, 0.02, 0, 0], [0, 0.3, 0.1, 0], [0, 0, 0.2, 0.01], [0, 0, 0, 0.03]])
    return Learned(names=names, mean=np.array([0.1, -0.4, 0.2, 0.01]), covariance=root.T @ root)


def test_the_named_go_back_to_the_prior_and_the_others_stay() -> None:
    before = learned()
    after = forgot(before, ["brake_damping"])
    assert after.names == before.names
    assert after.mean.tolist() == [0.1, 0.0, 0.0, 0.01]
    assert np.allclose(after.sigma[1:3], PRIOR_SIGMA["brake_damping"])
    kept = np.ix_([0, 3], [0, 3])
    assert np.array_equal(after.covariance[kept], before.covariance[kept])
    assert np.count_nonzero(after.covariance[1]) == np.count_nonzero(after.covariance[:, 2]) == 1
    assert np.all(np.linalg.eigvalsh(after.covariance) > 0)


def test_nothing_named_changes_nothing_and_everything_named_is_the_prior() -> None:
    before = learned()
    assert np.array_equal(forgot(before, []).covariance, before.covariance)
    gone = forgot(before, ["parasite_drag", "brake_damping", "thrust"])
    fresh = prior(before.names)
    assert np.array_equal(gone.mean, fresh.mean)
    assert np.array_equal(gone.covariance, fresh.covariance)
