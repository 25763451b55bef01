"""The learned factor on crow's pitching moment acts where it says it does."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall.lines.bend import BendCase, bends
from evenfall.tune.candidates import crow_at
from evenfall.workflow import Ready


@pytest.mark.limit
def test_crow_moment_scales_the_bend_of_crow_and_nothing_else(ready: Callable[[str], Ready]) -> None:
    """Both ailerons up bend by moment alone: half the moment, half the bend, within the curvature of the sections."""
    made = ready("biplane_124")
    crow = crow_at(made.frame.plane, "both up", math.radians(12))
    case = BendCase(slope=-math.pi / 2, crow=crow, thrust=-2.0)
    plane = made.frame.plane

    def bend(factor: float) -> tuple[float, float]:
        frame = replace(made.frame, plane=replace(plane, corrections=replace(plane.corrections, crow_moment=factor)))
        found = bends(frame, [case], speed=made.wanted, level_thrust=3.0)
        assert found.straight.converged.all()
        return float(found.clean[0]), float(found.crow[0])

    clean, full = bend(1.0)
    clean_half, half = bend(0.5)
    clean_more, more = bend(1.3)
    assert clean_half == pytest.approx(clean, abs=1e-6)
    assert clean_more == pytest.approx(clean, abs=1e-6)
    assert abs(half) < abs(full) < abs(more)
    assert (more - full) / (full - half) == pytest.approx(0.6, rel=0.25)
