"""The text of a demo plane, and short ways to change it and to read its faults."""

from __future__ import annotations

import math
import re

import pytest

from evenfall.errors import FileFaults
from evenfall.plane.files import parse_plane
from evenfall.plane.starter import demo_path

TEXT = demo_path("biplane_124").read_text(encoding="utf-8")
DEG = math.pi / 180


def table_edit(text: str, table: str, old: str, new: str) -> str:
    """Replace one line (by its key) in one table of a plane file; an empty `old` adds a line."""
    head, rows, done = "", [], False
    for row in text.split("\n"):
        if row.startswith("["):
            head = row.split("#")[0].strip().strip("[]")
        if old and head == table and not done and re.match(rf"{re.escape(old)}\s*=", row):
            done = True
            if new:
                rows.append(new)
            continue
        rows.append(row)
        if not old and head == table and not done and (row.startswith("[") or (not table and row.startswith("format"))):
            rows.append(new)
            done = True
    assert done, (table, old)
    return "\n".join(rows)


def faults(text: str) -> dict[str, str]:
    with pytest.raises(FileFaults) as caught:
        parse_plane(text)
    return {fault.where: fault.message for fault in caught.value.faults}
