"""The plane on the page: complete against the readers, faults in place, shape to scale, quick enough to type by."""

from __future__ import annotations

import math
import re
import time
from collections.abc import Iterator
from typing import Any

import pytest

from evenfall.plane.fields import Fields
from evenfall.plane.files import load_plane, parse_plane
from evenfall.plane.starter import DEMOS, demo_path, template_text
from evenfall.sheet.plane_facts import MEANINGS, RANK, fact_pages, meaning_key
from evenfall.sheet.plane_fields import DRAG_DIMENSIONS, table_specs
from evenfall.sheet.plane_view import FieldPage, PlaneView, SurfacePage, field_key, plane_view
from evenfall.units import KINDS

RICH = (
    demo_path("biplane_124")
    .read_text()
    .replace("[controller]", "[controller]\n# everything a file may hold\n")
    .replace(
        "[wing.upper]",
        """
[[mass.hang]]
from_x_mm = 150
from_z_mm = 150
through_x_mm = 291
through_z_mm = 0

[[mass.hang]]
from_x_mm = 450
from_z_mm = 150
through_x_mm = 291
through_z_mm = 0

[wing.upper]""",
        1,
    )
)


def view(text: str) -> PlaneView:
    return plane_view(text, file="plane.toml", revision=3)


def demo(name: str = "biplane_124") -> str:
    return demo_path(name).read_text(encoding="utf-8")


def fields(page: PlaneView) -> dict[str, FieldPage]:
    found = [one for group in page.groups for one in group.fields]
    assert len({one.path for one in found}) == len(found)
    return {one.path: one for one in found}


# --- complete against the readers ------------------------------------------------------------------------------------


def read_keys(text: str, monkeypatch: pytest.MonkeyPatch) -> dict[str, set[str]]:
    """Every key a reader asks for while it reads this text, by table."""
    asked: dict[str, set[str]] = {}
    finish = Fields.finish

    def watch(table: Fields, homes: Any = None) -> None:
        below = {child.where.split(".")[len(table.where.split(".")) if table.where else 0] for child in table._children}
        asked.setdefault(table.where, set()).update(key for key in table.known if key not in below)
        finish(table, homes)

    monkeypatch.setattr(Fields, "finish", watch)
    try:
        parse_plane(text)
    finally:
        monkeypatch.undo()
    return asked


def declared_keys(text: str) -> dict[str, list[set[str]]]:
    """The keys that each field of a table may be given by."""
    import tomllib

    return {
        table.key: [
            {field_key(one.base, suffix) for suffix in KINDS[one.kind]} if one.kind else {one.base}
            for one in table.fields
        ]
        for table in table_specs(tomllib.loads(text))
    }


TABLES = {"mass", "wing", "tail", "fin", "body", "drag", "propeller", "motor", "controller", "battery", "servo"}
TABLES |= {"linkage", "rigging", "speed", "hang", "station", "level", "aileron", "upper", "lower"}
TABLES |= {"upper_left", "upper_right", "lower_left", "lower_right"}
"""Names of tables: no measurements."""

MORE = """
[speed]
wanted_m_s = 20

[rigging]
slop_deg = 0.5
"""


def texts() -> Iterator[str]:
    for name in DEMOS:
        yield demo(name)
    rich = re.sub(r"(?m)^speed_m_s = .*$", "", RICH) + MORE
    for corner in ("upper_left", "lower_right"):
        rich += f"\n[linkage.aileron.{corner}]\narm_mm = 14\n"
    rich += '\n[[controller.level]]\nname = "50"\ndamping_mN_m_s = 0.05\n'
    for radius in (40, 80, 120, 160):
        rich += f"\n[[propeller.station]]\nr_mm = {radius}\nchord_mm = 20\nangle_deg = 20\n"
    yield rich
    for kind, pairs in DRAG_DIMENSIONS.items():
        sizes = "".join(f"{base}_mm = 20\n" for base, _ in pairs)
        yield f'{demo()}\n[[drag]]\nwhat = "{kind}"\n{sizes}x_mm = 100\nz_mm = 0\n'


