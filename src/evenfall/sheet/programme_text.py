"""The page of a programme's tuning as text and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from evenfall.sheet.programme_page import ProgrammePage
from evenfall.sheet.text import make_table

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def programme_parts(page: ProgrammePage) -> list[RenderableType]:
    """What `tune --over` prints, part by part."""
    parts: list[RenderableType] = [f"{page.plane} over {page.sequence}, wanted {page.wanted_m_s:.1f} m/s.", *page.words]
    if page.by_wind:
        parts.append(_winds(page))
    parts.append(_trials(page))
    if page.settings:
        table = make_table(
            "Against the plan of the lines", ("setting", "left"), ("lines", "left"), ("programme", "left")
        )
        for row in page.settings:
            table.add_row(row.what, row.mine, row.other)
        parts.append(table)
    return [*parts, page.gusts]


def _winds(page: ProgrammePage) -> Table:
    table = make_table(
        "Evenest for every wind", ("wind", "left"), ("motor brake", "left"), ("crow", "right"),
        ("uneven", "right"), ("the chosen one there", "right"),
    )  # fmt: skip
    for row in page.by_wind:
        table.add_row(
            "calm" if row.wind_m_s == 0 else f"{row.wind_m_s:.0f} m/s",
            row.level,
            f"{row.crow_deg:.1f} deg",
            f"{row.unevenness_percent:.1f} %",
            f"{row.chosen_percent:.1f} %",
        )
    return table


def _trials(page: ProgrammePage) -> Table:
    winds: list[tuple[str, Literal["left", "right"]]] = [(f"{wind:.0f} m/s", "right") for wind in page.winds_m_s]
    table = make_table(
        "Every setting flown (* evenest, + no other is both evener and thriftier)",
        ("", "left"),
        ("motor brake", "left"),
        ("crow", "right"),
        ("over all", "right"),
        ("calm", "right"),
        ("doubts", "right"),
        ("weak battery", "right"),
        *winds,
        ("energy", "right"),
        ("left", "right"),
    )
    for row in page.trials:
        table.add_row(
            "*" if row.best else "+" if row.front else "",
            row.level,
            f"{row.crow_deg:.1f} deg",
            f"{row.over_all_percent:.1f} %",
            f"{row.calm_percent:.1f} %" if row.flown else "not to the end",
            f"{row.doubt_percent:.1f} %",
            f"{row.weak_percent:.1f} %",
            *(f"{value:.1f} %" for value in row.windy_percent),
            f"{row.energy_wh:.2f} Wh",
            f"{row.left_percent:.0f} %",
        )
    return table
