"""Pages of recordings, sounds and clicked videos: sizes, what is said, what is refused."""

from __future__ import annotations

import base64
import math
import random
import re
import wave
from pathlib import Path

import numpy as np
import pytest

from evenfall.errors import EvenfallError, FileFaults, InputError
from evenfall.sheet.flight_form import ClickedPart
from evenfall.sheet.log_make import PICTURE, POINTS, clicked_page, log_page, sound_page
from evenfall.sheet.log_page import LogPage, SoundPage
from evenfall.workflow.showing import cut_anew, show_clicked, show_log, show_sound

SPEED = 20.0
RATE = 16000


def flight(path: Path, *, repeat: int = 1, header: str = "t (s);x;y;height (m);throttle (%)") -> Path:
    """Level legs there and back with a vertical line down from 200 m between them, 10 Hz, decimal commas."""
    rows, t, x, z = [header], 0.0, 0.0, 200.0
    for _ in range(repeat):
        for slope, seconds in ((0.0, 5.0), (-90.0, 5.0), (0.0, 5.0), (90.0, 5.0)):
            for _ in range(int(seconds * 10)):
                stick = 0 if slope < 0 else 60
                rows.append(f"{t:.1f};{x:.2f};0,0;{z:.2f};{stick}".replace(".", ","))
                x += 0.1 * SPEED * math.cos(math.radians(slope))
                z += 0.1 * SPEED * math.sin(math.radians(slope))
                t += 0.1
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def page_of(path: Path, *, cuts: tuple[tuple[float, float], ...] = (), **columns: str) -> LogPage:
    answer = show_log(path, name=path.name, columns={key.replace("_", " "): what for key, what in columns.items()})
    return log_page(cut_anew(answer, cuts) if cuts else answer, file="kept.csv")


def test_a_recording_with_its_line_down(tmp_path: Path) -> None:
    page = page_of(flight(tmp_path / "a.csv"))
    assert (page.kind, page.file) == ("csv", "kept.csv")
    assert page.delimiter == "semicolon, numbers with a decimal comma"
    assert [(c.holds, c.unit) for c in page.columns] == [
        ("time", "s"), ("x", "m"), ("y", "m"), ("height", "m"), ("throttle", "%"),
    ]  # fmt: skip
    assert page.height_m[0] == 0
    down = next(line for line in page.lines if line.line == "vertical down")
    assert down.slope_deg == pytest.approx(-90, abs=3)
    assert down.speed_to_m_s == pytest.approx(SPEED, rel=0.05)
    assert down.closed_s is not None
    assert page.wind.startswith("Wind not found")


def test_ends_as_trimmed_and_ends_that_hold_nothing(tmp_path: Path) -> None:
    path = flight(tmp_path / "a.csv")
    page = page_of(path, cuts=((6.0, 9.0), (9.0, 9.1)))
    assert [(line.from_s, line.to_s, line.line) for line in page.lines] == [(6.0, 9.0, "vertical down")]
    assert any("from 9.0 to 9.1 s holds" in note for note in page.notes)


def test_columns_as_the_pilot_names_them(tmp_path: Path) -> None:
    path = flight(tmp_path / "a.csv", header="t (s);x;y;who;throttle (%)")
    assert any("the height is not in the record" in note for note in page_of(path).notes)
    page = page_of(path, who="height ft")
    assert "height ft" in page.choices
    assert (page.columns[3].holds, page.columns[3].unit) == ("height", "ft")
    down = next(line for line in page.lines if line.line == "vertical down")
    assert down.length_m < 35


def test_columns_that_tell_nothing_yet_are_shown_to_choose(tmp_path: Path) -> None:
    path = flight(tmp_path / "a.csv", header="a;b;c;d;e")
    page = page_of(path)
    assert [column.name for column in page.columns] == ["a", "b", "c", "d", "e"]
    assert any("no column is the time" in note for note in page.notes)
    assert (page.time_s, page.lines) == ((), ())
    page = page_of(path, a="time s", b="x", c="y", d="height m", e="throttle")
    assert "vertical down" in {line.line for line in page.lines}
    assert page_of(path, b="time iso").lines == (), "no time stamps are in that column: said, and it can be changed"
    with pytest.raises(InputError, match="no such column"):
        page_of(path, z="time s")


