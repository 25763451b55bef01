"""How one aileron corner is fitted and centred: holes, teeth, arm offset, centre shift, pulses. Data only."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import CORNERS

ShiftMeans = Literal["radio", "servo", "none"]
"""What moves the neutral pulse: the channel's centre shift in the radio, a programmable servo, or nothing."""
SHIFT_MEANS: tuple[ShiftMeans, ...] = get_args(ShiftMeans)


@dataclass(frozen=True, kw_only=True)
class CornerSetup:
    """One corner as the plan wants it fitted.

    Args:
        corner: "upper_left" and so on.
        arm_hole, horn_hole: radii used, m.
        teeth: teeth to turn the horn on its spline from square, pushing positive.
        arm: which arm carries the rod; 0 is the one in use, counted the pushing way.
        turned_over: the horn is turned upside down.
        offset: arm angle from square to its rod with the surface at neutral, rad, pushing positive.
        shift: neutral pulse less centre pulse, s.
        shift_means: what makes that shift.
        pulse_neutral, pulse_deployed: pulses with the surface at neutral and with crow fully out, s. With
            `shift_means` "servo" the radio sends its centre pulse at neutral; these are what the servo obeys.
        normal_turn, snap_turn: servo turn either way for the two aileron throws, rad.
    """

    corner: str
    arm_hole: float
    horn_hole: float
    teeth: int = 0
    arm: int = 0
    turned_over: bool = False
    offset: float = 0.0
    shift: float = 0.0
    shift_means: ShiftMeans = "none"
    pulse_neutral: float = 1.5e-3
    pulse_deployed: float = 1.5e-3
    normal_turn: float = 0.0
    snap_turn: float = 0.0

    def __post_init__(self) -> None:
        where = self.corner.replace("_", " ")
        if self.corner not in CORNERS:
            raise ValueRangeError(f"there is no corner {self.corner!r}; there are {', '.join(CORNERS)}")
        for name in ("arm_hole", "horn_hole"):
            if not 0.001 <= getattr(self, name) <= 0.2:
                raise ValueRangeError(f"{where}: {name} lies between .001 and .2 m, got {getattr(self, name)}")
        for name in ("pulse_neutral", "pulse_deployed"):
            if not 3e-4 <= getattr(self, name) <= 3e-3:
                raise ValueRangeError(f"{where}: {name} lies between 300 and 3000 us, got {getattr(self, name)} s")
        for name in ("normal_turn", "snap_turn"):
            if not 0 <= getattr(self, name) <= math.pi:
                raise ValueRangeError(f"{where}: {name} lies between 0 and 180 deg, got {getattr(self, name)} rad")
        if not abs(self.offset) <= math.radians(89) or not abs(self.shift) <= 1.5e-3:
            raise ValueRangeError(
                f"{where}: offset lies within 89 deg, shift within 1500 us; got {self.offset} rad, {self.shift} s"
            )
        if self.shift_means not in SHIFT_MEANS:
            raise ValueRangeError(f"{where}: shift means {self.shift_means!r} is none of {', '.join(SHIFT_MEANS)}")
        if self.shift_means == "none" and abs(self.shift) > 1e-9:
            raise ValueRangeError(f"{where}: a centre shift of {1e6 * self.shift:.0f} us needs a radio or servo for it")

    @property
    def words(self) -> str:
        """How the arm is fitted, in one line."""
        parts = [f"arm hole {1e3 * self.arm_hole:.1f} mm, horn hole {1e3 * self.horn_hole:.1f} mm"]
        if self.teeth:
            count = abs(self.teeth)
            way = "pushing" if self.teeth > 0 else "pulling"
            parts.append(f"{count} {'tooth' if count == 1 else 'teeth'} {way} from square")
        else:
            parts.append("no tooth moved from square")
        if self.arm:
            parts.append(f"rod on arm {self.arm + 1}")
        if self.turned_over:
            parts.append("arm turned over")
        if abs(self.shift) > 5e-7:
            by = "the radio's centre shift" if self.shift_means == "radio" else "the servo's own centre"
            parts.append(f"{1e6 * self.shift:+.0f} us by {by}")
        parts.append(f"{math.degrees(self.offset):+.1f} deg from square at neutral, rod adjusted to it")
        return ", ".join(parts)
