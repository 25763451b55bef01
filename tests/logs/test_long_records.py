"""A record of 200 MB: read in bounded memory, with progress that only rises."""

import subprocess
import sys
from pathlib import Path

import pytest

SIZE = 200_000_000
MOST = 160_000_000
"""Bytes of memory the reading process may take in all, NumPy and SciPy included."""
CHILD = """
import resource, sys
from pathlib import Path
from evenfall.logs.csv_log import ROWS, read_csv
said = []
track = read_csv(Path(sys.argv[1]), progress=said.append)
assert said == sorted(said) and said[-1] == 1.0 and len(said) > 20
assert ROWS / 2 <= len(track.time) <= ROWS
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024, len(track.time), *track.notes)
"""


@pytest.mark.long
def test_a_long_record_is_read_in_bounded_memory(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    with path.open("w") as file:
        file.write("time (s),lat,lon,alt (m),speed (m/s),rpm,throttle (%),voltage (V)\n")
        row, number = "", 0
        while file.tell() < SIZE:
            for number in range(number, number + 20_000):
                row = f"{number / 100:.2f},48.{number % 9999:06d},11.5000{number % 99:02d},{100 + number % 80}.25,"
                file.write(f"{row}{15 + number % 9}.5,{4000 + number % 2000},{number % 100},16.{number % 100:02d}\n")
            number += 1
    done = subprocess.run([sys.executable, "-c", CHILD, str(path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    peak = int(done.stdout.split()[0])
    assert "every" in done.stdout
    assert 30_000_000 < peak < MOST, f"{peak / 1e6:.0f} MB"
