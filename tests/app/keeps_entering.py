"""A process that sends files in and enters flights until it is killed: says every flight that was answered, one a line.

python keeps_entering.py FOLDER FIRST
"""

from __future__ import annotations

import sys

from evenfall.app.engine import Engine
from evenfall.app.messages import FlightSave
from evenfall.app.workspace import Workspace
from evenfall.sheet.flight_form import FlightForm


def body(number: int) -> bytes:
    """The record of a flight, another one for every number."""
    rows = "\n".join(f"{k / 10},{200 - 2 * k},{number}" for k in range(40))
    return f"time (s),height (m),x\n{rows}\n".encode()


def save(engine: Engine, number: int) -> str:
    """Send a file in and enter the flight that names it, or do it again."""
    arriving = engine.flights.incoming.begin()
    arriving.write(body(number))
    came = engine.flights.incoming.keep(arriving, name=f"log {number}.csv")
    form = FlightForm.model_validate(
        {"date": "2026-05-17", "notes": f"flight {number}", "recorded": [{"file": came.name}]}
    )
    action = FlightSave(what="flight.save", plane="plane.toml", form=form)
    return engine.flights.act(action, token=f"flight-{number:06d}", role="owner").file


def main() -> None:
    folder, first = sys.argv[1], int(sys.argv[2])
    engine = Engine(Workspace(folder))
    save(engine, first)
    print("ready", flush=True)
    for number in range(first + 1, first + 10_000):
        save(engine, number)
        print(number, flush=True)


if __name__ == "__main__":
    main()
