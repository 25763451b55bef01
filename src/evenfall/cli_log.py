"""The commands of the logbook: `evenfall log ...`, `export` and `import`, everything heavy imported inside.

The logbook lies in the folder of the plane file, in `logbook`.
"""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenfall.cli_shared import air_of, progress, show, write_json

if TYPE_CHECKING:
    from evenfall.record.logbook import Logbook

log_app = typer.Typer(
    name="log",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    help="The logbook beside the plane file: flights, changes, parts, the season, the card for a contest.",
)

PlaneArgument = Annotated[Path, typer.Argument(metavar="PLANE", help="The plane file (TOML).", show_default=False)]
PlanArgument = Annotated[Path, typer.Argument(metavar="PLAN", help="The plan file.", show_default=False)]
FlightArgument = Annotated[
    str, typer.Argument(metavar="FLIGHT", help="The flight's first letters in the list.", show_default=False)
]
JsonOption = Annotated[bool, typer.Option("--json", help="Unrounded JSON for programs instead of tables.")]
DateOption = Annotated[
    str | None, typer.Option("--date", metavar="DAY", help="Day, as 2026-05-17; else today.", show_default=False)
]


@log_app.command()
def add(
    plane: PlaneArgument,
    plan: PlanArgument,
    flights: Annotated[
        list[Path],
        typer.Argument(
            metavar="FLIGHT...",
            help="Flight files, or recorded flights by themselves (CSV, GPX, NMEA).",
            show_default=False,
        ),
    ],
    json: JsonOption = False,
) -> None:
    """Enter flights, with the files they name. A flight file entered before becomes its next revision."""
    from evenfall.workflow.recording import add_flights

    entered = add_flights(plane.parent, plane, plan, flights)
    if json:
        write_json([{"flight": one.row.token, "revision": one.row.revision, "new": one.new} for one in entered])
        return
    for one in entered:
        row = one.row
        said = ("entered" if row.revision == 1 else f"revision {row.revision}") if one.new else "there already"
        typer.echo(f"{said}  {row.token[:8]}  {row.date[:10]}  {row.name}, pieces of evidence: {row.pieces}")


@log_app.command(name="list")
def list_flights(
    plane: PlaneArgument,
    removed: Annotated[bool, typer.Option("--removed", help="Also those that were taken out.")] = False,
    json: JsonOption = False,
) -> None:
    """The flights of a plane, newest first."""
    from evenfall.plane.files import load_plane
    from evenfall.sheet.record_make import season_page
    from evenfall.sheet.record_text import list_parts
    from evenfall.workflow.recording import season

    file = load_plane(plane)
    with _book(plane) as book:
        page = season_page(season(book, file), file)
    if not removed:
        page = page.model_copy(update={"flights": tuple(row for row in page.flights if not row.removed)})
    show(page, list_parts(page), json=json)


@log_app.command(name="show")
def show_flight(plane: PlaneArgument, flight: FlightArgument, json: JsonOption = False) -> None:
    """One flight: what was seen, the files it came from, its revisions, its text."""
    from evenfall.sheet.record_make import flight_entry
    from evenfall.sheet.record_text import flight_parts
    from evenfall.workflow.recording import flight_named, season_flight

    with _book(plane) as book:
        row = flight_named(book, flight)
        page = flight_entry(season_flight(book, row))
        history = [f"Revision {one.revision}, entered {one.at[:16]}" for one in book.history(row.token)]
    show(page, flight_parts(page, row.document, history), json=json)


@log_app.command()
def remove(
    plane: PlaneArgument,
    flight: FlightArgument,
    undo: Annotated[bool, typer.Option("--undo", help="Bring it back.")] = False,
) -> None:
    """Take a flight out, so that nothing is learned from it; --undo brings it back."""
    from evenfall.workflow.recording import flight_named

    with _book(plane) as book:
        row = flight_named(book, flight)
        if undo:
            book.restore_flight(row.token)
        else:
            book.remove_flight(row.token)
    typer.echo(f"{'brought back' if undo else 'taken out'}  {row.token[:8]}  {row.date[:10]}  {row.name}")


