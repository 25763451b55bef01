"""The page for everyone: axe with the stronger contrast of 7:1, names, targets for a thumb, tokens, no motion."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, CDPSession, Page

    from conftest import Site

QUESTIONS = ("plane", "bench", "lines", "flights", "sheets")
TOKENS = Path(__file__).parents[2] / "web" / "src" / "styles" / "tokens.css"
STYLES = Path(__file__).parents[2] / "web" / "src"
SEEN = "localStorage.setItem('evenfall.shown', 'yes')"
TARGET_PX = 44
WIDE, PHONE = (1440, 900), (390, 844)
STOPS = 400
"""Tab stops after which a page is taken to be a trap."""

Opened = Callable[..., "Page"]


@pytest.fixture
def opened(browser: Browser, planned_site: Site) -> Iterator[Opened]:
    """Opens a question at a size and in a scheme, everything answered; axe may run beside the policy."""
    contexts = []

    def open_(question: str, size: tuple[int, int] = WIDE, scheme: Any = "light", *, look_round: bool = False) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            reduced_motion="reduce",
            bypass_csp=True,
        )
        contexts.append(context)
        if not look_round:
            context.add_init_script(SEEN)
        page = context.new_page()
        page.goto(f"{planned_site.url.split('#')[0]}#/{question}")
        page.locator("main h1").first.wait_for()
        settled(page)
        return page

    yield open_
    for context in contexts:
        context.close()


def settled(page: Page) -> None:
    """Wait until the page's content stands still for a second, at most twenty."""
    before, still = "", 0
    for _ in range(80):
        now = page.locator("main").inner_text() + str(page.locator("main *").count())
        still = still + 1 if now == before else 0
        if still >= 4:
            return
        before = now
        page.wait_for_timeout(250)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["1440", "390"])
@pytest.mark.parametrize("question", QUESTIONS)
def test_axe_finds_nothing(opened: Opened, question: str, size: tuple[int, int], scheme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = opened(question, size, scheme, look_round=True)
    found = Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
    told = [
        f"{rule['id']}: {node['target']} {node['html'][:160]} {node.get('failureSummary', '')[:300]}"
        for rule in found.response["violations"]
        for node in rule["nodes"]
    ]
    assert told == []


@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["1440", "390"])
@pytest.mark.parametrize("question", QUESTIONS)
def test_every_tab_stop_has_a_name_and_none_is_a_trap(opened: Opened, question: str, size: tuple[int, int]) -> None:
    page = opened(question, size)
    session = page.context.new_cdp_session(page)
    session.send("DOM.enable")
    session.send("Accessibility.enable")
    page.locator("body").evaluate("body => { body.tabIndex = -1; body.focus(); body.removeAttribute('tabindex') }")
    nameless, stops = [], 0
    while stops < STOPS:
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        if focus is None:
            break
        stops += 1
        name, role = named(session)
        if not name.strip():
            nameless.append(f"{role or 'no role'}: {focus}")
    assert nameless == []
    assert 6 <= stops < STOPS


FOCUS = """() => {
  const at = document.activeElement
  if (at === null || at === document.body || at.dataset.visited === 'yes') return null
  at.dataset.visited = 'yes'
  return at.outerHTML.slice(0, 160)
}"""


def named(session: CDPSession) -> tuple[str, str]:
    """Name and role, as the browser tells them to a screen reader, of what has the focus."""
    found = session.send("Runtime.evaluate", {"expression": "document.activeElement"})
    tree = session.send(
        "Accessibility.getPartialAXTree", {"objectId": found["result"]["objectId"], "fetchRelatives": False}
    )
    node = tree["nodes"][0]
    return str(node.get("name", {}).get("value", "")), str(node.get("role", {}).get("value", ""))


SMALL = """least => [...document.querySelectorAll(
    'a[href], button, input, select, textarea, summary, [tabindex="0"], [role=slider], [role=button], [role=tab]'
  )].flatMap(control => {
    const style = getComputedStyle(control)
    if (!control.checkVisibility({ visibilityProperty: true, opacityProperty: true })) return []
    if (control.classList.contains('skip') || control.matches('p > a:not(.button), li > a:not(nav a)')) return []
    if (style.clipPath === 'inset(50%)') return []
    const label = control.matches('input[type=radio], input[type=checkbox]') ? control.closest('label') : null
    const box = (label ?? control).getBoundingClientRect()
    if (box.width === 0 || box.height === 0) return []
    if (box.width >= least - 0.5 && box.height >= least - 0.5) return []
    return [`${Math.round(box.width)} x ${Math.round(box.height)}: ${control.outerHTML.slice(0, 140)}`]
  })"""
