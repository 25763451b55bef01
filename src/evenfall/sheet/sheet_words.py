"""The sheet in words and tables, rounded, ready to be laid out on paper or on a phone. Plain text, never markup."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from evenfall.sheet.arm_drawing import arm_svg, arm_words, way
from evenfall.sheet.bench_page import BenchPhasePage, PositionPage, sides
from evenfall.sheet.gates import GatePage
from evenfall.sheet.pages import LinePage, Spreading
from evenfall.sheet.programme_sheet import programme_words
from evenfall.sheet.sheet_curves import deployment_svg, deployment_words, holding_svg, holding_words
from evenfall.sheet.sheet_page import ArmPage, SheetPage

Cell = str | dict[str, str]
"""Text, or {"tick": ""}: a box to tick, or {"write": before}: room to write after a few words."""
TICK: Cell = {"tick": ""}
_UNIT = re.compile(r"(?<=[0-9]) (?=(?:%|°C|hPa|m/s|kg/m|deg|mm|µs|us|m|g|A|V|teeth)(?![A-Za-z]))")

_MINUS = re.compile(r"(?:(?<=[\s(])|^)-(?=\.?[0-9]|[.,)]|$)")
_DEGREES = re.compile(r"(?<=[0-9]) deg(?![A-Za-z/])")
_MICRO = re.compile(r"(?<=[0-9] )us(?![A-Za-z])")
_NAMES = ("plane", "plan", "date", "ids", "alt")


def signed(value: float, digits: int = 1) -> str:
    """A number with its sign and a true minus.

    >>> signed(-22.61), signed(0.04), signed(7, 0)
    ('\u221222.6', '0.0', '+7')
    """
    text = f"{value:+.{digits}f}"
    return text[1:] if float(text) == 0 else text.replace("-", "\u2212")


def spread(number: Spreading, digits: int = 1) -> str:
    """A value with one sigma: 22.0 ± 1.2."""
    doubt = "?" if number.spread is None else f"{number.spread:.{digits}f}"
    return f"{number.value:.{digits}f} ± {doubt}"


def table(head: Sequence[str], rows: Sequence[Sequence[Cell]], align: str) -> dict[str, Any]:
    """A table; `align` has one letter a column: l, r or c."""
    return {"head": list(head), "rows": [list(row) for row in rows], "align": align}


def sheet_words(page: SheetPage, *, style: bool = True) -> dict[str, Any]:
    """Everything that is printed, as plain data. `style`: drawings bring their own style sheet."""
    words: dict[str, Any] = {
        "plane": page.plane,
        "plan": page.plan,
        "date": page.date,
        "ids": f"plan {page.plan_hash[:12]} · plane {page.plane_hash[:12]} · {page.date} · Evenfall {page.version}",
        "setting": setting_lines(page),
        "bench": _bench(page, style=style),
        "field": _field(page, style=style),
    }
    if page.programme is not None:
        words["programme"] = programme_words(page.programme, style=style)
    kept: dict[str, Any] = _printed(words)
    return kept


def _printed(found: Any) -> Any:
    """Every number on one line with its unit, in the signs of print; names and drawings are left alone."""
    if isinstance(found, str):
        return found if found.startswith("<svg") else print_signs(found)
    if isinstance(found, dict):
        return {key: value if key in _NAMES else _printed(value) for key, value in found.items()}
    return [_printed(item) for item in found]


def print_signs(words: str) -> str:
    """Words with true minus and plus-minus signs, degrees and microseconds, numbers kept with their units.

    >>> print_signs("-225 us, up -. Bends by 2 deg/s, .3 deg +- .1"), print_signs("a two-way pass")
    ('\u2212225\xa0\u00b5s, up \u2212. Bends by 2\xa0deg/s, .3\u00b0 \u00b1 .1', 'a two-way pass')
    """
    words = _MINUS.sub("\u2212", words.replace("+-", "±"))
    words = _MICRO.sub("µs", _DEGREES.sub("°", words))
    return _UNIT.sub("\u00a0", words)


def setting_lines(page: SheetPage) -> list[str]:
    """The plan in three short lines."""
    motor, crow = page.settings.motor, page.settings.crow
    rows = [f"Motor brake level {motor.level} ({motor.brake_percent:.0f} %) in every phase."]
    if crow is None:
        rows.append("No crow.")
    else:
        wings = [
            f"{name} wing {abs(angle):.1f}° {'down' if angle > 0 else 'up'}"
            for name, angle in (("upper", crow.upper_deg), ("lower", crow.lower_deg))
            if angle
        ]
        share = signed(crow.elevator_share, 3)
        rows.append(f"Crow {', '.join(wings)}; begins at {crow.threshold_percent:.0f} % stick. Elevator share {share}.")
    air = page.predicted.air
    rows.append(
        f"Wanted {page.predicted.wanted_speed_m_s:.1f} m/s on every line; computed for air of "
        f"{air.density_kg_m3:.3f} kg/m³ ({air.temperature_c:.1f} °C, {air.pressure_hpa:.0f} hPa at the field)."
    )
    return rows


# --- the bench --------------------------------------------------------------------------------------------------------


def _bench(page: SheetPage, *, style: bool) -> dict[str, Any]:
    corners = _corner_names(page)
    said = [*page.bench.notes, *page.rig.lost, page.rig.travel, page.rig.supply, page.rig.play]
    watch = [words for words in _stopping(page) if words]
    return {
        "cautions": list(page.bench.cautions),
        "motor": list(page.bench.motor),
        "view": page.bench.view,
        "arms": [_arm(arm, style=style) for arm in page.arms],
        "arm_note": (
            "Placed as seen by a person standing behind the plane; each arm as seen from its own wing tip. Heavy: "
            "surface at neutral. Dashed: crow out. Dotted: square to the rod. Arc: all the arm is used; bars: where it "
            "ends. To scale."
        ),
        "curve": {"svg": deployment_svg(page, style=style), "alt": deployment_words(page)},
        "fitting": _fitting(page),
        "radio": f"{page.rig.radio}. Percent of travel: crow by throttle stick, roll at full right stick.",
        "settings": _settings(page),
        "phases": _phases(page),
        "positions": _positions(page, corners),
        "tolerance": page.bench.error_costs,
        "watch": watch,
        "notes": [words for words in said if words and words not in watch],
    }


def _stopping(page: SheetPage) -> list[str]:
    """What must be put right before it flies: travel that does not close, pulses that cannot be sent, supply, play."""
    breaks = any(row.travel_left_deg < 0 for row in page.rig.corners)
    short = "Too much" in page.rig.supply
    return [
        *(note for note in page.bench.notes if "needs a pulse" in note),
        page.rig.travel if breaks else "",
        page.rig.supply if short else "",
        page.rig.play,
    ]


def _corner_names(page: SheetPage) -> list[str]:
    return sides([row.corner for row in page.bench.corners])


def _plain(corner: str) -> str:
    return corner.replace("_", " ")


def _arm(arm: ArmPage, *, style: bool) -> dict[str, str]:
    return {"corner": arm.corner, "svg": arm_svg(arm, style=style), "alt": arm_words(arm)}


def _fitting(page: SheetPage) -> dict[str, Any]:
    """Signs and fit of every aileron, with boxes."""
    arms = {arm.corner: arm for arm in page.arms}
    fitted = {row.corner: row for row in page.bench.corners}
    rows: list[list[Cell]] = []
    for name in _corner_names(page):
        arm, signs = arms.get(name), fitted[name].signs
        way_of = [
            next((s.rsplit(" ", 1)[-1] for s in signs if s.startswith(w)), "") for w in ("stick right", "crow out")
        ]
        row: list[Cell] = [_plain(name), way_of[0], TICK, way_of[1], TICK if way_of[1] else ""]
        if arm is None:
            rows.append([*row, "", "", "", "", ""])
            continue
        teeth = "" if arm.teeth is None else _teeth(arm)
        shift = "" if arm.shift_us is None else f"{signed(arm.shift_us, 0)} µs {arm.shift_by}".strip()
        rows.append([*row, f"{arm.arm_mm:.1f} / {arm.horn_mm:.1f}", teeth, way(arm.offset_deg), shift, TICK])
    head = ["aileron", "stick right", "", "crow out", "", "arm / horn hole mm", "teeth", "arm at neutral", "shift", ""]
    return table(head, rows, "llclclllll")


def _teeth(arm: ArmPage) -> str:
    count = abs(arm.teeth or 0)
    words = "as square" if not count else f"{count} {'aft' if (arm.teeth or 0) > 0 else 'ahead'}"
    return words if arm.rod_on_arm is None else f"{words}, rod on arm {arm.rod_on_arm}"


def _settings(page: SheetPage) -> dict[str, Any]:
    """The radio's shares, one row an aileron, and the elevator."""
    rig = page.rig
    if not rig.curve_stick_percent:
        return table([], [], "")
    phases = list(rig.corners[0].roll_percent) if rig.corners else []
    head = ["channel", "neutral µs", "centre %", *(f"stick {s:.0f} %" for s in rig.curve_stick_percent)]
    head += [f"roll {name}" for name in phases] + ["ends µs", "load"]
    rows: list[list[Cell]] = []
    by_name = {row.corner: row for row in rig.corners}
    for name in _corner_names(page):
        row = by_name.get(_plain(name))
        if row is None:
            continue
        neutral = "" if row.neutral_us is None else f"{row.neutral_us:.0f}"
        centre = "" if row.centre_shift_percent is None else signed(row.centre_shift_percent)
        ends = "" if row.ends_us is None else f"{row.ends_us[0]:.0f}–{row.ends_us[1]:.0f}"
        load = "" if row.servo_load is None else f"{100 * row.servo_load:.0f} %"
        crow = [signed(share, 0) for share in row.crow_percent] or [""] * len(rig.curve_stick_percent)
        roll = [signed(row.roll_percent[p], 0) if p in row.roll_percent else "" for p in phases]
        rows.append([row.corner, neutral, centre, *crow, *roll, ends, load])
    rows.append(["elevator", "", "", *(signed(s, 0) for s in rig.elevator_percent), *("" for _ in phases), "", ""])
    return table(head, rows, "l" + "r" * (len(head) - 1))


