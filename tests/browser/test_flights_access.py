"""The page of flights for everyone, with a flight in the record, the form open and the card on show."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from .conftest import Site

pytestmark = pytest.mark.browser
WIDE, PHONE = (1440, 900), (390, 844)
SEEN = "localStorage.setItem('evenfall.shown', 'yes')"
SLOW_MS = 180_000
TARGET_PX = 44

Opened = Callable[..., "Page"]


FLIGHT = """
format = 1
date = "2026-11-20"
[[timed]]
line = "vertical down"
seconds = 4.6
length_m = 120
[[rolls]]
line = "vertical down"
rolls = 3
seconds = 2.4
"""


@pytest.fixture(scope="module")
def flown_site(planned_site: Site, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A running app on a folder whose record has one flight, for tests that change nothing."""
    site = type(planned_site)(folder=tmp_path_factory.mktemp("flown"))
    for name in ("plane.toml", "plane.plan.toml"):
        shutil.copy(planned_site.folder / name, site.folder / name)
    (site.folder / "a.flight.toml").write_text(FLIGHT, encoding="utf-8")
    command = [sys.executable, "-m", "evenfall", "log", "add", "plane.toml", "plane.plan.toml", "a.flight.toml"]
    subprocess.run(command, cwd=site.folder, check=True, stdout=subprocess.DEVNULL)
    site.start()
    yield site
    site.kill()


@pytest.fixture
def opened(browser: Browser, flown_site: Site) -> Iterator[Opened]:
    """Opens the page at a size and in a scheme with causes ranked; axe may run beside the policy."""
    contexts = []

    def open_(size: tuple[int, int], scheme: Any) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            reduced_motion="reduce",
            bypass_csp=True,
        )
        contexts.append(context)
        context.add_init_script(SEEN)
        page = context.new_page()
        page.set_default_timeout(SLOW_MS)
        page.goto(f"{flown_site.url.split('#')[0]}#/flights")
        page.locator("figure", has_text="vertical down").first.wait_for()
        page.get_by_role("checkbox").first.check()
        page.get_by_text("None of these:").wait_for()
        page.locator("ol[aria-label='Causes, most likely first'] summary").first.click()
        return page

    yield open_
    for context in contexts:
        context.close()


def complaints(page: Page) -> list[str]:
    """What axe finds, with the stronger contrast of 7:1."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    return [
        f"{rule['id']}: {node['target']} {node['html'][:160]} {node.get('failureSummary', '')[:300]}"
        for rule in found.response["violations"]
        for node in rule["nodes"]
    ]


SMALL = """least => [...document.querySelectorAll(
    'main :is(a[href], button, input, select, textarea, summary)'
  )].flatMap(control => {
    if (!control.checkVisibility({ visibilityProperty: true, opacityProperty: true })) return []
    if (control.matches('p > a:not(.button), li > a')) return []
    const label = control.matches('input[type=radio], input[type=checkbox]') ? control.closest('label') : null
    const box = (label ?? control).getBoundingClientRect()
    if (box.width === 0 || (box.width >= least - 0.5 && box.height >= least - 0.5)) return []
    return [`${Math.round(box.width)} x ${Math.round(box.height)}: ${control.outerHTML.slice(0, 140)}`]
  })"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["1440", "390"])
def test_axe_finds_nothing_in_what_flights_say_the_form_and_the_card(
    opened: Opened, size: tuple[int, int], scheme: str
) -> None:
    page = opened(size, scheme)
    assert complaints(page) == []
    page.get_by_role("button", name="bend", exact=True).click()
    page.get_by_role("button", name="Save this flight").click()
    page.locator("form [role=alert]").wait_for()
    assert complaints(page) == []
    if size == PHONE:
        assert page.evaluate(SMALL, TARGET_PX) == []
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
    page.get_by_role("button", name="Show the card").click()
    page.get_by_role("dialog").get_by_role("heading", name="Air", exact=True).wait_for()
    assert complaints(page) == []
