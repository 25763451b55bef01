"""The speed map as a picture: own SVG, light and dark, from its page alone."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from evenfall import __version__
from evenfall.sheet import paper, svg
from evenfall.sheet.map_page import ContourPage, SpeedMapPage, TwoSpeedsPage
from evenfall.sheet.place import Box, Placer, Point, sampled

WIDTH = 560
_LEFT, _RIGHT, _TOP, _HEIGHT = 56, 540, 132, 430
_BIG = paper.SIZE_NARROW
"""Room is kept for the larger text of narrow screens."""
_LINE = 25
BAND_WORDS = ("two propeller speeds", "possible here:", "entry speed decides")
_COLUMNS = 47
_UNIT = re.compile(r"(?<=\d) (?=%|m/s|deg)")
"""Number and unit stay on one line."""


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
    placer.light = [p for line in page.contours for piece in lines[id(line)] for p in sampled(piece, 24)]
    placer.busy = [p for patch in page.two_speeds for p in _inside(patch, scale)]
    placer.light += [p for ends in _limit_lines(page, scale) for p in sampled(ends, 24)]
    _chosen_boxes(page, scale, placer)
    words = [*_limit_words(page, scale, placer), *_chosen_words(page, scale, placer)]
    words += _wanted_label(page, lines[id(page.wanted)], placer)
    words += _band_words(page, scale, placer)
    for line in page.contours:
        words += _contour_label(line, lines[id(line)], placer)
    remarks, bottom = _remarks(page)
    height = bottom + 22
    areas = [*_limit_areas(page, scale), *_nowhere(page, scale)]
    marks = [
        *_grid(page, scale),
        *(svg.path(ends, cls="limit") for ends in _limit_lines(page, scale)),
        *(svg.path(piece, cls="line") for line in page.contours for piece in lines[id(line)]),
        *_band(page, scale),
        *(svg.path(piece, cls="wanted") for piece in lines[id(page.wanted)]),
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
        svg.element("rect", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=_HEIGHT, fill="none", cls="edge"),
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
    f'<clipPath id="plot"><rect x="{_LEFT}" y="{_TOP}" width="{_RIGHT - _LEFT}" height="{_HEIGHT}"/></clipPath>'
    '<pattern id="two" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<line x1="0" y1="0" x2="0" y2="9" class="hatch"/></pattern>'
)


def _mask(holes: list[tuple[Box, float]]) -> str:
    """Lines stop where words stand: black boxes, turned as the words are."""
    parts = [svg.element("rect", x=0, y=0, width=WIDTH, height=_TOP + _HEIGHT + 10, fill="#fff")]
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
        height=_TOP + _HEIGHT + 10,
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
        svg.text(_LEFT - 36, _TOP - 12, "crow, degrees", cls="g"),
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
    parts.append(svg.text((_LEFT + _RIGHT) / 2, _foot(page), words, cls="g", anchor="middle"))
    return parts


def _named(page: SpeedMapPage) -> bool:
    """True where the levels' names say more than their percent."""
    return any(level.name != f"{level.brake_percent:.0f}" for level in page.levels)


def _foot(page: SpeedMapPage) -> float:
    """Baseline of the words under the axis."""
    return _TOP + _HEIGHT + 63 + (_LINE if _named(page) else 0)


def _level_names(page: SpeedMapPage, scale: _Scale) -> list[str]:
    """Names under the axis where they fit beside each other."""
    parts, free = [], -1.0
    for level in sorted(page.levels, key=lambda item: item.brake_percent):
        words = svg.cut(level.name, 10)
        half = svg.width_of(words, _BIG) / 2
        x = min(max(scale.x(level.brake_percent), half + 4), WIDTH - half - 4)
        if x - half > free:
            parts.append(svg.text(x, _TOP + _HEIGHT + 60, words, anchor="middle"))
            free = x + half + 6
    return parts


def _limit_areas(page: SpeedMapPage, scale: _Scale) -> list[str]:
    parts = []
    for limit in page.limits:
        y = scale.y(limit.crow_deg)
        if y > _TOP:
            parts.append(svg.element("rect", x=_LEFT, y=_TOP, width=_RIGHT - _LEFT, height=y - _TOP, cls="out"))
    return parts


