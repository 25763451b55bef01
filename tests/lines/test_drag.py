"""Tabulated drag against direct balances, its corrections, and stalls."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.lines.balance import balance
from evenfall.lines.drag import DragTable, _fill, drag_tables
from evenfall.lines.line import LINES
from evenfall.plane.starter import DEMOS
from evenfall.radio.plan import Throws, arrangements_of
from evenfall.tune.candidates import CROW_NODES, DOWN_SPEED_NODES, arrangement_drags, crow_at
from evenfall.workflow import Ready

MakeReady = Callable[[str], Ready]


@pytest.fixture(scope="module")
def tables(ready: MakeReady) -> dict[str, DragTable]:
    made = ready("biplane_124")
    crow = crow_at(made.frame.plane, "up/down", math.radians(17))
    found = drag_tables(made.frame, wanted=made.wanted, slopes=list(LINES.values()), crow=crow)
    return dict(zip(LINES, found, strict=True))


def worst(made: Ready, slope: float, arrangement: str, angle: float, *, seed: int, count: int) -> tuple[float, float]:
    """Greatest and root mean square difference of table and balance over random speeds and deployments, relative."""
    crow = crow_at(made.frame.plane, arrangement, angle)  # type: ignore[arg-type]
    table = drag_tables(made.frame, wanted=made.wanted, slopes=slope, crow=crow)[0]
    rng = np.random.default_rng(seed)
    low = max(table.lowest_speed, 0.6 * made.wanted)
    # Level and up, crow is stowed: only the first third of deployment is looked at there. Beyond, the foam plane with
    # all ailerons the same way is in its stall, where several solutions exist and no table can be right.
    most = 1.0 if slope < 0 else 0.3
    speed, out = rng.uniform(low, 1.6 * made.wanted, count), rng.uniform(0, most, count)
    direct = balance(made.frame, speed=speed, slope=slope, crow=crow, deployment=out)
    good = direct.converged & direct.valid
    exact = direct.drag_surfaces + made.frame.plane.corrections.parasite_drag * direct.drag_parts
    error = (table.drag(speed, out) / exact - 1.0)[good]
    assert good.sum() > count / 2
    return float(np.abs(error).max()), float(np.sqrt(np.mean(error**2)))


@pytest.mark.property
@pytest.mark.parametrize("line", ["vertical down", "45 down", "level"])
def test_table_is_within_one_percent_of_a_direct_balance(ready: MakeReady, line: str) -> None:
    greatest, rms = worst(ready("biplane_124"), LINES[line], "up/down", math.radians(17), seed=1, count=60)
    print(f"{line}: worst {100 * greatest:.2f} %, rms {100 * rms:.2f} %")
    assert greatest < 0.01
    assert rms < 0.004


@pytest.mark.long
@pytest.mark.property
@pytest.mark.parametrize("name", DEMOS)
def test_tables_of_every_demo_and_arrangement(ready: MakeReady, name: str) -> None:
    made = ready(name)
    found = {
        (line, arrangement): worst(made, LINES[line], arrangement, math.radians(17), seed=2, count=150)
        for line in ("vertical down", "45 down", "level")
        for arrangement in arrangements_of(made.frame.plane)
    }
    for key, (greatest, rms) in found.items():
        print(name, key, f"worst {100 * greatest:.2f} %, rms {100 * rms:.2f} %")
    # The aim of 1 % is met with opposed crow by every plane but the foam one: a flat plate at Re 6e4 has kinks in the
    # section tables between 0 and 2 deg of throw (up to 2 %). With all ailerons the same way the foam wing is near its
    # stall on slow, lifting lines; single balances there settle on another solution, 16 % away. That is a limit of the
    # table, told here and held by its mean square, no accuracy wanted.
    foam = name == "foam_biplane_085"
    opposed = [item for (_, arrangement), item in found.items() if "both" not in arrangement]
    alike = [item for (_, arrangement), item in found.items() if "both" in arrangement]
    assert max((greatest for greatest, _ in opposed), default=0.0) < (0.02 if foam else 0.01)
    assert max((rms for _, rms in opposed), default=0.0) < (0.005 if foam else 0.002)
    assert foam or max(greatest for greatest, _ in alike) < 0.013
    assert max(rms for _, rms in alike) < (0.02 if foam else 0.003)


@pytest.mark.property
def test_crow_search_tables_are_exact_at_the_wanted_speed(ready: MakeReady) -> None:
    made = ready("biplane_124")
    item = arrangement_drags(made.frame, wanted=made.wanted, throws=Throws())[0]
    rng = np.random.default_rng(3)
    speed, out = rng.uniform(0.7, 1.5, 60) * made.wanted, rng.uniform(0, 1, 60)
    speed[:20] = made.wanted
    crow = crow_at(made.frame.plane, item.arrangement, item.limit.angle)
    direct = balance(made.frame, speed=speed, slope=-np.pi / 2, crow=crow, deployment=out)
    error = np.abs(item.table.drag(speed, out) / (direct.drag_surfaces + direct.drag_parts) - 1.0)
    print(f"crow search: worst {100 * error.max():.2f} %, at the wanted speed {100 * error[:20].max():.2f} %")
    # The search needs its drag at the wanted speed, a node; elsewhere, and below 4 deg of crow, coarse nodes do.
    assert error[:20][out[:20] > 0.125].max() < 0.01
    assert error[direct.converged].max() < 0.02
    assert len(CROW_NODES) == 9
    assert min(DOWN_SPEED_NODES) < 0.7


@pytest.mark.limit
def test_stowed_crow_adds_nothing_on_any_line(tables: dict[str, DragTable]) -> None:
    speeds = np.linspace(12, 50, 9)
    for table in tables.values():
        assert np.all(table.crow_area(speeds, 0.0) == 0.0)
        assert table.drag(speeds, 0.0) == pytest.approx(0.5 * 1.225 * speeds**2 * table.clean_area(speeds), rel=1e-4)


@pytest.mark.limit
def test_a_plan_without_crow_has_no_crow_drag(ready: MakeReady) -> None:
    made = ready("biplane_124")
    table = drag_tables(made.frame, wanted=made.wanted, slopes=-np.pi / 2)[0]
    assert table.crow_area(22.0, 1.0) == 0.0
    assert table.drag(22.0, 1.0) == table.drag(22.0, 0.0)


def test_corrections_act_on_their_own_part(tables: dict[str, DragTable]) -> None:
    table = tables["vertical down"]
    more = table.corrected(replace(table.corrections, parasite_drag=2.0, crow_drag=3.0))
    assert more.crow_area(22.0, 0.7) == pytest.approx(3 * table.crow_area(22.0, 0.7))
    parts = more.clean_area(22.0) - table.clean_area(22.0)
    assert parts == pytest.approx(np.interp(22.0, table.speeds, table.parts[:, 0]), rel=1e-6)
    assert table.weighing(20.0).weight == 20.0
    assert table.weighing(20.0).drag(22.0, 0.5) == table.drag(22.0, 0.5)


@pytest.mark.outside
def test_look_ups_hold_the_edge_of_the_table(tables: dict[str, DragTable]) -> None:
    table = tables["vertical down"]
    last = float(table.speeds[-1])
    assert table.clean_area(5 * last) == pytest.approx(table.clean_area(last), rel=1e-6)
    assert table.crow_area(22.0, 1.7) == pytest.approx(table.crow_area(22.0, 1.0), rel=1e-5)
    assert np.isfinite(table.elevator_at(0.0, 0.5))
    assert np.isfinite(table.alpha_at(0.0, 0.5))


def test_a_stall_sets_the_lowest_speed_of_level_flight_alone(ready: MakeReady) -> None:
    made = ready("biplane_155")
    level, down = drag_tables(
        made.frame, wanted=0.5 * made.wanted, slopes=[0.0, -np.pi / 2], crow=crow_at(made.frame.plane, "up/down", 0.3)
    )
    assert 0.45 * 0.5 * made.wanted < level.lowest_speed < 0.6 * made.wanted
    assert down.lowest_speed == 0.0


@pytest.mark.property
@pytest.mark.parametrize("name", DEMOS)
def test_only_slow_nodes_count_as_stalled(ready: MakeReady, name: str) -> None:
    """One balance that does not settle at speed must not shorten a table: no line stalls above .7 of wanted."""
    made = ready(name)
    crow = crow_at(made.frame.plane, arrangements_of(made.frame.plane)[0], math.radians(30.0))
    for table in drag_tables(made.frame, wanted=made.wanted, slopes=list(LINES.values()), crow=crow):
        assert table.lowest_speed <= 0.7 * made.wanted
        assert table.speeds[0] <= 0.7 * made.wanted
        assert np.all(np.isfinite(table.surfaces))


def test_an_unsettled_condition_is_filled_from_its_neighbours() -> None:
    values = np.arange(12.0).reshape(1, 3, 4)
    settled = np.ones((1, 3, 4), bool)
    spoiled = values.copy()
    settled[0, 1, 2] = False
    spoiled[0, 1, 2] = 99.0
    settled[0, 2, :] = False
    settled[0, 2, 0] = True
    _fill(spoiled, settled, np.array([1.0, 2.0, 3.0]), np.array([0.0, 1.0, 2.0, 3.0]))
    assert spoiled[0, 1, 2] == 6.0
    assert spoiled[0, 2].tolist() == [8.0, 8.0, 8.0, 8.0]
