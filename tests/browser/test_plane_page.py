"""The plane page in a browser: what a pilot does with it, against a running app."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the browser extra")
from playwright.sync_api import Locator, Page, expect

if TYPE_CHECKING:
    from .conftest import Site, Watch

pytestmark = pytest.mark.browser

SPAN = "span, tip to tip"
GONE = re.compile("Evenfall (is not answering|does not answer)")
OVERALL = "document.documentElement.scrollWidth - innerWidth"


def group(page: Page, title: str) -> Locator:
    """A table of the form, opened."""
    table = page.locator("details").filter(has=page.get_by_role("heading", name=title, exact=True)).first
    if table.get_attribute("open") is None:
        table.locator("summary").first.click()
    return table


def entry(page: Page, table: str, label: str) -> Locator:
    """The entry of a measurement."""
    return group(page, table).get_by_label(label, exact=True)


def drawing(page: Page) -> Locator:
    """The three-view."""
    return page.get_by_role("img", name=re.compile("^Three-view of"))


def holds(file: Path, part: str, *, within_s: float = 15.0) -> str:
    """The file's text once it holds a part."""
    end = time.monotonic() + within_s
    while part not in (text := file.read_text()):
        assert time.monotonic() < end, f"{part!r} is not in:\n{text}"
        time.sleep(0.03)
    return text


def opened(page: Page, site: Site) -> None:
    """The page with its drawing."""
    page.goto(site.url)
    expect(drawing(page)).to_be_visible()


def test_opens_with_every_measurement_and_its_drawing(site: Site, page: Page) -> None:
    opened(page, site)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Demo biplane")
    expect(drawing(page)).to_have_attribute("aria-label", re.compile("span 1240.mm.*length 1120.mm"))
    expect(entry(page, "Upper wing", SPAN)).to_have_value("1240")
    page.get_by_role("button", name="Open all").click()
    assert page.locator(".field").count() > 150
    nameless = page.locator("main input, main select").evaluate_all(
        "all => all.filter(one => !one.labels.length && !one.ariaLabel).length"
    )
    assert nameless == 0


def test_typing_redraws_before_anything_is_saved_and_escape_takes_it_back(site: Site, page: Page) -> None:
    opened(page, site)
    before = site.plane.read_text()
    span = entry(page, "Upper wing", SPAN)
    span.fill("1400")
    expect(drawing(page)).to_have_attribute("aria-label", re.compile("span 1400.mm"))
    assert site.plane.read_text() == before
    span.press("Escape")
    expect(span).to_have_value("1240")
    expect(drawing(page)).to_have_attribute("aria-label", re.compile("span 1240.mm"))


def test_saving_keeps_the_comments_and_undo_brings_the_number_back(site: Site, page: Page) -> None:
    opened(page, site)
    before = site.plane.read_text()
    span = entry(page, "Upper wing", SPAN)
    span.fill("1250,5")
    span.press("Enter")
    text = holds(site.plane, "span_mm = 1250.5")
    assert text == before.replace("span_mm = 1240", "span_mm = 1250.5", 1)
    expect(span).to_have_value("1250.5")
    page.get_by_role("button", name="Undo").click()
    expect(span).to_have_value("1240")
    assert holds(site.plane, "span_mm = 1240") == before


def test_a_fault_stands_beside_its_field_until_it_is_put_right(site: Site, page: Page) -> None:
    opened(page, site)
    span = entry(page, "Upper wing", SPAN)
    span.fill("wide")
    expect(span).to_have_attribute("aria-invalid", "true")
    note = page.locator(f"[id='{span.get_attribute('aria-describedby')}']")
    expect(note).to_contain_text("“wide” is not a number")
    span.fill("-3")
    span.press("Enter")
    holds(site.plane, "span_mm = -3")
    expect(note).to_contain_text("Fault: ")
    expect(page.get_by_role("heading", name=re.compile("1 fault stands in the way"))).to_be_visible()
    expect(page.get_by_role("button", name="Tune")).to_be_disabled()
    page.get_by_role("heading", level=1).click()
    page.get_by_role("button", name=f"Upper wing: {SPAN}").click()
    expect(span).to_be_focused()
    span.fill("1240")
    span.press("Enter")
    expect(page.get_by_role("heading", name=re.compile("stands in the way"))).to_have_count(0)
    expect(span).not_to_have_attribute("aria-invalid", "true")
    expect(page.get_by_role("button", name="Tune")).to_be_enabled()


