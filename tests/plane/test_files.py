"""Reading plane files: values, units, spreads, datum, guesses and every fault."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import FileFaults
from evenfall.plane.files import parse_plane
from evenfall.plane.guesses import ADVICE
from evenfall.plane.perturb import attribute
from evenfall.plane.starter import DEMOS, demo_path, template_text
from evenfall.units import KINDS
from plane.plane_texts import DEG, TEXT, faults, table_edit


def test_values_in_si() -> None:
    plane = parse_plane(TEXT).plane
    assert plane.mass.all_up == 1.05
    assert plane.upper is not None
    assert plane.upper.span == pytest.approx(1.24)
    assert plane.upper.aileron is not None
    assert plane.upper.aileron.throw_up == pytest.approx(40 * DEG)
    assert plane.upper.aileron.gap_sealed is True
    assert plane.upper.section.thickness == pytest.approx(0.12)
    assert plane.tail.elevator_fraction == pytest.approx(0.45)
    assert plane.motor.kv == pytest.approx(800 * 2 * math.pi / 60)
    assert plane.battery.capacity == pytest.approx(2.2 * 3600)
    assert plane.battery.rest_voltage == pytest.approx(15.4)
    assert [level.percent for level in plane.controller.levels] == [0, 25, 50, 75, 100]
    assert plane.controller.present_level == "0"
    assert plane.aileron_servo is not None
    assert plane.aileron_servo.gain == pytest.approx(DEG / 10e-6)
    assert plane.aileron_servo.speed == pytest.approx(60 * DEG / 0.08)
    assert set(plane.aileron_linkage) == {"upper_left", "upper_right", "lower_left", "lower_right"}
    assert plane.aileron_linkage["lower_left"].arm_holes == pytest.approx((0.008, 0.009, 0.010, 0.0115, 0.013))
    assert plane.drag[0].kind == "wheel"
    assert (plane.drag[0].count, plane.drag[0].length, plane.drag[0].width) == (2, 0.055, pytest.approx(0.018))
    assert plane.drag[1].what == "undercarriage leg"


def test_the_template_shows_how_blade_stations_are_written() -> None:
    row = "\n".join(
        re.findall(r"^# (\[\[propeller\.station\]\]|(?:r_mm|chord_mm|angle_deg) = \S+)", template_text(), re.M)
    )
    rows = "\n".join(row.replace("r_mm = 41", f"r_mm = {r}") for r in (40, 80, 120, 160))
    plane = parse_plane(template_text().replace("\n[motor]\n", f"\n{rows}\n[motor]\n", 1)).plane
    assert [round(1000 * station.radius) for station in plane.propeller.stations] == [40, 80, 120, 160]


def test_the_template_is_a_plane_file_that_reads() -> None:
    assert parse_plane(template_text()).plane.name == "My biplane"


@pytest.mark.documents
def test_the_template_names_every_key_of_the_full_demo() -> None:
    keys = {match.group(1) for match in re.finditer(r"^#?\s*([a-z_0-9A-Z]+) =", TEXT, re.M)}
    for key in keys:
        assert re.search(rf"^#? ?{key} =", template_text(), re.M), key


# --- units -----------------------------------------------------------------------------------------------------------

SAMPLES = [
    ("mass", "all_up", "mass", "g", "mass.all_up"),
    ("wing.upper", "span", "length", "mm", "upper.span"),
    ("wing.upper.aileron", "throw_up", "angle", "deg", "upper.aileron.throw_up"),
    ("", "speed", "speed", "m_s", "wanted.speed"),
    ("tail", "elevator_chord", "ratio", "percent", "tail.elevator_fraction"),
    ("motor", "kv", "kv", "rpm_per_v", "motor.kv"),
    ("motor", "resistance", "resistance", "mohm", "motor.resistance"),
    ("motor", "inductance", "inductance", "uh", "motor.inductance"),
    ("motor", "no_load_current", "current", "a", "motor.no_load_current"),
    ("motor", "no_load", "voltage", "v", "motor.no_load_voltage"),
    ("controller", "brake_pwm", "frequency", "khz", "controller.brake_frequency"),
    ("controller", "brake_delay", "time", "s", "controller.brake_delay"),
    ("battery", "capacity", "capacity", "mah", "battery.capacity"),
    ("servo.aileron", "torque", "torque", "kgf_cm", "aileron_servo.torque"),
    ("servo.aileron", "speed", "servo_speed", "s_per_60deg", "aileron_servo.speed"),
    ("servo.aileron", "pulse_low", "pulse", "us", "aileron_servo.pulse_low"),
]


@pytest.mark.property
@pytest.mark.parametrize(("table", "base", "kind", "suffix", "path"), SAMPLES)
def test_any_unit_of_the_kind_gives_the_same_plane(table: str, base: str, kind: str, suffix: str, path: str) -> None:
    before = parse_plane(TEXT)
    value = attribute(before.plane, path)
    for other, unit in KINDS[kind].items():
        sigma = unit.spread_from_si(value, 0.01 * value)
        line = f"{base}_{other} = {{ value = {unit.from_si(value)!r}, spread = {sigma!r} }}"
        after = parse_plane(table_edit(TEXT, table, f"{base}_{suffix}", line))
        assert attribute(after.plane, path) == pytest.approx(value, rel=1e-9)
        assert after.spreads[path].source == "stated"
        assert after.spreads[path].absolute(value) == pytest.approx(0.01 * value, rel=1e-9)


@pytest.mark.property
@given(st.floats(0.8, 1.6), st.floats(0.01, 0.02))
def test_a_number_and_its_spread_survive(span: float, spread: float) -> None:
    line = f"span_in = {{ value = {span / 0.0254!r}, spread = {spread / 0.0254!r} }}"
    after = parse_plane(
        table_edit(
            table_edit(TEXT, "wing.upper", "span_mm", line), "wing.upper.aileron", "outer_y_mm", "outer_y_mm = 390"
        )
    )
    assert after.plane.upper is not None
    assert after.plane.upper.span == pytest.approx(span, rel=1e-12)
    assert after.spreads["upper.span"].sigma == pytest.approx(spread, rel=1e-12)


def test_usual_precision_where_no_spread_is_stated() -> None:
    found = parse_plane(TEXT)
    assert found.spreads["upper.span"].source == "measured"
    assert found.spreads["upper.span"].absolute(1.24) == pytest.approx(1e-3)
    assert found.spreads["motor.kv"].relative
    assert found.spreads["mass.cg_x"] == type(found.spreads["mass.cg_x"])(sigma=0.002, source="stated")


# --- datum -----------------------------------------------------------------------------------------------------------


@pytest.mark.invariant
def test_the_datum_does_not_change_the_plane() -> None:
    """The same plane measured from the upper wing's root leading edge."""
    rows = []
    for row in TEXT.split("\n"):
        found = re.match(r"(root_le_x|tip_le_x|nose_x|x|cg_x|z|root_z)_mm = (.*)", row)
        if found:
            shift = 145 if found.group(1) in ("z", "root_z") else 195
            number = re.search(r"-?\d+(\.\d+)?", found.group(2))
            assert number is not None
            row = row.replace(number.group(), str(float(number.group()) - shift), 1)
        rows.append(row)
    text = "\n".join(rows).replace('datum = "propeller"', 'datum = "wing"')
    text = table_edit(text, "propeller", "", "x_mm = -195\nz_mm = -145")
    moved, plane = parse_plane(text).plane, parse_plane(TEXT).plane
    for path in (
        "mass.cg_x",
        "mass.cg_z",
        "upper.root_le_x",
        "upper.z",
        "lower.z",
        "tail.tip_le_x",
        "fin.root_z",
        "drag.1.x",
    ):
        assert attribute(moved, path) == pytest.approx(attribute(plane, path), abs=1e-12), path
    assert moved.body == plane.body or moved.body is not None


