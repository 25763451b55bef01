"""Radio files: the starter, every fault with its words, 200 spoiled files."""

from __future__ import annotations

import random
from dataclasses import fields, replace
from pathlib import Path

import pytest

from evenfall.errors import FileFaults, ValueRangeError
from evenfall.plane.starter import radio_text, write_starter
from evenfall.radio.radio_description import RadioDescription, load_radio, usual_radio


def test_the_starter_file_is_the_usual_radio(tmp_path: Path) -> None:
    written, _ = write_starter(tmp_path)
    path = tmp_path / "my_radio.toml"
    assert path in written
    assert load_radio(path) == usual_radio()
    radio = usual_radio()
    # Common practice, no source: 1500 us at centre.
    assert radio.pulse_centre == pytest.approx(1.5e-3)
    assert radio.unit == pytest.approx(4e-4)
    assert radio.shift_reach == pytest.approx(3e-4)
    assert radio.curves
    assert replace(radio, centre_shift=False).shift_reach == 0.0
    assert not replace(radio, curve_points=2).curves


def test_what_may_be_left_out(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text(
        'format = 1\nname = "plain"\n[pulse]\ncentre_us = 1520\nfull_us = 1960\nstep_us = 0.5\n'
        "[share]\nlimit_percent = 125\nstep_percent = 0.5\n"
        "[mix]\nfree = 4\ncurve_points = 2\nstraight_sides = 1\nper_phase = false\n[channel]\ncentre_shift = false\n",
        encoding="utf-8",
    )
    radio = load_radio(path)
    assert (radio.name, radio.straight_sides, radio.free_mixes) == ("plain", 1, 4)
    assert radio.pulse_step == pytest.approx(5e-7)
    assert {radio.points_movable, radio.phase_mixes, radio.centre_shift, radio.share_follows} == {False}


@pytest.mark.outside
@pytest.mark.parametrize("unit", [100, 1000])
def test_the_ends_of_what_is_allowed_are_allowed(tmp_path: Path, unit: int) -> None:
    path = tmp_path / "x.toml"
    for centre in range(600, 2000, 13):
        text = radio_text().replace("centre_us = 1500", f"centre_us = {centre}")
        path.write_text(text.replace("full_us = 1900", f"full_us = {centre + unit}"), encoding="utf-8")
        assert load_radio(path).unit == pytest.approx(unit * 1e-6)


FAULTS = [
    ("format = 1", "format = 3", "format", "reads radio files of format 1"),
    ('name = "my radio"', "name = 3", "name", "must be a text"),
    ("centre_us = 1500", "centre_us = 1,5", "centre_us", "decimal comma"),
    ("centre_us = 1500", "centre_us = 1.5", "pulse.centre_us", "allowed is 500 to 2500"),
    ("full_us = 1900", "full_us = 1550", "pulse.full_us", "100 to 1000 us above the centre pulse of 1500"),
    ("full_us = 1900", "full_ms = 1.9", "pulse.full_ms", "did you mean `full_us`?"),
    ("step_us = 1 ", "step_us = 0 ", "pulse.step_us", "allowed is 0.05 to 20"),
    ("[share]", "[shares]", "share", "is missing"),
    ("limit_percent = 150", "limit_percent = 15", "share.limit_percent", "allowed is 50 to 300"),
    ("free = 8", "free = 2.5", "mix.free", "must be a whole number"),
    ("curve_points = 5", "curve_points = 1", "mix.curve_points", "allowed is 2 to 100"),
    ("points_movable = true", "", "mix.points_movable", "is missing"),
    ("points_movable = true", 'points_movable = "yes"', "mix.points_movable", "must be true or false"),
    ("straight_sides = 2", "straight_sides = 3", "mix.straight_sides", "allowed is 1 to 2"),
    ("per_phase = true", "", "mix.per_phase", "is missing"),
    ("centre_shift = true", "", "channel.centre_shift", "is missing"),
    ("centre_shift_limit_percent = 75", "", "channel.centre_shift_limit_percent", "is missing"),
    ("slow_down = false", "slowdown = false", "channel.slowdown", "did you mean `slow_down`?"),
    ("[channel]", "channel = 3\n[other]", "channel", "must be a table"),
]


@pytest.mark.documents
@pytest.mark.parametrize(("old", "new", "where", "words"), FAULTS)
def test_every_fault_names_its_key(tmp_path: Path, old: str, new: str, where: str, words: str) -> None:
    text = radio_text()
    assert old in text
    if new.startswith("channel = 3"):
        text = "channel = 3\n" + text.replace(old, "[other]")
    path = tmp_path / "x.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        load_radio(path)
    found = [fault for fault in caught.value.faults if fault.where == where]
    assert found, caught.value
    assert words in found[0].message


def test_all_faults_at_once(tmp_path: Path) -> None:
    text = radio_text().replace("step_us = 1 ", "step_us = 99 ").replace("free = 8", "free = -1")
    path = tmp_path / "x.toml"
    path.write_text(text.replace("[channel]", "[chanel]").replace("name =", "nome ="), encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        load_radio(path)
    wanted = {"name", "nome", "pulse.step_us", "mix.free", "channel", "chanel"}
    assert wanted <= {fault.where for fault in caught.value.faults}


@pytest.mark.outside
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pulse_full": 1.45e-3}, "100 to 1000 us above"),
        ({"pulse_step": 0.0}, "steps are above 0"),
        ({"share_step": 0.2}, "steps are above 0"),
        ({"limit": 0.1}, "limit lies between 50"),
        ({"curve_points": 1}, "2 to 100 points"),
        ({"free_mixes": -1}, "2 to 100 points"),
    ],
)
def test_what_is_no_radio_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueRangeError, match=words):
        replace(usual_radio(), **changes)  # type: ignore[arg-type]


