"""Flying a path: books of energy, limits without drag and thrust, the line engine, load factors, order."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.blown import last_in_calm
from evenfall.lines.flight_report import Why, flight_report
from evenfall.lines.flown import FlownLine, FlownVariant
from evenfall.lines.flown import fly as fly_lines
from evenfall.lines.flown_path import Ended, FlownPath
from evenfall.lines.fly import fly_path
from evenfall.lines.loaded import LoadedDrag
from evenfall.lines.path import Path, Piece, Vector, lay_out
from evenfall.lines.pilot import held_stick, pilot_of
from evenfall.lines.sequence import Figure, Line, Loop, Part, Roll, Sequence, Spin, StallTurn
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.variants import Variant
from evenfall.power.train import shaft_inertia
from evenfall.workflow import Predicted, TuneAnswer

Floats = NDArray[np.float64]
DOWN: Vector = (0.0, 0.0, -1.0)
QUARTER = math.pi / 2


@dataclass(frozen=True)
class Bare:
    """An airframe with a constant drag area, m^2, that never stalls."""

    cd_area: float = 0.0
    area: float = 0.4
    edge: float = 1.0
    least: float = math.inf

    def drag(self, speed: Floats, lift: Floats, thrust: Floats, deployment: Floats, factors: Floats) -> Floats:
        return 0.6125 * self.cd_area * speed**2 + 1e-3 * lift**2 / speed**2 * (self.cd_area > 0)

    def most_lift(self, speed: Floats, deployment: Floats, upright: NDArray[np.bool_]) -> Floats:
        return np.full_like(speed, math.inf)


@dataclass(frozen=True)
class Smooth:
    """A propeller without kinks: thrust and torque of `size`, falling with speed."""

    size: float = 1.0

    def loads(self, speed: Floats, omega: Floats, density: float = 1.225) -> tuple[Floats, Floats]:
        pull = self.size * (2e-5 * omega**2 - 4e-4 * omega * speed)
        return pull, self.size * (4e-7 * omega**2 - 3e-6 * omega * speed)


@pytest.fixture(name="predicted")
def _predicted(tuned: Callable[[str], TuneAnswer]) -> Predicted:
    found = tuned("biplane_124").predicted
    assert found is not None
    return found


def programme(*parts: Part, height: float = 60.0) -> Path:
    return lay_out(Sequence(name="test", figures=(Figure(name="all", parts=parts),), height=height))


def figures() -> Path:
    full = 2 * math.pi
    return programme(
        Line(slope=0.0, length=60.0, rolls=(Roll(angle=full),)),
        Loop(radius=25.0, angle=QUARTER),
        Line(slope=QUARTER, length=55.0, rolls=(Roll(angle=full, points=2),)),
        Loop(radius=22.0, angle=math.pi, towards="belly"),
        Line(slope=-QUARTER, length=55.0, rolls=(Roll(angle=full, snap=True, middle=0.7),)),
        Loop(radius=22.0, angle=QUARTER, towards="belly"),
        Line(slope=0.0, length=30.0, rolls=(Roll(angle=math.pi),)),
        Loop(radius=25.0, angle=QUARTER),
        Line(slope=QUARTER, length=60.0),
        StallTurn(),
        Line(slope=-QUARTER, length=60.0),
        Loop(radius=25.0, angle=QUARTER),
        Line(slope=0.0, length=90.0),
        Spin(turns=2.0),
        Line(slope=-QUARTER, length=20.0),
        Loop(radius=25.0, angle=QUARTER),
        Line(slope=0.0, length=30.0),
        Loop(radius=30.0, angle=math.pi / 4),
        Line(slope=math.pi / 4, length=60.0, rolls=(Roll(angle=full, points=4),)),
        Loop(radius=30.0, angle=math.pi / 4, towards="belly"),
        height=120.0,
    )


def straight(length: float, *, forward: Vector = DOWN) -> Path:
    piece = Piece(
        how="line",
        figure=0,
        part=0,
        phase="normal",
        start=0.0,
        length=length,
        position=(0.0, 0.0, 300.0),
        forward=forward,
        canopy=(1.0, 0.0, 0.0),
    )
    return Path(sequence=Sequence(name="straight", figures=()), pieces=(piece,))


def flown(predicted: Predicted, loaded: LoadedDrag, path: Path, **given: object) -> FlownPath:
    given = {"pilot": pilot_of(predicted.survey.holding), "wanted": predicted.ready.wanted, **given}
    return fly_path(predicted.ready.unit, predicted.plan, path, loaded, **given)  # type: ignore[arg-type]


def books(done: FlownPath, mass: Floats | float) -> tuple[Floats, Floats]:
    """Energy won less works done along the path, J, and the sum of all works' sizes, J."""
    speed, height = done.row("speed"), done.heights()
    weight = G0 * mass
    won = 0.5 * mass * (speed[-1] ** 2 - speed[0] ** 2) + weight * (height[-1] - height[0])
    total = sum(np.abs(np.diff(done.row(name), axis=0)).sum(axis=0) for name in ("thrust", "drag", "wind"))
    works = done.row("thrust")[-1] - done.row("drag")[-1] + done.row("wind")[-1]
    return np.asarray(won - works), np.asarray(total + np.abs(np.diff(height)).sum() * weight)


