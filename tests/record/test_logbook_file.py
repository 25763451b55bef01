"""The logbook file: made, backed up, damaged and restored."""

from pathlib import Path

import pytest

from evenfall.errors import InputError
from evenfall.record.logbook_file import BACKUPS, FILE, backups, open_logbook


def _enter(folder: Path, token: str) -> None:
    base, _ = open_logbook(folder)
    base.execute("insert into flight (token, date, place, notes) values (?, '2026-05-01', 'field', '')", (token,))
    base.close()


def test_damaged_file_is_set_aside_and_the_backup_restored(tmp_path: Path) -> None:
    _enter(tmp_path, "one")
    open_logbook(tmp_path)[0].close()
    bad = b"no logbook at all" * 300
    (tmp_path / FILE).write_bytes(bad)
    base, note = open_logbook(tmp_path)
    assert base.execute("select token from flight").fetchall() == [("one",)]
    assert "set aside as logbook.damaged-1.sqlite" in note
    assert (tmp_path / "logbook.damaged-1.sqlite").read_bytes() == bad
    base.close()


def test_only_the_last_backups_are_kept_and_none_without_a_change(tmp_path: Path) -> None:
    for number in range(BACKUPS + 3):
        _enter(tmp_path, str(number))
    open_logbook(tmp_path)[0].close()
    before = backups(tmp_path / FILE)
    open_logbook(tmp_path)[0].close()
    assert backups(tmp_path / FILE) == before
    assert len(before) == BACKUPS


def test_newer_file_is_refused(tmp_path: Path) -> None:
    base, _ = open_logbook(tmp_path)
    base.execute("pragma user_version = 99")
    base.close()
    with pytest.raises(InputError, match="newer"):
        open_logbook(tmp_path)
