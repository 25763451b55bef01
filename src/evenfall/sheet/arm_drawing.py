"""The arm drawing: one aileron's arm, rod and horn in side view, to scale, with crow, sweep and stops.

Left corners have the nose on the left, right ones on the right: each as seen from its own wing tip, and so four of them
lie mirrored as they sit on the model seen from behind. Line weights carry the meaning, colour does not.
"""

from __future__ import annotations

import math

from evenfall.sheet.sheet_page import ArmPage
from evenfall.sheet.svg import DRAWING_FONT, element, path, text

WIDTH, HEIGHT = 300.0, 120.0
"""Size of one drawing, units of the picture."""
SIZE = 10.5
_RADIUS = 46.0
"""Radius of the arcs about the servo axis."""
STYLE = (
    f"text{{font-family:{DRAWING_FONT};font-size:{SIZE}px;fill:#000}}.b{{font-weight:700}}"
    "path,line,circle{fill:none;stroke:#000;stroke-linecap:round;stroke-linejoin:round}"
    ".arm{stroke-width:3px}.rod{stroke-width:1.1px}.skin{stroke-width:1.6px}"
    ".ghost{stroke-width:.9px;stroke-dasharray:4 2.5}"
    ".fine{stroke-width:.6px}.square{stroke-width:.6px;stroke-dasharray:1 2.2}.sweep{stroke-width:.7px}"
    ".crow{stroke-width:2px}.stop{stroke-width:2.2px}.pin{fill:#fff;stroke-width:1px}.wedge{fill:#000;fill-opacity:.1;"
    "stroke:none}"
)

Point = tuple[float, float]


class _Drawing:
    """Places the linkage of one corner on the paper."""

    def __init__(self, arm: ArmPage) -> None:
        self.arm = arm
        self.left = arm.corner.endswith("left")
        self.way = 1.0 if self.left else -1.0
        self.up = 1.0 if arm.horn_above else -1.0
        self.side = -1.0 if arm.crossed else 1.0
        chord = 0.5 * arm.horn_mm + 8.0
        self.scale = min(
            4.0, (WIDTH - _RADIUS - 30.0) / (arm.distance_mm + chord), 50.0 / arm.horn_mm, 42.0 / arm.arm_mm
        )
        self.chord = chord
        across = _RADIUS + 12.0
        self.origin = (across if self.left else WIDTH - across, 79.0 if arm.horn_above != arm.crossed else 41.0)

    def at(self, x: float, n: float) -> Point:
        """Paper of a point x mm aft and n mm towards the horn's side of the servo axis."""
        return self.origin[0] + self.way * self.scale * x, self.origin[1] - self.up * self.scale * n

    def ray(self, turn_deg: float, radius: float) -> Point:
        """Paper of the arm's direction, degrees from square, at a radius on the paper."""
        theta = math.radians(self.arm.square_deg + turn_deg)
        x, n = math.sin(theta), self.side * math.cos(theta)
        return self.origin[0] + self.way * radius * x, self.origin[1] - self.up * radius * n

    def arc(self, start: float, end: float, radius: float) -> list[Point]:
        """Points of an arc between two arm angles."""
        steps = max(2, math.ceil(abs(end - start) / 4.0) + 1)
        return [self.ray(start + (end - start) * i / (steps - 1), radius) for i in range(steps)]

    def horn(self, throw_deg: float) -> Point:
        """Paper of the horn's pin at a surface angle."""
        arm = self.arm
        lean = math.asin(arm.setback_mm / arm.horn_mm)
        phi = (1.0 if arm.horn_above else -1.0) * math.radians(throw_deg) + lean
        return self.at(arm.distance_mm + arm.horn_mm * math.sin(phi), -arm.height_mm + arm.horn_mm * math.cos(phi))

    def surface(self, throw_deg: float) -> list[Point]:
        """The aileron: hinge to trailing edge, trailing edge down positive."""
        hx, hy = self.hinge
        angle, size = math.radians(throw_deg), self.scale * self.chord
        return [(hx, hy), (hx + self.way * size * math.cos(angle), hy + size * math.sin(angle))]

    @property
    def hinge(self) -> Point:
        """Paper of the hinge line."""
        return self.at(self.arm.distance_mm, -self.arm.height_mm)

    def linkage(self, turn_deg: float, throw_deg: float, *, ghost: bool) -> list[str]:
        """Arm, rod and horn at one arm angle and its surface angle."""
        pin = self.ray(turn_deg, self.scale * self.arm.arm_mm)
        horn = self.horn(throw_deg)
        thin = "ghost"
        return [
            path(self.surface(throw_deg), cls=thin if ghost else "skin"),
            path([self.hinge, horn], cls=thin if ghost else "rod"),
            path([pin, horn], cls=thin if ghost else "rod"),
            path([self.origin, pin], cls=thin if ghost else "arm"),
            *([] if ghost else [_pin(pin), _pin(horn)]),
        ]


