"""The command `evenfall fly`: a whole programme of figures with a plan, everything heavy imported inside."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Units(StrEnum):
    """Units of printed tables."""

    metric = "metric"
    imperial = "imperial"


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
    parts: Annotated[bool, typer.Option("--parts", help="Also every part of every figure.")] = False,
    charge: Annotated[
        float, typer.Option("--charge-percent", help="Charge of the battery at the start, percent.")
    ] = 100.0,
    json: Annotated[bool, typer.Option("--json", help="Unrounded JSON for programs instead of tables.")] = False,
    units: Annotated[Units, typer.Option("--units", help="Units of the printed tables.")] = Units.metric,
    elevation: Annotated[float, typer.Option("--elevation-m", help="Height of the field above sea level, m.")] = 0.0,
    temperature: Annotated[
        float | None, typer.Option("--temperature-c", help="Air temperature at the field, degrees Celsius.")
    ] = None,
    pressure: Annotated[
        float | None,
        typer.Option("--pressure-hpa", help="Pressure at the field itself (not reduced to sea level), hPa."),
    ] = None,
) -> None:
    """A whole programme flown: how even the speed is figure by figure and why not, box, energy, load."""
    from evenfall import cli
    from evenfall.sheet.fly_make import fly_compare_page, fly_page
    from evenfall.sheet.fly_text import fly_compare_parts, fly_parts
    from evenfall.workflow.flying import compare
    from evenfall.workflow.flying import fly as flown_with

    air = cli._air(elevation, temperature, pressure)
    with cli._progress(quiet=json) as say:
        first = flown_with(plane, plan, sequence, air=air, charge_left=charge / 100, progress=say)
        if against is not None:
            second = flown_with(first.ready, against, sequence, charge_left=charge / 100, progress=say)
    if against is not None:
        both = fly_compare_page(compare(first, second))
        cli._show(both, fly_compare_parts(both, units.value), json=json)
        return
    page = fly_page(first)
    cli._show(page, fly_parts(page, units.value, every_part=parts), json=json)
