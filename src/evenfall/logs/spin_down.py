"""Damping of a motor brake from the way the shaft slows down after the throttle was closed.

On the bench only with a guarded light disc of known inertia in the propeller's place: never an unguarded propeller on
the bench. In flight the propeller keeps driving the shaft; then the engine works out the line and this does not apply.

J domega/dt = -(k omega + friction), so omega runs as (omega0 + a/b) exp(-b t) - a/b with a = friction/J, b = k/J.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from evenfall.errors import InputError, ValueRangeError
from evenfall.logs.evidence import Damping
from evenfall.logs.sound import RPM, Track

Floats = NDArray[np.float64]

CAUTION = "Never run an unguarded propeller on the bench: use a light disc of known inertia behind a guard."


@dataclass(frozen=True, kw_only=True)
class SpinDown:
    """What a spin-down has told.

    Args:
        damping, damping_sigma: k, N m s/rad. friction, friction_sigma: N m.
        omega: middle shaft speed of the record, rad/s. torque: there, N m, friction included, with one sigma.
        left: scatter around the fit, rad/s.
    """

    damping: float
    damping_sigma: float
    friction: float
    friction_sigma: float
    omega: float
    torque: float
    torque_sigma: float
    left: float

    def evidence(self, name: str, level: str) -> Damping:
        """As evidence for the motor-brake level it was taken at."""
        return Damping(
            name=name, level=level, omega=self.omega, torque=self.torque, sigma=self.torque_sigma / self.torque
        )


def fit_track(track: Track, *, inertia: float, inertia_sigma: float, guarded: bool) -> SpinDown:
    """Spin-down from sound: `track` cut to the slowing part, heard with `SPIN_DOWN` and the disc's marks as blades."""
    return fit_spin_down(
        track.time, track.rpm * RPM, track.sigma_rpm * RPM, inertia=inertia, inertia_sigma=inertia_sigma,
        guarded=guarded, overlap=track.overlap,
    )  # fmt: skip


def fit_spin_down(
    time: Floats, omega: Floats, sigma: Floats, *, inertia: float, inertia_sigma: float, guarded: bool,
    overlap: float = 1.0,
) -> SpinDown:  # fmt: skip
    """Damping and friction from shaft speeds `omega` +- `sigma` (rad/s) at `time` (s) after the throttle was closed.

    `inertia` +- `inertia_sigma` of disc and rotor in kg m^2. `guarded` confirms the light disc behind a guard; without
    it nothing is worked out. `overlap`: neighbouring values that share the same measurement.
    """
    if not guarded:
        raise InputError(f"The disc was not confirmed as guarded. {CAUTION}")
    if not 0 < inertia < 0.01 or not 0 <= inertia_sigma < inertia:
        raise ValueRangeError(
            f"An inertia of {inertia:g} +- {inertia_sigma:g} kg m^2; above 0 to 0.01, its doubt below it. {CAUTION}"
        )
    good = np.isfinite(time) & np.isfinite(omega) & np.isfinite(sigma) & (sigma > 0) & (omega > 0)
    time, omega, sigma = time[good], omega[good], sigma[good]
    if len(time) < 8 or np.any(np.diff(time) <= 0):
        raise InputError(f"{len(time)} usable shaft speeds; at least 8 with rising times are needed.")
    ends = np.median(omega[:3]), np.median(omega[-3:])
    if ends[1] > 0.85 * ends[0]:
        raise InputError(
            f"The shaft slows from {ends[0] / RPM:.0f} to {ends[1] / RPM:.0f} rpm only; it must lose 15 % or more. "
            "Cut the part after the throttle was closed."
        )
    since = time - time[0]
    drop = float(math.log(ends[0] / ends[1]) / since[-1])

    def run(x: Floats) -> Floats:
        # Finite for b = 0 too: (1 - exp(-b t))/b.
        lost = -np.expm1(-x[2] * since) / x[2]
        return np.asarray(x[0] * np.exp(-x[2] * since) - x[1] * lost)

    begin = np.array([ends[0], 0.1 * drop * ends[0], 0.9 * drop])
    result = least_squares(
        lambda x: (run(x) - omega) / sigma, begin, bounds=([0.0, 0.0, 1e-6], np.inf), loss="soft_l1", x_scale=begin
    )
    worse = max(1.0, float(1.48 * np.median(np.abs(result.fun))))
    scale = 1 / begin
    known = (result.jac / scale).T @ (result.jac / scale) / (worse**2 * overlap) + 1e-6 * np.eye(3)
    covariance = np.linalg.inv(known) / np.outer(scale, scale)
    middle = float(math.sqrt(ends[0] * ends[1]))
    pull = np.array([0.0, 1.0, middle])
    slowing = float(pull @ result.x)
    doubt = inertia_sigma / inertia
    return SpinDown(
        damping=inertia * float(result.x[2]),
        damping_sigma=inertia * math.hypot(math.sqrt(covariance[2, 2]), doubt * float(result.x[2])),
        friction=inertia * float(result.x[1]),
        friction_sigma=inertia * math.hypot(math.sqrt(covariance[1, 1]), doubt * float(result.x[1])),
        omega=middle,
        torque=inertia * slowing,
        torque_sigma=inertia * math.hypot(math.sqrt(float(pull @ covariance @ pull)), doubt * slowing, 0.005 * slowing),
        left=float(1.48 * np.median(np.abs(result.fun * sigma))),
    )
