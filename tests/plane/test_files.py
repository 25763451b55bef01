"""Reading plane files: values, units, spreads, datum, guesses and every fault."""

from __future__ import annotations

import math
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import FileFaults
from evenfall.plane.files import PlaneFile, parse_plane
from evenfall.plane.guesses import ADVICE
from evenfall.plane.perturb import attribute
from evenfall.plane.starter import DEMOS, demo_path, template_text
from evenfall.units import KINDS

TEXT = demo_path("biplane_124").read_text(encoding="utf-8")
DEG = math.pi / 180


def table_edit(text: str, table: str, old: str, new: str) -> str:
    """Replace one line (by its key) in one table of a plane file; an empty `old` adds a line."""
    head, rows, done = "", [], False
    for row in text.split("\n"):
        if row.startswith("["):
            head = row.split("#")[0].strip().strip("[]")
        if old and head == table and not done and re.match(rf"{re.escape(old)}\s*=", row):
            done = True
            if new:
                rows.append(new)
            continue
        rows.append(row)
        if not old and head == table and not done and (row.startswith("[") or (not table and row.startswith("format"))):
            rows.append(new)
            done = True
    assert done, (table, old)
    return "\n".join(rows)


def faults(text: str) -> dict[str, str]:
    with pytest.raises(FileFaults) as caught:
        parse_plane(text)
    return {fault.where: fault.message for fault in caught.value.faults}


def read(text: str) -> PlaneFile:
    return parse_plane(text)


def test_values_in_si() -> None:
    plane = read(TEXT).plane
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


def test_the_template_is_a_plane_file_that_reads() -> None:
    assert read(template_text()).plane.name == "My biplane"


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
    before = read(TEXT)
    value = attribute(before.plane, path)
    for other, unit in KINDS[kind].items():
        sigma = unit.spread_from_si(value, 0.01 * value)
        line = f"{base}_{other} = {{ value = {unit.from_si(value)!r}, spread = {sigma!r} }}"
        after = read(table_edit(TEXT, table, f"{base}_{suffix}", line))
        assert attribute(after.plane, path) == pytest.approx(value, rel=1e-9)
        assert after.spreads[path].source == "stated"
        assert after.spreads[path].absolute(value) == pytest.approx(0.01 * value, rel=1e-9)


@pytest.mark.property
@given(st.floats(0.8, 1.6), st.floats(0.01, 0.02))
def test_a_number_and_its_spread_survive(span: float, spread: float) -> None:
    line = f"span_in = {{ value = {span / 0.0254!r}, spread = {spread / 0.0254!r} }}"
    after = read(
        table_edit(
            table_edit(TEXT, "wing.upper", "span_mm", line), "wing.upper.aileron", "outer_y_mm", "outer_y_mm = 390"
        )
    )
    assert after.plane.upper is not None
    assert after.plane.upper.span == pytest.approx(span, rel=1e-12)
    assert after.spreads["upper.span"].sigma == pytest.approx(spread, rel=1e-12)


def test_usual_precision_where_no_spread_is_stated() -> None:
    found = read(TEXT)
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
    moved, plane = read(text).plane, read(TEXT).plane
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


# --- wanted speed, mass, section -------------------------------------------------------------------------------------


def with_speed(table: str) -> str:
    return table_edit(TEXT, "", "speed_m_s", "") + f"\n[speed]\n{table}\n"


def test_timed_pass_cancels_the_wind() -> None:
    # 22 m/s in still air, 4 m/s of wind along a course of 100 m
    found = read(with_speed(f"distance_m = 100\ntime_out_s = {100 / 26!r}\ntime_back_s = {100 / 18!r}"))
    assert found.plane.wanted.speed == pytest.approx(22.0, rel=1e-12)
    assert any("wind along the course 4.0 m/s" in note for note in found.notes)
    assert 0.3 < found.spreads["wanted.speed"].sigma < 1.5


def test_other_forms_of_speed() -> None:
    assert read(with_speed("wanted_km_h = 72")).plane.wanted.speed == pytest.approx(20.0)
    stick = read(with_speed("level_stick_percent = 55")).plane.wanted
    assert (stick.speed, stick.level_stick) == (None, pytest.approx(0.55))


@pytest.mark.parametrize(
    "table",
    ["", "wanted_m_s = 20\nlevel_stick_percent = 50", "distance_m = 100\ntime_out_s = 5",
     "time_out_s = 5\ntime_back_s = 5",
     "distance_m = 100\ntime_out_s = 0.5\ntime_back_s = 0.5"],
)  # fmt: skip
def test_speed_in_no_or_two_forms_is_a_fault(table: str) -> None:
    assert "speed" in faults(with_speed(table))


