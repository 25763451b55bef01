"""Sequence files (NAME.seq.toml): read strictly, every fault at once.

Lengths in m and angles in deg, as their keys say. A figure is a list of parts; what a part is says its first key:
`line_deg`, `loop_deg`, `stall_turn`, `spin_turns` or `pause_m`.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable

from evenfall.lines.sequence import TOWARDS, Box, Figure, Line, Loop, Part, Roll, Sequence, Spin, StallTurn
from evenfall.textfile import TomlText, parse_toml, read_toml
from evenfall.toml_table import Faults, Table, shown

FORMAT = 1
MOST_FIGURES, MOST_PARTS, MOST_ROLLS = 60, 60, 12
LONGEST = 20_000.0
"""Longest programme, m of path."""
_KINDS = ("line_deg", "loop_deg", "stall_turn", "spin_turns", "pause_m")
_SIDES = ("right", "left")


def load_sequence(path: str | os.PathLike[str]) -> Sequence:
    """Read a sequence file; raises `FileFaults` with every fault."""
    return _read(read_toml(path, what="sequence file"))


def parse_sequence(text: str, *, path: str = "sequence") -> Sequence:
    """The same for a text in hand; `path` is used in messages only."""
    return _read(parse_toml(text, path=path, what="sequence file"))


def _read(source: TomlText) -> Sequence:
    faults = Faults(lines=source.lines)
    top = Table(source.data, "", faults)
    top.integer("format", FORMAT, FORMAT, required=True)
    name = top.text("name", required=True, longest=80)
    invented = top.boolean("invented")
    numbers = {
        "distance": top.number("distance_m", 10.0, 500.0),
        "height": top.number("entry_height_m", 1.0, 1000.0),
        "place": top.number("entry_place_m", -1000.0, 1000.0),
        "entry_speed": top.number("entry_speed_m_s", 3.0, 100.0),
    }
    direction = top.choice("direction", _SIDES)
    attitude = top.choice("attitude", ("upright", "inverted"))
    box = _box(top.table("box"))
    figures = _figures(top)
    top.finish()
    faults.raise_if_any(source.path)
    made = Sequence(
        name=name or "",
        figures=figures,
        way=-1 if direction == "left" else 1,
        inverted=attitude == "inverted",
        invented=bool(invented),
        box=box,
        **{key: value for key, value in numbers.items() if value is not None},
    )
    if (long := _path_length(made)) > LONGEST:
        faults.add("figure", f"make {long / 1000:.0f} km of path; a programme has at most {LONGEST / 1000:.0f} km")
        faults.raise_if_any(source.path)
    return made


def _path_length(sequence: Sequence) -> float:
    total = 0.0
    for figure in sequence.figures:
        for part in figure.parts:
            if isinstance(part, Line):
                total += part.length
            elif isinstance(part, Loop):
                total += part.radius * part.angle
            else:
                total += 10.0
    return total


def _box(table: Table | None) -> Box:
    if table is None:
        return Box()
    usual = Box()
    side = table.number("side_deg", 10.0, 89.0)
    elevation = table.number("elevation_deg", 10.0, 89.0)
    ground = table.number("lowest_m", 0.0, 200.0)
    return Box(
        side=usual.side if side is None else math.radians(side),
        elevation=usual.elevation if elevation is None else math.radians(elevation),
        ground=usual.ground if ground is None else ground,
    )


def _figures(top: Table) -> tuple[Figure, ...]:
    tables = top.tables("figure")
    if not tables and top.faults.line("figure") is None:
        top.fault("figure", 'is missing; write one [[figure]] after another, each with name = "..." and parts = [...]')
    if len(tables) > MOST_FIGURES:
        top.fault("figure", f"stands {len(tables)} times; a programme has at most {MOST_FIGURES} figures")
        tables = tables[:MOST_FIGURES]
    found = []
    for table in tables:
        name = table.text("name", required=True, longest=80)
        height = table.number("exit_height_m", 0.0, 1000.0)
        parts = _parts(table)
        if name is not None and parts:
            found.append(Figure(name=name, parts=tuple(parts), exit_height=height))
    return tuple(found)


def _parts(figure: Table) -> list[Part]:
    tables = figure.tables("parts")
    if not figure.has("parts") or figure.data["parts"] == []:
        figure.fault("parts", "is missing; write parts = [ { line_deg = 0, length_m = 50 }, ... ]")
    if len(tables) > MOST_PARTS:
        figure.fault("parts", f"holds {len(tables)} parts; a figure has at most {MOST_PARTS}")
        tables = tables[:MOST_PARTS]
    found = [_part(table) for table in tables]
    return [part for part in found if part is not None]


def _part(table: Table) -> Part | None:
    kinds = [kind for kind in _KINDS if table.has(kind)]
    if len(kinds) != 1:
        said = f"is {' and '.join(kinds)} at once" if kinds else f"holds {', '.join(table.data) or 'nothing'}"
        table.fault("", f"{said}; a part has exactly one of {', '.join(_KINDS)}")
        table.known.extend(table.data)
        return None
    return _READERS[kinds[0]](table)


def _line(table: Table) -> Part | None:
    slope = table.number("line_deg", -90.0, 90.0)
    length = table.number("length_m", 1.0, 1000.0, required=True)
    rolls = table.tables("rolls")
    if len(rolls) > MOST_ROLLS:
        table.fault("rolls", f"holds {len(rolls)} rolls; a line has at most {MOST_ROLLS}")
        rolls = rolls[:MOST_ROLLS]
    made = [_roll(one, share=(index + 1) / (len(rolls) + 1)) for index, one in enumerate(rolls)]
    if slope is None or length is None:
        return None
    return Line(slope=math.radians(slope), length=length, rolls=tuple(roll for roll in made if roll is not None))


def _roll(table: Table, *, share: float) -> Roll | None:
    kinds = [kind for kind in ("roll_deg", "snap_deg") if table.has(kind)]
    if len(kinds) != 1:
        table.fault("", "has exactly one of roll_deg and snap_deg, right positive")
        table.known.extend(table.data)
        return None
    angle = table.number(kinds[0], -1440.0, 1440.0)
    points = table.integer("points", 1, 16)
    length = table.number("length_m", 1.0, 500.0)
    middle = table.number("at_percent", 0.0, 100.0)
    if angle is not None and abs(angle) < 10.0:
        table.fault(kinds[0], f"is {shown(angle)}; a roll turns at least 10 deg")
        return None
    if angle is None:
        return None
    return Roll(
        angle=math.radians(angle),
        points=points or 1,
        snap=kinds[0] == "snap_deg",
        middle=share if middle is None else middle / 100.0,
        length=length,
    )


def _loop(table: Table) -> Part | None:
    angle = table.number("loop_deg", 5.0, 1080.0)
    radius = table.number("radius_m", 3.0, 200.0, required=True)
    towards = table.choice("towards", TOWARDS, required=True)
    if angle is None or radius is None or towards is None:
        return None
    return Loop(radius=radius, angle=math.radians(angle), towards="canopy" if towards == "canopy" else "belly")


def _stall_turn(table: Table) -> Part | None:
    side = table.choice("stall_turn", _SIDES)
    return None if side is None else StallTurn(way=-1 if side == "left" else 1)


def _spin(table: Table) -> Part | None:
    turns = table.number("spin_turns", 0.25, 12.0)
    side = table.choice("way", _SIDES)
    return None if turns is None else Spin(turns=turns, way=-1 if side == "left" else 1)


def _pause(table: Table) -> Part | None:
    length = table.number("pause_m", 1.0, 1000.0)
    return None if length is None else Line(slope=0.0, length=length, pause=True)


_READERS: dict[str, Callable[[Table], Part | None]] = {
    "line_deg": _line,
    "loop_deg": _loop,
    "stall_turn": _stall_turn,
    "spin_turns": _spin,
    "pause_m": _pause,
}
