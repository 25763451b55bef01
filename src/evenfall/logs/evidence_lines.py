"""Entries of a flight file that follow a line: records, timed stretches, and places clicked in a video."""

from __future__ import annotations

import math

from evenfall.logs.evidence_entries import (
    FASTEST,
    STOPWATCH,
    Clicked,
    Entry,
    Flown,
    Measured,
    Recorded,
    RecordedPart,
    Timed,
    ViewAngle,
    ViewMarkers,
    ViewSpan,
)
from evenfall.logs.evidence_fields import (
    LONGEST,
    EvidenceFields,
    file_beside,
    judged_speed,
    read_flown,
    stick_needed,
)
from evenfall.logs.recording import HOLDS
from evenfall.logs.sighting import sighted_length
from evenfall.toml_table import nearest, shown

MOST_CLICKS = 2000
HEIGHT_SIGMA = 5.0
"""m, of a height called out or judged against something known. Common practice, no source."""
LENGTH_SIGMA = 0.05
"""Share, of a length judged against landmarks. Common practice, no source."""
ELEVATION_SIGMA = math.radians(1.5)
"""rad, of an elevation angle sighted along a phone or a stick. Common practice, no source."""
DISTANCE_SIGMA = 0.05
"""Share, of a distance paced or taken from a map. Common practice, no source."""
VIEW_SIGMA = 0.02
"""Share, of an angle of view taken from the camera's data. Common practice, no source."""
FRAME = 1 / 30
"""s between video frames where nothing else is written down."""


def read_recorded(table: EvidenceFields, name: str) -> Entry | None:
    """A recorded flight with the lines marked in it."""
    file = file_beside(table)
    columns = _columns(table)
    parts = []
    for part in table.tables("line"):
        assert isinstance(part, EvidenceFields)
        flown = read_flown(part)
        start, end = (part.exact(key, "time", 0.0, 1e6) for key in ("from", "to"))
        for key, value in (("from_s", start), ("to_s", end)):
            if value is None and not part.has_any(key[:-2], "time"):
                part.fault(key, "is missing; write the time in the record, from its start")
        if start is not None and end is not None:
            if end <= start:
                part.fault("to_s", f"is {end:g}, not after from_s {start:g}")
            parts.append(RecordedPart(start=start, end=end, flown=flown, where=part.where))
    return Recorded(name=name, where=table.where, file=file, columns=columns, parts=tuple(parts))


def _columns(table: EvidenceFields) -> tuple[tuple[str, str], ...]:
    given = table.take("columns")
    if given is None:
        return ()
    if not isinstance(given, dict) or len(given) > 100:
        table.fault("columns", f'must be a table such as {{ "GAlt" = "height m" }}, not {shown(given)}')
        return ()
    found = []
    for name, what in given.items():
        if not isinstance(what, str) or not what.split():
            table.fault(f"columns.{name}", f"must be a text such as height or height m, not {shown(what)}")
            continue
        quantity = what.split()[0].lower()
        if quantity not in HOLDS:
            near = nearest(quantity, HOLDS)
            hint = f"; did you mean {near}?" if near else ""
            table.fault(f"columns.{name}", f"{shown(quantity)} is not read; choose one of {', '.join(HOLDS)}{hint}")
            continue
        found.append((name, " ".join(what.split())))
    return tuple(found)


def read_timed(table: EvidenceFields, name: str) -> Entry | None:
    """A stretch timed by stopwatch or video."""
    flown = read_flown(table)
    stick_needed(table, flown)
    by = table.choice("by", ("stopwatch", "video")) or "stopwatch"
    frame = table.exact("frame", "time", 1e-4, 1.0)
    took = table.figure("seconds", 0.1, 600.0, sigma=STOPWATCH if by == "stopwatch" else frame or FRAME, required=True)
    took = table.certain("seconds", took)
    length = _length(table, flown)
    skipped = table.exact("skipped", "length", 0.0, LONGEST)
    entry = judged_speed(table, "entry_speed")
    settled = table.boolean("settled")
    if took is None or length is None:
        return None
    if not 2.0 <= length.value / took.value <= FASTEST:
        table.fault(
            "seconds",
            f"{length.value:.0f} m in {took.value:g} s is {length.value / took.value:.1f} m/s; "
            f"allowed is 2 to {FASTEST:g}: check time and length",
        )
        return None
    return Timed(
        name=name,
        where=table.where,
        flown=flown,
        length=length,
        took=took,
        skipped=skipped or 0.0,
        entry=entry,
        settled=settled is not False,
    )


