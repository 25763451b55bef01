"""The speed map as a picture: own SVG, light and dark, from its page alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall import __version__
from evenfall.sheet import paper, svg
from evenfall.sheet.map_page import ContourPage, SpeedMapPage, TwoSpeedsPage
from evenfall.sheet.place import Box, Placer, Point, sampled

WIDTH = 560
_LEFT, _RIGHT, _TOP, _HEIGHT = 56, 540, 116, 430
_BIG = paper.SIZE_NARROW
"""Room is kept for the larger text of narrow screens."""
_LINE = 25
BAND_WORDS = ("two propeller speeds", "possible here:", "entry speed decides")
_COLUMNS = 52


@dataclass(frozen=True)
class _Scale:
    """Percent of motor brake and degrees of crow to the drawing."""

    top_deg: float

    def x(self, percent: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * percent / 100.0

    def y(self, degrees: float) -> float:
        return _TOP + _HEIGHT * (1.0 - degrees / self.top_deg)

    def at(self, percent: float, degrees: float) -> Point:
        return self.x(percent), self.y(degrees)


def speed_map_svg(page: SpeedMapPage) -> str:
    """The picture of a page as one self-contained SVG document."""
    scale = _Scale(page.crow_deg[-1])
    frame = Box(x=(_LEFT + _RIGHT) / 2, y=_TOP + _HEIGHT / 2, width=_RIGHT - _LEFT, height=_HEIGHT)
    placer = Placer(frame=frame)
    lines = {id(line): _clipped(line, scale) for line in (page.wanted, *page.contours)}
    placer.heavy = [p for piece in lines[id(page.wanted)] for p in sampled(piece, 8)]
    placer.light = [p for line in page.contours for piece in lines[id(line)] for p in sampled(piece, 8)]
    below: list[str] = []
    _chosen_boxes(page, scale, placer)
    words = [*_limit_words(page, scale, placer), *_chosen_words(page, scale, placer)]
    words += _wanted_label(page, lines[id(page.wanted)], placer)
    words += _band_words(page, scale, placer)
    for line in page.contours:
        words += _contour_label(line, lines[id(line)], placer)
    below += _axes(page, scale)
    remarks, bottom = _remarks(page)
    height = bottom + 22
    plot = [
        *_limit_areas(page, scale),
        *_nowhere(page, scale),
        *_grid(page, scale),
        *(svg.path(piece, cls="line") for line in page.contours for piece in lines[id(line)]),
        *_band(page, scale),
        *(svg.path(piece, cls="wanted") for piece in lines[id(page.wanted)]),
        *_ellipse(page, scale),
    ]
    body = [
        svg.element("title", svg.escape(f"Speed map of {page.plane}")),
        svg.element("desc", svg.escape(" ".join(page.remarks))),
        svg.element("style", paper.style()),
        svg.element("defs", _HATCH),
        svg.element("rect", x=0, y=0, width=WIDTH, height=height, cls="paper"),
        *_head(page),
        svg.element("g", "".join(plot), clip_path="url(#plot)"),
        svg.element("rect", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=_HEIGHT, fill="none", cls="edge"),
        *below,
        *_point(page, scale),
        *words,
        *remarks,
    ]
    head = '<?xml version="1.0" encoding="UTF-8"?>\n'
    root = svg.element(
        "svg", "\n".join(body), xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {WIDTH} {height}", role="img"
    )
    return f"{head}{root}\n"


_HATCH = (
    f'<clipPath id="plot"><rect x="{_LEFT}" y="{_TOP}" width="{_RIGHT - _LEFT}" height="{_HEIGHT}"/></clipPath>'
    '<pattern id="two" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<line x1="0" y1="0" x2="0" y2="9" class="hatch"/></pattern>'
)


def _head(page: SpeedMapPage) -> list[str]:
    """The plumb line, the plane's name, what is shown."""
    arrangement = f"Crow {page.arrangement}" + (" (upper/lower wing)" if page.wings > 1 else "")
    return [
        svg.path([(26, 14), (26, 66)], cls="edge"),
        svg.path([(21, 66), (31, 66), (26, 80)], cls="edge mark", closed=True),
        svg.text(44, 34, svg.cut(page.plane, 40), cls="h"),
        svg.text(44, 60, "Vertical down, stick closed: steady speed in m/s"),
        svg.text(44, 84, f"{arrangement}. Wanted: {page.wanted_speed_m_s:.1f} m/s.", cls="g"),
        svg.text(_LEFT - 40, _TOP - 8, "crow, degrees", cls="g"),
    ]


def _grid(page: SpeedMapPage, scale: _Scale) -> list[str]:
    steps = [5 * k for k in range(1, math.floor(page.crow_deg[-1] / 5) + 1)]
    return [svg.path([(_LEFT, scale.y(deg)), (_RIGHT, scale.y(deg))], cls="grid") for deg in steps]


