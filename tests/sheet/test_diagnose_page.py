"""The page of causes and `why`: every check filled in, every cause with its source, the command's faults plain."""

from __future__ import annotations

import json
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from evenfall.fit.causes import chart
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import present_plan
from evenfall.radio.planfile import write_plan
from evenfall.sheet.diagnose_make import all_signs, diagnose_page
from evenfall.sheet.diagnose_page import DiagnosePage
from evenfall.sheet.diagnose_text import diagnose_rows, sign_rows
from evenfall.workflow import tune
from evenfall.workflow.diagnosing import Diagnosis, diagnose, diagnose_flights


@cache
def tuned(name: str) -> Diagnosis:
    answer = tune(load_plane(demo_path(name)))
    return diagnose(answer.ready, answer.plan, ("differs",))


def page(name: str, *signs: str, absent: tuple[str, ...] = ()) -> DiagnosePage:
    base = tuned(name)
    return diagnose_page(diagnose(base.ready, base.plan, signs, absent=absent, case=base.case))


@pytest.mark.parametrize("name", ["biplane_124", "monoplane_160"])
def test_every_sign_has_causes_with_whole_checks_and_sources(name: str) -> None:
    for sign in chart().signs:
        found = page(name, sign)
        assert found.causes
        assert sum(cause.probability for cause in found.causes) + found.other <= 1.0 + 1e-9
        assert found.first.endswith(".")
        for cause in found.causes:
            check = cause.check
            for words in (cause.why, cause.source, check.words, check.if_so, check.if_not):
                assert words.strip(), (sign, cause.key)
                assert "{" not in words
                assert "nan" not in words.split()
                assert ".." not in words, words
            assert check.minutes > 0
            assert "no source" in cause.source or "computed" in cause.source


def test_what_is_seen_and_not_seen_is_told() -> None:
    found = page("biplane_124", "opens_right", absent=("faster",))
    assert found.signs == ("opens_right",)
    assert any("faster on the vertical down than predicted, not seen" in cause.why for cause in found.causes)
    first = found.causes[0]
    assert "rolls right when crow opens" in first.why
    rows = diagnose_rows(found)
    assert max(len(row) for row in rows) <= 100
    assert rows[2] == "Seen: Rolls right when crow opens"
    assert "none of these" in " ".join(rows)


def test_a_corner_is_named_with_the_angle_it_would_show() -> None:
    found = page("biplane_124", "opens_right", "right_faster", "canopy_crow")
    corner = next(cause for cause in found.causes if cause.key == "corner")
    base = tuned("biplane_124")
    assert base.plan.crow is not None
    planned = float(corner.check.if_not.split()[-2])
    assert planned == pytest.approx(57.2958 * abs(base.plan.crow.upper), abs=0.06)
    shown = float(corner.check.if_so.split(" shows ")[1].split()[0])
    assert 0.8 < abs(shown - planned) < 6.0


def test_list_has_every_sign_by_group() -> None:
    rows = sign_rows(all_signs())
    assert sum(row.startswith("  ") for row in rows) == len(chart().signs)
    assert [row for row in rows if row and not row.startswith(" ")] == [
        "Speed",
        "Straightness",
        "Roll",
        "Motor",
        "Figures",
    ]


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "evenfall", *arguments], capture_output=True, text=True, encoding="utf-8", check=False
    )


def test_command_lists_answers_and_refuses(tmp_path: Path) -> None:
    listed = run("why", "--list")
    assert listed.returncode == 0
    assert "opens_right" in listed.stdout
    nothing = run("why")
    assert nothing.returncode == 2
    assert "--list has the signs" in nothing.stderr
    plane = demo_path("monoplane_160")
    plan = tmp_path / "a.plan.toml"
    write_plan(present_plan(load_plane(plane).plane), plan)
    wrong = run("why", str(plane), str(plan), "fast")
    assert wrong.returncode == 2
    assert "no sign is called fast; there are faster" in wrong.stderr
    assert "Traceback" not in wrong.stderr
    found = run("why", str(plane), str(plan), "faster", "--not", "slower_up", "--json")
    assert found.returncode == 0
    document = DiagnosePage.model_validate(json.loads(found.stdout))
    assert document.signs == ("faster",)
    assert document.causes


def test_flights_are_taken_in(tmp_path: Path) -> None:
    """Three lines timed much faster than predicted point at what makes them faster, without a sign named."""
    base = tuned("biplane_124")
    flight = tmp_path / "a.flight.toml"
    rows = "".join(
        f'[[timed]]\nline = "vertical down"\nlength_m = 80\nseconds = {time}\nby = "video"\n'
        for time in (2.6, 2.63, 2.58)
    )
    drift = '[[heading]]\nline = "vertical down"\nyawed_deg = 20\nover_m = 100\n'
    flight.write_text(f'format = 1\nsigns = ["opens_left"]\n{rows}{drift}', encoding="utf-8")
    found = diagnose_flights(base.ready, base.plan, (), flights=[flight])
    assert {"opens_left", "yaws_right_crow"} <= set(found.answer.signs)
    assert set(found.answer.absent) == {"yaws_left_crow"}
    without = diagnose(base.ready, base.plan, ("opens_left",), case=base.case)

    def share(one: Diagnosis, *keys: str) -> float:
        return sum(item.probability for item in one.answer.causes if item.cause.key in keys)

    fast = ("phase", "short_curve", "blow_back")
    assert share(found, *fast) > 1.3 * share(without, *fast)


def test_proven_flights_leave_what_has_come_since(tmp_path: Path) -> None:
    """After flights as predicted, what can only have stood there from the first becomes unlikely."""
    base = tuned("biplane_124")
    assert base.ready.wanted == pytest.approx(22.0)
    flight = tmp_path / "before.flight.toml"
    row = '[[timed]]\nline = "vertical down"\nlength_m = 80\nseconds = 3.64\nby = "video"\n'
    flight.write_text(f"format = 1\n{row * 3}", encoding="utf-8")
    proven = diagnose_flights(base.ready, base.plan, ("faster",), before=[flight])
    first = diagnose(base.ready, base.plan, ("faster",), case=base.case)

    def share(one: Diagnosis, key: str) -> float:
        return next(item.probability for item in one.answer.causes if item.cause.key == key)

    assert share(proven, "crow_angle") < share(first, "crow_angle")
    assert share(proven, "phase") > share(first, "phase")
    assert proven.case.since
