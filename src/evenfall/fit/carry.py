"""What one plane's flights say about another: corrections carried over as far as they belong to what both share.

Every ln factor of the two planes is taken as jointly normal with the same one sigma and a correlation r:
x_B = r x_A + sqrt(1 - r^2) s e. From x_A ~ N(m, C) follows x_B ~ N(R m, R C R + (I - R^2) P) with R = diag(r) and P the
prior. Source: conditioning of normals, Gelman et al., Bayesian Data Analysis, 3rd ed., sect. 3.5 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from evenfall.fit.learned import SHARED_LEVELS, Learned, prior
from evenfall.plane.airframe import Plane
from evenfall.plane.electrics import Controller, Motor, Propeller
from evenfall.radio.plan import Plan

Belongs = Literal["airframe", "power train"]

LEAST_SHARE = 0.2
"""Correlation below which nothing is carried."""


@dataclass(frozen=True, kw_only=True)
class CarriedFactor:
    """One correction on its way.

    Args:
        name: of the correction; another motor-brake level's is "brake_damping:LEVEL".
        belongs: what it is a property of.
        share: correlation of the two planes in it, 0 to 1. Common practice, no source.
        reason: why so much.
        known: how much flights have told of it on the first plane: 1 - sigma after / sigma before, 0 to 1.
        factor, sigma: most likely factor on the other plane, and one sigma of its logarithm.
        first: most likely factor on the plane it comes from.
    """

    name: str
    belongs: Belongs
    share: float
    reason: str
    known: float
    factor: float
    sigma: float
    first: float

    @property
    def carried(self) -> bool:
        """Whether anything worth it comes along."""
        return self.share >= LEAST_SHARE and self.known > 0.05


@dataclass(frozen=True, kw_only=True)
class CarriedOver:
    """Corrections to begin with on another plane, and where each comes from."""

    learned: Learned
    factors: tuple[CarriedFactor, ...]


def carry_over(learned: Learned, first: Plane, other: Plane, *, plan: Plan, other_plan: Plan | None) -> CarriedOver:
    """What `first`'s corrections, learned with `plan`, say of `other`.

    `other_plan` decides whether crow goes the same way and the same motor-brake level is used; None takes both as
    alike. Levels the other controller does not have are left behind.
    """
    levels = {level.name for level in other.controller.levels}
    names = [name for name in learned.names if ":" not in name or name.partition(":")[2] in levels]
    rows = [learned.names.index(name) for name in names]
    mean, covariance = learned.mean[rows], learned.covariance[np.ix_(rows, rows)]
    start = prior(names)
    kinds = [_share(name, first, other, plan=plan, other_plan=other_plan) for name in names]
    share = np.array([kind[1] for kind in kinds])
    share[share < LEAST_SHARE] = 0.0
    made = share[:, None] * covariance * share + np.diag(1.0 - share**2) @ start.covariance
    carried = Learned(names=tuple(names), mean=share * mean, covariance=made)
    known = np.clip(1.0 - np.sqrt(np.diag(covariance)) / start.sigma, 0.0, 1.0)
    factors = tuple(
        CarriedFactor(
            name=name,
            belongs=kind[0],
            share=float(share[k]),
            reason=kind[2],
            known=float(known[k]),
            factor=carried.factor(name),
            sigma=float(carried.sigma[k]),
            first=float(np.exp(mean[k])),
        )
        for k, (name, kind) in enumerate(zip(names, kinds, strict=True))
    )
    return CarriedOver(learned=carried, factors=factors)


def shares(first: Plane, other: Plane, *, plan: Plan, other_plan: Plan | None = None) -> dict[str, float]:
    """Correlation of the two planes in every correction, by name."""
    return {name: _share(name, first, other, plan=plan, other_plan=other_plan)[1] for name in prior().names}


def same_propeller(first: Propeller, other: Propeller) -> bool:
    """Equal in what decides its forces; the mass may differ."""
    return (first.diameter, first.pitch, first.blades, first.shape, first.chord_75, first.stations) == (
        other.diameter, other.pitch, other.blades, other.shape, other.chord_75, other.stations,
    )  # fmt: skip


def same_motor(first: Motor, other: Motor) -> bool:
    """Of the same winding and size: kv, resistance and pole pairs within what labels scatter."""
    return (
        first.pole_pairs == other.pole_pairs
        and abs(first.kv / other.kv - 1) < 0.02
        and abs(first.resistance / other.resistance - 1) < 0.1
    )


def same_controller(first: Controller, other: Controller) -> bool:
    """The same settings at the same pulse frequency."""
    return [(level.name, level.percent) for level in first.levels] == [
        (level.name, level.percent) for level in other.levels
    ] and first.brake_frequency == other.brake_frequency


def _share(name: str, first: Plane, other: Plane, *, plan: Plan, other_plan: Plan | None) -> tuple[Belongs, float, str]:
    """What a correction belongs to, its correlation between the planes (common practice, no source), and why.

    The doubt of crow drag and roll is mostly that of the section tables, which all planes share; that of drag areas is
    half the habit of measuring; propeller, motor and controller are the same pieces or their like.
    """
    kind = name.partition(":")[0]
    if kind in ("brake_damping", "braked_propeller_drag", "thrust"):
        return ("power train", *_power(kind, name, first, other, plan=plan, other_plan=other_plan))
    if kind == "parasite_drag":
        alike = {part.kind for part in first.drag} == {part.kind for part in other.drag}
        alike = alike and (first.body is None) == (other.body is None)
        return ("airframe", 0.5, "the same kinds of parts, counted in the same way") if alike else (
            "airframe", 0.3, "other kinds of parts",
        )  # fmt: skip
    ways = (plan.crow, plan.crow if other_plan is None else other_plan.crow)
    if ways[0] is None or ways[1] is None:
        return "airframe", 0.0, "one of the two flies without crow"
    same_way = ways[0].arrangement == ways[1].arrangement and set(first.wings) == set(other.wings)
    share = {"crow_drag": (0.9, 0.5), "roll_deployed": (0.8, 0.4), "crow_moment": (0.6, 0.0)}[kind]
    if same_way:
        return "airframe", share[0], "crow goes the same way on the same wings"
    return "airframe", share[1], "crow goes another way or on other wings"


def _power(
    kind: str, name: str, first: Plane, other: Plane, *, plan: Plan, other_plan: Plan | None
) -> tuple[float, str]:
    propeller = same_propeller(first.propeller, other.propeller)
    motor = same_motor(first.motor, other.motor)
    if kind == "thrust":
        if propeller and motor:
            return 0.95, "the same propeller on the same motor"
        return (0.7, "the same propeller, another motor") if propeller else (0.3, "another propeller")
    if kind == "braked_propeller_drag":
        if propeller:
            return 0.95, "the same propeller"
        alike = first.propeller.shape == other.propeller.shape and first.propeller.blades == other.propeller.blades
        return (0.6, "another propeller of the same shape") if alike else (0.3, "a propeller of another shape")
    if not same_controller(first.controller, other.controller):
        return 0.0, "another controller: a level's percent means something else"
    own = name == "brake_damping" and other_plan is not None
    if own and other_plan is not None and other_plan.motor.level != plan.motor.level:
        return SHARED_LEVELS, "the same controller at another level"
    return (0.95, "the same controller and motor") if motor else (0.6, "the same controller, another motor")
