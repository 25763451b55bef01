"""The pilot's folder and the engine, loaded in the background so that the first page need not wait for them."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from evenfall.errors import EvenfallError

if TYPE_CHECKING:
    from evenfall.app.engine import Engine
    from evenfall.app.workspace import Workspace

Pair = tuple["Workspace", "Engine"]


class Backend:
    """Workspace and engine, made once by whoever asks first; all others wait for it."""

    def __init__(self, make: Callable[[], Pair]) -> None:
        self._make = make
        self._lock = threading.Lock()
        self._made: Pair | None = None
        self._after: list[Callable[[Workspace], object]] = []

    @classmethod
    def of(cls, workspace: Workspace, engine: Engine) -> Backend:
        """Of what is there already."""
        return cls(lambda: (workspace, engine))

    def when_made(self, call: Callable[[Workspace], object]) -> None:
        """Have something called with the workspace as soon as it is made, before anybody uses it."""
        with self._lock:
            if self._made is None:
                self._after.append(call)
                return
        call(self._made[0])

    @property
    def workspace(self) -> Workspace:
        """The pilot's folder; waits until it is loaded."""
        return self._pair()[0]

    @property
    def engine(self) -> Engine:
        """The engine; waits until it is loaded."""
        return self._pair()[1]

    def _pair(self) -> Pair:
        with self._lock:
            if self._made is None:
                self._made = self._make()
                for call in self._after:
                    call(self._made[0])
                self._after.clear()
            return self._made


def backend_of(folder: str) -> Backend:
    """The backend of a folder, nothing loaded yet."""

    def make() -> Pair:
        from pathlib import Path

        try:
            from evenfall.app.engine import Engine
            from evenfall.app.workspace import Workspace
        except ImportError as error:
            raise EvenfallError(f"This installation is not complete ({error}). Install Evenfall again.") from error
        workspace = Workspace(Path(folder))
        return workspace, Engine(workspace)

    return Backend(make)
