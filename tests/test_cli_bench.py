"""The command bench: the list, a form, measured and typed angles, exit codes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from evenfall import workflow
from evenfall.plane.starter import demo_path
from evenfall.radio.planfile import write_plan

PLANE = str(demo_path("biplane_124"))


def run(*arguments: str, typed: str | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "evenfall", "bench", *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        input=typed,
    )


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> str:
    answer = workflow.tune(PLANE)
    assert answer.plan is not None
    path = tmp_path_factory.mktemp("bench") / "a.plan.toml"
    write_plan(answer.plan, path)
    return str(path)


def test_the_list(plan: str) -> None:
    found = run(PLANE, plan)
    assert found.returncode == 0, found.stderr
    assert "PROPELLER OFF" in found.stdout
    assert "level flight" in found.stdout
    data = json.loads(run(PLANE, plan, "--json").stdout)
    assert {"cautions", "motor", "corners", "phases", "proof"} <= set(data)


def test_form_filled_in_and_judged(plan: str, tmp_path: Path) -> None:
    form = tmp_path / "form.csv"
    assert run(PLANE, plan, "--write-form", str(form)).returncode == 0
    again = run(PLANE, plan, "--write-form", str(form))
    assert again.returncode == 2
    assert "left as it is" in again.stderr
    empty = run(PLANE, plan, "--measured", str(form))
    assert empty.returncode == 2
    assert "no angle is filled in" in empty.stderr
    wanted, _ = workflow.bench_known(PLANE, plan, form)
    rows = []
    for row in form.read_text(encoding="utf-8").splitlines():
        cells = row.split(";")
        if cells[0] != "snap":
            rows.append(row)
            continue
        phase = wanted.plan.named("snap")
        out = wanted.deployment(phase, float(cells[1]) / 100)
        for at, (name, corner) in enumerate(wanted.corners.items()):
            angle = corner.angle(phase, out, float(cells[2]) / 100) * 57.29577951
            sign = -1 if name == "upper_left" else 1
            cells[4 + at] = f"{sign * angle:.1f}".replace(".", ",")
        rows.append(";".join(cells))
    form.write_text("\r\n".join(rows), encoding="utf-8")
    found = run(PLANE, plan, "--measured", str(form))
    assert found.returncode == 0  # an answer was written, also with faults
    assert "*** DO NOT FLY: Upper left." in found.stdout
    data = json.loads(run(PLANE, plan, "--measured", str(form), "--json").stdout)
    assert data["proof"]["good"] is False
    assert data["proof"]["corners"][0]["verdict"] == "DO NOT FLY"


def test_typing_survives_the_end_of_the_input(plan: str, tmp_path: Path) -> None:
    path = tmp_path / "typed.toml"
    found = run(PLANE, plan, "--measured", str(path), "--type", typed="0.1\n-0,1\n")
    assert found.returncode == 0, found.stderr
    assert "2 angles written" in found.stdout
    assert "Not measured yet" in found.stdout
    more = run(PLANE, plan, "--measured", str(path), "--type", typed="0.2\nq\n")
    assert more.returncode == 0
    assert path.read_text(encoding="utf-8").count("[[reading]]") == 3
    none = run(PLANE, plan, "--measured", str(tmp_path / "new.csv"), "--type", typed="q\n")
    assert none.returncode == 0
    assert none.stdout.rstrip().endswith("new.csv.")
    assert not (tmp_path / "new.csv").exists()


@pytest.mark.outside
def test_bad_input_is_two_and_plain(plan: str, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("phase;throttle_percent;aileron_percent;upper_left_deg\nsnap;0;x;1\n", encoding="utf-8")
    for arguments in (
        (PLANE, plan, "--measured", str(path)),
        (PLANE, plan, "--measured", str(tmp_path / "no.csv")),
        (PLANE, plan, "--type"),
        (PLANE, plan, "--measured", str(path), "--write-form", str(path)),
        (PLANE, str(tmp_path / "no.plan.toml")),
        (PLANE, plan, "--write-form", str(tmp_path / "no" / "x.csv")),
    ):
        found = run(*arguments)
        assert found.returncode == 2, arguments
        assert "Traceback" not in found.stderr
        assert found.stdout == ""
