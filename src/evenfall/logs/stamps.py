"""Times as they stand in recorded flights, as seconds."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime

_CLOCK = re.compile(r"^(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)$")


def iso_seconds(text: str) -> tuple[float, bool]:
    """Seconds since 1970 UTC of an ISO 8601 time, and whether it named its zone (UTC is taken where not); NaN if
    it cannot be read.

    >>> iso_seconds("1970-01-01T02:00:01.5+02:00")
    (1.5, True)
    """
    try:
        moment = datetime.fromisoformat(text.strip().replace(",", "."))
        zoned = moment.tzinfo is not None
        return (moment if zoned else moment.replace(tzinfo=UTC)).timestamp(), zoned
    except (ValueError, OverflowError):
        return math.nan, True


def clock_seconds(text: str) -> float:
    """Seconds since midnight, or since the start, of hh:mm:ss.s or mm:ss.s; NaN if it cannot be read.

    >>> clock_seconds("1:02:03.5")
    3723.5
    """
    found = _CLOCK.match(text.strip())
    if not found:
        return math.nan
    hours, minutes, seconds = found.groups()
    return int(hours or 0) * 3600.0 + int(minutes) * 60.0 + float(seconds.replace(",", "."))