def _limit_lines(page: SpeedMapPage, scale: _Scale) -> list[list[Point]]:
    heights = [scale.y(limit.crow_deg) for limit in page.limits]
    return [[(_LEFT, y), (_RIGHT, y)] for y in heights if y > _TOP]


def _limit_words(page: SpeedMapPage, scale: _Scale, placer: Placer) -> list[str]:
    """The reason of each limit just above its line, left or right, where less is hidden."""
    parts = []
    for limit in page.limits:
        y = scale.y(limit.crow_deg) - _BIG * 0.62
        if y < _TOP:
            continue
        width = svg.width_of(limit.short, _BIG)
        xs = [_LEFT + 10 + width / 2, (_LEFT + _RIGHT) / 2, _RIGHT - 10 - width / 2]
        ups = [up for up in (0, 22, 44) if y - up > max(_next_up(page, scale, limit.crow_deg), _TOP) + 8]
        box = placer.best(
            (0.4 * up, Box(x=x, y=y - up, width=width, height=_BIG)) for up in ups or [0] for x in reversed(xs)
        )
        placer.holes.append((box, 0.0))
        parts.append(svg.text(box.x, box.y + 5.5, limit.short, cls="g halo", anchor="middle"))
    return parts


def _next_up(page: SpeedMapPage, scale: _Scale, crow_deg: float) -> float:
    """Height of the next limit above one of them."""
    return max((scale.y(limit.crow_deg) for limit in page.limits if limit.crow_deg > crow_deg + 1e-9), default=_TOP)


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
            length = max(math.dist((x0, y0), (x1, y1)), 1e-6)
            under = dense[index - reach : index + reach + 1]
            bent = max(abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / length for x, y in under)
            share = abs(index / len(dense) - 0.5)
            own = 12.0 * bent**2 + 12.0 * share + (0 if len(piece) == longest else 6.0)
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
        ((own + _on_line_cost(box, placer), box, turn) for own, box, turn in places),
        key=lambda item: item[0] + (0.0 if item[1].inside(placer.frame) else 1e5),
    )
    if cost > most or not box.inside(placer.frame):
        return []
    placer.taken.append(box)
    placer.holes.append((Box(x=box.x, y=box.y, width=width + 4, height=_BIG), turn))
    rise = math.radians(turn)
    return [
        svg.text(box.x - 5.5 * math.sin(rise), box.y + 5.5 * math.cos(rise), words, cls=cls, anchor="middle", turn=turn)
    ]


def _on_line_cost(box: Box, placer: Placer) -> float:
    """What a label hides besides lines."""
    return sum(box.overlap(other) for other in placer.taken) + 9.0 * sum(box.holds(point) for point in placer.busy)


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


def _inside(patch: TwoSpeedsPage, scale: _Scale) -> list[Point]:
    """Points all over a patch, some 12 apart."""
    found = []
    for b, low, high in zip(patch.brake_percent, patch.low_deg, patch.high_deg, strict=True):
        steps = max(int((scale.y(low) - scale.y(high)) / 12), 1)
        found += [scale.at(b, low + (high - low) * (k + 0.5) / steps) for k in range(steps)]
    return found


def _band_words(page: SpeedMapPage, scale: _Scale, placer: Placer) -> list[str]:
    """What the hatching means, beside it or on it, with a lead where it stands off."""
    if not page.two_speeds:
        return []
    largest = max(page.two_speeds, key=lambda patch: len(_inside(patch, scale)))
    ceiling = min((limit.crow_deg for limit in page.limits), default=math.inf)
    middles = _inside(largest, scale)
    spots = [p for p in middles if p[1] > scale.y(ceiling)] or middles
    width = max(svg.width_of(line, _BIG) for line in BAND_WORDS)
    height = _LINE * len(BAND_WORDS)
    candidates = []
    for column in range(13):
        for row in range(15):
            x = _LEFT + 6 + width / 2 + column / 12 * (_RIGHT - _LEFT - width - 12)
            y = _TOP + 6 + height / 2 + row / 14 * (_HEIGHT - height - 12)
            box = Box(x=x, y=y, width=width, height=height)
            gap = min(_gap(box, spot) for spot in spots)
            candidates.append((1.5 * gap, box))
    box = placer.best(candidates)
    placer.holes += _holes(box, BAND_WORDS)
    spot = min(spots, key=lambda p: math.dist(p, (box.x, box.y)))
    parts = []
    if _gap(box, spot) > 10:
        parts.append(svg.path([_edge(box, spot), spot], cls="lead"))
        parts.append(svg.element("circle", cx=spot[0], cy=spot[1], r=3, cls="likely"))
    for index, line in enumerate(BAND_WORDS):
        y = box.y - height / 2 + _LINE * (index + 0.5) + 5.5
        parts.append(svg.text(box.x, y, line, cls="w b halo", anchor="middle"))
    return parts


