"""Sound files: plain WAV, PCM of 8 to 32 bit or float of 32 or 64, mono or stereo, read piece by piece with limits.

Chunks follow the RIFF description of 1991 ("Multimedia Programming Interface and Data Specifications 1.0") and its
extensible format tag, from memory.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import InputError

LONGEST = 300.0
"""Seconds read at most; of a longer file a part has to be named."""
MOST_FRAMES = 30_000_000
MOST_CHUNKS = 200
SILENT = 1e-4
"""Root mean square below which a recording counts as silent, a share of full scale (-80 dB)."""
CLIPPED = 1e-3
"""Share of samples at the stop from which a recording counts as clipped."""
BLOCK = 1 << 18
PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE
SAVE_AGAIN = "Save it again as plain WAV, 16 bit, mono or stereo."


@dataclass(frozen=True, kw_only=True)
class WavHeader:
    """What a WAV file says of itself: `rate` in Hz, `bits` a sample, `start` of the data in bytes, `frames` in it."""

    rate: int
    channels: int
    bits: int
    is_float: bool
    start: int
    frames: int

    @property
    def seconds(self) -> float:
        """Length of the recording, s."""
        return self.frames / self.rate


@dataclass(frozen=True, kw_only=True)
class Recording:
    """One channel of sound.

    Args:
        samples: -1 to 1, (n,). rate: Hz. channels: in the file. start: s into the file of the first sample.
        level: root mean square of the samples. clipped_share: of the samples, at the stop.
        notes: what to know about the recording, one sentence each.
    """

    samples: NDArray[np.float32] = field(repr=False)
    rate: int
    channels: int = 1
    start: float = 0.0
    level: float
    clipped_share: float = 0.0
    notes: tuple[str, ...] = ()

    @property
    def silent(self) -> bool:
        """Nothing but the recorder's own hiss."""
        return self.level < SILENT

    @property
    def clipped(self) -> bool:
        """Too loud for the recorder in places."""
        return self.clipped_share >= CLIPPED


def read_header(path: Path) -> WavHeader:
    """Header of a WAV file; raises `InputError` where it is not one that can be used."""
    try:
        with path.open("rb") as file:
            return _header(file, path.name, os.fstat(file.fileno()).st_size)
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read ({error.strerror}).") from error


