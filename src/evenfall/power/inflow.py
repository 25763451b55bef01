"""Blade elements with momentum, from static thrust through windmilling to a stopped blade.

One unknown per element, the inflow angle phi. With W the velocity at the element, s = sin phi, c = cos phi,
t = sigma cn/(4 F), q = sigma ct/(4 F), sigma = B c/(2 pi r):

    V/W       = s - t/|s|                 thrust (cn > 0), momentum theory
    omega r/W = c + q/|s|                 swirl
    2 v^2 + (4 F - 20/3) s v + (50/9 - 4 F) s^2 + 4 F t = 0,  v = V/W      drag with induction above .4

The last line is Buhl's fit of the turbulent wake state, CT = 8/9 + (4F - 40/9) a + (50/9 - 4F) a^2, written without
division by V: it meets momentum theory at a = .4 in value and slope. There the swirl uses the mass flow that
carries the same axial momentum. Nothing divides by V or omega, so both may be zero.

Rotational stall delay is left out: with Snel's correction (3 (c/r)^2 of the way to potential lift) the medium blades
came closer to their measured static thrust and the slim ones went further off.

Sources: S. A. Ning, "A simple solution method for the blade element momentum equations with guaranteed convergence",
Wind Energy 17, 2014 (inflow angle as unknown, losses); M. L. Buhl, "A new empirical relationship between thrust
coefficient and induction factor for the turbulent windmill state", NREL/TP-500-36834, 2005; L. Prandtl in A. Betz,
"Schraubenpropeller mit geringstem Energieverlust", 1919 (tip loss).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenfall.power.blade_sections import BladeSections
from evenfall.power.blades import HUB, Blade

Array = npt.NDArray[np.float64]

VISCOSITY = 1.461e-5
"""Kinematic viscosity for the Reynolds number, m^2/s (ISO 2533:1975, sea level)."""
MOMENTUM_LIMIT = 2.0 / 3.0
"""Loading t/s^2 up to which momentum theory holds on the drag side: an induction of .4 (Buhl 2005)."""
WAKE_SCALE = (1.0 + MOMENTUM_LIMIT) ** -0.5
"""Scale of the wake branch of the residual: where it meets the momentum branch both are scaled alike."""
LOSS_FLOOR = 1e-3
SINE_FLOOR = 1e-9
SCAN = np.radians(np.concatenate([np.arange(-24.0, 0.0, 4.0), np.arange(0.0, 120.1, 3.0)]))
"""Inflow angles at which a change of sign is looked for, rad."""
REFINEMENTS = 8


@dataclass(frozen=True, kw_only=True, eq=False)
class ElementLoads:
    """Solved elements, shape (..., stations); per metre of radius, all blades, density 1 kg/m^3.

    `thrust` N/m, `torque` N m/m (positive absorbed), `inflow` rad, `axial` velocity through the disc m/s,
    `converged` bool.
    """

    thrust: Array
    torque: Array
    inflow: Array
    axial: Array
    converged: npt.NDArray[np.bool_]


def loss_factor(blade: Blade, sine: Array) -> Array:
    """Prandtl's tip loss times hub loss, F = (2/pi) acos(exp(-f)), f = B (R - r)/(2 r |sin phi|)."""
    size = np.maximum(np.abs(sine), SINE_FLOOR)
    tip = 0.5 * blade.blades * (blade.radius - blade.r) / blade.r
    hub = 0.5 * blade.blades * (blade.r - HUB * blade.radius) / (HUB * blade.radius)
    lost = np.arccos(np.exp(-np.minimum(tip / size, 40.0))) * np.arccos(np.exp(-np.minimum(hub / size, 40.0)))
    factor: Array = np.maximum((2.0 / math.pi) ** 2 * lost, LOSS_FLOOR)
    return factor


