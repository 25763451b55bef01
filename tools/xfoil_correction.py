"""What XFOIL says more or less than NeuralFoil, on XFOIL's coarse grid, filled and interpolated to the table's grid."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.section_data import cubic_matrix
from neuralfoil_runs import evaluate
from section_grid import DELTA_DEG, FLAP_FRACTION, NCRIT, REYNOLDS, THICKNESS
from xfoil_runs import ALPHA_MAX_DEG, Case

Array = NDArray[np.float64]

ALPHA_DEG = np.arange(-ALPHA_MAX_DEG, ALPHA_MAX_DEG + 1.0)
LARGEST = np.array([0.6, 1.2, 0.15, 0.3])
"""A row further than this from NeuralFoil in cl, ln cd, cm or ch is taken for a false solution and left out."""
DECAY_DEG = 5.0
"""The last difference of a sweep fades to nothing over this much incidence."""
FEWEST_ROWS = 8
"""A sweep with fewer good rows is left out and filled from its neighbours."""


def _along(values: Array, axis: int, places: Array, *, beyond: bool) -> None:
    """Fill NaN along one axis linearly between the known values, in place, and hold the last ones if `beyond`."""
    lines = np.moveaxis(values, axis, -1)
    for index in np.ndindex(lines.shape[:-1]):
        row = lines[index]
        good = np.isfinite(row)
        if good.any() and not good.all():
            outside = None if beyond else np.nan
            row[~good] = np.interp(places[~good], places[good], row[good], left=outside, right=outside)


def _fill_sweep(difference: Array, good: NDArray[np.bool_]) -> None:
    """Fill gaps within one sweep (4, alpha) linearly; beyond its ends the last difference fades out. In place."""
    known = ALPHA_DEG[good]
    gap = np.maximum(np.maximum(known[0] - ALPHA_DEG, ALPHA_DEG - known[-1]), 0)
    fade = np.clip(1 - gap / DECAY_DEG, 0, 1)
    for row in difference:
        row[:] = np.interp(ALPHA_DEG, known, row[good]) * fade


def differences(kept: dict[Case, dict[str, Any]]) -> tuple[Array, tuple[Array, ...], dict[str, Any]]:
    """XFOIL minus NeuralFoil on XFOIL's grid, its axes, and the counts.

    (5, thickness, fraction, delta, reynolds, ncrit, alpha): cl, ln cd, cm, ch, and 1 where XFOIL gave a row, else 0.
    """
    names = ("thickness_percent", "flap_fraction", "delta_deg", "reynolds")
    axes = tuple(np.array(sorted({getattr(case, name) for case in kept}), dtype=np.float64) for name in names)
    out = np.full((5, *(len(axis) for axis in axes), len(NCRIT), len(ALPHA_DEG)), np.nan)
    counts: dict[str, Any] = {
        "sweeps": len(kept),
        "crashes_and_time_outs": 0,
        "left_out": 0,
        "points": 0,
        "converged": 0,
        "false": 0,
    }
    by_throw: dict[str, list[int]] = {f"{delta:g}": [0, 0] for delta in axes[2]}
    networks: dict[tuple[float, ...], Array] = {}
    for case, record in kept.items():
        place = [int(np.searchsorted(axis, getattr(case, name))) for axis, name in zip(axes, names, strict=True)]
        key = (case.thickness_percent, case.flap_fraction, case.delta_deg)
        if key not in networks:
            section = int(np.argmin(np.abs(THICKNESS - case.thickness_percent / 100)))
            values = evaluate(section, key[1], key[2], reynolds_axis=axes[3], alpha_axis_deg=ALPHA_DEG).astype(float)
            networks[key] = np.stack([values[0], np.log(values[1]), values[2], values[3]])
        ncrit = int(np.argmin(np.abs(NCRIT - case.ncrit)))
        network = networks[key][:, place[3], ncrit]
        rows = np.full((4, len(ALPHA_DEG)), np.nan)
        for alpha, cl, cd, cm, ch in record["rows"]:
            rows[:, round(alpha) + ALPHA_MAX_DEG] = cl, np.log(max(cd, 1e-6)), cm, ch
        difference = rows - network
        converged = np.isfinite(rows[0])
        good = converged & np.all(np.abs(np.nan_to_num(difference)) <= LARGEST[:, None], axis=0)
        counts["crashes_and_time_outs"] += record["deaths"]
        counts["points"] += record["asked"]
        counts["converged"] += int(converged.sum())
        counts["false"] += int((converged & ~good).sum())
        by_throw[f"{case.delta_deg:g}"][0] += record["asked"]
        by_throw[f"{case.delta_deg:g}"][1] += int(good.sum())
        if good.sum() < FEWEST_ROWS:
            counts["left_out"] += 1
            continue
        _fill_sweep(difference, good)
        out[(slice(4), *place, ncrit)] = difference
        out[(4, *place, ncrit)] = good
    counts["used_share_by_throw_deg"] = {name: round(good / asked, 3) for name, (asked, good) in by_throw.items()}
    return out, axes, counts


def correction(kept: dict[Case, dict[str, Any]], alpha_deg: Array) -> tuple[Array, dict[str, Any]]:
    """The differences (5, thickness, fraction, delta, reynolds, ncrit, alpha) on the table's grid, and the counts.

    Missing sweeps are filled between others first, along Reynolds number, throw, fraction and thickness in turn; only
    what is still missing then is held from the nearest in thickness, Reynolds number, fraction or throw. Cubic in
    fraction, throw and log Reynolds number; held beyond the coarse grid; fading over `DECAY_DEG` beyond its incidences.
    """
    values, (thickness, fraction, delta, reynolds), counts = differences(kept)
    places = {1: thickness, 2: fraction, 3: delta, 4: np.log(reynolds)}
    for axis in (4, 3, 2, 1):
        _along(values, axis, places[axis], beyond=False)
    for axis in (1, 4, 2, 3):
        _along(values, axis, places[axis], beyond=True)
    plain = values[:, :, :, 0]
    sides = np.array([-1.0, 1, -1, -1, 1])
    plain[:] = (plain + sides[:, None, None, None, None, None] * plain[..., ::-1]) / 2
    to_thickness = cubic_matrix(thickness / 100, THICKNESS[1:])
    to_fraction = cubic_matrix(fraction, FLAP_FRACTION)
    to_reynolds = cubic_matrix(np.log(reynolds), np.log(REYNOLDS))
    mirrored = np.concatenate([-delta[:0:-1], delta])
    sign = sides[:, None, None, None, None, None, None]
    both = np.concatenate([sign * values[:, :, :, :0:-1, :, :, ::-1], values], axis=3)
    to_delta = cubic_matrix(mirrored, DELTA_DEG)
    on_grid = np.einsum(
        "Tt,Ff,Dd,Rr,ktfdrna->kTFDRna", to_thickness, to_fraction, to_delta, to_reynolds, both, optimize=True
    )
    inside = np.clip(alpha_deg, ALPHA_DEG[0], ALPHA_DEG[-1])
    fade = np.clip(1 - np.abs(alpha_deg - inside) / DECAY_DEG, 0, 1)
    column = np.searchsorted(ALPHA_DEG, inside)
    return on_grid[..., column] * fade, counts
