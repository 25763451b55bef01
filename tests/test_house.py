"""start.py: sets up once, is quick afterwards, notices changes, explains itself."""

from __future__ import annotations

import ast
import importlib.util
import os
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture
def start(tmp_path: Path) -> ModuleType:
    """start.py in a folder of its own, with commands recorded instead of run."""
    (tmp_path / "src" / "evenfall").mkdir(parents=True)
    (tmp_path / "src" / "evenfall" / "__init__.py").write_text('__version__ = "1"\n')
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    target = tmp_path / "start.py"
    target.write_bytes((ROOT / "start.py").read_bytes())
    spec = importlib.util.spec_from_file_location("start_under_test", target)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    calls: list[list[str]] = []

    def run(command: list[str], quiet: bool = False) -> int:
        calls.append(command)
        if command[1:3] == ["-m", "venv"]:
            python = Path(module.environment_python())
            python.parent.mkdir(parents=True, exist_ok=True)
            python.write_text("")
        return 0

    def hand_over(command: list[str]) -> None:
        calls.append(command)

    setattr(module, "run", run)  # noqa: B010
    setattr(module, "hand_over", hand_over)  # noqa: B010
    setattr(module, "calls", calls)  # noqa: B010
    return module


def commands(module: Any) -> list[str]:
    found = [" ".join(command[1:]) for command in module.calls]
    module.calls.clear()
    return found


def test_sets_up_once_then_hands_over(start: Any) -> None:
    start.main(["check", "x.toml"])
    first = commands(start)
    assert any("-m venv" in command for command in first)
    assert any("pip install" in command for command in first)
    assert first[-1] == "-m evenfall check x.toml"
    start.main([])
    (only,) = commands(start)
    assert only.startswith("-m evenfall ")
    assert "biplane_124.toml" in only


def test_tests_add_the_extras_and_keep_them(start: Any) -> None:
    start.main([])
    commands(start)
    start.main(["--test"])
    found = commands(start)
    assert any("[develop,test]" in command for command in found)
    assert found[-1] == "-m pytest -n 2 -m not reference and not long"
    start.main(["--test", "--long", "-x"])
    assert commands(start) == ["-m pytest -n 2 -m not reference -x"]
    start.main(["--version"])
    assert commands(start) == ["-m evenfall --version"]


@pytest.mark.parametrize("name", ["pyproject.toml", "src/evenfall/__init__.py"])
def test_changes_are_noticed(start: Any, name: str) -> None:
    start.main(["--test"])
    commands(start)
    path = Path(start.HERE) / name
    path.write_text(path.read_text() + "# changed\n")
    start.main(["--help"])
    assert any("[develop,test]" in command for command in commands(start))


def test_an_interrupted_installation_is_repeated(start: Any) -> None:
    def interrupted(command: list[str], quiet: bool = False) -> int:
        if "pip" in command:
            raise KeyboardInterrupt
        return 0

    whole, start.run = start.run, interrupted
    with pytest.raises(KeyboardInterrupt):
        start.main([])
    assert not os.path.exists(start.STAMP)
    start.run = whole
    start.main([])
    assert any("pip install" in command for command in commands(start))
    assert os.path.exists(start.STAMP)


def test_old_python_and_missing_venv_are_explained(start: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 1))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or later; this is 3\.9"):
        start.main([])
    monkeypatch.undo()
    start.run = lambda command, quiet=False: 1
    with pytest.raises(SystemExit, match="python3-venv"):
        start.main([])
    start.usable = lambda python: True
    with pytest.raises(SystemExit, match="installation failed"):
        start.main([])


def test_start_is_standard_library_and_old_syntax() -> None:
    """Parses as Python 3.6 did, imports only the standard library, stays small."""
    text = (ROOT / "start.py").read_text(encoding="utf-8")
    tree = ast.parse(text, feature_version=(3, 6))
    names = {
        alias.name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
    }
    assert names <= set(sys.stdlib_module_names)
    assert len(text.splitlines()) < 150


@pytest.mark.skipif(not (ROOT / ".venv" / "evenfall-stamp.txt").exists(), reason="not set up by start.py")
def test_nothing_to_do_takes_under_half_a_second(tmp_path: Path) -> None:
    """Time that start.py adds to the command itself; the best of three."""
    probe = "import runpy, os, sys; os.execv = lambda *a: sys.exit(0); runpy.run_path('start.py', run_name='__main__')"
    best = min(_seconds([sys.executable, "-c", probe]) for _ in range(3))
    assert best < 0.5


def _seconds(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=False, capture_output=True)
    return time.perf_counter() - start
