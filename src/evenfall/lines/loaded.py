"""Drag of the balanced aeroplane for any force across the path, thrust, deployment and speed: tables for whole figures.

Everything is dimensionless but speed, so that a table serves other weights: lift coefficient asked of the wings, thrust
over dynamic pressure and disc, deployment, and speed for the Reynolds number. Induced drag under load and the stream's
part come from the lifting line at every node.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.flow import Flow
from evenfall.lines.balance import Airframe, loaded_balance
from evenfall.lines.cubic import monotone_cubic
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]

_LIFTS = (0.15, 0.32, 0.5, 0.7, 0.9, 1.1, 1.3, 1.5)
LIFT_NODES = (*(-lift for lift in reversed(_LIFTS)), 0.0, *_LIFTS)
"""Lift coefficients tabulated, on the area of all wings; solved where the wings carry them."""
THRUST_NODES = (-0.25, 0.6)
"""Thrust over dynamic pressure and disc area; straight through both, as the stream's pressure is."""
_LEAST_THRUST = -0.3
DEPLOYMENT_NODES = (0.0, 0.14, 0.36, 0.65, 1.0)
SPEED_NODES = (0.4, 0.7, 1.0, 1.4, 2.2)
"""Speeds solved, in units of the wanted speed."""
_FINE_LIFT, _FINE_DEPLOYMENT, _FINE_SPEED = 61, 26, 19
_SWEEP = np.radians([4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0])
"""Incidences from the one without lift over which the greatest lift is looked for, rad."""
_SOLVED = 0.86
"""Share of the greatest lift up to which balances are solved; near the stall they cost most."""


class LoadedForces(Protocol):
    """What a flight along a path needs of the airframe."""

    @property
    def area(self) -> float:
        """Of all wings, m^2."""
        ...

    @property
    def edge(self) -> float:
        """Lift coefficient at the edge of the stall, upright and stowed, at the wanted speed."""
        ...

    @property
    def least(self) -> float:
        """Lift coefficient, either way, that the wings carry at every speed and deployment."""
        ...

    def drag(self, speed: Floats, lift: Floats, thrust: Floats, deployment: Floats, factors: Floats) -> Floats:
        """Drag, N, of every variant. `lift` and `thrust` in N; `factors` (n, 3) on the surfaces' drag with crow stowed,
        on what deployment adds to it, and on body and parts."""
        ...

    def most_lift(self, speed: Floats, deployment: Floats, upright: NDArray[np.bool_]) -> Floats:
        """Greatest lift coefficient that the wings carry, towards the canopy where `upright`, else to the belly."""
        ...


