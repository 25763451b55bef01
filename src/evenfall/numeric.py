"""Outcomes of a computation: a closed set of statuses, each with its remedy in words."""

from __future__ import annotations

from enum import Enum


class Status(Enum):
    """How a computation ended. The value is stable (it appears in JSON); `text` is for people."""

    OK = "ok"
    NOT_CONVERGED = "not_converged"
    NO_STEADY_SPEED = "no_steady_speed"
    STALLED = "stalled"
    BEYOND_DATA = "beyond_data"
    STICK_AT_CLOSED_END = "stick_at_closed_end"
    STICK_AT_OPEN_END = "stick_at_open_end"
    INSIDE_CLOSED_BAND = "inside_closed_band"
    SEVERAL_SPEEDS = "several_speeds"

    @property
    def text(self) -> str:
        """One sentence: what happened and what to do."""
        return _TEXT[self]


_TEXT: dict[Status, str] = {
    Status.OK: "Solved.",
    Status.NOT_CONVERGED: (
        "The solver did not settle. Check the plane file for an unusual value; report it if there is none."
    ),
    Status.NO_STEADY_SPEED: (
        "No steady speed on this line: thrust or drag is never in balance. Change throttle, crow or propeller."
    ),
    Status.STALLED: (
        "No steady speed below the stall: the wing cannot carry the weight. Fly faster or lighten the plane."
    ),
    Status.BEYOND_DATA: "The answer lies beyond the section tables. Treat it as a trend only.",
    Status.STICK_AT_CLOSED_END: (
        "Faster than wanted even with the stick closed: more crow or more motor brake is needed."
    ),
    Status.STICK_AT_OPEN_END: "Slower than wanted even at full stick: more power or less drag is needed.",
    Status.INSIDE_CLOSED_BAND: (
        "The holding stick lies where the motor is held closed or cannot stay running: this line is flown unsteadily."
    ),
    Status.SEVERAL_SPEEDS: "Several steady speeds are possible: the entry speed decides.",
}
