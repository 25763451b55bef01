"""Timing for all benchmarks: one thread, processor time, so that other work on the machine does not count."""

from __future__ import annotations

import os
import time
from collections.abc import Callable

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")


def best(work: Callable[[], object], runs: int = 7) -> float:
    """Least processor time of several runs, s."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)
