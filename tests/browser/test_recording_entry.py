"""A recorded flight entered in the page: columns, lines found, trimmed by hand and by key, confirmed and added."""

from __future__ import annotations

import json
import math
import random
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

    from conftest import Site, Watch

sync_api = pytest.importorskip("playwright.sync_api", reason="needs Playwright")
expect = sync_api.expect

SLOW_MS = 60_000
LEVEL_S, DOWN_S = 6.0, 5.0
"""Times of a level stretch and of the line down after it, s."""
HEAD = "time (s),east (m),north (m),alt (m),throttle (%)"


def descent(path: Path, *, head: str = HEAD, comma: bool = False) -> Path:
    """Level at 20 m/s, straight down settling from 20 to 24 m/s with the throttle closed, level: 10 places a second."""
    chance = random.Random(3)
    rows, x, z, speed = [head], 0.0, 150.0, 20.0
    for k in range(int(10 * (2 * LEVEL_S + DOWN_S))):
        t = k / 10
        down = LEVEL_S <= t < LEVEL_S + DOWN_S
        speed = 24 - 4 * math.exp(-(t - LEVEL_S)) if down else 20.0
        x, z = (x, z - speed / 10) if down else (x + speed / 10, z)
        east, north, up = (value + chance.gauss(0, 0.2) for value in (x, 0.0, z))
        row = f"{t:.1f},{east:.2f},{north:.2f},{up:.2f},{0 if down else 60}"
        rows.append(row.replace(",", ";").replace(".", ",") if comma else row)
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def opened(page: Page, site: Site) -> Locator:
    """The entry of a recorded flight."""
    page.goto(f"{site.url.split('#')[0]}#/flights")
    page.get_by_role("button", name="recorded flight", exact=True).click()
    return page.get_by_role("region", name="Recorded flight")


def chosen(entry: Locator, path: Path) -> None:
    """A file chosen and read."""
    entry.get_by_label(re.compile("^Choose a recording")).set_input_files(path)
    entry.get_by_role("heading", name="Straight lines").wait_for(timeout=SLOW_MS)


def down(entry: Locator) -> Locator:
    """The row of the line down."""
    return entry.get_by_role("listitem").filter(has_text="vertical down").first


def metres(row: Locator) -> float:
    """Length a row tells, m."""
    found = re.search(r"; (\d+)\s?m long", row.inner_text())
    assert found is not None, row.inner_text()
    return float(found.group(1))


def drafted(page: Page) -> list[dict[str, Any]]:
    """Recordings of the draft that is kept on the device."""
    kept = page.evaluate("JSON.stringify({...localStorage})")
    texts = [text for text in json.loads(kept).values() if '"recorded"' in text]
    assert texts, "the draft holds it"
    found: list[dict[str, Any]] = []

    def look(value: Any) -> None:
        if isinstance(value, dict):
            found.extend(value["recorded"] if isinstance(value.get("recorded"), list) else [])
            for inner in value.values():
                look(inner)

    look(json.loads(texts[0]))
    return found