def free_stream(
    sine: Array, cosine: Array, normal: Array, tangential: Array, loss: Array
) -> tuple[Array, Array, Array]:
    """V/W and omega r/W that belong to an inflow angle, times a positive scale that is returned third.

    Args:
        sine, cosine: of the inflow angle.
        normal, tangential: sigma cn/(4 F) and sigma ct/(4 F): loading towards thrust and against rotation.
        loss: F.
    """
    size = np.maximum(np.abs(sine), SINE_FLOOR)
    drag = np.maximum(-normal, 0.0)
    turbulent = (normal < 0.0) & (drag > MOMENTUM_LIMIT * sine * np.abs(sine))
    # momentum, both signs of thrust, times |s|/sqrt(s^2 + |t|): finite at s = 0 and not zero there
    even = np.sqrt(size * size + np.abs(normal))
    axial = (sine * size - normal) / even
    rotary = (cosine * size + tangential) / even
    # turbulent wake
    b = (20.0 / 3.0 - 4.0 * loss) * sine
    root = np.sqrt(np.maximum(b * b - 8.0 * ((50.0 / 9.0 - 4.0 * loss) * sine * sine - 4.0 * loss * drag), 0.0))
    axial_wake = 0.25 * (b + root)
    flow = np.where(turbulent, drag, 1.0) / np.maximum(axial_wake - sine, SINE_FLOOR)
    rotary_wake = cosine + tangential / np.maximum(flow, SINE_FLOOR)
    return (
        np.where(turbulent, axial_wake * WAKE_SCALE, axial),
        np.where(turbulent, rotary_wake * WAKE_SCALE, rotary),
        np.where(turbulent, WAKE_SCALE, size / even),
    )


def solve_elements(
    blade: Blade, sections: BladeSections, *, speed: npt.ArrayLike, omega: npt.ArrayLike
) -> ElementLoads:
    """Solve every element of a blade.

    Args:
        speed: V >= 0, m/s; omega: >= 0, rad/s. Broadcast together; the stations are added as the last axis.

    Where several inflow angles balance (stalled elements), the smallest is taken. An element without a balance keeps
    the undisturbed inflow and is marked. Reynolds numbers are those of the undisturbed resultant.
    """
    v, w = np.broadcast_arrays(np.asarray(speed, float), np.asarray(omega, float))
    shape = (*v.shape, blade.r.size)
    axial = np.broadcast_to(v[..., None], shape).reshape(-1)
    rotary = (w[..., None] * blade.r).reshape(-1)
    station = np.broadcast_to(np.arange(blade.r.size), shape).reshape(-1)
    resultant = np.hypot(axial, rotary)
    still = resultant <= 0.0
    safe = np.where(still, 1.0, resultant)
    sin_free, cos_free = axial / safe, np.where(still, 1.0, rotary / safe)
    log_re = np.log(np.maximum(safe * blade.chord[station] / VISCOSITY, 1.0))
    element = _Elements(blade=blade, sections=sections, station=station, log_reynolds=log_re)

    bracket = _bracket(element, sin_free, cos_free)
    converged = np.isfinite(bracket[1])
    at = np.flatnonzero(converged)
    phi = np.arctan2(sin_free, cos_free)
    low, high, f_low, f_high = (value[at] for value in bracket)
    phi[at] = _refine(element.part(at), (low, high, f_low, f_high), sin_free[at], cos_free[at])
    normal, tangential, axial_ratio, rotary_ratio = element.state(phi)
    ratio = np.hypot(axial_ratio, rotary_ratio)
    velocity = np.where(converged, resultant / np.maximum(ratio, SINE_FLOOR), resultant)
    pressure = 0.5 * velocity**2 * blade.blades * blade.chord[station]
    return ElementLoads(
        thrust=(pressure * normal).reshape(shape),
        torque=(pressure * tangential * blade.r[station]).reshape(shape),
        inflow=phi.reshape(shape),
        axial=(velocity * np.sin(phi)).reshape(shape),
        converged=(converged | still).reshape(shape),
    )


def blade_loads(
    blade: Blade, sections: BladeSections, *, speed: npt.ArrayLike, omega: npt.ArrayLike, density: float = 1.225
) -> tuple[Array, Array]:
    """Thrust in N and torque in N m by solving every element: what `PropellerMap` tabulates.

    `speed` m/s, `omega` rad/s, broadcast together; `density` kg/m^3 scales the loads, not the Reynolds number.
    """
    elements = solve_elements(blade, sections, speed=speed, omega=omega)
    thrust: Array = density * np.sum(elements.thrust * blade.width, axis=-1)
    torque: Array = density * np.sum(elements.torque * blade.width, axis=-1)
    return thrust, torque


