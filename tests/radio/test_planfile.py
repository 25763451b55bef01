"""Plan files: round trip, every fault, spoiled files."""

from __future__ import annotations

import math
import random
import tomllib
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import EditedFileError, FileFaults
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.corner_setup import SHIFT_MEANS, CornerSetup
from evenfall.radio.phasefile import corner_data, phase_data
from evenfall.radio.phases import PHASE_KINDS, Phase
from evenfall.radio.plan import ARRANGEMENTS, Crow, MotorChoice, Plan, Throws, plane_phases, present_plan, wing_signs
from evenfall.radio.planfile import (
    is_edited,
    load_plan,
    parse_plan,
    plan_data,
    plan_text,
    write_plan,
)


def assert_same(read: Plan, plan: Plan) -> None:
    assert (read.plane_name, read.computed_from, read.motor.level) == (
        plan.plane_name,
        plan.computed_from,
        plan.motor.level,
    )
    assert [v for p in read.motor.throttle_curve for v in p] == pytest.approx(
        [v for p in plan.motor.throttle_curve for v in p], abs=5.1e-4
    )
    assert_alike(read.phases, plan.phases, digits={"_exponential": 5.1e-4, "boost": 5.1e-4})
    assert_alike(
        tuple(read.corners.values()),
        tuple(plan.corners.values()),
        digits={"hole": 5.1e-6, "shift": 5.1e-8, "pulse": 5.1e-8},
    )
    if plan.crow is None or read.crow is None:
        assert read.crow is plan.crow
        return
    assert read.crow.arrangement == plan.crow.arrangement
    assert read.crow.upper == pytest.approx(plan.crow.upper, abs=math.radians(0.0051))
    assert read.crow.lower == pytest.approx(plan.crow.lower, abs=math.radians(0.0051))
    assert read.crow.threshold == pytest.approx(plan.crow.threshold, abs=5.1e-4)
    assert read.crow.elevator_share == pytest.approx(plan.crow.elevator_share, abs=5.1e-5)
    assert [v for p in read.crow.curve for v in p] == pytest.approx([v for p in plan.crow.curve for v in p], abs=5.1e-4)


def assert_alike(read: tuple[object, ...], given: tuple[object, ...], *, digits: dict[str, float]) -> None:
    """Numbers within the digits written (.01 degree where nothing else is said), all else equal."""
    assert len(read) == len(given)
    for new, old in zip(read, given, strict=True):
        assert type(new) is type(old)
        for item in fields(old):  # type: ignore[arg-type]
            value, was = getattr(new, item.name), getattr(old, item.name)
            if isinstance(was, float):
                step = next((size for word, size in digits.items() if word in item.name), math.radians(0.0051))
                assert value == pytest.approx(was, abs=step), item.name
            else:
                assert value == was, item.name


texts = st.text(st.characters(exclude_categories=("C", "Z"), exclude_characters=""), min_size=1, max_size=40)


@st.composite
def phases(draw: st.DrawFn) -> tuple[Phase, ...]:
    names = draw(st.lists(texts, min_size=1, max_size=6, unique=True))
    kinds = ["normal", *draw(st.lists(st.sampled_from(PHASE_KINDS), min_size=len(names) - 1, max_size=len(names) - 1))]
    share = st.floats(0, 1)
    return tuple(
        Phase(
            name=name,
            kind=kind,  # type: ignore[arg-type]
            crow_live=draw(st.booleans()),
            aileron=math.radians(draw(st.floats(0.1, 60))),
            elevator=math.radians(draw(st.floats(0, 30))),
            rudder=math.radians(draw(st.floats(0, 35))),
            aileron_exponential=draw(share),
            elevator_exponential=draw(share),
            rudder_exponential=draw(share),
            roll_boost=draw(st.floats(-0.5, 1)),
        )
        for name, kind in zip(names, kinds, strict=True)
    )


