"""The shipped section tables: loading, and blending them for one thickness, flap and transition.

The file holds cl, ln cd, cm and ch on a grid of section, flap chord fraction, throw, Reynolds number, transition level
and incidence; `tools/build_sections.py` writes it and `sections.json` beside it says from what.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from evenfall.errors import DataError

FILE = Path(__file__).resolve().parents[1] / "data" / "sections.npz"
_REMEDY = "Install Evenfall again, or rebuild the tables with tools/build_sections.py."

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class SectionTables:
    """Section coefficients on the shipped grid; the first section is the flat plate, the rest symmetric four-digit.

    `values` (4, section, fraction, delta, reynolds, transition, alpha) holds cl, ln cd, cm, ch; `valid` has the same
    shape without the first axis. Angles in degrees as tabulated.
    """

    thickness: Array
    flap_fraction: Array
    delta_deg: Array
    reynolds: Array
    ncrit: Array
    alpha_deg: Array
    values: NDArray[np.float32]
    valid: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True)
class Blend:
    """One section: cl, ln cd, cm, ch (4, delta, reynolds, alpha) and validity 0 to 1 (delta, reynolds, alpha)."""

    values: Array
    valid: Array


def _read(path: Path) -> SectionTables:
    with path.open("rb") as stream, np.load(stream, allow_pickle=False) as file:
        axes = {
            name: np.asarray(file[name], dtype=np.float64)
            for name in ("thickness", "flap_fraction", "delta_deg", "reynolds", "ncrit", "alpha_deg")
        }
        shape = tuple(len(axis) for axis in axes.values())
        values = np.empty((4, *shape), np.float32)
        for i, name in enumerate(("cl", "cd", "cm", "ch")):
            steps = file[name]
            if steps.shape != shape or steps.dtype != np.int16:
                raise ValueError(f"{name} has shape {steps.shape}, {shape} expected")
            counts = np.cumsum(steps, axis=-1, dtype=np.int32)
            np.multiply(counts, np.float32(1 / float(file[f"{name}_scale"])), out=values[i])
        valid = np.unpackbits(file["valid"], count=int(np.prod(shape))).reshape(shape).astype(bool)
    values.setflags(write=False)
    return SectionTables(**axes, values=values, valid=valid)


@lru_cache(maxsize=4)
def load_sections(path: Path = FILE) -> SectionTables:
    """The shipped section tables, read once.

    Raises `DataError` with a remedy where the file is missing or damaged.
    """
    try:
        return _read(path)
    except FileNotFoundError:
        raise DataError(f"The section tables {path.name} are missing. {_REMEDY}") from None
    except Exception as error:
        raise DataError(f"The section tables {path.name} cannot be read ({error}). {_REMEDY}") from error


def cubic_weights(axis: Array, x: float) -> tuple[NDArray[np.intp], Array]:
    """Nodes and weights of a cubic through neighbouring nodes with central slopes (Catmull-Rom), linear at the ends.

    `x` is clamped to the axis. The weights sum to 1 and are exact for straight lines.
    """
    x = float(np.clip(x, axis[0], axis[-1]))
    n = len(axis)
    k = int(np.clip(np.searchsorted(axis, x, side="right") - 1, 0, n - 2))
    h = axis[k + 1] - axis[k]
    t = (x - axis[k]) / h
    weights = np.zeros(n)
    weights[k] += (1 + 2 * t) * (1 - t) ** 2
    weights[k + 1] += t**2 * (3 - 2 * t)
    for node, factor in ((k, t * (1 - t) ** 2), (k + 1, -(t**2) * (1 - t))):
        low, high = max(node - 1, 0), min(node + 1, n - 1)
        slope = factor * h / (axis[high] - axis[low])
        weights[high] += slope
        weights[low] -= slope
    nodes = np.flatnonzero(weights)
    return nodes, weights[nodes]


def cubic_matrix(axis: Array, points: Array) -> Array:
    """Matrix (points, axis) that interpolates values on `axis` as `cubic_weights` does."""
    matrix = np.zeros((len(points), len(axis)))
    for row, point in zip(matrix, points, strict=True):
        nodes, weights = cubic_weights(axis, float(point))
        row[nodes] = weights
    return matrix


def blend(
    tables: SectionTables, thickness: float, flap_fraction: float, *, flat_plate: bool, transition: float
) -> Blend:
    """Tables of one section: cubic in thickness and chord fraction, linear in transition (0 Ncrit 9, 1 Ncrit 4).

    Thickness and fraction beyond the grid are clamped and marked not valid (a fraction of 0 means no flap).
    """
    if flat_plate:
        sections, section_weights = np.array([0]), np.array([1.0])
        inside = True
    else:
        sections, section_weights = cubic_weights(tables.thickness[1:], thickness)
        sections = sections + 1
        inside = bool(tables.thickness[1] - 1e-9 <= thickness <= tables.thickness[-1] + 1e-9)
    fractions, fraction_weights = cubic_weights(tables.flap_fraction, flap_fraction)
    if flap_fraction > 0:
        inside &= bool(tables.flap_fraction[0] - 1e-9 <= flap_fraction <= tables.flap_fraction[-1] + 1e-9)
    level = float(np.clip(transition, 0, 1))
    total = np.zeros((4, len(tables.delta_deg), len(tables.reynolds), len(tables.alpha_deg)))
    valid = np.zeros(total.shape[1:])
    for s, ws in zip(sections, section_weights, strict=True):
        for f, wf in zip(fractions, fraction_weights, strict=True):
            for n, wn in ((0, 1 - level), (1, level)):
                if wn:
                    total += (ws * wf * wn) * tables.values[:, s, f, :, :, n]
                    valid += (ws * wf * wn) * tables.valid[s, f, :, :, n]
    return Blend(values=total, valid=np.clip(valid, 0, 1) if inside else np.zeros_like(valid))
