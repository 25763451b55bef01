"""Flying a sequence: the path is held, speed, shaft, crow, throttle and battery follow. Many changed planes at once.

Place along the path is the independent variable, so that every plane meets the same piece at the same step and no step
crosses the end of one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.flown_path import KEPT, ROWS, WORKS, Ended, FlownPath
from evenfall.lines.fly_power import Cells, HeldTorque, each
from evenfall.lines.loaded import LoadedForces
from evenfall.lines.path import Path, Piece
from evenfall.lines.pilot import Pilot
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.variants import Variant
from evenfall.power.motor import drive
from evenfall.power.train import corrected_loads, driven, shaft_inertia, shaft_states
from evenfall.radio.phases import PhaseKind
from evenfall.radio.plan import Plan, Points

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Wind = Callable[[float, Floats], Floats]
"""Wind at a height (m) and at times (s, (n,)): m/s in the axes of `evenfall.lines.path`, (3, n) or (3, 1)."""

SERVO_LAG = 0.1
"""First-order lag of servo and linkage, s. Common practice, no source."""
SPIN_DRAG = 0.55
"""Drag coefficient in a spin on the area of all wings: the strips of `evenfall.lines.spin` give .47 to .81 for the demo
planes with crow in. An estimate, marked as one wherever it is shown."""
HELD = 0.5
"""Wind across the path that the pilot can lean against, of the speed over the ground. Common practice, no source."""
LEAST_AIR = 0.75
"""Least speed through the air that a pilot flies figures with, of the wanted one. Common practice, no source."""
CRAWL = 4.0
"""Least speed over the ground that a pilot slows to against the wind, m/s. Common practice, no source."""
STEP, STRIDE = 0.1, 1.8
"""Step unless said otherwise: s, and m at the wanted speed; the longer of the two. A slow plane meets as little in a
longer step as a fast one in a shorter."""
SLOWEST = 1.0
"""m/s at which a plane counts as stopped on its path."""
_ABOVE_STALL = 1.12
"""Speed before a spin over the stalling speed. Common practice, no source."""
_TURNED = 0.3
"""Most that the path turns in one step, rad; a roll turns twice that."""
_STABLE = 2.4
"""Longest step over the shaft's shortest time constant. Fourth-order Runge-Kutta is stable to 2.78."""


def fly_path(
    unit: PowerUnit,
    plan: Plan,
    path: Path,
    forces: LoadedForces,
    *,
    wanted: float,
    pilot: Pilot,
    variants: Sequence[Variant] = (),
    charge_left: float | None = None,
    wind: Wind | None = None,
    step: float | None = None,
    speed: float | None = None,
) -> FlownPath:
    """Fly a path with fourth-order Runge-Kutta.

    m dV/dt = T - D - W sin(slope), D for the lift m V^2/r + W across the path; J domega/dt = excess torque; crow
    follows its stick with `SERVO_LAG`; stick by `pilot`; charge by the battery's current.

    Args:
        wanted: m/s. variants: changed planes; none is the plane of `unit` alone.
        charge_left: of the battery at the start, 0-1; None keeps the rest voltage of the plane file throughout.
        wind: None is calm. The track over the ground is held; the pilot judges the speed over the ground, but keeps
            `LEAST_AIR` through the air, and judges by the air where speed is given up on purpose.
        step: s at most, less where a shaft is quicker; made a way on the path by the slowest plane's speed. None takes
            `STEP`, or what `STRIDE` takes at the wanted speed. With it the seventeen figures of the demo planes last
            .1 % longer or shorter than with a tenth of the step.
        speed: at the entry, m/s over the ground; None the wanted one.

    Fourth order in the step between switchings of motor brake and tables; the controller switches between steps. Not
    in it: drag of rolling ailerons, of knife edge and of the rudder; the wings carry what lies in the plane of
    symmetry. Snaps fly at the edge of the stall, spins with `SPIN_DRAG`.
    """
    planes = tuple(variants) or (Variant(plane=unit.plane),)
    return _March(unit, plan, path, forces, wanted, pilot, planes, charge_left, wind).run(
        max(STEP, STRIDE / wanted) if step is None else step, speed or wanted
    )


