"""The folder at work: every action, undo across restarts, edits from outside, crashes, two at once."""

from __future__ import annotations

import itertools
import os
import random
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from pydantic import TypeAdapter

from evenfall.app import messages
from evenfall.app.journal import FOLDER, Intent, Journal
from evenfall.app.workspace import Outcome, Workspace
from evenfall.errors import FileFaults, InputError
from evenfall.logs.readings import load_readings
from evenfall.plane.files import load_plane, parse_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import present_plan
from evenfall.radio.planfile import check_target, is_edited, parse_plan, plan_text

ACTION: TypeAdapter[messages.Action] = TypeAdapter(messages.Action)
TEXT = demo_path("biplane_124").read_text(encoding="utf-8")
TOKENS = (f"token-{number:06d}" for number in itertools.count())


class Bench:
    """A workspace with short ways to act on it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.work = Workspace(folder)

    def do(
        self, what: str, *, role: Literal["owner", "guest"] = "owner", token: str | None = None, **rest: Any
    ) -> Outcome:
        action = ACTION.validate_python({"what": what, **rest})
        return self.work.act(action, token=token or next(TOKENS), role=role)

    def edit(self, value: float, file: str = "bi.toml") -> Outcome:
        return self.do("plane.set", file=file, edits={"wing.upper.span_mm": value})

    def text(self, file: str = "bi.toml") -> str:
        return (self.folder / file).read_bytes().decode()

    def again(self) -> None:
        self.work.close()
        self.work = Workspace(self.folder)

    def plane(self, file: str = "bi.toml") -> Any:
        return next(entry for entry in self.work.folder_page().planes if entry.file == file)

    def plan(self, file: str = "bi.plan.toml") -> Any:
        return next(entry for entry in self.work.folder_page().plans if entry.file == file)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "bi.toml").write_bytes(TEXT.encode())
    made = Bench(folder)
    yield made
    made.work.close()


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


# --- from outside ----------------------------------------------------------------------------------------------------


def test_an_edit_from_outside_is_a_step(bench: Bench) -> None:
    heard: list[int] = []
    end = bench.work.subscribe(lambda: heard.append(1))
    assert not bench.work.poll()
    (bench.folder / "bi.toml").write_text(TEXT + "# another\n")
    assert bench.work.poll()
    assert not bench.work.poll()
    assert len(heard) == 1
    (note,) = bench.work.folder_page().notes
    assert note.startswith("bi.toml was changed by another program at ")
    assert note.endswith("; undo takes it back")
    assert bench.plane().revision == 2
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT
    assert bench.work.folder_page().notes == ()
    bench.do("redo", file="bi.toml")
    assert bench.text() == TEXT + "# another\n"
    end()
    assert len(heard) == 3
    bench.edit(1)
    assert len(heard) == 3


def test_undo_does_not_take_back_what_nobody_has_seen(bench: Bench) -> None:
    bench.edit(1300)
    (bench.folder / "bi.toml").write_text(TEXT + "# another\n")
    with pytest.raises(InputError, match="changed by another program just now"):
        bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT + "# another\n"
    bench.do("undo", file="bi.toml")
    assert "span_mm = 1300" in bench.text()
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT


def test_an_edit_from_outside_at_the_same_moment_is_not_overwritten(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    intend = Journal.intend

    def meanwhile(journal: Journal, intent: Intent) -> None:
        intend(journal, intent)
        (bench.folder / "bi.toml").write_text(TEXT + "# another\n")

    monkeypatch.setattr(Journal, "intend", meanwhile)
    with pytest.raises(InputError, match="at this very moment"):
        bench.edit(1300)
    monkeypatch.undo()
    assert bench.text() == TEXT + "# another\n"
    bench.edit(1300)
    bench.do("undo", file="bi.toml")
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT


def test_an_edit_of_the_same_size_at_once_is_seen(bench: Bench) -> None:
    bench.edit(1300)
    path = bench.folder / "bi.toml"
    status = path.stat()
    with open(path, "r+b") as stream:
        stream.write(b"#!")
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert bench.work.poll()


def test_files_that_come_and_go(bench: Bench) -> None:
    bench.edit(1300)
    last = bench.text()
    (bench.folder / "bi.toml").unlink()
    (bench.folder / "new.toml").write_text(TEXT)
    (bench.folder / "radio.toml").write_text("a = 1\n")
    assert bench.work.poll()
    page = bench.work.folder_page()
    assert [entry.file for entry in page.planes] == ["new.toml"]
    assert "bi.toml was deleted by another program" in page.notes[-1]
    assert "new.toml is new in the folder" in page.notes[0]
    with pytest.raises(InputError, match=r"no plane file bi\.toml"):
        bench.work.plane_text("bi.toml")
    with pytest.raises(InputError, match=r"no file bi\.toml"):
        bench.edit(1)
    bench.do("undo", file="bi.toml")
    assert bench.text() == last
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT


def test_edits_while_closed_are_steps_too(bench: Bench) -> None:
    bench.edit(1300)
    (bench.folder / "bi.toml").write_text("[wing]\n")
    bench.again()
    assert bench.work.folder_page().notes == (
        "bi.toml was changed by another program while Evenfall was closed; undo takes it back",
    )
    bench.do("undo", file="bi.toml")
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT


def test_what_cannot_be_read_is_not_lost(bench: Bench) -> None:
    bench.edit(1300)
    (bench.folder / "bi.toml").write_bytes(b"\xff\xfe\0")
    assert bench.work.poll()
    assert "not UTF-8" in bench.work.folder_page().notes[-1]
    for what, rest in (("undo", {}), ("plane.set", {"edits": {"name": "x"}})):
        with pytest.raises(InputError, match="not UTF-8"):
            bench.do(what, file="bi.toml", **rest)
    assert (bench.folder / "bi.toml").read_bytes() == b"\xff\xfe\0"
    (bench.folder / "bi.toml").unlink()
    bench.work.poll()
    bench.do("undo", file="bi.toml")
    assert "span_mm = 1300" in bench.text()


def test_links_out_of_the_folder_are_named_and_not_followed(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "secret.toml").write_text(TEXT)
    (bench.folder / "bi.toml").unlink()
    (bench.folder / "bi.toml").symlink_to(tmp_path / "secret.toml")
    bench.work.poll()
    assert any("leads out of the folder" in note for note in bench.work.folder_page().notes)
    for act in (
        lambda: bench.edit(1),
        lambda: bench.do("undo", file="bi.toml"),
        lambda: bench.work.plane_text("bi.toml"),
        lambda: bench.do("plane.new", name="x", source="../secret.toml"),
        lambda: bench.do("plane.set", file=str(tmp_path / "secret.toml"), edits={"name": "x"}),
    ):
        with pytest.raises(InputError):
            act()
    assert (tmp_path / "secret.toml").read_text() == TEXT


# --- trouble with the disk -------------------------------------------------------------------------------------------


def test_a_full_disk_changes_nothing(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.edit(1300)
    bench.do("undo", file="bi.toml")
    real = os.replace

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match=r"cannot be written: no space left on device\. Nothing was changed"):
        bench.edit(1400)
    with pytest.raises(InputError, match="no space"):
        bench.do("redo", file="bi.toml")
    monkeypatch.setattr(os, "replace", real)
    assert bench.text() == TEXT
    assert sorted(os.listdir(bench.folder)) == [FOLDER, "bi.toml"]
    bench.again()
    assert bench.work.folder_page().notes == ()
    bench.do("redo", file="bi.toml")
    assert "span_mm = 1300" in bench.text()


def test_a_full_record_changes_nothing(bench: Bench) -> None:
    base = bench.work._journal._base
    base.execute(f"pragma max_page_count = {base.execute('pragma page_count').fetchone()[0]}")
    with pytest.raises(InputError, match="cannot be written"):
        bench.do("text.set", file="bi.toml", text=TEXT + "#" * 90_000, base=1)
    assert bench.text() == TEXT
    (bench.folder / "bi.toml").write_text(TEXT + "#" * 90_000)
    assert bench.work.poll()
    assert "cannot be written" in bench.work.folder_page().notes[-1]
    base.execute("pragma max_page_count = 100000")
    assert bench.work.poll()
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="nothing is read-only to this user")
def test_a_folder_that_cannot_be_written_is_shown(bench: Bench) -> None:
    bench.work.close()
    shutil.rmtree(bench.folder / FOLDER)
    bench.folder.chmod(0o500)
    try:
        bench.work = Workspace(bench.folder)
        assert bench.plane().usable
        assert "cannot be recorded" in bench.work.folder_page().notes[0]
        with pytest.raises(InputError, match="cannot be written: permission denied"):
            bench.edit(1)
    finally:
        bench.folder.chmod(0o700)


def test_a_folder_whose_record_cannot_be_made_is_shown(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    bench.work.close()
    shutil.rmtree(bench.folder / FOLDER)

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuse)
    bench.work = Workspace(bench.folder)
    assert bench.plane().usable
    assert "Undo ends with the program" in bench.work.folder_page().notes[0]
    bench.edit(1300)
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT


def test_a_damaged_record_loses_no_file(bench: Bench) -> None:
    bench.edit(1300)
    last = bench.text()
    bench.work.close()
    (bench.folder / FOLDER / "journal.sqlite").write_bytes(b"\xa5" * 20_000)
    bench.work = Workspace(bench.folder)
    assert "was damaged and is kept as" in bench.work.folder_page().notes[0]
    assert bench.text() == last
    bench.edit(1400)
    bench.do("undo", file="bi.toml")
    assert bench.text() == last


# --- two at once -----------------------------------------------------------------------------------------------------


def test_two_workspaces_on_one_folder_agree(bench: Bench) -> None:
    other = Bench(bench.folder)
    bench.edit(1300)
    assert other.work.poll()
    assert not other.work.poll()
    other.edit(1400)
    bench.work.poll()
    other.do("undo", file="bi.toml")
    assert bench.work.poll()
    assert bench.work.folder_page() == other.work.folder_page()
    assert bench.work.folder_page().notes == ()
    assert bench.plane().undo == "wing.upper.span_mm set to 1300"
    bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT
    bench.do("plane.new", name="third")
    other.edit(5, file="third.toml")
    other.work.close()


def test_threads_and_two_workspaces_lose_no_edit(bench: Bench) -> None:
    other = Bench(bench.folder)
    errors: list[BaseException] = []

    def work(of: Bench, first: int) -> None:
        try:
            for number in range(first, first + 8):
                of.do("plane.set", file="bi.toml", edits={f"extra.key_{number}": float(number)})
                of.work.folder_page()
        except BaseException as error:
            errors.append(error)

    threads = [threading.Thread(target=work, args=(of, 100 * k)) for k, of in enumerate((bench, bench, other, other))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    assert bench.text().count("key_") == 32
    bench.work.poll()
    for _ in range(32):
        bench.do("undo", file="bi.toml")
    assert bench.text() == TEXT
    other.work.close()


# --- random work -----------------------------------------------------------------------------------------------------


def random_action(random_: random.Random, bench: Bench) -> None:
    plans = [entry.file for entry in bench.work.folder_page().plans] or ["bi.plan.toml"]
    pick = random_.randrange(11)
    if pick <= 2:
        key = random_.choice(["mass.cg_x_mm", "mass.cg_x_cm", "drag.0.x_mm", "name", "rigging.washout_deg"])
        value = "words" if key == "name" else random_.choice([random_.random(), 29.0, None, (28.0, 2.0)])
        bench.do("plane.set", file="bi.toml", edits={key: value})
    elif pick == 3:
        bench.do("part.add", file="bi.toml", part=random_.choice(["wheel", "wire", "area"]))
    elif pick == 4:
        bench.do("part.drop", file="bi.toml", index=random_.randrange(5))
    elif pick == 5:
        level = random_.choice(["0", "25", "50"])
        bench.do("plan.set", plane="bi.toml", file=random_.choice(plans), changes={"level": level})
    elif pick == 6:
        bench.do("plan.freeze", plane="bi.toml", file=random_.choice(plans), label=random_.choice(["a", "b"]))
    elif pick == 7:
        bench.do("plan.thaw", plane="bi.toml", file=random_.choice(plans))
    elif pick == 8:
        bench.do(random_.choice(["undo", "redo"]), file=random_.choice(["bi.toml", *plans]))
    elif pick == 9:
        path = bench.folder / random_.choice(["bi.toml", *plans])
        if random_.random() < 0.3:
            path.unlink(missing_ok=True)
        elif path.exists():
            path.write_text(path.read_text() + f"# {random_.random()}\n")
    else:
        bench.again()


@pytest.mark.property
def test_whatever_is_done_can_be_taken_back_and_done_again(bench: Bench) -> None:
    random_ = random.Random(5)
    refused = 0
    for _ in range(200):
        try:
            random_action(random_, bench)
        except InputError:
            refused += 1
    assert refused < 120
    bench.work.poll()
    heads = bench.work._journal.heads()
    assert {"bi.toml", "bi.plan.toml"} <= set(heads)
    for file, head in heads.items():
        path = bench.folder / file
        assert head.text == (path.read_bytes().decode() if path.exists() else None)
        first = 1 if file == "bi.toml" else 0
        while bench.work._journal.heads()[file].redo is not None:
            bench.do("redo", file=file)
        last = path.read_bytes() if path.exists() else None
        steps = bench.work._journal.heads()[file].position
        for _ in range(steps):
            bench.do("undo", file=file)
        assert (bench.text(file) if path.exists() else None) == (TEXT if first else None)
        with pytest.raises(InputError, match="nothing to undo"):
            bench.do("undo", file=file)
        for _ in range(steps):
            bench.do("redo", file=file)
        assert (path.read_bytes() if path.exists() else None) == last


# --- killed ----------------------------------------------------------------------------------------------------------

WRITER = Path(__file__).with_name("keeps_writing.py")


def write_until_killed(folder: Path, first: int, *, after_s: float = 0.0, point: str = "") -> int:
    """The last change that was answered before the writer was killed; `first` - 1 where none was."""
    command = [sys.executable, str(WRITER), str(folder), str(first), *([point] if point else [])]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        if not point:
            time.sleep(after_s)
            process.kill()
        said = process.stdout.read().split()
    return int(said[-1]) if said else first - 1


def span(text: str) -> int:
    return int(text.partition("[wing.upper]\nspan_mm = ")[2].split("\n")[0])


def check_after(folder: Path, last: int, first: int) -> int:
    """Every answered change is there, at most one more; undo works; a token sent again is not repeated."""
    path = folder / "plane.toml"
    work = Workspace(folder)
    now = span(path.read_text())
    assert now in (last, last + 1)
    assert work.folder_page().notes == ()
    assert work.plane_text("plane.toml")[0] == path.read_text()
    assert list(folder.glob("*.toml")) == [path]
    action = messages.PlaneSet(what="plane.set", file="plane.toml", edits={"wing.upper.span_mm": now})
    revision = work.plane_text("plane.toml")[1]
    said = f"wing.upper.span_mm set to {now}"
    assert now == 1 or work.act(action, token=f"token-{now}").words == said
    assert work.plane_text("plane.toml")[1] == revision
    if now > first:
        work.act(messages.Undo(what="undo", file="plane.toml"), token=f"undo-{now:06d}-{last}")
        assert span(path.read_text()) == now - 1
        work.act(messages.Redo(what="redo", file="plane.toml"), token=f"redo-{now:06d}-{last}")
        assert span(path.read_text()) == now
    work.close()
    return now


def kill_often(folder: Path, times: int) -> None:
    (folder / "plane.toml").write_text(TEXT.replace("span_mm = 1240", "span_mm = 1", 1))
    random_ = random.Random(11)
    now = 1
    for _ in range(times):
        first = now + 1
        last = write_until_killed(folder, first, after_s=random_.uniform(0.0, 0.08))
        now = check_after(folder, last, first)


def test_killed_at_any_instant_nothing_is_lost(tmp_path: Path) -> None:
    kill_often(tmp_path, 25)


@pytest.mark.long
def test_killed_at_any_instant_nothing_is_lost_often(tmp_path: Path) -> None:
    kill_often(tmp_path, 200)


@pytest.mark.parametrize(
    ("point", "there"),
    [
        ("before the intent", False),
        ("after the intent", True),
        ("before the file", True),
        ("in the file", True),
        ("after the file", True),
        ("before the step", True),
        ("after the step", True),
    ],
)
def test_killed_at_every_point_of_a_change(point: str, there: bool, tmp_path: Path) -> None:
    (tmp_path / "plane.toml").write_text(TEXT)
    last = write_until_killed(tmp_path, 10, point=point)
    assert last == 11
    assert check_after(tmp_path, last, 10) == (12 if there else 11)


def test_an_edit_from_outside_after_a_crash_keeps_both(tmp_path: Path) -> None:
    (tmp_path / "plane.toml").write_text(TEXT)
    write_until_killed(tmp_path, 10, point="before the file")
    (tmp_path / "plane.toml").write_text(TEXT + "# another\n")
    made = Bench(tmp_path)
    assert made.text("plane.toml") == TEXT + "# another\n"
    made.do("undo", file="plane.toml")
    assert span(made.text("plane.toml")) == 12
    made.do("undo", file="plane.toml")
    assert span(made.text("plane.toml")) == 11
    made.work.close()


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
