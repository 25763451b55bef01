"""What happens when the signal is lost: motor, ailerons, crow and tendency for each way of storing failsafe.

A crow mix lives in the transmitter; a receiver stores every channel by itself. So storing with the stick closed also
stores crow out, and no preset can retract it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Plan, surface_deltas

FailsafeKind = Literal["hold", "closed pulse", "captured closed", "no pulse"]
"""Hold the last pulses; preset with a closed motor pulse and ailerons at neutral; preset captured with the throttle
stick closed and crow live; no pulse at all."""
FAILSAFE_KINDS: tuple[FailsafeKind, ...] = get_args(FailsafeKind)


@dataclass(frozen=True, kw_only=True)
class Tendency:
    """What the caller predicts for one kind; None where it was not computed.

    Args:
        down_speed: steady speed straight down, m/s. roll: rad/s, right positive.
        glide_speed: steady gliding speed, m/s.
    """

    down_speed: float | None = None
    roll: float | None = None
    glide_speed: float | None = None


@dataclass(frozen=True, kw_only=True)
class FailsafeRow:
    """One way of storing failsafe and what it does.

    Args:
        motor: its state in words.
        motor_acceptable: False where the motor may go on running.
        ailerons: angle by corner, rad, trailing edge down positive; None where unknown.
        crow: "out", "stowed" or "as it was".
        tendency: as handed in. text: what the plane will do, in words.
        store: what to store. test: how to test it, propeller off.
        recommended: the one to use where the receiver can.
    """

    kind: FailsafeKind
    motor: str
    motor_acceptable: bool
    ailerons: Mapping[str, float] | None
    crow: str
    tendency: Tendency
    text: str
    store: str
    test: str
    recommended: bool


@dataclass(frozen=True, kw_only=True)
class FailsafeTable:
    """The rows, and what holds for all of them."""

    rows: tuple[FailsafeRow, ...]
    cautions: tuple[str, ...]

    def row(self, kind: FailsafeKind) -> FailsafeRow:
        """The row of a kind."""
        return next(row for row in self.rows if row.kind == kind)


CAUTIONS = (
    "Propeller off for every test here. Surfaces never prove the motor disarmed, and a braked motor is no restraint.",
    "Store failsafe again after any change of teeth, centre shift, end limits or crow: a receiver keeps old pulses.",
    "Local rules and site come first: many ask for a failsafe that stops the motor.",
)

_STORE: dict[FailsafeKind, str] = {
    "hold": "Do not store this for the motor.",
    "closed pulse": (
        "Crow switch off, sticks and trims at the middle, throttle stick closed; store. The motor's channel then holds "
        "its closed pulse, the ailerons theirs at neutral."
    ),
    "captured closed": (
        "Crow live, aileron, elevator and rudder stick at the middle, throttle stick closed; store. Crow is stored "
        "with it, and so is any stick that is not in the middle."
    ),
    "no pulse": (
        "Nothing is stored: the receiver falls silent. Whether motor and servos then stop, hold or go slack is their "
        "own matter; test each."
    ),
}

_TEST: dict[FailsafeKind, str] = {
    "hold": "Propeller off: run the motor a little, switch the transmitter off: if it keeps running, this is hold.",
    "closed pulse": (
        "Propeller off: run the motor a little, crow out, aileron stick held right; switch the transmitter off: the "
        "motor stops and is braked (turn it by hand), all ailerons go to neutral."
    ),
    "captured closed": (
        "Propeller off: run the motor a little, aileron stick held right; switch the transmitter off: the motor stops "
        "and is braked (turn it by hand), all ailerons go to full crow, left and right alike by angle gauge."
    ),
    "no pulse": (
        "Propeller off: run the motor a little, crow out; unplug the receiver's signal to the controller, then switch "
        "the transmitter off: note whether the shaft is braked or turns freely, and whether the ailerons give way."
    ),
}


def failsafe_table(
    plane: Plane, plan: Plan, tendencies: Mapping[FailsafeKind, Tendency] | None = None
) -> FailsafeTable:
    """What each way of storing failsafe does with this plan.

    Args:
        tendencies: speeds and roll predicted by the caller, by kind; left out where not computed.
    """
    given = tendencies or {}
    rows = tuple(_row(plane, plan, kind, given.get(kind, Tendency())) for kind in FAILSAFE_KINDS)
    return FailsafeTable(rows=rows, cautions=CAUTIONS)


def _row(plane: Plane, plan: Plan, kind: FailsafeKind, tendency: Tendency) -> FailsafeRow:
    out = {"closed pulse": 0.0, "captured closed": float(plan.deployment(0.0))}.get(kind)
    ailerons = None
    if out is not None:
        ailerons = {name: float(angle) for name, angle in surface_deltas(plane, plan.crow, out).items()}
    crow = "as it was" if out is None else "out" if out > 0 and plan.crow is not None else "stowed"
    return FailsafeRow(
        kind=kind,
        motor=_motor_words(plan, kind),
        motor_acceptable=kind != "hold",
        ailerons=ailerons,
        crow=crow,
        tendency=tendency,
        text=_text(kind, crow, tendency),
        store=_STORE[kind],
        test=_TEST[kind],
        recommended=kind == "closed pulse",
    )


def _motor_words(plan: Plan, kind: FailsafeKind) -> str:
    brake = f"braked at level {plan.motor.level}" if plan.motor.percent > 0 else "off, no motor brake set"
    if kind == "hold":
        return "runs on at its last power: unacceptable"
    if kind == "no pulse":
        return "off; braked or freewheeling, as the controller decides: a freewheeling propeller brakes differently"
    return brake


_DOES: dict[FailsafeKind, str] = {
    "hold": "flies on with the last roll, pitch and power",
    "closed pulse": "glides without crow, straight as its trim",
    "captured closed": "sinks steeply with crow out, straight as its trim",
    "no pulse": "glides on with surfaces held or slack; roll unknown",
}


def _text(kind: FailsafeKind, crow: str, tendency: Tendency) -> str:
    does = _DOES[kind]
    if kind == "captured closed" and crow == "stowed":
        does = _DOES["closed pulse"]
    parts = []
    if tendency.down_speed is not None:
        parts.append(f"straight down {tendency.down_speed:.0f} m/s")
    if tendency.glide_speed is not None:
        parts.append(f"gliding {tendency.glide_speed:.0f} m/s")
    if tendency.roll is not None:
        side = "right" if tendency.roll > 0 else "left"
        turn = abs(math.degrees(tendency.roll))
        parts.append(f"rolls {side} at {turn:.0f} deg/s" if turn >= 0.5 else "does not roll by itself")
    return f"The plane {does}{': ' + ', '.join(parts) if parts else ''}."
