"""Every script of the gallery runs, says what it promises, and is listed with its sentence."""

from __future__ import annotations

import re
import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
GALLERY = ROOT / "examples"
PROMISES = {
    "crow_and_roll.py": ["crow up/down", "30 deg of crow"],
    "doubt_of_the_down_speed.py": ["vertical down 22", "corrections.crow_drag"],
    "edit_a_plan.py": ["level    0", "level  100", "writing again"],
    "half_brake.py": ["level  25", "<- fickle"],
    "holding_stick.py": ["with crow", "without", "-90 deg -- Faster than wanted"],
    "map_to_svg.py": ["map.svg", "Two propeller speeds"],
    "steady_lines.py": ["as it is now", "with the tuned plan", "vertical down"],
    "timed_pass.py": ["wanted speed 21.3"],
}
"""Words that each script must print."""
pytestmark = pytest.mark.documents


def test_every_script_is_here_and_listed() -> None:
    names = {path.name for path in GALLERY.glob("*.py")}
    assert names == set(PROMISES)
    listed = (GALLERY / "README.md").read_text(encoding="utf-8")
    assert set(re.findall(r"`(\w+\.py)`", listed)) == names


@pytest.mark.parametrize("name", sorted(PROMISES))
def test_script_runs(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.argv", [name])
    runpy.run_path(str(GALLERY / name), run_name="__main__")
    shown = capsys.readouterr().out
    for words in PROMISES[name]:
        assert words in shown, (words, shown)


def test_the_crow_takes_roll_response() -> None:
    rows = runpy.run_path(str(GALLERY / "crow_and_roll.py"))["left"]("up/down")
    assert rows[0] == pytest.approx(1.0)
    assert (rows[-1] < 0.7).all()


def test_a_plan_by_hand_is_never_overwritten(tmp_path: Path) -> None:
    runpy.run_path(str(GALLERY / "edit_a_plan.py"))["main"](str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["biplane_155.plan.toml"]
    assert 'level = "100"' in (tmp_path / "biplane_155.plan.toml").read_text(encoding="utf-8")
