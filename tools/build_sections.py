"""Build the section tables that ship with Evenfall: lift, drag, moment and hinge moment of flapped sections.

Install first, in an environment of its own (never needed at run time): pip install neuralfoil==0.3.3
The XFOIL part comes from the sweeps kept in `tools/xfoil_runs.jsonl.gz`; `tools/xfoil_runs.py` makes them again (its
header says what it needs). With `--no-xfoil` the tables are NeuralFoil alone and say so.

    PYTHONPATH=src python tools/build_sections.py

Writes `src/evenfall/data/sections.npz` (scaled int16, no pickle) and `sections.json` beside it (provenance, counts).
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from neuralfoil_runs import MODEL, evaluate
from section_grid import ALPHA_DEG, DELTA_DEG, FLAP_FRACTION, NCRIT, REYNOLDS, SECTIONS, THICKNESS
from xfoil_correction import correction
from xfoil_runs import read

FOLDER = Path(__file__).resolve().parents[1] / "src" / "evenfall" / "data"
RUNS = Path(__file__).with_name("xfoil_runs.jsonl.gz")
SCALE = {"cl": 5000.0, "cd": 4000.0, "cm": 20000.0, "ch": 10000.0}
"""int16 steps per unit; cd is kept as its natural logarithm."""


CONFIDENT = 0.2
"""Valid from this confidence of NeuralFoil in itself, or where XFOIL converged; never beyond 20 deg of incidence."""
CONFIDENT_PLATE = 0.05
"""For the plate, which NeuralFoil knows less of: XFOIL, where it converged, stayed near (see the provenance)."""


METHOD = (
    "NeuralFoil with the flap bent into the outline, on the whole grid; hinge moment from its edge velocities over the"
    " flap. XFOIL 6.99 with the flap bent in, on a coarse grid; the difference is filled where a sweep failed,"
    " interpolated and added (lift, moments; drag as a ratio). Sealed gap, hinge at half thickness, no Mach number."
)
DOUBT = (
    "Both codes leave separated drag low: against Young's formula for plain flaps (ARC R&M 2622) the added drag of a"
    " quarter-chord flap at zero incidence is 45 to 110 % at 16 to 20 deg and 50 to 65 % at 30 deg. Throws beyond"
    " 28 deg rest on NeuralFoil with XFOIL's difference at 28 deg held. No wind-tunnel data entered."
)
PLATE = {
    "source": "NeuralFoil alone",
    "against": "XFOIL 6.99: throws 4 to 16 deg, flap .30 and .40, Re 5e4 to 2e5, incidence to +-8 deg, 228 points",
    "result": "cl rms .056, cm rms .008, cd rms 8 %, cd median 2 % low; most sweeps above 12 deg and Re 5e4 failed",
}
"""Measured once with the network "large"; the builder does not repeat it."""


def neuralfoil_tables(cache: Path | None) -> NDArray[np.float32]:
    """Array (5, section, fraction, delta, reynolds, ncrit, alpha): cl, cd, cm, ch, confidence."""
    if cache is not None and cache.exists():
        return np.asarray(np.load(cache))
    shape = (5, len(SECTIONS), len(FLAP_FRACTION), len(DELTA_DEG), len(REYNOLDS), len(NCRIT), len(ALPHA_DEG))
    tables = np.empty(shape, np.float32)
    for section in range(len(SECTIONS)):
        for f, fraction in enumerate(FLAP_FRACTION):
            for d, delta in enumerate(DELTA_DEG):
                tables[:, section, f, d] = evaluate(section, float(fraction), float(delta))
        print(SECTIONS[section], file=sys.stderr, flush=True)
    if cache is not None:
        np.save(cache, tables)
    return tables


def symmetric_at_zero_throw(tables: NDArray[np.float32]) -> None:
    """Make the undeflected part exactly odd (cl, cm, ch) or even (cd) in incidence, and free of the fraction."""
    plain = tables[:, :, :, 0]
    for i, sign in enumerate((-1, 1, -1, -1, 1)):
        plain[i] = (plain[i] + sign * plain[i, ..., ::-1]) / 2
    for i in (0, 1, 2, 4):
        plain[i] = plain[i].mean(axis=1, keepdims=True)


def closed(valid: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Close gaps of up to three degrees of incidence between valid points: there the tables are interpolated."""
    closed = valid.copy()
    for width in (1, 2, 3):
        for shift in range(1, width + 1):
            left = np.roll(valid, shift, axis=-1)
            right = np.roll(valid, shift - width - 1, axis=-1)
            closed |= left & right
    return closed


