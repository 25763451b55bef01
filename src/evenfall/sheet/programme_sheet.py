"""The page of the sheet with a whole programme: its side picture, black on white, and its figures in a table."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from evenfall.sheet.fly_page import FlyFigurePage, FlyPage, FlyTrack
from evenfall.sheet.svg import DRAWING_FONT, element, path, text, width_of

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, upper, right, lower."""
Kind = Literal["even", "fast", "faster", "slow", "slower", "free"]
BAND, WIDE = 0.05, 0.1
"""Parts of the wanted speed off which count, and count much."""
WIDTH, NARROW = 760.0, 440.0
"""Width of the picture on paper and on a phone."""
_MARGIN, _FOOT, _SIZE = 12.0, 24.0, 12.0
STYLE = (
    f".way,.box{{fill:none;stroke:#000}}.label{{font-family:{DRAWING_FONT};font-size:{_SIZE:g}px;fill:#000;font-weight:700;"
    "paint-order:stroke;stroke:#fff;stroke-width:3px}"
    f".fine{{font-family:{DRAWING_FONT};font-size:10px;fill:#000}}.way{{stroke-linejoin:round}}"
    ".even{stroke-width:.7px}.fast{stroke-width:2.2px}.faster{stroke-width:4px}"
    ".slow{stroke-width:2.2px;stroke-dasharray:5 3}.slower{stroke-width:4px;stroke-dasharray:5 3}"
    ".free{stroke-width:.9px;stroke-dasharray:1 3}.box{stroke-width:.5px;stroke-dasharray:7 4}"
    ".soil{stroke-dasharray:none;stroke-width:1px}.lead{stroke:#000;stroke-width:.5px;fill:none}.spot{fill:#000}"
)


def programme_words(page: FlyPage, *, style: bool = True) -> dict[str, Any]:
    """Everything printed of a programme, rounded."""
    off = page.unevenness_percent
    doubt = "" if off.spread is None else f" ± {off.spread:.1f}"
    left = "" if page.left_percent is None else f", {page.left_percent:.0f} % of the battery left"
    lines = [
        f"{page.sequence}, {page.wind}. Wanted {page.wanted_speed_m_s:.1f} m/s throughout; unevenness "
        f"{off.value:.1f}{doubt} %, {page.within_percent:.0f} % of the time within 5 %.",
        f"{page.duration_s.value:.0f} s, {page.charge_mah.value:.0f} mAh{left}; highest speed "
        f"{page.fastest_m_s:.1f} m/s, heights {page.box.used_low_m:.0f} to {page.box.used_high_m:.0f} m.",
    ]
    if page.ended != "flown":
        lines.append(page.ended_words)
    return {
        "title": "Programme",
        "lines": lines,
        "picture": {"svg": programme_svg(page, style=style), "alt": picture_words(page)},
        "key": "As the judges see it. Fine: within 5 % of the wanted speed. Solid heavy: faster; dashed heavy: slower; "
        "doubly heavy: by more than 10 %. Dotted: not meant to be even. Numbers: figure, and m/s off at its worst.",
        "figures": {
            "head": ["", "figure", "m/s", "uneven %", "worst m/s", "height m", "why"],
            "rows": [_row(figure) for figure in page.figures],
            "align": "rlrrrrl",
        },
        "notes": [*page.words, *page.findings, *(f"{words[:1].upper()}{words[1:]}." for words in page.limits)],
    }


def _row(figure: FlyFigurePage) -> list[str]:
    estimate = ", an estimate in it" if any(part.estimated for part in figure.parts) else ""
    return [
        str(figure.number),
        f"{figure.name}{estimate}",
        f"{figure.speed_m_s:.1f}",
        f"{figure.unevenness_percent:.1f}",
        _signed(figure.worst_off_m_s),
        f"{figure.low_m:.0f} to {figure.high_m:.0f}",
        figure.why_short or "even",
    ]


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "\u2212")


def picture_words(page: FlyPage) -> str:
    """The picture in words."""
    worst = ", ".join(f"{figure.number} {_signed(figure.worst_off_m_s)} m/s" for figure in page.figures)
    return f"The programme as the judges see it; worst by figure: {worst}."


def kind_of(speed: float, wanted: float, *, counted: bool) -> Kind:
    """How a stretch is flown.

    >>> kind_of(22.0, 20.0, counted=True), kind_of(18.9, 20.0, counted=True), kind_of(3.0, 20.0, counted=False)
    ('fast', 'slow', 'free')
    """
    off = speed / wanted - 1.0
    if not counted:
        return "free"
    if abs(off) <= BAND:
        return "even"
    if off > 0:
        return "faster" if off > WIDE + 1e-9 else "fast"
    return "slower" if off < -WIDE - 1e-9 else "slow"


def runs(track: FlyTrack, wanted: float) -> list[tuple[Kind, int, int]]:
    """The track in stretches of one kind, each beginning where the one before ends."""
    found: list[tuple[Kind, int, int]] = []
    for step in range(1, len(track.time_s)):
        kind = kind_of(track.speed_m_s[step], wanted, counted=track.counted[step])
        if found and found[-1][0] == kind:
            found[-1] = (kind, found[-1][1], step)
        else:
            found.append((kind, step - 1, step))
    return found