def test_wing_datum_needs_the_propeller() -> None:
    found = faults(TEXT.replace('datum = "propeller"', 'datum = "wing"'))
    assert "propeller.x_mm" in found
    assert "propeller.z_mm" in found
    assert "propeller" in faults(table_edit(TEXT, "propeller", "", "x_mm = 5"))


# --- parts that do not fit each other --------------------------------------------------------------------------------


@pytest.mark.outside
@pytest.mark.parametrize(
    ("table", "old", "new", "where"),
    [
        ("wing.upper.aileron", "outer_y_mm", "outer_y_mm = 640", "wing.upper.aileron.outer_y_mm"),
        ("wing.upper.aileron", "inner_y_mm", "inner_y_mm = 610", "wing.upper.aileron.inner_y_mm"),
        ("wing.upper.aileron", "inner_chord_mm", "inner_chord_mm = 175", "wing.upper.aileron.inner_chord_mm"),
        ("wing.upper.aileron", "outer_chord_mm", "outer_chord_mm = 150", "wing.upper.aileron.outer_chord_mm"),
        ("wing.upper.aileron", "throw_up_deg", "throw_up_deg = 0", "wing.upper.aileron.throw_up_deg"),
        ("wing.upper", "tip_chord_mm", "tip_chord_mm = 0", "wing.upper.tip_chord_mm"),
        ("wing.upper", "tip_chord_mm", "tip_chord_mm = -154", "wing.upper.tip_chord_mm"),
        ("wing.upper", "tip_chord_mm", "tip_chord_mm = 300", "wing.upper.tip_chord_mm"),
        ("wing.upper", "span_mm", "span_m = 1240", "wing.upper.span_m"),
        ("wing.lower", "z_mm", "z_mm = 155", "wing.lower.z_mm"),
        ("mass", "cg_x_mm", "cg_x_mm = 800", "mass.cg_x_mm"),
        ("mass", "cg_x_mm", "cg_x_in = -4", "mass.cg_x_in"),
        ("mass", "cg_x_mm", "cg_x_mm = 283\ncg_z_mm = 900", "mass.cg_z_mm"),
        ("mass", "all_up_g", "all_up_kg = 20", "mass.all_up_g"),
        ("tail", "root_le_x_mm", "root_le_x_mm = 100", "tail.root_le_x_mm"),
        ("tail", "span_mm", "span_mm = 1240", "tail.span_mm"),
        ("fin", "root_le_x_mm", "root_le_x_mm = -100", "fin.root_le_x_mm"),
        ("propeller", "pitch_in", "pitch_in = 30", "propeller.pitch_in"),
        ("propeller", "chord_75_mm", "chord_75_mm = 140", "propeller.chord_75_mm"),
        ("servo.aileron", "pulse_high_us", "", "servo.aileron.pulse_low_us"),
        ("motor", "no_load_v", "", "motor.no_load_v"),
        ("linkage.aileron", "arm_mm", "", "linkage.aileron.arm_mm"),
        ("", "format", "format = 2", "format"),
        ("", "name", "", "name"),
        ("", "datum", 'datum = "wings"', "datum"),
    ],
)
def test_cross_checks(table: str, old: str, new: str, where: str) -> None:
    found = faults(table_edit(TEXT, table, old, new))
    assert where in found, found


