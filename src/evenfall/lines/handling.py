"""How an aeroplane answers its sticks, to be matched on another: roll by the ailerons, load factor by the elevator."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.trim import static_margin, trim
from evenfall.aero.wings import Flow
from evenfall.air import G0
from evenfall.lines.balance import Airframe
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.radio.phases import Phase
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

GREATEST_LOAD = 14.0
"""Load factor up to which a stall is looked for."""
LEAST_THROW = math.radians(1.0)


@dataclass(frozen=True, kw_only=True)
class Handling:
    """Answers at one speed.

    Args:
        speed: m/s.
        throw, roll: aileron throw, rad, rising, (n,), and the steady roll it gives with crow stowed, rad/s, (n,).
        elevator_per_g: elevator angle (rad, trailing edge up positive) that one more g asks for in a steady pull.
        greatest_load: load factor at the stall; None where there is none up to `GREATEST_LOAD`.
        static_margin: CG ahead of the neutral point over the mean chord.
        mean_chord: m.
    """

    speed: float
    throw: Floats
    roll: Floats
    elevator_per_g: float
    greatest_load: float | None
    static_margin: float
    mean_chord: float

    def roll_at(self, throw: float) -> float:
        """Steady roll, rad/s, at a throw (rad) within the table."""
        return float(np.interp(throw, self.throw, self.roll))

    def throw_for(self, roll: float) -> float | None:
        """Throw, rad, that rolls so fast (rad/s); None where the ailerons cannot."""
        rising = np.maximum.accumulate(self.roll)
        if roll > rising[-1]:
            return None
        return float(np.interp(roll, rising, self.throw))


def handling(frame: Airframe, *, speed: float) -> Handling:
    """Answers of an aeroplane at `speed` (m/s), crow stowed.

    The elevator with wings level, the roll at zero incidence. Throws go to the smallest hinge limit. The pull is
    steady: lift n W at a pitch rate (n - 1) g/V.
    """
    plane = frame.plane
    limits = [
        min(wing.aileron.throw_up, wing.aileron.throw_down) for wing in plane.wings.values() if wing.aileron is not None
    ]
    most = min(limits, default=LEAST_THROW)
    throw = np.linspace(0.0, most, 13)
    cases = [RollCase(crow=None, deployment=0.0, alpha=0.0, elevator=0.0, throw=float(t)) for t in throw[1:]]
    rolled = steady_rolls(frame, cases, speed=speed)
    roll = np.concatenate([[0.0], np.where(rolled.converged, rolled.rate, np.nan)])
    good = np.isfinite(roll)
    load = np.arange(1.0, GREATEST_LOAD + 0.25, 0.25)
    flow = Flow(
        speed=np.full(len(load), speed),
        alpha=np.zeros(len(load)),
        q=(load - 1.0) * G0 / speed,
        density=np.full(len(load), frame.air.density),
        viscosity=np.full(len(load), frame.air.viscosity),
    )
    pulled = trim(frame.line, flow, lift=load * frame.weight)
    holds = pulled.converged
    stalled = np.flatnonzero(~holds)
    last = int(stalled[0]) if len(stalled) else len(load)
    return Handling(
        speed=speed,
        throw=throw[good],
        roll=roll[good],
        elevator_per_g=_slope(load[:last], -pulled.elevator[:last]),
        greatest_load=None if last == len(load) else float(load[max(last - 1, 0)]),
        static_margin=static_margin(plane, speed=speed, air=frame.air),
        mean_chord=plane.mean_chord,
    )


def _slope(load: Floats, elevator: Floats) -> float:
    """rad a g around the usual loads (up to 4 g); NaN-free: 0 where fewer than two loads hold."""
    near = load <= 4.0
    if near.sum() < 2:
        return 0.0
    return float(np.polyfit(load[near], elevator[near], 1)[0])


@dataclass(frozen=True, kw_only=True)
class MatchedThrow:
    """A throw of one phase, matched.

    Args:
        phase, surface: which. first, other: rad, on the plane it comes from and on the other.
        met: the same answer is reached; else the limit stands in `other`.
    """

    phase: str
    surface: str
    first: float
    other: float
    met: bool


def matched_phases(
    plan: Plan, first: Handling, other: Handling, frame: Airframe
) -> tuple[tuple[Phase, ...], tuple[MatchedThrow, ...]]:
    """The phases of `plan` for the other plane `frame`: the same roll and the same g at the same stick.

    Soft parts are kept. Rudder throws go over as they are, as far as the other's hinge allows.
    """
    phases, rows = [], []
    tail, fin = frame.plane.tail, frame.plane.fin
    for phase in plan.phases:
        aileron = other.throw_for(first.roll_at(phase.aileron)) if len(other.throw) > 1 else None
        made = other.throw[-1] if aileron is None else max(aileron, LEAST_THROW)
        share = other.elevator_per_g / first.elevator_per_g if first.elevator_per_g > 1e-6 else 1.0
        asked = phase.elevator * max(share, 0.0)
        elevator = float(np.clip(asked, LEAST_THROW, min(tail.elevator_up, tail.elevator_down)))
        rudder = min(phase.rudder, fin.rudder_throw) if fin is not None else phase.rudder
        rows += [
            MatchedThrow(phase=phase.name, surface="aileron", first=phase.aileron, other=float(made),
                         met=aileron is not None),
            MatchedThrow(phase=phase.name, surface="elevator", first=phase.elevator, other=elevator,
                         met=abs(elevator - asked) < 1e-6),
            MatchedThrow(phase=phase.name, surface="rudder", first=phase.rudder, other=rudder,
                         met=rudder == phase.rudder),
        ]  # fmt: skip
        phases.append(replace(phase, aileron=float(made), elevator=elevator, rudder=rudder))
    return tuple(phases), tuple(rows)
