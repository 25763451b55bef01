"""The `evenfall` command: one small function a job, everything heavy imported inside it.

Exit codes: 0 whenever an answer was written, 2 for bad input, 3 where no plan exists at all.
"""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

EXIT_INPUT = 2
EXIT_NO_PLAN = 3


class Units(StrEnum):
    """Units of printed tables. JSON is always in the units its keys name."""

    metric = "metric"
    imperial = "imperial"


app = typer.Typer(
    name="evenfall",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Braking set-ups for small electric aerobatic biplanes: every line at the same steady speed.",
)

PlaneArgument = Annotated[Path, typer.Argument(metavar="PLANE", help="The plane file (TOML).", show_default=False)]
JsonOption = Annotated[bool, typer.Option("--json", help="Unrounded JSON for programs instead of tables.")]
UnitsOption = Annotated[Units, typer.Option("--units", help="Units of the printed tables.")]


def _version(asked: bool) -> None:
    if asked:
        from evenfall import __version__

        typer.echo(__version__)
        raise typer.Exit


@app.callback()
def _everything(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


@app.command()
def new(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder to write to; made if missing.", show_default=False)
    ],
    json: JsonOption = False,
) -> None:
    """Write the demo planes and a commented plane file to fill in. Never overwrites."""
    from evenfall.plane.starter import write_starter

    written, kept = write_starter(folder)
    if json:
        write_json({"written": [str(path) for path in written], "kept": [str(path) for path in kept]})
        return
    for path in written:
        typer.echo(f"written  {path}")
    for path in kept:
        typer.echo(f"kept     {path} (exists, left as it is)")
    typer.echo(f"Next: evenfall check {folder / 'my_plane.toml'}")


@app.command()
def check(plane: PlaneArgument, json: JsonOption = False, units: UnitsOption = Units.metric) -> None:
    """What was read from a plane file, what was guessed, and what measuring would buy."""
    from evenfall.plane.files import load_plane
    from evenfall.sheet.check import check_document, check_text

    read = load_plane(plane)
    if json:
        write_json(check_document(read))
    else:
        typer.echo(check_text(read, system=units.value), nl=False)


def write_json(document: Any) -> None:
    """Print a document as JSON, unrounded, NaN refused."""
    import json

    typer.echo(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))


def main() -> None:
    """Run the command; what goes wrong with the input is one plain text on standard error and exit code 2."""
    from evenfall.errors import EvenfallError

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app()
    except EvenfallError as error:
        print(str(error), file=sys.stderr)
        sys.exit(EXIT_INPUT)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
