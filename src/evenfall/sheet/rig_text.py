"""The rig page as text and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenfall.sheet.rig_page import CornerPage, RigPage
from evenfall.sheet.text import System, make_table, speed, speed_unit

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def rig_parts(page: RigPage, system: System) -> list[RenderableType]:
    """What `rig` prints, part by part."""
    parts: list[RenderableType] = [f"! {page.cautions[0]}", f"{page.plane} - {page.plan}, radio: {page.radio}."]
    if page.corners:
        parts += [fit_table(page), work_table(page)]
    parts.append(page.travel)
    parts += [words for words in (page.supply, page.play) if words]
    if page.corners:
        parts += [channel_table(page), curve_table(page)]
        parts += [f"This radio: {words}" for words in page.lost]
        parts.append(speeds_table(page, system))
    parts.append(phase_table(page))
    parts += [words for words in (page.landing,) if words]
    parts += [f"Straightness: {words}" for words in page.straightness]
    parts.append(failsafe_table(page))
    parts += [f"* {caution}" for caution in page.cautions[1:]]
    return parts


def fit_table(page: RigPage) -> Table:
    """How every corner is fitted, and which way it goes."""
    found = make_table(
        "How it is fitted (left and right as seen from behind)",
        ("aileron", "left"),
        ("fit", "left"),
        ("signs", "left"),
    )
    for row in page.corners:
        found.add_row(row.corner, row.fit or "as measured", "; ".join(_sign(words) for words in row.signs))
    return found


def _sign(words: str) -> str:
    """A sign without the corner's name, which the row has already."""
    return f"{words.partition(': ')[0]}: {words.rpartition(' ')[2]}"


def _load(row: CornerPage) -> str:
    if row.servo_load is None:
        return "-"
    return f"{100 * row.servo_load:.0f} +- {100 * (row.servo_load_spread or 0):.0f}"


def work_table(page: RigPage) -> Table:
    """What every corner keeps, leaves and carries."""
    found = make_table(
        "What it leaves",
        ("aileron", "left"),
        ("crow deg", "right"),
        ("roll kept %", "right"),
        ("servo left deg", "right"),
        ("tightest at", "left"),
        ("servo load %", "right"),
        ("step deg", "right"),
    )
    for row in page.corners:
        found.add_row(
            row.corner,
            f"{row.crow_deg:+.1f}",
            f"{100 * row.roll_kept:.0f}",
            f"{row.travel_left_deg:.1f}",
            row.tightest,
            _load(row),
            f"{row.resolution_deg:.2f}",
        )
    return found


def channel_table(page: RigPage) -> Table:
    """What to set on every aileron channel."""
    phases = list(page.corners[0].roll_percent)
    found = make_table(
        "What to set: shares of the channel's travel in percent, + lengthens the pulse; roll at full right stick",
        ("aileron", "left"),
        ("neutral us", "right"),
        ("centre shift", "right"),
        *((f"roll {phase}", "right") for phase in phases),
        ("end limits us", "right"),
    )
    for row in page.corners:
        ends = "-" if row.ends_us is None else f"{row.ends_us[0]:.0f} to {row.ends_us[1]:.0f}"
        found.add_row(
            row.corner,
            "-" if row.neutral_us is None else f"{row.neutral_us:.0f}",
            "-" if row.centre_shift_percent is None else f"{row.centre_shift_percent:+.0f}",
            *(f"{row.roll_percent[phase]:+.0f}" for phase in phases),
            ends,
        )
    return found


def curve_table(page: RigPage) -> Table:
    """The deployment curve of every channel, and the elevator with it."""
    found = make_table(
        "Deployment: share of the travel at throttle stick",
        ("channel", "left"),
        *((f"{stick:.0f} %", "right") for stick in page.curve_stick_percent),
    )
    for row in page.corners:
        found.add_row(row.corner, *(f"{share:+.0f}" for share in row.crow_percent))
    if page.elevator_percent:
        found.add_row("elevator (down +)", *(f"{share:+.0f}" for share in page.elevator_percent))
    return found


def speeds_table(page: RigPage, system: System) -> Table:
    """The lines before and after rounding to the radio."""
    unit = speed_unit(system)
    found = make_table(
        "Predicted again with the rounded settings",
        ("line", "left"),
        (f"plan {unit}", "right"),
        (f"set {unit}", "right"),
    )
    for row in page.speeds:
        numbers = (row.planned_m_s, row.flown_m_s)
        found.add_row(row.line, *("-" if value is None else speed(value, system) for value in numbers))
    return found


def phase_table(page: RigPage) -> Table:
    """The phases."""
    found = make_table(
        "Phases (throws either way; exponential aileron/elevator/rudder)",
        ("phase", "left"),
        ("crow", "left"),
        ("aileron deg", "right"),
        ("elevator deg", "right"),
        ("rudder deg", "right"),
        ("exponential %", "right"),
    )
    for row in page.phases:
        soft = "/".join(f"{value:.0f}" for value in row.exponential_percent)
        found.add_row(
            row.name,
            "live" if row.crow else "off",
            f"{row.aileron_deg:.1f}",
            f"{row.elevator_deg:.0f}",
            f"{row.rudder_deg:.0f}",
            soft,
        )
    return found


def failsafe_table(page: RigPage) -> Table:
    """Every way of storing failsafe."""
    found = make_table(
        "Failsafe",
        ("stored", "left"),
        ("motor", "left"),
        ("crow", "left"),
        ("the plane", "left"),
        ("store and test", "left"),
    )
    for row in page.failsafe:
        name = f"{row.kind} (use this)" if row.recommended else row.kind
        motor = row.motor if row.motor_acceptable else f"NOT ACCEPTABLE: {row.motor}"
        found.add_row(name, motor, row.crow, row.what, f"{row.store} {row.test}")
    return found
