"""Drifts and trims as signs: by hand, at 20 m/s."""

from __future__ import annotations

import math

import pytest

from evenfall.fit.causes import chart
from evenfall.logs.evidence_entries import Flown, HeadingSeen, Measured, Trim
from evenfall.workflow.observed import Observed, observed

CROW, CLEAN = Flown(slope=-math.pi / 2), Flown(slope=-math.pi / 2, crow=False)


def deg(value: float, sigma: float = 1.0) -> Measured:
    return Measured(math.radians(value), math.radians(sigma))


def drift(
    flown: Flown, *, yawed: Measured | None = None, rolled: Measured | None = None, over: float | None = 100.0
) -> Observed:
    entry = HeadingSeen(name="heading 1", where="heading.0", flown=flown, yawed=yawed, rolled=rolled, length=over)
    return observed(entry, speed=20.0)


def trim(flown: Flown, *, angle: Measured | None = None, share: Measured | None = None) -> Observed:
    return observed(Trim(name="trim 1", where="trim.0", flown=flown, angle=angle, share=share), speed=20.0)


def test_a_drift_is_a_sign_from_the_size_that_pilots_notice() -> None:
    """15 deg over 100 m at 20 m/s are 3 deg/s; the chart has 2 for the nose and 5 for a roll."""
    assert chart().signs["yaws_right_crow"].notice == 2.0
    assert drift(CROW, yawed=deg(15)) == Observed(
        seen=frozenset({"yaws_right_crow"}), absent=frozenset({"yaws_left_crow"})
    )
    assert drift(CROW, yawed=deg(-15)).seen == {"yaws_left_crow"}
    assert drift(CROW, rolled=deg(30)).seen == {"opens_right"}
    assert drift(CLEAN, rolled=deg(-30)).seen == {"rolls_off_left"}
    assert drift(CROW, yawed=deg(7.5), over=None).seen == {"yaws_right_crow"}


def test_a_small_drift_rules_out_only_where_it_is_sure() -> None:
    """1 deg over 100 m is .2 deg/s; sigma 1 deg reaches .6 (below half of 2), sigma 10 deg reaches 4.2."""
    assert drift(CROW, yawed=deg(1)) == Observed(absent=frozenset({"yaws_right_crow", "yaws_left_crow"}))
    assert drift(CROW, yawed=deg(1, 10)) == Observed()


@pytest.mark.parametrize(
    ("flown", "value", "seen", "absent"),
    [
        (CROW, 1.0, {"belly_crow"}, {"canopy_crow"}),
        (CROW, -1.0, {"canopy_crow"}, {"belly_crow"}),
        (CLEAN, 1.0, {"belly_clean"}, {"canopy_clean"}),
        (CROW, 0.2, set(), {"canopy_crow", "belly_crow"}),
        (CROW, 0.5, set(), set()),
        (Flown(slope=0.0), 1.0, set(), set()),
    ],
)
def test_elevator_up_held_a_line_that_pulled_to_the_belly(
    flown: Flown, value: float, seen: set[str], absent: set[str]
) -> None:
    assert trim(flown, angle=deg(value, 0.3)) == Observed(seen=frozenset(seen), absent=frozenset(absent))
    share = Measured(0.03 * value, 0.01)
    assert trim(flown, share=share) == trim(flown, angle=deg(value, 1 / 3))


def test_what_one_flight_shows_is_there() -> None:
    both = drift(CROW, yawed=deg(1)) | drift(CROW, yawed=deg(15))
    assert both == Observed(seen=frozenset({"yaws_right_crow"}), absent=frozenset({"yaws_left_crow"}))
