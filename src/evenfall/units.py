"""Pilot's units to SI and back; used only at the edge.

A key in a file ends in its unit (`span_mm`, `torque_kgf_cm`); the kind of quantity decides which units are allowed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from evenfall.errors import ValueRangeError

System = Literal["metric", "imperial"]

FOOT = 0.3048
"""m (exact, international yard and pound agreement of 1959)."""
INCH = 0.0254
POUND = 0.45359237
"""kg (exact, the same agreement)."""
OUNCE = POUND / 16
GRAVITY = 9.80665
"""Standard gravity, m/s^2, for units of force (exact, 3rd CGPM 1901)."""
_DEG = math.pi / 180
_RPM = 2 * math.pi / 60


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One unit: SI value = factor * value + shift, or factor / value where `inverse`.

    Args:
        suffix: as it ends a key.
        symbol: as printed.
    """

    suffix: str
    symbol: str
    factor: float
    shift: float = 0.0
    inverse: bool = False

    def to_si(self, value: float) -> float:
        """The value in SI."""
        return self.factor / value if self.inverse else self.factor * value + self.shift

    def from_si(self, value: float) -> float:
        """An SI value in this unit."""
        return self.factor / value if self.inverse else (value - self.shift) / self.factor

    def spread_to_si(self, value: float, spread: float) -> float:
        """One sigma in SI for a value with that spread in this unit (first order)."""
        return abs(self.factor * spread / (value * value)) if self.inverse else abs(self.factor) * spread

    def spread_from_si(self, value: float, spread: float) -> float:
        """One sigma in this unit for an SI value with that spread."""
        return abs(self.factor * spread / (value * value)) if self.inverse else spread / abs(self.factor)


def _units(**rows: tuple[str, float]) -> dict[str, Unit]:
    return {suffix: Unit(suffix=suffix, symbol=symbol, factor=factor) for suffix, (symbol, factor) in rows.items()}


KINDS: dict[str, dict[str, Unit]] = {
    "length": _units(mm=("mm", 1e-3), cm=("cm", 1e-2), m=("m", 1.0), **{"in": ("in", INCH)}, ft=("ft", FOOT)),
    "area": _units(
        cm2=("cm²", 1e-4),
        dm2=("dm²", 1e-2),
        m2=("m²", 1.0),
        mm2=("mm²", 1e-6),
        in2=("in²", INCH**2),
        ft2=("ft²", FOOT**2),
    ),
    "mass": _units(g=("g", 1e-3), kg=("kg", 1.0), oz=("oz", OUNCE), lb=("lb", POUND)),
    "speed": _units(
        m_s=("m/s", 1.0), km_h=("km/h", 1 / 3.6), mph=("mph", 0.44704), kt=("kt", 1852 / 3600), ft_s=("ft/s", FOOT)
    ),
    "angle": _units(deg=("deg", _DEG), rad=("rad", 1.0)),
    "torque": _units(
        kgf_cm=("kgf cm", GRAVITY * 1e-2),
        oz_in=("ozf in", OUNCE * GRAVITY * INCH),
        N_m=("N m", 1.0),
        N_cm=("N cm", 1e-2),
        mN_m=("mN m", 1e-3),
    ),
    "mass_moment": _units(g_cm=("g cm", 1e-5), g_mm=("g mm", 1e-6), kg_m=("kg m", 1.0), oz_in=("oz in", OUNCE * INCH)),
    "damping": _units(N_m_s=("N m s", 1.0), mN_m_s=("mN m s", 1e-3)),
    "kv": _units(rpm_per_v=("rpm/V", _RPM), rad_s_per_v=("rad/s/V", 1.0)),
    "resistance": _units(mohm=("mohm", 1e-3), ohm=("ohm", 1.0)),
    "inductance": _units(uh=("uH", 1e-6), mh=("mH", 1e-3)),
    "current": _units(a=("A", 1.0), ma=("mA", 1e-3)),
    "voltage": _units(v=("V", 1.0), mv=("mV", 1e-3)),
    "cell_voltage": _units(v_per_cell=("V per cell", 1.0)),
    "capacity": _units(mah=("mAh", 3.6), ah=("Ah", 3600.0)),
    "frequency": _units(khz=("kHz", 1e3), hz=("Hz", 1.0)),
    "time": _units(s=("s", 1.0), ms=("ms", 1e-3)),
    "pulse": _units(us=("us", 1e-6), ms=("ms", 1e-3)),
    "ratio": _units(percent=("%", 1e-2), fraction=("", 1.0)),
    "force": _units(n=("N", 1.0), kgf=("kgf", GRAVITY), gf=("gf", GRAVITY * 1e-3), ozf=("ozf", OUNCE * GRAVITY)),
    "power": _units(w=("W", 1.0), kw=("kW", 1e3)),
    "pressure": _units(hpa=("hPa", 100.0), pa=("Pa", 1.0), inhg=("inHg", 3386.389)),
    "turn_rate": _units(deg_s=("deg/s", _DEG), rad_s=("rad/s", 1.0)),
    "shaft_speed": _units(rpm=("rpm", _RPM), rad_s=("rad/s", 1.0)),
    "wing_loading": _units(g_dm2=("g/dm²", 0.1), kg_m2=("kg/m²", 1.0), oz_ft2=("oz/ft²", OUNCE / FOOT**2)),
    "temperature": {
        "c": Unit(suffix="c", symbol="°C", factor=1.0, shift=273.15),
        "k": Unit(suffix="k", symbol="K", factor=1.0),
        "f": Unit(suffix="f", symbol="°F", factor=5 / 9, shift=273.15 - 32 * 5 / 9),
    },
    "servo_speed": {
        "s_per_60deg": Unit(suffix="s_per_60deg", symbol="s/60 deg", factor=math.pi / 3, inverse=True),
        "deg_s": Unit(suffix="deg_s", symbol="deg/s", factor=_DEG),
        "rad_s": Unit(suffix="rad_s", symbol="rad/s", factor=1.0),
    },
    "servo_gain": {
        "us_per_deg": Unit(suffix="us_per_deg", symbol="us/deg", factor=_DEG * 1e6, inverse=True),
        "deg_per_ms": Unit(suffix="deg_per_ms", symbol="deg/ms", factor=_DEG * 1e3),
    },
}
"""Units of every kind of quantity, by suffix; the first one is the usual one.

`torque` counts ounces and kilograms as forces, `mass_moment` as masses. `servo_gain` is in rad per second of pulse.
Inch of mercury at 0 deg C: 3386.389 Pa (NIST SP 811, appendix B.8).
"""

