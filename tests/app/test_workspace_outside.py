"""The folder while others change it too: edits from outside, a full or damaged disk, two at once."""

from __future__ import annotations

import os
import shutil
import threading
from pathlib import Path

import pytest

from evenfall.app.journal import FOLDER, Intent, Journal
from evenfall.app.workspace import Workspace
from evenfall.errors import InputError
from workspace_bench import TEXT, Bench

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