def _phases(page: SheetPage) -> dict[str, Any]:
    head = ["phase", "crow", "aileron °", "expo", "elevator °", "expo", "rudder °", "expo", "boost", "elevator pulled"]
    head.append("pushed")
    shown = {phase.name: phase for phase in page.bench.phases}
    rows: list[list[Cell]] = []
    for row in page.rig.phases:
        soft = [f"{value:.0f} %" for value in row.exponential_percent]
        pulled, pushed = _elevator(shown.get(row.name))
        live = "live" if row.crow else "off"
        throws = [f"{row.aileron_deg:.1f}", f"{row.elevator_deg:.1f}", f"{row.rudder_deg:.1f}"]
        first: list[Cell] = [row.name, live, throws[0], soft[0], throws[1], soft[1], throws[2], soft[2]]
        rows.append([*first, f"{row.roll_boost_percent:.0f} %", pulled, pushed])
    return table(head, rows, "llrrrrrrrll")


def _elevator(phase: BenchPhasePage | None) -> tuple[Cell, Cell]:
    """What the elevator must show pulled and pushed, with room to write."""
    found: list[Cell] = ["", ""]
    for row in () if phase is None else phase.positions:
        if row.elevator_percent and row.elevator_deg is not None:
            found[0 if row.elevator_percent > 0 else 1] = {"write": signed(row.elevator_deg)}
    return found[0], found[1]


