"""Commands predict and tune: exit codes, where text goes, plan files, air options."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from evenfall import cli, workflow
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import is_edited
from evenfall.workflow import Predicted, TuneAnswer

DEMO = str(demo_path("biplane_124"))
Run = Callable[..., tuple[int, str, str]]


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "evenfall", *arguments], capture_output=True, text=True, encoding="utf-8", check=False
    )


@pytest.fixture
def inside(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """The command in this process: exit code, standard output, standard error."""

    def call(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["evenfall", *arguments])
        code = 0
        try:
            cli.main()
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return code, out, err

    return call


@pytest.fixture
def solved(
    monkeypatch: pytest.MonkeyPatch, tuned: Callable[[str], TuneAnswer], present: Callable[[str], Predicted]
) -> None:
    """`tune` and `predict` answer at once, from what this session solved already."""
    monkeypatch.setattr(workflow, "tune", lambda plane, **_: tuned(Path(plane).stem))
    monkeypatch.setattr(workflow, "predict", lambda plane, plan=None, **_: present(Path(plane).stem))


def test_the_whole_job_as_a_pilot_runs_it(tmp_path: Path) -> None:
    plan = tmp_path / "x.plan.toml"
    made = run("tune", DEMO, "-o", str(plan), "--json")
    assert made.returncode == 0, made.stderr
    document = json.loads(made.stdout)
    assert document["status"] in ("met", "limited")
    assert f"Plan written to {plan}." in made.stderr
    flown = run("predict", DEMO, str(plan), "--json", "--elevation-m", "1500", "--temperature-c", "30")
    assert flown.returncode == 0, flown.stderr
    high = json.loads(flown.stdout)
    assert high["plan"] == "x.plan.toml"
    assert high["air"]["density_kg_m3"] == pytest.approx(1.05807 * 278.4 / 303.15, rel=1e-3)
    # Thinner air: the same plan falls faster.
    low, up = (page["lines"][0]["steady"][0]["speed_m_s"]["value"] for page in (document["predicted"], high))
    assert up > low


@pytest.mark.usefixtures("solved")
@pytest.mark.parametrize("command", ["predict", "tune"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_tables_go_to_standard_output(inside: Run, command: str, units: str) -> None:
    code, out, err = inside(command, DEMO, "--units", units)
    assert (code, err) == (0, "")
    assert "How it falls" in out
    assert ("mph" in out) == (units == "imperial")


@pytest.mark.usefixtures("solved")
@pytest.mark.parametrize("command", ["predict", "tune"])
def test_json_is_one_document_without_nan(inside: Run, command: str) -> None:
    code, out, err = inside(command, DEMO, "--json")
    assert (code, err) == (0, "")

    def refuse(word: str) -> None:
        raise AssertionError(word)

    assert json.loads(out, parse_constant=refuse)["plane"] == "Demo biplane 1.24 m (invented)"


@pytest.mark.usefixtures("solved")
def test_a_limited_plan_still_exits_with_zero(inside: Run, tmp_path: Path) -> None:
    plan = tmp_path / "mono.plan.toml"
    code, out, err = inside("tune", str(demo_path("monoplane_160")), "-o", str(plan))
    assert code == 0
    assert "This is the nearest" in out
    assert f"Plan written to {plan}." in err
    assert not is_edited(plan.read_text(encoding="utf-8"))


def test_no_plan_at_all_exits_with_three_and_writes_nothing(inside: Run, tmp_path: Path) -> None:
    plane, plan = tmp_path / "plane.toml", tmp_path / "x.plan.toml"
    text = demo_path("monoplane_160").read_text(encoding="utf-8")
    rows = [
        "throw_up_deg = 7" if r.startswith("throw_up") else "throw_down_deg = 7" if r.startswith("throw_down") else r
        for r in text.split("\n")
    ]
    plane.write_text("\n".join(rows), encoding="utf-8")
    code, out, _ = inside("tune", str(plane), "-o", str(plan), "--json")
    assert code == 3
    document = json.loads(out)
    assert (document["status"], document["plan"], document["candidates"]) == ("none", None, [])
    assert document["remedies"]
    assert not plan.exists()


@pytest.mark.usefixtures("solved")
def test_an_edited_plan_is_refused_then_kept_with_force(inside: Run, tmp_path: Path) -> None:
    plan = tmp_path / "x.plan.toml"
    assert inside("tune", DEMO, "-o", str(plan))[0] == 0
    assert inside("tune", DEMO, "-o", str(plan))[0] == 0  # not edited: written over
    mine = plan.read_text(encoding="utf-8") + "# mine\n"
    plan.write_text(mine, encoding="utf-8")
    code, out, err = inside("tune", DEMO, "-o", str(plan))
    assert (code, out) == (2, "")
    assert "was edited" in err
    assert "--force" in err
    code, out, err = inside("tune", DEMO, "-o", str(plan), "--force")
    assert code == 0
    assert f"(the edited one is kept as {plan}.1)" in err
    assert Path(f"{plan}.1").read_text(encoding="utf-8") == mine


def test_the_target_is_checked_before_the_work(inside: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("computed although the plan cannot be written")

    monkeypatch.setattr(workflow, "tune", never)
    for target, words in (
        (tmp_path, "is a directory; give the plan a file name"),
        (tmp_path / "no" / "x.toml", "there is no folder"),
        (Path(DEMO), "was edited (or is no plan of ours)"),
        (tmp_path / ("x" * 300), "cannot be used"),
    ):
        code, out, err = inside("tune", DEMO, "-o", str(target))
        assert (code, out) == (2, "")
        assert words in err


@pytest.mark.parametrize("command", ["predict", "tune"])
def test_bad_air_is_refused_all_at_once(inside: Run, command: str) -> None:
    code, out, err = inside(command, DEMO, "--elevation-m", "9000", "--temperature-c", "300", "--pressure-hpa", "29.92")
    assert (code, out) == (2, "")
    assert err.splitlines() == [
        "--elevation-m is 9000; allowed is -500 to 6000",
        "--temperature-c is 300; allowed is -40 to 60",
        "--pressure-hpa is 29.92; allowed is 400 to 1100",
    ]


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e400"])
@pytest.mark.parametrize("option", ["--elevation-m", "--temperature-c", "--pressure-hpa"])
def test_air_that_is_no_number_is_refused(inside: Run, option: str, value: str) -> None:
    code, out, err = inside("predict", DEMO, f"{option}={value}")
    assert (code, out) == (2, "")
    assert option in err


@pytest.mark.parametrize("command", ["predict", "tune"])
def test_missing_and_wrong_files_are_plain_faults(inside: Run, command: str, tmp_path: Path) -> None:
    for plane, words in ((tmp_path / "no.toml", "no such file|not exist|no file"), (tmp_path, "this is a directory")):
        code, out, err = inside(command, str(plane))
        assert (code, out) == (2, "")
        assert any(word in err for word in words.split("|")), err


def test_faults_of_a_plan_file_name_their_lines(inside: Run, tmp_path: Path) -> None:
    plan = tmp_path / "x.plan.toml"
    plan.write_text('format = 1\nplane = "x"\n[motor]\nlevel = "26"\n', encoding="utf-8")
    code, out, err = inside("predict", DEMO, str(plan))
    assert (code, out) == (2, "")
    assert "line 4: motor.level: must be one of" in err
    assert "motor.throttle_curve: is missing" in err


@pytest.mark.parametrize(
    "arguments", [["predict"], ["tune"], ["tune", DEMO, "--force=maybe"], ["predict", DEMO, "a", "b"]]
)
def test_wrong_use_of_the_jobs_exits_with_two(inside: Run, arguments: list[str]) -> None:
    code, _, err = inside(*arguments)
    assert code == 2
    assert err
