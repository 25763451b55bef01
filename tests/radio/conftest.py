"""Planes, plans and phases drawn at random for the radio tests."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import strategies as st

from evenfall.plane.airframe import Plane
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.phases import Phase
from evenfall.radio.plan import ARRANGEMENTS, Crow, MotorChoice, Plan, plane_phases, present_plan, wing_signs


@pytest.fixture(scope="session")
def biplane() -> Plane:
    """The 1.24 m demo."""
    return load_plane(demo_path("biplane_124")).plane


@pytest.fixture(scope="session")
def flown_phase() -> st.SearchStrategy[Phase]:
    """A phase with every throw above zero."""
    share = st.floats(0, 0.95)
    return st.builds(
        Phase,
        name=st.just("drawn"),
        kind=st.just("normal"),
        crow_live=st.booleans(),
        aileron=st.floats(0.02, 0.5),
        elevator=st.floats(0.05, 0.8),
        rudder=st.floats(0.05, 0.8),
        aileron_exponential=share,
        elevator_exponential=share,
        rudder_exponential=share,
        roll_boost=st.floats(-0.5, 1),
    )


@pytest.fixture(scope="session")
def crow_plan(biplane: Plane) -> Plan:
    """A plan as tune writes them: 14.5 deg down/up, a curve of five points."""
    crow = Crow(
        arrangement="down/up",
        upper=math.radians(14.5),
        lower=math.radians(-14.5),
        threshold=0.45,
        curve=((0.0, 1.0), (0.08, 1.0), (0.25, 0.4), (0.45, 0.0), (1.0, 0.0)),
        elevator_share=-0.1,
    )
    return Plan(
        plane_name=biplane.name,
        crow=crow,
        motor=MotorChoice(level="25", percent=25.0),
        phases=plane_phases(biplane),
    )


@pytest.fixture(scope="session")
def plan(biplane: Plane, crow_plan: Plan) -> Plan:
    """`crow_plan` as a file holds it: computed from a plane file, one corner fitted."""
    assert crow_plan.crow is not None
    corner = CornerSetup(
        corner="upper_left",
        arm_hole=0.0115,
        horn_hole=0.017,
        teeth=1,
        arm=1,
        offset=math.radians(18),
        shift=-36e-6,
        shift_means="radio",
        pulse_neutral=1.464e-3,
        pulse_deployed=1.1e-3,
        normal_turn=math.radians(15),
        snap_turn=math.radians(40),
    )
    return replace(
        present_plan(biplane),
        crow=replace(crow_plan.crow, elevator_share=-0.021),
        motor=crow_plan.motor,
        corners={"upper_left": corner},
        computed_from={"plane_hash": "a" * 64, "evenfall": "0.1.0"},
    )


@pytest.fixture(scope="session")
def crows() -> st.SearchStrategy[Crow]:
    """A crow of any arrangement with a rising threshold."""

    def build(arrangement: str, upper: float, lower: float, threshold: float, bend: float, share: float) -> Crow:
        up, low = wing_signs(arrangement)  # type: ignore[arg-type]
        return Crow(
            arrangement=arrangement,  # type: ignore[arg-type]
            upper=up * upper,
            lower=low * lower,
            threshold=threshold,
            curve=((0.0, 1.0), (threshold / 2, bend), (threshold, 0.0), (1.0, 0.0)),
            elevator_share=share,
        )

    angle = st.floats(0.05, 0.4)
    return st.builds(
        build,
        st.sampled_from(ARRANGEMENTS),
        angle,
        angle,
        st.integers(10, 95).map(lambda percent: percent / 100),
        st.floats(0.1, 0.9),
        st.floats(-0.5, 0.5),
    )
