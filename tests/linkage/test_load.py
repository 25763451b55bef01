"""Servo load by virtual work, supply, play."""

import math

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.linkage.corner import Corner
from evenfall.linkage.fourbar import FourBar, with_offset
from evenfall.linkage.load import servo_load, slop_caution, stall_current, stall_torque, supply_load

rad = math.radians


def corner(**more: object) -> Corner:
    fields = {"arm": 0.010, "horn": 0.020, "rod": 0.06, "distance": 0.06} | more
    return Corner(name="lower_left", bar=with_offset(FourBar(**fields), rad(-10)))


@pytest.mark.invariant
def test_virtual_work_equals_forces_on_the_pins() -> None:
    one = corner(horn_above=True)
    load = servo_load(one, [-0.4, 0.0, 0.5], 0.1, stall=0.3)
    servo = np.array([-0.4, 0.0, 0.5])
    # work of the air over a small servo step
    step = 1e-6
    work = 0.1 * (one.throw(servo + step) - one.throw(servo - step)) / (2 * step)
    assert load.torque == pytest.approx(work, rel=1e-7)
    assert load.share == pytest.approx(np.abs(work) / 0.3, rel=1e-7)


@pytest.mark.limit
def test_square_linkage_is_a_plain_lever() -> None:
    # Square arm and horn, rod along the chord: rod force = moment/horn, torque = moment x arm/horn (virtual work).
    bar = with_offset(FourBar(arm=0.010, horn=0.020, rod=0.06, distance=0.06, height=0.010), 0.0)
    load = servo_load(Corner(name="lower_left", bar=bar), 0.0, 0.1, stall=0.2, moment_spread=0.2)
    assert float(load.torque) == pytest.approx(-0.05)  # horn below: a moment lowering the trailing edge pulls the arm
    assert float(load.rod_force) == pytest.approx(-5.0)
    assert load.worst == pytest.approx(0.25)
    assert load.spread == pytest.approx(0.05)
    assert load.held
    assert not load.back_driven


@pytest.mark.outside
def test_load_words() -> None:
    half = servo_load(corner(), 0.0, 0.1, stall=0.07)
    assert not half.held
    assert "more than the half" in half.text
    over = servo_load(corner(), 0.0, 0.1, stall=0.05)
    assert over.back_driven
    assert "gusts" in over.text
    none = servo_load(corner(arm=0.02, horn=0.01), rad(85), 0.1, stall=1.0)
    assert not math.isfinite(none.worst)
    assert "no lever" in none.text
    with pytest.raises(ValueRangeError, match="stall"):
        servo_load(corner(), 0.0, 0.1, stall=0.0)


@pytest.mark.limit
def test_stall_torque_falls_with_the_supply() -> None:
    assert stall_torque(0.3, 6.0, 6.0) == 0.3
    assert stall_torque(0.3, 6.0, 5.0) == pytest.approx(0.25)
    with pytest.raises(ValueRangeError):
        stall_torque(0.3, 0.0, 5.0)


@pytest.mark.invariant
def test_stall_current_conserves_power() -> None:
    # Direct-current motor: torque x no-load speed = efficiency x V x stall current.
    current = stall_current(0.35, rad(60) / 0.08, 6.0, efficiency=1.0)
    assert current * 6.0 == pytest.approx(0.35 * rad(60) / 0.08)
    with pytest.raises(ValueRangeError):
        stall_current(0.0, 10.0, 6.0)


@pytest.mark.invariant
def test_supply() -> None:
    # [CP] at least a third of the stall current each to start moving.
    light = supply_load([0.1, 0.1, 0.1, 0.1], stall_current=1.5, rating=3.0, others=0.5)
    assert light.moving == pytest.approx(2.5)
    assert light.enough
    stuck = supply_load([0.1, 0.1, 0.1, 0.1], stall_current=1.5, rating=3.0, others=0.5, bound=2)
    assert stuck.bound == pytest.approx(4.5)
    assert not stuck.enough
    assert "Too much for that: see that yours gives more, or free the stop that binds." in stuck.text


@pytest.mark.outside
def test_slop_words() -> None:
    # [CP] half a degree: look for it; one and a half: do not fly.
    assert slop_caution(rad(0.3)) == ""
    assert "pins" in slop_caution(rad(1.0))
    assert slop_caution(rad(2.0)).startswith("Do not fly")