@pytest.mark.invariant
def test_works_add_up_to_the_change_of_energy(predicted: Predicted, loaded: LoadedDrag) -> None:
    unit = predicted.ready.unit
    heavy = replace(unit.plane, mass=replace(unit.plane.mass, all_up=1.1 * unit.plane.mass.all_up))
    variants = [Variant(plane=unit.plane), Variant(plane=heavy, clean=1.2, crow=0.9)]
    done = flown(predicted, loaded, figures(), variants=variants, charge_left=0.9)
    assert done.ended == (Ended.FLOWN, Ended.FLOWN)
    off, total = books(done, np.array([unit.plane.mass.all_up, heavy.mass.all_up]))
    assert (np.abs(off) < 1e-3 * total).all()
    assert (total > 1000.0).all()


@pytest.mark.invariant
def test_shaft_and_battery_balance_too(predicted: Predicted, loaded: LoadedDrag) -> None:
    done = flown(predicted, loaded, figures(), charge_left=0.9)
    inertia = shaft_inertia(predicted.ready.unit.plane)
    turning = 0.5 * inertia * (done.row("omega")[-1] ** 2 - done.row("omega")[0] ** 2)
    moved = np.abs(np.diff(done.row("motor"), axis=0)).sum()
    assert abs(turning - done.row("motor")[-1] + done.row("propeller")[-1]) < 1e-3 * moved
    np.testing.assert_allclose(done.row("battery")[-1], done.row("heat")[-1] + done.row("motor")[-1], rtol=1e-9)
    assert done.row("charge")[-1, 0] > 100.0


@pytest.mark.limit
def test_without_drag_and_thrust_speed_is_height(predicted: Predicted) -> None:
    unit = replace(predicted.ready.unit, propeller=Smooth(size=0.0))
    done = fly_path(unit, predicted.plan, figures(), Bare(), wanted=22.0, pilot=held_stick(0.0), speed=60.0, step=0.02)
    lost = done.heights()[0] - done.heights()
    speed = done.row("speed")[:, 0]
    spin = np.array([done.path.pieces[k].how == "spin" for k in done.piece])
    before = slice(0, int(np.argmax(spin)))
    np.testing.assert_allclose(speed[before] ** 2, 60.0**2 + 2 * G0 * lost[before], rtol=1e-6)
    assert np.ptp(speed[before]) > 5.0


