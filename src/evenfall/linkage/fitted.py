"""From the measured servo and linkage of the plane file to corners and tasks."""

from __future__ import annotations

import math

from evenfall.linkage.budget import Choices
from evenfall.linkage.candidate import CentreShift, OffsetTask
from evenfall.linkage.corner import Corner
from evenfall.linkage.fourbar import fourbar, offset_of
from evenfall.linkage.proof import Kit
from evenfall.linkage.teeth import arm_step
from evenfall.plane.controls import Linkage, Servo

PULSE_CENTRE = 1.5e-3
"""Centre pulse, s. Common practice, no source."""


def corner_as_measured(
    name: str,
    servo: Servo,
    linkage: Linkage,
    *,
    crow: float,
    throw_up: float,
    throw_down: float,
    pulse_step: float = 1e-6,
) -> Corner:
    """The corner as it stands: rod as measured, surface at neutral with the centre pulse.

    Args:
        name: "upper_left" and so on; "left" makes stick right lower it.
        crow: surface angle fully deployed, rad, trailing edge down positive.
        throw_up, throw_down: what the hinges allow, rad, both positive.
        pulse_step: the radio's finest, s.

    Travel either way is the smaller of servo travel and pulse limits. Raises if arm, rod and horn do not meet at
    neutral.
    """
    bar = fourbar(linkage)
    direction = (-1 if linkage.mirrored else 1) * (-1 if linkage.reversed else 1)
    longer = min(servo.travel, (servo.pulse_high - PULSE_CENTRE) * servo.gain)
    shorter = min(servo.travel, (PULSE_CENTRE - servo.pulse_low) * servo.gain)
    return Corner(
        name=name,
        bar=bar,
        crow=crow,
        centre=float(offset_of(bar)),
        stop_low=shorter if direction > 0 else longer,
        stop_high=longer if direction > 0 else shorter,
        hinge_up=throw_up,
        hinge_down=throw_down,
        direction=direction,
        servo_gain=servo.gain,
        pulse_centre=PULSE_CENTRE,
        pulse_step=pulse_step,
        roll_sign=1 if name.endswith("left") else -1,
    )


def offset_task(
    corner: Corner,
    servo: Servo,
    linkage: Linkage,
    *,
    throw_normal: float = math.radians(7.0),
    throw_snap: float = math.radians(16.5),
    shift: CentreShift | None = None,
    stall_torque: float = math.inf,
    moment_angles: tuple[float, ...] = (),
    moments: tuple[float, ...] = (),
    turn_over: bool | None = None,
) -> OffsetTask:
    """The offset solver's task for a corner, with the holes, teeth and arms of its measured servo and linkage.

    Args:
        corner: from `corner_as_measured`. Others as in `OffsetTask`; `turn_over` None is what the servo's horn allows.

    The arm is taken to stand square to its rod on some tooth at the centre pulse, before any tooth is moved.
    """
    return OffsetTask(
        corner=corner,
        throw_normal=throw_normal,
        throw_snap=throw_snap,
        arm_holes=linkage.arm_holes,
        horn_holes=linkage.horn_holes,
        spline_teeth=servo.spline_teeth,
        horn_arms=servo.horn_arms,
        turn_over=servo.horn_turns_over if turn_over is None else turn_over,
        shift=shift or CentreShift(),
        stall_torque=stall_torque,
        moment_angles=moment_angles,
        moments=moments,
    )


def budget_choices(servo: Servo, linkage: Linkage, *, shift: CentreShift | None = None) -> Choices:
    """What the travel budget may change on a corner: its holes, its spline, and the pulse shift there is."""
    means = shift or CentreShift()
    return Choices(
        arm_holes=linkage.arm_holes,
        horn_holes=linkage.horn_holes,
        arm_step=arm_step(servo.spline_teeth, servo.horn_arms),
        shift_limit=0.0 if means.means == "none" else means.limit,
    )


def proof_kit(servo: Servo, linkage: Linkage) -> Kit:
    """What could be one off on a corner: its teeth and holes."""
    return Kit(spline_teeth=servo.spline_teeth, arm_holes=linkage.arm_holes, horn_holes=linkage.horn_holes)
