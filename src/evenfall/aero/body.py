"""What a fuselage in sideslip does: side force and the unstable yawing moment of a long body."""

from __future__ import annotations

import math

from evenfall.plane.airframe import Body

TAPER = 0.5
"""Mean of height squared along a fuselage over its greatest height squared. Common practice, no source."""


def side_areas(body: Body) -> tuple[float, float]:
    """Side force over q beta (m^2) and the yawing couple over q beta (m^3, nose away from the wind) of a body.

    Y = -2 w h q beta (DATCOM 4.2.1.1 for bodies, from memory); N = -2 (pi/4) h^2 L TAPER q beta (Munk, NACA TR 184,
    1924, from memory, with the added mass of a plate of the body's height). Sideslip small; good to a factor of 1.5.
    """
    force = 2.0 * body.width * body.height
    couple = 2.0 * 0.25 * math.pi * body.height**2 * body.length * TAPER
    return force, couple