@log_app.command()
def learn(plane: PlaneArgument, plan: PlanArgument, json: JsonOption = False) -> None:
    """What all flights in the logbook teach, each with its own plan; kept in the logbook."""
    from evenfall.plane.files import load_plane
    from evenfall.radio.planfile import load_plan
    from evenfall.sheet.learn_make import learn_page
    from evenfall.sheet.learn_text import learn_parts
    from evenfall.textfile import read_toml
    from evenfall.workflow.relearning import keep_learned, learn_from_log

    file = load_plane(plane)
    load_plan(plan, file.plane)
    text = read_toml(plan, what="plan file").text
    with _book(plane) as book, progress(quiet=json) as say:
        found = learn_from_log(book, file, text, plan_name=plan.name, progress=say)
        keep_learned(book, found, plane_text=read_toml(plane).text, plan_text=text, plan_name=plan.name)
    page = learn_page(found.answer)
    page = page.model_copy(update={"notes": (*found.notes, *page.notes)})
    show(page, learn_parts(page, "metric"), json=json)


@log_app.command()
def season(plane: PlaneArgument, json: JsonOption = False) -> None:
    """What changed, why, what it did; the speed believed then; tests a replaced part voids."""
    from evenfall.plane.files import load_plane
    from evenfall.sheet.record_make import season_page
    from evenfall.sheet.record_text import season_parts
    from evenfall.workflow.recording import season as read_season

    file = load_plane(plane)
    with _book(plane) as book:
        page = season_page(read_season(book, file), file)
    show(page, season_parts(page), json=json)


@log_app.command()
def part(
    plane: PlaneArgument,
    what: Annotated[
        str | None,
        typer.Argument(metavar="[PART]", help="Which part was replaced; else they are listed.", show_default=False),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="What was done, in words.", show_default=False)] = "",
    done: Annotated[
        str | None,
        typer.Option("--done", metavar="TEST", help="This test was done again (its first words).", show_default=False),
    ] = None,
    undo: Annotated[bool, typer.Option("--undo", help="With --done: it was not done; it is to do again.")] = False,
    look: Annotated[bool, typer.Option("--show", help="Only say which tests it voids; enter nothing.")] = False,
    date: DateOption = None,
    json: JsonOption = False,
) -> None:
    """Enter a replaced part and say which tests it voids; --show says it before. --done: one of them was done again."""
    from evenfall.errors import InputError
    from evenfall.plane.files import load_plane
    from evenfall.sheet.record_make import part_kinds, season_page
    from evenfall.sheet.record_text import done_parts, kinds_parts, open_words, part_parts
    from evenfall.workflow.recording import enter_part, note_test, part_named
    from evenfall.workflow.recording import season as read_season

    if done is not None and what is None:
        raise InputError('--done needs the part: evenfall log part PLANE propeller --done "current"')
    if undo and done is None:
        raise InputError(
            '--undo takes back a test done again: evenfall log part PLANE propeller --done "current" --undo'
        )
    if look and (what is None or done is not None):
        raise InputError("--show needs the part and nothing else: evenfall log part PLANE propeller --show")
    file, entered = load_plane(plane), ""
    if look and what is not None:
        key, corner = part_named(file, what)
        shown = next(kind for kind in part_kinds(file) if kind.key in (key, f"{key}:{corner}"))
        show(shown, part_parts(shown), json=json)
        return
    with _book(plane, begin=what is not None) as book:
        if what is not None and done is not None:
            note_test(book, file, what, done, date=date, undo=undo)
        elif what is not None:
            entered = enter_part(book, file, what, note=note, date=date)
        page = season_page(read_season(book, file), file)
    if entered:
        row = next(row for row in page.parts if row.token == entered)
        show(row, part_parts(row), json=json)
    elif what is not None:
        show(page, done_parts(page.parts), json=json)
    else:
        show(page, [*kinds_parts(page.kinds), *open_words(page.parts)], json=json)


