"""Steady roll on the vertical, crow out against stowed, and the parts of roll retention that are known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.roll import steady_roll
from evenfall.aero.wings import Flow
from evenfall.lines.balance import Airframe
from evenfall.radio.plan import Crow, surface_deltas

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class RollCase:
    """One condition to roll in: crow at `deployment` (0-1), incidence and elevator (rad), aileron `throw` (rad)."""

    crow: Crow | None
    deployment: float
    alpha: float
    elevator: float
    throw: float


@dataclass(frozen=True, kw_only=True)
class RollAnswers:
    """Steady rolls of several cases, (n,): rate rad/s, yawing moment N m (nose right positive), section tables
    reached, and solved."""

    rate: Floats
    yaw_moment: Floats
    valid: NDArray[np.bool_]
    converged: NDArray[np.bool_]


def steady_rolls(frame: Airframe, cases: Sequence[RollCase], *, speed: float) -> RollAnswers:
    """Steady roll of every case at `speed` (m/s), one batch; corrections of the deployed roll applied.

    Incidence and elevator stay as given (no trim in the roll). See `evenfall.aero.roll.steady_roll` for range.
    """
    deltas = [surface_deltas(frame.plane, case.crow, case.deployment) for case in cases]
    names = sorted({name for row in deltas for name in row})
    flow = Flow(
        speed=np.full(len(cases), speed),
        alpha=np.array([case.alpha for case in cases]),
        deltas={
            **{name: np.array([float(row[name]) for row in deltas]) for name in names},
            "elevator": np.array([case.elevator for case in cases]),
        },
        density=np.array([frame.air.density]),
        viscosity=np.array([frame.air.viscosity]),
    )
    rolled = steady_roll(frame.line, flow, throw=np.array([case.throw for case in cases]))
    out = np.array([case.deployment if case.crow is not None else 0.0 for case in cases])
    factor = 1.0 + (frame.plane.corrections.roll_deployed - 1.0) * out
    return RollAnswers(
        rate=rolled.rate * factor,
        yaw_moment=rolled.yaw_moment,
        valid=np.asarray(rolled.loads.valid > 0.999),
        converged=rolled.converged,
    )


@dataclass(frozen=True, kw_only=True)
class RollAnswer:
    """One throw, crow stowed or out.

    Args:
        rate: rad/s at the speed of the line. throw: rad.
        section: rate deployed over stowed at equal throw and speed; 1 stowed.
        linkage: roll throw the linkages keep deployed over stowed at the same stick; 1 stowed, None where unknown.
        speed_share: speed of the line over the wanted speed; 1 stowed.
        adverse: yawing moment over the rolling direction, N m, positive when adverse.
        valid: every station inside the section tables.
    """

    deployed: bool
    throw: float
    rate: float
    section: float
    linkage: float | None
    speed_share: float
    adverse: float
    converged: bool
    valid: bool


def roll_answers(
    frame: Airframe,
    crow: Crow | None,
    *,
    throws: Sequence[float],
    wanted: float,
    down_speed: float | None,
    alpha: tuple[float, float],
    elevator: tuple[float, float],
    linkage: Callable[[float], float | None] = lambda throw: None,
) -> tuple[RollAnswer, ...]:
    """Rolls stowed and, where there is crow, fully deployed, for every throw (rad).

    Args:
        wanted, down_speed: m/s; the deployed rate is scaled to the down speed (rate of roll goes with speed at fixed
            throw: NACA TR 715). None leaves it at the wanted speed.
        alpha, elevator: on the vertical at the wanted speed, rad, stowed and deployed.
        linkage: share of a throw (rad) that the linkages keep with crow out; None where unknown.

    The deployed rate is solved at the throw the linkages leave; the section part compares equal throws. Empty for a
    plane without ailerons.
    """
    if all(wing.aileron is None for wing in frame.plane.wings.values()):
        return ()
    cases = [RollCase(crow=None, deployment=0.0, alpha=alpha[0], elevator=elevator[0], throw=t) for t in throws]
    if crow is not None:
        cases += [RollCase(crow=crow, deployment=1.0, alpha=alpha[1], elevator=elevator[1], throw=t) for t in throws]
        cases += [replace(case, throw=case.throw * (linkage(case.throw) or 1.0)) for case in cases[len(throws) :]]
    solved = steady_rolls(frame, cases, speed=wanted)
    share = 1.0 if down_speed is None else down_speed / wanted
    answers = []
    for index, case in enumerate(cases[: 2 * len(throws)]):
        deployed = case.crow is not None
        reference = solved.rate[index % len(throws)]
        flown = index + len(throws) if deployed else index
        section = float(solved.rate[index] / reference) if deployed and reference else 1.0
        answers.append(
            RollAnswer(
                deployed=deployed,
                throw=case.throw,
                rate=float(solved.rate[flown]) * (share if deployed else 1.0),
                section=section,
                linkage=linkage(case.throw) if deployed else 1.0,
                speed_share=share if deployed else 1.0,
                adverse=float(-solved.yaw_moment[flown] * np.sign(solved.rate[flown])),
                converged=bool(solved.converged[index] and solved.converged[flown]),
                valid=bool(solved.valid[index] and solved.valid[flown]),
            )
        )
    return tuple(answers)
