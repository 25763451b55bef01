"""Drag of the balanced aeroplane along a line, tabulated over speed and deployment for fast look-ups."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.lines.balance import Airframe, balance
from evenfall.lines.cubic import monotone_cubic
from evenfall.plane.corrections import Corrections
from evenfall.radio.plan import Crow

Floats = NDArray[np.float64]

SPEED_NODES = (0.45, 0.54, 0.66, 0.80, 0.9, 1.0, 1.12, 1.3, 1.6, 2.1, 2.8)
"""Speeds solved, in units of the wanted speed."""
DEPLOYMENT_NODES = (0.0, 0.08, 0.17, 0.28, 0.4, 0.55, 0.7, 0.85, 1.0)
"""Deployments solved where there is crow."""
_FINE_SPEEDS, _FINE_DEPLOYMENTS = 181, 41
_STALL_LIFT = 0.4
"""Lift coefficient asked of the wings above which a balance that does not settle counts as stalled."""


@dataclass(frozen=True, kw_only=True)
class DragTable:
    """Drag areas (m^2) on one line over `speeds` (m/s, uniform) and `deployments` (uniform 0-1).

    Args:
        slope: rad. inverted: lift towards the belly.
        surfaces: (speeds, deployments) drag area of the surfaces as computed.
        parts: (speeds, deployments) drag area of body and parts as computed; in the stream of the thrust that the
            line needs there.
        elevator, alpha: (speeds, deployments) rad.
        lowest_speed: m/s, the lowest that carries the weight at every deployment.
        corrections: what look-ups multiply the parts by.
    """

    slope: float
    inverted: bool
    speeds: Floats
    deployments: Floats
    surfaces: Floats
    parts: Floats
    elevator: Floats
    alpha: Floats
    density: float
    weight: float
    lowest_speed: float
    corrections: Corrections

    @property
    def held(self) -> float:
        """Weight along the path, N, positive holds back."""
        return self.weight * math.sin(self.slope)

    def _look_up(self, table: Floats, speed: ArrayLike, deployment: ArrayLike) -> Floats:
        """Bilinear on the fine grid; held at its edges."""
        rows, columns = table.shape
        v = (np.asarray(speed, float) - self.speeds[0]) / (self.speeds[1] - self.speeds[0])
        v = np.clip(v, 0.0, rows - 1.000001)
        i = v.astype(int)
        f = v - i
        if columns == 1:
            return np.asarray(table[i, 0] * (1 - f) + table[i + 1, 0] * f)
        d = np.clip(np.asarray(deployment, float) * (columns - 1), 0.0, columns - 1.000001)
        j = d.astype(int)
        g = d - j
        low = table[i, j] * (1 - g) + table[i, j + 1] * g
        high = table[i + 1, j] * (1 - g) + table[i + 1, j + 1] * g
        return np.asarray(low * (1 - f) + high * f)

    def clean_area(self, speed: ArrayLike, deployment: ArrayLike = 0.0) -> Floats:
        """Drag area of the stowed surfaces and of body and parts, m^2, corrections applied; `deployment` changes the
        stream the parts stand in."""
        parts = self._look_up(self.parts, speed, deployment)
        return np.asarray(self._look_up(self.surfaces[:, :1], speed, 0.0) + self.corrections.parasite_drag * parts)

    def crow_area(self, speed: ArrayLike, deployment: ArrayLike) -> Floats:
        """Drag area that deployment adds, m^2, corrections applied."""
        deployed = self._look_up(self.surfaces, speed, deployment)
        stowed = self._look_up(self.surfaces[:, :1], speed, 0.0)
        return np.asarray(self.corrections.crow_drag * (deployed - stowed))

    def shares(self, speed: ArrayLike, deployment: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Drag areas before corrections, m^2: surfaces with crow stowed, body and parts, added by deployment."""
        clean = self._look_up(self.surfaces[:, :1], speed, 0.0)
        parts = self._look_up(self.parts, speed, deployment)
        return clean, parts, self._look_up(self.surfaces, speed, deployment) - clean

    def drag(self, speed: ArrayLike, deployment: ArrayLike = 0.0) -> Floats:
        """Drag of the airframe, N, crow included."""
        area = self.clean_area(speed, deployment) + self.crow_area(speed, deployment)
        return np.asarray(0.5 * self.density * np.asarray(speed, float) ** 2 * area)

    def corrected(self, corrections: Corrections) -> DragTable:
        """The same table under other corrections."""
        return replace(self, corrections=corrections)

    def scaled(self, *, clean: float, crow: float) -> DragTable:
        """The same table with the surfaces' drag, stowed and added by deployment, times these factors."""
        stowed = self.surfaces[:, :1]
        return replace(self, surfaces=clean * stowed + crow * (self.surfaces - stowed))

    def reaching(self, share: float) -> DragTable:
        """The table of less crow: its full deployment is `share` of this one's."""
        columns = self.deployments.size
        if columns == 1 or share >= 1:
            return self
        at = share * self.deployments * (columns - 1)
        low = np.minimum(at.astype(np.intp), columns - 2)
        part = at - low

        def less(values: Floats) -> Floats:
            return np.asarray(values[:, low] * (1 - part) + values[:, low + 1] * part)

        return replace(
            self,
            surfaces=less(self.surfaces),
            parts=less(self.parts),
            elevator=less(self.elevator),
            alpha=less(self.alpha),
        )

    def elevator_at(self, speed: ArrayLike, deployment: ArrayLike = 0.0) -> Floats:
        """Elevator of the balance, rad."""
        return self._look_up(self.elevator, speed, deployment)

    def alpha_at(self, speed: ArrayLike, deployment: ArrayLike = 0.0) -> Floats:
        """Incidence of the thrust line in the balance, rad."""
        return self._look_up(self.alpha, speed, deployment)

    def weighing(self, weight: float) -> DragTable:
        """The same drag areas under another weight, N: exact on vertical lines, first order in drag elsewhere."""
        return replace(self, weight=weight)


