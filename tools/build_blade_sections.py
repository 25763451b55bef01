"""Builds `src/evenfall/data/propeller_sections.npz`: lift and drag of blade sections at every incidence.

Run it in an environment of its own (NeuralFoil 0.3.3 and AeroSandbox 4.2.10 were used):

    pip install neuralfoil aerosandbox
    python tools/build_blade_sections.py

Attached and just stalled flow (|incidence| <= 20 deg) comes from NeuralFoil (P. Sharpe, R. J. Hansman, "NeuralFoil: an
airfoil aerodynamics analysis tool using physics-informed machine learning", 2025), whose own source is XFOIL. Beyond,
the finite flat plate of L. A. Viterna and R. D. Corrigan, "Fixed pitch rotor performance of large horizontal axis wind
turbines", NASA CP-2230, 1982: greatest drag 1.11 + .018 AR, matched to lift and drag at +-20 deg. From 90 deg to
160 deg lift is .7 of the mirrored front-side value (thin plate turned trailing edge first), then falls to zero at
180 deg: the habit of the AirfoilPrep tables for wind turbines. The blade aspect ratio is taken as 8.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

SECTIONS = ("naca4406", "naca4409", "naca4412", "naca4415")
N_CRIT = (4.0, 9.0)
REYNOLDS = 1e4 * 2.0 ** (0.5 * np.arange(11))
INCIDENCE_DEG = np.arange(-360, 361) * 0.5
MATCH_DEG = 20.0
ASPECT_RATIO = 8.0
CD_MAX = 1.11 + 0.018 * ASPECT_RATIO
REVERSED_LIFT = 0.7
CL_SCALE = 2.5 / 32767
CD_SCALE = 2.5 / 32767
MODEL_SIZE = "xxlarge"
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


def main() -> None:
    import aerosandbox as asb
    import neuralfoil as nf

    shape = (len(SECTIONS), len(N_CRIT), REYNOLDS.size, INCIDENCE_DEG.size)
    lift, drag = np.zeros(shape), np.zeros(shape)
    near = np.abs(INCIDENCE_DEG) <= MATCH_DEG
    low_confidence = 0
    for i, name in enumerate(SECTIONS):
        parameters = asb.Airfoil(name).to_kulfan_airfoil().kulfan_parameters
        for j, n_crit in enumerate(N_CRIT):
            for k, reynolds in enumerate(REYNOLDS):
                answer = nf.get_aero_from_kulfan_parameters(
                    parameters, alpha=INCIDENCE_DEG[near], Re=reynolds, n_crit=n_crit, model_size=MODEL_SIZE
                )
                low_confidence += int(np.sum(answer["analysis_confidence"] < 0.5))
                cl, cd = np.zeros(INCIDENCE_DEG.size), np.zeros(INCIDENCE_DEG.size)
                cl[near], cd[near] = answer["CL"], answer["CD"]
                lift[i, j, k], drag[i, j, k] = extend(cl, cd)
    about = {
        "sections": list(SECTIONS),
        "n_crit": list(N_CRIT),
        "source": "NeuralFoil 0.3.3, model " + MODEL_SIZE + "; plate beyond 20 deg by Viterna and Corrigan 1982",
        "aspect_ratio": ASPECT_RATIO,
        "points": int(len(SECTIONS) * len(N_CRIT) * REYNOLDS.size * near.sum()),
        "points_of_low_confidence": low_confidence,
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
