"""The speed map as a picture: own SVG, light and dark, from its page alone."""

from __future__ import annotations

import math
import re

from evenfall import __version__
from evenfall.sheet import paper, svg
from evenfall.sheet.map_frame import BIG, HEIGHT, LEFT, LINE, RIGHT, TOP, WIDTH, Scale, clipped, outline, spread_outline
from evenfall.sheet.map_labels import limit_lines, place_words
from evenfall.sheet.map_page import SpeedMapPage
from evenfall.sheet.place import Box

_COLUMNS = 47
_UNIT = re.compile(r"(?<=\d) (?=%|m/s|deg)")
"""Number and unit stay on one line."""


def speed_map_svg(page: SpeedMapPage) -> str:
    """The picture of a page as one self-contained SVG document."""
    scale = Scale(page.crow_deg[-1])
    words, placer = place_words(page, scale)
    remarks, bottom = _remarks(page)
    height = bottom + 22
    areas = [*_limit_areas(page, scale), *_nowhere(page, scale)]
    marks = [
        *_grid(page, scale),
        *(svg.path(ends, cls="limit") for ends in limit_lines(page, scale)),
        *(svg.path(piece, cls="line") for line in page.contours for piece in clipped(line, scale)),
        *_band(page, scale),
        *(svg.path(piece, cls="wanted") for piece in clipped(page.wanted, scale)),
    ]
    body = [
        svg.element("title", svg.escape(f"Speed map of {page.plane}")),
        svg.element("desc", svg.escape(" ".join((*page.warnings, *page.remarks)))),
        svg.element("style", paper.style()),
        svg.element("defs", _HATCH + _mask(placer.holes)),
        svg.element("rect", x=0, y=0, width=WIDTH, height=height, cls="paper"),
        *_head(page),
        svg.element("g", "".join(areas), clip_path="url(#plot)"),
        svg.element("g", svg.element("g", "".join(marks), clip_path="url(#plot)"), mask="url(#words)"),
        svg.element("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=HEIGHT, fill="none", cls="edge"),
        *_axes(page, scale),
        *_ellipse(page, scale),
        *_point(page, scale),
        *words,
        *remarks,
    ]
    head = '<?xml version="1.0" encoding="UTF-8"?>\n' + svg.SIGNED + "\n"
    root = svg.element(
        "svg", "\n".join(body), xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {WIDTH} {height}", role="img"
    )
    return f"{head}{root}\n"


_HATCH = (
    f'<clipPath id="plot"><rect x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{HEIGHT}"/></clipPath>'
    '<pattern id="two" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<line x1="0" y1="0" x2="0" y2="9" class="hatch"/></pattern>'
)


def _mask(holes: list[tuple[Box, float]]) -> str:
    """Lines stop where words stand: black boxes, turned as the words are."""
    parts = [svg.element("rect", x=0, y=0, width=WIDTH, height=TOP + HEIGHT + 10, fill="#fff")]
    for box, turn in holes:
        about = {"transform": f"rotate({svg.number(turn)} {svg.number(box.x)} {svg.number(box.y)})"} if turn else {}
        x, y = box.x - box.width / 2, box.y - box.height / 2
        parts.append(svg.element("rect", x=x, y=y, width=box.width, height=box.height, rx=4, fill="#000", **about))
    return svg.element(
        "mask",
        "".join(parts),
        id="words",
        maskUnits="userSpaceOnUse",
        x=0,
        y=0,
        width=WIDTH,
        height=TOP + HEIGHT + 10,
    )


def _head(page: SpeedMapPage) -> list[str]:
    """The plumb line, the plane's name, what is shown."""
    arrangement = f"Crow {page.arrangement}" + (" (upper/lower wing)" if page.wings > 1 else "")
    return [
        svg.path([(26, 14), (26, 66)], cls="edge"),
        svg.path([(21, 66), (31, 66), (26, 80)], cls="edge mark", closed=True),
        svg.text(44, 34, svg.cut(page.plane, 36), cls="h"),
        svg.text(44, 60, "Vertical down, stick closed: speed in m/s"),
        svg.text(44, 84, arrangement, cls="g"),
        svg.text(LEFT - 36, TOP - 12, "crow, degrees", cls="g"),
    ]


def _grid(page: SpeedMapPage, scale: Scale) -> list[str]:
    steps = [5 * k for k in range(1, math.floor(page.crow_deg[-1] / 5) + 1)]
    return [svg.path([(LEFT, scale.y(deg)), (RIGHT, scale.y(deg))], cls="grid") for deg in steps]


def _axes(page: SpeedMapPage, scale: Scale) -> list[str]:
    """Degrees of crow at the left, percent below, the controller's levels as ticks, the band at the wanted speed."""
    parts = []
    for deg in range(0, math.floor(page.crow_deg[-1]) + 1, 5):
        parts.append(svg.text(LEFT - 8, scale.y(deg) + 5.5, str(deg), anchor="end"))
    floor = TOP + HEIGHT
    for ends, cls in ((page.shaft_band_doubt_percent, "doubt"), (page.shaft_band_percent, "likely")):
        if ends is not None:
            parts.append(
                svg.element(
                    "rect",
                    x=scale.x(ends[0]),
                    y=floor + 3,
                    width=scale.x(ends[1]) - scale.x(ends[0]),
                    height=5,
                    cls=cls,
                )
            )
    numbers = [0.0, 25.0, 50.0, 75.0, 100.0]
    if not _named(page) and len(page.levels) <= 11:
        numbers = [level.brake_percent for level in page.levels]
    parts += [svg.text(scale.x(at), floor + 36, f"{at:.0f}", anchor="middle") for at in numbers]
    for level in page.levels:
        x = scale.x(level.brake_percent)
        parts.append(svg.path([(x, floor + 8), (x - 4, floor + 18), (x + 4, floor + 18)], cls="mark", closed=True))
    if _named(page):
        parts += _level_names(page, scale)
    words = "motor brake, percent (\u25b2 controller levels)"
    parts.append(svg.text((LEFT + RIGHT) / 2, _foot(page), words, cls="g", anchor="middle"))
    return parts


def _named(page: SpeedMapPage) -> bool:
    """True where the levels' names say more than their percent."""
    return any(level.name != f"{level.brake_percent:.0f}" for level in page.levels)


def _foot(page: SpeedMapPage) -> float:
    """Baseline of the words under the axis."""
    return TOP + HEIGHT + 63 + (LINE if _named(page) else 0)


def _level_names(page: SpeedMapPage, scale: Scale) -> list[str]:
    """Names under the axis where they fit beside each other."""
    parts, free = [], -1.0
    for level in sorted(page.levels, key=lambda item: item.brake_percent):
        words = svg.cut(level.name, 10)
        half = svg.width_of(words, BIG) / 2
        x = min(max(scale.x(level.brake_percent), half + 4), WIDTH - half - 4)
        if x - half > free:
            parts.append(svg.text(x, TOP + HEIGHT + 60, words, anchor="middle"))
            free = x + half + 6
    return parts


def _limit_areas(page: SpeedMapPage, scale: Scale) -> list[str]:
    parts = []
    for limit in page.limits:
        y = scale.y(limit.crow_deg)
        if y > TOP:
            parts.append(svg.element("rect", x=LEFT, y=TOP, width=RIGHT - LEFT, height=y - TOP, cls="out"))
    return parts


def _nowhere(page: SpeedMapPage, scale: Scale) -> list[str]:
    """Grey where no stable steady speed was found."""
    parts = []
    brakes, crows = page.brake_percent, page.crow_deg
    wide, high = (brakes[1] - brakes[0]) / 2, (crows[1] - crows[0]) / 2
    for crow, row in zip(crows, page.states, strict=True):
        for brake, cell in zip(brakes, row, strict=True):
            if not any(state.stable for state in cell):
                (x0, y1), (x1, y0) = scale.at(brake - wide, crow - high), scale.at(brake + wide, crow + high)
                parts.append(svg.element("rect", x=x0, y=y0, width=x1 - x0, height=y1 - y0, cls="out"))
    return parts


def _band(page: SpeedMapPage, scale: Scale) -> list[str]:
    parts = []
    for patch in page.two_speeds:
        steps = " ".join(f"{svg.number(x)} {svg.number(y)}" for x, y in outline(patch, scale))
        parts.append(svg.element("path", d=f"M{steps}Z", style="fill:url(#two)", cls="fold"))
    return parts


def _ellipse(page: SpeedMapPage, scale: Scale) -> list[str]:
    outline = spread_outline(page, scale)
    if not outline:
        return []
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    if max(xs) - min(xs) < 3:
        x, high, low = xs[0], max(min(ys), TOP), min(max(ys), TOP + HEIGHT)
        caps = [svg.path([(x - 7, y), (x + 7, y)], cls="spread") for y in (high, low)]
        return [svg.path([(x, high), (x, low)], cls="spread"), *caps]
    steps = " ".join(f"{svg.number(x)} {svg.number(y)}" for x, y in outline)
    return [svg.element("path", d=f"M{steps}Z", style="fill-opacity:.16", cls="spread spread-fill")]


def _point(page: SpeedMapPage, scale: Scale) -> list[str]:
    if page.chosen is None:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    return [svg.element("circle", cx=x, cy=y, r=7, cls="point")]


def _remarks(page: SpeedMapPage) -> tuple[list[str], float]:
    """What the picture says, under it, and where it was made; the parts and the last baseline."""
    y = _foot(page) + LINE + 12
    parts = []
    legend = [] if page.legend is None else [page.legend]
    if page.shaft_band_percent is not None:
        legend.append("Bar under the map: two propeller speeds at the wanted speed; light: with doubt.")
    for cls, said in (("w b", page.warnings), ("t", page.remarks), ("g", legend)):
        for remark in said:
            for line in svg.wrapped(_UNIT.sub("\u00a0", remark), _COLUMNS - (4 if "b" in cls else 0)):
                parts.append(svg.text(24, y, line, cls=cls))
                y += LINE
            y += 6
    made = (
        f"Evenfall {__version__} \u00b7 plane {page.plane_hash[:8]} \u00b7 air {page.air.density_kg_m3:.3f} kg/m\u00b3"
    )
    parts.append(svg.text(24, y + 4, made, cls="s g"))
    return parts, y + 4
