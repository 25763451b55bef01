"""The command `sheet`: refuses early and in words, writes what it says, JSON for programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from evenfall.cli import app
from evenfall.errors import EvenfallError
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import write_plan


@pytest.fixture(scope="module")
def files(tuned: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    plan = tmp_path_factory.mktemp("sheet") / "x.plan.toml"
    write_plan(tuned("biplane_124").plan, plan)
    return str(demo_path("biplane_124")), str(plan)


def test_writes_what_it_says(files: tuple[str, str], tmp_path: Path) -> None:
    target = tmp_path / "sheet.pdf"
    done = CliRunner().invoke(app, ["sheet", *files, "-o", str(target), "--paper", "letter", "--json"])
    assert done.exit_code == 0, done.output
    assert target.read_bytes().startswith(b"%PDF-")
    page = json.loads(done.stdout)
    assert len(page["arms"]) == 4
    assert len(page["gates"]) == 7


@pytest.mark.parametrize(("name", "words"), [(None, "say where"), ("sheet.doc", ".pdf"), ("no/sheet.pdf", "no folder")])
def test_refuses_before_the_work(files: tuple[str, str], tmp_path: Path, name: str | None, words: str) -> None:
    target = [] if name is None else ["-o", str(tmp_path / name)]
    done = CliRunner().invoke(app, ["sheet", *files, *target])
    assert isinstance(done.exception, EvenfallError)
    assert words in str(done.exception)


def test_missing_plan_is_said(tmp_path: Path) -> None:
    plane = str(demo_path("biplane_124"))
    done = CliRunner().invoke(app, ["sheet", plane, str(tmp_path / "no.plan.toml"), "-o", str(tmp_path / "x.pdf")])
    assert isinstance(done.exception, EvenfallError)
    assert "no.plan.toml" in str(done.exception)
