"""What `fly` prints. Rounds and words; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from evenfall.sheet.fly_page import FlyComparePage, FlyFigurePage, FlyPage
from evenfall.sheet.pages import Spreading
from evenfall.sheet.text import System, make_table, speed, speed_unit, with_spread

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def fly_parts(page: FlyPage, system: System, *, every_part: bool = False) -> list[RenderableType]:
    """What `fly` prints; `every_part` adds a table of each figure's parts."""
    unit = speed_unit(system)
    parts: list[RenderableType] = [
        f"{page.plane} - {page.plan} - {page.sequence}. Wanted speed {speed(page.wanted_speed_m_s, system)} {unit}, "
        f"air {page.density_kg_m3:.3f} kg/m3, {page.wind}.",
        _figures(page, system),
    ]
    if every_part:
        parts += [_every_part(figure, system) for figure in page.figures]
    parts += [f"{short}: {words}" for short, words in _causes(page).items()]
    parts += ["", *_whole(page, system)]
    parts += [f"! {words}" for words in (*page.words, *page.findings)]
    if page.spin is not None:
        parts += ["", *page.spin.words, page.spin.estimate]
    parts += [f"Not in this answer: {limit}." for limit in page.limits]
    return parts


def _figures(page: FlyPage, system: System) -> Table:
    unit = speed_unit(system)
    blown = any(figure.by_wind_m_s is not None for figure in page.figures)
    table = make_table(
        "Figures",
        ("", "right"),
        ("figure", "left"),
        (f"speed {unit}", "right"),
        (f"most off {unit}", "right"),
        *_wind_column(unit, blown=blown),
        ("uneven %", "right"),
        ("height m", "right"),
        ("load g", "right"),
        ("mAh", "right"),
        ("where and why", "left"),
    )
    for figure in page.figures:
        where = figure.parts[figure.worst_part - 1].words if figure.worst_part <= len(figure.parts) else ""
        table.add_row(
            str(figure.number),
            figure.name,
            speed(figure.speed_m_s, system),
            signed(figure.worst_off_m_s, system),
            *([_by_wind(figure.by_wind_m_s, system)] if blown else []),
            f"{figure.unevenness_percent:.1f}",
            f"{figure.low_m:.0f}-{figure.high_m:.0f}",
            _range(figure.load_low, figure.load_high),
            f"{figure.charge_mah:.0f}",
            f"{where}: {figure.why_short}" if figure.why_short else "",
        )
    return table


def _causes(page: FlyPage) -> dict[str, str]:
    """Every cause that is named, once, with its sentence."""
    parts = [part for figure in page.figures for part in figure.parts]
    return {part.why_short: part.why_words for part in parts if part.why_short}


def _every_part(figure: FlyFigurePage, system: System) -> Table:
    unit = speed_unit(system)
    blown = any(part.by_wind_m_s is not None for part in figure.parts)
    table = make_table(
        f"{figure.number}. {figure.name}",
        ("part", "left"),
        (f"speed {unit}", "right"),
        (f"from-to {unit}", "right"),
        (f"most off {unit}", "right"),
        *_wind_column(unit, blown=blown),
        ("stick %", "right"),
        ("crow %", "right"),
        ("load g", "right"),
        ("why", "left"),
    )
    for part in figure.parts:
        table.add_row(
            part.words + (" (estimate)" if part.estimated else ""),
            with_spread(part.speed_m_s, system)
            if part.speed_m_s.spread is not None
            else speed(part.speed_m_s.value, system),
            f"{speed(part.slowest_m_s, system)}-{speed(part.fastest_m_s, system)}",
            signed(part.worst_off_m_s, system) if part.counted else "-",
            *([_by_wind(part.by_wind_m_s, system)] if blown else []),
            f"{part.stick_percent:.0f}",
            f"{part.deployment_percent:.0f}",
            _range(part.load_low, part.load_high),
            part.why_short,
        )
    return table


