"""The stations that stand for all surfaces: every one, or one side of symmetric conditions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.fold import Fold
from evenfall.aero.influence import Lattice

Array = NDArray[np.float64]
Rows = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class Stations:
    """S stations of a lattice of N, and how sums over them give those over all.

    Args:
        rows: their numbers. images: those of the stations they also stand for, in the same order; empty for all.
        weight: how many stations each stands for, (S,).
        to_force, to_moment, to_pitch: from forces (3 S) at the stations to their sum, to its moment about the origin,
            and from pitching moments (S) to their sum, (..., 3); what cancels between the sides left out.
        point, felt_at, forward, normal, bound: (S, 3): control point, point whose flow sets the incidence, unit vectors
            to the nose and along the lift normal, bound vortex from left to right.
        chord, area, hinge_volume: m, m^2, and flap chord squared times width, m^3, (S,).
        by_control: stations to controls, (S, controls).
        velocity: all three components there per unit circulation, (N, 3 S). felt: along normal and aft at `felt_at`,
            (N, 2 S).
    """

    rows: Rows
    images: Rows
    weight: Array
    to_force: Array
    to_moment: Array
    to_pitch: Array
    point: Array
    felt_at: Array
    forward: Array
    normal: Array
    bound: Array
    chord: Array
    area: Array
    hinge_volume: Array
    by_control: Array
    velocity: Array
    felt: Array

    def spread(self, values: Array, count: int) -> Array:
        """Values of all `count` stations (n, count) from those of these, (n, S)."""
        if not self.images.size:
            return values
        whole = np.empty((len(values), count))
        whole[:, self.rows] = values
        whole[:, self.images] = values[:, : len(self.images)]
        return whole


def all_stations(lattice: Lattice, felt_at: Array, velocity: Array, normal: Array, aft: Array) -> Stations:
    """Every station.

    Args:
        velocity: (N, N, 3), normal, aft: (N, N), per unit circulation, point first.
    """
    every = np.arange(lattice.count)
    return _stations(lattice, every, every[:0], felt_at, velocity, normal, aft)


def one_side(lattice: Lattice, fold: Fold, felt_at: Array, velocity: Array, normal: Array, aft: Array) -> Stations:
    """The right half, which stands for both, then those in the plane of symmetry. Arguments as for `all_stations`."""
    rows = np.concatenate([fold.right, fold.middle])
    return _stations(lattice, rows, fold.left, felt_at, velocity, normal, aft)


def _stations(
    lattice: Lattice, rows: Rows, images: Rows, felt_at: Array, velocity: Array, normal: Array, aft: Array
) -> Stations:
    one = np.eye(len(lattice.names) + 1)[:, :-1]  # control -1 is none
    by_control = one[lattice.control[rows]]
    by_control[: len(images)] += one[lattice.control[images]]
    weight = np.ones(len(rows))
    weight[: len(images)] = 2.0
    force, moment = (np.ones(3), np.ones(3)) if not images.size else (np.array([1.0, 0, 1]), np.array([0, 1.0, 0]))
    pitch_axis = np.cross(lattice.forward[rows], lattice.normal[rows])
    turned = np.cross(lattice.point[rows][:, None], np.eye(3)[None])  # r x unit force, (S, force, moment)
    return Stations(
        rows=rows,
        images=images,
        weight=weight,
        to_force=(weight[:, None, None] * np.eye(3) * force).reshape(-1, 3),
        to_moment=(weight[:, None, None] * turned * moment).reshape(-1, 3),
        to_pitch=weight[:, None] * pitch_axis * moment,
        point=lattice.point[rows],
        felt_at=felt_at[rows],
        forward=lattice.forward[rows],
        normal=lattice.normal[rows],
        bound=(lattice.right - lattice.left)[rows],
        chord=lattice.chord[rows],
        area=lattice.area[rows],
        hinge_volume=(lattice.flap_chord**2 * lattice.width)[rows],
        by_control=by_control,
        velocity=np.ascontiguousarray(velocity[rows].transpose(1, 0, 2).reshape(lattice.count, -1)),
        felt=np.ascontiguousarray(np.concatenate([normal[rows], aft[rows]]).T),
    )
