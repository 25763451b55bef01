"""What the commands of the logbook print. Rounds and words; computes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from evenfall.sheet.pages import Spreading
from evenfall.sheet.record_page import CardPage, FlightEntryPage, PartPage, SeasonPage
from evenfall.sheet.text import make_table

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

SHORT = 8
"""Characters of a token that are printed; as many are enough to name a flight."""


def flights_table(flights: Sequence[FlightEntryPage]) -> Table:
    """Flights, newest first."""
    table = make_table(
        "Flights",
        ("date", "left"),
        ("flight", "left"),
        ("plan", "left"),
        ("pieces", "right"),
        ("place", "left"),
        ("seen", "left"),
    )
    for row in flights:
        seen = f"{row.words} (taken out)" if row.removed else row.words
        table.add_row(row.date[:16], row.token[:SHORT], row.plan, str(row.pieces), row.place, seen)
    return table


def list_parts(page: SeasonPage) -> list[RenderableType]:
    """What `log list` prints, part by part."""
    if not page.flights:
        return [*_note(page), f"No flight of {page.plane} is in the logbook yet; `evenfall log add` enters one."]
    return [*_note(page), page.plane, flights_table(page.flights)]


def flight_parts(flight: FlightEntryPage, document: str, history: Sequence[str]) -> list[RenderableType]:
    """What `log show` prints: the flight, its revisions, the files it came from, and its text."""
    state = " It is taken out." if flight.removed else ""
    parts: list[RenderableType] = [
        f"Flight {flight.token[:SHORT]}, {flight.date} {flight.place}".rstrip() + f". {flight.words}.{state}",
        f"Plan: {flight.plan or 'not known'} {flight.plan_hash[:12]}".rstrip(),
    ]
    for item in flight.originals:
        kept = "kept" if item.kept else "named only"
        parts.append(f"File: {item.name}, {item.size} bytes, {kept}, {item.hash[:12]}")
    parts += [*history, "", document.rstrip() or "(no flight file)"]
    return parts


def season_parts(page: SeasonPage) -> list[RenderableType]:
    """What `log season` prints, part by part."""
    wanted = "" if page.wanted_m_s is None else f" Wanted speed {page.wanted_m_s:.1f} m/s."
    table = make_table(
        "Season, newest first",
        ("date", "left"),
        ("what", "left"),
        ("down m/s", "right"),
        ("", "left"),
    )
    for row in page.rows:
        said = (row.words, row.why and f"Why: {row.why}", row.effect)
        words = " ".join(part if part.endswith((".", "?")) else f"{part}." for part in said if part)
        table.add_row(row.date[:10], row.what, _speed(row.down_m_s), words)
    parts: list[RenderableType] = [*_note(page), f"{page.plane}.{wanted}"]
    return [*parts, table, *open_words(page.parts)] if page.rows else [*parts, "The logbook holds nothing of it yet."]


def open_words(parts: Sequence[PartPage]) -> list[str]:
    """Tests to do again, one line a part."""
    return [f"! {part.date[:10]} {part.words}: do again {', '.join(part.open)}." for part in parts if part.open]


def part_parts(part: PartPage) -> list[RenderableType]:
    """What `log part` prints, of a part that was entered or (without a date) could be."""
    head = f"{part.date[:10]} {part.words}. {part.why}"
    asks = "Do again:" if part.date else "Nothing was entered. It would be to do again:"
    return [head.strip(), asks, *(f"  {test}" for test in part.voids)]


def done_parts(parts: Sequence[PartPage]) -> list[RenderableType]:
    """What `log part --done` prints: what was done again, and what is still to do."""
    done = [f"{part.date[:10]} {part.words}: {one.words}." for part in parts for one in part.done]
    return [*done, *(open_words(parts) or ["Every test was done again."])]


def kinds_parts(kinds: Sequence[PartPage]) -> list[RenderableType]:
    """Parts that can be replaced, and what each voids."""
    table = make_table("Parts", ("part", "left"), ("what", "left"), ("voids", "left"))
    for kind in kinds:
        table.add_row(kind.key, kind.words, ", ".join(kind.voids))
    return [table]


def card_parts(page: CardPage) -> list[RenderableType]:
    """What `log card` prints."""
    table = make_table("Half a minute of surfaces", ("phase", "left"), ("do", "left"), ("see", "left"))
    for row in page.checks:
        table.add_row(row.phase, row.do, row.see)
    return [
        f"{page.plane} - {page.plan} {page.plan_hash}. {page.state}. {page.date}",
        page.change,
        table,
        page.air,
        *(f"  {words}" for words in page.speeds),
        "",
        *(f"! {words}" for words in page.cautions),
    ]


def _note(page: SeasonPage) -> list[RenderableType]:
    return [f"! {page.note}"] if page.note else []


def _speed(number: Spreading | None) -> str:
    if number is None:
        return ""
    return f"{number.value:.1f}" + ("" if number.spread is None else f" +- {number.spread:.1f}")
