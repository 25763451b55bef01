"""Run XFOIL over a coarse grid of flapped sections and keep every polar in one text file.

Needs: the command `xfoil` (6.99; Debian package `xfoil`) and a C compiler for a four-line helper: the packaged XFOIL
traps floating-point exceptions and dies on plain sections, a preloaded no-op `_gfortran_set_fpe` lets it run.

    python tools/xfoil_runs.py runs.jsonl [--processes 2]

One line of JSON per sweep: the case, and the converged rows (alpha_deg, cl, cd, cm, ch). A sweep already in the file is
not run again, so an interrupted run continues. Compressed by gzip it is `xfoil_runs.jsonl.gz`, which
`build_sections.py` reads. Hinge moments: about the hinge at half thickness, referred to the flap chord squared,
positive trailing edge down (XFOIL prints the opposite sign, referred to the chord squared).
"""

from __future__ import annotations

import argparse
import gzip
import itertools
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

TIMEOUT_S = 10
RESTARTS = 2
"""How often a sweep goes on after a crash or time-out."""

ALPHA_MAX_DEG = 14
"""Greatest incidence asked for, in steps of one degree from zero outward both ways."""

DELTAS_DEG = (0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 28.0)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One sweep of incidence: a symmetric NACA four-digit section with a plain sealed flap bent in."""

    thickness_percent: int
    flap_fraction: float
    delta_deg: float
    reynolds: float
    ncrit: float


def commands(case: Case, first_deg: int, last_deg: int, *, panels: int = 160) -> str:
    """The keyboard input of one XFOIL session: one sweep of incidence by single degrees, saved to `polar.txt`."""
    # a throw of exactly zero leaves XFOIL without a hinge, and so without hinge moments
    delta_deg = case.delta_deg if case.delta_deg else 0.001
    lines = ["PLOP", "G", "", f"NACA {case.thickness_percent:04d}", "PPAR", f"N {panels}", "", ""]
    lines += ["GDES", "FLAP", f"{1 - case.flap_fraction:.4f}", "999", "0.5", f"{delta_deg:.4f}", "EXEC", "", "PANE"]
    lines += ["OPER", "HINC", f"VISC {case.reynolds:.6g}", "VPAR", f"N {case.ncrit:g}", "", "ITER 80"]
    lines += ["PACC", "polar.txt", "", f"ASEQ {first_deg} {last_deg} {1 if last_deg >= first_deg else -1}", "PACC"]
    return "\n".join([*lines, "", "QUIT", ""])


def helper(folder: Path) -> Path:
    """Compile the no-op that keeps the packaged XFOIL from trapping floating-point exceptions."""
    source, library = folder / "nofpe.c", folder / "nofpe.so"
    source.write_text("void _gfortran_set_fpe(int options) { (void)options; }\n")
    subprocess.run(["cc", "-shared", "-fPIC", "-o", str(library), str(source)], check=True)
    return library


def polar_rows(path: Path, flap_fraction: float) -> Iterator[tuple[float, ...]]:
    """Rows (alpha_deg, cl, cd, cm, ch) of one XFOIL polar file; nothing where there is none."""
    if not path.exists():
        return
    for line in path.read_text(errors="replace").splitlines():
        words = line.split()
        if len(words) != 10:
            continue
        try:
            alpha, cl, cd, _, cm, hinge = (float(word) for word in words[:6])
        except ValueError:
            continue
        yield alpha, cl, cd, cm, round(-hinge / flap_fraction**2, 5)


def sweep(case: Case, library: Path, first_deg: int, last_deg: int) -> tuple[list[tuple[float, ...]], int]:
    """Rows of one sweep, and how often XFOIL crashed or ran out of time; each time it starts afresh one degree on."""
    rows: list[tuple[float, ...]] = []
    sign = 1 if last_deg > first_deg else -1
    for deaths in range(RESTARTS + 1):
        with tempfile.TemporaryDirectory() as name:
            try:
                done = subprocess.run(
                    ["xfoil"],
                    input=commands(case, first_deg, last_deg).encode(),
                    cwd=name,
                    env={"LD_PRELOAD": str(library), "PATH": "/usr/bin:/bin:/usr/local/bin", "HOME": name},
                    capture_output=True,
                    timeout=TIMEOUT_S,
                )
                died = done.returncode != 0
            except subprocess.TimeoutExpired:
                died = True
            found = list(polar_rows(Path(name) / "polar.txt", case.flap_fraction))
        rows += found
        reached = round(found[-1][0]) if found else first_deg
        if not died:
            return rows, deaths
        first_deg = reached + 2 * sign
        if sign * (last_deg - first_deg) <= 0:
            break
    return rows, deaths + 1


def run(case: Case, library: Path, *, alpha_max_deg: int = ALPHA_MAX_DEG) -> dict[str, Any]:
    """Run one case from zero incidence up, then from zero down; `deaths` counts crashes and time-outs."""
    up, deaths_up = sweep(case, library, 0, alpha_max_deg)
    down, deaths_down = sweep(case, library, 0, -alpha_max_deg)
    rows = sorted({row[0]: row for row in down + up}.values())
    return {**asdict(case), "deaths": deaths_up + deaths_down, "asked": 2 * alpha_max_deg + 1, "rows": rows}


def cases() -> list[Case]:
    """The coarse grid, the most needed part first so that a run cut short is still a grid."""
    common, wide = (9, 12, 15), (6, 9, 12, 15, 18)
    middle, five = (1e5, 1.4e5, 2e5, 2.8e5, 4e5), (5e4, 1e5, 2e5, 4e5, 8e5)
    stages = [
        (common, (0.25, 0.40), (5e4, 1e5, 2e5, 4e5), DELTAS_DEG),
        (common, (0.15, 0.25, 0.40, 0.60), five, DELTAS_DEG),
        (common, (0.30,), (*five, 1.4e5, 2.8e5), DELTAS_DEG),
        (common, (0.25, 0.30, 0.40), middle, (2.0, 6.0, 10.0, 14.0, 24.0)),
        (common, (0.25, 0.40), (1.4e5, 2.8e5), DELTAS_DEG),
        (wide, (0.15, 0.25, 0.40, 0.60), five, DELTAS_DEG),
        (common, (0.15, 0.60), (1.4e5, 2.8e5), DELTAS_DEG),
        (wide, (0.25, 0.40), (1.4e5, 2.8e5), DELTAS_DEG),
    ]
    found: dict[Case, None] = {}
    for thicknesses, fractions, reynolds, deltas in stages:
        for re, ncrit, t, fraction, delta in itertools.product(reynolds, (9.0, 4.0), thicknesses, fractions, deltas):
            case = Case(thickness_percent=t, flap_fraction=fraction, delta_deg=delta, reynolds=re, ncrit=ncrit)
            found[case] = None
    return list(found)


def read(path: Path) -> dict[Case, dict[str, Any]]:
    """Every sweep kept so far."""
    kept: dict[Case, dict[str, Any]] = {}
    if path.exists():
        text = gzip.decompress(path.read_bytes()).decode() if path.suffix == ".gz" else path.read_text()
        for line in text.splitlines(keepends=True):
            if not line.endswith("\n"):
                break  # cut short when a run was stopped
            record = json.loads(line)
            kept[Case(**{name: record[name] for name in Case.__dataclass_fields__})] = record
    return kept


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    kept = read(arguments.file)
    todo = [case for case in cases() if case not in kept]
    print(f"{len(kept)} sweeps kept, {len(todo)} to run", flush=True)
    with tempfile.TemporaryDirectory() as name, arguments.file.open("a", buffering=1) as out:
        library = helper(Path(name))
        with ThreadPoolExecutor(arguments.processes) as pool:
            for number, record in enumerate(pool.map(lambda case: run(case, library), todo), 1):
                out.write(json.dumps(record) + "\n")
                if number % 20 == 0:
                    print(f"{number}/{len(todo)}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
