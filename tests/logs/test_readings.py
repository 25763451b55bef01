"""Files of readings: what is accepted, every fault at once with its line, 200 damaged files without a traceback."""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest

from evenfall.errors import EditedFileError, EvenfallError, FileFaults, InputError
from evenfall.logs.readings import CORNERS, ReadingFile, load_readings
from evenfall.logs.readings_form import FormRow, append_reading, take_back, write_form

PHASES = ("normal", "snap")
ROWS = (
    FormRow(phase="snap", throttle=1.0, aileron=0.0, words="crow in, stick middle"),
    FormRow(phase="snap", throttle=0.345, aileron=-1.0, words="crow half out; stick left"),
)
CSV = """# my bench
phase;throttle_percent;aileron_percent;pressed;upper_left_deg;lower_right_deg;note
snap;100;0;up;-0,3;0.2;both marks
;0;-100;;12,5;;
"""
TOML = """format = 1
plane = "Demo"
[[reading]]
phase = "snap"
throttle_percent = 100
aileron_percent = 0
pressed = "up"
upper_left_deg = -0.3
lower_right_deg = 0.2
note = "both"
[[reading]]
throttle_percent = 0
aileron_percent = -100
upper_left_deg = 12.5
"""


def load(path: Path, text: str | bytes | None = None, **more: object) -> ReadingFile:
    if text is not None:
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_readings(path, corners=CORNERS, phases=PHASES, **more)  # type: ignore[arg-type]


def faults(path: Path, text: str | bytes, **more: object) -> list[tuple[int | None, str, str]]:
    with pytest.raises(FileFaults) as caught:
        load(path, text, **more)
    return [(fault.line, fault.where, fault.message) for fault in caught.value.faults]


def plain(read: ReadingFile) -> list[tuple[str, str, float, float, int, float]]:
    return [
        (r.surface, r.phase, r.throttle, r.aileron, r.direction, round(math.degrees(r.angle), 6)) for r in read.readings
    ]


WANTED = [
    ("upper_left", "snap", 1.0, 0.0, 1, -0.3),
    ("lower_right", "snap", 1.0, 0.0, 1, 0.2),
    ("upper_left", "normal", 0.0, -1.0, 0, 12.5),
]


@pytest.mark.invariant
def test_both_kinds_of_file_say_the_same(tmp_path: Path) -> None:
    table, toml = load(tmp_path / "a.csv", CSV), load(tmp_path / "a.toml", TOML, plane="Demo")
    assert plain(table) == plain(toml) == WANTED
    assert [r.line for r in table.readings] == [3, 3, 4]
    assert [r.line for r in toml.readings] == [3, 3, 11]
    assert toml.plane == "Demo"


@pytest.mark.invariant
@pytest.mark.parametrize(
    "text",
    [
        CSV.replace(";", "\t"),
        CSV.replace(",", ".").replace(";", ","),
        CSV.replace("\n", "\r\n"),
        "\ufeff" + CSV,
        CSV.replace("snap;", "SNAP;").replace("up;", "UP;").replace("phase;throttle", "Phase;THROTTLE"),
        CSV.replace("-0,3", "\u22120,3"),
        CSV.replace("snap;100", '"snap";"100"').replace("# my", '"# my'),
        CSV.rstrip("\n") + ";;;\n;;;;;;\n\n",
    ],
    ids=["tab", "comma", "crlf", "bom", "case", "minus", "quotes", "trailing"],
)
def test_what_spreadsheets_do_is_accepted(tmp_path: Path, text: str) -> None:
    assert plain(load(tmp_path / "a.csv", text)) == WANTED


@pytest.mark.invariant
def test_moving_is_the_other_way_round_than_pressed(tmp_path: Path) -> None:
    # pressed up, play leaves the edge high, as when it arrives moving down
    up = load(tmp_path / "a.csv", CSV).readings[0].direction
    down = load(tmp_path / "b.csv", CSV.replace("pressed", "moving").replace(";up;", ";down;")).readings[0].direction
    assert up == down == 1


@pytest.mark.outside
def test_every_fault_of_a_table_is_told_at_once(tmp_path: Path) -> None:
    found = faults(
        tmp_path / "a.csv",
        "phase;throttle_percent;aileron_percent;pressed;upper_left_deg;elevator_deg\n"
        "snapp;100;0;up;1;\n"
        "snap;101;0;sideways;1;\n"
        "snap;;0;up;ten;\n"
        "snap;0;0;up;95;1\n"
        "snap;0;0\n",
    )
    assert [(line, where) for line, where, _ in found] == [
        (2, "phase"),
        (3, "pressed"),
        (3, "throttle_percent"),
        (4, "upper_left_deg"),
        (5, "upper_left_deg"),
        (6, ""),
    ]
    assert "did you mean snap?" in found[0][2]
    assert "allowed is 0 to 100" in found[2][2]
    assert "plain number of deg" in found[3][2]
    assert "allowed is -89 to 89" in found[4][2]
    assert "3 cells, the header names 6" in found[5][2]


