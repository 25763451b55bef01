"""Speed map, 41 crow angles by 21 settings of the motor brake with all equilibria: seconds of processor time, one core.

OMP_NUM_THREADS=1 python benchmarks/bench_map.py
"""

from __future__ import annotations

from timing import best  # before numpy: sets one thread  # isort: skip

import numpy as np

from evenfall.lines.map_curves import contour_speeds, contours, shaft_band, two_speeds
from evenfall.lines.maps import BRAKE_STEPS, CROW_STEPS, map_base, speed_grid
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.plan import Throws, arrangements_of
from evenfall.sheet.map_page import map_page
from evenfall.sheet.speed_map import speed_map_svg
from evenfall.tune.candidates import crow_at
from evenfall.tune.plane_map import hinge_stop, map_table, plane_map
from evenfall.workflow import MapAnswer, prepare

TARGET = 0.5


def map_times(name: str) -> dict[str, float]:
    """Seconds of each part of a demo plane's map; all but the drag table count towards the target."""
    ready = prepare(load_plane(demo_path(name)))
    plane, wanted = ready.frame.plane, ready.wanted
    arrangement = arrangements_of(plane)[0]
    stop = hinge_stop(plane, arrangement)[0]
    crow = crow_at(plane, arrangement, stop)
    table = map_table(ready.frame, crow, wanted=wanted)
    base = map_base(ready.unit, table, limit=stop, wanted=wanted)
    crows, brakes = np.linspace(0.0, stop, CROW_STEPS), np.linspace(0.0, 100.0, BRAKE_STEPS)
    speeds = (wanted, *contour_speeds(speed_grid(base, crows, brakes), wanted))
    level = plane.controller.levels[0]
    drawn = plane_map(ready.frame, ready.unit, wanted=wanted, arrangement=arrangement, level=level, angle=stop / 2)
    page = map_page(MapAnswer(ready=ready, plan_name="", throws=Throws(), map=drawn, estimate=None))
    return {
        "drag table": best(lambda: map_table(ready.frame, crow, wanted=wanted), 2),
        "grid": best(lambda: map_base(ready.unit, table, limit=stop, wanted=wanted))
        + best(lambda: speed_grid(base, crows, brakes)),
        "lines": best(lambda: contours(base, speeds, top=stop)),
        "folds": best(lambda: two_speeds(base)),
        "band": best(lambda: shaft_band(base, wanted)),
        "SVG": best(lambda: speed_map_svg(page)),
    }


def whole(times: dict[str, float]) -> float:
    """Seconds of the map with its drag table made before."""
    return sum(value for part, value in times.items() if part != "drag table")


def main() -> None:
    """Print one row a demo plane."""
    print(f"target {TARGET:.2f} s for grid: {CROW_STEPS} x {BRAKE_STEPS}, drag table and propeller map made before")
    for name in DEMOS:
        times = map_times(name)
        parts = "  ".join(f"{part} {value:.3f}" for part, value in times.items())
        print(f"{name:20} {parts}  all but the table {whole(times):.3f}")


if __name__ == "__main__":
    main()
