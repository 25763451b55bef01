"""What did it do: a flight entered by hand moves what is believed, one change is taken, causes, parts and the card."""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Locator, Page, WebSocketRoute

    from .conftest import Site, Watch

pytestmark = pytest.mark.browser
SLOW_MS = 180_000
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def reader(planned_site: Site, context: BrowserContext, watch: Watch) -> Page:
    """A tab on the app that all tests share, for those that leave nothing behind in its folder."""
    context.add_init_script("localStorage.setItem('evenfall.shown', 'yes')")
    page = context.new_page()
    watch.on(page)
    opened(page, planned_site)
    return page


@pytest.fixture
def planned(site: Site, planned_site: Site, context: BrowserContext) -> Site:
    """A folder of its own with the demo plane and its tuned plan; the look round has been seen."""
    shutil.copy(planned_site.folder / "plane.plan.toml", site.folder / "plane.plan.toml")
    context.add_init_script("localStorage.setItem('evenfall.shown', 'yes')")
    return site


def opened(page: Page, site: Site) -> None:
    """The page of flights, with what the record says."""
    page.goto(f"{site.url.split('#')[0]}#/flights")
    page.get_by_role("heading", name="What did it do?").wait_for()
    page.get_by_text("Tick what you saw").wait_for(timeout=SLOW_MS)


def part(page: Page, title: str) -> Locator:
    """The part of the page under a heading."""
    return page.locator("section", has=page.get_by_role("heading", name=title, exact=True)).last


def timed(page: Page, seconds: str, metres: str) -> None:
    """Begin a flight with a vertical down line timed over a length."""
    page.get_by_role("button", name="timed line", exact=True).click()
    page.get_by_label("Time over the stretch").fill(seconds)
    page.get_by_label("Length of the stretch").fill(metres)


def saved(page: Page) -> None:
    """Save what is in the form, and see it in the list of the record."""
    page.get_by_role("button", name="Save this flight").click()
    page.get_by_role("heading", name="Flights in the record").wait_for(timeout=SLOW_MS)
    page.locator("form[aria-label='A new flight']").wait_for(state="detached")


def believed(page: Page) -> tuple[float, float, float]:
    """Vertical down speed before flights, now, and its spread now."""
    figure = part(page, "What the flights say").locator("figure", has_text="vertical down").first
    figure.wait_for(timeout=SLOW_MS)
    words = str(figure.locator("svg").get_attribute("aria-label"))
    found = re.search(r"before ([\d.]+) ± [\d.]+\s*m/s, now ([\d.]+) ± ([\d.]+)", words)
    assert found, words
    return float(found[1]), float(found[2]), float(found[3])


def test_an_empty_record_says_what_to_do_first(reader: Page) -> None:
    says = part(reader, "What the flights say")
    says.get_by_text("has told anything yet").wait_for(timeout=SLOW_MS)
    assert says.get_by_role("button", name="Enter a flight").count() == 1
    part(reader, "The season").get_by_text("Wanted: 22.0").wait_for()


def test_a_timed_line_moves_what_is_believed_and_the_one_change_is_taken_and_undone(page: Page, planned: Site) -> None:
    opened(page, planned)
    timed(page, "4,6", "120")
    saved(page)
    before, now, spread = believed(page)
    flown = 120 / 4.6
    assert abs(now - flown) < abs(before - flown)
    assert 0 < spread < 4
    pieces = part(page, "Every piece, and how far it lies off").locator("ul > li")
    assert pieces.count() == 1
    assert "sigma off" in pieces.first.inner_text()
    assert part(page, "What they correct").locator("ul > li b").count() >= 2
    take = page.get_by_role("button", name="Take this change")
    take.wait_for()
    before_it = (planned.folder / "plane.plan.toml").read_text()
    take.click()
    page.locator("[data-state=edited]").wait_for(timeout=SLOW_MS)
    assert (planned.folder / "plane.plan.toml").read_text() != before_it
    part(page, "The season").locator("[data-what=change]").first.wait_for(timeout=SLOW_MS)
    page.get_by_role("button", name=re.compile("^Undo")).first.click()
    page.locator("[data-state=tuned]").wait_for(timeout=SLOW_MS)
    assert (planned.folder / "plane.plan.toml").read_text() == before_it
    for name, holds in (("Export as JSON", '"'), ("Export as CSV", ",")):
        with page.expect_download() as got:
            page.get_by_role("link", name=name).click()
        assert holds in got.value.path().read_text()


