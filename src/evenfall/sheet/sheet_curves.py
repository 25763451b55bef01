"""Two small curves of the sheet: crow over throttle stick, and holding stick over slope. Drawn, black on white."""

from __future__ import annotations

from evenfall.sheet.sheet_page import SheetPage
from evenfall.sheet.svg import DRAWING_FONT, element, path, text

WIDTH, HEIGHT = 250.0, 132.0
_LEFT, _RIGHT, _TOP, _FOOT = 30.0, 234.0, 16.0, 104.0
STYLE = (
    f"text{{font-family:{DRAWING_FONT};font-size:10.5px;fill:#000}}.b{{font-weight:700}}"
    "path,circle{fill:none;stroke:#000;stroke-linecap:round;stroke-linejoin:round}"
    ".axis{stroke-width:.8px}.grid{stroke-width:.4px;stroke-dasharray:1 3}.curve{stroke-width:2.2px}"
    ".second{stroke-width:1px;stroke-dasharray:5 3}.mark{stroke-width:.7px}.dot{fill:#000}"
)


def _x(percent: float, low: float = 0.0, high: float = 100.0) -> float:
    return _LEFT + (_RIGHT - _LEFT) * (percent - low) / (high - low)


def _y(percent: float) -> float:
    return _FOOT - (_FOOT - _TOP) * percent / 100.0


def _frame(title: str, across: tuple[tuple[float, str], ...]) -> list[str]:
    parts = [text(_LEFT, 10.0, title, cls="t b"), path([(_LEFT, _TOP), (_LEFT, _FOOT), (_RIGHT, _FOOT)], cls="axis")]
    for level in (0.0, 50.0, 100.0):
        parts.append(path([(_LEFT, _y(level)), (_RIGHT, _y(level))], cls="grid"))
        parts.append(text(_LEFT - 4.0, _y(level) + 3.5, f"{level:.0f}", anchor="end"))
    for x, words in across:
        parts.append(path([(x, _FOOT), (x, _FOOT + 3.0)], cls="axis"))
        parts.append(text(x, _FOOT + 13.0, words, anchor="middle"))
    return parts


def _svg(parts: list[str], words: str, *, style: bool) -> str:
    head = element("style", STYLE) if style else ""
    box = f"0 0 {WIDTH:g} {HEIGHT:g}"
    body = head + "".join(parts)
    return element("svg", body, xmlns="http://www.w3.org/2000/svg", viewBox=box, role="img", aria_label=words)


def deployment_words(page: SheetPage) -> str:
    """The first curve in words."""
    crow = page.settings.crow
    if crow is None:
        return "Motor command over throttle stick; no crow in this plan."
    points = ", ".join(f"{value:.0f} % at {stick:.0f} %" for stick, value in crow.curve)
    return f"Crow over throttle stick: {points}. Dashed: motor command."


def deployment_svg(page: SheetPage, *, style: bool = True) -> str:
    """Crow (heavy) and motor command (dashed) over throttle stick, percent."""
    ticks = tuple((_x(at), f"{at:.0f}") for at in (0.0, 25.0, 50.0, 75.0, 100.0))
    crow = page.settings.crow
    parts = _frame("Crow % over throttle stick %" if crow else "Motor % over throttle stick %", ticks)
    motor = [(_x(stick), _y(value)) for stick, value in page.settings.motor.throttle_curve]
    parts.append(path(motor, cls="second"))
    parts.append(text(_x(84.0), _y(84.0) - 6.0, "motor", anchor="end"))
    if crow is not None:
        curve = [(_x(stick), _y(value)) for stick, value in crow.curve]
        parts.append(path(curve, cls="curve"))
        parts.extend(element("circle", cx=x, cy=y, r=2.0, cls="dot") for x, y in curve)
        middle = next((stick for stick, value in crow.curve if value < 60.0), 25.0)
        parts.append(text(_x(middle) + 7.0, _y(66.0), "crow", cls="t b"))
        parts.append(text(_x(crow.threshold_percent) + 3.0, _FOOT - 5.0, f"in at {crow.threshold_percent:.0f}"))
    parts.append(text(_RIGHT, HEIGHT - 3.0, "closed at the left", anchor="end"))
    return _svg(parts, deployment_words(page), style=style)


def holding_words(page: SheetPage) -> str:
    """The second curve in words."""
    held = [row for row in page.predicted.holding_stick if row.stick_percent is not None]
    return (
        "Holding stick over slope: " + ", ".join(f"{r.stick_percent:.0f} % at {r.slope_deg:+.0f}°" for r in held) + "."
    )


def holding_svg(page: SheetPage, *, style: bool = True) -> str:
    """Stick that holds the wanted speed over slope, with one sigma where known."""
    ticks = tuple((_x(at, -90.0, 90.0), f"{at:+.0f}°" if at else "level") for at in (-90.0, -45.0, 0.0, 45.0, 90.0))
    parts = _frame("Throttle stick % that holds the speed", ticks)
    curve = []
    for row in page.predicted.holding_stick:
        if row.stick_percent is None:
            continue
        x, y = _x(row.slope_deg, -90.0, 90.0), _y(row.stick_percent)
        curve.append((x, y))
        parts.append(element("circle", cx=x, cy=y, r=2.0, cls="dot"))
        if row.stick is not None and row.stick.spread is not None:
            reach = row.stick.spread
            ends = [(x, _y(min(100.0, row.stick_percent + reach))), (x, _y(max(0.0, row.stick_percent - reach)))]
            parts.append(path(ends, cls="mark"))
    if len(curve) > 1:
        parts.append(path(curve, cls="curve"))
    crow = page.settings.crow
    if crow is not None:
        at = _y(crow.threshold_percent)
        parts.append(path([(_LEFT, at), (_RIGHT, at)], cls="second"))
        parts.append(text(_RIGHT, at + 11.0, f"crow below {crow.threshold_percent:.0f}", anchor="end"))
    parts.append(text(_RIGHT, HEIGHT - 3.0, "bars: one sigma", anchor="end"))
    return _svg(parts, holding_words(page), style=style)
