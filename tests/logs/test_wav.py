"""WAV files: every format read alike, everything else refused in words."""

from __future__ import annotations

import struct
import time
from pathlib import Path

import numpy as np
import pytest

from evenfall.errors import InputError
from evenfall.logs.wav import read_header, read_wav

RATE = 8000
TONE = 0.5 * np.sin(2 * np.pi * 200 * np.arange(RATE) / RATE)


def wav_bytes(samples: np.ndarray, *, rate: int = RATE, bits: int = 16, is_float: bool = False) -> bytes:
    """A WAV file of samples (n,) or (n, 2), -1 to 1."""
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    flat = samples.reshape(-1)
    if is_float:
        data = flat.astype(f"<f{bits // 8}").tobytes()
    elif bits == 8:
        data = np.round(np.clip(flat * 128 + 128, 0, 255)).astype(np.uint8).tobytes()
    else:
        top = 2.0 ** (bits - 1)
        whole = np.round(np.clip(flat * top, -top, top - 1)).astype("<i4")
        raw = whole.view(np.uint8).reshape(-1, 4)[:, : bits // 8]
        data = np.ascontiguousarray(raw).tobytes()
    align = channels * bits // 8
    form = struct.pack("<HHIIHH", 3 if is_float else 1, channels, rate, rate * align, align, bits)
    body = b"WAVEfmt " + struct.pack("<I", 16) + form + b"LIST\x03\x00\x00\x00abc\x00"
    body += b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", len(body)) + body


def written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("bits", "is_float"), [(8, False), (16, False), (24, False), (32, False), (32, True), (64, True)]
)
def test_every_format_gives_the_same_sound(tmp_path: Path, bits: int, is_float: bool) -> None:
    recording = read_wav(written(tmp_path / "a.wav", wav_bytes(TONE, bits=bits, is_float=is_float)))
    assert recording.rate == RATE
    assert np.abs(recording.samples - TONE).max() < (0.01 if bits == 8 else 1e-4)
    assert not recording.silent
    assert not recording.clipped
    assert recording.notes == ()


def test_stereo_is_averaged_and_opposed_sides_do_not_cancel(tmp_path: Path) -> None:
    alike = read_wav(written(tmp_path / "a.wav", wav_bytes(np.stack([TONE, TONE], axis=1))))
    opposed = read_wav(written(tmp_path / "b.wav", wav_bytes(np.stack([TONE, -0.9 * TONE], axis=1))))
    assert np.abs(alike.samples - TONE).max() < 1e-3
    assert np.abs(opposed.samples - TONE).max() < 1e-3
    assert "louder side" in opposed.notes[0]


def test_silence_and_clipping_are_said(tmp_path: Path) -> None:
    silent = read_wav(written(tmp_path / "a.wav", wav_bytes(np.zeros(RATE))))
    loud = read_wav(written(tmp_path / "b.wav", wav_bytes(4 * TONE)))
    assert silent.silent
    assert any(note.startswith("Silent") for note in silent.notes)
    assert loud.clipped
    assert any(note.startswith("Clipped") for note in loud.notes)


def test_a_part_is_read(tmp_path: Path) -> None:
    path = written(tmp_path / "a.wav", wav_bytes(TONE))
    part = read_wav(path, start=0.25, seconds=0.5)
    assert len(part.samples) == RATE // 2
    assert np.abs(part.samples - TONE[RATE // 4 : 3 * RATE // 4]).max() < 1e-3
    with pytest.raises(InputError, match=r"within 0 to 1\.00 s"):
        read_wav(path, start=2.0)


@pytest.mark.outside
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is not a WAV file"),
        (b"ID3" + bytes(100), "is not a WAV file"),
        (wav_bytes(TONE)[:2000], "cut short"),
        (wav_bytes(TONE)[:30], "ends in the middle"),
        (wav_bytes(TONE).replace(b"fmt ", b"xxxx"), "header is damaged"),
        (wav_bytes(TONE)[:20] + b"\x55\x00" + wav_bytes(TONE)[22:], "packed"),
        (wav_bytes(np.zeros(0)), "no samples"),
        (wav_bytes(np.zeros((10, 3))), "3 channels"),
        (wav_bytes(np.array([0.0, np.nan]), bits=32, is_float=True), "not finite"),
        (wav_bytes(np.zeros(301 * 4000), rate=4000, bits=8), "up to 300 s"),
    ],
)
def test_what_cannot_be_used_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_wav(written(tmp_path / "a.wav", content))


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_header(tmp_path / "none.wav")


@pytest.mark.outside
def test_500_mutated_files_read_or_refuse(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    path = tmp_path / "a.wav"
    refused, slowest = 0, 0.0
    for _ in range(500):
        content = bytearray(wav_bytes(TONE[:2000], bits=int(rng.choice([8, 16, 24, 32]))))
        for _ in range(int(rng.integers(1, 6))):
            spot = int(rng.integers(0, 60 if rng.random() < 0.8 else len(content)))
            content[spot] = int(rng.integers(0, 256))
        if rng.random() < 0.3:
            del content[int(rng.integers(0, len(content))) :]
        path.write_bytes(content)
        begun = time.perf_counter()
        try:
            read_wav(path)
        except InputError:
            refused += 1
        slowest = max(slowest, time.perf_counter() - begun)
    assert 100 < refused < 500
    assert slowest < 2.0
