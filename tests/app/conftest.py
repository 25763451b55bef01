"""Servers for the tests of the app."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType
from typing import Any

import pytest

import app_served


@pytest.fixture(scope="session")
def served() -> ModuleType:
    """The module `app_served.py`: pretended folder and engine, servers on real sockets."""
    return app_served


@pytest.fixture
def running(served: Any) -> Iterator[Any]:
    """A server in this process over a pretended folder and engine."""
    with served.running() as server:
        yield server
