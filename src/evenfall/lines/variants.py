"""Many slightly different aeroplanes on one line at once: Newton from a known steady speed, batched.

This is the same engine as `evenfall.lines.line` (same thrust, drag and shaft torque); only the search is local. A
variant whose steady speed leaves its branch (over a fold) is reported as not found, and searched for in full by the
caller where it matters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.lines.line import SteadySpeed
from evenfall.lines.shaft import PowerUnit, Shaft
from evenfall.lines.survey import shaft_at
from evenfall.plane.airframe import Plane
from evenfall.power.train import corrected_loads, shaft_inertia
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

_STEPS = 12
_SETTLED = 1e-7
_FURTHEST = 0.6
"""Greatest change of a steady speed, share, that still counts as the same branch."""


@dataclass(frozen=True, kw_only=True)
class Variant:
    """One changed aeroplane: the plane (power train, mass, corrections), and factors on the surfaces' drag.

    Args:
        clean, crow: on the drag of the surfaces with crow stowed, and on what deployment adds.
    """

    plane: Plane
    clean: float = 1.0
    crow: float = 1.0


@dataclass(frozen=True, kw_only=True)
class VariantSpeeds:
    """Steady speeds (m/s), shaft speeds (rad/s) and whether each was found on the branch it started from, (n,)."""

    speed: Floats
    omega: Floats
    found: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A steady speed to start from: `near` on the line of `table` at a deployment (0-1)."""

    table: DragTable
    deployment: float
    near: SteadySpeed


@dataclass(frozen=True, kw_only=True)
class _Batch:
    """Everything of g places and n variants that the balances need, as arrays."""

    unit: PowerUnit
    places: Sequence[Place]
    shafts: tuple[tuple[Shaft, list[int]], ...]
    weight: Floats
    driving: Floats
    braking: Floats
    parasite: Floats
    crow: Floats
    clean: Floats
    inertia: Floats
    along: Floats

    def residual(self, v: Floats, w: Floats) -> Floats:
        """Excess force (N) and torque (N m), shape (2, m, g, n) for v and w of shape (m, g, n)."""
        raw = self.unit.propeller.loads(v, w, self.unit.density)
        thrust, torque = corrected_loads(*raw, driving=self.driving, braking=self.braking)
        held = np.empty_like(w)
        for shaft, columns in self.shafts:
            held[..., columns] = shaft.holding_back(w[..., columns])
        return np.stack([thrust - self.drag(v) - self.weight * self.along, -torque - held])

    def drag(self, v: Floats) -> Floats:
        """Drag of each variant at each place, N."""
        held = np.empty_like(v)
        for row, place in enumerate(self.places):
            clean, parts, crow = place.table.shares(v[:, row], place.deployment)
            area = self.clean * clean + self.parasite * parts + self.crow * crow
            held[:, row] = 0.5 * place.table.density * v[:, row] ** 2 * area
        return held


def _batch(unit: PowerUnit, plan: Plan, places: Sequence[Place], stick: float, variants: Sequence[Variant]) -> _Batch:
    corrections = [item.plane.corrections for item in variants]
    # Variants whose motor, controller, cells and brake factor are the same objects share a shaft.
    alike: dict[object, list[int]] = {}
    for column, item in enumerate(variants):
        plane = item.plane
        key = (id(plane.motor), id(plane.controller), id(plane.battery), plane.corrections.brake_damping)
        alike.setdefault(key, []).append(column)
    shafts = [
        (shaft_at(replace(unit, plane=variants[columns[0]].plane), plan, stick)[0], columns)
        for columns in alike.values()
    ]
    return _Batch(
        unit=unit,
        places=places,
        shafts=tuple(shafts),
        weight=np.array([item.plane.mass.all_up * G0 for item in variants]),
        driving=np.array([item.thrust for item in corrections]),
        braking=np.array([item.braked_propeller_drag for item in corrections]),
        parasite=np.array([item.parasite_drag for item in corrections]),
        crow=np.array([item.crow_drag * variant.crow for item, variant in zip(corrections, variants, strict=True)]),
        clean=np.array([item.clean for item in variants]),
        inertia=np.array([shaft_inertia(item.plane) for item in variants]),
        along=np.array([[math.sin(place.table.slope)] for place in places]),
    )


def variant_speeds(
    unit: PowerUnit,
    plan: Plan,
    table: DragTable,
    *,
    stick: float,
    deployment: float,
    near: SteadySpeed,
    variants: Sequence[Variant],
) -> VariantSpeeds:
    """The steady speed of every variant on the branch of `near`, at the same stick (0-1).

    Args:
        table: of the line, solved for the unchanged plane; masses act through the weight (see `DragTable.weighing`).

    Newton with halved steps; not found where it does not settle, changes stability, or moves more than 60 %.
    """
    place = Place(table=table, deployment=deployment, near=near)
    return speeds_at_places(unit, plan, [place], stick=stick, variants=variants)[0]


def speeds_at_places(
    unit: PowerUnit, plan: Plan, places: Sequence[Place], *, stick: float, variants: Sequence[Variant]
) -> tuple[VariantSpeeds, ...]:
    """`variant_speeds` at several places that share the stick, in one batch."""
    batch = _batch(unit, plan, places, stick, variants)
    shape = (len(places), len(variants))
    start = np.array([[place.near.speed] for place in places])
    v = np.broadcast_to(start, shape)
    w = np.broadcast_to(np.array([[max(place.near.omega, 0.0)] for place in places]), shape)
    settled = np.zeros(shape, bool)
    jacobian = np.zeros((2, 2, *shape))
    for _ in range(_STEPS):
        residual, jacobian = _linearised(batch, v, w)
        (a, b), (c, d) = jacobian
        determinant = a * d - b * c
        safe = np.where(np.abs(determinant) > 1e-12, determinant, np.inf)
        dv = np.clip(-(residual[0] * d - residual[1] * b) / safe, -0.15 * v, 0.15 * v)
        reach = 0.25 * np.maximum(w, 20.0)
        dw = np.clip(-(residual[1] * a - residual[0] * c) / safe, -reach, reach)
        v, w = v + dv, np.maximum(w + dw, 0.0)
        settled = np.abs(dv) / v + np.abs(dw) / np.maximum(w, 20.0) < _SETTLED
        if settled.all():
            break
    (a, b), (c, d) = jacobian
    mass = batch.weight / G0
    stable = (a / mass + d / batch.inertia < 0) & (a * d - b * c > 0)
    alike = stable == np.array([[place.near.stable] for place in places])
    found = settled & alike & (np.abs(v - start) < _FURTHEST * start)
    return tuple(VariantSpeeds(speed=v[g], omega=w[g], found=found[g]) for g in range(len(places)))


def _linearised(batch: _Batch, v: Floats, w: Floats) -> tuple[Floats, Floats]:
    dv, dw = 1e-3 * np.maximum(v, 1.0), 1e-3 * np.maximum(w, 20.0)
    speeds = np.stack([v, v + dv, v - dv, v, v])
    omegas = np.stack([w, w, w, w + dw, np.maximum(w - dw, 0.0)])
    both = batch.residual(speeds, omegas)
    by_v = (both[:, 1] - both[:, 2]) / (2 * dv)
    by_w = (both[:, 3] - both[:, 4]) / (omegas[3] - omegas[4])
    return both[:, 0], np.stack([by_v, by_w], axis=1)
