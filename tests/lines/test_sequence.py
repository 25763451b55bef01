"""Sequences: the programmes close and stay in the box, faults come all at once, spoiled files are refused."""

from __future__ import annotations

import math
import random
import re
import time

import numpy as np
import pytest

from evenfall.errors import FileFaults
from evenfall.lines.path import lay_out
from evenfall.lines.sequence import Figure, Line, Loop, Roll, Sequence, Spin, StallTurn
from evenfall.lines.sequence_check import check_sequence
from evenfall.lines.sequence_file import load_sequence, parse_sequence
from evenfall.plane.starter import PROGRAMMES, programme_path

QUARTER = math.pi / 2


@pytest.mark.parametrize(("name", "figures"), [("eight", 8), ("seventeen", 17)])
def test_the_invented_programmes_close_and_stay_in_the_box(name: str, figures: int) -> None:
    sequence = load_sequence(programme_path(name))
    assert len(sequence.figures) == figures
    assert sequence.invented
    assert "invented" in sequence.name
    assert check_sequence(sequence) == ()


@pytest.mark.invariant
@pytest.mark.parametrize("name", PROGRAMMES)
def test_a_path_has_no_gaps_and_its_direction_is_its_derivative(name: str) -> None:
    path = lay_out(load_sequence(programme_path(name)))
    start = 0.0
    for before, piece in zip((None, *path.pieces), path.pieces, strict=False):
        assert math.isclose(piece.start, start, abs_tol=1e-9)
        start += piece.length
        if before is not None:
            np.testing.assert_allclose(piece.position, before.position_at(before.length), atol=1e-9)
            np.testing.assert_allclose(piece.forward, before.attitude(before.length)[0], atol=1e-12)
        for way in (0.2 * piece.length, 0.7 * piece.length):
            forward, canopy = (np.array(one) for one in piece.attitude(way))
            ahead, behind = (np.array(piece.position_at(way + step)) for step in (1e-5, -1e-5))
            np.testing.assert_allclose((ahead - behind) / 2e-5, forward, atol=1e-6)
            assert abs(forward @ canopy) < 1e-12
            assert abs(canopy @ canopy - 1) < 1e-9
    assert path.length == start


def test_figures_end_where_hand_reckoning_puts_them() -> None:
    """Half loop up with a half roll; stall turn; both from level flight to the right at 60 m."""
    immelmann = (Line(slope=0.0, length=50.0), Loop(radius=20.0, angle=math.pi), Line(slope=0.0, length=40.0))
    path = lay_out(Sequence(name="t", figures=(Figure(name="a", parts=immelmann),)))
    last = path.pieces[-1]
    np.testing.assert_allclose(last.position_at(last.length), (10.0, 0.0, 100.0), atol=1e-9)
    assert last.canopy[2] == pytest.approx(-1.0)
    up = (Loop(radius=20.0, angle=QUARTER), Line(slope=QUARTER, length=50.0), StallTurn(way=1))
    path = lay_out(Sequence(name="t", figures=(Figure(name="a", parts=up),)))
    last = path.pieces[-1]
    np.testing.assert_allclose(last.attitude(last.length)[0], (0.0, 0.0, -1.0), atol=1e-9)
    np.testing.assert_allclose(last.position_at(last.length), (20.0, -1.0, 130.0), atol=1e-9)
    roll = (Line(slope=0.0, length=60.0, rolls=(Roll(angle=QUARTER),)),)
    path = lay_out(Sequence(name="t", figures=(Figure(name="a", parts=roll),)))
    np.testing.assert_allclose(path.pieces[-1].canopy, (0.0, -1.0, 0.0), atol=1e-9)


