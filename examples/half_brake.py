"""Why half brake is fickle: every level of the motor brake at four airspeeds, with all shaft speeds it could hold.

Windmilling torque dips where the blade stalls. A level whose torque runs through that dip meets it twice, so there are
two stable shaft speeds with very different drag, and the entry speed decides which one a dive gets.

python examples/half_brake.py
"""

from __future__ import annotations

import math

from evenfall.api import demo_path, load_plane, shaft_picture

SPEEDS = (16.0, 18.0, 20.0, 22.0)
"""Airspeeds, m/s."""


def main() -> None:
    """Print the stable shaft states of every level."""
    answer = shaft_picture(load_plane(demo_path("biplane_124")), speeds=SPEEDS)
    picture = answer.picture
    for speed in picture.speeds:
        print(f"{speed:.1f} m/s")
        for level in picture.levels:
            here = [m for m in picture.meetings if m.level == level and m.speed == speed and m.stable]
            states = " or ".join(f"{m.omega * 30 / math.pi:5.0f} rpm with {-m.thrust:3.1f} N" for m in here)
            print(f"  level {level:>3}: {states}{'   <- fickle' if len(here) > 1 else ''}")


if __name__ == "__main__":
    main()