@log_app.command()
def change(
    plane: PlaneArgument,
    what: Annotated[str, typer.Argument(metavar="WHAT", help="What was changed, in words.", show_default=False)],
    why: Annotated[str, typer.Option("--why", help="Reason.", show_default=False)] = "",
    plan: Annotated[
        Path | None, typer.Option("--plan", metavar="PLAN", help="The plan after the change.", show_default=False)
    ] = None,
    check: Annotated[str, typer.Option("--check", help="What would confirm it.", show_default=False)] = "",
    date: DateOption = None,
) -> None:
    """Enter a change and why it was made."""
    from evenfall.plane.files import load_plane
    from evenfall.workflow.recording import enter_change

    file = load_plane(plane)
    with _book(plane, begin=True) as book:
        key = enter_change(book, file, what, why=why, plan=plan, check=check, date=date)
    typer.echo(f"entered  {key[:8]}  {what}")


@log_app.command()
def effect(
    plane: PlaneArgument,
    words: Annotated[str, typer.Argument(metavar="WORDS", help="What the last change did.", show_default=False)],
    date: DateOption = None,
) -> None:
    """Enter what the last change did."""
    from evenfall.plane.files import load_plane
    from evenfall.workflow.recording import enter_effect

    file = load_plane(plane)
    with _book(plane) as book:
        changed = enter_effect(book, file, words, date=date)
    typer.echo(f"entered  {changed.date[:10]}, {changed.what}: {words}")


@log_app.command()
def proven(
    plane: PlaneArgument,
    plan: PlanArgument,
    why: Annotated[str, typer.Option("--why", help="What proved it.", show_default=False)],
    date: DateOption = None,
) -> None:
    """Mark a plan as proven, and why."""
    from evenfall.plane.files import load_plane
    from evenfall.radio.planfile import load_plan
    from evenfall.workflow.recording import enter_proven

    file = load_plane(plane)
    load_plan(plan, file.plane)
    with _book(plane, begin=True) as book:
        key = enter_proven(book, file, plan, why=why, date=date)
    typer.echo(f"proven  {plan.name}  {key[:12]}")


@log_app.command()
def card(
    plane: PlaneArgument,
    plan: PlanArgument,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="HTML", help="Write it for a phone (card.html).")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing card.")] = False,
    elevation: Annotated[float, typer.Option("--elevation-m", help="Height of the field above sea level, m.")] = 0.0,
    temperature: Annotated[
        float | None, typer.Option("--temperature-c", help="Air temperature at the field, degrees Celsius.")
    ] = None,
    pressure: Annotated[float | None, typer.Option("--pressure-hpa", help="Pressure at the field itself, hPa.")] = None,
    json: JsonOption = False,
) -> None:
    """The card for a contest: half a minute of surfaces, today's air and what it does, change this or nothing."""
    from evenfall.plane.files import load_plane
    from evenfall.radio.planfile import load_plan
    from evenfall.sheet.card_html import check_card, write_card
    from evenfall.sheet.card_make import card_page
    from evenfall.sheet.record_text import card_parts
    from evenfall.textfile import read_toml
    from evenfall.workflow.contest import contest_card
    from evenfall.workflow.recording import has_logbook

    if output is not None:
        check_card(output, force=force)
    air = air_of(elevation, temperature, pressure)
    file = load_plane(plane)
    load_plan(plan, file.plane)
    text = read_toml(plan, what="plan file").text
    with progress(quiet=json) as say:
        if has_logbook(plane.parent):
            with _book(plane) as book:
                made = contest_card(file, text, plan_name=plan.name, book=book, air=air, progress=say)
        else:
            made = contest_card(file, text, plan_name=plan.name, air=air, progress=say)
    page = card_page(made)
    show(page, card_parts(page), json=json)
    if output is not None:
        write_card(page, output, force=force)
        typer.echo(f"Card written to {output}.", err=True)


