"""What a contest card takes from the logbook: learned with its plan, else at its level, else brought to it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Crow, MotorChoice, Plan, present_plan
from evenfall.radio.planfile import frozen_text, parse_plan, plan_text
from evenfall.record.logbook import Logbook
from evenfall.record.rows import LearnedRow, PartRow
from evenfall.workflow.contest import CardLearned, learned_for
from evenfall.workflow.recording import season


@pytest.fixture(scope="module")
def file() -> PlaneFile:
    return load_plane(demo_path("biplane_124"))


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with Logbook(tmp_path) as made:
        yield made


def plan_at(file: PlaneFile, level: str, degrees: float) -> Plan:
    angle = math.radians(degrees)
    crow = Crow(
        arrangement="down/up", upper=angle, lower=-angle, threshold=0.4, curve=((0.0, 1.0), (0.4, 0.0), (1.0, 0.0))
    )
    found = file.plane.controller.level(level)
    made = replace(present_plan(file.plane), crow=crow, motor=MotorChoice(level=found.name, percent=found.percent))
    return parse_plan(plan_text(made), file.plane, path="p.plan.toml")


def learn(book: Logbook, file: PlaneFile, plan: Plan, brake: float, *, extra: str = "", text: str = "") -> str:
    """Keep corrections learned with a plan: ln of crow's drag 0.05, of the motor brake as given."""
    names = ("crow_drag", "brake_damping", *([f"brake_damping:{extra}"] if extra else []))
    many = len(names)
    return book.add_learned(
        LearnedRow(
            date="2026-05-02",
            plane=book.keep_text("plane", file.plane.name, "a = 1\n"),
            plan=book.keep_text("plan", "p.plan.toml", text or plan_text(plan)),
            plane_name=file.plane.name,
            names=names,
            mean=(0.05, *[brake] * (many - 1)),
            covariance=tuple(tuple(0.004 if i == j else 0.0 for j in range(many)) for i in range(many)),
            flights=(),
        )
    )


def chosen(book: Logbook, file: PlaneFile, plan: Plan) -> CardLearned:
    found = learned_for(book, season(book, file), plan, file)
    assert found is not None
    return found


def test_nothing_learned_is_none(book: Logbook, file: PlaneFile) -> None:
    assert learned_for(book, season(book, file), plan_at(file, "50", 20), file) is None


def test_the_last_with_the_plan_then_the_last_at_its_level(book: Logbook, file: PlaneFile) -> None:
    mine, near, far = plan_at(file, "50", 20), plan_at(file, "50", 25), plan_at(file, "100", 20)
    learn(book, file, far, 0.1)
    found = chosen(book, file, mine)
    assert (found.alike, found.level) == ("other", "100")
    at_level = learn(book, file, near, 0.2)
    learn(book, file, far, 0.3)
    found = chosen(book, file, mine)
    assert (found.row.id, found.alike, found.level) == (at_level, "level", "50")
    with_plan = learn(book, file, mine, 0.4)
    learn(book, file, near, 0.5)
    learn(book, file, far, 0.6)
    found = chosen(book, file, mine)
    assert (found.row.id, found.alike) == (with_plan, "plan")
    assert found.learned.factor("brake_damping") == pytest.approx(math.exp(0.4))
    assert chosen(book, file, far).learned.factor("brake_damping") == pytest.approx(math.exp(0.6))


def test_a_frozen_plan_is_the_same_plan(book: Logbook, file: PlaneFile) -> None:
    mine = plan_at(file, "50", 20)
    learn(book, file, mine, 0.1, text=frozen_text(plan_text(mine), dt.date(2026, 5, 1)))
    assert chosen(book, file, mine).alike == "plan"


def test_another_level_is_half_known(book: Logbook, file: PlaneFile) -> None:
    learn(book, file, plan_at(file, "100", 20), 0.2)
    found = chosen(book, file, plan_at(file, "50", 20))
    factor = found.learned.corrections("50").brake_damping
    assert 1.0 < factor < math.exp(0.2)
    assert found.learned.corrections("100").brake_damping == pytest.approx(math.exp(0.2))
    assert found.learned.factor("crow_drag") == pytest.approx(math.exp(0.05))


def test_a_level_flown_on_the_way_is_known(book: Logbook, file: PlaneFile) -> None:
    learn(book, file, plan_at(file, "100", 20), 0.2, extra="50")
    assert chosen(book, file, plan_at(file, "50", 20)).alike == "level"
    assert chosen(book, file, plan_at(file, "25", 20)).alike == "other"


def test_another_crow_adds_doubt_and_a_part_replaced_since_forgets(book: Logbook, file: PlaneFile) -> None:
    plan = plan_at(file, "50", 20)
    learn(book, file, plan, 0.2)
    known = chosen(book, file, plan).learned.sigma[0]
    assert chosen(book, file, plan_at(file, "50", 30)).learned.sigma[0] > known
    book.add_part(PartRow(date="2026-05-03", plane_name=file.plane.name, part="wing repair"))
    found = chosen(book, file, plan).learned
    assert found.factor("crow_drag") == 1.0
    assert found.factor("brake_damping") == pytest.approx(math.exp(0.2))
