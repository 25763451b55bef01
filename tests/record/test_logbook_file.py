"""The logbook's files damaged, torn, missing, old, full, killed: nothing entered is lost, and what was done is said."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import time
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from evenfall.errors import InputError
from evenfall.record import entries as lines
from evenfall.record.logbook import FOLDER, Logbook
from evenfall.record.logbook_file import BACKUPS, FILE, backups
from evenfall.record.rows import FlightRow

WRITER = """
import sys
from pathlib import Path
from evenfall.record.logbook import Logbook
from evenfall.record.rows import FlightRow
book = Logbook(Path(sys.argv[1]))
for number in range(int(sys.argv[3])):
    row = FlightRow(token=f"{sys.argv[2]}-{number}", date="2026-05-01", notes="seen " * (number % 7 * 40))
    print(book.save_flight(row), flush=True)
"""
KINDS = [pytest.param(25, id="everyday"), pytest.param(200, marks=pytest.mark.long, id="long")]


def _writer(folder: Path, name: str, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(folder), name, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def _tokens(folder: Path) -> set[str]:
    with Logbook(folder) as book:
        assert book.note == ""
        return {flight.token for flight in book.flights()}


@pytest.fixture
def filled(tmp_path: Path, made: ModuleType) -> tuple[Path, Any]:
    """A folder with a filled logbook that was opened twice, and all it holds."""
    with Logbook(tmp_path / "whole") as book:
        made.fill(book)
    with Logbook(tmp_path / "whole") as book:
        held = made.everything(book)
    Logbook(tmp_path / "whole").close()
    return tmp_path / "whole", held


def _opened(folder: Path, made: ModuleType) -> tuple[Any, str]:
    with Logbook(folder) as book:
        return made.everything(book), book.note


@pytest.mark.parametrize("count", KINDS)
def test_killed_writers_lose_nothing_acknowledged(tmp_path: Path, count: int) -> None:
    draw, said = random.Random(6), set()
    for run in range(count):
        writer = _writer(tmp_path, str(run), 10_000)
        assert writer.stdout is not None
        first = writer.stdout.readline().strip()
        time.sleep(draw.uniform(0.0, 0.03))
        writer.kill()
        said |= {first, *writer.stdout.read().split("\n")[:-1]}
        writer.communicate()
        if run % 5 == 4 or run == count - 1:
            held = _tokens(tmp_path)
            assert said <= held
            assert len(held - said) <= run + 1
    assert len(said) >= count


def test_a_program_killed_between_both_files_loses_nothing(filled: tuple[Path, Any], made: ModuleType) -> None:
    """The entry stands in the file of entries and not in the database yet."""
    folder, held = filled
    before = (folder / FOLDER / FILE).read_bytes()
    with Logbook(folder) as book:
        book.save_flight(FlightRow(token="last", date="2026-06-01"))
        after = made.everything(book)
    (folder / FOLDER / FILE).write_bytes(before)
    assert _opened(folder, made) == (after, "")
    assert after != held


def test_another_program_s_entry_in_flight_is_taken_up_by_the_next_writer(tmp_path: Path) -> None:
    with Logbook(tmp_path) as book:
        book.save_flight(FlightRow(token="a", date="2026-05-01"))
        line = lines.Entry(
            n=2,
            at="2026-05-02T00:00:00.000000Z",
            what="flight",
            row=lines.read_line(book.entries()[0]).row | {"token": "b"},  # type: ignore[union-attr, operator]
        )
        lines.append(tmp_path / FOLDER / lines.FILE, [line])
        book.save_flight(FlightRow(token="c", date="2026-05-03"))
        assert [row.token for row in book.flights()] == ["a", "b", "c"]
    assert _tokens(tmp_path) == {"a", "b", "c"}


def test_two_writers_in_two_programs(tmp_path: Path) -> None:
    writers = [_writer(tmp_path, name, 25) for name in "ab"]
    said = [writer.communicate() for writer in writers]
    assert [err for _, err in said] == ["", ""]
    assert {line for out, _ in said for line in out.split()} == _tokens(tmp_path)
    assert len(_tokens(tmp_path)) == 50


@pytest.mark.parametrize("count", KINDS)
def test_a_changed_byte_anywhere_is_harmless_or_put_right(
    tmp_path: Path, filled: tuple[Path, Any], made: ModuleType, count: int
) -> None:
    """Whatever byte of whatever file: all that was entered is there, or an original is named as damaged."""
    whole, held = filled
    draw, outcomes = random.Random(20260501), {"harmless": 0, "put right": 0, "original named": 0}
    files = sorted(path.relative_to(whole) for path in whole.rglob("*") if path.is_file() and path.stat().st_size)
    assert len(files) >= 5
    for case in range(count):
        folder = tmp_path / f"case-{case}"
        shutil.copytree(whole, folder)
        path = folder / (Path(FOLDER) / FILE if case % 2 else draw.choice(files))
        body = bytearray(path.read_bytes())
        place = draw.randrange(100 if case % 10 == 1 else len(body))
        body[place] ^= draw.randrange(1, 256)
        path.write_bytes(body)
        found, note = _opened(folder, made)
        assert found == held, (path.name, place, note)
        assert not note or "Nothing is missing." in note, note
        with Logbook(folder) as book:
            assert book.note == "", (path.name, place)
            named = book.damaged_originals()
        assert bool(named) == (path.parent.name == "originals")
        outcomes["original named" if named else "put right" if note else "harmless"] += 1
        shutil.rmtree(folder)
    assert outcomes["put right"] >= count // 4, outcomes


def _harmed(body: bytes, draw: random.Random) -> bytes:
    """A file with bits turned, sectors emptied or filled with noise, or its end missing."""
    made = bytearray(body)
    for _ in range(draw.choice((1, 1, 2, 5))):
        start, length = draw.randrange(len(made)), draw.choice((1, 16, 512, 4096))
        match draw.randrange(4):
            case 0:
                made[start : start + length] = bytes(len(made[start : start + length]))
            case 1:
                made[start : start + length] = draw.randbytes(len(made[start : start + length]))
            case 2:
                made[start] ^= 1 << draw.randrange(8)
            case _:
                return bytes(made[: max(start, 1)])
    return bytes(made)


@pytest.mark.parametrize(
    "count", [pytest.param(20, id="everyday"), pytest.param(600, marks=pytest.mark.long, id="long")]
)
def test_several_files_harmed_at_once_never_lose_in_silence(
    tmp_path: Path, filled: tuple[Path, Any], made: ModuleType, count: int
) -> None:
    """Database and entries, or those and the backups: what is there is true, and what is not there is said."""
    whole, held = filled
    draw, outcomes = random.Random(20260517), {"whole": 0, "said": 0}
    for case in range(count):
        folder = tmp_path / f"case-{case}"
        shutil.copytree(whole, folder)
        base = folder / FOLDER / FILE
        targets = [base, folder / FOLDER / lines.FILE, *(backups(base) if case % 2 else [])]
        for path in targets:
            path.write_bytes(_harmed(path.read_bytes(), draw))
        found, note = _opened(folder, made)
        assert set(found[-1]) <= set(held[-1])
        if found == held:
            assert "Entries lost" not in note
        else:
            assert "Entries lost" in note or "may be" in note, (case, note)
        assert _opened(folder, made) == (found, "")
        outcomes["whole" if found == held else "said"] += 1
        shutil.rmtree(folder)
    assert outcomes["whole"] >= count // 2, outcomes


@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.7, 0.999])
@pytest.mark.parametrize("name", [FILE, lines.FILE])
def test_a_file_cut_short_by_a_power_cut(filled: tuple[Path, Any], made: ModuleType, name: str, share: float) -> None:
    folder, held = filled
    path = folder / FOLDER / name
    os.truncate(path, int(share * path.stat().st_size))
    found, note = _opened(folder, made)
    assert found == held
    if name == FILE:
        assert "set aside as logbook.damaged-1.sqlite" in note
        assert note.endswith("Nothing is missing.")
    assert _opened(folder, made) == (held, "")


@pytest.mark.parametrize("gone", [(FILE,), (lines.FILE,), (FILE, "backups"), (lines.FILE, "backups")])
def test_missing_files_are_written_again(filled: tuple[Path, Any], made: ModuleType, gone: tuple[str, ...]) -> None:
    folder, held = filled
    for name in gone:
        found = backups(folder / FOLDER / FILE) if name == "backups" else [folder / FOLDER / name]
        for path in found:
            path.unlink()
    found, note = _opened(folder, made)
    assert found == held
    assert f"{gone[0]} was missing and was written again" in note


def test_database_and_entries_both_gone_leave_the_backup(filled: tuple[Path, Any], made: ModuleType) -> None:
    folder, held = filled
    for name in (FILE, lines.FILE):
        (folder / FOLDER / name).unlink()
    found, note = _opened(folder, made)
    assert found == held
    assert "what was entered last may be lost" in note


def test_all_three_damaged_keep_what_is_sound_and_say_what_is_not(filled: tuple[Path, Any], made: ModuleType) -> None:
    folder, _ = filled
    whole = lines.read_entries(folder / FOLDER / lines.FILE)
    for path in (folder / FOLDER / FILE, *backups(folder / FOLDER / FILE)):
        path.write_bytes(b"no logbook at all" * 300)
    body = (folder / FOLDER / lines.FILE).read_bytes().split(b"\n")
    body[7] = body[7].replace(b"f", b"g", 1)
    (folder / FOLDER / lines.FILE).write_bytes(b"\n".join(body))
    with Logbook(folder) as book:
        assert "Entries lost: 1 (number 7)." in book.note
        assert len(book.entries()) == len(whole.entries) - 1
        assert book.learned("Demo") is not None
    assert (folder / FOLDER / "logbook.damaged-1.sqlite").read_bytes() == b"no logbook at all" * 300
    with Logbook(folder) as book:
        assert book.note == ""


def test_text_lost_leaves_the_flights_that_named_it(filled: tuple[Path, Any]) -> None:
    folder, _ = filled
    for path in (folder / FOLDER / FILE, *backups(folder / FOLDER / FILE)):
        path.unlink()
    body = (folder / FOLDER / lines.FILE).read_bytes().split(b"\n")
    del body[1]
    (folder / FOLDER / lines.FILE).write_bytes(b"\n".join(body))
    with Logbook(folder) as book:
        assert "Entries lost: 1 (number 1)." in book.note
        assert [row.plane for row in book.flights()] == [None] * 3


def test_last_lines_lost_are_not_called_whole(filled: tuple[Path, Any]) -> None:
    folder, _ = filled
    for path in (folder / FOLDER / FILE, *backups(folder / FOLDER / FILE)):
        path.unlink()
    body = (folder / FOLDER / lines.FILE).read_bytes()
    (folder / FOLDER / lines.FILE).write_bytes(body[:-20] + b"x" + body[-19:])
    with Logbook(folder) as book:
        assert "What was entered last may be missing." in book.note


def test_a_logbook_joined_from_two_machines_keeps_both(tmp_path: Path, made: ModuleType) -> None:
    """A folder that was synced while both wrote: the database of one, the file of entries of the other."""
    for name in ("one", "two"):
        with Logbook(tmp_path / name) as book:
            book.save_flight(FlightRow(token=name, date="2026-05-01"))
    shutil.copy(tmp_path / "two" / FOLDER / lines.FILE, tmp_path / "one" / FOLDER / lines.FILE)
    assert _tokens(tmp_path / "one") == {"one", "two"}
    assert _tokens(tmp_path / "one") == {"one", "two"}


def test_only_the_last_backups_are_kept_and_none_without_a_change(tmp_path: Path) -> None:
    for number in range(BACKUPS + 3):
        with Logbook(tmp_path) as book:
            book.save_flight(FlightRow(token=str(number), date="2026-05-01"))
    Logbook(tmp_path).close()
    before = backups(tmp_path / FOLDER / FILE)
    Logbook(tmp_path).close()
    assert backups(tmp_path / FOLDER / FILE) == before
    assert len(before) == BACKUPS


def test_a_damaged_logbook_is_never_put_over_a_good_backup(filled: tuple[Path, Any]) -> None:
    folder, _ = filled
    path = folder / FOLDER / FILE
    good = backups(path)[0].read_bytes()
    path.write_bytes(b"x" * 5000)
    Logbook(folder).close()
    assert good in [backup.read_bytes() for backup in backups(path)]
    assert all(backup.read_bytes().startswith(b"SQLite format 3") for backup in backups(path))


def test_an_open_logbook_follows_where_another_program_put_the_file_back(tmp_path: Path) -> None:
    with Logbook(tmp_path) as book:
        book.save_flight(FlightRow(token="a", date="2026-05-01"))
        path = tmp_path / FOLDER / FILE
        whole = path.read_bytes()
        path.unlink()
        path.write_bytes(whole[:4000])
        with Logbook(tmp_path) as other:
            assert "Nothing is missing." in other.note
            book.save_flight(FlightRow(token="b", date="2026-05-02"))
            assert [row.token for row in other.flights()] == ["a", "b"]


@pytest.mark.parametrize("write", [True, False])
@pytest.mark.parametrize("harm", ["gone", "damaged", "entries gone", "entries damaged"])
def test_an_open_logbook_is_put_right_where_its_files_are_harmed(tmp_path: Path, harm: str, write: bool) -> None:
    with Logbook(tmp_path) as book:
        for number in range(30):
            book.save_flight(FlightRow(token=f"{number:02d}", date="2026-05-01", notes="x" * 2000))
        path, beside = tmp_path / FOLDER / FILE, tmp_path / FOLDER / lines.FILE
        if harm == "gone":
            path.unlink()
        elif harm == "damaged":
            with path.open("r+b") as file:  # in place, as a bad disk does
                file.seek(24)
                file.write(b"\xff" * 20_000)
        elif harm == "entries gone":
            beside.unlink()
        else:
            beside.write_bytes(beside.read_bytes()[:5000] + b"?" * 5)
        if harm == "damaged":
            with pytest.raises(InputError, match="do it again"):
                book.save_flight(FlightRow(token="30", date="2026-05-02")) if write else book.flights()
        if write:
            book.save_flight(FlightRow(token="30", date="2026-05-02"))
        assert [row.token for row in book.flights()] == [f"{number:02d}" for number in range(31 if write else 30)]
        if write or "entries" not in harm:
            assert "Nothing is missing." in book.note or harm == "entries damaged"
    with Logbook(tmp_path) as book:
        assert [row.token for row in book.flights()] == [f"{number:02d}" for number in range(31 if write else 30)]
        assert write is False or book.note == ""


def test_a_logbook_moved_away_while_open_is_said(tmp_path: Path) -> None:
    with Logbook(tmp_path) as book:
        book.save_flight(FlightRow(token="a", date="2026-05-01"))
        (tmp_path / FOLDER).rename(tmp_path / "elsewhere")
        with pytest.raises(InputError, match="check the folder"):
            book.flights()
        (tmp_path / "elsewhere").rename(tmp_path / FOLDER)
        assert [row.token for row in book.flights()] == ["a"]


def test_two_programs_open_a_damaged_logbook_at_once(tmp_path: Path) -> None:
    with Logbook(tmp_path) as book:
        book.save_flight(FlightRow(token="a", date="2026-05-01"))
    path = tmp_path / FOLDER / FILE
    path.write_bytes(path.read_bytes()[:5000])
    writers = [_writer(tmp_path, name, 5) for name in "xyz"]
    said = [writer.communicate() for writer in writers]
    assert [err for _, err in said] == [""] * 3
    assert _tokens(tmp_path) == {"a", *(line for out, _ in said for line in out.split())}
    assert len(list((tmp_path / FOLDER).glob("*.damaged-*.sqlite"))) == 1