def test_a_flight_is_changed_taken_out_and_brought_back(page: Page, planned: Site) -> None:
    opened(page, planned)
    timed(page, "4.6", "120")
    saved(page)
    page.get_by_role("button", name=re.compile("^Change the flight of")).click()
    form = page.locator("form[aria-label='Change a flight']")
    assert form.get_by_label("Time over the stretch").input_value() == "4.6"
    form.get_by_label("Place", exact=True).fill("the meadow")
    form.get_by_role("button", name="Save this flight").click()
    form.wait_for(state="detached")
    entry = part(page, "Enter a flight").locator("ol > li")
    entry.get_by_text("the meadow").wait_for(timeout=SLOW_MS)
    entry.get_by_role("button", name=re.compile("^Take out: flight")).click()
    entry.get_by_text("taken out").wait_for(timeout=SLOW_MS)
    entry.get_by_role("button", name=re.compile("^Bring it back")).click()
    entry.get_by_text("taken out").wait_for(state="detached", timeout=SLOW_MS)


def test_what_is_missing_is_said_and_nothing_is_saved(reader: Page) -> None:
    reader.get_by_role("button", name="timed line", exact=True).click()
    reader.get_by_label("Time over the stretch").fill("four")
    reader.get_by_role("button", name="Save this flight").click()
    reader.locator("form [role=alert]").get_by_text("timed line: Time over the stretch.").wait_for()
    assert reader.get_by_text("Not a number: write digits").count() == 1
    reader.locator("form [role=alert]").get_by_text("timed line: Length of the stretch.").click()
    assert reader.evaluate("document.activeElement.textContent") == "timed line: what was measured?"
    assert reader.get_by_role("heading", name="Flights in the record").count() == 0


def test_a_draft_survives_a_dead_battery_and_comes_back_once_thrown_away(
    reader: Page, planned_site: Site, context: BrowserContext
) -> None:
    timed(reader, "4.6", "120")
    reader.get_by_role("radio", name="inverted").check()
    reader.get_by_label("Notes").fill("a gust at the top")
    reader.close(run_before_unload=False)
    page = context.new_page()
    opened(page, planned_site)
    assert page.get_by_label("Time over the stretch").input_value() == "4.6"
    assert page.get_by_role("radio", name="inverted").is_checked()
    assert page.get_by_label("Notes").input_value() == "a gust at the top"
    page.get_by_role("button", name="Throw the draft away").click()
    page.get_by_role("button", name="Bring the draft back").click()
    assert page.get_by_label("Time over the stretch").input_value() == "4.6"


def test_signs_rank_causes_with_a_bench_check_each(reader: Page) -> None:
    seen = part(reader, "What did you see?")
    ticks = seen.get_by_role("checkbox")
    assert ticks.count() >= 8
    ticks.first.check()
    causes = seen.locator("ol > li")
    causes.first.wait_for(timeout=SLOW_MS)
    shares = [
        float(re.search(r"([\d.]+)\s*%", line)[1])  # type: ignore[index]
        for line in causes.locator(".head").all_inner_texts()
        if "%" in line
    ]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 102
    causes.first.locator("summary").click()
    causes.first.get_by_text("If it is this:").wait_for()
    causes.first.get_by_text("Source:").wait_for()
    seen.get_by_role("button", name="Clear the ticks").click()
    assert causes.count() == 0


