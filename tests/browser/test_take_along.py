"""The bench page's "Take this plan along" in a browser: another plane, other parts, and the plan written there."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

from evenfall.plane.starter import demo_path

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from .conftest import Site

pytestmark = pytest.mark.browser
SLOW_MS = 120_000


def _found(page: Page) -> list[str]:
    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    return [f"{rule['id']}: {node['html'][:160]}" for rule in found.response["violations"] for node in rule["nodes"]]


def test_a_plan_is_taken_to_another_plane_and_written(browser: Browser, site: Site, planned_site: Site) -> None:
    shutil.copy(planned_site.folder / "plane.plan.toml", site.folder / "plane.plan.toml")
    shutil.copy(demo_path("biplane_155"), site.folder / "other.toml")
    context = browser.new_context(viewport={"width": 1440, "height": 900}, reduced_motion="reduce", bypass_csp=True)
    context.add_init_script("localStorage.setItem('evenfall.shown', 'yes')")
    page = context.new_page()
    page.goto(f"{site.url}#/bench?plane=plane.toml")
    page.get_by_text("Take this plan along").click(timeout=SLOW_MS)
    choice = page.get_by_label("Take it to")
    choice.select_option("other.toml")
    page.locator("[data-down]").wait_for(timeout=SLOW_MS)
    assert page.get_by_role("heading", name="Fly first").is_visible()
    assert _found(page) == []

    page.get_by_role("button", name="Write it as").click()
    page.get_by_text("Written to other.plan.toml").wait_for(timeout=SLOW_MS)
    assert (site.folder / "other.plan.toml").exists()

    choice.select_option("plane.toml")
    page.get_by_text("Change a part or the level above").wait_for()
    pitch = page.locator("[data-along] input").nth(1)
    pitch.fill("none")
    pitch.press("Enter")
    page.get_by_text("a number is needed").wait_for()
    pitch.fill("11")
    pitch.press("Enter")
    page.get_by_role("heading", name="Tests to do anew with these parts").wait_for(timeout=SLOW_MS)
    assert page.get_by_role("button", name="Write it as").count() == 0

    before = sorted(path.name for path in site.folder.glob("*.toml"))
    page.get_by_label("motor brake, level").select_option("75")
    page.get_by_text("Motor brake held at 75 as asked").wait_for(timeout=SLOW_MS)
    name = page.get_by_label("Keep it as a new plane, called")
    assert "motor brake 75" in name.input_value()
    name.fill("A hard brake")
    assert _found(page) == []
    name.press("Enter")
    page.get_by_text("Written: A hard brake, a_hard_brake.toml with a_hard_brake.plan.toml").wait_for(timeout=SLOW_MS)
    kept = (site.folder / "a_hard_brake.plan.toml").read_text(encoding="utf-8")
    assert 'level = "75"' in kept
    assert "diameter_in = 11" in (site.folder / "a_hard_brake.toml").read_text(encoding="utf-8")
    assert _found(page) == []
    back = page.get_by_role("button", name="Take both back")
    back.focus()
    back.press("Enter")
    page.get_by_role("button", name="Write plane and plan").wait_for(timeout=SLOW_MS)
    assert sorted(path.name for path in site.folder.glob("*.toml")) == before

    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth <= 390")
    assert _found(page) == []
    context.close()