def _axes(page: SpeedMapPage, scale: _Scale) -> list[str]:
    """Degrees of crow at the left, percent below, the controller's levels as ticks, the band at the wanted speed."""
    parts = []
    for deg in range(0, math.floor(page.crow_deg[-1]) + 1, 5):
        parts.append(svg.text(_LEFT - 8, scale.y(deg) + 5.5, str(deg), anchor="end"))
    floor = _TOP + _HEIGHT
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
    for percent in (0, 25, 50, 75, 100):
        parts.append(svg.text(scale.x(percent), floor + 36, str(percent), anchor="middle"))
    for level in page.levels:
        x = scale.x(level.brake_percent)
        parts.append(svg.path([(x, floor + 8), (x - 4, floor + 18), (x + 4, floor + 18)], cls="mark", closed=True))
    parts.append(svg.text((_LEFT + _RIGHT) / 2, floor + _NAMES, _axis_words(page), cls="g", anchor="middle"))
    if _named(page):
        parts += _level_names(page, scale)
    return parts


_NAMES = 62


def _named(page: SpeedMapPage) -> bool:
    """True where the levels' names say more than their percent."""
    return any(level.name != f"{level.brake_percent:.0f}" for level in page.levels)


def _axis_words(page: SpeedMapPage) -> str:
    return "motor brake, percent (\u25b2 levels of the controller)"


def _level_names(page: SpeedMapPage, scale: _Scale) -> list[str]:
    """Names under the axis where they fit beside each other."""
    parts, free = [], -1.0
    for level in sorted(page.levels, key=lambda item: item.brake_percent):
        words = svg.cut(level.name, 10)
        half = svg.width_of(words, _BIG) / 2
        x = min(max(scale.x(level.brake_percent), half + 4), WIDTH - half - 4)
        if x - half > free:
            parts.append(svg.text(x, _TOP + _HEIGHT + _NAMES + _LINE, words, anchor="middle"))
            free = x + half + 6
    return parts


def _limit_areas(page: SpeedMapPage, scale: _Scale) -> list[str]:
    parts = []
    for limit in page.limits:
        y = scale.y(limit.crow_deg)
        if y > _TOP:
            parts.append(svg.element("rect", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=y - _TOP, cls="out"))
            parts.append(svg.path([(_LEFT, y), (_RIGHT, y)], cls="limit"))
    return parts


def _limit_words(page: SpeedMapPage, scale: _Scale, placer: Placer) -> list[str]:
    """The reason of each limit just above its line, left or right, where less is hidden."""
    parts = []
    for limit in page.limits:
        y = scale.y(limit.crow_deg) - _BIG * 0.62
        if y < _TOP:
            continue
        width = svg.width_of(limit.short, _BIG)
        xs = [_LEFT + 10 + width / 2, (_LEFT + _RIGHT) / 2, _RIGHT - 10 - width / 2]
        box = placer.best((0.0, Box(x=x, y=y, width=width, height=_BIG)) for x in reversed(xs))
        parts.append(svg.text(box.x, box.y + 5.5, limit.short, cls="g halo", anchor="middle"))
    return parts


def _nowhere(page: SpeedMapPage, scale: _Scale) -> list[str]:
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


def _clipped(line: ContourPage, scale: _Scale) -> list[list[Point]]:
    """Pieces of a line in the drawing, cut at the edges of the map."""
    found: list[list[Point]] = []
    for piece in line.pieces:
        run: list[Point] = []
        for (b0, c0), (b1, c1) in zip(piece, piece[1:], strict=False):
            ends = _cut(b0, c0, b1, c1, scale.top_deg)
            if ends is None:
                continue
            start, end = (scale.at(*point) for point in ends)
            if run and run[-1] != start:
                found.append(run)
                run = []
            run = [*(run or [start]), end]
        if len(run) > 1:
            found.append(run)
    return found


def _cut(b0: float, c0: float, b1: float, c1: float, top: float) -> tuple[Point, Point] | None:
    """The part of a segment with crow from 0 to `top`."""
    if max(c0, c1) < 0 or min(c0, c1) > top:
        return None

    def held(b: float, c: float, other_b: float, other_c: float) -> Point:
        edge = min(max(c, 0.0), top)
        return (b, c) if edge == c else (b + (edge - c) / (other_c - c) * (other_b - b), edge)

    return held(b0, c0, b1, c1), held(b1, c1, b0, c0)