def write(tables: NDArray[np.float32], provenance: dict[str, object], folder: Path) -> None:
    """Scale to int16 and write the two files."""
    cl, cd, cm, ch, confidence = tables
    confident = np.where(np.arange(len(SECTIONS)) == 0, CONFIDENT_PLATE, CONFIDENT)[:, None, None, None, None, None]
    valid = closed(confidence >= confident) & (np.abs(ALPHA_DEG) <= 20)
    arrays = {"cl": cl, "cd": np.log(np.maximum(cd, 1e-4)), "cm": cm, "ch": ch}
    packed = {name: np.rint(np.clip(values * SCALE[name], -32767, 32767)) for name, values in arrays.items()}
    # differences along incidence compress better
    steps = {name: np.diff(values, axis=-1, prepend=0).astype(np.int16) for name, values in packed.items()}
    np.savez_compressed(
        folder / "sections.npz",
        thickness=THICKNESS,
        flap_fraction=FLAP_FRACTION,
        delta_deg=DELTA_DEG,
        reynolds=REYNOLDS,
        ncrit=NCRIT,
        alpha_deg=ALPHA_DEG,
        valid=np.packbits(valid),
        **{f"{name}_scale": np.array(scale) for name, scale in SCALE.items()},
        **steps,
    )
    (folder / "sections.json").write_text(json.dumps(provenance, indent=1) + "\n")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--xfoil", type=Path, default=RUNS, help="the sweeps written by xfoil_runs.py")
    parser.add_argument("--no-xfoil", action="store_true")
    parser.add_argument("--neuralfoil-cache", type=Path, help="keep NeuralFoil's part here (.npy) between builds")
    parser.add_argument("--folder", type=Path, default=FOLDER)
    arguments = parser.parse_args()
    tables = neuralfoil_tables(arguments.neuralfoil_cache).copy()
    corrected: dict[str, object] | None = None
    if not arguments.no_xfoil:
        difference, corrected = correction(read(arguments.xfoil), ALPHA_DEG)
        tables[1] = np.log(np.maximum(tables[1], 1e-4))
        tables[:4, 1:] += difference[:4]
        tables[1] = np.exp(tables[1])
        tables[4, 1:] = np.maximum(tables[4, 1:], difference[4] > 0.5)
    symmetric_at_zero_throw(tables)
    provenance: dict[str, object] = {
        "what": "cl, cd, cm (quarter chord), ch (about the hinge, flap chord squared, positive trailing edge down)",
        "how": METHOD,
        "grid": {
            "sections": list(SECTIONS),
            "flap_fraction": FLAP_FRACTION.tolist(),
            "delta_deg": DELTA_DEG.tolist(),
            "reynolds": [round(float(value)) for value in REYNOLDS],
            "ncrit": NCRIT.tolist(),
            "alpha_deg": [float(ALPHA_DEG[0]), float(ALPHA_DEG[-1]), len(ALPHA_DEG)],
        },
        "neuralfoil": {"version": "0.3.3", "network": MODEL, "points": int(tables[0].size)},
        "plate": PLATE,
        "xfoil": corrected,
        "doubt": DOUBT,
    }
    arguments.folder.mkdir(exist_ok=True)
    write(tables, provenance, arguments.folder)
    print(f"{(arguments.folder / 'sections.npz').stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
