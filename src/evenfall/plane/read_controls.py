"""Tables of the plane file that describe what moves the ailerons: servo, linkage, and the rigging record."""

from __future__ import annotations

import math
from collections.abc import Sequence

from evenfall.plane.airframe import CORNERS
from evenfall.plane.controls import Linkage, Rigging, Servo
from evenfall.plane.fields import Fields
from evenfall.plane.read_airframe import known
from evenfall.units import KINDS

DEG = math.pi / 180
_US = 1e-6


def read_servo(table: Fields) -> Servo | None:
    """`[servo.aileron]`."""
    torque = table.quantity("torque", "torque", 1e-3, 10.0, path="aileron_servo.torque")
    supply = table.quantity("supply", "voltage", 3.0, 15.0, path="aileron_servo.supply_voltage")
    speed = table.quantity("speed", "servo_speed", 0.5, 60.0, path="aileron_servo.speed")
    teeth = table.integer("spline_teeth", 8, 60, required=True)
    arms = table.integer("horn_arms", 1, 12)
    programmable, turns_over = table.boolean("programmable"), table.boolean("horn_turns_over")
    gain = table.quantity("", "servo_gain", 500.0, 6000.0, path="aileron_servo.gain", required=False)
    travel = table.quantity(
        "travel", "angle", 20 * DEG, 130 * DEG, path="aileron_servo.travel", required=False, sigma=(2 * DEG, False)
    )
    low = table.quantity("pulse_low", "pulse", 400 * _US, 1490 * _US, path="aileron_servo.pulse_low", required=False)
    high = table.quantity(
        "pulse_high", "pulse", 1510 * _US, 2600 * _US, path="aileron_servo.pulse_high", required=False
    )
    if known(low) != known(high) and table.sound:
        table.fault("pulse_low_us", "pulse_low_us and pulse_high_us belong together: give both or neither")
    if not table.sound or teeth is None:
        return None
    if not known(gain):
        guess = KINDS["servo_gain"]["us_per_deg"].to_si(10.0)
        gain = table.guess("", "servo_gain", guess, 0.15, path="aileron_servo.gain", relative=True, advice="servo.gain")
    if not known(travel):
        path = "aileron_servo.travel"
        travel = table.guess("travel", "angle", 60 * DEG, 5 * DEG, path=path, advice="servo.travel")
    if not known(low):
        low, high = 900 * _US, 2100 * _US
        table.note_guess("pulse_low_us", "aileron_servo.pulse_low", "900 to 2100 us", "+-50 us", "servo.pulse")
    if arms is None:
        table.note_guess("horn_arms", "aileron_servo.horn_arms", "1", "1 to 6", "servo.horn_arms")
    return Servo(
        torque=torque,
        supply_voltage=supply,
        speed=speed,
        spline_teeth=teeth,
        horn_arms=arms or 1,
        gain=gain,
        travel=travel,
        pulse_low=low,
        pulse_high=high,
        programmable=bool(programmable),
        horn_turns_over=bool(turns_over),
    )


_MOST_HOLES = 20


def _holes(table: Fields, base: str) -> tuple[float, ...]:
    """A list of radii with the unit in the key, in m."""
    for suffix, unit in KINDS["length"].items():
        key = f"{base}_{suffix}"
        low, high = unit.from_si(0.002), unit.from_si(0.1)
        values = table.numbers(key, low, high, longest=_MOST_HOLES)
        if values is not None:
            return tuple(sorted(unit.to_si(value) for value in values))
    return ()


_LENGTHS: tuple[tuple[str, float, float, bool], ...] = (
    ("arm", 0.003, 0.06, True),
    ("horn", 0.003, 0.1, True),
    ("rod", 0.005, 1.5, True),
    ("axis_distance", 0.005, 1.5, True),
    ("axis_height", -0.1, 0.1, False),
    ("horn_setback", -0.05, 0.05, False),
)
"""Lengths of a linkage: base of the key (and attribute), least, greatest (m), required."""
_FLAGS = ("horn_above", "crossed", "mirrored", "reversed")
"""How a corner lies, true or false: see `Linkage`."""


