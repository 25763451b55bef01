"""How well a number in a plane file is known, and what stands in for a number that is not there.

No physics: rules of thumb with generous spreads, named as guesses wherever they are used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from evenfall.units import show

Source = Literal["stated", "measured", "guess"]


@dataclass(frozen=True, kw_only=True)
class Spread:
    """How far a number may be off.

    Args:
        sigma: one sigma, in SI, or as a share of the value where `relative`.
        source: `stated` in the file, `measured` with the usual precision of ruler, scale or meter, or a `guess`.
        relative: sigma is a share of the value.
    """

    sigma: float
    source: Source
    relative: bool = False

    def absolute(self, value: float) -> float:
        """One sigma in SI for that value.

        >>> Spread(sigma=0.1, source="guess", relative=True).absolute(-2.0)
        0.2
        """
        return self.sigma * abs(value) if self.relative else self.sigma


@dataclass(frozen=True, kw_only=True)
class Guess:
    """One number the plane file lacks.

    Args:
        key: dotted key that would give it.
        path: dotted attribute path in the plane.
        value, spread: what is used instead, in words.
        why: where the estimate comes from.
        buys: what measuring it would buy.
        how: how to measure it.
    """

    key: str
    path: str
    value: str
    spread: str
    why: str
    buys: str
    how: str


@dataclass(frozen=True)
class Advice:
    """Words that go with a guess: where it comes from, what measuring buys, how to measure."""

    why: str
    buys: str
    how: str


def _degrees(value: float) -> float:
    return value * math.pi / 180


MEASURED: dict[str, tuple[float, bool]] = {
    "length": (1e-3, False),
    "angle": (_degrees(0.3), False),
    "mass": (0.005, True),
    "ratio": (0.01, False),
    "speed": (0.02, True),
    "torque": (0.10, True),
    "mass_moment": (0.10, True),
    "damping": (0.10, True),
    "kv": (0.03, True),
    "resistance": (0.05, True),
    "inductance": (0.10, True),
    "current": (0.05, True),
    "voltage": (0.01, True),
    "capacity": (0.03, True),
    "frequency": (0.01, True),
    "time": (0.10, True),
    "pulse": (10e-6, False),
    "area": (0.10, True),
    "servo_speed": (0.10, True),
    "servo_gain": (0.03, True),
}
"""One sigma of a value given without its own spread, by kind: (sigma, relative). Common practice, no source."""

SPREAD_OF: dict[str, tuple[float, bool]] = {
    "mass.cg_x": (2e-3, False),
    "mass.cg_z": (5e-3, False),
    "mass.cg_y": (1e-3, False),
    "propeller.pitch": (0.04, True),
    "propeller.diameter": (1e-3, False),
    "propeller.chord_75": (0.5e-3, False),
    "motor.resistance": (0.05, True),
    "motor.no_load_current": (0.10, True),
    "controller.resistance": (0.30, True),
    "battery.resistance": (0.15, True),
    "battery.rest_voltage_per_cell": (0.03, False),
    "drag.area": (0.30, True),
}
"""The same for single attributes that differ from their kind. Common practice, no source."""

THROW_SIGMA = _degrees(1.0)
"""One sigma of a greatest throw read from a gauge, rad. Common practice, no source."""
THICKNESS_SIGMA = 0.004
"""One sigma of a section's thickness over chord. Common practice, no source."""

