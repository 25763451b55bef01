"""The planar four-bar from servo arm to aileron horn, exact: throw, inverse, gain, dead points.

Frame: servo axis at the origin, x aft along the chord, n normal to the chord towards the horn's side. The arm's angle
`theta` is counted from the normal, positive when its pin moves aft (the rod pushes), whichever side it stands on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.plane.controls import Linkage

Array = NDArray[np.float64]
Length = float | Array


class Reach(IntEnum):
    """Whether the linkage assembles at an arm angle."""

    OK = 0
    ROD_TOO_SHORT = 1
    ROD_TOO_LONG = 2

    @property
    def text(self) -> str:
        """One sentence: what happened and what to do."""
        return _REACH_TEXT[self]


_REACH_TEXT = {
    Reach.OK: "The linkage assembles.",
    Reach.ROD_TOO_SHORT: "The rod is too short to reach the horn here: lengthen it or turn the arm less far.",
    Reach.ROD_TOO_LONG: "The rod is too long to fit between arm and horn here: shorten it or turn the arm less far.",
}


@dataclass(frozen=True, kw_only=True)
class FourBar:
    """One linkage, or a batch: every length may be an array, all of one shape.

    Args:
        arm: servo arm radius, m, > 0.
        horn: horn radius, hinge line to pin, m, > 0.
        rod: pin to pin, m, > 0.
        distance: servo axis to hinge axis along the chord, hinge aft, m, > 0.
        height: servo axis beyond the hinge axis towards the horn's side, m.
        setback: horn pin aft of the hinge line with the surface at neutral, m, less than `horn` in size.
        crossed: the arm stands on the side away from the horn.
        horn_above: the horn stands on the upper side, so that pushing lowers the trailing edge.
    """

    arm: Length
    horn: Length
    rod: Length
    distance: Length
    height: Length = 0.0
    setback: Length = 0.0
    crossed: bool = False
    horn_above: bool = False

    def __post_init__(self) -> None:
        for name in ("arm", "horn", "rod", "distance", "height", "setback"):
            value = np.asarray(getattr(self, name), float)
            if not np.all(np.isfinite(value)):
                raise ValueRangeError(f"linkage {name} must be a finite length in m, got {getattr(self, name)}")
            if name not in ("height", "setback") and np.any(value <= 0):
                raise ValueRangeError(f"linkage {name} must be above 0 m, got {getattr(self, name)}")
        if np.any(np.abs(self.setback) >= np.asarray(self.horn)):
            raise ValueRangeError(
                f"horn setback {self.setback} m must be smaller than the horn radius {self.horn} m: "
                "measure the horn radius from the hinge line to the pin"
            )

    @property
    def side(self) -> float:
        """+1 with arm and horn on one side, -1 crossed."""
        return -1.0 if self.crossed else 1.0

    @property
    def sense(self) -> float:
        """Throw (trailing edge down positive) per push: +1 with the horn above, -1 below."""
        return 1.0 if self.horn_above else -1.0


@dataclass(frozen=True, kw_only=True)
class Motion:
    """The linkage at arm angles. Arrays of one shape.

    Args:
        throw: surface angle, rad, trailing edge down positive. Held at the dead point where nothing assembles.
        gain: d(throw)/d(arm angle), with the sign of `throw`; 0 where nothing assembles.
        reach: `Reach` codes.
        over_centre: the arm has passed a dead point: the surface moves backwards.
        arm_lever, horn_lever: distance of the rod's line from servo axis and hinge axis, m.
    """

    throw: Array
    gain: Array
    reach: NDArray[np.int8]
    over_centre: NDArray[np.bool_]
    arm_lever: Array
    horn_lever: Array

    @property
    def works(self) -> NDArray[np.bool_]:
        """Assembles and has not passed a dead point."""
        return np.asarray((self.reach == Reach.OK) & ~self.over_centre)


@dataclass(frozen=True, kw_only=True)
class ArmMotion:
    """Arm angles for wanted throws. Arrays of one shape.

    Args:
        theta: rad from the chord's normal; held at the dead point where the throw is out of reach.
        reachable: whether the throw can be had at all.
    """

    theta: Array
    reachable: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class WorkingRange:
    """Arm angles between the dead points around neutral, rad from the chord's normal.

    Args:
        low, high: the ends.
        low_arm, high_arm: True where the arm comes in line with the rod (over-centre), False where the horn does.
    """

    low: Array
    high: Array
    low_arm: NDArray[np.bool_]
    high_arm: NDArray[np.bool_]


def fourbar(linkage: Linkage) -> FourBar:
    """The four-bar of a measured linkage. Lengths as in `evenfall.plane.controls.Linkage`."""
    above = linkage.horn_above
    return FourBar(
        arm=linkage.arm,
        horn=linkage.horn,
        rod=linkage.rod,
        distance=linkage.axis_distance,
        height=linkage.axis_height if above else -linkage.axis_height,
        setback=linkage.horn_setback,
        crossed=linkage.crossed,
        horn_above=above,
    )


def _horn_zero(bar: FourBar) -> Array:
    return np.asarray(np.arcsin(np.asarray(bar.setback, float) / bar.horn))


def _split(level: Array, size: Array) -> tuple[Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """acos(level/size) held at its ends, and where it was below or above them."""
    below, above = level < -size, level > size
    held = np.clip(level, -size, size)
    angle = np.arctan2(np.sqrt(np.maximum((size - held) * (size + held), 0.0)), held)
    return angle, below, above


def _horn_angle(bar: FourBar, theta: Array) -> tuple[Array, NDArray[np.int8]]:
    """Horn angle from the normal, aft positive, and reach; held at the dead point where nothing assembles.

    wx sin(phi) + wn cos(phi) = (rod^2 - horn^2 - |w|^2)/(2 horn), w from arm pin to hinge: the closed form of
    Freudenstein's equation (Trans. ASME 77, 1955).
    """
    to_hinge_x = bar.distance - bar.arm * np.sin(theta)
    to_hinge_n = -np.asarray(bar.height, float) - bar.arm * bar.side * np.cos(theta)
    size = np.hypot(to_hinge_x, to_hinge_n)
    horn = np.asarray(bar.horn, float)
    level = (np.asarray(bar.rod, float) ** 2 - horn**2 - size**2) / (2.0 * horn)
    spread, short, long = _split(level, size)
    middle = np.arctan2(to_hinge_x, to_hinge_n)
    reach = np.asarray(short * np.int8(Reach.ROD_TOO_SHORT) + long * np.int8(Reach.ROD_TOO_LONG))
    return np.asarray(middle - spread), reach


def forward(bar: FourBar, theta: ArrayLike) -> Motion:
    """Surface angle at arm angles, exact planar four-bar; gain = arm lever / horn lever.

    Args:
        theta: arm angle from the chord's normal, rad, any shape that broadcasts with the batch.

    Where nothing assembles, the throw is held at the dead point, the gain is 0 and `reach` says why.
    Source: Freudenstein (1955) in closed form; the gain from the instant levers of the rod (virtual work).
    """
    angle = np.asarray(theta, float)
    phi, reach = _horn_angle(bar, angle)
    pin_x, pin_n = bar.arm * np.sin(angle), bar.arm * bar.side * np.cos(angle)
    rod_x = bar.distance + bar.horn * np.sin(phi) - pin_x
    rod_n = -np.asarray(bar.height, float) + bar.horn * np.cos(phi) - pin_n
    size = np.hypot(rod_x, rod_n)
    arm_lever = bar.arm * (rod_x * np.cos(angle) - bar.side * rod_n * np.sin(angle)) / size
    horn_lever = bar.horn * (rod_x * np.cos(phi) - rod_n * np.sin(phi)) / size
    good = (reach == Reach.OK) & (np.abs(horn_lever) > 1e-12)
    ratio = np.where(good, arm_lever / np.where(good, horn_lever, 1.0), 0.0)
    return Motion(
        throw=np.asarray(bar.sense * (phi - _horn_zero(bar))),
        gain=np.asarray(bar.sense * ratio),
        reach=reach,
        over_centre=np.asarray(good & (ratio <= 0.0)),
        arm_lever=np.asarray(arm_lever),
        horn_lever=np.asarray(horn_lever),
    )


def throw_at(bar: FourBar, theta: ArrayLike) -> Array:
    """Surface angle in rad at arm angles in rad from the chord's normal; see `forward`."""
    return np.asarray(bar.sense * (_horn_angle(bar, np.asarray(theta, float))[0] - _horn_zero(bar)))


