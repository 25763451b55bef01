"""The carry page as text and tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenfall.sheet.carry_page import CarryPage
from evenfall.sheet.text import make_table

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def carry_parts(page: CarryPage) -> list[RenderableType]:
    """What `carry` prints, part by part."""
    parts: list[RenderableType] = [f"{page.plane} - {page.plan}, to {page.other}.", page.words]
    if page.missing:
        parts.append(page.missing)
    parts.append(_carried(page))
    if page.possible:
        parts += [_answers(page), _settings(page)]
    parts += list(page.margins)
    if page.fly_first:
        parts.append(_fly(page))
    parts += [f"Do again: {words}" for words in page.voids]
    parts += [f"* {note}" for note in page.notes]
    return parts


def _carried(page: CarryPage) -> Table:
    table = make_table(
        "What comes along",
        ("correction", "left"), ("learned", "right"), ("shared", "right"), ("begins with", "right"), ("why", "left"),
    )  # fmt: skip
    for row in page.carried:
        table.add_row(
            row.name,
            f"{row.first:.2f}",
            f"{row.share_percent:.0f} %" if row.carried else "-",
            f"{row.factor:.2f} ({row.low:.2f} to {row.high:.2f})",
            row.reason,
        )
    return table


def _answers(page: CarryPage) -> Table:
    table = make_table("The same at the same stick", ("phase", "left"), ("first", "left"), ("other", "left"))
    for row in page.answers:
        table.add_row(row.what, row.first, row.other + ("" if row.met else " (its limit)"))
    return table


def _settings(page: CarryPage) -> Table:
    table = make_table("Settings computed anew", ("setting", "left"), ("first", "left"), ("other", "left"))
    for row in page.settings:
        table.add_row(row.what, row.mine, row.other)
    return table


def _fly(page: CarryPage) -> Table:
    table = make_table("Fly first, in this order", ("what", "left"), ("why", "left"))
    for number, row in enumerate(page.fly_first, 1):
        table.add_row(f"{number}. {row.what}", row.why)
    return table
