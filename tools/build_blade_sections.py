"""Builds `src/evenfall/data/propeller_sections.npz`: lift and drag of blade sections at every incidence.

Needs an environment of its own for NeuralFoil (0.3.3 and AeroSandbox 4.2.10 were used), the command `xfoil` (6.99,
Debian package) and a C compiler for a one-line helper: the packaged XFOIL traps floating-point exceptions and dies on
plain sections, a preloaded no-op `_gfortran_set_fpe` lets it run.

    pip install neuralfoil aerosandbox
    python tools/build_blade_sections.py runs.jsonl

Sweeps already in `runs.jsonl` are not run again.

Attached and just stalled flow, |incidence| <= 20 deg: NeuralFoil (P. Sharpe, R. J. Hansman, "NeuralFoil: an airfoil
aerodynamics analysis tool using physics-informed machine learning", 2025) on the full grid; XFOIL (M. Drela) swept at
the same Reynolds numbers in steps of one degree, and the difference of the two interpolated on top wherever XFOIL
converged, fading to nothing over 4 deg beyond. Further out, the finite flat plate of L. A. Viterna and R. D. Corrigan,
"Fixed pitch rotor performance of large horizontal axis wind turbines", NASA CP-2230, 1982: greatest drag
1.11 + .018 AR, matched to lift and drag at +-20 deg. From 90 deg to 160 deg lift is .7 of the mirrored front-side
value, then falls to zero at 180 deg, as is usual in tables for wind turbines. The blade aspect ratio is taken as 8.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

SECTIONS = ("naca4406", "naca4409", "naca4412", "naca4415")
N_CRIT = (4.0, 9.0)
REYNOLDS = 1e4 * 2.0 ** (0.25 * np.arange(21))
INCIDENCE_DEG = np.arange(-360, 361) * 0.5
MATCH_DEG = 20.0
FADE_DEG = 4.0
SWEEP_DEG = 16
ASPECT_RATIO = 8.0
CD_MAX = 1.11 + 0.018 * ASPECT_RATIO
REVERSED_LIFT = 0.7
CL_SCALE = 2.5 / 32767
CD_SCALE = 2.5 / 32767
MODEL_SIZE = "xxlarge"
FEWEST_ROWS = 8
TIMEOUT_S = 90
TARGET = Path(__file__).resolve().parents[1] / "src" / "evenfall" / "data"


def viterna(alpha: np.ndarray, match: float, cl_match: float, cd_match: float) -> tuple[np.ndarray, np.ndarray]:
    """Viterna and Corrigan's lift and drag for match <= alpha <= 90 deg (radians, positive), given both at `match`."""
    sine, cosine = np.sin(match), np.cos(match)
    b2 = (cd_match - CD_MAX * sine**2) / cosine
    a2 = (cl_match - CD_MAX * sine * cosine) * sine / cosine**2
    lift = CD_MAX * np.sin(alpha) * np.cos(alpha) + a2 * np.cos(alpha) ** 2 / np.sin(alpha)
    return lift, CD_MAX * np.sin(alpha) ** 2 + b2 * np.cos(alpha)


