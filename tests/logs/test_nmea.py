"""NMEA 0183: published example sentences, midnight, damaged lines."""

from datetime import UTC, datetime
from functools import reduce

import numpy as np
import pytest

from evenfall.errors import InputError
from evenfall.logs.nmea import read_nmea, sentence

PUBLISHED = (
    "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48",
    "$GPGLL,4916.45,N,12311.12,W,225444,A*31",
)


def signed(body):
    return f"${body}*{reduce(lambda total, sign: total ^ ord(sign), body, 0):02X}\n"


@pytest.mark.published
@pytest.mark.parametrize("line", PUBLISHED)
def test_published_sentences_have_their_checksum(line):
    assert sentence(line) is not None
    assert sentence(line.replace("4", "5", 1)) is None


def test_rows_over_midnight_with_damage(tmp_path):
    path = tmp_path / "n.txt"
    clocks = ["235958", "235959", "000000", "000001"]
    lines = [signed(f"GPRMC,{c},A,4807.038,N,01131.000,E,10.0,084.4,230394,,") for c in clocks]
    lines += [signed("GPGGA,000001,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"), "$GPRMC,broken*00\n"]
    path.write_text("".join(lines))
    track = read_nmea(path)
    np.testing.assert_allclose(track.time, [0, 1, 2, 3])
    assert track.start == datetime(1994, 3, 23, 23, 59, 58, tzinfo=UTC)
    np.testing.assert_allclose(track.ground_speed, 10 * 1852 / 3600)
    np.testing.assert_allclose(np.degrees(track.latitude), 48 + 7.038 / 60)
    assert track.height[-1] == 545.4
    assert any("1 lines were damaged" in note for note in track.notes)
    assert any("midnight" in note for note in track.notes)


def test_no_sentence_at_all(tmp_path):
    path = tmp_path / "n.txt"
    path.write_text("a,b\n1,2\n")
    with pytest.raises(InputError, match="none of 2 lines"):
        read_nmea(path)