@dataclass(frozen=True, kw_only=True, eq=False)
class _Elements:
    """Flat list of elements: their station and Reynolds number."""

    blade: Blade
    sections: BladeSections
    station: npt.NDArray[np.intp]
    log_reynolds: Array

    def part(self, at: npt.NDArray[np.intp]) -> _Elements:
        return _Elements(
            blade=self.blade, sections=self.sections, station=self.station[at], log_reynolds=self.log_reynolds[at]
        )

    def _flow(self, phi: Array) -> tuple[Array, Array, Array, Array, Array]:
        blade, at = self.blade, self.station
        sine, cosine = np.sin(phi), np.cos(phi)
        cl, cd = self.sections.coefficients(at, blade.angle[at] - phi, self.log_reynolds)
        normal, tangential = cl * cosine - cd * sine, cl * sine + cd * cosine
        local = Blade(
            radius=blade.radius, blades=blade.blades, r=blade.r[at], chord=blade.chord[at], angle=blade.angle[at],
            thickness=blade.thickness[at], width=blade.width[at],
        )  # fmt: skip
        loss = loss_factor(local, sine)
        loading = blade.blades * blade.chord[at] / (2.0 * math.pi * blade.r[at]) / (4.0 * loss)
        a, b, scale = free_stream(sine, cosine, loading * normal, loading * tangential, loss)
        return normal, tangential, a, b, scale

    def residual(self, phi: Array, sin_free: Array, cos_free: Array) -> Array:
        """Positive below the balance: sin(free) x omega r/W - cos(free) x V/W."""
        _, _, a, b, _ = self._flow(phi)
        out: Array = sin_free * b - cos_free * a
        return out

    def state(self, phi: Array) -> tuple[Array, Array, Array, Array]:
        """cn, ct, V/W and omega r/W at an inflow angle."""
        normal, tangential, a, b, scale = self._flow(phi)
        return normal, tangential, a / scale, b / scale


def _bracket(element: _Elements, sin_free: Array, cos_free: Array) -> tuple[Array, Array, Array, Array]:
    """First change of sign over `SCAN`: both ends and both residuals; NaN as upper end where there is none."""
    count = element.station.size
    low, high = np.full(count, SCAN[0]), np.full(count, np.nan)
    f_low, f_high = element.residual(low, sin_free, cos_free), np.full(count, np.nan)
    at = np.arange(count)
    for angle in SCAN[1:]:
        value = element.part(at).residual(np.full(at.size, angle), sin_free[at], cos_free[at])
        crossed = (f_low[at] > 0.0) & (value <= 0.0)
        hit, at = at[crossed], at[~crossed]
        high[hit], f_high[hit] = angle, value[crossed]
        low[at], f_low[at] = angle, value[~crossed]
        if at.size == 0:
            break
    return low, high, f_low, f_high


def _refine(element: _Elements, bracket: tuple[Array, Array, Array, Array], sin_free: Array, cos_free: Array) -> Array:
    """Root in a bracket by the Illinois rule, kept inside it."""
    low, high, f_low, f_high = (value.copy() for value in bracket)
    side = np.zeros(low.size)
    phi = 0.5 * (low + high)
    for _ in range(REFINEMENTS):
        secant = (low * f_high - high * f_low) / np.where(f_high == f_low, 1.0, f_high - f_low)
        phi = np.where(f_high == f_low, 0.5 * (low + high), secant)
        value = element.residual(phi, sin_free, cos_free)
        up = value > 0.0
        f_high = np.where(up & (side > 0), 0.5 * f_high, f_high)
        f_low = np.where(~up & (side < 0), 0.5 * f_low, f_low)
        low, f_low = np.where(up, phi, low), np.where(up, value, f_low)
        high, f_high = np.where(up, high, phi), np.where(up, f_high, value)
        side = np.where(up, 1.0, -1.0)
    return phi
