"""Carrying a plan to another plane, as the pilot does it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from evenfall.cli import app
from evenfall.errors import FileFaults, InputError
from evenfall.plane.plane_edit import edits_of
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import load_plan, write_plan
from evenfall.workflow import TuneAnswer
from evenfall.workflow.carrying import learned_from


@pytest.fixture
def plan_file(tmp_path: Path, tuned: Callable[[str], TuneAnswer]) -> Path:
    plan = tuned("biplane_124").plan
    assert plan is not None
    path = tmp_path / "first.plan.toml"
    write_plan(plan, path, force=False)
    return path


def test_carry_writes_a_plan_for_the_other_plane(plan_file: Path, tmp_path: Path) -> None:
    new = tmp_path / "other.plan.toml"
    done = CliRunner().invoke(
        app, ["carry", str(demo_path("biplane_124")), str(plan_file), str(demo_path("biplane_155")), "-o", str(new),
              "--json"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    page = json.loads(done.stdout)
    assert page["possible"]
    assert page["wanted_m_s"] == 22.0
    assert page["down_m_s"]["value"] == pytest.approx(22.0, abs=0.5)
    assert any("24.0 m/s" in note for note in page["notes"])
    assert {row["belongs"] for row in page["carried"]} == {"airframe", "power train"}
    assert page["fly_first"]
    from evenfall.plane.files import load_plane

    plan = load_plan(new, load_plane(demo_path("biplane_155")).plane)
    assert plan.crow is not None
    rolled = [row for row in page["answers"] if row["what"].startswith("normal: roll")]
    assert rolled[0]["met"]


def test_what_if_on_one_plane(plan_file: Path) -> None:
    plane = str(demo_path("biplane_124"))
    done = CliRunner().invoke(
        app, ["carry", plane, str(plan_file), plane, "--with", "propeller.pitch_in=6", "--with", "mass.all_up_g=1150"]
    )
    assert done.exit_code == 0, done.output
    assert "crow of the upper wing" in done.output


def test_a_plan_that_is_not_there_is_said_beside_a_logbook_too(tmp_path: Path) -> None:
    plane = tmp_path / "plane.toml"
    plane.write_text(demo_path("biplane_124").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "logbook").mkdir()
    with pytest.raises(FileFaults, match="there is no such file"):
        learned_from(plane, tmp_path / "none.plan.toml", [])


def test_changes_that_are_none_are_said_at_once() -> None:
    with pytest.raises(InputError, match=r"(?s)pitch.*KEY=VALUE.*=6"):
        edits_of(["pitch", "=6", "a.b=1"])
    assert edits_of(["controller.present_level=50", "a=b c"]) == {"controller.present_level": 50.0, "a": "b c"}
