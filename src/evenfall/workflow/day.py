"""One flying day for the evidence: plane, plan, air and wind, and how a line as written down becomes conditions."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path

from evenfall.air import standard_air
from evenfall.errors import InputError, ValueRangeError
from evenfall.logs.evidence import Flight
from evenfall.logs.evidence_entries import AirSeen, Flown, Measured
from evenfall.radio.phases import Phase
from evenfall.radio.plan import Plan
from evenfall.toml_table import nearest
from evenfall.workflow.ready import Ready

UNKNOWN_WIND = 2.0
"""m/s, one sigma of the wind along a level path where nothing was written down. Ours, no source."""
UNKNOWN_SPEED = 0.25
"""Share, one sigma of the wanted speed where no speed was written down. Ours, no source."""


@dataclass(frozen=True, kw_only=True)
class Day:
    """Args: label: what the flight is called. folder: where its files lie. notes: filled on the way, in words."""

    ready: Ready
    plan: Plan
    label: str
    folder: Path
    density: float | None
    wind: Measured | None
    temperature: float
    notes: list[str] = field(default_factory=list)

    def say(self, words: str) -> None:
        """Add a note once."""
        if words not in self.notes:
            self.notes.append(words)

    def named(self, name: str) -> str:
        """What an entry of this flight is called; a file that is the whole flight has one name."""
        return self.label if f" {self.label}".endswith(f" {name}") else f"{self.label}, {name}"

    def about(self, name: str, words: str) -> str:
        """Words about an entry with what it is called in front, once."""
        lead = f"{self.named(name)}: "
        return lead + words.removeprefix(lead)

    def level(self, name: str | None) -> str | None:
        """A motor-brake level as the controller calls it; raises `InputError` with the nearest."""
        if name is None:
            return None
        known = [level.name for level in self.ready.file.plane.controller.levels]
        for one in known:
            if one.casefold() == name.strip().casefold():
                return one
        near = nearest(name, known)
        hint = f"; did you mean {near}?" if near else ""
        raise InputError(f'the controller has no level "{name}"; it has {", ".join(known)}{hint}')

    def phase(self, name: str) -> Phase:
        """A phase by its name or kind; raises `InputError` with those there are."""
        for phase in self.plan.phases:
            if phase.name.casefold() == name.strip().casefold():
                return phase
        for phase in self.plan.phases:
            if phase.kind == name.strip().casefold():
                return phase
        known = [phase.name for phase in self.plan.phases]
        near = nearest(name, known)
        hint = f"; did you mean {near}?" if near else ""
        raise InputError(f'the plan has no phase "{name}"; it has {", ".join(known)}{hint}')

    def along(self, flown: Flown, slope: float) -> Measured:
        """Wind along a path of that slope, m/s, pushing positive."""
        flat = math.cos(slope)
        if self.wind is None:
            return Measured(0.0, UNKNOWN_WIND * flat)
        size, doubt = self.wind.value, self.wind.sigma
        if flown.wind is None:
            return Measured(0.0, math.hypot(size / math.sqrt(2), doubt) * flat)
        if flown.wind == "across":
            return Measured(0.0, math.hypot(0.3 * size, 0.5) * flat)
        sign = 1.0 if flown.wind == "with" else -1.0
        return Measured(sign * size * flat, math.hypot(0.15 * size, doubt) * flat)

    def flight(self, flown: Flown, *, slope: float | None = None, still: bool = False) -> Flight:
        """Conditions of a line; `still` leaves the wind out (a speed through the air)."""
        angle = flown.slope if slope is None else slope
        wind = Measured(0.0, 0.0) if still else self.along(flown, angle)
        return Flight(
            slope=angle,
            inverted=flown.inverted,
            stick=flown.stick or 0.0,
            crow=flown.crow,
            level=self.level(flown.level),
            density=self.density,
            wind=wind.value,
            wind_sigma=wind.sigma,
            gust=flown.gust,
        )

    def speed(self, given: Measured | None, where: str) -> Measured:
        """The speed written down, or the wanted speed with its doubt, which is said."""
        if given is not None:
            return given
        self.say(f"{where}: no speed was written down; the wanted speed is taken, +- {100 * UNKNOWN_SPEED:.0f} percent")
        return Measured(self.ready.wanted, UNKNOWN_SPEED * self.ready.wanted)


def density_of(air: AirSeen) -> float | None:
    """Density of the day's air, kg/m^3; None where nothing of it was written down."""
    if air.temperature is None and air.pressure is None and air.elevation is None:
        return None
    try:
        return standard_air(air.elevation or 0.0, temperature=air.temperature, pressure=air.pressure).density
    except ValueError as error:
        raise ValueRangeError(f"the air written down is impossible: {error}") from None
