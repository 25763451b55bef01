"""The pilot's folder: which names are allowed, what its files are, reading and writing them without leaving it."""

from __future__ import annotations

import contextlib
import os
import re
import stat
import time
import tomllib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from evenfall.errors import InputError
from evenfall.plane.starter import OTHER_ENDINGS
from evenfall.textfile import SIZE_LIMIT, write_atomic
from evenfall.toml_table import shown

FileKind = Literal["plane", "plan", "bench"]
"""What a file of the folder holds: a plane, a plan, or measured angles."""

PLAN_ENDING = ".plan.toml"
BENCH_ENDING = ".bench.csv"
_DEVICES = {"con", "prn", "aux", "nul", "conin$", "conout$"}
_DEVICES |= {f"{port}{digit}" for port in ("com", "lpt") for digit in "0123456789¹²³"}
"""Names Windows keeps for devices, whatever the ending."""
_FORBIDDEN = '/\\:*?"<>|'
_LONGEST = 120
_LEFT = re.compile(r"\..+\.(toml|csv)\.[A-Za-z0-9_]{8}\.tmp")
"""Names `textfile.write_atomic` writes under before it puts a file in its place."""
_LEFT_AGE_S = 60.0
_PLANE_KEYS = {
    "wing", "mass", "tail", "fin", "propeller", "controller", "battery", "servo", "linkage", "rigging", "drag", "body",
    "datum", "speed_m_s", "speed",
}  # fmt: skip
"""Keys at the top of a plane file and of no other file of ours."""
_PLANE_ROW = re.compile(r"^\s*\[\s*(wing|mass|tail|propeller|controller)\b", re.MULTILINE)


@dataclass(frozen=True, kw_only=True)
class Stamp:
    """What the folder says of a file without reading it: when it was written (ns), its size, its number on the disk."""

    written_ns: int
    size: int
    number: int


def check_name(name: str) -> str:
    """The name of a file directly in the folder, .toml or bench .csv; raises `InputError` for any other.

    >>> check_name("biplane.toml")
    'biplane.toml'
    """
    said = shown(name if name.isprintable() else ascii(name)[1:-1])
    if not name or name != name.strip() or len(name) > _LONGEST or len(name.encode("utf-8", "replace")) > 2 * _LONGEST:
        raise InputError(f"{said} is no file name: 1 to {_LONGEST} characters, no blanks at the ends; choose another")
    if not name.isprintable():
        raise InputError(f"{said} holds characters that cannot be printed; choose another name")
    if bad := [char for char in _FORBIDDEN if char in name]:
        raise InputError(f"{said} holds {' '.join(bad)}: a file lies directly in the folder; give its plain name")
    if name.startswith("."):
        raise InputError(f"{said} begins with a point; choose another name")
    if name.split(".")[0].strip().lower() in _DEVICES:
        raise InputError(f"{said} is the name of a device under Windows; choose another name")
    if not name.endswith((".toml", BENCH_ENDING)) or name in (".toml", PLAN_ENDING):
        raise InputError(f"{said} does not end in .toml; plane files are NAME.toml, plan files NAME{PLAN_ENDING}")
    return name


def slug(words: str, *, otherwise: str) -> str:
    """A plain file name made from words.

    >>> slug("Élan 1.2 m", otherwise="plane"), slug("///", otherwise="plane")
    ('elan_1_2_m', 'plane')
    """
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:60].strip("_")
    return otherwise if not name or name in _DEVICES else name


def stem_of(name: str) -> str:
    """A plane's or plan's name without its ending.

    >>> stem_of("biplane.toml"), stem_of("biplane.windy.plan.toml")
    ('biplane', 'biplane.windy')
    """
    return name[: -len(PLAN_ENDING)] if name.endswith(PLAN_ENDING) else name.rpartition(".")[0]


def own_plan(plane: str) -> str:
    """Name of a plane's own plan file."""
    return f"{stem_of(plane)}{PLAN_ENDING}"


def bench_name(plan: str) -> str:
    """Name of the file of readings of a plan."""
    return f"{stem_of(plan)}{BENCH_ENDING}"


def kind_of(name: str, text: str) -> FileKind | None:
    """What a file is, by its name and what it holds; None for anything else."""
    if name.endswith(BENCH_ENDING):
        return "bench"
    if name.endswith(PLAN_ENDING):
        return "plan"
    if not name.endswith(".toml") or name.endswith(OTHER_ENDINGS):
        return None
    try:
        keys = set(tomllib.loads(text.removeprefix("\ufeff")))
    except (ValueError, RecursionError):
        return "plane" if _PLANE_ROW.search(text) else None
    if "plane" in keys and keys & {"seal", "crow", "phase", "computed_from", "motor"}:
        return "plan"
    return "plane" if keys & _PLANE_KEYS and "plane" not in keys else None


