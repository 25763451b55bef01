"""The season and the contest card: what happened in its order, what surfaces show, what the day's air does."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from evenfall.advise.change import Effect, Step
from evenfall.air import standard_air
from evenfall.errors import EditedFileError, InputError
from evenfall.estimate import Estimate
from evenfall.lines.bench import bench_list
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Crow, MotorChoice, Plan, plane_phases
from evenfall.radio.planfile import frozen_text, plan_text
from evenfall.record.logbook import Logbook
from evenfall.record.rows import ChangeRow, FlightRow, LearnedRow, PartRow
from evenfall.sheet.card_html import card_html, check_card, write_card
from evenfall.sheet.card_make import card_page, check_rows
from evenfall.sheet.record_make import part_kinds, season_page
from evenfall.sheet.record_page import CardPage
from evenfall.sheet.record_text import season_parts
from evenfall.sheet.text import console
from evenfall.workflow import Ready
from evenfall.workflow.contest import CardLearned, ContestCard, contest_card
from evenfall.workflow.recording import season


def the_plan(file: PlaneFile) -> Plan:
    """A plan with crow for the demo biplane."""
    level = file.plane.controller.levels[-1]
    return Plan(
        plane_name=file.plane.name,
        crow=Crow(
            arrangement="down/up",
            upper=math.radians(20),
            lower=math.radians(-20),
            threshold=0.4,
            curve=((0.0, 1.0), (0.4, 0.0), (1.0, 0.0)),
        ),
        motor=MotorChoice(level=level.name, percent=level.percent),
        phases=plane_phases(file.plane),
        computed_from={"air_density_kg_m3": "1.2250"},
    )


@pytest.fixture(scope="module")
def file() -> PlaneFile:
    return load_plane(demo_path("biplane_124"))


def _learned(plane: str, plan: str, name: str, speed: float, token: str) -> LearnedRow:
    return LearnedRow(
        date="2026-05-02",
        plane=plane,
        plan=plan,
        plane_name=name,
        names=("crow_drag",),
        mean=(0.05,),
        covariance=((0.004,),),
        flights=(token,),
        speeds={"level": (22.0, 0.2), "vertical down": (speed, 0.6)},
    )


def test_the_season_goes_backwards_and_says_what_a_change_did(tmp_path: Path, file: PlaneFile) -> None:
    with Logbook(tmp_path) as book:
        name = file.plane.name
        plane, old = book.keep_text("plane", name, "a = 1\n"), book.keep_text("plan", "old.plan.toml", "b = 1\n")
        new = book.keep_text("plan", "new.plan.toml", "b = 2\n")
        first = book.save_flight(
            FlightRow(date="2026-05-01", place="home", plane=plane, plan=old, notes="x" * 200, pieces=1)
        )
        book.add_learned(_learned(plane, old, name, 23.4, first))
        book.add_change(
            ChangeRow(date="2026-05-03", plane_name=name, what="More crow.", why="too fast", from_plan=old, to_plan=new)
        )
        page = season_page(season(book, file), file)
        (change,) = [row for row in page.rows if row.what == "change"]
        assert (change.why, change.effect) == ("too fast", "")
        assert change.down_m_s is not None
        assert change.down_m_s.value == 23.4
        document = 'format = 1\ndate = "2026-05-04"\n[[timed]]\nline = "vertical down"\nlength_m = 100\nseconds = 4.5\n'
        second = book.save_flight(FlightRow(date="2026-05-04", plane=plane, plan=new, document=document, pieces=1))
        book.add_learned(replace(_learned(plane, new, name, 22.3, second), date="2026-05-04"))
        book.mark_proven(new, "alike twice", date="2026-05-05")
        page = season_page(season(book, file), file)
        book.remove_flight(first)
        assert [row.removed for row in season_page(season(book, file), file).flights] == [False, True]
    (change,) = [row for row in page.rows if row.what == "change"]
    assert change.effect == "Vertical down believed at 23.4 ± 0.6 m/s before, 22.3 ± 0.6 m/s after."
    assert [row.date[:10] for row in page.rows if row.what != "plan"] == [
        "2026-05-05", "2026-05-04", "2026-05-04", "2026-05-03", "2026-05-02", "2026-05-01"
    ]  # fmt: skip
    assert [flight.words[:12] for flight in page.flights] == ["1 timed line", "x" * 12]
    assert len(page.flights[1].words) == 80
    (learned, _) = [row for row in page.rows if row.what == "learned"]
    assert learned.effect == "vertical down 22.3 ± 0.6 m/s, level 22.0 ± 0.2 m/s"
    printed = console(140)
    with printed.capture() as shown:
        for part in season_parts(page):
            printed.print(part)
    assert "More crow. Why: too fast. Vertical down believed at" in " ".join(shown.get().split())
    assert page.wanted_m_s == file.plane.wanted.speed


def test_a_flight_shows_what_a_part_voids_to_be_done_again(tmp_path: Path, file: PlaneFile) -> None:
    document = (
        'format = 1\n[battery]\nbefore_v = 12.5\nafter_v = 11.4\n[[timed]]\nline = "vertical down"\nlength_m = 100\n'
        "seconds = 4.5\n"
    )
    with Logbook(tmp_path) as book:
        name = file.plane.name
        plane = book.keep_text("plane", name, "a = 1\n")
        part = book.add_part(PartRow(date="2026-05-02", plane_name=name, part="propeller"))
        for date in ("2026-05-01", "2026-05-02"):
            book.save_flight(FlightRow(date=date, plane=plane, document=document))
        (before,) = season(book, file).parts
        assert before.open == before.part.voids
        token = book.save_flight(FlightRow(date="2026-05-03", plane=plane, document=document))
        book.note_redone(part, "current at full throttle")
        (after,) = season(book, file).parts
        assert after.open == ("propeller nut after the first flight", "straightness of the lines without crow")
        book.remove_flight(token)
        assert "first-flight card: vertical down, timed" in season(book, file).parts[0].open


def test_every_aileron_has_its_own_servo_in_the_list(file: PlaneFile) -> None:
    keys = [kind.key for kind in part_kinds(file)]
    assert len(set(keys)) == len(keys)
    for corner in ("upper_left", "upper_right", "lower_left", "lower_right"):
        assert f"servo:{corner}" in keys
    assert "receiver" in keys
    assert all(kind.voids and kind.why.endswith("(common practice, no source)") for kind in part_kinds(file))


def test_surfaces_are_shown_phase_by_phase_and_nothing_twice(file: PlaneFile) -> None:
    rows = check_rows(bench_list(file.plane, the_plan(file)).phases)
    assert rows[0].phase == "normal"
    assert (rows[0].do, rows[0].see) == ("Throttle closed", "upper both 20° down; lower both 20° up")
    assert len({(row.do, row.see) for row in rows}) == len(rows) <= 10
    assert [row.see for row in rows if row.phase == "take-off and landing"] == ["ailerons flush; crow stays in"]
    assert any(re.fullmatch(r"elevator \d+° up", row.see) for row in rows)
    opened = [row for row in rows if row.do.startswith("Throttle full")]
    assert opened
    assert all("propeller off" in row.do for row in opened)
    bare = check_rows(bench_list(file.plane, replace(the_plan(file), crow=None)).phases)
    assert not any("crow is in" in row.see for row in bare)
    assert bare[0].see == "ailerons flush"


@pytest.fixture(scope="module")
def hot(file: PlaneFile, tmp_path_factory: pytest.TempPathFactory) -> ContestCard:
    """A proven plan on a hot high field, with a logbook."""
    frozen = frozen_text(plan_text(the_plan(file)), dt.date(2026, 5, 1))
    name = file.plane.name
    with Logbook(tmp_path_factory.mktemp("card")) as book:
        plane, plan = book.keep_text("plane", name, "a = 1\n"), book.keep_text("plan", "p.plan.toml", frozen)
        token = book.save_flight(FlightRow(date="2026-05-01", plane=plane, plan=plan))
        book.add_learned(_learned(plane, plan, name, 22.0, token))
        book.add_part(PartRow(date="2026-05-06", plane_name=name, part="propeller"))
        book.add_change(ChangeRow(date="2026-05-07", plane_name=name, what="Nut changed.", check="Look at it."))
        book.mark_proven(plan, "three flights alike", date="2026-05-08")
        air = standard_air(1500, temperature=308.15)
        return contest_card(file, frozen, plan_name="p.plan.toml", book=book, air=air)


@pytest.mark.long
def test_the_card_of_a_plan_in_its_own_air(ready: Callable[[str], Ready]) -> None:
    prepared = ready("biplane_124")
    card = contest_card(prepared, plan_text(the_plan(prepared.file)), plan_name="p.plan.toml")
    page = card_page(card, date="2026-06-01")
    assert page.state == "As tuned, not proven"
    assert page.air.endswith("as the plan was computed for.")
    assert not any("in that air" in line for line in page.speeds)
    assert page.speeds[0].startswith("vertical down, stick closed: ")
    assert " ± " in page.speeds[0]
    assert page.date == "2026-06-01"


def test_the_card_of_a_proven_plan_in_thin_air(hot: ContestCard) -> None:
    page = card_page(hot)
    assert page.state == "Frozen, proven 2026-05-08: three flights alike"
    assert re.search(r"1[0-9]{2}\d? hPa|\d{3} hPa", page.air)
    share = re.search(r"(\d+) % thinner than the 1\.225", page.air)
    assert share is not None
    density = hot.predicted.ready.air.density
    assert int(share.group(1)) == round(100 * (1 - density / 1.225))
    faster = re.search(r"([\d.]+) faster than in that air", page.speeds[0])
    assert faster is not None
    usual = hot.usual["vertical down"]
    now = hot.predicted.survey.line("vertical down").speed
    assert usual is not None
    assert now is not None
    assert float(faster.group(1)) == pytest.approx(now.speed - usual, abs=0.051)
    assert now.speed / usual == pytest.approx((1.225 / density) ** 0.5, rel=0.03)
    assert page.change.startswith("Change nothing.")
    assert any("propeller: not done again yet" in words for words in page.cautions)
    assert any("Nut changed. What it did was not seen yet. Look for it: Look at it." in w for w in page.cautions)


def test_the_card_says_what_its_speeds_rest_on(hot: ContestCard) -> None:
    found = hot.learned
    assert found is not None
    assert found.alike == "plan"
    level = hot.predicted.plan.motor.level

    def words(learned: CardLearned | None) -> str:
        return " ".join(card_page(replace(hot, learned=learned)).cautions)

    assert "learned" not in words(found)
    assert f"at its motor-brake level {level}." in words(replace(found, alike="level"))
    other = words(replace(found, alike="other", level="25"))
    assert f"Nothing was learned at motor-brake level {level} yet; the speeds rest on 2026-05-02" in other
    assert "at level 25." in other
    assert "No flight has taught what holds for this plan yet" in words(None)


def test_the_card_for_the_phone_stands_alone(hot: ContestCard, tmp_path: Path) -> None:
    page = card_page(hot).model_copy(update={"plane": "A <b>&</b> plane"})
    text = card_html(page)
    assert "A &lt;b&gt;&amp;&lt;/b&gt; plane" in text
    assert not re.search(r"(?:src|href)\s*=|<script|@import|url\(", text)
    assert text.count('type="checkbox"') == len(page.checks)
    assert card_html(page) == text
    target = tmp_path / "card.html"
    write_card(page, target)
    assert target.read_text(encoding="utf-8") == text
    with pytest.raises(EditedFileError, match="--force"):
        check_card(target)
    write_card(page, target, force=True)
    target.write_text("mine")
    with pytest.raises(EditedFileError, match="no sheet of ours"):
        check_card(target, force=True)
    with pytest.raises(InputError, match=r"must end in \.html"):
        check_card(tmp_path / "card.pdf")


def test_words_without_a_reason_are_one_line() -> None:
    page = CardPage(
        plane="p",
        plan="q",
        plan_hash="0" * 12,
        state="As tuned",
        date="2026-06-01",
        checks=(),
        air="",
        speeds=(),
        change="Change nothing.",
        cautions=(),
    )
    assert '<div class="change"><p>Change nothing.</p></div>' in card_html(page)


def test_on_a_contest_day_only_crow_is_trimmed_and_a_proven_plan_only_for_the_air(hot: ContestCard) -> None:
    """The change that would be made by the same card, otherwise made up."""
    found = hot.change
    assert found is not None
    sure = Estimate(value=24.0, spread=0.3)
    effect = Effect(target="down speed", now=sure, after=replace(sure, value=22.1), wanted=22.0, tolerance=0.4)
    crow = Step(lever="crow", before=math.radians(20), after=math.radians(21.5), steps=3)
    brake = Step(lever="motor brake", before="0", after="50", steps=0)

    def words(steps: tuple[Step, ...], *, usual: float, held: bool) -> str:
        change = replace(
            found, verdict="change", steps=steps, effects=(effect,), about="down speed", chance=0.9, limit=None
        )
        card = replace(
            hot,
            change=change,
            usual={"vertical down": usual},
            proven=hot.proven if held else None,
            frozen=held,
        )
        return card_page(card).change

    assert words((crow,), usual=22.1, held=True).startswith("Crow: 1.5 deg more")
    assert "For today's air alone" in words((crow,), usual=22.1, held=True)
    assert words((crow,), usual=23.5, held=True).startswith("Change nothing. The plan is proven.")
    assert words((crow,), usual=23.5, held=False).startswith("Crow: 1.5 deg more")
    assert "air alone" not in words((crow,), usual=23.5, held=False)
    assert words((brake,), usual=22.1, held=False).startswith("Change nothing today. For a practice day")
    assert words((), usual=22.1, held=False).startswith("Change nothing")
