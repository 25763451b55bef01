"""A folder of computed tables: named by content, safe against concurrent runs, damage and a folder nobody can write.

Files are plain npz without pickled objects, written beside their place and moved there in one step. Each holds a
checksum of its arrays; a file that fails it is computed again. Nothing here ever raises: without a folder there is
simply no cache.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

AnyArray = npt.NDArray[np.generic]

FOLDER_VARIABLE = "EVENFALL_CACHE"
"""Environment variable that names another folder."""
KEPT_FILES = 200
"""Files kept; the longest unused are removed."""


def cache_folder() -> Path | None:
    """The user's cache folder: `EVENFALL_CACHE`, else the system's own (`LOCALAPPDATA`, `XDG_CACHE_HOME`, ~/.cache)."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named)
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local") / "evenfall" / "cache"
    if sys.platform == "darwin":
        return home / "Library" / "Caches" / "evenfall"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "evenfall"


def content_key(*parts: object) -> str:
    """Name of a computation by its content: SHA-256 over the `repr` of the parts, 32 hex digits."""
    return hashlib.sha256("\x1f".join(repr(part) for part in parts).encode()).hexdigest()[:32]


def _checksum(key: str, arrays: Mapping[str, AnyArray]) -> str:
    total = hashlib.sha256(key.encode())
    for name in sorted(arrays):
        value = np.ascontiguousarray(arrays[name])
        total.update(f"{name} {value.dtype.str} {value.shape}".encode())
        total.update(value.tobytes())
    return total.hexdigest()


def load(key: str, folder: Path | None) -> dict[str, AnyArray] | None:
    """The arrays stored under a key, or None where there are none or they are damaged."""
    if folder is None:
        return None
    path = folder / f"{key}.npz"
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as data:
            arrays: dict[str, AnyArray] = {name: data[name] for name in data.files if name != "checksum"}
            stored = str(data["checksum"])
    except Exception:  # a damaged archive fails in many ways; every one of them means: compute it again
        return None
    if stored != _checksum(key, arrays):
        return None
    with contextlib.suppress(OSError):
        os.utime(path)
    return arrays


def store(key: str, arrays: Mapping[str, AnyArray], folder: Path | None) -> bool:
    """Store arrays under a key; False where the folder cannot be written."""
    if folder is None:
        return False
    name = ""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{key}-", suffix=".part", dir=folder)
        with os.fdopen(handle, "wb") as file:
            members: dict[str, Any] = {**arrays, "checksum": np.array(_checksum(key, arrays))}
            np.savez(file, **members)
        os.replace(name, folder / f"{key}.npz")
    except OSError:
        if name:
            with contextlib.suppress(OSError):
                os.unlink(name)
        return False
    _prune(folder)
    return True


def _prune(folder: Path) -> None:
    with contextlib.suppress(OSError):
        files = list(folder.glob("*.npz"))
        if len(files) > KEPT_FILES:
            files.sort(key=lambda path: path.stat().st_mtime)
            for path in files[: len(files) - KEPT_FILES]:
                path.unlink(missing_ok=True)
