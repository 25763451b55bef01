"""The record of changes: steps, bounds, damage, a crash at every point of a change."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from evenfall.app import journal as journal_module
from evenfall.app.journal import FOLDER, Intent, Journal
from evenfall.errors import InputError


def intent(after: str | None, before: str | None, *, token: str | None = None, file: str = "a.toml") -> Intent:
    words = f"to {(after or 'nothing')[:9]}"
    return Intent(file=file, kind="step", words=words, made="", token=token, before=before, after=after)


def add(journal: Journal, after: str, before: str | None, *, token: str | None = None, file: str = "a.toml") -> None:
    journal.intend(intent(after, before, token=token, file=file))
    journal.complete(file)


def test_steps_last_across_opening(tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.begin("a.toml", "0")
    add(journal, "1", "0", token="token-one")
    add(journal, "2", "1")
    journal.close()
    journal = Journal(tmp_path)
    head = journal.head("a.toml")
    assert head is not None
    assert (head.revision, head.position, head.text, head.undo, head.redo) == (3, 2, "2", "to 2", None)
    assert journal.beside("a.toml", "undo") == "1"
    known = journal.known("token-one")
    assert known is not None
    assert (known.file, known.revision, known.words) == ("a.toml", 2, "to 1")
    assert journal.known("token-two") is None
    assert journal.note == ""
    journal.close()


def test_an_intent_taken_away_leaves_what_redo_needs(tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.begin("a.toml", "0")
    add(journal, "1", "0")
    journal.intend(Intent(file="a.toml", kind="undo", words="undo", made="", token=None, before="1", after="0"))
    journal.complete("a.toml")
    journal.intend(intent("2", "0"))
    journal.abandon("a.toml")
    head = journal.head("a.toml")
    assert head is not None
    assert (head.text, head.undo, head.redo) == ("0", None, "to 1")
    assert journal.beside("a.toml", "redo") == "1"
    assert journal.unfinished() == []
    journal.intend(intent("x", None, file="new.toml"))
    journal.abandon("new.toml")
    assert journal.head("new.toml") is None
    journal.close()


def test_only_so_many_steps_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_module, "MOST_STEPS", 5)
    journal = Journal(tmp_path)
    journal.begin("a.toml", "0")
    for number in range(1, 21):
        add(journal, str(number), str(number - 1))
    assert [number for number, _, _ in journal.steps("a.toml")] == [16, 17, 18, 19, 20]
    assert journal.beside("a.toml", "undo") == "19"
    journal.close()


def test_the_record_stays_of_its_size(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_module, "MOST_BYTES", 1_000_000)
    journal = Journal(tmp_path)
    for file in ("a.toml", "b.toml"):
        journal.begin(file, "0")
    for number in range(1, 31):
        for file in ("a.toml", "b.toml"):
            add(journal, str(number) + "x" * 40_000, journal.heads()[file].text, file=file)
    assert (tmp_path / FOLDER / "journal.sqlite").stat().st_size < 1_300_000
    for file in ("a.toml", "b.toml"):
        assert len(journal.steps(file)) > 3
        assert journal.beside(file, "undo") == "29" + "x" * 40_000
    journal.close()


@pytest.mark.parametrize("harm", ["garbage", "middle", "short", "foreign", "tables", "broken key"])
def test_a_damaged_record_is_set_aside(harm: str, tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.begin("a.toml", "0")
    for number in range(1, 7):
        add(journal, str(number) + "x" * 5000, journal.heads()["a.toml"].text)
    journal.close()
    path = tmp_path / FOLDER / "journal.sqlite"
    raw = path.read_bytes()
    if harm == "garbage":
        path.write_bytes(b"no record at all" * 100)
    elif harm == "middle":
        path.write_bytes(raw[:4096] + b"\xa5" * 12_000 + raw[16_096:])
    elif harm == "short":
        path.write_bytes(raw[:9000])
    else:
        base = sqlite3.connect(path)
        if harm == "foreign":
            base.executescript("pragma user_version = 0")
        elif harm == "tables":
            base.executescript("drop table token")
        else:
            base.executescript("pragma foreign_keys = off; update file set name = 'b.toml'")
        base.close()
    damaged = path.read_bytes()
    journal = Journal(tmp_path)
    assert "was damaged and is kept as .evenfall/journal.sqlite.1" in journal.note
    assert (tmp_path / FOLDER / "journal.sqlite.1").read_bytes() == damaged
    assert journal.heads() == {}
    journal.begin("a.toml", "0")
    journal.close()
    journal = Journal(tmp_path)
    assert journal.note == ""
    assert list(journal.heads()) == ["a.toml"]
    journal.close()


def test_a_record_of_a_newer_kind_is_left_alone(tmp_path: Path) -> None:
    Journal(tmp_path).close()
    base = sqlite3.connect(tmp_path / FOLDER / "journal.sqlite")
    base.execute("pragma user_version = 99")
    base.close()
    with pytest.raises(InputError, match="newer Evenfall"):
        Journal(tmp_path)


def test_links_in_the_records_place_are_refused(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    home = tmp_path / "home"
    home.mkdir()
    (home / FOLDER).symlink_to(out)
    with pytest.raises(InputError, match="plain folder"):
        Journal(home)
    (home / FOLDER).unlink()
    (home / FOLDER).mkdir()
    (home / FOLDER / "journal.sqlite").symlink_to(out / "x")
    with pytest.raises(InputError, match="is a link"):
        Journal(home)
    assert list(out.iterdir()) == []


def test_a_full_disk_is_said_and_nothing_is_half_done(tmp_path: Path) -> None:
    journal = Journal(tmp_path)
    journal.begin("a.toml", "0")
    pages = journal._base.execute("pragma page_count").fetchone()[0]
    journal._base.execute(f"pragma max_page_count = {pages}")
    with pytest.raises(InputError, match=r"full.*Make room"):
        journal.intend(intent("y" * 100_000, "0"))
    assert journal.unfinished() == []
    head = journal.head("a.toml")
    assert head is not None
    assert head.text == "0"
    journal._base.execute("pragma max_page_count = 100000")
    add(journal, "1", "0")
    journal.close()


def test_another_process_is_noticed(tmp_path: Path) -> None:
    one, two = Journal(tmp_path), Journal(tmp_path)
    assert not two.moved()
    with one.hold():
        one.begin("a.toml", "0")
    assert not one.moved()
    assert two.moved()
    two.caught_up()
    assert not two.moved()
    assert list(two.heads()) == ["a.toml"]
    one.close()
    two.close()


def test_one_process_waits_for_the_other(tmp_path: Path) -> None:
    one, two = Journal(tmp_path), Journal(tmp_path)
    assert two._lock is not None
    two._lock.execute("pragma busy_timeout = 50")
    with one.hold(), one.hold(), pytest.raises(InputError, match="another Evenfall is busy"), two.hold():
        raise AssertionError("both were let in")
    with two.hold():
        two.begin("a.toml", "0")
    one.close()
    two.close()
