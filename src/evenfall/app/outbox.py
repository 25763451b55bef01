"""What waits to be sent to one page: bounded, because the reader of a page that does not read is made to wait."""

from __future__ import annotations

import asyncio
from collections import OrderedDict

MOST, MOST_CHARACTERS = 64, 4_000_000
"""Messages and characters beyond which nothing more is taken from the page until some have gone."""


class Outbox:
    """Messages in their order; one with a key replaces an older one of that key that still waits."""

    def __init__(self) -> None:
        self._waiting: OrderedDict[object, str] = OrderedDict()
        self._characters = 0
        self._some = asyncio.Event()
        self._room = asyncio.Event()
        self._room.set()

    def put(self, text: str, *, key: object = None) -> None:
        """Add a message."""
        name = object() if key is None else key
        self._characters += len(text) - len(self._waiting.pop(name, ""))
        self._waiting[name] = text
        self._some.set()
        if len(self._waiting) > MOST or self._characters > MOST_CHARACTERS:
            self._room.clear()

    async def take(self) -> str:
        """The next message; waits for one."""
        await self._some.wait()
        _, text = self._waiting.popitem(last=False)
        self._characters -= len(text)
        if not self._waiting:
            self._some.clear()
        if len(self._waiting) <= MOST // 2 and self._characters <= MOST_CHARACTERS // 2:
            self._room.set()
        return text

    async def room(self) -> None:
        """Waits while too much waits to be sent."""
        await self._room.wait()

    def __len__(self) -> int:
        return len(self._waiting)