def test_no_wing_and_wrong_tables() -> None:
    head = TEXT[: TEXT.index("[wing.upper]")]
    rest = TEXT[TEXT.index("[tail]") :]
    assert "no wing" in " ".join(faults(head + rest).values())
    assert "wing" in faults(head + "[wing]\n" + rest)
    found = faults(TEXT.replace("[motor]", "[moter]"))
    assert "did you mean `motor`?" in found["moter"]
    assert "motor" in found


def test_a_monoplane_and_missing_optional_tables_are_said() -> None:
    one = (
        TEXT[: TEXT.index("[wing.lower]")]
        + TEXT[TEXT.index("[tail]") : TEXT.index("[fin]")]
        + TEXT[TEXT.index("[propeller]") :]
    )
    found = parse_plane(one[: one.index("[servo.aileron]")])
    assert found.plane.lower is None
    for words in ("no [fin]", "no [body]", "no [[drag]]", "no [servo.aileron]", "no [linkage.aileron]"):
        assert any(words in note for note in found.notes), words


def test_unit_messages() -> None:
    found = faults(table_edit(TEXT, "wing.upper", "span_mm", "span = 1240"))
    assert "lacks its unit; write span_mm" in found["wing.upper.span"]
    found = faults(table_edit(TEXT, "wing.upper", "span_mm", "span_kg = 1240"))
    assert "no unit of length" in found["wing.upper.span_kg"]
    found = faults(table_edit(TEXT, "wing.upper", "z_mm", "z_mm = 145\nkv_rpm_per_v = 900"))
    assert "belongs in [motor]" in found["wing.upper.kv_rpm_per_v"]


