"""Crow against roll: how much of the stowed roll rate is left on the vertical as the ailerons brake harder.

This is the section part: equal throw, equal speed. It is the least sure of all numbers here; timed rolls settle it.

python examples/crow_and_roll.py
"""

from __future__ import annotations

import math

import numpy as np

from evenfall.api import demo_path, load_plane, prepare
from evenfall.lines.balance import balance
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.radio.plan import Arrangement
from evenfall.tune.candidates import crow_at

ANGLES_DEG = (0, 6, 12, 18, 24, 30)
THROWS_DEG = (4, 7, 16)


def left(arrangement: Arrangement) -> np.ndarray:
    """Roll rate over the stowed one, (angles, throws)."""
    ready = prepare(load_plane(demo_path("biplane_124")))
    full = crow_at(ready.frame.plane, arrangement, math.radians(max(ANGLES_DEG)))
    out = np.array(ANGLES_DEG) / max(ANGLES_DEG)
    held = balance(ready.frame, speed=ready.wanted, slope=-math.pi / 2, crow=full, deployment=out)
    cases = [
        RollCase(crow=full, deployment=share, alpha=alpha, elevator=elevator, throw=math.radians(throw))
        for share, alpha, elevator in zip(out, held.alpha, held.elevator, strict=True)
        for throw in THROWS_DEG
    ]
    rate = steady_rolls(ready.frame, cases, speed=ready.wanted).rate.reshape(len(ANGLES_DEG), len(THROWS_DEG))
    return np.asarray(rate / rate[0])


def main() -> None:
    """Print a table for two arrangements."""
    for arrangement in ("up/down", "both up"):
        print(f"crow {arrangement}: percent of the stowed roll rate left at throws of {THROWS_DEG} deg")
        for angle, row in zip(ANGLES_DEG, left(arrangement), strict=True):
            print(f"  {angle:2} deg of crow: " + "  ".join(f"{100 * share:4.0f}" for share in row))


if __name__ == "__main__":
    main()
