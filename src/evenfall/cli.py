"""The `evenfall` command: one small function a job, everything heavy imported inside it.

Exit codes: 0 whenever an answer was written, 2 for bad input, 3 where no plan exists at all.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from evenfall.cli_carry import carry
from evenfall.cli_fly import fly
from evenfall.cli_learn import learn, why
from evenfall.cli_log import export_log, import_log, log_app
from evenfall.cli_shared import (
    EXIT_INPUT,
    EXIT_NO_PLAN,
    AirElevation,
    AirPressure,
    AirTemperature,
    JsonOption,
    Paper,
    PlaneArgument,
    Units,
    UnitsOption,
    air_of,
    progress,
    show,
    write_json,
)

USUAL_SPEED = 20.0
"""m/s, for the neutral point where no speed is given."""


app = typer.Typer(
    name="evenfall",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Braking set-ups for small electric aerobatic biplanes: every line at the same steady speed.",
)


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
    """Write the demo planes, a commented plane file to fill in and two invented programmes. Never overwrites."""
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
    from evenfall.aero.trim import static_margin
    from evenfall.errors import EvenfallError
    from evenfall.lines.throws import corner_reaches
    from evenfall.plane.files import load_plane
    from evenfall.sheet.check import check_document, check_text

    read = load_plane(plane)
    margin = static_margin(read.plane, speed=read.plane.wanted.speed or USUAL_SPEED)
    try:
        reaches = corner_reaches(read.plane)
    except EvenfallError as error:
        reaches = {}
        typer.echo(f"Linkage: {error}", err=True)
    if json:
        write_json(check_document(read, margin=margin, reaches=reaches))
    else:
        typer.echo(check_text(read, system=units.value, margin=margin, reaches=reaches), nl=False)


@app.command()
def trim(
    plane: PlaneArgument,
    plan: Annotated[Path | None, typer.Argument(metavar="[PLAN]", help="A plan file.", show_default=False)] = None,
    json: JsonOption = False,
    units: UnitsOption = Units.metric,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """Clean first: what each fault of rigging does to the lines without crow, the cure, and the order of trimming."""
    from evenfall import workflow
    from evenfall.sheet.rigging_page import rigging_page, rigging_parts

    with progress(quiet=json) as say:
        answer = workflow.clean(plane, plan, air=air_of(elevation, temperature, pressure), progress=say)
    page = rigging_page(answer)
    show(page, rigging_parts(page, units.value), json=json)


@app.command()
def predict(
    plane: PlaneArgument,
    plan: Annotated[Path | None, typer.Argument(metavar="[PLAN]", help="A plan file.", show_default=False)] = None,
    json: JsonOption = False,
    units: UnitsOption = Units.metric,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """Steady speed of every line, roll, straightness and holding stick: as the plane is now, or with a plan."""
    from evenfall import workflow
    from evenfall.sheet.make import predict_page
    from evenfall.sheet.text import predict_parts

    with progress(quiet=json) as say:
        answer = workflow.predict(plane, plan, air=air_of(elevation, temperature, pressure), progress=say)
    page = predict_page(answer)
    show(page, predict_parts(page, units.value), json=json)


@app.command()
def tune(
    plane: PlaneArgument,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="PLAN", help="Write the plan here (NAME.plan.toml).")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace an edited plan file; the edited one is kept as a numbered backup.")
    ] = False,
    radio: Annotated[
        Path | None, typer.Option("--radio", metavar="FILE", help="A radio file; else a usual radio is taken.")
    ] = None,
    over: Annotated[
        Path | None,
        typer.Option("--over", metavar="SEQUENCE", help="Tune for a whole programme (NAME.seq.toml); takes minutes."),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="SVG", help="With --over: draw evenness against energy here.")
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = Units.metric,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """Which motor-brake level and how much crow give the wanted speed, and why the other levels are worse."""
    from evenfall import workflow
    from evenfall.radio.planfile import check_target, write_plan
    from evenfall.sheet.make import tune_page
    from evenfall.sheet.text import tune_parts

    if output is not None:
        check_target(output, force=force)
    if over is not None:
        from evenfall.cli_programme import tune_over

        tune_over(
            plane, over, output=output, force=force, picture=picture, json=json,
            air=air_of(elevation, temperature, pressure),
        )  # fmt: skip
        return
    with progress(quiet=json) as say:
        answer = workflow.tune(plane, radio=radio, air=air_of(elevation, temperature, pressure), progress=say)
    page = tune_page(answer)
    if output is not None and answer.plan is not None:
        backup = write_plan(answer.plan, output, force=force)
        kept = f" (the edited one is kept as {backup})" if backup is not None else ""
        typer.echo(f"Plan written to {output}{kept}.", err=True)
    show(page, tune_parts(page, units.value), json=json)
    if answer.plan is None:
        raise typer.Exit(EXIT_NO_PLAN)


@app.command(name="map")
def draw_map(
    plane: PlaneArgument,
    plan: Annotated[
        Path | None, typer.Argument(metavar="[PLAN]", help="A plan file to mark; else the best.", show_default=False)
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="SVG", help="Draw the map here (map.svg).")
    ] = None,
    arrangement: Annotated[
        str | None, typer.Option("--arrangement", help="up/down, down/up, both up or both down; else the plan's.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Draw over an existing map.")] = False,
    json: JsonOption = False,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """Down speed over crow and motor brake as a picture, with the settings that have two propeller speeds."""
    from evenfall import workflow
    from evenfall.errors import InputError
    from evenfall.sheet.map_page import map_page, map_words
    from evenfall.sheet.speed_map import speed_map_svg
    from evenfall.sheet.svg import check_picture, write_picture

    if output is None and not json:
        raise InputError("say where to draw the map: -o map.svg (or --json for its numbers)")
    if output is not None:
        check_picture(output, force=force)
    air = air_of(elevation, temperature, pressure)
    with progress(quiet=json) as say:
        page = map_page(workflow.speed_map(plane, plan, arrangement=arrangement, air=air, progress=say))
    show(page, list(map_words(page)), json=json)
    if output is not None:
        write_picture(output, speed_map_svg(page), force=force)
        typer.echo(f"Map drawn to {output}.", err=True)


@app.command()
def rig(
    plane: PlaneArgument,
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file.", show_default=False)],
    radio: Annotated[
        Path | None, typer.Option("--radio", metavar="FILE", help="A radio file; else a usual radio is taken.")
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = Units.metric,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """How every aileron is fitted and set: travel left, servo load, the radio's shares, phases, failsafe."""
    from evenfall import workflow
    from evenfall.sheet.rig_page import rig_page
    from evenfall.sheet.rig_text import rig_parts

    with progress(quiet=json) as say:
        answer = workflow.rig(plane, plan, radio=radio, air=air_of(elevation, temperature, pressure), progress=say)
    page = rig_page(answer)
    show(page, rig_parts(page, units.value), json=json)


