"""The lattice of horseshoe vortices and the velocity each one induces at every control point.

Bound vortices lie on the quarter chord, from left to right; trailing legs leave along body -x. Panel edges follow a
cosine grid over the span, control points its half steps; control ends fall on panel edges.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.surfaces import SurfaceSpec

Array = NDArray[np.float64]
NO_CONTROL_FRACTION = 0.0
"""Flap fraction where there is no control."""


@dataclass(frozen=True, kw_only=True)
class Lattice:
    """Every horseshoe of all surfaces, N in number; positions in m, body axes about the CG.

    Args:
        left, right: ends of the bound vortex, (N, 3). point: control point on it, (N, 3).
        forward, normal: unit vectors along the chord to the nose and along the lift normal, (N, 3).
        chord, width: m, (N,).
        thickness, fraction: of the chord, (N,). flat_plate: (N,) bool.
        gap_open: the hinge gap at this panel is not sealed, (N,) bool.
        surface: index of the surface, (N,). control: index into `names`, -1 for none, (N,).
        names: of the controls. surfaces: names of the surfaces.
    """

    left: Array
    right: Array
    point: Array
    forward: Array
    normal: Array
    chord: Array
    width: Array
    thickness: Array
    fraction: Array
    flat_plate: NDArray[np.bool_]
    gap_open: NDArray[np.bool_]
    surface: NDArray[np.intp]
    control: NDArray[np.intp]
    names: tuple[str, ...]
    surfaces: tuple[str, ...]

    @property
    def count(self) -> int:
        """Number of horseshoes."""
        return len(self.chord)

    @property
    def area(self) -> Array:
        """Area of each panel, m^2."""
        return self.chord * self.width

    @property
    def rear_point(self) -> Array:
        """Three-quarter-chord point of each panel's section, m, (N, 3)."""
        return self.point - 0.5 * self.chord[:, None] * self.forward

    @property
    def flap_chord(self) -> Array:
        """Chord of the control at each panel, m; 0 where there is none."""
        return np.where(self.control >= 0, self.fraction * self.chord, 0.0)


def share_out(lengths: Sequence[float], total: int) -> list[int]:
    """Whole numbers of at least 1 in proportion to `lengths` that add up to `total` (or to their number, if more).

    >>> share_out([1.0, 2.0, 0.1], 6)
    [2, 3, 1]
    """
    counts = [1] * len(lengths)
    while sum(counts) < total:
        widest = max(range(len(lengths)), key=lambda k: lengths[k] / counts[k])
        counts[widest] += 1
    return counts


def grid(breaks: Sequence[float], stations: int, *, both_ends: bool = False) -> tuple[Array, Array]:
    """Panel edges (stations + 1) and control points (stations) from root 0 to tip 1 on a cosine grid.

    s = cos t refines the tip only (half of a surface that continues over its root), s = (1 - cos t)/2 both ends. t is
    uniform without breaks and a smooth monotone function of the panel number with them, so neighbouring panels stay
    alike; control points are the half steps, which makes induced drag exact for an elliptic load. Source: Phillips &
    Snyder, J. Aircraft 37 (2000), eqs. 4-5.

    Args:
        breaks: rising shares of the half span where an edge must fall, first 0 and last 1.
    """
    angles = [math.acos(min(max(1 - 2 * s if both_ends else s, -1.0), 1.0)) for s in breaks]
    counts = share_out([abs(b - a) for a, b in pairwise(angles)], stations)
    knots = np.concatenate([[0], np.cumsum(counts)]).astype(float)
    edges = _smooth(knots, np.array(angles), np.arange(knots[-1] + 1))
    middle = _smooth(knots, np.array(angles), np.arange(knots[-1]) + 0.5)
    if both_ends:
        return 0.5 * (1 - np.cos(edges)), 0.5 * (1 - np.cos(middle))
    return np.cos(edges), np.cos(middle)


