"""The five lines of a demo plane: how fast it falls today, and how fast with the plan that `tune` finds.

python examples/steady_lines.py
"""

from __future__ import annotations

from evenfall.api import demo_path, load_plane, predict, tune
from evenfall.workflow import Predicted


def rows(answer: Predicted) -> list[str]:
    """One text row a line: stick, stable speed, its spread."""
    found = []
    for line in answer.survey.lines:
        if line.speed is None:
            found.append(f"  {line.name:14} no stable steady speed")
            continue
        states = [entry.state for entry in line.steady]
        estimate = answer.estimates[line.name][states.index(line.speed)]
        spread = "+- ?" if estimate is None else f"+- {estimate.spread:.1f}"
        found.append(f"  {line.name:14} stick {100 * line.stick:3.0f} %  {line.speed.speed:5.1f} {spread} m/s")
    return found


def main() -> None:
    """Print the lines before and after."""
    plane = load_plane(demo_path("biplane_124"))
    print("as it is now: no crow, motor brake off", *rows(predict(plane)), sep="\n")
    tuned = tune(plane)
    assert tuned.predicted is not None
    print("with the tuned plan", *rows(tuned.predicted), sep="\n")


if __name__ == "__main__":
    main()
