"""Causes weighed: normalised, deterministic, monotone; the table is whole; flights shift them."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from evenfall.errors import InputError
from evenfall.fit.causes import COMMON_PRACTICE, REST, chart
from evenfall.fit.diagnose import Answer, diagnose
from evenfall.fit.learned import Learned, prior
from evenfall.fit.shows import SHOWN
from fit.diagnosed import case

SIGNS = tuple(chart().signs)
KINDS = (("biplane_124", True), ("foam_biplane_085", True), ("monoplane_160", True), ("monoplane_160", False))


def probability(answer: Answer, key: str) -> float:
    return next((one.probability for one in answer.causes if one.cause.key == key), 0.0)


@pytest.mark.documents
def test_table_is_whole() -> None:
    table = chart()
    for cause in table.causes.values():
        assert cause.words
        assert cause.check
        assert cause.if_so
        assert cause.if_not
        assert cause.minutes > 0
        assert cause.source
        assert set(cause.chance) <= set(table.signs), cause.key
        assert set(cause.reveals) <= set(table.causes) - {cause.key}, cause.key
        assert cause.key != REST
    for sign in table.signs.values():
        assert sign.shows in {*SHOWN, "", "change", "turn"}, sign.key
        assert sign.source
        assert sign.source == COMMON_PRACTICE or any(part.isdigit() for part in sign.source.split()), sign.key
        if not sign.shows:
            assert any(sign.key in cause.chance for cause in table.causes.values()), sign.key


@pytest.mark.invariant
@pytest.mark.parametrize(("name", "crow"), KINDS)
def test_probabilities_add_up_for_every_sign_and_many_pairs(name: str, crow: bool) -> None:
    here = case(name, crow)
    pairs = [(), *((key,) for key in SIGNS), *itertools.islice(itertools.combinations(SIGNS, 2), 0, None, 17)]
    for signs in pairs:
        answer = diagnose(here, signs)
        values = [one.probability for one in answer.causes]
        assert sum(values) + answer.other == pytest.approx(1.0, abs=1e-9)
        assert min(values) >= 0
        assert values == sorted(values, reverse=True)
        assert sorted(answer.order) == sorted(one.cause.key for one in answer.causes)
        assert all(np.isfinite(one.size) and np.isfinite(one.spread) for one in answer.causes)


@pytest.mark.invariant
def test_order_of_signs_does_not_matter_and_answers_repeat() -> None:
    here = case("biplane_124")
    one = diagnose(here, ("faster", "opens_right", "differs"))
    assert one == diagnose(here, ("differs", "faster", "opens_right"))


@pytest.mark.invariant
@pytest.mark.parametrize(
    ("sign", "cannot", "can"),
    [
        ("faster", "elevator_share", "short_curve"),
        ("opens_right", "air", "corner"),
        ("motor_starts", "corner", "closed_band"),
        ("canopy_crow", "weight", "elevator_share"),
        ("buzz", "cg", "flutter"),
        ("rolls_off_left", "crow_angle", "tooth"),
        ("rolls_less", "air", "roll_travel"),
        ("canopy_clean", "crow_late", "incidence"),
    ],
)
def test_a_sign_lowers_what_cannot_make_it_and_raises_what_can(sign: str, cannot: str, can: str) -> None:
    here = case("biplane_124")
    before, after = diagnose(here, ("slower_up",)), diagnose(here, ("slower_up", sign))
    assert probability(after, cannot) < probability(before, cannot)
    assert probability(after, can) > probability(before, can)
    denied = diagnose(here, ("slower_up",), absent=(sign,))
    assert probability(denied, can) < probability(before, can)


@pytest.mark.invariant
def test_left_and_right_are_mirrors() -> None:
    here = case("biplane_124")
    right, left = diagnose(here, ("opens_right", "right_faster")), diagnose(here, ("opens_left", "left_faster"))
    for one in right.causes:
        # Incidence of one panel alone also pitches, and that has no mirror.
        assert probability(left, one.cause.key) == pytest.approx(one.probability, abs=0.02), one.cause.key


def test_brake_causes_need_a_level_that_holds() -> None:
    with_brake, without = case("biplane_124", True, "50"), case("biplane_124")
    assert probability(diagnose(with_brake, ("faster",)), "brake_lost") > 0
    assert probability(diagnose(without, ("faster",)), "brake_lost") == 0
    levels = {row.which for row in with_brake.rows if row.cause == "brake_level"}
    assert with_brake.shows.plan.motor.level not in levels
    assert "0" in levels


def test_without_crow_no_cause_speaks_of_it() -> None:
    answer = diagnose(case("monoplane_160", False), ("faster", "rolls_off_right"))
    keys = {one.cause.key for one in answer.causes}
    assert not keys & {"corner", "crow_angle", "crow_late", "phase", "short_curve", "blow_back"}
    assert {"air", "weight", "incidence", "entry"} <= keys


def test_flights_that_learned_little_crow_drag_point_at_crow() -> None:
    here = case("biplane_124")
    before = prior()
    mean, covariance = before.mean.copy(), before.covariance.copy()
    place = before.names.index("crow_drag")
    mean[place], covariance[place, place] = -0.25, 0.03**2
    low = diagnose(here, (), flights=Learned(names=before.names, mean=mean, covariance=covariance))
    none = diagnose(here, (), flights=before)
    plain = diagnose(here, ())
    for one in plain.causes:
        assert probability(none, one.cause.key) == pytest.approx(one.probability, abs=1e-9)
    for key in ("crow_angle", "short_curve", "blow_back"):
        assert probability(low, key) > 1.3 * probability(plain, key)
    assert probability(low, "elevator_share") < probability(plain, "elevator_share")


@pytest.mark.invariant
def test_every_sign_has_a_check_that_tells_something() -> None:
    here = case("monoplane_160")
    for key in SIGNS:
        answer = diagnose(here, (key,))
        assert max(one.bits for one in answer.causes) > 0.02, key
        assert all(one.bits >= -1e-9 for one in answer.causes)


def test_unknown_and_contradicting_signs_are_refused() -> None:
    here = case("biplane_124")
    with pytest.raises(InputError, match="no sign is called fster; there are faster"):
        diagnose(here, ("fster",))
    with pytest.raises(InputError, match="faster cannot be seen and not seen"):
        diagnose(here, ("faster",), absent=("faster",))


def test_flights_that_show_the_down_speed_say_more_than_the_eye() -> None:
    """Where the drag of crow is known from flights, "faster" no longer tells causes of that drag apart."""
    here = case("biplane_124")
    before = prior()
    sharp = Learned(names=before.names, mean=before.mean, covariance=before.covariance * 0.02**2)
    for key in ("short_curve", "blow_back"):
        plain = probability(diagnose(here, ("faster",)), key) / probability(diagnose(here, ()), key)
        known = probability(diagnose(here, ("faster",), flights=sharp), key)
        known /= probability(diagnose(here, (), flights=sharp), key)
        assert abs(np.log(known)) < abs(np.log(plain)), key