@dataclass(frozen=True, kw_only=True, eq=False)
class LoadedDrag:
    """Drag areas (m^2) over lift coefficient, thrust, deployment and speed, and where the wings stall.

    Args:
        areas: (lift, thrust, deployment, speed, 3), uniform in each: stowed surfaces, added by deployment, body and
            parts; before corrections.
        alphas: (lift, thrust, deployment, speed): incidence of the thrust line, rad.
        limits: (2, deployment, speed): greatest lift coefficient, to the canopy and to the belly.
        first, step: of the four axes.
        half_density: kg/m^3. disc: propeller disc, m^2.
    """

    areas: Floats
    alphas: Floats
    limits: Floats
    first: Floats
    step: Floats
    area: float
    edge: float
    half_density: float
    disc: float
    least: float = field(init=False)
    _flat: Floats = field(init=False, repr=False)
    _strides: NDArray[np.intp] = field(init=False, repr=False)
    _corners: NDArray[np.intp] = field(init=False, repr=False)
    _most: Floats = field(init=False, repr=False)
    _start: Floats = field(init=False, repr=False)
    _per: Floats = field(init=False, repr=False)
    _braked: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        shape = self.areas.shape
        strides = np.array([shape[1] * shape[2] * shape[3], shape[2] * shape[3], shape[3], 1])
        corners = np.stack(np.meshgrid(*[[0, 1]] * 4, indexing="ij"), axis=-1).reshape(16, 4)
        object.__setattr__(self, "least", float(self.limits.min()))
        object.__setattr__(self, "_flat", np.ascontiguousarray(self.areas.reshape(-1, 3)))
        object.__setattr__(self, "_strides", strides)
        object.__setattr__(self, "_corners", np.minimum(corners, np.array(shape[:4]) - 1) @ strides)
        object.__setattr__(self, "_most", np.maximum(np.array(shape[:4], float) - 1.000001, 0.0)[:, None])
        object.__setattr__(self, "_braked", float((_LEAST_THRUST - self.first[1]) / self.step[1]))
        object.__setattr__(self, "_start", self.first[:, None])
        object.__setattr__(self, "_per", 1.0 / self.step[:, None])

    def drag(self, speed: Floats, lift: Floats, thrust: Floats, deployment: Floats, factors: Floats) -> Floats:
        """As `LoadedForces.drag`; held at the edges of the tables but for thrust, which goes on straight."""
        pressure = self.half_density * speed * speed
        corners, share = self._place(pressure, speed, lift, thrust, deployment)
        near = self._flat.take(corners, axis=0)
        return np.asarray(pressure * np.einsum("nck,nk,cn->n", near, factors, _weights(share)))

    def incidence(self, speed: Floats, lift: Floats, thrust: Floats, deployment: Floats) -> Floats:
        """Incidence of the thrust line, rad, in the same conditions."""
        corners, share = self._place(self.half_density * speed * speed, speed, lift, thrust, deployment)
        return np.asarray(np.einsum("nc,cn->n", self.alphas.ravel().take(corners), _weights(share)))

    def _place(
        self, pressure: Floats, speed: Floats, lift: Floats, thrust: Floats, deployment: Floats
    ) -> tuple[NDArray[np.intp], Floats]:
        """The sixteen table entries around each condition, and where it lies between them, (4, n)."""
        place = np.empty((4, speed.size))
        place[0] = lift / (self.area * pressure)
        place[1] = thrust / (self.disc * pressure)
        place[2] = deployment
        place[3] = speed
        place -= self._start
        place *= self._per
        inside = np.minimum(np.maximum(place, 0.0), self._most)
        cell = inside.astype(np.intp)
        share: Floats = inside - cell
        share[1] = np.maximum(place[1], self._braked)
        cell[1] = 0
        return (self._strides @ cell)[:, None] + self._corners, share

    def most_lift(self, speed: Floats, deployment: Floats, upright: NDArray[np.bool_]) -> Floats:
        """As `LoadedForces.most_lift`."""
        d = np.clip((deployment - self.first[2]) / self.step[2], 0.0, max(self.limits.shape[1] - 1.0, 0.0))
        v = np.clip((speed - self.first[3]) / self.step[3], 0.0, self.limits.shape[2] - 1.000001)
        side = np.where(upright, 0, 1)
        row = np.round(d).astype(np.intp)
        i = v.astype(np.intp)
        low, high = self.limits[side, row, i], self.limits[side, row, i + 1]
        return np.asarray(low + (v - i) * (high - low))


