"""A slider moved to the answer as text, alone and beside a tune in another thread: milliseconds of wall time.

OMP_NUM_THREADS=1 python benchmarks/bench_quick.py
"""

from __future__ import annotations

from timing import best  # before numpy: sets one thread  # isort: skip

import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from evenfall.app.engine import Engine
from evenfall.app.messages import Ask
from evenfall.app.workspace import Workspace
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.planfile import write_plan
from evenfall.workflow import prepare, shafts_of, tables_of, tune
from evenfall.workflow.following import family_of

MEDIAN, P95 = 8.0, 15.0
"""ms."""
MOVES = 300


def moves(levels: tuple[str, ...], most: float) -> Iterator[dict[str, object]]:
    """Sliders moved as by hand: crow angle, threshold, throttle curve, deployment curve, now and then the level."""
    for k in range(MOVES):
        sway = 0.5 + 0.45 * np.sin(0.13 * k)
        yield [
            {"angle_deg": float(3 + (most - 3) * sway)},
            {"threshold_percent": float(15 + 30 * sway)},
            {"throttle_curve": ((0.0, 0.0), (50.0, float(30 + 40 * sway)), (100.0, 100.0))},
            {"curve": ((0.0, 100.0), (15.0, float(20 + 70 * sway)), (30.0, 0.0), (100.0, 0.0))},
            {"level": levels[(k // 5) % len(levels)]},
        ][k % 5 if k % 25 < 5 else 0]


def answers(engine: Engine, plane: str, plan: str, levels: tuple[str, ...], most: float) -> list[float]:
    """Milliseconds of every move, question to text."""
    times = []
    for seq, changes in enumerate(moves(levels, most)):
        raw = {"kind": "ask", "seq": seq, "topic": "quick", "plane": plane, "plan": plan, "changes": changes}
        start = time.perf_counter()
        page = engine.answer(Ask.model_validate(raw), progress=lambda words: None, cancelled=lambda: False)
        page.model_dump_json()
        times.append(1e3 * (time.perf_counter() - start))
    return times


def quick_times(name: str) -> dict[str, float]:
    """Milliseconds: first answer after opening, median and 95th percentile alone and beside a tune."""
    file = load_plane(demo_path(name))
    plan = tune(file).plan
    assert plan is not None
    assert plan.crow is not None
    made = prepare(file)
    family = family_of(made, plan)
    levels = tuple(level.name for level in file.plane.controller.levels)
    most = float(np.degrees(family.top if family is not None else plan.crow.angle))
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "plane.toml").write_text(file.text, encoding="utf-8")
        write_plan(plan, Path(folder) / "plane.plan.toml")
        workspace = Workspace(folder)
        engine = Engine(workspace)
        start = time.perf_counter()
        engine.warm("plane.toml", "plane.plan.toml")
        first = 1e3 * (time.perf_counter() - start)
        answers(engine, "plane.toml", "plane.plan.toml", levels, most)
        alone = answers(engine, "plane.toml", "plane.plan.toml", levels, most)
        stop = threading.Event()

        def busy() -> None:
            while not stop.is_set():
                tune(made)

        other = threading.Thread(target=busy)
        other.start()
        beside = answers(engine, "plane.toml", "plane.plan.toml", levels, most)
        stop.set()
        other.join()
        workspace.close()
    return {
        "tables": 1e3 * best(lambda: tables_of(made, family), 2) + 1e3 * best(lambda: shafts_of(made), 2),
        "opened": first,
        "median": float(np.median(alone)),
        "p95": float(np.quantile(alone, 0.95)),
        "median beside a tune": float(np.median(beside)),
        "p95 beside a tune": float(np.quantile(beside, 0.95)),
    }


def main() -> None:
    """Print one row a demo plane."""
    print(f"wanted: median {MEDIAN:.0f} ms, 95 % within {P95:.0f} ms, {MOVES} moves")
    for name in DEMOS:
        print(f"{name:18}" + "".join(f"  {part} {value:.1f}" for part, value in quick_times(name).items()), flush=True)


if __name__ == "__main__":
    main()