def _length(table: EvidenceFields, flown: Flown) -> Measured | None:
    """Length of a timed stretch by one of its three ways."""
    length = table.measured("length", "length", 2.0, LONGEST, sigma=LENGTH_SIGMA, relative=True)
    heights = [table.measured(f"{end}_height", "length", -500.0, LONGEST, sigma=HEIGHT_SIGMA) for end in ("from", "to")]
    angles = [
        table.measured(f"{end}_elevation", "angle", -0.5, math.radians(88), sigma=ELEVATION_SIGMA)
        for end in ("from", "to")
    ]
    sides = [
        table.measured(f"{end}_azimuth", "angle", -math.radians(80), math.radians(80), sigma=ELEVATION_SIGMA)
        for end in ("from", "to")
    ]
    distance = table.measured("distance", "length", 2.0, LONGEST, sigma=DISTANCE_SIGMA, relative=True)
    ways = {
        "length_m": table.has_any("length", "length"),
        "from_height_m and to_height_m": any(table.has_any(f"{end}_height", "length") for end in ("from", "to")),
        "from_elevation_deg and to_elevation_deg": any(
            table.has_any(f"{end}_elevation", "angle") for end in ("from", "to")
        ),
    }
    given = [way for way, there in ways.items() if there]
    if len(given) != 1:
        said = f"{' and '.join(given)} are given; keep one" if given else "is missing"
        table.fault("length_m", f"{said}: write length_m, or two heights, or two elevation angles with distance_m")
        return None
    if ways["length_m"]:
        return length
    if "height" in given[0]:
        return _between_heights(table, flown, heights)
    return _between_angles(table, flown, angles, sides, distance)


def _both(table: EvidenceFields, what: str, unit: str, ends: list[Measured | None]) -> tuple[Measured, Measured] | None:
    for end, number in zip(("from", "to"), ends, strict=True):
        if number is None and not table.has_any(f"{end}_{what}", "angle" if unit == "deg" else "length"):
            table.fault(f"{end}_{what}_{unit}", "is missing; both ends are needed")
    first, second = ends
    return None if first is None or second is None else (first, second)


def _between_heights(table: EvidenceFields, flown: Flown, ends: list[Measured | None]) -> Measured | None:
    both = _both(table, "height", "m", ends)
    if both is None:
        return None
    climb = math.sin(flown.slope)
    if abs(climb) < 0.3:
        table.fault("from_height_m", "tells no length on a line as flat as this; write length_m")
        return None
    gone = (both[1].value - both[0].value) / climb
    if gone <= 0:
        way = "down" if climb < 0 else "up"
        table.fault("to_height_m", f"must lie on the other side of from_height_m: this line goes {way}")
        return None
    return _usable(table, "to_height_m", Measured(gone, math.hypot(both[0].sigma, both[1].sigma) / abs(climb)))


def _between_angles(
    table: EvidenceFields,
    flown: Flown,
    ends: list[Measured | None],
    sides: list[Measured | None],
    distance: Measured | None,
) -> Measured | None:
    both = _both(table, "elevation", "deg", ends)
    if distance is None and not table.has_any("distance", "length"):
        table.fault("distance_m", "is missing; elevation angles need the distance on the ground to below the line")
    upright = abs(abs(flown.slope) - math.pi / 2) < 0.1
    left, right = sides
    if not upright and (left is None or right is None):
        for end in ("from", "to"):
            if not table.has_any(f"{end}_azimuth", "angle"):
                table.fault(
                    f"{end}_azimuth_deg",
                    "is missing; a line that is not vertical needs it at both ends: 0 is square to the line, right "
                    "positive",
                )
        return None
    if both is None or distance is None:
        return None
    if flown.slope != 0 and (both[1].value - both[0].value) * flown.slope <= 0:
        table.fault(
            "to_elevation_deg", "must lie on the other side of from_elevation_deg: look which way the line goes"
        )
        return None
    azimuths = None if left is None or right is None else (left, right)
    return _usable(table, "to_elevation_deg", sighted_length(distance, both, azimuths))


def _usable(table: EvidenceFields, key: str, length: Measured) -> Measured | None:
    if not 2.0 <= length.value <= LONGEST:
        table.fault(key, f"makes a length of {length.value:.1f} m; allowed is 2 to {LONGEST:g}")
        return None
    if length.sigma > 0.5 * length.value:
        table.fault(key, f"makes a length of {length.value:.0f} +- {length.sigma:.0f} m, which tells nothing")
        return None
    return length


