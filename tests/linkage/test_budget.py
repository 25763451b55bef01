"""Travel budget: closes exactly at the stops of the mirror offset, names what breaks, and cures that really cure."""

import math
from dataclasses import replace

import pytest

from evenfall.errors import ValueRangeError
from evenfall.linkage.budget import Choices, PhaseUse, closes, cures, travel_budget
from evenfall.linkage.corner import Corner, roll_retention
from evenfall.linkage.fourbar import FourBar, with_offset

rad, deg = math.radians, math.degrees
K = 0.44599  # arm/horn of the mirror offset
CHOICES = Choices(arm_holes=(0.008, 0.00892, 0.010, 0.012), horn_holes=(0.018, 0.020, 0.022), arm_step=rad(3.6))


def corner(stop_deg: float, **more: object) -> Corner:
    bar = with_offset(FourBar(arm=K * 0.02, horn=0.02, rod=1.0, distance=2000.0, horn_above=True), rad(-18))
    fields = {"crow": rad(16), "stop_low": rad(stop_deg), "stop_high": rad(stop_deg)} | more
    return Corner(name="lower_left", bar=bar, **fields)


def phases(snap_deg: float = 16.5) -> tuple[PhaseUse, ...]:
    return (
        PhaseUse(name="normal", crow=True, roll=rad(7), trim=rad(1)),
        PhaseUse(name="snap", crow=True, roll=rad(snap_deg)),
        PhaseUse(name="landing", crow=False, roll=rad(10)),
    )


@pytest.mark.published
def test_budget_closes_just_where_the_long_rod_law_says() -> None:
    # Long-rod law, computed twice: stops of +-60 deg leave a snap throw of 16.50 deg stowed, +-62 deg 17.15.
    assert closes(corner(60), phases(16.49))
    assert not closes(corner(60), phases(16.52))
    assert closes(corner(62), phases(17.14))
    assert not closes(corner(62), phases(17.16))


@pytest.mark.published
def test_shares_of_the_mirror_offset() -> None:
    # Crow takes the arm from -18 to +18 deg; 7 deg of roll need asin(...) of the same law; landing leaves crow in.
    budget = travel_budget((corner(62),), phases())
    assert budget.closes
    assert budget.text.startswith("The budget closes. Tightest: lower left, snap")
    by_phase = {share.phase: share for share in budget.shares}
    assert deg(by_phase["normal"].crow) == pytest.approx(36.0, abs=2e-3)
    assert by_phase["landing"].crow == 0.0
    assert by_phase["snap"].left_high == pytest.approx(rad(62) - by_phase["snap"].high)
    assert by_phase["snap"].high_cause == "servo stop"


@pytest.mark.invariant
def test_a_break_says_where_and_by_how_much() -> None:
    budget = travel_budget((corner(40),), phases(), choices={"lower_left": CHOICES})
    assert not budget.closes
    worst = budget.breaks[0]
    assert worst.phase == "snap"
    assert not worst.binding
    assert deg(worst.servo) == pytest.approx(20.0, abs=0.1)  # 18 + 42 asked, 40 there
    pushing = next(row for row in budget.breaks if row.pushing and row.phase == "snap")
    assert (pushing.stick, pushing.deployment) == (1.0, 1.0)
    pulling = next(row for row in budget.breaks if not row.pushing and row.phase == "snap")
    assert (pulling.stick, pulling.deployment) == (-1.0, 0.0)
    assert "snap: servo stop" in budget.text
    assert "Cheapest cure" in budget.text
    assert [c.cost for c in budget.cures] == sorted(c.cost for c in budget.cures)


@pytest.mark.invariant
def test_hinge_limits_bind() -> None:
    budget = travel_budget((corner(62, hinge_down=rad(25)),), phases())
    row = budget.breaks[0]
    assert row.cause == "hinge limit"
    assert row.binding
    assert "stall" in row.text
    contact = travel_budget((corner(62, contact_down=rad(25)),), phases()).breaks[0]
    assert contact.cause == "surface contact"
    assert contact.binding


@pytest.mark.property
def test_cures_cure() -> None:
    one = corner(54, stop_high=rad(70))  # room on the pushing side only
    found = {cure.kind: cure for cure in cures(one, phases(), CHOICES)}
    assert {"less roll", "other hole", "other tooth"} <= set(found)
    snap = rad(16.5) - found["less roll"].amount
    cut = tuple(replace(p, roll=snap) if p.name == "snap" else p for p in phases())
    assert closes(one, cut)
    more = tuple(replace(p, roll=snap + rad(0.1)) if p.name == "snap" else p for p in phases())
    assert not closes(one, more)
    assert closes(replace(one, centre=found["other tooth"].amount), phases())
    hinge = corner(62, hinge_down=rad(30))
    crow = next(c for c in cures(hinge, phases(), CHOICES) if c.kind == "less crow")
    assert 0 < deg(crow.amount) < 16
    less = replace(hinge, crow=hinge.crow - crow.amount)
    followed = replace(less, bar=with_offset(hinge.bar, hinge.neutral * less.crow / hinge.crow))
    assert closes(followed if "offset" in crow.text else less, phases())


@pytest.mark.property
def test_more_offset_is_checked_for_roll() -> None:
    one = corner(60, stop_low=rad(58), stop_high=rad(70))
    row = next(c for c in cures(one, phases(), CHOICES) if c.kind == "more offset")
    moved = replace(one, bar=with_offset(one.bar, one.neutral + row.amount))
    assert closes(moved, phases())
    assert abs(roll_retention(moved, rad(7)).retention - 1) <= 0.05


@pytest.mark.outside
def test_out_of_reach_and_nonsense() -> None:
    budget = travel_budget((corner(62, crow=rad(80)),), phases())
    assert budget.breaks[0].cause == "out of reach"
    assert "out of the linkage's reach" in budget.text
    wide = travel_budget((corner(62),), (PhaseUse(name="snap", crow=False, roll=rad(60)),))
    assert wide.breaks[0].cause == "out of reach"
    with pytest.raises(ValueRangeError, match="at least one"):
        travel_budget((), phases())
    with pytest.raises(ValueRangeError, match="phase spin"):
        PhaseUse(name="spin", crow=True, roll=-1.0)


@pytest.mark.limit
def test_boost_uses_more_only_when_deployed() -> None:
    plain = travel_budget((corner(62),), (PhaseUse(name="normal", crow=True, roll=rad(7)),)).shares[0]
    more = travel_budget((corner(62),), (PhaseUse(name="normal", crow=True, roll=rad(7), boost=0.2),)).shares[0]
    assert more.high - plain.high == pytest.approx(0.2 * plain.roll)
    assert more.low == plain.low
