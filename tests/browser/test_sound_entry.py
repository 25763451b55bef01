"""The propeller's note entered in the page: heard, shown, a part chosen, refused where it is noise; a film's sound."""

from __future__ import annotations

import base64
import json
import re
import wave
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

    from conftest import Site, Watch

sync_api = pytest.importorskip("playwright.sync_api", reason="needs Playwright")
expect = sync_api.expect

SLOW_MS = 60_000
RATE = 16_000
RPM = 5400.0
BLADES = 2
FILM = """async ([hertz, seconds]) => {
  const context = new AudioContext()
  await context.resume()
  const note = new OscillatorNode(context, {type: 'sawtooth', frequency: hertz})
  const out = context.createMediaStreamDestination()
  note.connect(out)
  const canvas = document.createElement('canvas')
  const pen = canvas.getContext('2d')
  const stream = new MediaStream([...out.stream.getTracks(), ...canvas.captureStream(10).getTracks()])
  const recorder = new MediaRecorder(stream, {mimeType: 'video/webm;codecs=vp8,opus'})
  const parts = []
  recorder.ondataavailable = (event) => parts.push(event.data)
  const ended = new Promise((resolve) => (recorder.onstop = resolve))
  const timer = setInterval(() => pen.fillRect(0, 0, Math.random() * 300, 100), 50)
  note.start()
  recorder.start()
  await new Promise((resolve) => setTimeout(resolve, 1000 * seconds))
  recorder.stop()
  await ended
  clearInterval(timer)
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer())
  return btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(''))
}"""


def sound(path: Path, *, seconds: float = 3.0, loud: float = 1.0, silent: float = 0.0) -> Path:
    """A note of the propeller in noise, nothing but noise for the first `silent` seconds."""
    chance = np.random.default_rng(5)
    time = np.arange(int(seconds * RATE)) / RATE
    turned = 2 * np.pi * RPM / 60 * time
    note = np.asarray(sum(0.7**k * np.sin(BLADES * (k + 1) * turned) for k in range(6)))
    heard = loud * note / note.std() * (time >= silent) + chance.normal(size=len(time))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes((0.9 * heard / np.abs(heard).max() * 32767).astype("<i2").tobytes())
    return path


def opened(page: Page, site: Site) -> Locator:
    """The entry of a sound."""
    page.goto(f"{site.url.split('#')[0]}#/flights")
    page.get_by_role("button", name="sound", exact=True).click()
    return page.get_by_role("region", name="Sound of the propeller")


def chosen(entry: Locator, file: Path | dict[str, Any]) -> None:
    """A file chosen and heard."""
    entry.get_by_label("Choose a sound").set_input_files(file)  # type: ignore[arg-type]
    entry.get_by_role("group", name=re.compile("^Loudness over")).wait_for(timeout=SLOW_MS)


def rpm(entry: Locator) -> float:
    """Shaft speed that was heard."""
    said = entry.get_by_text(re.compile(r"rpm as heard"))
    expect(said).to_be_visible(timeout=SLOW_MS)
    found = re.search(r"(\d+) ± \d+ rpm", said.text_content() or "")
    assert found is not None, said.text_content()
    return float(found.group(1))


