"""Drag areas of body and parts: hand calculations, the stream, what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenfall.aero.parasite import COEFFICIENTS, body_drag_area, drag_points, friction_coefficient, part_drag_area
from evenfall.air import standard_air
from evenfall.errors import ValueRangeError
from evenfall.plane.airframe import Body, DragPart
from evenfall.plane.files import load_plane
from evenfall.plane.starter import DEMOS, demo_path

AIR = standard_air()
PLANE = load_plane(demo_path("biplane_124")).plane


@pytest.mark.published
@pytest.mark.parametrize(("reynolds", "value"), [(1e6, 0.00447), (1e7, 0.00300), (1e8, 0.00213)])
def test_turbulent_friction_of_a_plate(reynolds: float, value: float) -> None:
    # .455 / (log10 Re)^2.58, Prandtl-Schlichting: evaluated by hand to three digits (1e6: 6^2.58 = 101.8).
    assert friction_coefficient(reynolds) == pytest.approx(value, rel=3e-3)


def test_body_by_hand() -> None:
    # 1.0 m long, .1 x .2 m box, 22 m/s: d = .15958, f = 6.266, form 1 + 60/246.1 + .0157 = 1.2595,
    # Re = 1.225*22*1/1.7894e-5 = 1.506e6, Cf = .455/6.1778^2.58 = .004146, wetted .75*2*.3*1 = .45.
    body = Body(length=1.0, width=0.1, height=0.2)
    wanted = 1.5 * 0.004146 * 1.2595 * 0.45
    assert body_drag_area(body, AIR, 22.0) == pytest.approx(wanted, rel=2e-3)


@pytest.mark.limit
def test_body_below_walking_speed_keeps_its_coefficient() -> None:
    body = Body(length=1.0, width=0.1, height=0.2)
    assert body_drag_area(body, AIR, 0.0) == body_drag_area(body, AIR, 5.0)
    assert np.all(np.diff(body_drag_area(body, AIR, np.array([5.0, 10.0, 40.0]))) < 0)


@pytest.mark.parametrize("kind", sorted(COEFFICIENTS))
def test_every_kind_of_part_has_a_source(kind: str) -> None:
    coefficient, source = COEFFICIENTS[kind]
    part = DragPart(what="x", kind=kind, length=0.3, width=0.01, count=2, x=0.2, z=-0.1)  # type: ignore[arg-type]
    assert part_drag_area(part) == pytest.approx(coefficient * 0.3 * 0.01 * 2)
    assert "from memory" in source or "no source" in source


def test_a_given_drag_area_counts_for_all_of_them() -> None:
    part = DragPart(what="x", area=0.002, count=3, x=0.2, z=0.0)
    assert part_drag_area(part) == 0.002


@pytest.mark.outside
def test_a_part_without_area_or_dimensions_is_refused() -> None:
    with pytest.raises(ValueRangeError, match="give a drag area, or a kind with length and width"):
        DragPart(what="x", kind="wire", length=None, width=0.01, x=0.2, z=0.0)


def test_the_stream_reaches_what_lies_behind_the_disc() -> None:
    radius = PLANE.propeller.radius
    parts = tuple(
        DragPart(what=name, area=1e-3, x=x, z=z)
        for name, x, z in (("behind", 0.3, 0.5 * radius), ("below", 0.3, -1.1 * radius), ("ahead", -0.1, 0.0))
    )
    points = drag_points(replace(PLANE, body=None, drag=parts), AIR, np.array([22.0, 30.0]))
    assert [(point.what, point.behind_disc) for point in points] == [
        ("behind", True),
        ("below", False),
        ("ahead", False),
    ]
    assert all(point.area.shape == (2,) for point in points)


@pytest.mark.parametrize("name", DEMOS)
def test_parasite_drag_of_the_demos_is_of_a_sensible_size(name: str) -> None:
    # Ours, no source: body and parts of such planes have .005 (a profile body of foam) to .05 of the wing area.
    plane = load_plane(demo_path(name)).plane
    area = sum(float(point.area[0]) for point in drag_points(plane, AIR, np.array([20.0])))
    assert 0.005 < area / plane.wing_area < 0.05
    assert math.isfinite(area)
