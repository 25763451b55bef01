"""Flights of the logbook read again with their files, and learned from: each with its own plan, parts forgotten."""

from __future__ import annotations

import datetime as dt
import functools
import math
import operator
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from evenfall.errors import FileFaults, InputError
from evenfall.logs.evidence_entries import Recorded, Sound
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Crow, MotorChoice, Plan, plane_phases
from evenfall.radio.planfile import parse_plan, plan_text
from evenfall.record.logbook import Logbook
from evenfall.record.rows import FlightRow, PartRow
from evenfall.workflow import Ready
from evenfall.workflow.gathering import evidence_of
from evenfall.workflow.learning import learn
from evenfall.workflow.recording import add_flights, originals_folder, record_of
from evenfall.workflow.relearning import keep_learned, learn_from_log, learned_of, pulls_of

PLANE = demo_path("biplane_124").read_text(encoding="utf-8")


def the_plan(ready: Ready, *, crow_deg: float = 20.0) -> str:
    level = ready.file.plane.controller.levels[0]
    return plan_text(
        Plan(
            plane_name=ready.file.plane.name,
            crow=Crow(
                arrangement="down/up",
                upper=math.radians(crow_deg),
                lower=math.radians(-crow_deg),
                threshold=0.4,
                curve=((0.0, 1.0), (0.4, 0.0), (1.0, 0.0)),
            ),
            motor=MotorChoice(level=level.name, percent=level.percent),
            phases=plane_phases(ready.file.plane),
        )
    )


def flight(day: int, seconds: float) -> str:
    return (
        f'format = 1\ndate = "2026-05-{day:02d}"\n[[timed]]\nline = "vertical down"\nlength_m = 100\n'
        f"seconds = {seconds}\nentry_speed_m_s = 20\n"
    )


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path) as made:
        yield made


def _save(book: Logbook, day: int, seconds: float, *, plan: str, plane: str = PLANE, name: str) -> str:
    return book.save_flight(
        FlightRow(
            date=f"2026-05-{day:02d}",
            name=f"f{day}.flight.toml",
            document=flight(day, seconds),
            plane=book.keep_text("plane", name, plane),
            plan=book.keep_text("plan", "p.plan.toml", plan),
        )
    )


@pytest.mark.long
def test_one_plan_teaches_what_its_files_teach(book: Logbook, ready: Callable[[str], Ready], tmp_path: Path) -> None:
    prepared = ready("biplane_124")
    name, text = prepared.file.plane.name, the_plan(ready("biplane_124"))
    token = _save(book, 1, 4.2, plan=text, name=name)
    found = learn_from_log(book, prepared, text, plan_name="p.plan.toml", advise=False)
    path = tmp_path / "f1.flight.toml"
    path.write_text(flight(1, 4.2), encoding="utf-8")
    plan = parse_plan(text, prepared.file.plane, path="p")
    direct = learn(prepared, plan, [path], advise=False)
    assert (found.flights, found.notes, found.before) == ((token,), (), None)
    assert found.learned is not None
    assert direct.calibration is not None
    assert np.allclose(found.learned.mean, direct.calibration.learned.mean)
    key = keep_learned(book, found, plane_text=PLANE, plan_text=text, plan_name="p.plan.toml")
    assert keep_learned(book, found, plane_text=PLANE, plan_text=text, plan_name="p.plan.toml") == key
    (row,) = book.learned_rows(name)
    assert row.flights == (token,)
    assert np.array_equal(learned_of(row).covariance, found.learned.covariance)
    assert row.speeds["vertical down"][0] == pytest.approx(22.0, abs=6.0)