def test_all_faults_at_once_in_the_order_of_the_file() -> None:
    text = table_edit(TEXT, "mass", "all_up_g", "all_up_g = -5")
    text = table_edit(text, "wing.lower", "span_mm", "spam_mm = 1240")
    text = table_edit(text, "battery", "cells", 'cells = "four"')
    with pytest.raises(FileFaults) as caught:
        parse_plane(text, path="my.toml")
    lines = [fault.line for fault in caught.value.faults]
    assert len(lines) == 4
    assert lines == sorted(line for line in lines if line is not None)
    assert "my.toml: 4 faults" in str(caught.value)


# --- guesses ---------------------------------------------------------------------------------------------------------


def test_guesses_have_the_spreads_of_the_design() -> None:
    found = parse_plane(demo_path("foam_biplane_085").read_text(encoding="utf-8"))
    spreads = found.spreads
    assert spreads["motor.resistance"].sigma == 0.40
    assert spreads["aileron_servo.gain"].sigma == 0.15
    assert spreads["mass.cg_z"].sigma == 0.015
    motor = found.plane.motor
    assert motor.inductance == pytest.approx(0.3e-3 * motor.resistance)
    assert 0.2 <= 0.3 * (1 - spreads["motor.inductance"].sigma) <= 0.25
    assert found.plane.controller.brake_frequency_known is False
    assert found.plane.aileron_servo is not None
    assert found.plane.aileron_servo.gain == pytest.approx(DEG / 10e-6)


@pytest.mark.documents
@pytest.mark.parametrize("name", DEMOS)
def test_every_guess_says_why_what_it_buys_and_how(name: str) -> None:
    for guess in parse_plane(demo_path(name).read_text(encoding="utf-8")).guesses:
        for words in (guess.key, guess.value, guess.spread, guess.why, guess.buys, guess.how):
            assert words.strip()


@pytest.mark.documents
def test_every_advice_is_used() -> None:
    used: set[Any] = set()
    bare = demo_path("foam_biplane_085").read_text(encoding="utf-8")
    bare = table_edit(bare, "wing.upper", "incidence_deg", "")
    bare = table_edit(bare, "tail", "incidence_deg", "")
    bare = table_edit(bare, "motor", "mass_g", "")
    bare = table_edit(bare, "propeller", "mass_g", "")
    bare = table_edit(bare, "propeller", "shape", "")
    bare = table_edit(bare, "controller", "present_level", "")
    bare = table_edit(bare, "servo.aileron", "horn_arms", "")
    bare = table_edit(bare, "servo.aileron", "travel_deg", "")
    used = {guess.buys for guess in parse_plane(bare).guesses}
    assert {advice.buys for advice in ADVICE.values()} == used
