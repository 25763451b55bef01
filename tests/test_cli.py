"""The command: exit codes, plain faults, nothing overwritten, fast help."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import pytest

from evenfall.plane.starter import DEMOS, PROGRAMMES, demo_path


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "evenfall", *arguments], capture_output=True, text=True, encoding="utf-8", check=False
    )


def test_new_writes_and_never_overwrites(tmp_path: Path) -> None:
    folder = tmp_path / "planes"
    first = run("new", str(folder))
    assert first.returncode == 0
    mine = folder / "my_plane.toml"
    assert sorted(path.name for path in folder.iterdir()) == sorted(
        [
            "my_plane.toml",
            "my_radio.toml",
            *(f"demo_{name}.toml" for name in DEMOS),
            *(f"{name}.seq.toml" for name in PROGRAMMES),
        ]
    )
    mine.write_text("mine", encoding="utf-8")
    again = run("new", str(folder), "--json")
    assert again.returncode == 0
    assert str(mine) in json.loads(again.stdout)["kept"]
    assert mine.read_text(encoding="utf-8") == "mine"


def test_new_into_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("", encoding="utf-8")
    found = run("new", str(tmp_path / "x"))
    assert found.returncode == 2
    assert "cannot be made a folder" in found.stderr
    assert "Traceback" not in found.stderr


def test_check_prints_what_was_read_and_guessed() -> None:
    found = run("check", str(demo_path("foam_biplane_085")))
    assert found.returncode == 0
    for words in (
        "Demo foam biplane",
        "wing loading",
        "Guessed",
        "motor.resistance_mohm",
        "measuring it buys",
        "245 +- 2 g",
    ):
        assert words in found.stdout
    imperial = run("check", str(demo_path("foam_biplane_085")), "--units", "imperial")
    assert "oz/ft²" in imperial.stdout


def test_check_json_is_unrounded_and_complete() -> None:
    found = json.loads(run("check", str(demo_path("biplane_124")), "--json").stdout)
    assert set(found) == {"file", "content_hash", "name", "facts", "spreads", "guesses", "classes", "notes"}
    assert found["facts"]["wing_area_m2"] == pytest.approx(0.40424, rel=1e-12)
    assert found["spreads"]["mass.all_up"] == {"value": 1.05, "spread": pytest.approx(0.005), "source": "stated"}
    assert {"key", "value", "spread", "why", "buys", "how"} == set(found["guesses"][0])


def test_faults_are_plain_text_on_standard_error(tmp_path: Path) -> None:
    path = tmp_path / "plane.toml"
    path.write_text("format = 1\nspeed_m_s = 22,5\n", encoding="utf-8")
    found = run("check", str(path))
    assert found.returncode == 2
    assert found.stdout == ""
    assert "line 2: speed_m_s: 22,5 has a decimal comma; write 22.5" in found.stderr
    assert "Traceback" not in found.stderr


@pytest.mark.parametrize(
    "arguments", [["check"], ["chek", "x"], ["check", "x", "--units", "furlong"], ["check", "--nope", "x"]]
)
def test_wrong_use_exits_with_two(arguments: list[str]) -> None:
    found = run(*arguments)
    assert found.returncode == 2
    assert "Traceback" not in found.stderr


def test_version_and_module() -> None:
    from evenfall import __version__

    assert run("--version").stdout.strip() == __version__


def test_help_loads_nothing_heavy() -> None:
    """`--help` answers before NumPy, SciPy, pydantic or rich are imported."""
    code = (
        "import sys; sys.argv = ['evenfall', '--help']\n"
        "from evenfall.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "bad = {'numpy', 'scipy', 'pydantic', 'rich', 'tomlkit'} & set(sys.modules)\n"
        "sys.exit(f'imported {bad}' if bad else 0)\n"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert found.returncode == 0, found.stderr


def test_help_is_quick() -> None:
    """Aim .15 s; three tries, the best counts, with room for a busy machine."""
    best = min(_seconds("--help") for _ in range(3))
    assert best < 0.6


def _seconds(*arguments: str) -> float:
    start = time.perf_counter()
    run(*arguments)
    return time.perf_counter() - start
