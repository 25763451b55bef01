"""Battery voltage at rest."""

from __future__ import annotations

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.plane.electrics import Battery
from evenfall.power.battery import battery_at, rest_voltage_per_cell

PACK = Battery(cells=4, capacity=7920.0, resistance=0.02, rest_voltage_per_cell=3.85)


@pytest.mark.property
def test_rest_voltage_rises_with_charge_and_holds_at_both_ends() -> None:
    volts = rest_voltage_per_cell(np.linspace(0.0, 1.0, 101))
    assert np.all(np.diff(volts) > 0.0)
    assert rest_voltage_per_cell([-1.0, 2.0]) == pytest.approx([volts[0], volts[-1]])


@pytest.mark.golden
def test_full_cell() -> None:
    # 4.20 V: charging limit of lithium-polymer cells, common practice, no source.
    assert battery_at(PACK, 1.0).rest_voltage == pytest.approx(4 * 4.20)
    assert battery_at(PACK, 0.3).rest_voltage < PACK.rest_voltage


@pytest.mark.outside
@pytest.mark.parametrize("charge", [-0.01, 1.01, float("nan")])
def test_charge_outside_zero_to_one_is_refused(charge: float) -> None:
    with pytest.raises(ValueRangeError, match=r"from 0 \(empty\) to 1 \(full\)"):
        battery_at(PACK, charge)