@pytest.mark.long
def test_other_plans_come_first_and_a_part_takes_away_what_it_touches(
    book: Logbook, ready: Callable[[str], Ready]
) -> None:
    prepared = ready("biplane_124")
    name = prepared.file.plane.name
    old, new = the_plan(prepared, crow_deg=12.0), the_plan(prepared)
    tokens = [_save(book, 1, 4.0, plan=old, name=name), _save(book, 2, 4.1, plan=old, name=name)]
    removed = _save(book, 3, 2.0, plan=old, name=name)
    book.remove_flight(removed)
    bare = learn_from_log(book, prepared, new, advise=False)
    assert bare.flights == tuple(tokens)
    assert bare.answer.calibration is None
    assert bare.before is not None
    assert bare.learned is not None
    taught, row = bare.learned.factor("crow_drag"), bare.learned.names.index("crow_drag")
    assert taught == bare.before.factor("crow_drag")
    wider = bare.learned.sigma - bare.before.sigma
    assert wider[row] > 0.005, "crow set anew is less sure than it was"
    assert np.all(np.delete(wider, row) == 0.0)
    tokens.append(_save(book, 6, 4.3, plan=new, name=name))
    both = learn_from_log(book, prepared, new, advise=False)
    assert both.flights == tuple(tokens)
    assert both.learned is not None
    assert both.before is not None
    assert both.before.factor("crow_drag") == pytest.approx(taught)
    assert np.all(both.learned.sigma <= bare.learned.sigma + 1e-12)
    book.add_part(PartRow(date="2026-05-04", plane_name=name, part="wing repair"))
    after = learn_from_log(book, prepared, new, advise=False)
    assert after.before is not None
    assert after.before.factor("crow_drag") == 1.0
    assert any("what it touches is forgotten" in note for note in after.notes)
    assert [one.since[0].name for one in after.answer.earlier] == ["repair of a wing"]
    assert not after.answer.earlier[0].opens
    book.save_flight(
        FlightRow(date="2026-05-07", document="no flight", plane=book.keep_text("plane", name, PLANE),
                  plan=book.keep_text("plan", "p", new))
    )  # fmt: skip
    odd = learn_from_log(book, prepared, new, advise=False)
    assert any("not learned from" in note for note in odd.notes)
    assert odd.flights == tuple(tokens)


def test_pulls_hold_until_a_part_that_bends_is_replaced(book: Logbook, ready: Callable[[str], Ready]) -> None:
    prepared = ready("biplane_124")
    name = prepared.file.plane.name
    text = 'format = 1\ndate = "2026-05-02"\n[[pull]]\ntowards = "belly"\nturning_deg_s = 3\n'
    keys = {"plane": book.keep_text("plane", name, PLANE), "plan": book.keep_text("plan", "p", the_plan(prepared))}
    book.save_flight(FlightRow(date="2026-05-02", name="pull", document=text, **keys))
    book.save_flight(FlightRow(date="2026-05-03", name="odd", document="no flight", **keys))
    ((plan, pull),) = pulls_of(book, prepared)
    assert plan.crow is not None
    assert pull.rate == pytest.approx(-math.radians(3.0))
    book.add_part(PartRow(date="2026-05-01", plane_name=name, part="wing repair"))
    book.add_part(PartRow(date="2026-05-09", plane_name=name, part="undercarriage"))
    assert len(pulls_of(book, prepared)) == 1
    book.add_part(PartRow(date="2026-05-10", plane_name=name, part="servo", corner="upper_left"))
    assert pulls_of(book, prepared) == ()


def test_files_of_a_flight_are_found_under_the_names_they_are_kept_by(book: Logbook) -> None:
    kept = [book.keep_original(name, name.encode()) for name in ("log.csv", "hum.wav")]
    document = (
        'format = 1\n[[recorded]]\nfile = "log.csv"\n[[sound]]\nfile = "hum.wav"\nwhat = "pass"\nstick_percent = 50\n'
    )
    token = book.save_flight(
        FlightRow(date="2026-05-01", document=document, originals=tuple(item.hash for item in kept))
    )
    record = record_of(book, book.flight(token))
    (recorded,), (sound,) = record.of(Recorded), record.of(Sound)
    for entry, name in ((recorded, "log.csv"), (sound, "hum.wav")):
        assert (originals_folder(book) / entry.file).read_bytes() == name.encode()
        assert entry.called == name


def test_the_same_bytes_under_two_names_are_found_by_their_place(book: Logbook) -> None:
    first = book.keep_original("a.csv", b"1,2\n")
    assert book.keep_original("b.csv", b"1,2\n").hash == first.hash
    document = 'format = 1\n[[recorded]]\nfile = "b.csv"\n'
    token = book.save_flight(FlightRow(date="2026-05-01", document=document, originals=(first.hash,)))
    (recorded,) = record_of(book, book.flight(token)).of(Recorded)
    assert (originals_folder(book) / recorded.file).read_bytes() == b"1,2\n"


