"""A line clicked in a video: frames at their own times, places in pixels, scale, the answer, and nothing sent away.

The film is made by the browser itself, frame by frame at uneven times, and read back here for the times it holds.
"""

from __future__ import annotations

import base64
import json
import math
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

    from conftest import Site

sync_api = pytest.importorskip("playwright.sync_api", reason="needs Playwright")
expect = sync_api.expect

WIDTH, HEIGHT = 640, 360
FILM = """async ([width, height]) => {
  const canvas = Object.assign(document.createElement('canvas'), {width, height})
  const pen = canvas.getContext('2d')
  const stream = canvas.captureStream(0)
  const recorder = new MediaRecorder(stream, {mimeType: 'video/webm;codecs=vp8', videoBitsPerSecond: 2e6})
  const parts = []
  recorder.ondataavailable = (event) => parts.push(event.data)
  const ended = new Promise((resolve) => (recorder.onstop = resolve))
  const draw = (k) => {
    pen.fillStyle = '#9cc4e4'
    pen.fillRect(0, 0, width, height)
    pen.fillStyle = '#111'
    pen.fillRect(width / 2 - 14, 20 + 9 * k, 28, 4)
    stream.getVideoTracks()[0].requestFrame()
  }
  draw(0)
  recorder.start()
  for (let k = 0; k < 28; k++) {
    draw(k)
    await new Promise((resolve) => setTimeout(resolve, k % 3 ? 40 : 65))
  }
  recorder.stop()
  await ended
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer())
  return btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(''))
}"""


@pytest.fixture(scope="module")
def film(browser: Browser) -> Iterator[bytes]:
    """A WebM of a plane that falls."""
    page = browser.new_page()
    yield base64.b64decode(page.evaluate(FILM, [WIDTH, HEIGHT]))
    page.close()


def frame_times(film: bytes) -> list[float]:
    """Times of the frames a WebM holds, s: cluster time and block time, ms (RFC 8794 and RFC 9559)."""
    times, cluster, at = [], 0, 0
    within = (b"\x18\x53\x80\x67", b"\x1f\x43\xb6\x75", b"\xa0")
    while at < len(film) - 2:
        length = 8 - film[at].bit_length() + 1
        key, at = film[at : at + length], at + length
        wide = 8 - film[at].bit_length() + 1
        size = int.from_bytes(film[at : at + wide], "big") & ((1 << 7 * wide) - 1)
        at += wide
        if key in within:
            continue
        body = film[at : at + size]
        if key == b"\xe7":
            cluster = int.from_bytes(body, "big")
        elif key in (b"\xa3", b"\xa1"):
            times.append((cluster + int.from_bytes(body[1:3], "big", signed=True)) / 1000)
        at += size
    first = times[0]
    return [time - first for time in times]


def opened(page: Page, site: Site, film: bytes, name: str = "line.webm") -> Locator:
    """The entry of a video with the film in it."""
    page.goto(f"{site.url.split('#')[0]}#/flights")
    page.get_by_role("button", name="video", exact=True).click()
    entry = page.get_by_role("region", name="Line in a video")
    entry.get_by_label("Choose a video").set_input_files({"name": name, "mimeType": "video/webm", "buffer": film})
    expect(entry.locator("output")).to_have_text(re.compile(r"^0\.000 s of [1-9]"))
    return entry


def now(entry: Locator) -> float:
    """Time of the frame that is shown, once stepping has ended, s."""
    expect(entry.locator(".screen.busy")).to_have_count(0)
    return float((entry.locator("output").text_content() or "").split(" ")[0])


def marked(entry: Locator, x: float, y: float) -> None:
    """A click on a pixel of the frame, shown whole."""
    screen = entry.get_by_role("application")
    box = screen.bounding_box()
    assert box is not None
    scale = min((box["width"] - 2) / WIDTH, (box["height"] - 2) / HEIGHT)
    left, top = (box["width"] - WIDTH * scale) / 2, (box["height"] - HEIGHT * scale) / 2
    screen.click(position={"x": left + x * scale, "y": top + y * scale})


def clicks(page: Page) -> list[dict[str, float]]:
    """Places kept on the device."""
    kept = json.loads(page.evaluate("localStorage.getItem('evenfall.clicks')") or "[]")
    return kept[0][1]["clicks"] if kept else []


