"""The bench page in a browser: sticks that move the surfaces, a curve under the hand, measured angles, frozen plans."""

from __future__ import annotations

import math
import re
import shutil
from typing import TYPE_CHECKING

import pytest

from evenfall.lines.throws import real_angles
from evenfall.plane.files import load_plane
from evenfall.radio.mixer import Sticks, mix
from evenfall.radio.planfile import load_plan

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from .conftest import Site

pytestmark = pytest.mark.browser
CORNERS = ("upper_left", "upper_right", "lower_left", "lower_right")


@pytest.fixture
def planned(site: Site, planned_site: Site) -> Site:
    """A folder of its own with the demo plane and its tuned plan."""
    shutil.copy(planned_site.folder / "plane.plan.toml", site.folder / "plane.plan.toml")
    return site


def _open(page: Page, site: Site) -> None:
    page.goto(f"{site.url}#/bench")
    page.wait_for_selector("[data-predicted]")


def _angle(words: str) -> float:
    """Degrees of what the page says, trailing edge down positive."""
    found = re.match(r"([\d.]+)°\s*(up|down|left|right)?", words.strip())
    assert found, words
    return float(found[1]) * (-1.0 if found[2] in ("up", "right") else 1.0)


def _down_speed(page: Page) -> float:
    words = page.locator("[data-line='vertical down'] td b").inner_text()
    return float(words.replace("\u202f", " ").split()[0])


def _wait_for_down_speed(page: Page, low: float, high: float) -> None:
    page.wait_for_function(
        """([low, high]) => {
            const speed = parseFloat(document.querySelector("[data-line='vertical down'] td b").textContent)
            return low < speed && speed < high
        }""",
        arg=[low, high],
    )


def test_sticks_moved_by_keys_move_the_surfaces_as_the_mixer_does(page: Page, planned: Site) -> None:
    _open(page, planned)
    for axis, key, times in (("throttle", "Home", 1), ("aileron", "ArrowRight", 20), ("elevator", "ArrowDown", 15)):
        page.focus(f"[role=slider][data-axis={axis}]")
        for _ in range(times):
            page.keyboard.press(key)
    page.focus("[role=slider][data-axis=rudder]")
    page.keyboard.press("Home")
    assert page.locator("[data-axis=throttle]").get_attribute("aria-valuetext") == "closed"
    assert page.locator("[data-axis=elevator]").get_attribute("aria-valuetext") == "30 % pulled"
    plane = load_plane(planned.plane).plane
    plan = load_plan(planned.folder / "plane.plan.toml", plane)
    sticks = Sticks(throttle=0.0, aileron=0.4, elevator=0.3, rudder=-1.0)
    phase = plan.phase("normal")
    wanted = real_angles(plane, plan, phase, sticks)
    told = mix(plane, plan, phase, sticks)
    for corner in CORNERS:
        shown = _angle(page.locator(f"[data-corner={corner}] .angle").inner_text())
        assert shown == pytest.approx(math.degrees(float(wanted[corner])), abs=0.051)
    elevator = _angle(page.locator("[data-surface=elevator]").inner_text())
    assert elevator == pytest.approx(math.degrees(float(told.elevator)), abs=0.051)
    rudder = _angle(page.locator("[data-surface=rudder]").inner_text())
    assert rudder == pytest.approx(math.degrees(float(told.rudder)), abs=0.051)


def test_a_dragged_curve_point_is_predicted_then_saved_then_taken_back(page: Page, planned: Site) -> None:
    file = planned.folder / "plane.plan.toml"
    _open(page, planned)
    editor = page.get_by_role("group", name="Deployment curve")
    editor.locator("[data-point='1']").focus()
    page.keyboard.press("Delete")  # it holds the first one up
    page.wait_for_selector("[data-differs]")
    before = file.read_text(encoding="utf-8")
    speed = _down_speed(page)
    point = editor.locator("[data-point='0'] .dot")
    point.scroll_into_view_if_needed()
    box = point.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 40, steps=4)
    _wait_for_down_speed(page, speed + 0.2, 99.0)
    assert file.read_text(encoding="utf-8") == before, "nothing is saved while the hand holds the point"
    assert page.get_by_text("Predicted, not saved yet").is_visible()
    page.mouse.up()
    page.get_by_text("Predicted, not saved yet").wait_for(state="hidden")
    assert file.read_text(encoding="utf-8") != before
    assert _down_speed(page) > speed + 0.2
    page.get_by_role("button", name="Undo").click()
    _wait_for_down_speed(page, speed - 0.06, speed + 0.06)
    assert file.read_text(encoding="utf-8") == before


def test_a_measured_angle_the_wrong_way_must_not_fly(page: Page, planned: Site) -> None:
    _open(page, planned)
    page.wait_for_selector("[data-entry=upper_left]")
    assert page.locator("[data-verdict=upper_left]").count() == 0
    wrong = page.locator("[data-entry=upper_left]")
    wanted = _angle(wrong.locator(".wanted").inner_text())
    assert abs(wanted) > 1.0
    wrong.locator("select").select_option("up" if wanted > 0 else "down")
    wrong.locator("input").fill(f"{abs(wanted):.1f}")
    wrong.locator("input").press("Tab")
    page.wait_for_selector("[data-verdict=upper_left]")
    assert "DO NOT FLY" in page.locator("[data-verdict=upper_left] h3").inner_text()
    assert page.get_by_role("alert").locator(".big").inner_text() == "DO NOT FLY"
    assert (planned.folder / "plane.bench.csv").exists()


def test_a_frozen_plan_cannot_be_changed_and_says_so(page: Page, planned: Site) -> None:
    _open(page, planned)
    page.get_by_label("Name of the copy").fill("calm day")
    page.get_by_role("button", name="Freeze a copy").click()
    page.get_by_text("Kept as calm day.", exact=True).wait_for()
    choice = page.get_by_role("combobox", name="Plan", exact=True)
    frozen = choice.locator("option", has_text="calm day").get_attribute("value")
    assert frozen is not None
    choice.select_option(frozen)
    words = page.locator("[data-locked]")
    words.wait_for()
    assert "frozen" in words.inner_text()
    assert page.get_by_role("slider", name="Crow angle", exact=True).is_disabled()
    text = (planned.folder / frozen).read_text(encoding="utf-8")
    assert page.locator("[data-point='1']").first.get_attribute("aria-disabled") == "true"
    page.locator("[data-point='1']").first.dispatch_event("keydown", {"key": "ArrowDown"})
    page.locator("[data-point='1']").first.dispatch_event("keyup", {"key": "ArrowDown"})
    assert (planned.folder / frozen).read_text(encoding="utf-8") == text


@pytest.mark.parametrize("width", [390, 1024, 1440])
def test_nothing_stands_out_sideways(page: Page, planned_site: Site, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 844})
    _open(page, planned_site)
    page.wait_for_selector("[data-entry=upper_left]")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