def _positions(page: SheetPage, corners: list[str]) -> list[dict[str, Any]]:
    """Groups of rows to be shown, the phases with most to show first; nothing is asked twice."""
    seen: list[PositionPage] = []
    groups = []
    tail = any(row.elevator_deg is not None for phase in page.bench.phases for row in phase.positions)
    for phase in sorted(page.bench.phases, key=lambda item: (not item.crow_live, item.same_as is not None)):
        rows = [row for row in phase.positions if not row.elevator_percent and not any(_alike(row, o) for o in seen)]
        seen += rows
        if not rows:
            continue
        head = [
            "",
            "sticks",
            "throttle",
            *(_plain(name) for name in corners),
            "within",
            *(["elevator"] if tail else []),
        ]
        same = [other.name for other in page.bench.phases if other.same_as == phase.name]
        alike = f" The same in {', '.join(same)}." if same else ""
        groups.append(
            {
                "title": f"Phase {phase.name}",
                "note": ("Crow live." if phase.crow_live else "Crow off, whatever the throttle does.") + alike,
                "table": table(
                    head, [_row(row, corners, tail=tail) for row in rows], "clr" + "l" * len(corners) + "l" * (1 + tail)
                ),
            }
        )
    return groups


def _alike(one: PositionPage, two: PositionPage) -> bool:
    sticks = (one.throttle_percent, one.aileron_percent) == (two.throttle_percent, two.aileron_percent)
    return sticks and all(abs(angle - two.angle_deg.get(name, 1e9)) < 0.05 for name, angle in one.angle_deg.items())


