"""Pages as tables for a terminal. Rounds to what the spread deserves; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from evenfall.sheet.pages import CandidatePage, LinePage, PredictPage, Spreading, Steady, TunePage

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.table import Table

System = Literal["metric", "imperial"]
_M_S_TO_MPH = 2.236936
_N_TO_OZF = 3.596943


def speed_unit(system: System) -> str:
    """Unit of printed speeds."""
    return "m/s" if system == "metric" else "mph"


def force_unit(system: System) -> str:
    """Unit of printed forces."""
    return "N" if system == "metric" else "ozf"


def speed(value: float, system: System) -> str:
    """A speed to .1 of its unit."""
    return f"{value if system == 'metric' else value * _M_S_TO_MPH:.1f}"


def force(value: float, system: System) -> str:
    """A force to .1 of its unit."""
    return f"{(value if system == 'metric' else value * _N_TO_OZF) + 0.0:.1f}"


def with_spread(number: Spreading, system: System) -> str:
    """A speed with its spread: 24.1 +- 0.6."""
    if number.spread is None:
        return f"{speed(number.value, system)} +- ?"
    return f"{speed(number.value, system)} +- {speed(number.spread, system)}"


def spread_of(number: Spreading | None, digits: int, scale: float = 1.0) -> str:
    """The spread to write behind a number, empty where there is none."""
    if number is None or number.spread is None:
        return ""
    return f" +- {scale * number.spread:.{digits}f}"


def console(width: int | None = None) -> Console:
    """The console that tables are printed on: plain text where the output is no terminal."""
    from rich.console import Console

    return Console(width=width, highlight=False, markup=False, emoji=False, soft_wrap=False)


LONG_CELL = 30
"""Characters beyond which a last column counts as sentences."""


def make_table(title: str, *columns: tuple[str, Literal["left", "right"]]) -> Table:
    """An empty table: title, and (name, justify) of every column."""
    from rich import box
    from rich.table import Table

    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False, title_style="bold")
    for name, justify in columns:
        table.add_column(name, justify=justify, overflow="fold")
    return table


def fitted(part: RenderableType, screen: Console) -> list[RenderableType]:
    """A part as it fits the screen: where a table is too wide, its last column of sentences follows below it."""
    from rich.table import Table

    if not isinstance(part, Table):
        return [part]
    if screen.measure(part, options=screen.options.update(width=1000)).maximum <= screen.width:
        return [part]
    *kept, last = part.columns
    cells = [str(cell) for cell in last.cells]
    if max((len(cell) for cell in cells), default=0) <= LONG_CELL:
        return [part]
    small = make_table(str(part.title), *((str(column.header), _side(column.justify)) for column in kept))
    rows = list(zip(*(column.cells for column in kept), strict=True))
    for row in rows:
        small.add_row(*row)
    names = [place for place, column in enumerate(kept) if column.justify == "left"][:2]
    below = [
        f"{' '.join(str(row[place]) for place in names)}: {words}"
        for row, words in zip(rows, cells, strict=True)
        if words
    ]
    return [small, *below, ""]


def _side(justify: str) -> Literal["left", "right"]:
    return "right" if justify == "right" else "left"


def predict_parts(page: PredictPage, system: System) -> list[RenderableType]:
    """What `predict` prints, part by part."""
    head = (
        f"{page.plane} - {page.plan}. Wanted speed {speed(page.wanted_speed_m_s, system)} {speed_unit(system)}, "
        f"air {page.air.density_kg_m3:.3f} kg/m3."
    )
    parts: list[RenderableType] = [head, lines_table(page, system)]
    parts.append(holding_table(page))
    if page.roll:
        parts.append(roll_table(page))
    parts.append(straightness_table(page))
    parts.extend(f"! {warning}" for warning in page.warnings)
    parts.extend(f"Not in this answer: {limit}" for limit in page.limits)
    return parts


def lines_table(page: PredictPage, system: System) -> Table:
    """The five lines, one row a steady speed."""
    table = make_table(
        "How it falls",
        ("line", "left"),
        ("stick %", "right"),
        (f"speed {speed_unit(system)}", "right"),
        ("shaft rpm", "right"),
        (f"airframe {force_unit(system)}", "right"),
        (f"crow {force_unit(system)}", "right"),
        (f"propeller {force_unit(system)}", "right"),
        ("remark", "left"),
    )
    for line in page.lines:
        if not line.steady:
            table.add_row(line.name, f"{line.stick_percent:.0f}", "-", "-", "-", "-", "-", line.remark)
        for index, state in enumerate(line.steady):
            table.add_row(*_line_row(line, state, first=index == 0, system=system))
    return table


def _line_row(line: LinePage, state: Steady, *, first: bool, system: System) -> tuple[str, ...]:
    remark = line.remark if first else ""
    if not state.stable:
        remark = "unstable: divides the entries"
    elif len(line.steady) > 1:
        remark = _entry_words(state, system)
    return (
        line.name if first else "",
        f"{line.stick_percent:.0f}" if first else "",
        with_spread(state.speed_m_s, system),
        f"{state.shaft_rpm:.0f}",
        force(state.drag_n.airframe, system),
        force(state.drag_n.crow, system),
        force(state.drag_n.propeller, system),
        remark,
    )


def _entry_words(state: Steady, system: System) -> str:
    if state.reached_from_m_s is None:
        return "reached from none of the entry speeds tried"
    low, high = state.reached_from_m_s
    return f"reached from {speed(low, system)} to {speed(high, system)} {speed_unit(system)}"


def holding_table(page: PredictPage) -> Table:
    """Holding stick against slope."""
    table = make_table("Holding stick", ("slope deg", "right"), ("stick %", "right"), ("remark", "left"))
    for held in page.holding_stick:
        stick = "-" if held.stick_percent is None else f"{held.stick_percent:.0f}" + spread_of(held.stick, 0)
        remark = "" if held.status == "ok" else held.status.replace("_", " ")
        table.add_row(f"{held.slope_deg:+.0f}", stick, remark)
    return table


def roll_table(page: PredictPage) -> Table:
    """Steady rolls and retention."""
    table = make_table(
        "Roll",
        ("crow", "left"),
        ("throw deg", "right"),
        ("rate deg/s", "right"),
        ("linkage %", "right"),
        ("section %", "right"),
        ("speed %", "right"),
        ("total %", "right"),
    )
    for roll in page.roll:
        kept = roll.retention
        table.add_row(
            "out" if roll.deployed else "stowed",
            f"{roll.throw_deg:.1f}",
            f"{roll.rate_deg_s:.0f}" + spread_of(roll.rate, 0),
            "-" if kept.linkage is None else f"{100 * kept.linkage:.0f}",
            f"{100 * kept.section:.0f}" + spread_of(roll.section, 0, 100.0),
            f"{100 * kept.speed:.0f}",
            f"{100 * kept.total:.0f}",
        )
    return table


def straightness_table(page: PredictPage) -> Table:
    """Bend of the down lines and its cure."""
    table = make_table(
        "Straightness (towards the canopy +)",
        ("line", "left"),
        ("clean deg/s", "right"),
        ("crow adds deg/s", "right"),
        ("cure", "left"),
    )
    for bend in page.straightness:
        name = f"{bend.line}, inverted" if bend.inverted else bend.line
        clean = f"{bend.clean_deg_s:+z.1f}" + spread_of(bend.clean, 1)
        table.add_row(name, clean, f"{bend.crow_deg_s:+z.1f}" + spread_of(bend.crow, 1), bend.cure)
    return table


def shown_candidates(page: TunePage) -> tuple[CandidatePage, ...]:
    """Every arrangement of the chosen level, and the best arrangement of every other level."""
    chosen = page.candidates[0].level if page.candidates else ""
    seen: set[str] = set()
    rows = []
    for row in page.candidates:
        if row.level == chosen or row.level not in seen:
            rows.append(row)
        seen.add(row.level)
    return tuple(rows)


def candidates_table(page: TunePage, system: System) -> Table:
    """The candidates worth a look, best first; JSON has them all."""
    unit = speed_unit(system)
    table = make_table(
        "Levels and arrangements, best first (the best arrangement of each level; --json has all)",
        ("brake", "left"),
        ("up/lo", "left"),
        ("crow deg", "right"),
        (f"down {unit}", "right"),
        ("shaft states", "right"),
        ("verdict", "left"),
        ("why", "left"),
    )
    for row in shown_candidates(page):
        down = "-" if row.down_speed_m_s is None else speed(row.down_speed_m_s, system)
        if row.speed is not None:
            down = with_spread(row.speed, system)
        crow = f"{_size(row):.1f}" + spread_of(row.crow, 1)
        table.add_row(row.level, row.arrangement, crow, down, f"{row.shaft_states}", row.verdict, row.why)
    return table


def _size(row: CandidatePage) -> float:
    return max(abs(angle) for angle in (row.crow_deg.upper, row.crow_deg.lower) if angle is not None)


def targets_table(page: TunePage) -> Table:
    """The targets."""
    table = make_table("Targets", ("target", "left"), ("wanted", "left"), ("got", "left"), ("met", "left"))
    for target in page.targets:
        table.add_row(target.name, target.wanted, target.got, "yes" if target.met else "NO")
    return table


def tune_parts(page: TunePage, system: System) -> list[RenderableType]:
    """What `tune` prints, part by part."""
    parts: list[RenderableType] = [f"{page.plane}.", page.summary]
    if page.targets:
        parts.append(targets_table(page))
    lead = "Worth measuring" if page.status == "met" else "To gain it"
    parts.extend(f"{lead}: {remedy}" for remedy in page.remedies)
    if page.candidates:
        parts.append(candidates_table(page, system))
    if page.predicted is not None:
        parts.append(lines_table(page.predicted, system))
        parts.append(roll_table(page.predicted))
        parts.append(straightness_table(page.predicted))
        parts.extend(f"! {warning}" for warning in page.predicted.warnings)
    parts.extend(f"* {caution}" for caution in page.cautions)
    return parts
