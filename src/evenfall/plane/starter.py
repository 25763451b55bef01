"""The files `evenfall new` writes: demo planes, plane and radio file to fill in, two invented programmes."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path

from evenfall.errors import EditedFileError, InputError
from evenfall.textfile import write_new

DEMOS = ("biplane_124", "biplane_155", "foam_biplane_085", "monoplane_160")
"""Names of the invented demo planes that ship with the package."""


def demo_path(name: str) -> Path:
    """Path of a demo plane file; raises `InputError` that lists the names."""
    if name not in DEMOS:
        raise InputError(f"no demo plane called {name!r}; there are {', '.join(DEMOS)}")
    return Path(str(files("evenfall") / "data" / "demo" / f"{name}.toml"))


PROGRAMMES = ("eight", "seventeen")
"""Names of the invented programmes of figures that ship with the package."""
SEQUENCE_ENDING = ".seq.toml"
"""How the name of a sequence file ends."""
OTHER_ENDINGS = (".flight.toml", SEQUENCE_ENDING, ".readings.toml")
"""Endings of TOML files beside planes and plans: flights, programmes and readings, which may name a battery or a speed
as a plane does."""


def programme_path(name: str) -> Path:
    """Path of a programme of figures; raises `InputError` that lists the names."""
    if name not in PROGRAMMES:
        raise InputError(f"no programme called {name!r}; there are {', '.join(PROGRAMMES)}")
    return Path(str(files("evenfall") / "data" / "sequence" / f"{name}{SEQUENCE_ENDING}"))


def template_text() -> str:
    """The commented plane file."""
    return (files("evenfall") / "data" / "template.toml").read_text(encoding="utf-8")


def radio_text() -> str:
    """The commented radio file."""
    return (files("evenfall") / "data" / "radio.toml").read_text(encoding="utf-8")


def write_starter(folder: str | os.PathLike[str]) -> tuple[tuple[Path, ...], tuple[Path, ...]]:
    """Write the templates and the demos; existing files are left alone. Returns what was written and what was kept."""
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{target}: cannot be made a folder: {error.strerror or error}") from None
    texts = {"my_plane.toml": template_text(), "my_radio.toml": radio_text()}
    texts.update({f"demo_{name}.toml": demo_path(name).read_text(encoding="utf-8") for name in DEMOS})
    texts.update({f"{name}.seq.toml": programme_path(name).read_text(encoding="utf-8") for name in PROGRAMMES})
    written, kept = [], []
    for name, text in texts.items():
        try:
            write_new(target / name, text)
            written.append(target / name)
        except EditedFileError:
            kept.append(target / name)
        except OSError as error:
            raise InputError(f"{target / name}: cannot be written: {error.strerror or error}") from None
    return tuple(written), tuple(kept)
