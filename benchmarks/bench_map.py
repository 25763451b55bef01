"""Speed map, 41 crow angles by 21 settings of the motor brake with all equilibria: seconds of processor time, one core.

OMP_NUM_THREADS=1 python benchmarks/bench_map.py
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from evenfall.lines.map_curves import contour_speeds, contours, shaft_band, two_speeds
from evenfall.lines.maps import BRAKE_STEPS, CROW_STEPS, map_base, speed_grid
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.plan import arrangements_of
from evenfall.sheet.map_page import map_page
from evenfall.sheet.speed_map import speed_map_svg
from evenfall.tune.candidates import crow_at
from evenfall.tune.plane_map import hinge_stop, map_table, plane_map
from evenfall.workflow import MapAnswer, Throws, prepare

TARGET = 0.5


def best(work: Callable[[], object], runs: int = 7) -> float:
    """Least processor time of several runs, s."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    """Print one row a demo plane."""
    print(f"target {TARGET:.2f} s for grid: {CROW_STEPS} x {BRAKE_STEPS}, drag table and propeller map made before")
    print(f"{'plane':20} {'drag table':>10} {'grid':>7} {'lines':>7} {'folds':>7} {'band':>7} {'SVG':>7}  all cached")
    for name in DEMOS:
        ready = prepare(load_plane(demo_path(name)))
        plane = ready.frame.plane
        arrangement = arrangements_of(plane)[0]
        stop = hinge_stop(plane, arrangement)[0]
        crow = crow_at(plane, arrangement, stop)
        table = map_table(ready.frame, crow, wanted=ready.wanted)
        base = map_base(ready.unit, table, limit=stop, wanted=ready.wanted)
        crows, brakes = np.linspace(0.0, stop, CROW_STEPS), np.linspace(0.0, 100.0, BRAKE_STEPS)
        grid = speed_grid(base, crows, brakes)
        speeds = (ready.wanted, *contour_speeds(grid, ready.wanted))
        drawn = plane_map(
            ready.frame,
            ready.unit,
            wanted=ready.wanted,
            arrangement=arrangement,
            level=plane.controller.levels[0],
            angle=stop / 2,
        )
        page = map_page(MapAnswer(ready=ready, plan_name="", throws=Throws(), map=drawn, estimate=None))
        made = [
            best(lambda: map_table(ready.frame, crow, wanted=ready.wanted), 2),  # noqa: B023
            best(lambda: map_base(ready.unit, table, limit=stop, wanted=ready.wanted))  # noqa: B023
            + best(lambda: speed_grid(base, crows, brakes)),  # noqa: B023
            best(lambda: contours(base, speeds, top=stop)),  # noqa: B023
            best(lambda: two_speeds(base)),  # noqa: B023
            best(lambda: shaft_band(base, ready.wanted)),  # noqa: B023
            best(lambda: speed_map_svg(page)),  # noqa: B023
        ]
        print(f"{name:20} {made[0]:10.3f} " + " ".join(f"{t:7.3f}" for t in made[1:]) + f"  {sum(made[1:]):.3f}")


if __name__ == "__main__":
    main()
