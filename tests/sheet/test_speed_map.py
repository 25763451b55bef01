"""The speed map as a picture: valid, escaped, complete in its words, the same every time."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path

import pytest

from evenfall.errors import EditedFileError, InputError
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.sheet import paper
from evenfall.sheet.map_labels import BAND_WORDS
from evenfall.sheet.map_page import SpeedMapPage, map_page, shaft_page, shares_page, stick_page
from evenfall.sheet.place import Box, Placer, sampled
from evenfall.sheet.speed_map import speed_map_svg
from evenfall.sheet.svg import check_picture, element, escape, number, wrapped, write_picture
from evenfall.workflow import drag_shares, holding_stick, shaft_picture, speed_map, tune

SVG = "{http://www.w3.org/2000/svg}"


@cache
def page(name: str) -> SpeedMapPage:
    return map_page(speed_map(demo_path(name)))


def words(picture: str) -> list[str]:
    return ["".join(text.itertext()) for text in ET.fromstring(picture).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", DEMOS)
def test_picture_is_complete_and_needs_nothing_else(name: str) -> None:
    shown = page(name)
    picture = speed_map_svg(shown)
    said = words(picture)
    for line in (*BAND_WORDS, shown.plane, "crow, degrees", "Vertical down, stick closed: speed in m/s"):
        assert line in said
    for limit in shown.limits:
        assert limit.short in said
    chosen = shown.chosen
    assert chosen is not None
    assert any(f"level {chosen.level}, {chosen.crow_deg:.1f}" in line for line in said)
    reached = any(0 <= crow <= shown.crow_deg[-1] for piece in shown.wanted.pieces for _, crow in piece)
    assert (f"{shown.wanted_speed_m_s:.1f} m/s wanted" in said) == reached
    labelled = [line for line in shown.contours if f"{line.speed_m_s:g}" in said]
    assert len(labelled) >= 0.6 * len(shown.contours)
    assert 'style="fill:url(#two)"' in picture
    links = re.findall(r"(?:href|src|url\(|@import)[^ >]*", picture)
    assert all(link.startswith("url(#") for link in links), links
    assert "<script" not in picture


@pytest.mark.parametrize("name", DEMOS)
def test_everything_stays_on_the_paper(name: str) -> None:
    root = ET.fromstring(speed_map_svg(page(name)))
    _, _, width, height = (float(part) for part in root.attrib["viewBox"].split())
    for text in root.iter(f"{SVG}text"):
        kind = text.attrib["class"].split()
        letter = (0.65 if "b" in kind or "h" in kind else 0.6) * (
            paper.SMALL_NARROW if "s" in kind else paper.SIZE_NARROW
        )
        wide = letter * len("".join(text.itertext()))
        anchor = text.attrib.get("text-anchor", "start")
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        low = {"start": x, "middle": x - wide / 2, "end": x - wide}[anchor]
        assert low > -4
        assert low + wide < width + 8, "".join(text.itertext())
        assert 0 < y < height


def test_out_of_reach_is_said() -> None:
    shown = page("monoplane_160")
    assert any("23.0 m/s is out of reach with crow both" in warning for warning in shown.warnings)
    assert "still" in " ".join(shown.warnings)


def test_hostile_names_are_escaped() -> None:
    evil = '<script>alert("x")</script> & \x00\x0b\ud800 ]]> -->'
    shown = page("biplane_124")
    levels = tuple(level.model_copy(update={"name": f"{evil}{index}"}) for index, level in enumerate(shown.levels))
    assert shown.chosen is not None
    chosen = shown.chosen.model_copy(update={"level": evil})
    bad = shown.model_copy(update={"plane": evil, "levels": levels, "chosen": chosen, "warnings": (evil,)})
    picture = speed_map_svg(bad)
    picture.encode("utf-8")
    root = ET.fromstring(picture)
    assert not list(root.iter(f"{SVG}script"))
    assert "<script" not in picture
    assert any(line.startswith("<script>") for line in words(picture))


def test_the_same_page_draws_the_same_picture() -> None:
    shown = page("biplane_124")
    again = SpeedMapPage.model_validate_json(shown.model_dump_json())
    assert speed_map_svg(again) == speed_map_svg(shown)


def test_colours_can_be_read() -> None:
    """Contrast (WCAG 2.1, relative luminance) at least 7:1 for text, 3:1 for lines."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    for colours in (paper.LIGHT, paper.DARK):
        ground = luminance(colours["paper"])
        for name, colour in colours.items():
            if name == "paper":
                continue
            low, high = sorted((ground, luminance(colour)))
            assert (high + 0.05) / (low + 0.05) >= (3 if name == "faint" else 7), (name, colour)


