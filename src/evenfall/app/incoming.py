"""Files from flights as they come in: kept by their content beside the record until a flight is entered that names
them.

A file is written under a name of its own first and takes its place whole, so that a crash leaves at worst a part that
is swept away later. What no flight ever names is taken away after `KEPT_DAYS`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
import threading
import time
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING

from evenfall.errors import InputError

if TYPE_CHECKING:
    from evenfall.logs.recording import FileKind

MOST_BYTES = 64_000_000
"""Largest file taken."""
MOST_WAITING = 1_000_000_000
"""Bytes of files that may wait for a flight that names them."""
KEPT_DAYS = 60
"""How long a file waits."""
_PART_AGE_S = 3600.0
_ENDINGS = {"csv": ".csv", "gpx": ".gpx", "nmea": ".nmea", "wav": ".wav"}
_PLACE = re.compile(r"([0-9a-f]{64})__(.+)")


@dataclass(frozen=True, kw_only=True)
class Arrived:
    """A file that waits.

    Args:
        hash: SHA-256 of its bytes. name: its name in the record: its own, made plain, with the first digits of its
            hash, so that two files of one name stay apart. size: bytes.
    """

    hash: str
    name: str
    size: int
    kind: FileKind
    path: Path


@dataclass
class Arriving:
    """A file on its way: `write` its pieces, then `Incoming.keep` it or `drop` it."""

    stream: IO[bytes]
    path: Path
    size: int = 0
    digest: hashlib._Hash = field(default_factory=hashlib.sha256)

    def write(self, piece: bytes) -> None:
        """Take a piece; raises `InputError` where the file grows too long or the disk is full."""
        self.size += len(piece)
        if self.size > MOST_BYTES:
            raise InputError(too_long())
        self.digest.update(piece)
        try:
            self.stream.write(piece)
        except OSError as error:
            raise InputError(_full(error)) from None

    def drop(self) -> None:
        """Forget it."""
        with contextlib.suppress(OSError):
            self.stream.close()
        self.path.unlink(missing_ok=True)


class Incoming:
    """Files that wait in a folder of Evenfall's own; made where it is first needed. Thread-safe."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._lock = threading.Lock()
        self._swept = False

    def begin(self) -> Arriving:
        """Begin to take a file in."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._sweep()
            handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=self._folder)
        except OSError as error:
            raise InputError(_full(error)) from None
        return Arriving(stream=os.fdopen(handle, "wb"), path=Path(name))

    def keep(self, arriving: Arriving, *, name: str) -> Arrived:
        """Put a file that has come whole in its place; raises `InputError` for one that is nothing that can be used."""
        from evenfall.logs.recording import kind_of_file

        try:
            arriving.stream.flush()
            os.fsync(arriving.stream.fileno())
            arriving.stream.close()
            key = arriving.digest.hexdigest()
            kind = kind_of_file(arriving.path) if arriving.size else "other"
            if kind == "other":
                raise InputError(
                    f"{plain_name(name, '')} is neither a record of a flight (CSV, GPX, NMEA) nor a sound (WAV); it is "
                    "not kept. A video stays where it is: its places are clicked in the page."
                )
            with self._lock:
                found = self.find(key)
                if found is not None:
                    return found
                self._room()
                shown = plain_name(name, _ENDINGS[kind], key[:8])
                path = self._folder / f"{key}__{shown}"
                os.replace(arriving.path, path)
        except OSError as error:
            raise InputError(_full(error)) from None
        finally:
            arriving.drop()
        return Arrived(hash=key, name=shown, size=arriving.size, kind=kind, path=path)

    def find(self, key: str) -> Arrived | None:
        """The file with this hash; None where none waits."""
        if not re.fullmatch(r"[0-9a-f]{64}", key):
            return None
        return next(iter(self._waiting(key)), None)

    def named(self, name: str) -> Arrived | None:
        """The file with this name in the record; None where none waits."""
        return next((found for found in self._waiting("") if found.name == name), None)

    def _waiting(self, begins: str) -> list[Arrived]:
        from evenfall.logs.recording import kind_of_file

        found = []
        with contextlib.suppress(FileNotFoundError):
            for entry in os.scandir(self._folder):
                place = _PLACE.fullmatch(entry.name)
                if place is None or not place[1].startswith(begins) or not entry.is_file(follow_symlinks=False):
                    continue
                path = Path(entry.path)
                found.append(
                    Arrived(hash=place[1], name=place[2], size=entry.stat().st_size, kind=kind_of_file(path), path=path)
                )
        return found

    def _room(self) -> None:
        """Raise where too much waits, the file that has just come included."""
        waiting = 0
        for entry in os.scandir(self._folder):
            with contextlib.suppress(OSError):
                waiting += entry.stat(follow_symlinks=False).st_size
        if waiting > MOST_WAITING:
            raise InputError(
                f"{waiting / 1e6:.0f} MB of files wait for a flight that names them, {MOST_WAITING / 1e6:.0f} MB may; "
                "enter the flights, or take files away from the folder .evenfall/incoming"
            )

    def _sweep(self) -> None:
        """Take away parts that were left behind and files no flight has named for long."""
        if self._swept:
            return
        self._swept = True
        now = time.time()
        for entry in os.scandir(self._folder):
            old = _PART_AGE_S if entry.name.endswith(".part") else KEPT_DAYS * 86400.0
            with contextlib.suppress(OSError):
                if now - entry.stat(follow_symlinks=False).st_mtime > old:
                    os.unlink(entry.path)


def plain_name(name: str, ending: str, mark: str = "") -> str:
    """A file's own name as a plain one, told apart by a mark.

    >>> plain_name("../Flug 3 (Süd).CSV", ".csv", "1a2b3c4d")
    'Flug 3 (Süd)-1a2b3c4d.csv'
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    kept = "".join(char if char.isalnum() or char in " -_().+" else "_" for char in last if char.isprintable())
    stem = kept.rpartition(".")[0] or kept
    stem = stem.strip(" .")[:60].strip(" .") or "file"
    while len(stem.encode()) > 120:
        stem = stem[:-1]
    return f"{stem}{'-' if mark else ''}{mark}{ending}"


def too_long() -> str:
    """Words for a file that is too long."""
    return (
        f"This file is longer than {MOST_BYTES / 1e6:g} MB and was not taken. Export the one flight alone, or fewer "
        "columns or rows a second."
    )


def _full(error: OSError) -> str:
    return f"The file could not be kept: {error.strerror or error}. Make room on the disk, then send it again."