@st.composite
def corner_setups(draw: st.DrawFn, name: str) -> CornerSetup:
    means = draw(st.sampled_from(SHIFT_MEANS))
    pulse = st.floats(0.8e-3, 2.2e-3)
    turn = st.floats(0, 1.5)
    return CornerSetup(
        corner=name,
        arm_hole=draw(st.sampled_from([8e-3, 9e-3, 11.5e-3])),
        horn_hole=draw(st.sampled_from([14e-3, 17e-3, 20e-3])),
        teeth=draw(st.integers(-5, 5)),
        arm=draw(st.integers(0, 3)),
        turned_over=draw(st.booleans()),
        offset=draw(st.floats(-1.5, 1.5)),
        shift=0.0 if means == "none" else draw(st.floats(-4e-4, 4e-4)),
        shift_means=means,
        pulse_neutral=draw(pulse),
        pulse_deployed=draw(pulse),
        normal_turn=draw(turn),
        snap_turn=draw(turn),
    )


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    arrangement = draw(st.sampled_from(ARRANGEMENTS))
    up, low = wing_signs(arrangement)
    threshold = draw(st.integers(200, 900)) / 1000
    middle = draw(st.integers(1, 199)) / 1000
    crow = Crow(
        arrangement=arrangement,
        upper=up * math.radians(draw(st.floats(0, 30))),
        lower=low * math.radians(draw(st.floats(0, 30))),
        threshold=threshold,
        curve=((0.0, 1.0), (middle, draw(st.floats(0, 1))), (threshold, 0.0), (1.0, 0.0)),
        elevator_share=draw(st.floats(-3, 3)),
    )
    command = sorted(draw(st.lists(st.floats(0, 1), min_size=3, max_size=3)))
    percent = draw(st.sampled_from([0.0, 25.0, 50.0, 75.0, 100.0]))
    return Plan(
        plane_name=draw(texts),
        crow=draw(st.sampled_from([crow, None])),
        motor=MotorChoice(
            level=f"{percent:g}", percent=percent, throttle_curve=tuple(zip((0.0, 0.5, 1.0), command, strict=True))
        ),
        phases=draw(phases()),
        corners={
            name: draw(corner_setups(name))
            for name in draw(st.sets(st.sampled_from(CORNERS)).map(lambda some: [n for n in CORNERS if n in some]))
        },
        computed_from=draw(st.dictionaries(texts, texts, max_size=3)),
    )


@pytest.mark.property
@given(plans())
def test_round_trip_within_the_digits_written(tmp_path: Path, biplane: Plane, plan: Plan) -> None:
    path = tmp_path / "x.plan.toml"
    path.unlink(missing_ok=True)
    assert write_plan(plan, path) is None
    read = load_plan(path, biplane)
    assert_same(read, plan)
    assert plan_text(read) == path.read_text(encoding="utf-8")
    assert not is_edited(path.read_text(encoding="utf-8"))


def test_plan_data_is_unrounded_in_the_units_of_the_file(plan: Plan) -> None:
    data = plan_data(plan)
    assert set(data) == {"crow", "motor", "phases", "corners"}
    assert data["crow"]["upper_deg"] == pytest.approx(14.5, rel=1e-12)
    assert data["crow"]["threshold_percent"] == 45.0
    assert data["motor"] == {"level": "25", "brake_percent": 25.0, "throttle_curve": [(0.0, 0.0), (100.0, 100.0)]}
    assert plan_data(replace(plan, crow=None))["crow"] is None


def test_data_of_phases_and_corners_has_the_keys_and_values_of_the_file(plan: Plan) -> None:
    written = tomllib.loads(plan_text(plan))
    for phase in plan.phases:
        data = phase_data(phase)
        assert data.pop("name") == phase.name
        there = written["phase"][phase.name]
        assert set(data) == set(there)
        for key, value in data.items():
            assert value == (pytest.approx(there[key], abs=0.051) if isinstance(value, float) else there[key]), key
    data = corner_data(plan.corners["upper_left"])
    assert data.pop("corner") == "upper_left"
    assert data.pop("words") == plan.corners["upper_left"].words
    there = written["corner"]["upper_left"]
    assert set(data) == set(there)
    for key, value in data.items():
        assert value == (pytest.approx(there[key], abs=0.0051) if isinstance(value, float) else there[key]), key