class _March:
    """One flight: everything that does not change on the way as arrays over the planes."""

    def __init__(
        self,
        unit: PowerUnit,
        plan: Plan,
        path: Path,
        forces: LoadedForces,
        wanted: float,
        pilot: Pilot,
        variants: Sequence[Variant],
        charge_left: float | None,
        wind: Wind | None,
    ) -> None:
        planes = [variant.plane for variant in variants]
        self.unit, self.plan, self.path, self.forces = unit, plan, path, forces
        self.wanted, self.pilot, self.wind = wanted, pilot, wind
        self.count = len(planes)
        self.mass = each(planes, lambda plane: plane.mass.all_up)
        self.weight = G0 * self.mass
        self.inertia = each(planes, shaft_inertia)
        self.driving = each(planes, lambda plane: plane.corrections.thrust)
        self.braking = each(planes, lambda plane: plane.corrections.braked_propeller_drag)
        self.plain = bool((self.driving == 1.0).all() and (self.braking == 1.0).all())
        self.factors = np.array(
            [
                [item.clean, item.crow * item.plane.corrections.crow_drag, item.plane.corrections.parasite_drag]
                for item in variants
            ]
        )
        self.motor: Any = SimpleNamespace(
            kv=each(planes, lambda plane: plane.motor.kv),
            resistance=each(planes, lambda plane: plane.motor.resistance),
            no_load_current=each(planes, lambda plane: plane.motor.no_load_current),
        )
        self.controller: Any = SimpleNamespace(
            resistance=each(planes, lambda plane: plane.controller.resistance),
            synchronous=unit.plane.controller.synchronous,
            diode_drop=unit.plane.controller.diode_drop,
        )
        self.cells = Cells(planes, charge_left)
        self.held = HeldTorque(planes, plan, fastest=_fastest(unit, wanted))
        self.throttle = _columns(plan.motor.throttle_curve)
        self.curve = None if plan.crow is None else _columns(plan.crow.curve)
        self.live = {kind: plan.phase(kind).crow_live for kind in get_args(PhaseKind)}
        self.density = unit.density
        slow = np.full(2, 0.4 * wanted)
        carried = float(forces.most_lift(slow, np.array([0.0, 1.0]), np.ones(2, bool)).min())
        self.stall_speed = math.sqrt(2 * G0 * unit.plane.mass.all_up / (unit.density * forces.area * carried))
        self.rows = len(ROWS) + len(WORKS)

    def command(self, stick: Floats) -> Floats:
        """Motor command, 0-1."""
        return np.asarray(np.interp(stick, *self.throttle))

    def aim(self, piece: Piece, way: float) -> float:
        """Speed the pilot flies to, m/s."""
        slow = piece.slow
        if slow is None:
            return self.wanted
        end = _ABOVE_STALL * self.stall_speed if slow.speed is None else slow.speed
        return min(self.wanted, math.sqrt(end**2 + 2 * slow.by * max(slow.at - piece.start - way, 0.0)))

    def _asked(self, piece: Piece, speed: Floats, upright: float) -> Floats:
        """Force across the path that the airframe must give, towards the canopy, N."""
        if piece.how in ("spin", "stall turn"):
            return np.zeros_like(speed)
        if piece.how == "snap":
            return (self.forces.edge * self.forces.area * 0.5 * self.density) * speed**2
        if piece.bend == 0.0:
            return self.weight * upright
        return np.asarray(self.mass * piece.bend * speed**2 + self.weight * upright)

    def rates(self, y: Floats, piece: Piece, way: float, mode: _Mode) -> Floats:
        """Change of the state by place, per metre."""
        ground = np.maximum(y[0], SLOWEST)
        omega, out, stick = np.maximum(y[1], 0.0), y[2], y[3]
        sine, upright = piece.upright(way)
        lift = self._asked(piece, ground, upright)
        speed = ground
        if self.wind is not None:
            speed, along, across = self._air(piece, way, ground, y[6])
        thrust, torque = self.unit.propeller.loads(speed, omega, self.density)
        if not self.plain:
            thrust, torque = corrected_loads(thrust, torque, driving=self.driving, braking=self.braking)
        if piece.how == "spin":
            drag = (0.5 * self.density * SPIN_DRAG * self.forces.area) * speed**2
        else:
            drag = self.forces.drag(speed, lift, thrust, out, self.factors)
        f = np.empty_like(y)
        f[7], f[8], f[9] = thrust, drag, 0.0
        if self.wind is not None:
            f[9] = -across * (lift - (thrust - drag) * across) / np.maximum(1.0 - across**2, 0.1)
            f[7:10] *= along
        f[0] = (f[7] - f[8] + f[9]) / self.mass - G0 * sine
        f[7:10] *= ground
        turning, f[5], f[12], f[13] = self._motor(omega, stick, mode)
        spin = (turning - torque) / self.inertia
        f[1] = np.where((omega <= 0.0) & (spin < 0.0), 0.0, spin)
        target = 0.0 if self.curve is None or not self.live[piece.phase] else np.interp(stick, *self.curve)
        f[2] = (target - out) / SERVO_LAG
        aim = self.aim(piece, way)
        slowing = aim < self.wanted
        behind = aim - ground
        if self.wind is not None:
            behind = np.maximum(
                *((aim - speed, CRAWL - ground) if slowing else (behind, LEAST_AIR * self.wanted - speed))
            )
        f[3], f[4] = self.pilot.rates(stick, behind, y[4], sine, slowing=slowing)
        f[6] = 1.0
        f[10], f[11] = turning * omega, torque * omega
        f /= ground
        return f

    def _motor(
        self, omega: Floats, stick: Floats, mode: _Mode
    ) -> tuple[Floats, Floats | float, Floats | float, Floats]:
        """Torque on the shaft (N m), battery current (A), power out of the cells (W), heat in cells, controller and
        motor (W)."""
        if not mode.any:
            holding = self.held(omega, mode.brakes)
            return -holding, 0.0, 0.0, holding * omega
        battery: Any = SimpleNamespace(rest_voltage=mode.voltage, resistance=self.cells.resistance)
        point = drive(omega, self.command(stick), motor=self.motor, controller=self.controller, battery=battery)
        current, torque = point.battery_current, point.torque
        heat = point.heat + self.cells.resistance * current**2
        if not mode.all:
            holding = self.held(omega, mode.brakes)
            torque = np.where(mode.drives, torque, -holding)
            current = np.where(mode.drives, current, 0.0)
            heat = np.where(mode.drives, heat, holding * omega)
        return torque, current, mode.voltage * current, heat

    def _air(self, piece: Piece, way: float, ground: Floats, time: Floats) -> tuple[Floats, Floats, Floats]:
        """Air speed (m/s) and the shares of its direction along the path and towards the canopy.

        A stall turn and a spin hold no track: they are flown in the moving air and drift with it, and so does a line
        for what blows across it faster than `HELD` of the speed.
        """
        if self.wind is None or piece.how in ("spin", "stall turn"):
            return ground, np.ones_like(ground), np.zeros_like(ground)
        forward, canopy = piece.attitude(way)
        blown = self.wind(piece.position_at(way)[2], time)
        ahead = np.array(forward)[:, None]
        across = blown - ahead * (ahead * blown).sum(axis=0)
        strength = np.sqrt(np.sum(across**2, axis=0))
        lost = np.maximum(1.0 - HELD * ground / np.maximum(strength, 1e-9), 0.0)
        through = ground * ahead - (blown - lost * across)
        speed = np.maximum(np.sqrt(np.sum(through**2, axis=0)), SLOWEST)
        return speed, np.array(forward) @ through / speed, np.array(canopy) @ through / speed

    def run(self, step: float, speed: float) -> FlownPath:
        """March from the entry to the end of the path, or until no plane flies on."""
        step = min(step, self._stable())
        y = self._start(speed)
        switch = _Switch(self, y)
        kept = self.rows if self.count <= KEPT else len(ROWS)
        log = _Log(y[:kept])
        alive, ended = np.ones(self.count, bool), [Ended.FLOWN] * self.count
        end, empty = np.full(self.count, self.path.length), np.full(self.count, math.inf)
        for number, piece in enumerate(self.path.pieces):
            way = 0.0
            while piece.length - way > 1e-9 and alive.any():
                slowest = float(y[0][alive].min())
                left = piece.length - way
                turns = max(abs(piece.bend), abs(piece.yaw), 0.5 * abs(piece.roll), 1e-9)
                most = min(step * max(slowest, SLOWEST), _TURNED / turns)
                h = left / max(1, math.ceil(left / most - 1e-9))
                mode = switch.look(y, 0.5 * h / max(slowest, SLOWEST))
                y = self._advanced(y, piece, way, h, mode, alive)
                way += h
                place = piece.start + way
                log.add(place, number, y[:kept], ~mode.drives, self.aim(piece, way))
                empty = np.where(self.cells.spent(y[5]) & (empty > place), place, empty)
                switch.cut = place >= empty
                for fault, which in self._faults(y, piece, way, alive):
                    for row in np.flatnonzero(which).tolist():
                        ended[row], end[row] = Ended.EMPTY if empty[row] < place else fault, place
                    alive = alive & ~which
        return log.done(self.path, tuple(ended), end, empty)

    def _advanced(self, y: Floats, piece: Piece, way: float, h: float, mode: _Mode, alive: Bools) -> Floats:
        a = self.rates(y, piece, way, mode)
        b = self.rates(y + 0.5 * h * a, piece, way + 0.5 * h, mode)
        c = self.rates(y + 0.5 * h * b, piece, way + 0.5 * h, mode)
        d = self.rates(y + h * c, piece, way + h, mode)
        new = y + h / 6 * (a + 2 * (b + c) + d)
        new[0] = np.maximum(new[0], SLOWEST)
        new[1] = np.maximum(new[1], 0.0)
        return new if alive.all() else np.where(alive, new, y)

    def _faults(self, y: Floats, piece: Piece, way: float, alive: Bools) -> list[tuple[Ended, Bools]]:
        """Planes that end here."""
        stopped = alive & (y[0] <= SLOWEST)
        before_spin = piece.slow is not None and piece.slow.speed is None
        if piece.how in ("spin", "stall turn", "snap") or before_spin:
            return [(Ended.STOPPED, stopped)] if stopped.any() else []
        speed = y[0] if self.wind is None else self._air(piece, way, y[0], y[6])[0]
        lift = self._asked(piece, y[0], piece.upright(way)[1])
        share = lift / (0.5 * self.density * self.forces.area * speed**2)
        stalled = np.zeros_like(stopped)
        if np.abs(share).max() > self.forces.least:
            stalled = alive & ~stopped & (np.abs(share) > self.forces.most_lift(speed, y[2], lift >= 0))
        return [(fault, which) for fault, which in ((Ended.STOPPED, stopped), (Ended.STALLED, stalled)) if which.any()]

    def _start(self, speed: float) -> Floats:
        """The entry: settled level flight at the holding stick, or whatever shaft speed its stick gives."""
        first = self.path.pieces[0]
        stick = self.pilot.holding(first.upright(0.0)[0])
        y = np.zeros((self.rows, self.count))
        y[0] = speed
        y[1] = self._turning(speed, float(self.plan.motor.command(stick)))
        y[2] = float(self.plan.deployment(stick)) if self.live[first.phase] else 0.0
        y[3] = stick
        return y

    def _stable(self) -> float:
        """Step that the quickest shaft allows, s: `_STABLE` time constants, J over the slopes with shaft speed of the
        torques of propeller and motor, driven at any command or braked."""
        plane, propeller, commands = self.unit.plane, self.unit.propeller, np.linspace(0.1, 1.0, 10)
        turning = driven(plane, propeller, 0.6 * self.wanted, commands, density=self.density).omega
        near = np.maximum(turning, 50.0) * np.array([[0.98], [1.02]])
        torque = propeller.loads(np.full_like(near, 0.6 * self.wanted), near, self.density)[1]
        absorbed = np.maximum((torque[1] - torque[0]) / (near[1] - near[0]), 0.0)[:, None]
        resistance = self.motor.resistance + self.controller.resistance
        against = self.motor.kv**2 * (resistance + commands[:, None] ** 2 * self.cells.resistance)
        steepest = np.maximum((1.0 / against + absorbed * self.driving).max(axis=0), self.held.steepest)
        return _STABLE * float((self.inertia / steepest).min())

    def _turning(self, speed: float, command: float) -> float:
        """Settled shaft speed, rad/s; of several the fastest: a closing stick arrives from above."""
        plane, propeller = self.unit.plane, self.unit.propeller
        if command >= plane.controller.closed_below:
            return float(driven(plane, propeller, speed, command, density=self.density).omega)
        states = shaft_states(plane, propeller, self.plan.motor.level, speed, density=self.density)
        stable = states.omega[0][states.stable[0]]
        return float(stable[-1]) if stable.size else 0.0