def test_answers_never_overwrite_what_is_typed(site: Site, page: Page) -> None:
    opened(page, site)
    name = entry(page, "Plane", "name of the plane")
    name.fill("")
    words = "Grey biplane, second wing set, spring"
    name.press_sequentially(words, delay=4)
    expect(name).to_have_value(words)
    name.press("Home")
    name.press_sequentially("Old ", delay=4)
    expect(name).to_have_value("Old " + words)
    name.press("Enter")
    holds(site.plane, f'name = "Old {words}"')
    expect(page.get_by_role("heading", level=1)).to_have_text("Old " + words)


def test_two_tabs_agree(site: Site, page: Page, new_page: Callable[[], Page]) -> None:
    opened(page, site)
    other = new_page()
    opened(other, site)
    span = entry(page, "Upper wing", SPAN)
    span.fill("1300")
    span.blur()
    expect(entry(other, "Upper wing", SPAN)).to_have_value("1300")
    expect(drawing(other)).to_have_attribute("aria-label", re.compile("span 1300.mm"))


def test_a_change_outside_arrives_without_touching_what_is_typed(site: Site, page: Page) -> None:
    opened(page, site)
    mass = entry(page, "Mass", "all-up mass with battery")
    mass.fill("1100")
    site.plane.write_text(site.plane.read_text().replace("span_mm = 1240", "span_mm = 1260", 1))
    expect(entry(page, "Upper wing", SPAN)).to_have_value("1260")
    expect(mass).to_have_value("1100")


def test_another_unit_converts_the_number_and_takes_the_key_s_place(site: Site, page: Page) -> None:
    opened(page, site)
    table = group(page, "Upper wing")
    table.get_by_label(f"{SPAN}, unit", exact=True).select_option("in")
    text = holds(site.plane, "span_in = 48.8189")
    assert text.index("span_in") < text.index("root_chord_mm")
    expect(table.get_by_label(SPAN, exact=True)).to_have_value("48.8189")
    expect(drawing(page)).to_have_attribute("aria-label", re.compile("span 1240.mm"))


def test_a_spread_is_edited_in_place(site: Site, page: Page) -> None:
    opened(page, site)
    spread = group(page, "Mass").get_by_label("all-up mass with battery, spread, one sigma")
    expect(spread).to_have_value("5")
    spread.fill("12")
    spread.press("Enter")
    holds(site.plane, "all_up_g = { value = 1050, spread = 12 }")


def test_parts_are_added_and_taken_away(site: Site, page: Page) -> None:
    opened(page, site)
    before = site.plane.read_text()
    page.get_by_label("Part to add").select_option("wire")
    page.get_by_role("button", name="Add a part that drags").click()
    assert holds(site.plane, 'what = "wire"').count("[[drag]]") == before.count("[[drag]]") + 1
    group(page, "Wire").get_by_role("button", name="Take wire away").click()
    expect(page.get_by_role("heading", name="Wire", exact=True)).to_have_count(0)
    assert 'what = "wire"' not in site.plane.read_text()


def test_keyboard_alone(site: Site, page: Page) -> None:
    opened(page, site)
    group(page, "Lower wing").locator("summary").first.focus()
    page.keyboard.press("Tab")
    focused = page.locator(":focus")
    expect(focused).to_have_value("1240")
    page.keyboard.press("Control+a")
    page.keyboard.type("1235")
    page.keyboard.press("Tab")
    holds(site.plane, "span_mm = 1235")
    expect(page.locator(":focus")).to_have_attribute("aria-label", f"{SPAN}, unit")
    ask = group(page, "Lower wing").get_by_role("button", name=f"Help: {SPAN}")
    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_attribute("aria-label", f"{SPAN}, spread, one sigma")
    page.keyboard.press("Tab")
    expect(ask).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator(":focus")).to_have_attribute("aria-expanded", "true")
    expect(page.locator(".help")).to_be_visible()


