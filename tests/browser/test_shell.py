"""The frame of every page: questions, plane and plan, undo, a vanished server, the first look round."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page, WebSocketRoute

    from conftest import Site, Watch

sync_api = pytest.importorskip("playwright.sync_api", reason="needs Playwright")

QUESTIONS = ("plane", "bench", "lines", "flights", "sheets")
LOST = ("WebSocket connection", "ERR_CONNECTION_REFUSED", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE")


def heavier(site: Site) -> str:
    """The plane file changed by another program; returns what it was."""
    before = site.plane.read_text(encoding="utf-8")
    changed = before.replace('name = "Demo biplane 1.24 m', 'name = "Heavier biplane 1.24 m')
    assert changed != before
    site.plane.write_text(changed, encoding="utf-8")
    return before


def history(page: Page, name: str) -> Locator:
    """Undo or Redo in the bar."""
    return page.get_by_role("region", name="Plane and plan").get_by_role("button", name=name)


def opened(page: Page, site: Site, question: str = "flights") -> None:
    """The page at a question, connected."""
    page.goto(f"{site.url.split('#')[0]}#/{question}")
    page.locator("main h1").wait_for()


def file_is(page: Page, site: Site, text: str) -> None:
    """Wait until the plane file holds a text again."""
    for _ in range(100):
        if site.plane.read_text(encoding="utf-8") == text:
            return
        page.wait_for_timeout(50)
    assert site.plane.read_text(encoding="utf-8") == text


def test_every_question_opens_by_its_link_and_says_where_it_is(page: Page, site: Site) -> None:
    opened(page, site, "plane")
    for question in QUESTIONS:
        page.locator(f"nav a[href='#/{question}']").click()
        page.locator(f"nav a[href='#/{question}'][aria-current=page]").wait_for()
        sync_api.expect(page).to_have_title(re.compile(question, re.IGNORECASE))
        sync_api.expect(page.locator("h1")).to_have_count(1)


def test_a_change_from_outside_is_noticed_and_taken_back(page: Page, site: Site) -> None:
    opened(page, site)
    before = heavier(site)
    note = page.get_by_role("status").filter(has_text="plane.toml")
    note.wait_for()
    note.get_by_role("button", name=re.compile("^Undo")).click()
    file_is(page, site, before)
    note.wait_for(state="detached")


def test_undo_and_redo_by_key_but_not_within_a_text(page: Page, site: Site) -> None:
    opened(page, site)
    undo = history(page, "Undo")
    assert undo.is_disabled()
    before = heavier(site)
    after = site.plane.read_text(encoding="utf-8")
    sync_api.expect(undo).to_be_enabled()
    assert "another program" in str(undo.get_attribute("aria-label")), "it says what it takes back"
    page.evaluate("document.body.append(Object.assign(document.createElement('input'), {id: 'typed'}))")
    page.locator("#typed").press("Control+z")
    page.wait_for_timeout(300)
    assert site.plane.read_text(encoding="utf-8") == after
    page.locator("#main").focus()
    page.keyboard.press("Control+z")
    file_is(page, site, before)
    sync_api.expect(history(page, "Redo")).to_be_enabled()
    page.keyboard.press("Control+Shift+z")
    file_is(page, site, after)


def test_two_tabs_agree(page: Page, new_page: Callable[[], Page], site: Site) -> None:
    opened(page, site)
    other = new_page()
    opened(other, site)
    before = heavier(site)
    for tab in (page, other):
        tab.get_by_text("Heavier biplane").first.wait_for()
    history(other, "Undo").click()
    file_is(page, site, before)
    for tab in (page, other):
        tab.get_by_text("Demo biplane").first.wait_for()
        assert tab.get_by_text("Heavier biplane").count() == 0


def test_a_killed_server_is_told_at_once_and_nothing_is_lost(page: Page, site: Site, watch: Watch) -> None:
    watch.expected += LOST
    opened(page, site)
    before = heavier(site)
    sync_api.expect(history(page, "Undo")).to_be_enabled()
    site.kill()
    page.get_by_role("alert").get_by_text("does not answer").wait_for(timeout=1000)
    history(page, "Undo").click()
    page.get_by_role("alert").get_by_text("One change waits").wait_for()
    site.start()
    file_is(page, site, before)
    page.get_by_role("alert").get_by_text("does not answer").wait_for(state="detached")
    sync_api.expect(history(page, "Redo")).to_be_enabled()
    assert page.evaluate("sessionStorage.getItem('evenfall.waiting')") is None


def test_a_hung_server_is_noticed_and_the_page_goes_on(page: Page, site: Site, watch: Watch) -> None:
    watch.expected += (*LOST, "ERR_ABORTED", "AbortError", "TimeoutError")
    opened(page, site)
    assert site.process is not None
    os.kill(site.process.pid, signal.SIGSTOP)
    try:
        page.get_by_role("alert").get_by_text("does not answer").wait_for(timeout=12_000)
    finally:
        os.kill(site.process.pid, signal.SIGCONT)
    page.get_by_role("alert").get_by_text("does not answer").wait_for(state="detached", timeout=12_000)


def test_the_look_round_has_five_steps_by_keyboard_alone(page: Page, site: Site) -> None:
    opened(page, site, "plane")
    strip = page.locator("section[aria-labelledby=tour-title]")
    for step, question in enumerate(("plane", "bench", "lines", "bench", "sheets")):
        strip.get_by_text(f"{step + 1} of 5").wait_for()
        page.locator(f"nav a[href='#/{question}'][aria-current=page]").wait_for()
        page.locator(".pointed").first.wait_for()
        strip.get_by_role("button", name="Next" if step < 4 else "Done").focus()
        page.keyboard.press("Enter")
    assert strip.count() == 0
    assert page.locator(".pointed").count() == 0
    page.reload()
    page.locator("main h1").wait_for()
    assert strip.count() == 0
    page.get_by_role("button", name="Show me round").first.press("Enter")
    strip.get_by_text("1 of 5").wait_for()
    strip.get_by_role("button", name="Close").press("Enter")
    assert strip.count() == 0


def test_plane_and_look_round_can_be_reached_on_a_phone(page: Page, site: Site) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    second = site.folder / "second.toml"
    second.write_text(
        site.plane.read_text(encoding="utf-8").replace("Demo biplane", "Second biplane"), encoding="utf-8"
    )
    opened(page, site)
    choice = page.get_by_role("combobox", name="Plane")
    choice.select_option("second.toml")
    assert "Second biplane" in page.title()
    page.reload()
    page.locator("main h1").wait_for()
    assert page.get_by_role("combobox", name="Plane").input_value() == "second.toml"
    assert page.get_by_role("button", name="Show me round").is_visible()
    for question in QUESTIONS:
        assert page.locator(f"nav a[href='#/{question}']").is_visible()


def test_a_folder_without_a_plane_says_how_to_get_one(page: Page, site: Site) -> None:
    site.plane.unlink()
    page.goto(site.url.split("#")[0])
    page.get_by_role("heading", name="No plane yet").wait_for()
    page.get_by_label("Name of the plane").fill("My biplane")
    page.get_by_role("button", name="Start a plane file").click()
    page.locator("nav a[aria-current=page]").wait_for()
    page.get_by_role("heading", name="No plane yet").wait_for(state="detached")
    assert list(site.folder.glob("*.toml"))


def as_guest(page: Page) -> None:
    """The page is told that it is a guest's."""

    def greet(socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()
        server.on_message(lambda text: socket.send(str(text).replace('"role":"owner"', '"role":"guest"', 1)))

    page.route_web_socket(re.compile("/live$"), greet)


def test_a_guest_is_told_why_nothing_can_be_changed(page: Page, site: Site) -> None:
    as_guest(page)
    opened(page, site)
    page.get_by_text("Read only here").wait_for()
    assert history(page, "Undo").count() == 0
    heavier(site)
    note = page.get_by_role("status").filter(has_text="plane.toml")
    note.wait_for()
    assert note.get_by_role("button", name=re.compile("^Undo")).count() == 0
    changed = site.plane.read_text(encoding="utf-8")
    page.keyboard.press("Control+z")
    page.wait_for_timeout(300)
    assert site.plane.read_text(encoding="utf-8") == changed