def test_recorded_flights_go_in_by_themselves_and_faults_keep_all_out(
    tmp_path: Path, ready: Callable[[str], Ready]
) -> None:
    (tmp_path / "p.toml").write_text(PLANE, encoding="utf-8")
    (tmp_path / "p.plan.toml").write_text(the_plan(ready("biplane_124")), encoding="utf-8")
    log = tmp_path / "log.csv"
    log.write_text("time_s,speed_m_s\n0,20\n", encoding="utf-8")
    bad = tmp_path / "bad.flight.toml"
    bad.write_text('format = 1\ndate = "2026-05-01"\nodd = 1\n', encoding="utf-8")
    given = (tmp_path / "p.toml", tmp_path / "p.plan.toml")
    with pytest.raises(FileFaults, match="odd"):
        add_flights(tmp_path, *given, [log, bad])
    assert not (tmp_path / "logbook").exists()
    (entered,) = add_flights(tmp_path, *given, [log])
    assert (entered.new, entered.row.pieces) == (True, 1)
    assert len(entered.row.originals) == 1
    (again,) = add_flights(tmp_path, *given, [log])
    assert (again.new, again.row.token) == (False, entered.row.token)
    with Logbook(tmp_path) as book:
        book.remove_flight(entered.row.token)
    (back,) = add_flights(tmp_path, *given, [log])
    assert (back.new, back.row.removed) == (False, False)
    log.unlink()
    with pytest.raises((FileFaults, InputError)):
        add_flights(tmp_path, *given, [log])


def test_evidence_of_kept_files_is_named_by_the_pilots_names(book: Logbook, ready: Callable[[str], Ready]) -> None:
    """Whether a line of a record, what cannot be used, or what is said meanwhile."""
    prepared = ready("biplane_124")
    rows = "".join(f"{0.2 * k:.1f},{300 - 20 * 0.2 * k:.2f},0\n" for k in range(40))
    bodies = {
        "sunday.csv": f"time_s,height_m,throttle_percent\n{rows}".encode(),
        "broken.csv": b"no numbers\n",
        "hum.wav": b"no sound",
    }
    document = (
        'format = 1\ndate = "2026-05-01"\n[[recorded]]\nfile = "sunday.csv"\n[[recorded.line]]\nfrom_s = 1\nto_s = 5\n'
        'line = "vertical down"\n[[recorded]]\nfile = "broken.csv"\n[[sound]]\nfile = "hum.wav"\nwhat = "pass"\n'
        "stick_percent = 50\n"
    )
    kept = tuple(book.keep_original(name, body).hash for name, body in bodies.items())
    token = book.save_flight(FlightRow(date="2026-05-01", name="one.flight.toml", document=document, originals=kept))
    said: list[str] = []
    plan = parse_plan(the_plan(prepared), prepared.file.plane, path="p")
    record = record_of(book, book.flight(token))
    got = evidence_of(record, prepared, plan, folder=originals_folder(book), progress=said.append)
    assert [piece.name for piece in got.evidence] == ["2026-05-01 one, sunday.csv, vertical down at 1 s"]
    assert said == ["reading sunday.csv", "reading broken.csv", "listening to hum.wav"]
    faults = [fault.message for fault in got.faults]
    assert len(faults) == 2
    assert "broken.csv: " in faults[0]
    assert "hum.wav: " in faults[1]
    words = " ".join([*faults, *got.notes])
    assert not any(key in words for key in kept)


def test_a_record_that_is_the_whole_flight_is_named_once(book: Logbook, ready: Callable[[str], Ready]) -> None:
    prepared = ready("biplane_124")
    for name in ("log.csv", "g.csv"):
        kept = book.keep_original(name, b"time_s,height_m\n0,9\n1,8\n2,7\n3,6\n")
        document = f'format = 1\ndate = "2026-05-01"\n[[recorded]]\nfile = "{name}"\n'
        row = FlightRow(date="2026-05-01", name="log.csv", document=document, originals=(kept.hash,))
        record = record_of(book, book.flight(book.save_flight(row)))
        plan = parse_plan(the_plan(prepared), prepared.file.plane, path="p")
        (fault,) = evidence_of(record, prepared, plan, folder=originals_folder(book)).faults
        called = "2026-05-01 log.csv" if name == "log.csv" else "2026-05-01 log.csv, g.csv"
        assert fault.message.startswith(f"{called}: holds no positions")


