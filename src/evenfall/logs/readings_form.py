"""A file of readings being filled in: the empty form, and one reading added at a time."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenfall.errors import InputError
from evenfall.logs.readings import FORMAT, PRESSED, STICKS, SURFACES, column_mark, row_cells, table_rows
from evenfall.textfile import toml_number, toml_string, write_new

_HOW = (
    "Bench readings. PROPELLER OFF, motor wires off the controller.",
    "Sticks as stated in each row. Zero the angle gauge on the surface at its neutral, flush with the wing.",
    "Degrees, trailing edge down +, up -. Left and right as seen by a person standing behind the plane.",
    "Each position twice: trailing edge pressed lightly up, then lightly down: that shows the play.",
    "Fewer rows are fine: leave empty what you skip.",
)


@dataclass(frozen=True, kw_only=True)
class FormRow:
    """One position to measure: phase, sticks (throttle 0-1, aileron -1 to 1) and what it is in words."""

    phase: str
    throttle: float
    aileron: float
    words: str


def write_form(
    path: str | os.PathLike[str], rows: Sequence[FormRow], *, corners: Sequence[str], plane: str, elevator: bool
) -> None:
    """Write an empty form (.toml, else CSV with semicolons, .tsv with tabs); raises where the file exists.

    Args:
        rows: positions in the order of measuring. corners: ailerons there are. elevator: a column for it.
    """
    name = os.fspath(path)
    surfaces = [*corners, *(["elevator"] if elevator else [])]
    text = _toml_form(rows, surfaces, plane) if name.lower().endswith(".toml") else _csv_form(name, rows, surfaces)
    try:
        write_new(name, text)
    except (OSError, ValueError) as error:
        words = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(f"{name} cannot be written: {words}; choose another place") from None


def _csv_form(path: str, rows: Sequence[FormRow], surfaces: Sequence[str]) -> str:
    mark = "\t" if path.lower().endswith((".tsv", ".tab")) else ";"
    columns = ["phase", *STICKS, "pressed", *(f"{surface}_deg" for surface in surfaces), "note"]
    lines = [f"# {row}" for row in _HOW] + [mark.join(columns)]
    for row in rows:
        for pressed in PRESSED:
            cells = [row.phase, toml_number(100 * row.throttle, 2), toml_number(100 * row.aileron, 2), pressed]
            lines.append(mark.join([*map(_quoted, cells), *([""] * len(surfaces)), _quoted(row.words)]))
    return "\n".join(lines) + "\n"


def _toml_form(rows: Sequence[FormRow], surfaces: Sequence[str], plane: str) -> str:
    lines = [f"# {row}" for row in _HOW]
    lines += [
        "# Take away the # before an angle when you write it.",
        f"format = {FORMAT}",
        f"plane = {toml_string(plane)}",
    ]
    for row in rows:
        for pressed in PRESSED:
            lines += ["", f"[[reading]]  # {row.words}, pressed {pressed}", *_toml_sticks(row, pressed)]
            lines += [f"# {surface}_deg = " for surface in surfaces]
    return "\n".join(lines) + "\n"


def _toml_sticks(row: FormRow, pressed: str) -> list[str]:
    rows = [
        f"phase = {toml_string(row.phase)}",
        f"throttle_percent = {toml_number(100 * row.throttle, 2)}",
        f"aileron_percent = {toml_number(100 * row.aileron, 2)}",
    ]
    return [*rows, f'pressed = "{pressed}"'] if pressed else rows


def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if re.search(r"[;,\t\"#]", cell) else cell


def append_reading(path: str | os.PathLike[str], row: FormRow, *, surface: str, pressed: str, angle_deg: float) -> int:
    """Add one reading at the end of a file and put it on the disk at once; nothing that stands there changes.

    Args:
        pressed: "up", "down" or empty. angle_deg: degrees, trailing edge down positive.

    Returns the length of the file before, for `take_back`. A missing file is begun.
    """
    target = Path(path)
    try:
        before = target.read_bytes() if target.exists() else b""
    except OSError as error:
        raise InputError(f"{target} cannot be read: {error.strerror or error}") from None
    is_toml = target.suffix.lower() == ".toml"
    lead = "" if not before or before.endswith((b"\n", b"\r")) else "\n"
    if is_toml:
        lead += "" if before.strip() else f"format = {FORMAT}\n"
        rows = [
            "",
            f"[[reading]]  # {row.words}",
            *_toml_sticks(row, pressed),
            f"{surface}_deg = {toml_number(angle_deg, 2)}",
        ]
        text = lead + "\n".join(rows) + "\n"
    else:
        text = lead + _csv_line(target, before, row, surface=surface, pressed=pressed, angle_deg=angle_deg)
    _append(target, text)
    return len(before)


def _csv_line(target: Path, before: bytes, row: FormRow, *, surface: str, pressed: str, angle_deg: float) -> str:
    content = before.decode("utf-8-sig", errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    rows = [text for _, text in table_rows(content)]
    start = ""
    if rows:
        mark = column_mark(rows[0])
        columns = [cell.lower() for cell in row_cells(rows[0], mark) or []]
    else:
        mark = "\t" if target.suffix.lower() in (".tsv", ".tab") else ";"
        columns = ["phase", *STICKS, "pressed", *(f"{name}_deg" for name in SURFACES), "note"]
        start = mark.join(columns) + "\n"
    values: dict[str, Any] = {
        "phase": row.phase,
        "throttle_percent": toml_number(100 * row.throttle, 2),
        "aileron_percent": toml_number(100 * row.aileron, 2),
        "pressed": pressed,
        f"{surface}_deg": toml_number(angle_deg, 2),
        "note": row.words,
    }
    absent = [name for name, value in values.items() if value and name != "note" and name not in columns]
    if absent:
        raise InputError(f"{target} has no column {', '.join(absent)}; add it to the header, or use a new file")
    return start + mark.join(_quoted(values.get(name, "")) for name in columns) + "\n"


def _append(target: Path, text: str) -> None:
    try:
        with open(target, "ab") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        raise InputError(f"{target} cannot be written: {error.strerror or error}; choose another place") from None


def take_back(path: str | os.PathLike[str], length: int) -> None:
    """Cut a file back to the length `append_reading` returned: the reading typed last is gone."""
    with open(path, "r+b") as stream:
        stream.truncate(length)
        stream.flush()
        os.fsync(stream.fileno())