def read_wav(path: Path, *, start: float = 0.0, seconds: float | None = None) -> Recording:
    """Sound of a WAV file from `start` s, `seconds` long (None: to the end, at most `LONGEST`).

    Stereo becomes the mean of both sides, or the louder side where the two cancel.
    """
    header = read_header(path)
    if not 0 <= start < header.seconds:
        raise InputError(f"{path.name}: the part starts at {start:g} s; allowed is within 0 to {header.seconds:.2f} s.")
    if seconds is not None and not 0 < seconds <= LONGEST:
        raise InputError(f"{path.name}: a part of {seconds:g} s was asked for; above 0 to {LONGEST:g} s can be read.")
    first = int(start * header.rate)
    count = header.frames - first
    if seconds is not None:
        count = min(count, max(1, int(seconds * header.rate)))
    if count > min(LONGEST * header.rate, MOST_FRAMES):
        most = min(LONGEST, MOST_FRAMES / header.rate)
        raise InputError(
            f"{path.name}: {count / header.rate:.0f} s of sound; up to {most:.0f} s are read at once. "
            "Name the start and length of the part with the line."
        )
    sides = np.empty((count, header.channels), dtype=np.float32)
    at_stop = 0
    try:
        with path.open("rb") as file:
            file.seek(header.start + first * header.channels * header.bits // 8)
            for low in range(0, count, BLOCK):
                part = sides[low : min(low + BLOCK, count)]
                part[:] = _decoded(_exactly(file, part.size * header.bits // 8, path.name), header).reshape(part.shape)
                if not np.all(np.isfinite(part)):
                    raise InputError(f"{path.name}: holds samples that are not finite numbers. {SAVE_AGAIN}")
                at_stop += int(np.count_nonzero(np.abs(part) >= _stop(header)))
                np.clip(part, -1.0, 1.0, out=part)
    except OSError as error:
        raise InputError(f"{path.name}: cannot be read ({error.strerror}).") from error
    return _recording(sides, header.rate, start, at_stop / sides.size)


def _recording(sides: NDArray[np.float32], rate: int, start: float, clipped_share: float) -> Recording:
    notes: list[str] = []
    levels = np.sqrt(np.mean(np.square(sides), axis=0, dtype=np.float64))
    samples = sides.mean(axis=1, dtype=np.float32)
    if sides.shape[1] == 2:
        if np.sqrt(np.mean(np.square(samples), dtype=np.float64)) < 0.5 * levels.max():
            samples = sides[:, int(levels.argmax())].copy()
            notes.append("Stereo: the louder side is used, the mean of both would cancel.")
        else:
            notes.append("Stereo: the mean of both sides is used.")
    samples -= samples.mean(dtype=np.float64)
    level = float(np.sqrt(np.mean(np.square(samples), dtype=np.float64)))
    if level < SILENT:
        notes.append("Silent: nothing was recorded. Check the microphone and the recording level.")
    if clipped_share >= CLIPPED:
        notes.append(
            f"Clipped: {100 * clipped_share:.1f} % of the samples are at the stop. The pitch holds, overtones are "
            "added. Record with less gain."
        )
    return Recording(
        samples=samples,
        rate=rate,
        channels=sides.shape[1],
        start=start,
        level=level,
        clipped_share=clipped_share,
        notes=tuple(notes),
    )


def _exactly(file: BinaryIO, count: int, name: str) -> bytes:
    data = file.read(count)
    if len(data) < count:
        raise InputError(f"{name}: ends in the middle of the data. Copy it again from the recorder.")
    return data


def _header(file: BinaryIO, name: str, size: int) -> WavHeader:
    top = file.read(12)
    if len(top) < 12 or top[:4] != b"RIFF" or top[8:] != b"WAVE":
        raise InputError(f"{name}: is not a WAV file. {SAVE_AGAIN}")
    form: tuple[int, int, int, int, int] | None = None
    for _ in range(MOST_CHUNKS):
        head = file.read(8)
        if len(head) < 8:
            break
        length = struct.unpack("<I", head[4:])[0]
        if head[:4] == b"fmt ":
            form = _form(_exactly(file, min(length, 64), name), name)
            length -= min(length, 64)
        elif head[:4] == b"data":
            if form is None:
                raise InputError(f"{name}: the data come before their format. The header is damaged. {SAVE_AGAIN}")
            return _checked(form, file.tell(), length, size, name)
        file.seek(length + (length & 1), os.SEEK_CUR)
    raise InputError(f"{name}: holds no sound data, the header is damaged or the file was cut. {SAVE_AGAIN}")


def _form(data: bytes, name: str) -> tuple[int, int, int, int, int]:
    if len(data) < 16:
        raise InputError(f"{name}: the format takes {len(data)} bytes, at least 16 are needed. {SAVE_AGAIN}")
    tag, channels, rate, _, align, bits = struct.unpack("<HHIIHH", data[:16])
    if tag == EXTENSIBLE and len(data) >= 26:
        tag = struct.unpack("<H", data[24:26])[0]
    return tag, channels, rate, align, bits


def _checked(form: tuple[int, int, int, int, int], start: int, length: int, size: int, name: str) -> WavHeader:
    tag, channels, rate, align, bits = form
    allowed = {PCM: (8, 16, 24, 32), FLOAT: (32, 64)}.get(tag)
    if allowed is None:
        raise InputError(f"{name}: the sound is packed (format {tag}); plain PCM or float is read. {SAVE_AGAIN}")
    if bits not in allowed:
        raise InputError(f"{name}: {bits} bit a sample; {', '.join(map(str, allowed))} are read. {SAVE_AGAIN}")
    if channels not in (1, 2):
        raise InputError(f"{name}: {channels} channels; 1 or 2 are read. {SAVE_AGAIN}")
    if not 4000 <= rate <= 400_000:
        raise InputError(f"{name}: {rate} samples a second; 4000 to 400000 are read. {SAVE_AGAIN}")
    if align != channels * bits // 8:
        raise InputError(f"{name}: the header contradicts itself (block of {align} bytes). {SAVE_AGAIN}")
    if length > size - start:
        raise InputError(
            f"{name}: cut short, {max(size - start, 0)} of {length} bytes of sound are there. "
            "Copy it again from the recorder."
        )
    frames = length // align
    if frames == 0:
        raise InputError(f"{name}: holds no samples. Copy it again from the recorder.")
    return WavHeader(rate=rate, channels=channels, bits=bits, is_float=tag == FLOAT, start=start, frames=frames)


def _decoded(data: bytes, header: WavHeader) -> NDArray[np.float32]:
    if header.is_float:
        with np.errstate(over="ignore", invalid="ignore"):
            return np.frombuffer(data, f"<f{header.bits // 8}").astype(np.float32)
    if header.bits == 8:
        return ((np.frombuffer(data, np.uint8).astype(np.float32) - 128.0) / 128.0).astype(np.float32)
    if header.bits == 24:
        wide = np.zeros((len(data) // 3, 4), dtype=np.uint8)
        wide[:, 1:] = np.frombuffer(data, np.uint8).reshape(-1, 3)
        return (wide.reshape(-1).view("<i4") / 2.0**31).astype(np.float32)
    return (np.frombuffer(data, f"<i{header.bits // 8}") / 2.0 ** (header.bits - 1)).astype(np.float32)


def _stop(header: WavHeader) -> float:
    """Sample from which the recorder is at its stop, two steps of 8 or 16 bit below full scale."""
    return 1.0 - 2.0 / 2.0 ** (min(header.bits, 16) - 1)