@pytest.mark.outside
@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("phase;throttle_percent;aileron_percent;upper_left", "upper_left_deg"),
        ("phase;throttle;aileron_percent;upper_left_deg", "throttle_percent"),
        ("phase;throttle_percent;aileron_percent;upper_left_rad", "in degrees"),
        ("phase;throttle_percent;aileron_percent;note", "no column holds angles"),
        ("phase;throttle_percent;aileron_percent;upper_left_deg;upper_left_deg", "twice"),
        ("phase;throttle_percent;upper_left_deg", "aileron_percent: this column is missing"),
        ("throttle_percent;aileron_percent;upper_left_deg;presed", "did you mean pressed?"),
        ("snap;100;0;up;1", "first row must name the columns"),
        ('phase;"throttle_percent;upper_left_deg', "quote that is not closed"),
    ],
)
def test_headers_are_explained(tmp_path: Path, header: str, words: str) -> None:
    path = tmp_path / "a.csv"
    path.write_text(header + "\nsnap;100;0;up;1\n", encoding="utf-8")
    with pytest.raises(FileFaults, match=r"line 1") as caught:
        load(path)
    assert words in str(caught.value)


@pytest.mark.outside
def test_decimal_commas_get_a_remedy_where_they_cannot_be_read(tmp_path: Path) -> None:
    header = "throttle_percent,aileron_percent,upper_left_deg\n"
    found = faults(tmp_path / "a.csv", header + "100,0,3,5\n100,0,4.5\n")
    assert len(found) == 1
    assert "put ; between the columns" in found[0][2]
    quoted = faults(tmp_path / "b.csv", header + '100,0,"3,5"\n')
    assert "3,5 has a decimal comma; write 3.5" in quoted[0][2]
    toml = faults(tmp_path / "a.toml", TOML.replace("-0.3", "-0,3"))
    assert toml[0][0] == 8
    assert "-0,3 has a decimal comma; write -0.3" in toml[0][2]


@pytest.mark.outside
def test_faults_of_toml(tmp_path: Path) -> None:
    text = TOML.replace("format = 1", "format = 2").replace("-0.3", "-95.0").replace("note", "nota")
    text = text.replace('pressed = "up"', 'pressed = "up"\nmoving = "up"').replace('"snap"', '"spin"')
    found = faults(tmp_path / "a.toml", text, plane="Other")
    words = "\n".join(message for _, _, message in found)
    for part in ("format 1", 'of "Other"', "it has normal, snap", "keep the one you did", "allowed is -89", "`note`"):
        assert part in words, part


