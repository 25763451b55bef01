"""How sure the down speed is, what makes it unsure, and what a better measurement would buy.

python examples/doubt_of_the_down_speed.py
"""

from __future__ import annotations

import math

from evenfall.api import demo_path, load_plane, tune


def main() -> None:
    """Print the estimate and its three largest causes."""
    answer = tune(load_plane(demo_path("biplane_124"))).predicted
    assert answer is not None
    line = answer.survey.line("vertical down")
    assert line.speed is not None
    estimate = answer.estimates[line.name][[entry.state for entry in line.steady].index(line.speed)]
    assert estimate is not None
    print(f"vertical down {estimate.value:.1f} +- {estimate.spread:.2f} m/s (one sigma)")
    for cause in estimate.causes:
        # Shares of the variance: without this cause sigma would be sqrt(1 - share) of what it is.
        without = estimate.spread * math.sqrt(1 - cause.share)
        print(f"  {cause.name:28} {100 * cause.share:3.0f} % of the variance; known exactly: +- {without:.2f} m/s")


if __name__ == "__main__":
    main()
