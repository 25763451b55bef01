"""What flights have taught: ln of every correction with its covariance, and how it goes back into the engine."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import ValueRangeError
from evenfall.lines.spread import MEASURED_DAMPING_SIGMA
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import PRIOR_SIGMA, Corrections, FactorDoubt
from evenfall.plane.electrics import Controller

Floats = NDArray[np.float64]

FACTORS = tuple(field.name for field in fields(Corrections))
"""Names of the corrections, in the order of the covariance."""


@dataclass(frozen=True, kw_only=True)
class Learned:
    """Corrections and their joint doubt.

    Args:
        names: factors of `Corrections`; another level's motor brake is "brake_damping:LEVEL".
        mean: ln of the most likely factors, (n,).
        covariance: of the ln factors, (n, n).
    """

    names: tuple[str, ...]
    mean: Floats
    covariance: Floats

    def __post_init__(self) -> None:
        n = len(self.names)
        if self.mean.shape != (n,) or self.covariance.shape != (n, n):
            raise ValueRangeError(f"{n} corrections need {n} means and a covariance of {n} by {n}")
        if not (np.all(np.isfinite(self.mean)) and np.all(np.isfinite(self.covariance))):
            raise ValueRangeError("corrections and their covariance must be finite numbers")

    @property
    def sigma(self) -> Floats:
        """One sigma of every ln factor."""
        return np.sqrt(np.diag(self.covariance))

    def factor(self, name: str) -> float:
        """The factor of that name; 1 where nothing is known of it."""
        return math.exp(float(self.mean[self.names.index(name)])) if name in self.names else 1.0

    def corrections(self, level: str | None = None) -> Corrections:
        """The most likely corrections; `level` takes that level's own motor-brake factor where there is one."""
        return corrections_of(self.names, self.mean, level=level)

    def directions(self, *, least: float = 1e-6) -> tuple[dict[str, float], ...]:
        """Independent changes of ln factors, one sigma each, largest first: the principal axes of the covariance."""
        values, vectors = np.linalg.eigh(self.covariance)
        order = np.argsort(values)[::-1]
        return tuple(
            dict(zip(self.names, (math.sqrt(values[k]) * vectors[:, k]).tolist(), strict=True))
            for k in order
            if values[k] > least**2
        )


def prior(names: Sequence[str] = FACTORS, *, sigma: Mapping[str, float] | None = None) -> Learned:
    """Before any flight: factors of 1 with the spreads of `PRIOR_SIGMA` (one sigma of ln), or others given by name."""
    own = {} if sigma is None else sigma
    widths = np.array([own.get(name, PRIOR_SIGMA[name.partition(":")[0]]) for name in names])
    return Learned(names=tuple(names), mean=np.zeros(len(names)), covariance=np.diag(widths**2))


CROW_POWER = 1.5
"""How the drag that crow adds grows with its angle: 1.4 to 1.8 for the demo biplanes between 8 and 35 deg."""
CROW_SHAPE = 0.1
"""Doubt of that law, ln of drag for each ln of angle. Ours, no source."""


def crow_set_anew(learned: Learned, before: float, after: float, *, setting: float) -> Learned:
    """What is known of crow's drag once it has been set from one angle to another (rad, of the larger wing).

    Args:
        setting: one sigma of an angle as set, rad. What flights have taught of crow holds for the angle that was really
            set then: setting it anew, and to another size, adds doubt of its own. Nothing is added for no change.

    >>> now = prior()
    >>> crow_set_anew(now, 0.3, 0.3, setting=0.01) is now
    True
    >>> bool(crow_set_anew(now, 0.3, 0.4, setting=0.01).sigma[1] > now.sigma[1])
    True
    """
    if math.isclose(before, after, abs_tol=1e-4) or min(before, after) <= 0.0 or "crow_drag" not in learned.names:
        return learned
    row = learned.names.index("crow_drag")
    more = math.hypot(CROW_POWER * setting / after, CROW_SHAPE * math.log(after / before))
    covariance = learned.covariance.copy()
    covariance[row, row] += more**2
    return replace(learned, covariance=covariance)


SHARED_LEVELS = 0.5
"""Correlation of the motor brake's factor at two levels of one controller: what percent means is doubtful at each.
Common practice, no source."""


def for_level(learned: Learned, controller: Controller, level: str, *, first: str) -> Learned:
    """What is known once another motor-brake level is flown: a factor of its own, half of it shared.

    Args:
        first: level that `brake_damping` was learned at. The same again where the level is that one, has a factor of
            its own, or nothing of it was learned.

    From x ~ N(m, C) at the first level follows x' = k x + sqrt(1 - r^2) s' e at the other, k = r s'/s, with r
    `SHARED_LEVELS` and s, s' what is believed of each before any flight.
    """
    own = f"brake_damping:{level}"
    source = next((name for name in (f"brake_damping:{first}", "brake_damping") if name in learned.names), None)
    if source is None or level == first or own in learned.names:
        return learned
    row = learned.names.index(source)
    before, after = (
        PRIOR_SIGMA["brake_damping"] if controller.level(name).damping is None else MEASURED_DAMPING_SIGMA
        for name in (first, level)
    )
    grow = SHARED_LEVELS * after / before
    n = len(learned.names)
    covariance = np.zeros((n + 1, n + 1))
    covariance[:n, :n] = learned.covariance
    covariance[n, :n] = covariance[:n, n] = grow * learned.covariance[row]
    covariance[n, n] = grow**2 * learned.covariance[row, row] + (1 - SHARED_LEVELS**2) * after**2
    mean = np.append(learned.mean, grow * learned.mean[row])
    return Learned(names=(*learned.names, own), mean=mean, covariance=covariance)


def corrections_of(names: Sequence[str], values: Floats, *, level: str | None = None) -> Corrections:
    """Corrections of ln factors; see `Learned.corrections`."""
    known = dict(zip(names, np.exp(values).tolist(), strict=True))
    own = known.get(f"brake_damping:{level}")
    if own is not None:
        known["brake_damping"] = own
    return Corrections(**{name: value for name, value in known.items() if name in FACTORS})


def taught(plane: Plane, learned: Learned, *, level: str | None = None) -> Plane:
    """The plane with what was learned: its own corrections times the learned factors, and their joint doubt.

    `level` is the motor-brake level the plane is flown with: its own brake factor stands for `brake_damping`.
    """
    factors = learned.corrections(level)
    made = {name: getattr(plane.corrections, name) * getattr(factors, name) for name in FACTORS}
    own = f"brake_damping:{level}"
    kept = [own if name == "brake_damping" and own in learned.names else name for name in FACTORS]
    rows = [learned.names.index(name) for name in kept if name in learned.names]
    within = Learned(
        names=tuple(name.partition(":")[0] for name in kept if name in learned.names),
        mean=learned.mean[rows],
        covariance=learned.covariance[np.ix_(rows, rows)],
    )
    doubt = FactorDoubt(axes=tuple(tuple(axis.items()) for axis in within.directions()))
    return replace(plane, corrections=Corrections(**made), doubt=doubt)
