"""Conditions a set of surfaces is solved in, and the loads that come back. Batched: one row per condition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError

Array = NDArray[np.float64]
_PER_CONDITION = ("speed", "alpha", "beta", "p", "q", "r", "density", "viscosity")


@dataclass(frozen=True, kw_only=True)
class Flow:
    """Flight conditions, n of them; every argument broadcasts to (n,).

    Args:
        speed: m/s. alpha, beta: incidence (to the canopy) and sideslip (wind from the right), rad.
        p, q, r: body rates about x forward, y right, z down, rad/s.
        deltas: angle per control name, rad, positive trailing edge down (rudder: left); left out means neutral.
        density: kg/m^3. viscosity: Pa s.
        wash: extra air speed aft along body x, m/s, (n,) or (n, stations): the slipstream.
    """

    speed: Array
    alpha: Array
    beta: Array = field(default_factory=lambda: np.zeros(1))
    p: Array = field(default_factory=lambda: np.zeros(1))
    q: Array = field(default_factory=lambda: np.zeros(1))
    r: Array = field(default_factory=lambda: np.zeros(1))
    deltas: Mapping[str, Array] = field(default_factory=dict)
    density: Array = field(default_factory=lambda: np.array([1.225]))
    viscosity: Array = field(default_factory=lambda: np.array([1.789e-5]))
    wash: Array | None = None

    def __post_init__(self) -> None:
        flat = {name: np.atleast_1d(np.asarray(getattr(self, name), float)) for name in _PER_CONDITION}
        deltas = {name: np.atleast_1d(np.asarray(value, float)) for name, value in self.deltas.items()}
        wash = None if self.wash is None else np.atleast_1d(np.asarray(self.wash, float))
        shapes = [value.shape for value in (*flat.values(), *deltas.values())]
        n = np.broadcast_shapes(*shapes, *(() if wash is None else (wash.shape[:1],)))
        for name, value in flat.items():
            object.__setattr__(self, name, np.broadcast_to(value, n))
        object.__setattr__(self, "deltas", {name: np.broadcast_to(value, n) for name, value in deltas.items()})
        if wash is not None:
            object.__setattr__(self, "wash", np.broadcast_to(wash, n + wash.shape[1:]))
        for name, value in (*flat.items(), *deltas.items()):
            if not np.all(np.isfinite(value)):
                raise ValueRangeError(f"{name} must be finite in every condition")

    def __len__(self) -> int:
        return len(self.speed)

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_] | slice) -> Flow:
        """The conditions of these rows."""
        return self._known(
            {name: getattr(self, name)[rows] for name in _PER_CONDITION},
            {name: value[rows] for name, value in self.deltas.items()},
            None if self.wash is None else self.wash[rows],
        )

    @staticmethod
    def _known(per_condition: dict[str, Array], deltas: dict[str, Array], wash: Array | None) -> Flow:
        """A flow of arrays that are finite and of one length already."""
        flow = object.__new__(Flow)
        for name, value in (*per_condition.items(), ("deltas", deltas), ("wash", wash)):
            object.__setattr__(flow, name, value)
        return flow

    def spread(self, *values: ArrayLike) -> Flow:
        """A single condition repeated so that it goes with `values` of more; otherwise as it is."""
        n = np.broadcast_shapes((len(self),), *(np.shape(value) for value in values))[0]
        return self if n == len(self) else self.take(np.zeros(n, np.intp))

    def with_(self, *, deltas: Mapping[str, ArrayLike] | None = None, **changes: ArrayLike) -> Flow:
        """A copy with these fields changed; `deltas` replaces the named angles only."""
        angles = {k: np.asarray(v, float) for k, v in (deltas or {}).items()}
        fresh = {k: np.asarray(v, float) for k, v in changes.items()}
        n = (len(self),)
        given = (*angles.values(), *fresh.values())
        if "wash" in fresh or any(v.shape != n or not np.all(np.isfinite(v)) for v in given):
            return replace(self, deltas={**self.deltas, **angles}, **fresh)
        kept = {name: getattr(self, name) for name in _PER_CONDITION}
        return self._known({**kept, **fresh}, {**self.deltas, **angles}, self.wash)


@dataclass(frozen=True, kw_only=True)
class WingLoads:
    """What the air does to all surfaces together, n conditions, N stations.

    Args:
        force: N, body axes, (n, 3). moment: N m about the CG, body axes, (n, 3).
        lift: N, normal to the flight path in the plane of symmetry, positive to the canopy, (n,).
        side: N, to the right of the flight path, (n,).
        drag_induced, drag_profile: N against the flight path: of the circulation, of the sections, (n,).
        hinge_moment: N m per control, positive trailing edge down, (n,).
        circulation: m^2/s, (n, N). incidence: local, rad, (n, N). cl: local lift coefficient, (n, N).
        station_lift: N of circulation along the station's lift normal, (n, N).
        valid: share of stations inside the section tables, (n,). converged: (n,) bool; where False the numbers are
            the nearest found, finite, and no solution.
    """

    force: Array
    moment: Array
    lift: Array
    side: Array
    drag_induced: Array
    drag_profile: Array
    hinge_moment: dict[str, Array]
    circulation: Array
    incidence: Array
    cl: Array
    station_lift: Array
    valid: Array
    converged: NDArray[np.bool_]

    @property
    def drag(self) -> Array:
        """Induced and profile drag together, N, (n,)."""
        return self.drag_induced + self.drag_profile

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_] | slice) -> WingLoads:
        """The loads of these rows."""
        return join_loads([self], rows=rows)


def join_loads(
    parts: list[WingLoads], *, rows: NDArray[np.intp] | NDArray[np.bool_] | slice = slice(None)
) -> WingLoads:
    """Batches one after another as one."""
    joined: dict[str, Any] = {}
    for item in fields(WingLoads):
        values = [getattr(part, item.name) for part in parts]
        if isinstance(values[0], dict):
            joined[item.name] = {key: np.concatenate([v[key] for v in values])[rows] for key in values[0]}
        else:
            joined[item.name] = np.concatenate(values)[rows]
    return WingLoads(**joined)