def read_clicked(table: EvidenceFields, name: str) -> Entry | None:
    """A video clicked frame by frame."""
    flown = read_flown(table)
    stick_needed(table, flown)
    file = file_beside(table)
    size = [table.integer(f"{side}_px", 16, 20000, required=True) for side in ("width", "height")]
    distance = table.measured("distance", "length", 2.0, LONGEST, sigma=DISTANCE_SIGMA, relative=True)
    if distance is None and not table.has_any("distance", "length"):
        table.fault("distance_m", "is missing; write the distance on the ground from the camera to below the line")
    error = table.number("error_px", 0.1, 100.0)
    settled = table.boolean("settled")
    horizon = table.number("horizon_y_px", -20000.0, 40000.0)
    elevation = table.measured("camera_elevation", "angle", -math.radians(60), math.radians(80), sigma=ELEVATION_SIGMA)
    if table.has("horizon_y_px") == table.has_any("camera_elevation", "angle"):
        table.fault(
            "horizon_y_px",
            "and camera_elevation_deg: write one of them, the row of the horizon or how far the camera looks up",
        )
    view = _view(table)
    clicks = _clicks(table)
    width, height = size
    if width is None or height is None or distance is None or view is None or clicks is None or not table.sound:
        return None
    return Clicked(
        name=name,
        where=table.where,
        flown=flown,
        file=file,
        frame=(float(width), float(height)),
        view=view,
        distance=distance,
        elevation=elevation,
        horizon=horizon,
        clicks=clicks,
        error=error or 2.0,
        settled=settled is not False,
    )


def _view(table: EvidenceFields) -> ViewAngle | ViewMarkers | ViewSpan | None:
    """How the angle of view is known: exactly one of three ways."""
    angle = table.measured(
        "field_of_view", "angle", math.radians(1), math.radians(140), sigma=VIEW_SIGMA, relative=True
    )
    pixels = table.numbers("markers_px", -20000.0, 40000.0, shortest=4, longest=4)
    apart = table.measured("markers_apart", "length", 0.1, LONGEST, sigma=0.01, relative=True)
    away = table.measured("markers_distance", "length", 0.5, LONGEST, sigma=0.02, relative=True)
    span_px = table.figure("span_px", 2.0, 20000.0, sigma=3.0)
    span = table.measured("span", "length", 0.1, 50.0, sigma=0.005, relative=True)
    row = table.number("span_y_px", -20000.0, 40000.0)
    ways = {
        "field_of_view_deg": table.has_any("field_of_view", "angle"),
        "markers_px": table.has("markers_px"),
        "span_px": table.has("span_px"),
    }
    given = [way for way, there in ways.items() if there]
    if len(given) != 1:
        said = f"{' and '.join(given)} are given; keep one" if given else "is missing"
        table.fault(
            "field_of_view_deg",
            f"{said}: write it, or markers_px with markers_apart_m and markers_distance_m, or span_px with span_m",
        )
        return None
    if ways["field_of_view_deg"]:
        return ViewAngle(angle=angle) if angle is not None else None
    if ways["span_px"]:
        if span is None and not table.has_any("span", "length"):
            table.fault("span_m", "is missing; write the real length that span_px measures")
        if span is None or span_px is None:
            return None
        return ViewSpan(span=span, pixels=span_px, row=row)
    for key, number in (("markers_apart", apart), ("markers_distance", away)):
        if number is None and not table.has_any(key, "length"):
            table.fault(f"{key}_m", "is missing; markers need it")
    if pixels is None or apart is None or away is None:
        return None
    if math.hypot(pixels[2] - pixels[0], pixels[3] - pixels[1]) < 5:
        table.fault("markers_px", "lie at the same place; take markers far from each other")
        return None
    return ViewMarkers(first=(pixels[0], pixels[1]), second=(pixels[2], pixels[3]), apart=apart, away=away)


def _clicks(table: EvidenceFields) -> tuple[tuple[float, float, float], ...] | None:
    given = table.take("clicks", required=True, example="clicks = [[t_s, x_px, y_px], ...]")
    if given is None:
        return None
    if not isinstance(given, list) or not 5 <= len(given) <= MOST_CLICKS:
        count = f" with {len(given)}" if isinstance(given, list) else ""
        table.fault(
            "clicks", f"must be a list of 5 to {MOST_CLICKS} clicks [t_s, x_px, y_px], not {shown(given)}{count}"
        )
        return None
    found: list[tuple[float, float, float]] = []
    for number, row in enumerate(given, start=1):
        values = [row.get(key) for key in ("t_s", "x_px", "y_px")] if isinstance(row, dict) else row
        if isinstance(row, dict) and set(row) - {"t_s", "x_px", "y_px"}:
            table.fault("clicks", f"click {number} has other keys than t_s, x_px, y_px")
            return None
        if not isinstance(values, list) or len(values) != 3:
            table.fault("clicks", f"click {number} must be three numbers [t_s, x_px, y_px], not {shown(row)}")
            return None
        if False in [table.is_number("clicks", value) for value in values]:
            return None
        if not (0 <= values[0] <= 1e6 and all(abs(value) <= 40000 for value in values[1:])):
            table.fault("clicks", f"click {number} lies outside any video: {', '.join(shown(v) for v in values)}")
            return None
        found.append((float(values[0]), float(values[1]), float(values[2])))
        if len(found) > 1 and found[-1][0] <= found[-2][0]:
            table.fault("clicks", f"click {number} is not later than the one before; sort them, one a moment")
            return None
    return tuple(found)
