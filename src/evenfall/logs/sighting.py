"""Lines seen from the ground: lengths from angles at a known distance, and the way along a line from pixels.

The line lies in an upright plane across the view, at a known distance on the ground from the eye. The camera is a
pinhole whose optical axis points at right angles at that plane, tilted up by its elevation. Source: similar triangles.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from evenfall.errors import ValueRangeError
from evenfall.logs.evidence import Flight, TracedLine
from evenfall.logs.evidence_entries import FASTEST, Clicked, Measured, ViewAngle, ViewMarkers

Floats = NDArray[np.float64]

LENS = 0.01
"""One sigma of the scale left by a lens that is no pinhole, a share. Common practice, no source."""
TURNED = math.radians(10)
"""One sigma of how far a line that is not vertical was flown out of the plane across the view. Ours, no source."""
MARKER_PX = 2.0
"""One sigma of a marker's place, px."""
START_SHARE = 0.12
"""One sigma of a start speed that is read off the same positions: wide, so that they do not count twice."""
SLOPE_OFF = math.radians(12)
"""Clicked slope further than this from the one written down is said."""


def point_of(distance: float, elevation: float, azimuth: float = 0.0) -> tuple[float, float]:
    """Place in the upright plane: m across (right positive) and m above the eye.

    Args:
        distance: of the plane from the eye on the ground, m. elevation: rad. azimuth: rad from square to the plane.

    >>> tuple(round(x, 6) for x in point_of(100.0, math.radians(45)))
    (0.0, 100.0)
    """
    return distance * math.tan(azimuth), distance / math.cos(azimuth) * math.tan(elevation)


def sighted_length(
    distance: Measured, elevations: tuple[Measured, Measured], azimuths: tuple[Measured, Measured] | None = None
) -> Measured:
    """Length between two sighted ends, m; spreads by first order, each input by itself."""
    inputs = [distance, *elevations, *(azimuths or (Measured(0.0, 0.0), Measured(0.0, 0.0)))]

    def length(values: list[float]) -> float:
        far, low, high, left, right = values
        (x1, y1), (x2, y2) = point_of(far, low, left), point_of(far, high, right)
        return math.hypot(x2 - x1, y2 - y1)

    return _with_spread(length, inputs)


def _with_spread(function: Callable[[list[float]], float], inputs: list[Measured]) -> Measured:
    values = [one.value for one in inputs]
    effects = []
    for index, one in enumerate(inputs):
        if one.sigma > 0:
            ends = [[*values[:index], one.value + sign * one.sigma, *values[index + 1 :]] for sign in (-0.5, 0.5)]
            effects.append(function(ends[1]) - function(ends[0]))
    return Measured(function(values), math.hypot(*effects) if effects else 0.0)


