"""What the arm offset solver is given and what it answers. Lengths in m, angles in rad, arm angles from square."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from evenfall.errors import ValueRangeError
from evenfall.linkage.corner import Corner
from evenfall.linkage.teeth import ArmSetting

Outcome = Literal["met", "limited", "none"]

RETENTION_BAND = 0.05
"""Roll gain of the linkage deployed against stowed: wanted within this share."""
LOAD_SHARE = 0.5
"""Greatest share of the stall torque."""


@dataclass(frozen=True, kw_only=True)
class CentreShift:
    """How the neutral pulse can be moved off the centre.

    Args:
        means: "radio" (centre shift of the channel), "servo" (programmable) or "none".
        limit: servo turn it reaches either way, rad.
        step: finest step, rad of servo; 0 for stepless.
    """

    means: Literal["radio", "servo", "none"] = "radio"
    limit: float = math.radians(25.0)
    step: float = math.radians(0.1)


@dataclass(frozen=True, kw_only=True)
class OffsetTask:
    """What one corner has and must do. Lengths m, angles rad.

    Args:
        corner: as fitted: geometry, stops, hinge limits, contact, direction, servo gain, crow (signed).
        throw_normal, throw_snap: mean of up and down, both stowed and deployed.
        arm_holes, horn_holes: radii to choose from; empty keeps the ones in use.
        spline_teeth, horn_arms, turn_over: see `evenfall.linkage.teeth`.
        arm_now: arm angle from square at the centre pulse as the horn is fitted now; 0 stands for "square".
        shift: what can move the neutral pulse.
        moment_angles, moments: hinge moment (N m) at surface angles, the greatest wanted; empty where unknown.
        stall_torque: N m at sagged supply; infinite where unknown.
        rod_shortest, rod_longest: what the rod can be adjusted to, m.
    """

    corner: Corner
    throw_normal: float = math.radians(7.0)
    throw_snap: float = math.radians(16.5)
    arm_holes: tuple[float, ...] = ()
    horn_holes: tuple[float, ...] = ()
    spline_teeth: int = 25
    horn_arms: int = 1
    turn_over: bool = False
    arm_now: float = 0.0
    shift: CentreShift = CentreShift()
    moment_angles: tuple[float, ...] = ()
    moments: tuple[float, ...] = ()
    stall_torque: float = math.inf
    rod_shortest: float = 0.0
    rod_longest: float = math.inf

    def __post_init__(self) -> None:
        if not 0 < self.throw_normal <= self.throw_snap < math.radians(60):
            raise ValueRangeError(
                "throws must be above 0, normal not more than snap, snap below 60 deg; got "
                f"{math.degrees(self.throw_normal):.1f} and {math.degrees(self.throw_snap):.1f} deg"
            )
        if len(self.moment_angles) != len(self.moments):
            raise ValueRangeError("give one hinge moment for each surface angle")


@dataclass(frozen=True, kw_only=True)
class Position:
    """One place of the corner.

    Args:
        name: "neutral", "deployed", or for example "snap up, deployed".
        servo: arm angle from square, rad.
        pulse: s.
        surface: rad, trailing edge down positive.
        clipped: the limit was reached before the whole stick.
    """

    name: str
    servo: float
    pulse: float
    surface: float
    clipped: bool


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One way to set the corner up, judged.

    Args:
        corner: as it would be fitted (holes, rod, teeth).
        setting: how to fit the arm.
        shift: pulse shift of neutral as a servo turn, rad, pushing positive; `shift_pulse` the same in s of pulse.
        offset: arm angle from square with the surface at neutral, rad (teeth plus shift).
        normal_turn, snap_turn: servo turn either way for the two throws, rad.
        retention: mean roll throw deployed over stowed at the normal stick.
        retention_snap: the same at the snap stick, clipped at the limits.
        snap_stowed, snap_deployed: greatest mean throw with equal turns either way, rad.
        uneven: (down - up)/(down + up) of the normal throw stowed; down larger positive.
        resolution: coarsest surface step of one pulse step, rad.
        load: greatest servo torque over stall torque; 0 where no hinge moment was given.
        room_low, room_high: servo turn left beyond the used extremes, rad.
        positions: neutral, deployed and the extremes of both throws.
        score: smaller is better; comparable within one result.
        met: every target met.
        why: reasons for refusal, or what speaks for it.
    """

    corner: Corner
    setting: ArmSetting
    shift: float
    shift_pulse: float
    offset: float
    normal_turn: float
    snap_turn: float
    retention: float
    retention_snap: float
    snap_stowed: float
    snap_deployed: float
    uneven: float
    resolution: float
    load: float
    room_low: float
    room_high: float
    positions: tuple[Position, ...]
    score: float
    met: bool
    why: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Loss:
    """What the same holes would lose with the arm square at neutral.

    Args:
        possible: whether the crow can be reached at all.
        retention: roll deployed over stowed at the normal stick; 0 where not possible.
        normal_lost, snap_lost: degrees of mean throw missing with crow out, rad, against the wanted throws.
        text: in words.
    """

    possible: bool
    retention: float
    normal_lost: float
    snap_lost: float
    text: str


@dataclass(frozen=True, kw_only=True)
class OffsetResult:
    """The answer for one corner.

    Args:
        status: "met", "limited" (flies, something is short) or "none".
        reason: one sentence.
        best: the chosen candidate; None only with status "none".
        candidates: the best few, ranked, refused ones with their reasons.
        tried: how many were judged.
        no_offset: what an arm left square would lose, with the best candidate's holes.
    """

    status: Outcome
    reason: str
    best: Candidate | None
    candidates: tuple[Candidate, ...]
    tried: int
    no_offset: Loss | None


@dataclass(frozen=True, kw_only=True)
class PlaneOffsets:
    """The four corners together.

    Args:
        corners: result by corner name.
        retention: mean over the corners of roll throw deployed over stowed at the normal stick; 0 with a "none".
        status: the worst of the corners.
        reason: which corner and why.
    """

    corners: dict[str, OffsetResult]
    retention: float
    status: Outcome
    reason: str
