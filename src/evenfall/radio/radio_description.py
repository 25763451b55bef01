"""What a pilot's radio can do, as data: pulses, shares, mixes. Read from a small file of the pilot's own."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Literal

from evenfall.errors import ValueRangeError
from evenfall.plane.starter import radio_text
from evenfall.textfile import parse_toml, read_toml
from evenfall.toml_table import Faults, Table

FORMAT = 1


@dataclass(frozen=True, kw_only=True)
class RadioDescription:
    """A radio. Pulses in s; shares of the travel 1 for 100 %.

    Args:
        name: in the pilot's words.
        pulse_centre, pulse_full: pulse at centre and at +100 %; -100 % lies as far the other way.
        pulse_step: finest step of a pulse and of the centre shift.
        limit: greatest travel either way that can be set and sent.
        share_step: finest step of a share, an end limit or a value of a curve.
        curve_points: points of a mix's curve; 2 means straight mixes only.
        points_movable: the points may stand at any stick position; else they are evenly spaced.
        straight_sides: 2 where a straight mix has its own share either side of its offset, 1 where it is one line.
        free_mixes: mixes left once all ailerons follow the aileron stick.
        phase_mixes: a mix can be on in one phase and off in another.
        share_follows: a share can grow with the position of another stick (needed for roll boost).
        centre_shift: every channel's centre can be shifted on its own; by `shift_limit` at most.
        slow_down: channels can be slowed. Never used: a retraction must not be slowed.
    """

    name: str
    pulse_centre: float = 1.5e-3
    pulse_full: float = 1.9e-3
    pulse_step: float = 1e-6
    limit: float = 1.5
    share_step: float = 0.01
    curve_points: int = 5
    points_movable: bool = True
    straight_sides: Literal[1, 2] = 2
    free_mixes: int = 8
    phase_mixes: bool = True
    share_follows: bool = False
    centre_shift: bool = True
    shift_limit: float = 0.5
    slow_down: bool = False

    def __post_init__(self) -> None:
        if not 1e-4 - 1e-12 <= self.unit <= 1e-3 + 1e-12:
            raise ValueRangeError(
                f"{self.name}: 100 % must lie 100 to 1000 us above the centre, got {1e6 * self.unit:.0f} us"
            )
        if not 0 < self.pulse_step <= 2e-5 or not 0 < self.share_step <= 0.05:
            raise ValueRangeError(
                f"{self.name}: steps are above 0, pulses to 20 us and shares to 5 %; got {1e6 * self.pulse_step:g} us "
                f"and {100 * self.share_step:g} %"
            )
        if not 0.5 <= self.limit <= 3.0 or not 0 <= self.shift_limit <= 2.0:
            raise ValueRangeError(
                f"{self.name}: the limit lies between 50 and 300 %, the shift between 0 and 200 %; got "
                f"{100 * self.limit:g} and {100 * self.shift_limit:g} %"
            )
        if not 2 <= self.curve_points <= 100 or self.straight_sides not in (1, 2) or self.free_mixes < 0:
            raise ValueRangeError(
                f"{self.name}: curves have 2 to 100 points, straight mixes 1 or 2 sides, free mixes are not negative; "
                f"got {self.curve_points}, {self.straight_sides}, {self.free_mixes}"
            )

    @property
    def unit(self) -> float:
        """Pulse of 100 %, s from the centre."""
        return self.pulse_full - self.pulse_centre

    @property
    def curves(self) -> bool:
        """A mix can have a curve."""
        return self.curve_points > 2

    @property
    def shift_reach(self) -> float:
        """Greatest centre shift either way, s of pulse; 0 where there is none."""
        return self.shift_limit * self.unit if self.centre_shift else 0.0


def load_radio(path: str | os.PathLike[str]) -> RadioDescription:
    """Read a radio description; raises `FileFaults` with every fault at once."""
    source = read_toml(path, what="radio file")
    return _read(source.data, source.lines, source.path)


def usual_radio() -> RadioDescription:
    """The radio of the starter file, for a pilot who has described none."""
    source = parse_toml(radio_text(), path="radio.toml", what="radio file")
    return _read(source.data, source.lines, source.path)


def _read(data: dict[str, object], lines: dict[str, int], path: str) -> RadioDescription:
    faults = Faults(lines=lines)
    top = Table(data, "", faults)
    version = top.integer("format", 1, 1_000_000, required=True)
    if version is not None and version != FORMAT:
        top.fault("format", f"is {version}; this Evenfall reads radio files of format {FORMAT}")
    name = top.text("name", required=True, longest=60)
    pulses = _pulses(top)
    mixes = _mixes(top)
    shifts = _channels(top)
    top.finish()
    faults.raise_if_any(path)
    return RadioDescription(name=name or "", **pulses, **mixes, **shifts)  # type: ignore[arg-type]


def _pulses(top: Table) -> dict[str, float]:
    table = top.table("pulse", required=True)
    share = top.table("share", required=True)
    if table is None or share is None:
        return {}
    centre = table.number("centre_us", 500.0, 2500.0, required=True)
    full = table.number("full_us", 600.0, 3000.0, required=True)
    step = table.number("step_us", 0.05, 20.0, required=True)
    if centre is not None and full is not None and not 100.0 <= full - centre <= 1000.0:
        table.fault("full_us", f"is {full:g}; 100 % must lie 100 to 1000 us above the centre pulse of {centre:g}")
    limit = share.number("limit_percent", 50.0, 300.0, required=True)
    share_step = share.number("step_percent", 0.01, 5.0, required=True)
    return {
        "pulse_centre": (centre or 0.0) / 1e6,
        "pulse_full": (full or 0.0) / 1e6,
        "pulse_step": (step or 0.0) / 1e6,
        "limit": (limit or 0.0) / 100,
        "share_step": (share_step or 0.0) / 100,
    }


def _mixes(top: Table) -> dict[str, int | bool | None]:
    table = top.table("mix", required=True)
    if table is None:
        return {}
    points = table.integer("curve_points", 2, 100, required=True)
    movable = table.boolean("points_movable", required=points is not None and points > 2)
    sides = table.integer("straight_sides", 1, 2, required=points == 2)
    return {
        "free_mixes": table.integer("free", 0, 1000, required=True),
        "curve_points": points,
        "points_movable": bool(movable),
        "straight_sides": sides or 2,
        "phase_mixes": table.boolean("per_phase", required=True),
        "share_follows": bool(table.boolean("share_follows")),
    }


def _channels(top: Table) -> dict[str, float | bool | None]:
    table = top.table("channel", required=True)
    if table is None:
        return {}
    shift = table.boolean("centre_shift", required=True)
    limit = table.number("centre_shift_limit_percent", 0.0, 200.0, required=bool(shift))
    return {
        "centre_shift": shift,
        "shift_limit": (limit or 0.0) / 100,
        "slow_down": bool(table.boolean("slow_down")),
    }
