"""Propeller, motor, controller and cells as measured or read from their labels. Data only, SI units.

Motor resistance and inductance are line-to-line values (what a meter shows between two motor wires).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evenfall.errors import ValueRangeError

BladeShape = Literal["slim", "medium", "broad", "folding"]


@dataclass(frozen=True, kw_only=True)
class BladeStation:
    """One measured blade station: radius and chord in m, angle to the disc in rad."""

    radius: float
    chord: float
    angle: float


@dataclass(frozen=True, kw_only=True)
class Propeller:
    """A fixed-pitch propeller.

    Args:
        diameter, pitch: m.
        blades: number of blades.
        shape: family of the blade outline.
        chord_75: blade chord at 75 % radius by ruler, m; None takes the family's.
        mass: kg; None takes an estimate from the diameter.
        stations: measured stations, root to tip; replace the family's outline where given.
    """

    diameter: float
    pitch: float
    blades: int = 2
    shape: BladeShape = "slim"
    chord_75: float | None = None
    mass: float | None = None
    stations: tuple[BladeStation, ...] = ()

    def __post_init__(self) -> None:
        if not (self.diameter > 0 and self.pitch > 0 and self.blades >= 1):
            raise ValueRangeError("a propeller needs a positive diameter and pitch and at least one blade")

    @property
    def radius(self) -> float:
        """m."""
        return 0.5 * self.diameter


@dataclass(frozen=True, kw_only=True)
class Motor:
    """A brushless motor.

    Args:
        kv: no-load speed over voltage, rad/s per V.
        resistance: line to line, ohm.
        inductance: line to line, H.
        pole_pairs: half the number of magnets.
        no_load_current: A at `no_load_voltage` (V).
        mass: kg, or None.
    """

    kv: float
    resistance: float
    inductance: float
    pole_pairs: int
    no_load_current: float
    no_load_voltage: float
    mass: float | None = None

    def __post_init__(self) -> None:
        if not (self.kv > 0 and self.resistance > 0 and self.inductance > 0 and self.pole_pairs >= 1):
            raise ValueRangeError("a motor needs positive kv, resistance, inductance and at least one pole pair")


@dataclass(frozen=True, kw_only=True)
class BrakeLevel:
    """One setting of the motor brake.

    Args:
        name: as the controller calls it, or the percent as text.
        percent: 0-100 of the controller's scale (named levels are spread evenly), taken as pulse duty with doubt.
        damping: measured torque over shaft speed, N m per (rad/s), or None.
    """

    name: str
    percent: float
    damping: float | None = None


@dataclass(frozen=True, kw_only=True)
class Controller:
    """The electronic speed controller.

    Args:
        resistance: ohm, both switched legs together.
        levels: every setting of the motor brake, weakest first.
        present_level: name of the one that is set now.
        brake_frequency: pulse frequency of the motor brake, Hz.
        brake_frequency_known: False where 8, 16 and 24 kHz must all be tried.
        synchronous: True brakes regeneratively at low throttle while driving.
        closed_below: command (0-1; the stick where the throttle curve is straight) below which the motor is held
            closed: the closed band.
        start_stick: command (0-1) at which a stopped motor restarts.
        brake_delay, restart_delay: s.
        diode_drop: V of one freewheeling diode.
    """

    resistance: float
    levels: tuple[BrakeLevel, ...]
    present_level: str
    brake_frequency: float = 16e3
    brake_frequency_known: bool = False
    synchronous: bool = False
    closed_below: float = 0.05
    start_stick: float = 0.08
    brake_delay: float = 0.1
    restart_delay: float = 0.2
    diode_drop: float = 0.7

    def level(self, name: str) -> BrakeLevel:
        """The level of that name; raises `ValueRangeError` naming the known ones."""
        for level in self.levels:
            if level.name == name:
                return level
        known = ", ".join(level.name for level in self.levels)
        raise ValueRangeError(f"no motor-brake level called {name!r}: the controller has {known}")


@dataclass(frozen=True, kw_only=True)
class Battery:
    """The flight battery.

    Args:
        cells: in series.
        capacity: C (A s).
        resistance: whole battery, ohm.
        rest_voltage_per_cell: V, at rest, for the state to compute with.
    """

    cells: int
    capacity: float
    resistance: float
    rest_voltage_per_cell: float = 3.85

    @property
    def rest_voltage(self) -> float:
        """V of the whole battery at rest."""
        return self.cells * self.rest_voltage_per_cell
