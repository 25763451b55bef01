"""Carrying a plan to another plane, as the pilot does it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from typer.testing import CliRunner

from evenfall.cli import app
from evenfall.errors import FileFaults, InputError
from evenfall.plane.files import load_plane
from evenfall.plane.plane_edit import edits_of
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Arrangement
from evenfall.radio.planfile import load_plan, write_plan
from evenfall.record.parts import PARTS
from evenfall.workflow import TuneAnswer, carrying, keeping
from evenfall.workflow.carrying import Carried, Short, learned_from, voided


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


def run(*words: object) -> Any:
    return CliRunner().invoke(app, ["carry", *map(str, words)])


def test_a_what_if_with_another_level_is_kept_as_a_plane_with_its_plan(plan_file: Path, tmp_path: Path) -> None:
    plane, new = demo_path("biplane_124"), tmp_path / "with_hard_brake.toml"
    level = ("--with", "controller.present_level=75")
    done = run(plane, plan_file, plane, *level, "--with", "mass.all_up_g=1100", "--as", new)
    assert done.exit_code == 0, done.output
    assert "motor brake by spin-down" in done.output
    assert "Motor brake held at 75 as asked, 0 would be chosen." in done.output
    assert "* Motor brake at 75: Behind the chosen one" in done.output
    file = load_plane(new)
    assert file.plane.name == f"{load_plane(plane).plane.name}, with hard brake"
    assert (file.plane.controller.present_level, file.plane.mass.all_up) == ("75", pytest.approx(1.1))
    assert new.read_text(encoding="utf-8").startswith("# An invented aeroplane")
    beside = tmp_path / "with_hard_brake.plan.toml"
    plan = load_plan(beside, file.plane)
    assert plan.motor.level == "75"
    assert plan.plane_name == file.plane.name
    assert plan.computed_from["plane_hash"] == file.content_hash

    before = new.read_bytes(), beside.read_bytes()
    for there in (new, beside):
        again = run(plane, plan_file, plane, *level, "--as", new)
        assert f"{there} exists and is left as it is" in str(again.exception)
        assert (new.read_bytes() if new.exists() else before[0], beside.read_bytes()) == before
        new.unlink(missing_ok=True)
    assert not new.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--as", "new.plan.toml"), "no name for a plane file"),
        (("--as", "none/new.toml"), "there is no folder"),
        (("--as", "new.toml", "-o", "new.plan.toml"), "give one of them"),
        (("--with", "controller.present_level=33"), "33 is not among levels"),
    ],
)
def test_what_cannot_be_kept_is_said_before_anything_is_computed(
    plan_file: Path, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    plane = demo_path("biplane_124")
    done = run(plane, plan_file, plane, *(tmp_path / word if word.endswith(".toml") else word for word in words))
    assert isinstance(done.exception, InputError | FileFaults)
    assert said in str(done.exception)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["first.plan.toml"]


def test_a_kept_pair_is_written_whole_or_not_at_all(
    plan_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, tuned: Callable[[str], TuneAnswer]
) -> None:
    answer = SimpleNamespace(plan=tuned("biplane_124").plan, tuned=tuned("biplane_124"))
    real = keeping.write_new

    def full(path: Path, text: str) -> None:
        if path.name.endswith(".plan.toml"):
            path.write_text("half", encoding="utf-8")
            raise OSError(28, "No space left on device")
        real(path, text)

    monkeypatch.setattr(keeping, "write_new", full)
    with pytest.raises(InputError, match="No space left"):
        keeping.write_kept(cast("Carried", answer), tmp_path / "new.toml", name="New")
    assert not (tmp_path / "new.toml").exists()
    assert not (tmp_path / "new.plan.toml").exists()

    monkeypatch.setattr(keeping, "write_new", real)
    none = SimpleNamespace(plan=None, tuned=answer.tuned)
    with pytest.raises(InputError, match="nothing was written"):
        keeping.write_kept(cast("Carried", none), tmp_path / "new.toml", name="New")
    keeping.write_kept(cast("Carried", answer), tmp_path / "new.toml", name="New")
    assert load_plane(tmp_path / "new.toml").plane.name == "New"


def test_the_level_there_is_voids_nothing() -> None:
    changes = {"controller.present_level": 0.0}
    assert voided(changes, same_level=True) == ()
    assert "motor brake by spin-down" in voided(changes, same_level=False)
    assert voided({**changes, "mass.all_up_g": 1100.0}, same_level=True) == PARTS["weight"].voids


def test_a_level_that_is_refused_gives_no_plan_but_its_reason(
    plan_file: Path, tuned: Callable[[str], TuneAnswer]
) -> None:
    answer = tuned("biplane_124")
    refused = tuple(replace(item, verdict="refused", reasons=("It falls apart.",)) for item in answer.tuned.judged)
    spoiled = replace(answer, tuned=replace(answer.tuned, judged=refused))
    plan = load_plan(plan_file, load_plane(demo_path("biplane_124")).plane)
    assert carrying._at_level(spoiled, plan, "50") == (None, True)
    assert carrying._of_level(spoiled, None, "50") == "It falls apart."


@pytest.mark.parametrize("keys", [("upper", "lower"), ("upper",)])
def test_a_plane_without_ailerons_takes_no_plan_and_that_is_said_before_anything_is_computed(
    plan_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, keys: tuple[str, ...]
) -> None:
    def computed(*rest: object, **more: object) -> None:
        raise AssertionError("computed already")

    for name in ("made_ready", "learn", "learn_from_log"):
        monkeypatch.setattr(carrying, name, computed)
    (tmp_path / "logbook").mkdir()
    bare, first = tmp_path / "bare.toml", tmp_path / "first.toml"
    text = demo_path("biplane_124").read_text(encoding="utf-8")
    first.write_text(text, encoding="utf-8")
    for key in keys:
        text = re.sub(rf"(?ms)^\[wing\.{key}\.aileron\].*?(?=^\[)", "", text)
    bare.write_text(text, encoding="utf-8")
    done = run(first, plan_file, bare)
    if len(keys) == 1:
        assert "computed already" in str(done.exception)
        return
    said = (
        f"{load_plane(bare).plane.name} has no ailerons in its file, so it can fly no crow; give [wing.upper.aileron]"
    )
    assert isinstance(done.exception, InputError)
    assert str(done.exception) == said
    with pytest.raises(InputError, match="can fly no crow"):
        carrying.carry(first, plan_file, bare)


def test_a_speed_that_is_not_reached_is_said_with_what_is_missing(
    tmp_path: Path, tuned: Callable[[str], TuneAnswer]
) -> None:
    """The plan of a slow plane with one wing taken to a heavy biplane: the way its crow goes misses the speed."""
    plan = tuned("monoplane_160").plan
    assert plan is not None
    assert plan.crow is not None
    slow, proven = tmp_path / "slow.toml", tmp_path / "slow.plan.toml"
    text = demo_path("monoplane_160").read_text(encoding="utf-8")
    slow.write_text(re.sub(r"(?m)^speed_m_s = 23\.0", "speed_m_s = 14.0", text), encoding="utf-8")
    write_plan(plan, proven, force=False)
    done = run(slow, proven, demo_path("biplane_155"), "--json")
    assert done.exit_code == 0, done.output
    page = json.loads(done.stdout)
    name, other = page["plane"], page["other"]
    assert page["down_m_s"]["value"] > 20.0
    assert re.match(
        rf"{re.escape(other)} comes down at 2\d\.\d ± \d\.\d m/s with the stick closed, wanted is 14\.0 m/s as on "
        rf"{re.escape(name)}\. ",
        page["words"],
    )
    found = re.match(
        rf"This is the nearest with crow {plan.crow.arrangement}, the way it goes on the first plane; crow (\w+/\w+) "
        r"would come down at (\d+\.\d) m/s\. \d+\.\d N of drag are missing at 14\.0 m/s .* would buy it\.$",
        page["missing"],
    )
    assert found is not None, page["missing"]
    assert 14.0 < float(found[2]) < page["down_m_s"]["value"] - 1.0


def test_what_is_missing_is_said_of_the_plan_that_was_carried(tuned: Callable[[str], TuneAnswer]) -> None:
    """Not of the one that would be chosen; and a plan that reaches its speed is said to miss nothing."""
    answer = tuned("biplane_124")
    plan, wanted = answer.plan, answer.ready.wanted
    assert plan is not None
    assert plan.crow is not None
    assert carrying._short(answer, plan, wanted + 0.3, wanted) is None
    assert carrying._short(answer, replace(plan, crow=None), wanted + 5.0, wanted) is None
    moved = carrying._short(answer, plan, wanted + 0.6, wanted)
    assert moved == Short(remedy="", crow=plan.crow.arrangement)
    # The way of the plan reaches 30 m/s, another way of the same tuning the speed wanted.
    way: Arrangement = "both up" if plan.crow.arrangement != "both up" else "both down"
    slipped = [
        replace(item, candidate=replace(item.candidate, reach="too slow"))
        if item.candidate.arrangement == way
        else item
        for item in answer.tuned.judged
    ]
    spoiled = replace(answer, tuned=replace(answer.tuned, judged=tuple(slipped)))
    missed = carrying._short(spoiled, replace(plan, crow=replace(plan.crow, arrangement=way)), 30.0, wanted)
    assert missed is not None
    assert missed.remedy.startswith("Less motor brake")
    assert missed.nearer is not None
    assert missed.nearer == (plan.crow.arrangement, pytest.approx(wanted, abs=0.5))


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
