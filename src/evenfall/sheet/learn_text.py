"""What `learn` prints. Rounds and words; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from evenfall.sheet.learn_page import LearnPage
from evenfall.sheet.learn_words import off_words
from evenfall.sheet.text import System, make_table, speed, speed_unit, with_spread

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def learn_parts(page: LearnPage, system: System) -> list[RenderableType]:
    """What `learn` prints, part by part."""
    flights = "one flight" if page.flights == 1 else f"{page.flights} flights"
    parts: list[RenderableType] = [
        f"{page.plane} - {page.plan}. {flights}, {len(page.pieces)} pieces of evidence.",
        _speeds(page, system),
    ]
    if page.state == "learned":
        parts += [_corrections(page), _pieces(page)]
        parts += [f"Not told apart: {words}" for words in page.alike]
        parts.append(page.proven_words)
    if page.change is not None:
        parts += ["", f"Next change: {page.change.what}", f"  {page.change.why}"]
        if page.change.effects:
            parts.append(_effects(page))
        parts += [f"  {words}" for words in (page.change.check, page.change.limit) if words]
    if page.flight is not None:
        parts += ["", f"Next flight: {page.flight.what}"]
        parts += [f"  {words}" for words in (page.flight.why, page.flight.height) if words]
        parts += [f"  Or: {words}" for words in page.flight.others]
    parts += [""] if page.notes else []
    parts += [f"! {note}" for note in page.notes]
    return parts


def _speeds(page: LearnPage, system: System) -> Table:
    unit = speed_unit(system)
    table = make_table(
        f"Speeds, {unit}", ("line", "left"), ("before", "right"), ("after", "right"), ("wanted", "right")
    )
    for line in page.speeds:
        table.add_row(
            line.line,
            "none steady" if line.before_m_s is None else with_spread(line.before_m_s, system),
            "-" if line.after_m_s is None else with_spread(line.after_m_s, system),
            speed(line.wanted_m_s, system),
        )
    return table


def _corrections(page: LearnPage) -> Table:
    table = make_table(
        "Corrections", ("what", "left"), ("factor", "right"), ("range", "right"), ("before", "right"), ("", "left")
    )
    for one in page.corrections:
        table.add_row(
            one.name,
            f"{one.factor:.2f}",
            f"{one.low:.2f}-{one.high:.2f}",
            f"{one.before_low:.2f}-{one.before_high:.2f}",
            one.words,
        )
    return table


def _pieces(page: LearnPage) -> Table:
    table = make_table(
        "Evidence, each against all the others",
        ("what", "left"),
        ("seen", "left"),
        ("others expect", "left"),
        ("", "left"),
        ("taught", "left"),
    )
    for piece in page.pieces:
        table.add_row(
            piece.name, piece.seen, piece.expected, off_words(piece.off_sigma, piece.outlier), piece.taught or "-"
        )
    return table


def _effects(page: LearnPage) -> Table:
    assert page.change is not None
    table = make_table("", ("target", "left"), ("now", "left"), ("after", "left"), ("wanted", "left"))
    for effect in page.change.effects:
        table.add_row(effect.target, effect.now, effect.after, effect.wanted)
    return table
