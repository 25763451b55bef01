"""Straightness: how fast a line bends while the elevator is held where the plane flies level hands off.

Two bends are kept apart: of the clean plane, and what crow adds. Crow is cured only once the clean plane is straight;
until then the cure is rigging.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.flow import Flow
from evenfall.aero.free import solve_free
from evenfall.aero.trim import Held, Trim, Warm, elevator_held, force_scale, trim
from evenfall.aero.wings import LiftingLine
from evenfall.air import G0, Air

Array = NDArray[np.float64]
LENGTH = 50.0
"""Length of line over which a bend is also given as an angle, m."""
SPLIT_LIMIT = 0.15
"""A split of the wings larger than this is no trim any more: it gives up brake and roll. Judgement of ours."""
_VERTICAL = 1e-6


@dataclass(frozen=True, kw_only=True)
class Straightness:
    """Bend of lines with the elevator held, n conditions; rates in rad/s, positive towards the canopy.

    Args:
        clean: of the plane without crow. crow: what full deployment adds. elevator: the held angle, rad.
        clean_bend, crow_bend: the same over 50 m of line, rad: rate x 50 m / V.
        speed, weight: m/s; N across the line, positive where it needs lift to the canopy.
        clean_flow, deployed_flow, mass, moment_deployed, level, held_clean, held_deployed: what it was computed from.
        converged: (n,).
    """

    clean: Array
    crow: Array
    elevator: Array
    speed: Array
    weight: Array
    mass: float
    clean_flow: Flow
    deployed_flow: Flow
    moment_deployed: Array
    level: Trim
    held_clean: Held
    held_deployed: Held
    converged: NDArray[np.bool_]

    @property
    def clean_bend(self) -> Array:
        """Bend of the clean plane over 50 m, rad, (n,)."""
        return self.clean * LENGTH / self.speed

    @property
    def crow_bend(self) -> Array:
        """Bend added by crow over 50 m, rad, (n,)."""
        return self.crow * LENGTH / self.speed


@dataclass(frozen=True, kw_only=True)
class CrowCure:
    """What takes away the bend crow adds, (n,).

    Args:
        from_moment, from_lift: the parts of the bend that come of crow's moment and of its lift, rad/s, linearised.
        kind: "elevator" where the moment is the larger part or the split would be too large, "split" otherwise.
        elevator: angle to add at full deployment, rad. share: the same over the larger aileron angle.
        split: how much less on one wing, share: positive on the lower, negative on the upper.
        elevator_exists, split_exists: such a cure was found.
    """

    from_moment: Array
    from_lift: Array
    kind: tuple[Literal["elevator", "split"], ...]
    elevator: Array
    share: Array
    split: Array
    elevator_exists: NDArray[np.bool_]
    split_exists: NDArray[np.bool_]


def straightness(
    line: LiftingLine,
    *,
    mass: float,
    speed: ArrayLike,
    slope: ArrayLike,
    deployed: Mapping[str, ArrayLike],
    inverted: ArrayLike = False,
    air: Air | None = None,
    elevator_share: ArrayLike = 0.0,
    moment_level: ArrayLike = 0.0,
    moment_clean: ArrayLike = 0.0,
    moment_deployed: ArrayLike | None = None,
    wash: ArrayLike | None = None,
    wash_level: ArrayLike | None = None,
    near: Straightness | None = None,
) -> Straightness:
    """Bend of straight lines with the elevator held at hands-off level trim, clean and with full crow.

    M(alpha, q) = 0 and L(alpha, q) = m V q +- W cos(slope). The elevator is that of level flight at the same speed:
    of upright level flight for upright lines and for every vertical (nothing but the entry tells them apart), of
    inverted level flight for inverted lines that are not vertical: the pilot holds the line in with the stick there.

    Args:
        mass: kg. speed: m/s. slope: rad, 90 deg straight up. inverted: canopy to the ground. All broadcast to (n,).
        deployed: control angles at full deployment, rad, each to (n,).
        elevator_share: elevator added at full deployment over the larger aileron angle.
        moment_level, moment_clean, moment_deployed: N m, nose up, of thrust line and parts in level flight and on the
            line without and with crow; `None` takes that of the clean line.
        wash: extra air speed aft behind the propeller on the line, m/s, (n,) or (n, stations).
        wash_level: the same in level flight; `None` takes that of the line.
        near: the answer of the same conditions for a similar aeroplane, to start from.

    The rates are those at the start of the bend. Beyond the stall `converged` is False.
    """
    angles = {name: np.atleast_1d(np.asarray(value, float)) for name, value in deployed.items()}
    n = np.broadcast_shapes(
        *(np.shape(v) for v in (np.atleast_1d(np.asarray(speed)), slope, inverted, elevator_share, moment_clean)),
        *(value.shape for value in angles.values()),
    )
    v, tilt, level_extra, clean_extra, share = (
        np.broadcast_to(np.asarray(value, float), n)
        for value in (speed, slope, moment_level, moment_clean, elevator_share)
    )
    upside_down = np.broadcast_to(np.asarray(inverted, bool), n) & (np.abs(np.cos(tilt)) > _VERTICAL)
    deployed_extra = clean_extra if moment_deployed is None else np.broadcast_to(np.asarray(moment_deployed, float), n)
    clean_flow = Flow(
        speed=v,
        alpha=np.zeros(n),
        density=np.array([air.density if air else 1.225]),
        viscosity=np.array([air.viscosity if air else 1.789e-5]),
        wash=None if wash is None else np.asarray(wash, float),
    )
    level_flow = clean_flow if wash_level is None else clean_flow.with_(wash=wash_level)
    level = trim(
        line,
        level_flow,
        lift=np.where(upside_down, -1.0, 1.0) * mass * G0,
        moment_extra=level_extra,
        start=None if near is None else near.level,
    )
    deployed_flow = clean_flow.with_(deltas=angles)
    added = share * largest_angle(angles)
    return _held_both(
        line, level, clean_flow, deployed_flow, mass=mass, slope=tilt, inverted=upside_down, added=added,
        clean_extra=clean_extra, deployed_extra=deployed_extra, near=near,
    )  # fmt: skip


def _held_both(
    line: LiftingLine,
    level: Trim,
    clean_flow: Flow,
    deployed_flow: Flow,
    *,
    mass: float,
    slope: Array,
    inverted: NDArray[np.bool_],
    added: Array,
    clean_extra: Array,
    deployed_extra: Array,
    near: Straightness | None,
) -> Straightness:
    clean = elevator_held(
        line, clean_flow.with_(alpha=level.alpha), elevator=level.elevator, mass=mass, slope=slope,
        inverted=inverted, moment_extra=clean_extra, start=None if near is None else near.held_clean,
    )  # fmt: skip
    deployed = elevator_held(
        line, deployed_flow.with_(alpha=clean.alpha, q=clean.pitch), elevator=level.elevator + added, mass=mass,
        slope=slope, inverted=inverted, moment_extra=deployed_extra, start=None if near is None else near.held_deployed,
    )  # fmt: skip
    return Straightness(
        clean=clean.pitch,
        crow=deployed.pitch - clean.pitch,
        elevator=level.elevator,
        speed=np.asarray(clean_flow.speed),
        weight=np.where(inverted, -1.0, 1.0) * mass * G0 * np.cos(slope),
        mass=mass,
        clean_flow=clean_flow,
        deployed_flow=deployed_flow,
        moment_deployed=np.asarray(deployed_extra),
        level=level,
        held_clean=clean,
        held_deployed=deployed,
        converged=level.converged & clean.converged & deployed.converged,
    )


def largest_angle(angles: Mapping[str, Array]) -> Array:
    """Size of the largest aileron angle, rad; 0 where there is no aileron."""
    ailerons = [np.abs(v) for name, v in angles.items() if name not in ("elevator", "rudder")]
    return np.asarray(np.max(np.stack(np.broadcast_arrays(*ailerons)), axis=0)) if ailerons else np.zeros(1)


def crow_cure(line: LiftingLine, straight: Straightness) -> CrowCure:
    """The cure of the bend crow adds: elevator in proportion to actual deployment, or a split of the wings.

    Both are solved so that the deployed plane bends exactly as the clean one; the parts of the bend are linearised
    about the clean line. Where no split exists (monoplane, equal signs that only scale) `split_exists` is False.
    """
    moment, lift = _parts(line, straight)
    fix = _elevator_cure(line, straight)
    split, split_exists = _split_cure(line, straight)
    added = fix.elevator - straight.elevator
    by_elevator = (np.abs(moment) >= np.abs(lift)) | ~split_exists | (np.abs(split) > SPLIT_LIMIT)
    angle = np.broadcast_to(largest_angle(straight.deployed_flow.deltas), added.shape)
    return CrowCure(
        from_moment=moment,
        from_lift=lift,
        kind=tuple("elevator" if which else "split" for which in by_elevator),
        elevator=added,
        share=added / np.maximum(angle, 1e-9),
        split=split,
        elevator_exists=fix.converged,
        split_exists=split_exists,
    )


def _on_clean_line(straight: Straightness, flow: Flow, **changes: Array) -> Flow:
    at = {"alpha": straight.held_clean.alpha, "q": straight.clean, **changes}
    return flow.with_(deltas={"elevator": straight.elevator}, **at)


def _parts(line: LiftingLine, straight: Straightness) -> tuple[Array, Array]:
    """Bend from the moment and from the lift that crow adds: [L_a, L_q - m V; M_a, M_q] [da, dq] = -[dL, dM]."""
    step_a, step_q = 0.005, 0.1
    clean, alpha, q = straight.clean_flow, straight.held_clean.alpha, straight.clean
    base = line.solve(_on_clean_line(straight, clean))
    more_a = line.solve(_on_clean_line(straight, clean, alpha=alpha + step_a), start=base.circulation)
    more_q = line.solve(_on_clean_line(straight, clean, q=q + step_q), start=base.circulation)
    crow = line.solve(_on_clean_line(straight, straight.deployed_flow))
    lift_a, moment_a = (more_a.lift - base.lift) / step_a, (more_a.moment - base.moment)[:, 1] / step_a
    lift_q = (more_q.lift - base.lift) / step_q - straight.mass * straight.speed
    moment_q = (more_q.moment - base.moment)[:, 1] / step_q
    below = lift_a * moment_q - lift_q * moment_a
    below = np.where(np.abs(below) > 1e-12, below, np.nan)
    by_moment = -lift_a * (crow.moment - base.moment)[:, 1] / below
    by_lift = moment_a * (crow.lift - base.lift) / below
    return np.nan_to_num(by_moment), np.nan_to_num(by_lift)


def _elevator_cure(line: LiftingLine, straight: Straightness) -> Trim:
    """Incidence and elevator at which the deployed plane bends like the clean one."""
    return trim(
        line,
        _on_clean_line(straight, straight.deployed_flow),
        lift=straight.mass * straight.speed * straight.clean + straight.weight,
        moment_extra=straight.moment_deployed,
    )


def split_angles(deltas: Mapping[str, Array], split: Array) -> dict[str, Array]:
    """Control angles with one wing's ailerons reduced: the lower by `split` where positive, else the upper."""
    factor = {"lower": 1 - np.maximum(split, 0.0), "upper": 1 + np.minimum(split, 0.0)}
    return {name: value * factor.get(name.partition("_")[0], 1.0) for name, value in deltas.items()}