"""Controls below a size; links inside sentences are text, a labelled box is as large as its label."""


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_thumb_hits_every_control_of_a_phone(opened: Opened, question: str) -> None:
    page = opened(question, PHONE, look_round=True)
    assert page.evaluate(SMALL, TARGET_PX) == []
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]


@pytest.mark.parametrize("question", QUESTIONS)
def test_nothing_moves_where_that_is_not_wanted(opened: Opened, question: str) -> None:
    page = opened(question)
    moving = page.evaluate(
        "document.getAnimations().map(one => one.effect?.target?.outerHTML?.slice(0, 120) ?? 'something')"
    )
    assert moving == []


def test_states_of_plan_and_page_are_worded_not_only_coloured(opened: Opened) -> None:
    page = opened("sheets")
    assert page.locator(".state").inner_text() in ("tuned", "edited")
    current = page.locator("nav a[aria-current=page]")
    others = page.locator("nav a:not([aria-current])").first
    weight = "element => getComputedStyle(element).fontWeight"
    assert current.evaluate(weight) != others.evaluate(weight)
    assert page.locator("main a:not(.button)").evaluate_all(
        "links => links.every(link => link.querySelector('img') "
        "|| getComputedStyle(link).textDecorationLine === 'underline')"
    )


@contextmanager
def forced(browser: Browser) -> Iterator[Any]:
    """A window whose reader has colours of their own."""
    context = browser.new_context(viewport={"width": 1440, "height": 900}, forced_colors="active")
    context.add_init_script(SEEN)
    yield context
    context.close()


def test_the_frame_stands_in_forced_colours(browser: Browser, planned_site: Site) -> None:
    with forced(browser) as context:
        page = context.new_page()
        page.goto(f"{planned_site.url.split('#')[0]}#/flights")
        page.locator("main h1").wait_for()
        borders = page.locator(".undo button").first.evaluate("button => getComputedStyle(button).borderTopWidth")
        assert borders != "0px"


# Contrast, from the tokens alone

TEXT_ON = {
    "--ink": ("--ground", "--sheet", "--wash", "--chosen-wash", "--warn-wash"),
    "--soft": ("--ground", "--sheet"),
    "--chosen": ("--ground", "--sheet"),
    "--warn": ("--ground", "--sheet"),
    "--on-chosen": ("--chosen",),
}
MARKS_ON = {
    "--hair": ("--ground", "--sheet"),
    "--chosen": ("--ground", "--sheet", "--chosen-wash"),
    "--warn": ("--ground", "--sheet", "--warn-wash"),
    "--focus": ("--ground", "--sheet", "--wash", "--chosen-wash", "--warn-wash"),
}


def schemes() -> dict[str, dict[str, str]]:
    """Colours by token, light and dark."""
    text = TOKENS.read_text(encoding="utf-8")
    light, dark = text.split("@media (prefers-color-scheme: dark)")
    found = {"light": dict(re.findall(r"(--[\w-]+):\s*(#[0-9a-fA-F]{6})", light))}
    found["dark"] = found["light"] | dict(re.findall(r"(--[\w-]+):\s*(#[0-9a-fA-F]{6})", dark))
    return found


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1 (WCAG 2.2)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_that_of_the_standard() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_and_marks_stand_out(scheme: str) -> None:
    colours = schemes()[scheme]
    pairs = [(fore, back, 7.0) for fore, backs in TEXT_ON.items() for back in backs]
    pairs += [(fore, back, 3.0) for fore, backs in MARKS_ON.items() for back in backs]
    weak = [
        f"{fore} on {back}: {contrast(colours[fore], colours[back]):.2f}, wanted {least}"
        for fore, back, least in pairs
        if contrast(colours[fore], colours[back]) < least
    ]
    assert weak == []


def test_colours_come_from_the_tokens_only() -> None:
    allowed = {"#fff", "#000"}  # paper, which is white in every scheme
    strays = []
    for path in [*sorted(STYLES.rglob("*.svelte")), STYLES / "styles" / "base.css"]:
        text = path.read_text(encoding="utf-8")
        style = text.split("<style", 1)[-1] if path.suffix == ".svelte" else text
        strays += [
            f"{path.relative_to(STYLES)}: {colour}"
            for colour in re.findall(r":[^;{}]*?(#[0-9a-fA-F]{3,8}\b|\brgba?\([^)]*\)|\bhsla?\([^)]*\))", style)
            if colour not in allowed and "<style" in text
        ]
    assert strays == []
