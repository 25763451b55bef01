"""The speed map: grid against direct solves, monotone in crow, lines and folds that agree with the grid."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.lines.line import steady_speeds
from evenfall.lines.map_curves import chosen_point, contour_speeds, contours, shaft_band, two_speeds
from evenfall.lines.maps import MapBase, SpeedGrid, map_base, speed_grid
from evenfall.lines.shaft import PowerUnit, braked_shaft, shaft_curve
from evenfall.lines.shaft_picture import torque_curves
from evenfall.plane.electrics import BrakeLevel
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.plan import arrangements_of
from evenfall.tune.candidates import crow_at
from evenfall.tune.plane_map import hinge_stop, map_table
from evenfall.workflow import Ready, prepare


@cache
def ready(name: str) -> Ready:
    return prepare(load_plane(demo_path(name)))


@cache
def base(name: str) -> MapBase:
    plane = ready(name)
    arrangement = arrangements_of(plane.frame.plane)[0]
    stop = hinge_stop(plane.frame.plane, arrangement)[0]
    table = map_table(plane.frame, crow_at(plane.frame.plane, arrangement, stop), wanted=plane.wanted)
    return map_base(plane.unit, table, limit=stop, wanted=plane.wanted)


@cache
def grid(name: str) -> SpeedGrid:
    here = base(name)
    return speed_grid(here, np.linspace(0.0, here.limit, 41), np.linspace(0.0, 100.0, 21))


def direct(here: MapBase, percent: float, crow: float) -> tuple[list[float], list[float], list[bool]]:
    """All steady speeds of one condition by the solver that `predict` uses."""
    shaft = braked_shaft(here.unit, BrakeLevel(name="one", percent=percent))
    speeds = np.linspace(float(here.speeds[0]), float(here.speeds[-1]), 217)
    states = steady_speeds(shaft_curve(shaft, speeds, here.omegas), here.table, crow / here.limit)
    return [s.speed for s in states], [s.omega for s in states], [s.stable for s in states]


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_grid_equals_direct_solves(name: str) -> None:
    """1 % is what is promised of interpolated answers; the solver is the same, so 1e-6 is asked."""
    here, found = base(name), grid(name)
    rng = np.random.default_rng(20)
    odd = 0
    for _ in range(60):
        row, column = int(rng.integers(41)), int(rng.integers(21))
        mine = ~np.isnan(found.speed[row, column])
        speed, omega, stable = direct(here, float(found.brake[column]), float(found.crow[row]))
        if len(speed) != mine.sum():  # a pair about to vanish may be seen on one grid of airspeeds only
            odd += 1
            continue
        assert found.speed[row, column, mine] == pytest.approx(speed, rel=1e-6)
        assert found.omega[row, column, mine] == pytest.approx(omega, rel=1e-4, abs=0.1)
        assert found.stable[row, column, mine].tolist() == stable
    assert odd <= 1


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_more_crow_is_slower(name: str) -> None:
    """The slowest and the fastest stable speed fall with crow, wherever no propeller state comes or goes."""
    found = grid(name)
    stable = np.where(found.stable, found.speed, np.nan)
    count = found.stable.sum(axis=2)
    assert np.all(count >= 1)
    same = count[1:] == count[:-1]
    assert same.mean() > 0.9
    for pick in (np.nanmin, np.nanmax):
        assert np.all(np.diff(pick(stable, axis=2), axis=0)[same] < 0)


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_lines_of_one_speed_are_steady_there(name: str) -> None:
    here = base(name)
    speeds = (here.wanted, *contour_speeds(grid(name), here.wanted)[::3])
    checked = 0
    for line in contours(here, speeds, top=here.limit):
        for piece in line.pieces:
            for percent, crow in piece[2:-2:9].tolist():
                if not 0 <= crow <= here.limit:
                    continue
                speed, _, stable = direct(here, percent, crow)
                nearest = min(range(len(speed)), key=lambda k: abs(speed[k] - line.speed))
                assert speed[nearest] == pytest.approx(line.speed, rel=3e-3)
                assert stable[nearest]
                checked += 1
    assert checked > 15


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_patches_hold_the_grid_points_with_two_speeds(name: str) -> None:
    """Grid points with two stable speeds lie in the patches and nearly no others do (edges are straight pieces)."""
    found = grid(name)
    inside = np.zeros(found.stable.shape[:2], dtype=bool)
    for patch in two_speeds(base(name)):
        low = np.interp(found.brake, patch.brake, patch.low, left=np.inf, right=np.inf)
        high = np.interp(found.brake, patch.brake, patch.high, left=-np.inf, right=-np.inf)
        inside |= (found.crow[:, None] >= low) & (found.crow[:, None] <= high)
    two = found.stable.sum(axis=2) > 1
    assert two.sum() > 20
    assert (inside != two).sum() <= 0.06 * two.sum()


@pytest.mark.published
def test_band_agrees_with_a_quarter_and_three_quarters_holding_one_state() -> None:
    """CHECKS [M]: one state at 25 and 75 % duty, two about half way; the width of the band depends on the propeller."""
    band = shaft_band(base("biplane_124"), ready("biplane_124").wanted)
    assert band.likely is not None
    assert band.doubtful is not None
    assert 25 < band.likely[0] < band.likely[1] < 75
    assert band.doubtful[0] < band.likely[0]
    assert band.doubtful[1] > band.likely[1]


@pytest.mark.limit
def test_chosen_point_without_motor_brake_has_no_doubt_in_percent() -> None:
    here = base("biplane_124")
    point = chosen_point(here, here.unit.plane.controller.levels[0], 0.5 * here.limit)
    assert point.brake_range == (0.0, 0.0)
    low, high = point.crow_range
    assert low < point.crow < high


@pytest.mark.invariant
def test_doubt_of_the_chosen_point_is_half_to_twice_the_torque() -> None:
    here = base("monoplane_160")
    point = chosen_point(here, here.unit.plane.controller.level("30"), 0.5 * here.limit)
    stable = [state for state in point.states if state.stable]
    assert len(stable) == 1
    low, high = point.brake_range
    assert 0 < low < 30 < high < 100
    measured = BrakeLevel(name="measured", percent=30.0, damping=2e-4)
    other = chosen_point(here, measured, 0.5 * here.limit)
    assert other.brake != 30.0
    speed, _, _ = direct(here, other.brake, 0.5 * here.limit)
    wanted = [state.speed for state in other.states if state.stable]
    assert min(abs(v - wanted[0]) for v in speed) < 0.01 * wanted[0]


@pytest.mark.outside
def test_beyond_the_limits_is_refused() -> None:
    here = base("biplane_124")
    with pytest.raises(ValueRangeError, match="limit of the hinges"):
        speed_grid(here, np.array([0.0, 1.1 * here.limit]), np.array([0.0]))
    with pytest.raises(ValueRangeError, match="0 to 100"):
        speed_grid(here, np.array([0.0]), np.array([101.0]))


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_shaft_picture_meets_where_curves_cross(name: str) -> None:
    unit: PowerUnit = ready(name).unit
    picture = torque_curves(unit, ready(name).wanted * np.array([0.7, 1.0, 1.3]))
    assert picture.driving.shape == (3, picture.omega.size)
    assert picture.holding.shape == (len(picture.levels), picture.omega.size)
    for meeting in picture.meetings:
        if meeting.omega == 0:
            continue
        row = picture.speeds.tolist().index(meeting.speed)
        level = picture.levels.index(meeting.level)
        driving = float(np.interp(meeting.omega, picture.omega, picture.driving[row]))
        holding = float(np.interp(meeting.omega, picture.omega, picture.holding[level]))
        scale = float(np.abs(picture.driving[row]).max())
        assert driving == pytest.approx(holding, abs=0.01 * scale)
        assert math.isfinite(meeting.thrust)
    for row in range(3):
        for level_name in picture.levels:
            here = [m for m in picture.meetings if m.level == level_name and m.speed == picture.speeds[row]]
            assert sum(m.stable for m in here) - sum(not m.stable for m in here) == 1
