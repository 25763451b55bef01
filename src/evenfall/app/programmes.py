"""Programmes of figures to choose from: those that come with Evenfall and those of the folder, by name and content."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache

from evenfall.app.folder import Folder, Stamp
from evenfall.errors import InputError
from evenfall.plane.starter import PROGRAMMES, SEQUENCE_ENDING, programme_path
from evenfall.sheet.folder_page import SequenceEntry
from evenfall.textfile import content_hash

_LONGEST = 80


class Programmes:
    """Lists them; a file whose stamp has not moved is not read again."""

    def __init__(self) -> None:
        self._seen: dict[str, tuple[Stamp, SequenceEntry]] = {}

    def offered(
        self, folder: Folder, stamps: Mapping[str, Stamp], *, fresh: Iterable[str]
    ) -> tuple[SequenceEntry, ...]:
        """Entries in the order to show them; files of `fresh` are read again whatever their stamp says."""
        own = sorted(name for name in stamps if name.endswith(SEQUENCE_ENDING))
        before, again, self._seen = self._seen, set(fresh), {}
        for name in own:
            known = before.get(name)
            if known is None or known[0] != stamps[name] or name in again:
                known = stamps[name], _read(folder, name)
            self._seen[name] = known
        shipped = (_shipped(name) for name in PROGRAMMES if f"{name}{SEQUENCE_ENDING}" not in own)
        return (*shipped, *(entry for _, entry in self._seen.values()))


@cache
def _shipped(name: str) -> SequenceEntry:
    return _entry(name, programme_path(name).read_text(encoding="utf-8"))


def _read(folder: Folder, name: str) -> SequenceEntry:
    try:
        return _entry(name, folder.read(name) or "")
    except InputError:
        return SequenceEntry(file=name, name="", hash="")


def _entry(file: str, text: str) -> SequenceEntry:
    """The entry of a file whatever it holds: it may have faults, which are told when it is flown.

    >>> _entry("mine.seq.toml", 'name = "Mine"').name
    'Mine'
    """
    try:
        said = tomllib.loads(text.removeprefix("\ufeff")).get("name")
    except (ValueError, RecursionError):
        said = None
    name = said.strip() if isinstance(said, str) and said.isprintable() and len(said) <= _LONGEST else ""
    return SequenceEntry(file=file, name=name, hash=content_hash(text))