@pytest.mark.documents
@pytest.mark.parametrize("text", list(texts()))
def test_every_key_the_readers_ask_for_is_a_field_and_no_other(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = {table: keys - TABLES for table, keys in read_keys(text, monkeypatch).items()}
    asked[""].add("speed_m_s") if "speed_m_s" in text else None
    declared = declared_keys(text)
    assert len(asked) > 10
    for table, keys in asked.items():
        if keys:
            assert keys <= set().union(*declared[table]), table
            assert all(one & keys for one in declared[table]), table


@pytest.mark.documents
@pytest.mark.parametrize("name", DEMOS)
def test_every_given_value_stands_in_a_field_as_in_the_file(name: str) -> None:
    import tomllib

    shown = fields(view(demo(name)))

    def walk(data: Any, path: str) -> Iterator[tuple[str, Any]]:
        if isinstance(data, dict) and "value" not in data:
            for key, value in data.items():
                yield from walk(value, f"{path}.{key}" if path else key)
        elif isinstance(data, list) and data and isinstance(data[0], dict):
            for index, value in enumerate(data):
                yield from walk(value, f"{path}.{index}")
        else:
            yield path, data

    for path, raw in walk(tomllib.loads(demo(name)), ""):
        field = shown[path]
        assert field.given
        value = raw["value"] if isinstance(raw, dict) else raw
        if isinstance(value, list):
            assert isinstance(field.value, str)
            assert len(field.value.split(", ")) == len(value)
        else:
            assert field.value == value


@pytest.mark.invariant
def test_required_is_what_the_file_cannot_do_without() -> None:
    text = demo()
    shown = fields(view(text))
    checked = 0
    for path, field in shown.items():
        if not field.given:
            continue
        without = removed(text, path)
        if without is None:
            continue
        checked += 1
        assert view(without).usable != field.required, path
    assert checked > 90


def removed(text: str, path: str) -> str | None:
    """The text without the line of that key; None for the two that belong together with another."""
    from evenfall.toml_rows import key_lines

    if path.startswith(("motor.no_load", "servo.aileron.pulse_", "linkage.")):
        return None
    rows = text.split("\n")
    rows[key_lines(text)[path] - 1] = ""
    return "\n".join(rows)


# --- values, spreads, guesses ----------------------------------------------------------------------------------------


@pytest.mark.property
def test_the_file_keeps_its_unit_and_names_the_others() -> None:
    text = demo().replace("span_mm = 1240", "span_in = 48.8", 1)
    shown = fields(view(text))
    field = shown["wing.upper.span_in"]
    assert (field.unit, field.value, field.given) == ("in", 48.8, True)
    assert set(field.other_units) == {"mm", "cm", "m", "ft"}
    assert "wing.upper.span_mm" not in shown
    assert field.spread == pytest.approx(1 / 25.4, rel=1e-4)
    assert shown["wing.lower.span_mm"].spread == 1.0


@pytest.mark.property
def test_spreads_say_where_they_come_from() -> None:
    shown = fields(view(demo().replace("resistance_mohm = 48\n", "")))
    stated, measured, guessed = (shown[key] for key in ("mass.all_up_g", "motor.kv_rpm_per_v", "motor.resistance_mohm"))
    assert (stated.spread, stated.source) == (5.0, "stated")
    assert (measured.spread, measured.source) == (24.0, "measured")
    assert guessed.source == "guess"
    assert guessed.value is None
    assert not guessed.given
    assert "52 mohm (+-40 %)" in (guessed.guess or "")
    assert guessed.buys
    assert guessed.how
    assert guessed.spread == pytest.approx(0.4 * 52, abs=0.2)  # 40 % of the guessed 52 mohm


@pytest.mark.property
def test_a_spread_stated_in_the_file_is_shown_although_the_file_has_faults() -> None:
    shown = fields(view(demo().replace("cells = 4", "cells = 99")))
    assert (shown["mass.all_up_g"].spread, shown["mass.all_up_g"].source) == (5.0, "stated")
    assert shown["motor.kv_rpm_per_v"].source == "none"


@pytest.mark.documents
def test_the_level_set_now_is_chosen_from_the_levels_of_the_file() -> None:
    field = fields(view(demo()))["controller.present_level"]
    assert field.choices == ("0", "25", "50", "75", "100")
    named = demo().replace("levels = [0, 25, 50, 75, 100]", 'levels = ["off", "soft", "hard"]')
    page = view(named.replace("present_level = 0", 'present_level = "soft"'))
    assert page.usable
    field = fields(page)["controller.present_level"]
    assert (field.choices, field.value) == (("off", "soft", "hard"), "soft")


@pytest.mark.invariant
def test_guesses_come_best_buy_first_with_words() -> None:
    page = view(re.sub(r"(?m)^(brake_pwm_khz|chord_75_mm|mass_g|shape|pole_pairs) = .*$", "", demo()))
    assert page.usable
    places = [RANK.index(guess.path) for guess in page.guesses]
    assert len(places) >= 6
    assert places == sorted(places)
    assert all(guess.what and guess.buys and guess.how and guess.what != guess.path for guess in page.guesses)
    shown = fields(page)
    assert all(shown[guess.path].guess for guess in page.guesses)


# --- faults ----------------------------------------------------------------------------------------------------------


@pytest.mark.outside
def test_every_fault_of_a_key_stands_beside_its_field() -> None:
    text = demo().replace("root_chord_mm = 172", "root_chord_mm = 17200", 1).replace("cells = 4", 'cells = "four"')
    text = text.replace("kv_rpm_per_v = 800", "kv_rpm = 800").replace('hinge_gap = "sealed"', 'hinge_gap = "seal"', 1)
    page = view(text.replace("all_up_g = { value = 1050, spread = 5 }", "all_up_g = { value = 1050, spread = -5 }"))
    shown = fields(page)
    assert not page.usable
    assert page.shape is None
    assert page.facts == ()
    places = {fault.where for fault in page.faults}
    assert {"wing.upper.root_chord_mm", "battery.cells", "motor.kv_rpm", "wing.upper.aileron.hinge_gap"} <= places
    beside = {path for path, one in shown.items() if one.fault}
    assert {re.sub(r"\.(value|spread)$", "", where) for where in places} == beside
    assert "did you mean" in (shown["wing.upper.aileron.hinge_gap"].fault or "")
    assert shown["motor.kv_rpm"].value == 800
    assert shown["wing.lower.root_chord_mm"].value == 172


@pytest.mark.outside
@pytest.mark.parametrize(
    "text", ["", "a = = 3\n[", "span = [1,\n", "\x00", "x = 1\nx = 2\n", "[[wing]]\na = 1\n[wing]"]
)
def test_no_toml_shows_text_and_fault_alone(text: str) -> None:
    page = view(text)
    assert not page.usable
    assert page.text == text
    assert page.faults
    assert page.name == "plane.toml"
    assert page.shape is None
    assert page.groups == () or text == ""


@pytest.mark.outside
@pytest.mark.parametrize(
    "text",
    [
        "format = 1\nwing = 3\n",
        'format = 1\nmass = "heavy"\ndrag = 1\n',
        "[[wing.upper]]\nspan_mm = 1\n",
        "[[drag]]\nwhat = 3\n[[drag]]\n[controller]\nlevels = 5\nlevel = 3\n",
        "[controller]\nlevels = [[1], {a = 2}, inf, 1979-05-27]\npresent_level = true\n",
        "speed = 3\n[servo]\naileron = 2\n[linkage.aileron]\nupper_left = 5\narm_holes_mm = 'x'\n",
        "[motor]\nkv_rpm_per_v = inf\nmass_g = 1" + "0" * 400 + "\n",
        '[mass]\nall_up_g = { value = "x", spread = [] }\nhang = [1, 2]\n',
    ],
)
def test_tables_of_the_wrong_kind_are_faults_never_a_crash(text: str) -> None:
    page = view(text)
    assert not page.usable
    assert page.faults
    assert len(page.groups) > 10


@pytest.mark.documents
def test_the_template_is_shown_whole() -> None:
    page = view(template_text())
    assert page.groups[0].key == ""
    order = [group.key.partition(".")[0] for group in page.groups]
    first = list(dict.fromkeys(order))
    wanted = ["", "speed", "mass", "wing", "tail", "fin", "body", "drag", "propeller", "motor", "controller", "battery"]
    assert [key for key in first if key in wanted] == [key for key in wanted if key in first]
    assert first[-3:] == ["servo", "linkage", "rigging"]


# --- facts -----------------------------------------------------------------------------------------------------------


@pytest.mark.documents
@pytest.mark.parametrize("name", DEMOS)
def test_every_fact_has_a_meaning_in_one_sentence(name: str) -> None:
    pages = fact_pages(load_plane(demo_path(name)))
    assert len(pages) > 12
    assert all(page.meaning.endswith(".") and page.value for page in pages)


@pytest.mark.documents
def test_every_meaning_belongs_to_a_fact() -> None:
    from evenfall.lines.throws import corner_reaches
    from evenfall.sheet.check import all_facts

    read = load_plane(demo_path("biplane_124"))
    keys = {meaning_key(fact.key) for fact in all_facts(read, 0.1, corner_reaches(read.plane))}
    assert keys == set(MEANINGS)


# --- shape -----------------------------------------------------------------------------------------------------------


def surface(page: PlaneView, name: str) -> SurfacePage:
    assert page.shape is not None
    return next(one for one in page.shape.surfaces if one.name == name)


def area(outline: tuple[tuple[float, float, float], ...], one: int = 0, two: int = 1) -> float:
    pairs = zip(outline, (*outline[1:], outline[0]), strict=True)
    return abs(math.fsum(a[one] * b[two] - b[one] * a[two] for a, b in pairs)) / 2


@pytest.mark.invariant
@pytest.mark.parametrize("name", DEMOS)
def test_wing_and_aileron_make_the_panel_and_sides_are_mirror_images(name: str) -> None:
    page, plane = view(demo(name)), load_plane(demo_path(name)).plane
    for wing_name, wing in plane.wings.items():
        right, left = surface(page, f"{wing_name}_right"), surface(page, f"{wing_name}_left")
        total = area(right.outline)
        if wing.aileron is not None:
            flap = surface(page, f"{wing_name}_right_aileron")
            mean = 0.5 * (wing.aileron.inner_chord + wing.aileron.outer_chord)
            assert area(flap.outline) == pytest.approx(1e6 * mean * (wing.aileron.outer_y - wing.aileron.inner_y), 2e-3)
            assert flap.hinge == (flap.outline[0], flap.outline[1])
            total += area(flap.outline)
        assert total == pytest.approx(0.5e6 * wing.area, rel=2e-3)
        if wing.incidence_left == wing.incidence_right:
            assert [(x, -y, z) for x, y, z in left.outline] == [tuple(point) for point in right.outline]
    assert page.shape is not None
    assert page.shape.span_mm == pytest.approx(1e3 * max(wing.span for wing in plane.wings.values()), abs=0.1)
    tail = [surface(page, key) for key in ("tail_left", "elevator_left")]
    assert sum(area(one.outline) for one in tail) == pytest.approx(0.5e6 * plane.tail.area, rel=2e-3)
    fin = plane.fin
    assert fin is not None
    up = [surface(page, key) for key in ("fin", "rudder")]
    assert sum(area(one.outline, 0, 2) for one in up) == pytest.approx(
        0.5e6 * (fin.root_chord + fin.tip_chord) * fin.height, rel=2e-3
    )


@pytest.mark.invariant
def test_dihedral_lifts_the_tip_and_stagger_moves_the_wing() -> None:
    text = demo().replace("dihedral_deg = 0", "dihedral_deg = 4", 1)
    tip = surface(view(text), "upper_right").outline[1]
    assert tip[2] == pytest.approx(145 + 620 * math.tan(math.radians(4)), abs=0.01)
    lower, upper = (surface(view(text), f"{name}_right").outline[0] for name in ("lower", "upper"))
    assert lower[0] - upper[0] == pytest.approx(10.0)


@pytest.mark.limit
def test_a_tail_that_moves_as_a_whole_has_no_fixed_part() -> None:
    page = view(demo().replace("elevator_chord_percent = 45", "elevator_chord_percent = 100"))
    assert page.shape is not None
    names = {one.name for one in page.shape.surfaces}
    assert "elevator_left" in names
    assert "tail_left" not in names


@pytest.mark.invariant
def test_pairs_of_parts_stand_left_and_right() -> None:
    shape = view(demo()).shape
    assert shape is not None
    wheels = [one for one in shape.solids if one.shape == "wheel"]
    assert len(wheels) == 2
    assert wheels[0].at[1] == -wheels[1].at[1] != 0
    assert wheels[0].size == (55.0, 18.0, 55.0)
    legs = [one for one in shape.solids if one.name == "undercarriage leg"]
    assert [one.at[1] for one in legs] == [one.at[1] for one in wheels]
    struts = [one for one in shape.solids if one.name == "wing strut"]
    assert all(one.size[2] == 290.0 for one in struts)
    assert [one.shape for one in shape.solids].count("body") == 1
    assert shape.height_mm == pytest.approx(190 + 255 + 27.5, abs=0.1)


@pytest.mark.invariant
def test_the_neutral_point_lies_where_the_static_margin_says() -> None:
    page = view(demo())
    assert page.shape is not None
    assert page.shape.neutral_x_mm is not None
    margin = next(fact for fact in page.facts if fact.name.startswith("CG ahead of the neutral"))
    chord = 1e3 * load_plane(demo_path("biplane_124")).plane.mean_chord
    assert page.shape.neutral_x_mm - 291 == pytest.approx(chord * float(margin.value.split()[0]) / 100, abs=0.2)


@pytest.mark.limit
def test_the_view_is_quick_enough_to_type_by() -> None:
    text = demo()
    view(text)
    times = []
    for step in range(9):
        changed = text.replace("z_mm = 145", f"z_mm = {146 + step}")
        start = time.perf_counter()
        view(changed)
        times.append(time.perf_counter() - start)
    assert sorted(times)[4] < 0.06  # measured 13 ms alone; the machine may be shared
