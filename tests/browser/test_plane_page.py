"""The plane page in a browser: what a pilot does with it, against a running app."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

pytest.importorskip("playwright.sync_api", reason="needs the browser extra")
from playwright.sync_api import Page, expect  # noqa: E402

if TYPE_CHECKING:
    from .conftest import Site


def test_opens(site: Site, page: Page) -> None:
    page.goto(site.url)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Demo biplane")
    expect(page.get_by_role("img", name=re.compile("Three-view of Demo biplane.*span 1240"))).to_be_visible()
