"""Straightness of a plan's down lines: the couplings around `evenfall.lines.straight`, and the cure in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.lines.balance import Airframe, parts_drag, stream_increment, thrust_moment
from evenfall.lines.straight import CrowCure, Straightness, crow_cure, straightness
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]

STRAIGHT_ENOUGH = 0.0524
"""rad/s (3 deg/s) that pass as straight: 7 degrees over 50 m at 22 m/s. Ours, no source."""


@dataclass(frozen=True, kw_only=True)
class BendCase:
    """A down line to examine: slope (rad), inverted, crow at full deployment, thrust with the stick closed (N)."""

    slope: float
    crow: Crow | None
    thrust: float
    inverted: bool = False


@dataclass(frozen=True, kw_only=True)
class Bends:
    """Bends of several cases, with their cures where wanted: see `Straightness` and `CrowCure`."""

    straight: Straightness
    cure: CrowCure | None

    @property
    def clean(self) -> Floats:
        """Bend of the clean plane, rad/s towards the canopy, (n,)."""
        return self.straight.clean

    @property
    def crow(self) -> Floats:
        """Bend added by crow, rad/s, (n,), corrections applied."""
        return self.straight.crow


def bends(
    frame: Airframe,
    cases: Sequence[BendCase],
    *,
    speed: float,
    level_thrust: float,
    with_cure: bool = False,
    near: Bends | None = None,
) -> Bends:
    """Bend of every case at `speed` (m/s), one batch.

    Thrust line, drag of body and parts and the propeller's stream act in the moments, in level flight with
    `level_thrust` (N) and on the line with each case's own thrust. `near`: bends of the same cases on a similar frame.
    """
    n = len(cases)
    thrust = np.array([case.thrust for case in cases])
    v = np.full(n, speed)
    stream = stream_increment(v, thrust, density=frame.air.density, disc=frame.disc)
    rows = [surface_deltas(frame.plane, case.crow, 1.0 if case.crow is not None else 0.0) for case in cases]
    deployed = {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}
    share = np.array([case.crow.elevator_share if case.crow is not None else 0.0 for case in cases])
    level_stream = stream_increment(v, level_thrust, density=frame.air.density, disc=frame.disc)
    outside = _outside_moment(frame, v, thrust, stream)

    def solve(extra: Floats, start: Straightness | None) -> Straightness:
        return straightness(
            frame.line,
            mass=frame.plane.mass.all_up,
            speed=v,
            slope=np.array([case.slope for case in cases]),
            inverted=np.array([case.inverted for case in cases]),
            deployed=deployed,
            elevator_share=share,
            air=frame.air,
            moment_level=_outside_moment(frame, v, np.full(n, level_thrust), level_stream),
            moment_clean=outside,
            moment_deployed=outside + extra,
            wash=stream[:, None] * frame.in_stream,
            wash_level=level_stream[:, None] * frame.in_stream,
            near=start,
        )

    found = solve(np.zeros(n), None if near is None else near.straight)
    factor = frame.plane.corrections.crow_moment
    if factor != 1.0:
        found = solve((factor - 1.0) * crow_moment(frame, found), found)
    return Bends(straight=found, cure=crow_cure(frame.line, found) if with_cure else None)


def crow_moment(frame: Airframe, straight: Straightness) -> Floats:
    """Pitching moment (N m, nose up, (n,)) that deployment alone adds on the clean line, without its elevator share."""
    alpha, pitch, elevator = straight.held_clean.alpha, straight.clean, {"elevator": straight.elevator}
    stowed = frame.line.solve(straight.clean_flow.with_(alpha=alpha, q=pitch, deltas=elevator))
    out = frame.line.solve(
        straight.deployed_flow.with_(alpha=alpha, q=pitch, deltas=elevator), start=stowed.circulation
    )
    return np.asarray((out.moment - stowed.moment)[:, 1])


def _outside_moment(frame: Airframe, speed: Floats, thrust: Floats, stream: Floats) -> Floats:
    """Pitching moment (N m, nose up) of thrust line, body and parts about the CG."""
    return np.asarray(thrust_moment(frame.plane, thrust) + parts_drag(frame, speed, stream)[1])


@dataclass(frozen=True, kw_only=True)
class BendAnswer:
    """One down line.

    Args:
        clean, crow: rad/s towards the canopy. clean_bend, crow_bend: rad over 50 m.
        cure: in words.
    """

    line: str
    inverted: bool
    clean: float
    crow: float
    clean_bend: float
    crow_bend: float
    cure: str
    converged: bool


DOWN_LINES = tuple(
    (name, slope, inverted)
    for name, slope in (("vertical down", -math.pi / 2), ("45 down", -math.pi / 4))
    for inverted in (False, True)
)
"""Name, slope (rad) and inverted of each down line."""


def down_bends(
    frame: Airframe,
    crow: Crow | None,
    *,
    speed: float,
    closed_thrust: float,
    level_thrust: float,
    with_cure: bool = False,
    near: Bends | None = None,
) -> Bends:
    """Bends of `DOWN_LINES` with the stick closed at `speed` m/s, thrusts in N; `near`: of a similar frame."""
    cases = [
        BendCase(slope=slope, crow=crow, thrust=closed_thrust, inverted=inverted) for _, slope, inverted in DOWN_LINES
    ]
    cured = with_cure and crow is not None
    return bends(frame, cases, speed=speed, level_thrust=level_thrust, with_cure=cured, near=near)


def down_lines(
    frame: Airframe,
    crow: Crow | None,
    *,
    speed: float,
    closed_thrust: float,
    level_thrust: float,
    with_cure: bool = True,
) -> tuple[BendAnswer, ...]:
    """The vertical and the 45 down, upright and inverted, with the stick closed, and what cures each (in words).

    `speed` m/s; `closed_thrust` and `level_thrust` N, the first negative where the propeller holds back.
    """
    found = down_bends(
        frame, crow, speed=speed, closed_thrust=closed_thrust, level_thrust=level_thrust, with_cure=with_cure
    )
    answers = []
    for index, (name, _, inverted) in enumerate(DOWN_LINES):
        clean, added = float(found.clean[index]), float(found.crow[index])
        answers.append(
            BendAnswer(
                line=name,
                inverted=inverted,
                clean=clean,
                crow=added,
                clean_bend=float(found.straight.clean_bend[index]),
                crow_bend=float(found.straight.crow_bend[index]),
                cure=cure_words(clean, added, found.cure, index, crow) if with_cure else "",
                converged=bool(found.straight.converged[index]),
            )
        )
    return tuple(answers)


def cure_words(clean: float, added: float, cure: CrowCure | None, index: int, crow: Crow | None) -> str:
    """What to change at bends of `clean` and `added` rad/s: nothing, rigging, elevator with deployment, or a split."""
    if abs(clean) > STRAIGHT_ENOUGH:
        side = "canopy" if clean > 0 else "belly"
        return (
            f"Rigging first: the clean plane bends to the {side}. `evenfall trim` names the change that cures it; cure "
            "the crow after that."
        )
    if abs(added) <= STRAIGHT_ENOUGH or cure is None or crow is None:
        return "No cure needed."
    if cure.kind[index] == "split" and cure.split_exists[index]:
        wing = "lower" if cure.split[index] > 0 else "upper"
        return (
            f"Out of balance in lift: {100 * abs(float(cure.split[index])):.0f} % less crow on the {wing} wing. "
            "One step is 2 %."
        )
    if not cure.elevator_exists[index]:
        return "No elevator angle holds this line: use less crow or another arrangement."
    angle = float(cure.elevator[index])
    way = "down" if angle > 0 else "up"
    return (
        f"{abs(math.degrees(angle)):.1f} deg of elevator {way} at full deployment, in proportion to the actual "
        f"deployment (share {float(cure.share[index]):+.3f}). One step is 0.3 deg."
    )