FAULTS = [
    ("format = 1", "format = 2", "format", "is 2; this Evenfall reads plan files of format 1"),
    ("format = 1", 'format = "1"', "format", "must be a whole number"),
    ("format = 1\n", "", "format", "is missing"),
    ("plane = ", "plain = ", "plain", "did you mean `plane`?"),
    ('arrangement = "down/up"', 'arrangement = "down/dup"', "crow.arrangement", 'did you mean "down/up"?'),
    ('arrangement = "down/up"', 'arrangement = "up/down"', "crow.upper_deg", 'is 14.5, but "up/down" asks for -14.5'),
    ("upper_deg = 14.5", "upper_deg = 46", "crow.upper_deg", "is 46; allowed is -45 to 45"),
    ("upper_deg = 14.5", "upper_deg = 41", "crow.upper_deg", "is 41, but the hinges of the upper wing allow"),
    ("upper_deg = 14.5", "", "crow.upper_deg", "is missing"),
    ("lower_deg = -14.5", "lower_deg = nan", "crow.lower_deg", "must be a finite number"),
    ("threshold_percent = 45", "threshold_percent = 101", "crow.threshold_percent", "allowed is 0 to 100"),
    ("threshold_percent = 45", "threshold_percent = 40", "crow.threshold_percent", "deployment ends at 45"),
    ("[25, 40]", "[25, 140]", "crow.curve", "between 0 and 100 percent"),
    ("[25, 40]", "[5, 40]", "crow.curve", "must rise from point to point"),
    ("[25, 40]", "[25, 40], [30, 60]", "crow.curve", "must never rise with the stick"),
    ("[25, 40]", "[25]", "crow.curve", "is no list of points; write [[0, 100], [45, 0], [100, 0]]"),
    ("[25, 40]", '[25, "x"]', "crow.curve", "must be a number"),
    ("elevator_share = -0.021", "elevator_share = 9", "crow.elevator_share", "allowed is -3 to 3"),
    ('level = "25"', 'level = "26"', "motor.level", 'must be one of "0", "25"'),
    ("brake_percent = 25", "brake_percent = 30", "motor.brake_percent", 'level "25" of this plane is 25; change level'),
    ("[[0, 0], [100, 100]]", "[[0, 50], [100, 20]]", "motor.throttle_curve", "must never fall with the stick"),
    ("[[0, 0], [100, 100]]", "[[0, 0]]", "motor.throttle_curve", "needs at least two points"),
    ("[motor]", "[moter]", "motor", "is missing"),
    ("[phase.normal]", "[throws]\nnormal_deg = 0\nsnap_deg = 3\n[phase.normal]", "throws.normal_deg", "0.1 to 45"),
    ("[phase.normal]", "[throws]\nnormal_deg = 7\n[phase.normal]", "throws.snap_deg", "is missing"),
    ("[phase.normal]", "[throws]\nnormal_deg = 7\nsnap_deg = 16\n[phase.normal]", "throws", "remove this table"),
    ('kind = "normal"', 'kind = "other"', "phase", 'a plan needs a phase of kind "normal"'),
    ('kind = "snap"', 'kind = "snaps"', "phase.snap.kind", 'did you mean "snap"?'),
    ("crow_live = true", "crow_live = 1", "phase.normal.crow_live", "must be true or false"),
    ("crow_live = true\n", "", "phase.normal.crow_live", "is missing"),
    ("aileron_deg = 16.5", "aileron_deg = 16,5", "aileron_deg", "has a decimal comma; write 16.5"),
    ("aileron_deg = 16.5", "aileron_deg = 0", "phase.snap.aileron_deg", "allowed is 0.1 to 60"),
    ("aileron_deg = 16.5", "ailerons_deg = 16.5", "phase.snap.ailerons_deg", "did you mean `aileron_deg`?"),
    (
        "elevator_deg = 24",
        "elevator_deg = 31",
        "phase.snap.elevator_deg",
        "the elevator of this plane moves 30 at most",
    ),
    ("rudder_deg = 35", "rudder_deg = 36", "phase.snap.rudder_deg", "the rudder of this plane moves 35 at most"),
    (
        "aileron_exponential_percent = 30",
        "aileron_exponential_percent = 130",
        "phase.take-off.aileron_exponential_percent",
        "allowed is 0 to 100",
    ),
    (
        "roll_boost_percent = 0",
        "roll_boost_percent = -60",
        "phase.take-off.roll_boost_percent",
        "allowed is -50 to 100",
    ),
    ("[phase.snap]", '[phase."x\\ny"]', "phase.x\ny", "1 to 40 printable characters"),
    (
        "[corner.upper_left]",
        "[corner.uper_left]",
        "corner.uper_left",
        "there is no such aileron; this plane has upper_left",
    ),
    ("arm_hole_mm = 11.5", "arm_hole_mm = 12", "corner.upper_left.arm_hole_mm", "holes at 8, 9, 10, 11.5, 13 mm"),
    ("teeth = 1", "teeth = 1.5", "corner.upper_left.teeth", "must be a whole number from -60 to 60"),
    ('shift_by = "radio"', 'shift_by = "none"', "corner.upper_left.shift_us", "nothing shifts the pulse; write 0"),
    (
        'shift_by = "radio"',
        'shift_by = "clock"',
        "corner.upper_left.shift_by",
        'must be one of "radio", "servo", "none"',
    ),
    ("pulse_neutral_us = 1464", "pulse_neutral_us = 0", "corner.upper_left.pulse_neutral_us", "allowed is 300 to 3000"),
    ("offset_deg = 18", "offset_deg = 90", "corner.upper_left.offset_deg", "allowed is -89 to 89"),
    ("snap_turn_deg = 40", "", "corner.upper_left.snap_turn_deg", "is missing"),
    ('"evenfall" = "0.1.0"', '"evenfall" = 1', "computed_from.evenfall", "must be a text"),
    ("written = ", "wrote = ", "seal.wrote", "did you mean `written`?"),
]


