"""evenfall learn: text, JSON, the template, and what is wrong said plainly."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from evenfall.cli import main
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import write_plan
from evenfall.workflow import TuneAnswer

PLANE = str(demo_path("biplane_124"))


@dataclass(frozen=True)
class Ran:
    """How a command ended."""

    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The command in this process."""

    def ran(*arguments: str) -> Ran:
        monkeypatch.setattr(sys, "argv", ["evenfall", "learn", *arguments])
        with pytest.raises(SystemExit) as ended:
            main()
        seen = capsys.readouterr()
        return Ran(int(ended.value.code or 0), seen.out, seen.err)

    return ran


@pytest.fixture(scope="module")
def plan(tuned: Callable[[str], TuneAnswer], tmp_path_factory: pytest.TempPathFactory) -> str:
    made = tuned("biplane_124").plan
    assert made is not None
    path = tmp_path_factory.mktemp("learn") / "a.plan.toml"
    write_plan(made, path)
    return str(path)


def test_two_timed_lines_in_json(run: Run, plan: str, tmp_path: Path) -> None:
    flight = tmp_path / "sunday.flight.toml"
    entry = "[[timed]]\nseconds = 4.4\nlength_m = 100\nentry_speed_m_s = 20\n"
    flight.write_text("format = 1\n" + 2 * entry)
    found = run(PLANE, plan, str(flight), "--json", "--elevation-m", "500")
    assert found.returncode == 0, found.stderr
    page = json.loads(found.stdout)
    assert page["flights"] == 1
    assert [piece["name"] for piece in page["pieces"]] == ["sunday, timed 1", "sunday, timed 2"]
    before, after = page["speeds"][0]["before_m_s"], page["speeds"][0]["after_m_s"]
    assert after["value"] > before["value"]
    assert after["spread"] < before["spread"]
    assert page["change"] is not None


def test_template_is_written_once_and_learned_from(run: Run, plan: str, tmp_path: Path) -> None:
    target = tmp_path / "new.flight.toml"
    assert run("--template", str(target)).returncode == 0
    again = run("--template", str(target))
    assert again.returncode == 2
    assert "exists and is left as it is" in again.stderr
    found = run(PLANE, plan, str(target))
    assert found.returncode == 0
    assert "0 pieces of evidence" in found.stdout
    assert "Next flight: " in found.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "evenfall learn PLANE PLAN sunday.flight.toml"),
        ((PLANE, "none.plan.toml", "none.flight.toml"), "none.flight.toml: there is no such file"),
        ((PLANE, "none.plan.toml", PLANE), "is not known at the top of the file"),
    ],
)
def test_what_is_missing_is_said(run: Run, arguments: tuple[str, ...], words: str) -> None:
    found = run(*arguments)
    assert found.returncode == 2
    assert words in found.stderr