class Originals(StrEnum):
    """Where kept files go on export."""

    inside = "inside"
    beside = "beside"
    none = "none"


FolderArgument = Annotated[
    Path, typer.Argument(metavar="FOLDER", help="Folder of the planes, or a plane file in it.", show_default=False)
]


def export_log(
    folder: FolderArgument,
    output: Annotated[
        Path, typer.Argument(metavar="FILE", help="Write it here: .json for everything, .csv for the flights.")
    ],
    kept: Annotated[
        Originals,
        typer.Option("--originals", help="Kept files go inside the JSON, into a folder beside it, or nowhere."),
    ] = Originals.inside,
    force: Annotated[bool, typer.Option("--force", help="Replace an existing file.")] = False,
) -> None:
    """Write the whole logbook as one JSON file, or its flights as CSV."""
    from evenfall.errors import EditedFileError, InputError
    from evenfall.record.exchange import write_csv, write_export
    from evenfall.record.exchange_csv import LACKS

    ending = output.suffix.lower()
    if ending not in (".json", ".csv"):
        raise InputError(f"{output} must end in .json (everything) or .csv (a row for every piece of evidence)")
    if output.exists() and not force:
        raise EditedFileError(f"{output} exists: left as it is. Choose another name, or use --force to replace it.")
    with _book(folder) as book:
        if ending == ".csv":
            write_csv(book, output)
        else:
            write_export(book, output, where=kept.value)
    typer.echo(f"written  {output}")
    if ending == ".csv":
        typer.echo(LACKS)


def import_log(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="What `export` wrote: .json or .csv.", show_default=False)
    ],
    folder: FolderArgument,
    json: JsonOption = False,
) -> None:
    """Take an exported logbook into the logbook of a folder. Twice is once; nothing is overwritten.

    CSV brings flights alone, also after a spreadsheet changed them. Their planes and plans must lie in FOLDER or be in
    its logbook; files the evidence came from are taken from beside the CSV. It holds no corrections, changes or parts.
    """
    from evenfall.record.exchange import take_in
    from evenfall.record.exchange_csv import LACKS
    from evenfall.workflow.csv_import import take_in_csv

    table = file.suffix.lower() == ".csv"
    with _book(folder, begin=True) as book:
        done = take_in_csv(book, folder if folder.is_dir() else folder.parent, file) if table else take_in(book, file)
    if json:
        write_json(
            {
                "entered": dict(done.entered),
                "already": done.already,
                "conflicts": list(done.conflicts),
                "missing": list(done.missing),
            }
        )
        return
    entered = ", ".join(f"{kind} {many}" for kind, many in done.entered.items()) or "nothing new"
    typer.echo(f"entered  {entered}; there already: {done.already}")
    for words in done.conflicts:
        typer.echo(f"! {words}")
    for name in done.missing:
        where = "put it beside the CSV and import again" if table else "the file was exported without it"
        typer.echo(f"! {name} did not come along: {where}")
    if table:
        typer.echo(LACKS)


def _book(plane: Path, *, begin: bool = False) -> Logbook:
    """The logbook of a folder or beside a plane file; merely looking begins none. What was put right is said."""
    from evenfall.errors import InputError
    from evenfall.record.logbook import Logbook
    from evenfall.workflow.recording import has_logbook

    if not plane.exists():
        raise InputError(f"there is no folder or plane file {plane}; check the name")
    folder = plane if plane.is_dir() else plane.parent
    if not begin and not has_logbook(folder):
        raise InputError(f"no logbook lies in {folder}; `evenfall log add PLANE PLAN FLIGHT...` begins one")
    book = Logbook(folder)
    if book.note:
        typer.echo(book.note, err=True)
    return book
