"""Why half motor brake is hard: where the closed shaft has two stable speeds, and how far a level is from there.

The windmilling torque dips where the blade stalls, so a band of settings has two stable shaft speeds; the entry to the
dive decides which one is found. The band's edges are folds of the curve of states.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.plane.corrections import Corrections
from evenfall.plane.electrics import BrakeLevel
from evenfall.power.brake import DAMPING_DOUBT, brake_frequencies, pulsed_short_torque
from evenfall.power.equilibria import Floats, count_stable
from evenfall.power.motor import friction_torque
from evenfall.power.train import SEA_LEVEL_DENSITY, PowerTrain, PropellerLoads, brake_torque, shaft_grid

DOUBT_FACTORS = (math.exp(-DAMPING_DOUBT), 1.0, math.exp(DAMPING_DOUBT))
"""Factors on a level's torque that span its doubt: a half, one, two."""

_GRID = 400


@dataclass(frozen=True, kw_only=True)
class FoldMargin:
    """How far one level is from having two stable shaft speeds.

    Args:
        percent: distance to the nearest fold over all speeds and frequencies tried; negative inside the band (how far
            out of it); None where no setting has two states.
        of: "duty" (percent of the motor brake's scale) or "damping" (percent of the measured damping).
        speed: m/s at which the nearest fold lies, None like `percent`.
        frequency: Hz at which it lies, None like `percent`.
    """

    percent: float | None
    of: str
    speed: float | None
    frequency: float | None


def fold_band(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    speeds: Floats,
    duties: Floats,
    *,
    frequency: float | None = None,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
) -> NDArray[np.int64]:
    """Number of stable states of the closed shaft, shape (n_speed, n_duty): 2 inside the band.

    Args:
        speeds: m/s, shape (n_speed,).
        duties: duty of the motor brake, 0 to 1, shape (n_duty,).
        frequency: Hz; None takes the controller's. corrections: None takes the plane's.
        density: kg/m^3.

    Range: that of `evenfall.power.brake.pulsed_short_torque`. Source: definition.
    """
    omegas = shaft_grid(plane.propeller, float(np.max(speeds)), count=_GRID)
    driving = propeller_map.loads(speeds[:, None], omegas[None, :], density)[1]
    holding = _duty_torque(plane, omegas, duties, frequency=frequency, corrections=corrections)
    return count_stable(driving[:, None, :] + holding[None, :, :])


def states_with_doubt(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    level: BrakeLevel | str,
    speeds: Floats,
    *,
    factors: Sequence[float] = DOUBT_FACTORS,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
) -> NDArray[np.int64]:
    """Number of stable states of one level under its doubt, shape (n_frequency, n_factor, n_speed).

    Args:
        level: a level or its name.
        speeds: m/s, shape (n_speed,).
        factors: on the motor brake's torque.
        density: kg/m^3. corrections: None takes the plane's.

    The frequencies are those of `brake_frequencies`. Any entry above 1 is reason to warn. Source: definition.
    """
    omegas = shaft_grid(plane.propeller, float(np.max(speeds)), count=_GRID)
    driving = propeller_map.loads(speeds[:, None], omegas[None, :], density)[1]
    friction = friction_torque(plane.motor)
    rates = brake_frequencies(plane.controller)
    holding = [brake_torque(plane, level, omegas, frequency=rate, corrections=corrections) - friction for rate in rates]
    scaled = np.array(holding)[:, None, :] * np.asarray(factors)[None, :, None] + friction
    return count_stable(driving[None, None] + scaled[:, :, None, :])


def fold_margin(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    level: BrakeLevel | str,
    speeds: Floats,
    *,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
) -> FoldMargin:
    """Distance of one level from the fold, the worst over the speeds and the frequencies of `brake_frequencies`.

    Args:
        level: a level or its name. By its percent the distance is in percent of duty; a measured one is scaled from a
            fifth to five times its damping instead.
        speeds: m/s, shape (n,): for a plan .7 to 1.3 of the wanted speed.
        density: kg/m^3. corrections: None takes the plane's.

    Folds are bracketed on 200 steps and halved to .01 % of duty. Source: definition.
    """
    chosen = plane.controller.level(level) if isinstance(level, str) else level
    omegas = shaft_grid(plane.propeller, float(np.max(speeds)), count=_GRID)
    driving = propeller_map.loads(speeds[:, None], omegas[None, :], density)[1]
    measured = chosen.damping is not None
    here, steps = (1.0, np.geomspace(0.2, 5.0, 201)) if measured else (chosen.percent / 100.0, np.linspace(0, 1, 201))
    rates = brake_frequencies(plane.controller)
    best = FoldMargin(percent=None, of="damping" if measured else "duty", speed=None, frequency=None)
    for rate in rates[:1] if measured else rates:

        def holding(settings: Floats, rate: float = rate) -> Floats:
            if not measured:
                return _duty_torque(plane, omegas, settings, frequency=rate, corrections=corrections)
            friction = friction_torque(plane.motor)
            whole = brake_torque(plane, chosen, omegas, frequency=rate, corrections=corrections)
            return settings[:, None] * (whole - friction) + friction

        signed = _signed_distances(driving, holding, here, steps)
        worst = int(np.argmin(signed))
        found = 100.0 * float(signed[worst]) / (here if measured else 1.0)
        if math.isfinite(found) and (best.percent is None or found < best.percent):
            best = FoldMargin(percent=found, of=best.of, speed=float(speeds[worst]), frequency=rate)
    return best


def _duty_torque(
    plane: PowerTrain,
    omegas: Floats,
    duties: Floats,
    *,
    frequency: float | None,
    corrections: Corrections | None,
) -> Floats:
    """Motor brake plus friction in N m, shape (n_duty, n_omega)."""
    torque = pulsed_short_torque(
        omegas[None, :],
        duties[:, None],
        motor=plane.motor,
        controller=plane.controller,
        voltage=plane.battery.rest_voltage,
        frequency=plane.controller.brake_frequency if frequency is None else frequency,
    )
    factor = (plane.corrections if corrections is None else corrections).brake_damping
    return factor * torque + friction_torque(plane.motor)


def _signed_distances(driving: Floats, holding: Callable[[Floats], Floats], here: float, steps: Floats) -> Floats:
    """Distance of setting `here` from the nearest fold at each speed, negative inside a band, inf without one."""
    several = count_stable(driving[:, None, :] + holding(steps)[None, :, :]) > 1
    row, col = np.nonzero(several[:, 1:] != several[:, :-1])
    low, high, inner = steps[col], steps[col + 1], several[row, col]
    for _ in range(6):
        middle = 0.5 * (low + high)
        same = (count_stable(driving[row] + holding(middle)) > 1) == inner
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    distance = np.full(driving.shape[0], np.inf)
    np.minimum.at(distance, row, np.abs(0.5 * (low + high) - here))
    inside = count_stable(driving + holding(np.array([here]))) > 1
    return np.where(inside, -distance, distance)
