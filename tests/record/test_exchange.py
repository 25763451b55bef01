"""The logbook out to JSON and in again."""

from pathlib import Path

import pytest

from evenfall.errors import InputError
from evenfall.record.exchange import exported, faults_of, take_in
from evenfall.record.logbook import Logbook


def test_round_trip_is_exact_and_merges(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    one, two = Logbook(tmp_path / "a"), Logbook(tmp_path / "b")
    key = one.keep_text("plane", "p", "x = 1\n")
    one.add_flight(
        date="2026-05-01", place="Flugplatz, \u00e4", air={"kelvin": 288.1}, volts_before=0.1 + 0.2, plane=key
    )
    body = exported(one)
    take_in(two, body)
    take_in(two, body)
    assert exported(two) == body
    with pytest.raises(InputError, match="does not match its hash"):
        take_in(two, body.replace("x = 1", "x = 2"))
    one.close()
    two.close()


def test_every_fault_is_said() -> None:
    assert len(faults_of('{"version": 1, "texts": [1], "flights": [{}]}')) == 6
    assert faults_of("{")[0].startswith("not JSON")