def inverse(bar: FourBar, throw: ArrayLike) -> ArmMotion:
    """Arm angle for a wanted surface angle, exact: the same triangle seen from the servo.

    Args:
        throw: surface angle, rad, trailing edge down positive, any shape that broadcasts with the batch.

    `forward` of the answer returns the throw to 1e-9. A throw that no arm angle gives without passing a dead point is
    marked, not raised.
    """
    phi = bar.sense * np.asarray(throw, float) + _horn_zero(bar)
    pin_x = bar.distance + bar.horn * np.sin(phi)
    pin_n = -np.asarray(bar.height, float) + bar.horn * np.cos(phi)
    size = np.hypot(pin_x, pin_n)
    arm = np.asarray(bar.arm, float)
    level = (size**2 + arm**2 - np.asarray(bar.rod, float) ** 2) / (2.0 * arm)
    spread, below, above = _split(level, size)
    theta = np.asarray(np.arctan2(pin_x, bar.side * pin_n) - spread)
    motion = forward(bar, theta)
    wanted = np.asarray(throw, float)
    reachable = np.asarray(~(below | above) & motion.works & (np.abs(motion.throw - wanted) < 1e-6))
    return ArmMotion(theta=theta, reachable=reachable)


def square(bar: FourBar) -> Array:
    """Arm angle from the chord's normal at which the arm is square to its rod with the surface at neutral, rad.

    cos of the angle between arm and the line to the horn pin = arm / |that line| (Thales). Independent of the rod.
    """
    zero = _horn_zero(bar)
    pin_x = bar.distance + bar.horn * np.sin(zero)
    pin_n = -np.asarray(bar.height, float) + bar.horn * np.cos(zero)
    spread, _, _ = _split(np.asarray(bar.arm, float), np.hypot(pin_x, pin_n))
    return np.asarray(np.arctan2(pin_x, bar.side * pin_n) - spread)


