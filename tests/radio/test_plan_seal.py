"""A plan in the hand of a person: edits are never destroyed, a frozen plan stays as it is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from evenfall.errors import EditedFileError, FileFaults, InputError
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan
from evenfall.radio.planfile import (
    check_target,
    frozen_text,
    is_edited,
    is_frozen,
    parse_plan,
    plan_text,
    thawed_text,
    unsealed,
    write_plan,
)


def test_an_untouched_plan_is_written_over(tmp_path: Path, plan: Plan) -> None:
    path = tmp_path / "x.plan.toml"
    write_plan(plan, path)
    assert write_plan(replace(plan, crow=None), path) is None
    assert "[crow]" not in path.read_text(encoding="utf-8")
    assert [item.name for item in tmp_path.iterdir()] == ["x.plan.toml"]


@pytest.mark.parametrize(
    "edit",
    [
        lambda text: text.replace("14.5", "15"),
        lambda text: text.replace("# fully deployed", "# measured on the bench"),
        lambda text: text + "# a note at the very end\n",
        lambda text: text.replace('written = "', 'written = "0'),
        lambda text: text.split("[seal]")[0],
        lambda text: "format = 1\n",
    ],
)
def test_an_edit_anywhere_is_never_destroyed(tmp_path: Path, plan: Plan, edit) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "x.plan.toml"
    mine = edit(plan_text(plan))
    path.write_text(mine, encoding="utf-8")
    assert is_edited(mine)
    with pytest.raises(EditedFileError, match="--force"):
        write_plan(plan, path)
    with pytest.raises(EditedFileError):
        check_target(path)
    assert path.read_text(encoding="utf-8") == mine
    check_target(path, force=True)
    first = write_plan(plan, path, force=True)
    assert first == path.with_name("x.plan.toml.1")
    assert first.read_text(encoding="utf-8") == mine
    assert not is_edited(path.read_text(encoding="utf-8"))


def test_backups_are_numbered_on(tmp_path: Path, plan: Plan) -> None:
    path = tmp_path / "x.plan.toml"
    for number in (1, 2, 3):
        path.write_text(f"mine {number}", encoding="utf-8")
        backup = write_plan(plan, path, force=True)
        assert backup is not None
        assert backup.name == f"x.plan.toml.{number}"
    assert path.with_name("x.plan.toml.2").read_text(encoding="utf-8") == "mine 2"


def test_other_line_ends_and_a_lost_last_one_are_no_edit(plan: Plan) -> None:
    text = plan_text(plan)
    assert not is_edited(text.replace("\n", "\r\n"))
    assert not is_edited(text.rstrip("\n"))


@pytest.mark.outside
def test_targets_that_cannot_be_written_are_refused_in_words(tmp_path: Path, plan: Plan) -> None:
    for target, words in (
        (tmp_path, "is a directory"),
        (tmp_path / "no" / "x.toml", "there is no folder"),
        (tmp_path / ("x" * 300), "choose another name"),
        (tmp_path / "a\0b", r"choose another (name|place)"),
    ):
        with pytest.raises(InputError, match=words):
            write_plan(plan, target)
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="there is no folder"):
        write_plan(plan, tmp_path / "file" / "x.toml")


def test_a_crash_while_writing_leaves_the_old_plan(tmp_path: Path, plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "x.plan.toml"
    write_plan(plan, path)
    before = path.read_text(encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("evenfall.textfile.os.replace", full)
    with pytest.raises(InputError, match="no space left on device"):
        write_plan(replace(plan, crow=None), path)
    assert path.read_text(encoding="utf-8") == before
    assert [item.name for item in tmp_path.iterdir()] == ["x.plan.toml"]


@pytest.mark.property
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_freezing_is_one_row_and_thawing_takes_it_away(biplane: Plane, plan: Plan, ends: str) -> None:
    text = plan_text(plan).replace("\n", ends)
    kept = frozen_text(text, date(2026, 7, 1))
    assert is_frozen(kept)
    assert not is_frozen(text)
    assert is_edited(kept)
    rows = kept.split(ends)
    assert rows.count('frozen = "2026-07-01"') == 1
    rows.remove('frozen = "2026-07-01"')
    assert ends.join(rows) == text
    assert thawed_text(kept) == text
    assert thawed_text(text) == text
    assert not is_edited(thawed_text(kept))
    assert parse_plan(kept, biplane) == parse_plan(text, biplane)
    assert frozen_text(kept, date(2026, 7, 2)) == kept.replace("07-01", "07-02")


@pytest.mark.parametrize("value", ['"yes"', '"2026-13-01"', '"20260701"', "true", "2026-07-01", '""', "[1]", "3"])
def test_a_date_of_freezing_must_be_one(biplane: Plane, plan: Plan, value: str) -> None:
    text = plan_text(plan).replace("format = 1", f"format = 1\nfrozen = {value}")
    assert is_frozen(text)
    with pytest.raises(FileFaults, match=r"line 4: frozen: must be a date such as"):
        parse_plan(text, biplane)


def test_a_frozen_plan_is_not_written_over(tmp_path: Path, plan: Plan) -> None:
    target = tmp_path / "kept.plan.toml"
    target.write_text(frozen_text(plan_text(plan), date(2026, 7, 1)), encoding="utf-8")
    with pytest.raises(EditedFileError, match="is frozen, kept for good"):
        write_plan(plan, target)
    assert is_frozen(target.read_text(encoding="utf-8"))
    backup = write_plan(plan, target, force=True)
    assert backup is not None
    assert is_frozen(backup.read_text(encoding="utf-8"))


def test_words_that_only_look_frozen(biplane: Plane, plan: Plan) -> None:
    text = plan_text(replace(plan, computed_from={"frozen": "no"}))
    assert not is_frozen(text)
    assert parse_plan(text, biplane).computed_from == {"frozen": "no"}
    assert is_frozen("frozen = [\n")


def test_a_plan_without_seal_counts_as_edited(biplane: Plane, plan: Plan) -> None:
    bare = unsealed(plan_text(plan))
    assert "[seal]" not in bare
    assert is_edited(bare)
    assert unsealed(bare) == bare
    assert parse_plan(bare, biplane) == parse_plan(plan_text(plan), biplane)
