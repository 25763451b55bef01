"""What the system says when files cannot be used, in plain words, and whether it speaks against what they hold."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from evenfall.errors import InputError

_PASSING = {
    sqlite3.SQLITE_BUSY,
    sqlite3.SQLITE_LOCKED,
    sqlite3.SQLITE_READONLY,
    sqlite3.SQLITE_IOERR,
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_INTERRUPT,
}
"""Errors that say nothing against what the file holds."""

_NO_ROOM = {28, 27, 122}
"""No space left, file too large, quota exceeded (ENOSPC, EFBIG, EDQUOT)."""


def passing(error: sqlite3.Error, path: Path) -> bool:
    """The file cannot be used now, which says nothing against what it holds."""
    code = getattr(error, "sqlite_errorcode", None)
    if code is None or code & 0xFF not in _PASSING:
        return False
    if code & 0xFF in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
        # a changed byte in the head can forbid writing, or ask for files that are not there
        return not (os.access(path, os.R_OK | os.W_OK) and os.access(path.parent, os.W_OK | os.X_OK))
    return True


@contextmanager
def said(path: Path, what: str) -> Iterator[None]:
    """Turn what the system says into a plain message."""
    try:
        yield
    except (OSError, sqlite3.Error, UnicodeDecodeError) as error:
        raise InputError(f"{path}: {what}: {_reason(error)}") from None


def _reason(error: Exception) -> str:
    """What is wrong and what to do, in words."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    words = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    if code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR) or getattr(error, "errno", None) in _NO_ROOM:
        return "the disk is full or cannot be written; make room and do it again"
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return "another program holds it; close that one and do it again"
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM) or isinstance(
        error, PermissionError
    ):
        return "it may not be written; check the folder and who may write in it"
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) or isinstance(error, UnicodeDecodeError):
        return "it was damaged since it was opened; do it again, it is put right then"
    return words