ADVICE: dict[str, Advice] = {
    "mass.cg_z": Advice(
        "mid-height of the wings",
        "the pitching moment of propeller drag on the down lines, so the elevator share with crow",
        "hang the plane from two points and mark the plumb line: two [[mass.hang]] entries",
    ),
    "mass.cg_y": Advice(
        "balanced", "the aileron trim that drag on a down line asks for", "balance it on spinner and fin"
    ),
    "wing.incidence": Advice(
        "in line with the thrust",
        "which way the clean vertical bends: a tenth of a degree between the wings shows",
        "angle gauge on both wings and the tail, left and right",
    ),
    "tail.incidence": Advice("in line with the thrust", "the elevator of level flight", "angle gauge on tail and wing"),
    "propeller.shape": Advice(
        "the usual sport propeller",
        "drag of the braked propeller: slim, medium and broad blades differ by a factor of three",
        "compare the blade: slim, medium, broad or folding, and put a ruler across it at 75 % radius",
    ),
    "propeller.chord_75": Advice(
        "the middle of its family of blades",
        "thrust and braked drag go with blade width: about +-8 % to +-3 %",
        "ruler across the blade at three quarters of the radius",
    ),
    "propeller.mass": Advice(
        "from the diameter", "how fast the shaft follows the motor brake", "put the propeller on a letter scale"
    ),
    "motor.resistance": Advice(
        "from kv and mass, by motors of the same size",
        "the strongest level of motor brake and the losses at full throttle: +-40 % to +-5 %",
        "pass 5 A from a limited supply through two wires and measure the voltage between them",
    ),
    "motor.inductance": Advice(
        "L/R is near 0.3 ms (0.2 to 0.4) in motors of this size",
        "which level of motor brake shows two propeller speeds",
        "an LCR meter between two wires at 1 kHz, mean of the three pairs",
    ),
    "motor.pole_pairs": Advice(
        "14 magnets are usual", "the strongest levels of motor brake", "count the magnets in the bell and halve"
    ),
    "motor.no_load_current": Advice(
        "about 100 W for each kilogram of motor at 10 V",
        "the friction that adds to the motor brake at small levels",
        "run the motor without propeller and read the current",
    ),
    "motor.mass": Advice(
        "a tenth of the all-up mass", "the guesses of resistance and no-load current", "read it from the label"
    ),
    "controller.resistance": Advice(
        "usual for its size", "little: a few percent of current", "read it from the data sheet"
    ),
    "controller.levels": Advice(
        "percent taken as pulse duty; names spread evenly",
        "the damping of the motor brake: a factor of two to +-10 %",
        "measure the torque at a known shaft speed: [[controller.level]] with damping_N_m_s",
    ),
    "controller.present_level": Advice(
        "the weakest level", "the lines as the plane is now", "read it with the controller's programmer"
    ),
    "controller.brake_frequency": Advice(
        "8, 16 and 24 kHz are usual, all three are tried",
        "where the band of two propeller speeds lies",
        "read brake_pwm_khz from the manual or hear it with an oscilloscope on one motor wire",
    ),
    "controller.closed_below": Advice(
        "usual", "the stick at which the motor brake sets in", "raise the stick slowly without propeller and note it"
    ),
    "controller.start_stick": Advice(
        "usual", "which shallow lines can be flown at a steady stick", "raise the stick slowly without propeller"
    ),
    "controller.brake_delay": Advice(
        "usual", "the first second of a down line", "film the stopping motor, no propeller"
    ),
    "controller.restart_delay": Advice(
        "usual", "the pull-out below a down line", "film the starting motor without propeller"
    ),
    "battery.resistance": Advice(
        "from its capacity, by packs in good health", "full-throttle lines", "read it from the charger"
    ),
    "battery.rest_voltage_per_cell": Advice(
        "half used",
        "stick on the up lines and the regenerative part of the motor brake",
        "a cell checker after landing",
    ),
    "servo.gain": Advice(
        "about 10 us for each degree",
        "arm angles to +-15 % or +-2 %: the offset and every travel",
        "protractor on the arm at two pulse widths",
    ),
    "servo.travel": Advice("usual", "the snap throw that is left with crow out", "protractor on the arm at both ends"),
    "servo.pulse": Advice(
        "usual", "the snap throw that is left with crow out", "servo tester: note where the arm stops"
    ),
    "servo.horn_arms": Advice("a single arm", "how near the offset comes to its ideal", "count the arms of the horn"),
}
"""Words for every guess."""


def spread_text(spread: Spread, kind: str, value: float) -> str:
    """One sigma in words: `+-40 %` or `+-15 mm`."""
    if spread.relative:
        return f"+-{100 * spread.sigma:.0f} %"
    if kind == "ratio":
        return f"+-{100 * spread.sigma:.0f} % points"
    return f"+-{show(spread.absolute(value), kind, digits=2)}"


# --- rules of thumb --------------------------------------------------------------------------------------------------


def motor_resistance(kv: float, mass: float) -> float:
    """Line-to-line resistance (ohm) from kv (rad/s per V) and mass (kg): R = Kt^2/Km^2, Kt = 1/kv.

    Km^2 = 2.25e-3 (m/.12)^(5/3) (N m)^2/W: .05 ohm for 900 rpm/V and .12 kg. Good to +-40 %.
    Common practice, no source.

    >>> round(motor_resistance(94.25, 0.120), 3)
    0.05
    """
    return float((1 / kv) ** 2 / (2.25e-3 * (mass / 0.12) ** (5 / 3)))


def no_load_current(mass: float) -> float:
    """No-load current (A) at 10 V from the motor's mass (kg): 100 W/kg. Good to +-40 %. Common practice, no source.

    >>> no_load_current(0.12)
    1.2
    """
    return 10.0 * mass


def propeller_mass(diameter: float, blades: int) -> float:
    """Mass (kg) of an electric propeller from its diameter (m): 18 g (D/.254)^3 for two blades. Good to +-30 %.

    Common practice, no source: moulded propellers of 10 in weigh 15 to 22 g.

    >>> round(propeller_mass(0.254, 2), 4)
    0.018
    """
    return float(0.018 * (diameter / 0.254) ** 3 * blades / 2)


def battery_resistance(cells: int, capacity: float) -> float:
    """Resistance (ohm) of a pack from cells and capacity (C): 13 mohm for a cell of 1 Ah. Good to +-40 %.

    Common practice, no source.

    >>> round(battery_resistance(4, 2.2 * 3600), 4)
    0.0236
    """
    return float(cells * 0.013 / (capacity / 3600))
