"""What follows from the measurements of a plane, each with why it matters; and the guesses, best buy first."""

from __future__ import annotations

from collections import OrderedDict
from typing import Any

from evenfall.aero.trim import static_margin
from evenfall.errors import EvenfallError
from evenfall.lines.throws import CornerReach, corner_reaches
from evenfall.plane.airframe import CORNERS, Plane
from evenfall.plane.facts import Fact
from evenfall.plane.files import PlaneFile
from evenfall.plane.guesses import Guess
from evenfall.sheet.check import all_facts
from evenfall.sheet.plane_page import FactPage, GuessPage
from evenfall.units import plain, show

USUAL_SPEED = 20.0
"""Speed at which the static margin is taken where none is wanted yet, m/s; it hardly changes with it."""

MEANINGS: dict[str, str] = {
    "wing_area_m2": "Lift and drag grow with it; loading and tail volume are counted on it.",
    "wing_loading_kg_m2": "Its square root sets the speeds: a heavier loading falls and flies faster.",
    "mean_chord_m": "The length that CG, margin and tail volume are counted in.",
    "aspect_ratio": "The lower it is, the more drag opposed lift of the two wings makes.",
    "gap_m": "Distance of the wings in height; drag on them acts on this lever about the CG.",
    "gap_over_chord": "Closer than one chord, each wing takes lift from the other.",
    "stagger_m": "Opposed crow turns it into a pitching moment; with none, crow leaves the line straight.",
    "cg_x_m": "Where the plane balances; every moment is counted about it.",
    "cg_share_of_mean_chord": "Further aft means less stability and a livelier elevator.",
    "tail_area_share": "Together with its arm it holds the plane against what crow and propeller pitch.",
    "tail_volume": "Tail area times its arm over wing area times chord: how strongly the tail holds.",
    "aileron_chord_share": "A wider aileron brakes more for each degree and loads the servo more.",
    "aileron_span_share": "How much of the wing crow and roll work on.",
    "rest_voltage_v": "Sets the shaft speed at a stick, and what the motor brake works against.",
    "pitch_over_diameter": "Flat pitch brakes harder when the propeller is held, and tops out slower.",
    "no_load_pitch_speed_m_s": "An upper bound: above it the propeller cannot pull at full stick.",
    "torque_constant_n_m_per_a": "Torque for each ampere, driving and braking.",
    "arm_over_horn": "Throw for each degree of servo; the load on the servo grows with it.",
    "spline_step_rad": "The finest step an arm offset can be set in without a pulse shift.",
    "linkage_up": "Greatest throw up before servo stop, dead point or hinge ends it.",
    "linkage_down": "Greatest throw down before servo stop, dead point or hinge ends it.",
    "linkage_gain": "Surface degrees for each servo degree at neutral.",
    "arm_offset": "An arm that stands square moves both ways alike; crow wants it off square.",
    "static_margin": "The body is left out, so the true margin is a few percent less. Negative: it diverges.",
}
"""What each fact means, by its key without wing, corner and unit."""

RANK = (
    "controller.levels", "propeller.shape", "propeller.chord_75_mm", "controller.brake_pwm_khz", "motor.inductance_uh",
    "motor.resistance_mohm", "mass.cg_z_mm", "wing.upper.incidence_deg", "wing.lower.incidence_deg",
    "tail.incidence_deg", "servo.aileron.us_per_deg", "controller.closed_below_percent", "controller.start_percent",
    "motor.no_load_current_a", "motor.pole_pairs", "controller.present_level", "controller.brake_delay_s",
    "servo.aileron.travel_deg", "servo.aileron.pulse_low_us", "controller.restart_delay_s", "battery.rest_v_per_cell",
    "battery.resistance_mohm", "servo.aileron.horn_arms", "mass.cg_y_mm", "propeller.mass_g", "motor.mass_g",
    "controller.resistance_mohm",
)  # fmt: skip
"""Keys that are worth measuring, best buy first: what the down lines hang on, then the rest. Common practice."""

_KEPT = 32
_margins: OrderedDict[Any, float | None] = OrderedDict()
_reaches: OrderedDict[Any, dict[str, CornerReach]] = OrderedDict()


def meaning_key(key: str) -> str:
    """A fact's key as `MEANINGS` holds it.

    >>> meaning_key("upper_aspect_ratio"), meaning_key("linkage_up_lower_left_rad")
    ('aspect_ratio', 'linkage_up')
    """
    for corner in CORNERS:
        key = key.replace(f"_{corner}_rad", "").replace(f"_{corner}", "").replace(f"{corner}_", "")
    return key.removeprefix("upper_").removeprefix("lower_")


def neutral_x(plane: Plane) -> float | None:
    """Neutral point of all surfaces, m aft of the propeller; None where it cannot be computed. Kept by geometry."""
    margin = _margin(plane)
    return None if margin is None else plane.mass.cg_x + margin * plane.mean_chord


def fact_pages(read: PlaneFile) -> tuple[FactPage, ...]:
    """Every fact of a usable plane file, rounded, with its meaning."""
    found = all_facts(read, _margin(read.plane), _reach(read.plane))
    return tuple(
        FactPage(name=fact.words, value=_value(fact), meaning=MEANINGS[meaning_key(fact.key)]) for fact in found
    )


def guess_pages(read: PlaneFile, labels: dict[str, str]) -> tuple[GuessPage, ...]:
    """What was guessed, best buy first; `labels`: words by dotted key."""
    order = {key: place for place, key in enumerate(RANK)}
    ranked = sorted(read.guesses, key=lambda guess: order.get(guess.key, len(order)))
    return tuple(
        GuessPage(
            path=guess.key,
            what=labels.get(guess.key, guess.key),
            used=used_words(guess),
            buys=guess.buys,
            how=guess.how,
        )
        for guess in ranked
    )


def used_words(guess: Guess) -> str:
    """What stands in for a missing number, in words."""
    return f"{guess.value} ({guess.spread}), {guess.why}"


def _value(fact: Fact) -> str:
    return plain(fact.value, 3) if fact.kind == "number" else show(fact.value, fact.kind, digits=3)


def _margin(plane: Plane) -> float | None:
    """Static margin, kept for the same surfaces, mass and speed."""
    speed = plane.wanted.speed or USUAL_SPEED
    key = (plane.upper, plane.lower, plane.tail, plane.mass, speed)
    if key not in _margins:
        try:
            value = static_margin(plane, speed=speed)
        except EvenfallError:
            value = float("nan")
        _keep(_margins, key, value if value == value else None)
    return _margins[key]


def _reach(plane: Plane) -> dict[str, CornerReach]:
    """What every linkage can do, kept for the same servo, linkages and ailerons; empty where it does not meet."""
    ailerons = tuple(wing.aileron for wing in plane.wings.values())
    key = (plane.aileron_servo, tuple(sorted(plane.aileron_linkage.items())), tuple(plane.wings), ailerons)
    if key not in _reaches:
        try:
            found = corner_reaches(plane)
        except EvenfallError:
            found = {}
        _keep(_reaches, key, found)
    return _reaches[key]


def _keep(store: OrderedDict[Any, Any], key: Any, value: Any) -> None:
    store[key] = value
    while len(store) > _KEPT:
        store.popitem(last=False)
