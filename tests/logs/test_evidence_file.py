"""Flight files: every kind with its doubt, faults all at once, forms and files alike, mutations without traceback."""

from __future__ import annotations

import json
import math
import random
import re
from pathlib import Path
from typing import Any

import pytest

from evenfall.errors import EvenfallError, FileFaults
from evenfall.logs.evidence_entries import (
    Clicked,
    DampingSeen,
    HeadingSeen,
    Held,
    PullSeen,
    Recorded,
    Rolls,
    ShaftSeen,
    Sound,
    Steady,
    Timed,
    Trim,
    ViewMarkers,
)
from evenfall.logs.evidence_file import flight_text, load_flight, read_flight, read_flight_document, template_text

DEG = math.radians(1)
FULL = """format = 1
date = 2026-05-17
place = "north field"
notes = "two lines"
signs = ["faster than predicted"]
[air]
temperature_f = 64.4
pressure_hpa = 1003
wind_km_h = 10.8
[battery]
before_v = 25.1
used_mah = 1900
[[recorded]]
file = "flight.csv"
columns = { "GAlt" = "height ft", "Extra" = "nothing" }
[[recorded.line]]
from_s = 61.0
to_s = 66.5
crow = false
[[timed]]
seconds = { value = 4.6, spread = 0.2 }
from_height_m = 150
to_height_m = 50
skipped_m = 10
entry_speed_km_h = 72
[[timed]]
line = "45 down"
seconds = 5
by = "video"
frame_s = 0.04
length_ft = 328.084
settled = false
[[timed]]
seconds = 4
from_elevation_deg = 60
to_elevation_deg = 25
distance_m = 90
gusts = "calm"
[[clicked]]
file = "line.mp4"
width_px = 1920
height_px = 1080
distance_m = 90
horizon_y_px = 1350
markers_px = [312, 700, 1544, 702]
markers_apart_m = 60
markers_distance_m = 70
clicks = [[0.0, 960, 100], [0.12, 960, 131], [0.24, 961, 164], [0.36, 960, 199], [0.48, 962, 235]]
[[sound]]
file = "down.wav"
what = "line"
speed_m_s = 22
from_s = 2
to_s = 6
[[sound]]
file = "disc.wav"
what = "spin-down"
level = "medium"
disc_inertia_g_cm2 = 300
marks = 4
[[rolls]]
rolls = 4
seconds = 3.2
[[pull]]
towards = "belly"
bent_deg = 10
over_m = 100
[[pull]]
towards = "canopy"
off_m = 3
over_m = 60
inverted = true
[[heading]]
yawed_deg = -8
[[held]]
line = "45 down"
stick_percent = 12
[[steady]]
stick_percent = 55
there_m_s = 25
back_m_s = 19
[[shaft]]
line = "level"
stick_percent = 55
shaft_rpm = 7200
[[damping]]
level = "medium"
shaft_rpm = 3000
torque_mN_m = 25
[[trim]]
elevator_percent = 2
"""


def read(text: str) -> Any:
    return read_flight("format = 1\n" + text, path="x.flight.toml")


def faults(text: str) -> list[str]:
    with pytest.raises(FileFaults) as caught:
        read(text)
    return [f"{fault.line}:{fault.where}: {fault.message}" for fault in caught.value.faults]


