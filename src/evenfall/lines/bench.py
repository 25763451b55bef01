"""The bench list: what every aileron must show at every position of the sticks, phase by phase, and how closely.

Stick positions: throttle 0 (closed) to 1, aileron -1 (left) to 1 (right), elevator -1 (pushed) to 1 (pulled). Angles in
rad, trailing edge down positive.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.lines.throws import fitted_corner, roll_turn
from evenfall.linkage.corner import Corner, corner_limits
from evenfall.linkage.fitted import proof_kit
from evenfall.linkage.proof import CENTRE_TOLERANCE, GAUGE_NOISE, ROLL_TOLERANCE, Kit
from evenfall.plane.airframe import Plane
from evenfall.plane.controls import Linkage, Servo
from evenfall.radio.phases import Phase, soften
from evenfall.radio.plan import Plan

Array = NDArray[np.float64]

READS = 2
"""Readings the tolerance reckons with at each position: pressed up, pressed down."""
_SAME = 0.02
"""Throttle positions nearer than this are one row."""
_CROW_DISAGREES = math.radians(0.5)


@dataclass(frozen=True, kw_only=True)
class BenchCorner:
    """One aileron on the bench.

    Args:
        name: "upper_left" and so on.
        crow: surface angle fully deployed, rad.
        fitted: its servo and linkage as they should stand; None where the plane file describes none.
        kit: what could be one off. planned: fitted by the plan, else as measured in the plane file.
        words: how the arm is fitted, empty where not planned.
        own_shift: s of pulse a programmable servo adds itself; the radio sends that much less.
        turns: servo turn of the roll at full stick by phase name, rad.
    """

    name: str
    crow: float
    fitted: Corner | None = None
    kit: Kit = field(default_factory=Kit)
    planned: bool = False
    words: str = ""
    own_shift: float = 0.0
    turns: Mapping[str, float] = field(default_factory=dict)

    @property
    def left(self) -> bool:
        """On the left as seen from behind."""
        return self.name.endswith("left")

    def command(self, phase: Phase, deployment: ArrayLike, aileron: ArrayLike) -> Array:
        """Arm angle asked for, rad from square, limits not applied; only where fitted.

        servo = servo(deployment x crow) + share turn (1 + boost deployment), share from the stick through the
        exponential: crow and roll add in servo travel, as a radio mixes them.
        """
        if self.fitted is None:
            raise AssertionError("a corner without linkage has no servo angle")
        out = np.asarray(deployment, float)
        way = self.fitted.roll_sign * self.fitted.bar.sense
        roll = roll_share(phase, out, aileron) * self.turns[phase.name]
        return np.asarray(self.fitted.servo(out * self.crow) + way * roll)

    def held(self, phase: Phase, deployment: float, aileron: float) -> bool:
        """A limit of the travel comes before the position asked for."""
        if self.fitted is None:
            return False
        limits, asked = corner_limits(self.fitted), float(self.command(phase, deployment, aileron))
        return not float(limits.low) - 1e-9 <= asked <= float(limits.high) + 1e-9

    def angle(self, phase: Phase, deployment: float, aileron: float) -> float:
        """Surface angle to be shown, rad, held at the limits."""
        if self.fitted is None:
            roll = float(roll_share(phase, deployment, aileron)) * phase.aileron
            return deployment * self.crow + (roll if self.left else -roll)
        limits = corner_limits(self.fitted)
        asked = np.clip(self.command(phase, deployment, aileron), limits.low, limits.high)
        return float(self.fitted.throw(asked))

    def pulse(self, phase: Phase, deployment: float, aileron: float) -> float | None:
        """Pulse in s the radio sends for that position; None without a servo."""
        if self.fitted is None:
            return None
        return float(self.fitted.pulse(self.command(phase, deployment, aileron))) - self.own_shift


def roll_share(phase: Phase, deployment: ArrayLike, aileron: ArrayLike) -> Array:
    """Share of the phase's roll travel at a stick position: exponential, then boost with deployment."""
    return np.asarray(
        soften(aileron, phase.aileron_exponential) * (1.0 + phase.roll_boost * np.asarray(deployment, float))
    )


