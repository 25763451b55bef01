"""The page of the sheet with a programme: words, picture, PDF, file for the phone, and the command."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from evenfall import workflow
from evenfall.cli import app
from evenfall.plane.starter import demo_path, programme_path
from evenfall.radio.planfile import write_plan
from evenfall.sheet import sheet_page
from evenfall.sheet.fly_make import fly_page
from evenfall.sheet.fly_page import FlyPage
from evenfall.sheet.html import sheet_html
from evenfall.sheet.pdf import sheet_pdf, sheet_pictures
from evenfall.sheet.programme_sheet import programme_svg, programme_words, runs
from evenfall.sheet.sheet_page import SheetPage
from evenfall.sheet.sheet_words import sheet_words
from evenfall.sheet.svg import width_of
from evenfall.workflow.flying import fly


@pytest.fixture(scope="module")
def flown(tuned: Any) -> FlyPage:
    answer = tuned("biplane_124")
    return fly_page(fly(answer.predicted.ready, answer.plan, programme_path("eight"), spread=False))


@pytest.fixture(scope="module")
def page(tuned: Any, flown: FlyPage) -> SheetPage:
    rigged = workflow.rig(demo_path("biplane_124"), tuned("biplane_124").plan)
    made = sheet_page.sheet_page(rigged, plan_hash="0123456789abcdef" * 4, date="2026-03-01")
    return made.model_copy(update={"programme": flown})


def test_every_figure_stands_in_the_table(flown: FlyPage) -> None:
    words = programme_words(flown)
    assert [row[0] for row in words["figures"]["rows"]] == [str(figure.number) for figure in flown.figures]
    for row, figure in zip(words["figures"]["rows"], flown.figures, strict=True):
        assert len(row) == len(words["figures"]["head"]) == len(words["figures"]["align"])
        assert row[2] == f"{figure.speed_m_s:.1f}"
        assert ("estimate" in row[1]) == any(part.estimated for part in figure.parts)
    assert "calm" in words["lines"][0]


def test_the_picture_draws_the_whole_path_in_runs(flown: FlyPage) -> None:
    found = runs(flown.track, flown.wanted_speed_m_s)
    assert found[0][1] == 0
    assert found[-1][2] == len(flown.track.time_s) - 1
    assert all(one[2] == two[1] and one[0] != two[0] for one, two in zip(found, found[1:], strict=False))
    drawn = ElementTree.fromstring(programme_svg(flown))
    ways = [part for part in drawn.iter("{http://www.w3.org/2000/svg}path") if "way" in part.get("class", "")]
    assert [part.get("class") for part in ways] == [f"way {kind}" for kind, _, _ in found]
    labels = [part for part in drawn.iter("{http://www.w3.org/2000/svg}text") if part.get("class") == "label"]
    assert len(labels) == sum(figure.worst_off_m_s != 0 for figure in flown.figures)


def test_labels_stay_in_the_picture(flown: FlyPage) -> None:
    for style in (True, False):
        drawn = ElementTree.fromstring(programme_svg(flown, style=style))
        _, _, width, height = map(float, drawn.get("viewBox", "").split())
        for part in drawn.iter("{http://www.w3.org/2000/svg}text"):
            assert 0 < float(part.get("x", "nan")) < width
            assert 0 < float(part.get("y", "nan")) < height


def test_no_label_covers_a_side_of_the_box(flown: FlyPage) -> None:
    for style in (True, False):
        drawn = ElementTree.fromstring(programme_svg(flown, style=style))
        lines = [
            part.get("d", "") for part in drawn.iter("{http://www.w3.org/2000/svg}path") if part.get("class") == "box"
        ]
        ends = [[float(number) for number in re.findall(r"-?[\d.]+", line)] for line in lines]
        sides = [found[0] for found in ends if len(found) == 4 and found[0] == found[2]]
        assert len(sides) == 2
        for part in drawn.iter("{http://www.w3.org/2000/svg}text"):
            if part.get("class") == "label":
                x, wide = float(part.get("x", "nan")), width_of("".join(part.itertext()), 10.2)
                left = x - wide if part.get("text-anchor") == "end" else x
                assert not any(left < side < left + wide for side in sides)


def test_the_pdf_has_a_third_page(page: SheetPage) -> None:
    made = sheet_pdf(page)
    assert made == sheet_pdf(page)
    assert len(sheet_pictures(page)) == 3
    assert len(sheet_pictures(page.model_copy(update={"programme": None}))) == 2
    assert "programme" not in sheet_words(page.model_copy(update={"programme": None}))


def test_the_file_for_the_phone_has_a_part_more(page: SheetPage) -> None:
    made = sheet_html(page)
    assert made.count('<section id="programme">') == 1
    assert '<a href="#programme">' in made
    for figure in page.programme.figures if page.programme else ():
        assert figure.name in made
    assert not re.search(r"(?:src|href)=\"(?!#)", made)
    assert "programme" not in sheet_html(page.model_copy(update={"programme": None}))


def test_the_command_writes_it(tuned: Any, tmp_path: Path) -> None:
    plan, target = tmp_path / "x.plan.toml", tmp_path / "sheet.html"
    write_plan(tuned("biplane_124").plan, plan)
    asked = ["sheet", str(demo_path("biplane_124")), str(plan), "-o", str(target)]
    done = CliRunner().invoke(app, [*asked, "--programme", str(programme_path("eight"))])
    assert done.exit_code == 0, done.output
    said = target.read_text(encoding="utf-8")
    assert "Eight figures" in said
    assert "x.plan.toml" in said
