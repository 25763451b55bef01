"""Measured angles kept beside a plan: one row for each position of the sticks, in the columns of `logs.readings`."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

from evenfall.errors import InputError
from evenfall.logs.readings import COLUMNS, SURFACES
from evenfall.textfile import toml_number

_SAME_PERCENT = 0.05
"""Sticks nearer than this are one position."""


def with_reading(
    text: str | None,
    angles_deg: Mapping[str, float | None],
    *,
    phase: str,
    throttle_percent: float,
    aileron_percent: float,
    first_phase: str,
) -> str | None:
    """The file with the angles of one position; rows that say which way the edge was pressed are a person's and stay.

    Args:
        text: the file, readable without faults; None where there is none yet.
        angles_deg: surface to degrees, trailing edge down positive; None takes a reading away.
        first_phase: the one meant where a row names none.

    Returns None where nothing is left in the file.

    >>> print(with_reading(None, {"upper_left": -14.5}, phase="normal", throttle_percent=0, aileron_percent=0,
    ...       first_phase="normal").splitlines()[1])
    normal;0;0;;;-14.5;;;;;
    """
    rows = (text or ";".join(COLUMNS)).removeprefix("\ufeff").replace("\r\n", "\n").rstrip("\n").split("\n")
    begins = [place for place, row in enumerate(rows) if _is_row(row)]
    mark = max(";\t,", key=rows[begins[0]].count)
    columns = [cell.lower() for cell in _cells(rows[begins[0]], mark)]
    _check(columns, angles_deg, phase, first_phase)
    same = None
    for place in begins[1:]:
        cells = dict(zip(columns, _cells(rows[place], mark), strict=False))
        if cells.get("pressed") or cells.get("moving"):
            continue
        named = (cells.get("phase") or first_phase).casefold()
        if named == phase.casefold() and _at(cells, throttle_percent, aileron_percent):
            same = place
    cells = dict(zip(columns, _cells(rows[same], mark), strict=False)) if same is not None else {}
    cells |= {"throttle_percent": toml_number(throttle_percent, 2), "aileron_percent": toml_number(aileron_percent, 2)}
    if "phase" in columns:
        cells["phase"] = phase
    cells |= {f"{surface}_deg": "" if angle is None else toml_number(angle, 2) for surface, angle in angles_deg.items()}
    filled = any(cells.get(f"{surface}_deg") for surface in SURFACES) or bool(cells.get("note"))
    new = [_row(cells, columns, mark)] if filled else []
    if same is not None:
        rows[same : same + 1] = new
    else:
        rows += new
    if text is None and not new:
        return None
    return "\n".join(rows) + "\n"


def _check(columns: Sequence[str], angles: Mapping[str, float | None], phase: str, first_phase: str) -> None:
    for surface in angles:
        if surface not in SURFACES:
            raise InputError(f"{surface!a} is no surface that is measured; there are {', '.join(SURFACES)}")
    lacking = [f"{surface}_deg" for surface, angle in angles.items() if angle is not None]
    lacking = [name for name in lacking if name not in columns]
    if "phase" not in columns and phase.casefold() != first_phase.casefold():
        lacking.append("phase")
    if lacking:
        raise InputError(f"the file of readings has no column {', '.join(lacking)}; add it to its header")


def _is_row(row: str) -> bool:
    return bool(row.strip(" \t;,")) and not row.lstrip(" \t\"'").startswith("#")


def _cells(row: str, mark: str) -> list[str]:
    return [cell.strip() for cell in next(csv.reader(io.StringIO(row), delimiter=mark), [])]


def _row(cells: Mapping[str, str], columns: Sequence[str], mark: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=mark, lineterminator="").writerow([cells.get(name, "") for name in columns])
    return out.getvalue()


def _at(cells: Mapping[str, str], throttle: float, aileron: float) -> bool:
    try:
        stood = [float(cells.get(f"{stick}_percent", "").replace(",", ".")) for stick in ("throttle", "aileron")]
    except ValueError:
        return False
    return abs(stood[0] - throttle) < _SAME_PERCENT and abs(stood[1] - aileron) < _SAME_PERCENT
