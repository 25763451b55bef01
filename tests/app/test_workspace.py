"""The folder at work: every action, undo across restarts, readings, guests."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from evenfall.app.workspace import Outcome, Workspace
from evenfall.errors import FileFaults, InputError
from evenfall.logs.readings import load_readings
from evenfall.plane.files import load_plane, parse_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import present_plan
from evenfall.radio.planfile import check_target, is_edited, parse_plan, plan_text
from workspace_bench import TEXT, TOKENS, Bench

# --- planes ----------------------------------------------------------------------------------------------------------


def test_a_value_is_saved_and_taken_back_and_done_again(bench: Bench) -> None:
    done = bench.do("plane.set", file="bi.toml", edits={"wing.upper.span_in": 48.8})
    assert (done.file, done.revision, done.words) == ("bi.toml", 2, "wing.upper.span_in set to 48.8")
    changed = bench.text()
    assert changed == TEXT.replace("span_mm = 1240", "span_in = 48.8", 1)
    assert bench.work.plane_text("bi.toml") == (changed, 2)
    assert (bench.plane().undo, bench.plane().redo) == ("wing.upper.span_in set to 48.8", None)
    assert bench.do("undo", file="bi.toml").words == "taken back: wing.upper.span_in set to 48.8"
    assert bench.text() == TEXT
    assert bench.do("redo", file="bi.toml").revision == 4
    assert bench.text() == changed
    with pytest.raises(InputError, match=r"nothing to redo in bi\.toml"):
        bench.do("redo", file="bi.toml")


def test_undo_reaches_across_restarts(bench: Bench) -> None:
    texts = [TEXT]
    for value in (1, 2, 3, 4):
        bench.edit(value)
        texts.append(bench.text())
        bench.again()
    for text in reversed(texts[:-1]):
        bench.do("undo", file="bi.toml")
        assert bench.text() == text
        bench.again()
    assert bench.work.folder_page().notes == ()
    with pytest.raises(InputError, match="nothing to undo"):
        bench.do("undo", file="bi.toml")
    for text in texts[1:]:
        bench.do("redo", file="bi.toml")
        assert bench.text() == text
        bench.again()


def test_a_token_counts_once_even_after_a_restart(bench: Bench) -> None:
    first = bench.do("part.add", token="token-same", file="bi.toml", part="wheel")
    text = bench.text()
    assert bench.do("part.add", token="token-same", file="bi.toml", part="wheel") == first
    bench.again()
    assert bench.do("part.add", token="token-same", file="bi.toml", part="wheel") == first
    assert bench.text() == text


def test_a_faulty_plane_is_saved_but_not_broken_toml(bench: Bench) -> None:
    bench.do("plane.set", file="bi.toml", edits={"wing.upper.span_mm": -5.0, "motor.kv_rpm_per_v": None})
    assert not bench.plane().usable
    assert bench.plane().name == "Demo biplane 1.24 m (invented)"
    with pytest.raises(FileFaults):
        bench.do("text.set", file="bi.toml", text="name = ", base=2)
    with pytest.raises(InputError, match="no key of a plane file"):
        bench.do("plane.set", file="bi.toml", edits={"a\nb": 1.0})
    (bench.folder / "bi.toml").write_text("[wing\n")
    bench.work.poll()
    with pytest.raises(FileFaults):
        bench.edit(5)
    assert bench.text() == "[wing\n"
    assert bench.plane().name == "bi"


def test_parts(bench: Bench) -> None:
    count = len(parse_plane(TEXT).plane.drag)
    assert bench.do("part.add", file="bi.toml", part="cowl opening").words == "cowl opening added"
    assert len(parse_plane(bench.text()).plane.drag) == count + 1
    assert bench.do("part.drop", file="bi.toml", index=1).words == "undercarriage leg taken away"
    assert len(parse_plane(bench.text()).plane.drag) == count
    with pytest.raises(InputError, match="no drag number 10"):
        bench.do("part.drop", file="bi.toml", index=9)


def test_new_planes_never_overwrite(bench: Bench) -> None:
    one = bench.do("plane.new", name="Élan 1.2")
    two = bench.do("plane.new", name="elan 1.2", source="bi.toml")
    assert (one.file, two.file) == ("elan_1_2.toml", "elan_1_2_2.toml")
    assert bench.plane(one.file).name == "Élan 1.2"
    assert parse_plane(bench.text(two.file)).plane.name == "elan 1.2"
    assert bench.plane(two.file).usable
    bench.do("undo", file=one.file)
    assert not (bench.folder / one.file).exists()
    assert [entry.file for entry in bench.work.folder_page().planes] == ["bi.toml", two.file]
    bench.do("redo", file=one.file)
    assert bench.plane(one.file).name == "Élan 1.2"
    with pytest.raises(InputError, match="printable"):
        bench.do("plane.new", name="a\x00b")


def test_a_text_is_taken_only_on_what_it_was_made_from(bench: Bench) -> None:
    bench.edit(1300)
    with pytest.raises(InputError, match="has been changed since this text was begun"):
        bench.do("text.set", file="bi.toml", text=TEXT, base=1)
    assert bench.do("text.set", file="bi.toml", text=TEXT + "# mine\n", base=2).revision == 3
    assert bench.text() == TEXT + "# mine\n"
    assert bench.do("text.set", file="other.toml", text=TEXT, base=0).words == "file put in the folder"
    with pytest.raises(InputError, match="neither a plane nor a plan"):
        bench.do("text.set", file="third.toml", text="a = 1\n", base=0)
    (bench.folder / "notes.toml").write_text("a = 1\n")
    with pytest.raises(InputError, match="is there already and is no plane"):
        bench.do("text.set", file="notes.toml", text=TEXT, base=0)
    with pytest.raises(InputError, match="is no plane file"):
        bench.edit(3, file="notes.toml")


# --- plans -----------------------------------------------------------------------------------------------------------


def change(bench: Bench, **changes: Any) -> Outcome:
    return bench.do("plan.set", plane="bi.toml", file="bi.plan.toml", changes=changes)


def test_a_plan_begins_from_the_plane_as_it_is(bench: Bench) -> None:
    assert bench.plane().own_plan == "bi.plan.toml"
    done = change(bench, level="25")
    assert (done.file, done.words) == ("bi.plan.toml", "level changed")
    plane = load_plane(bench.folder / "bi.toml").plane
    assert parse_plan(bench.text("bi.plan.toml"), plane).motor.level == "25"
    entry = bench.plan()
    assert (entry.state, entry.usable, entry.label, entry.plane) == ("edited", True, "plan", plane.name)
    assert bench.plane().plans == ("bi.plan.toml",)
    with pytest.raises(InputError, match="no plan file other"):
        bench.do("plan.set", plane="bi.toml", file="other.plan.toml", changes={"level": "25"})


def test_what_a_person_wrote_in_a_plan_stays(bench: Bench) -> None:
    change(bench, crow=True)
    text = bench.text("bi.plan.toml").replace("[motor]", "# soft is enough\n[motor]  # the motor")
    (bench.folder / "bi.plan.toml").write_text(text)
    change(bench, level="50", phases={"normal": {"aileron_deg": 9.0}})
    made = bench.text("bi.plan.toml")
    rows, new = text.split("\n"), made.split("\n")
    changed = [row for row in new if row not in rows]
    assert changed == ['level = "50"', "brake_percent = 50", "aileron_deg = 9"]
    assert len(rows) == len(new)
    change(bench, crow=False)
    assert "[crow]" not in bench.text("bi.plan.toml")
    assert "# soft is enough\n[motor]  # the motor" in bench.text("bi.plan.toml")


def test_a_plan_laid_out_otherwise_is_written_anew_and_can_be_had_back(bench: Bench) -> None:
    old = "# short\nformat = 1\nplane = 'Demo biplane 1.24 m (invented)'\nmotor = { level = '0', "
    old += "throttle_curve = [[0, 0], [100, 100]] }\n[throws]\nnormal_deg = 8\nsnap_deg = 25\n"
    (bench.folder / "bi.plan.toml").write_text(old)
    bench.work.poll()
    assert bench.plan().usable
    change(bench, level="50")
    assert "level = '50'" in bench.text("bi.plan.toml") or 'level = "50"' in bench.text("bi.plan.toml")
    assert "[throws]" in bench.text("bi.plan.toml")
    change(bench, phases={"snap": {"rudder_deg": 20.0}})
    plane = load_plane(bench.folder / "bi.toml").plane
    plan = parse_plan(bench.text("bi.plan.toml"), plane)
    assert (plan.motor.level, round(57.29577951308232 * plan.named("snap").rudder, 6)) == ("50", 20)
    assert round(57.29577951308232 * plan.throws.normal, 6) == 8
    assert bench.plan().state == "edited"
    bench.do("undo", file="bi.plan.toml")
    bench.do("undo", file="bi.plan.toml")
    assert bench.text("bi.plan.toml") == old


def test_tuned_edited_and_tuned_again(bench: Bench, tuned: Callable[[str], Any]) -> None:
    plan = tuned("biplane_124").plan
    bench.work.write_tuned("bi.toml", plan, token=next(TOKENS))
    text = bench.text("bi.plan.toml")
    assert text == plan_text(plan)
    assert bench.work.tuned_plan("bi.plan.toml") == text
    assert bench.plan().state == "tuned"
    bench.work.check_tune("bi.toml")
    for plane, file in (
        ("none.toml", None),
        ("bi.toml", "bi.toml"),
        ("bi.toml", "x.toml"),
        ("bi.toml", "../x.plan.toml"),
    ):
        with pytest.raises(InputError):
            bench.work.write_tuned(plane, plan, file=file, token=next(TOKENS))
        with pytest.raises(InputError):
            bench.work.check_tune(plane, file=file)
    change(bench, level="75")
    assert bench.plan().state == "edited"
    assert is_edited(bench.text("bi.plan.toml"))
    with pytest.raises(InputError, match="was edited"):
        check_target(bench.folder / "bi.plan.toml")
    assert bench.work.tuned_plan("bi.plan.toml") == text
    bench.do("undo", file="bi.plan.toml")
    assert bench.text("bi.plan.toml") == text
    assert bench.plan().state == "tuned"
    bench.again()
    assert bench.work.tuned_plan("bi.plan.toml") == text


def test_a_plan_computed_elsewhere_is_known_as_tuned(bench: Bench, tuned: Callable[[str], Any]) -> None:
    text = plan_text(tuned("biplane_124").plan)
    (bench.folder / "bi.plan.toml").write_text(text)
    assert bench.work.poll()
    assert bench.plan().state == "tuned"
    change(bench, level="0")
    assert bench.work.tuned_plan("bi.plan.toml") == text


def test_frozen_plans_stay_as_they_are(bench: Bench, tuned: Callable[[str], Any]) -> None:
    plan = tuned("biplane_124").plan
    bench.work.write_tuned("bi.toml", plan, token=next(TOKENS))
    kept = bench.do("plan.freeze", plane="bi.toml", file="bi.plan.toml", label="Windy day")
    assert kept.file == "bi.windy_day.plan.toml"
    again = bench.do("plan.freeze", plane="bi.toml", file="bi.plan.toml", label="windy  day")
    assert again.file == "bi.windy_day_2.plan.toml"
    entry = bench.plan(kept.file)
    assert (entry.state, entry.label, entry.usable) == ("frozen", "windy day", True)
    assert entry.frozen_on is not None
    assert len(entry.frozen_on) == 10
    frozen = bench.text(kept.file)
    for refused in (
        lambda: bench.do("plan.set", plane="bi.toml", file=kept.file, changes={"level": "0"}),
        lambda: bench.do("text.set", file=kept.file, text=frozen + "# x\n", base=1),
        lambda: bench.work.write_tuned("bi.toml", plan, file=kept.file, token=next(TOKENS)),
        lambda: bench.work.check_tune("bi.toml", file=kept.file),
    ):
        with pytest.raises(InputError, match="is frozen and stays as it is; make it the plane's own plan again"):
            refused()
    with pytest.raises(InputError, match="is frozen, kept for good"):
        check_target(bench.folder / kept.file)
    assert bench.text(kept.file) == frozen
    change(bench, level="0")
    bench.do("plan.thaw", plane="bi.toml", file=kept.file)
    assert bench.text("bi.plan.toml") == plan_text(plan)
    assert bench.plan().state == "tuned"
    assert bench.plane().plans == ("bi.plan.toml", "bi.windy_day.plan.toml", "bi.windy_day_2.plan.toml")
    with pytest.raises(InputError, match="is not frozen"):
        bench.do("plan.thaw", plane="bi.toml", file="bi.plan.toml")


def test_plans_belong_by_file_name_then_by_plane(bench: Bench) -> None:
    plane = load_plane(demo_path("monoplane_160")).plane
    (bench.folder / "bi_2.toml").write_text(demo_path("monoplane_160").read_text())
    (bench.folder / "elsewhere.plan.toml").write_text(plan_text(present_plan(plane)))
    (bench.folder / "bi_2.plan.toml").write_text(plan_text(present_plan(plane)))
    (bench.folder / "lost.plan.toml").write_text("format = 1\nplane = 'Nobody'\n")
    bench.work.poll()
    assert bench.plane("bi_2.toml").plans == ("bi_2.plan.toml", "elsewhere.plan.toml")
    assert bench.plane("bi.toml").plans == ()
    assert (bench.plan("lost.plan.toml").plane, bench.plan("lost.plan.toml").usable) == ("Nobody", False)
    assert bench.plan("elsewhere.plan.toml").usable


# --- readings and guests ---------------------------------------------------------------------------------------------


def read(bench: Bench, angles: dict[str, float | None], **rest: Any) -> Outcome:
    given = {"phase": "normal", "throttle_percent": 0, "aileron_percent": 0} | rest
    return bench.do("bench.read", role="guest", plane="bi.toml", plan="bi.plan.toml", angles_deg=angles, **given)


def test_readings_are_kept_replaced_and_taken_away(bench: Bench) -> None:
    assert read(bench, {"upper_left": -12.5, "lower_left": 12.25}).file == "bi.bench.csv"
    read(bench, {"upper_left": 7.0}, throttle_percent=100, aileron_percent=-100)
    read(bench, {"upper_left": -13.0})
    path = bench.work.readings_path("bi.plan.toml")
    corners = ("upper_left", "upper_right", "lower_left", "lower_right")
    phases = ("take-off", "normal", "snap", "spin", "landing")

    def stored() -> list[tuple[str, float, float, float]]:
        found = load_readings(path, corners=corners, phases=phases, may_be_empty=True).readings
        return [(one.surface, one.throttle, one.aileron, round(57.29577951308232 * one.angle, 6)) for one in found]

    assert stored() == [("upper_left", 0, 0, -13), ("lower_left", 0, 0, 12.25), ("upper_left", 1, -1, 7)]
    read(bench, {"upper_left": None, "lower_left": None})
    assert stored() == [("upper_left", 1, -1, 7)]
    bench.do("undo", file="bi.bench.csv")
    assert len(stored()) == 3


def test_a_persons_form_keeps_its_rows(bench: Bench) -> None:
    form = (
        "# mine\nphase\taileron_percent\tthrottle_percent\tpressed\tupper_left_deg\tnote\nnormal\t0\t0\tup\t-11,5\tx\n"
    )
    (bench.folder / "bi.bench.csv").write_text(form)
    read(bench, {"upper_left": -12.5})
    assert bench.text("bi.bench.csv") == form + "normal\t0\t0\t\t-12.5\t\n"
    with pytest.raises(InputError, match="no column lower_left_deg"):
        read(bench, {"lower_left": 1.0})
    (bench.folder / "bi.bench.csv").write_text("nonsense\n")
    with pytest.raises(FileFaults):
        read(bench, {"upper_left": -12.5})


@pytest.mark.outside
def test_readings_that_cannot_be(bench: Bench) -> None:
    with pytest.raises(InputError, match="no phase 'cruise'"):
        read(bench, {"upper_left": 1.0}, phase="cruise")
    with pytest.raises(InputError, match="'rudder' is not measured"):
        read(bench, {"rudder": 1.0})
    with pytest.raises(InputError, match="stick in the middle"):
        read(bench, {"elevator": 1.0}, elevator_percent=50)
    assert not (bench.folder / "bi.bench.csv").exists()


def test_guests_write_readings_and_nothing_else(bench: Bench) -> None:
    for what, rest in (
        ("plane.set", {"file": "bi.toml", "edits": {"name": "x"}}),
        ("undo", {"file": "bi.toml"}),
        ("plane.new", {"name": "x"}),
        ("plan.thaw", {"plane": "bi.toml", "file": "bi.plan.toml"}),
    ):
        with pytest.raises(InputError, match="guests write bench readings"):
            bench.do(what, role="guest", **rest)
    assert bench.text() == TEXT


# --- speed -----------------------------------------------------------------------------------------------------------


def test_the_folder_is_listed_at_once(tmp_path: Path) -> None:
    for number in range(10):
        (tmp_path / f"p{number}.toml").write_text(TEXT)
        (tmp_path / f"p{number}.plan.toml").write_text(plan_text(present_plan(parse_plane(TEXT).plane)))
    work = Workspace(tmp_path)
    work.folder_page()
    times = []
    for _ in range(20):
        work._page = None
        begun = time.perf_counter()
        assert len(work.folder_page().plans) == 10
        times.append(time.perf_counter() - begun)
    assert sorted(times)[10] < 0.02
    work.close()