GPX = (
    '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + "".join(
        f'<trkpt lat="47.000{k}" lon="8.0"><ele>400</ele><time>{{day}}T23:30:0{k}Z</time></trkpt>' for k in range(5)
    )
    + "</trkseg></trk></gpx>"
)


def _nmea(day: str) -> str:
    bodies = [f"GPRMC,23300{k}.00,A,470{k}.0,N,00800.0,E,20,90,{day},,,A" for k in range(5)]
    return "".join(f"${body}*{functools.reduce(operator.xor, body.encode()):02X}\n" for body in bodies)


def _table(title: str, *, first: str = "", after: str = "") -> str:
    return f"{title},speed_m_s\n" + "".join(f"{first}23:30:0{k}{after},20\n" for k in range(5))


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone cannot be set here")
@pytest.mark.parametrize(
    ("name", "body", "days"),
    [
        ("a.gpx", GPX.format(day="2024-06-07"), ("2024-06-07", "2024-06-08")),
        ("a.nmea", _nmea("070624"), ("2024-06-07", "2024-06-08")),
        ("zoned.csv", _table("time", first="2024-06-07T", after="Z"), ("2024-06-07", "2024-06-08")),
        ("written.csv", _table("time", first="2024-06-07T"), ("2024-06-07", "2024-06-07")),
        ("column.csv", _table("date,time", first="2024-06-07,"), ("2024-06-07", "2024-06-07")),
        ("clock.csv", _table("time"), ("2023-03-04", "2023-03-04")),
        ("unset.gpx", GPX.format(day="1980-01-06"), ("2023-03-04", "2023-03-04")),
        ("broken.gpx", "<gpx", ("2023-03-04", "2023-03-04")),
    ],
)
def test_a_recorded_flight_is_of_the_day_it_holds(
    tmp_path: Path,
    ready: Callable[[str], Ready],
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    body: str,
    days: tuple[str, str],
) -> None:
    """In UTC and ten hours ahead of it; without a day in it, the one the file was written on."""
    (tmp_path / "p.toml").write_text(PLANE, encoding="utf-8")
    (tmp_path / "p.plan.toml").write_text(the_plan(ready("biplane_124")), encoding="utf-8")
    path = tmp_path / name
    path.write_text(body, encoding="utf-8")
    noon = dt.datetime(2023, 3, 4, 1, tzinfo=dt.UTC).timestamp()
    os.utime(path, (noon, noon))
    try:
        for zone, day in zip(("UTC0", "XXX-10"), days, strict=True):
            monkeypatch.setenv("TZ", zone)
            time.tzset()
            (entered,) = add_flights(tmp_path, tmp_path / "p.toml", tmp_path / "p.plan.toml", [path])
            assert entered.row.date == day
    finally:
        monkeypatch.undo()
        time.tzset()


def test_a_flight_that_changed_only_in_its_record_is_a_new_revision(
    tmp_path: Path, ready: Callable[[str], Ready]
) -> None:
    (tmp_path / "p.toml").write_text(PLANE, encoding="utf-8")
    (tmp_path / "p.plan.toml").write_text(the_plan(ready("biplane_124")), encoding="utf-8")
    path = tmp_path / "f.flight.toml"
    path.write_text('format = 1\ndate = "2026-05-01"\n[[recorded]]\nfile = "log.csv"\n', encoding="utf-8")
    revisions = []
    for speed in (20, 20, 21):
        (tmp_path / "log.csv").write_text(f"time_s,speed_m_s\n0,{speed}\n", encoding="utf-8")
        (entered,) = add_flights(tmp_path, tmp_path / "p.toml", tmp_path / "p.plan.toml", [path])
        revisions.append(entered.row.revision)
    assert revisions == [1, 1, 2]
    with Logbook(tmp_path) as book:
        rows = book.history(entered.row.token)
        assert rows[0].originals != rows[1].originals
        assert replace(rows[0], revision=2, originals=rows[1].originals, at=rows[1].at) == rows[1]