def test_lines_are_found_confirmed_and_added(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    chosen(entry, descent(tmp_path / "evening.csv"))
    expect(entry.get_by_text(re.compile("^Columns: time, x, y, height, throttle"))).to_be_visible()
    expect(
        entry.get_by_role("img", name=re.compile(r"Height over time, 17 s, [1-3] straight lines? marked"))
    ).to_be_visible()
    row = down(entry)
    expect(row).to_contain_text(re.compile(r"slope −(8[5-9]|90)\.\d ± \d\.\d"))
    expect(row).to_contain_text("throttle closed")
    add = entry.get_by_role("button", name=re.compile("^Add"))
    expect(add).to_be_disabled()
    row.get_by_role("checkbox").check()
    expect(add).to_have_text("Add 1 line to the flight")
    add.click()
    expect(page.get_by_text(re.compile(r"evening-[0-9a-f]{8}\.csv, 1 line"))).to_be_visible()
    (part,) = drafted(page)
    (line,) = part["line"]
    assert (line["line"], line["crow"], line["inverted"], line["stick_percent"]) == ("vertical down", True, False, None)
    assert LEVEL_S - 0.7 < line["from_s"] < line["to_s"] < LEVEL_S + DOWN_S + 0.7


def test_a_confirmed_line_teaches_what_it_showed(page: Page, site: Site, planned_site: Site, tmp_path: Path) -> None:
    shutil.copy(planned_site.folder / "plane.plan.toml", site.folder / "plane.plan.toml")
    entry = opened(page, site)
    chosen(entry, descent(tmp_path / "evening.csv"))
    down(entry).get_by_role("checkbox").check()
    entry.get_by_role("button", name="Add 1 line to the flight").click()
    page.get_by_role("button", name="Save this flight").click()
    expect(page.get_by_text("One flight of Demo biplane 1.24 m", exact=False).first).to_be_visible(timeout=SLOW_MS)
    said = page.locator("main").inner_text()
    number = r"\s+([\d.]+)\s±\s([\d.]+)\sm/s"
    now = re.search(rf"vertical down, stick closed\s+before{number}\s+now{number}", said)
    assert now is not None, said[:800]
    # The line settles at 24 m/s; five seconds of it and the plane file's own belief leave it a little below.
    assert float(now[3]) == pytest.approx(24, abs=max(1.2, 2 * float(now[4])))
    expect(page.get_by_text(re.compile(r"evening-[0-9a-f]{8}\.csv, vertical down")).first).to_be_visible()


def test_a_line_is_trimmed_by_key_by_number_and_by_hand(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    chosen(entry, descent(tmp_path / "a.csv"))
    row = down(entry)
    whole = metres(row)
    row.get_by_role("button", name=re.compile("Trim")).click()
    start = row.get_by_role("slider", name=re.compile("^Start of line"))
    before = float(start.get_attribute("aria-valuenow") or "nan")
    start.focus()
    start.press("PageUp")
    start.press("ArrowLeft")
    expect(start).to_have_attribute("aria-valuenow", f"{before + 0.9:.1f}".removesuffix(".0"))
    expect(row).to_contain_text(f"{before + 0.9:.1f} to ")

    end = row.get_by_role("textbox", name=re.compile("^End of line"))
    end.fill("9.5")
    expect(row.get_by_role("slider", name=re.compile("^End of line"))).to_have_attribute("aria-valuenow", "9.5")
    expected = (9.5 - before - 0.9) * 22
    expect(row).not_to_contain_text(f"; {whole:.0f}\u202fm long")
    assert metres(row) == pytest.approx(expected, abs=4)
    end.fill("2")
    expect(row.get_by_role("slider", name=re.compile("^End of line"))).to_have_attribute("aria-valuenow", "9.5")

    box = start.bounding_box()
    assert box is not None
    y = box["y"] + box["height"] / 2
    start.hover()
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2 + 30, y, steps=5)
    page.mouse.up()
    moved = float(start.get_attribute("aria-valuenow") or "nan")
    assert moved > before + 0.9
    expect(row.get_by_role("textbox", name=re.compile("^Start of line"))).to_have_value(f"{moved:.1f}")


def test_columns_are_said_by_hand_and_remembered(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    first = descent(tmp_path / "first.csv", head="a;b;c;d;e", comma=True)
    entry.get_by_label(re.compile("^Choose a recording")).set_input_files(first)
    expect(entry.get_by_text(re.compile("no column is the time"))).to_be_visible(timeout=SLOW_MS)
    for column, what in zip("abcde", ("time", "x", "y", "height", "throttle"), strict=True):
        entry.get_by_label(f"{column} holds").select_option(what)
        expect(entry.get_by_text(re.compile(f"^Columns: .*{what}.*changed by hand"))).to_be_visible()
    expect(down(entry)).to_be_visible(timeout=SLOW_MS)
    entry.get_by_label("Unit of d").select_option("ft")
    expect(entry.get_by_text("vertical down")).to_have_count(1)
    expect(down(entry)).to_contain_text(re.compile(r"; (2\d|3\d)\s?m long"))

    second = descent(tmp_path / "second.csv", head="a;b;c;d;e", comma=True)
    second.write_text(second.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    chosen(entry, second)
    expect(entry.get_by_text(re.compile("^Columns: time, x, y, height, throttle; changed by hand"))).to_be_visible()
    expect(down(entry)).to_contain_text(re.compile(r"; (2\d|3\d)\s?m long"))
    entry.get_by_role("button", name="As recognised").click()
    expect(entry.get_by_text(re.compile("no column is the time"))).to_be_visible()


def test_what_was_trimmed_is_there_again_after_a_reload(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    chosen(entry, descent(tmp_path / "left.csv"))
    row = down(entry)
    row.get_by_role("checkbox").check()
    row.get_by_role("button", name=re.compile("Trim")).click()
    row.get_by_role("textbox", name=re.compile("^End of line")).fill("9.3")
    row.get_by_role("radio", name="inverted").check()
    expect(row).to_contain_text("Flown: vertical down, inverted, crow.")
    page.reload()
    entry = opened(page, site)
    entry.get_by_role("button", name=re.compile(r"^Go on with left-[0-9a-f]{8}\.csv")).click()
    expect(down(entry).get_by_role("checkbox")).to_be_checked(timeout=SLOW_MS)
    expect(down(entry)).to_contain_text("to 9.3")
    expect(down(entry)).to_contain_text("Flown: vertical down, inverted, crow.")
    entry.get_by_role("button", name="Add 1 line to the flight").click()
    page.get_by_role("button", name="recorded flight", exact=True).click()
    expect(entry.get_by_role("button", name=re.compile("^Go on with"))).to_have_count(0)


def test_what_is_under_the_hand_stays_when_the_folder_moves(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    chosen(entry, descent(tmp_path / "a.csv"))
    down(entry).get_by_role("checkbox").check()
    text = site.plane.read_text(encoding="utf-8")
    site.plane.write_text(text.replace('name = "Demo biplane', 'name = "Other biplane'), encoding="utf-8")
    expect(page.get_by_role("region", name="Plane and plan").get_by_text("Other biplane").first).to_be_visible()
    expect(down(entry).get_by_role("checkbox")).to_be_checked()


def test_what_is_no_recording_is_refused_in_words(page: Page, site: Site, watch: Watch, tmp_path: Path) -> None:
    watch.expected.append("422")
    entry = opened(page, site)
    picture = tmp_path / "picture.csv"
    picture.write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(500))
    entry.get_by_label("Choose a recording").set_input_files(picture)
    expect(entry.get_by_role("alert")).to_contain_text("neither a record of a flight")
    chosen(entry, descent(tmp_path / "a.csv"))
    expect(entry.get_by_role("alert")).to_have_count(0)


def test_a_line_that_was_not_found_is_marked_and_its_stick_asked_for(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    rows = descent(tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()
    without = tmp_path / "b.csv"
    without.write_text("\n".join(row.rsplit(",", 1)[0] for row in rows) + "\n", encoding="utf-8")
    chosen(entry, without)
    before = entry.get_by_role("listitem").count()
    entry.get_by_role("button", name="Mark a line myself").click()
    expect(entry.get_by_role("listitem")).to_have_count(before + 1)
    row = entry.get_by_role("listitem").last
    row.get_by_role("textbox", name=re.compile("^Start of line")).fill("1")
    row.get_by_role("textbox", name=re.compile("^End of line")).fill("4")
    expect(row).to_contain_text(re.compile(r"level.*1.0 to 4.0"))
    row.get_by_role("radio", name="level", exact=True).check()
    row.get_by_role("checkbox", name=re.compile("learn from it")).check()
    add = entry.get_by_role("button", name=re.compile("^Add"))
    expect(row).to_contain_text("the stick decides")
    expect(add).to_be_disabled()
    row.get_by_role("radio", name="at a stick position").check()
    row.get_by_role("textbox", name="Throttle stick").fill("55")
    expect(add).to_be_enabled()


def test_both_handles_stay_on_a_phone(site: Site, new_page: Callable[[], Page], tmp_path: Path) -> None:
    page = new_page()
    page.set_viewport_size({"width": 390, "height": 844})
    entry = opened(page, site)
    chosen(entry, descent(tmp_path / "a.csv"))
    down(entry).get_by_role("button", name=re.compile("Trim")).click()
    for name in ("Start", "End"):
        box = entry.get_by_role("slider", name=re.compile(f"^{name} of line")).bounding_box()
        assert box is not None
        assert box["x"] >= -1
        assert box["x"] + box["width"] <= 391
