"""What do I take along: both pages as pictures, the PDF, the file for the phone, or why there is none."""

from __future__ import annotations

import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from evenfall.plane.starter import programme_path

if TYPE_CHECKING:
    from playwright.sync_api import Page

    from conftest import Site

SLOW_MS = 30_000


def tuned(site: Site) -> None:
    """A plan beside the plane, as `evenfall tune` writes it."""
    command = [sys.executable, "-m", "evenfall", "tune", site.plane.name, "-o", "plane.plan.toml"]
    subprocess.run(command, cwd=site.folder, check=True, stdout=subprocess.DEVNULL)


def opened(page: Page, site: Site) -> None:
    """The sheets page."""
    page.goto(f"{site.url.split('#')[0]}#/sheets")
    page.get_by_role("heading", name="What do I take along?").wait_for()


def test_without_a_plan_it_says_why_and_where_to_go(page: Page, site: Site) -> None:
    opened(page, site)
    page.get_by_text("No sheet can be made of this").wait_for()
    assert page.get_by_role("link", name="Open the PDF to print").count() == 0
    page.locator("main").get_by_role("link").first.click()
    page.locator("nav a[href='#/bench'][aria-current=page]").wait_for()


def test_both_pages_are_shown_and_the_pdf_is_at_hand(page: Page, site: Site) -> None:
    tuned(site)
    opened(page, site)
    page.get_by_role("link", name="Open the PDF to print").wait_for(timeout=SLOW_MS)
    pictures = page.locator("figure img")
    assert pictures.count() == 2
    for index, ratio in ((0, 210 / 297), (1, 210 / 297)):
        shape = pictures.nth(index).evaluate(
            "async image => { await image.decode(); return image.naturalWidth / image.naturalHeight }"
        )
        assert shape == pytest.approx(ratio, abs=0.01)
    address = page.get_by_role("link", name="Open the PDF to print").get_attribute("href")
    answer = page.request.get(site.url.split("#")[0].rstrip("/") + str(address))
    assert answer.ok
    assert answer.body().startswith(b"%PDF-")


def test_the_sheet_is_of_the_air_chosen_on_the_lines_page(page: Page, site: Site) -> None:
    tuned(site)
    page.goto(f"{site.url.split('#')[0]}#/lines")
    page.get_by_role("slider", name="Height of the field").fill("1000", timeout=SLOW_MS)
    page.get_by_text(re.compile(r"1\.11\d kg/m³, 9 % thinner than standard")).wait_for(timeout=SLOW_MS)
    opened(page, site)
    page.get_by_text("Computed for a field at 1000 m").wait_for(timeout=SLOW_MS)
    # ISO 2533: 8.500 C, 898.746 hPa, 1.11164 kg/m3 at 1000 m.
    said = "1.112\u00a0kg/m³ (8.5\u00a0°C, 899\u00a0hPa at the field)"
    phone = page.frame_locator("iframe").get_by_text(said)
    phone.first.wait_for(timeout=SLOW_MS)
    kept = str(page.get_by_role("link", name="Save the file for the phone").get_attribute("href"))
    assert said in page.request.get(site.url.split("#")[0].rstrip("/") + kept).text()
    for picture in page.locator("figure img").all():
        assert "elevation_m=1000" in str(picture.get_attribute("src"))
        assert picture.evaluate("async image => { await image.decode(); return image.naturalWidth }") > 0


def test_a_programme_is_the_third_page_by_keyboard_on_a_phone(page: Page, site: Site) -> None:
    tuned(site)
    own = site.folder / "mine.seq.toml"
    own.write_text(programme_path("eight").read_text(encoding="utf-8").replace("Eight figures", "My figures"))
    page.set_viewport_size({"width": 390, "height": 844})
    opened(page, site)
    choice = page.get_by_label("A third page with a programme")
    choice.wait_for(timeout=SLOW_MS)
    assert choice.locator("option").all_inner_texts() == [
        "none",
        "Eight figures (invented)",
        "Seventeen figures (invented)",
        "My figures (invented), mine.seq.toml",
    ]
    choice.focus()
    page.keyboard.press("End")
    third = page.get_by_alt_text("Programme page of the sheet, as printed. Opens the PDF.")
    third.wait_for(timeout=SLOW_MS)
    assert third.evaluate("async image => { await image.decode(); return image.naturalWidth }") > 0
    assert page.evaluate("document.documentElement.scrollWidth <= 390")
    assert page.get_by_text("Three pages, black on white").is_visible()
    size = choice.bounding_box()
    assert size is not None
    assert size["height"] >= 44

    address = str(page.get_by_role("link", name="Save the PDF").get_attribute("href"))
    pdf = page.request.get(site.url.split("#")[0].rstrip("/") + address).body()
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 3
    with page.expect_request(lambda request: "/sheet-3.svg" in request.url, timeout=SLOW_MS):
        own.write_text(own.read_text(encoding="utf-8") + "# looked at\n", encoding="utf-8")
    page.reload()
    page.get_by_text("Three pages, black on white").wait_for(timeout=SLOW_MS)
    for picture in page.locator("figure img").all():
        picture.evaluate("image => image.decode()")
    page.locator("iframe").scroll_into_view_if_needed()
    page.frame_locator("iframe").locator("h1, h2").first.wait_for()
    own.unlink()
    page.get_by_text("Two pages, black on white").wait_for(timeout=SLOW_MS)
    assert page.locator("figure img").count() == 2


def test_letter_paper_is_kept_and_reaches_pictures_and_pdf(page: Page, site: Site) -> None:
    tuned(site)
    opened(page, site)
    page.get_by_label("Letter").check(timeout=SLOW_MS)
    picture = page.locator("figure img").first
    shape = picture.evaluate("async image => { await image.decode(); return image.naturalWidth / image.naturalHeight }")
    assert shape == pytest.approx(8.5 / 11, abs=0.01)
    assert "paper=letter" in str(page.get_by_role("link", name="Save the PDF").get_attribute("href"))
    page.reload()
    assert page.get_by_label("Letter").is_checked(timeout=SLOW_MS)


def test_the_phone_file_is_told_by_size_and_shown_as_on_a_phone(page: Page, site: Site) -> None:
    tuned(site)
    opened(page, site)
    save = page.get_by_role("link", name="Save the file for the phone")
    save.wait_for(timeout=SLOW_MS)
    with page.expect_download() as got:
        save.click()
    size = got.value.path().stat().st_size
    assert size < 60_000
    assert page.get_by_text(f"One file of {size / 1000:.0f} kB").count() == 1
    frame = page.locator("iframe")
    frame.scroll_into_view_if_needed()
    assert frame.bounding_box()["width"] == pytest.approx(390, abs=3)  # type: ignore[index]
    inside = page.frame_locator("iframe")
    inside.locator("h1, h2").first.wait_for()
    assert inside.locator("html").evaluate("html => html.scrollWidth <= html.clientWidth")
    assert "allow-same-origin" not in str(frame.get_attribute("sandbox"))


def test_a_changed_plan_renews_the_pictures(page: Page, site: Site) -> None:
    tuned(site)
    opened(page, site)
    page.get_by_role("link", name="Open the PDF to print").wait_for(timeout=SLOW_MS)
    plan = site.folder / "plane.plan.toml"
    text = plan.read_text(encoding="utf-8")
    with page.expect_request(lambda request: "/sheet-1.svg" in request.url, timeout=SLOW_MS):
        plan.write_text(text + "# looked at\n", encoding="utf-8")