def test_heights_alone_tell_of_vertical_lines(tmp_path: Path) -> None:
    path = flight(tmp_path / "a.csv", header="t (s);a;b;height (m);throttle (%)")
    page = page_of(path)
    assert [line.line for line in page.lines] == ["vertical down", "vertical up"]
    assert all("say which line it was" in line.doubts[0] for line in page.lines)
    (again,) = page_of(path, cuts=((6.0, 9.0),)).lines
    assert again.length_m == pytest.approx(3 * SPEED, rel=0.05)
    assert again.slope_sigma_deg == pytest.approx(30)


def test_a_long_recording_is_thinned_but_keeps_its_heights(tmp_path: Path) -> None:
    page = page_of(flight(tmp_path / "a.csv", repeat=60))
    assert 1000 < len(page.time_s) <= POINTS
    assert list(page.time_s) == sorted(page.time_s)
    heights = [height for height in page.height_m if height is not None]
    assert (max(heights), min(heights)) == (0.0, pytest.approx(-100, abs=0.1))
    assert len(page.model_dump_json()) < 250_000
    for values in (page.east_m, page.speed_m_s, page.throttle_percent, page.shaft_rpm):
        assert len(values) == len(page.time_s)
    assert set(page.shaft_rpm) == {None}

    whole = np.array(page.time_s)
    line = page.lines[len(page.lines) // 2]
    alone = np.array(page_of(tmp_path / "a.csv", cuts=((line.from_s, line.to_s),)).time_s)
    for times, most in ((whole, 2.5), (alone, 0.11)):
        within = times[(times > line.from_s - 3) & (times < line.to_s + 3)]
        assert np.diff(within).max() < most, "a line shown by itself shows every place of it"
    assert len(alone) <= POINTS


# --- sound


def wav(path: Path, turned: np.ndarray, *, marks: int, seed: int = 0) -> Path:
    rng = np.random.default_rng(seed)
    note = np.asarray(sum(0.7**h * np.sin(marks * (h + 1) * turned) for h in range(8)))
    sound = note / note.std() + rng.normal(size=len(note))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes((0.9 * sound / np.abs(sound).max() * 32767).astype("<i2").tobytes())
    return path


def test_a_steady_note(tmp_path: Path) -> None:
    path = wav(tmp_path / "a.wav", np.arange(4 * RATE) / RATE * 5000 * math.pi / 30, marks=2)
    page = sound_page(show_sound(path, name="a.wav", what="line", blades=2, speed=20.0), file="a.wav")
    assert page.heard
    assert page.shaft_rpm == pytest.approx(5000, rel=0.01)
    assert page.shaft_rpm_sigma is not None
    assert page.shaft_rpm_sigma > 100
    found = re.search(r"(\d+) \+- (\d+) rpm as heard", page.words)
    assert found is not None
    assert [int(number) % 10 for number in found.groups()] == [0, 0]
    body = base64.b64decode(page.level)
    assert len(body) == len(page.time_s) * len(page.frequency_hz)
    assert len(page.time_s) <= PICTURE[0]
    assert len(page.frequency_hz) <= PICTURE[1]
    rows = np.frombuffer(body, np.uint8).reshape(len(page.frequency_hz), -1)
    assert page.frequency_hz[int(rows.mean(axis=1).argmax())] == pytest.approx(5000 / 30, abs=40)
    assert SoundPage.model_validate_json(page.model_dump_json()) == page


def test_a_spin_down_of_a_disc(tmp_path: Path) -> None:
    inertia, rate = 2e-5, 2.0
    time = np.arange(int(0.9 * RATE)) / RATE
    omega = 900 * np.exp(-rate * time)
    path = wav(tmp_path / "a.wav", np.cumsum(omega) / RATE, marks=1)
    answer = show_sound(path, name="a", what="spin-down", blades=2, part=(0.02, 0.85), disc_inertia=inertia)
    page = sound_page(answer, file="a.wav")
    assert answer.spin is not None
    assert answer.spin.torque == pytest.approx(inertia * rate * answer.spin.omega, rel=0.1)
    assert "mN m at" in page.damping_words
    without = show_sound(path, name="a", what="spin-down", blades=1, part=(0.02, 0.85))
    assert "give the inertia" in sound_page(without, file="a.wav").damping_words


def test_noise_is_refused_in_words_with_a_picture(tmp_path: Path) -> None:
    path = wav(tmp_path / "a.wav", np.zeros(4 * RATE) + np.random.default_rng(1).normal(size=4 * RATE), marks=1)
    page = sound_page(show_sound(path, name="a", what="pass", blades=2), file="a.wav")
    assert not page.heard
    assert page.words.startswith("Nothing heard")
    assert page.level
    assert page.shaft_rpm is None
    with pytest.raises(InputError, match="holds nothing"):
        show_sound(path, name="a", what="pass", blades=2, part=(9.0, None))


# --- video


def clicked(**changes: object) -> ClickedPart:
    """A line down 50 m away at 20 m/s, seen by 60 degrees over 1920 px, level camera: 1 m is 33.3 px."""
    pixels = 960 / math.tan(math.radians(30)) / 50
    clicks = [{"t_s": 0.1 * k, "x_px": 960.0, "y_px": 100 + pixels * 2.0 * k} for k in range(12)]
    given = {
        "file": "v.mp4", "width_px": 1920, "height_px": 1080, "distance_m": 50.0, "field_of_view_deg": 60.0,
        "horizon_y_px": 540.0, "clicks": clicks, **changes,
    }  # fmt: skip
    return ClickedPart.model_validate(given)


def test_clicks_become_a_way() -> None:
    page = clicked_page(show_clicked(clicked().entry()))
    assert page.slope_deg == pytest.approx(-90, abs=0.1)
    assert page.way_m[-1] == pytest.approx(22.0, abs=0.05)
    assert page.speed_m_s == (pytest.approx(20, abs=0.1), pytest.approx(20, abs=0.1))
    assert "m/s on average" in page.words


def test_what_is_missing_is_said() -> None:
    with pytest.raises(FileFaults, match="horizon_y_px"):
        show_clicked(clicked(horizon_y_px=None).entry())
    with pytest.raises(FileFaults, match="clicks"):
        show_clicked(clicked(clicks=[]).entry())


# --- spoiled files


def spoiled(body: bytes, rng: random.Random) -> bytes:
    """A file with bytes changed, cut out and put in twice."""
    made = bytearray(body)
    for _ in range(rng.choice((1, 3, 20, 200))):
        at, what = rng.randrange(max(len(made), 1)), rng.random()
        if what < 0.4 and made:
            made[at] = rng.randrange(256)
        elif what < 0.7:
            del made[at : at + rng.randrange(1, 300)]
        else:
            begin = rng.randrange(max(len(made), 1))
            made[at:at] = made[begin : begin + rng.randrange(200)]
    return bytes(made)


def test_spoiled_files_become_pages_or_reasons(tmp_path: Path) -> None:
    rng = random.Random(11)
    table = flight(tmp_path / "a.csv").read_bytes()
    sound = wav(tmp_path / "a.wav", np.arange(2 * RATE) / RATE * 500, marks=2).read_bytes()
    path, refused = tmp_path / "spoiled", 0
    for number in range(48):
        path.write_bytes(spoiled(sound if number % 6 == 0 else table, rng))
        try:
            if number % 6 == 0:
                text = sound_page(show_sound(path, name="x", what="pass", blades=2), file="x").model_dump_json()
            else:
                answer = show_log(path, name="x")
                cuts = [(rng.uniform(-5, 30), rng.uniform(-5, 30)), (0.0, 1e12), (1.0, 1.0)]
                text = log_page(cut_anew(answer, cuts), file="x").model_dump_json()
                assert log_page(answer, file="x").time_s or answer.refused
        except EvenfallError as error:
            refused += 1
            assert str(error)
        else:
            assert "NaN" not in text
            assert "Infinity" not in text
    assert 0 < refused < 40
