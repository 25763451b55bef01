"""The command `carry`: a plan taken to another plane, or a what-if on the same one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from evenfall.cli_shared import (
    EXIT_NO_PLAN,
    AirElevation,
    AirPressure,
    AirTemperature,
    JsonOption,
    PlaneArgument,
    air_of,
    progress,
    show,
)


def carry(
    plane: PlaneArgument,
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="Its plan file, proven.", show_default=False)],
    other: Annotated[Path, typer.Argument(metavar="TO", help="Plane file to carry it to.", show_default=False)],
    changes: Annotated[
        list[str] | None,
        typer.Option("--with", metavar="KEY=VALUE", help="What if: a key of TO changed, e.g. propeller.pitch_in=6."),
    ] = None,
    flights: Annotated[
        list[Path] | None,
        typer.Option("--flight", metavar="FILE", help="A flight of PLANE with PLAN to learn from; may be repeated."),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="NEW", help="Write TO's plan here (NAME.plan.toml).")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--as", metavar="NEW", help="Keep the what-if: TO with its changes as NEW.toml, the plan beside it."
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace an edited plan file; the edited one is kept as a numbered backup.")
    ] = False,
    json: JsonOption = False,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """The same behaviour on another plane, or on the same one with other parts: what comes along, what to fly first."""
    from evenfall.errors import InputError
    from evenfall.plane.plane_edit import edits_of
    from evenfall.radio.planfile import check_target, write_plan
    from evenfall.sheet.carry_page import carry_page
    from evenfall.sheet.carry_text import carry_parts
    from evenfall.workflow.carrying import carry as carry_plan
    from evenfall.workflow.carrying import changed_plane, check_ailerons, learned_from
    from evenfall.workflow.keeping import plan_beside, write_kept
    from evenfall.workflow.ready import plane_file

    if keep is not None and output is not None:
        raise InputError("--as writes a plane with its plan, -o a plan for TO as it is: give one of them")
    if keep is not None:
        plan_beside(keep)
    if output is not None:
        check_target(output, force=force)
    edits = edits_of(changes or [])
    air = air_of(elevation, temperature, pressure)
    with progress(quiet=json) as say:
        check_ailerons(plane_file(changed_plane(other, edits)))
        learned = learned_from(plane, plan, flights or [], air=air, progress=say)
        answer = carry_plan(plane, plan, other, learned=learned, changes=edits, air=air, progress=say)
    page = carry_page(answer)
    if output is not None and answer.plan is not None:
        backup = write_plan(answer.plan, output, force=force)
        kept = f" (the edited one is kept as {backup})" if backup is not None else ""
        typer.echo(f"Plan written to {output}{kept}.", err=True)
    if keep is not None and answer.plan is not None:
        name = f"{answer.tuned.ready.file.plane.name}, {keep.stem.replace('_', ' ')}"
        beside = write_kept(answer, keep, name=str(edits.get("name") or name))
        typer.echo(f"Plane written to {keep}, its plan to {beside}.", err=True)
    show(page, carry_parts(page), json=json)
    if answer.plan is None:
        raise typer.Exit(EXIT_NO_PLAN)
