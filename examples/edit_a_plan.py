"""A plan written, edited by hand and predicted again: what another level of the motor brake would do.

Writing never destroys an edit: a second `write_plan` on the edited file is refused unless forced, and then keeps a
numbered backup.

python examples/edit_a_plan.py [folder]
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from evenfall.api import demo_path, load_plan, load_plane, predict, tune, write_plan
from evenfall.errors import EvenfallError


def main(folder: str = ".") -> None:
    """Write the tuned plan, put in the hardest level, and compare the down speeds."""
    plane = load_plane(demo_path("biplane_155"))
    tuned = tune(plane)
    assert tuned.plan is not None
    path = Path(folder) / "biplane_155.plan.toml"
    write_plan(tuned.plan, path)
    hardest = plane.plane.controller.levels[-1]
    text = path.read_text(encoding="utf-8")
    text = re.sub(r'(?m)^level = ".*?"', f'level = "{hardest.name}"', text)
    text = re.sub(r"(?m)^brake_percent = .*$", f"brake_percent = {hardest.percent:g}", text)
    path.write_text(text, encoding="utf-8")
    for plan in (tuned.plan, load_plan(path, plane.plane)):
        down = predict(plane, plan).survey.line("vertical down").speed
        print(f"level {plan.motor.level:>4}: vertical down " + (f"{down.speed:.2f} m/s" if down else "not steady"))
    try:
        write_plan(tuned.plan, path)
    except EvenfallError as refusal:
        print(f"writing again: {refusal}")


if __name__ == "__main__":
    main(*sys.argv[1:])
