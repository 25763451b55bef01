"""What the fit stands on: one plane with one plan, and the balances of every line that evidence was taken on."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

import numpy as np

from evenfall.errors import InputError
from evenfall.lines.balance import Airframe
from evenfall.lines.drag import DragTable, drag_tables
from evenfall.lines.shaft import PowerUnit
from evenfall.logs.evidence import Flight
from evenfall.radio.plan import MotorChoice, Plan

Answer = TypeVar("Answer")


@dataclass(kw_only=True)
class Ground:
    """Plane, plan and wanted speed (m/s); tables are solved when a line is first asked for and kept.

    `frame` and `unit` are of the plane without learned corrections.
    """

    frame: Airframe
    unit: PowerUnit
    plan: Plan
    wanted: float
    _tables: dict[tuple[float, bool, bool], DragTable] = field(default_factory=dict)
    _plans: dict[tuple[bool, str | None], Plan] = field(default_factory=dict)
    _kept: dict[Hashable, Any] = field(default_factory=dict)

    def remembered(self, key: Hashable, make: Callable[[], Answer]) -> Answer:
        """What `make` gave when that key was first asked for."""
        if key not in self._kept:
            self._kept[key] = make()
        found: Answer = self._kept[key]
        return found

    def flown(self, flight: Flight) -> Plan:
        """The plan as that line was flown: without crow where it was switched off, at the flight's level."""
        key = (flight.crow, flight.level)
        if key not in self._plans:
            plan = self.plan if flight.crow else replace(self.plan, crow=None)
            if flight.level is not None and flight.level != plan.motor.level:
                level = self.unit.plane.controller.level(flight.level)
                motor = MotorChoice(level=level.name, percent=level.percent, throttle_curve=plan.motor.throttle_curve)
                plan = replace(plan, motor=motor)
            self._plans[key] = plan
        return self._plans[key]

    def table(self, flight: Flight) -> DragTable:
        """Drag on that line, in its own air."""
        self.solve([flight])
        table = self._tables[self._key(flight)]
        return table if flight.density is None else replace(table, density=flight.density)

    def solve(self, flights: list[Flight]) -> None:
        """Solve the balances of lines that are not known yet, those alike in one batch."""
        missing = {self._key(flight): flight for flight in flights if self._key(flight) not in self._tables}
        for inverted in (False, True):
            for crow in (False, True):
                keys = [key for key in missing if key[1] == inverted and key[2] == crow]
                if not keys:
                    continue
                solved = drag_tables(
                    self.frame,
                    wanted=self.wanted,
                    slopes=np.array([key[0] for key in keys]),
                    inverted=inverted,
                    crow=self.plan.crow if crow else None,
                )
                self._tables.update(zip(keys, solved, strict=True))

    def _key(self, flight: Flight) -> tuple[float, bool, bool]:
        return round(flight.slope, 4), flight.inverted, flight.crow and self.plan.crow is not None

    def check_level(self, name: str) -> None:
        """Raise `InputError` for a level the controller does not have."""
        names = [level.name for level in self.unit.plane.controller.levels]
        if name not in names:
            raise InputError(f"the controller has no level {name!r}; it has {', '.join(names)}")
