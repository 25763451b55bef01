"""Servo load: hinge moment through the linkage, stall torque at sagged supply, supply current, play cautions."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.linkage.corner import Corner
from evenfall.linkage.fourbar import forward, square

Array = NDArray[np.float64]

LOAD_SHARE = 0.5
"""Greatest share of the sagged stall torque for a load held or met again and again. Common practice, no source."""
BACK_DRIVE_SHARE = 0.8
"""Share of the stall torque above which gusts may push the surface back. Common practice, no source."""
SLOP_CAUTION = math.radians(0.5)
"""Play at the aileron, peak to peak, from which to look for its cause. Common practice, no source."""
SLOP_NO_FLIGHT = math.radians(1.5)
"""Play at the aileron, peak to peak, with which not to fly fast: flutter. Common practice, no source."""
GEAR_EFFICIENCY = 0.7
"""Share of motor torque a servo's gears pass on. Common practice, no source; +-15 %."""


@dataclass(frozen=True, kw_only=True)
class ServoLoad:
    """Load of one corner at arm angles. Arrays of one shape unless said.

    Args:
        torque: of the air on the arm, N m, positive where it turns the arm the pushing way.
        rod_force: N, tension positive.
        stall: stall torque at the supply given, N m (one number).
        share: |torque|/stall.
        worst: greatest share (one number).
        spread: one sigma of `worst` from the doubt of the hinge moment (one number).
        held: worst is at most half of stall.
        back_driven: worst exceeds the share above which gusts push the surface back.
        text: one sentence.
    """

    torque: Array
    rod_force: Array
    stall: float
    share: Array
    worst: float
    spread: float
    held: bool
    back_driven: bool
    text: str


def stall_torque(torque: float, rated_voltage: float, voltage: float) -> float:
    """Stall torque at another voltage: proportional, N m (a motor's current at stall is V/R).

    Valid between about 60 % and 120 % of the rated voltage; a servo that limits its current gives less.
    Source: the direct-current motor.
    """
    if min(torque, rated_voltage, voltage) <= 0:
        raise ValueRangeError("stall torque and voltages must be above 0")
    return torque * voltage / rated_voltage


def servo_load(
    corner: Corner, servo: ArrayLike, moment: ArrayLike, *, stall: float, moment_spread: float = 0.0
) -> ServoLoad:
    """Torque at the servo by virtual work: torque = moment x d(throw)/d(servo).

    Args:
        servo: arm angles from square, rad, any shape.
        moment: hinge moment of the air, N m, trailing edge down positive, broadcast with `servo`.
        stall: stall torque at the sagged supply, N m.
        moment_spread: one sigma of the hinge moment as a share (section table, speed).

    Friction of hinges and links is not included. At a dead point of the horn no torque holds the surface: infinite.
    Source: virtual work of an ideal linkage, exact four-bar gain.
    """
    if stall <= 0:
        raise ValueRangeError(f"stall torque must be above 0 N m, got {stall}")
    motion = forward(corner.bar, np.asarray(servo, float) + square(corner.bar))
    air = np.asarray(moment, float)
    torque = np.where(motion.reach == 0, air * motion.gain, np.inf)
    share = np.abs(torque) / stall
    worst = float(np.max(share))
    spread = worst * moment_spread if math.isfinite(worst) else math.inf
    lever = np.where(np.abs(motion.horn_lever) > 1e-9, motion.horn_lever, np.nan)
    force = np.nan_to_num(corner.bar.sense * air / lever, nan=np.inf)
    return ServoLoad(
        torque=np.asarray(torque),
        rod_force=np.asarray(force),
        stall=stall,
        share=np.asarray(share),
        worst=worst,
        spread=spread,
        held=worst <= LOAD_SHARE,
        back_driven=worst > BACK_DRIVE_SHARE,
        text=_load_text(worst, spread),
    )


def _load_text(worst: float, spread: float) -> str:
    if not math.isfinite(worst):
        return "At this angle the rod has no lever on the horn: no servo holds the surface. Use less throw."
    text = f"The servo works at {100 * worst:.0f} % of its stall torque"
    text += f" (+-{100 * spread:.0f} %)" if spread > 0 else ""
    if worst > BACK_DRIVE_SHARE:
        return text + ": gusts will push the surface back. Use a stronger servo, a shorter arm or a longer horn."
    if worst > LOAD_SHARE:
        return (
            text + ", more than the half that lasts. Use a stronger servo, a shorter arm, a longer horn or less speed."
        )
    return text + "."


@dataclass(frozen=True, kw_only=True)
class SupplyLoad:
    """Current the servos draw from the receiver supply.

    Args:
        stall_current: of one servo, A.
        moving: all servos moving against their loads, A.
        bound: the same with `bound` servos stalled at a stop, A.
        rating: A, what the supply gives for long.
        enough: moving stays under the rating, and so does bound.
        text: one sentence.
    """

    stall_current: float
    moving: float
    bound: float
    rating: float
    enough: bool
    text: str


def stall_current(torque: float, speed: float, voltage: float, *, efficiency: float = GEAR_EFFICIENCY) -> float:
    """Stall current of a servo from its data: I = torque x no-load speed/(efficiency x V), A.

    Args:
        torque: stall torque, N m; speed: no-load speed, rad/s; both at `voltage`, V.
        efficiency: of the gears.

    Source: direct-current motor (torque constant equals back-EMF constant). +-30 % against a measured one.
    """
    if min(torque, speed, voltage, efficiency) <= 0:
        raise ValueRangeError("torque, speed, voltage and efficiency must be above 0")
    return torque * speed / (efficiency * voltage)


def supply_load(
    shares: ArrayLike, *, stall_current: float, rating: float, others: float = 0.0, bound: int = 0
) -> SupplyLoad:
    """Supply current with all servos moving: sum of share x stall current, at least a third each to start moving.

    Args:
        shares: torque over stall torque of each aileron servo.
        stall_current: of one servo, A.
        rating: what the supply gives for long, A.
        others: receiver, elevator and rudder servos, A.
        bound: servos that stand against a stop (from the travel budget).

    The third for starting is common practice, no source.
    """
    load = np.maximum(np.abs(np.asarray(shares, float)), 1.0 / 3.0)
    moving = float(np.minimum(load, 1.0).sum()) * stall_current + others
    order = np.sort(np.minimum(load, 1.0).ravel())
    count = min(bound, order.size)
    stuck = moving + float((1.0 - order[:count]).sum()) * stall_current
    enough = stuck <= rating
    text = f"All servos moving draw about {moving:.1f} A; a supply for {rating:.1f} A is reckoned with."
    if bound:
        text += f" With {bound} against a stop {stuck:.1f} A."
    if not enough:
        text += " Too much for that: see that yours gives more" + (", or free the stop that binds." if bound else ".")
    return SupplyLoad(stall_current=stall_current, moving=moving, bound=stuck, rating=rating, enough=enough, text=text)


def slop_caution(slop: float) -> str:
    """What play at the aileron (rad, peak to peak) means; empty where small. Common practice, no source."""
    degrees = math.degrees(slop)
    if slop >= SLOP_NO_FLIGHT:
        return f"Do not fly: {degrees:.1f} deg of play at the aileron can flutter in the dive. Find the worn part."
    if slop >= SLOP_CAUTION:
        return f"{degrees:.1f} deg of play: look at pins, horn and servo gears before fast lines."
    return ""
