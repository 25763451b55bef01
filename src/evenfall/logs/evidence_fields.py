"""One entry of a flight file being read: numbers with unit and doubt, and how a line was flown."""

from __future__ import annotations

import math
from typing import cast

from evenfall.logs.evidence_entries import FASTEST, GUSTS, LINES, STOPWATCH, Flown, Measured, Way
from evenfall.plane.fields import Fields
from evenfall.toml_table import shown

LONGEST = 2000.0
"""m, of lengths, heights and distances."""
ENTRY_SIGMA = 0.15
"""Share, of a speed that was judged. Common practice, no source."""


class EvidenceFields(Fields):
    """A table whose numbers may carry their spread and always get one."""

    def measured(
        self, base: str, kind: str, low: float, high: float, *, sigma: float, relative: bool = False
    ) -> Measured | None:
        """SI value of `base` in any unit of its kind with its one sigma: the given spread, else `sigma` (SI or share).

        None where it is not given or faulty.
        """
        path = self.dotted(base)
        value = self.quantity(base, kind, low, high, path=path, required=False, sigma=(sigma, relative))
        if math.isnan(value):
            return None
        spread = self.faults.spreads.get(path)
        return Measured(value, 0.0 if spread is None else abs(spread.absolute(value)))

    def figure(
        self, key: str, low: float, high: float, *, sigma: float, relative: bool = False, required: bool = False
    ) -> Measured | None:
        """The same for a key that names its own unit; in that unit."""
        raw = self.take(key, required=required, example=f"{key} = a number from {low:g} to {high:g}")
        if raw is None:
            return None
        value, spread = self._value(key)
        if value is None:
            return None
        if not low <= value <= high:
            self.fault(key, f"is {shown(value)}; allowed is {low:g} to {high:g}")
            return None
        return Measured(value, (sigma * abs(value) if relative else sigma) if spread is None else spread)

    def exact(self, base: str, kind: str, low: float, high: float) -> float | None:
        """SI value of `base` where no spread matters; None where it is not given or faulty."""
        value = self.quantity(base, kind, low, high, required=False)
        return None if math.isnan(value) else value

    def has_any(self, base: str, kind: str) -> bool:
        """The quantity is given in some unit."""
        return bool(self.given(base, kind))

    def certain(self, base: str, number: Measured | None) -> Measured | None:
        """The number where its spread is above zero, a fault otherwise."""
        if number is not None and number.sigma <= 0:
            self.fault(base, "has a spread of 0; nothing is that sure: give one above 0 or leave it out")
            return None
        return number


def read_flown(table: EvidenceFields, *, usual: str = "vertical down") -> Flown:
    """How the line of an entry was flown; `usual` is its line where none is named."""
    line = table.choice("line", tuple(LINES))
    slope = table.exact("slope", "angle", -math.pi / 2 - 1e-9, math.pi / 2 + 1e-9)
    stick = table.exact("stick", "ratio", 0.0, 1.0)
    inverted, crow = table.boolean("inverted"), table.boolean("crow")
    gusts = table.choice("gusts", tuple(GUSTS)) or "usual"
    wind = table.choice("wind", ("with", "against", "across"))
    named = (line or usual) if slope is None else next((n for n, s in LINES.items() if abs(s - slope) < 1e-6), "")
    return Flown(
        slope=LINES[named] if slope is None else slope,
        line=named,
        inverted=bool(inverted),
        stick=stick,
        crow=crow is not False,
        level=table.text("level", longest=40),
        gust=GUSTS[gusts],
        wind=cast("Way | None", wind),
    )


def stick_needed(table: EvidenceFields, flown: Flown) -> None:
    """A line that is flown under power says nothing without its stick."""
    if flown.stick is None and flown.slope > -0.2:
        table.fault("stick_percent", "is missing; on a line that does not go down the stick decides: write it")


def judged_speed(table: EvidenceFields, base: str = "speed") -> Measured | None:
    """A speed judged or measured, m/s, in any unit of speed."""
    return table.certain(f"{base}_m_s", table.measured(base, "speed", 2.0, FASTEST, sigma=ENTRY_SIGMA, relative=True))


def stopped(table: EvidenceFields, key: str = "seconds") -> Measured | None:
    """A time stopped by thumb, s."""
    return table.certain(key, table.figure(key, 0.1, 600.0, sigma=STOPWATCH, required=True))


def file_beside(table: EvidenceFields, *, required: bool = True) -> str:
    """Bare name of a file that lies beside the flight file; empty where it is missing or faulty."""
    file = table.text("file", required=required, example='file = "NAME", lying beside this file') or ""
    if "/" in file or "\\" in file or file in (".", ".."):
        table.fault("file", f"must be the bare name of a file beside this one, not {shown(file)}")
        return ""
    return file
