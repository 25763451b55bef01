"""Steady roll: the rate at which the rolling moment vanishes, with the yaw that goes with it.

A lifting line overstates roll damping: lifting-surface theory is 13 % lower at aspect ratio 6 (Swanson & Priddy, NACA
ARR L5F23, 1945, summary). It overstates the ailerons too, by less, so its rates are some 9 % low. `LIFTING_SURFACE`
puts that right, measured against a vortex lattice in tests/aero/test_roll_lattice.py. Ratios of rates do not feel it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.aero.flow import Flow, WingLoads
from evenfall.aero.free import solve_free
from evenfall.aero.trim import Warm, force_scale
from evenfall.aero.wings import LiftingLine
from evenfall.errors import ValueRangeError

Array = NDArray[np.float64]
LIFTING_SURFACE = 0.91
"""Roll damping over aileron moment, both as share of the lifting line's: .89-.93 for wings and cells of aspect ratio 6
to 7.6 by vortex lattice."""


@dataclass(frozen=True, kw_only=True)
class Roll:
    """Steady roll, (n,): rate (rad/s, right wing down positive), yawing moment (N m, nose right positive; against the
    roll when adverse), loads in the roll, and where a steady roll exists."""

    rate: Array
    yaw_moment: Array
    loads: WingLoads
    converged: NDArray[np.bool_]


def aileron_angles(
    line: LiftingLine, flow: Flow, throw_right_down: ArrayLike, throw_right_up: ArrayLike | None = None
) -> dict[str, Array]:
    """Aileron angles with a roll command on top of those of `flow` (crow): left down, right up for a right roll, rad.

    Args:
        throw_right_down: of the aileron that goes down (left in a right roll), (n,). throw_right_up: of the one that
            goes up; None takes the same.
    """
    flow = flow.spread(throw_right_down, 0.0 if throw_right_up is None else throw_right_up)
    down = np.broadcast_to(np.asarray(throw_right_down, float), len(flow))
    up = down if throw_right_up is None else np.broadcast_to(np.asarray(throw_right_up, float), len(flow))
    sides = {"left": down, "right": -up}
    angles = {}
    for name in line.controls:
        side = name.rpartition("_")[2]
        if side in sides:
            angles[name] = flow.deltas.get(name, np.zeros(len(flow))) + sides[side]
    if not angles:
        known = ", ".join(line.controls) or "none"
        raise ValueRangeError(f"no ailerons: controls must end in _left or _right, the surfaces have {known}")
    return angles


def steady_roll(
    line: LiftingLine,
    flow: Flow,
    *,
    throw: ArrayLike,
    throw_up: ArrayLike | None = None,
    lifting_surface: float = LIFTING_SURFACE,
    start: Roll | None = None,
) -> Roll:
    """Roll rate at which the rolling moment about the CG vanishes, incidence and all else as in `flow`.

    L(p) = 0 with every `_left` aileron moved `throw` down and every `_right` one up, on top of the angles in `flow`.

    Args:
        throw: rad, positive rolls right, (n,). throw_up: of the ailerons that go up, where it differs, (n,).
        lifting_surface: the rate is that of the lifting line over this; 1 gives the bare lifting line. `loads` are
            those of the bare lifting line's steady roll.

    Valid to tip incidences inside the section tables (`loads.valid`); beyond, several rates may exist and the nearest
    to `start` (or to rest) is given. `converged` is False where none was found.
    """
    flow = flow.spread(throw, 0.0 if throw_up is None else throw_up)
    n = len(flow)
    angles = aileron_angles(line, flow, throw, throw_up)
    rolled = flow.with_(deltas=angles)
    scale, _ = force_scale(line, flow)
    half_span = float(np.max(np.abs(line.lattice.point[:, 1])))
    unit = np.maximum(flow.speed, 1e-3) / half_span
    warm = Warm(line, n, None if start is None else start.loads.circulation)

    def at(free: Array, rows: NDArray[np.intp]) -> WingLoads:
        return warm.solve(rolled.take(rows).with_(p=free[:, 0] * unit[rows]), rows)

    def residual(free: Array, rows: NDArray[np.intp]) -> Array:
        return np.asarray(at(free, rows).moment[:, :1] / (scale[rows] * half_span)[:, None])

    first = 0.3 * np.broadcast_to(np.asarray(throw, float), n)
    x0 = first if start is None else start.rate * lifting_surface / unit
    found = solve_free(residual, x0[:, None], step=np.array([0.01]), largest=np.array([0.15]))
    loads = at(found.free, np.arange(n))
    return Roll(
        rate=found.free[:, 0] * unit / lifting_surface,
        yaw_moment=loads.moment[:, 2],
        loads=loads,
        converged=found.converged & loads.converged,
    )
