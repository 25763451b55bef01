"""Evenness against energy as a picture: every setting a point, those that nothing beats joined."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from evenfall.sheet.programme_page import EvennessPage, ProgrammePage, TrialPage, programme_page
from evenfall.sheet.svg import SIGNED, element, path, text, width_of

if TYPE_CHECKING:
    from evenfall.workflow.programming import ProgrammeAnswer

WIDTH, HEIGHT = 720.0, 460.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 70.0, 30.0, 56.0, 60.0
_SIZE, _LINE = 13.0, 15.0
"""Of a label's letters, and its height."""
_STYLE = """
svg{background:#fbfaf6;color:#161a1c;font-family:system-ui,sans-serif}
.t{font-size:13px;fill:currentColor}.h{font-size:16px;font-weight:600;fill:currentColor}
.axis{stroke:currentColor;stroke-width:1;fill:none}.grid{stroke:#c9c6bd;stroke-width:.6;fill:none}
.point{fill:none;stroke:#55595c;stroke-width:1.4}.front{stroke:#0b5d5b;stroke-width:2;fill:none}
.on{fill:#0b5d5b;stroke:#0b5d5b}.best{fill:#a8430b;stroke:#a8430b}
@media (prefers-color-scheme:dark){svg{background:#1d2428;color:#eef1f0}.grid{stroke:#4a555b}.point{stroke:#aab3b6}
.front{stroke:#63c7c1}.on{fill:#63c7c1;stroke:#63c7c1}.best{fill:#f19a5b;stroke:#f19a5b}}
"""


def pictured(answer: ProgrammeAnswer) -> EvennessPage:
    """The page of a programme's tuning with its picture."""
    page = programme_page(answer)
    return EvennessPage(**dict(page), picture=trade_svg(page, styled=False))


def trade_svg(page: ProgrammePage, *, styled: bool = True) -> str:
    """The picture: energy to the right, unevenness over everything tried upwards; lower and further left is better.

    Args:
        styled: a file with colours of its own; a page that holds it gives its own.
    """
    flown = [row for row in page.trials if row.flown]
    parts = [
        element("style", _STYLE) if styled else "",
        text(_LEFT, 26, f"{page.sequence}: evenness against energy", cls="h"),
        text(_LEFT, 44, "Filled: no other setting is both evener and thriftier. Star: evenest over everything."),
    ]
    if flown:
        parts += _drawn(flown)
    else:
        parts.append(text(_LEFT, HEIGHT / 2, "No setting flies this programme to its end."))
    head = f'<?xml version="1.0" encoding="UTF-8"?>\n{SIGNED}\n' if styled else ""
    return head + element(
        "svg",
        "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        role="img",
        aria_label=f"Unevenness against energy of {len(flown)} settings",
    )


def _axis(values: list[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    room = max(0.08 * (high - low), 0.02 * high, 1e-6)
    return low - room, high + room


def _marks(low: float, high: float) -> list[tuple[float, str]]:
    """Round values between two, three to seven of them, each with its words.

    >>> [words for _, words in _marks(5.35, 6.0)]
    ['5.4', '5.5', '5.6', '5.7', '5.8', '5.9', '6.0']
    """
    order = math.floor(math.log10(high - low)) - 1
    step = next(
        size * 10.0**power
        for power in (order, order + 1)
        for size in (1, 2, 5)
        if (high - low) / (size * 10.0**power) <= 7.0
    )
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return [(k * step, f"{k * step:.{places}f}") for k in range(first, last + 1)]


def _drawn(flown: list[TrialPage]) -> list[str]:
    x0, x1 = _axis([row.energy_wh for row in flown])
    y0, y1 = _axis([row.over_all_percent for row in flown])

    def at(row: TrialPage) -> tuple[float, float]:
        x = _LEFT + (row.energy_wh - x0) / (x1 - x0) * (WIDTH - _LEFT - _RIGHT)
        y = HEIGHT - _BOTTOM - (row.over_all_percent - y0) / (y1 - y0) * (HEIGHT - _TOP - _BOTTOM)
        return x, y

    parts = []
    for value, words in _marks(y0, y1):
        y = HEIGHT - _BOTTOM - (value - y0) / (y1 - y0) * (HEIGHT - _TOP - _BOTTOM)
        parts += [path([(_LEFT, y), (WIDTH - _RIGHT, y)], cls="grid"), text(_LEFT - 8, y + 4, words, anchor="end")]
    for value, words in _marks(x0, x1):
        x = _LEFT + (value - x0) / (x1 - x0) * (WIDTH - _LEFT - _RIGHT)
        parts.append(text(x, HEIGHT - _BOTTOM + 18, words, anchor="middle"))
    parts += [
        path([(_LEFT, _TOP), (_LEFT, HEIGHT - _BOTTOM), (WIDTH - _RIGHT, HEIGHT - _BOTTOM)], cls="axis"),
        text((WIDTH + _LEFT) / 2, HEIGHT - 18, "energy out of the cells, Wh", anchor="middle"),
        text(18, HEIGHT / 2, "unevenness over everything, %", anchor="middle", turn=-90),
    ]
    line = sorted((row for row in flown if row.front), key=lambda row: row.energy_wh)
    if len(line) > 1:
        parts.append(path([at(row) for row in line], cls="front"))
    for row in flown:
        x, y = at(row)
        cls = "point best" if row.best else "point on" if row.front else "point"
        parts.append(_star(x, y) if row.best else element("circle", cx=x, cy=y, r=4.5, cls=cls))
    named = [(row, *at(row)) for row in flown if row.front or row.best]
    return parts + _labels(named, [at(row) for row in flown])


def _labels(points: list[tuple[TrialPage, float, float]], spots: list[tuple[float, float]]) -> list[str]:
    """Names of points, the evenest first; one that would lie on another is left out, the table has it."""
    parts: list[str] = []
    taken: list[tuple[float, float, float]] = []
    for row, x, y in sorted(points, key=lambda item: (not item[0].best, item[1])):
        words = f"motor brake {row.level}, {row.crow_deg:.1f}°"
        wide = width_of(words, _SIZE)
        places = [(left, y + down) for left in (x + 9, x - 9 - wide) for down in (-7.0, 17.0)]
        free = [
            (sum(left - 5 < a < left + wide + 5 and foot - 14 < b < foot + 7 for a, b in spots), k)
            for k, (left, foot) in enumerate(places)
            if _LEFT < left < WIDTH - 4 - wide
            and foot < HEIGHT - _BOTTOM - 4
            and not any(left < end and start < left + wide and abs(foot - at) < _LINE for start, end, at in taken)
        ]
        if not free:
            continue
        left, foot = places[min(free)[1]]
        taken.append((left, left + wide, foot))
        parts.append(text(left, foot, words))
    return parts


def _star(x: float, y: float) -> str:
    size = 8.0
    points = [(x, y - size), (x + 2.4, y - 2.4), (x + size, y), (x + 2.4, y + 2.4), (x, y + size), (x - 2.4, y + 2.4),
              (x - size, y), (x - 2.4, y - 2.4)]  # fmt: skip
    return path(points, cls="point best", closed=True)