@pytest.mark.outside
@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.csv", b"", "is empty"),
        ("a.csv", b"# only a remark\n", "no header"),
        ("a.toml", b"  \n", "is empty"),
        ("a.csv", b"\xff\xfea\0", "UTF-16"),
        ("a.csv", b"PK\x03\x04spreadsheet", "save the table as CSV"),
        ("a.csv", b"phase;\xe4\n", "not UTF-8"),
        ("a.csv", b"throttle_percent;aileron_percent;upper_left_deg\n0;0;\n", "no angle is filled in"),
        ("a.toml", b"format = 1\n", "no angle is filled in"),
    ],
)
def test_files_that_hold_nothing(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    assert words in faults(tmp_path / name, content)[0][2]


@pytest.mark.outside
def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    absent, zero = tmp_path / "no.csv", tmp_path / "a\0"
    for path, words in ((absent, "no such file"), (tmp_path, "a directory"), (zero, "zero byte")):
        with pytest.raises(FileFaults, match=words):
            load(path)


@pytest.mark.outside
def test_a_missing_aileron_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(CSV, encoding="utf-8")
    with pytest.raises(FileFaults, match="has no lower right aileron"):
        load_readings(path, corners=CORNERS[:2], phases=PHASES)


@pytest.mark.outside
def test_many_faults_are_counted_after_forty(tmp_path: Path) -> None:
    text = CSV.splitlines()[1] + "\n" + "snap;100;0;up;x;;\n" * 100
    found = faults(tmp_path / "a.csv", text)
    assert len(found) == 41
    assert "and 60 more" in found[-1][2]


# --- forms and adding -------------------------------------------------------------------------------------------------


@pytest.mark.property
@pytest.mark.parametrize("name", ["form.csv", "form.tsv", "form.toml"])
def test_a_form_is_read_once_it_is_filled_in(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    write_form(path, ROWS, corners=CORNERS, plane='Demo "x"', elevator=True)
    with pytest.raises(FileFaults, match="no angle is filled in"):
        load(path)
    assert load(path, may_be_empty=True).readings == ()
    with pytest.raises(EditedFileError):
        write_form(path, ROWS, corners=CORNERS, plane="Demo", elevator=False)
    text = path.read_text(encoding="utf-8")
    if name.endswith("toml"):
        filled = text.replace("# upper_left_deg = ", "upper_left_deg = 1.5")
    else:
        mark = "\t" if name.endswith("tsv") else ";"
        filled = text.replace(f"up{mark}{mark}", f"up{mark}1,5{mark}").replace(
            f"down{mark}{mark}", f"down{mark}1.5{mark}"
        )
    read = load(path, filled)
    assert [(r.surface, r.direction, round(math.degrees(r.angle), 9)) for r in read.readings] == [
        ("upper_left", 1, 1.5),
        ("upper_left", -1, 1.5),
    ] * 2
    assert [(r.throttle, r.aileron) for r in read.readings] == [(1.0, 0.0)] * 2 + [(0.345, -1.0)] * 2


@pytest.mark.property
@pytest.mark.parametrize("name", ["typed.csv", "typed.tsv", "typed.toml"])
@pytest.mark.parametrize("begun", [False, True])
def test_readings_are_added_one_by_one_and_taken_back(tmp_path: Path, name: str, begun: bool) -> None:
    path = tmp_path / name
    if begun:
        write_form(path, ROWS, corners=CORNERS, plane="Demo", elevator=False)
        path.write_text(path.read_text(encoding="utf-8").rstrip("\n"), encoding="utf-8")
    start = path.read_bytes() if begun else b""
    append_reading(path, ROWS[0], surface="upper_left", pressed="up", angle_deg=-3.25)
    before = append_reading(path, ROWS[1], surface="lower_right", pressed="down", angle_deg=12.0)
    assert plain(load(path)) == [
        ("upper_left", "snap", 1.0, 0.0, 1, -3.25),
        ("lower_right", "snap", 0.345, -1.0, -1, 12),
    ]
    take_back(path, before)
    assert len(load(path).readings) == 1
    assert path.read_bytes().startswith(start)


@pytest.mark.outside
def test_adding_needs_the_column(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(CSV, encoding="utf-8")
    with pytest.raises(InputError, match="no column lower_left_deg"):
        append_reading(path, ROWS[0], surface="lower_left", pressed="up", angle_deg=1.0)
    assert path.read_text(encoding="utf-8") == CSV
    with pytest.raises(InputError, match="cannot be written"):
        append_reading(tmp_path / "no" / "a.csv", ROWS[0], surface="lower_left", pressed="up", angle_deg=1.0)
    with pytest.raises(InputError, match="cannot be written"):
        write_form(tmp_path / "no" / "a.csv", ROWS, corners=CORNERS, plane="", elevator=False)


# --- damaged files ----------------------------------------------------------------------------------------------------

_BITS = (
    ";",
    ",",
    "\t",
    '"',
    "'",
    "#",
    "\n",
    "\r",
    "=",
    "[",
    "]",
    "[[",
    "-",
    "+",
    "e",
    "9" * 30,
    "nan",
    "inf",
    "\u00e4",
)
_BITS += ("\ufeff", "1e999", "up", "snap", "upper_left_deg", "0x1", ".", "_", " ", "true", '"""', "\x07", "{", "}")


def damaged(text: str, rng: random.Random) -> bytes:
    rows = text
    for _ in range(rng.randint(1, 6)):
        at, to = sorted((rng.randint(0, len(rows)), rng.randint(0, len(rows))))
        kind = rng.randrange(5)
        if kind == 0:
            rows = rows[:at] + rng.choice(_BITS) + rows[at:]
        elif kind == 1:
            rows = rows[:at] + rows[min(to, at + rng.randint(1, 12)) :]
        elif kind == 2:
            rows = rows[:at] + rng.choice(_BITS) + rows[at + 1 :]
        elif kind == 3:
            lines = rows.split("\n")
            lines.insert(rng.randint(0, len(lines)), rng.choice(lines))
            rows = "\n".join(lines)
        else:
            lines = rows.split("\n")
            rng.shuffle(lines)
            rows = "\n".join(lines)
    raw = rows.encode()
    if rng.random() < 0.1:
        cut = rng.randint(0, len(raw))
        raw = raw[:cut] + bytes([rng.randrange(256)]) + raw[cut:]
    return raw


@pytest.mark.outside
@pytest.mark.parametrize("count", [200, pytest.param(5000, marks=pytest.mark.long)])
def test_damaged_files_are_read_or_refused_in_words(tmp_path: Path, count: int) -> None:
    rng = random.Random(8)
    refused = 0
    for number in range(count):
        name, text = (("a.csv", CSV), ("a.toml", TOML), ("b.csv", CSV.replace(",", ".").replace(";", ",")))[number % 3]
        try:
            read = load(tmp_path / name, damaged(text, rng))
        except EvenfallError as error:
            refused += 1
            assert len(str(error).splitlines()) >= 2
        else:
            assert all(abs(r.angle) < math.pi / 2 and 0 <= r.throttle <= 1 for r in read.readings)
    assert refused > count // 2