def programme_svg(page: FlyPage, *, style: bool = True) -> str:
    """Side picture true to scale with box and ground; line weight and dash say how even the speed is.

    Without a style of its own it is for a phone: smaller, with letters as large.
    """
    width = WIDTH if style else NARROW
    track, box = page.track, page.box
    half = box.distance_m * math.tan(math.radians(box.side_deg))
    left, right = min(-half, *track.x_m), max(half, *track.x_m)
    top = max(track.height_m) + 30.0
    scale = (width - 2 * _MARGIN) / (right - left)
    height = top * scale + _FOOT

    def at(across: float, up: float) -> Point:
        return _MARGIN + (across - left) * scale, (top - up) * scale

    slope = math.tan(math.radians(box.elevation_deg))
    roof = [(x, slope * math.hypot(x, box.distance_m)) for x in (-half + 2 * half * k / 48 for k in range(49))]
    parts = [path([at(left, 0.0), at(right, 0.0)], cls="box soil")]
    parts += [path([at(x, 0.0), at(x, top)], cls="box") for x in (-half, half)]
    parts.append(path([at(-half, box.lowest_m), at(half, box.lowest_m)], cls="box"))
    if len(seen := [at(x, up) for x, up in roof if up <= top]) > 1:
        parts.append(path(seen, cls="box"))
    words = f"ground; box {box.side_deg:.0f}° either way, {box.elevation_deg:.0f}° up at {box.distance_m:.0f} m"
    parts.append(text(width / 2, height - 9.0, words, cls="fine", anchor="middle"))
    points = [at(x, up) for x, up in zip(track.x_m, track.height_m, strict=True)]
    parts += [path(points[a : b + 1], cls=f"way {kind}") for kind, a, b in runs(track, page.wanted_speed_m_s)]
    lines = _Lines(across=tuple(at(x, 0.0)[0] for x in (-half, half)), down=at(0.0, box.lowest_m)[1])
    parts += _labels(page, points, width, top * scale, lines)
    head = element("style", STYLE) if style else ""
    view = f"0 0 {width:g} {height:.1f}"
    said = picture_words(page)
    body = head + "".join(parts)
    return element("svg", body, xmlns="http://www.w3.org/2000/svg", viewBox=view, role="img", aria_label=said)


@dataclass(frozen=True, kw_only=True)
class _Lines:
    """Straight lines of the box: where its two sides and its lower edge are drawn."""

    across: tuple[float, ...]
    down: float

    def crossed(self, box: Box) -> int:
        """How many of them a label covers."""
        left, upper, right, lower = box
        sides = sum(left - 2.0 < x < right + 2.0 for x in self.across)
        return sides + (upper < self.down < lower)


def _labels(page: FlyPage, points: list[Point], width: float, floor: float, lines: _Lines) -> list[str]:
    """Number and worst deviation of every figure beside its place, off each other where there is room."""
    taken: list[Box] = []
    leads, labels = [], []
    for figure in page.figures:
        worst = next((part for part in figure.parts if part.part == figure.worst_part), None)
        if worst is None or not worst.counted:
            continue
        step = min(range(len(points)), key=lambda k: abs(page.track.place_m[k] - worst.worst_at_m))
        words = f"{figure.number}  {_signed(figure.worst_off_m_s)}"
        wide = width_of(words, 0.85 * _SIZE)
        x, y = points[step]
        tried = [
            (away, (x + away * math.cos(turn), y + away * math.sin(turn)))
            for away in (14.0, 24.0, 36.0, 52.0, 70.0)
            for turn in (k * math.pi / 8 for k in range(16))
        ]
        _, end, box = min(
            (0.12 * away + 50.0 * lines.crossed(box) + _crossed(box, taken, points, width, floor), spot, box)
            for away, spot in tried
            for box in [_box(spot, wide, rightwards=spot[0] >= x)]
        )
        taken.append(box)
        leads.append(path([(x, y), end], cls="lead"))
        leads.append(element("circle", cx=x, cy=y, r=2.2, cls="spot"))
        right = end[0] >= x
        at = end[0] + (2.0 if right else -2.0)
        labels.append(text(at, end[1] + 4.0, words, cls="label", anchor="start" if right else "end"))
    return leads + labels


def _box(spot: Point, wide: float, *, rightwards: bool) -> Box:
    x, y = spot
    return (x if rightwards else x - wide, y - 0.6 * _SIZE, x + wide if rightwards else x, y + 0.6 * _SIZE)


def _crossed(box: Box, taken: list[Box], points: list[Point], width: float, floor: float) -> float:
    """How much of labels and path a label covers, and whether it stays in the picture."""
    left, upper, right, lower = box
    out = 1000.0 if left < 2.0 or right > width - 2.0 or upper < 2.0 or lower > floor - 2.0 else 0.0
    covered = sum(100.0 for a, b, c, d in taken if a < right and left < c and b < lower and upper < d)
    return out + covered + sum(1.0 for x, y in points if left < x < right and upper < y < lower)
