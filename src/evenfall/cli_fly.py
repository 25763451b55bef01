"""The command `evenfall fly`: a whole programme of figures with a plan, everything heavy imported inside."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from evenfall.cli_shared import (
    AirElevation,
    AirPressure,
    AirTemperature,
    JsonOption,
    Units,
    UnitsOption,
    air_of,
    progress,
    show,
)


def fly(
    plane: Annotated[Path, typer.Argument(metavar="PLANE", help="The plane file (TOML).", show_default=False)],
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file.", show_default=False)],
    sequence: Annotated[
        Path, typer.Argument(metavar="SEQUENCE", help="The sequence file (NAME.seq.toml).", show_default=False)
    ],
    against: Annotated[
        Path | None,
        typer.Option("--against", metavar="PLAN", help="Another plan to fly the same with, for comparison."),
    ] = None,
    changes: Annotated[
        list[str] | None,
        typer.Option(
            "--with", metavar="KEY=VALUE", help="Fly it with a key of PLANE changed too, e.g. propeller.pitch_in=6."
        ),
    ] = None,
    parts: Annotated[bool, typer.Option("--parts", help="Also every part of every figure.")] = False,
    charge: Annotated[
        float, typer.Option("--charge-percent", help="Charge of the battery at the start, percent.")
    ] = 100.0,
    wind: Annotated[
        float, typer.Option("--wind-m-s", min=0, max=20, help="Mean wind at 6 m above the ground, with its gusts.")
    ] = 0.0,
    towards: Annotated[
        float,
        typer.Option("--wind-towards-deg", help="Where it blows: 0 to the right along the flight line, 90 away."),
    ] = 0.0,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Which gusts; the same number gives the same.")] = 1,
    json: JsonOption = False,
    units: UnitsOption = Units.metric,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """A whole programme flown: how even the speed is figure by figure and why not, box, energy, load."""
    from evenfall.errors import InputError
    from evenfall.plane.files import PlaneFile, parse_plane
    from evenfall.plane.plane_edit import edited_text, edits_of
    from evenfall.sheet.fly_make import fly_compare_page, fly_page
    from evenfall.sheet.fly_text import fly_compare_parts, fly_parts
    from evenfall.sheet.wind_words import wind_words
    from evenfall.wind import WindDay
    from evenfall.workflow.flying import compare, day_of
    from evenfall.workflow.flying import fly as flown_with
    from evenfall.workflow.ready import Ready
    from evenfall.workflow.spinning import spin_of

    edits = edits_of(changes or [])
    air = air_of(elevation, temperature, pressure)
    day = WindDay(speed=wind, towards=math.radians(towards))
    with progress(quiet=json) as say:
        blowing = day_of(day, plane, seed=seed)
        first = flown_with(plane, plan, sequence, air=air, wind=blowing, charge_left=charge / 100, progress=say)
        if against is not None or edits:
            other: Ready | PlaneFile = first.ready
            if edits:
                other = parse_plane(edited_text(first.ready.file.text, edits), path=str(plane))
                idle = [key for key in edits if re.match(r"propeller\.(pitch|shape|chord_75)", key)]
                if idle and other.plane.propeller.stations:
                    raise InputError(
                        f"{idle[0]} changes nothing: this propeller's blade is given by its measured stations. Give "
                        "another plane file with the other blade's stations, or without them"
                    )
            second = flown_with(
                other, against or plan, sequence, air=air, wind=blowing, charge_left=charge / 100, progress=say
            )
            name = " with ".join([second.plan_name, ", ".join(changes or [])] if changes else [second.plan_name])
            second = replace(second, plan_name=name)
    if against is not None or edits:
        both = fly_compare_page(compare(first, second), winds=(wind_words(day), wind_words(day)))
        show(both, fly_compare_parts(both, units.value), json=json)
        return
    page = fly_page(first, wind=wind_words(day), spin=spin_of(first))
    show(page, fly_parts(page, units.value, every_part=parts), json=json)
