"""The speed map as a picture: down speed over crow and motor brake, folds hatched, limits worded.

python examples/map_to_svg.py [map.svg]
"""

from __future__ import annotations

import sys
from pathlib import Path

from evenfall.api import demo_path, load_plane, map_page, speed_map, speed_map_svg


def main(target: str = "map.svg") -> None:
    """Write the picture and print what it says in words."""
    page = map_page(speed_map(load_plane(demo_path("biplane_155"))))
    Path(target).write_text(speed_map_svg(page), encoding="utf-8")
    print(f"{target}: {page.plane}, crow {page.arrangement}")
    for words in (*page.warnings, *page.remarks):
        print(f"  {words}")


if __name__ == "__main__":
    main(*sys.argv[1:])
