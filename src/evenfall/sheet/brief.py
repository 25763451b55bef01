"""A plan in a few lines of text."""

from __future__ import annotations

from textwrap import fill

from evenfall.sheet.pages import TunePage
from evenfall.sheet.text import with_spread

WIDTH = 100


def brief_plan(page: TunePage) -> str:
    """The plan, the speed of every line, and what would buy what is missing; without a newline at the end."""
    rows = [fill(f"{page.plane}: {page.summary}", WIDTH)]
    for line in page.predicted.lines if page.predicted is not None else ():
        speeds = " or ".join(with_spread(state.speed_m_s, "metric") for state in line.steady if state.stable)
        held = f"{speeds} m/s" if speeds else "no steady speed"
        rows.append(f"  {line.name:<14}{held:<20} stick {line.stick_percent:.0f} %")
    rows += [fill(remedy, WIDTH, initial_indent="  ", subsequent_indent="  ") for remedy in page.remedies[:2]]
    return "\n".join(rows)
