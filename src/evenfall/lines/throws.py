"""Plan and linkage to what the surfaces really do: corners as the plan fits them, pulses, angles through the linkage.

Everything here is exact kinematics; loads and play are not part of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.budget import PhaseUse
from evenfall.linkage.candidate import CentreShift
from evenfall.linkage.corner import Corner, Limits, corner_limits, retention, turn_for_mean
from evenfall.linkage.fitted import PULSE_CENTRE, corner_as_measured
from evenfall.linkage.fourbar import fourbar, offset_of, with_offset
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.plane.controls import Linkage, Servo
from evenfall.radio.channels import CornerTravel, crow_angle
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.mixer import Sticks, live_deployment, roll_throw
from evenfall.radio.phases import Phase, soften
from evenfall.radio.plan import Plan, present_plan, surface_deltas
from evenfall.radio.radio_description import RadioDescription

Array = NDArray[np.float64]


def fitted_corner(plane: Plane, plan: Plan, name: str, *, pulse_step: float = 1e-6) -> Corner:
    """A corner as the plan fits it, or as measured where the plan says nothing about it.

    Holes, teeth, offset and shift are the plan's; the rod is the one that puts the surface at neutral. Raises where
    the plane file has no servo, linkage or aileron for it, or where the holes cannot be joined.
    """
    servo, linkage = plane.aileron_servo, plane.aileron_linkage.get(name)
    wing = plane.wings.get(name.partition("_")[0])
    if servo is None or linkage is None or wing is None or wing.aileron is None:
        raise ValueRangeError(
            f"{name.replace('_', ' ')}: no servo, linkage or aileron in the plane file; give [servo.aileron] and "
            "[linkage.aileron]"
        )
    setup = plan.corners.get(name)
    if setup is not None:
        linkage = _with_setup(linkage, setup)
    corner = corner_as_measured(
        name,
        servo,
        linkage,
        crow=crow_angle(plan, name),
        throw_up=wing.aileron.throw_up,
        throw_down=wing.aileron.throw_down,
        pulse_step=pulse_step,
    )
    if setup is None:
        return corner
    return replace(corner, centre=corner.neutral - corner.direction * corner.servo_gain * setup.shift)


def _with_setup(linkage: Linkage, setup: CornerSetup) -> Linkage:
    """The linkage with the plan's holes and the rod for its offset."""
    one = replace(linkage, arm=setup.arm_hole, horn=setup.horn_hole)
    return replace(one, rod=float(np.asarray(with_offset(fourbar(one), setup.offset).rod)))


def fitted_corners(plane: Plane, plan: Plan, *, pulse_step: float = 1e-6) -> dict[str, Corner]:
    """Every corner with an aileron and a measured linkage, by name; empty where the plane file has no servo.

    `pulse_step`: smallest change of pulse the radio sends, s.
    """
    there = [
        name
        for name in CORNERS
        if name in plane.aileron_linkage
        and (wing := plane.wings.get(name.partition("_")[0])) is not None
        and wing.aileron is not None
    ]
    if plane.aileron_servo is None:
        return {}
    return {name: fitted_corner(plane, plan, name, pulse_step=pulse_step) for name in there}


@dataclass(frozen=True, kw_only=True)
class LinkedTravel:
    """A corner as an aileron channel of the radio (`evenfall.radio.channels.CornerTravel`).

    Args:
        servo_shift: pulse a programmable servo adds to what the radio sends, s; 0 without.
    """

    corner: Corner
    servo_shift: float = 0.0

    @cached_property
    def _limits(self) -> Limits:
        return corner_limits(self.corner)

    @cached_property
    def _ends(self) -> tuple[float, float]:
        one, two = (float(self.corner.pulse(end)) - self.servo_shift for end in (self._limits.low, self._limits.high))
        return min(one, two), max(one, two)

    @property
    def pulse_low(self) -> float:
        """Shortest pulse the corner may be given, s: stop, dead point less margin, hinge limit or contact."""
        return self._ends[0]

    @property
    def pulse_high(self) -> float:
        """Longest pulse, s."""
        return self._ends[1]

    def surface(self, pulse: ArrayLike) -> Array:
        """Surface angle at pulses the radio sends, rad, held at the corner's limits."""
        servo = self.corner.servo_of_pulse(np.asarray(pulse, float) + self.servo_shift)
        return self.corner.throw(np.clip(servo, self._limits.low, self._limits.high))

    def pulse(self, surface: ArrayLike) -> Array:
        """Pulse the radio sends for surface angles, s; held at the dead point beyond reach."""
        return np.asarray(self.corner.pulse(self.corner.servo(surface)) - self.servo_shift)

    def roll_pulse(self, throw: float) -> float:
        """Change of pulse at full right stick for a throw (mean of up and down, crow stowed, rad), s, signed."""
        way = self.corner.roll_sign * self.corner.bar.sense * self.corner.direction
        return way * roll_turn(self.corner, throw) / self.corner.servo_gain