def _split_cure(line: LiftingLine, straight: Straightness) -> tuple[Array, NDArray[np.bool_]]:
    flow = _on_clean_line(straight, straight.deployed_flow)
    n = len(flow)
    if not {"upper", "lower"} <= {name.partition("_")[0] for name in straight.deployed_flow.deltas}:
        return np.zeros(n), np.zeros(n, bool)
    scale, chord = force_scale(line, flow)
    warm = Warm(line, n, None)
    wanted = straight.mass * straight.speed * straight.clean + straight.weight

    def residual(free: Array, rows: NDArray[np.intp]) -> Array:
        part = flow.take(rows)
        loads = warm.solve(part.with_(alpha=free[:, 0], deltas=split_angles(part.deltas, free[:, 1])), rows)
        moment = loads.moment[:, 1] + straight.moment_deployed[rows]
        return np.stack([(loads.lift - wanted[rows]) / scale[rows], moment / (scale[rows] * chord)], axis=1)

    found = solve_free(
        residual,
        np.stack([flow.alpha, np.full(n, 0.05)], axis=1),
        step=np.array([2e-3, 0.02]),
        largest=np.array([0.1, 0.3]),
        rounds=1,
    )
    exists = found.converged & (np.abs(found.free[:, 1]) < 1.0)
    return found.free[:, 1], exists