@pytest.mark.documents
@pytest.mark.parametrize(("old", "new", "where", "words"), FAULTS)
def test_every_fault_names_its_key_and_line(
    tmp_path: Path, biplane: Plane, plan: Plan, old: str, new: str, where: str, words: str
) -> None:
    text = plan_text(plan)
    assert old in text
    path = tmp_path / "x.plan.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        load_plan(path, biplane)
    found = [fault for fault in caught.value.faults if fault.where == where]
    assert found, caught.value
    assert words in found[0].message
    if found[0].line is not None and new and "missing" not in words and where.endswith(old.split(" =")[0]):
        assert new.split("\n")[0] in path.read_text(encoding="utf-8").split("\n")[found[0].line - 1]


def test_all_faults_at_once(tmp_path: Path, biplane: Plane, plan: Plan) -> None:
    text = (
        plan_text(plan).replace("= 14.5", "= 50").replace("aileron_deg = 7", "aileron_deg = 0").replace('"25"', '"9"')
    )
    (tmp_path / "x.toml").write_text(text, encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        load_plan(tmp_path / "x.toml", biplane)
    assert {"crow.upper_deg", "phase.normal.aileron_deg", "motor.level"} <= {
        fault.where for fault in caught.value.faults
    }


def test_what_the_plane_cannot_fly_is_refused(tmp_path: Path, plan: Plan) -> None:
    mono = load_plane(demo_path("monoplane_160")).plane
    path = tmp_path / "x.toml"
    path.write_text(plan_text(plan), encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        load_plan(path, mono)
    messages = {fault.where: fault.message for fault in caught.value.faults}
    assert "this plane can fly both up, both down" in messages["crow.arrangement"]
    assert "the lower wing has no ailerons; write 0" in messages["crow.lower_deg"]
    bare = replace(mono, upper=replace(mono.upper, aileron=None))  # type: ignore[type-var]
    with pytest.raises(FileFaults, match="no crow"):
        load_plan(path, bare)


def test_crow_and_throws_may_be_left_out(tmp_path: Path, biplane: Plane) -> None:
    path = tmp_path / "x.toml"
    path.write_text(
        'format = 1\nplane = "x"\n[motor]\nlevel = "50"\nthrottle_curve = [[0, 0], [100, 100]]\n', encoding="utf-8"
    )
    read = load_plan(path, biplane)
    assert read.crow is None
    assert read.throws == Throws()
    assert read.motor.percent == 50.0


def test_a_plan_file_from_before_phases_keeps_its_throws(tmp_path: Path, biplane: Plane) -> None:
    path = tmp_path / "x.toml"
    path.write_text(
        'format = 1\nplane = "x"\n[motor]\nlevel = "50"\nthrottle_curve = [[0, 0], [100, 100]]\n'
        "[throws]\nnormal_deg = 8\nsnap_deg = 15\n",
        encoding="utf-8",
    )
    read = load_plan(path, biplane)
    throws = Throws(normal=math.radians(8), snap=math.radians(15))
    assert read.throws == throws
    assert read.phases == plane_phases(biplane, throws)
    assert [phase.name for phase in read.phases if not phase.crow_live] == ["take-off", "landing"]
    assert read.corners == {}


@pytest.mark.documents
def test_the_file_says_why_crow_is_off_for_landing(plan: Plan) -> None:
    text = plan_text(plan)
    assert "Crow is off in landing" in text
    assert "The motor brake acts all the same" in " ".join(text.replace("\n#", "").split())
    assert "Crow is off" not in plan_text(replace(plan, crow=None))


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "the file is empty"),
        (b"\xff\xfe\x00\x01" * 50, "UTF-16"),
        (b"x" * 1_100_000, "plan file"),
        (b"\x00\x01\x02", "plan file"),
    ],
)
def test_unreadable_bytes_are_refused_in_words(tmp_path: Path, biplane: Plane, raw: bytes, words: str) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(raw)
    with pytest.raises(FileFaults, match=words):
        load_plan(path, biplane)
    with pytest.raises(EditedFileError):
        write_plan(present_plan(biplane), path)
    assert path.read_bytes() == raw


