"""Plane files changed by values: only the rows meant change, comments stay, the result holds what was asked for."""

from __future__ import annotations

import copy
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import FileFaults, InputError
from evenfall.plane.files import parse_plane
from evenfall.plane.plane_edit import DRAG_PARTS, edited_text, path_of, same_quantity, with_part, without_part
from evenfall.plane.starter import DEMOS, demo_path, template_text

TEXTS = {name: demo_path(name).read_text(encoding="utf-8") for name in DEMOS} | {"template": template_text()}


def leaves(table: Any, above: tuple[str, ...] = ()) -> dict[str, Any]:
    """Every key that holds a value, dotted."""
    found: dict[str, Any] = {}
    pairs = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in pairs:
        path = (*above, str(key))
        nested = isinstance(value, dict) and "value" not in value
        nested |= isinstance(value, list) and bool(value) and isinstance(value[0], dict)
        if nested:
            found.update(leaves(value, path))
        else:
            found[".".join(path)] = value
    return found


def with_leaf(data: dict[str, Any], key: str, value: Any) -> dict[str, Any]:
    done = copy.deepcopy(data)
    node: Any = done
    *way, last = key.split(".")
    for part in way:
        node = node[int(part)] if isinstance(node, list) else node.setdefault(part, {})
    if value is None:
        node.pop(last, None)
    else:
        node[last] = {"value": value[0], "spread": value[1]} if isinstance(value, tuple) else value
    return done


def comments(text: str) -> list[str]:
    return [row[row.index("#") :] for row in text.split("\n") if "#" in row]


numbers = st.one_of(
    st.integers(-(10**6), 10**6).map(float),
    st.floats(allow_nan=False, allow_infinity=False),
    st.floats(0.001, 5000).map(lambda value: round(value, 3)),
)
words = st.text(st.characters(exclude_categories=("Cs",)), max_size=40)
values = st.one_of(numbers, st.booleans(), words, st.tuples(numbers, numbers))


@pytest.mark.property
@given(data=st.data(), name=st.sampled_from(sorted(TEXTS)))
def test_a_value_changes_its_row_and_nothing_else(data: st.DataObject, name: str) -> None:
    text = TEXTS[name]
    before = tomllib.loads(text)
    there = {key: value for key, value in leaves(before).items() if not isinstance(value, list)}
    key = data.draw(st.sampled_from(sorted(there)))
    value = data.draw(values)
    made = edited_text(text, {key: value})
    assert tomllib.loads(made) == with_leaf(before, key, value)
    rows, new = text.split("\n"), made.split("\n")
    assert len(rows) == len(new)
    changed = [place for place, (old, row) in enumerate(zip(rows, new, strict=True)) if old != row]
    assert len(changed) <= 1
    for place in changed:
        assert rows[place].split("=")[0] == new[place].split("=")[0]
        if "#" in rows[place]:
            assert new[place].endswith(rows[place][rows[place].index("#") :])


@pytest.mark.property
@given(data=st.data(), name=st.sampled_from(sorted(TEXTS)))
def test_many_edits_hold_what_was_asked_and_keep_every_comment(data: st.DataObject, name: str) -> None:
    text = TEXTS[name]
    wanted = tomllib.loads(text)
    there = sorted(key for key, value in leaves(wanted).items() if not isinstance(value, list))
    new = ["rigging.side_thrust_deg", "fin.offset_deg", "wing.upper.note", "speed.stick_percent", "extra.deep.one"]
    keys = data.draw(st.lists(st.sampled_from([*there, *new]), unique=True, max_size=8))
    edits = {key: data.draw(st.one_of(values, st.none()) if key in there else values) for key in keys}
    made = edited_text(text, edits)
    for key, value in edits.items():
        wanted = with_leaf(wanted, key, value)
    assert tomllib.loads(made) == wanted
    removed = {key.split(".")[-1] for key, value in edits.items() if value is None}
    kept = [row for row in text.split("\n") if row.split("=")[0].strip() not in removed]
    left = comments(made)
    assert all(comment in left for comment in comments("\n".join(kept)))


@pytest.mark.property
@given(
    name=st.sampled_from(sorted(TEXTS)), kinds=st.lists(st.sampled_from(sorted(DRAG_PARTS)), max_size=4), data=st.data()
)
def test_parts_come_and_go(name: str, kinds: list[str], data: st.DataObject) -> None:
    text = TEXTS[name]
    parts = tomllib.loads(text).get("drag", [])
    for kind in kinds:
        text = with_part(text, kind)
    made = tomllib.loads(text).get("drag", [])
    assert made[: len(parts)] == parts
    assert len(made) == len(parts) + len(kinds)
    while made:
        index = data.draw(st.integers(0, len(made) - 1))
        text = without_part(text, index)
        del made[index]
        assert tomllib.loads(text).get("drag", []) == made
    assert {**tomllib.loads(TEXTS[name]), "drag": 0} == {**tomllib.loads(text), "drag": 0}


@pytest.mark.parametrize("kind", sorted(DRAG_PARTS))
def test_a_new_part_can_be_read_at_once(kind: str) -> None:
    text = with_part(TEXTS["biplane_124"], kind)
    assert len(parse_plane(text).plane.drag) == len(parse_plane(TEXTS["biplane_124"]).plane.drag) + 1


