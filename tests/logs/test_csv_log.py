"""CSV of any columns: layout, units, words of two languages, clocks; a wrong mapping names every fault."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from evenfall.errors import FileFaults, InputError
from evenfall.logs.csv_log import guess, read_csv


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "flight.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_german_with_decimal_comma(tmp_path, encoding):
    text = "Zeit (s);Höhe (m);Geschwindigkeit (km/h);Gas (%);Spannung (V)\n"
    text += "".join(f"{i / 10:.1f};{100 - i},5;72,0;50;16,1\n".replace(".", ",") for i in range(8))
    track = read_csv(written(tmp_path, text, encoding))
    np.testing.assert_allclose(track.time, np.arange(8) / 10)
    np.testing.assert_allclose(track.height, 100.5 - np.arange(8))
    np.testing.assert_allclose(track.ground_speed, 20)
    np.testing.assert_allclose(track.throttle, 0.5)


@pytest.mark.parametrize(
    ("head", "cells", "start"),
    [
        ("time", ["2026-05-01T12:00:00+02:00", "2026-05-01T12:00:01+02:00", "2026-05-01T10:00:02Z"], 10),
        ("time", ["1777629600", "1777629601", "1777629602"], 10),
        ("time", ["1777629600000", "1777629601000", "1777629602000"], 10),
        ("time", ["23:59:59.0", "00:00:00.0", "00:00:01.0"], None),
        ("time (ms)", ["0", "1000", "2000"], None),
    ],
)
def test_clocks(tmp_path, head, cells, start):
    text = f"{head},alt (ft)\n" + "".join(f"{cell},100\n" for cell in cells)
    track = read_csv(written(tmp_path, text))
    np.testing.assert_allclose(track.time, [0, 1, 2])
    np.testing.assert_allclose(track.height, 30.48)
    assert track.start == (None if start is None else datetime(2026, 5, 1, start, tzinfo=UTC))


def test_cleaning_is_said(tmp_path):
    rows = [(i / 10, 50.0) for i in range(40)] + [(i / 10, 50.0) for i in range(80, 120)]
    rows[20] = (2.0, 900.0)
    rows.insert(10, rows[10])
    rows.insert(30, (0.5, 50.0))
    text = "t (s),height (m)\n" + "".join(f"{t},{h}\n" for t, h in rows)
    said = " ".join(read_csv(written(tmp_path, text)).notes)
    for words in ("already seen", "jumps back 1 time:", "1 spike taken", "1 gap, the longest 4.1 s"):
        assert words in said


def test_changed_mapping_is_applied_and_faults_are_all_named(tmp_path):
    path = written(tmp_path, "time,alt\n" + "".join(f"{i},{i}\n" for i in range(5)))
    found = guess(path)
    feet = replace(found, columns=(found.columns[0], replace(found.columns[1], unit="ft")))
    np.testing.assert_allclose(read_csv(path, mapping=feet).height, 0.3048 * np.arange(5))
    wrong = replace(found, columns=(replace(found.columns[0], quantity="mood"), replace(found.columns[1], unit="ell")))
    with pytest.raises(FileFaults, match="3 faults"):
        read_csv(path, mapping=wrong)


def test_not_text(tmp_path):
    path = tmp_path / "x.csv"
    path.write_bytes(b"a\0b" * 100)
    with pytest.raises(InputError, match="not text"):
        guess(path)
