"""The commands `learn` and `why`: what flights teach, and what may be behind what was seen."""

from __future__ import annotations

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
    write_json,
)


def learn(
    plane: Annotated[
        Path | None, typer.Argument(metavar="PLANE", help="The plane file (TOML).", show_default=False)
    ] = None,
    plan: Annotated[Path | None, typer.Argument(metavar="PLAN", help="The plan flown.", show_default=False)] = None,
    evidence: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="EVIDENCE...",
            help="Flight files (NAME.flight.toml), or a record or sound by itself (CSV, GPX, NMEA, WAV).",
            show_default=False,
        ),
    ] = None,
    template: Annotated[
        Path | None, typer.Option("--template", metavar="FILE", help="Write a commented flight file and stop.")
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = Units.metric,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """What flights teach: corrections, every piece of evidence against the others, what to change and fly next."""
    from evenfall.errors import InputError

    if template is not None:
        from evenfall.logs.evidence_file import write_template

        write_template(template)
        write_json({"written": str(template)}) if json else typer.echo(f"written  {template}")
        return
    if plane is None or plan is None or not evidence:
        raise InputError(
            "give a plane, the plan flown and what was seen: evenfall learn PLANE PLAN sunday.flight.toml; "
            "--template sunday.flight.toml writes a flight file to fill in"
        )
    from evenfall.sheet.learn_make import learn_page
    from evenfall.sheet.learn_text import learn_parts
    from evenfall.workflow.learning import learn as learn_from

    with progress(quiet=json) as say:
        answer = learn_from(plane, plan, evidence, air=air_of(elevation, temperature, pressure), progress=say)
    page = learn_page(answer)
    show(page, learn_parts(page, units.value), json=json)


def why(
    plane: Annotated[
        Path | None, typer.Argument(metavar="PLANE", help="The plane file (TOML).", show_default=False)
    ] = None,
    plan: Annotated[Path | None, typer.Argument(metavar="PLAN", help="The plan flown.", show_default=False)] = None,
    signs: Annotated[
        list[str] | None, typer.Argument(metavar="SIGN...", help="What was seen; see --list.", show_default=False)
    ] = None,
    absent: Annotated[
        list[str] | None, typer.Option("--not", metavar="SIGN", help="Looked for and not seen; may be repeated.")
    ] = None,
    flights: Annotated[
        list[Path] | None,
        typer.Option("--flight", metavar="FILE", help="A flight on which it was seen, as for learn; may be repeated."),
    ] = None,
    before: Annotated[
        list[Path] | None,
        typer.Option("--before", metavar="FILE", help="A flight with this plan when all was well; may be repeated."),
    ] = None,
    listed: Annotated[bool, typer.Option("--list", help="Print the signs in the pilot's words and stop.")] = False,
    json: JsonOption = False,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """From what you saw to what may be behind it, most likely first, each with the check that tells."""
    from evenfall.errors import InputError
    from evenfall.sheet.diagnose_make import all_signs, diagnose_page
    from evenfall.sheet.diagnose_text import diagnose_rows, sign_rows

    if listed:
        rows = all_signs()
        write_json([row.model_dump() for row in rows]) if json else typer.echo("\n".join(sign_rows(rows)))
        return
    if plane is None or plan is None or not (signs or absent or flights):
        raise InputError(
            "give a plane, its plan and what you saw: evenfall why PLANE PLAN faster; --list has the signs"
        )
    from evenfall.workflow.diagnosing import diagnose_flights

    with progress(quiet=json) as say:
        air = air_of(elevation, temperature, pressure)
        answer = diagnose_flights(
            plane,
            plan,
            signs or (),
            absent=absent or (),
            flights=flights or (),
            before=before or (),
            air=air,
            progress=say,
        )
    page = diagnose_page(answer)
    write_json(page.model_dump(mode="json")) if json else typer.echo("\n".join(diagnose_rows(page)))
