"""GPX 1.1 (public schema, topografix.com/GPX/1/1): track points with position, `ele` and `time`."""

from __future__ import annotations

import math
from pathlib import Path
from xml.parsers import expat

from evenfall.errors import InputError
from evenfall.logs.stamps import iso_seconds
from evenfall.logs.track import Track, cleaned

DEPTH, POINTS, TEXT = 32, 2_000_000, 200
"""Most elements inside each other, most points, and most characters of one number or time."""


class _Points:
    """Collects track points while the file streams by."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.path: list[str] = []
        self.text = ""
        self.bad = 0
        self.undated = 0
        self.rows: dict[str, list[float]] = {key: [] for key in ("time", "latitude", "longitude", "height")}

    def refuse(self, *_: object) -> None:
        raise InputError(
            f"{self.name}: holds a document type or entities, which a recorded flight never needs; refused"
        )

    def opened(self, tag: str, given: dict[str, str]) -> None:
        self.path.append(tag.rpartition(":")[2])
        if len(self.path) > DEPTH:
            raise InputError(f"{self.name}: elements nest deeper than {DEPTH}; export the flight again as GPX 1.1")
        self.text = ""
        if self.path[-1] == "trkpt":
            if len(self.rows["time"]) >= POINTS:
                raise InputError(f"{self.name}: more than {POINTS} points; split the file")
            self.rows["time"].append(math.nan)
            self.rows["height"].append(math.nan)
            self.rows["latitude"].append(math.radians(self.number(given.get("lat", ""))))
            self.rows["longitude"].append(math.radians(self.number(given.get("lon", ""))))

    def number(self, text: str) -> float:
        try:
            return float(text)
        except ValueError:
            self.bad += 1
            return math.nan

    def words(self, text: str) -> None:
        if len(self.text) < TEXT:
            self.text += text

    def closed(self, _: str) -> None:
        tag = self.path.pop()
        if self.path and self.path[-1] == "trkpt":
            if tag == "ele":
                self.rows["height"][-1] = self.number(self.text)
            elif tag == "time":
                stamp, zoned = iso_seconds(self.text)
                self.bad += math.isnan(stamp)
                self.undated += not zoned
                self.rows["time"][-1] = stamp
        self.text = ""


def read_gpx(path: Path) -> Track:
    """Track of a GPX file; InputError where it cannot be read, notes where parts of it could not."""
    points = _Points(path.name)
    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = points.refuse
    parser.EntityDeclHandler = points.refuse
    parser.StartElementHandler = points.opened
    parser.EndElementHandler = points.closed
    parser.CharacterDataHandler = points.words
    notes = []
    try:
        with path.open("rb") as file:
            while piece := file.read(1 << 16):
                parser.Parse(piece, False)
            parser.Parse(b"", True)
    except OSError as error:
        raise InputError(f"{path.name}: cannot be opened ({error.strerror}); check the name") from None
    except (expat.ExpatError, ValueError, LookupError) as error:
        if not points.rows["time"]:
            raise InputError(f"{path.name}: is not GPX ({error}); give a GPX 1.1 file with track points") from None
        notes.append(f"the file breaks off or is damaged ({error}): read up to there")
    if not points.rows["time"]:
        raise InputError(f"{path.name}: has no track points (trkpt); export the flight as a track")
    if points.bad:
        notes.append(f"{points.bad} numbers or times could not be read")
    if points.undated:
        notes.append(f"{points.undated} times without a zone taken as UTC")
    time = points.rows.pop("time")
    return cleaned(path.name, time, points.rows, dated=True, notes=notes)
