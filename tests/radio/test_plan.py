"""The plan as data: curves, signs, surface angles."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.radio.plan import ARRANGEMENTS, Crow, MotorChoice, wing_signs


def crow(**changes: object) -> Crow:
    values: dict[str, object] = {
        "arrangement": "up/down",
        "upper": -0.25,
        "lower": 0.25,
        "threshold": 0.45,
        "curve": ((0.0, 1.0), (0.45, 0.0), (1.0, 0.0)),
    }
    return Crow(**{**values, **changes})  # type: ignore[arg-type]


@pytest.mark.limit
def test_full_at_the_closed_end_stowed_from_the_threshold_up() -> None:
    assert crow().deployment([0.0, 0.45, 0.7, 1.0]).tolist() == [1.0, 0.0, 0.0, 0.0]


@pytest.mark.property
@given(st.lists(st.floats(0, 1), min_size=2, max_size=6, unique=True), st.floats(0, 1), st.floats(0, 1))
def test_deployment_never_rises_with_the_stick(sticks: list[float], a: float, b: float) -> None:
    sticks = sorted(sticks)
    values = [1 - i / (len(sticks) - 1) for i in range(len(sticks))]
    c = crow(curve=tuple(zip(sticks, values, strict=True)))
    low, high = sorted((a, b))
    assert c.deployment(low) >= c.deployment(high)


def test_arrangements_name_upper_wing_first() -> None:
    assert [wing_signs(name) for name in ARRANGEMENTS] == [(-1, 1), (1, -1), (-1, -1), (1, 1)]


def test_elevator_follows_the_larger_wing_angle() -> None:
    assert crow(lower=0.2, elevator_share=-0.1).elevator == pytest.approx(-0.025)


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (((0.0, 1.0),), "at least two points"),
        (((0.0, 1.0), (0.0, 0.5)), "must rise"),
        (((0.0, 0.2), (1.0, 0.5)), "never rise"),
        (((0.0, 1.5), (1.0, 0.0)), "between 0 and 100"),
        (((0.0, math.nan), (1.0, 0.0)), "not finite"),
    ],
)
def test_a_curve_that_cannot_be_flown_is_refused(points: tuple[tuple[float, float], ...], words: str) -> None:
    with pytest.raises(ValueRangeError, match=words):
        crow(curve=points)


def test_a_throttle_curve_must_not_fall() -> None:
    with pytest.raises(ValueRangeError, match="never fall"):
        MotorChoice(level="25", percent=25.0, throttle_curve=((0.0, 0.5), (1.0, 0.2)))


def test_an_unknown_arrangement_names_the_known_ones() -> None:
    with pytest.raises(ValueRangeError, match="both down"):
        crow(arrangement="sideways")