def _along(pieces: list[list[Point]], width: float, height: float) -> list[tuple[float, Box, float]]:
    """Places for a label on a line: own cost, box, turn in degrees."""
    places = []
    longest = max((len(piece) for piece in pieces), default=0)
    for piece in pieces:
        dense = sampled(piece, 10)
        reach = max(int(width / 20), 1)
        for index in range(reach, len(dense) - reach, 2):
            (x0, y0), (x1, y1) = dense[index - reach], dense[index + reach]
            turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
            if abs(turn) > 50:
                continue
            tall = height + abs(math.sin(math.radians(turn))) * width
            bent = math.dist((x0, y0), (x1, y1)) / (20.0 * reach)
            share = abs(index / len(dense) - 0.5)
            own = 20.0 * (1 - bent) * width / 10 + 12.0 * share + (0 if len(piece) == longest else 6.0)
            x, y = dense[index]
            places.append((own, Box(x=x, y=y, width=width, height=tall), turn))
    return places


def _on_line(words: str, pieces: list[list[Point]], placer: Placer, *, cls: str, most: float) -> list[str]:
    """A label on its own line; left out where it would hide more than `most`."""
    width = svg.width_of(words, _BIG)
    places = _along(pieces, width, _BIG * 0.8)
    if not places:
        return []
    # The line's own points lie under its label: they do not count.
    cost, box, turn = min(
        ((own + sum(box.overlap(other) for other in placer.taken), box, turn) for own, box, turn in places),
        key=lambda item: item[0] + (0.0 if item[1].inside(placer.frame) else 1e5),
    )
    if cost > most or not box.inside(placer.frame):
        return []
    placer.taken.append(box)
    rise = math.radians(turn)
    return [
        svg.text(box.x - 5.5 * math.sin(rise), box.y + 5.5 * math.cos(rise), words, cls=cls, anchor="middle", turn=turn)
    ]


def _contour_label(line: ContourPage, pieces: list[list[Point]], placer: Placer) -> list[str]:
    words = f"{line.speed_m_s:.1f}".removesuffix(".0")
    return _on_line(words, pieces, placer, cls="g halo", most=150.0)


def _wanted_label(page: SpeedMapPage, pieces: list[list[Point]], placer: Placer) -> list[str]:
    words = f"{page.wanted_speed_m_s:.1f} m/s wanted"
    return _on_line(words, pieces, placer, cls="b halo", most=1e9)


def _outline(patch: TwoSpeedsPage, scale: _Scale) -> list[Point]:
    up = [scale.at(b, c) for b, c in zip(patch.brake_percent, patch.high_deg, strict=True)]
    down = [scale.at(b, c) for b, c in zip(patch.brake_percent, patch.low_deg, strict=True)]
    return [*up, *reversed(down)]


def _band(page: SpeedMapPage, scale: _Scale) -> list[str]:
    parts = []
    for patch in page.two_speeds:
        outline = _outline(patch, scale)
        steps = " ".join(f"{svg.number(x)} {svg.number(y)}" for x, y in outline)
        parts.append(svg.element("path", d=f"M{steps}Z", style="fill:url(#two)", cls="fold"))
    return parts


def _band_words(page: SpeedMapPage, scale: _Scale, placer: Placer) -> list[str]:
    """What the hatching means, beside it or on it, with a lead where it stands off."""
    spots = [
        scale.at(b, (low + high) / 2)
        for patch in page.two_speeds
        for b, low, high in zip(patch.brake_percent, patch.low_deg, patch.high_deg, strict=True)
        if high - low > 0.02 * scale.top_deg
    ]
    if not spots:
        return []
    width = max(svg.width_of(line, _BIG) for line in BAND_WORDS)
    height = _LINE * len(BAND_WORDS)
    hatched = [p for patch in page.two_speeds for p in sampled(_outline(patch, scale), 12)]
    candidates = []
    for column in range(13):
        for row in range(15):
            x = _LEFT + 6 + width / 2 + column / 12 * (_RIGHT - _LEFT - width - 12)
            y = _TOP + 6 + height / 2 + row / 14 * (_HEIGHT - height - 12)
            box = Box(x=x, y=y, width=width, height=height)
            gap = min(_gap(box, spot) for spot in spots)
            hides = sum(box.holds(point) for point in hatched)
            candidates.append((1.2 * gap + 6.0 * hides, box))
    box = placer.best(candidates)
    spot = min(spots, key=lambda p: math.dist(p, (box.x, box.y)))
    parts = []
    if not box.holds(spot):
        edge = (
            min(max(spot[0], box.x - box.width / 2), box.x + box.width / 2),
            min(max(spot[1], box.y - box.height / 2), box.y + box.height / 2),
        )
        parts.append(svg.path([edge, spot], cls="lead"))
        parts.append(svg.element("circle", cx=spot[0], cy=spot[1], r=3, cls="likely"))
    for index, line in enumerate(BAND_WORDS):
        y = box.y - height / 2 + _LINE * (index + 0.5) + 5.5
        parts.append(svg.text(box.x, y, line, cls="w b halo", anchor="middle"))
    return parts