def test_every_step_shows_a_frame_at_its_own_time(page: Page, site: Site, film: bytes) -> None:
    truth = frame_times(film)
    assert len(truth) > 20
    gaps = [b - a for a, b in zip(truth, truth[1:], strict=False)]
    assert max(gaps) > 1.3 * sorted(gaps)[len(gaps) // 2], "frames are not evenly spaced"
    entry = opened(page, site, film)
    seen = [now(entry)]
    for _ in range(10):
        entry.get_by_role("button", name="Frame on").click()
        seen.append(now(entry))
    assert seen == sorted(set(seen)), "every step goes on"
    for time in seen:
        assert min(abs(time - there) for there in truth) < 0.0015, f"{time} is no frame of {truth}"
    places = [min(range(len(truth)), key=lambda k: abs(truth[k] - time)) for time in seen]
    passed = sum(b - a - 1 for a, b in zip(places, places[1:], strict=False))
    assert passed <= 1, f"frames passed over: steps went to {places}"
    entry.get_by_role("button", name="Frame back").click()
    back = now(entry)
    assert back < seen[-1]
    assert min(abs(back - there) for there in truth) < 0.0015
    page.get_by_role("application").press(",")
    assert now(entry) < back


def test_clicks_come_to_a_slope_and_a_speed(page: Page, site: Site, film: bytes) -> None:
    posted: list[str] = []
    page.on("request", lambda request: request.method == "POST" and posted.append(request.url))
    entry = opened(page, site, film)
    entry.get_by_label("After a mark").select_option("0")
    pixels, away = 200.0, 60.0
    places = []
    for _ in range(7):
        time = now(entry)
        marked(entry, 300, 40 + pixels * time)
        places.append((time, 40 + pixels * time))
        entry.get_by_role("button", name="Frame on").click()
    now(entry)
    found = clicks(page)
    assert [click["t_s"] for click in found] == pytest.approx([time for time, _ in places], abs=0.0006)
    assert [click["y_px"] for click in found] == pytest.approx([y for _, y in places], abs=1.5)
    assert [click["x_px"] for click in found] == pytest.approx([300] * 7, abs=1.5)
    status = entry.get_by_text(re.compile("^Still missing"))
    expect(status).to_contain_text("the distance to the line; the field of view; the horizon")
    entry.get_by_label(re.compile("^Distance to the line")).fill(f"{away:g}")
    entry.get_by_label(re.compile("^Field of view")).fill("60")
    entry.get_by_label(re.compile("^Horizon from the top")).fill(f"{HEIGHT / 2:g}")
    metres = away / (WIDTH / 2 / math.tan(math.radians(30)))
    said = entry.get_by_text(re.compile(r"^Slope"))
    expect(said).to_be_visible(timeout=60_000)
    numbers = re.search(r"Slope −(\d+\.\d).*; (\d+\.\d) m/s at the first place", said.text_content() or "")
    assert numbers is not None, said.text_content()
    assert float(numbers[1]) == pytest.approx(90, abs=4)
    assert float(numbers[2]) == pytest.approx(pixels * metres, rel=0.1)
    entry.get_by_role("button", name="Add the line to the flight").click()
    expect(page.get_by_text(re.compile(r"line\.webm, 7 places clicked"))).to_be_visible()
    assert posted == [], "the video stays with the pilot"
    assert clicks(page) == []
    page.get_by_role("button", name="Save this flight").click()
    expect(page.get_by_text("1 line from video").first).to_be_visible(timeout=60_000)


def test_marks_by_key_moved_and_taken_back(page: Page, site: Site, film: bytes) -> None:
    entry = opened(page, site, film)
    entry.get_by_label("After a mark").select_option("0")
    screen = entry.get_by_role("application")
    screen.press("Enter")
    assert [(click["x_px"], click["y_px"]) for click in clicks(page)] == [(WIDTH / 2, HEIGHT / 2)]
    screen.press("ArrowRight")
    screen.press("Shift+ArrowUp")
    entry.get_by_role("button", name="Crosshair down, one pixel").click()
    expect(entry.get_by_text("1 place of the plane marked, one in this frame.")).to_be_visible()
    assert [(click["x_px"], click["y_px"]) for click in clicks(page)] == [(WIDTH / 2 + 1, HEIGHT / 2 - 9)]
    screen.press(".")
    second = now(entry)
    marked(entry, 100, 100)
    assert [click["t_s"] for click in clicks(page)] == pytest.approx([0, second], abs=0.0006)
    marked(entry, 110, 120)
    assert len(clicks(page)) == 2, "a frame has one place"
    screen.press("Backspace")
    screen.press("Backspace")
    expect(entry.get_by_text(re.compile(r"\b1 place of the plane marked"))).to_be_visible()
    entry.get_by_role("button", name="Undo the mark").click()
    expect(entry.get_by_text(re.compile(r"\b0 places"))).to_be_visible()
    expect(entry.get_by_role("button", name="Undo the mark")).to_be_disabled()


def test_magnified_a_click_still_finds_its_pixel(page: Page, site: Site, film: bytes) -> None:
    entry = opened(page, site, film)
    entry.get_by_label("After a mark").select_option("0")
    marked(entry, 400, 100)
    entry.get_by_label("Magnify").select_option("4")
    screen = entry.get_by_role("application")
    box = screen.bounding_box()
    assert box is not None
    middle = {"x": box["width"] / 2 + 40, "y": box["height"] / 2 - 20}
    screen.click(position=middle)
    scale = 4 * (box["width"] - 2) / WIDTH
    (click,) = clicks(page)
    assert click["x_px"] == pytest.approx(400 + 40 / scale, abs=0.8)
    assert click["y_px"] == pytest.approx(100 - 20 / scale, abs=0.8)


def test_clicks_are_there_again_after_a_reload(page: Page, site: Site, film: bytes) -> None:
    entry = opened(page, site, film)
    marked(entry, 200, 50)
    now(entry)
    marked(entry, 200, 60)
    now(entry)
    entry.get_by_label(re.compile("^Distance to the line")).fill("75")
    page.reload()
    entry = opened(page, site, film)
    expect(entry.get_by_text(re.compile(r"\b2 places of the plane marked"))).to_be_visible()
    expect(entry.get_by_label(re.compile("^Distance to the line"))).to_have_value("75")
    other: dict[str, Any] = {"name": "other.webm", "mimeType": "video/webm", "buffer": film}
    entry.get_by_label("Choose a video").set_input_files(other)
    expect(entry.get_by_text(re.compile(r"\b0 places"))).to_be_visible()


def test_scale_by_span_and_markers(page: Page, site: Site, film: bytes) -> None:
    entry = opened(page, site, film)
    entry.get_by_role("radio", name="a wing span on the line").check()
    entry.get_by_role("button", name=re.compile(r"As in the plane file: 1\.\d{3} m")).click()
    expect(entry.get_by_label(re.compile("^Span"))).to_have_value(re.compile(r"^1\.\d+$"))
    entry.get_by_role("radio", name="one wing tip").check()
    marked(entry, 300, 100)
    expect(entry.get_by_role("radio", name="other wing tip")).to_be_checked()
    marked(entry, 326, 100)
    expect(entry.get_by_role("radio", name="the plane", exact=True)).to_be_checked()
    expect(entry.get_by_text("Both are marked.")).to_be_visible()
    entry.get_by_role("radio", name="two markers on the ground").check()
    expect(entry.get_by_text(re.compile(r"\b0 of 2 marked"))).to_be_visible()
    entry.get_by_role("radio", name="the horizon", exact=True).check()
    marked(entry, 320, 310)
    horizon = entry.get_by_label(re.compile("^Horizon from the top"))
    expect(horizon).to_have_value(re.compile("^3(09|10|11)$"))
    entry.get_by_role("radio", name="how far the camera looks up").check()
    expect(entry.get_by_label(re.compile("^Camera looks up"))).to_be_visible()
    expect(entry.get_by_role("radio", name="the horizon", exact=True)).to_have_count(0)


def test_a_browser_that_does_not_tell_frame_times_says_so(page: Page, site: Site, film: bytes) -> None:
    page.add_init_script("delete HTMLVideoElement.prototype.requestVideoFrameCallback")
    entry = opened(page, site, film)
    expect(entry.get_by_text(re.compile("does not tell when a frame was taken"))).to_be_visible()
    entry.get_by_label(re.compile(r"^\s*Frames")).select_option(label="25 a second")
    for step in (1, 2):
        entry.get_by_role("button", name="Frame on").click()
        assert now(entry) == pytest.approx(0.04 * step, abs=0.0006)


def test_what_is_no_video_is_said(page: Page, site: Site) -> None:
    page.goto(f"{site.url}#/flights")
    page.get_by_role("button", name="video", exact=True).click()
    entry = page.get_by_role("region", name="Line in a video")
    nothing: dict[str, Any] = {"name": "a.mp4", "mimeType": "video/mp4", "buffer": b"nothing of a video" * 20}
    entry.get_by_label("Choose a video").set_input_files(nothing)
    expect(entry.get_by_role("alert")).to_contain_text("cannot play this file")
