"""Computed against measured thrust and power of twelve propellers.

    python tools/check_propellers.py            # the table
    python tools/check_propellers.py --fit      # fit the character of the families, score each propeller left out

Measured: UIUC Propeller Data Site, volumes 1 to 3 (tests/power/data/propellers_measured.csv). CT = T/(rho n^2 D^4),
CP = P/(rho n^3 D^5), J = V/(n D). Errors are rms over all rows of a propeller, in percent of its greatest measured
value. Every row is solved directly at its own speed, not looked up in a map. Columns: *blade*, its own measured chord
and angles (nine propellers); *family*, diameter and pitch alone; *family less own*, the family averaged without it.
Aims: slim and medium CT 5 and CP 6 percent, left out of the fit 4 and 5.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evenfall.plane.electrics import BladeShape, Propeller
from evenfall.power.blade_sections import blade_sections
from evenfall.power.blades import CHARACTERS, INCH, Character, Outline, blade, measured_outlines, outline
from evenfall.power.inflow import blade_loads

MEASURED = Path(__file__).resolve().parents[1] / "tests" / "power" / "data" / "propellers_measured.csv"
TRANSITION = 0.5
FITTED = ("slim", "medium")
AIM_CT, AIM_CP = 5.0, 6.0

Key = tuple[BladeShape, float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """Rows of one propeller, shape (n,) each."""

    rpm: np.ndarray
    advance: np.ndarray
    ct: np.ndarray
    cp: np.ndarray


def measured() -> dict[Key, Measured]:
    """The measured rows by (shape, diameter_in, pitch_in); a row printed several times counts once."""
    rows: dict[Key, list[list[float]]] = {}
    for line in [text for text in MEASURED.read_text("utf-8").splitlines() if text and text[0] != "#"][1:]:
        shape, diameter, pitch, _, *values = line.split(",")
        rows.setdefault((shape, float(diameter), float(pitch)), []).append([float(v) for v in values])  # type: ignore[index]
    out = {}
    for key, values_ in rows.items():
        rpm, advance, ct, cp = np.unique(np.array(values_), axis=0).T
        out[key] = Measured(rpm=rpm, advance=advance, ct=ct, cp=cp)
    return out


def family_outline(key: Key, *, without_own: bool = False) -> Outline:
    """Outline from shape, diameter and pitch alone."""
    propeller = Propeller(diameter=key[1] * INCH, pitch=key[2] * INCH, shape=key[0])
    return outline(propeller, without=key if without_own else None)


def computed(
    key: Key, rows: Measured, shape: Outline, character: Character, *, transition: float = TRANSITION
) -> tuple[np.ndarray, np.ndarray]:
    """CT and CP at the measured speeds."""
    diameter = key[1] * INCH
    form = blade(shape, radius=0.5 * diameter, blades=2, angle_offset=character.angle_offset)
    sections = blade_sections(form.thickness, transition=transition, drag_increment=character.drag_increment)
    n = rows.rpm / 60.0
    speed, omega = rows.advance * n * diameter, 2.0 * math.pi * n
    thrust, torque = blade_loads(form, sections, speed=speed, omega=omega, density=1.0)
    return thrust / (n**2 * diameter**4), 2.0 * math.pi * torque / (n**2 * diameter**5)


def errors(rows: Measured, ct: np.ndarray, cp: np.ndarray) -> tuple[float, float]:
    """Rms of CT and CP in percent of the greatest measured."""
    return (
        100.0 * float(np.sqrt(np.mean((ct - rows.ct) ** 2)) / rows.ct.max()),
        100.0 * float(np.sqrt(np.mean((cp - rows.cp) ** 2)) / rows.cp.max()),
    )


def zero_torque_drag(advance: np.ndarray, ct: np.ndarray, cp: np.ndarray, *, last: int = 6) -> float:
    """Drag coefficient on the disc at zero torque, both curves continued straight from the last points.

    CD = -8 CT/(pi J^2) at the J where CP is zero.
    """
    order = np.argsort(advance)[-last:]
    straight = [np.polynomial.Polynomial.fit(advance[order], values[order], 1) for values in (ct, cp)]
    j = float(straight[1].roots()[0])
    return float(-8.0 * straight[0](j) / (math.pi * j * j))


def fastest(rows: Measured) -> np.ndarray:
    """Rows of the highest shaft speed that reaches near zero thrust."""
    late = rows.advance > 0.8 * rows.advance.max()
    return np.flatnonzero((np.abs(rows.rpm - rows.rpm[late].max()) < 150.0) & (rows.advance > 0.0))


def fit(keys: list[Key]) -> dict[str, Character]:
    """One drag increment for all and one angle a family, least squares of CT over 5 and CP over 6 percent."""
    from scipy.optimize import least_squares

    table = measured()
    shapes = sorted({key[0] for key in keys})

    def characters(x: np.ndarray) -> dict[str, Character]:
        return {
            s: Character(angle_offset=math.radians(x[1 + i]), drag_increment=0.01 * x[0]) for i, s in enumerate(shapes)
        }

    def residual(x: np.ndarray) -> np.ndarray:
        parts, at = [], characters(x)
        for key in keys:
            rows = table[key]
            ct, cp = computed(key, rows, measured_outlines()[key], at[key[0]])
            size = math.sqrt(rows.ct.size)
            parts += [(ct - rows.ct) / rows.ct.max() / size / AIM_CT, (cp - rows.cp) / rows.cp.max() / size / AIM_CP]
        return 100.0 * np.concatenate(parts)

    start = np.array([0.8, *[0.5] * len(shapes)])
    return characters(least_squares(residual, start, diff_step=0.02, x_scale=np.maximum(start, 0.1)).x)


def show(character: Character) -> str:
    return f"angle {math.degrees(character.angle_offset):+.2f} deg, drag {character.drag_increment:+.4f}"


def print_table() -> None:
    print("rms in percent of the greatest measured: CT / CP")
    print(f"{'propeller':16s}{'blade':>14s}{'family':>14s}{'less own':>14s}   zero-torque CD measured, computed")
    for key, rows in measured().items():
        cells = []
        character = CHARACTERS[key[0]]
        own = measured_outlines().get(key)
        alone = own is not None and sum(k[0] == key[0] for k in measured_outlines()) == 1
        shapes = [own, family_outline(key), None if own is None or alone else family_outline(key, without_own=True)]
        for shape in shapes:
            if shape is None:
                cells.append("-")
            else:
                cells.append("{:.1f} / {:.1f}".format(*errors(rows, *computed(key, rows, shape, character))))
        ct, cp = computed(key, rows, own or family_outline(key), character)
        at = fastest(rows)
        drags = [zero_torque_drag(rows.advance[at], a[at], b[at]) for a, b in ((rows.ct, rows.cp), (ct, cp))]
        name = f"{key[0]} {key[1]:g} x {key[2]:g}"
        print(f"{name:16s}" + "".join(f"{c:>14s}" for c in cells) + "   {:.3f}, {:.3f}".format(*drags))
    print("\ntransition", TRANSITION, *(f"\n{s}: {show(c)}" for s, c in CHARACTERS.items()))
    print("broad was fitted on itself; slim 8 x 4, medium 10 x 5 and the folding ones were not used in any fit")


def print_fit() -> None:
    table = measured()
    keys = [key for key in table if key[0] in FITTED and key in measured_outlines()]
    found = fit(keys)
    for shape, character in found.items():
        print(shape, show(character))
    broad = [key for key in table if key[0] == "broad"]
    print("broad alone:", show(fit(broad)["broad"]))
    print("\neach left out of the fit: CT / CP with its measured blade, and with the family's averaged without it")
    scores = []
    for key in keys:
        left = fit([other for other in keys if other != key])[key[0]]
        shapes = (measured_outlines()[key], family_outline(key, without_own=True))
        score = [errors(table[key], *computed(key, table[key], shape, left)) for shape in shapes]
        scores.append(score)
        print(f"{key[0]} {key[1]:g} x {key[2]:g}: {show(left)}:", "; ".join(f"{a:.1f} / {b:.1f}" for a, b in score))
    mean = np.sqrt(np.mean(np.square(scores), axis=0))
    print("rms over the propellers:", "; ".join(f"{a:.1f} / {b:.1f}" for a, b in mean))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fit", action="store_true", help="fit the families and score each propeller left out")
    if parser.parse_args().fit:
        print_fit()
    else:
        print_table()


if __name__ == "__main__":
    main()
