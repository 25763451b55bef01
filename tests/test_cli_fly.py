"""evenfall fly: text, JSON, two plans, and what is wrong said plainly."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import write_plan
from evenfall.workflow import TuneAnswer

PLANE = str(demo_path("biplane_124"))
SEQUENCE = """format = 1
name = "Short (invented)"
entry_height_m = 60
[[figure]]
name = "Half loop"
parts = [
  { line_deg = 0, length_m = 30 },
  { loop_deg = 180, radius_m = 22, towards = "canopy" },
  { line_deg = 0, length_m = 40, rolls = [{ roll_deg = 180 }] },
]
"""


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "evenfall", "fly", *arguments]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


@pytest.fixture(scope="module")
def files(tuned: Callable[[str], TuneAnswer], tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    made = tuned("biplane_124").plan
    assert made is not None
    folder: Path = tmp_path_factory.mktemp("fly")
    write_plan(made, folder / "a.plan.toml")
    (folder / "short.seq.toml").write_text(SEQUENCE, encoding="utf-8")
    return str(folder / "a.plan.toml"), str(folder / "short.seq.toml")


def test_a_programme_is_flown_in_text_and_json(files: tuple[str, str]) -> None:
    found = run(PLANE, *files, "--parts")
    assert found.returncode == 0, found.stderr
    for words in ("Short (invented)", "Half loop", "Flown to the end.", "Box:", "mAh"):
        assert words in found.stdout
    page = json.loads(run(PLANE, *files, "--json", "--charge-percent", "80").stdout)
    assert page["ended"] == "flown"
    assert 70 < page["left_percent"] < 80
    assert len(page["figures"][0]["parts"]) == 3


def test_two_flights_side_by_side(files: tuple[str, str]) -> None:
    found = run(PLANE, *files, "--against", files[0], "--with", "mass.all_up_g=1200")
    assert found.returncode == 0, found.stderr
    for words in ("flown twice", "a.plan.toml with mass.all_up_g=1200", "Unevenness"):
        assert words in found.stdout


def test_a_change_without_effect_is_refused(files: tuple[str, str], tmp_path: Path) -> None:
    rows = [(30, 18, 35), (80, 25, 19), (124, 22, 12), (160, 12, 9)]
    blade = "".join(f"\n[[propeller.station]]\nr_mm = {r}\nchord_mm = {c}\nangle_deg = {a}\n" for r, c, a in rows)
    plane = tmp_path / "measured.toml"
    plane.write_text(demo_path("biplane_124").read_text(encoding="utf-8") + blade, encoding="utf-8")
    found = run(str(plane), *files, "--with", "propeller.pitch_in=5")
    assert found.returncode == 2
    assert (
        "propeller.pitch_in changes nothing: this propeller's blade is given by its measured stations" in found.stderr
    )


def test_wrong_input_is_said_plainly(files: tuple[str, str], tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.seq.toml"
    wrong.write_text(SEQUENCE.replace("loop_deg = 180", "loop_deg = 170"), encoding="utf-8")
    for arguments, words in (
        ((PLANE, files[0], str(wrong)), "figure 1 (Half loop): a line of 0 deg is asked for"),
        ((PLANE, files[0], str(tmp_path / "none.seq.toml")), "there is no such file"),
        ((PLANE, *files, "--charge-percent", "0"), "charge above 0"),
    ):
        found = run(*arguments)
        assert found.returncode == 2
        assert words in found.stderr
        assert "Traceback" not in found.stderr
