"""The documents agree with the code: version, words, links, docstrings, no private paths."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest

from evenfall import __version__
from evenfall.cli import app
from evenfall.errors import EvenfallError
from evenfall.numeric import Status

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "src" / "evenfall").rglob("*.py"))
TEXTS = sorted(
    path
    for pattern in (
        "*.md",
        "*.cff",
        "*.py",
        "pyproject.toml",
        "src/**/*",
        "tests/**/*",
        "tools/**/*",
        ".ci/*",
        "scripts/*",
    )
    for path in ROOT.glob(pattern)
    if path.is_file() and path.suffix in {".md", ".cff", ".py", ".toml", ".json", ".csv", ""}
)
pytestmark = pytest.mark.documents


def text(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def test_version_is_one() -> None:
    assert f"\nversion: {__version__}\n" in text("CITATION.cff")
    assert f"## {__version__}" in text("CHANGELOG.md")
    assert tomllib.loads(text("pyproject.toml"))["project"]["dynamic"] == ["version"]


def test_readme_begins_with_the_job_then_the_two_commands() -> None:
    blocks = text("README.md").split("\n\n")
    assert blocks[0] == "# Evenfall"
    assert "braking plan" in " ".join(blocks[1].split())
    assert [line.strip() for line in blocks[2].splitlines()] == ["python3 start.py", "python3 start.py --test"]


def test_every_command_is_in_the_readme() -> None:
    names = {command.name or command.callback.__name__ for command in app.registered_commands if command.callback}
    for name in names:
        assert f"start.py {name} " in text("README.md"), name


def test_every_public_name_is_documented() -> None:
    from evenfall import api

    for name in api.__all__:
        assert getattr(api, name).__doc__, name
        assert re.search(rf"`{name}`", text("README.md")), name


def test_links_and_named_files_exist() -> None:
    for name in ("README.md", "ARCHITECTURE.md", "CONVENTIONS.md"):
        for target in re.findall(r"\]\(([^)#:]+)\)", text(name)):
            assert (ROOT / target).exists(), (name, target)
    for path in re.findall(r"`([a-z_]+/[a-z_]+\.py)`", text("ARCHITECTURE.md")):
        assert (ROOT / "src" / "evenfall" / path).exists(), path


def test_architecture_names_every_layer() -> None:
    layers = tomllib.loads(text("pyproject.toml"))["tool"]["importlinter"]["contracts"][0]["layers"]
    for layer in layers:
        for name in re.findall(r"\w+", layer):
            if (ROOT / "src" / "evenfall" / name).is_dir() or (ROOT / "src" / "evenfall" / f"{name}.py").exists():
                assert re.search(rf"`{name}/?`", text("ARCHITECTURE.md")), name


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT / "src")))
def test_public_names_have_docstrings(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert ast.get_docstring(tree), "the module says what it is for"
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            assert ast.get_docstring(node), node.name
            for item in node.body:
                if isinstance(item, ast.FunctionDef) and not item.name.startswith("_") and not _trivial(item):
                    assert ast.get_docstring(item), f"{node.name}.{item.name}"
    for item in tree.body:
        if isinstance(item, ast.FunctionDef) and not item.name.startswith("_"):
            assert ast.get_docstring(item), item.name


def _trivial(node: ast.FunctionDef) -> bool:
    """An overload or a member of a protocol: its body is an ellipsis."""
    last = node.body[-1]
    return isinstance(last, ast.Expr) and isinstance(last.value, ast.Constant) and last.value.value is Ellipsis


def test_every_status_has_a_sentence_with_a_remedy() -> None:
    for status in Status:
        assert status.text.endswith(".")


def test_every_exception_is_in_the_tree() -> None:
    import evenfall.errors as errors

    for name, value in vars(errors).items():
        if isinstance(value, type) and issubclass(value, Exception):
            assert issubclass(value, EvenfallError), name
            assert value.__doc__


def test_nothing_names_a_place_on_one_machine() -> None:
    roots = "|".join(re.escape("/" + name + "/") for name in ("work", "tmp", "root", "home"))
    for path in TEXTS:
        if path.name == "test_documents.py":
            continue
        found = re.search(rf"(?<![\w.~])(?:{roots})", path.read_text(encoding="utf-8"))
        assert found is None, (path, found)


def test_code_blocks_of_the_readme_run(capsys: pytest.CaptureFixture[str]) -> None:
    for block in re.findall(r"```python\n(.*?)```", text("README.md"), re.S):
        exec(compile(block, "README.md", "exec"), {})
    assert capsys.readouterr().out.split()[0] in {"met", "limited"}
