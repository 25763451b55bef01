"""Damaged records: read with notes or refused in words, never a traceback, never slow."""

import random
import time
from functools import reduce
from pathlib import Path

import pytest

from evenfall.errors import EvenfallError
from evenfall.logs.csv_log import read_csv
from evenfall.logs.cut import lines, wind
from evenfall.logs.gpx import read_gpx
from evenfall.logs.nmea import read_nmea

HARM = (
    b"\0",
    b"\xff\xfe",
    b",,,,",
    b";",
    b'"',
    b"\n\n",
    b"nan",
    b"-inf",
    b"1e309",
    b"<",
    b"&x;",
    b"$",
    b"*",
    b"9" * 400,
)


def _nmea():
    bodies = [f"GPRMC,1200{i:02d},A,48{i:02d}.038,N,01131.000,E,22.4,84.4,230394,," for i in range(30)]
    bodies += [f"GPGGA,1201{i:02d},48{i:02d}.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,," for i in range(30)]
    return "".join(f"${b}*{reduce(lambda t, s: t ^ ord(s), b, 0):02X}\n" for b in bodies).encode()


SEEDS = (
    ("a.csv", read_csv, b"time (s),lat,lon,alt (m),rpm,throttle (%)\n"
     + b"".join(b"%d.5,47.%05d,11.5,%d,%d,50\n" % (i, i, 100 + i, 6000 + i) for i in range(60))),
    ("b.csv", read_csv, "Datum;Zeit;Höhe (m);x;y\n".encode()
     + b"".join(b"2026-05-01;12:00:%02d;%d,5;%d,0;0,1\n" % (i % 60, 100 + i, 20 * i) for i in range(60))),
    ("c.gpx", read_gpx, (Path(__file__).parent / "data" / "schema.gpx").read_bytes()),
    ("d.nmea", read_nmea, _nmea()),
)  # fmt: skip


def damaged(data: bytes, chance: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(chance.randint(1, 12)):
        at, to = sorted((chance.randrange(len(out) + 1), chance.randrange(len(out) + 1)))
        kind = chance.randrange(5)
        if kind == 0 and out:
            out[at % len(out)] = chance.randrange(256)
        elif kind == 1:
            del out[at : min(to, at + 40)]
        elif kind == 2:
            out[at:at] = chance.choice(HARM)
        elif kind == 3:
            out[at:at] = out[at : min(to, at + 200)]
        elif chance.random() < 0.2:
            del out[to:]
    return bytes(out)


def study(folder, cases):
    read = 0
    for case in range(cases):
        name, reader, data = SEEDS[case % len(SEEDS)]
        path = folder / name
        path.write_bytes(damaged(data, random.Random(case)))
        begun = time.perf_counter()
        try:
            track = reader(path)
            lines(track)
            wind(track)
            read += 1
        except EvenfallError as error:
            assert len(str(error)) > 20, case
        except Exception as error:
            raise AssertionError(f"case {case}") from error
        assert time.perf_counter() - begun < 2, case
    return read


def test_two_thousand(tmp_path):
    assert study(tmp_path, 2000) > 400


@pytest.mark.long
def test_ten_thousand(tmp_path):
    assert study(tmp_path, 10_000) > 2000
