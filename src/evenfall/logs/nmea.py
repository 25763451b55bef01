"""NMEA 0183 sentences GGA, RMC, VTG and GLL of any talker, checksums verified."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

from evenfall.errors import InputError
from evenfall.logs.track import Track, cleaned

KNOT = 1852 / 3600
"""m/s, exact."""

_KEYS = ("latitude", "longitude", "height", "ground_speed")
ROWS = 2_000_000
"""Most rows of a file."""


def sentence(line: str) -> list[str] | None:
    """Fields of a sentence with a right checksum, the talker taken off its name; None where it is not one.

    >>> sentence("$GPGLL,4916.45,N,12311.12,W,225444,A*31")[0]
    'GLL'
    """
    at = line.find("$")
    body, star, check = line[at + 1 :].strip().partition("*")
    if at < 0 or not star or len(body) > 200:
        return None
    total = 0
    for sign in body:
        total ^= ord(sign)
    try:
        if int(check[:2], 16) != total:
            return None
    except ValueError:
        return None
    fields = body.split(",")
    fields[0] = fields[0][-3:]
    return fields


def _angle(text: str, side: str) -> float:
    """rad of ddmm.mm with its side N, S, E or W."""
    value = float(text)
    degrees = value // 100
    return math.radians(degrees + (value - 100 * degrees) / 60) * (-1 if side in "SW" else 1)


def _clock(text: str) -> float:
    return int(text[:2]) * 3600.0 + int(text[2:4]) * 60.0 + float(text[4:])


class _Rows:
    """Joins the sentences of one moment into one row."""

    def __init__(self) -> None:
        self.time: list[float] = []
        self.columns: dict[str, list[float]] = {key: [] for key in _KEYS}
        self.last: float | None = None
        self.days = 0
        self.date: float | None = None
        self.bad = 0
        self.void = 0

    def at(self, clock: float) -> None:
        if clock == self.last:
            return
        if self.last is not None and clock - self.last < -43200:
            self.days += 1
        self.last = clock
        self.time.append(clock + 86400.0 * self.days)
        for column in self.columns.values():
            column.append(math.nan)

    def put(self, **values: float) -> None:
        if self.time:
            for key, value in values.items():
                self.columns[key][-1] = value

    def take(self, f: list[str]) -> None:
        if f[0] == "GGA":
            self.at(_clock(f[1]))
            if f[6] in ("", "0"):
                self.void += 1
            else:
                self.put(latitude=_angle(f[2], f[3]), longitude=_angle(f[4], f[5]))
                if f[9]:
                    self.put(height=float(f[9]))
        elif f[0] == "RMC":
            self.at(_clock(f[1]))
            if f[2] != "A":
                self.void += 1
                return
            self.put(latitude=_angle(f[3], f[4]), longitude=_angle(f[5], f[6]))
            if f[7]:
                self.put(ground_speed=float(f[7]) * KNOT)
            if self.date is None and f[9]:
                day = datetime.strptime(f[9], "%d%m%y").replace(tzinfo=UTC)
                self.date = day.timestamp() - 86400.0 * self.days
        elif f[0] == "VTG" and f[5]:
            self.put(ground_speed=float(f[5]) * KNOT)
        elif f[0] == "GLL":
            self.at(_clock(f[5]))
            if f[6] == "A":
                self.put(latitude=_angle(f[1], f[2]), longitude=_angle(f[3], f[4]))
            else:
                self.void += 1


def read_nmea(path: Path) -> Track:
    """Track of a file of NMEA sentences; bad lines are left out, counted and said."""
    rows = _Rows()
    try:
        with path.open(encoding="ascii", errors="replace") as file:
            while line := file.readline(4096):
                if not line.strip():
                    continue
                fields = sentence(line)
                if fields is None:
                    rows.bad += 1
                    continue
                try:
                    rows.take(fields)
                except (ValueError, IndexError):
                    rows.bad += 1
                if len(rows.time) > ROWS:
                    raise InputError(f"{path.name}: more than {ROWS} rows; split the file")
    except OSError as error:
        raise InputError(f"{path.name}: cannot be opened ({error.strerror}); check the name") from None
    if not rows.time:
        raise InputError(
            f"{path.name}: none of {rows.bad} lines is a GGA, RMC or GLL sentence with a right checksum; "
            "give the receiver's own NMEA record"
        )
    notes = []
    if rows.bad:
        notes.append(f"{rows.bad} lines were damaged or had a wrong checksum and were left out")
    if rows.void:
        notes.append(f"{rows.void} sentences without a position fix")
    if rows.days:
        notes.append(f"the clock passed midnight {rows.days} times")
    time = [stamp + (rows.date or 0.0) for stamp in rows.time]
    return cleaned(path.name, time, rows.columns, dated=rows.date is not None, notes=notes)
