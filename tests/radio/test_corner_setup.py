"""How a corner is fitted: words and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from evenfall.errors import ValueRangeError
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.plan import MotorChoice, Plan

ONE = CornerSetup(corner="lower_left", arm_hole=0.01, horn_hole=0.02)


def test_words_say_what_to_do_with_the_arm() -> None:
    assert ONE.words.startswith("arm hole 10.0 mm, horn hole 20.0 mm, no tooth moved from square")
    fitted = replace(ONE, teeth=-1, arm=1, turned_over=True, offset=math.radians(-18), shift=36e-6, shift_means="radio")
    words = fitted.words
    assert "1 tooth pulling from square, rod on arm 2, arm turned over, +36 us by the radio's centre shift" in words
    assert words.endswith("-18.0 deg from square at neutral, rod adjusted to it")
    assert "2 teeth pushing" in replace(ONE, teeth=2).words
    assert "the servo's own centre" in replace(fitted, shift_means="servo").words


@pytest.mark.outside
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"corner": "left"}, "there are upper_left"),
        ({"arm_hole": 0.0}, "arm_hole lies between"),
        ({"horn_hole": math.nan}, "horn_hole lies between"),
        ({"pulse_neutral": 1500.0}, "between 300 and 3000 us"),
        ({"normal_turn": -0.1}, "between 0 and 180 deg"),
        ({"offset": 1.57}, "offset lies within 89 deg"),
        ({"shift": 2e-3, "shift_means": "radio"}, "shift within 1500 us"),
        ({"shift_means": "clock"}, "none of radio, servo, none"),
        ({"shift": 1e-5}, "needs a radio or servo"),
    ],
)
def test_what_cannot_be_fitted_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueRangeError, match=words):
        replace(ONE, **changes)  # type: ignore[arg-type]


def test_a_plan_keeps_corners_under_their_names() -> None:
    with pytest.raises(ValueRangeError, match="holds the settings of 'lower_left'"):
        Plan(plane_name="x", crow=None, motor=MotorChoice(level="x", percent=0), corners={"upper_left": ONE})
