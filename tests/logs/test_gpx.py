"""GPX against its public schema, and files made to harm."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from evenfall.errors import InputError
from evenfall.logs.gpx import read_gpx

SAMPLE = Path(__file__).parent / "data" / "schema.gpx"


def test_track_points_with_zones():
    track = read_gpx(SAMPLE)
    assert track.start == datetime(2009, 10, 17, 18, 37, 26, tzinfo=UTC)
    np.testing.assert_allclose(track.time, [0, 5, 8])
    np.testing.assert_allclose(track.height, [4.46, 4.94, 6.87])
    np.testing.assert_allclose(np.degrees(track.latitude[0]), 47.644548)


def test_entities_and_depth_are_refused(tmp_path):
    bomb = tmp_path / "b.gpx"
    bomb.write_text('<!DOCTYPE gpx [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><gpx>&b;</gpx>')
    with pytest.raises(InputError, match="entities"):
        read_gpx(bomb)
    bomb.write_text("<a>" * 1000)
    with pytest.raises(InputError, match="deeper than 32"):
        read_gpx(bomb)


def test_broken_off_file_is_read_up_to_there_and_said(tmp_path):
    cut = tmp_path / "c.gpx"
    cut.write_text(SAMPLE.read_text().replace("</trkseg></trk>\n</gpx>", ""))
    track = read_gpx(cut)
    assert len(track.time) == 3
    assert any("breaks off" in note for note in track.notes)
