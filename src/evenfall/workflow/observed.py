"""What a flight's measured drift and trim say as signs of a diagnosis: numbers that teach no factor of the engine."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from evenfall.fit.causes import Chart, chart
from evenfall.logs.evidence_entries import FlightRecord, Flown, HeadingSeen, Trim

USUAL_LINE = 50.0
"""m of line over which a drift was seen where nothing was written down. Common practice, no source."""
SURELY = 2.0
"""Sigma a trim must lie off the old one before it says that the line pulled. Ours, no source."""
_QUIET = 0.5
"""Share of the size that half of the pilots notice below which a drift counts as not there. Ours, no source."""


@dataclass(frozen=True, kw_only=True)
class Observed:
    """Signs by key: those an entry shows, and those it shows not to be there."""

    seen: frozenset[str] = frozenset()
    absent: frozenset[str] = frozenset()

    def __or__(self, other: Observed) -> Observed:
        seen = self.seen | other.seen
        return Observed(seen=seen, absent=(self.absent | other.absent) - seen)


def observed(entry: HeadingSeen | Trim, *, speed: float, table: Chart | None = None) -> Observed:
    """What a drift or a change of trim on a down line shows.

    A drift is a turning of angle times `speed` (m/s) over the length of line; it shows a sign from the size that half
    of the pilots notice (`Sign.notice`), and shows that it is not there where even `SURELY` sigma more stay below
    half of that. Trim shows a pull against it from `SURELY` sigma on, and that there was none within one sigma. Level
    and climbing lines show nothing of crow.
    """
    if entry.flown.slope >= 0.0:
        return Observed()
    used = chart() if table is None else table
    if isinstance(entry, Trim):
        return _pull(entry)
    found = Observed()
    over = entry.length or USUAL_LINE
    for axis, angle in (("yaw", entry.yawed), ("roll", entry.rolled)):
        if angle is None:
            continue
        turning, sigma = math.degrees(angle.value) * speed / over, math.degrees(angle.sigma) * speed / over
        for sign in used.signs.values():
            if sign.shows != f"{axis}_{_state(entry.flown)}":
                continue
            if sign.way * turning >= sign.notice:
                found |= Observed(seen=frozenset({sign.key}))
            elif sign.way * turning + SURELY * sigma < _QUIET * sign.notice:
                found |= Observed(absent=frozenset({sign.key}))
    return found


def observed_on(records: Iterable[FlightRecord], *, speed: float) -> Observed:
    """What all drifts and trims of some flights show, `speed` in m/s; what one of them shows is there."""
    found = Observed()
    for record in records:
        for entry in record.entries:
            if isinstance(entry, HeadingSeen | Trim):
                found |= observed(entry, speed=speed)
    return found


def _pull(entry: Trim) -> Observed:
    """Elevator given up (positive) held a line that pulled to the belly."""
    given = entry.angle or entry.share
    assert given is not None
    canopy, belly = (f"{side}_{_state(entry.flown)}" for side in ("canopy", "belly"))
    if abs(given.value) >= SURELY * given.sigma:
        seen, other = (belly, canopy) if given.value > 0 else (canopy, belly)
        return Observed(seen=frozenset({seen}), absent=frozenset({other}))
    if abs(given.value) <= given.sigma:
        return Observed(absent=frozenset({canopy, belly}))
    return Observed()


def _state(flown: Flown) -> str:
    return "crow" if flown.crow else "clean"