def roll_turn(corner: Corner, throw: float) -> float:
    """Servo turn either way for a mean throw stowed, rad; the largest useful one inside the limits where none does."""
    limits = corner_limits(corner)
    return float(turn_for_mean(corner.bar, corner.neutral, throw, low=limits.low, high=limits.high))


def corner_travels(plane: Plane, plan: Plan) -> dict[str, CornerTravel]:
    """Every corner as a channel, for `evenfall.radio.settings.radio_settings`; empty without servo or linkage."""
    found: dict[str, CornerTravel] = {}
    for name, corner in fitted_corners(plane, plan).items():
        setup = plan.corners.get(name)
        own = setup.shift if setup is not None and setup.shift_means == "servo" else 0.0
        found[name] = LinkedTravel(corner=corner, servo_shift=own)
    return found


def real_angles(
    plane: Plane,
    plan: Plan,
    phase: Phase,
    sticks: Sticks,
    *,
    crow_switch: bool = True,
    corners: Mapping[str, Corner] | None = None,
) -> dict[str, Array]:
    """Aileron angles through the linkages, rad: crow and roll add in servo travel, as a radio mixes them.

    servo = servo(deployment x crow) + soften(stick) turn (1 + boost deployment), held at the corner's limits. A
    corner without a measured linkage does exactly what it is told.

    Args:
        corners: from `fitted_corners`; made here where not given.
    """
    made = fitted_corners(plane, plan) if corners is None else corners
    throttle, aileron = np.broadcast_arrays(np.asarray(sticks.throttle, float), np.asarray(sticks.aileron, float))
    out = live_deployment(plan, phase, throttle, crow_switch=crow_switch)
    angles = surface_deltas(plane, plan.crow, out, roll=roll_throw(phase, aileron, out))
    share = soften(aileron, phase.aileron_exponential) * (1.0 + phase.roll_boost * out)
    for name, corner in made.items():
        limits = corner_limits(corner)
        way = corner.roll_sign * corner.bar.sense
        servo = corner.servo(out * corner.crow) + way * share * roll_turn(corner, phase.aileron)
        angles[name] = corner.throw(np.clip(servo, limits.low, limits.high))
    return angles


def linkage_retention(plane: Plane, plan: Plan, *, throw: float | None = None) -> float | None:
    """Mean roll throw deployed over stowed that the linkages keep at a throw (rad; the normal one); None if unknown."""
    corners = tuple(fitted_corners(plane, plan).values())
    return retention(corners, plan.throws.normal if throw is None else throw) if corners else None


def phase_uses(plan: Plan, *, trim: float = 0.0) -> tuple[PhaseUse, ...]:
    """The plan's phases as the travel budget asks for them; `trim` either way, rad of surface."""
    return tuple(
        PhaseUse(
            name=phase.name,
            crow=phase.crow_live and plan.crow is not None,
            roll=phase.aileron,
            trim=trim,
            boost=phase.roll_boost,
        )
        for phase in plan.phases
    )


def centre_shift(servo: Servo, radio: RadioDescription | None) -> CentreShift:
    """What moves the neutral pulse with this radio, as the offset solver takes it; a usual radio for None.

    A radio that cannot shift a channel's centre leaves it to a programmable servo; without one nothing moves it.
    """
    if radio is None:
        return CentreShift()
    if not radio.centre_shift or radio.shift_reach <= 0:
        if servo.programmable:
            return CentreShift(means="servo")
        return CentreShift(means="none", limit=0.0, step=0.0)
    return CentreShift(means="radio", limit=radio.shift_reach * servo.gain, step=radio.pulse_step * servo.gain)


def setup_as_measured(plane: Plane, plan: Plan, name: str) -> CornerSetup:
    """The corner as it stands now, as a plan would say it: present holes and rod, no tooth moved, no shift."""
    bare = replace(plan, corners={})
    corner = fitted_corner(plane, bare, name)
    linkage = plane.aileron_linkage[name]
    throws = plan.throws
    return CornerSetup(
        corner=name,
        arm_hole=linkage.arm,
        horn_hole=linkage.horn,
        offset=float(offset_of(corner.bar)),
        pulse_neutral=PULSE_CENTRE,
        pulse_deployed=float(corner.pulse(corner.deployed)),
        normal_turn=roll_turn(corner, throws.normal),
        snap_turn=roll_turn(corner, throws.snap),
    )


@dataclass(frozen=True, kw_only=True)
class CornerReach:
    """What a corner's linkage can do as it stands: surface angles at its limits, gain at neutral, arm offset; rad."""

    low: float
    high: float
    gain: float
    offset: float


def corner_reaches(plane: Plane) -> dict[str, CornerReach]:
    """The reach of every corner as measured, through the exact linkage; empty without servo and linkage.

    Raises `EvenfallError` where arm, rod and horn do not meet at neutral.
    """
    found = {}
    for name, corner in fitted_corners(plane, present_plan(plane)).items():
        limits = corner_limits(corner)
        ends = sorted(float(angle) for angle in corner.throw(np.array([float(limits.low), float(limits.high)])))
        found[name] = CornerReach(
            low=ends[0], high=ends[1], gain=float(abs(corner.gain(corner.neutral))), offset=corner.neutral
        )
    return found
