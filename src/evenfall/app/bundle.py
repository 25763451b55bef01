"""The page's own files as they ship with the package."""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from pathlib import Path

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/json",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
    ".txt": "text/plain; charset=utf-8",
}
"""What is served, by the end of its name; nothing else is."""

SMALL = 600
"""Bytes below which compressing is not worth it."""


@dataclass(frozen=True)
class Piece:
    """One file ready to be sent."""

    body: bytes
    zipped: bytes | None
    kind: str
    stamp: tuple[int, int]


class Bundle:
    """Files below one folder by their address; each is read and compressed once, again where it has changed."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._known: dict[str, Piece] = {}

    def get(self, name: str) -> Piece | None:
        """A file by its name below the folder; None for what is not there or not served."""
        kind = TYPES.get(Path(name).suffix)
        path = self._folder / name
        if kind is None or "\\" in name or any(part in ("", ".", "..") for part in name.split("/")):
            return None
        try:
            if not path.resolve().is_relative_to(self._folder.resolve()):
                return None
            state = path.stat()
            stamp = (state.st_mtime_ns, state.st_size)
            known = self._known.get(name)
            if known is None or known.stamp != stamp:
                body = path.read_bytes()
                zipped = gzip.compress(body, 6, mtime=0) if len(body) > SMALL and kind != "image/png" else None
                known = self._known[name] = Piece(body, zipped, kind, stamp)
        except (OSError, ValueError):
            return None
        return known