def test_every_kind_is_read_in_si() -> None:
    flight = read_flight(FULL, path="x.flight.toml")
    assert flight.date == "2026-05-17"
    assert flight.signs == ("faster than predicted",)
    assert flight.air.temperature == pytest.approx(291.15)
    assert flight.air.wind is not None
    assert flight.air.wind.value == pytest.approx(3.0)
    assert flight.battery.used == pytest.approx(1900 * 3.6)
    assert flight.files == ("flight.csv", "line.mp4", "down.wav", "disc.wav")
    (recorded,) = flight.of(Recorded)
    assert recorded.columns == (("GAlt", "height ft"), ("Extra", "nothing"))
    assert (recorded.parts[0].start, recorded.parts[0].end, recorded.parts[0].flown.crow) == (61.0, 66.5, False)
    one, two, three = flight.of(Timed)
    assert (one.length.value, one.took.sigma) == (100.0, 0.2)
    assert one.length.sigma == pytest.approx(5 * math.sqrt(2))
    assert one.entry is not None
    assert (one.entry.value, one.entry.sigma) == (pytest.approx(20.0), pytest.approx(3.0))
    assert (one.skipped, one.settled, one.flown.slope) == (10.0, True, -math.pi / 2)
    assert (two.took.sigma, two.settled, two.flown.line) == (0.04, False, "45 down")
    assert two.length.value == pytest.approx(100.0, abs=1e-3)
    assert three.length.value == pytest.approx(113.917, abs=1e-3)
    assert three.took.sigma == 0.3
    assert three.flown.gust == 0.2
    (clicked,) = flight.of(Clicked)
    assert isinstance(clicked.view, ViewMarkers)
    assert clicked.clicks[1] == (0.12, 960.0, 131.0)
    line, disc = flight.of(Sound)
    assert line.part == (2.0, 6.0)
    assert disc.inertia is not None
    assert disc.inertia.value == pytest.approx(3e-5)
    assert (disc.marks, disc.flown.level) == (4, "medium")
    (rolls,) = flight.of(Rolls)
    assert (rolls.rolls, rolls.took.value, rolls.took.sigma, rolls.phase) == (4.0, 3.2, 0.3, "normal")
    (held,) = flight.of(Held)
    assert (held.stick.value, held.stick.sigma) == (pytest.approx(0.12), 0.03)
    (steady,) = flight.of(Steady)
    assert (steady.speed.value, steady.flown.line, steady.flown.stick) == (22.0, "level", pytest.approx(0.55))
    (shaft,) = flight.of(ShaftSeen)
    assert shaft.omega.value == pytest.approx(7200 * math.pi / 30)
    (damping,) = flight.of(DampingSeen)
    assert (damping.torque.value, damping.torque.sigma) == (pytest.approx(0.025), pytest.approx(0.0025))
    (heading,) = flight.of(HeadingSeen)
    assert heading.yawed is not None
    assert heading.yawed.value == pytest.approx(-8 * DEG)
    (trim,) = flight.of(Trim)
    assert trim.share is not None
    assert trim.share.value == pytest.approx(0.02)


def test_a_pull_becomes_a_rate() -> None:
    # 10 degrees over 100 m at 20 m/s: 5 s, 2 deg/s. 3 m off over 60 m: radius 60^2/6 = 600 m, 20/600 rad/s.
    degrees, metres = read_flight(FULL, path="x").of(PullSeen)
    assert degrees.bend(20.0).value == pytest.approx(-2 * DEG)
    assert metres.bend(20.0).value == pytest.approx(20 / 600)
    assert metres.bend(20.0).sigma == pytest.approx(1.5 * 2 * 20 / 3600)
    (straight,) = read('[[pull]]\ntowards = "none"\nover_m = 100').of(PullSeen)
    assert straight.bend(20.0).value == 0.0
    assert straight.bend(20.0).sigma > 0


def test_speed_timed_both_ways_takes_the_wind_out() -> None:
    # 100 m in 4 s and in 5 s: 25 and 20 m/s, 22.5 through the air. Thumb: half of hypot(25*.3/4, 20*.3/5) = 1.113.
    text = "[[steady]]\nstick_percent = 50\nlength_m = { value = 100, spread = 0 }\nthere_s = 4\nback_s = 5"
    (steady,) = read(text).of(Steady)
    assert steady.speed.value == pytest.approx(22.5)
    assert steady.speed.sigma == pytest.approx(0.5 * math.hypot(25 * 0.3 / 4, 20 * 0.3 / 5))


def test_what_is_written_reads_back_the_same() -> None:
    flight = read_flight(FULL, path="x.flight.toml")
    again = read_flight(flight_text(flight), path="x.flight.toml")
    assert again.entries == flight.entries
    assert (again.air, again.battery, again.date, again.notes) == (
        flight.air,
        flight.battery,
        flight.date,
        flight.notes,
    )
    awkward = {"format": 1, "notes": 'line\n"quoted" \\ ü', "recorded": [{"file": "a b.csv", "columns": {"x y": "x"}}]}
    back = read_flight(flight_text(awkward), path="x")
    assert back.notes == awkward["notes"]
    assert back.of(Recorded)[0].columns == (("x y", "x"),)


def test_a_form_is_read_like_the_file() -> None:
    flight = read_flight(FULL, path="x.flight.toml")
    document = json.loads(json.dumps(dict(flight.document)))
    document["place"] = None
    document["clicked"][0]["clicks"] = [
        {"t_s": t, "x_px": x, "y_px": y} for t, x, y in document["clicked"][0]["clicks"]
    ]
    form = read_flight_document(document, name="form")
    assert form.entries == flight.entries
    assert form.place == ""


