"""Servers for the tests of the app."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest


@pytest.fixture(scope="session")
def served() -> ModuleType:
    """The module `app_served.py`: pretended folder and engine, servers on real sockets."""
    name = "evenfall_app_served"
    if name not in sys.modules:
        path = Path(__file__).parents[1] / "app_served.py"
        spec = importlib.util.spec_from_file_location(name, path)
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture
def running(served: Any) -> Iterator[Any]:
    """A server in this process over a pretended folder and engine."""
    with served.running() as server:
        yield server