def _smooth(knots: Array, values: Array, at: Array) -> Array:
    """Monotone cubic through (knots, values) (Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304)."""
    width, rise = np.diff(knots), np.diff(values) / np.diff(knots)
    slope = np.concatenate([rise[:1], rise[-1:]])
    if len(rise) > 1:
        w1, w2 = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
        inner = (w1 + w2) / (w1 / rise[:-1] + w2 / rise[1:])
        slope = np.concatenate([rise[:1], inner, rise[-1:]])
    k = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, len(rise) - 1)
    t = (at - knots[k]) / width[k]
    straight = values[k] + t * width[k] * rise[k]
    bend = t * (1 - t) * ((1 - t) * (slope[k] - rise[k]) - t * (slope[k + 1] - rise[k]))
    return np.asarray(straight + width[k] * bend)


def _breaks(spec: SurfaceSpec) -> list[float]:
    ends = sorted({0.0, 1.0, *(end for c in spec.controls for end in (c.inner, min(c.outer, 1.0)))})
    return [s for k, s in enumerate(ends) if k == 0 or s - ends[k - 1] > 1e-9]


def _half(spec: SurfaceSpec, *, right: bool, index: int, names: list[str]) -> dict[str, Array]:
    """The panels of one half, from left to right."""
    stations = spec.stations // 2 if spec.mirrored else spec.stations
    edge, mid = grid(_breaks(spec), stations, both_ends=not spec.mirrored)
    root, tip = np.array(spec.root), np.array(spec.tip)
    if not right and spec.mirrored:
        tip = np.array([tip[0], 2 * root[1] - tip[1], tip[2]])
    if not right:
        edge, mid = edge[::-1], mid[::-1]
    place = root + np.outer(edge, tip - root)
    incidence = spec.incidence if right or not spec.mirrored or spec.incidence_left is None else spec.incidence_left
    span = np.array([0.0, *((tip - root) if right else (root - tip))[1:]])
    span /= np.linalg.norm(span)
    ahead = np.array([1.0, 0.0, 0.0])
    up = np.cross(span, ahead)
    n = len(mid)
    control, fraction, gap_open = _controls(spec, mid, side="right" if right else "left", names=names)
    return {
        "left": place[:-1],
        "right": place[1:],
        "point": root + np.outer(mid, tip - root),
        "forward": np.tile(math.cos(incidence) * ahead + math.sin(incidence) * up, (n, 1)),
        "normal": np.tile(math.cos(incidence) * up - math.sin(incidence) * ahead, (n, 1)),
        "chord": _chord(spec, mid),
        "width": np.linalg.norm((place[1:] - place[:-1])[:, 1:], axis=1),
        "thickness": np.full(n, spec.thickness),
        "fraction": fraction,
        "flat_plate": np.full(n, spec.flat_plate),
        "gap_open": gap_open,
        "surface": np.full(n, index),
        "control": control,
    }


def _chord(spec: SurfaceSpec, s: Array) -> Array:
    if spec.elliptic:
        return np.asarray(spec.root_chord * np.sqrt(1 - s * s))
    return np.asarray(spec.root_chord + (spec.tip_chord - spec.root_chord) * s)


def _controls(spec: SurfaceSpec, mid: Array, *, side: str, names: list[str]) -> tuple[Array, Array, Array]:
    control = np.full(len(mid), -1.0)
    gap_open = np.zeros(len(mid))
    fraction = np.full(len(mid), NO_CONTROL_FRACTION)
    for item in spec.controls:
        if spec.mirrored and item.side not in ("both", side):
            continue
        inside = (mid > item.inner) & (mid < item.outer)
        control[inside] = names.index(item.name)
        gap_open[inside] = float(item.gap_open)
        along = (mid - item.inner) / (item.outer - item.inner)
        fraction[inside] = (item.inner_fraction + along * (item.outer_fraction - item.inner_fraction))[inside]
    return control, fraction, gap_open