@dataclass(frozen=True, kw_only=True)
class Shown:
    """What must be shown at one position of the sticks.

    Args:
        words: the position as a pilot says it.
        throttle, aileron, elevator: sticks.
        deployment: 0 to 1.
        angles: by corner, rad. tolerance: rad, on the mean of two readings of each aileron.
        tail: elevator angle, rad; None where it is not asked for.
        pulses: by corner, s; empty without servos.
        held: corners that meet a limit before this position.
    """

    words: str
    throttle: float
    aileron: float
    elevator: float
    deployment: float
    angles: Mapping[str, float]
    tolerance: float
    tail: float | None
    pulses: Mapping[str, float]
    held: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class BenchPhase:
    """One phase of the list."""

    phase: Phase
    rows: tuple[Shown, ...]


@dataclass(frozen=True, kw_only=True)
class BenchList:
    """Everything to be checked on the bench.

    Args:
        plane, plan: what it was made for.
        corners: by name.
        phases: in the plan's order.
        half: throttle stick at which crow is half out; None without crow.
        level_stick: throttle stick of level flight; None where not known.
        notes: what the list had to assume.
    """

    plane: Plane
    plan: Plan
    corners: Mapping[str, BenchCorner]
    phases: tuple[BenchPhase, ...]
    half: float | None
    level_stick: float | None
    notes: tuple[str, ...]

    @property
    def provable(self) -> bool:
        """Readings can be judged: every aileron has a servo and a linkage."""
        return bool(self.corners) and all(corner.fitted is not None for corner in self.corners.values())

    def deployment(self, phase: Phase, throttle: float) -> float:
        """Deployment 0-1 at a throttle stick in a phase."""
        return float(self.plan.deployment(throttle)) if phase.crow_live else 0.0

    def tail(self, phase: Phase, throttle: float, elevator: float = 0.0) -> float:
        """Elevator angle, rad trailing edge down: deployment's share and the stick (pulled is up)."""
        share = 0.0 if self.plan.crow is None else self.plan.crow.elevator
        own = float(soften(elevator, phase.elevator_exponential)) * phase.elevator
        return self.deployment(phase, throttle) * share - own


def bench_list(plane: Plane, plan: Plan, *, level_stick: float | None = None) -> BenchList:
    """What every aileron and the elevator must show, phase by phase.

    Args:
        level_stick: throttle stick (0-1) of level flight at the wanted speed, for its row; None leaves it out.
    """
    notes: list[str] = []
    corners = bench_corners(plane, plan, notes)
    half = None if plan.crow is None or plan.crow.angle == 0 else _half_out(plan)
    base = BenchList(
        plane=plane, plan=plan, corners=corners, phases=(), half=half, level_stick=level_stick, notes=tuple(notes)
    )
    return replace(base, phases=tuple(_phase_rows(base, phase) for phase in plan.phases))


def bench_corners(plane: Plane, plan: Plan, notes: list[str]) -> dict[str, BenchCorner]:
    """Every aileron with its linkage as the plan wants it, else as measured; what was assumed goes to `notes`."""
    found: dict[str, BenchCorner] = {}
    servo = plane.aileron_servo
    for wing_name, wing in plane.wings.items():
        if wing.aileron is None:
            continue
        for side in ("left", "right"):
            name = f"{wing_name}_{side}"
            crow = 0.0 if plan.crow is None else (plan.crow.upper if wing_name == "upper" else plan.crow.lower)
            linkage = plane.aileron_linkage.get(name)
            if servo is None or linkage is None:
                found[name] = BenchCorner(name=name, crow=crow)
                continue
            found[name] = _fitted(fitted_corner(plane, plan, name), servo, linkage, plan, notes)
    if found and all(corner.fitted is None for corner in found.values()):
        notes.append(
            "The plane file describes no aileron servo and linkage: angles are those of the plan, and readings cannot "
            "be judged. Add [servo.aileron] and [linkage.aileron]."
        )
    elif any(not corner.planned for corner in found.values()):
        notes.append("The plan says nothing about arms and holes: angles are for the linkage as the plane file has it.")
    return found


def _fitted(corner: Corner, servo: Servo, linkage: Linkage, plan: Plan, notes: list[str]) -> BenchCorner:
    setup = plan.corners.get(corner.name)
    if setup is not None and plan.crow is not None:
        shown = float(corner.throw(corner.servo_of_pulse(setup.pulse_deployed)))
        if abs(shown - corner.crow) > _CROW_DISAGREES:
            where = corner.name.replace("_", " ").capitalize()
            angle = f"{round(math.degrees(shown), 1) + 0.0:+.1f} deg"
            notes.append(
                f"{where}: the plan's pulse with crow out gives {angle}, its crow is "
                f"{math.degrees(corner.crow):+.1f} deg. One was edited; this list goes by the angle."
            )
    return BenchCorner(
        name=corner.name,
        crow=corner.crow,
        fitted=corner,
        kit=proof_kit(servo, linkage),
        planned=setup is not None,
        words="" if setup is None else setup.words,
        own_shift=setup.shift if setup is not None and setup.shift_means == "servo" else 0.0,
        turns={phase.name: roll_turn(corner, phase.aileron) for phase in plan.phases},
    )


