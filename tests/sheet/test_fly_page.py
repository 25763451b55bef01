"""The page and the text of a flown programme."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from rich.console import Console

from evenfall.lines.sequence import Figure, Line, Loop, Roll, Sequence, Spin, StallTurn
from evenfall.sheet.fly_make import fly_compare_page, fly_page
from evenfall.sheet.fly_page import FlyPage
from evenfall.sheet.fly_text import fly_compare_parts, fly_parts, signed
from evenfall.sheet.fly_words import part_words, roll_words
from evenfall.workflow import TuneAnswer
from evenfall.workflow.flying import Flown, compare, fly

QUARTER = math.pi / 2
SHORT = Sequence(
    name="Two figures (invented)",
    height=80.0,
    place=-60.0,
    invented=True,
    figures=(
        Figure(
            name="Half loop",
            parts=(
                Line(slope=0.0, length=30.0, pause=True),
                Loop(radius=22.0, angle=math.pi),
                Line(slope=0.0, length=40.0, rolls=(Roll(angle=math.pi),)),
            ),
        ),
        Figure(name="Snap", parts=(Line(slope=0.0, length=40.0, rolls=(Roll(angle=2 * math.pi, snap=True),)),)),
    ),
)


@pytest.fixture(name="flown", scope="module")
def _flown(tuned: Callable[[str], TuneAnswer]) -> Flown:
    answer = tuned("biplane_124")
    assert answer.predicted is not None
    return fly(answer.predicted.ready, answer.plan, SHORT)


@pytest.fixture(name="page", scope="module")
def _page(flown: Flown) -> FlyPage:
    return fly_page(flown)


def printed(parts: list[object]) -> str:
    screen = Console(width=140, record=True, file=None, quiet=False, force_terminal=False)
    with screen.capture() as caught:
        for part in parts:
            screen.print(part)
    return caught.get()


def test_the_page_holds_the_report_in_its_units(flown: Flown, page: FlyPage) -> None:
    report = flown.report
    assert page.charge_mah.value == pytest.approx(report.charge / 3.6)
    assert page.unevenness_percent.value == pytest.approx(100 * report.unevenness)
    assert page.charge_mah.spread is not None
    assert [figure.name for figure in page.figures] == ["Half loop", "Snap"]
    assert all(figure.flown for figure in page.figures)
    assert [part.words for part in page.figures[0].parts] == [
        "pause, 30 m",
        "half loop to the canopy, radius 22 m",
        "level, 40 m, half roll right",
    ]
    assert sum(figure.charge_mah for figure in page.figures) == pytest.approx(page.charge_mah.value, rel=1e-6)
    assert FlyPage.model_validate_json(page.model_dump_json()) == page


def test_the_track_can_be_played(page: FlyPage) -> None:
    track = page.track
    columns = track.model_dump()
    assert {len(column) for column in columns.values()} == {len(track.time_s)}
    assert 80 < len(track.time_s) < 1000
    assert list(track.time_s) == sorted(track.time_s)
    assert track.height_m[0] == pytest.approx(80.0)
    assert track.height_m[-1] == pytest.approx(80.0 + 44.0)
    assert track.canopy[0] == pytest.approx((0.0, 0.0, 1.0))
    assert max(track.height_m) < 125.0
    for forward, canopy in zip(track.forward, track.canopy, strict=True):
        assert math.dist(forward, (0, 0, 0)) == pytest.approx(1.0, abs=2e-4)
        assert sum(a * b for a, b in zip(forward, canopy, strict=True)) == pytest.approx(0.0, abs=2e-4)
    assert max(track.load) > 2.5
    assert 2.0 < max(track.incidence_deg) < 12.0
    assert track.left_percent[0] > track.left_percent[-1] > 90.0
    assert min(track.voltage_v) > 12.0


def test_text_names_figures_causes_and_limits(page: FlyPage) -> None:
    text = printed(fly_parts(page, "metric", every_part=True))  # type: ignore[arg-type]
    for words in (
        "Half loop",
        "Flown to the end.",
        "snap: A snap takes speed away.",
        "mAh",
        "(estimate)",
        "level, 40 m",
    ):
        assert words in text, words
    assert "estimates" in text
    assert "-0.0" not in text
    imperial = printed(fly_parts(page, "imperial"))  # type: ignore[arg-type]
    assert "49.2 mph" in imperial


def test_two_flights_side_by_side(flown: Flown) -> None:
    bare = fly(flown.ready, None, SHORT, spread=False, forces=None)
    page = fly_compare_page(compare(flown, bare))
    assert [row.number for row in page.rows] == [1, 2]
    text = printed(fly_compare_parts(page, "metric"))  # type: ignore[arg-type]
    assert "as it is now" in text
    assert "Unevenness" in text


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (Line(slope=QUARTER, length=60.0), "vertical up, 60 m"),
        (Line(slope=-math.pi / 4, length=44.0), "45 down, 44 m"),
        (Loop(radius=20.0, angle=math.radians(225)), "225 deg of loop to the canopy, radius 20 m"),
        (StallTurn(way=-1), "stall turn to the left"),
        (Spin(turns=1.0), "spin right, 1 turn"),
        (Spin(turns=2.5, way=-1), "spin left, 2.5 turns"),
    ],
)
def test_parts_in_words(part: Line | Loop | StallTurn | Spin, words: str) -> None:
    assert part_words(part) == words


def test_rolls_and_deviations_in_words() -> None:
    full = 2 * math.pi
    assert roll_words(Roll(angle=full, points=4)) == "4-point roll right"
    assert roll_words(Roll(angle=math.pi, points=2)) == "2 points of 4 right"
    assert roll_words(Roll(angle=-full)) == "roll left"
    assert roll_words(Roll(angle=2 * full)) == "2 rolls right"
    assert roll_words(Roll(angle=1.5 * full, snap=True)) == "1.5 snap rolls right"
    assert signed(-0.04, "metric") == "0.0"
    assert signed(1.26, "metric") == "+1.3"
