"""The air: ICAO standard atmosphere with elevation, temperature and pressure of the day."""

from __future__ import annotations

import math
from dataclasses import dataclass

G0 = 9.80665
"""Standard gravity, m/s^2 (ISO 2533:1975)."""
GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air, J/(kg K) (ISO 2533:1975)."""
LAPSE = -0.0065
"""Temperature gradient below 11 km, K/m (ISO 2533:1975)."""
SEA_LEVEL_K = 288.15
SEA_LEVEL_PA = 101325.0


@dataclass(frozen=True, kw_only=True)
class Air:
    """Air at one place.

    Args:
        density: kg/m^3.
        viscosity: dynamic viscosity, Pa s.
        temperature: K.
        pressure: Pa.
    """

    density: float
    viscosity: float
    temperature: float
    pressure: float


def viscosity(temperature: float) -> float:
    """Dynamic viscosity in Pa s by Sutherland's law: 1.458e-6 T^1.5 / (T + 110.4), T in K.

    Valid 100-1900 K. Source: ISO 2533:1975, section 2.10.

    >>> round(viscosity(288.15), 8)
    1.789e-05
    """
    return float(1.458e-6 * temperature**1.5 / (temperature + 110.4))


def standard_air(elevation: float = 0.0, *, temperature: float | None = None, pressure: float | None = None) -> Air:
    """Air at geopotential `elevation` (m), with the day's temperature (K) or station pressure (Pa) where known.

    Density is p/(R T). A given temperature replaces the standard one; a given pressure is the pressure at the
    field itself, not reduced to sea level. Valid -500 to 11000 m. Source: ISO 2533:1975.

    >>> round(standard_air(1000.0).density, 5)
    1.11164
    """
    standard_k = SEA_LEVEL_K + LAPSE * elevation
    standard_pa = SEA_LEVEL_PA * (standard_k / SEA_LEVEL_K) ** (-G0 / (GAS_CONSTANT * LAPSE))
    kelvin = standard_k if temperature is None else temperature
    pascal = standard_pa if pressure is None else pressure
    if not (math.isfinite(kelvin) and math.isfinite(pascal)):
        raise ValueError("air needs a finite temperature and pressure")
    return Air(
        density=pascal / (GAS_CONSTANT * kelvin), viscosity=viscosity(kelvin), temperature=kelvin, pressure=pascal
    )