def read_linkages(table: Fields, corners: Sequence[str]) -> dict[str, Linkage]:
    """`[linkage.aileron]` for every aileron there is, with `[linkage.aileron.CORNER]` replacing single numbers."""
    common = _lengths(table, "", required=False)
    arm_holes, horn_holes = _holes(table, "arm_holes"), _holes(table, "horn_holes")
    flags = _flags(table)
    result: dict[str, Linkage] = {}
    for corner in CORNERS:
        own = table.section(corner)
        if own is not None and corner not in corners:
            table.fault(corner, f"there is no such aileron; this plane has {', '.join(corners) or 'none'}")
            continue
        if corner not in corners:
            continue
        lengths, holes, lies = dict(common), (arm_holes, horn_holes), dict(flags)
        if own is not None:
            lies.update(_flags(own))
            lengths.update(_lengths(own, corner, required=False))
            holes = (_holes(own, "arm_holes") or arm_holes, _holes(own, "horn_holes") or horn_holes)
        place = own or table
        missing = [f"{name}_mm" for name, _, _, needed in _LENGTHS if needed and name not in lengths]
        if missing and table.sound:
            place.fault(missing[0], f"is missing; for the {corner.replace('_', ' ')} aileron give {', '.join(missing)}")
        if missing or not table.sound:
            continue
        for name in lengths:
            own_key = own is not None and bool(own.given(name, "length"))
            _copy_spread(table, name, corner, own=own_key)
        linkage = Linkage(
            arm=lengths["arm"],
            horn=lengths["horn"],
            rod=lengths["rod"],
            axis_distance=lengths["axis_distance"],
            axis_height=lengths.get("axis_height", 0.0),
            horn_setback=lengths.get("horn_setback", 0.0),
            arm_holes=holes[0],
            horn_holes=holes[1],
            **lies,
        )
        if _closes(place, linkage):
            result[corner] = linkage
    for name, *_ in _LENGTHS:
        table.faults.spreads.pop(f"linkage..{name}", None)
        for corner in CORNERS:
            table.faults.spreads.pop(f"linkage.{corner}.{name}", None)
    return result


def _flags(table: Fields) -> dict[str, bool]:
    """The flags that are given."""
    given = {name: table.boolean(name) for name in _FLAGS}
    return {name: value for name, value in given.items() if value is not None}


def _lengths(table: Fields, corner: str, *, required: bool) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, low, high, _ in _LENGTHS:
        path = f"linkage.{corner}.{name}"
        value = table.quantity(name, "length", low, high, path=path, required=required, sigma=(0.3e-3, False))
        if known(value):
            found[name] = value
    return found


def _copy_spread(table: Fields, name: str, corner: str, *, own: bool) -> None:
    spread = table.faults.spreads.get(f"linkage.{corner if own else ''}.{name}")
    if spread is not None:
        table.faults.spreads[f"aileron_linkage.{corner}.{name}"] = spread


def _closes(table: Fields, linkage: Linkage) -> bool:
    """The four bars can be pinned together: the longest is shorter than the other three."""
    ground = math.hypot(linkage.axis_distance, linkage.axis_height)
    bars = {"arm_mm": linkage.arm, "horn_mm": linkage.horn, "rod_mm": linkage.rod, "axis_distance_mm": ground}
    longest = max(bars, key=lambda name: bars[name])
    if bars[longest] < 0.999 * (sum(bars.values()) - bars[longest]):
        return True
    table.fault(
        longest, f"is {1000 * bars[longest]:.1f} mm: longer than the other three bars together; check the linkage"
    )
    return False


def read_rigging(table: Fields) -> Rigging | None:
    """`[rigging]`, all of it optional."""
    squareness = table.quantity("tail_squareness", "length", -0.1, 0.1, path="rigging.tail_squareness", required=False)
    tilt = table.quantity("tail_tilt", "length", -0.1, 0.1, path="rigging.tail_tilt", required=False)
    side = table.quantity("side_thrust", "angle", -10 * DEG, 10 * DEG, path="rigging.side_thrust", required=False)
    down = table.quantity("down_thrust", "angle", -10 * DEG, 10 * DEG, path="rigging.down_thrust", required=False)
    balance = table.quantity("tip_balance", "mass_moment", -0.05, 0.05, path="rigging.tip_balance", required=False)
    slop = table.quantity("slop", "angle", 0.0, 10 * DEG, path="rigging.slop", required=False)
    blades = table.quantity(
        "blade_tip_difference", "length", -0.02, 0.02, path="rigging.blade_tip_difference", required=False
    )
    if not table.sound:
        return None
    return Rigging(
        tail_squareness=_or_none(squareness),
        tail_tilt=_or_none(tilt),
        side_thrust=_or_none(side),
        down_thrust=_or_none(down),
        tip_balance=_or_none(balance),
        slop=_or_none(slop),
        blade_tip_difference=_or_none(blades),
    )


def _or_none(value: float) -> float | None:
    return value if known(value) else None
