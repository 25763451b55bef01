"""Shaft equilibria of one plane kept ready: what does not change while a hand moves crow, curves and level."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from evenfall.lines.holding import STICKS, StickThrust
from evenfall.lines.shaft import (
    PowerUnit,
    Shaft,
    ShaftCurve,
    braked_shaft,
    driven_shaft,
    omega_grid,
    propeller_torque_grid,
    shaft_curve,
)
from evenfall.power.train import driven, shaft_states
from evenfall.radio.plan import Plan

Floats = NDArray[np.float64]

_KEPT = 24
"""Curves kept; the one used longest ago goes first."""
_FINER = 4
"""Commands tabulated to each stick position scanned."""


class ShaftTables:
    """Curves of equilibria and thrust at the wanted speed, each made when it is first asked for. Thread-safe.

    Args:
        unit: plane, propeller and air. wanted: m/s.
    """

    def __init__(self, unit: PowerUnit, *, wanted: float) -> None:
        self.unit = unit
        self.wanted = wanted
        self.speeds: Floats = wanted * np.linspace(0.3, 2.8, 140)
        self.omegas = omega_grid(unit.plane, float(self.speeds[-1]))
        self._torque = propeller_torque_grid(unit, self.speeds, self.omegas)
        self._commands = np.linspace(0.0, 1.0, _FINER * (STICKS.size - 1) + 1)
        self._driving = driven(unit.plane, unit.propeller, wanted, self._commands, density=unit.density).thrust
        self._curves: OrderedDict[str | float, ShaftCurve] = OrderedDict()
        self._braking: dict[str, float] = {}
        self._lock = Lock()

    def braked(self, level: str) -> ShaftCurve:
        """Equilibria in the closed band with a level of the motor brake."""
        return self._curve(level, lambda: braked_shaft(self.unit, level))

    def driven(self, command: float) -> ShaftCurve:
        """Equilibria at a motor command, 0-1."""
        return self._curve(command, lambda: driven_shaft(self.unit, command))

    def thrust(self, plan: Plan) -> StickThrust:
        """As `stick_thrust`: thrust over the stick at the wanted speed, straight between commands .06 % apart."""
        command = plan.motor.command(STICKS)
        closed = command < self.unit.plane.controller.closed_below
        powered = np.interp(command, self._commands, self._driving)
        return StickThrust(
            thrust=np.where(closed, self._braked_thrust(plan.motor.level), powered),
            closed=closed,
            uncertain=command < self.unit.plane.controller.start_stick,
        )

    def _braked_thrust(self, level: str) -> float:
        if level not in self._braking:
            states = shaft_states(self.unit.plane, self.unit.propeller, level, self.wanted, density=self.unit.density)
            stable = np.flatnonzero(states.stable[0])
            self._braking[level] = float(states.thrust[0, stable[-1]]) if stable.size else 0.0
        return self._braking[level]

    def _curve(self, key: str | float, shaft: Callable[[], Shaft]) -> ShaftCurve:
        with self._lock:
            found = self._curves.get(key)
            if found is not None:
                self._curves.move_to_end(key)
                return found
        made = shaft_curve(shaft(), self.speeds, self.omegas, self._torque)
        with self._lock:
            self._curves[key] = made
            while len(self._curves) > _KEPT:
                self._curves.popitem(last=False)
        return made
