"""The last few results of a kind, made once even where several threads ask at a time."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Lock, RLock
from typing import Generic, TypeVar

Result = TypeVar("Result")


@dataclass
class _Entry(Generic[Result]):
    lock: RLock = field(default_factory=RLock)
    done: bool = False
    result: Result | None = None


class Kept(Generic[Result]):
    """At most `size` results by key; the one used longest ago goes first.

    A second thread that asks for a result in the making waits for it; where the making fails it tries itself.
    """

    def __init__(self, size: int) -> None:
        self._size = size
        self._entries: OrderedDict[Hashable, _Entry[Result]] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], Result]) -> Result:
        """The result of `key`, made by `make` where it is not kept."""
        with self._lock:
            entry = self._entries.setdefault(key, _Entry())
            self._entries.move_to_end(key)
        with entry.lock:
            if not entry.done:
                try:
                    entry.result = make()
                except BaseException:
                    self._drop(key, entry)
                    raise
                entry.done = True
                self._trim()
            result: Result = entry.result  # type: ignore[assignment]
        return result

    def known(self, key: Hashable) -> Result | None:
        """The result of `key` where it is kept and made, without waiting."""
        with self._lock:
            entry = self._entries.get(key)
            return entry.result if entry is not None and entry.done else None

    def __len__(self) -> int:
        return len(self._entries)

    def _drop(self, key: Hashable, entry: _Entry[Result]) -> None:
        with self._lock:
            if self._entries.get(key) is entry:
                del self._entries[key]

    def _trim(self) -> None:
        with self._lock:
            while len(self._entries) > self._size:
                self._entries.popitem(last=False)
