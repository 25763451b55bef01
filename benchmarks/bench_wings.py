"""Lifting-line conditions a second: two wings of 22 stations, table sections, batches of 1000, one core.

OMP_NUM_THREADS=1 python benchmarks/bench_wings.py
"""

from __future__ import annotations

import time

from timing import best  # before numpy: sets one thread  # isort: skip

import numpy as np

from evenfall.aero.surfaces import Control, SurfaceSpec
from evenfall.aero.wings import Flow, LiftingLine

TARGET = 15_000
BATCH = 1000


def wings() -> tuple[SurfaceSpec, ...]:
    """Two tapered wings of 1.24 m with four ailerons."""

    def ailerons(wing: str) -> tuple[Control, ...]:
        ends = {"inner": 0.14, "outer": 0.97, "inner_fraction": 0.28, "outer_fraction": 0.28}
        return tuple(Control(name=f"{wing}_{side}", side=side, **ends) for side in ("left", "right"))

    return tuple(
        SurfaceSpec(
            name=name,
            root=(0.005 * sign, 0.0, -0.16 * sign),
            tip=(0.005 * sign, 0.62, -0.16 * sign),
            root_chord=0.172,
            tip_chord=0.154,
            controls=ailerons(name),
        )
        for name, sign in (("upper", 1), ("lower", -1))
    )


def conditions(alpha_deg: float, crow_deg: float, throw_deg: float, rate: float) -> Flow:
    """Random conditions within these limits: opposed crow, a roll command and body rates."""
    draw = np.random.default_rng(2).uniform
    crow = [np.radians(draw(0, crow_deg, BATCH)) * np.sign(draw(-1, 1, BATCH))] * 2
    throw = np.radians(draw(-throw_deg, throw_deg, BATCH))
    return Flow(
        speed=draw(14, 30, BATCH),
        alpha=np.radians(draw(-alpha_deg, alpha_deg, BATCH)),
        p=draw(-rate, rate, BATCH),
        q=draw(-1, 1, BATCH),
        deltas={
            "upper_left": crow[0] + throw,
            "upper_right": crow[0] - throw,
            "lower_left": throw - crow[1],
            "lower_right": -throw - crow[1],
        },
    )


LINES = (6, 20, 8, 4)
EDGE = (10, 25, 16, 8)
"""Greatest incidence, crow and throw (deg) and roll rate (rad/s)."""


def per_second(line: LiftingLine, limits: tuple[float, float, float, float]) -> tuple[float, float, float]:
    """Conditions a second from rest and from a nearby start, and the share that converged."""
    flow = conditions(*limits)
    loads = line.solve(flow)
    near = 1.001 * loads.circulation
    rest, warm = best(lambda: line.solve(flow)), best(lambda: line.solve(flow, start=near))
    return BATCH / rest, BATCH / warm, float(loads.converged.mean())


def main() -> None:
    """Print conditions a second from rest and from a nearby start."""
    begin = time.perf_counter()
    line = LiftingLine(wings())
    print(f"built in {1e3 * (time.perf_counter() - begin):.0f} ms, {line.stations} stations, target {TARGET} a second")
    for name, limits in (
        ("lines: crow to 20, throw to 8, incidence to 6 deg", LINES),
        ("edge: crow to 25, throw to 16, incidence to 10 deg", EDGE),
    ):
        rest, warm, share = per_second(line, limits)
        print(f"{name}: {rest:.0f} a second from rest, {warm:.0f} from nearby, {100 * share:.1f} % converged")


if __name__ == "__main__":
    main()