@app.command()
def bench(
    plane: PlaneArgument,
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file.", show_default=False)],
    measured: Annotated[
        Path | None, typer.Option("--measured", metavar="FILE", help="Judge the angles in this file (TOML or CSV).")
    ] = None,
    write_form: Annotated[
        Path | None, typer.Option("--write-form", metavar="FILE", help="Write an empty form (.csv or .toml).")
    ] = None,
    typed: Annotated[
        bool, typer.Option("--type", help="Ask for the angles one at a time; each goes to the --measured file at once.")
    ] = False,
    radio: Annotated[
        Path | None, typer.Option("--radio", metavar="FILE", help="A radio file: adds the pulse each servo gets.")
    ] = None,
    json: JsonOption = False,
) -> None:
    """What every aileron must show on the bench, stick by stick; judges the angles you measured."""
    from evenfall import workflow
    from evenfall.errors import InputError
    from evenfall.sheet.bench_page import bench_page
    from evenfall.sheet.bench_text import bench_parts

    if typed and (measured is None or json):
        raise InputError("--type needs a file for the angles and a terminal: --measured my_bench.csv --type, no --json")
    if write_form is not None and measured is not None:
        raise InputError("--write-form begins a form and --measured reads one back: use one of them")
    if write_form is not None:
        _write_form(plane, plan, write_form, json=json)
        return
    if typed and measured is not None and not _type_readings(plane, plan, measured):
        return
    with progress(quiet=json) as say:
        answer = workflow.bench(plane, plan, measured=measured, radio=radio, progress=say)
    page = bench_page(
        answer.bench, plan_name=answer.plan_name, proof=answer.proof, radio=answer.radio, notes=answer.notes
    )
    show(page, bench_parts(page, pulses=radio is not None), json=json)


