"""Every budget in one table: wanted, measured, met or not, and the machine it was measured on.

    python benchmarks/run.py            everything but the installation
    python benchmarks/run.py --install  also a fresh installation (needs a network)
    python benchmarks/run.py --quick    without the cold runs

Times are processor time of one thread, the best of several runs. The comparison with MachUpX needs the reference extra
(`pip install ".[reference]"`) and is left out without it.
"""

from __future__ import annotations

from timing import best  # before numpy: sets one thread  # isort: skip

import argparse
import datetime
import importlib.util
import os
import platform
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import bench_fly
import bench_map
import bench_wings
import numpy as np

from evenfall import __version__
from evenfall.aero.wings import LiftingLine
from evenfall.lines.sampling import draw_variants
from evenfall.lines.spread import searched_speed, setting_nudge, surface_nudges
from evenfall.lines.variants import Variant, VariantSpeeds, variant_speeds
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.workflow import prepare, tune
from evenfall.workflow.flying import fly

ROOT = Path(__file__).resolve().parents[1]
CACHED, COLD, MAP, DRAWN, HELP, INSTALL, SIZE = 1.0, 2.5, 0.5, 2.0, 0.15, 20.0, 380.0


@dataclass(frozen=True, kw_only=True)
class Row:
    """One budget: what is wanted and measured in `unit`; more is better where `most` is False. No wanted: for
    information."""

    name: str
    wanted: float | None
    measured: float
    unit: str
    most: bool = True

    @property
    def verdict(self) -> str:
        """Met, or by how much not."""
        if self.wanted is None:
            return ""
        met = self.measured <= self.wanted if self.most else self.measured >= self.wanted
        return "met" if met else f"missed, {self.measured / self.wanted:.2f} x"


def wings() -> Iterator[Row]:
    """Lifting-line conditions a second."""
    line = LiftingLine(bench_wings.wings())
    for name, limits in (("lines", bench_wings.LINES), ("edge of the stall", bench_wings.EDGE)):
        rest, warm, share = bench_wings.per_second(line, limits)
        wanted = float(bench_wings.TARGET) if name == "lines" else None
        yield Row(name=f"lifting line, {name}, from rest", wanted=wanted, measured=rest, unit="1/s", most=False)
        yield Row(name=f"lifting line, {name}, from nearby", wanted=None, measured=warm, unit="1/s", most=False)
        yield Row(name=f"lifting line, {name}, converged", wanted=None, measured=100 * share, unit="%", most=False)


def tunes() -> Iterator[Row]:
    """`tune` of every demo plane, tables and propeller map in memory."""
    for name in DEMOS:
        plane = load_plane(demo_path(name))
        tune(plane)
        seconds = best(lambda: tune(plane), 5)  # noqa: B023
        yield Row(name=f"tune {name}, cached", wanted=CACHED, measured=seconds, unit="s")


_FIRST_TUNE = """
import sys, time
from evenfall.plane.files import load_plane
from evenfall.workflow import prepare, tune
from evenfall.workflow.flying import fly
plane = load_plane(sys.argv[1])
start = time.process_time()
tune(plane)
print(time.process_time() - start)
"""


def first_tunes() -> Iterator[Row]:
    """The first `tune` of a new process, without and with the propeller map on disk."""
    for name in DEMOS:
        with tempfile.TemporaryDirectory() as folder:
            environment = {**os.environ, "EVENFALL_CACHE": folder}
            command = [sys.executable, "-c", _FIRST_TUNE, str(demo_path(name))]
            cold, again = (
                float(subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout)
                for _ in range(2)
            )
        yield Row(name=f"tune {name}, cold", wanted=COLD, measured=cold, unit="s")
        yield Row(name=f"tune {name}, new process, map on disk", wanted=None, measured=again, unit="s")


def maps() -> Iterator[Row]:
    """The speed map with all equilibria, lines, folds and picture."""
    for name in DEMOS:
        times = bench_map.map_times(name)
        yield Row(name=f"speed map {name}", wanted=MAP, measured=bench_map.whole(times), unit="s")


def programmes() -> Iterator[Row]:
    """Seventeen figures flown once, tables of drag under load included, and by 500 perturbed planes."""
    for name in DEMOS:
        ready = prepare(load_plane(demo_path(name)))
        done = bench_fly.flown(ready)
        seconds = best(lambda: fly(ready, done.plan, done.sequence, spread=False), 3)  # noqa: B023
        yield Row(name=f"seventeen figures {name}", wanted=bench_fly.ONE, measured=seconds, unit="s")
    many = bench_fly.perturbed_flights(done)[0]
    yield Row(name=f"the same, {bench_fly.COUNT} perturbed planes", wanted=bench_fly.MANY, measured=many, unit="s")


