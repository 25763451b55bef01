"""Seconds to cut a 30-minute record at 10 Hz, and to read a CSV of the given size (MB, 20 by default)."""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from evenfall.logs.csv_log import read_csv
from evenfall.logs.cut import lines
from evenfall.logs.track import cleaned


def main() -> None:
    clock = np.arange(0, 1800, 0.1)
    angle = np.repeat(np.random.default_rng(0).uniform(-1.5, 1.5, 600), 30)
    noise = np.random.default_rng(1).normal(0, 0.5, (3, len(clock)))
    way = {"x": np.cumsum(2.2 * np.cos(angle)) + noise[0], "y": noise[1], "height": np.cumsum(2.2 * np.sin(angle))}
    begun = time.perf_counter()
    found = lines(cleaned("made", clock, way, dated=False))
    print(f"cut 30 min at 10 Hz: {time.perf_counter() - begun:.2f} s, {len(found)} lines")
    size = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        block = "".join(f"{{}}.{i % 10},47.123456,11.123456,{100 + i},25.5,8000,45,16.1\n" for i in range(10))
        with path.open("w") as file:
            file.write("time (s),lat,lon,alt (m),speed (m/s),rpm,throttle (%),voltage (V)\n")
            second = 0
            while file.tell() < size * 1e6:
                file.writelines(block.replace("{}", str(second + k)) for k in range(1000))
                second += 1000
        begun = time.perf_counter()
        rows = len(read_csv(path).time)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"CSV of {size:.0f} MB: {time.perf_counter() - begun:.1f} s, {rows} rows kept, peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