@dataclass(frozen=True)
class _Mode:
    """What the controller does in a step: drives (any, all), brakes, else the motor runs free; rest voltage, V."""

    drives: Bools
    brakes: Bools
    voltage: Floats
    any: bool
    all: bool


class _Switch:
    """The controller's state: brakes a delay after closing, drives a delay after the stick has passed its start."""

    def __init__(self, march: _March, y: Floats) -> None:
        self.march, self.controller = march, march.unit.plane.controller
        command = march.command(y[3])
        self.runs = command >= self.controller.closed_below
        self.closed_at = np.full(march.count, -math.inf)
        self.opened_at = np.full(march.count, -math.inf)
        self.closed = ~self.runs
        self.cut = np.zeros(march.count, bool)

    def look(self, y: Floats, half: float) -> _Mode:
        """The mode of a step that begins at state `y` and whose middle is `half` seconds on."""
        command, time = self.march.command(y[3]), y[6]
        closed = command < self.controller.closed_below
        self.closed_at = np.where(closed & ~self.closed, time, self.closed_at)
        self.closed = closed
        runs = ~closed & (self.runs | (command >= self.controller.start_stick))
        self.opened_at = np.where(runs & ~self.runs, time, self.opened_at)
        self.runs = runs
        drives = runs & (time + half >= self.opened_at + self.controller.restart_delay) & ~self.cut
        brakes = closed & (time + half >= self.closed_at + self.controller.brake_delay)
        voltage = self.march.cells.rest(y[5])
        return _Mode(drives=drives, brakes=brakes, voltage=voltage, any=bool(drives.any()), all=bool(drives.all()))


