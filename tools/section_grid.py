"""The grid of the section tables and the shapes on it: bent flaps on symmetric sections and on a flat plate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SECTIONS = ("plate 3 %", "naca 0006", "naca 0009", "naca 0012", "naca 0015", "naca 0018")
THICKNESS = np.array([0.03, 0.06, 0.09, 0.12, 0.15, 0.18])
FLAP_FRACTION = np.array([0.15, 0.20, 0.25, 0.30, 0.38, 0.48, 0.60])
DELTA_DEG = np.array([0.0, 2, 4, 6, 8, 10, 12, 16, 20, 28, 36, 45])
REYNOLDS = np.geomspace(3e4, 1e6, 11)
NCRIT = np.array([9.0, 4.0])
ALPHA_DEG = np.arange(-30.0, 31.0)


def half_thickness(section: int, x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Half thickness over chord at x/c: NACA four-digit with closed trailing edge, or a 3 % plate.

    The plate has a rounded nose over 3 % of the chord and tapers over the rear 30 %.
    """
    t = THICKNESS[section]
    if section == 0:
        nose = np.sqrt(np.clip(1 - (1 - x / 0.03) ** 2, 0, 1))
        tail = np.clip((1 - x) / 0.30, 0, 1)
        return t / 2 * np.where(x < 0.03, nose, 1.0) * tail
    return 5 * t * (0.2969 * np.sqrt(x) - 0.1260 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1036 * x**4)


def bent_section(section: int, fraction: float, delta_deg: float, points: int = 161) -> NDArray[np.float64]:
    """Outline (m, 2) with the flap turned down about mid thickness: upper trailing edge, nose, lower trailing edge.

    The opening side gets an arc about the hinge; the closing side is cut at the bisector of the two parts.
    """
    delta, hinge = np.radians(delta_deg), 1 - fraction
    x = 0.5 * (1 - np.cos(np.linspace(0, np.pi, points)))
    x = np.unique(np.concatenate([x, [hinge]]))
    y = half_thickness(section, x)
    fore, aft = x <= hinge, x >= hinge
    turn = np.array([[np.cos(delta), np.sin(delta)], [-np.sin(delta), np.cos(delta)]])

    def turned(xs: NDArray[np.float64], ys: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([xs - hinge, ys]) @ turn.T + [hinge, 0.0]

    radius = float(half_thickness(section, np.array([hinge]))[0])
    angles = np.linspace(0, delta, 6)[1:-1]
    arc = np.column_stack([hinge + radius * np.sin(angles), radius * np.cos(angles)])
    upper = np.vstack([np.column_stack([x[fore], y[fore]]), arc, turned(x[aft], y[aft])])
    across = np.array([np.cos(delta / 2), -np.sin(delta / 2)])
    front, back = np.column_stack([x[fore], -y[fore]]), turned(x[aft], -y[aft])
    front = front[(front - [hinge, 0]) @ across <= 1e-9]
    back = back[(back - [hinge, 0]) @ across >= (1e-9 if delta > 0 else -1e-9)]
    return np.vstack([upper[::-1], front[1:], back])
