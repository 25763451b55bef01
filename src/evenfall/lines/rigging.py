"""Clean first: what each fault of rigging does to the lines without crow, whether they are straight, and the cure.

Every effect is the difference of two solves of the whole plane (`evenfall.lines.hands_off`), given twice: with
ailerons and rudder neutral, and after the pilot has trimmed level flight hands off, which is what is left on the line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.surfaces import plane_surfaces
from evenfall.aero.trim import neutral_point
from evenfall.aero.wings import Flow, LiftingLine
from evenfall.lines.balance import Airframe
from evenfall.lines.bend import STRAIGHT_ENOUGH
from evenfall.lines.hands_off import (
    FlownLine,
    HeldControls,
    RollWithYaw,
    hands_off,
    level_controls,
    roll_with_yaw,
    with_crow,
)
from evenfall.lines.rig_faults import DEG, Fault, record, rigged, rigging_faults
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Crow

Floats = NDArray[np.float64]

AXES = ("pitch", "roll", "yaw")
ROLL_ENOUGH = 5 * DEG
"""rad/s of roll that pass as none: 11 degrees over 50 m at 22 m/s. Ours, no source."""
YAW_ENOUGH = STRAIGHT_ENOUGH
"""rad/s of yaw that pass as none. Ours, no source."""
TOLERANCE = np.array([STRAIGHT_ENOUGH, ROLL_ENOUGH, YAW_ENOUGH])
LEAST_MARGIN = 0.03
"""Static margin (share of mean chord) below which no CG cure is advised. Common practice, no source."""
MOST_MARGIN = 0.15
"""Static margin above which no CG cure is advised. Common practice, no source."""
CLIMB_WEIGHT = 0.5
"""Weight of the power-on vertical in the choice of a cure: it must not bend as much as another is straightened."""
MOST_CURES = 3
_MORE_WORK = 0.15
"""Handicap of a cure that puts no recorded fault right, doubled at its limit, in units of the tolerance."""
_SMALL_STEP = 0.25


@dataclass(frozen=True, kw_only=True)
class Flown:
    """Rates on the lines, rad/s, (lines, 3) pitch, roll, yaw: ailerons and rudder neutral, and after level trim."""

    neutral: Floats
    trimmed: Floats
    held: HeldControls
    converged: bool


@dataclass(frozen=True, kw_only=True)
class CleanFlight:
    """How the lines are flown: the airframe as recorded, the lines, level thrust (N) and the speed (m/s)."""

    frame: Airframe
    lines: tuple[FlownLine, ...]
    level_thrust: float
    speed: float
    _lines: dict[object, LiftingLine] = field(default_factory=dict, repr=False, compare=False)

    def airframe(self, plane: Plane) -> Airframe:
        """This plane with the sections and stream of the recorded one; only rigging and CG may differ."""
        flown = rigged(plane)
        surfaces = plane_surfaces(flown)
        if surfaces not in self._lines:
            self._lines[surfaces] = LiftingLine(surfaces, self.frame.line.sections)
        return Airframe(plane=flown, air=self.frame.air, line=self._lines[surfaces], in_stream=self.frame.in_stream)

    def fly(self, plane: Plane) -> Flown:
        """Every line hands off."""
        frame = self.airframe(plane)
        held, found = level_controls(frame, speed=self.speed, thrust=self.level_thrust)
        neutral = hands_off(frame, self.lines, replace(held, aileron=0.0, rudder=0.0), speed=self.speed)
        trimmed = hands_off(frame, self.lines, held, speed=self.speed)
        return Flown(
            neutral=np.stack([neutral.pitch, neutral.roll, neutral.yaw], axis=1),
            trimmed=np.stack([trimmed.pitch, trimmed.roll, trimmed.yaw], axis=1),
            held=held,
            converged=bool(found and neutral.converged.all() and trimmed.converged.all()),
        )

    @property
    def judged(self) -> NDArray[np.intp]:
        """The lines that decide whether clean is straight: those flown downwards."""
        return np.array([k for k, line in enumerate(self.lines) if line.slope < 0], int)


def clean_lines(*, closed_thrust: float, climb_thrust: float) -> tuple[FlownLine, ...]:
    """Vertical down, 45 down upright and inverted with the stick closed, vertical up under power (thrust in N)."""
    down, half = -math.pi / 2, -math.pi / 4
    return (
        FlownLine(name="vertical down", slope=down, thrust=closed_thrust),
        FlownLine(name="45 down", slope=half, thrust=closed_thrust),
        FlownLine(name="45 down inverted", slope=half, thrust=closed_thrust, inverted=True),
        FlownLine(name="vertical up", slope=-down, thrust=climb_thrust),
    )


@dataclass(frozen=True, kw_only=True)
class FaultEffect:
    """What one fault does, rates in rad/s, (lines, 3) pitch, roll, yaw.

    Args:
        value: as recorded, SI; None where it was not taken. sigma: its doubt, or that of a build nobody checked.
        unit_neutral, unit_trimmed: of `fault.unit` more, ailerons and rudder neutral and after level trim.
        neutral, trimmed: of the recorded fault; None where there is none or where no value is the true one.
    """

    fault: Fault
    value: float | None
    sigma: float
    unit_neutral: Floats
    unit_trimmed: Floats
    neutral: Floats | None
    trimmed: Floats | None
    converged: bool

    @property
    def doubt(self) -> Floats:
        """One sigma of the rates that comes of the doubt of this number, after level trim, (lines, 3)."""
        return np.asarray(np.abs(self.unit_trimmed) * self.sigma / self.fault.unit)


@dataclass(frozen=True, kw_only=True)
class Play:
    """What play at the ailerons leaves open: one sigma of roll (rad/s, vertical down) and of crow (rad)."""

    slop: float
    roll: float
    crow: float


@dataclass(frozen=True, kw_only=True)
class Cure:
    """One change of rigging and what it does, as computed.

    Args:
        fault, change: SI. words: in the pilot's words.
        line, axis: where it helps most. before, after: rates there, rad/s. flown: every line with the cure done.
        recorded: it puts a recorded fault right.
    """

    fault: Fault
    change: float
    words: str
    line: str
    axis: str
    before: float
    after: float
    flown: Flown
    recorded: bool

    @property
    def sentence(self) -> str:
        """The cure with its effect."""
        gain = f"goes from {math.degrees(self.before):+.1f} to {math.degrees(self.after):+.1f} deg/s"
        return f"{self.words[0].upper()}{self.words[1:]}: {self.axis} on the clean {self.line} {gain}."


@dataclass(frozen=True, kw_only=True)
class CleanReport:
    """Clean first: the lines as recorded, every fault, whether clean is straight, and the cures in order.

    Args:
        margin: static margin, share of mean chord. neutral_x: neutral point, m aft of the datum.
        play: None where no slop was recorded. blade_tip: m the blade tips are out of track, None where not recorded.
        roll, roll_crow: a roll on the vertical with the fin in the solve, crow stowed and out; None without ailerons
            or crow.
        cured: the lines after all cures.
    """

    flight: CleanFlight
    present: Flown
    effects: tuple[FaultEffect, ...]
    margin: float
    neutral_x: float
    play: Play | None
    blade_tip: float | None
    roll: RollWithYaw | None
    roll_crow: RollWithYaw | None
    cures: tuple[Cure, ...]

    @property
    def straight(self) -> bool:
        """Every line flown downwards is within `TOLERANCE` after level trim."""
        return bool(worst(self.flight, self.present) <= 1.0)

    @property
    def cured(self) -> Flown:
        """The lines after the cures; as they are where there is none."""
        return self.cures[-1].flown if self.cures else self.present

    def effect(self, key: str) -> FaultEffect:
        """The effect of that key."""
        return next(item for item in self.effects if item.fault.key == key)

    def explains(self, line: int, axis: int) -> FaultEffect | None:
        """The recorded fault that explains most of a rate; None where none of them adds to it."""
        rate = self.present.trimmed[line, axis]

        def share(item: FaultEffect) -> float:
            return 0.0 if item.trimmed is None else float(item.trimmed[line, axis] * np.sign(rate))

        best = max(self.effects, key=share)
        return best if share(best) > 0.1 * abs(rate) else None


def worst(flight: CleanFlight, flown: Flown) -> float:
    """Greatest rate of the judged lines over its tolerance."""
    return float(np.max(np.abs(flown.trimmed[flight.judged]) / TOLERANCE))


def _weighed(flight: CleanFlight, rates: Floats) -> Floats:
    """Rates over their tolerance; lines flown upwards, which do not decide, at less weight."""
    weight = np.where([line.slope < 0 for line in flight.lines], 1.0, CLIMB_WEIGHT)
    return np.asarray(weight[:, None] * rates / TOLERANCE)


def _size(flight: CleanFlight, rates: Floats) -> float:
    return float(np.sqrt(np.mean(_weighed(flight, rates) ** 2)))


def clean_report(
    flight: CleanFlight,
    *,
    sigmas: Mapping[str, float] | None = None,
    guessed: Sequence[str] = (),
    throw: float = 7 * DEG,
    crow: Crow | None = None,
) -> CleanReport:
    """Effects of every fault on the clean lines, the verdict, and the cures.

    Args:
        sigmas: one sigma (SI) by attribute path, as the plane file has them. guessed: paths that were guessed.
        throw: aileron of the roll on the vertical, rad. crow: to roll with as well, fully out.
    """
    plane = flight.frame.plane
    known = {} if sigmas is None else dict(sigmas)
    present = flight.fly(plane)
    effects = tuple(
        fault_effect(flight, fault, present, sigmas=known, guessed=guessed) for fault in rigging_faults(plane)
    )
    margin, neutral_x = _margin(flight)
    frame = flight.airframe(plane)
    ailerons = any(wing.aileron is not None for wing in plane.wings.values())

    def rolled(held: HeldControls) -> RollWithYaw:
        return roll_with_yaw(frame, flight.lines[0], held, throw=throw, speed=flight.speed)

    report = CleanReport(
        flight=flight,
        present=present,
        effects=effects,
        margin=margin,
        neutral_x=neutral_x,
        play=_play(flight, present) if ailerons else None,
        blade_tip=record(plane).blade_tip_difference,
        roll=rolled(present.held) if ailerons else None,
        roll_crow=rolled(with_crow(frame, present.held, crow)) if ailerons and crow is not None else None,
        cures=(),
    )
    return replace(report, cures=find_cures(report))


def fault_effect(
    flight: CleanFlight,
    fault: Fault,
    present: Flown,
    *,
    sigmas: Mapping[str, float],
    guessed: Sequence[str] = (),
) -> FaultEffect:
    """Effect of one fault: per unit about the recorded plane, and of the recorded value against the true one.

    `sigmas`: one sigma of the recorded values by path, SI. `guessed`: paths that nobody measured.
    """
    plane = flight.frame.plane
    value = fault.value(plane)
    step = _SMALL_STEP * fault.unit if fault.kind == "angle" else fault.unit
    moved = flight.fly(fault.put(plane, value + step))
    scale = fault.unit / step
    taken = _taken(plane, fault, guessed)
    trued = flight.fly(fault.put(plane, 0.0)) if taken and fault.true and value else None
    return FaultEffect(
        fault=fault,
        value=value if taken else None,
        sigma=_sigma(fault, sigmas, taken),
        unit_neutral=(moved.neutral - present.neutral) * scale,
        unit_trimmed=(moved.trimmed - present.trimmed) * scale,
        neutral=None if trued is None else present.neutral - trued.neutral,
        trimmed=None if trued is None else present.trimmed - trued.trimmed,
        converged=moved.converged and present.converged and (trued is None or trued.converged),
    )


def _taken(plane: Plane, fault: Fault, guessed: Sequence[str]) -> bool:
    """The file has this number: a single incidence says nothing of left against right."""
    if fault.key.endswith("_twist") or fault.key == "fin_offset":
        return fault.value(plane) != 0.0
    if fault.key == "lateral_balance":
        return record(plane).tip_balance is not None or (fault.value(plane) != 0.0)
    if fault.paths[0].startswith("rigging."):
        return getattr(record(plane), fault.key) is not None
    return not any(path in guessed for path in fault.paths)


def _sigma(fault: Fault, sigmas: Mapping[str, float], taken: bool) -> float:
    """Doubt of the record; of a mean over left and right the root of the sum counts half."""
    given = [sigmas[path] for path in fault.paths if path in sigmas]
    if not taken or not given:
        return fault.usual
    share = math.sqrt(0.5) if fault.key == "decalage" else 1.0
    return share * math.hypot(*given)


def _margin(flight: CleanFlight) -> tuple[float, float]:
    """Static margin (share of mean chord) and neutral point (m aft of the datum) at zero incidence."""
    frame = flight.airframe(flight.frame.plane)
    flow = Flow(
        speed=np.array([flight.speed]),
        alpha=np.zeros(1),
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
    )
    ahead = float(-neutral_point(frame.line, flow)[0])
    return ahead / frame.plane.mean_chord, frame.plane.mass.cg_x + ahead


def _play(flight: CleanFlight, present: Flown) -> Play | None:
    """Play as a rectangle of its full width on every aileron by itself: sigma = slop/sqrt(12)."""
    slop = record(flight.frame.plane).slop
    if slop is None:
        return None
    frame, step = flight.airframe(flight.frame.plane), 1 * DEG
    corners = [name for name in frame.line.controls if name.endswith(("_left", "_right"))]
    rates = []
    for corner in corners:
        held = replace(present.held, added={corner: step})
        moved = hands_off(frame, flight.lines[:1], held, speed=flight.speed)
        rates.append((float(moved.roll[0]) - float(present.trimmed[0, 1])) / step)
    sigma = slop / math.sqrt(12)
    return Play(slop=slop, roll=sigma * math.hypot(*rates), crow=sigma / math.sqrt(len(corners)))


def find_cures(report: CleanReport) -> tuple[Cure, ...]:
    """Up to three changes of rigging that bring clean inside the tolerance, each solved with those before it.

    A recorded fault is put right where that helps; otherwise the change that leaves the smallest rates for the least
    work. Sensitivities choose, the engine decides: a change that does not help when flown is dropped.
    """
    flight, flown, plane = report.flight, report.present, report.flight.frame.plane
    cures: list[Cure] = []
    used: set[str] = set()
    while len(cures) < MOST_CURES and worst(flight, flown) > 1.0:
        cure = _next_cure(report, plane, flown, used)
        if cure is None:
            break
        cures.append(cure)
        used.add(cure.fault.key)
        plane = cure.fault.put(plane, cure.fault.value(plane) + cure.change)
        flown = cure.flown
    return tuple(cures)


def _next_cure(report: CleanReport, plane: Plane, flown: Flown, used: set[str]) -> Cure | None:
    flight = report.flight
    before = _size(flight, flown.trimmed)
    options = []
    for effect in report.effects:
        if not effect.fault.advised or effect.fault.key in used or not effect.converged:
            continue
        for change, recorded in _changes(report, plane, flown, effect):
            left = _size(flight, flown.trimmed + effect.unit_trimmed * change / effect.fault.unit)
            work = 0.0 if recorded else _MORE_WORK * (1 + abs(change) / effect.fault.limit)
            options.append((left + work, left, effect.fault, change, recorded))
    for _, left, fault, change, recorded in sorted(options, key=lambda option: option[0])[:4]:
        if left > 0.9 * before:
            continue
        then = flight.fly(fault.put(plane, fault.value(plane) + change))
        if then.converged and _size(flight, then.trimmed) < 0.9 * before:
            return _cure(flight, plane, flown, then, fault=fault, change=change, recorded=recorded)
    return None


def _changes(report: CleanReport, plane: Plane, flown: Flown, effect: FaultEffect) -> list[tuple[float, bool]]:
    """Changes worth trying: putting a recorded fault right, and the least squares one in steps a pilot can set."""
    fault, flight = effect.fault, report.flight
    found: list[tuple[float, bool]] = []
    if fault.true and effect.value:
        found.append((-effect.value, True))
    slope = _weighed(flight, effect.unit_trimmed / fault.unit).ravel()
    rates = _weighed(flight, flown.trimmed).ravel()
    if slope @ slope * fault.limit**2 > 1e-4:
        low, high = -fault.limit, fault.limit
        if fault.key == "cg_x":
            chord = plane.mean_chord
            low = max(low, -max(0.0, MOST_MARGIN - report.margin) * chord)
            high = min(high, max(0.0, report.margin - LEAST_MARGIN) * chord)
        change = float(np.clip(-(slope @ rates) / (slope @ slope), low, high))
        change = math.copysign(math.floor(abs(change) / fault.step + 1e-6) * fault.step, change)
        if change:
            found.append((change, False))
    return found


def _cure(
    flight: CleanFlight, plane: Plane, flown: Flown, then: Flown, *, fault: Fault, change: float, recorded: bool
) -> Cure:
    gain = (np.abs(flown.trimmed) - np.abs(then.trimmed))[flight.judged] / TOLERANCE
    row, axis = np.unravel_index(int(np.argmax(gain)), gain.shape)
    line = int(flight.judged[row])
    return Cure(
        fault=fault,
        change=change,
        words=fault.cure(plane, change),
        line=flight.lines[line].name,
        axis=AXES[int(axis)],
        before=float(flown.trimmed[line, axis]),
        after=float(then.trimmed[line, axis]),
        flown=then,
        recorded=recorded,
    )