class _Log:
    """States as they come, joined at the end."""

    def __init__(self, y: Floats) -> None:
        self.first = y.copy()
        self.places: list[float] = [0.0]
        self.pieces: list[int] = [0]
        self.states: list[Floats] = [y.copy()]
        self.closed: list[Bools] = []
        self.aims: list[float] = []

    def add(self, place: float, piece: int, y: Floats, closed: Bools, aim: float) -> None:
        """Keep one more state."""
        self.places.append(place)
        self.pieces.append(piece)
        self.states.append(y.copy())
        self.closed.append(closed)
        self.aims.append(aim)

    def done(self, path: Path, ended: tuple[Ended, ...], end: Floats, empty: Floats) -> FlownPath:
        """The flight."""
        return FlownPath(
            path=path,
            place=np.array(self.places),
            piece=np.array(self.pieces),
            state=np.stack(self.states, axis=1),
            closed=np.array([self.closed[0], *self.closed]),
            aim=np.array([self.aims[0], *self.aims]),
            ended=ended,
            end=end,
            empty=empty,
        )


def _columns(points: Points) -> tuple[Floats, Floats]:
    sticks, values = zip(*points, strict=True)
    return np.array(sticks), np.array(values)


def _fastest(unit: PowerUnit, wanted: float) -> float:
    """A shaft speed beyond every state, rad/s."""
    plane = unit.plane
    return 1.2 * max(6 * math.pi * wanted / (0.8 * plane.propeller.pitch), plane.motor.kv * plane.battery.rest_voltage)