def test_the_form_of_the_page_is_taken() -> None:
    from evenfall.sheet.flight_form import FlightForm

    form = FlightForm.model_validate(
        {
            "date": "2026-05-17",
            "timed": [{"seconds": 4.5, "length_m": 100}],
            "clicked": [
                {
                    "file": "line.mp4",
                    "width_px": 1920,
                    "height_px": 1080,
                    "distance_m": 90,
                    "field_of_view_deg": 60,
                    "horizon_y_px": 1300,
                    "clicks": [{"t_s": 0.1 * k, "x_px": 900, "y_px": 100 + 30 * k} for k in range(8)],
                }
            ],
            "recorded": [{"file": "a.csv", "columns": {"Alt": "height"}, "line": [{"from_s": 1, "to_s": 5}]}],
            "rolls": [{"rolls": 3, "seconds": 3}],
            "pull": [{"towards": "none"}, {"towards": "belly", "bent_deg": 5, "over_m": 80}],
            "heading": [{"yawed_deg": 3}],
            "held": [{"stick_percent": 12}],
            "steady": [{"line": "level", "stick_percent": 50, "speed_m_s": 22}],
            "shaft": [{"shaft_rpm": 5000}],
            "sound": [{"file": "a.wav", "what": "pass", "line": "level", "stick_percent": 50}],
            "trim": [{"elevator_percent": -1}],
        }
    )
    flight = read_flight_document(form.document(), name="form")
    assert len(flight.entries) == 12


def test_template_is_a_flight_file_and_every_entry_in_it_can_be_used() -> None:
    assert read_flight(template_text(), path="x").entries == ()
    text = re.sub(r"^# (?=(\[\[|[a-zA-Z_0-9]+ = ))", "", template_text(), flags=re.M)
    ways = "from_height_m|to_height_m|from_elevation_deg|to_elevation_deg|distance_m = 90  +# or|span_px|span_m"
    kept = []
    for row in text.splitlines():
        other = re.match(rf"({ways}|markers_)", row) or ("distance_m = 90" in row and "+- 5" in row)
        kept.append(f"# {row}" if other else row)
    text = "\n".join(kept).replace("# distance_m = 90               # on the", "distance_m = 90  # on the")
    flight = read_flight(text, path="x")
    assert len({type(entry) for entry in flight.entries}) == 12


def test_faults_come_all_at_once_with_line_key_and_nearest_key() -> None:
    found = faults(
        '[[timed]]\nsecond = 4\nlength_m = 100\n[[timed]]\nseconds = "4,5"\nlenght_m = 3\n'
        '[[held]]\nline = "sideways"\nstick_percent = 120\n[[nonsense]]\nx = 1\n'
    )
    text = "\n".join(found)
    assert "3:timed.0.second: is not known in [timed.0]; did you mean `seconds`?" in text
    assert "timed.0.seconds: is missing" in text
    assert 'must be a number, not "4,5"; write it without quotes' in text
    assert "7:timed.1.lenght_m" in text
    assert "`length_m`" in text
    assert 'held.0.line: must be one of "vertical down"' in text
    assert "held.0.stick_percent: is 120 %; allowed is 0 to 100 %" in text
    assert "nonsense: is not known" in text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[timed]]\nseconds = 4", "length_m: is missing"),
        ("[[timed]]\nseconds = 4\nlength_m = 50\nfrom_height_m = 9\nto_height_m = 3", "keep one"),
        ("[[timed]]\nseconds = 4\nfrom_height_m = 50\nto_height_m = 150", "this line goes down"),
        ('[[timed]]\nseconds = 4\nline = "level"\nlength_m = 50', "stick_percent: is missing"),
        (
            '[[timed]]\nseconds = 4\nline = "level"\nstick_percent = 5\nfrom_height_m = 50\nto_height_m = 20',
            "write length_m",
        ),
        ("[[timed]]\nseconds = 4\nfrom_elevation_deg = 60\nto_elevation_deg = 20", "distance_m: is missing"),
        (
            '[[timed]]\nline = "45 down"\nseconds = 4\nfrom_elevation_deg = 60\nto_elevation_deg = 20\ndistance_m = 80',
            "from_azimuth_deg: is missing",
        ),
        ("[[timed]]\nseconds = 1\nlength_m = 400", "400.0 m/s"),
        ("[[timed]]\nseconds = { value = 4, spread = 0 }\nlength_m = 100", "spread of 0"),
        ("[[timed]]\nseconds = { value = 4, sprad = 1 }\nlength_m = 100", "did you mean `spread`"),
        ('[[recorded]]\nfile = "../secret.csv"', "bare name"),
        ("[[recorded]]", "file: is missing"),
        ('[[recorded]]\nfile = "a.csv"\ncolumns = { "A" = "hight" }', "did you mean height"),
        ('[[recorded]]\nfile = "a.csv"\n[[recorded.line]]\nfrom_s = 9\nto_s = 5', "not after"),
        ('[[clicked]]\nfile = "a"\nwidth_px = 100\nheight_px = 100\nclicks = []', "5 to 2000 clicks"),
        ('[[clicked]]\nfile = "a"\nclicks = [[0,0,0],[1,1,1],[1,1,1],[2,2,2],[3,3,3]]', "click 3 is not later"),
        ('[[clicked]]\nfile = "a"\nfield_of_view_deg = 60\nspan_px = 20', "keep one"),
        ('[[sound]]\nfile = "a.wav"\nwhat = "pass"', "stick_percent: is missing"),
        ('[[sound]]\nfile = "a.wav"\nwhat = "pass"\nat_s = 3', 'what = "line" only'),
        ('[[pull]]\ntowards = "canopy"\nbent_deg = 5', "over_m: is missing"),
        ('[[pull]]\ntowards = "canopy"', "is missing of turning_deg_s"),
        ("[[steady]]\nstick_percent = 50\nthere_m_s = 20", "both needed"),
        ("[[held]]", "stick_percent: is missing"),
        ("[[trim]]\nelevator_deg = 1\nelevator_percent = 1", "one of them"),
        ('date = "yesterday"', "must be a date"),
        ("[air]\npressure_hpa = 30", "allowed is 400 to 1100 hPa"),
        ("[[damping]]\nshaft_rpm = 3000\ntorque_mN_m = 1", "level: is missing"),
    ],
)
def test_what_cannot_be_used_is_said(text: str, words: str) -> None:
    assert words in "\n".join(faults(text))


