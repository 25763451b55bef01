"""A plane file with the required keys alone: what can be said is said, and no more."""

from __future__ import annotations

import pytest
from rich.table import Table

from evenfall.plane.files import PlaneFile, parse_plane
from evenfall.sheet.make import predict_page
from evenfall.sheet.text import predict_parts
from evenfall.workflow import predict, tune

BARE = """
format = 1
name = "Bare"
datum = "propeller"
speed_km_h = 72
mass = { all_up_g = 1300, cg_x_mm = 290 }
tail = { span_mm = 460, root_chord_mm = 140, tip_chord_mm = 120, root_le_x_mm = 900, tip_le_x_mm = 910, z_mm = 0, \
section = "flat_plate", elevator_chord_percent = 40, elevator_up_deg = 25, elevator_down_deg = 25 }
propeller = { diameter_in = 12, pitch_in = 6 }
motor = { kv_rpm_per_v = 850 }
controller = { levels = [0, 50, 100] }
battery = { cells = 4, capacity_mah = 2600 }
[wing]
upper = { span_mm = 1200, root_chord_mm = 180, tip_chord_mm = 180, root_le_x_mm = 210, tip_le_x_mm = 210, \
z_mm = 140, thickness_mm = 22 }
lower = { span_mm = 1200, root_chord_mm = 180, tip_chord_mm = 180, root_le_x_mm = 230, tip_le_x_mm = 230, \
z_mm = -130, thickness_mm = 22 }
"""


@pytest.fixture(scope="module")
def bare() -> PlaneFile:
    """Two wings without ailerons, a tail, a power train."""
    return parse_plane(BARE)


def test_without_ailerons_lines_are_predicted_and_no_rolls(bare: PlaneFile) -> None:
    done = predict(bare)
    level = done.survey.line("level").speed
    assert level is not None
    assert level.speed == pytest.approx(20.0, rel=1e-3)
    assert done.rolls == ()
    assert done.roll_estimates == ()
    assert not any(
        isinstance(part, Table) and part.title == "Roll" for part in predict_parts(predict_page(done), "metric")
    )


def test_without_ailerons_no_plan_exists_and_the_reason_is_said(bare: PlaneFile) -> None:
    answer = tune(bare)
    assert answer.tuned.status == "none"
    assert answer.tuned.remedies == (
        "This plane has no ailerons in its file, so it can fly no crow: give [wing.upper.aileron].",
    )
