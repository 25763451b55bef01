"""Evaluate NeuralFoil on the grid of the section tables: lift, drag, moment, and hinge moment from edge velocities.

Needs (in an environment of its own, never at run time): pip install neuralfoil==0.3.3
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from section_grid import ALPHA_DEG, NCRIT, REYNOLDS, bent_section, half_thickness

MODEL = "large"
NAMES = ("cl", "cd", "cm", "ch", "confidence")


def _frame(outline: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64], float, float]:
    """Normalised outline (nose at 0, trailing edge at 1), nose point, chord, incidence (rad) of the chord line."""
    tail = (outline[0] + outline[-1]) / 2
    nose = outline[np.argmax(np.hypot(*(outline - tail).T))]
    along = tail - nose
    chord = float(np.hypot(*along))
    ex = along / chord
    ey = np.array([-ex[1], ex[0]])
    local = np.column_stack([(outline - nose) @ ex, (outline - nose) @ ey]) / chord
    return local, nose, chord, float(np.arctan2(-along[1], along[0]))


def _hinge_moment(
    cp: NDArray[np.float64], stations: NDArray[np.float64], section: int, fraction: float, delta: float, frame: tuple
) -> NDArray[np.float64]:
    """ch = integral of (cp_upper - cp_lower)(s + h h') ds / cf^2, s along the flap from the hinge, h half thickness."""
    _, nose, chord, slope = frame
    s = fraction * 0.5 * (1 - np.cos(np.linspace(0, np.pi, 81)))
    h = half_thickness(section, 1 - fraction + s)
    arm = s + h * np.gradient(h, s, edge_order=2)
    ex = np.array([np.cos(slope), -np.sin(slope)])
    along, up = np.array([np.cos(delta), -np.sin(delta)]), np.array([np.sin(delta), np.cos(delta)])
    total = 0.0
    for side, sign in ((0, 1.0), (1, -1.0)):
        place = np.array([1 - fraction, 0.0]) + s[:, None] * along + sign * h[:, None] * up
        x = ((place - nose) @ ex) / chord
        column = np.clip(np.searchsorted(stations, x) - 1, 0, len(stations) - 2)
        weight = np.clip((x - stations[column]) / (stations[column + 1] - stations[column]), 0, 1)
        value = cp[:, side, column] * (1 - weight) + cp[:, side, column + 1] * weight
        total = total + sign * np.trapezoid(value * arm, s, axis=1) / fraction**2
    return np.asarray(total)


def evaluate(
    section: int,
    fraction: float,
    delta_deg: float,
    *,
    reynolds_axis: NDArray[np.float64] = REYNOLDS,
    alpha_axis_deg: NDArray[np.float64] = ALPHA_DEG,
) -> NDArray[np.float32]:
    """Array (5, reynolds, ncrit, alpha) of NAMES for one bent section, referred to the unbent chord."""
    import neuralfoil
    from aerosandbox.geometry.airfoil.airfoil_families import get_kulfan_parameters

    outline = bent_section(section, fraction, delta_deg)
    frame = _frame(outline)
    local, nose, chord, slope = frame
    shape = get_kulfan_parameters(local, n_weights_per_side=8, normalize_coordinates=False)
    grids = np.meshgrid(reynolds_axis, NCRIT, alpha_axis_deg, indexing="ij")
    reynolds, ncrit, alpha_deg = (grid.ravel() for grid in grids)
    raw = neuralfoil.get_aero_from_kulfan_parameters(
        shape, alpha_deg + np.degrees(slope), reynolds * chord, n_crit=ncrit, model_size=MODEL
    )
    cl, cd = raw["CL"] * chord, raw["CD"] * chord
    alpha = np.radians(alpha_deg)
    fx, fy = cd * np.cos(alpha) - cl * np.sin(alpha), cl * np.cos(alpha) + cd * np.sin(alpha)
    quarter = nose + 0.25 * chord * np.array([np.cos(slope), -np.sin(slope)]) - [0.25, 0.0]
    cm = raw["CM"] * chord**2 - (quarter[0] * fy - quarter[1] * fx)
    stations = neuralfoil.bl_x_points
    edge = np.stack([[raw[f"{side}_bl_ue/vinf_{i}"] for i in range(len(stations))] for side in ("upper", "lower")])
    cp = np.moveaxis(1 - edge**2, 2, 0)
    ch = _hinge_moment(cp, stations, section, fraction, np.radians(delta_deg), frame)
    values = np.stack([cl, cd, cm, ch, raw["analysis_confidence"]])
    return values.reshape(5, *grids[0].shape).astype(np.float32)
