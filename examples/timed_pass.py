"""The wanted speed from a stop-watch: a level pass there and back over a known distance.

The mean of the two speeds is free of steady wind; the spreads of distance and times become the spread of the speed.

python examples/timed_pass.py
"""

from __future__ import annotations

from pathlib import Path

from evenfall.api import demo_path, parse_plane, prepare

PASS = """
[speed]
distance_m = { value = 100, spread = 1 }
time_out_s = { value = 4.2, spread = 0.1 }
time_back_s = { value = 5.3, spread = 0.1 }
"""


def main() -> None:
    """Put the pass into a demo plane instead of its number and print what follows."""
    text = Path(demo_path("biplane_124")).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("speed_m_s")]
    plane = parse_plane("\n".join(lines) + PASS)
    spread = plane.spreads["wanted.speed"]
    print(f"wanted speed {prepare(plane).wanted:.2f} +- {spread.absolute(0.0):.2f} m/s")
    print(*(f"  {note}" for note in plane.notes if "timed pass" in note), sep="\n")


if __name__ == "__main__":
    main()