VALUES = (
    '"x"', "-1", "0", "1e9", "1e308", "nan", "inf", "true", "false", "[]", "{}", '""', "9" * 400, "1979-05-27", "22,5",
    "2", "2.0", "150", "0.5", "1500", "07", '"\\u0000"', "{ value = 1 }", "1e-320", "-0.0",
)  # fmt: skip


def spoil(text: str, rng: random.Random) -> bytes:
    """One spoiled radio file."""
    rows = text.split("\n")
    keys = [index for index, row in enumerate(rows) if "=" in row and not row.startswith("#")]
    place = rng.choice(keys)
    key, _, rest = rows[place].partition("=")
    way = rng.choice(["delete", "value", "value", "value", "value", "typo", "table", "cut", "bytes", "swap", "move"])
    if way == "delete":
        for index in sorted(rng.sample(keys, rng.choice([1, 1, 3])), reverse=True):
            del rows[index]
    elif way == "value":
        for index in rng.sample(keys, rng.choice([1, 1, 2])):
            rows[index] = f"{rows[index].partition('=')[0]}= {rng.choice(VALUES)}"
    elif way == "typo":
        spot = rng.randrange(len(key))
        rows[place] = f"{key[:spot]}{rng.choice('xq_.Z ')}{key[spot + 1 :]}={rest}"
    elif way == "table":
        heads = [index for index, row in enumerate(rows) if row.startswith("[")]
        rows[rng.choice(heads)] = rng.choice(["[mix]", "[[mix]]", "[x.y]", "", "[pulse", "mix = 3"])
    elif way == "cut":
        return text.encode()[: rng.randrange(len(text))]
    elif way == "bytes":
        raw = bytearray(text.encode())
        for _ in range(rng.choice([1, 3, 40])):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        return bytes(raw)
    elif way == "swap":
        other = rng.choice(keys)
        rows[place], rows[other] = (
            f"{rows[other].partition('=')[0]}={rest}",
            f"{key}={rows[other].partition('=')[2]}",
        )
    else:
        rows.insert(rng.randrange(len(rows)), rows.pop(place))
    return "\n".join(rows).encode()


@pytest.mark.property
@pytest.mark.parametrize("batch", range(0, 200, 50))
def test_spoiled_radio_files_are_refused_in_words_or_can_be_used(tmp_path: Path, batch: int) -> None:
    refused = 0
    for seed in range(batch, batch + 50):
        path = tmp_path / f"{seed}.toml"
        path.write_bytes(spoil(radio_text(), random.Random(seed)))
        try:
            radio = load_radio(path)
        except FileFaults as error:
            refused += 1
            assert error.faults
            assert all(fault.message.strip() and len(fault.message) < 500 for fault in error.faults), seed
            continue
        # What was read stands the checks of construction and has no number that is not finite.
        assert RadioDescription(**{item.name: getattr(radio, item.name) for item in fields(radio)}) == radio
        assert "nan" not in repr(radio)
        assert "inf" not in repr(radio)
    assert refused > 15