def _holes(box: Box, lines: tuple[str, ...]) -> list[tuple[Box, float]]:
    """One box a line of text, so that no more is hidden than must be."""
    top = box.y - box.height / 2 + _LINE / 2
    return [
        (Box(x=box.x, y=top + _LINE * k, width=svg.width_of(words, _BIG), height=_LINE + 1.0), 0.0)
        for k, words in enumerate(lines)
    ]


def _edge(box: Box, point: Point) -> Point:
    """The place on or in a box that is nearest to a point."""
    return (
        min(max(point[0], box.x - box.width / 2), box.x + box.width / 2),
        min(max(point[1], box.y - box.height / 2), box.y + box.height / 2),
    )


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
        point = (x + c * (right if c > 0 else -left), y + s * (-up if s < 0 else down))
        outline.append((point[0], min(max(point[1], _TOP), _TOP + _HEIGHT)))
    return outline


def _ellipse(page: SpeedMapPage, scale: _Scale) -> list[str]:
    outline = _spread(page, scale)
    if not outline:
        return []
    xs, ys = [p[0] for p in outline], [p[1] for p in outline]
    if max(xs) - min(xs) < 3:
        x, high, low = xs[0], max(min(ys), _TOP), min(max(ys), _TOP + _HEIGHT)
        caps = [svg.path([(x - 7, y), (x + 7, y)], cls="spread") for y in (high, low)]
        return [svg.path([(x, high), (x, low)], cls="spread"), *caps]
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
    return f"level {name}, {chosen.crow_deg:.1f}\u00b0", speeds


def _chosen_words(page: SpeedMapPage, scale: _Scale, placer: Placer) -> list[str]:
    words = chosen_words(page)
    if page.chosen is None or not words:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    width, height = max(svg.width_of(line, _BIG) for line in words), _LINE * len(words)
    candidates = []
    for far in (0, 14, 34, 60, 90, 130):
        for side, rise in ((1, -1), (1, 1), (-1, -1), (-1, 1), (0, -1), (0, 1), (1, 0), (-1, 0)):
            aside = side * (width / 2 + 14 + (far if rise == 0 else far / 2))
            box = Box(x=x + aside, y=y + rise * (height / 2 + 6 + far), width=width, height=height)
            candidates.append((1.5 * far, box))
    box = placer.best(candidates)
    placer.holes += _holes(box, words)
    lead = [svg.path([_edge(box, (x, y)), (x, y)], cls="lead p")] if _gap(box, (x, y)) > 24 else []
    return lead + [
        svg.text(box.x, box.y - height / 2 + _LINE * (index + 0.5) + 5.5, line, cls="p b halo", anchor="middle")
        for index, line in enumerate(words)
    ]


def _remarks(page: SpeedMapPage) -> tuple[list[str], float]:
    """What the picture says, under it, and where it was made; the parts and the last baseline."""
    y = _foot(page) + _LINE + 12
    parts = []
    legend = [] if page.legend is None else [page.legend]
    if page.shaft_band_percent is not None:
        legend.append("Bar under the map: two propeller speeds at the wanted speed; light: with doubt.")
    for cls, said in (("w b", page.warnings), ("t", page.remarks), ("g", legend)):
        for remark in said:
            for line in svg.wrapped(_UNIT.sub("\u00a0", remark), _COLUMNS - (4 if "b" in cls else 0)):
                parts.append(svg.text(24, y, line, cls=cls))
                y += _LINE
            y += 6
    made = (
        f"Evenfall {__version__} \u00b7 plane {page.plane_hash[:8]} \u00b7 air {page.air.density_kg_m3:.3f} kg/m\u00b3"
    )
    parts.append(svg.text(24, y + 4, made, cls="s g"))
    return parts, y + 4
