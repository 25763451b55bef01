"""The first page is small, and nothing asks beyond this machine or against the page's own policy."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

    from conftest import Site


QUESTIONS = ("plane", "bench", "lines", "flights", "sheets")
FIRST_PAGE_BYTES, FIRST_PAGE_REQUESTS = 300_000, 6


@pytest.fixture
def window(browser: Browser) -> Iterator[BrowserContext]:
    """A window that has seen nothing yet."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    yield context
    context.close()


def test_first_page_is_small_in_few_requests(window: BrowserContext, planned_site: Site) -> None:
    page = window.new_page()
    session = window.new_cdp_session(page)
    session.send("Network.enable")
    urls: dict[str, str] = {}
    sizes: dict[str, float] = {}
    session.on("Network.requestWillBeSent", lambda event: urls.update({event["requestId"]: event["request"]["url"]}))
    session.on("Network.loadingFinished", lambda event: sizes.update({event["requestId"]: event["encodedDataLength"]}))
    page.goto(planned_site.url)
    page.locator("main h1").wait_for()
    page.wait_for_timeout(3000)
    asked = {urls[one]: size for one, size in sizes.items() if not urls[one].startswith("data:")}
    print({urlsplit(url).path: round(size) for url, size in asked.items()}, f"{sum(asked.values()) / 1000:.1f} kB")
    assert 2 <= len(asked) <= FIRST_PAGE_REQUESTS, sorted(asked)
    assert sum(asked.values()) <= FIRST_PAGE_BYTES


def test_no_request_leaves_the_machine(window: BrowserContext, planned_site: Site) -> None:
    page = window.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    walk(page, planned_site)
    here = urlsplit(planned_site.url).netloc
    strangers = [url for url in asked if urlsplit(url).scheme not in ("data", "blob") and urlsplit(url).netloc != here]
    assert strangers == []
    assert len(asked) > 10


def test_nothing_goes_against_the_policy(window: BrowserContext, planned_site: Site) -> None:
    window.add_init_script(
        "window.against = []; addEventListener('securitypolicyviolation', event => "
        "window.against.push(`${event.violatedDirective} ${event.blockedURI} ${event.sourceFile}:${event.lineNumber}`))"
    )
    page = window.new_page()
    walk(page, planned_site)
    assert page.evaluate("window.against") == []


def test_the_policy_is_strict(window: BrowserContext, planned_site: Site) -> None:
    page = window.new_page()
    answer = page.goto(planned_site.url)
    assert answer is not None
    policy = answer.header_value("content-security-policy") or ""
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";") if rule.strip())
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == "'self'"
    assert rules["style-src"] == "'self'"
    assert "unsafe" not in policy
    assert "http:" not in policy.replace("http://127.0.0.1", "")


def walk(page: Page, site: Site) -> None:
    """Every page once, by its link, with time to ask for what it wants."""
    page.goto(site.url.split("#")[0])
    for question in QUESTIONS:
        page.locator(f"nav a[href='#/{question}']").click()
        page.locator("main h1").wait_for()
        page.wait_for_timeout(2000)
