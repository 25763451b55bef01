"""A folder with one plane and short ways to act on it, for the tests of the workspace."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any, Literal

from pydantic import TypeAdapter

from evenfall.app import messages
from evenfall.app.workspace import Outcome, Workspace
from evenfall.plane.starter import demo_path

ACTION: TypeAdapter[messages.Action] = TypeAdapter(messages.Action)
TEXT = demo_path("biplane_124").read_text(encoding="utf-8")
TOKENS = (f"token-{number:06d}" for number in itertools.count())


class Bench:
    """A workspace with short ways to act on it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.work = Workspace(folder)

    def do(
        self, what: str, *, role: Literal["owner", "guest"] = "owner", token: str | None = None, **rest: Any
    ) -> Outcome:
        action = ACTION.validate_python({"what": what, **rest})
        return self.work.act(action, token=token or next(TOKENS), role=role)

    def edit(self, value: float, file: str = "bi.toml") -> Outcome:
        return self.do("plane.set", file=file, edits={"wing.upper.span_mm": value})

    def text(self, file: str = "bi.toml") -> str:
        return (self.folder / file).read_bytes().decode()

    def again(self) -> None:
        self.work.close()
        self.work = Workspace(self.folder)

    def plane(self, file: str = "bi.toml") -> Any:
        return next(entry for entry in self.work.folder_page().planes if entry.file == file)

    def plan(self, file: str = "bi.plan.toml") -> Any:
        return next(entry for entry in self.work.folder_page().plans if entry.file == file)
