"""Limits of the hinges, the crow a speed needs, shafts and their doubt; remedies in words."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.numeric import Status
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import Corrections
from evenfall.plane.electrics import BrakeLevel
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import ARRANGEMENTS, Throws
from evenfall.tune.candidates import (
    Candidate,
    _share_for,
    arrangement_drags,
    crow_at,
    crow_limit,
    level_shafts,
    snap_room,
)
from evenfall.tune.reached import Target, _double_words, no_plan_remedies, remedies_for
from evenfall.tune.targets import Targets
from evenfall.workflow import Ready, TuneAnswer


@pytest.fixture(scope="module")
def plane() -> Plane:
    """A biplane whose upper ailerons go 40 up, 20 down and whose lower ones go 30 either way."""
    plain = load_plane(demo_path("biplane_124")).plane
    assert plain.upper is not None
    assert plain.lower is not None
    assert plain.upper.aileron is not None
    assert plain.lower.aileron is not None
    up = replace(plain.upper.aileron, throw_up=math.radians(40), throw_down=math.radians(20))
    low = replace(plain.lower.aileron, throw_up=math.radians(30), throw_down=math.radians(30))
    return replace(plain, upper=replace(plain.upper, aileron=up), lower=replace(plain.lower, aileron=low))


@pytest.mark.parametrize(
    ("arrangement", "limit", "wing", "room"),
    [
        ("up/down", 23.0, "lower", 20.0),
        ("down/up", 13.0, "upper", 10.0),
        ("both up", 23.0, "lower", 20.0),
        ("both down", 13.0, "upper", 10.0),
    ],
)
def test_the_first_hinge_to_stop_limits_the_crow(
    plane: Plane, arrangement: Any, limit: float, wing: str, room: float
) -> None:
    found = crow_limit(plane, arrangement, Throws(normal=math.radians(7)))
    assert math.degrees(found.angle) == pytest.approx(limit)
    assert found.wing == wing
    assert math.degrees(snap_room(plane, arrangement, math.radians(10))) == pytest.approx(room)


@pytest.mark.limit
def test_no_room_beyond_the_normal_throw_is_no_crow(plane: Plane) -> None:
    assert crow_limit(plane, "both down", Throws(normal=math.radians(25))).angle == 0.0


def test_crow_is_set_where_there_are_ailerons(plane: Plane) -> None:
    assert plane.lower is not None
    bare = replace(plane, lower=replace(plane.lower, aileron=None))
    crow = crow_at(bare, "both up", 0.2)
    assert (crow.upper, crow.lower) == (-0.2, 0.0)
    assert [crow_at(plane, name, 0.2).angle for name in ARRANGEMENTS] == [0.2] * 4


def table(area: float, crow: float) -> DragTable:
    """Constant drag area, `crow` more at the limit, 1 kg."""
    return DragTable(
        slope=-math.pi / 2,
        inverted=False,
        speeds=np.linspace(5, 60, 56),
        deployments=np.linspace(0, 1, 11),
        surfaces=np.full((56, 1), area) + crow * np.linspace(0, 1, 11),
        parts=np.zeros((56, 11)),
        elevator=np.zeros((56, 11)),
        alpha=np.zeros((56, 11)),
        density=1.225,
        weight=G0,
        lowest_speed=0.0,
        corrections=Corrections(),
    )


@pytest.mark.invariant
def test_share_of_the_limit_inverts_the_drag() -> None:
    made = table(0.01, 0.03)
    q = 0.5 * 1.225 * 22.0**2
    for share in (0.0, 0.1234, 0.5, 0.987):
        found, reach = _share_for(made, 22.0, q * (0.01 + 0.03 * share))
        assert reach == "met"
        assert found == pytest.approx(share, abs=1e-6)
    assert _share_for(made, 22.0, q * 0.05) == (1.0, "too fast")
    assert _share_for(made, 22.0, q * 0.009) == (0.0, "too slow")
    assert _share_for(made, 22.0, q * 0.00999) == (0.0, "met")


def test_a_plane_without_room_has_no_candidates(ready: Callable[[str], Ready]) -> None:
    made = ready("biplane_124")
    assert arrangement_drags(made.frame, wanted=22.0, throws=Throws(normal=math.radians(45))) == ()


@pytest.mark.invariant
def test_level_shafts_are_those_of_the_power_train(ready: Callable[[str], Ready]) -> None:
    from evenfall.power.train import shaft_states

    made = ready("biplane_124")
    shafts = level_shafts(made.unit, wanted=made.wanted, targets=Targets())
    assert [shaft.level for shaft in shafts] == list(made.unit.plane.controller.levels)
    for shaft in shafts:
        states = shaft_states(made.unit.plane, made.unit.propeller, shaft.level, made.wanted, density=made.unit.density)
        assert shaft.omega == tuple(states.omega[0, states.stable[0]].tolist())
        assert 0.0 <= shaft.fold_probability <= 1.0
        assert shaft.fold_probability <= shaft.span_probability + 1e-9
    assert shafts[0].fold_probability == 0.0


@pytest.mark.invariant
@pytest.mark.parametrize("name", ["biplane_124", "biplane_155"])
def test_one_more_degree_slows_by_what_is_said(tuned: Callable[[str], TuneAnswer], name: str) -> None:
    from evenfall.tune.candidates import candidate

    answer = tuned(name)
    first = answer.tuned.judged[0].candidate
    assert first.per_degree is not None
    assert first.speed is not None
    wanted = first.speed - first.per_degree
    shafts = level_shafts(answer.ready.unit, wanted=wanted, targets=Targets())
    shaft = next(shaft for shaft in shafts if shaft.level == first.level)
    faster = candidate(answer.ready.unit, shaft, first.drag, wanted=wanted)
    assert math.degrees(first.angle - faster.angle) == pytest.approx(1.0, abs=0.1)


def reached(*names: str) -> tuple[Target, ...]:
    return tuple(Target(name=name, wanted="", got="", met=False) for name in names)


def made_up(**changes: Any) -> Candidate:
    limit = SimpleNamespace(angle=math.radians(31.0), wing="upper")
    plain = {
        "shaft": SimpleNamespace(thrust=(-1.0,), double_speeds=(15.0, 17.0)),
        "level": BrakeLevel(name="50", percent=50.0),
        "drag": SimpleNamespace(table=table(0.01, 0.01), limit=limit),
        "reach": "met",
        "states": 1,
        "speed": 27.0,
        "snap_room": math.radians(9.0),
    }
    return cast("Any", SimpleNamespace(**{**plain, **changes}))


@pytest.mark.documents
@pytest.mark.parametrize(
    ("name", "changes", "words"),
    [
        (
            "vertical down speed",
            {"reach": "too fast"},
            # 9.807 N weight - 1 N propeller - .5*1.225*22^2*.02 = 5.929 N.
            "2.9 N of drag are missing at 22.0 m/s with 31 deg of crow on the upper wing's hinges: more aileron throw, "
            "wider ailerons, less weight, a lower-pitched propeller, or a wanted speed of 27.0 m/s would buy it.",
        ),
        (
            "vertical down speed",
            {"reach": "too slow"},
            "Less motor brake, a higher-pitched propeller or a lower wanted speed would buy it.",
        ),
        ("one propeller speed", {}, "Measure the damping of this level"),
        ("doubt of the level", {}, "Or take a level further from the fold."),
        ("straight vertical", {}, "Straighten the clean plane first"),
        ("45 down held by the stick", {}, "a controller with a smaller closed band, frees the 45 down."),
        ("snap throw with crow out", {}, "or a snap throw of 9 deg, or less crow with more motor brake."),
        ("crow stowed from level upward", {}, "The level stick is low"),
    ],
)
def test_every_remedy(name: str, changes: dict[str, Any], words: str) -> None:
    (only,) = remedies_for(made_up(**changes), reached(name), wanted=22.0)
    assert words in only


@pytest.mark.documents
def test_remedies_fit_what_is_known() -> None:
    slow = remedies_for(
        made_up(), reached("crow stowed from level upward"), wanted=22.0, level=Status.STICK_AT_OPEN_END
    )
    assert slow == (f"Level flight itself: {Status.STICK_AT_OPEN_END.text}",)
    measured = made_up(level=BrakeLevel(name="50", percent=50.0, damping=1e-4))
    assert remedies_for(measured, reached("doubt of the level"), wanted=22.0) == (
        "Take a level further from the fold.",
    )


@pytest.mark.documents
def test_no_plan_remedies_and_words_of_two_speeds(plane: Plane) -> None:
    assert "would buy a plan" in no_plan_remedies((), plane)[0]
    assert (
        "No level gives a steady vertical down below 2.6 times the wanted speed"
        in no_plan_remedies(cast("Any", (object(),)), plane)[0]
    )
    assert plane.upper is not None
    plain = replace(plane, upper=replace(plane.upper, aileron=None), lower=None)
    assert "no ailerons" in no_plan_remedies((), plain)[0]
    assert remedies_for(made_up(), (), wanted=22.0) == ()
    assert _double_words(made_up(states=2)) == "2 at the wanted speed"
    assert _double_words(made_up()) == "two between 15.0 and 17.0 m/s"
    assert _double_words(made_up(shaft=SimpleNamespace(double_speeds=(15.41, 15.43)))) == "two at 15.4 m/s"
    assert _double_words(made_up(states=0, shaft=SimpleNamespace(double_speeds=None))) == "none stable"