@pytest.mark.invariant
@pytest.mark.parametrize("entry", [14.0, 22.0, 29.0])
def test_a_line_is_what_the_line_engine_makes_of_it(predicted: Predicted, loaded: LoadedDrag, entry: float) -> None:
    line = predicted.survey.line("vertical down")
    done = flown(predicted, loaded, straight(120.0), pilot=held_stick(line.stick), speed=entry, step=0.02)
    alone = fly_lines(
        predicted.ready.unit,
        [
            FlownLine(
                table=predicted.tables.lines["vertical down"],
                plan=predicted.plan,
                stick=line.stick,
                deployment=line.deployment,
                speed=entry,
                fresh=False,
                duration=8.0,
            )
        ],
        [FlownVariant(plane=predicted.ready.unit.plane)],
        step=0.02,
    )
    there = np.interp(done.place, alone.way[:, 0, 0], alone.speed[:, 0, 0])
    np.testing.assert_allclose(done.row("speed")[:, 0], there, rtol=0.01)
    np.testing.assert_allclose(done.row("speed")[-1, 0], there[-1], rtol=0.004)


@pytest.mark.invariant
def test_load_factor_of_a_loop(predicted: Predicted, loaded: LoadedDrag) -> None:
    path = programme(Line(slope=0.0, length=20.0), Loop(radius=30.0, angle=2 * math.pi))
    done = flown(predicted, loaded, path)
    inside = done.place > 20.0
    angle = (done.place[inside] - 20.0) / 30.0
    expected = done.row("speed")[inside, 0] ** 2 / (30.0 * G0) + np.cos(angle)
    np.testing.assert_allclose(done.load_factors()[inside, 0], expected, rtol=1e-12)
    assert expected.max() > 2.0


@pytest.mark.convergence
def test_the_error_falls_with_the_fourth_power_of_the_step(predicted: Predicted) -> None:
    unit = PowerUnit(plane=predicted.ready.unit.plane, propeller=Smooth(), density=1.225)
    path = programme(Line(slope=0.0, length=10.0), Loop(radius=25.0, angle=2 * math.pi))

    def end(step: float) -> Floats:
        done = fly_path(
            unit, predicted.plan, path, Bare(cd_area=0.03), wanted=22.0, pilot=held_stick(0.8), speed=20.0, step=step
        )
        return np.array([done.row(name)[-1, 0] for name in ("thrust", "drag", "motor", "time")])

    steps = [0.06, 0.03, 0.015]
    exact = end(0.0075)
    errors = [np.abs(end(step) - exact) for step in steps]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert (orders > 3.5).all(), orders


def test_what_cannot_be_flown_ends_with_its_reason(predicted: Predicted, loaded: LoadedDrag) -> None:
    tight = flown(predicted, loaded, programme(Line(slope=0.0, length=20.0), Loop(radius=4.0, angle=math.pi)))
    assert tight.ended == (Ended.STALLED,)
    assert tight.end[0] < 30.0
    stopped = flown(predicted, loaded, straight(200.0, forward=(0.0, 0.0, 1.0)), pilot=held_stick(0.3))
    assert stopped.ended == (Ended.STOPPED,)
    for done in (tight, stopped):
        assert np.isfinite(done.state).all()
        assert done.ended[0].text.endswith(".")


def test_an_empty_battery_is_an_event_and_the_flight_goes_on_without_power(
    predicted: Predicted, loaded: LoadedDrag
) -> None:
    long = programme(Line(slope=0.0, length=300.0))
    done = flown(predicted, loaded, long, charge_left=0.003)
    assert 20.0 < done.empty[0] < 250.0
    assert done.row("speed")[-1, 0] < done.row("speed")[0, 0] - 2.0
    assert flown(predicted, loaded, long, charge_left=0.5).empty[0] == math.inf
    assert done.ended == (Ended.EMPTY,)
    assert "battery" in done.ended[0].text


def test_a_stall_turn_is_slow_and_a_spin_begins_near_the_stall(predicted: Predicted, loaded: LoadedDrag) -> None:
    done = flown(predicted, loaded, figures(), charge_left=0.9)
    how = np.array([done.path.pieces[k].how for k in done.piece])
    speed = done.row("speed")[:, 0]
    assert speed[how == "stall turn"].max() < 8.0
    assert speed[np.argmax(how == "spin")] < 11.0


