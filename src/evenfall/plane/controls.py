"""Servos, linkages and the rigging record as measured. Data only, SI units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Servo:
    """An aileron servo.

    Args:
        torque: stall torque (N m) at `supply_voltage` (V).
        speed: rad/s without load.
        spline_teeth: teeth of the output spline.
        horn_arms: arms of the fitted horn (1, 2, 4, 6).
        gain: servo angle per pulse width, rad/s (rad per second of pulse).
        travel: greatest angle either way, rad.
        pulse_low, pulse_high: pulse limits, s.
        programmable: its centre can be moved in the servo itself.
        horn_turns_over: turned upside down, the horn's arm stands half a tooth further.
    """

    torque: float
    supply_voltage: float
    speed: float
    spline_teeth: int
    horn_arms: int
    gain: float
    travel: float
    pulse_low: float
    pulse_high: float
    programmable: bool = False
    horn_turns_over: bool = False


@dataclass(frozen=True, kw_only=True)
class Linkage:
    """One aileron's linkage, a planar four-bar. Lengths in m.

    Args:
        arm: servo arm radius in use.
        horn: surface horn radius in use.
        rod: pin to pin.
        axis_distance: servo axis to hinge axis along the chord.
        axis_height: servo axis above the hinge axis, normal to the chord.
        horn_setback: horn pin aft of the hinge line with the surface at neutral (negative forward).
        arm_holes, horn_holes: radii available.
        horn_above: the horn stands on the upper side of the wing (pushing lowers the trailing edge).
        crossed: the servo arm stands on the side away from the horn.
        mirrored: the servo lies the other way round, so that a longer pulse pulls the rod instead of pushing it.
        reversed: the channel is reversed in the radio.
    """

    arm: float
    horn: float
    rod: float
    axis_distance: float
    axis_height: float = 0.0
    horn_setback: float = 0.0
    arm_holes: tuple[float, ...] = ()
    horn_holes: tuple[float, ...] = ()
    horn_above: bool = False
    crossed: bool = False
    mirrored: bool = False
    reversed: bool = False


@dataclass(frozen=True, kw_only=True)
class Rigging:
    """The optional rigging record. Angles in rad, lengths in m; None where not taken.

    Args:
        tail_squareness: tip-to-tip difference of the tail's distance to the wing, m, right longer positive.
        tail_tilt: tip-to-tip difference of the tail's height with the wings level, m, right higher positive.
        side_thrust, down_thrust: rad, to the right and down positive.
        tip_balance: moment needed to level the wings, kg m, right tip heavy positive.
        slop: play at the aileron, rad peak to peak.
        blade_tip_difference: m between the two blade tips turned to the same place.
    """

    tail_squareness: float | None = None
    tail_tilt: float | None = None
    side_thrust: float | None = None
    down_thrust: float | None = None
    tip_balance: float | None = None
    slop: float | None = None
    blade_tip_difference: float | None = None
