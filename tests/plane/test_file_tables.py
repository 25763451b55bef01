"""Plane files table by table: forms of the wanted speed, centre of gravity, sections, power train, controls, drag."""

from __future__ import annotations

import pytest

from evenfall.errors import FileFaults
from evenfall.plane.files import parse_plane
from evenfall.plane.starter import template_text
from plane.plane_texts import DEG, TEXT, faults, table_edit

# --- wanted speed, mass, section -------------------------------------------------------------------------------------


def with_speed(table: str) -> str:
    return table_edit(TEXT, "", "speed_m_s", "") + f"\n[speed]\n{table}\n"


def test_timed_pass_cancels_the_wind() -> None:
    # 22 m/s in still air, 4 m/s of wind along a course of 100 m
    found = parse_plane(with_speed(f"distance_m = 100\ntime_out_s = {100 / 26!r}\ntime_back_s = {100 / 18!r}"))
    assert found.plane.wanted.speed == pytest.approx(22.0, rel=1e-12)
    assert any("wind along the course 4.0 m/s" in note for note in found.notes)
    assert 0.3 < found.spreads["wanted.speed"].sigma < 1.5


def test_other_forms_of_speed() -> None:
    assert parse_plane(with_speed("wanted_km_h = 72")).plane.wanted.speed == pytest.approx(20.0)
    stick = parse_plane(with_speed("level_stick_percent = 55")).plane.wanted
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
    found = parse_plane(table_edit(TEXT, "mass", "cg_x_mm", "") + lines)
    assert found.plane.mass.cg_x == pytest.approx(0.283)
    assert found.plane.mass.cg_z == pytest.approx(0.012)
    assert 0 < found.spreads["mass.cg_z"].sigma < 0.01
    assert found.spreads["mass.cg_z"].source == "measured"
    assert not any(guess.path == "mass.cg_z" for guess in found.guesses)
    assert "mass.hang" in faults(TEXT + HANG.format(83, 112, 483, -88))
    assert "mass.hang" in faults(TEXT + 2 * HANG.format(83, 112, 483, -88))


def test_centre_guessed_at_mid_gap() -> None:
    found = parse_plane(TEXT)
    assert found.plane.mass.cg_z == pytest.approx(-0.005)
    assert found.spreads["mass.cg_z"].sigma == 0.015
    assert found.spreads["mass.cg_z"].source == "guess"


def test_tip_weight() -> None:
    mass = parse_plane(table_edit(TEXT, "mass", "", "tip_weight_g = 5")).plane.mass
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
    wing = parse_plane(table_edit(TEXT, "wing.upper", "section", line)).plane.upper
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
        parse_plane(text)
    assert "tail.section: is missing" in str(caught.value)
    assert "tail.elevator_up_deg: is missing" in str(caught.value)


def test_incidence_left_and_right() -> None:
    wing = parse_plane(
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
    found = parse_plane(names + '\n[[controller.level]]\nname = "hard"\ndamping_N_m_s = 2e-4\n')
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
    found = parse_plane(TEXT + stations(*rows))
    propeller = found.plane.propeller
    assert any("so pitch, shape and chord_75 change nothing" in note for note in found.notes)
    assert [station.radius for station in propeller.stations] == pytest.approx([0.03, 0.08, 0.124, 0.16])
    assert propeller.stations[0].angle == pytest.approx(35 * DEG)
    for bad, words in (
        (rows[:2], "at least 4"), ([*rows[::-1]], "outward"), ([*rows, (190, 10, 8)], "the blade ends"),
        ([(100, 20, 15), *rows[2:], (161, 11, 9)], "inside 40 %"),
    ):  # fmt: skip
        assert words in " ".join(faults(TEXT + stations(*bad)).values())


def test_one_corner_of_the_linkage() -> None:
    found = parse_plane(TEXT + "\n[linkage.aileron.lower_left]\narm_mm = 10\n")
    linkage = found.plane.aileron_linkage
    assert (linkage["lower_left"].arm, linkage["lower_right"].arm) == (0.010, pytest.approx(0.009))
    assert linkage["lower_left"].rod == linkage["lower_right"].rod
    assert set(found.spreads) >= {f"aileron_linkage.{corner}.arm" for corner in linkage}


def test_a_linkage_that_cannot_be_pinned_together() -> None:
    found = faults(table_edit(TEXT, "linkage.aileron", "rod_mm", "rod_mm = 120"))
    assert any("longer than the other three" in words for words in found.values())


def test_rigging() -> None:
    rigging = parse_plane(
        TEXT + "\n[rigging]\nside_thrust_deg = 1.5\ntip_balance_g_cm = 20\nslop_deg = 0.5\n"
    ).plane.rigging
    assert rigging is not None
    assert rigging.side_thrust == pytest.approx(1.5 * DEG)
    assert rigging.tip_balance == pytest.approx(2e-4)
    assert rigging.down_thrust is None


def test_drag_by_area_and_by_dimensions() -> None:
    part = '\n[[drag]]\nwhat = "pilot\'s head"\narea_cm2 = {{ value = 4, spread = 1 }}\nx_mm = 400\nz_mm = 90\n'
    found = parse_plane(TEXT + part.replace("{{", "{").replace("}}", "}"))
    assert found.plane.drag[-1].area == pytest.approx(4e-4)
    assert found.plane.drag[-1].kind is None
    assert found.spreads["drag.4.area"].sigma == pytest.approx(1e-4)
    both = '\n[[drag]]\nwhat = "wire"\narea_cm2 = 4\nlength_mm = 100\ndiameter_mm = 1\nx_mm = 400\nz_mm = 90\n'
    assert "stands beside" in " ".join(faults(TEXT + both).values())
    typo = '\n[[drag]]\nwhat = "whel"\ndiameter_mm = 40\nwidth_mm = 10\nx_mm = 400\nz_mm = 90\n'
    assert 'did you mean "wheel"?' in " ".join(faults(TEXT + typo).values())