@pytest.mark.invariant
def test_books_balance_in_wind_too(predicted: Predicted, loaded: LoadedDrag) -> None:
    def wind(height: float, time: Floats) -> Floats:
        return np.stack([-4.0 - 0.02 * height + 1.5 * np.sin(2.0 * time), 0.0 * time, 0.5 * np.cos(3.0 * time)])

    done = flown(predicted, loaded, figures(), charge_left=0.9, wind=wind)
    assert done.ended == (Ended.FLOWN,)
    off, total = books(done, predicted.ready.unit.plane.mass.all_up)
    assert abs(off[0]) < 1e-3 * total[0]
    assert abs(done.row("wind")[-1, 0]) > 1.0


@pytest.mark.limit
def test_a_steady_headwind_takes_its_speed_from_the_ground(predicted: Predicted, loaded: LoadedDrag) -> None:
    def wind(height: float, time: Floats) -> Floats:
        return np.array([[-5.0], [0.0], [0.0]])

    level = programme(Line(slope=0.0, length=400.0))
    calm, blown = (flown(predicted, loaded, level, pilot=held_stick(0.6), wind=one) for one in (None, wind))
    assert blown.row("speed")[-1, 0] == pytest.approx(calm.row("speed")[-1, 0] - 5.0, abs=0.02)


@pytest.mark.limit
def test_still_air_beside_wind_says_what_the_wind_takes(predicted: Predicted, loaded: LoadedDrag) -> None:
    def wind(height: float, time: Floats) -> Floats:
        return np.array([[-5.0], [0.0], [0.0]])

    unit = predicted.ready.unit
    twice = [Variant(plane=unit.plane)] * 2
    level = programme(Line(slope=0.0, length=400.0))
    done = flown(
        predicted, loaded, level, pilot=held_stick(0.6), wind=last_in_calm(wind), variants=twice, charge_left=None
    )
    alone = done.without_last()
    assert alone.row("speed").shape == (len(done.place), 1)
    report = flight_report(
        alone, unit.plane, predicted.plan, wanted=predicted.ready.wanted, charge_left=None, calm=done.reached(-1)
    )
    part = report.parts[0]
    assert part.by_wind == pytest.approx(-5.0, abs=0.1)
    assert part.worst < -2.0
    assert part.why is Why.WIND
    still = flight_report(alone, unit.plane, predicted.plan, wanted=predicted.ready.wanted, charge_left=None)
    assert still.parts[0].by_wind is None
    assert still.parts[0].why is not Why.WIND


@pytest.mark.limit
def test_a_gust_that_steps_in_takes_what_the_closed_form_says(predicted: Predicted) -> None:
    """Gliding level against drag k V^2 alone: air speed a/(1 + k a t/m), in still air V exp(-k x/m) over the way."""

    def wind(height: float, time: Floats) -> Floats:
        return np.stack([np.where(time >= 1.0, -4.0, 0.0), 0.0 * time, 0.0 * time])

    unit = replace(predicted.ready.unit, propeller=Smooth(size=0.0))
    mass, k, entry, length = unit.plane.mass.all_up, 0.6125 * 0.03, 22.0, 50.0
    done = fly_path(
        unit,
        predicted.plan,
        programme(Line(slope=0.0, length=length)),
        Bare(cd_area=0.03),
        wanted=entry,
        pilot=held_stick(0.0),
        variants=[Variant(plane=unit.plane)] * 2,
        wind=last_in_calm(wind),
        step=0.005,
    )
    report = flight_report(
        done.without_last(), unit.plane, predicted.plan, wanted=entry, charge_left=None, calm=done.reached(-1)
    )
    time = np.linspace(0.0, 4.0, 4001)
    before = entry / (1 + k * entry * 1.0 / mass)
    air = (before + 4.0) / (1 + k * (before + 4.0) * time / mass)
    way = mass / k * (np.log(entry / before) + np.log((before + 4.0) / air)) - 4.0 * time
    blown = float(np.interp(length, way, air - 4.0))
    part = report.parts[0]
    assert part.worst == pytest.approx(blown - entry, abs=0.02)
    assert part.by_wind == pytest.approx(blown - entry * math.exp(-k * length / mass), abs=0.02)
    assert part.by_wind is not None
    assert part.by_wind < -0.5