def test_speed_twice_and_not_at_all() -> None:
    assert "speed" in faults(TEXT + "\n[speed]\nwanted_m_s = 20\n")
    assert "speed_m_s" in faults(table_edit(TEXT, "", "speed_m_s", ""))


HANG = "\n[[mass.hang]]\nfrom_x_mm = {0}\nfrom_z_mm = {1}\nthrough_x_mm = {2}\nthrough_z_mm = {3}\n"


def test_two_plumb_lines_give_the_centre() -> None:
    # both lines pass through x 283, z 12
    lines = HANG.format(83, 112, 483, -88) + HANG.format(583, 112, -17, -88)
    found = read(table_edit(TEXT, "mass", "cg_x_mm", "") + lines)
    assert found.plane.mass.cg_x == pytest.approx(0.283)
    assert found.plane.mass.cg_z == pytest.approx(0.012)
    assert 0 < found.spreads["mass.cg_z"].sigma < 0.01
    assert found.spreads["mass.cg_z"].source == "measured"
    assert not any(guess.path == "mass.cg_z" for guess in found.guesses)
    assert "mass.hang" in faults(TEXT + HANG.format(83, 112, 483, -88))
    assert "mass.hang" in faults(TEXT + 2 * HANG.format(83, 112, 483, -88))


def test_centre_guessed_at_mid_gap() -> None:
    found = read(TEXT)
    assert found.plane.mass.cg_z == pytest.approx(-0.005)
    assert found.spreads["mass.cg_z"].sigma == 0.015
    assert found.spreads["mass.cg_z"].source == "guess"


def test_tip_weight() -> None:
    mass = read(table_edit(TEXT, "mass", "", "tip_weight_g = 5")).plane.mass
    assert mass.cg_y == pytest.approx(0.005 * 0.62 / 1.05)


@pytest.mark.parametrize(
    ("line", "thickness", "plate"),
    [
        ('section = "naca0009"', 0.09, False),
        ('section = "NACA 0015"', 0.15, False),
        ('section = "flat_plate"', 0.03, True),
        ('section = "flat plate"\nthickness_mm = 3.44', 0.02, True),
        ("thickness_mm = 17.2", 0.10, False),
        ("thickness_percent = 11", 0.11, False),
    ],
)
def test_sections(line: str, thickness: float, plate: bool) -> None:
    wing = read(table_edit(TEXT, "wing.upper", "section", line)).plane.upper
    assert wing is not None
    assert (wing.section.thickness, wing.section.flat_plate) == (pytest.approx(thickness), plate)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('section = "naca2412"', "cambered"),
        ('section = "naca0025"', "6 to 18 %"),
        ('section = "nac0012"', 'did you mean "naca0012"'),
        ('section = "clarky"', "has no table"),
        ('section = "naca0012"\nthickness_percent = 16', "contradict"),
        ("thickness_percent = 3", "flat_plate"),
        ("thickness_percent = 25", "6 to 18 %"),
        ("thickness_percent = 12\nthickness_mm = 20", "twice"),
        ('section = "flat_plate"\nthickness_percent = 10', "no plate"),
        ("section = 12", "text in double quotes"),
        ("", "is missing"),
    ],
)
def test_sections_without_tables(line: str, words: str) -> None:
    found = faults(table_edit(TEXT, "wing.upper", "section", line))
    assert words in " ".join(found.values())
    assert len(found) == 1


def test_a_missing_section_shows_beside_other_faults() -> None:
    text = template_text().replace('section = "naca0009"\n', "", 1).replace("elevator_up_deg = 30\n", "", 1)
    with pytest.raises(FileFaults) as caught:
        read(text)
    assert "tail.section: is missing" in str(caught.value)
    assert "tail.elevator_up_deg: is missing" in str(caught.value)


def test_incidence_left_and_right() -> None:
    wing = read(
        table_edit(TEXT, "wing.upper", "incidence_deg", "incidence_left_deg = 0.5\nincidence_right_deg = -0.25")
    ).plane.upper
    assert wing is not None
    assert (wing.incidence_left, wing.incidence_right) == (pytest.approx(0.5 * DEG), pytest.approx(-0.25 * DEG))
    assert "wing.upper.incidence_right_deg" in faults(
        table_edit(TEXT, "wing.upper", "incidence_deg", "incidence_left_deg = 0.5")
    )


# --- power train and controls ----------------------------------------------------------------------------------------


