"""What flights teach in words: corrections, evidence, outliers, what is not told apart, what next."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from evenfall.advise.change import Step
from evenfall.estimate import Estimate
from evenfall.fit.learned import prior
from evenfall.logs.evidence import (
    Damping,
    Evidence,
    Flight,
    HeldStick,
    Pull,
    ShaftSpeed,
    SteadySpeed,
    TimedLine,
    TimedRolls,
)
from evenfall.logs.evidence_file import read_flight
from evenfall.record.parts import PARTS
from evenfall.sheet.learn_make import corrections_of, learn_page
from evenfall.sheet.learn_page import LearnPage
from evenfall.sheet.learn_text import learn_parts
from evenfall.sheet.learn_words import (
    apart_sentence,
    correction_sentence,
    correction_words,
    expected_words,
    off_words,
    seen_words,
)
from evenfall.sheet.text import console
from evenfall.workflow import TuneAnswer
from evenfall.workflow.closed_lines import told_alike
from evenfall.workflow.gathering import together
from evenfall.workflow.learning import Earlier, LearnAnswer, learn, unlocked

DOWN = Flight(slope=-math.pi / 2)
RPM = math.pi / 30
TEXT = """format = 1
date = 2026-05-17
[[timed]]
name = "first"
seconds = 4.7
length_m = { value = 100, spread = 1 }
entry_speed_m_s = 18
[[timed]]
name = "second"
seconds = 4.8
length_m = { value = 100, spread = 1 }
entry_speed_m_s = 18
[[timed]]
name = "slip of the thumb"
seconds = { value = 2.2, spread = 0.1 }
length_m = { value = 100, spread = 1 }
entry_speed_m_s = { value = 18, spread = 1 }
[[pull]]
towards = "belly"
turning_deg_s = 3
[[recorded]]
file = "none.csv"
"""


@pytest.fixture(scope="module")
def answer(tuned: Callable[[str], TuneAnswer], tmp_path_factory: pytest.TempPathFactory) -> LearnAnswer:
    made = tuned("biplane_124")
    assert made.plan is not None
    path = tmp_path_factory.mktemp("page") / "sunday.flight.toml"
    return learn(made.ready, made.plan, [read_flight(TEXT, path=str(path))], untaught=made.predicted)


@pytest.fixture(scope="module")
def page(answer: LearnAnswer) -> LearnPage:
    return learn_page(answer)


def printed(page: LearnPage) -> str:
    screen = console(140)
    with screen.capture() as capture:
        for part in learn_parts(page, "metric"):
            screen.print(part)
    return capture.get()


def test_the_page_holds_every_piece_and_survives_json(page: LearnPage) -> None:
    assert page.state == "learned"
    assert [piece.kind for piece in page.pieces] == ["timed line"] * 3 + ["pull"]
    assert LearnPage.model_validate_json(page.model_dump_json()) == page
    assert page.pieces[0].name == "2026-05-17 sunday, first"
    assert page.pieces[0].seen == "100 m in 4.7 +- 0.3 s"
    assert page.pieces[3].seen == "3.0 +- 2.0 deg/s towards the belly"
    for piece in page.pieces:
        assert piece.expected.split()[-1] in ("s", "canopy", "belly", "straight")


def test_outliers_are_named_and_not_dropped(page: LearnPage) -> None:
    wrong = page.pieces[2]
    assert wrong.outlier
    assert wrong.off_sigma < -3
    assert 0 < wrong.weight < 0.6
    assert any(note.startswith("Outlier: 2026-05-17 sunday, slip of the thumb") for note in page.notes)
    assert not page.proven
    assert "outlier" in page.proven_words


def test_what_was_not_used_is_said(page: LearnPage) -> None:
    assert any(note.startswith("Not used: ") and "none.csv" in note for note in page.notes)


def test_corrections_come_most_changed_first(page: LearnPage) -> None:
    told = [one.told for one in page.corrections]
    assert told == sorted(told, reverse=True)
    assert len(page.corrections) == len(prior().names)
    for one in page.corrections:
        assert one.low < one.factor < one.high
        if not one.told:
            assert one.factor == pytest.approx(1.0, abs=0.05)
            assert "Nothing was learned" in one.words
    assert page.corrections[0].told


def test_a_level_of_its_own_is_named() -> None:
    learned = prior(("parasite_drag", "brake_damping", "brake_damping:hard"))
    rows = {row.key: row for row in corrections_of(learned, learned)}
    assert rows["brake_damping:hard"].name == "torque of the motor brake at hard"


def test_text_says_it_all(page: LearnPage) -> None:
    text = printed(page)
    for words in (
        "one flight, 4 pieces of evidence",
        "vertical down, stick closed",
        "drag of the crow",
        "outlier, ",
        "Next change: ",
        "Next flight: ",
        "! Not used: ",
        "Not proven: ",
    ):
        assert words in text, words


def test_no_flight_is_said(answer: LearnAnswer) -> None:
    empty = learn(answer.ready, answer.plan, [read_flight("format = 1", path="x")], untaught=answer.untaught)
    page = learn_page(empty)
    assert page.state == "no flights"
    assert page.speeds[0].after_m_s is None
    assert page.change is None
    assert page.flight is not None
    assert "Enter at" in page.flight.height
    assert "Nothing was learned" in printed(page)


def entry_height(answer: LearnAnswer, *, crow: bool) -> tuple[int, str]:
    """Entry height of vertical lines, m, and all that is said with it."""
    assert answer.flight is not None
    bid = replace(answer.flight.best, kind="lines", line="vertical down", crow=crow)
    flight = learn_page(replace(answer, flight=replace(answer.flight, best=bid))).flight
    assert flight is not None
    found = re.search(r"Enter at (\d+) m", flight.height)
    assert found is not None
    return int(found[1]), flight.height


def test_a_line_without_crow_is_entered_as_high_as_it_runs_away(answer: LearnAnswer) -> None:
    (with_crow, _), (without, words) = (entry_height(answer, crow=crow) for crow in (True, False))
    assert answer.clean["vertical down"] > 1.2 * answer.ready.wanted
    assert without > 1.3 * with_crow
    assert f"runs away to {answer.clean['vertical down']:.0f} m/s" in words


def test_a_change_that_makes_it_faster_counts_for_the_entry_height(answer: LearnAnswer) -> None:
    assert answer.change is not None
    down, *others = answer.change.effects
    assert down.target == "down speed"
    faster = replace(down, after=replace(down.after, value=down.after.value + 8.0))
    step = Step(lever="crow", before=0.3, after=0.2, steps=-11)
    changed = replace(answer.change, steps=(step,), effects=(faster, *others))
    still = replace(changed, steps=())
    heights = [entry_height(replace(answer, change=change), crow=True)[0] for change in (still, changed)]
    assert heights[1] > heights[0] + 20


@pytest.mark.parametrize(
    ("part", "opens", "bends"), [("servo", False, False), ("radio", False, True), ("undercarriage", True, True)]
)
def test_a_replaced_part_shuts_the_lines_it_voids(answer: LearnAnswer, part: str, opens: bool, bends: bool) -> None:
    one = Earlier(plan=answer.plan, records=(), gathered=answer.gathered, calibration=None, expected=())
    assert one.opens
    assert one.bends
    later = replace(one, since=(PARTS[part],))
    assert (later.opens, later.bends) == (opens, bends)
    assert "vertical down" in unlocked(one.gathered.evidence)
    assert unlocked(()) == ("bench", "level")


def test_two_good_lines_prove_a_plan(tuned: Callable[[str], TuneAnswer]) -> None:
    made = tuned("biplane_124")
    assert made.plan is not None
    text = "format = 1\n" + "".join(
        "[[steady]]\nline = 'vertical down'\nstick_percent = 0\nspeed_m_s = { value = 22, spread = 0.4 }\n"
        for _ in range(3)
    )
    got = learn(made.ready, made.plan, [read_flight(text, path="x")], untaught=made.predicted, advise=False)
    page = learn_page(got)
    assert page.proven, page.proven_words
    assert page.proven_words.startswith("Proven: 2")

    before = Earlier(
        plan=got.plan, records=(), gathered=got.gathered, calibration=got.calibration, expected=got.expected
    )
    none = replace(got, gathered=together([]), calibration=None, expected=())
    told = {
        "no vertical line of this plan with the stick closed was measured, 2": none,
        "was measured since a part was replaced, 2": replace(none, earlier=(replace(before, since=(PARTS["servo"],)),)),
        "was measured with the plane as its file is now, 2": replace(none, earlier=(before,)),
    }
    for words, one in told.items():
        assert words in learn_page(one).proven_words


def test_the_advice_tells_the_down_speed_of_the_lines(answer: LearnAnswer, page: LearnPage) -> None:
    assert answer.change is not None
    assert answer.flight is not None
    down = next(one.after for one in answer.closed if one.line == "vertical down")
    assert down is not None
    assert next(effect.now for effect in answer.change.effects if effect.target == "down speed") == down
    assert answer.flight.now.speed == down.spread
    assert page.change is not None
    assert page.flight is not None
    assert f"{down.value:.1f} +- {down.spread:.1f} m/s" == page.change.effects[0].now
    assert f"down speed {down.spread:.1f} m/s now" in page.flight.why


def test_a_speed_of_another_shaft_state_stays_in_the_advice(answer: LearnAnswer) -> None:
    assert answer.change is not None
    now = answer.change.effects[0].now
    other = Estimate(value=now.value + now.spread, spread=2 * now.spread)
    assert told_alike(answer.change, answer.flight, other) == (answer.change, answer.flight)
    assert told_alike(answer.change, answer.flight, None) == (answer.change, answer.flight)


@pytest.mark.parametrize(
    ("piece", "seen", "expected", "words"),
    [
        (
            TimedLine(name="x", flight=DOWN, length=80, seconds=4, sigma=0.3, speed=20, speed_sigma=2),
            "80 m in 4.0 +- 0.3 s",
            4.256,
            "4.3 s",
        ),
        (SteadySpeed(name="x", flight=DOWN, speed=22.04, sigma=1.2), "22.0 +- 1.2 m/s", 21.37, "21.4 m/s"),
        (
            ShaftSpeed(name="x", flight=DOWN, omega=5200 * RPM, sigma=78 * RPM, speed=22),
            "5200 +- 80 rpm at 22.0 m/s",
            5334 * RPM,
            "5330 rpm",
        ),
        (
            Damping(name="x", level="a", omega=3000 * RPM, torque=0.025, sigma=0.1),
            "25.0 +- 2.5 mN m at 3000 rpm",
            0.0307,
            "30.7 mN m",
        ),
        (
            TimedRolls(name="x", flight=DOWN, rolls=3, seconds=3.2, sigma=0.3, throw=0.2, speed=22),
            "3 rolls in 3.2 +- 0.3 s",
            2.5,
            "2.5 s",
        ),
        (
            Pull(name="x", flight=DOWN, rate=math.radians(2), sigma=math.radians(1)),
            "2.0 +- 1.0 deg/s towards the canopy",
            -math.radians(1.5),
            "1.5 deg/s towards the belly",
        ),
        (
            Pull(name="x", flight=DOWN, rate=math.radians(1.32), sigma=math.radians(0.66)),
            "1.3 +- 0.7 deg/s towards the canopy",
            None,
            "",
        ),
        (Pull(name="x", flight=DOWN, rate=0.0, sigma=math.radians(1)), "0.0 +- 1.0 deg/s, straight", None, ""),
        (
            HeldStick(name="x", flight=Flight(slope=-0.8, stick=0.12), sigma=0.03),
            "stick 12 +- 3 percent",
            0.154,
            "15 percent",
        ),
    ],
)
def test_pieces_in_words(piece: Evidence, seen: str, expected: float | None, words: str) -> None:
    assert seen_words(piece) == seen
    assert expected_words(piece, expected) == words


def test_sentences() -> None:
    assert correction_words("crow_drag") == "drag of the crow"
    assert (
        correction_sentence(1.16, 0.1, 0.15, told=True)
        == "16 percent more than predicted, now known to 10 percent; before to 15 percent."
    )
    assert correction_sentence(0.4, 0.2, 0.69, told=True).startswith("0.4 times the prediction")
    assert correction_sentence(0.064, 0.2, 0.69, told=True).startswith("0.064 times the prediction")
    assert "a factor of 2.0" in correction_sentence(1.0, 0.69, 0.69, told=False)
    assert apart_sentence("parasite_drag", "crow_drag", -0.9) == (
        "Drag of body and parts and drag of the crow: only their sum is known. A vertical line without crow parts them."
    )
    assert off_words(0.5, False) == "agrees"
    assert off_words(-1.5, False) == "agrees"
    assert off_words(2.4, False) == "2.4 sigma off"
    assert off_words(-4.4, True) == "outlier, 4.4 sigma off"
