"""The standard atmosphere against ISO 2533:1975."""

from __future__ import annotations

import pytest

from evenfall.air import Air, standard_air, viscosity


@pytest.mark.published
@pytest.mark.parametrize(
    ("elevation", "kelvin", "hectopascal", "density"),
    [
        # ISO 2533:1975, geopotential altitude; tolerance: the last printed digit
        (0.0, 288.150, 1013.250, 1.22500),
        (500.0, None, None, 1.16727),
        (1000.0, 281.650, 898.746, 1.11164),
        (1500.0, None, None, 1.05807),
        (2000.0, None, None, 1.00649),
    ],
)
def test_standard_atmosphere(elevation: float, kelvin: float | None, hectopascal: float | None, density: float) -> None:
    air = standard_air(elevation)
    assert air.density == pytest.approx(density, abs=5.1e-6)
    if kelvin is not None:
        assert air.temperature == pytest.approx(kelvin, abs=5e-4)
    if hectopascal is not None:
        assert air.pressure / 100 == pytest.approx(hectopascal, abs=5.1e-4)


@pytest.mark.published
def test_viscosity_at_sea_level() -> None:
    # ISO 2533:1975: 1.7894e-5 Pa s at 288.15 K (from memory)
    assert viscosity(288.15) == pytest.approx(1.7894e-5, abs=1e-9)


@pytest.mark.limit
def test_warm_day_thins_the_air_in_proportion() -> None:
    cold, warm = standard_air(300.0), standard_air(300.0, temperature=308.15)
    assert warm.density / cold.density == pytest.approx(cold.temperature / 308.15, rel=1e-12)
    assert standard_air(pressure=90000.0).pressure == 90000.0


@pytest.mark.outside
@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_air_refuses_what_is_not_finite(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        standard_air(temperature=bad)
    assert isinstance(standard_air(), Air)
