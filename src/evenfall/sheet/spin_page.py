"""Spin, snap and the line after a spin: estimates by strips, said as such."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from pydantic import Field

from evenfall.lines.spin import Range
from evenfall.sheet.pages import Page

if TYPE_CHECKING:
    from evenfall.workflow.spinning import ExitLine, SpinSnap

ESTIMATE = (
    "An estimate by strips beyond the stall: no downwash, no blanketing of the fin, inertia from usual proportions. "
    "Fly it high first; the flight decides."
)


class RangePage(Page):
    """A value with the lowest and highest that the estimate allows."""

    value: float = Field(description="Nominal.")
    low: float = Field(description="Lowest.")
    high: float = Field(description="Highest.")


class SnapPage(Page):
    """A snap roll at the wanted speed."""

    crow: bool = Field(description="Crow fully out.")
    rate_deg_s: RangePage | None = Field(description="Degrees a second; null where strips find no snap.")
    load_g: float | None = Field(description="Load at its entry, in units of the weight.")


class ExitPage(Page):
    """The vertical down after the spin, stick closed."""

    crow: bool = Field(description="With crow.")
    start_m_s: float = Field(description="Speed the line begins with.")
    height_m: float | None = Field(description="Until within 5 % of the wanted speed; null where it never is.")
    end_m_s: float = Field(description="Speed 8 s later.")


class SpinPage(Page):
    """Spin and snap of a plan."""

    spins: bool = Field(description="Strips find a steady spin.")
    turns_s: RangePage | None = Field(description="Turns a second.")
    alpha_deg: RangePage | None = Field(description="Incidence, degrees.")
    sink_m_s: RangePage | None = Field(description="Sink.")
    height_m: RangePage | None = Field(description="Height of one turn.")
    load_g: float | None = Field(description="Load in the spin, in units of the weight.")
    snaps: tuple[SnapPage, ...] = Field(description="Snap rolls at the wanted speed.")
    exits: tuple[ExitPage, ...] = Field(description="The line after the spin.")
    words: tuple[str, ...] = Field(description="In sentences.")
    estimate: str = Field(description="What kind of number this is.")


def spin_page(answer: SpinSnap) -> SpinPage:
    """The page of a plan's spin and snap."""
    spin, turn = answer.spin, 2 * math.pi
    snaps = tuple(
        SnapPage(
            crow=crow,
            rate_deg_s=None if found is None else _range(found.rate, 180 / math.pi),
            load_g=None if found is None else found.load,
        )
        for crow, found in answer.snaps
    )
    return SpinPage(
        spins=spin is not None,
        turns_s=None if spin is None else _range(spin.turn, 1 / turn),
        alpha_deg=None if spin is None else _range(spin.alpha, 180 / math.pi),
        sink_m_s=None if spin is None else _range(spin.sink),
        height_m=None if spin is None else _range(spin.height),
        load_g=None if spin is None else spin.load,
        snaps=snaps,
        exits=tuple(
            ExitPage(crow=line.crow, start_m_s=line.start, height_m=line.height, end_m_s=line.end)
            for line in answer.exits
        ),
        words=_words(answer, snaps),
        estimate=ESTIMATE,
    )


def _range(found: Range, scale: float = 1.0) -> RangePage:
    return RangePage(value=scale * found.value, low=scale * found.low, high=scale * found.high)


def _between(found: RangePage, digits: int) -> str:
    low, high = f"{found.low:.{digits}f}", f"{found.high:.{digits}f}"
    return low if low == high else f"{low} to {high}"


def _words(answer: SpinSnap, snaps: tuple[SnapPage, ...]) -> tuple[str, ...]:
    spin = answer.spin
    if spin is None:
        rows = ["Strips find no steady spin at these throws: more elevator or rudder in the spin phase."]
    else:
        turns, sink = _range(spin.turn, 1 / (2 * math.pi)), _range(spin.sink)
        rows = [
            f"Spin: {_between(turns, 1)} turns a second, sinking at {_between(sink, 0)} m/s, "
            f"{_between(_range(spin.height), 0)} m a turn."
        ]
    for snap in snaps:
        where = "crow out" if snap.crow else "crow stowed"
        if snap.rate_deg_s is None:
            rows.append(f"Snap, {where}: strips find none at these throws.")
        else:
            rows.append(
                f"Snap, {where}: {_between(snap.rate_deg_s, 0)} deg/s at the wanted speed, up to "
                f"{snap.load_g:.0f} times the weight at its entry."
            )
    rows += [_exit(line, answer.ready.wanted) for line in answer.exits]
    return tuple(rows)


def _exit(line: ExitLine, wanted: float) -> str:
    crow = "with crow" if line.crow else "without crow"
    if line.height is None:
        return f"Line after the spin, {crow}: {line.end:.1f} m/s after 8 s, not within 5 % of {wanted:.1f} m/s."
    words = f"Line after the spin, {crow}: within 5 % of {wanted:.1f} m/s after {line.height:.0f} m"
    return (
        f"{words}, {line.end:.1f} m/s after 8 s." if abs(line.end / wanted - 1) > 0.05 else f"{words} and stays there."
    )
