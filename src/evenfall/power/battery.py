"""Battery voltage at rest, by the charge left."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.plane.electrics import Battery

_CHARGE_LEFT = np.array([0.0, 0.05, 0.10, 0.20, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90, 1.0])
_REST_VOLTAGE = np.array([3.27, 3.61, 3.69, 3.73, 3.77, 3.80, 3.84, 3.87, 3.95, 4.02, 4.11, 4.20])
"""Lithium-polymer cell at rest, V against share of charge left. Common practice, no source; +-0.03 V."""


def rest_voltage_per_cell(charge_left: ArrayLike) -> NDArray[np.float64]:
    """Voltage of one rested cell in V by the share of charge left, from a table of twelve points.

    Args:
        charge_left: 0 (empty) to 1 (full), any shape. Beyond either end the end value is kept.

    Valid for lithium-polymer cells charged to 4.20 V, near 20 degrees C. Source: common practice, no source.
    """
    voltage: NDArray[np.float64] = np.interp(np.asarray(charge_left, dtype=float), _CHARGE_LEFT, _REST_VOLTAGE)
    return voltage


def battery_at(battery: Battery, charge_left: float) -> Battery:
    """The same battery with `charge_left` (0-1) of its charge: rest voltage by `rest_voltage_per_cell`.

    Raises `ValueRangeError` outside 0 to 1.
    """
    if not 0.0 <= charge_left <= 1.0:
        raise ValueRangeError(f"charge left is {charge_left:g}: give a share from 0 (empty) to 1 (full)")
    return replace(battery, rest_voltage_per_cell=float(rest_voltage_per_cell(charge_left)))
