"""What kind a recording is, and columns as the pilot names them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from evenfall.errors import FileFaults, InputError
from evenfall.logs.recording import kind_of_file, open_recording

ROWS = "\n".join(f"{0.1 * k:.1f};{100 - k};{k / 100:.2f};a" for k in range(60))
CSV = f"t;zz (ft);k;note\n{ROWS}\n"


def wrote(folder: Path, name: str, body: str | bytes) -> Path:
    path = folder / name
    path.write_bytes(body if isinstance(body, bytes) else body.encode())
    return path


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (CSV, "csv"),
        (CSV.encode("utf-16"), "csv"),
        ("﻿" + CSV, "csv"),
        ('<?xml version="1.0"?>\n<gpx version="1.1"></gpx>', "gpx"),
        ("$GPGLL,4916.45,N,12311.12,W,225444,A*31\n", "nmea"),
        (b"RIFF\0\0\0\0WAVEfmt ", "wav"),
        (b"\0\0\0\x18ftypmp42" + bytes(500), "other"),
        ("A letter.\nWithout numbers.\nAt all.\n", "other"),
        ("", "other"),
    ],
)
def test_kind_by_content(tmp_path: Path, body: str | bytes, kind: str) -> None:
    assert kind_of_file(wrote(tmp_path, "x", body)) == kind


def test_columns_as_named(tmp_path: Path) -> None:
    path = wrote(tmp_path, "log.csv", CSV)
    opened = open_recording(path, columns={"zz (ft)": "height", "k": "throttle"})
    assert opened.mapping is not None
    assert [(c.quantity, c.unit) for c in opened.mapping.columns] == [
        ("time", "s"), ("height", "ft"), ("throttle", "-"), (None, ""),
    ]  # fmt: skip
    assert opened.track.height[0] == pytest.approx(100 * 0.3048)
    metres = open_recording(path, columns={"zz (ft)": "height m"})
    assert np.nanmax(metres.track.height) == pytest.approx(100)


def test_a_column_named_takes_the_place_of_one_guessed(tmp_path: Path) -> None:
    path = wrote(tmp_path, "log.csv", CSV.replace("zz (ft)", "height (ft)"))
    opened = open_recording(path, columns={"k": "height m"})
    assert opened.mapping is not None
    assert [c.quantity for c in opened.mapping.columns] == ["time", None, "height", None]
    with pytest.raises(FileFaults, match="no column but the time"):
        open_recording(path, columns={"height (ft)": "nothing"})


def test_faults_say_what_is_allowed(tmp_path: Path) -> None:
    path = wrote(tmp_path, "log.csv", CSV)
    with pytest.raises(FileFaults) as caught:
        open_recording(path, columns={"zz": "height", "k": "hight", "note": "height furlong"})
    said = str(caught.value)
    assert "no such column" in said
    assert "did you mean height?" in said
    assert "furlong" in said
    assert "choose one of m, ft" in said


def test_a_sound_is_no_flight(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a sound"):
        open_recording(wrote(tmp_path, "x.wav", b"RIFF\0\0\0\0WAVEfmt "))
