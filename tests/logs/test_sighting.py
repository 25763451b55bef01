"""Video and angle geometry against cases computed by hand: the arithmetic stands beside each."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.logs.evidence import Flight
from evenfall.logs.evidence_entries import Clicked, Flown, Measured, ViewAngle, ViewMarkers, ViewSpan
from evenfall.logs.sighting import (
    Camera,
    camera_of,
    focal_of_markers,
    focal_of_view,
    point_of,
    seen_line,
    sighted_length,
    traced,
)

DEG = math.radians(1)
DOWN = Flown(slope=-math.pi / 2, line="vertical down")
FRAME = (1920.0, 1080.0)


def exact(value: float) -> Measured:
    return Measured(value, 0.0)


def video(**changes: object) -> Clicked:
    """90 degrees across 1920 px (focal length 960 px), level camera, line 96 m away: 0.1 m a pixel everywhere."""
    usual: dict[str, object] = {
        "name": "video",
        "where": "clicked.0",
        "flown": DOWN,
        "file": "line.mp4",
        "frame": FRAME,
        "view": ViewAngle(angle=exact(90 * DEG)),
        "distance": exact(96.0),
        "elevation": exact(0.0),
        "horizon": None,
        "clicks": tuple((0.5 * k, 960.0, 40.0 + 100.0 * k) for k in range(6)),
    }
    return Clicked(**{**usual, **changes})  # type: ignore[arg-type]


# --- angles -----------------------------------------------------------------------------------------------------------


def test_heights_of_a_vertical_line_from_two_elevation_angles() -> None:
    # 90 m tan 60 = 155.88 m; 90 m tan 25 = 41.97 m; the line between them is 113.92 m long.
    found = sighted_length(exact(90.0), (exact(60 * DEG), exact(25 * DEG)))
    assert found.value == pytest.approx(90 * (1.7320508 - 0.4663077), abs=1e-4)
    assert found.value == pytest.approx(113.917, abs=1e-3)
    assert found.sigma == 0.0


def test_spread_of_a_sighted_length() -> None:
    # Distance alone, 5 %: 5 % of the length. Upper angle alone, 1 degree at 60: 90 m / cos^2 60 * pi/180 = 6.283 m.
    far = sighted_length(Measured(90.0, 4.5), (exact(60 * DEG), exact(25 * DEG)))
    assert far.sigma == pytest.approx(0.05 * 113.917, rel=1e-4)
    high = sighted_length(exact(90.0), (Measured(60 * DEG, 1 * DEG), exact(25 * DEG)))
    assert high.sigma == pytest.approx(90 / 0.25 * math.pi / 180, rel=2e-3)
    both = sighted_length(Measured(90.0, 4.5), (Measured(60 * DEG, 1 * DEG), exact(25 * DEG)))
    assert both.sigma == pytest.approx(math.hypot(far.sigma, high.sigma), rel=1e-9)


def test_a_sloped_line_needs_the_azimuths() -> None:
    # Square distance 100 m, azimuth 45 degrees: 100 m across, ground distance 141.42 m; elevation atan(1/sqrt 2) is
    # 100 m high there. From (0, 0) to (100, 100) the line is 141.42 m long.
    across, above = point_of(100.0, math.atan(1 / math.sqrt(2)), 45 * DEG)
    assert (across, above) == (pytest.approx(100.0), pytest.approx(100.0))
    found = sighted_length(
        exact(100.0), (exact(math.atan(1 / math.sqrt(2))), exact(0.0)), (exact(45 * DEG), exact(0.0))
    )
    assert found.value == pytest.approx(141.4214, abs=1e-4)


# --- the camera -------------------------------------------------------------------------------------------------------


def test_level_camera_is_a_plain_scale() -> None:
    # 90 degrees across 1920 px: focal length 960 px; 96 m away one pixel is 96/960 = 0.1 m.
    assert focal_of_view(1920, 90 * DEG) == pytest.approx(960.0)
    line = seen_line(video())
    assert line.way == pytest.approx([0, 10, 20, 30, 40, 50], abs=1e-9)
    assert line.slope == pytest.approx(-math.pi / 2)
    assert line.sigma == pytest.approx(2 * 0.1, rel=1e-3)
    assert line.speed.value == pytest.approx(20.0)


def test_a_tilted_camera_sees_the_upper_part_smaller() -> None:
    # Camera up 45 degrees, focal length 960 px, plane 100 m away: the middle row looks at 45 degrees, 100 m high. A
    # pixel u above the middle looks at 45 degrees + atan(u/960): 257.2 px is 15 degrees, so 60 degrees, 173.21 m;
    # 257.2 px below is 30 degrees, 57.74 m.
    camera = Camera(focal=960.0, centre=(960.0, 540.0), elevation=45 * DEG, distance=100.0)
    up = 960 * math.tan(15 * DEG)
    across, above = camera.places(np.full(3, 960.0), np.array([540 - up, 540.0, 540 + up]))
    assert across == pytest.approx([0, 0, 0], abs=1e-9)
    assert above == pytest.approx([173.2051, 100.0, 57.7350], abs=1e-3)


def test_sideways_the_scale_is_that_of_the_depth() -> None:
    # Middle row of a camera 60 degrees up before a plane 50 m away: depth along the axis 50/cos 60 = 100 m, so 96 px
    # to the right is 96/960 * 100 = 10 m.
    camera = Camera(focal=960.0, centre=(960.0, 540.0), elevation=60 * DEG, distance=50.0)
    across, above = camera.places(np.array([1056.0]), np.array([540.0]))
    assert across[0] == pytest.approx(10.0)
    assert above[0] == pytest.approx(50 * math.sqrt(3))


def test_elevation_from_the_row_of_the_horizon() -> None:
    # The horizon 960 px below the middle at a focal length of 960 px: atan(960/960) = 45 degrees up.
    camera = camera_of(video(elevation=None, horizon=540.0 + 960.0))
    assert camera.elevation == pytest.approx(45 * DEG)
    row = np.array([1500.0])
    assert camera.places(np.array([960.0]), row)[1][0] == pytest.approx(0.0, abs=1e-6)


def test_focal_length_from_two_markers() -> None:
    # Markers 60 m apart, middle 30 m away: each 45 degrees from the middle; 960 px from the middle of the frame means
    # a focal length of 960 px. Off to one side the same angle takes more pixels.
    assert focal_of_markers(FRAME, (0.0, 540.0), (1920.0, 540.0), 60.0, 30.0) == pytest.approx(960.0, rel=1e-9)
    # From the middle (0 degrees) to 45 degrees: the angle is 45 = 2 atan(apart/2/away): apart = 2 * 30 tan 22.5.
    apart = 2 * 30 * math.tan(22.5 * DEG)
    assert focal_of_markers(FRAME, (960.0, 540.0), (1920.0, 540.0), apart, 30.0) == pytest.approx(960.0, rel=1e-9)


def test_focal_length_from_the_span_on_the_line() -> None:
    # Level camera, plane 96 m away, a span of 1.2 m: 960/96 * 1.2 = 12 px.
    camera = camera_of(video(view=ViewSpan(span=exact(1.2), pixels=exact(12.0), row=540.0)))
    assert camera.focal == pytest.approx(960.0)
    # Up 45 degrees, seen in the middle row: depth 96/cos 45 = 135.76 m, so 960/135.76 * 1.2 = 8.485 px.
    seen = video(view=ViewSpan(span=exact(1.2), pixels=exact(12 / math.sqrt(2)), row=540.0), elevation=exact(45 * DEG))
    assert camera_of(seen).focal == pytest.approx(960.0)
    # The same with the horizon instead: 960 px below the middle.
    seen = replace(seen, elevation=None, horizon=1500.0)
    assert camera_of(seen).focal == pytest.approx(960.0, rel=1e-6)
    assert camera_of(seen).elevation == pytest.approx(45 * DEG, rel=1e-6)


def test_a_span_makes_the_scale_whatever_the_distance() -> None:
    # 12 px for 1.2 m is 0.1 m a pixel; a distance 20 % off changes the focal length, not the way.
    view = ViewSpan(span=exact(1.2), pixels=exact(12.0), row=540.0)
    near, far = (seen_line(video(view=view, distance=exact(d))).way[-1] for d in (80.0, 96.0))
    assert near == pytest.approx(50.0)
    assert far == pytest.approx(50.0)


def test_doubt_of_the_scale_is_that_of_what_it_rests_on() -> None:
    # Distance 5 %: way 5 %. Lens 1 % besides.
    line = seen_line(video(distance=Measured(96.0, 4.8)))
    assert line.scale_sigma == pytest.approx(math.hypot(0.05, 0.01), rel=1e-6)
    # Angle of view: way goes with tan(view/2); half a degree at 90 degrees is d(tan x)/tan x = 2 dx = 0.01746.
    line = seen_line(video(view=ViewAngle(angle=Measured(90 * DEG, 1 * DEG))))
    assert line.scale_sigma == pytest.approx(math.hypot(0.01746, 0.01), rel=2e-2)
    # Markers known to 2 % of their distance: 2 % of the angle's tangent.
    markers = ViewMarkers(first=(0, 540), second=(1920, 540), apart=exact(60.0), away=Measured(30.0, 0.6))
    line = seen_line(video(view=markers))
    assert 0.02 < line.scale_sigma < 0.03


def test_variable_frame_times_are_just_times() -> None:
    times = [0.0, 0.4, 0.5, 1.3, 1.9, 2.0]
    line = seen_line(video(clicks=tuple((t, 960.0, 40 + 200 * t) for t in times)))
    assert line.time == pytest.approx(times)
    assert line.way == pytest.approx([20 * t for t in times], abs=1e-9)
    assert line.speed.value == pytest.approx(20.0)


def test_a_leaning_line_is_followed_along_itself() -> None:
    # 30 px across and 40 px down a step are 50 px, 5 m, along a slope of -53.13 degrees.
    clicks = tuple((float(k), 500.0 + 30 * k, 100.0 + 40 * k) for k in range(6))
    line = seen_line(video(clicks=clicks))
    assert line.way == pytest.approx([5.0 * k for k in range(6)])
    assert math.degrees(line.slope) == pytest.approx(-53.1301, abs=1e-3)
    evidence, notes = traced(video(clicks=clicks), Flight(slope=-math.pi / 2), name="video")
    assert "-53 degrees" in notes[0]
    assert evidence.sigma == pytest.approx(0.2, rel=1e-3)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"clicks": tuple((0.1 * k, 960.0, 540.0) for k in range(6))}, "do not move"),
        ({"elevation": exact(75 * DEG)}, "away from the line"),
        ({"distance": exact(2000.0)}, "417 m/s; allowed is 2 to 120"),
        ({"view": ViewMarkers(first=(950, 540), second=(970, 540), apart=exact(60.0), away=exact(1.0))}, "markers"),
        ({"view": ViewSpan(span=exact(1.2), pixels=exact(9000.0), row=540.0)}, "span"),
    ],
)
def test_what_fits_no_camera_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueRangeError, match=words):
        seen_line(video(**changes))


@pytest.mark.property
def test_places_come_back_through_any_camera() -> None:
    rng = np.random.default_rng(4)
    for _ in range(50):
        focal, tilt, far = rng.uniform(800, 3000), rng.uniform(-0.2, 0.9), rng.uniform(40, 200)
        across, above = rng.uniform(-20, 20, 8), far * np.tan(rng.uniform(tilt - 0.3, tilt + 0.3, 8))
        # The pinhole forward: depth along the axis, then focal length over depth.
        depth = far * math.cos(tilt) + above * math.sin(tilt)
        up = above * math.cos(tilt) - far * math.sin(tilt)
        x, y = 960 + focal * across / depth, 540 - focal * up / depth
        found = Camera(focal=focal, centre=(960.0, 540.0), elevation=tilt, distance=far).places(x, y)
        assert found[0] == pytest.approx(across, abs=1e-6)
        assert found[1] == pytest.approx(above, abs=1e-6)
