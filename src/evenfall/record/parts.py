"""Which tests a replaced or repaired part voids, and what was learned that no longer holds.

Common practice of the trade, no source: whatever lies between the part and the number tested is tested again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Part:
    """A kind of part.

    Args:
        name: in words. voids: tests to do again before the next contest, in the order to do them.
        unlearns: corrections (names of `evenfall.plane.corrections.Corrections`) that flights must teach again.
        why: reason. one_corner: it sits on one aileron.
    """

    name: str
    voids: tuple[str, ...]
    unlearns: tuple[str, ...] = ()
    why: str
    one_corner: bool = False


SIGNS = "signs of every surface"
ANGLES = "bench angles of that aileron"
ALL_ANGLES = "bench angles of every aileron"
TAIL = "elevator and rudder angles"
ENDS = "travel left and end points"
CENTRE = "centre of gravity"
WEIGHT = "all-up weight"
LATERAL = "lateral balance"
PLAY = "play of the linkage"
FAILSAFE = "failsafe on the bench"
RANGE = "range check"
BRAKE = "motor brake by spin-down"
START = "start of the motor and closed band"
CURRENT = "current at full throttle"
NUT = "propeller nut after the first flight"
LEVEL = "first-flight card: level at height, crow in steps"
DIAGONAL = "first-flight card: 45 down"
DOWN = "first-flight card: vertical down, timed"
SNAP = "first-flight card: snap"
STRAIGHT = "straightness of the lines without crow"
ROLLS = "timed rolls"
VOLTS = "volts before and after a flight"

PARTS: Mapping[str, Part] = {
    "propeller": Part(
        name="propeller",
        voids=(CURRENT, NUT, LEVEL, DIAGONAL, DOWN, STRAIGHT),
        unlearns=("braked_propeller_drag", "brake_damping", "thrust"),
        why="Its blades set braked drag, thrust and the shaft speed at which the motor brake works.",
    ),
    "motor": Part(
        name="motor",
        voids=(START, BRAKE, CURRENT, CENTRE, LEVEL, DIAGONAL, DOWN),
        unlearns=("brake_damping", "thrust"),
        why="Motor brake and thrust depend on speed constant, resistance and friction of the motor.",
    ),
    "controller": Part(
        name="speed controller, or its settings",
        voids=(START, BRAKE, FAILSAFE, LEVEL, DIAGONAL, DOWN),
        unlearns=("brake_damping", "thrust"),
        why="Another controller brakes otherwise at a level of the same name, and knows another closed band.",
    ),
    "battery": Part(
        name="battery of another kind, or moved",
        voids=(WEIGHT, CENTRE, LATERAL, VOLTS, STRAIGHT),
        unlearns=("thrust",),
        why="Weight and its place change trim and speed; another pack holds other volts under load.",
    ),
    "servo": Part(
        name="servo of an aileron",
        voids=(SIGNS, ANGLES, ENDS, PLAY, FAILSAFE, LEVEL, DIAGONAL),
        unlearns=("roll_deployed", "crow_moment"),
        why="Centre, teeth, travel and speed differ from servo to servo; one corner off rolls the plane with crow out.",
        one_corner=True,
    ),
    "linkage": Part(
        name="arm, rod or horn of an aileron",
        voids=(SIGNS, ANGLES, ENDS, PLAY, LEVEL),
        unlearns=("roll_deployed", "crow_moment"),
        why="Holes and lengths set the angle at every stick position and the load on the servo.",
        one_corner=True,
    ),
    "tail servo": Part(
        name="servo or linkage of elevator or rudder",
        voids=(SIGNS, TAIL, FAILSAFE, STRAIGHT, SNAP),
        why="Neutral and throw of the tail set trim, pull-out and snap.",
    ),
    "wing repair": Part(
        name="repair of a wing",
        voids=(WEIGHT, CENTRE, LATERAL, ALL_ANGLES, PLAY, STRAIGHT, LEVEL, DIAGONAL, DOWN, ROLLS),
        unlearns=("parasite_drag", "crow_drag", "crow_moment", "roll_deployed"),
        why="Incidence, twist, gaps and weight may have changed.",
    ),
    "tail repair": Part(
        name="repair of the tail or the fuselage behind the wing",
        voids=(WEIGHT, CENTRE, TAIL, STRAIGHT, LEVEL, SNAP),
        unlearns=("crow_moment",),
        why="Incidence of the tail and weight far behind set trim and straightness.",
    ),
    "weight": Part(
        name="weight or centre of gravity changed",
        voids=(WEIGHT, CENTRE, LATERAL, STRAIGHT, LEVEL, DIAGONAL, DOWN, SNAP),
        why="Weight sets the speed of every line, its place trim, straightness and the spin.",
    ),
    "undercarriage": Part(
        name="undercarriage, wheel pants, struts or wires",
        voids=(WEIGHT, CENTRE, DOWN),
        unlearns=("parasite_drag",),
        why="Their drag is a good part of what brakes the plane without crow.",
    ),
    "receiver": Part(
        name="receiver, or bound anew",
        voids=(SIGNS, ALL_ANGLES, TAIL, START, FAILSAFE, RANGE),
        why="Channel order, end points and the failsafe are stored in the receiver.",
    ),
    "radio": Part(
        name="transmitter, or its memory of this plane copied",
        voids=(SIGNS, ALL_ANGLES, TAIL, START, FAILSAFE, RANGE, LEVEL),
        why="The crow mix, curves and phases live in the transmitter.",
    ),
}
"""Kinds of parts by key."""

SOURCE = "common practice, no source"
"""Where the table is from."""
