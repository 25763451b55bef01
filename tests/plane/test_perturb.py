"""Changing single numbers of a plane."""

from __future__ import annotations

import pytest

from evenfall.errors import ValueRangeError
from evenfall.plane.files import load_plane
from evenfall.plane.perturb import attribute, perturbed
from evenfall.plane.starter import DEMOS, demo_path


@pytest.mark.property
@pytest.mark.parametrize("name", DEMOS)
def test_every_spread_can_be_perturbed(name: str) -> None:
    """Each path with a spread leads to a number; moving it by one sigma moves that number alone."""
    read = load_plane(demo_path(name))
    assert len(read.spreads) > 60
    for path, spread in read.spreads.items():
        value = attribute(read.plane, path)
        assert isinstance(value, float), path
        moved = perturbed(read.plane, {path: value + spread.absolute(value)})
        assert attribute(moved, path) == value + spread.absolute(value)
        assert perturbed(moved, {path: value}) == read.plane, path


def test_several_at_once_and_paths_that_lead_nowhere() -> None:
    plane = load_plane(demo_path("biplane_124")).plane
    moved = perturbed(plane, {"mass.all_up": 2.0, "drag.1.x": 0.5, "aileron_linkage.upper_left.arm": 0.01})
    assert (moved.mass.all_up, moved.drag[1].x, moved.aileron_linkage["upper_left"].arm) == (2.0, 0.5, 0.01)
    assert moved.drag[0] == plane.drag[0]
    for path in ("mass.weight", "drag.9.x", "aileron_linkage.middle.arm", "wing"):
        with pytest.raises(ValueRangeError, match="leads nowhere"):
            perturbed(plane, {path: 1.0})
    with pytest.raises(ValueRangeError, match="positive"):
        perturbed(plane, {"mass.all_up": -1.0})
