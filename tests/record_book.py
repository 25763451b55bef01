"""A logbook with something of every kind in it, and all that can be read from it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from evenfall.record.logbook import Logbook
from evenfall.record.rows import ChangeRow, FlightRow, LearnedRow, PartRow

PLANE = 'name = "Demo"\nspeed_m_s = 22.0\n'
PLAN = "format = 1\n# übergang 45°\n"


def fill(book: Logbook, *, flights: int = 4) -> None:
    """Enter something of every kind."""
    plane = book.keep_text("plane", "Demo", PLANE)
    plan = book.keep_text("plan", "demo.plan.toml", PLAN)
    log = book.keep_original("log.csv", b"time,speed\n0,20\n1,21\n")
    video = book.keep_original("line.mp4", b"pictures")
    tokens = []
    for number in range(flights):
        row = FlightRow(
            token=f"flight-{number}",
            name=f"f{number}.flight.toml",
            date=f"2026-05-{number + 1:02d}",
            place="Süd, \u2028field",
            air={"temperature": 288.15 + number, "wind": 2.0},
            battery={"before": 12.6},
            notes="down line fast" * (1 + 300 * (number == 1)),
            document=f"format = 1\ndate = 2026-05-{number + 1:02d}\n" + "# more\n" * 80,
            plane=plane,
            plan=plan,
            originals=(log.hash, video.hash)[: number % 3],
            pieces=number,
        )
        tokens.append(book.save_flight(row))
    book.save_flight(replace(book.flight(tokens[0]), revision=2, notes="seen again"))
    book.remove_flight(tokens[-1])
    book.add_learned(
        LearnedRow(
            id="learned-1",
            date="2026-05-04",
            plane=plane,
            plan=plan,
            plane_name="Demo",
            names=("crow_drag", "thrust"),
            mean=(0.1, -0.02),
            covariance=((0.01, 0.001), (0.001, 0.002)),
            flights=tuple(tokens[:2]),
            speeds={"vertical down": (22.4, 0.6)},
        )
    )
    change = book.add_change(
        ChangeRow(
            id="change-1",
            date="2026-05-04",
            plane_name="Demo",
            what="one degree more crow",
            why="too fast",
            from_plan=plan,
            expected="0.4 m/s slower",
            check="time the vertical",
            numbers={"crow": 0.0175},
        )
    )
    book.note_effect(change, "0.5 m/s slower", date="2026-05-05")
    part = book.add_part(PartRow(id="part-1", date="2026-05-06", plane_name="Demo", part="propeller"))
    book.note_redone(part, "current at full throttle", date="2026-05-07")
    book.note_redone(part, "propeller nut after the first flight", date="2026-05-07")
    book.note_open(part, "propeller nut after the first flight", date="2026-05-08")
    book.mark_proven(plan, "three flights alike", date="2026-05-08")


def everything(book: Logbook) -> tuple[Any, ...]:
    """All that the logbook hands out."""
    flights = book.flights(removed=True)
    return (
        book.texts(),
        [replace(o, path=None) for o in book.originals()],
        flights,
        [book.history(row.token) for row in flights],
        book.flights("Demo"),
        book.learned_rows(),
        book.changes(),
        book.parts(),
        book.proven_rows(),
        book.entries(),
    )
