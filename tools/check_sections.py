"""Compare the shipped section tables with XFOIL run afresh between their nodes, and with rows kept from earlier runs.

Needs what `xfoil_runs.py` needs, and the installed package.

    python tools/check_sections.py [--processes 2] [--keep FILE]     XFOIL afresh, then the kept rows
    python tools/check_sections.py --kept-only                       without XFOIL
    python tools/check_sections.py --wide 60                         that many cases drawn from the whole range, seeded

NACA 0010 and 0012, chord fraction .25 and .30, Reynolds number 1.5e5 to 4e5, throw to 20 deg, incidence to +-6 deg.
Aims: cl rms .045, ch rms .025, cm rms .015, cd median within 5 % and 95th percentile within 20 %.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.section import TableSections
from xfoil_runs import Case, helper, run

COLUMNS = ("thickness", "fraction", "reynolds", "delta_deg", "alpha_deg", "cl", "cd", "cm", "ch")
FOLDER = Path(__file__).resolve().parents[1] / "tests" / "aero" / "data"


def cases() -> list[Case]:
    """Off the nodes of the tables in thickness, fraction, throw or Reynolds number, mostly in several at once."""
    grid = itertools.product((10, 12), (0.25, 0.30), (1.5e5, 2.5e5, 4e5), (0.0, 5.0, 10.0, 14.0, 18.0, 20.0))
    return [Case(thickness_percent=t, flap_fraction=f, reynolds=re, delta_deg=d, ncrit=9.0) for t, f, re, d in grid]


def drawn(count: int) -> list[Case]:
    """Cases from the whole range: any thickness and fraction, throw to 40 deg, Reynolds number 4e4 to 8e5."""
    rng = np.random.default_rng(7)
    return [
        Case(
            thickness_percent=int(rng.integers(7, 18)),
            flap_fraction=round(float(rng.uniform(0.16, 0.55)), 3),
            reynolds=round(float(np.exp(rng.uniform(np.log(4e4), np.log(8e5)))), -2),
            delta_deg=round(float(rng.uniform(0, 40)), 1),
            ncrit=9.0,
        )
        for _ in range(count)
    ]


def fresh(todo: list[Case], processes: int) -> tuple[NDArray[np.float64], int]:
    """Rows of COLUMNS from XFOIL, and how many points were asked for."""
    rows, asked = [], 0
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(processes) as pool:
        library = helper(Path(name))
        for case, record in zip(todo, pool.map(lambda c: run(c, library, alpha_max_deg=6), todo), strict=True):
            asked += record["asked"]
            head = (case.thickness_percent / 100, case.flap_fraction, case.reynolds, case.delta_deg)
            rows += [(*head, *row) for row in record["rows"]]
    return np.array(rows), asked


def kept(path: Path) -> NDArray[np.float64]:
    """Rows of COLUMNS from a file of the tests; thickness and fraction are added where they are missing."""
    with path.open() as file:
        lines = list(csv.reader(row for row in file if row[0] != "#"))
    rows = np.array([[float(word) for word in line] for line in lines[1:]])
    if len(lines[0]) == len(COLUMNS):
        return rows
    return np.column_stack([np.full(len(rows), 0.12), np.full(len(rows), 0.25), rows])


def keep(path: Path, rows: NDArray[np.float64]) -> None:
    """Write rows of COLUMNS, with a heading that says what they are."""
    with path.open("w", newline="") as file:
        file.write(
            "# XFOIL 6.99 (Debian package), run by tools/check_sections.py: symmetric NACA four-digit section, plain\n"
        )
        file.write(
            "# sealed flap, Ncrit 9; cm quarter chord, ch about the hinge, flap chord squared, trailing edge down.\n"
        )
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        writer.writerows([f"{value:.6g}" for value in row] for row in rows)


def errors(rows: NDArray[np.float64]) -> NDArray[np.float64]:
    """Table minus XFOIL: cl, cd as a ratio less one, cm, ch."""
    out = np.empty((len(rows), 4))
    for key in np.unique(rows[:, :2], axis=0):
        mask = np.all(rows[:, :2] == key, axis=1)
        part = rows[mask]
        loads = TableSections(key[0], key[1], False).loads(
            np.radians(part[:, 4:5]), np.radians(part[:, 3:4]), part[:, 2:3]
        )
        out[mask] = np.column_stack(
            [
                loads.cl[:, 0] - part[:, 5],
                loads.cd[:, 0] / part[:, 6] - 1,
                loads.cm[:, 0] - part[:, 7],
                loads.ch[:, 0] - part[:, 8],
            ]
        )
    return out


def line(error: NDArray[np.float64]) -> str:
    """One line: rms of cl, cm and ch; cd median and 95th percentile of its size."""
    rms = np.sqrt(np.mean(error**2, axis=0))
    median, tail = np.median(error[:, 1]), np.quantile(np.abs(error[:, 1]), 0.95)
    return (
        f"{len(error):5d} points  cl rms {rms[0]:.3f}  ch rms {rms[3]:.3f}  cm rms {rms[2]:.4f}"
        f"  cd median {median:+.1%}  95th percentile {tail:.1%}"
    )


def report(rows: NDArray[np.float64]) -> None:
    """The whole set, then by thickness, fraction, Reynolds number and throw, then the worst points in lift."""
    error = errors(rows)
    print("  all", line(error))
    for column in range(5):
        values = np.abs(rows[:, column])
        edges = np.unique(values)
        if len(edges) > 8:
            edges = np.unique(np.quantile(values, np.linspace(0, 1, 7)[:-1], method="nearest"))
        group = np.digitize(values, edges) - 1
        for number, low in enumerate(edges):
            high = np.max(values[group == number])
            name = f"{COLUMNS[column]} {low:g}" + (f" to {high:g}" if high > low else "")
            print(f"  {name}:", line(error[group == number]))
    for i in np.argsort(-np.abs(error[:, 0]))[:5]:
        place = ", ".join(f"{name} {value:g}" for name, value in zip(COLUMNS[:5], rows[i], strict=False))
        print(f"  worst lift: {place}: cl {rows[i, 5]:.3f}, table {rows[i, 5] + error[i, 0]:.3f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="write the fresh rows to this file")
    parser.add_argument("--wide", type=int, default=0, metavar="N", help="only N cases drawn from the whole range")
    parser.add_argument("--kept-only", action="store_true", help="only compare with the rows kept for the tests")
    arguments = parser.parse_args()
    if arguments.wide:
        rows, asked = fresh(drawn(arguments.wide), arguments.processes)
        print(f"drawn from the whole range: {len(rows)} of {asked} points converged")
        report(rows)
        return
    if not arguments.kept_only:
        rows, asked = fresh(cases(), arguments.processes)
        print(f"XFOIL run afresh: {len(rows)} of {asked} points converged")
        report(rows)
        if arguments.keep:
            keep(arguments.keep, rows)
    for name in ("section_off_nodes.csv", "section_naca0012_flap25.csv"):
        rows = kept(FOLDER / name)
        inner = np.abs(rows[:, 4]) <= 6
        print(f"{name}, incidence to +-6 deg")
        report(rows[inner])
        if not np.all(inner):
            print(f"{name}, all\n  all", line(errors(rows)))


if __name__ == "__main__":
    main()
