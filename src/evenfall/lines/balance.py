"""Forces and moments of the aeroplane in steady flight along a line: incidence, elevator, drag.

Everything that couples is closed here: the propeller's stream on surfaces and parts behind it, its thrust in lift and
moment, drag of body and parts in the moment.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.parasite import drag_points
from evenfall.aero.section import NOMINAL_TRANSITION, Sections
from evenfall.aero.surfaces import plane_surfaces
from evenfall.aero.trim import TOLERANCE, Trim, trim
from evenfall.aero.wings import Flow, LiftingLine
from evenfall.air import G0, Air
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]

_MOST_BRAKING = 0.3
"""Greatest drag coefficient on the disc that the stream is computed for; a propeller brakes with less."""
_ROUGH = 1e-5
"""Tolerance of the first pass, which only gives the thrust for the stream of the second."""


@dataclass(frozen=True, kw_only=True)
class Airframe:
    """An aeroplane in given air with its lifting line, made once and used for every balance.

    `in_stream` (stations,) is 1 for stations of the lifting line inside the propeller's stream, 0 outside.
    """

    plane: Plane
    air: Air
    line: LiftingLine
    in_stream: Floats

    @property
    def weight(self) -> float:
        """N."""
        return self.plane.mass.all_up * G0

    @property
    def disc(self) -> float:
        """Propeller disc area, m^2."""
        return float(np.pi * self.plane.propeller.radius**2)


def airframe(
    plane: Plane, air: Air, *, transition: float = NOMINAL_TRANSITION, sections: Sections | None = None
) -> Airframe:
    """The aeroplane ready for balances. `transition` 0 is late (Ncrit 9), 1 early (Ncrit 4).

    `sections` of another frame serve again where only positions or angles of the surfaces differ.
    """
    line = LiftingLine(plane_surfaces(plane), sections, transition=transition)
    where = line.lattice.point
    behind = where[:, 0] < plane.mass.cg_x  # aft of the disc, which is at x = 0 of the drawing frame
    from_axis = np.hypot(where[:, 1], where[:, 2] - plane.mass.cg_z)
    inside = behind & (from_axis < plane.propeller.radius)
    return Airframe(plane=plane, air=air, line=line, in_stream=inside.astype(float))


def stream_increment(speed: ArrayLike, thrust: ArrayLike, *, density: float, disc: float) -> Floats:
    """Extra speed in the propeller's developed stream, m/s: sqrt(V^2 + 2 T/(rho A)) - V.

    Negative behind a braked propeller. Braking is taken as at most .3 of q A, where momentum theory ends; beyond
    that the value at the limit is used. Source: actuator disc (Rankine-Froude).
    """
    speed = np.asarray(speed, float)
    least = -_MOST_BRAKING * 0.5 * density * speed**2 * disc
    held = np.maximum(np.asarray(thrust, float), least)
    return np.asarray(np.sqrt(speed**2 + 2 * held / (density * disc)) - speed)


def thrust_moment(plane: Plane, thrust: Floats) -> Floats:
    """Pitching moment (N m, nose up) of thrust (N) about the CG: T (z cos d - x sin d), d the recorded down thrust."""
    down = 0.0 if plane.rigging is None else plane.rigging.down_thrust or 0.0
    return np.asarray(thrust * (plane.mass.cg_z * np.cos(down) - plane.mass.cg_x * np.sin(down)))


@dataclass(frozen=True, kw_only=True)
class Balance:
    """Steady flight in a batch of conditions, arrays (n,).

    Args:
        alpha: incidence of the thrust line, rad.
        elevator: rad, trailing edge down positive, crow's share included.
        drag_surfaces: N, induced and profile.
        drag_induced: N, part of it.
        drag_parts: N, body and parts before `Corrections.parasite_drag`.
        thrust: N, what the balance assumed.
        converged: the trim settled (False beyond the stall).
        valid: the section tables reached.
    """

    alpha: Floats
    elevator: Floats
    drag_surfaces: Floats
    drag_induced: Floats
    drag_parts: Floats
    thrust: Floats
    converged: NDArray[np.bool_]
    valid: NDArray[np.bool_]


def parts_drag(frame: Airframe, speed: Floats, stream: Floats) -> tuple[Floats, Floats]:
    """Drag (N) and pitching moment about the CG (N m, nose up) of body and parts; `stream` is the extra speed, m/s."""
    drag, moment = np.zeros_like(speed), np.zeros_like(speed)
    for point in drag_points(frame.plane, frame.air, speed):
        local = speed + stream if point.behind_disc else speed
        force = 0.5 * frame.air.density * local**2 * point.area
        drag = drag + force
        moment = moment - force * (frame.plane.mass.cg_z - point.z)
    return drag, moment


def balance(
    frame: Airframe,
    *,
    speed: ArrayLike,
    slope: ArrayLike,
    inverted: ArrayLike = False,
    crow: Crow | Sequence[Crow] | None = None,
    deployment: ArrayLike = 0.0,
    thrust: ArrayLike | None = None,
) -> Balance:
    """Incidence and elevator for lift = W cos(slope) and zero pitching moment, and the drag that goes with them.

    Args:
        speed: m/s. slope: rad, climbing positive. inverted: lift towards the belly. deployment: 0-1. All broadcast
            to (n,).
        crow: one, or several for as many equal parts of the batch, one after another.
        thrust: N along the thrust line; None takes what a steady line needs, D + W sin(slope), in two passes.

    Returns arrays (n,); where no incidence carries the weight `converged` is False and the numbers are the last try.
    """
    speed, slope, deployment, upside = np.broadcast_arrays(
        np.atleast_1d(np.asarray(speed, float)),
        np.asarray(slope, float),
        np.asarray(deployment, float),
        np.where(np.asarray(inverted), -1.0, 1.0),
    )
    deltas = _deltas(frame.plane, crow, deployment)
    normal = upside * frame.weight * np.cos(slope)
    if thrust is not None:
        push = np.broadcast_to(np.asarray(thrust, float), speed.shape)
        return _balance_once(frame, speed, normal, deltas, push, None)[0]
    guess = 0.02 * frame.plane.wing_area * 0.5 * frame.air.density * speed**2
    push = guess + frame.weight * np.sin(slope)
    first, trimmed = _balance_once(frame, speed, normal, deltas, push, None, _ROUGH)
    push = first.drag_surfaces + first.drag_parts + frame.weight * np.sin(slope)
    return _balance_once(frame, speed, normal, deltas, push, trimmed)[0]


def loaded_balance(
    frame: Airframe,
    *,
    speed: ArrayLike,
    normal: ArrayLike,
    thrust: ArrayLike,
    crow: Crow | None = None,
    deployment: ArrayLike = 0.0,
) -> Balance:
    """Incidence, elevator and drag where the path asks for a force across it, as on an arc.

    Args:
        speed: m/s. normal: N across the path in the plane of symmetry, towards the canopy positive; wings and the
            thrust's share T sin(alpha) give it together. thrust: N. deployment: 0-1. All broadcast to (n,).

    The turning of the path itself (pitch rate) is left out: it moves the elevator, hardly the drag.
    """
    speed, normal, thrust, deployment = np.broadcast_arrays(
        np.atleast_1d(np.asarray(speed, float)),
        np.asarray(normal, float),
        np.asarray(thrust, float),
        np.asarray(deployment, float),
    )
    deltas = _deltas(frame.plane, crow, deployment)
    _, trimmed = _balance_once(frame, speed, normal, deltas, thrust, None, _ROUGH)
    return _balance_once(frame, speed, normal, deltas, thrust, trimmed)[0]


def _deltas(plane: Plane, crow: Crow | Sequence[Crow] | None, deployment: Floats) -> dict[str, Floats]:
    """Aileron angles of every condition, rad."""
    if crow is None or isinstance(crow, Crow):
        return surface_deltas(plane, crow, deployment)
    parts = np.split(deployment, len(crow))
    rows = [surface_deltas(plane, one, part) for one, part in zip(crow, parts, strict=True)]
    return {name: np.concatenate([row[name] for row in rows]) for name in rows[0]}


def _balance_once(
    frame: Airframe,
    speed: Floats,
    normal: Floats,
    deltas: Mapping[str, Floats],
    thrust: Floats,
    before: Trim | None,
    tolerance: float = TOLERANCE,
) -> tuple[Balance, Trim]:
    stream = stream_increment(speed, thrust, density=frame.air.density, disc=frame.disc)
    drag_parts, moment_parts = parts_drag(frame, speed, stream)
    alpha = np.zeros_like(speed) if before is None else before.alpha
    flow = Flow(
        speed=speed,
        alpha=alpha,
        deltas=deltas,
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
        wash=stream[:, None] * frame.in_stream,
    )
    lift = normal - thrust * np.sin(alpha)
    extra = moment_parts + thrust_moment(frame.plane, thrust)
    solved = trim(frame.line, flow, lift=lift, moment_extra=extra, start=before, tolerance=tolerance)
    loads = solved.loads
    balanced = Balance(
        alpha=solved.alpha,
        elevator=solved.elevator,
        drag_surfaces=loads.drag_induced + loads.drag_profile,
        drag_induced=loads.drag_induced,
        drag_parts=drag_parts,
        thrust=thrust,
        converged=solved.converged,
        valid=np.asarray(loads.valid > 0.999),
    )
    return balanced, solved