@app.command()
def sheet(
    plane: PlaneArgument,
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file.", show_default=False)],
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FILE", help="Write it here: .pdf to print, .html for a phone."),
    ] = None,
    paper: Annotated[Paper, typer.Option("--paper", help="Paper of the PDF.")] = Paper.a4,
    radio: Annotated[
        Path | None, typer.Option("--radio", metavar="FILE", help="A radio file; else a usual radio is taken.")
    ] = None,
    programme: Annotated[
        Path | None,
        typer.Option("--programme", metavar="SEQUENCE", help="A further page: this sequence file flown in calm."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing sheet.")] = False,
    json: JsonOption = False,
    elevation: AirElevation = 0.0,
    temperature: AirTemperature = None,
    pressure: AirPressure = None,
) -> None:
    """The sheet to take along: one page for the bench, one for the field with the first flights in their order."""
    from evenfall.errors import InputError
    from evenfall.sheet.sheet_file import check_sheet, write_sheet
    from evenfall.sheet.sheet_page import make_sheet

    if output is None and not json:
        raise InputError("say where to write the sheet: -o sheet.pdf to print, -o sheet.html for a phone")
    if output is not None:
        check_sheet(output, force=force)
    with progress(quiet=json) as say:
        air = air_of(elevation, temperature, pressure)
        page = make_sheet(plane, plan, radio=radio, air=air, programme=programme, progress=say)
    if json:
        write_json(page.model_dump(mode="json"))
    if output is not None:
        write_sheet(page, output, paper=paper.value, force=force)
        typer.echo(f"Sheet written to {output}.", err=True)


app.command()(fly)
app.command()(learn)
app.command()(why)
app.command()(carry)
app.add_typer(log_app, name="log")
app.command(name="export")(export_log)
app.command(name="import")(import_log)


@app.command(name="app")
def run_app(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="[FOLDER]", help="Folder of your planes; else planes here.", show_default=False),
    ] = None,
    plane: Annotated[
        Path | None, typer.Option("--plane", metavar="FILE", help="Plane file of the folder to open.")
    ] = None,
    port: Annotated[
        int | None, typer.Option("--port", min=0, max=65535, help="Port; 0 is any free one, else the first from 8750.")
    ] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Open no browser.")] = False,
    share: Annotated[
        bool, typer.Option("--share", help="Let others on the local network read and fill in the bench form.")
    ] = False,
    linger: Annotated[
        float | None,
        typer.Option("--linger-s", min=0, help="End by itself so many seconds after the last page has left."),
    ] = None,
    short_plan: Annotated[bool, typer.Option("--short-plan", help="Print the plane's plan in a few lines.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Say in JSON where the page is.")] = False,
) -> None:
    """The page on this machine: see the plane, move it, tune it, print its sheet. Ctrl-C ends it."""
    from evenfall.app.run import Options, serve

    beside = plane.parent if plane is not None and plane.parent != Path() else None
    serve(
        Options(
            folder=folder or beside or Path("planes"),
            plane=None if plane is None else plane.name,
            port=port,
            browser=not no_browser,
            share=share,
            linger_s=linger,
            as_json=json,
            short_plan=short_plan,
        )
    )


def _write_form(plane: Path, plan: Path, form: Path, *, json: bool) -> None:
    """Write the empty form of a plan, and say what to do with it."""
    from evenfall import workflow

    written = workflow.bench_form(plane, plan, form)
    if json:
        write_json({"written": str(form), "positions": written})
        return
    typer.echo(f"written  {form} ({written} positions, each pressed up and pressed down)")
    typer.echo(f"Next: fill it in, then evenfall bench {plane} {plan} --measured {form}")


def _type_readings(plane: Path, plan: Path, measured: Path) -> bool:
    """Ask for the angles that are not in the file yet; False where it still holds none."""
    from evenfall import workflow
    from evenfall.sheet.bench_ask import ask_readings

    wanted, known = workflow.bench_known(plane, plan, measured)
    return ask_readings(wanted, measured, known, ask=input, say=typer.echo) + len(known) > 0


def main() -> None:
    """Run the command; what goes wrong with the input is one plain text on standard error and exit code 2."""
    from evenfall.errors import EvenfallError

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app(prog_name="evenfall")
    except EvenfallError as error:
        print(str(error), file=sys.stderr)
        sys.exit(EXIT_INPUT)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
