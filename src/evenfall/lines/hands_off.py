"""What a plane does on a straight line while every control is held: pitch, roll and yaw together.

Signs: pitch positive towards the canopy, roll right wing down, yaw nose right, sideslip wind from the right.

Left out: swirl of the propeller's stream, torque and gyroscopic moments of the propeller, the moments of inertia (the
rates are those the plane settles in), and the body in pitch.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.body import side_areas
from evenfall.aero.flow import Flow, WingLoads
from evenfall.aero.free import solve_free
from evenfall.aero.parasite import drag_points
from evenfall.aero.roll import LIFTING_SURFACE, aileron_angles
from evenfall.aero.trim import Warm, force_scale
from evenfall.aero.wings import flight_direction, lift_direction, side_direction
from evenfall.lines.balance import Airframe, stream_increment
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]
LENGTH = 50.0
"""Length of line over which a rate is also given as an angle, m."""
_VERTICAL = 1e-6


@dataclass(frozen=True, kw_only=True)
class FlownLine:
    """A line to fly hands off: slope (rad, 90 deg straight up), inverted, thrust along the thrust line (N)."""

    name: str
    slope: float
    thrust: float
    inverted: bool = False

    @property
    def upside_down(self) -> bool:
        """Inverted and not vertical: on a vertical nothing tells the two apart."""
        return self.inverted and abs(math.cos(self.slope)) > _VERTICAL


@dataclass(frozen=True, kw_only=True)
class HeldControls:
    """Controls as held, rad: elevator of upright and of inverted level trim, aileron (positive rolls right), rudder
    (trailing edge left), and angles added to single ailerons by name."""

    elevator: float
    elevator_inverted: float
    aileron: float = 0.0
    rudder: float = 0.0
    added: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Motion:
    """Steady motion on n lines, (n,): rates rad/s, sideslip and incidence rad, speed m/s; where one was found."""

    pitch: Floats
    roll: Floats
    yaw: Floats
    sideslip: Floats
    alpha: Floats
    speed: Floats
    converged: NDArray[np.bool_]

    def over(self, rate: Floats, length: float = LENGTH) -> Floats:
        """Angle (rad) that a rate adds up to over a length of line (m)."""
        return np.asarray(rate * length / self.speed)


def tail_tilt_angle(frame: Airframe) -> float:
    """Tilt of the tail against the wings, rad, right tip high positive."""
    rigging = frame.plane.rigging
    tilt = None if rigging is None else rigging.tail_tilt
    return 0.0 if tilt is None else tilt / frame.plane.tail.span


def thrust_angles(frame: Airframe) -> tuple[float, float]:
    """Side thrust (right) and down thrust of the rigging record, rad; 0 where not taken."""
    rigging = frame.plane.rigging
    if rigging is None:
        return 0.0, 0.0
    return rigging.side_thrust or 0.0, rigging.down_thrust or 0.0


def thrust_load(frame: Airframe, thrust: Floats) -> tuple[Floats, Floats]:
    """Force (N) and moment about the CG (N m) of thrust at the disc along the rigged thrust line, body axes, (n, 3)."""
    side, down = thrust_angles(frame)
    mass = frame.plane.mass
    direction = np.array([math.cos(down) * math.cos(side), math.cos(down) * math.sin(side), math.sin(down)])
    force = thrust[:, None] * direction
    place = np.array([mass.cg_x, -mass.cg_y, mass.cg_z])
    return force, np.cross(place, force)


def _parts_load(frame: Airframe, flow: Flow, stream: Floats) -> tuple[Floats, Floats]:
    """Force (N) and moment (N m) of the drag of body and parts and of the body in sideslip, body axes, (n, 3)."""
    mass, body = frame.plane.mass, frame.plane.body
    heading, side = flight_direction(flow), side_direction(flow)
    force, moment = np.zeros((len(flow), 3)), np.zeros((len(flow), 3))
    for point in drag_points(frame.plane, frame.air, flow.speed):
        local = flow.speed + stream if point.behind_disc else flow.speed
        one = -(0.5 * flow.density * local**2 * point.area * frame.plane.corrections.parasite_drag)[:, None] * heading
        force += one
        # Symmetric parts stand left and right of the centre plane: the whole acts there.
        moment += np.cross(np.array([mass.cg_x - point.x, -mass.cg_y, mass.cg_z - point.z]), one)
    if body is not None:
        area, couple = side_areas(body)
        pressure = 0.5 * flow.density * flow.speed**2 * flow.beta
        one = -(pressure * area)[:, None] * side
        force += one
        middle = body.nose_x + 0.5 * body.length
        moment += np.cross(np.array([mass.cg_x - middle, -mass.cg_y, mass.cg_z - body.z]), one)
        moment[:, 2] -= pressure * couple
    return force, moment


def _tilted_tail(frame: Airframe, loads: WingLoads) -> tuple[Floats, Floats]:
    """What a tilted tail adds: its lift turned sideways (left where the right tip is high), to first order in tilt."""
    tilt = tail_tilt_angle(frame)
    rows = frame.line.rows("tail")
    push = -tilt * loads.station_lift[:, rows]
    force = np.zeros((len(push), 3))
    force[:, 1] = push.sum(axis=1)
    place = frame.line.lattice.point[rows]
    moment = np.zeros_like(force)
    moment[:, 0] = -(push * place[:, 2]).sum(axis=1)
    moment[:, 2] = (push * place[:, 0]).sum(axis=1)
    return force, moment


@dataclass(frozen=True, kw_only=True)
class _Setting:
    """A batch of conditions with all that does not change during a solve."""

    frame: Airframe
    flow: Flow
    stream: Floats
    thrust: Floats
    weight: Floats
    warm: Warm
    scale: Floats
    chord: float
    half_span: float

    def gaps(self, flow: Flow, rows: NDArray[np.intp]) -> Floats:
        """Lift, side force, roll, pitch and yaw out of balance, scaled, (m, 5)."""
        frame = self.frame
        loads = self.warm.solve(flow, rows)
        push, push_moment = thrust_load(frame, self.thrust[rows])
        parts, parts_moment = _parts_load(frame, flow, self.stream[rows])
        tail, tail_moment = _tilted_tail(frame, loads)
        force = loads.force + push + parts + tail
        moment = loads.moment + push_moment + parts_moment + tail_moment
        rate = np.stack([flow.p, flow.q, flow.r], axis=-1)
        turn = frame.plane.mass.all_up * flow.speed[:, None] * np.cross(rate, flight_direction(flow))
        off = force - turn
        lift = np.sum(off * lift_direction(flow), axis=1) - self.weight[rows]
        side = np.sum(off * side_direction(flow), axis=1)
        scale = self.scale[rows]
        return np.stack(
            [
                lift / scale,
                side / scale,
                moment[:, 0] / (scale * self.half_span),
                moment[:, 1] / (scale * self.chord),
                moment[:, 2] / (scale * self.half_span),
            ],
            axis=1,
        )


def _setting(frame: Airframe, *, speed: float, thrust: Floats, weight: Floats) -> _Setting:
    n = len(thrust)
    v = np.full(n, speed)
    stream = stream_increment(v, thrust, density=frame.air.density, disc=frame.disc)
    flow = Flow(
        speed=v,
        alpha=np.zeros(n),
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
        wash=stream[:, None] * frame.in_stream,
    )
    scale, chord = force_scale(frame.line, flow)
    return _Setting(
        frame=frame,
        flow=flow,
        stream=stream,
        thrust=thrust,
        weight=weight,
        warm=Warm(frame.line, n, None),
        scale=scale,
        chord=chord,
        half_span=float(np.max(np.abs(frame.line.lattice.point[:, 1]))),
    )


def has_fin(frame: Airframe) -> bool:
    """There is a fin, so that yaw has an answer."""
    return "fin" in frame.line.lattice.surfaces


def _has_ailerons(frame: Airframe) -> bool:
    return any(name.endswith(("_left", "_right")) for name in frame.line.controls)


def _angles(frame: Airframe, flow: Flow, aileron: Floats, added: Mapping[str, float]) -> dict[str, Floats]:
    angles = aileron_angles(frame.line, flow, aileron) if _has_ailerons(frame) else {}
    return {**angles, **{name: angles[name] + value for name, value in added.items() if name in angles}}


def level_controls(
    frame: Airframe, *, speed: float, thrust: float, added: Mapping[str, float] | None = None, lateral: bool = True
) -> tuple[HeldControls, bool]:
    """Controls for hands-off level flight, wings level, no turn; and whether they were found.

    Unknown: incidence and elevator, upright and inverted, and upright aileron, rudder and sideslip, for zero lift
    surplus, side force and all three moments.

    Args:
        speed: m/s. thrust: N. added: angles of single ailerons that are not the pilot's (play), rad.
        lateral: False leaves ailerons and rudder neutral. Without ailerons or fin they stay neutral too.
    """
    weight = frame.weight * np.array([1.0, -1.0])
    extra = {} if added is None else added
    full = lateral and _has_ailerons(frame) and has_fin(frame)
    setting = _setting(frame, speed=speed, thrust=np.full(2, thrust), weight=weight)

    def plain(free: Floats, rows: NDArray[np.intp]) -> Floats:
        flow = setting.flow.take(rows).with_(alpha=free[:, 0])
        angles = {**_angles(frame, flow, np.zeros(len(rows)), extra), "elevator": free[:, 1]}
        return setting.gaps(flow.with_(deltas=angles), rows)[:, [0, 3]]

    first = solve_free(plain, np.zeros((2, 2)), step=np.full(2, 2e-3), largest=np.array([0.15, 0.3]))
    elevator, inverted = (float(value) for value in first.free[:, 1])
    if not full:
        return HeldControls(elevator=elevator, elevator_inverted=inverted, added=extra), bool(first.converged.all())
    upright = _setting(frame, speed=speed, thrust=np.full(1, thrust), weight=weight[:1])

    def every(free: Floats, rows: NDArray[np.intp]) -> Floats:
        flow = upright.flow.take(rows).with_(alpha=free[:, 0], beta=free[:, 4])
        angles = {**_angles(frame, flow, free[:, 2], extra), "elevator": free[:, 1], "rudder": free[:, 3]}
        return upright.gaps(flow.with_(deltas=angles), rows)

    start = np.array([[first.free[0, 0], elevator, 0.0, 0.0, 0.0]])
    found = solve_free(every, start, step=np.full(5, 2e-3), largest=np.array([0.1, 0.2, 0.1, 0.2, 0.1]), rounds=4)
    _, up, aileron, rudder, _ = (float(value) for value in found.free[0])
    held = HeldControls(elevator=up, elevator_inverted=inverted, aileron=aileron, rudder=rudder, added=extra)
    return held, bool(found.converged.all() and first.converged.all())


def hands_off(frame: Airframe, lines: Sequence[FlownLine], held: HeldControls, *, speed: float) -> Motion:
    """Motion the plane settles in on every line with the controls held, one batch.

    Unknown: incidence, sideslip and the three body rates, for L - W cos(slope) = m V q, Y = m V r and zero moments.
    The wings are level at the start of the line; without a fin sideslip and yaw are left out (0).

    Args:
        speed: m/s on every line.

    Beyond the stall `converged` is False.
    """
    upside = np.array([line.upside_down for line in lines])
    slope = np.array([line.slope for line in lines])
    thrust = np.array([line.thrust for line in lines])
    weight = np.where(upside, -1.0, 1.0) * frame.weight * np.cos(slope)
    setting = _setting(frame, speed=speed, thrust=thrust, weight=weight)
    elevator = np.where(upside, held.elevator_inverted, held.elevator)
    free = np.array([0, 1, 2, 3, 4] if has_fin(frame) else [0, 2, 3])
    equations = np.array([0, 1, 2, 3, 4] if has_fin(frame) else [0, 2, 3])
    unit = np.array([1.0, 1.0, speed / setting.half_span, speed / setting.chord, speed / setting.half_span])

    def at(values: Floats, rows: NDArray[np.intp]) -> Flow:
        state = np.zeros((len(rows), 5))
        state[:, free] = values
        state *= unit
        flow = setting.flow.take(rows).with_(
            alpha=state[:, 0], beta=state[:, 1], p=state[:, 2], q=state[:, 3], r=state[:, 4]
        )
        angles = _angles(frame, flow, np.full(len(rows), held.aileron), held.added)
        fixed = {"elevator": elevator[rows]}
        if has_fin(frame):
            fixed["rudder"] = np.full(len(rows), held.rudder)
        return flow.with_(deltas={**angles, **fixed})

    def residual(values: Floats, rows: NDArray[np.intp]) -> Floats:
        return setting.gaps(at(values, rows), rows)[:, equations]

    step, largest = np.array([2e-3, 5e-3, 5e-3, 1e-3, 5e-3]), np.array([0.1, 0.15, 0.15, 0.05, 0.15])
    found = solve_free(residual, np.zeros((len(lines), len(free))), step=step[free], largest=largest[free], rounds=4)
    end = at(found.free, np.arange(len(lines)))
    return Motion(
        pitch=np.asarray(end.q),
        roll=np.asarray(end.p),
        yaw=np.asarray(end.r),
        sideslip=np.asarray(end.beta),
        alpha=np.asarray(end.alpha),
        speed=np.full(len(lines), speed),
        converged=found.converged,
    )


def with_crow(frame: Airframe, held: HeldControls, crow: Crow) -> HeldControls:
    """The same controls with crow fully out, its elevator share included."""
    angles = {name: float(angle) for name, angle in surface_deltas(frame.plane, crow, 1.0).items()}
    return replace(
        held,
        elevator=held.elevator + crow.elevator,
        elevator_inverted=held.elevator_inverted + crow.elevator,
        added={name: angle + held.added.get(name, 0.0) for name, angle in angles.items()},
    )


@dataclass(frozen=True, kw_only=True)
class RollWithYaw:
    """A steady roll with the fin in the solve.

    Args:
        rate: rad/s, right positive, corrected as `evenfall.aero.roll` does. yaw: of heading about the lift direction,
            rad/s, nose right positive. sideslip: rad, wind from the right positive.
        adverse: yaw over roll, positive where the heading goes against the roll.
        wander: half angle of the cone the flight path turns on during the roll, rad.
        converged: found.
    """

    rate: float
    yaw: float
    sideslip: float
    adverse: float
    wander: float
    converged: bool


def roll_with_yaw(frame: Airframe, line: FlownLine, held: HeldControls, *, throw: float, speed: float) -> RollWithYaw:
    """The roll that `throw` (rad, positive rolls right) settles in on a line, with its yaw and sideslip.

    The path turns at F/(m V) across itself while the body rolls at p, so it runs on a cone of half angle F/(m V p).
    """
    rolled = replace(held, aileron=held.aileron + throw)
    found = hands_off(frame, [line], rolled, speed=speed)
    p, q, r = (float(rate[0]) for rate in (found.roll, found.pitch, found.yaw))
    alpha, beta = float(found.alpha[0]), float(found.sideslip[0])
    sideways = r * math.cos(alpha) - p * math.sin(alpha)
    upward = q - p * beta
    return RollWithYaw(
        rate=p / LIFTING_SURFACE,
        yaw=sideways / LIFTING_SURFACE,
        sideslip=beta,
        adverse=-sideways / p if p else 0.0,
        wander=math.hypot(sideways, upward) / abs(p) if p else 0.0,
        converged=bool(found.converged[0]),
    )