def build_lattice(surfaces: Sequence[SurfaceSpec]) -> Lattice:
    """The horseshoes of all surfaces, surface after surface, each from left to right."""
    names = list(dict.fromkeys(c.name for spec in surfaces for c in spec.controls))
    halves = [
        _half(spec, right=right, index=index, names=names)
        for index, spec in enumerate(surfaces)
        for right in ((False, True) if spec.mirrored else (False,))
    ]
    joined = {key: np.concatenate([half[key] for half in halves]) for key in halves[0]}
    return Lattice(
        left=joined["left"],
        right=joined["right"],
        point=joined["point"],
        forward=joined["forward"],
        normal=joined["normal"],
        chord=joined["chord"],
        width=joined["width"],
        thickness=joined["thickness"],
        fraction=joined["fraction"],
        flat_plate=joined["flat_plate"].astype(bool),
        gap_open=joined["gap_open"].astype(bool),
        surface=joined["surface"].astype(np.intp),
        control=joined["control"].astype(np.intp),
        names=tuple(names),
        surfaces=tuple(spec.name for spec in surfaces),
    )


def leg_velocity(point: Array, start: Array, *, core: Array, abeam: NDArray[np.bool_]) -> Array:
    """Velocity per unit circulation of semi-infinite vortices leaving `start` along body -x, 1/m, shape (P, S, 3).

    v = (d x r)(1 + d.r/|r|)/(4 pi |d x r|^2), d = (-1, 0, 0), r = point - start; where `abeam`, r_x is taken as zero
    (influence of a surface on itself: the straight lifting line). Near the axis |d x r|^2 becomes
    sqrt(|d x r|^4 + core^4), so a point in another surface's wake sees a sheet instead of single vortices.
    Source: Phillips & Snyder, J. Aircraft 37 (2000), eq. 7; core: Vatistas et al., Exp. Fluids 11 (1991), n = 2.

    Args:
        point: (P, 3) m. start: (S, 3) m. core: (P, S) m, 0 for none. abeam: (P, S).
    """
    r = point[:, None, :] - start[None, :, :]
    axial = np.where(abeam, 0.0, -r[..., 0])
    across = r[..., 1] ** 2 + r[..., 2] ** 2
    factor = (1 + axial / np.maximum(np.sqrt(axial**2 + across), 1e-12)) / (4 * np.pi)
    factor /= np.maximum(np.sqrt(across**2 + core**4), 1e-12)
    return np.stack([np.zeros_like(factor), r[..., 2] * factor, -r[..., 1] * factor], axis=-1)


def bound_velocity(point: Array, left: Array, right: Array) -> Array:
    """Velocity per unit circulation of straight vortices from `left` to `right`, 1/m, shape (P, S, 3).

    v = (|r1| + |r2|)(r1 x r2)/(4 pi |r1||r2|(|r1||r2| + r1.r2)). Source: Phillips & Snyder (2000), eq. 6.
    """
    r1 = point[:, None, :] - left[None, :, :]
    r2 = point[:, None, :] - right[None, :, :]
    n1, n2 = np.linalg.norm(r1, axis=-1), np.linalg.norm(r2, axis=-1)
    product = n1 * n2
    below = 4 * np.pi * product * np.maximum(product + np.sum(r1 * r2, axis=-1), 1e-9 * product)
    return np.asarray(np.cross(r1, r2) * ((n1 + n2) / np.maximum(below, 1e-15))[..., None])


def influence(lattice: Lattice, *, others_at: Array | None = None) -> Array:
    """Velocity at control point j per unit circulation of horseshoe i, 1/m, shape (N, N, 3).

    On its own surface a horseshoe acts as on a straight lifting line: two legs from abeam, no bound vortex. On other
    surfaces it acts in full, at `others_at` (N, 3) instead of the control points where given.
    """
    own = lattice.surface[:, None] == lattice.surface[None, :]
    core = np.where(own, 0.0, lattice.width[None, :])
    place = lattice.point if others_at is None else others_at
    out = _legs(lattice, place, core=core, abeam=own) + bound_velocity(place, lattice.left, lattice.right)
    return np.where(own[..., None], _legs(lattice, lattice.point, core=core, abeam=own), out)


def _legs(lattice: Lattice, point: Array, *, core: Array, abeam: NDArray[np.bool_]) -> Array:
    out = leg_velocity(point, lattice.right, core=core, abeam=abeam)
    out -= leg_velocity(point, lattice.left, core=core, abeam=abeam)
    return out
