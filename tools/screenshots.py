"""Pictures of every page of a running app, at three widths, light and dark: `python tools/screenshots.py URL OUT`.

Needs the browser extra (Playwright) and Debian's Chromium. Says on the way which page is wider than its window and what
the browser's console complained about.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

QUESTIONS = ("plane", "bench", "lines", "flights", "sheets")
SIZES = {1440: 900, 1024: 768, 390: 844}
CHROMIUM = os.environ.get("EVENFALL_CHROMIUM", "/usr/bin/chromium")
SETTLE_MS = 400
"""Pause after a page has no request left, for drawings that come with the answers."""


def pictures(browser: Browser, url: str, out: Path, questions: list[str], *, look_round: bool, wait_ms: int) -> int:
    """Write one full-page picture per question, width and scheme; returns how many faults were seen."""
    faults = 0
    for scheme in ("light", "dark"):
        for width, height in SIZES.items():
            context = browser.new_context(
                viewport={"width": width, "height": height}, color_scheme=scheme, reduced_motion="reduce"
            )
            if not look_round:
                context.add_init_script("try { localStorage.setItem('evenfall.shown', 'yes') } catch {}")
            page = context.new_page()
            said: list[str] = []
            page.on(
                "console", lambda message, said=said: said.append(message.text) if message.type == "error" else None
            )
            page.on("pageerror", lambda error, said=said: said.append(str(error)))
            for question in questions:
                page.goto(f"{url.rstrip('/')}/#/{question}")
                page.locator("main h1").first.wait_for(timeout=15_000)
                page.wait_for_timeout(SETTLE_MS + wait_ms)
                name = f"{question}-{width}-{scheme}.png"
                page.screenshot(path=out / name, full_page=True)
                wide = page.evaluate("document.documentElement.scrollWidth")
                print(f"{name}{f': {wide} px wide' if wide > width else ''}")
                faults += wide > width
            for text in said:
                print(f"  console: {text}")
            faults += len(said)
            context.close()
    return faults


def main() -> int:
    """Parse the arguments, take the pictures; 1 where anything looked wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("url", help="address that the app printed")
    parser.add_argument("out", type=Path, help="folder for the pictures")
    parser.add_argument("--page", action="append", choices=QUESTIONS, help="only this one; may be repeated")
    parser.add_argument("--look-round", action="store_true", help="with the strip of the first run")
    parser.add_argument("--wait", type=int, default=2000, metavar="MS", help="for answers that take long")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking"]
        )
        questions = given.page or list(QUESTIONS)
        faults = pictures(browser, given.url, given.out, questions, look_round=given.look_round, wait_ms=given.wait)
        browser.close()
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
