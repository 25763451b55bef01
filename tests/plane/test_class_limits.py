"""Limits of a class held against a plane."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenfall.plane.class_limits import class_rows, known_classes
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path


def test_a_demo_plane_is_within_and_a_heavy_one_is_not() -> None:
    """Span, length and mass: FAI's public description of the class (2 m, 2 m, 5 kg)."""
    (limits,) = known_classes()
    assert (limits.span_m, limits.length_m, limits.mass_kg) == (2.0, 2.0, 5.0)
    plane = load_plane(demo_path("biplane_155")).plane
    rows = {row.what: row for row in class_rows(plane, limits)}
    assert rows["span"].value == 1.55
    assert rows["length"].value == pytest.approx(1.39)  # propeller disc to the foot of the rudder: 1160 + 230 mm
    assert rows["voltage of the full pack"].value == pytest.approx(25.2)
    assert all(row.within for row in rows.values() if row.what != "sound")
    assert rows["sound"].within is None
    heavy = replace(plane, mass=replace(plane.mass, all_up=5.01), battery=replace(plane.battery, cells=11))
    rows = {row.what: row for row in class_rows(heavy, limits)}
    assert rows["mass with battery"].within is False
    assert rows["voltage of the full pack"].within is False
    assert "decides" not in limits.edition
    assert limits.source
