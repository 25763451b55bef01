"""Holding stick: the stick position at which a line of a given slope is flown at the wanted speed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.lines.balance import Airframe, balance
from evenfall.lines.cubic import monotone_cubic, monotone_cubic_each
from evenfall.lines.drag import DEPLOYMENT_NODES, asks_lift
from evenfall.lines.shaft import PowerUnit
from evenfall.numeric import Status
from evenfall.plane.corrections import Corrections
from evenfall.power.train import driven, shaft_states
from evenfall.radio.plan import Crow, Plan

Floats = NDArray[np.float64]

STICKS = np.linspace(0.0, 1.0, 401)
"""Stick positions scanned, a quarter of a percent apart."""


@dataclass(frozen=True, kw_only=True)
class SlopeDrag:
    """Airframe drag (N) at the wanted speed over slopes and deployments.

    Args:
        slopes: rad, (n,). deployments: (m,).
        clean, crow, parts: (n,), (n, m), (n, m): surfaces with crow stowed, added by deployment, body and parts, all
            before corrections.
        carried: (n,) False where the wing cannot carry the weight at this speed.
    """

    slopes: Floats
    deployments: Floats
    clean: Floats
    crow: Floats
    parts: Floats
    carried: NDArray[np.bool_]

    def drag(self, row: int, deployment: Floats, corrections: Corrections) -> Floats:
        """Drag on slope `row` at deployments, N. Between nodes a monotone cubic."""
        return np.asarray(self.clean[row] + self._moving(self._nodes(corrections)[row], deployment))

    def all_drags(self, deployment: Floats, corrections: Corrections) -> Floats:
        """Drag on every slope at the same deployments (m,), N, (n, m)."""
        return self.clean[:, None] + self._moving(self._nodes(corrections).T, deployment).T

    def own_drags(self, deployment: Floats, corrections: Corrections) -> Floats:
        """Drag on every slope at its own deployment (n,), N."""
        nodes = self._nodes(corrections)
        if len(self.deployments) == 1:
            return np.asarray(self.clean + nodes[:, 0])
        return self.clean + monotone_cubic_each(self.deployments, nodes.T, deployment)

    def _nodes(self, corrections: Corrections) -> Floats:
        """Drag of parts and of deployment at the nodes, N, (n, m)."""
        return corrections.parasite_drag * self.parts + corrections.crow_drag * self.crow

    def _moving(self, nodes: Floats, deployment: Floats) -> Floats:
        if len(self.deployments) == 1:
            return np.broadcast_to(nodes[0], (*deployment.shape, *nodes.shape[1:]))
        return monotone_cubic(self.deployments, nodes, deployment)


def slope_drag(frame: Airframe, plan: Plan, *, wanted: float, slopes: ArrayLike, inverted: bool = False) -> SlopeDrag:
    """Drag at the wanted speed (m/s) for every slope (rad) and deployment node, one batch."""
    nodes = DEPLOYMENT_NODES if plan.crow is not None else (0.0,)
    return slope_nodes(frame, plan.crow, nodes=nodes, wanted=wanted, slopes=slopes, inverted=inverted)[0]


def slope_nodes(
    frame: Airframe,
    crow: Crow | None,
    *,
    nodes: Sequence[float],
    wanted: float,
    slopes: ArrayLike,
    inverted: bool = False,
) -> tuple[SlopeDrag, NDArray[np.bool_]]:
    """Drag at the wanted speed (m/s) for every slope (rad) and deployment in `nodes`, and where the weight is carried.

    The second is (slopes, deployments). A single balance that does not settle where little lift is asked for is no
    stall: its drag is taken straight between those of its neighbours.
    """
    angles, deployments = np.asarray(slopes, float), np.asarray(nodes, float)
    s, d = np.meshgrid(angles, deployments, indexing="ij")
    solved = balance(frame, speed=wanted, slope=s.ravel(), inverted=inverted, crow=crow, deployment=d.ravel())
    settled = solved.converged.reshape(s.shape)
    surfaces, parts = solved.drag_surfaces.reshape(s.shape), solved.drag_parts.reshape(s.shape)
    some = np.asarray(settled.any(axis=1))
    for row in np.flatnonzero(some & ~settled.all(axis=1)).tolist():
        good = settled[row]
        for values in (surfaces, parts):
            values[row, ~good] = np.interp(deployments[~good], deployments[good], values[row, good])
    carried = np.asarray(settled | (some[:, None] & ~asks_lift(frame, wanted, s)))
    drag = SlopeDrag(
        slopes=angles,
        deployments=deployments,
        clean=surfaces[:, 0],
        crow=surfaces - surfaces[:, :1],
        parts=parts,
        carried=np.asarray(carried.all(axis=1)),
    )
    return drag, carried


@dataclass(frozen=True, kw_only=True)
class StickThrust:
    """Thrust at the wanted speed over `STICKS`, N: motor brake below the closed band's end, drive above.

    `closed` where the motor is held closed, `uncertain` where a stopped motor would not start either.
    """

    thrust: Floats
    closed: NDArray[np.bool_]
    uncertain: NDArray[np.bool_]


def stick_thrust(unit: PowerUnit, plan: Plan, *, wanted: float) -> StickThrust:
    """Thrust (N) at every stick position. Of several braked states the fastest shaft is taken: a closing throttle
    arrives from above."""
    command = plan.motor.command(STICKS)
    closed = command < unit.plane.controller.closed_below
    powered = driven(unit.plane, unit.propeller, wanted, command, density=unit.density)
    states = shaft_states(unit.plane, unit.propeller, plan.motor.level, wanted, density=unit.density)
    stable = np.flatnonzero(states.stable[0])
    braked = float(states.thrust[0, stable[-1]]) if stable.size else 0.0
    return StickThrust(
        thrust=np.where(closed, braked, powered.thrust),
        closed=closed,
        uncertain=command < unit.plane.controller.start_stick,
    )


@dataclass(frozen=True, kw_only=True)
class Holding:
    """Where the wanted speed is held on one slope.

    Args:
        slope: rad.
        stick: 0-1; the nearest end where no stick holds the speed; the band's edge where it falls into the step.
        status: OK, INSIDE_CLOSED_BAND, STICK_AT_CLOSED_END, STICK_AT_OPEN_END or STALLED.
        deployment: at that stick.
        excess: N along the path left over at that stick, positive accelerates.
    """

    slope: float
    stick: float
    status: Status
    deployment: float
    excess: float


_ON_THE_STOP = 0.01
"""Stick this close to closed counts as on the stop: the speed is off by less than the spread."""
_BALANCED = 0.005
"""Excess force over weight along the path that counts as balanced on an end of the stick: .25 % of speed."""
_LEAST_SLOPE = 0.1
"""Weight along the path is taken as at least this share of weight."""


def holding_sticks(unit: PowerUnit, plan: Plan, drag: SlopeDrag, thrust: StickThrust) -> tuple[Holding, ...]:
    """The holding stick of every slope in `drag`: where thrust - drag - W sin(slope) changes sign over the stick.

    Where the change happens in the step between the closed band and the first driven stick, or between closed band
    and start stick, the line can only be flown by opening and closing: status INSIDE_CLOSED_BAND.
    """
    deployment = plan.deployment(STICKS)
    weight = unit.plane.mass.all_up * 9.80665
    held_back = drag.all_drags(deployment, unit.plane.corrections)
    found = []
    for row, slope in enumerate(drag.slopes.tolist()):
        if not drag.carried[row]:
            found.append(Holding(slope=slope, stick=1.0, status=Status.STALLED, deployment=0.0, excess=math.nan))
            continue
        need = held_back[row] + weight * math.sin(slope)
        found.append(_hold(slope, thrust.thrust - need, thrust, deployment, weight))
    return tuple(found)


def _hold(slope: float, excess: Floats, thrust: StickThrust, deployment: Floats, weight: float) -> Holding:
    def at(stick: float, status: Status, left: float) -> Holding:
        out = float(np.interp(stick, STICKS, deployment))
        return Holding(slope=slope, stick=stick, status=status, deployment=out, excess=left)

    balanced = _BALANCED * weight * max(abs(math.sin(slope)), _LEAST_SLOPE)
    if excess[0] >= 0 or abs(excess[0]) < balanced:
        ok = excess[0] < balanced
        return at(0.0, Status.OK if ok else Status.STICK_AT_CLOSED_END, float(excess[0]))
    if excess[-1] <= 0:
        ok = excess[-1] > -balanced
        return at(1.0, Status.OK if ok else Status.STICK_AT_OPEN_END, float(excess[-1]))
    up = int(np.argmax(excess > 0))
    low, high = float(STICKS[up - 1]), float(STICKS[up])
    if thrust.closed[up - 1] and not thrust.closed[up]:
        return at(high, Status.INSIDE_CLOSED_BAND, float(excess[up]))
    stick = low - excess[up - 1] * (high - low) / (excess[up] - excess[up - 1])
    inside = stick > _ON_THE_STOP and thrust.uncertain[up - 1]
    return at(float(stick), Status.INSIDE_CLOSED_BAND if inside else Status.OK, 0.0)


def monotone(found: Sequence[Holding]) -> tuple[float, ...]:
    """Slopes (rad) at which the holding stick falls although the slope rises, or the line is flown unsteadily.

    Ends of the stick count as held there. `found` in the order of rising slope.
    """
    wrong = [item.slope for item in found if item.status is Status.INSIDE_CLOSED_BAND]
    held = [item for item in found if item.status is not Status.STALLED]
    wrong += [after.slope for before, after in pairwise(held) if after.stick < before.stick - 1e-6]
    return tuple(sorted(set(wrong)))
