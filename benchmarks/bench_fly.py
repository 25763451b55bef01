"""Seventeen figures: one flight with its tables, and 500 perturbed planes; seconds of processor time, one core.

OMP_NUM_THREADS=1 python benchmarks/bench_fly.py
"""

from __future__ import annotations

from timing import best  # before numpy: sets one thread  # isort: skip

import time

import numpy as np

from evenfall.lines.fly import fly_path
from evenfall.lines.fly_spread import drawn_at_random, flight_nudges
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path, programme_path
from evenfall.workflow import Ready, prepare, tune
from evenfall.workflow.flying import Flown, fly

ONE, MANY, COUNT = 1.5, 60.0, 500


def flown(ready: Ready) -> Flown:
    """The programme flown once with the tuned plan."""
    plan = tune(ready).plan
    assert plan is not None
    return fly(ready, plan, programme_path("seventeen"), spread=False)


def perturbed_flights(done: Flown, *, count: int = COUNT) -> tuple[float, int, float]:
    """Seconds for so many planes drawn from the spreads, how many flew to the end, spread of their mean speed, m/s."""
    changes = flight_nudges(
        done.ready.frames, done.forces, done.plan, done.ready.file.spreads, wanted=done.ready.wanted
    )
    planes = drawn_at_random(done.ready.file.plane, changes, count=count, rng=np.random.default_rng(1))
    start = time.process_time()
    flight = fly_path(
        done.ready.unit,
        done.plan,
        done.flight.path,
        done.forces,
        wanted=done.ready.wanted,
        pilot=done.pilot,
        variants=planes,
        charge_left=1.0,
    )
    taken = time.process_time() - start
    whole = flight.end >= flight.path.length - 1e-6
    speeds = flight.path.length / flight.row("time")[-1, whole]
    return taken, int(whole.sum()), float(speeds.std()) if whole.any() else 0.0


def main() -> None:
    """Print one row a demo plane."""
    print(f"wanted: {ONE:.1f} s for one flight, tables of drag under load included; {MANY:.0f} s for {COUNT} planes")
    for name in DEMOS:
        ready = prepare(load_plane(demo_path(name)))
        done = flown(ready)
        one = best(lambda: fly(ready, done.plan, done.sequence, spread=False), 3)  # noqa: B023
        march = best(lambda: fly(ready, done.plan, done.sequence, spread=False, forces=done.forces), 3)  # noqa: B023
        spread = best(lambda: fly(ready, done.plan, done.sequence, forces=done.forces), 1)  # noqa: B023
        many, whole, deviation = perturbed_flights(done)
        print(
            f"{name:18}  one {one:.2f} s, tables known {march:.2f} s, with spreads {spread:.2f} s; {COUNT} planes "
            f"{many:.1f} s, {whole} to the end, mean speed +- {deviation:.2f} m/s; {len(done.flight.place)} steps, "
            f"{done.report.ended.value}",
            flush=True,
        )


if __name__ == "__main__":
    main()