def test_a_note_is_heard_its_part_chosen_and_added(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    expect(entry.get_by_text(re.compile("^Never run an unguarded propeller"))).to_be_visible()
    chosen(entry, sound(tmp_path / "down.wav", silent=1.0))
    assert rpm(entry) == pytest.approx(RPM, rel=0.02)
    expect(entry.get_by_text("blade note as heard")).to_be_visible()
    start = entry.get_by_role("slider", name="Start of the part")
    start.focus()
    start.press("PageUp")
    start.press("ArrowRight")
    expect(start).to_have_attribute("aria-valuetext", "1.1 s")
    expect(entry.get_by_role("textbox", name="Start of the part")).to_have_value("1.1")
    entry.get_by_role("textbox", name="End of the part").fill("2.6")
    expect(entry.get_by_role("slider", name="End of the part")).to_have_attribute("aria-valuetext", "2.6 s")
    add = entry.get_by_role("button", name="Add the sound to the flight")
    expect(add).to_be_enabled(timeout=SLOW_MS)
    assert rpm(entry) == pytest.approx(RPM, rel=0.02)
    add.click()
    expect(page.get_by_text(re.compile(r"down-[0-9a-f]{8}\.wav, line, 1\.1 to 2\.6 s"))).to_be_visible()
    kept = json.loads(page.evaluate("JSON.stringify({...localStorage})"))
    assert any('"to_s":2.6' in text and '"what":"line"' in text for text in kept.values())
    page.get_by_role("button", name="Save this flight").click()
    expect(page.get_by_text("1 sound", exact=True).first).to_be_visible(timeout=SLOW_MS)


def test_loud_notes_are_drawn_where_they_are(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    chosen(entry, sound(tmp_path / "a.wav", loud=3.0))
    expect(entry.get_by_text("blade note as heard")).to_be_visible(timeout=SLOW_MS)
    # Darkest rows of the picture in the light scheme, as shares of its height from below.
    rows, top = entry.locator("canvas").evaluate(
        """(canvas) => {
          const {data, width, height} = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height)
          const dark = Array.from({length: height}, (_, row) => {
            let sum = 0
            for (let x = 0; x < width; x++) sum += 255 - data[4 * (row * width + x)]
            return sum / width
          })
          const order = dark.map((value, row) => [value, row]).sort((a, b) => b[0] - a[0])
          return [order.slice(0, 3).map(([, row]) => row), height]
        }"""
    )
    words = entry.get_by_role("group", name=re.compile("^Loudness")).get_attribute("aria-label") or ""
    highest = float(re.findall(r"up to (\d+) Hz", words)[0])
    blade = RPM / 60 * BLADES
    for row in rows:
        hertz = (top - 1 - row) / (top - 1) * highest
        assert abs(hertz / blade - round(hertz / blade)) < 0.2, f"{hertz:.0f} Hz is no multiple of {blade:.0f} Hz"


def test_noise_is_refused_in_words(page: Page, site: Site, watch: Watch, tmp_path: Path) -> None:
    watch.expected.append("422")
    entry = opened(page, site)
    chosen(entry, sound(tmp_path / "noise.wav", loud=0.01))
    expect(entry.get_by_text(re.compile("Nothing heard"))).to_be_visible(timeout=SLOW_MS)
    expect(entry.get_by_role("button", name="Add the sound to the flight")).to_be_disabled()
    table = tmp_path / "table.wav"
    table.write_text("time,height\n0,1\n1,2\n2,3\n", encoding="utf-8")
    entry.get_by_label("Choose a sound").set_input_files(table)
    expect(entry.get_by_role("alert")).to_be_visible()
    expect(entry.get_by_role("button", name="Add the sound to the flight")).to_have_count(0)


def test_of_a_long_sound_a_part_is_asked_for(page: Page, site: Site, tmp_path: Path) -> None:
    rate, path = 8000, tmp_path / "afternoon.wav"
    chance = np.random.default_rng(1)
    heard = 0.1 * chance.normal(size=310 * rate)
    time = np.arange(4 * rate) / rate
    note = sum(0.7**k * np.sin(BLADES * (k + 1) * 2 * np.pi * RPM / 60 * time) for k in range(6))
    heard[100 * rate : 104 * rate] += note
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, rate, 0, "NONE", ""))
        file.writeframes((0.9 * heard / np.abs(heard).max() * 32767).astype("<i2").tobytes())
    entry = opened(page, site)
    entry.get_by_label("Choose a sound").set_input_files(path)
    expect(entry.get_by_role("alert")).to_contain_text("Choose the part", timeout=SLOW_MS)
    entry.get_by_role("textbox", name="Start of the part").fill("100")
    entry.get_by_role("textbox", name="End of the part").fill("104")
    assert rpm(entry) == pytest.approx(RPM, rel=0.02)
    expect(entry.get_by_role("alert")).to_have_count(0)
    expect(entry.get_by_role("slider", name="End of the part")).to_have_attribute("aria-valuetext", "104.0 s")


def test_a_spin_down_asks_for_a_guarded_disc(page: Page, site: Site, tmp_path: Path) -> None:
    entry = opened(page, site)
    entry.get_by_role("radio", name=re.compile("^a spin-down")).check()
    expect(entry.get_by_label(re.compile("^Inertia of the disc"))).to_have_count(0)
    entry.get_by_role("radio", name="a guarded disc on the bench").check()
    expect(entry.get_by_label(re.compile("^Inertia of the disc"))).to_be_visible()
    expect(entry.get_by_text(re.compile("Behind a guard, nobody in its plane"))).to_be_visible()
    chance = np.random.default_rng(2)
    time = np.arange(int(0.9 * RATE)) / RATE
    turned = np.cumsum(900 * np.exp(-2.0 * time)) / RATE
    note = np.asarray(sum(0.7**k * np.sin((k + 1) * turned) for k in range(8)))
    heard = note / note.std() + 0.5 * chance.normal(size=len(time))
    path = tmp_path / "spin.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes((0.9 * heard / np.abs(heard).max() * 32767).astype("<i2").tobytes())
    entry.get_by_label(re.compile("^Inertia of the disc")).fill("200")
    chosen(entry, path)
    expect(entry.get_by_text(re.compile(r"mN m at \d+ rpm"))).to_be_visible(timeout=SLOW_MS)
    found = re.search(r"([\d.]+) ± [\d.]+ mN m at (\d+) rpm", entry.inner_text())
    assert found is not None
    torque, turning = float(found[1]) / 1e3, float(found[2]) * np.pi / 30
    assert torque == pytest.approx(200e-7 * 2.0 * turning, rel=0.1)


def test_the_sound_of_a_film_is_taken_out_here(browser: Browser, page: Page, site: Site) -> None:
    making = browser.new_page()
    making.set_content("<button>Make</button>")
    making.get_by_role("button").click()
    film = base64.b64decode(making.evaluate(FILM, [RPM / 60 * BLADES, 3]))
    making.close()
    entry = opened(page, site)
    chosen(entry, {"name": "evening.webm", "mimeType": "video/webm", "buffer": film})
    assert rpm(entry) == pytest.approx(RPM, rel=0.02)
    expect(entry.get_by_text(re.compile(r"^evening-[0-9a-f]{8}\.wav$"))).to_be_visible()
    kept = [path for path in (site.folder / ".evenfall" / "incoming").iterdir() if path.is_file()]
    assert [path.read_bytes()[:4] for path in kept] == [b"RIFF"], "the film itself is not sent"
