"""Evenness against energy as a picture: every setting a point, those that nothing beats joined."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenfall.sheet.programme_page import EvennessPage, ProgrammePage, TrialPage, programme_page
from evenfall.sheet.svg import element, path, text, width_of

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
        styled: with colours of its own; a page that holds it gives its own.
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
    return element(
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


def _drawn(flown: list[TrialPage]) -> list[str]:
    x0, x1 = _axis([row.energy_wh for row in flown])
    y0, y1 = _axis([row.over_all_percent for row in flown])

    def at(row: TrialPage) -> tuple[float, float]:
        x = _LEFT + (row.energy_wh - x0) / (x1 - x0) * (WIDTH - _LEFT - _RIGHT)
        y = HEIGHT - _BOTTOM - (row.over_all_percent - y0) / (y1 - y0) * (HEIGHT - _TOP - _BOTTOM)
        return x, y

    parts = []
    for k in range(5):
        y = HEIGHT - _BOTTOM - k / 4 * (HEIGHT - _TOP - _BOTTOM)
        x = _LEFT + k / 4 * (WIDTH - _LEFT - _RIGHT)
        parts += [
            path([(_LEFT, y), (WIDTH - _RIGHT, y)], cls="grid"),
            text(_LEFT - 8, y + 4, f"{y0 + k / 4 * (y1 - y0):.1f}", anchor="end"),
            text(x, HEIGHT - _BOTTOM + 18, f"{x0 + k / 4 * (x1 - x0):.2f}", anchor="middle"),
        ]
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
    return parts + _labels([(row, *at(row)) for row in flown if row.front or row.best])


def _labels(points: list[tuple[TrialPage, float, float]]) -> list[str]:
    """Names of points, the evenest first; one that would lie on another is left out, the table has it."""
    parts: list[str] = []
    taken: list[tuple[float, float, float]] = []
    for row, x, y in sorted(points, key=lambda item: (not item[0].best, item[1])):
        words = f"motor brake {row.level}, {row.crow_deg:.1f} deg"
        wide = width_of(words, _SIZE)
        end = x > WIDTH - 210
        left = x - 9 - wide if end else x + 9
        if any(left < right and start < left + wide and abs(y - height) < _LINE for start, right, height in taken):
            continue
        taken.append((left, left + wide, y))
        parts.append(text(x - 9 if end else x + 9, y - 7, words, anchor="end" if end else "start"))
    return parts


def _star(x: float, y: float) -> str:
    size = 8.0
    points = [(x, y - size), (x + 2.4, y - 2.4), (x + size, y), (x + 2.4, y + 2.4), (x, y + size), (x - 2.4, y + 2.4),
              (x - size, y), (x - 2.4, y - 2.4)]  # fmt: skip
    return path(points, cls="point best", closed=True)
