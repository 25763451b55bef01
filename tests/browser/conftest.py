"""A real `evenfall app` on a folder of its own, and a page of Debian's Chromium that forgives nothing."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

CHROMIUM = "/usr/bin/chromium"
DEMO = Path(__file__).parents[2] / "src" / "evenfall" / "data" / "demo" / "biplane_124.toml"
OTHER_BUNDLE = "EVENFALL_TEST_STATIC"
"""Names a folder with another build of the page to test than the one that ships."""
PATIENCE_MS = 20_000


@dataclass
class Site:
    """A running app.

    Args:
        folder: the pilot's folder, with one plane file `plane.toml`.
        url: where the page is; stays over a restart.
    """

    folder: Path
    url: str = ""
    process: subprocess.Popen[str] | None = field(default=None, repr=False)

    @property
    def plane(self) -> Path:
        """The plane file."""
        return self.folder / "plane.toml"

    def start(self) -> None:
        """Start the app, on the port it had before."""
        port = self.url.rsplit(":", 1)[1].strip("/") if self.url else "0"
        command = [*_program(), "app", str(self.folder), "--no-browser", "--json", "--port", port, "--linger-s", "1800"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True)
        assert self.process.stdout is not None
        said = self.process.stdout.readline()
        assert said, f"evenfall app ended with {self.process.wait()}"
        self.url = json.loads(said)["address"]

    def kill(self) -> None:
        """End it as a power cut would."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            if self.process.stdout is not None:
                self.process.stdout.close()
            self.process = None

    def restart(self) -> None:
        """End it and start it anew at the same address."""
        self.kill()
        self.start()


def _program() -> list[str]:
    """The command line that is `evenfall`, on another bundle where the environment names one."""
    bundle = os.environ.get(OTHER_BUNDLE)
    if not bundle:
        return [sys.executable, "-m", "evenfall"]
    patch = (
        "import sys, pathlib; from evenfall.app.server import Application; from evenfall.cli import main; "
        f"Application.__init__.__kwdefaults__['static'] = pathlib.Path({bundle!r}); main()"
    )
    return [sys.executable, "-c", patch]


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever needs the browser carries its mark."""
    for item in items:
        if "browser" in getattr(item, "fixturenames", ()) and Path(__file__).parent in item.path.parents:
            item.add_marker("browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests; where there is none they are skipped, in CI that is a failure."""
    if not Path(CHROMIUM).exists():
        missing = pytest.fail if os.environ.get("CI") == "true" else pytest.skip
        missing(f"needs Debian's Chromium at {CHROMIUM}: apt-get install chromium")
    from playwright import sync_api

    sync_api.expect.set_options(timeout=PATIENCE_MS)
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-background-networking", "--disable-gpu"]
        )
        yield browser
        browser.close()


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """A running app on a folder with the demo plane."""
    folder = tmp_path / "planes"
    folder.mkdir()
    site = Site(folder=folder)
    shutil.copy(DEMO, site.plane)
    site.start()
    yield site
    site.kill()


@pytest.fixture(scope="session")
def planned_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A running app on a folder with the demo plane and its tuned plan, for tests that change nothing."""
    site = Site(folder=tmp_path_factory.mktemp("planned"))
    shutil.copy(DEMO, site.plane)
    command = [sys.executable, "-m", "evenfall", "tune", site.plane.name, "-o", "plane.plan.toml"]
    subprocess.run(command, cwd=site.folder, check=True, stdout=subprocess.DEVNULL)
    site.start()
    yield site
    site.kill()


class Watch:
    """What a page must not do: complain, break or call beyond this machine.

    `expected` holds parts of complaints a test provokes on purpose, as a lost connection is.
    """

    def __init__(self) -> None:
        self.wrong: list[str] = []
        self.expected: list[str] = []

    def on(self, page: Page) -> None:
        """Watch a page."""
        page.on("console", lambda said: said.type == "error" and self._note(f"console: {said.text}"))
        page.on("pageerror", lambda error: self._note(f"page error: {error}"))
        page.on("request", lambda request: self._asked(request.url))
        page.on("websocket", lambda socket: self._asked(socket.url))

    def _asked(self, url: str) -> None:
        if not url.startswith(("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:")):
            self._note(f"request to {url}")

    def _note(self, what: str) -> None:
        self.wrong.append(what)

    def check(self) -> None:
        """Fail where anything was wrong."""
        assert [what for what in self.wrong if not any(part in what for part in self.expected)] == []


@pytest.fixture
def watch() -> Iterator[Watch]:
    """What the test's pages did wrong; looked at when it ends."""
    watch = Watch()
    yield watch
    watch.check()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    """A window of its own memory: nothing kept from another test."""
    context = browser.new_context(viewport={"width": 1440, "height": 900}, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE_MS)
    yield context
    context.close()


@pytest.fixture
def new_page(site: Site, context: BrowserContext, watch: Watch) -> Callable[[], Page]:
    """Makes a further tab of the same window; the app outlives it, so that its end is no error of the page."""

    del site

    def make() -> Page:
        page = context.new_page()
        watch.on(page)
        return page

    return make


@pytest.fixture
def page(new_page: Callable[[], Page]) -> Page:
    """A tab; the test fails on console errors, page errors and requests beyond this machine."""
    return new_page()
