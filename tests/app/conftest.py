"""Servers and folders for the tests of the app."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import app_served
from workspace_bench import TEXT, Bench


@pytest.fixture(scope="session")
def served() -> ModuleType:
    """The module `app_served.py`: pretended folder and engine, servers on real sockets."""
    return app_served


@pytest.fixture
def running(served: Any) -> Iterator[Any]:
    """A server in this process over a pretended folder and engine."""
    with served.running() as server:
        yield server


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A workspace on a folder that holds `bi.toml`."""
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "bi.toml").write_bytes(TEXT.encode())
    made = Bench(folder)
    yield made
    made.work.close()