def extend(cl: np.ndarray, cd: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Replace everything beyond +-`MATCH_DEG` by the plate."""
    cl, cd = cl.copy(), cd.copy()
    degrees = INCIDENCE_DEG
    for sign in (1.0, -1.0):
        at = int(np.flatnonzero(degrees == sign * MATCH_DEG)[0])
        side = sign * degrees
        front = (side > MATCH_DEG) & (side <= 90.0)
        args = (np.radians(MATCH_DEG), sign * cl[at], cd[at])
        lift, drag = viterna(np.radians(side[front]), *args)
        cl[front], cd[front] = sign * lift, drag
        back = side > 90.0
        mirrored = np.radians(np.maximum(180.0 - side[back], MATCH_DEG))
        lift, drag = viterna(mirrored, *args)
        fade = np.minimum(1.0, (180.0 - side[back]) / MATCH_DEG)
        cl[back], cd[back] = -sign * REVERSED_LIFT * lift * fade, drag * fade + 0.03 * (1.0 - fade)
    return cl, cd


def xfoil_sweep(name: str, n_crit: float, reynolds: float, helper: Path) -> list[list[float]]:
    """Converged rows (incidence_deg, cl, cd) of one section, from zero up and afresh from zero down."""
    head = ["PLOP", "G", "", f"NACA {name.removeprefix('naca')}", "PPAR", "N 160", "", ""]
    head += ["OPER", f"VISC {reynolds:.6g}", "VPAR", f"N {n_crit:g}", "", "ITER 80"]
    sweep = ["PACC", "up.txt", "", f"ASEQ 0 {SWEEP_DEG} 1", "PACC", "INIT"]
    sweep += ["PACC", "down.txt", "", f"ASEQ -1 {-SWEEP_DEG} 1", "PACC", "", "QUIT", ""]
    rows: list[list[float]] = []
    with tempfile.TemporaryDirectory() as folder:
        with contextlib.suppress(subprocess.TimeoutExpired):
            subprocess.run(
                ["xfoil"], input="\n".join(head + sweep), cwd=folder, timeout=TIMEOUT_S, text=True, check=False,
                env={**os.environ, "LD_PRELOAD": str(helper)}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            )  # fmt: skip
        for file in (Path(folder) / "up.txt", Path(folder) / "down.txt"):
            for line in file.read_text().splitlines()[12:] if file.exists() else ():
                cells = line.split()
                if len(cells) >= 3:
                    rows.append([float(cell) for cell in cells[:3]])
    return sorted(rows)


def xfoil_runs(path: Path) -> dict[str, list[list[float]]]:
    """Every sweep, from the file or run now."""
    done = {}
    if path.exists():
        done = {row["case"]: row["rows"] for row in map(json.loads, path.read_text().splitlines())}
    cases = [(s, n, r) for s in SECTIONS for n in N_CRIT for r in REYNOLDS if _case(s, n, r) not in done]
    with tempfile.TemporaryDirectory() as folder, path.open("a") as out:
        source, helper = Path(folder) / "set_fpe.c", Path(folder) / "set_fpe.so"
        source.write_text("void _gfortran_set_fpe(int flags) { (void)flags; }\n")
        subprocess.run(["cc", "-shared", "-fPIC", "-o", str(helper), str(source)], check=True)
        with ThreadPoolExecutor(2) as pool:
            for case, rows in zip(cases, pool.map(lambda c: xfoil_sweep(*c, helper), cases), strict=True):
                done[_case(*case)] = rows
                out.write(json.dumps({"case": _case(*case), "rows": rows}) + "\n")
                out.flush()
    return done


def _case(name: str, n_crit: float, reynolds: float) -> str:
    return f"{name} n{n_crit:g} Re{reynolds:.0f}"


def difference(rows: list[list[float]], cl: np.ndarray, cd: np.ndarray) -> tuple[np.ndarray, np.ndarray] | None:
    """XFOIL less NeuralFoil over the incidences (cd as a difference of logarithms), or None with too few rows."""
    if len(rows) < FEWEST_ROWS:
        return None
    alpha, lift, drag = np.array(rows).T
    keep = np.concatenate([[True], np.diff(alpha) > 1e-9])
    alpha, lift, drag = alpha[keep], lift[keep], drag[keep]
    d_cl = lift - np.interp(alpha, INCIDENCE_DEG, cl)
    d_cd = np.log(drag / np.interp(alpha, INCIDENCE_DEG, cd))
    beyond = np.maximum(np.maximum(alpha[0] - INCIDENCE_DEG, INCIDENCE_DEG - alpha[-1]), 0.0)
    fade = np.clip(1.0 - beyond / FADE_DEG, 0.0, 1.0)
    return np.interp(INCIDENCE_DEG, alpha, d_cl) * fade, np.interp(INCIDENCE_DEG, alpha, d_cd) * fade


def main() -> None:
    import aerosandbox as asb
    import neuralfoil as nf

    runs = xfoil_runs(Path(sys.argv[1]))
    shape = (len(SECTIONS), len(N_CRIT), REYNOLDS.size, INCIDENCE_DEG.size)
    lift, drag = np.zeros(shape), np.zeros(shape)
    near = np.abs(INCIDENCE_DEG) <= MATCH_DEG
    low_confidence = 0
    skipped = []
    changes = []
    for i, name in enumerate(SECTIONS):
        parameters = asb.Airfoil(name).to_kulfan_airfoil().kulfan_parameters
        for j, n_crit in enumerate(N_CRIT):
            for k, reynolds in enumerate(REYNOLDS):
                answer = nf.get_aero_from_kulfan_parameters(
                    parameters, alpha=INCIDENCE_DEG[near], Re=reynolds, n_crit=n_crit, model_size=MODEL_SIZE
                )
                low_confidence += int(np.sum(answer["analysis_confidence"] < 0.5))
                cl, cd = np.zeros(INCIDENCE_DEG.size), np.ones(INCIDENCE_DEG.size)
                cl[near], cd[near] = answer["CL"], answer["CD"]
                change = difference(runs[_case(name, n_crit, reynolds)], cl, cd)
                if change is None:
                    skipped.append(_case(name, n_crit, reynolds))
                else:
                    changes.append(np.stack([change[0][near], change[1][near]]))
                    cl, cd = cl + change[0], cd * np.exp(change[1])
                lift[i, j, k], drag[i, j, k] = extend(cl, cd)
    rms = np.sqrt(np.mean(np.array(changes) ** 2, axis=(0, 2)))
    about = {
        "sections": list(SECTIONS),
        "n_crit": list(N_CRIT),
        "source": f"NeuralFoil 0.3.3 ({MODEL_SIZE}) plus XFOIL 6.99 difference; plate beyond 20 deg by Viterna 1982",
        "aspect_ratio": ASPECT_RATIO,
        "points": int(len(SECTIONS) * len(N_CRIT) * REYNOLDS.size * near.sum()),
        "points_of_low_confidence": low_confidence,
        "xfoil_sweeps": len(runs),
        "xfoil_points_converged": sum(len(rows) for rows in runs.values()),
        "xfoil_points_asked": len(runs) * (2 * SWEEP_DEG + 1),
        "xfoil_sweeps_left_out": skipped,
        "difference_rms_cl": round(float(rms[0]), 4),
        "difference_rms_log_cd": round(float(rms[1]), 4),
    }
    TARGET.mkdir(exist_ok=True)
    np.savez_compressed(
        TARGET / "propeller_sections.npz",
        reynolds=REYNOLDS,
        incidence_deg=INCIDENCE_DEG,
        thickness=np.array([0.06, 0.09, 0.12, 0.15]),
        n_crit=np.array(N_CRIT),
        cl=np.round(lift / CL_SCALE).astype(np.int16),
        cd=np.round(drag / CD_SCALE).astype(np.int16),
        cl_scale=CL_SCALE,
        cd_scale=CD_SCALE,
        about=np.array(json.dumps(about)),
    )
    print(json.dumps(about, indent=1))
    print("largest |cl|", np.abs(lift).max(), "largest cd", drag.max(), "smallest cd", drag.min())


if __name__ == "__main__":
    main()
