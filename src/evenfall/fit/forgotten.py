"""What no longer holds after a part was replaced: corrections that go back to what is believed before any flight."""

from __future__ import annotations

from collections.abc import Collection

from evenfall.fit.learned import Learned, prior


def forgot(learned: Learned, names: Collection[str]) -> Learned:
    """The same with these corrections as before any flight and independent of the others.

    `brake_damping` stands for every level's own, too.

    >>> forgot(prior(), ["thrust"]).factor("thrust")
    1.0
    """
    gone = [i for i, name in enumerate(learned.names) if name.partition(":")[0] in names]
    fresh = prior([learned.names[i] for i in gone])
    mean, covariance = learned.mean.copy(), learned.covariance.copy()
    for place, i in enumerate(gone):
        mean[i] = fresh.mean[place]
        covariance[i, :] = covariance[:, i] = 0.0
    for place, i in enumerate(gone):
        covariance[i, i] = fresh.covariance[place, place]
    return Learned(names=learned.names, mean=mean, covariance=covariance)