def _pin(at: Point) -> str:
    return element("circle", cx=at[0], cy=at[1], r=2.0, cls="pin")


def arm_words(arm: ArmPage) -> str:
    """The drawing in words, for those who do not see it.

    >>> from evenfall.sheet.arm_drawing import way
    >>> way(19.54), way(-11.7), way(0.0)
    ('19.5° aft of square', '11.7° ahead of square', 'square')
    """
    where = arm.corner.replace("_", " ").capitalize()
    return (
        f"{where}: arm {way(arm.offset_deg)} with the surface at neutral, {way(arm.crow_deg)} with crow out; "
        f"servo turn left {arm.left_deg[0]:.1f}° ahead ({arm.limit_words[0]}) and {arm.left_deg[1]:.1f}° aft "
        f"({arm.limit_words[1]})."
    )


def way(turn_deg: float) -> str:
    """An arm angle in words: which way from square."""
    if abs(turn_deg) < 0.05:
        return "square"
    return f"{abs(turn_deg):.1f}° {'aft' if turn_deg > 0 else 'ahead'} of square"


def arm_svg(arm: ArmPage, *, style: bool = True) -> str:
    """One corner as SVG: neutral heavy, crow dashed, sweep and stops as arcs about the servo axis."""
    draw = _Drawing(arm)
    parts = [
        *_skin(draw),
        path([draw.origin, *draw.arc(arm.offset_deg, arm.crow_deg, _RADIUS - 8)], cls="wedge", closed=True),
        path([draw.origin, draw.ray(0.0, _RADIUS + 3)], cls="square"),
        *draw.linkage(arm.crow_deg, arm.crow_surface_deg, ghost=True),
        *draw.linkage(arm.offset_deg, 0.0, ghost=False),
        path([draw.ray(arm.offset_deg, draw.scale * arm.arm_mm), draw.ray(arm.offset_deg, _RADIUS - 2)], cls="fine"),
        path([draw.ray(arm.crow_deg, draw.scale * arm.arm_mm), draw.ray(arm.crow_deg, _RADIUS - 2)], cls="ghost"),
        path(draw.arc(arm.sweep_deg[0], arm.sweep_deg[1], _RADIUS), cls="sweep"),
        *(path([draw.ray(limit, _RADIUS - 5), draw.ray(limit, _RADIUS + 5)], cls="stop") for limit in arm.limits_deg),
        element("circle", cx=draw.origin[0], cy=draw.origin[1], r=3.0, cls="pin"),
        *_words(draw),
    ]
    head = element("style", STYLE) if style else ""
    return element(
        "svg",
        head + "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}",
        role="img",
        aria_label=arm_words(arm),
    )


def _skin(draw: _Drawing) -> list[str]:
    """The wing's chord line ahead of the hinge, and the nose arrow."""
    hx, hy = draw.hinge
    end = 4.0 if draw.left else WIDTH - 4.0
    tip = 4.0 if draw.left else WIDTH - 4.0
    back = tip + draw.way * 7.0
    y = HEIGHT - 7.0
    return [
        path([(end, hy), (hx, hy)], cls="fine"),
        path([(tip + draw.way * 20.0, y), (tip, y)], cls="fine"),
        path([(back, y - 3.0), (tip, y), (back, y + 3.0)], cls="fine"),
        text(tip + draw.way * 24.0, y + 3.5, "nose", anchor="start" if draw.left else "end"),
    ]


def _words(draw: _Drawing) -> list[str]:
    """Title and facts beside the drawing, on the side away from the nose."""
    arm = draw.arm
    x = WIDTH - 4.0 if draw.left else 4.0
    anchor = "end" if draw.left else "start"
    title = arm.corner.replace("_", " ").upper()
    rows = [(f"{title}: arm {way(arm.offset_deg)}", "t b")]
    below = [f"crow {way(arm.crow_deg)}, surface {_down(arm.crow_surface_deg)}"]
    left = min(range(2), key=lambda i: arm.left_deg[i])
    room = f"{arm.left_deg[left]:.1f}° left" if arm.left_deg[left] >= 0 else f"{-arm.left_deg[left]:.1f}° TOO FAR"
    below.append(f"{room} {('ahead', 'aft')[left]} ({arm.limit_words[left]})")
    parts = [text(x, 11.0 + 12.5 * i, words, cls=cls, anchor=anchor) for i, (words, cls) in enumerate(rows)]
    parts += [text(x, HEIGHT - 16.0 + 12.5 * i, words, anchor=anchor) for i, words in enumerate(below)]
    return parts


def _down(angle_deg: float) -> str:
    return "neutral" if abs(angle_deg) < 0.05 else f"{abs(angle_deg):.1f}° {'down' if angle_deg > 0 else 'up'}"