def loaded_drag(frame: Airframe, crow: Crow | None, *, wanted: float) -> LoadedDrag:
    """Solve the tables of an aeroplane and a crow around the wanted speed (m/s).

    Between nodes a monotone cubic in lift, deployment and speed, straight in thrust. Near the greatest lift of the
    wings and beyond, drag goes on with the square of the lift.

    Against balances solved on their own in 900 conditions of each demo plane (speed .5 to 1.8 of the wanted one, any
    deployment, thrust -.25 to .9 on the disc) the median error is at most .8 % up to .6 of the greatest lift. Beyond,
    up to .8 and from .8 to .9 of it: .4 % and 1.0 % (1.24 m), .3 % and .8 % (1.55 m), .6 % and .9 % (monoplane), nine
    cases in ten within 8 %. Flat plates stall sharply, past the last node solved: foam plane 3.5 % and 13 %,
    there mostly too little drag, one case in ten by 42 % or more.
    """
    lifts, thrusts = np.array(LIFT_NODES), np.array(THRUST_NODES)
    outs = np.array(DEPLOYMENT_NODES if crow is not None else (0.0,))
    speeds = wanted * np.array(SPEED_NODES)
    limits = _limits(frame, crow, outs, speeds)
    c, t, d, v = np.meshgrid(lifts, thrusts, outs, speeds, indexing="ij")
    pressure = 0.5 * frame.air.density * v**2
    tried = np.abs(c) < _SOLVED * np.where(c >= 0, limits[0][None, None], limits[1][None, None])
    solved = loaded_balance(
        frame,
        speed=v[tried],
        normal=(c * pressure * frame.plane.wing_area)[tried],
        thrust=(t * pressure * frame.disc)[tried],
        crow=crow,
        deployment=d[tried],
    )
    settled = tried.copy()
    settled[tried] = solved.converged
    surfaces, parts, alphas = np.zeros_like(c), np.zeros_like(c), np.zeros_like(c)
    surfaces[tried], parts[tried] = solved.drag_surfaces / pressure[tried], solved.drag_parts / pressure[tried]
    alphas[tried] = solved.alpha
    _fill(alphas, settled, lifts, square=False)
    for values in (surfaces, parts):
        _fill(values, settled, lifts, square=True)
    stowed = np.broadcast_to(surfaces[:, :, :1], surfaces.shape)
    areas = np.stack([stowed, surfaces - stowed, parts], axis=-1)
    fine_lift = np.linspace(lifts[0], lifts[-1], _FINE_LIFT)
    fine_out = np.linspace(0.0, 1.0, _FINE_DEPLOYMENT) if outs.size > 1 else np.zeros(1)
    fine_speed = np.linspace(speeds[0], speeds[-1], _FINE_SPEED)
    areas, alphas = (_along(_along(part, 0, lifts, fine_lift), 3, speeds, fine_speed) for part in (areas, alphas))
    limits = _along(limits, 2, speeds, fine_speed)
    if outs.size > 1:
        areas, alphas = (_along(part, 2, outs, fine_out) for part in (areas, alphas))
        limits = _along(limits, 1, outs, fine_out)
    axes = (fine_lift, thrusts, fine_out, fine_speed)
    return LoadedDrag(
        areas=areas,
        alphas=alphas,
        limits=limits,
        first=np.array([axis[0] for axis in axes]),
        step=np.array([axis[1] - axis[0] if axis.size > 1 else 1.0 for axis in axes]),
        area=frame.plane.wing_area,
        edge=float(np.interp(wanted, fine_speed, limits[0, 0])),
        half_density=0.5 * frame.air.density,
        disc=frame.disc,
    )


def _weights(share: Floats) -> Floats:
    """Weights of the sixteen entries around each condition, (16, n), for where it lies between them, (4, n)."""
    sides = np.empty((2, *share.shape))
    np.subtract(1.0, share, out=sides[0])
    sides[1] = share
    first = sides[:, None, 0] * sides[:, 1]
    last = sides[:, None, 2] * sides[:, 3]
    return np.asarray((first[:, :, None, None] * last).reshape(16, -1))


def _along(values: Floats, axis: int, nodes: Floats, fine: Floats) -> Floats:
    """Values refined along one axis."""
    return np.asarray(np.moveaxis(monotone_cubic(nodes, np.moveaxis(values, axis, 0), fine), 0, axis))


def _fill(values: Floats, settled: NDArray[np.bool_], lifts: Floats, *, square: bool) -> None:
    """Replace, in place, what was not solved or did not settle: straight between settled neighbours in lift; beyond the
    last on as it grew before, with the lift or with its `square` (then never falling)."""
    axis = lifts**2 if square else lifts
    for t, d, v in np.argwhere(~settled.all(axis=0)).tolist():
        good = np.flatnonzero(settled[:, t, d, v])
        if good.size < 2:
            continue
        column = values[:, t, d, v]
        filled = np.interp(lifts, lifts[good], column[good])
        for last, before in ((good[-1], good[-2]), (good[0], good[1])):
            growth = (column[last] - column[before]) / (axis[last] - axis[before])
            beyond = lifts > lifts[last] if last > before else lifts < lifts[last]
            filled[beyond] = column[last] + (max(growth, 0.0) if square else growth) * (axis[beyond] - axis[last])
        bad = ~settled[:, t, d, v]
        column[bad] = filled[bad]


def _limits(frame: Airframe, crow: Crow | None, outs: Floats, speeds: Floats) -> Floats:
    """Greatest lift coefficient to canopy and belly, (2, deployments, speeds): of a sweep of incidence without thrust
    and elevator."""
    side, a, d, v = np.meshgrid([1.0, -1.0], _SWEEP, outs, speeds, indexing="ij")
    flow = Flow(
        speed=v.ravel(),
        alpha=(side * a).ravel(),
        deltas=surface_deltas(frame.plane, crow, d.ravel()),
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
    )
    loads = frame.line.solve(flow)
    asked = np.where(loads.converged, loads.lift, 0.0).reshape(side.shape) * side
    greatest = asked.max(axis=1) / (0.5 * frame.air.density * v[:, 0] ** 2 * frame.plane.wing_area)
    return np.asarray(np.maximum(greatest, 0.1))