def _gap(box: Box, point: Point) -> float:
    return math.hypot(max(abs(point[0] - box.x) - box.width / 2, 0.0), max(abs(point[1] - box.y) - box.height / 2, 0.0))


def _chosen_boxes(page: SpeedMapPage, scale: _Scale, placer: Placer) -> None:
    """Keep words off the chosen point and its spread."""
    if page.chosen is not None:
        x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
        placer.taken.append(Box(x=x, y=y, width=22, height=22))
        placer.taken.extend(Box(x=a, y=b, width=8, height=8) for a, b in sampled(_spread(page, scale), 10))


def _spread(page: SpeedMapPage, scale: _Scale) -> list[Point]:
    """Outline of one sigma around the chosen point: half axes of their own to each side."""
    if page.chosen is None:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    left, right = (scale.x(percent) - x for percent in page.chosen.brake_range_percent)
    down, up = (scale.y(deg) - y for deg in page.chosen.crow_range_deg)
    outline = []
    for step in range(73):
        angle = math.radians(5 * step)
        c, s = math.cos(angle), math.sin(angle)
        outline.append((x + c * (right if c > 0 else -left), y + s * (-up if s < 0 else down) * 1.0))
    return outline


def _ellipse(page: SpeedMapPage, scale: _Scale) -> list[str]:
    outline = _spread(page, scale)
    if not outline:
        return []
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    if max(xs) - min(xs) < 3:
        x = xs[0]
        caps = [svg.path([(x - 7, y), (x + 7, y)], cls="spread") for y in (min(ys), max(ys))]
        return [svg.path([(x, min(ys)), (x, max(ys))], cls="spread"), *caps]
    steps = " ".join(f"{svg.number(x)} {svg.number(y)}" for x, y in outline)
    return [svg.element("path", d=f"M{steps}Z", style="fill-opacity:.16", cls="spread spread-fill")]


def _point(page: SpeedMapPage, scale: _Scale) -> list[str]:
    if page.chosen is None:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    return [svg.element("circle", cx=x, cy=y, r=7, cls="point")]


def chosen_words(page: SpeedMapPage) -> tuple[str, ...]:
    """The chosen point in two short lines."""
    chosen = page.chosen
    if chosen is None:
        return ()
    name = svg.cut(chosen.level, 14)
    stable = [state.speed_m_s for state in chosen.states if state.stable]
    if len(stable) > 1:
        speeds = " or ".join(f"{speed:.1f}" for speed in stable) + " m/s"
    elif chosen.speed_m_s is None:
        speeds = "no steady speed"
    else:
        spread = "" if chosen.spread_m_s is None else f" \u00b1 {chosen.spread_m_s:.1f}"
        speeds = f"{chosen.speed_m_s:.1f}{spread} m/s"
    return f"level {name}, crow {chosen.crow_deg:.1f}\u00b0", speeds


def _chosen_words(page: SpeedMapPage, scale: _Scale, placer: Placer) -> list[str]:
    words = chosen_words(page)
    if page.chosen is None or not words:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    width, height = max(svg.width_of(line, _BIG) for line in words), _LINE * len(words)
    candidates = []
    for far in (0, 14, 34, 60, 90, 130):
        for side, rise in ((1, -1), (1, 1), (-1, -1), (-1, 1), (0, -1), (0, 1)):
            box = Box(
                x=x + side * (width / 2 + 14 + far / 2), y=y + rise * (height / 2 + 6 + far), width=width, height=height
            )
            candidates.append((2.0 * far, box))
    box = placer.best(candidates)
    return [
        svg.text(box.x, box.y - height / 2 + _LINE * (index + 0.5) + 5.5, line, cls="p b halo", anchor="middle")
        for index, line in enumerate(words)
    ]


def _remarks(page: SpeedMapPage) -> tuple[list[str], float]:
    """What the picture says, under it, and where it was made; the parts and the last baseline."""
    y = float(_TOP + _HEIGHT + _NAMES + (_LINE if _named(page) else 0) + _LINE + 10)
    parts = []
    for remark in page.remarks:
        for line in svg.wrapped(remark, _COLUMNS):
            parts.append(svg.text(24, y, line))
            y += _LINE
        y += 6
    made = (
        f"Evenfall {__version__} \u00b7 plane {page.plane_hash[:8]} \u00b7 air {page.air.density_kg_m3:.3f} kg/m\u00b3"
    )
    parts.append(svg.text(24, y + 4, made, cls="s g"))
    return parts, y + 4
