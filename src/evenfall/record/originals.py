"""Files that evidence came from, kept beside the logbook under the hash of their bytes."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from pathlib import Path

from evenfall.errors import InputError
from evenfall.record.entries import settle

FOLDER = "originals"
ONLY_NAMED = {".mp4", ".m4v", ".mov", ".avi", ".mkv", ".webm", ".mts", ".3gp"}
"""Endings of videos: too large to copy, they are named with size and hash."""
_PIECE = 1 << 20


def put(folder: Path, name: str, source: bytes | Path) -> tuple[str, int, str, bool]:
    """Keep a file; its hash, size in bytes, ending, and whether it was copied. InputError where it cannot be read or
    written."""
    ending = ending_of(name)
    if isinstance(source, Path):
        try:
            digest, size = _hash_of(source)
        except OSError as error:
            raise InputError(f"{source} cannot be read: {error.strerror or error}") from None
    else:
        digest, size = hashlib.sha256(source).hexdigest(), len(source)
    if Path(name).suffix.lower() in ONLY_NAMED:
        return digest, size, ending, False
    target = path_of(folder, digest, ending)
    try:
        if target.exists() and _hash_of(target) == (digest, size):
            return digest, size, ending, True
        target.parent.mkdir(parents=True, exist_ok=True)
        _copy(source, target, digest)
    except OSError as error:
        raise InputError(f"{name} was not kept: {error.strerror or error}; make room and do it again") from None
    return digest, size, ending, True


def path_of(folder: Path, digest: str, ending: str) -> Path:
    """Where a file is kept."""
    return folder / FOLDER / f"{digest}{ending}"


def ending_of(name: str) -> str:
    """The ending under which a file of that name is kept; empty where it is not plain.

    >>> ending_of("Flight 3.CSV"), ending_of("odd.a/b")
    ('.csv', '')
    """
    found = re.search(r"\.[A-Za-z0-9]{1,8}$", name)
    return "" if found is None else found.group().lower()


def sound(path: Path, digest: str) -> bool:
    """The kept file is there, byte by byte what it was."""
    try:
        return _hash_of(path)[0] == digest
    except OSError:
        return False


def _hash_of(path: Path) -> tuple[str, int]:
    made, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        while piece := file.read(_PIECE):
            made.update(piece)
            size += len(piece)
    return made.hexdigest(), size


def _copy(source: bytes | Path, target: Path, digest: str) -> None:
    handle, name = tempfile.mkstemp(prefix=".", suffix=".part", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            if isinstance(source, Path):
                with source.open("rb") as given:
                    shutil.copyfileobj(given, file, _PIECE)
            else:
                file.write(source)
            file.flush()
            os.fsync(file.fileno())
        if not sound(Path(name), digest):
            raise InputError(f"{target.name} changed while it was copied; do it again")
        os.replace(name, target)
        settle(target.parent)
    finally:
        Path(name).unlink(missing_ok=True)
