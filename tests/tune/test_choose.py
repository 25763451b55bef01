"""Verdicts, their order and every sentence of why."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from evenfall.plane.electrics import BrakeLevel
from evenfall.tune.candidates import Candidate, CrowLimit
from evenfall.tune.choose import Judged, judge
from evenfall.tune.targets import Targets, Weights

WANTED = 22.0


def candidate(**changes: Any) -> Candidate:
    """A candidate with nothing wrong; `shaft_...` changes go to its shaft."""
    shaft = {
        "level": BrakeLevel(name="25", percent=25.0),
        "thrust": (-2.0,),
        "margin": 30.0,
        "fold_probability": 0.0,
        "double_speeds": None,
        "span_probability": 0.0,
    }
    shaft.update({key[6:]: changes.pop(key) for key in list(changes) if key.startswith("shaft_")})
    limit = CrowLimit(angle=math.radians(31.0), wing="upper")
    plain = Candidate(
        shaft=cast("Any", SimpleNamespace(**shaft)),
        drag=cast("Any", SimpleNamespace(arrangement="up/down", limit=limit)),
        angle=math.radians(14.0),
        reach="met",
        states=1,
        speed=22.0,
        other_speeds=(),
        fastest=30.0,
        slowest=18.0,
        per_degree=-0.2,
        per_brake=-0.1,
        snap_room=0.4,
        curvature=0.0,
        retention=1.0,
    )
    return replace(plain, **changes)


def judged(*items: Candidate) -> tuple[Judged, ...]:
    return judge(items, wanted=WANTED, targets=Targets(), weights=Weights())


def why(**changes: Any) -> str:
    (only,) = judged(candidate(**changes))
    return only.why


@pytest.mark.documents
@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"reach": "no steady speed", "speed": None}, "No steady speed on the vertical down with this level."),
        (
            {"reach": "too fast", "speed": 25.3},
            "Still 25.3 m/s with 31 deg of crow, the most the upper wing's hinges allow; wanted is 22.0.",
        ),
        (
            {"reach": "too slow", "speed": 20.1},
            "Only 20.1 m/s even without crow: this level holds too much; wanted is 22.0.",
        ),
    ],
)
def test_refusals(changes: dict[str, Any], words: str) -> None:
    (only,) = judged(candidate(**changes))
    assert only.verdict == "refused"
    assert only.why == words


@pytest.mark.documents
@pytest.mark.parametrize(
    ("changes", "words", "fickle"),
    [
        ({}, "Chosen.", False),
        (
            {"states": 2, "other_speeds": (25.0,)},
            "2 propeller speeds possible at the wanted speed: 22.0 or 25.0 m/s, entry speed decides.",
            True,
        ),
        ({"states": 0}, "No stable propeller speed at the wanted speed.", True),
        (
            {"shaft_fold_probability": 0.3, "shaft_margin": -4.0},
            "One propeller speed as computed, 4 percent of brake from the fold, but level 25 is known to a factor of "
            "two only: 30 % chance of two.",
            True,
        ),
        (
            {"shaft_fold_probability": 0.3, "shaft_margin": None},
            "One propeller speed as computed, but level 25 is known to a factor of two only: 30 % chance of two.",
            True,
        ),
        (
            {"shaft_double_speeds": (15.4, 17.6)},
            "Two propeller speeds between 15.4 and 17.6 m/s: entries at such a speed take longer to settle.",
            False,
        ),
        (
            {"shaft_double_speeds": (15.41, 15.43)},
            "Two propeller speeds at 15.4 m/s: entries at such a speed take longer to settle.",
            False,
        ),
        (
            {
                "shaft_fold_probability": 0.3,
                "shaft_level": BrakeLevel(name="25", percent=25.0, damping=1e-4),
            },
            "but level 25 is known to a tenth only: 30 % chance of two.",
            True,
        ),
        ({"per_brake": -0.8}, "Sensitive: 5 percent of brake move the down speed by -0.8 m/s.", False),
        ({"retention": 0.61}, "Rolls at 61 % of the stowed roll rate.", False),
        ({"curvature": 0.5}, "Pulls to the canopy at 29 deg/s until the elevator share is in.", False),
        ({"curvature": -0.5}, "Pulls to the belly at 29 deg/s until the elevator share is in.", False),
    ],
)
def test_doubts_and_remarks(changes: dict[str, Any], words: str, fickle: bool) -> None:
    assert words in why(**changes)
    # Beside one with nothing wrong, what is fickle is not chosen.
    both = judged(candidate(**changes), candidate(shaft_level=BrakeLevel(name="0", percent=0.0)))
    assert any(item.verdict == "fickle" for item in both) == fickle


def test_usable_before_fickle_before_refused_and_only_the_first_is_chosen() -> None:
    items = judged(
        candidate(reach="too fast", speed=25.0),
        candidate(states=2, other_speeds=(24.0,)),
        candidate(retention=0.5),
        candidate(),
    )
    assert [item.verdict for item in items] == ["chosen", "usable", "fickle", "refused"]
    assert items[0].candidate.retention == 1.0


def test_a_fickle_one_is_chosen_where_nothing_better_is_left() -> None:
    items = judged(candidate(reach="too fast", speed=25.0), candidate(states=2, other_speeds=(24.0,)))
    assert [item.verdict for item in items] == ["chosen", "refused"]
    assert items[0].why.startswith("Chosen. 2 propeller speeds possible")


def test_where_all_are_refused_the_nearest_comes_first_and_none_is_chosen() -> None:
    items = judged(
        candidate(reach="too fast", speed=28.0),
        candidate(reach="no steady speed", speed=None),
        candidate(reach="too fast", speed=24.0),
    )
    assert [item.candidate.speed for item in items] == [24.0, 28.0, None]
    assert {item.verdict for item in items} == {"refused"}


def test_nothing_to_judge() -> None:
    assert judged() == ()


@pytest.mark.invariant
@pytest.mark.parametrize(
    "worse",
    [
        {"shaft_fold_probability": 0.1},
        {"shaft_span_probability": 0.3},
        {"curvature": 0.4},
        {"retention": 0.6},
        {"angle": math.radians(25.0)},
        {"shaft_level": BrakeLevel(name="100", percent=100.0)},
    ],
)
def test_every_shortcoming_costs(worse: dict[str, Any]) -> None:
    better, other = judged(candidate(**worse), candidate())
    assert better.cost < other.cost
    assert better.candidate == candidate() or better.candidate.shaft.level.percent == 25.0