# --- camera ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Camera:
    """A pinhole before an upright plane.

    Args:
        focal: px. centre: px from left and top. elevation: of the optical axis, rad. distance: of the plane on the
            ground, m.
    """

    focal: float
    centre: tuple[float, float]
    elevation: float
    distance: float

    def places(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """m across and m above the camera for pixels; a pixel that looks away from the plane raises."""
        right = (x - self.centre[0]) / self.focal
        up = (self.centre[1] - y) / self.focal
        forward = math.cos(self.elevation) - up * math.sin(self.elevation)
        if np.any(forward < 0.05):
            raise ValueRangeError(
                "a click looks straight up or away from the line; check angle of view, elevation and horizon"
            )
        depth = self.distance / forward
        return depth * right, depth * (math.sin(self.elevation) + up * math.cos(self.elevation))


def focal_of_view(width: float, angle: float) -> float:
    """Focal length in px of a frame `width` px wide that sees `angle` rad across.

    >>> round(focal_of_view(1920, math.radians(90)), 6)
    960.0
    """
    return 0.5 * width / math.tan(0.5 * angle)


def focal_of_markers(
    frame: tuple[float, float], first: tuple[float, float], second: tuple[float, float], apart: float, away: float
) -> float:
    """Focal length in px from two markers `apart` m from each other, square to the view, their middle `away` m off.

    The angle between their rays is 2 atan(apart/2/away), wherever in the frame they are.
    """
    wanted = 2 * math.atan2(0.5 * apart, away)
    rays = np.array([[x - 0.5 * frame[0], y - 0.5 * frame[1]] for x, y in (first, second)])

    def over(log_focal: float) -> float:
        ends = np.column_stack([rays, np.full(2, math.exp(log_focal))])
        cosine = float(ends[0] @ ends[1] / np.linalg.norm(ends[0]) / np.linalg.norm(ends[1]))
        return math.acos(min(1.0, max(-1.0, cosine))) - wanted

    return _root(over, frame[0], "the two markers fit no angle of view; check their pixels, distance and how far apart")


def focal_of_span(
    frame: tuple[float, float], pixels: float, row: float, span: float, distance: float, tilt: Callable[[float], float]
) -> float:
    """Focal length in px from a span (m) seen at right angles on the line as so many px at a row of the frame.

    Depth there is distance/(cos e - up sin e) with up = (centre - row)/focal and the elevation e = tilt(focal); a span
    square to the view shows span focal/depth pixels.
    """
    above = 0.5 * frame[1] - row

    def over(log_focal: float) -> float:
        focal = math.exp(log_focal)
        e = tilt(focal)
        return (focal * math.cos(e) - above * math.sin(e)) * span / distance - pixels

    return _root(over, frame[0], "the span fits no angle of view; check its pixels and the distance")


def _root(over: Callable[[float], float], width: float, message: str) -> float:
    """Focal length at which a function of its logarithm is zero: angles of view from 1 to 140 degrees."""
    grid = np.log(np.geomspace(60.0 * width, 0.18 * width, 60))
    values = [over(x) for x in grid]
    for a, b, left, right in zip(grid[:-1], grid[1:], values[:-1], values[1:], strict=True):
        if left == 0 or left * right < 0:
            return math.exp(float(brentq(over, b, a)))
    raise ValueRangeError(message)


def camera_of(seen: Clicked) -> Camera:
    """The camera of a clicked video; raises where what was written down fits no camera."""
    width, height = seen.frame

    def tilt(focal: float) -> float:
        if seen.horizon is None:
            return seen.elevation.value if seen.elevation is not None else 0.0
        return math.atan2(seen.horizon - 0.5 * height, focal)

    view = seen.view
    if isinstance(view, ViewAngle):
        focal = focal_of_view(width, view.angle.value)
    elif isinstance(view, ViewMarkers):
        focal = focal_of_markers(seen.frame, view.first, view.second, view.apart.value, view.away.value)
    else:
        row = view.row if view.row is not None else float(np.mean([click[2] for click in seen.clicks]))
        focal = focal_of_span(seen.frame, view.pixels.value, row, view.span.value, seen.distance.value, tilt)
    return Camera(
        focal=focal,
        centre=(0.5 * width, 0.5 * height),
        elevation=tilt(focal),
        distance=seen.distance.value,
    )


def _moved(seen: Clicked) -> list[Clicked]:
    """The same view with each number it rests on moved by one sigma."""
    found = [replace(seen, distance=_up(seen.distance))]
    view = seen.view
    if isinstance(view, ViewAngle):
        found.append(replace(seen, view=replace(view, angle=_up(view.angle))))
    elif isinstance(view, ViewMarkers):
        found.append(replace(seen, view=replace(view, apart=_up(view.apart))))
        found.append(replace(seen, view=replace(view, away=_up(view.away))))
        shifted = (view.first[0] + MARKER_PX * math.sqrt(2), view.first[1])
        found.append(replace(seen, view=replace(view, first=shifted)))
    else:
        found.append(replace(seen, view=replace(view, span=_up(view.span))))
        found.append(replace(seen, view=replace(view, pixels=_up(view.pixels))))
    if seen.horizon is not None:
        found.append(replace(seen, horizon=seen.horizon + seen.error))
    elif seen.elevation is not None:
        found.append(replace(seen, elevation=_up(seen.elevation)))
    return found


def _up(number: Measured) -> Measured:
    return Measured(number.value + number.sigma, number.sigma)


@dataclass(frozen=True, kw_only=True)
class SeenLine:
    """A clicked line in its plane.

    Args:
        time: s from the first click. way: m along its straight line from the first click. slope: rad, as clicked.
        sigma: of each way, m. scale_sigma: of all ways together, a share. speed: m/s at the start, with one sigma.
        across: rms off the straight line, m.
    """

    time: Floats
    way: Floats
    slope: float
    sigma: float
    scale_sigma: float
    speed: Measured
    across: float


def seen_line(seen: Clicked) -> SeenLine:
    """Way along the line of a clicked video, with the doubt of clicks and of everything the scale rests on."""
    camera = camera_of(seen)
    time, x, y = (np.array(row, dtype=float) for row in zip(*seen.clicks, strict=True))
    way, slope, across, direction = _along(*camera.places(x, y))
    step = 1.0
    ends = [
        np.stack(camera.places(x + sign * 0.5 * step * dx, y + sign * 0.5 * step * dy))
        for dx, dy in ((1.0, 0.0), (0.0, 1.0))
        for sign in (-1, 1)
    ]
    per_pixel = [direction @ (ends[k + 1] - ends[k]) for k in (0, 2)]
    sigma = seen.error * float(np.sqrt(np.mean(per_pixel[0] ** 2 + per_pixel[1] ** 2)))
    length = float(way[-1])
    if length <= 0:
        raise ValueRangeError("the clicks do not move; click the plane at one place after the other")
    mean = length / float(time[-1] - time[0])
    if not 2.0 <= mean <= FASTEST:
        raise ValueRangeError(
            f"the clicks make {mean:.3g} m/s; allowed is 2 to {FASTEST:g}: check times, distance and angle of view"
        )
    shares = [LENS, (1 - math.cos(TURNED)) * math.cos(seen.flown.slope)]
    for moved in _moved(seen):
        shares.append(float(_along(*camera_of(moved).places(x, y))[0][-1]) / length - 1)
    speed = _start(time - time[0], way, sigma)
    return SeenLine(
        time=time - time[0],
        way=way,
        slope=slope,
        sigma=sigma,
        scale_sigma=min(math.hypot(*shares), 0.5),
        speed=speed,
        across=across,
    )


def _along(across: Floats, above: Floats) -> tuple[Floats, float, float, Floats]:
    """Way along the straight line closest to the points, its slope, rms off it, and its direction (across, up)."""
    points = np.column_stack([across, above])
    middle = points.mean(axis=0)
    axis = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    axis = axis if (points[-1] - points[0]) @ axis >= 0 else -axis
    way = (points - points[0]) @ axis
    off = (points - middle) @ np.array([-axis[1], axis[0]])
    return way, math.atan2(axis[1], abs(axis[0])), float(np.sqrt(np.mean(off**2))), axis


def _start(time: Floats, way: Floats, sigma: float) -> Measured:
    degree = 3 if len(way) >= 12 else 2
    scale = float(time[-1])
    matrix = np.vander(time / scale, degree + 1, increasing=True)
    answer = np.linalg.lstsq(matrix, way, rcond=None)[0]
    doubt = math.sqrt(max(float(np.linalg.pinv(matrix.T @ matrix)[1, 1]), 0.0)) * sigma / scale
    mean = float(way[-1]) / scale
    speed = min(max(float(answer[1]) / scale, 0.3 * mean), 3 * mean)
    return Measured(speed, max(2 * doubt, START_SHARE * speed))


def traced(seen: Clicked, flight: Flight, *, name: str) -> tuple[TracedLine, tuple[str, ...]]:
    """A clicked video as evidence, and what to know about it in words."""
    line = seen_line(seen)
    notes = []
    if abs(line.slope - flight.slope) > SLOPE_OFF:
        notes.append(
            f"{name}: the clicks run at {math.degrees(line.slope):+.0f} degrees, written down are "
            f"{math.degrees(flight.slope):+.0f}; check the line, the camera's elevation and its distance"
        )
    if line.across > 0.03 * float(line.way[-1]) + 3 * line.sigma:
        notes.append(f"{name}: the clicks lie {line.across:.1f} m off a straight line; keep to the straight part")
    evidence = TracedLine(
        name=name,
        flight=flight,
        time=line.time,
        way=line.way,
        sigma=line.sigma,
        scale_sigma=line.scale_sigma,
        speed=line.speed.value,
        speed_sigma=line.speed.sigma,
        fresh=not seen.settled,
    )
    return evidence, tuple(notes)
