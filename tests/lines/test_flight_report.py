"""Flights judged: parts add up, causes are named, spreads come from changed planes."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from rich.console import Console

from evenfall.errors import FileFaults, InputError
from evenfall.lines.flight_report import Why
from evenfall.lines.flown_path import Ended
from evenfall.lines.loaded import LoadedDrag
from evenfall.lines.sequence import Figure, Line, Loop, Part, Roll, Sequence, Spin, StallTurn
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path, programme_path
from evenfall.sheet.fly_make import fly_page
from evenfall.sheet.fly_text import fly_parts
from evenfall.wind import WindDay
from evenfall.workflow import TuneAnswer, prepare
from evenfall.workflow.flying import Flown, compare, day_of, fly

QUARTER = math.pi / 2


def sequence(*parts: Part, height: float = 90.0) -> Sequence:
    return Sequence(name="test", figures=(Figure(name="all", parts=parts),), height=height, place=-60.0)


DOWN_AND_UP = sequence(
    Line(slope=0.0, length=40.0, rolls=(Roll(angle=2 * math.pi),)),
    Loop(radius=22.0, angle=QUARTER),
    Line(slope=QUARTER, length=50.0),
    StallTurn(),
    Line(slope=-QUARTER, length=50.0),
    Loop(radius=22.0, angle=QUARTER),
    Line(slope=0.0, length=60.0, rolls=(Roll(angle=2 * math.pi, snap=True),)),
)


@pytest.fixture(name="answer", scope="module")
def _answer(tuned: Callable[[str], TuneAnswer]) -> TuneAnswer:
    return tuned("biplane_124")


@pytest.fixture(name="flown", scope="module")
def _flown(answer: TuneAnswer, loaded: LoadedDrag) -> Flown:
    assert answer.predicted is not None
    return fly(answer.predicted.ready, answer.plan, DOWN_AND_UP, forces=loaded)


@pytest.mark.invariant
def test_parts_lie_end_to_end_and_add_up(flown: Flown) -> None:
    parts = flown.report.parts
    assert [(part.figure, part.part) for part in parts] == [(0, k) for k in range(7)]
    assert parts[0].start == 0.0
    for before, after in zip(parts, parts[1:], strict=False):
        assert before.end == after.start
        assert before.ended == after.begun
    assert parts[-1].end == pytest.approx(flown.flight.path.length)
    assert parts[-1].ended == pytest.approx(flown.report.duration)
    for part in parts:
        assert part.slowest - 0.5 <= part.speed <= part.fastest + 0.5
        assert part.low <= part.high
    mass = flown.ready.file.plane.mass.all_up
    for part in parts[1:3]:
        end = float(np.interp(part.end, flown.flight.place, flown.flight.row("speed")[:, 0]))
        begin = float(np.interp(part.start, flown.flight.place, flown.flight.row("speed")[:, 0]))
        won = (part.thrust - part.drag - part.held) * (part.end - part.start)
        assert won == pytest.approx(0.5 * mass * (end**2 - begin**2), abs=0.5)


def test_causes_are_named(flown: Flown) -> None:
    parts = flown.report.parts
    assert parts[3].why is Why.SLOWED
    assert not parts[3].counted
    assert parts[4].slowest < 10.0
    assert parts[4].worst > -2.0
    assert parts[1].why is Why.EVEN
    assert parts[6].estimated
    assert parts[1].load_high > 2.0
    for why in Why:
        assert why.text.endswith(".")
        assert (why.short == "") == (why is Why.EVEN)


def test_what_the_wind_makes_is_said(answer: TuneAnswer, loaded: LoadedDrag, flown: Flown) -> None:
    assert answer.predicted is not None
    wind = day_of(WindDay(speed=8.0, towards=math.pi), answer.predicted.ready)
    blown = fly(answer.predicted.ready, answer.plan, DOWN_AND_UP, forces=loaded, wind=wind)
    assert all(part.by_wind is None for part in flown.report.parts)
    assert all(part.why is not Why.WIND for part in flown.report.parts)
    told = [part for part in blown.report.parts if part.by_wind is not None]
    assert told
    for part in told:
        if abs(part.worst) > 1.3:
            assert (part.why is Why.WIND) == ((part.by_wind or 0.0) / part.worst > 0.5)
    assert Why.WIND in {part.why for part in told}
    assert blown.flight.state.shape[2] == flown.flight.state.shape[2]
    assert blown.spread is not None
    page = fly_page(blown, wind="wind 8 m/s")
    assert any(figure.by_wind_m_s is not None for figure in page.figures)
    assert any(part.why == "wind" and part.why_short == "wind" for part in page.figures[0].parts)
    for shown, there in ((page, True), (fly_page(flown), False)):
        screen = Console(width=240, record=True, file=StringIO())
        screen.print(*fly_parts(shown, "metric", every_part=True))
        text = screen.export_text()
        assert ("by wind m/s" in text) is there
        assert (Why.WIND.text in text) is there


@pytest.mark.parametrize("towards", [0.0, 90.0, 180.0])
def test_a_slow_plane_in_much_wind_gives_a_clear_reason(towards: float) -> None:
    """10 m/s wanted in 8 m/s of wind: every number stays finite; what ends it or drives it off its line is the wind."""
    ready = prepare(load_plane(demo_path("foam_biplane_085")))
    day = WindDay(speed=8.0, towards=math.radians(towards))
    done = fly(ready, None, DOWN_AND_UP, spread=False, wind=day_of(day, ready))
    assert np.isfinite(done.flight.state).all()
    page = fly_page(done, wind="wind 8 m/s")
    if towards == 90.0:
        assert done.report.ended is Ended.FLOWN
        assert done.drifts > 0.5
        assert any("drifts off its line" in words for words in page.words)
    else:
        assert done.report.ended is Ended.BLOWN
        assert page.ended == "blown"
        assert any("too strong" in words for words in page.words)
    still = fly(ready, None, DOWN_AND_UP, spread=False)
    assert still.drifts == 0.0
    assert still.report.ended is Ended.FLOWN


def test_without_crow_the_line_down_is_too_fast_and_says_why(answer: TuneAnswer, loaded: LoadedDrag) -> None:
    assert answer.predicted is not None
    down = sequence(
        Line(slope=0.0, length=30.0),
        Loop(radius=22.0, angle=QUARTER, towards="belly"),
        Line(slope=-QUARTER, length=55.0),
        Loop(radius=22.0, angle=QUARTER),
        height=160.0,
    )
    bare = fly(answer.predicted.ready, None, down, spread=False)
    crowed = fly(answer.predicted.ready, answer.plan, down, spread=False, forces=loaded)
    assert bare.report.parts[2].worst > 2.0
    assert bare.report.parts[2].why is Why.BRAKES_AT_END
    assert crowed.report.unevenness < bare.report.unevenness
    both = compare(bare, crowed)
    assert both.speeds[0, 2] < -1.0
    with pytest.raises(InputError, match="different sequences"):
        compare(bare, replace(bare, sequence=DOWN_AND_UP))


def test_spreads_have_causes_and_grow_where_the_crow_works(flown: Flown) -> None:
    assert flown.spread is not None
    level, down = flown.spread.speeds[0, 0], flown.spread.speeds[0, 4]
    assert level is not None
    assert down is not None
    assert 0.0 < level.spread < 0.6
    assert down.causes
    assert flown.spread.charge is not None
    assert 0.02 < flown.spread.charge.spread / flown.spread.charge.value < 0.3
    assert flown.spread.unevenness is not None
    assert flown.spread.unevenness.value == pytest.approx(flown.report.unevenness, rel=0.05)


def test_a_doubt_that_ends_the_flight_is_named(answer: TuneAnswer, loaded: LoadedDrag) -> None:
    """A loop so tight that the plane just carries it: a little heavier it does not."""
    assert answer.predicted is not None
    ready = answer.predicted.ready

    def tight(radius: float) -> Sequence:
        return sequence(Line(slope=0.0, length=15.0), Loop(radius=radius, angle=1.0))

    stalls, flies = 3.0, 9.0
    while flies / stalls > 1.0005:
        middle = 0.5 * (stalls + flies)
        tried = fly(ready, answer.plan, tight(middle), forces=loaded, spread=False)
        stalls, flies = (stalls, middle) if tried.report.ended is Ended.FLOWN else (middle, flies)
    done = fly(ready, answer.plan, tight(flies), forces=loaded)
    assert done.spread is not None
    assert done.spread.lost
    assert {ended for _, ended in done.spread.lost} == {Ended.STALLED}
    assert any("one sigma off" in words for words in fly_page(done).words)


def test_energy_box_and_servos(flown: Flown) -> None:
    report = flown.report
    assert report.ended is Ended.FLOWN
    capacity = flown.ready.file.plane.battery.capacity
    assert report.left == pytest.approx(1.0 - report.charge / capacity)
    assert 10.0 < report.voltage < 17.0
    assert report.current > 5.0
    assert 0.5 < report.energy / (report.charge * report.voltage) < 2.0
    assert report.low < 91.0 < 155.0 < report.high
    assert flown.servo is not None
    assert 0.02 < flown.servo.share < 1.0


def test_figures_that_do_not_join_are_refused_with_their_place(answer: TuneAnswer, loaded: LoadedDrag) -> None:
    assert answer.predicted is not None
    wrong = sequence(Line(slope=0.0, length=20.0), Line(slope=QUARTER, length=20.0))
    with pytest.raises(FileFaults, match=r"figure 1 \(all\): a line of 90 deg is asked for"):
        fly(answer.predicted.ready, answer.plan, wrong)
    with pytest.raises(InputError, match="no figures"):
        fly(answer.predicted.ready, answer.plan, Sequence(name="none", figures=()))
    above = sequence(Line(slope=0.0, length=20.0), height=400.0)
    high = fly(answer.predicted.ready, answer.plan, above, spread=False, forces=loaded)
    assert "the box ends at" in high.findings[0].message


def test_a_spin_is_entered_slowly_and_left_downwards(answer: TuneAnswer, loaded: LoadedDrag) -> None:
    assert answer.predicted is not None
    spun = sequence(
        Line(slope=0.0, length=90.0),
        Spin(turns=2.0),
        Line(slope=-QUARTER, length=15.0),
        Loop(radius=22.0, angle=QUARTER),
        Line(slope=0.0, length=20.0),
        height=110.0,
    )
    done = fly(answer.predicted.ready, answer.plan, spun, spread=False, forces=loaded)
    assert done.report.ended is Ended.FLOWN
    spin = done.report.parts[1]
    assert spin.estimated
    assert spin.fastest < 14.0
    assert spin.stick < 0.1


@pytest.mark.parametrize("name", ["eight", pytest.param("seventeen", marks=pytest.mark.long)])
def test_the_invented_programmes_are_flown_to_their_end(answer: TuneAnswer, loaded: LoadedDrag, name: str) -> None:
    assert answer.predicted is not None
    done = fly(answer.predicted.ready, answer.plan, programme_path(name), spread=False, forces=loaded)
    assert done.report.ended is Ended.FLOWN
    assert done.findings == ()
    assert done.report.unevenness < 0.08
    assert len({part.figure for part in done.report.parts}) == len(done.sequence.figures)