def test_missing_file_and_directory_are_refused(tmp_path: Path, biplane: Plane) -> None:
    with pytest.raises(FileFaults, match=r"no such file|not exist"):
        load_plan(tmp_path / "nothing.toml", biplane)
    with pytest.raises(FileFaults, match="directory"):
        load_plan(tmp_path, biplane)


# --- spoiled files ----------------------------------------------------------------------------------------------------

VALUES = (
    '"twelve"', '"22,5"', "-1", "0", "1e9", "1e308", "nan", "inf", "-inf", "true", "[]", "{}", "[1, 2]", '""',
    "9" * 400, "1979-05-27", "22,5", "[[0, 100], [100, 0]]", "[[0, 0], [50, nan], [100, 100]]", "[[0], [1]]",
    "[[true, 1], [2, 3]]",
    '"\\u0000"', "{ value = 1 }", "07", "1e-320", "[[[0, 1]]]", '[["0", "1"], [1, 1]]',
)  # fmt: skip


def spoil(text: str, rng: random.Random) -> bytes:
    """One spoiled plan file."""
    rows = text.split("\n")
    keys = [index for index, row in enumerate(rows) if "=" in row and not row.startswith("#")]
    place = rng.choice(keys)
    key, _, rest = rows[place].partition("=")
    way = rng.choice(
        ["delete", "duplicate", "value", "value", "value", "typo", "table", "cut", "bytes", "swap", "move"]
    )
    if way == "delete":
        for index in sorted(rng.sample(keys, rng.choice([1, 1, 3])), reverse=True):
            del rows[index]
    elif way == "duplicate":
        rows.insert(rng.randrange(len(rows)), rows[place])
    elif way == "value":
        rows[place] = f"{key}= {rng.choice(VALUES)}"
    elif way == "typo":
        spot = rng.randrange(len(key))
        rows[place] = f"{key[:spot]}{rng.choice('xq_.Z ')}{key[spot + 1 :]}={rest}"
    elif way == "table":
        heads = [index for index, row in enumerate(rows) if row.startswith("[")]
        rows[rng.choice(heads)] = rng.choice(
            [
                "[crow]",
                "[[crow]]",
                "[x.y]",
                "",
                "[motor]",
                "[seal",
                "crow = 3",
                "[phase]",
                "[phase.x]",
                "[[corner]]",
                "[corner.lower_left]",
            ]
        )
    elif way == "cut":
        return text.encode()[: rng.randrange(len(text))]
    elif way == "bytes":
        raw = bytearray(text.encode())
        for _ in range(rng.choice([1, 3, 40])):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        return bytes(raw)
    elif way == "swap":
        other = rng.choice(keys)
        other_key = rows[other].partition("=")[0]
        rows[place], rows[other] = f"{other_key}={rest}", f"{key}={rows[other].partition('=')[2]}"
    else:
        rows.insert(rng.randrange(len(rows)), rows.pop(place))
    return "\n".join(rows).encode()


@pytest.mark.property
@pytest.mark.parametrize("batch", range(0, 300, 50))
def test_spoiled_plans_are_refused_or_can_be_flown(tmp_path: Path, biplane: Plane, plan: Plan, batch: int) -> None:
    refused = 0
    for seed in range(batch, batch + 50):
        path = tmp_path / f"{seed}.toml"
        path.write_bytes(spoil(plan_text(plan), random.Random(seed)))
        try:
            read = load_plan(path, biplane)
        except FileFaults as error:
            refused += 1
            assert error.faults
            assert all(fault.message.strip() and len(fault.message) < 500 for fault in error.faults), seed
            continue
        # What was read can be written again and means the same.
        again = tmp_path / "again.toml"
        again.write_text(plan_text(read), encoding="utf-8")
        assert_same(load_plan(again, biplane), read)
        numbers = plan_data(read)
        assert "nan" not in str(numbers), seed
        assert "inf" not in str(numbers), seed
    assert refused > 15


def test_a_text_reads_as_its_file(tmp_path: Path, biplane: Plane, plan: Plan) -> None:
    (tmp_path / "a.plan.toml").write_text(plan_text(plan), encoding="utf-8")
    assert parse_plan(plan_text(plan), biplane) == load_plan(tmp_path / "a.plan.toml", biplane)
    with pytest.raises(FileFaults, match="mine: 1 fault"):
        parse_plan(plan_text(plan).replace("format = 1", "format = 9"), biplane, path="mine")