def test_a_replaced_part_says_what_it_voids_and_stands_in_the_season(page: Page, planned: Site) -> None:
    opened(page, planned)
    parts = part(page, "Parts replaced")
    parts.get_by_label("What was replaced or repaired").select_option(index=1)
    assert parts.get_by_role("status").locator("li").count() >= 1
    parts.get_by_label("What was done").fill("new one, same size")
    parts.get_by_role("button", name="Enter it in the record").click()
    parts.get_by_text("To do again:").wait_for(timeout=SLOW_MS)
    part(page, "The season").locator("[data-what=part]").wait_for(timeout=SLOW_MS)
    again = parts.get_by_role("button", name=re.compile("^Done again: "))
    before = again.count()
    again.first.click()
    parts.get_by_text(", noted by the pilot").wait_for(timeout=SLOW_MS)
    assert again.count() == before - 1
    part(page, "The season").locator("[data-what=test]").wait_for(timeout=SLOW_MS)
    parts.get_by_role("button", name=re.compile("^Undo: ")).click()
    parts.get_by_text(", noted by the pilot").wait_for(state="detached", timeout=SLOW_MS)
    assert again.count() == before


def test_the_card_fills_the_phone_and_is_one_file(reader: Page, planned_site: Site) -> None:
    reader.set_viewport_size(PHONE)  # type: ignore[arg-type]
    reader.get_by_role("button", name="Show the card").click()
    card = reader.get_by_role("dialog")
    card.get_by_role("heading", name="Surfaces, phase by phase").wait_for(timeout=SLOW_MS)
    box = card.bounding_box()
    assert box is not None
    assert (box["width"], box["height"]) == (PHONE["width"], PHONE["height"])
    assert card.get_by_role("checkbox").count() >= 3
    reader.keyboard.press("Escape")
    card.wait_for(state="hidden")
    address = str(reader.get_by_role("link", name="Open it to print").get_attribute("href"))
    answer = reader.request.get(planned_site.url.split("#")[0].rstrip("/") + address)
    assert answer.ok
    assert not re.search(r"https?:", re.sub(r'xmlns="[^"]*"', "", answer.text()))


def test_a_phone_shows_one_question_a_screen(reader: Page) -> None:
    reader.set_viewport_size(PHONE)  # type: ignore[arg-type]
    reader.get_by_role("button", name="timed line", exact=True).click()
    shown = reader.locator("form section[data-step]:visible")
    assert shown.count() == 1
    assert "which line" in shown.inner_text()
    reader.get_by_role("button", name="Next").click()
    reader.get_by_role("button", name="Next").click()
    reader.get_by_label("Time over the stretch").fill("4.6")
    assert reader.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    reader.get_by_role("button", name="Save this flight").click()
    reader.locator("form [role=alert]").get_by_text("timed line: Length of the stretch.").wait_for()
    assert shown.count() == 1
    reader.get_by_label("Length of the stretch").fill("120")
    reader.keyboard.press("Enter")
    assert "How was the air?" in shown.inner_text()


def test_a_guest_enters_a_flight_and_changes_nothing_else(page: Page, planned: Site) -> None:
    def greet(socket: WebSocketRoute) -> None:
        server = socket.connect_to_server()
        server.on_message(lambda text: socket.send(str(text).replace('"role":"owner"', '"role":"guest"', 1)))

    page.route_web_socket(re.compile("/live$"), greet)
    opened(page, planned)
    timed(page, "4.6", "120")
    saved(page)
    page.get_by_role("button", name="Take this change").wait_for(timeout=SLOW_MS)
    assert page.get_by_role("button", name="Take this change").is_disabled()
    assert page.get_by_role("button", name=re.compile("^Take out: flight")).is_disabled()
    assert part(page, "Parts replaced").get_by_label("What was replaced or repaired").is_disabled()