def _speed(number: Spreading, system: System) -> str:
    return speed(number.value, system) if number.spread is None else with_spread(number, system)


def signed(value: float, system: System) -> str:
    """A deviation of speed with its sign, to .1 of its unit; 0 without one."""
    text = speed(abs(value), system)
    return text if float(text) == 0 else f"{'+' if value > 0 else '-'}{text}"


def _wind_column(unit: str, *, blown: bool) -> tuple[tuple[str, Literal["left", "right"]], ...]:
    return ((f"by wind {unit}", "right"),) if blown else ()


def _by_wind(value: float | None, system: System) -> str:
    return "-" if value is None else signed(value, system)


def _range(low: float, high: float) -> str:
    """Two loads to .1; one number where they show alike."""
    shown = [f"{round(value, 1) + 0.0:.1f}" for value in (low, high)]
    return shown[0] if shown[0] == shown[1] else f"{shown[0]} to {shown[1]}"


def _plus(number: Spreading, digits: int, unit: str) -> str:
    text = f"{number.value:.{digits}f}"
    return f"{text} {unit}" if number.spread is None else f"{text} +- {number.spread:.{digits}f} {unit}"


def _whole(page: FlyPage, system: System) -> list[RenderableType]:
    unit, box = speed_unit(system), page.box
    lines: list[RenderableType] = [
        f"{page.ended_words} {page.length_m:.0f} m in {_plus(page.duration_s, 0, 's')}.",
        f"Evenness: {_plus(page.unevenness_percent, 1, '%')} off on average, {page.within_percent:.0f} % of the time "
        f"within 5 % of the wanted speed; highest {speed(page.fastest_m_s, system)} {unit}.",
    ]
    if page.unevenness_percent.causes:
        causes = ", ".join(f"{cause.name} {100 * cause.share:.0f} %" for cause in page.unevenness_percent.causes)
        lines.append(f"  Doubt of it from: {causes}.")
    left = "" if page.left_percent is None else f", {page.left_percent:.0f} % left"
    lines.append(
        f"Battery: {_plus(page.charge_mah, 0, 'mAh')}{left}, {page.energy_wh:.1f} Wh; up to {page.current_a:.0f} A, "
        f"down to {page.voltage_v:.1f} V."
    )
    lines.append(
        f"Box: {box.used_side_deg:.0f} of {box.side_deg:.0f} deg aside, {box.used_elevation_deg:.0f} of "
        f"{box.elevation_deg:.0f} deg up, {box.used_low_m:.0f} to {box.used_high_m:.0f} m high."
    )
    if page.servo is not None:
        lines.append(
            f"Servo that works hardest: {page.servo.corner}, {page.servo.load_percent:.0f} % of its stall torque at "
            f"{speed(page.servo.speed_m_s, system)} {unit}."
        )
    return lines


def fly_compare_parts(page: FlyComparePage, system: System) -> list[RenderableType]:
    """What `fly --against` prints."""
    unit = speed_unit(system)
    table = make_table(
        f"{page.first.plan} and {page.second.plan}, {unit}",
        ("", "right"),
        ("figure", "left"),
        ("speed, first", "right"),
        ("second", "right"),
        ("most off, first", "right"),
        ("second", "right"),
    )
    for row in page.rows:
        table.add_row(
            str(row.number),
            row.name,
            speed(row.first_m_s, system),
            speed(row.second_m_s, system),
            signed(row.first_worst_m_s, system),
            signed(row.second_worst_m_s, system),
        )
    head = f"{page.first.plane} - {page.first.sequence}, flown twice."
    both = [_whole(flight, system) for flight in (page.first, page.second)]
    parts: list[RenderableType] = [head, table]
    for flight, lines in zip((page.first, page.second), both, strict=True):
        parts += ["", f"{flight.plan}:", *lines, *(f"! {words}" for words in flight.words)]
    return [*parts, "", *page.words]