@pytest.mark.limit
def test_a_straight_line_in_steady_wind_is_one_of_another_slope_in_the_air(
    predicted: Predicted, loaded: LoadedDrag
) -> None:
    def wind(height: float, time: Floats) -> Floats:
        return np.array([[7.0], [0.0], [0.0]])

    arc = Loop(radius=25.0, angle=0.25 * math.pi, towards="belly")
    steep = programme(arc, Line(slope=-0.25 * math.pi, length=900.0), height=900.0)
    done = flown(predicted, loaded, steep, pilot=held_stick(0.1), wind=wind)
    assert done.ended == (Ended.FLOWN,)
    speed, ways = done.row("speed")[-3:, 0], np.diff(done.place[-3:])
    assert speed[-1] == pytest.approx(speed[0], abs=0.002)
    ahead, down = speed[-1] * math.sqrt(0.5) - 7.0, speed[-1] * math.sqrt(0.5)
    through = math.hypot(ahead, down)
    along = (ahead + down) * math.sqrt(0.5) / through
    pushed = (np.diff(done.row("thrust")[-3:, 0]) - np.diff(done.row("drag")[-3:, 0])) / ways / along
    weight = G0 * predicted.ready.unit.plane.mass.all_up
    assert pushed[-1] == pytest.approx(-weight * down / through, rel=2e-3)


def any_programme(rng: np.random.Generator) -> Path:
    """Lines, part loops, rolls, snaps, stall turns and spins in any order, at any attitude, closing or not."""
    parts: list[Part] = []
    for _ in range(int(rng.integers(6, 12))):
        kind = int(rng.integers(0, 8))
        if kind == 6:
            parts.append(StallTurn(way=int(rng.choice([-1, 1]))))
        elif kind == 7:
            parts.append(Spin(turns=float(rng.uniform(0.5, 2.0))))
        elif kind >= 3:
            towards: Literal["canopy", "belly"] = "canopy" if rng.random() < 0.6 else "belly"
            angle = float(rng.uniform(0.3, 4.0))
            parts.append(Loop(radius=float(rng.uniform(15.0, 40.0)), angle=angle, towards=towards))
        else:
            turn = float(rng.choice([-2.0, -1.0, 0.5, 1.0])) * math.pi
            roll = Roll(angle=turn, points=int(rng.integers(1, 4)), snap=bool(rng.random() < 0.3))
            parts.append(Line(slope=0.0, length=float(rng.uniform(25.0, 90.0)), rolls=(roll,)))
    return programme(*parts, height=200.0)


@pytest.mark.property
@pytest.mark.parametrize("seed", range(5))
def test_works_add_up_on_any_sequence(predicted: Predicted, loaded: LoadedDrag, seed: int) -> None:
    path = any_programme(np.random.default_rng(seed))
    done = flown(predicted, loaded, path, charge_left=1.0, speed=24.0)
    assert np.isfinite(done.state).all()
    off, total = books(done, predicted.ready.unit.plane.mass.all_up)
    assert abs(off[0]) < 1e-3 * total[0]
    shaft = np.diff(done.row("motor") - done.row("propeller"), axis=0).sum()
    turning = 0.5 * shaft_inertia(predicted.ready.unit.plane) * np.diff(done.row("omega")[[0, -1]] ** 2, axis=0)
    moved = np.abs(np.diff(done.row("motor"), axis=0)).sum() + np.abs(np.diff(done.row("propeller"), axis=0)).sum()
    whole = off[0] + turning[0, 0] - shaft
    assert abs(whole) < 1e-3 * (total[0] + moved)
