"""Units: exact definitions, there and back, and refusals that list the choices."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.errors import ValueRangeError
from evenfall.units import KINDS, from_si, parse, plain, preferred, show, to_si, unit


@pytest.mark.published
@pytest.mark.parametrize(
    ("value", "kind", "suffix", "si", "source"),
    [
        (1.0, "length", "in", 0.0254, "international inch of 1959, exact"),
        (1.0, "length", "ft", 0.3048, "international foot of 1959, exact"),
        (1.0, "mass", "lb", 0.45359237, "international pound of 1959, exact"),
        (16.0, "mass", "oz", 0.45359237, "16 ounces a pound, exact"),
        (36.0, "speed", "km_h", 10.0, "3600 s an hour, exact"),
        (1.0, "speed", "mph", 0.44704, "1609.344 m a mile, exact"),
        (1.0, "speed", "kt", 1852 / 3600, "international nautical mile of 1929, exact"),
        (1.0, "torque", "kgf_cm", 0.0980665, "standard gravity 9.80665 m/s^2, exact"),
        (1.0, "torque", "oz_in", 0.00706155, "NIST SP 811 B.8: 7.061 552 E-03, five digits kept"),
        (60.0, "kv", "rpm_per_v", 2 * math.pi, "definition of rpm"),
        (1000.0, "capacity", "mah", 3600.0, "A s an Ah, exact"),
        (180.0, "angle", "deg", math.pi, "definition"),
        (0.08, "servo_speed", "s_per_60deg", math.pi / 3 / 0.08, "definition"),
        (10.0, "servo_gain", "us_per_deg", math.pi / 180 / 10e-6, "definition"),
        (20.0, "temperature", "c", 293.15, "definition of the degree Celsius, exact"),
        (68.0, "temperature", "f", 293.15, "definition of the degree Fahrenheit, exact"),
        (1.0, "wing_loading", "g_dm2", 0.1, "definition"),
    ],
)
def test_definitions(value: float, kind: str, suffix: str, si: float, source: str) -> None:
    assert to_si(value, kind, suffix) == pytest.approx(si, rel=3e-7 if "five digits" in source else 1e-12)


@pytest.mark.property
@given(st.sampled_from([(kind, suffix) for kind, units in KINDS.items() for suffix in units]), st.floats(0.01, 1e4))
def test_there_and_back(where: tuple[str, str], value: float) -> None:
    kind, suffix = where
    assert from_si(to_si(value, kind, suffix), kind, suffix) == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.property
@given(st.sampled_from([(kind, suffix) for kind, units in KINDS.items() for suffix in units]), st.floats(1.0, 100.0))
def test_spread_is_the_slope(where: tuple[str, str], value: float) -> None:
    kind, suffix = where
    one = unit(kind, suffix)
    step = 1e-5 * value
    slope = abs(one.to_si(value + step) - one.to_si(value - step)) / 2
    assert one.spread_to_si(value, step) == pytest.approx(slope, rel=1e-5)
    assert one.spread_from_si(one.to_si(value), one.spread_to_si(value, step)) == pytest.approx(step, rel=1e-9)


@pytest.mark.property
@given(st.sampled_from(sorted(KINDS)), st.floats(0.5, 500.0))
def test_parse_reads_what_show_prints(kind: str, value: float) -> None:
    for system in ("metric", "imperial"):
        si = preferred(kind, system).to_si(value)
        assert parse(show(si, kind, system=system, digits=12), kind) == pytest.approx(si, rel=1e-9, abs=1e-9)


@pytest.mark.outside
@pytest.mark.parametrize("text", ["", "fast", "22,5 m/s", "22 m/s m/s", "nan", "1e999 m/s", "22 furlongs", "m/s"])
def test_parse_refuses(text: str) -> None:
    with pytest.raises(ValueRangeError):
        parse(text, "speed")


def test_wrong_unit_lists_the_choices() -> None:
    with pytest.raises(ValueRangeError, match="mm, cm, m, in, ft"):
        unit("length", "kg")


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (1050.0, "1050"), (0.05, "0.05"), (-3.14159, "-3.142"), (99999.0, "99999")]
)
def test_plain(value: float, text: str) -> None:
    assert plain(value) == text
