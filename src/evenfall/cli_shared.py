"""What every command shares: options, the air they name, progress, and how an answer is shown."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from pydantic import BaseModel

    from evenfall.air import Air

EXIT_INPUT = 2
EXIT_NO_PLAN = 3


class Units(StrEnum):
    """Units of printed tables. JSON is always in the units its keys name."""

    metric = "metric"
    imperial = "imperial"


class Paper(StrEnum):
    """Papers of the printed sheet."""

    a4 = "a4"
    letter = "letter"


PlaneArgument = Annotated[Path, typer.Argument(metavar="PLANE", help="The plane file (TOML).", show_default=False)]
JsonOption = Annotated[bool, typer.Option("--json", help="Unrounded JSON for programs instead of tables.")]
UnitsOption = Annotated[Units, typer.Option("--units", help="Units of the printed tables.")]
AirElevation = Annotated[float, typer.Option("--elevation-m", help="Height of the field above sea level, m.")]
AirTemperature = Annotated[
    float | None, typer.Option("--temperature-c", help="Air temperature at the field, degrees Celsius.")
]
AirPressure = Annotated[
    float | None, typer.Option("--pressure-hpa", help="Pressure at the field itself (not reduced to sea level), hPa.")
]


def air_of(elevation: float, temperature_c: float | None, pressure_hpa: float | None) -> Air:
    """The air of the options, checked."""
    from evenfall.air import standard_air
    from evenfall.errors import InputError

    faults = []
    if not -500 <= elevation <= 6000:
        faults.append(f"--elevation-m is {elevation:g}; allowed is -500 to 6000")
    if temperature_c is not None and not -40 <= temperature_c <= 60:
        faults.append(f"--temperature-c is {temperature_c:g}; allowed is -40 to 60")
    if pressure_hpa is not None and not 400 <= pressure_hpa <= 1100:
        faults.append(f"--pressure-hpa is {pressure_hpa:g}; allowed is 400 to 1100")
    if faults:
        raise InputError("\n".join(faults))
    return standard_air(
        elevation,
        temperature=None if temperature_c is None else temperature_c + 273.15,
        pressure=None if pressure_hpa is None else pressure_hpa * 100,
    )


@contextmanager
def progress(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """Shows on standard error what is being computed, on a terminal only, and wipes it at the end."""
    if quiet or not sys.stderr.isatty():
        yield lambda words: None
        return
    from rich.console import Console

    with Console(stderr=True).status("reading") as status:
        yield lambda words: status.update(words)


def show(page: BaseModel, parts: list[Any], *, json: bool) -> None:
    """Print a page as JSON or as text and tables."""
    if json:
        write_json(page.model_dump(mode="json"))
        return
    from evenfall.sheet.text import console, fitted

    screen = console(None if sys.stdout.isatty() else 140)
    narrow = screen.width < 140
    for part in parts:
        for piece in fitted(part, screen) if narrow else [part]:
            screen.print(piece)


def write_json(document: Any) -> None:
    """Print a document as JSON, unrounded, NaN refused."""
    import json

    typer.echo(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))