def test_text_is_saved_and_a_change_made_elsewhere_is_not_written_over(
    site: Site, page: Page, new_page: Callable[[], Page]
) -> None:
    opened(page, site)
    group(page, "The file")
    text = page.get_by_label("Text of plane.toml")
    text.fill("# Mine.\n" + site.plane.read_text())
    page.get_by_role("button", name="Save the text").click()
    before = holds(site.plane, "# Mine.")
    expect(page.get_by_role("button", name="Save the text")).to_be_disabled()
    text.fill(before.replace("# Mine.", "# Mine again."))
    other = new_page()
    opened(other, site)
    span = entry(other, "Upper wing", SPAN)
    span.fill("1300")
    span.blur()
    expect(page.get_by_role("button", name="Save the text")).to_be_disabled()
    expect(page.get_by_role("alert").filter(has_text="changed elsewhere")).to_be_visible()
    holds(site.plane, "span_mm = 1300")
    page.get_by_role("button", name="Take the other, drop mine").click()
    expect(text).to_have_value(re.compile("span_mm = 1300"))


def test_planes_are_begun_copied_and_brought_in(site: Site, page: Page, tmp_path: Path) -> None:
    opened(page, site)
    page.get_by_label("Name", exact=True).fill("Second one")
    page.get_by_role("button", name="Begin", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Second one")
    holds(site.folder / "second_one.toml", 'name = "Second one"')
    brought = tmp_path / "plane.toml"
    brought.write_text(site.plane.read_text().replace("Demo biplane", "Brought biplane"))
    page.get_by_label("Bring a plane or plan file in").set_input_files(brought)
    expect(page.get_by_text("There is a file plane.toml already.")).to_be_visible()
    page.get_by_role("button", name="Keep both").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Brought biplane")
    assert "Demo biplane" in site.plane.read_text()


def test_a_killed_app_loses_nothing(site: Site, page: Page, watch: Watch) -> None:
    watch.expected.append("WebSocket connection")
    opened(page, site)
    span = entry(page, "Upper wing", SPAN)
    site.kill()
    expect(page.get_by_text(GONE)).to_be_visible()
    span.fill("1310")
    span.blur()
    expect(span).to_have_value("1310")
    site.start()
    holds(site.plane, "span_mm = 1310")
    expect(page.get_by_text(GONE)).to_have_count(0)
    expect(span).to_have_value("1310")


@pytest.mark.parametrize("width", [390, 1024])
def test_nothing_runs_off_the_side(site: Site, page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 844})
    opened(page, site)
    page.get_by_role("button", name="Open all").click()
    group(page, "The file")
    page.get_by_role("button", name=f"Help: {SPAN}").first.click()
    expect(page.locator(".help")).to_be_visible()
    assert page.evaluate(OVERALL) <= 0
    if width == 390:
        small = page.locator("main input:visible, main select:visible, main button:visible, main summary:visible")
        heights = small.evaluate_all("all => all.map(one => one.getBoundingClientRect().height)")
        assert min(heights) >= 44
        page.get_by_role("button", name="Fold the drawing away").click()
        expect(drawing(page)).to_have_count(0)


def test_tune_writes_the_plan_and_goes_on_to_the_lines(site: Site, page: Page) -> None:
    opened(page, site)
    page.get_by_role("button", name="Tune").click()
    page.wait_for_url("**/#/lines", timeout=30_000)
    assert (site.folder / "plane.plan.toml").exists()
    page.goto(f"{site.url}#/plane")
    expect(page.get_by_role("link", name="See how it falls")).to_be_visible()


def test_a_long_name_is_seen_whole_and_escape_puts_the_help_away(site: Site, page: Page) -> None:
    opened(page, site)
    for width in (1440, 1024, 390):
        page.set_viewport_size({"width": width, "height": 900})
        name = entry(page, "Plane", "name of the plane")
        assert name.evaluate("input => input.scrollWidth - input.clientWidth") <= 1
    ask = group(page, "Plane").get_by_role("button", name="Help: name of the plane")
    ask.press("Enter")
    expect(ask).to_have_attribute("aria-expanded", "true")
    ask.press("Escape")
    expect(ask).to_have_attribute("aria-expanded", "false")
