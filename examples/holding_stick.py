"""The holding stick: which stick position flies each slope at the wanted speed, with crow and without.

Without crow the steep lines have no stick: the plane falls too fast even with the throttle closed. With it the stick
rises evenly from closed on the vertical down to nearly open on the vertical up.

python examples/holding_stick.py
"""

from __future__ import annotations

import math

from evenfall.api import demo_path, holding_stick, load_plane, tune
from evenfall.lines.holding import Holding
from evenfall.numeric import Status


def shown(held: Holding) -> str:
    """The stick as a bar of 40 places, or why there is none."""
    if held.status is not Status.OK:
        return f"-- {held.status.text}"
    return "." * round(40 * held.stick) + f"o {100 * held.stick:.0f} %"


def main() -> None:
    """Draw both curves every 15 degrees."""
    plane = load_plane(demo_path("biplane_124"))
    picture = holding_stick(plane, tune(plane).plan).picture
    for title, curve in (("with crow", picture.crow), ("without", picture.clean)):
        print(title)
        for held in curve[::3]:
            print(f"  {math.degrees(held.slope):+4.0f} deg {shown(held)}")


if __name__ == "__main__":
    main()
