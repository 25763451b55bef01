"""The mean wind and the gusts against the formulas they stand on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.wind import FOOT, REFERENCE, WindDay, gusts


def test_mean_is_the_logarithmic_law() -> None:
    """At 20 ft the wind of the day; at 200 ft over z0 = .15 ft ln(200/.15)/ln(20/.15) = 1.4706 times that."""
    day = WindDay(speed=5.0, roughness=0.15 * FOOT)
    np.testing.assert_allclose(day.mean([REFERENCE, 200 * FOOT]) / 5.0, [1.0, 1.4706], atol=1e-4)
    assert day.mean(0.0) == 0.0
    assert np.all(np.diff(day.mean(np.linspace(0.1, 300, 50))) > 0)


def along_spectrum(wave: np.ndarray, *, sigma: float, length: float) -> np.ndarray:
    """Dryden's spectrum along the wind, (m/s)^2 per (rad/m), of wave numbers (rad/m), one-sided: it sums to sigma^2.

    sigma^2 (2 L/pi)/(1 + (L W)^2)
    """
    x = length * np.asarray(wave, float)
    return np.asarray(sigma**2 * 2 * length / math.pi / (1 + x**2))


def across_spectrum(wave: np.ndarray, *, sigma: float, length: float) -> np.ndarray:
    """The same across the wind and vertically: sigma^2 (L/pi) (1 + 3 (L W)^2)/(1 + (L W)^2)^2."""
    x = length * np.asarray(wave, float)
    return np.asarray(sigma**2 * length / math.pi * (1 + 3 * x**2) / (1 + x**2) ** 2)


def test_scales_at_a_thousand_feet_and_below() -> None:
    """At 1000 ft .177 + .823 = 1, so all lengths are 1000 ft and all strengths a tenth of the wind. At 100 ft the
    shape is .2593: lengths 100/.2593^1.2 = 505.2 ft and 100 ft, strengths .1 u/.2593^.4 = .17157 u and .1 u."""
    day = WindDay(speed=8.0)
    top, low = day.scales(1000 * FOOT), day.scales(100 * FOOT)
    np.testing.assert_allclose([top.along_length / FOOT, top.vertical_length / FOOT], [1000, 1000], rtol=1e-12)
    np.testing.assert_allclose([top.along, top.vertical], [0.8, 0.8], rtol=1e-12)
    np.testing.assert_allclose([low.along_length / FOOT, low.vertical_length / FOOT], [505.2, 100.0], rtol=1e-3)
    np.testing.assert_allclose([low.along, low.vertical], [8 * 0.17157, 0.8], rtol=1e-3)


@pytest.mark.parametrize("spectrum", [along_spectrum, across_spectrum])
def test_spectra_sum_to_the_variance(spectrum) -> None:  # type: ignore[no-untyped-def]
    wave = np.concatenate([[0.0], np.geomspace(1e-6, 1e3, 20_001)])
    assert np.trapezoid(spectrum(wave, sigma=1.3, length=40.0), wave) == pytest.approx(1.69, rel=2e-3)


def test_gusts_have_the_published_spectrum() -> None:
    """Averaged periodograms of 64 records of 100 s at 50 m and 22 m/s, in bands, against Dryden's formulas: within 12 %
    from the second band on to a tenth of the sampling rate (beyond, sampling folds the rest of the spectrum back)."""
    day, step, n, speed = WindDay(speed=6.0), 0.02, 8192, 22.0
    height = np.full(n, 50.0)
    made = gusts(day, step=step, height=height, speed=np.full(n, speed), rng=np.random.default_rng(3), runs=64)
    scales = day.scales(50.0)
    taper = np.hanning(n)
    omega = 2 * math.pi * np.fft.rfftfreq(n, step)
    rows = (
        (0, along_spectrum, float(scales.along), float(scales.along_length)),
        (1, across_spectrum, float(scales.along), float(scales.along_length)),
        (2, across_spectrum, float(scales.vertical), float(scales.vertical_length)),
    )
    for axis, formula, sigma, length in rows:
        power = np.mean(np.abs(np.fft.rfft(made[:, :, axis] * taper, axis=1)) ** 2, axis=0)
        density = power * 2 * step / np.sum(taper**2) / (2 * math.pi)  # one-sided, per rad/s
        wanted = formula(omega / speed, sigma=sigma, length=length) / speed
        edges = np.geomspace(0.4, 2 * math.pi * 0.1 / step, 9)
        for low, high in zip(edges, edges[1:], strict=False):
            inside = (omega >= low) & (omega < high)
            assert np.sum(density[inside]) == pytest.approx(np.sum(wanted[inside]), rel=0.12), (axis, low)


def test_variance_and_first_moment() -> None:
    day = WindDay(speed=8.0)
    made = gusts(
        day, step=0.05, height=np.full(400, 60.0), speed=np.full(400, 20.0), rng=np.random.default_rng(1), runs=4000
    )
    scales = day.scales(60.0)
    np.testing.assert_allclose(made.std(axis=0).mean(axis=0), [scales.along, scales.along, scales.vertical], rtol=0.02)
    np.testing.assert_allclose(made.mean(axis=(0, 1)), 0.0, atol=0.05)
    # variance is the same at the first and the last sample: the start is stationary
    np.testing.assert_allclose(made[:, 0].std(axis=0) / made[:, -1].std(axis=0), 1.0, atol=0.06)


def test_seeded_calm_and_wrong_days() -> None:
    height, speed = np.full(50, 30.0), np.full(50, 20.0)
    one, two = (
        gusts(WindDay(speed=4.0), step=0.1, height=height, speed=speed, rng=np.random.default_rng(9)) for _ in range(2)
    )
    np.testing.assert_array_equal(one, two)
    for calm in (WindDay(speed=0.0), WindDay(speed=5.0, gusty=False)):
        assert not np.any(gusts(calm, step=0.1, height=height, speed=speed, rng=np.random.default_rng(9)))
    with pytest.raises(ValueRangeError, match="0 to 20"):
        WindDay(speed=30.0)
    with pytest.raises(ValueRangeError, match="roughness"):
        WindDay(speed=3.0, roughness=0.0)
