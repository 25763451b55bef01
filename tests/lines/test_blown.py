"""Wind on a flight: each plane its own gusts, calm planes untouched, and what gusts do to a line."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from evenfall.lines.blown import Blown, blown, gust_response, side_by_side
from evenfall.lines.survey import plan_tables
from evenfall.wind import WindDay
from evenfall.workflow import TuneAnswer


def test_mean_wind_grows_with_height_and_turns_with_its_heading() -> None:
    day = WindDay(speed=4.0, gusty=False, towards=math.pi / 2)
    wind = blown(day, speed=22.0, seeds=(1,))
    low, high = wind(10.0, np.zeros(3)), wind(100.0, np.zeros(3))
    assert low.shape == (3, 3)
    np.testing.assert_allclose(low[0], 0.0, atol=1e-12)
    np.testing.assert_allclose(low[1], day.mean(10.0))
    assert high[1, 0] > low[1, 0]


def test_each_plane_meets_gusts_of_its_own_and_the_same_again() -> None:
    day = WindDay(speed=5.0)
    wind = blown(day, speed=22.0, seeds=(3, 4))
    time = np.array([7.0, 7.0])
    found = wind(60.0, time)
    assert not np.allclose(found[:, 0], found[:, 1])
    np.testing.assert_array_equal(found, blown(day, speed=22.0, seeds=(3, 4))(60.0, time))
    later = wind(60.0, time + 0.013)
    assert np.all(np.abs(later - found) < 1.0)  # gusts do not jump
    assert isinstance(wind, Blown)


def test_calm_planes_fly_beside_blown_ones() -> None:
    wind = side_by_side([WindDay(speed=4.0), WindDay(speed=8.0)], still=2, speed=22.0, seeds=(1, 2))
    found = wind(50.0, np.full(6, 3.0))
    assert not np.any(found[:, :2])
    assert np.all(np.abs(found[:, 2:]).sum(axis=0) > 0)
    assert found[0, 4:].mean() > found[0, 2:4].mean()


def test_gust_response_against_a_simulated_line(tuned: Callable[[str], TuneAnswer]) -> None:
    """The formula against 4000 s of the linear equation stepped with an exact first-order gust."""
    answer = tuned("biplane_124")
    assert answer.plan is not None
    ready = answer.ready
    table = plan_tables(ready.frame, answer.plan, wanted=ready.wanted).lines["vertical down"]
    day = WindDay(speed=8.0)
    found = gust_response(table, deployment=1.0, speed=ready.wanted, day=day)
    rate = ready.wanted / float(day.scales(60.0).along_length)
    rng, step, n = np.random.default_rng(5), 0.02, 200_000
    keep = math.exp(-rate * step)
    gust, speed = np.zeros(n), np.zeros(n)
    noise = found.sigma * math.sqrt(1 - keep**2) * rng.normal(size=n)
    follow = step / found.time
    for k in range(1, n):
        gust[k] = keep * gust[k - 1] + noise[k]
        speed[k] = speed[k - 1] + follow * (0.5 * (gust[k] + gust[k - 1]) - speed[k - 1])
    assert speed.std() == pytest.approx(found.ground, rel=0.08)
    assert (speed - gust).std() == pytest.approx(found.air, rel=0.08)


def test_crow_worsens_the_ground_speed_in_gusts_and_shortens_its_memory(tuned: Callable[[str], TuneAnswer]) -> None:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    table = plan_tables(answer.ready.frame, answer.plan, wanted=answer.ready.wanted).lines["vertical down"]
    stowed, out = (
        gust_response(table, deployment=share, speed=answer.ready.wanted, day=WindDay(speed=8.0))
        for share in (0.0, 1.0)
    )
    assert out.time < stowed.time
    assert out.ground > stowed.ground
    assert out.air < stowed.air
    assert out.ground**2 + out.air**2 == pytest.approx(out.sigma**2)
