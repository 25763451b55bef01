"""The wind of a day in words."""

from __future__ import annotations

import math

from evenfall.wind import WindDay

_WAYS = ("to the right", "away to the right", "away", "away to the left", "to the left", "back to the left", "towards "
         "the judges", "back to the right")  # fmt: skip


def wind_words(day: WindDay) -> str:
    """Strength and where it blows, as the judges see it.

    >>> wind_words(WindDay(speed=4.0)), wind_words(WindDay(speed=0.0))
    ('wind 4 m/s to the right along the flight line', 'calm')
    """
    if day.speed == 0:
        return "calm"
    way = _WAYS[round(math.degrees(day.towards) / 45) % 8]
    along = " along the flight line" if way in ("to the right", "to the left") else ""
    return f"wind {day.speed:.3g} m/s {way}{along}"
