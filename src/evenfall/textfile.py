"""Strict TOML in, atomic text out: shared by every kind of file.

`read_toml` turns a path into data plus the line of every key; `toml_table` reads one table of it.
"""

from __future__ import annotations

import difflib
import hashlib
import json
import os
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenfall.errors import EditedFileError, Fault, FileFaults
from evenfall.toml_rows import key_lines, syntax_faults

SIZE_LIMIT = 1_000_000
"""Greatest size of a file we read, bytes. A plane file is a few thousand."""


@dataclass(frozen=True, kw_only=True)
class TomlText:
    """One TOML file as read.

    Args:
        path: as given.
        text: without byte-order mark, line ends as they are.
        data: plain dictionaries and lists.
        lines: dotted key (list entries as `drag.0`) to its line, from 1.
        content_hash: SHA-256 of the text with line ends made alike, hexadecimal.
        notes: what was odd about the file but harmless.
    """

    path: str
    text: str
    data: dict[str, Any]
    lines: dict[str, int]
    content_hash: str
    notes: tuple[str, ...] = ()


def content_hash(text: str) -> str:
    """SHA-256 of a text with line ends made alike and the last one ignored, hexadecimal.

    >>> content_hash("a = 1\\r\\n") == content_hash("a = 1")
    True
    """
    return hashlib.sha256(text.replace("\r\n", "\n").rstrip("\n").encode()).hexdigest()


def read_toml(path: str | os.PathLike[str], *, what: str = "plane file") -> TomlText:
    """Read a TOML file; raises `FileFaults` that says what is wrong with it and what to do.

    `what` names the kind of file in messages.
    """
    name = os.fspath(path)
    text, notes = read_text(name, what=what)
    return parse_toml(text, path=name, what=what, notes=notes)


def read_text(
    path: str, *, what: str, missing: str | None = None, binary: str | None = None
) -> tuple[str, tuple[str, ...]]:
    """The text of a file without byte-order mark, line ends as they are, and what was odd about it but harmless.

    Args:
        what: kind of file, named in messages.
        missing, binary: what to do where there is no such file, and where it holds no text; None: as for TOML files.
    """
    return _decode(path, _read_bytes(path, what, missing), binary or f"name a {what} (TOML text)")


def parse_toml(text: str, *, path: str, what: str = "plane file", notes: tuple[str, ...] = ()) -> TomlText:
    """The same for a text in hand; `path` is used in messages only."""
    if not text.strip():
        raise _file_fault(path, f"the file is empty; `evenfall new DIR` writes a commented {what} to start from")
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise FileFaults(path, syntax_faults(text, error)) from None
    if "\r\n" in text:
        notes = (*notes, "the file has Windows line ends (CRLF): accepted")
    return TomlText(
        path=path, text=text, data=data, lines=key_lines(text), content_hash=content_hash(text), notes=notes
    )


def toml_string(text: str) -> str:
    """A text as it stands in a TOML file, in double quotes.

    >>> print(toml_string('a "b"'))
    "a \\"b\\""
    """
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def toml_number(value: float, digits: int) -> str:
    """A number with at most so many digits after the point, no zeros at its end.

    >>> toml_number(-0.001, 2), toml_number(12.50, 2)
    ('0', '12.5')
    """
    text = f"{round(value, digits) + 0.0:.{digits}f}".rstrip("0").rstrip(".")
    return text if text not in ("-0", "") else "0"


def write_atomic(path: str | os.PathLike[str], text: str) -> None:
    """Write a text so that a crash leaves either the old file or the new one, never half."""
    target = Path(path)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():
            os.chmod(name, target.stat().st_mode & 0o7777)
        elif os.name == "posix":
            mask = os.umask(0)
            os.umask(mask)
            os.chmod(name, 0o666 & ~mask)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_new(path: str | os.PathLike[str], text: str) -> None:
    """Write a file that must not exist yet; raises `EditedFileError` where it does."""
    try:
        with open(path, "x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise EditedFileError(f"{os.fspath(path)} exists and is left as it is; choose another name") from None


def numbered_backup(path: str | os.PathLike[str]) -> Path:
    """Move a file aside to the first free `NAME.1`, `NAME.2`, ... and return that name."""
    source = Path(path)
    number = 1
    while (backup := source.with_name(f"{source.name}.{number}")).exists():
        number += 1
    os.replace(source, backup)
    return backup


def _file_fault(path: str, message: str) -> FileFaults:
    return FileFaults(path, (Fault(where="", message=message),))


def _read_bytes(path: str, what: str, missing: str | None) -> bytes:
    if "\0" in path:
        raise _file_fault(path.replace("\0", "?"), "the file name holds a zero byte; check the command")
    try:
        if os.path.isdir(path):
            raise _file_fault(path, f"this is a directory; name the {what} inside it")
        with open(path, "rb") as stream:
            raw = stream.read(SIZE_LIMIT + 1)
    except FileNotFoundError:
        raise _file_fault(path, f"there is no such file; {missing or _near_files(path)}") from None
    except PermissionError:
        raise _file_fault(path, "the file may not be read; check its permissions") from None
    except OSError as error:
        raise _file_fault(path, f"the file cannot be read: {error.strerror or error}") from None
    if len(raw) > SIZE_LIMIT:
        raise _file_fault(path, f"the file is larger than {SIZE_LIMIT // 1000} kB; a {what} is a few kB, so name that")
    return raw


def _near_files(path: str) -> str:
    folder = Path(path).parent
    try:
        names = sorted(entry.name for entry in folder.iterdir() if entry.suffix == ".toml")
    except OSError:
        return "nor is there such a folder"
    near = difflib.get_close_matches(Path(path).name, names, n=1)
    return f"did you mean {near[0]}?" if near else "check the name, or write one with `evenfall new DIR`"


def _decode(path: str, raw: bytes, binary: str) -> tuple[str, tuple[str, ...]]:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _file_fault(path, "the file is UTF-16 text; save it as UTF-8 (an option of the editor's Save as)")
    notes: tuple[str, ...] = ()
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = raw[3:]
        notes = ("the file begins with a byte-order mark (BOM): accepted and ignored",)
    if b"\0" in raw or raw.startswith((b"\x89PNG", b"PK\x03\x04", b"%PDF", b"\xff\xd8\xff")):
        raise _file_fault(path, f"this is a binary file, not text; {binary}")
    try:
        return raw.decode("utf-8"), notes
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        message = "the file is not UTF-8 text (first odd byte here); save it as UTF-8 in the editor"
        raise FileFaults(path, (Fault(where="", message=message, line=line),)) from None