def test_every_finding_at_once() -> None:
    wrong = (
        Figure(
            name="all wrong",
            parts=(
                Line(slope=0.0, length=30.0, rolls=(Roll(angle=4 * math.pi),)),
                Loop(radius=20.0, angle=QUARTER),
                Line(slope=math.pi / 4, length=400.0),
                StallTurn(),
                Spin(turns=2.0),
                Line(slope=-QUARTER, length=500.0),
            ),
            exit_height=60.0,
        ),
        Figure(name="far", parts=(Loop(radius=20.0, angle=QUARTER), Line(slope=0.0, length=600.0))),
    )
    found = check_sequence(Sequence(name="wrong", figures=wrong, height=30.0))
    words = "\n".join(item.message for item in found)
    for part in (
        "do not fit",
        "line of 45 deg is asked for",
        "goes up to",
        "goes down to",
        "exit_height_m",
        "spin begins",
    ):
        assert part in words, part
    assert any(item.stops for item in found)
    assert {item.figure for item in found} == {0, 1}
    banked = Figure(name="banked", parts=(Line(slope=0.0, length=60.0, rolls=(Roll(angle=QUARTER),)),))
    assert "banked by 90 deg" in check_sequence(Sequence(name="t", figures=(banked,)))[0].message
    aside = Figure(name="aside", parts=(Line(slope=0.0, length=400.0),))
    assert "deg from the middle" in check_sequence(Sequence(name="t", figures=(aside,)))[0].message


def test_a_file_reports_all_its_faults_with_their_lines() -> None:
    text = '\n'.join(
        [
            "format = 1",
            'name = "x"',
            "distance = 100",
            'direction = "up"',
            "[[figure]]",
            'name = "a"',
            "parts = [",
            "  { line_deg = 0, length_m = -5 },",
            "  { loop_deg = 90, radius_m = 20, towards = \"cockpit\" },",
            "  { loop_deg = 90, line_deg = 3 },",
            "  { line_deg = 0, length_m = 50, rolls = [{ roll_deg = 1 }, { turn = 3 }] },",
            "]",
        ]
    )  # fmt: skip
    with pytest.raises(FileFaults) as caught:
        parse_sequence(text, path="x.seq.toml")
    words = str(caught.value)
    for part in ("distance_m", "direction", "length_m", "towards", "exactly one of", "at least 10 deg", "roll_deg and"):
        assert part in words, part
    assert len(caught.value.faults) >= 7
    assert all(fault.line is not None for fault in caught.value.faults)


def spoiled(text: str, rng: random.Random) -> str:
    """The text with one to four things wrong."""
    rows = text.split("\n")
    for _ in range(rng.randint(1, 4)):
        row = rng.randrange(len(rows))
        kind = rng.randrange(9)
        if kind == 0:
            del rows[row]
        elif kind == 1:
            rows.insert(row, rows[rng.randrange(len(rows))])
        elif kind == 2:
            found = list(re.finditer(r"-?\d+\.?\d*", rows[row]))
            if found:
                hit = rng.choice(found)
                new = rng.choice(
                    ["1e9", "-1", "0", "nan", "inf", '"a"', "1,5", "1e308", "[]", "true", "12345678901234567890"]
                )
                rows[row] = rows[row][: hit.start()] + new + rows[row][hit.end() :]
        elif kind == 3 and rows[row]:
            at = rng.randrange(len(rows[row]))
            rows[row] = rows[row][:at] + rng.choice("{}[]=\"'#,.\\\x00é") + rows[row][at + 1 :]
        elif kind == 4:
            rows[row] = rows[row].replace("_deg", rng.choice(["", "_rad", "_degree", "_m"]), 1)
        elif kind == 5:
            rows[row] = rows[row].replace("canopy", rng.choice(["belly", "ground", "", "CANOPY"]), 1)
        elif kind == 6:
            rows = rows[:row]
            rows = rows or [""]
        elif kind == 7:
            rows[row] = rows[row] * rng.randint(2, 60)
        else:
            other = rng.randrange(len(rows))
            rows[row], rows[other] = rows[other], rows[row]
    return "\n".join(rows)


@pytest.mark.outside
def test_three_hundred_spoiled_files_are_read_or_refused_clearly_and_at_once() -> None:
    rng = random.Random(7)
    whole = [programme_path(name).read_text(encoding="utf-8") for name in PROGRAMMES]
    refused = slowest = 0.0
    for number in range(300):
        text = spoiled(whole[number % 2], rng)
        start = time.perf_counter()
        try:
            check_sequence(parse_sequence(text, path="spoiled.seq.toml"))
        except FileFaults as error:
            refused += 1
            assert error.faults
            assert all(fault.message and "Traceback" not in fault.message for fault in error.faults)
        slowest = max(slowest, time.perf_counter() - start)
    assert 100 < refused < 300
    assert slowest < 2.0
