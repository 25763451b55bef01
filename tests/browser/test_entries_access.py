"""Recording, video and sound entered by everyone: axe with the stronger contrast of 7:1, targets for a thumb, width."""

from __future__ import annotations

import base64
import importlib.util
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

    from conftest import Site

WIDE, PHONE = (1440, 900), (390, 844)
SEEN = "localStorage.setItem('evenfall.shown', 'yes')"
SLOW_MS = 60_000
SMALL = """entry => [...entry.querySelectorAll('button, select, summary, input, label.button, [role=slider]')]
  .flatMap(control => {
    if (!control.checkVisibility({visibilityProperty: true, opacityProperty: true})) return []
    if (getComputedStyle(control).clipPath === 'inset(50%)') return []
    const label = control.matches('input[type=radio], input[type=checkbox]') ? control.closest('label') : null
    const box = (label ?? control).getBoundingClientRect()
    if (box.width === 0 || (box.width >= 43.5 && box.height >= 43.5)) return []
    return [`${Math.round(box.width)} x ${Math.round(box.height)}: ${control.outerHTML.slice(0, 140)}`]
  })"""

Opened = Callable[..., "Page"]


def sibling(name: str) -> ModuleType:
    """Another file of tests, for what it makes its files with."""
    spec = importlib.util.spec_from_file_location(f"files_of_{name}", Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def opened(browser: Browser, planned_site: Site) -> Iterator[Opened]:
    """Opens the page of flights at a size and in a scheme; axe may run beside the policy."""
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
        page.goto(f"{planned_site.url.split('#')[0]}#/flights")
        return page

    yield open_
    for context in contexts:
        context.close()


def recording(page: Page, folder: Path) -> Locator:
    """A recorded flight with a line confirmed and open."""
    page.get_by_role("button", name="recorded flight", exact=True).click()
    entry = page.get_by_role("region", name="Recorded flight")
    entry.get_by_label("Choose a recording").set_input_files(sibling("test_recording_entry").descent(folder / "a.csv"))
    row = entry.get_by_role("listitem").filter(has_text="vertical down").first
    row.get_by_role("checkbox").check()
    row.get_by_role("button", name=re.compile("Trim")).click()
    entry.get_by_text(re.compile("^Columns:")).click()
    entry.get_by_role("img", name=re.compile("from the side")).wait_for()
    return entry


def video(page: Page, folder: Path) -> Locator:
    """A film with the plane marked and its scale by markers."""
    del folder
    maker = sibling("test_video_entry")
    film = base64.b64decode(page.evaluate(maker.FILM, [maker.WIDTH, maker.HEIGHT]))
    page.get_by_role("button", name="video", exact=True).click()
    entry: Locator = page.get_by_role("region", name="Line in a video")
    entry.get_by_label("Choose a video").set_input_files({"name": "a.webm", "mimeType": "video/webm", "buffer": film})
    entry.get_by_text(re.compile(r"^0\.000 s of [1-9]")).wait_for()
    entry.get_by_role("application").press("Enter")
    entry.get_by_role("radio", name="two markers on the ground").check()
    return entry


def sound(page: Page, folder: Path) -> Locator:
    """A note that was heard."""
    page.get_by_role("button", name="sound", exact=True).click()
    entry = page.get_by_role("region", name="Sound of the propeller")
    entry.get_by_label("Choose a sound").set_input_files(sibling("test_sound_entry").sound(folder / "a.wav"))
    entry.get_by_text("blade note as heard").wait_for()
    return entry


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["1440", "390"])
@pytest.mark.parametrize("entered", [recording, video, sound], ids=["recording", "video", "sound"])
def test_axe_finds_nothing(
    entered: Callable[[Page, Path], Locator], size: tuple[int, int], scheme: str, opened: Opened, tmp_path: Path
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = opened(size, scheme)
    entry = entered(page, tmp_path)
    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    told = [
        f"{rule['id']}: {node['target']} {node['html'][:160]} {node.get('failureSummary', '')[:300]}"
        for rule in found.response["violations"]
        for node in rule["nodes"]
    ]
    assert told == []
    if size == PHONE:
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]
        assert entry.evaluate(SMALL) == []