@dataclass(frozen=True, kw_only=True)
class DragNodes:
    """The balances a `DragTable` is drawn through, as solved. Arrays (speeds, deployments).

    Args:
        speeds: m/s. deployments: 0-1.
        surfaces, parts: drag areas, m^2. elevator, alpha: rad.
        stalled: the wings cannot carry the weight there.
        density, weight, corrections: as in `DragTable`.
    """

    slope: float
    inverted: bool
    speeds: Floats
    deployments: Floats
    surfaces: Floats
    parts: Floats
    elevator: Floats
    alpha: Floats
    stalled: NDArray[np.bool_]
    density: float
    weight: float
    corrections: Corrections

    def reach(self, most: float) -> int:
        """How many nodes count where deployment goes to `most`."""
        return int(np.argmin(np.abs(self.deployments - most))) + 1

    def table(self, *, most: float = 1.0) -> DragTable:
        """The table through these nodes. What stalls beyond deployment `most` does not count as stalled."""
        good = ~self.stalled[:, : self.reach(most)].any(axis=1)
        # Nodes below the first that carries the weight are stalled; a single stalled node above is left out.
        first = int(np.argmax(good)) if good.any() else len(self.speeds) - 2
        kept = np.flatnonzero(good & (np.arange(len(self.speeds)) >= first))
        if len(kept) < 2:
            kept = np.arange(len(self.speeds) - 2, len(self.speeds))
        fine_v = np.linspace(self.speeds[kept[0]], self.speeds[-1], _FINE_SPEEDS)
        fine_d = np.linspace(0.0, 1.0, _FINE_DEPLOYMENTS) if len(self.deployments) > 1 else np.zeros(1)

        def fine(values: Floats) -> Floats:
            return _refine(self.speeds[kept], self.deployments, values[kept], fine_v, fine_d)

        return DragTable(
            slope=self.slope,
            inverted=self.inverted,
            speeds=fine_v,
            deployments=fine_d,
            surfaces=fine(self.surfaces),
            parts=fine(self.parts),
            elevator=fine(self.elevator),
            alpha=fine(self.alpha),
            density=self.density,
            weight=self.weight,
            lowest_speed=float(self.speeds[first]) if first > 0 else 0.0,
            corrections=self.corrections,
        )


