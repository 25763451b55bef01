"""Phases: named sets of throws, and whether crow is live. The motor brake is none of them: it acts in every phase."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError

Array = NDArray[np.float64]

PhaseKind = Literal["take-off", "normal", "snap", "spin", "landing", "other"]
"""What a phase is for, whatever the pilot calls it."""
PHASE_KINDS: tuple[PhaseKind, ...] = get_args(PhaseKind)

NORMAL_THROW = math.radians(7.0)
"""Aileron throw of normal flight, rad. Common practice, no source."""
SNAP_THROW = math.radians(16.5)
"""Aileron throw of snaps and spins, rad. Common practice, no source."""
MOST_THROW = math.radians(60.0)
LEAST_AILERON = math.radians(0.1)
LONGEST_NAME = 40


def soften(stick: ArrayLike, exponential: float) -> Array:
    """Share of the throw at a stick position: y = x (1 - e) + e x^3.

    Args:
        stick: x, -1 to 1, any shape.
        exponential: e, 0 (straight) to 1 (no response at the middle).

    Odd, never falling, 1 at full stick. Our own definition: the share at half stick, .5 - .375 e, compares it with
    any other.

    >>> float(soften(0.5, 0.4))
    0.35
    """
    x = np.asarray(stick, float)
    return np.asarray(x * (1.0 - exponential) + exponential * x**3)


@dataclass(frozen=True, kw_only=True)
class Phase:
    """A named set of throws.

    Args:
        name: as the pilot calls it.
        kind: what it is for.
        crow_live: whether the throttle stick deploys crow here. The crow-off switch overrules it in every phase; the
            motor brake acts either way.
        aileron, elevator, rudder: throw either way at full stick, rad; the aileron's is the mean of up and down.
        aileron_exponential, elevator_exponential, rudder_exponential: 0 to 1, see `soften`.
        roll_boost: share of the aileron throw added at full deployment, in proportion to deployment; -0.5 to 1.
    """

    name: str
    kind: PhaseKind
    crow_live: bool
    aileron: float
    elevator: float
    rudder: float
    aileron_exponential: float = 0.0
    elevator_exponential: float = 0.0
    rudder_exponential: float = 0.0
    roll_boost: float = 0.0

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > LONGEST_NAME or not self.name.isprintable():
            raise ValueRangeError(
                f"a phase name is one line of 1 to {LONGEST_NAME} printable characters, got {self.name!r}"
            )
        if self.kind not in PHASE_KINDS:
            raise ValueRangeError(f"phase {self.name}: kind {self.kind!r} is none of {', '.join(PHASE_KINDS)}")
        for axis in ("aileron", "elevator", "rudder"):
            throw, softness = getattr(self, axis), getattr(self, f"{axis}_exponential")
            if not 0 <= throw <= MOST_THROW + 1e-9:
                raise ValueRangeError(f"phase {self.name}: {axis} throw lies between 0 and 60 deg, got {throw} rad")
            if not 0 <= softness <= 1:
                raise ValueRangeError(f"phase {self.name}: {axis} exponential lies between 0 and 1, got {softness}")
        if self.aileron < LEAST_AILERON - 1e-9:
            raise ValueRangeError(f"phase {self.name}: an aileron throw under .1 deg leaves no roll; give some")
        if not -0.5 <= self.roll_boost <= 1:
            raise ValueRangeError(f"phase {self.name}: roll boost lies between -0.5 and 1, got {self.roll_boost}")


def default_phases(
    *,
    normal: float = NORMAL_THROW,
    snap: float = SNAP_THROW,
    elevator: float = math.radians(30.0),
    rudder: float = math.radians(30.0),
) -> tuple[Phase, ...]:
    """The five phases a plan starts from.

    Args:
        normal, snap: aileron throws, rad.
        elevator, rudder: the greatest throws of the plane, rad, the smaller of both ways.

    Crow is live in normal flight, snaps and spins, off for take-off and landing. Shares and exponential: common
    practice, no source.
    """

    def phase(kind: PhaseKind, crow: bool, aileron: float, up: float, yaw: float, soft: float) -> Phase:
        return Phase(
            name=kind,
            kind=kind,
            crow_live=crow,
            aileron=aileron,
            elevator=up * min(elevator, MOST_THROW),
            rudder=yaw * min(rudder, MOST_THROW),
            aileron_exponential=soft,
            elevator_exponential=soft,
            rudder_exponential=soft,
        )

    return (
        phase("take-off", False, normal, 0.4, 0.8, 0.3),
        phase("normal", True, normal, 0.4, 0.8, 0.3),
        phase("snap", True, snap, 0.8, 1.0, 0.4),
        phase("spin", True, snap, 1.0, 1.0, 0.4),
        phase("landing", False, normal, 0.5, 0.8, 0.3),
    )


def check_phases(phases: tuple[Phase, ...]) -> None:
    """Raise unless names differ and one phase is of kind "normal"."""
    names = [phase.name for phase in phases]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueRangeError(f"two phases are called {', '.join(twice)}: give each its own name")
    if all(phase.kind != "normal" for phase in phases):
        raise ValueRangeError('a plan needs a phase of kind "normal"')


def first_of(phases: tuple[Phase, ...], kind: PhaseKind) -> Phase | None:
    """The first phase of a kind, or None."""
    return next((phase for phase in phases if phase.kind == kind), None)


@dataclass(frozen=True, kw_only=True)
class ThresholdChange:
    """What crow would change on the approach when the throttle stick works across the threshold, motor brake on.

    Args:
        speed: change of the steady gliding speed, m/s, faster positive; None where unknown.
        lift: change of lift at unchanged incidence and speed, share of the weight; None where unknown.
        pitch: pitching it asks for, rad/s, nose up positive; None where unknown.
    """

    speed: float | None = None
    lift: float | None = None
    pitch: float | None = None


def landing_words(phase: Phase, change: ThresholdChange | None = None) -> str:
    """Why crow is off for landing, or what to expect where the pilot leaves it live; the pilot decides."""
    change = change or ThresholdChange()
    parts = []
    if change.speed is not None:
        parts.append(f"{change.speed:+.1f} m/s of speed")
    if change.lift is not None:
        parts.append(f"{100 * change.lift:+.0f} % of lift")
    if change.pitch is not None:
        parts.append(f"{math.degrees(change.pitch):+.0f} deg/s of pitch")
    effect = f": {', '.join(parts)}" if parts else ""
    head = f"Crow is {'live' if phase.crow_live else 'off'} in {phase.name}"
    if phase.crow_live:
        return f"{head}: each time the throttle crosses the threshold it comes and goes{effect}. Your decision."
    return (
        f"{head} so that working the throttle across the threshold on the approach changes nothing but power. "
        f"With crow live it would come and go each time{effect}. The motor brake acts all the same. Your decision."
    )