def test_named_and_measured_levels() -> None:
    names = table_edit(TEXT, "controller", "levels", 'levels = ["off", "soft", "hard"]')
    names = table_edit(names, "controller", "present_level", 'present_level = "soft"')
    found = read(names + '\n[[controller.level]]\nname = "hard"\ndamping_N_m_s = 2e-4\n')
    levels = found.plane.controller.levels
    assert [(level.name, level.percent, level.damping) for level in levels] == [
        ("off", 0, None), ("soft", 50, None), ("hard", 100, 2e-4),
    ]  # fmt: skip
    assert found.spreads["controller.levels.2.damping"].relative
    assert found.spreads["controller.levels.1.percent"].sigma == 10.0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("levels", "levels = [0, 50, 25]", "rise"),
        ("levels", "levels = [0, 25, 25]", "twice"),
        ("levels", 'levels = [0, "hard"]', "mixes"),
        ("levels", "levels = [0, 120]", "outside 0 to 100"),
        ("levels", "levels = []", "must be a list"),
        ("present_level", "present_level = 30", "not among levels"),
        ("start_percent", "start_percent = 2", "lies below"),
        ("brake_pwm_khz", "brake_pwm_khz = 8\nbrake_pwm_hz = 8000", "keep one"),
    ],
)
def test_controller_faults(old: str, new: str, words: str) -> None:
    assert words in " ".join(faults(table_edit(TEXT, "controller", old, new)).values())


def stations(*rows: tuple[float, float, float]) -> str:
    return "".join(f"\n[[propeller.station]]\nr_mm = {r}\nchord_mm = {c}\nangle_deg = {a}\n" for r, c, a in rows)


def test_measured_stations() -> None:
    rows = [(30, 18, 35), (80, 25, 19), (124, 22, 12), (160, 12, 9)]
    propeller = read(TEXT + stations(*rows)).plane.propeller
    assert [station.radius for station in propeller.stations] == pytest.approx([0.03, 0.08, 0.124, 0.16])
    assert propeller.stations[0].angle == pytest.approx(35 * DEG)
    for bad, words in (
        (rows[:2], "at least 4"), ([*rows[::-1]], "outward"), ([*rows, (190, 10, 8)], "the blade ends"),
        ([(100, 20, 15), *rows[2:], (161, 11, 9)], "inside 40 %"),
    ):  # fmt: skip
        assert words in " ".join(faults(TEXT + stations(*bad)).values())


def test_one_corner_of_the_linkage() -> None:
    found = read(TEXT + "\n[linkage.aileron.lower_left]\narm_mm = 10\n")
    linkage = found.plane.aileron_linkage
    assert (linkage["lower_left"].arm, linkage["lower_right"].arm) == (0.010, pytest.approx(0.009))
    assert linkage["lower_left"].rod == linkage["lower_right"].rod
    assert set(found.spreads) >= {f"aileron_linkage.{corner}.arm" for corner in linkage}


def test_a_linkage_that_cannot_be_pinned_together() -> None:
    found = faults(table_edit(TEXT, "linkage.aileron", "rod_mm", "rod_mm = 120"))
    assert any("longer than the other three" in words for words in found.values())


def test_rigging() -> None:
    rigging = read(TEXT + "\n[rigging]\nside_thrust_deg = 1.5\ntip_balance_g_cm = 20\nslop_deg = 0.5\n").plane.rigging
    assert rigging is not None
    assert rigging.side_thrust == pytest.approx(1.5 * DEG)
    assert rigging.tip_balance == pytest.approx(2e-4)
    assert rigging.down_thrust is None


def test_drag_by_area_and_by_dimensions() -> None:
    part = '\n[[drag]]\nwhat = "pilot\'s head"\narea_cm2 = {{ value = 4, spread = 1 }}\nx_mm = 400\nz_mm = 90\n'
    found = read(TEXT + part.replace("{{", "{").replace("}}", "}"))
    assert found.plane.drag[-1].area == pytest.approx(4e-4)
    assert found.plane.drag[-1].kind is None
    assert found.spreads["drag.4.area"].sigma == pytest.approx(1e-4)
    both = '\n[[drag]]\nwhat = "wire"\narea_cm2 = 4\nlength_mm = 100\ndiameter_mm = 1\nx_mm = 400\nz_mm = 90\n'
    assert "stands beside" in " ".join(faults(TEXT + both).values())
    typo = '\n[[drag]]\nwhat = "whel"\ndiameter_mm = 40\nwidth_mm = 10\nx_mm = 400\nz_mm = 90\n'
    assert 'did you mean "wheel"?' in " ".join(faults(TEXT + typo).values())


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
    found = read(one[: one.index("[servo.aileron]")])
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
    found = read(demo_path("foam_biplane_085").read_text(encoding="utf-8"))
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
    for guess in read(demo_path(name).read_text(encoding="utf-8")).guesses:
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
    used = {guess.buys for guess in read(bare).guesses}
    assert {advice.buys for advice in ADVICE.values()} == used