def drawn_lines(count: int = 1000) -> Iterator[Row]:
    """Vertical down of `count` planes drawn from the stated spreads."""
    answer = tune(load_plane(demo_path("biplane_124"))).predicted
    assert answer is not None
    assert answer.plan.crow is not None
    file, line = answer.ready.file, answer.survey.line("vertical down")
    surfaces = [
        *surface_nudges(answer.ready.frames, answer.survey, answer.plan.crow)[line.name],
        setting_nudge(file.plane, answer.tables, line, answer.plan.crow),
    ]

    def draw() -> list[Variant]:
        return draw_variants(
            file.plane,
            file.spreads,
            level=file.plane.controller.level(answer.plan.motor.level),
            surfaces=surfaces,
            count=count,
            rng=np.random.default_rng(1),
        )

    def solve(variants: list[Variant]) -> VariantSpeeds:
        return variant_speeds(
            answer.ready.unit,
            answer.plan,
            answer.tables.lines[line.name],
            stick=line.stick,
            deployment=line.deployment,
            near=line.steady[0].state,
            variants=variants,
        )

    yield Row(name=f"{count} perturbed lines", wanted=DRAWN, measured=best(lambda: solve(draw()), 3), unit="s")
    some = draw()[:25]
    found, here = solve(some), line.steady[0].state
    full = [searched_speed(answer.ready.unit, answer.plan, answer.tables, line, here, variant) for variant in some]
    off = np.abs(found.speed / np.array(full) - 1)[found.found]
    yield Row(name="of them, against the full search", wanted=0.1, measured=100 * float(off.max()), unit="%")


def help_text() -> Iterator[Row]:
    """`evenfall --help`, wall time of the whole process."""
    times = []
    for _ in range(7):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-m", "evenfall", "--help"], capture_output=True, check=True)
        times.append(time.perf_counter() - start)
    yield Row(name="evenfall --help", wanted=HELP, measured=min(times), unit="s")


def installation() -> Iterator[Row]:
    """A copy of the tracked files set up by start.py in an empty folder: wall time and size on disk."""
    with tempfile.TemporaryDirectory() as folder:
        archive = subprocess.run(["git", "archive", "HEAD"], cwd=ROOT, capture_output=True, check=True).stdout
        subprocess.run(["tar", "-x", "-C", folder], input=archive, check=True)
        start = time.perf_counter()
        subprocess.run([sys.executable, "start.py", "--help"], cwd=folder, capture_output=True, check=True)
        yield Row(name="fresh installation", wanted=INSTALL, measured=time.perf_counter() - start, unit="s")
        files = [path for path in Path(folder, ".venv").rglob("*") if path.is_file() and not path.is_symlink()]
        size = sum(path.stat().st_blocks * 512 for path in files) / 1e6
        yield Row(name="size of the environment", wanted=SIZE, measured=size, unit="MB")


def beside_machupx() -> Iterator[Row]:
    """Ours and MachUpX on the same surfaces and linear sections: greatest difference, conditions a second."""
    if importlib.util.find_spec("machupX") is None:
        print("beside MachUpX: left out, the reference extra is not installed", file=sys.stderr)
        return
    place = ROOT / "tools" / "compare_liftingline.py"
    spec = importlib.util.spec_from_file_location("compare_liftingline", place)
    assert spec is not None
    assert spec.loader is not None
    tool = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = tool
    spec.loader.exec_module(tool)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        rows = tool.compare(tool.cases(), stations=40)
        us, them = tool.conditions_per_second()
    for part, name in ((slice(3), "force"), (slice(3, 6), "moment")):
        scale = max(float(np.abs(theirs[part]).max()) for _, _, theirs in rows)
        off = max(float(np.abs(ours[part] - theirs[part]).max()) for _, ours, theirs in rows)
        yield Row(name=f"difference from MachUpX, {name}", wanted=1.0, measured=100 * off / scale, unit="% of greatest")
    yield Row(name="ours, linear sections, batch of 1000", wanted=None, measured=us, unit="1/s", most=False)
    yield Row(name="MachUpX, one by one", wanted=None, measured=them, unit="1/s", most=False)


def conditions() -> str:
    """The machine, in one line."""
    name = platform.processor() or platform.machine()
    cpu = Path("/proc/cpuinfo")
    if cpu.exists():
        models = [line.partition(":")[2].strip() for line in cpu.read_text().splitlines() if line.startswith("model n")]
        name = models[0] if models else name
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return (
        f"Evenfall {__version__}, {datetime.date.today()}; {name}, {os.cpu_count()} cores{load}; "
        f"Python {platform.python_version()}, NumPy {np.__version__}, one thread"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--install", action="store_true", help="also a fresh installation (needs a network)")
    parser.add_argument("--quick", action="store_true", help="without the cold runs")
    asked = parser.parse_args()
    parts = [
        wings,
        tunes,
        *([] if asked.quick else [first_tunes]),
        maps,
        programmes,
        drawn_lines,
        help_text,
        beside_machupx,
    ]
    print(conditions(), end="\n\n")
    print("| what | wanted | measured | |\n| --- | --- | --- | --- |")
    for part in [*parts, *([installation] if asked.install else [])]:
        for row in part():
            wanted = "" if row.wanted is None else f"{row.wanted:g} {row.unit}"
            print(f"| {row.name} | {wanted} | {_digits(row.measured)} {row.unit} | {row.verdict} |", flush=True)


def _digits(value: float) -> str:
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


if __name__ == "__main__":
    main()
