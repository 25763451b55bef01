"""Arm angles a spline and a horn offer: teeth, the arms of a multi-arm horn, the arm turned over."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall.errors import ValueRangeError


@dataclass(frozen=True, kw_only=True)
class ArmSetting:
    """One way to fit the arm.

    Args:
        turn: arm angle against the fitting it starts from, rad, pushing positive.
        teeth: teeth to turn the horn on the spline, pushing positive.
        arm: which arm carries the rod; 0 is the one in use, counted the pushing way.
        turned_over: the horn is turned upside down.
    """

    turn: float
    teeth: int
    arm: int
    turned_over: bool

    @property
    def words(self) -> str:
        """What to do, in words."""
        if self.teeth == 0 and self.arm == 0 and not self.turned_over:
            return "arm as it is"
        parts = []
        if self.teeth:
            count = abs(self.teeth)
            parts.append(f"{count} {'tooth' if count == 1 else 'teeth'} {'pushing' if self.teeth > 0 else 'pulling'}")
        if self.arm:
            parts.append(f"rod on arm {self.arm + 1}")
        if self.turned_over:
            parts.append("arm turned over")
        return ", ".join(parts)


def tooth(teeth: int) -> float:
    """One tooth of the spline, rad: 2 pi/teeth. 24 teeth 15.0 deg, 25 teeth 14.4 deg."""
    if teeth < 3:
        raise ValueRangeError(f"a spline has at least 3 teeth, got {teeth}: count them, most servos have 24 or 25")
    return 2.0 * math.pi / teeth


def arm_step(teeth: int, arms: int, *, turn_over: bool = False) -> float:
    """Finest step of the arm, rad: 2 pi/lcm(teeth, arms); halved where turning over adds the half tooth between.

    Args:
        arms: equal arms of the horn, >= 1.
        turn_over: turning the horn over moves it by half a tooth (its arm stands a quarter tooth off a tooth: lay the
            horn on the spline both ways up and look). With an odd spline, two or four arms give the half tooth anyway.
    """
    tooth(teeth)
    if arms < 1:
        raise ValueRangeError(f"a horn has at least 1 arm, got {arms}")
    count = math.lcm(teeth, arms)
    half = turn_over and (count // teeth) % 2 == 1
    return 2.0 * math.pi / (count * (2 if half else 1))


def arm_settings(
    teeth: int, arms: int, *, turn_over: bool = False, reach: float = math.radians(70.0)
) -> tuple[ArmSetting, ...]:
    """Every arm angle within `reach` (rad) of the present one, in order, each by the least work.

    Least work: the rod stays on its arm if it can, then no turning over, then the fewest teeth.
    """
    step = arm_step(teeth, arms, turn_over=turn_over)
    best: dict[int, tuple[tuple[int, bool, int], ArmSetting]] = {}
    one = tooth(teeth)
    full = round(2.0 * math.pi / step)
    for over in (False, True) if turn_over else (False,):
        for arm in range(arms):
            for count in range(-teeth // 2, teeth // 2 + 1):
                raw = count * one + arm * 2.0 * math.pi / arms + (0.5 * one if over else 0.0)
                key = round(raw / step) % full
                key = key - full if key > full // 2 else key
                if abs(key * step) > reach + 1e-9:
                    continue
                cost = (min(arm, 1), over, abs(count))
                if key not in best or cost < best[key][0]:
                    best[key] = (cost, ArmSetting(turn=key * step, teeth=count, arm=arm, turned_over=over))
    return tuple(best[key][1] for key in sorted(best))