class Folder:
    """One folder; every path made here lies in it."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        given = Path(path)
        try:
            self.path = given.resolve(strict=True)
        except (OSError, RuntimeError, ValueError):
            raise InputError(f"there is no folder {given}; make it first or name another") from None
        if not self.path.is_dir():
            raise InputError(f"{given} is a file; name the folder it lies in")

    def names(self) -> dict[str, Stamp]:
        """Files that could be ours, with their stamps; what may not be used is left out."""
        found = {}
        try:
            with os.scandir(self.path) as entries:
                listed = sorted(entries, key=lambda entry: entry.name)
        except OSError as error:
            raise InputError(f"the folder {self.path} cannot be read: {_words(error)}") from None
        for entry in listed:
            if not entry.name.endswith((".toml", BENCH_ENDING)):
                continue
            try:
                check_name(entry.name)
                if entry.is_symlink():
                    self.place(entry.name)
                status = entry.stat()
            except (InputError, OSError):
                continue
            if stat.S_ISREG(status.st_mode):
                found[entry.name] = Stamp(written_ns=status.st_mtime_ns, size=status.st_size, number=status.st_ino)
        return found

    def refused(self) -> list[str]:
        """What is wrong with entries that look like ours but may not be used."""
        words = []
        for name in sorted(os.listdir(self.path)):
            if not name.endswith((".toml", BENCH_ENDING)) or name.startswith("."):
                continue
            try:
                check_name(name)
                self.place(name)
            except InputError as error:
                words.append(str(error))
        return words

    def place(self, name: str) -> Path:
        """Where a file is, links followed; raises `InputError` where that is outside the folder or no plain file."""
        path = self.path / check_name(name)
        try:
            real = path.resolve()
        except (OSError, RuntimeError):
            raise InputError(f"{name} is a link that leads nowhere; take it away") from None
        if not real.is_relative_to(self.path):
            raise InputError(f"{name} is a link that leads out of the folder; put the file itself here")
        if ".evenfall" in real.relative_to(self.path).parts:
            raise InputError(f"{name} is a link into Evenfall's own records; take it away")
        if real.exists() and not real.is_file():
            raise InputError(f"{name} is no file; give it another name")
        return real

    def stamp(self, name: str) -> Stamp | None:
        """Stamp of a file; None where there is none."""
        try:
            status = self.place(name).stat()
        except FileNotFoundError:
            return None
        except OSError as error:
            raise InputError(f"{name} cannot be read: {_words(error)}") from None
        return Stamp(written_ns=status.st_mtime_ns, size=status.st_size, number=status.st_ino)

    def read(self, name: str) -> str | None:
        """The text of a file exactly as it stands; None where there is none; `InputError` where it is no text."""
        path = self.place(name)
        flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        try:
            handle = os.open(path, flags)
        except FileNotFoundError:
            return None
        except OSError as error:
            raise InputError(f"{name} cannot be read: {_words(error)}") from None
        with os.fdopen(handle, "rb") as stream:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise InputError(f"{name} is no file; give it another name")
            try:
                raw = stream.read(SIZE_LIMIT + 1)
            except OSError as error:
                raise InputError(f"{name} cannot be read: {_words(error)}") from None
        if len(raw) > SIZE_LIMIT:
            raise InputError(f"{name} is larger than {SIZE_LIMIT // 1000} kB; a file of ours has a few kB")
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError:
            raise InputError(f"{name} is not UTF-8 text; save it as UTF-8 in the editor") from None
        if "\0" in text:
            raise InputError(f"{name} is no text; take it away or give it another ending")
        return text

    def write(self, name: str, text: str | None) -> None:
        """Put a text in the place of a file, whole or not at all; None takes the file away."""
        path = self.place(name)
        if text is not None and len(text.encode()) > SIZE_LIMIT:
            raise InputError(f"{name} would be larger than {SIZE_LIMIT // 1000} kB; shorten it")
        try:
            if text is None:
                path.unlink(missing_ok=True)
            else:
                write_atomic(path, text)
            _settle(path.parent)
        except OSError as error:
            raise InputError(
                f"{name} cannot be written: {_words(error)}. Nothing was changed; make room or allow writing, then "
                "do it again"
            ) from None

    def sweep(self) -> None:
        """Take away what a program that was killed while writing left behind."""
        for entry in os.scandir(self.path):
            if not _LEFT.fullmatch(entry.name):
                continue
            with contextlib.suppress(OSError):
                if time.time() - entry.stat(follow_symlinks=False).st_mtime > _LEFT_AGE_S:
                    os.unlink(entry.path)

    def free_name(self, stem: str, ending: str, *, beside: Iterable[str] = (), taken: Iterable[str] = ()) -> str:
        """STEM + ENDING, or with the first free number from 2; capitals count as the same name.

        Under the endings `beside` nothing may stand either.
        """
        used = {name.casefold() for name in (*os.listdir(self.path), *taken)}
        number, free = 1, stem
        while any(f"{free}{one}".casefold() in used for one in (ending, *beside)):
            number += 1
            free = f"{stem}_{number}"
        return check_name(f"{free}{ending}")


def _settle(folder: Path) -> None:
    """Put on the disk that a file was replaced or taken away, where the system needs to be told and takes it."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _words(error: OSError) -> str:
    words = error.strerror or str(error)
    return words[:1].lower() + words[1:]