def _half_out(plan: Plan) -> float:
    """Throttle stick where deployment is one half; in the middle where the curve stays there."""
    sticks = np.linspace(0.0, 1.0, 2001)
    off = np.abs(plan.deployment(sticks) - 0.5)
    return round(float(sticks[off <= off.min() + 1e-9].mean()), 3)


def tolerance(roll: float) -> float:
    """How far the mean of two readings may be from the list, rad.

    max(2 sigma/sqrt(2), .5 deg, 5 % of the roll part): two sigma of the gauge's noise, the neutral that counts as
    right, and the error that costs a twentieth of the roll.

    Args:
        roll: roll part of the angle, rad.
    """
    return max(2.0 * GAUGE_NOISE / math.sqrt(READS), CENTRE_TOLERANCE, ROLL_TOLERANCE * abs(roll))


def stick_worth(angle: float, throw: float, *, ailerons: int) -> float:
    """Share of aileron stick that holds one aileron standing wrong by `angle`: angle/(ailerons x throw).

    All ailerons taken as equally strong; `throw` at full stick, rad.
    """
    return angle / (ailerons * throw) if ailerons and throw > 0 else 0.0


def _phase_rows(base: BenchList, phase: Phase) -> BenchPhase:
    rows = [_shown(base, phase, words, throttle=stick) for stick, words in _throttles(base, phase)]
    lines = [(1.0, ", crow in" if phase.crow_live and base.half is not None else "")]
    if phase.crow_live and base.half is not None:
        lines.append((0.0, ", crow out"))
    for throttle, state in lines:
        for aileron, words in ((1.0, "aileron full right"), (0.5, "aileron half right"), (-1.0, "aileron full left")):
            rows.append(_shown(base, phase, words + state, throttle=throttle, aileron=aileron))
    for elevator, words in ((1.0, "elevator pulled"), (-1.0, "elevator pushed")):
        rows.append(_shown(base, phase, words, throttle=1.0, elevator=elevator))
    return BenchPhase(phase=phase, rows=tuple(rows))


def _throttles(base: BenchList, phase: Phase) -> list[tuple[float, str]]:
    """Throttle positions worth a row, closed first; near ones share a row."""
    if base.half is None or base.plan.crow is None:
        return [(0.0, "sticks in the middle, throttle anywhere")]
    if not phase.crow_live:
        return [(0.0, "throttle closed: crow stays in"), (1.0, "throttle full")]
    named = [
        (0.0, "throttle closed: crow out"),
        (0.25, "throttle 25 %"),
        (base.half, "crow half out"),
        (base.plan.crow.threshold, "threshold: crow just in"),
    ]
    if base.level_stick is not None:
        named.append((base.level_stick, "level flight"))
    named.append((1.0, "throttle full"))
    rows: list[tuple[float, str]] = []
    for stick, words in sorted(named):
        if rows and stick - rows[-1][0] < _SAME:
            rows[-1] = (rows[-1][0], f"{rows[-1][1]}; {words}")
        else:
            rows.append((stick, words))
    return rows


def _shown(
    base: BenchList, phase: Phase, words: str, *, throttle: float, aileron: float = 0.0, elevator: float = 0.0
) -> Shown:
    out = base.deployment(phase, throttle)
    corners = base.corners
    pulses = {name: corner.pulse(phase, out, aileron) for name, corner in corners.items()}
    tail = base.tail(phase, throttle, elevator)
    asks_tail = elevator != 0.0 or (aileron == 0.0 and base.plan.crow is not None and base.plan.crow.elevator != 0.0)
    return Shown(
        words=words,
        throttle=throttle,
        aileron=aileron,
        elevator=elevator,
        deployment=out,
        angles={name: corner.angle(phase, out, aileron) for name, corner in corners.items()},
        tolerance=tolerance(float(roll_share(phase, out, aileron)) * phase.aileron),
        tail=tail if asks_tail else None,
        pulses={name: pulse for name, pulse in pulses.items() if pulse is not None},
        held=tuple(name for name, corner in corners.items() if corner.held(phase, out, aileron)),
    )
