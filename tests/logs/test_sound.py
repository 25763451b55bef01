"""The propeller's note: heard through noise with its Doppler, refused where it is not there."""

from __future__ import annotations

import math
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.signal import lfilter

from evenfall.errors import InputError, ValueRangeError
from evenfall.logs.evidence import Flight
from evenfall.logs.sound import NothingHeardError, Track, fit_pass, hear, pitch_share, rpm_on_line
from evenfall.logs.wav import read_wav

RATE = 16000
C = 340.3


def heard(path: Path, sound: np.ndarray, *, blades: int = 2, gain: float = 0.9) -> Track:
    """The track of a sound written as 16-bit WAV."""
    flat = np.clip(gain * sound / np.abs(sound).max(), -1, 1)
    with wave.open(str(path), "wb") as file:
        file.setparams((1 if sound.ndim == 1 else 2, 2, RATE, 0, "NONE", ""))
        file.writeframes((flat * 32767).astype("<i2").tobytes())
    return hear(read_wav(path), blades=blades)


def propeller(sent: np.ndarray, hz: float, ratio_db: float, rng: np.random.Generator) -> np.ndarray:
    """Eight overtones at the times of sending, in white noise."""
    note = sum(0.7**h * np.sin(2 * np.pi * hz * (h + 1) * sent + rng.uniform(0, 6)) for h in range(8))
    note = np.asarray(note) / np.std(note)
    return np.asarray(note + rng.normal(size=len(note)) * 10 ** (-ratio_db / 20))


def times_sent(distance_at: Callable[[np.ndarray], np.ndarray], seconds: float) -> np.ndarray:
    """Times of sending of what is heard at each sample, by repeated substitution, no formula of the package."""
    heard_at = np.arange(int(seconds * RATE)) / RATE
    sent = heard_at.copy()
    for _ in range(30):
        sent = heard_at - distance_at(sent) / C
    return sent


@pytest.mark.parametrize("seed", range(9))
def test_passes_in_noise(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    blades, ratio_db = 2 + seed % 2, 3.0 * (seed % 3)
    rpm, speed, near = rng.uniform(3500, 9000), rng.uniform(15, 35), rng.uniform(15, 50)
    sent = times_sent(lambda t: np.hypot(near, speed * (t - 4)), 8)
    track = heard(tmp_path / "a.wav", propeller(sent, rpm / 60 * blades, ratio_db, rng), blades=blades)
    result = fit_pass(track)
    assert result.rpm == pytest.approx(rpm, rel=0.015)
    assert result.speed == pytest.approx(speed, rel=0.15)
    assert abs(result.rpm - rpm) < 4 * result.rpm_sigma
    evidence = result.evidence("pass", Flight(slope=0.0))
    assert evidence.omega == pytest.approx(rpm * math.pi / 30, rel=0.015)


@pytest.mark.parametrize("blades", [2, 3])
def test_vertical_line_down_of_known_place(tmp_path: Path, blades: int) -> None:
    rng = np.random.default_rng(blades)
    rpm, speed, away = 5200.0, 22.0, 60.0
    sent = times_sent(lambda t: np.hypot(away, 130 - speed * t), 4)
    track = heard(tmp_path / "a.wav", propeller(sent, rpm / 60 * blades, 0.0, rng), blades=blades)
    result = rpm_on_line(
        track, slope=-math.pi / 2, speed=speed, speed_sigma=2, height=130, ahead=0, aside=away, at=0
    )  # fmt: skip
    assert result.rpm == pytest.approx(rpm, rel=0.004)
    assert abs(np.median(track.rpm) / rpm - 1) > 0.015


@pytest.mark.invariant
def test_formula_agrees_with_the_time_of_sending_found_by_search() -> None:
    speed, near, passing = 30.0, 25.0, 2.0
    for when in (-1.0, 2.0, 2.1, 6.0):

        def sent(t: float) -> float:
            return float(brentq(lambda x: x + np.hypot(near, speed * (x - passing)) / C - t, t - 5, t))

        slow = (sent(when + 1e-4) - sent(when - 1e-4)) / 2e-4
        share = pitch_share(np.array([when]), speed=speed, distance=near, passing=passing, sound_speed=C)[0]
        assert share == pytest.approx(slow, rel=1e-6)


def bursts(kind: str, rng: np.random.Generator) -> np.ndarray:
    """Eight seconds of whispered or voiced syllables, or of short notes."""
    parts: list[np.ndarray] = []
    while sum(map(len, parts)) < 8 * RATE:
        length = int(rng.uniform(0.15, 0.4) * RATE)
        t = np.arange(length) / RATE
        if kind == "music":
            hz = 220 * 2 ** (rng.integers(0, 24) / 12)
            parts.append(np.asarray(sum(0.6**h * np.sin(2 * np.pi * hz * h * t) for h in range(1, 7))) * np.exp(-3 * t))
            continue
        pitch = 120 * (1 + 0.3 * np.sin(6 * t + rng.uniform(0, 6)))
        voiced: np.ndarray = (np.sin(2 * np.pi * np.cumsum(pitch) / RATE) > 0.9) * np.ones(length)
        sound: np.ndarray = voiced if kind == "voiced" else rng.normal(size=length)
        for centre, width in ((rng.uniform(300, 800), 80), (rng.uniform(900, 2200), 120), (2600, 160)):
            r = math.exp(-math.pi * width / RATE)
            sound = np.asarray(lfilter([1.0], [1.0, -2 * r * math.cos(2 * math.pi * centre / RATE), r * r], sound))
        parts += [sound / np.std(sound) * np.hanning(length), np.zeros(int(rng.uniform(0.05, 0.3) * RATE))]
    whole = np.concatenate(parts)
    return whole + 0.03 * rng.normal(size=len(whole))


@pytest.mark.outside
@pytest.mark.parametrize("kind", ["whispered", "voiced", "music", "noise"])
@pytest.mark.parametrize("seed", range(4))
def test_other_sounds_are_refused(tmp_path: Path, kind: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    sound = rng.normal(size=8 * RATE) if kind == "noise" else bursts(kind, rng)
    with pytest.raises(NothingHeardError, match="Nothing heard"):
        heard(tmp_path / "a.wav", sound)


def test_silence_clipping_stereo(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    sound = propeller(np.arange(4 * RATE) / RATE, 200.0, 6.0, rng)
    with pytest.raises(NothingHeardError, match="silent"):
        heard(tmp_path / "a.wav", sound, gain=0.0)
    clipped = heard(tmp_path / "b.wav", sound, gain=4.0)
    assert np.median(clipped.rpm) == pytest.approx(6000, rel=0.005)
    assert any("Clipped" in note for note in clipped.notes)
    stereo = heard(tmp_path / "c.wav", np.stack([sound, -sound], axis=1))
    assert np.median(stereo.rpm) == pytest.approx(6000, rel=0.005)
    assert len(stereo.picture_time) == stereo.picture_db.shape[0]
    assert len(stereo.picture_hz) == stereo.picture_db.shape[1]


@pytest.mark.outside
def test_what_cannot_be_told_is_said(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    track = heard(tmp_path / "a.wav", propeller(np.arange(4 * RATE) / RATE, 200.0, 6.0, rng))
    with pytest.raises(InputError, match="does not tell the pass"):
        fit_pass(track)
    with pytest.raises(InputError, match="Choose another part"):
        track.between(50, 60)
    with pytest.raises(ValueRangeError, match="13 blades"):
        heard(tmp_path / "a.wav", propeller(np.arange(4 * RATE) / RATE, 200.0, 6.0, rng), blades=13)