def test_a_part_goes_with_the_comment_above_it_and_no_other() -> None:
    text = (
        '# top\nname = "A"\n\n# the wheels\n# measured\n[[drag]]\nx_mm = 1  # here\n\n# the wire\n[[drag]]\nx_mm = 2\n'
    )
    assert without_part(text, 0) == '# top\nname = "A"\n\n# the wire\n[[drag]]\nx_mm = 2\n'
    assert without_part(text, 1) == '# top\nname = "A"\n\n# the wheels\n# measured\n[[drag]]\nx_mm = 1  # here\n'
    with pytest.raises(InputError, match="no drag number 3"):
        without_part(text, 2)


def test_comment_behind_a_value_stays_in_its_column() -> None:
    assert edited_text("span_mm = 1240   # tips\n", {"span_mm": 9.5}) == "span_mm = 9.5    # tips\n"
    assert edited_text("a = 1 # x", {"a": 1234567.0}) == "a = 1234567 # x"


def test_another_unit_takes_the_place_of_the_first() -> None:
    text = "[wing.upper]\nspan_mm = 1240  # with tips\nroot_chord_mm = 172\n"
    made = edited_text(text, {"wing.upper.span_in": 48.8})
    assert made == "[wing.upper]\nspan_in = 48.8  # with tips\nroot_chord_mm = 172\n"
    assert edited_text(text, {"wing.upper.span_mm": None, "wing.upper.span_in": 48.8}) == made
    assert same_quantity("torque_oz_in", {"torque_kgf_cm": 1}) == "torque_kgf_cm"
    assert same_quantity("brake_delay_s", {"restart_delay_s": 1}) is None
    assert same_quantity("speed_m_s", {"speed_s": 1}) is None
    assert same_quantity("x_mm", {"x_g": 1}) is None


def test_numbers_are_short_and_lists_come_from_commas() -> None:
    text = "levels = [0, 50]\n"
    assert edited_text(text, {"levels": "0, 12.5, 100"}) == "levels = [0, 12.5, 100]\n"
    assert edited_text(text, {"a_mm": 1240.0}) == "levels = [0, 50]\na_mm = 1240\n"
    assert edited_text("", {"arm_holes_mm": "8, 9.5"}) == "arm_holes_mm = [8, 9.5]\n"
    assert edited_text(text, {"cg_x_mm": (291.0, 2.0)}).endswith("cg_x_mm = { value = 291, spread = 2 }\n")


def test_new_tables_take_their_place() -> None:
    text = "format = 1\n\n[mass]\nall_up_g = 1\n\n# the tail\n[tail]\nspan_mm = 1\n"
    made = edited_text(text, {"wing.upper.aileron.throw_up_deg": 40, "fin.height_mm": 9})
    assert made == (
        "format = 1\n\n[mass]\nall_up_g = 1\n\n[wing.upper.aileron]\nthrow_up_deg = 40\n\n# the tail\n[tail]\n"
        "span_mm = 1\n\n[fin]\nheight_mm = 9\n"
    )


def test_values_over_several_rows_and_in_braces() -> None:
    text = 'levels = [\n  0,  # off ] "\n  50,\n]  # in percent\nwing = { upper = { span_mm = 1 } }\n'
    text += 'text = """\nspan_mm = 3\n"""\n'
    made = edited_text(text, {"levels": "1, 2", "wing.upper.span_mm": 7.0})
    assert tomllib.loads(made) == {"levels": [1, 2], "wing": {"upper": {"span_mm": 7}}, "text": "span_mm = 3\n"}
    assert "# in percent" in made


def test_windows_line_ends_and_byte_order_mark_stay() -> None:
    text = "\ufeffa = 1  # one\r\nb = 2\r\n"
    assert edited_text(text, {"a": 3.0, "c": True}) == "\ufeffa = 3  # one\r\nb = 2\r\nc = true\r\n"


@pytest.mark.outside
@pytest.mark.parametrize(
    "key", ["", "a.b.c.d.e", "a..b", "a b", "a\nb", 'a"b', "[x]", "a.\x00", "a#b", "ä", "a" * 61, "../x", "x=1"]
)
def test_keys_that_cannot_be_are_refused(key: str) -> None:
    with pytest.raises(InputError, match="is no key of a plane file"):
        path_of(key)
    with pytest.raises(InputError):
        edited_text("a = 1\n", {key: 1.0})


@pytest.mark.outside
@pytest.mark.parametrize(
    ("edits", "words"),
    [
        ({"wing": 3.0}, "wing is a table"),
        ({"name.x": 3.0}, "name is a value"),
        ({"drag.9.x_mm": 3.0}, "there is no drag.9"),
        ({"drag.x_mm": 3.0}, "name an entry by its number"),
        ({"a_mm": float("inf")}, "finite"),
        ({"a_mm": float("nan")}, "finite"),
        ({"name": "\ud800"}, "half a character"),
    ],
)
def test_edits_that_cannot_be_are_refused(edits: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        edited_text(TEXTS["biplane_124"], edits)


def test_spoiled_text_is_refused_with_its_rows() -> None:
    with pytest.raises(FileFaults, match="line 2"):
        edited_text("a = 1\nb = \n", {"a": 2.0})


def test_removing_what_is_not_there_changes_nothing() -> None:
    assert edited_text(TEXTS["template"], {"nothing.here": None}) == TEXTS["template"]
