"""A full disk and files that may not grow: said plainly, nothing entered is lost, and it goes on when there is room."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from evenfall.record.logbook import Logbook

FULL = """
import sys
from pathlib import Path
from evenfall.errors import InputError
from evenfall.record.logbook import Logbook
from evenfall.record.rows import FlightRow

def refusal(act):
    try:
        act()
    except InputError as error:
        return str(error)
    raise AssertionError("nothing was refused")

disk = Path(sys.argv[1])
filler = disk / "filler"
filler.write_bytes(b"x" * 150_000)
book, said = Logbook(disk), set()
for number in range(2000):
    row = FlightRow(token=str(number), date="2026-05-01", notes="x" * (137 * number % 3000))
    try:
        said.add(book.save_flight(row))
    except InputError as error:
        assert "nothing was entered: the disk is full" in str(error), error
        break
else:
    raise AssertionError("the disk never filled")
assert len(said) > 10
assert {row.token for row in book.flights()} == said
book.close()
with Logbook(disk) as book:
    assert {row.token for row in book.flights()} == said
    assert book.note in ("", "No backup could be written: No space left on device."), book.note
    big = FlightRow(token="big", date="2026-05-01", notes="x" * 200_000)
    assert "the disk is full" in refusal(lambda: book.save_flight(big))
    assert "was not kept: No space left" in refusal(lambda: book.keep_original("log.csv", b"1" * 400_000))
    assert book.originals() == ()
    filler.unlink()
    said.add(book.save_flight(FlightRow(token="after", date="2026-05-01")))
with Logbook(disk) as book:
    assert book.note == "", book.note
    assert {row.token for row in book.flights()} == said
print("kept", len(said))
"""


def test_a_full_disk_is_said_and_nothing_is_lost(tmp_path: Path) -> None:
    """On a disk of 400 kB, seen by one program alone and gone with it; left out where none may be mounted."""
    inside = f'mount -t tmpfs -o size=400k tmpfs {tmp_path} || exit 77; exec {sys.executable} -c "$1" {tmp_path}'
    command = ["unshare", "-rm", "sh", "-c", inside, "sh", FULL]
    if shutil.which("unshare") is None:
        pytest.skip("no disk of its own can be made here")
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode == 77 or "unshare failed" in done.stderr:
        pytest.skip("no disk may be mounted here")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("kept ")


LIMITED = """
import resource, sys
from pathlib import Path
from evenfall.errors import InputError
from evenfall.record.logbook import Logbook
from evenfall.record.rows import FlightRow
book = Logbook(Path(sys.argv[1]))
resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, 150_000))
for number in range(500):
    try:
        print(book.save_flight(FlightRow(token=str(number), date="2026-05-01", notes="x" * 1500)), flush=True)
    except InputError as error:
        sys.exit(str(error))
"""


@pytest.mark.skipif(os.name != "posix", reason="limits of file sizes are set otherwise here")
def test_a_file_that_may_not_grow_is_said_and_nothing_is_lost(tmp_path: Path) -> None:
    done = subprocess.run([sys.executable, "-c", LIMITED, str(tmp_path)], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "nothing was entered: the disk is full or cannot be written" in done.stderr
    assert "Traceback" not in done.stderr
    said = set(done.stdout.split())
    assert len(said) > 5
    with Logbook(tmp_path) as book:
        assert book.note == ""
        assert {row.token for row in book.flights()} == said
