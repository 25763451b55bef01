"""The words on the speed map: each finds the place where it hides least, on its line or beside its point."""

from __future__ import annotations

import math

from evenfall.sheet import svg
from evenfall.sheet.map_frame import BIG, HEIGHT, LEFT, LINE, RIGHT, TOP, Scale, clipped, inside, spread_outline
from evenfall.sheet.map_page import ContourPage, SpeedMapPage
from evenfall.sheet.place import Box, Placer, Point, sampled

BAND_WORDS = ("two propeller speeds", "possible here:", "entry speed decides")

Pieces = list[list[Point]]


def place_words(page: SpeedMapPage, scale: Scale) -> tuple[list[str], Placer]:
    """Every word on the map as SVG, and the placer with the holes that lines have to leave for them."""
    placer = Placer(frame=Box(x=(LEFT + RIGHT) / 2, y=TOP + HEIGHT / 2, width=RIGHT - LEFT, height=HEIGHT))
    wanted, others = clipped(page.wanted, scale), [clipped(line, scale) for line in page.contours]
    placer.heavy = [point for piece in wanted for point in sampled(piece, 8)]
    placer.light = [point for pieces in others for piece in pieces for point in sampled(piece, 24)]
    placer.light += [point for ends in limit_lines(page, scale) for point in sampled(ends, 24)]
    placer.busy = [point for patch in page.two_speeds for point in inside(patch, scale)]
    _chosen_boxes(page, scale, placer)
    words = [*_limit_words(page, scale, placer), *_chosen_words(page, scale, placer)]
    words += _wanted_label(page, wanted, placer)
    words += _band_words(page, scale, placer)
    for line, pieces in zip(page.contours, others, strict=True):
        words += _contour_label(line, pieces, placer)
    return words, placer


def limit_lines(page: SpeedMapPage, scale: Scale) -> Pieces:
    """The line of each limit, right across the map."""
    heights = [scale.y(limit.crow_deg) for limit in page.limits]
    return [[(LEFT, y), (RIGHT, y)] for y in heights if y > TOP]


def _limit_words(page: SpeedMapPage, scale: Scale, placer: Placer) -> list[str]:
    """The reason of each limit just above its line, left or right, where less is hidden."""
    parts = []
    for limit in page.limits:
        y = scale.y(limit.crow_deg) - BIG * 0.62
        if y < TOP:
            continue
        width = svg.width_of(limit.short, BIG)
        xs = [LEFT + 10 + width / 2, (LEFT + RIGHT) / 2, RIGHT - 10 - width / 2]
        ups = [up for up in (0, 22, 44) if y - up > max(_next_up(page, scale, limit.crow_deg), TOP) + 8]
        box = placer.best(
            (0.4 * up, Box(x=x, y=y - up, width=width, height=BIG)) for up in ups or [0] for x in reversed(xs)
        )
        placer.holes.append((box, 0.0))
        parts.append(svg.text(box.x, box.y + 5.5, limit.short, cls="g halo", anchor="middle"))
    return parts


def _next_up(page: SpeedMapPage, scale: Scale, crow_deg: float) -> float:
    """Height of the next limit above one of them."""
    return max((scale.y(limit.crow_deg) for limit in page.limits if limit.crow_deg > crow_deg + 1e-9), default=TOP)


def _along(pieces: Pieces, width: float, height: float) -> list[tuple[float, Box, float]]:
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


def _on_line(words: str, pieces: Pieces, placer: Placer, *, cls: str, most: float) -> list[str]:
    """A label on its own line; left out where it would hide more than `most`."""
    width = svg.width_of(words, BIG)
    places = _along(pieces, width, BIG * 0.8)
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
    placer.holes.append((Box(x=box.x, y=box.y, width=width + 4, height=BIG), turn))
    rise = math.radians(turn)
    return [
        svg.text(box.x - 5.5 * math.sin(rise), box.y + 5.5 * math.cos(rise), words, cls=cls, anchor="middle", turn=turn)
    ]


def _on_line_cost(box: Box, placer: Placer) -> float:
    """What a label hides besides lines."""
    return sum(box.overlap(other) for other in placer.taken) + 9.0 * sum(box.holds(point) for point in placer.busy)


def _contour_label(line: ContourPage, pieces: Pieces, placer: Placer) -> list[str]:
    words = f"{line.speed_m_s:.1f}".removesuffix(".0")
    return _on_line(words, pieces, placer, cls="g halo", most=150.0)


def _wanted_label(page: SpeedMapPage, pieces: Pieces, placer: Placer) -> list[str]:
    words = f"{page.wanted_speed_m_s:.1f} m/s wanted"
    return _on_line(words, pieces, placer, cls="b halo", most=1e9)


def _band_words(page: SpeedMapPage, scale: Scale, placer: Placer) -> list[str]:
    """What the hatching means, beside it or on it, with a lead where it stands off."""
    if not page.two_speeds:
        return []
    largest = max(page.two_speeds, key=lambda patch: len(inside(patch, scale)))
    ceiling = min((limit.crow_deg for limit in page.limits), default=math.inf)
    middles = inside(largest, scale)
    spots = [p for p in middles if p[1] > scale.y(ceiling)] or middles
    width = max(svg.width_of(line, BIG) for line in BAND_WORDS)
    height = LINE * len(BAND_WORDS)
    candidates = []
    for column in range(13):
        for row in range(15):
            x = LEFT + 6 + width / 2 + column / 12 * (RIGHT - LEFT - width - 12)
            y = TOP + 6 + height / 2 + row / 14 * (HEIGHT - height - 12)
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
        y = box.y - height / 2 + LINE * (index + 0.5) + 5.5
        parts.append(svg.text(box.x, y, line, cls="w b halo", anchor="middle"))
    return parts


def _holes(box: Box, lines: tuple[str, ...]) -> list[tuple[Box, float]]:
    """One box a line of text, so that no more is hidden than must be."""
    top = box.y - box.height / 2 + LINE / 2
    return [
        (Box(x=box.x, y=top + LINE * k, width=svg.width_of(words, BIG), height=LINE + 1.0), 0.0)
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


def _chosen_boxes(page: SpeedMapPage, scale: Scale, placer: Placer) -> None:
    """Keep words off the chosen point and its spread."""
    if page.chosen is not None:
        x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
        placer.taken.append(Box(x=x, y=y, width=22, height=22))
        placer.taken.extend(Box(x=a, y=b, width=8, height=8) for a, b in sampled(spread_outline(page, scale), 10))


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


def _chosen_words(page: SpeedMapPage, scale: Scale, placer: Placer) -> list[str]:
    words = chosen_words(page)
    if page.chosen is None or not words:
        return []
    x, y = scale.at(page.chosen.brake_percent, page.chosen.crow_deg)
    width, height = max(svg.width_of(line, BIG) for line in words), LINE * len(words)
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
        svg.text(box.x, box.y - height / 2 + LINE * (index + 0.5) + 5.5, line, cls="p b halo", anchor="middle")
        for index, line in enumerate(words)
    ]