_IMPERIAL: dict[str, str] = {
    "length": "in",
    "area": "in2",
    "mass": "oz",
    "speed": "mph",
    "torque": "oz_in",
    "mass_moment": "oz_in",
    "force": "ozf",
    "pressure": "inhg",
    "temperature": "f",
    "wing_loading": "oz_ft2",
}


def unit(kind: str, suffix: str) -> Unit:
    """The unit of that kind with that suffix; raises `ValueRangeError` that lists the choices.

    >>> unit("length", "in").to_si(2.0)
    0.0508
    """
    units = KINDS[kind]
    if suffix not in units:
        raise ValueRangeError(f"{suffix!r} is no unit of {kind.replace('_', ' ')}: use {', '.join(units)}")
    return units[suffix]


def to_si(value: float, kind: str, suffix: str) -> float:
    """A value in pilot's units in SI.

    >>> round(to_si(6.0, "torque", "kgf_cm"), 4)
    0.5884
    """
    return unit(kind, suffix).to_si(value)


def from_si(value: float, kind: str, suffix: str) -> float:
    """An SI value in pilot's units.

    >>> from_si(1.05, "mass", "g")
    1050.0
    """
    return unit(kind, suffix).from_si(value)


def preferred(kind: str, system: System = "metric") -> Unit:
    """The unit a table prints that kind in.

    >>> preferred("speed", "imperial").symbol
    'mph'
    """
    units = KINDS[kind]
    if system == "imperial" and kind in _IMPERIAL:
        return units[_IMPERIAL[kind]]
    return next(iter(units.values()))


def show(value: float, kind: str, *, system: System = "metric", digits: int = 4) -> str:
    """An SI value as text with its unit, to that many significant digits, never in powers of ten.

    >>> show(1.24, "length"), show(0.003, "length")
    ('1240 mm', '3 mm')
    """
    chosen = preferred(kind, system)
    return f"{plain(chosen.from_si(value), digits)} {chosen.symbol}".rstrip()


def plain(value: float, digits: int = 4) -> str:
    """A number to that many significant digits without power of ten and without trailing zeros.

    >>> plain(12345.6), plain(0.000123456), plain(2.50)
    ('12346', '0.0001235', '2.5')
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


_QUANTITY = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([^\d\s].*?)?\s*$")


def parse(text: str, kind: str) -> float:
    """SI value of a text such as `22 m/s` or `72km/h`; a bare number is in the usual unit of the kind.

    Raises `ValueRangeError` that says what is allowed.

    >>> parse("72 km/h", "speed"), parse("300", "length")
    (20.0, 0.3)
    """
    units = KINDS[kind]
    choices = ", ".join(one.symbol for one in units.values() if one.symbol)
    found = _QUANTITY.match(text)
    if not found:
        raise ValueRangeError(f"{text!r} is no number with a unit; write a number and one of {choices}")
    number, name = float(found.group(1)), found.group(2)
    if not math.isfinite(number):
        raise ValueRangeError(f"{text!r} is too large")
    if name is None:
        return next(iter(units.values())).to_si(number)
    wanted = _folded(name)
    for one in units.values():
        if wanted in (_folded(one.symbol), _folded(one.suffix)):
            return one.to_si(number)
    raise ValueRangeError(f"{name!r} is no unit of {kind.replace('_', ' ')}; use one of {choices}")


def _folded(name: str) -> str:
    return re.sub(r"[\s/_°^]", "", name.lower()).replace("²", "2")
