"""The lines page's "Tune for a whole programme" in a browser: started, stopped, shown and written."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from axe_playwright_python.sync_playwright import Axe

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from .conftest import Site

pytestmark = pytest.mark.browser
SLOW_MS = 100_000


def _found(page: Page) -> list[str]:
    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    return [f"{rule['id']}: {node['html'][:160]}" for rule in found.response["violations"] for node in rule["nodes"]]


def _workers(site: Site) -> list[str]:
    """Processes that fly for the app."""
    assert site.process is not None
    found = subprocess.run(
        ["pgrep", "-P", str(site.process.pid), "-f", "spawn_main"], capture_output=True, text=True, check=False
    )
    return found.stdout.split()


def test_a_programme_is_stopped_and_another_tuned_and_written(browser: Browser, site: Site, planned_site: Site) -> None:
    shutil.copy(planned_site.folder / "plane.plan.toml", site.folder / "plane.plan.toml")
    context = browser.new_context(viewport={"width": 1440, "height": 900}, reduced_motion="reduce", bypass_csp=True)
    context.add_init_script("localStorage.setItem('evenfall.shown', 'yes')")
    page = context.new_page()
    page.goto(f"{site.url}#/lines?plane=plane.toml")
    page.get_by_text("Tune for a whole programme").click(timeout=SLOW_MS)
    part = page.locator("[data-evenness]")
    programme = part.get_by_label("Programme to tune for")
    programme.select_option("seventeen")
    part.get_by_role("button", name="Start").click()
    part.get_by_text("programme flown with").wait_for(timeout=SLOW_MS)
    assert _workers(site)
    part.get_by_role("button", name="Stop").click()
    part.get_by_text("Start again to go on").wait_for()
    kept: Path = site.folder / ".evenfall" / "plane.seventeen.programme"
    assert len(kept.read_text(encoding="utf-8").splitlines()) >= 1
    for _ in range(120):
        if not _workers(site):
            break
        page.wait_for_timeout(250)
    assert _workers(site) == []

    programme.select_option("eight")
    part.get_by_label("In wind of").select_option("calm")
    part.get_by_role("button", name="Start").click()
    part.locator("svg[aria-label^=Unevenness]").wait_for(timeout=SLOW_MS)
    assert list(kept.parent.glob("*.programme")) == [kept]
    assert part.locator("tbody tr.best").count() == 1
    assert _found(page) == []
    before = (site.folder / "plane.plan.toml").read_bytes()
    part.get_by_role("button", name="Write it as").click()
    part.get_by_text("undo takes it back").wait_for(timeout=SLOW_MS)
    assert (site.folder / "plane.plan.toml").read_bytes() != before
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth <= 390")
    assert _found(page) == []
    context.close()