def with_offset(bar: FourBar, offset: ArrayLike) -> FourBar:
    """The same linkage, rod adjusted so that the surface is at neutral with the arm `offset` rad from square."""
    theta = square(bar) + np.asarray(offset, float)
    zero = _horn_zero(bar)
    rod_x = bar.distance + bar.horn * np.sin(zero) - bar.arm * np.sin(theta)
    rod_n = -np.asarray(bar.height, float) + bar.horn * np.cos(zero) - bar.arm * bar.side * np.cos(theta)
    rod = np.hypot(rod_x, rod_n)
    return replace(bar, rod=float(rod) if rod.ndim == 0 else rod)


def offset_of(bar: FourBar) -> Array:
    """Arm offset: arm angle from square with the surface at neutral, rad, where `inverse(bar, 0)` is reachable."""
    return np.asarray(inverse(bar, 0.0).theta - square(bar))


def _third_side(near: Array, far: Array, opposite: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Angle between `near` and `far` in the triangle whose third side is `opposite`, and whether it exists."""
    level = (near**2 + far**2 - opposite**2) / (2.0 * near * far)
    exists = np.abs(level) < 1.0 + 1e-9  # touching counts: arm, rod and horn in one line (parallelogram)
    return np.arccos(np.clip(level, -1.0, 1.0)), exists


def working_range(bar: FourBar) -> WorkingRange:
    """Arm angles between which the surface follows the arm: the dead points on either side of neutral.

    The arm is in line with the rod where |servo axis to horn pin| = rod + arm (pushed out) or rod - arm (pulled in);
    the horn where |arm pin to hinge| = rod - horn (pushed) or rod + horn (pulled). A side without a dead point ends
    half a turn from neutral.
    """
    base_x, base_n = np.asarray(bar.distance, float), -np.asarray(bar.height, float)
    base = np.hypot(base_x, base_n)
    to_hinge = np.arctan2(base_x, base_n)
    arm, horn, rod = (np.asarray(value, float) for value in (bar.arm, bar.horn, bar.rod))
    here = inverse(bar, 0.0).theta
    ends: list[tuple[Array, NDArray[np.bool_]]] = []
    for reach_length, flip in ((rod + arm, 1.0), (np.abs(rod - arm), -1.0)):
        inner, exists = _third_side(np.maximum(reach_length, 1e-12), base, horn)
        direction = to_hinge - inner
        theta = np.arctan2(flip * np.sin(direction), flip * bar.side * np.cos(direction))
        ends.append((_near(theta, here), exists))
    for reach_length in (np.abs(rod - horn), rod + horn):
        inner, exists = _third_side(arm, base, np.maximum(reach_length, 1e-12))
        theta = np.arctan2(base_x, bar.side * base_n) - inner
        ends.append((_near(theta, here), exists))
    thetas = np.stack(np.broadcast_arrays(*(theta for theta, _ in ends)))
    exist = np.stack(np.broadcast_arrays(*(flag for _, flag in ends)))
    above = np.where(exist & (thetas > here), thetas, here + np.pi)
    below = np.where(exist & (thetas < here), thetas, here - np.pi)
    high, low = above.min(axis=0), below.max(axis=0)
    return WorkingRange(
        low=low, high=high, low_arm=below[:2].max(axis=0) >= low, high_arm=above[:2].min(axis=0) <= high
    )


def _near(theta: Array, here: Array) -> Array:
    """The same direction within half a turn of `here`."""
    return np.asarray(here + np.mod(theta - here + np.pi, 2.0 * np.pi) - np.pi)
