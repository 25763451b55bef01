"""Learning and what follows from it: the fit of 20 pieces, the whole answer, carrying over, a programme's tuning.

OMP_NUM_THREADS=1 python benchmarks/bench_learning.py [--programme]

Seconds of processor time, one thread; the programme's tuning is wall time of two processes.
"""

from __future__ import annotations

from timing import best  # before numpy: sets one thread  # isort: skip

import argparse
import math
import time

from evenfall.fit.calibrate import calibrate
from evenfall.fit.ground import Ground
from evenfall.logs.evidence import Evidence, Flight, Pull, SteadySpeed, TimedLine, TimedRolls
from evenfall.logs.evidence_file import read_flight
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path, programme_path
from evenfall.workflow import prepare, tune
from evenfall.workflow.carrying import carry
from evenfall.workflow.learning import learn
from evenfall.workflow.programming import tune_programme

DOWN, BARE, DIAGONAL = -math.pi / 2, -math.pi / 2, -math.pi / 4
TEXT = """format = 1
date = "2026-05-02"
""" + "".join(
    f'[[timed]]\nline = "{line}"\nseconds = {seconds}\nlength_m = 100\nentry_speed_m_s = 20\ncrow = {crow}\n'
    for line, seconds, crow in (
        ("vertical down", 4.5, "true"), ("vertical down", 4.6, "true"), ("vertical down", 3.6, "false"),
        ("45 down", 5.2, "true"), ("45 down", 4.4, "false"), ("vertical down", 4.4, "true"),
    )
)  # fmt: skip


def pieces() -> list[Evidence]:
    """Twenty pieces of all kinds."""
    found: list[Evidence] = []
    for k in range(6):
        with_crow = Flight(slope=DOWN, crow=True)
        found.append(TimedLine(name=f"down {k}", flight=with_crow, length=100.0, seconds=4.6 + 0.05 * k, sigma=0.3,
                               speed=20.0, speed_sigma=3.0))  # fmt: skip
        found.append(TimedLine(name=f"bare {k}", flight=Flight(slope=BARE, crow=False), length=100.0,
                               seconds=3.7 + 0.05 * k, sigma=0.3, speed=20.0, speed_sigma=3.0))  # fmt: skip
    for k in range(3):
        found.append(Pull(name=f"pull {k}", flight=Flight(slope=DOWN), rate=0.04, sigma=0.02))
        found.append(SteadySpeed(name=f"level {k}", flight=Flight(slope=0.0, stick=0.7), speed=24.0, sigma=1.0))
    for k in range(2):
        found.append(TimedRolls(name=f"rolls {k}", flight=Flight(slope=DOWN), rolls=2, seconds=5.0, sigma=0.4,
                                throw=math.radians(7), speed=22.0))  # fmt: skip
    return found


def main() -> None:
    """Print one line for each."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--programme", action="store_true", help="tune the programme of seventeen figures as well")
    given = asked.parse_args()
    ready = prepare(load_plane(demo_path("biplane_124")))
    answer = tune(ready)
    plan = answer.plan
    assert plan is not None
    evidence = pieces()

    def fit() -> None:
        calibrate(Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted), evidence)

    print(f"fit of {len(evidence)} pieces, balances included: {best(fit, 3):.2f} s (wanted 2)")
    record = read_flight(TEXT, path="bench.flight.toml")
    untaught = answer.predicted
    print(f"whole answer, advice included: {best(lambda: learn(ready, plan, [record], untaught=untaught), 3):.2f} s")
    other = load_plane(demo_path("biplane_155"))
    print(f"carried to another plane: {best(lambda: carry(ready, plan, other), 2):.2f} s")
    if given.programme:
        start = time.perf_counter()
        tuned = tune_programme(ready, programme_path("seventeen"))
        taken = time.perf_counter() - start
        print(f"programme of seventeen figures tuned, {len(tuned.trials)} settings, two processes: {taken:.0f} s wall "
              "(wanted 120)")  # fmt: skip


if __name__ == "__main__":
    main()
