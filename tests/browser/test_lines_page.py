"""The lines page in a browser: what moves under the hand, what is saved and when, and what the air does."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the browser extra")
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from .conftest import Site

SLOW_MS = 30_000
"""The first map of a plane waits for its tables and its prediction."""


@pytest.fixture(scope="module")
def tuned(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The text of the demo plane's plan, computed once."""
    import shutil

    from evenfall.radio.planfile import plan_text
    from evenfall.workflow import tune

    from .conftest import DEMO

    plane = tmp_path_factory.mktemp("tuned") / "plane.toml"
    shutil.copy(DEMO, plane)
    plan = tune(plane).plan
    assert plan is not None
    return plan_text(plan)


@pytest.fixture
def plan(site: Site, tuned: str) -> Path:
    """The plan file of the running app's plane."""
    path = site.folder / "plane.plan.toml"
    path.write_text(tuned, encoding="utf-8")
    return path


@pytest.fixture
def opened(site: Site, plan: Path, page: Page) -> Page:
    """The lines page with its map drawn."""
    assert plan.exists()
    page.goto(f"{site.url}#/lines")
    expect(crow(page)).to_be_visible(timeout=SLOW_MS)
    expect(page.get_by_role("slider", name="Crow angle", exact=True)).not_to_have_value("0", timeout=SLOW_MS)
    return page


def becomes(file: Path, text: str) -> None:
    """The file holds that text before long."""
    until = time.monotonic() + SLOW_MS / 1000
    while file.read_text(encoding="utf-8") != text and time.monotonic() < until:
        time.sleep(0.05)
    assert file.read_text(encoding="utf-8") == text


def crow(page: Page) -> Locator:
    """The point of the map as a slider of crow."""
    return page.get_by_role("slider", name="Crow angle of the point")


def angle(page: Page) -> float:
    """Crow of the point, degrees."""
    return float(crow(page).get_attribute("aria-valuenow") or "nan")


def down(page: Page) -> str:
    """Speed straight down in the ladder's table."""
    return page.locator('[data-line="vertical down"]').text_content() or ""


def stick(page: Page) -> str:
    """The curve of the holding stick."""
    return page.locator('[data-curve="with crow"]').get_attribute("d") or ""


def test_pictures_and_their_sentences(opened: Page) -> None:
    for heading in (
        "Speed map", "Line ladder", "Holding stick", "Why half motor brake is fickle", "March from entry", "Air",
        "Prediction with its doubt", "Roll with crow out", "Straightness, elevator held",
    ):  # fmt: skip
        expect(opened.get_by_role("heading", name=heading, exact=True)).to_be_visible(timeout=SLOW_MS)
    expect(opened.get_by_text("two propeller speeds", exact=True)).to_be_visible()
    expect(opened.get_by_text("22.0 m/s wanted", exact=True)).to_be_visible()
    expect(
        opened.get_by_text(re.compile(r"Level .+ with .+ of crow: .+ straight down; one propeller speed"))
    ).to_be_visible()
    expect(opened.get_by_text(re.compile(r"Straight down 2\d\.\d ± \d\.\d m/s; most of the doubt"))).to_be_visible()


def test_point_by_keyboard_moves_everything_and_is_kept(opened: Page, plan: Path) -> None:
    before, text = angle(opened), plan.read_text(encoding="utf-8")
    speed, curve = down(opened), stick(opened)
    crow(opened).focus()
    for _ in range(6):
        crow(opened).press("ArrowDown")
    assert angle(opened) == pytest.approx(before - 3.0)
    opened.wait_for_function(
        "([speed, curve]) => document.querySelector('[data-line=\"vertical down\"]').textContent !== speed"
        " && document.querySelector('[data-curve=\"with crow\"]').getAttribute('d') !== curve",
        arg=[speed, curve],
    )
    crow(opened).press("Enter")
    expect(opened.get_by_text("edited", exact=True)).to_be_visible()
    assert plan.read_text(encoding="utf-8") != text
    assert angle(opened) == pytest.approx(before - 3.0)
    opened.get_by_role("button", name="Undo").click()
    expect(crow(opened)).to_have_attribute("aria-valuenow", f"{before:g}")
    becomes(plan, text)


def test_point_by_pointer_snaps_to_levels_and_is_kept_on_release(opened: Page, plan: Path) -> None:
    text, speed, before = plan.read_text(encoding="utf-8"), down(opened), angle(opened)
    crow(opened).scroll_into_view_if_needed()
    box = crow(opened).bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    opened.mouse.move(x, y)
    opened.mouse.down()
    opened.mouse.move(x + 330, y + 60, steps=6)
    level = opened.get_by_role("slider", name="Motor-brake level of the point")
    expect(level).to_have_attribute("aria-valuetext", re.compile(r"level 75\. Level 75"))
    assert angle(opened) < before - 3.0
    opened.wait_for_function(
        "speed => document.querySelector('[data-line=\"vertical down\"]').textContent !== speed", arg=speed
    )
    assert plan.read_text(encoding="utf-8") == text
    opened.mouse.up()
    expect(opened.get_by_text("edited", exact=True)).to_be_visible()
    assert 'level = "75"' in plan.read_text(encoding="utf-8")
    expect(opened.get_by_role("radio", name="75", exact=True)).to_be_checked()


