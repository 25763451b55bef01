"""A record of 200 MB: read in bounded memory, with progress that only rises."""

import subprocess
import sys
from pathlib import Path

import pytest

SIZE = 200_000_000
MOST = 160_000_000
"""Bytes of memory the reading process may take in all, NumPy and SciPy included."""
CHILD = """
import sys
from pathlib import Path
from evenfall.logs.csv_log import ROWS, read_csv
said = []
track = read_csv(Path(sys.argv[1]), progress=said.append)
assert said == sorted(said) and said[-1] == 1.0 and len(said) > 20
assert ROWS / 2 <= len(track.time) <= ROWS
# the peak of this program's own memory: what getrusage says begins at that of the process it was started from
with open("/proc/self/status") as file:
    peak = next(int(line.split()[1]) for line in file if line.startswith("VmHWM:"))
print(peak * 1024, len(track.time), *track.notes)
"""


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="the peak of memory is read as Linux says it")
def test_a_long_record_is_read_in_bounded_memory(tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    with path.open("w") as file:
        file.write("time (s),lat,lon,alt (m),speed (m/s),rpm,throttle (%),voltage (V)\n")
        first = 0
        while file.tell() < SIZE:
            for k in range(first, first + 20_000):
                file.write(f"{k / 100:.2f},48.{k % 9999:06d},11.5000{k % 99:02d},{100 + k % 80}.25,{15 + k % 9}.5,")
                file.write(f"{4000 + k % 2000},{k % 100},16.{k % 100:02d}\n")
            first += 20_000
    done = subprocess.run([sys.executable, "-c", CHILD, str(path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    peak = int(done.stdout.split()[0])
    assert "every" in done.stdout
    assert 30_000_000 < peak < MOST, f"{peak / 1e6:.0f} MB"