def test_a_plan_is_marked_and_another_arrangement_is_not() -> None:
    plan = tune(demo_path("biplane_124")).plan
    assert plan is not None
    assert plan.crow is not None
    mine = map_page(speed_map(demo_path("biplane_124"), plan))
    assert mine.arrangement == plan.crow.arrangement
    assert mine.chosen is not None
    assert mine.chosen.spread_m_s is not None
    assert mine.chosen.speed_m_s == pytest.approx(22.0, abs=0.2)
    other = map_page(speed_map(demo_path("biplane_124"), plan, arrangement="both up"))
    assert other.chosen is None
    assert other.legend is None
    assert "level" not in " ".join(words(speed_map_svg(other))).replace("levels", "")
    with pytest.raises(InputError, match="sideways"):
        speed_map(demo_path("biplane_124"), plan, arrangement="sideways")


def test_the_other_pictures_have_pages() -> None:
    path = demo_path("biplane_124")
    plan = tune(path).plan
    assert plan is not None
    sticks = stick_page(holding_stick(path, plan))
    assert len(sticks.with_crow) == len(sticks.without_crow) == 37
    rising = [point.stick_percent for point in sticks.with_crow]
    assert all(b >= a - 1e-9 for a, b in zip(rising, rising[1:], strict=False))
    assert sticks.threshold_percent == pytest.approx(100 * plan.crow.threshold if plan.crow else 0)
    bare = stick_page(holding_stick(path))
    assert bare.threshold_percent is None
    assert bare.with_crow == bare.without_crow
    shares = shares_page(drag_shares(path, plan))
    for line in shares.lines:
        assert line.shares_n is not None
        total = line.shares_n.airframe + line.shares_n.crow + line.shares_n.propeller
        assert total == pytest.approx(line.weight_along_n, abs=0.02)
    torques = shaft_page(shaft_picture(path, speeds=[20.0]))
    assert [curve.name for curve in torques.driving] == ["20.0"]
    assert [curve.name for curve in torques.holding] == ["0", "25", "50", "75", "100"]
    for document in (sticks, shares, torques):
        json.dumps(document.model_dump(mode="json"), allow_nan=False)


def test_pieces_of_svg() -> None:
    assert number(1e-9) == "0"
    assert number(100.0) == "100"
    assert element("a", "x", cls="b", stroke_width=1.25) == '<a class="b" stroke-width="1.25">x</a>'
    assert escape("it's") == "it&#39;s"
    assert wrapped("", 10) == [""]
    assert max(map(len, wrapped("x" * 25, 10))) == 10


def test_words_keep_off_each_other() -> None:
    frame = Box(x=50, y=50, width=100, height=100)
    placer = Placer(frame=frame, heavy=[(20.0, 20.0)])
    first = placer.best([(0.0, Box(x=20, y=20, width=20, height=10)), (1.0, Box(x=60, y=60, width=20, height=10))])
    assert (first.x, first.y) == (60, 60)
    second = placer.best(
        [(0.0, first), (5.0, Box(x=60, y=80, width=20, height=10)), (0.0, Box(x=99, y=9, width=9, height=9))]
    )
    assert (second.x, second.y) == (60, 80)
    assert sampled([(0.0, 0.0), (10.0, 0.0)], 4.0) == [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0)]


def test_pictures_never_overwrite_what_is_not_ours(tmp_path: Path) -> None:
    picture = speed_map_svg(page("biplane_124"))
    target = tmp_path / "map.svg"
    write_picture(target, picture)
    with pytest.raises(EditedFileError, match="--force"):
        check_picture(target)
    write_picture(target, picture, force=True)
    theirs = tmp_path / "plane.toml"
    theirs.write_text("mine", encoding="utf-8")
    with pytest.raises(EditedFileError, match="no picture of ours"):
        write_picture(theirs, picture, force=True)
    assert theirs.read_text(encoding="utf-8") == "mine"
    with pytest.raises(EditedFileError, match="directory"):
        check_picture(tmp_path)
    with pytest.raises(EditedFileError, match="no folder"):
        check_picture(tmp_path / "none" / "map.svg")


def test_command(tmp_path: Path) -> None:
    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "evenfall", "map", str(demo_path("biplane_124")), *arguments]
        return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)

    target = tmp_path / "map.svg"
    drawn = run("-o", str(target), "--arrangement", "up/down", "--json")
    assert drawn.returncode == 0, drawn.stderr
    assert json.loads(drawn.stdout)["arrangement"] == "up/down"
    ET.parse(target)
    again = run("-o", str(target))
    assert again.returncode == 2
    assert "--force" in again.stderr
    nowhere = run()
    assert nowhere.returncode == 2
    assert "-o map.svg" in nowhere.stderr
    odd = run("--json", "--arrangement", "sideways")
    assert odd.returncode == 2
    assert "up/down" in odd.stderr
    assert "Traceback" not in odd.stderr