def test_escape_takes_the_point_back(opened: Page, plan: Path) -> None:
    before, text = angle(opened), plan.read_text(encoding="utf-8")
    crow(opened).focus()
    crow(opened).press("PageDown")
    assert angle(opened) == pytest.approx(before - 5.0)
    crow(opened).press("Escape")
    assert angle(opened) == pytest.approx(before)
    opened.wait_for_timeout(900)
    assert plan.read_text(encoding="utf-8") == text


def test_sliders_are_the_same_hand(opened: Page, plan: Path) -> None:
    text = plan.read_text(encoding="utf-8")
    threshold = opened.get_by_role("slider", name="Threshold, where crow begins")
    curve = stick(opened)
    threshold.focus()
    threshold.press("PageUp")
    opened.wait_for_function(
        "curve => document.querySelector('[data-curve=\"with crow\"]').getAttribute('d') !== curve", arg=curve
    )
    expect(opened.get_by_text("edited", exact=True)).to_be_visible()
    assert plan.read_text(encoding="utf-8") != text
    opened.get_by_role("slider", name="Crow angle", exact=True).fill("12.5")
    assert angle(opened) == pytest.approx(12.5)


def test_without_a_plan_nothing_is_saved_and_why(opened: Page, plan: Path) -> None:
    text = plan.read_text(encoding="utf-8")
    opened.get_by_role("combobox", name="Plan", exact=True).select_option("")
    expect(crow(opened)).to_have_attribute("aria-valuenow", "0", timeout=SLOW_MS)
    crow(opened).focus()
    crow(opened).press("PageUp")
    expect(opened.get_by_text(re.compile("has no plan to save to"))).to_be_visible()
    opened.get_by_role("button", name="Back to the plan").click()
    expect(crow(opened)).to_have_attribute("aria-valuenow", "0")
    assert plan.read_text(encoding="utf-8") == text


def test_air_changes_density_and_speed(opened: Page) -> None:
    said = opened.locator('[data-reading="air"]')
    expect(said).to_contain_text("Standard air at sea level, 1.225 kg/m³")
    before = down(opened)
    opened.get_by_role("slider", name="Height of the field").fill("2000")
    expect(said).to_contain_text(re.compile(r"1\.00\d kg/m³, 18 % thinner than standard"), timeout=SLOW_MS)
    expect(said).to_contain_text(re.compile(r"\+[1-9]\.\d m/s against standard air"), timeout=SLOW_MS)
    assert down(opened) != before
    opened.get_by_role("button", name="Standard air").click()
    expect(said).to_contain_text("1.225 kg/m³", timeout=SLOW_MS)


def test_march_from_another_entry(opened: Page) -> None:
    chart = opened.get_by_role("img", name=re.compile("Speed and shaft speed from the entry on"))
    expect(chart).to_have_attribute("aria-label", re.compile("Vertical down, entered at 22.0 m/s"), timeout=SLOW_MS)
    opened.get_by_role("slider", name="Entry speed").fill("9")
    expect(chart).to_have_attribute("aria-label", re.compile("entered at 9.0 m/s"), timeout=SLOW_MS)
    opened.get_by_role("radio", name="over height").check()
    expect(chart.locator("canvas")).to_be_visible()
    opened.get_by_role("combobox", name="Line", exact=True).select_option("45 down")
    expect(opened.get_by_text(re.compile("9.0 m/s is too slow to enter 45 down"))).to_be_visible(timeout=SLOW_MS)
    opened.get_by_role("slider", name="Entry speed").fill("12")
    expect(chart).to_have_attribute("aria-label", re.compile("45 down, entered at 12.0 m/s"), timeout=SLOW_MS)


@pytest.mark.parametrize("width", [390, 1024])
def test_nothing_is_wider_than_the_screen(width: int, site: Site, plan: Path, new_page: Callable[[], Page]) -> None:
    assert plan.exists()
    page = new_page()
    page.set_viewport_size({"width": width, "height": 844})
    page.goto(f"{site.url}#/lines")
    expect(page.get_by_role("heading", name="Straightness, elevator held")).to_be_visible(timeout=SLOW_MS)
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    cut = page.evaluate(
        """() => [...document.querySelectorAll('.pic svg text')].filter((text) => {
          const [words, frame] = [text.getBoundingClientRect(), text.ownerSVGElement.getBoundingClientRect()]
          return text.textContent && (words.left < frame.left - 1 || words.right > frame.right + 1
            || words.top < frame.top - 2 || words.bottom > frame.bottom + 2)
        }).map((text) => text.textContent)"""
    )
    assert cut == []


def test_tables_stay_inside_the_window_with_everything_open(opened: Page) -> None:
    opened.get_by_role("button", name=re.compile("^vertical down: .+ why so uncertain")).click(timeout=SLOW_MS)
    opened.get_by_role("button", name=re.compile("^section part: .+ why so uncertain")).first.click()
    expect(opened.get_by_text(re.compile(r", \d+ % of the doubt"))).not_to_have_count(0)
    for summary in opened.locator(".picture summary", has_text="Numbers").all():
        summary.click()
    for width in (1440, 1024, 390):
        opened.set_viewport_size({"width": width, "height": 900})
        wide = (
            "frames => frames.filter(frame => frame.scrollWidth > frame.clientWidth + 1).map(frame => frame.innerText)"
        )
        assert opened.locator(".picture .scroll").evaluate_all(wide) == []
