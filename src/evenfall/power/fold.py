"""Why half motor brake is hard: where the closed shaft has two stable speeds, and how far a level is from there.

The windmilling torque dips where the blade stalls, so a band of settings has two stable shaft speeds; the entry to the
dive decides which one is found. The band's edges are folds of the curve of states.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
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

_GRID = 320


@dataclass(frozen=True, kw_only=True)
class FoldMargin:
    """How far one level is from having two stable shaft speeds.

    Args:
        percent: distance to the nearest fold over all speeds and frequencies tried; negative inside the band (how far
            out of it); None where no setting has two states.
        of: "duty" (percent of the motor brake's scale) or "damping" (percent of the measured damping).
        speed: m/s at which the nearest fold lies, None like `percent`.
        frequency: Hz at which it lies, None like `percent` and for a measured level.
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
    """Distance of one level from the fold: see `fold_margins`."""
    return fold_margins(plane, propeller_map, (level,), speeds, density=density, corrections=corrections)[0]


def fold_margins(
    plane: PowerTrain,
    propeller_map: PropellerLoads,
    levels: Sequence[BrakeLevel | str],
    speeds: Floats,
    *,
    density: float = SEA_LEVEL_DENSITY,
    corrections: Corrections | None = None,
) -> tuple[FoldMargin, ...]:
    """Distance of each level from the fold, the worst over the speeds and the frequencies of `brake_frequencies`.

    Args:
        levels: levels or their names. By its percent the distance is in percent of duty; a measured one is scaled
            from a fifth to five times its damping instead.
        speeds: m/s, shape (n,): for a plan .7 to 1.3 of the wanted speed.
        density: kg/m^3. corrections: None takes the plane's.

    Folds are bracketed on 100 steps and halved to .02 % of duty. Source: definition.
    """
    omegas = shaft_grid(plane.propeller, float(np.max(speeds)), count=_GRID)
    driving = propeller_map.loads(speeds[:, None], omegas[None, :], density)[1]
    rates = brake_frequencies(plane.controller)

    def by_duty(rate: float) -> _Scan:
        def holding(duties: Floats) -> Floats:
            return _duty_torque(plane, omegas, duties, frequency=rate, corrections=corrections)

        return _scan(driving, holding, np.linspace(0.0, 1.0, 101))

    def by_damping(level: BrakeLevel) -> _Scan:
        friction = friction_torque(plane.motor)
        torque = brake_torque(plane, level, omegas, corrections=corrections) - friction
        return _scan(driving, lambda scale: scale[:, None] * torque + friction, np.geomspace(0.2, 5.0, 101))

    chosen = [plane.controller.level(level) if isinstance(level, str) else level for level in levels]
    unmeasured = any(level.damping is None for level in chosen)
    scans: dict[float | None, _Scan] = {rate: by_duty(rate) for rate in rates} if unmeasured else {}
    return tuple(
        _nearest(scans, level.percent / 100.0, speeds, "duty")
        if level.damping is None
        else _nearest({None: by_damping(level)}, 1.0, speeds, "damping")
        for level in chosen
    )


@dataclass(frozen=True)
class _Scan:
    """Folds found along one setting: row (of speed) and position of each, and how to count states at a setting."""

    row: NDArray[np.int64]
    position: Floats
    several_at: Callable[[float], NDArray[np.bool_]]


def _nearest(scans: Mapping[float | None, _Scan], here: float, speeds: Floats, of: str) -> FoldMargin:
    """The nearest fold to setting `here`; inside a band the one that is furthest out."""
    best = FoldMargin(percent=None, of=of, speed=None, frequency=None)
    for rate, scan in scans.items():
        distance = np.full(speeds.size, np.inf)
        np.minimum.at(distance, scan.row, np.abs(scan.position - here))
        signed = np.where(scan.several_at(here), -distance, distance)
        worst = int(np.argmin(signed))
        percent = 100.0 * float(signed[worst])
        if math.isfinite(percent) and (best.percent is None or percent < best.percent):
            best = FoldMargin(percent=percent, of=of, speed=float(speeds[worst]), frequency=rate)
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


def _scan(driving: Floats, holding: Callable[[Floats], Floats], steps: Floats) -> _Scan:
    """Folds at each speed along the settings `steps`; `holding` gives N m of shape (n_setting, n_omega)."""
    several = count_stable(driving[:, None, :] + holding(steps)[None, :, :]) > 1
    row, col = np.nonzero(several[:, 1:] != several[:, :-1])
    low, high, inner = steps[col], steps[col + 1], several[row, col]
    for _ in range(5 if row.size else 0):
        middle = 0.5 * (low + high)
        same = (count_stable(driving[row] + holding(middle)) > 1) == inner
        low, high = np.where(same, middle, low), np.where(same, high, middle)

    def several_at(setting: float) -> NDArray[np.bool_]:
        return np.asarray(count_stable(driving + holding(np.array([setting]))) > 1)

    return _Scan(row=row, position=0.5 * (low + high), several_at=several_at)
