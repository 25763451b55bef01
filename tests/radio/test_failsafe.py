"""The failsafe table: motor, ailerons and crow for each way of storing it, and how to test it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenfall.plane.airframe import CORNERS, Plane
from evenfall.radio.failsafe import FAILSAFE_KINDS, Tendency, failsafe_table
from evenfall.radio.plan import Plan


def test_hold_alone_is_unacceptable_for_the_motor(biplane: Plane, crow_plan: Plan) -> None:
    table = failsafe_table(biplane, crow_plan)
    assert tuple(row.kind for row in table.rows) == FAILSAFE_KINDS
    assert [row.kind for row in table.rows if not row.motor_acceptable] == ["hold"]
    assert "unacceptable" in table.row("hold").motor
    assert [row.kind for row in table.rows if row.recommended] == ["closed pulse"]


def test_storing_with_the_stick_closed_stores_crow_out(biplane: Plane, crow_plan: Plan) -> None:
    table = failsafe_table(biplane, crow_plan)
    captured, preset = table.row("captured closed"), table.row("closed pulse")
    assert captured.crow == "out"
    assert captured.ailerons is not None
    assert preset.ailerons is not None
    assert set(captured.ailerons) == set(CORNERS)
    for name, angle in captured.ailerons.items():
        assert math.degrees(angle) == pytest.approx(14.5 if name.startswith("upper") else -14.5)
    assert preset.crow == "stowed"
    assert set(preset.ailerons.values()) == {0.0}
    assert "braked at level 25" in captured.motor
    assert captured.motor == preset.motor
    assert "freewheeling" in table.row("no pulse").motor
    for kind in ("hold", "no pulse"):
        assert table.row(kind).ailerons is None  # type: ignore[arg-type]
        assert table.row(kind).crow == "as it was"  # type: ignore[arg-type]


def test_without_crow_or_motor_brake_it_says_so(biplane: Plane, crow_plan: Plan) -> None:
    motor = replace(crow_plan.motor, level="0", percent=0.0)
    table = failsafe_table(biplane, replace(crow_plan, crow=None, motor=motor))
    assert table.row("captured closed").crow == "stowed"
    assert "without crow" in table.row("captured closed").text
    assert "no motor brake set" in table.row("closed pulse").motor


def test_numbers_of_the_caller_are_said(biplane: Plane, crow_plan: Plan) -> None:
    numbers = {
        "captured closed": Tendency(down_speed=21.6, roll=math.radians(-12), glide_speed=15.0),
        "closed pulse": Tendency(down_speed=27.2, roll=0.0),
    }
    table = failsafe_table(biplane, crow_plan, numbers)  # type: ignore[arg-type]
    assert "straight down 22 m/s, gliding 15 m/s, rolls left at 12 deg/s" in table.row("captured closed").text
    assert "straight down 27 m/s, does not roll by itself" in table.row("closed pulse").text
    assert "m/s" not in table.row("no pulse").text


@pytest.mark.documents
def test_every_row_says_what_to_store_and_how_to_test_it_without_propeller(biplane: Plane, crow_plan: Plan) -> None:
    table = failsafe_table(biplane, crow_plan)
    for row in table.rows:
        assert row.store.endswith(".")
        assert row.test.startswith("Propeller off")
        assert row.text.endswith(".")
    assert "Propeller off" in table.cautions[0]
    assert "never prove the motor disarmed" in table.cautions[0]
