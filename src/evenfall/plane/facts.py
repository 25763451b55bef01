"""What follows from the measurements by geometry alone: areas, loadings, places, ratios."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evenfall.plane.airframe import Plane, Wing


@dataclass(frozen=True, kw_only=True)
class Fact:
    """One derived fact.

    Args:
        key: name that ends in the SI unit, for programs.
        words: for people.
        value: SI.
        kind: kind of quantity (see `evenfall.units.KINDS`), or `number`.
    """

    key: str
    words: str
    value: float
    kind: str = "number"


def derived_facts(plane: Plane) -> tuple[Fact, ...]:
    """Everything `check` shows beside the numbers in the file."""
    return (*_wings(plane), *_balance(plane), *_ailerons(plane), *_power(plane), *_linkage(plane))


def mean_quarter_chord_x(plane: Plane) -> float:
    """Quarter chord of all wings, weighted by area, m aft of the propeller."""
    wings = plane.wings.values()
    return sum(wing.area * wing.quarter_chord_x for wing in wings) / plane.wing_area


def stagger(plane: Plane) -> float | None:
    """Quarter-chord stagger, m, positive with the upper wing ahead; None for one wing."""
    if plane.upper is None or plane.lower is None:
        return None
    return plane.lower.quarter_chord_x - plane.upper.quarter_chord_x


def tail_volume(plane: Plane) -> float:
    """Tail area times its arm from the wings' quarter chord, over wing area and mean chord."""
    arm = _tail_quarter(plane) - mean_quarter_chord_x(plane)
    return plane.tail.area * arm / (plane.wing_area * plane.mean_chord)


def _tail_quarter(plane: Plane) -> float:
    tail = plane.tail
    ratio = tail.tip_chord / tail.root_chord
    chord = 2 / 3 * tail.root_chord * (1 + ratio + ratio * ratio) / (1 + ratio)
    share = (1 + 2 * ratio) / (3 * (1 + ratio))
    return tail.root_le_x + share * (tail.tip_le_x - tail.root_le_x) + 0.25 * chord


def _wings(plane: Plane) -> list[Fact]:
    facts = [
        Fact(key="wing_area_m2", words="wing area", value=plane.wing_area, kind="area"),
        Fact(
            key="wing_loading_kg_m2",
            words="wing loading",
            value=plane.mass.all_up / plane.wing_area,
            kind="wing_loading",
        ),
        Fact(key="mean_chord_m", words="mean chord", value=plane.mean_chord, kind="length"),
    ]
    for name, wing in plane.wings.items():
        ratio = wing.span**2 / wing.area
        facts.append(Fact(key=f"{name}_aspect_ratio", words=f"aspect ratio, {name} wing", value=ratio))
    if plane.upper is not None and plane.lower is not None:
        gap = plane.upper.z - plane.lower.z
        facts.append(Fact(key="gap_m", words="gap", value=gap, kind="length"))
        facts.append(Fact(key="gap_over_chord", words="gap over mean chord", value=gap / plane.mean_chord))
        facts.append(
            Fact(
                key="stagger_m", words="quarter-chord stagger, upper ahead", value=stagger(plane) or 0.0, kind="length"
            )
        )
    return facts


def _balance(plane: Plane) -> list[Fact]:
    quarter = mean_quarter_chord_x(plane)
    ahead = plane.mass.cg_x - (quarter - 0.25 * plane.mean_chord)
    return [
        Fact(key="cg_x_m", words="CG aft of the propeller", value=plane.mass.cg_x, kind="length"),
        Fact(
            key="cg_share_of_mean_chord",
            words="CG on the mean chord, from its leading edge",
            value=ahead / plane.mean_chord,
            kind="ratio",
        ),
        Fact(
            key="tail_area_share",
            words="tail area over wing area",
            value=plane.tail.area / plane.wing_area,
            kind="ratio",
        ),
        Fact(key="tail_volume", words="tail volume", value=tail_volume(plane)),
    ]


def aileron_chord_share(wing: Wing) -> float | None:
    """Aileron chord over wing chord, mean of its two ends; None without aileron."""
    aileron = wing.aileron
    if aileron is None:
        return None

    def local(y: float) -> float:
        return wing.root_chord + (wing.tip_chord - wing.root_chord) * y / (0.5 * wing.span)

    return 0.5 * (aileron.inner_chord / local(aileron.inner_y) + aileron.outer_chord / local(aileron.outer_y))


def _ailerons(plane: Plane) -> list[Fact]:
    facts = []
    for name, wing in plane.wings.items():
        aileron = wing.aileron
        share = aileron_chord_share(wing)
        if aileron is None or share is None:
            continue
        facts.append(
            Fact(
                key=f"{name}_aileron_chord_share", words=f"aileron chord share, {name} wing", value=share, kind="ratio"
            )
        )
        length = (aileron.outer_y - aileron.inner_y) / (0.5 * wing.span)
        facts.append(
            Fact(key=f"{name}_aileron_span_share", words=f"aileron span share, {name} wing", value=length, kind="ratio")
        )
    return facts


def _power(plane: Plane) -> list[Fact]:
    volts = plane.battery.rest_voltage
    shaft = plane.motor.kv * volts
    return [
        Fact(key="rest_voltage_v", words="battery at rest", value=volts, kind="voltage"),
        Fact(
            key="pitch_over_diameter",
            words="pitch over diameter",
            value=plane.propeller.pitch / plane.propeller.diameter,
        ),
        Fact(
            key="no_load_pitch_speed_m_s",
            words="pitch speed at kv times rest voltage",
            value=shaft * plane.propeller.pitch / (2 * math.pi),
            kind="speed",
        ),
        Fact(key="torque_constant_n_m_per_a", words="torque constant of the motor, N m/A", value=1 / plane.motor.kv),
    ]


def _linkage(plane: Plane) -> list[Fact]:
    facts = [
        Fact(
            key=f"{corner}_arm_over_horn",
            words=f"arm over horn, {corner.replace('_', ' ')}",
            value=linkage.arm / linkage.horn,
        )
        for corner, linkage in plane.aileron_linkage.items()
    ]
    if plane.aileron_servo is not None:
        step = 2 * math.pi / math.lcm(plane.aileron_servo.spline_teeth, plane.aileron_servo.horn_arms)
        facts.append(Fact(key="spline_step_rad", words="step of spline and horn arms", value=step, kind="angle"))
    return facts