def drag_tables(
    frame: Airframe,
    *,
    wanted: float,
    slopes: ArrayLike,
    inverted: bool = False,
    crow: Crow | Sequence[Crow] | None = None,
    speed_nodes: tuple[float, ...] = SPEED_NODES,
    deployment_nodes: tuple[float, ...] = DEPLOYMENT_NODES,
) -> list[DragTable]:
    """One table for each slope (rad), for one crow after another where several are given, all solved in one batch.

    Args:
        wanted: m/s, scales the speeds solved. Between nodes a monotone cubic (PCHIP) in speed and in deployment.
    """
    nodes = drag_nodes(
        frame,
        wanted=wanted,
        slopes=slopes,
        inverted=inverted,
        crow=crow,
        speed_nodes=speed_nodes,
        deployment_nodes=deployment_nodes,
    )
    return [one.table() for one in nodes]


def drag_nodes(
    frame: Airframe,
    *,
    wanted: float,
    slopes: ArrayLike,
    inverted: bool = False,
    crow: Crow | Sequence[Crow] | None = None,
    speed_nodes: tuple[float, ...] = SPEED_NODES,
    deployment_nodes: tuple[float, ...] = DEPLOYMENT_NODES,
) -> list[DragNodes]:
    """The balances of `drag_tables`, which see for the arguments."""
    crows = 1 if crow is None or isinstance(crow, Crow) else len(crow)
    slope_list = [float(slope) for slope in np.atleast_1d(np.asarray(slopes, float))] * crows
    speeds = wanted * np.asarray(speed_nodes)
    deployments = np.asarray(deployment_nodes if crow is not None else (0.0,))
    s, v, d = np.meshgrid(np.asarray(slope_list), speeds, deployments, indexing="ij")
    solved = balance(frame, speed=v.ravel(), slope=s.ravel(), inverted=inverted, crow=crow, deployment=d.ravel())
    q = 0.5 * frame.air.density * v**2
    shape = v.shape
    surfaces = solved.drag_surfaces.reshape(shape) / q
    parts = solved.drag_parts.reshape(shape) / q
    elevator = solved.elevator.reshape(shape)
    alpha = solved.alpha.reshape(shape)
    settled = solved.converged.reshape(shape)
    stalled = np.asarray(~settled & asks_lift(frame, v, s))
    for field in (surfaces, parts, elevator, alpha):
        _fill(field, settled, speeds, deployments)
    return [
        DragNodes(
            slope=slope,
            inverted=inverted,
            speeds=speeds,
            deployments=deployments,
            surfaces=surfaces[k],
            parts=parts[k],
            elevator=elevator[k],
            alpha=alpha[k],
            stalled=stalled[k],
            density=frame.air.density,
            weight=frame.weight,
            corrections=frame.plane.corrections,
        )
        for k, slope in enumerate(slope_list)
    ]


def asks_lift(frame: Airframe, speed: ArrayLike, slope: ArrayLike) -> NDArray[np.bool_]:
    """True where a line (m/s, rad) asks so much of the wings that a balance that does not settle counts as stalled."""
    q = 0.5 * frame.air.density * np.asarray(speed, float) ** 2
    return np.asarray(frame.weight * np.cos(np.asarray(slope, float)) / (q * frame.plane.wing_area) > _STALL_LIFT)


def _fill(values: Floats, settled: NDArray[np.bool_], speeds: Floats, deployments: Floats) -> None:
    """Replace, in place, single conditions (slope, speed, deployment) that did not settle though nothing stalls there:
    straight between neighbours in deployment, or in speed where there are none."""
    for k, i, j in np.argwhere(~settled).tolist():
        across, along = settled[k, i], settled[k, :, j]
        if across.any():
            values[k, i, j] = np.interp(deployments[j], deployments[across], values[k, i, across])
        elif along.any():
            values[k, i, j] = np.interp(speeds[i], speeds[along], values[k, along, j])


def _refine(x: Floats, y: Floats, values: Floats, fine_x: Floats, fine_y: Floats) -> Floats:
    """Values (x, y) on the finer grid by monotone cubics, first along x, then along y."""
    along = monotone_cubic(x, values, fine_x)
    return along if len(y) == 1 else monotone_cubic(y, along.T, fine_y).T