def _row(row: PositionPage, corners: list[str], *, tail: bool) -> list[Cell]:
    cells: list[Cell] = [TICK, row.position, f"{row.throttle_percent:.0f} %"]
    for name in corners:
        stop = " stop" if name in row.at_limit else ""
        cells.append({"write": signed(row.angle_deg[name]) + stop} if name in row.angle_deg else "")
    cells.append(f"±{row.within_deg:.1f}")
    if tail:
        cells.append("" if row.elevator_deg is None else {"write": signed(row.elevator_deg)})
    return cells


# --- the field --------------------------------------------------------------------------------------------------------


def _field(page: SheetPage, *, style: bool) -> dict[str, Any]:
    best = next((row for row in page.rig.failsafe if row.recommended), None)
    return {
        "cautions": list(page.rig.cautions),
        "warnings": list(page.predicted.warnings),
        "speeds": _speeds(page),
        "speed_note": "± is one sigma. Fastest: two sigma more. Time over 100 m of line, by stopwatch.",
        "curve": {"svg": holding_svg(page, style=style), "alt": holding_words(page)},
        "rolls": _rolls(page),
        "gates": [_gate(index, gate) for index, gate in enumerate(page.gates, 1)],
        "gate_note": (
            "In this order; the next only when the last is passed. Heights above ground are for the predicted speed "
            "plus two sigma: settling from half the speed, the figure, one second to decide, a pull-out at four times "
            "the weight, and a reserve; rounded up to 10 m."
        ),
        "failsafe": table(
            ["failsafe", "motor", "crow", "what the plane does"],
            [[("→ " if r.recommended else "") + r.kind, r.motor, r.crow, r.what] for r in page.rig.failsafe],
            "llll",
        ),
        "failsafe_note": "" if best is None else f"→ {best.store} Test: {best.test}",
        "trim": [*page.rig.straightness, *([page.rig.landing] if page.rig.landing else [])],
        "log": ["date", "wind", "temperature", "pack", "pilot"],
    }


def _speeds(page: SheetPage) -> dict[str, Any]:
    rows: list[list[Cell]] = []
    for line in page.predicted.lines:
        rows.extend(_line(line))
    return table(["line", "stick", "speed m/s", "fastest", "100 m in s", "flown"], rows, "lrrrrl")


def _line(line: LinePage) -> list[list[Cell]]:
    stable = [state for state in line.steady if state.stable]
    stick = f"{line.stick_percent:.0f} %"
    if not stable:
        return [[line.name, stick, "none", "", "", {"write": ""}]]
    rows: list[list[Cell]] = []
    for index, state in enumerate(stable):
        number = state.speed_m_s
        fast = "" if number.spread is None else f"{number.value + 2 * number.spread:.1f}"
        name = line.name if index == 0 else "  or, by entry speed"
        hundred = f"{100 / number.value:.1f}" if number.value > 0 else ""
        rows.append([name, stick if index == 0 else "", spread(number), fast, hundred, {"write": ""}])
    return rows


def _rolls(page: SheetPage) -> dict[str, Any]:
    rows: list[list[Cell]] = []
    for roll in page.predicted.roll:
        rate = f"{roll.rate_deg_s:.0f}" if roll.rate is None else spread(roll.rate, 0)
        full = f"{360 / roll.rate_deg_s:.1f}" if roll.rate_deg_s > 1 else ""
        crow = "out" if roll.deployed else "in"
        rows.append([f"{roll.throw_deg:.1f}°", crow, rate, full, {"write": ""}])
    return table(["roll throw", "crow", "°/s", "a roll in s", "flown"], rows, "llrrl")


def entry_words(gate: GatePage) -> str:
    """Lowest entry rounded up to 10 m, or that it is on the ground."""
    if gate.height_m is None:
        return "ground"
    return f"{10 * -int(-gate.height_m.total // 10):.0f} m"


def _gate(index: int, gate: GatePage) -> dict[str, str]:
    parts = ""
    if gate.height_m is not None and gate.speed_m_s is not None:
        h = gate.height_m
        figure = f" + figure {h.figure:.0f}" if h.figure else ""
        parts = (
            f"{gate.speed_m_s:.1f} m/s: line {h.settle:.0f}{figure} + decide {h.decide:.0f} + "
            f"pull-out {h.pull_out:.0f} + reserve {h.reserve:.0f}"
        )
    return {
        "number": f"{index}",
        "name": gate.name,
        "enter": entry_words(gate),
        "parts": parts,
        "task": gate.task,
        "passed": gate.passed,
        "abort": gate.abort,
    }
