"""The whole programme on the lines page: numbers of the engine, a playhead for the keyboard, another flight beside."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the browser extra")
from playwright.sync_api import Browser, Locator, Page, expect

if TYPE_CHECKING:
    from collections.abc import Callable

    from .conftest import Site, Watch

SLOW_MS = 60_000
"""The first flight of a plane waits for the slower answers of the page."""


@pytest.fixture
def opened(browser: Browser, planned_site: Site, watch: Watch) -> Iterator[Callable[..., Page]]:
    """Opens the lines page at a size and in a scheme and flies the first programme."""
    contexts = []

    def open_(width: int = 1440, scheme: Any = "light", motion: Any = "reduce", *, axe: bool = False) -> Page:
        context = browser.new_context(
            viewport={"width": width, "height": 900}, color_scheme=scheme, reduced_motion=motion, bypass_csp=axe
        )
        contexts.append(context)
        context.add_init_script("localStorage.setItem('evenfall.shown', 'yes')")
        page = context.new_page()
        watch.on(page)
        page.goto(f"{planned_site.url.split('#')[0]}#/lines")
        part(page).get_by_role("button", name="Fly it").click(timeout=SLOW_MS)
        expect(part(page).locator("[data-programme=fresh]")).to_be_visible(timeout=SLOW_MS)
        return page

    yield open_
    for context in contexts:
        context.close()


def part(page: Page) -> Locator:
    return page.get_by_role("region", name="The whole programme")


def playhead(page: Page) -> Locator:
    return page.get_by_role("slider", name="Playhead")


def mark(page: Page, view: str = "side", which: str = "first") -> tuple[float, float]:
    """Where the plane is drawn in a view, px."""
    moved = part(page).locator(f"[data-view={view}] [data-plane={which}]").get_attribute("transform") or ""
    across, down = re.findall(r"-?[\d.]+", moved)
    return float(across), float(down)


def test_the_numbers_are_the_engine_s(opened: Callable[..., Page], planned_site: Site) -> None:
    from evenfall.plane.starter import programme_path
    from evenfall.sheet.fly_make import fly_page
    from evenfall.workflow.flying import fly

    page = opened()
    folder = planned_site.folder
    known = fly_page(fly(planned_site.plane, folder / "plane.plan.toml", programme_path("eight")))
    for figure in known.figures:
        row = part(page).locator(f"tr[data-figure='{figure.number}']")
        expect(row).to_contain_text(figure.name)
        expect(row.locator("[data-cell=speed]")).to_contain_text(f"{figure.speed_m_s:.1f}")
        expect(row.locator("[data-cell=uneven]")).to_contain_text(f"{figure.unevenness_percent:.1f}")
        expect(row.locator("[data-cell=worst]")).to_contain_text(f"{abs(figure.worst_off_m_s):.1f} m/s")
        expect(row).to_contain_text(figure.why_words or "even")
    expect(part(page)).to_contain_text(f"{known.duration_s.value:.1f} ± {known.duration_s.spread:.1f}")
    assert len(known.figures) == 8


def test_the_playhead_moves_by_keyboard(opened: Callable[..., Page]) -> None:
    page = opened()
    before = mark(page)
    playhead(page).focus()
    page.keyboard.press("PageUp")
    expect(part(page).locator("[data-now=time]")).not_to_have_text(re.compile(r"^0\.0"))
    after = mark(page)
    assert abs(after[0] - before[0]) > 5
    assert "m/s" in (playhead(page).get_attribute("aria-valuetext") or "")
    at = float(playhead(page).input_value())
    page.keyboard.press("ArrowRight")
    assert float(playhead(page).input_value()) == pytest.approx(at + 0.1, abs=0.01)
    page.keyboard.press("Home")
    assert mark(page) == before


def test_figures_take_the_playhead_along(opened: Callable[..., Page]) -> None:
    page = opened()
    third = part(page).locator("tr[data-figure='3']")
    third.get_by_role("button").first.click()
    expect(third.get_by_role("button").first).to_have_attribute("aria-current", "true")
    expect(part(page).locator("[data-now=part]")).to_contain_text("3 ")
    begun = float(playhead(page).input_value())
    third.get_by_role("button").nth(1).click()
    worst = third.locator("[data-cell=worst]").inner_text().split(" ")[0]
    expect(part(page).locator("[data-now=speed]")).to_contain_text(f"({worst})")
    assert float(playhead(page).input_value()) > begun
    part(page).get_by_role("button", name="Next figure").click()
    expect(part(page).locator("[data-now=part]")).to_contain_text("4 ")


def test_it_plays_only_when_asked_and_pauses(opened: Callable[..., Page]) -> None:
    page = opened(motion="no-preference")
    page.wait_for_timeout(400)
    assert playhead(page).input_value() == "0"
    part(page).get_by_role("button", name="Play", exact=True).focus()
    page.keyboard.press("Enter")
    page.wait_for_timeout(1200)
    part(page).get_by_role("button", name="Pause").click()
    at = float(playhead(page).input_value())
    assert 0.3 < at < 20
    page.wait_for_timeout(400)
    assert float(playhead(page).input_value()) == at


def test_another_flight_beside_it(opened: Callable[..., Page]) -> None:
    page = opened()
    part(page).get_by_label("Beside").select_option(index=1)
    expect(part(page).locator("[data-plane=second]").first).to_be_attached(timeout=SLOW_MS)
    expect(part(page).get_by_role("columnheader", name="Other, speed")).to_be_visible()
    expect(part(page)).to_contain_text("as it is now")
    playhead(page).fill("60")
    expect(part(page).locator("[data-now=other]")).to_contain_text(re.compile(r"m/s, [\d.]+\s*s (later|sooner)"))
    assert mark(page) != mark(page, which="second")


def test_wind_is_flown(opened: Callable[..., Page]) -> None:
    page = opened()
    assert part(page).get_by_label("Blowing").is_disabled()
    part(page).get_by_role("slider", name="Wind", exact=True).fill("6")
    assert part(page).get_by_label("Blowing").is_enabled()
    expect(part(page)).to_contain_text("wind 6 m/s to the right along the flight line", timeout=SLOW_MS)
    expect(part(page)).to_contain_text("Speed over the ground")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_for_everyone(opened: Callable[..., Page], width: int, scheme: str) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    page = opened(width, scheme, axe=True)
    part(page).get_by_label("Beside").select_option(index=1)
    expect(part(page).locator("[data-plane=second]").first).to_be_attached(timeout=SLOW_MS)
    playhead(page).fill("14")
    found = axe.run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    told = [f"{rule['id']}: {node['target']}" for rule in found.response["violations"] for node in rule["nodes"]]
    assert told == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    if width == 390:
        controls = part(page).locator("button, input, select").all()
        assert min(box["height"] for one in controls if (box := one.bounding_box())) >= 43.5


def test_a_programme_changed_on_the_disk_is_flown_anew(opened: Callable[..., Page], planned_site: Site) -> None:
    from evenfall.plane.starter import programme_path

    own = planned_site.folder / "mine.seq.toml"
    text = programme_path("eight").read_text(encoding="utf-8")
    own.write_text(text, encoding="utf-8")
    try:
        page = opened()
        choice = part(page).get_by_label("Programme")
        expect(choice.locator("option")).to_contain_text([f"{name}, mine.seq.toml" for name in named(text)])
        choice.select_option("mine.seq.toml")
        expect(part(page).locator("[data-programme=fresh]")).to_be_visible(timeout=SLOW_MS)
        expect(part(page)).not_to_contain_text("has changed on the disk")
        expect(part(page).locator("tr[data-figure='8']")).to_be_visible()

        begun = text.rindex("[[figure]]")
        own.write_text(text[:begun], encoding="utf-8")
        expect(part(page)).to_contain_text("mine.seq.toml was flown anew", timeout=SLOW_MS)
        expect(part(page).locator("tr[data-figure='8']")).to_have_count(0)
        own.write_text("format = 1\n", encoding="utf-8")
        expect(part(page)).to_contain_text("mine.seq.toml cannot be flown now", timeout=SLOW_MS)
        own.write_text(text, encoding="utf-8")
        expect(part(page).locator("tr[data-figure='8']")).to_be_visible(timeout=SLOW_MS)
        choice.select_option("eight")
        expect(part(page)).not_to_contain_text("has changed on the disk")
    finally:
        own.unlink()


def named(text: str) -> list[str]:
    return re.findall(r'(?m)^name = "(.*)"', text)[:1]