def test_no_file_and_empty_file_are_explained(tmp_path: Path) -> None:
    with pytest.raises(FileFaults, match="no such file"):
        load_flight(tmp_path / "none.flight.toml")
    (tmp_path / "empty.flight.toml").write_text("")
    with pytest.raises(FileFaults, match="empty"):
        load_flight(tmp_path / "empty.flight.toml")


ODD = (
    '""', "-1", "1e400", "nan", "inf", "true", "[]", "{}", "[[1]]", '"x"', "1979-05-27", "0", "99999999999999999999",
    '{ value = "x" }', "[1, 2, 3]", "{ value = 1, spread = -1 }", "-0.0", "1e-320",
)  # fmt: skip


@pytest.mark.property
def test_mutated_files_give_faults_and_no_traceback() -> None:
    rng = random.Random(11)
    rows = FULL.splitlines()
    refused = 0
    for _ in range(300):
        made = list(rows)
        for _ in range(rng.randint(1, 4)):
            k = rng.randrange(len(made))
            act = rng.randrange(6)
            if act == 0:
                del made[k]
            elif act == 1:
                made.insert(k, made[rng.randrange(len(made))])
            elif act == 2 and "=" in made[k]:
                made[k] = made[k].split("=")[0] + "= " + rng.choice(ODD)
            elif act == 3 and made[k]:
                at = rng.randrange(len(made[k]))
                made[k] = made[k][:at] + rng.choice('"\\[]{}=,.x0-\x00ü') + made[k][at + 1 :]
            elif act == 4:
                made[k] = made[k].swapcase()
            else:
                made = made[: max(k, 1)]
        try:
            flight = read_flight("\n".join(made), path="x.flight.toml")
            read_flight(flight_text(flight), path="x.flight.toml")
        except EvenfallError as error:
            refused += 1
            assert str(error).startswith("x.flight.toml: ")
    assert refused > 150


@pytest.mark.property
def test_mutated_forms_give_faults_and_no_traceback() -> None:
    rng = random.Random(12)
    whole = json.dumps(dict(read_flight(FULL, path="x").document))
    odd: list[Any] = [
        None,
        "",
        "x",
        -1,
        1e308,
        True,
        [],
        {},
        [[]],
        [None],
        {"value": None},
        [[[[[[[[[[1]]]]]]]]]],
        "\ud800",
    ]

    def places(node: Any, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
        keys = list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else []
        return [(*way, key) for key in keys] + [p for key in keys for p in places(node[key], (*way, key))]

    for _ in range(300):
        document = json.loads(whole)
        for _ in range(rng.randint(1, 3)):
            all_places = places(document)
            way = all_places[rng.randrange(len(all_places))]
            node = document
            for key in way[:-1]:
                node = node[key]
            node[way[-1]] = rng.choice(odd)
        try:
            read_flight_document(document, name="form")
        except EvenfallError as error:
            assert str(error).startswith("form: ")
