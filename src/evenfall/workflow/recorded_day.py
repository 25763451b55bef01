"""The day a recorded flight was flown, where the record holds it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from evenfall.errors import EvenfallError
from evenfall.logs.csv_log import Mapping
from evenfall.logs.recording import open_recording
from evenfall.logs.stamps import iso_seconds

UNSET = 2000
"""A clock that was never set counts from 1970, 1980 or this year; such a day is none. Common practice, no source."""


def recorded_day(path: Path) -> dt.date | None:
    """The day a record begins on: in this machine's zone, or as written where its times name no zone.

    None where it holds no day or cannot be read.
    """
    try:
        opened = open_recording(path)
    except EvenfallError:
        return None
    start = opened.track.start
    if start is None or start.year <= UNSET:
        return None
    return (start.astimezone() if _zoned(opened.mapping) else start).date()


def _zoned(mapping: Mapping | None) -> bool:
    """The times name their zone; GPX and NMEA, which have no mapping, are in UTC."""
    if mapping is None:
        return True
    held = {column.quantity: column for column in mapping.columns}
    clock = held["time"]
    return "date" not in held and (clock.unit != "iso" or iso_seconds(clock.sample)[1])
