"""The contest card in words: half a minute of surfaces, today's air and what it does, change this or nothing."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence

from evenfall.advise.change import Change
from evenfall.lines.bench import BenchPhase, Shown
from evenfall.sheet.advise_make import change_page
from evenfall.sheet.make import predict_page
from evenfall.sheet.record_page import CardPage, CardRowPage
from evenfall.workflow.contest import ContestCard

FLUSH = 0.5
"""Degrees below which a surface shows nothing."""
THINNER = 0.003
"""Share of density from which today's air is another."""
MATTERS = 0.05
"""m/s from which a change of speed is told."""
SMALL = math.radians(3.0)
"""Change of crow that needs no first flights again. Ours, no source."""
_WINGS = ("upper", "lower")
CAUTION = (
    "Propeller off for the rows with the throttle open. Surfaces never prove the motor disarmed.",
    "Propeller on again: nut tight? Braking loosens it.",
)


def card_page(card: ContestCard, *, date: str | None = None) -> CardPage:
    """The page of a card; `date` is today's where not given."""
    change, reason = _change(card)
    return CardPage(
        plane=card.predicted.ready.file.plane.name,
        plan=card.plan_name,
        plan_hash=card.plan_hash[:12],
        state=_state(card),
        date=date or dt.date.today().isoformat(),
        checks=check_rows(card.bench.phases),
        air=_air(card),
        speeds=_speeds(card),
        change=f"{change} {reason}".strip(),
        cautions=(*_open(card), *_learned(card), *predict_page(card.predicted).warnings, *CAUTION),
    )


def _state(card: ContestCard) -> str:
    if card.frozen:
        kept = "Frozen"
    else:
        kept = "Changed by hand since it was tuned" if card.edited else "As tuned"
    if card.proven is None:
        return f"{kept}, not proven"
    why = f": {card.proven.why}" if card.proven.why else ""
    return f"{kept}, proven {card.proven.date[:10]}{why}"


# --- surfaces --------------------------------------------------------------------------------------------------------


def check_rows(phases: Sequence[BenchPhase]) -> tuple[CardRowPage, ...]:
    """Surfaces to look at in half a minute: the phase in which lines are flown whole, of the others what differs."""
    first = next((item for item in phases if item.phase.kind == "normal"), phases[0])
    rows = _whole(first)
    others: dict[tuple[str, str], list[str]] = {}
    for item in phases:
        if item is not first:
            for row in _short(item):
                others.setdefault((row.do, row.see), []).append(row.phase)
    for (do, see), names in others.items():
        rows.append(CardRowPage(phase=" and ".join(names), do=do, see=see))
    return tuple(rows)


def _whole(item: BenchPhase) -> list[CardRowPage]:
    wanted = [("Throttle closed", _at(item.rows, throttle=0.0))]
    if item.phase.crow_live:
        wanted.append(("Throttle closed, aileron full right", _at(item.rows, throttle=0.0, aileron=1.0)))
    else:
        wanted.append(("Aileron full right", _at(item.rows, throttle=1.0, aileron=1.0)))
    rows = [_row(item, do, shown) for do, shown in wanted if shown is not None]
    pulled = _at(item.rows, elevator=1.0)
    if pulled is not None and pulled.tail is not None:
        rows.append(
            CardRowPage(
                phase=item.phase.name, do="Elevator pulled", see=f"elevator {_degrees(math.degrees(pulled.tail))}"
            )
        )
    opened = _at(item.rows, throttle=1.0)
    if item.phase.crow_live and opened is not None:
        rows.append(_row(item, "Throttle full (propeller off)", opened, after="crow is in"))
    return rows


def _short(item: BenchPhase) -> list[CardRowPage]:
    if item.phase.crow_live:
        row = _at(item.rows, throttle=0.0, aileron=1.0)
        return [] if row is None else [_row(item, "Throttle closed, aileron full right", row)]
    row = _at(item.rows, throttle=0.0)
    return [] if row is None else [_row(item, "Throttle closed", row, after="crow stays in")]


def _at(
    rows: Iterable[Shown], *, throttle: float | None = None, aileron: float = 0.0, elevator: float = 0.0
) -> Shown | None:
    for row in rows:
        same = throttle is None or math.isclose(row.throttle, throttle, abs_tol=1e-6)
        if same and math.isclose(row.aileron, aileron) and math.isclose(row.elevator, elevator):
            return row
    return None


def _row(item: BenchPhase, do: str, shown: Shown, *, after: str = "") -> CardRowPage:
    said = [surface_words(shown.angles)]
    tail = 0.0 if shown.tail is None else math.degrees(shown.tail)
    if abs(tail) >= FLUSH:
        said.append(f"elevator {_degrees(tail)}")
    if after:
        said.append(after)
    return CardRowPage(phase=item.phase.name, do=do, see="; ".join(said))


def surface_words(angles: Mapping[str, float]) -> str:
    """What the ailerons show, rad by corner.

    >>> surface_words({"upper_left": 0.4, "upper_right": 0.4, "lower_left": -0.4, "lower_right": -0.4})
    'upper both 23° down; lower both 23° up'
    >>> surface_words({"upper_left": 0.0, "upper_right": 0.001})
    'ailerons flush'
    >>> surface_words({"upper_left": 0.3, "upper_right": 0.1})
    'left 17° down, right 6° down'
    """
    degrees = {name: math.degrees(angle) for name, angle in angles.items()}
    if all(abs(angle) < FLUSH for angle in degrees.values()):
        return "ailerons flush"
    said = []
    for wing in _WINGS:
        left, right = degrees.get(f"{wing}_left"), degrees.get(f"{wing}_right")
        if left is None or right is None:
            continue
        name = f"{wing} " if len(degrees) > 2 else ""
        if abs(left - right) >= FLUSH:
            said.append(f"{name}left {_degrees(left)}, right {_degrees(right)}")
        elif abs(left) >= FLUSH:
            said.append(f"{name}both {_degrees(left)}")
        else:
            said.append(f"{name}flush")
    return "; ".join(said)


def _degrees(angle: float) -> str:
    return "flush" if abs(angle) < FLUSH else f"{abs(angle):.0f}° {'down' if angle > 0 else 'up'}"


# --- the day ---------------------------------------------------------------------------------------------------------


def _air(card: ContestCard) -> str:
    air, usual = card.predicted.ready.air, card.usual_air.density
    words = f"{air.temperature - 273.15:.0f} °C, {air.pressure / 100:.0f} hPa at the field: {air.density:.3f} kg/m³"
    share = air.density / usual - 1.0
    if abs(share) < THINNER:
        return f"{words}, as the plan was computed for."
    thick = "thicker" if share > 0 else "thinner"
    return f"{words}, {100 * abs(share):.0f} % {thick} than the {usual:.3f} the plan was computed for."


def _speeds(card: ContestCard) -> tuple[str, ...]:
    rows = []
    for line in card.predicted.survey.lines:
        state = line.speed
        stick = "stick closed" if line.stick < 0.005 else f"stick {100 * line.stick:.0f} %"
        if state is None:
            rows.append(f"{line.name}, {stick}: no steady speed.")
            continue
        spread = next(
            (
                estimate.spread
                for entry, estimate in zip(line.steady, card.predicted.estimates[line.name], strict=True)
                if entry.state is state and estimate is not None
            ),
            None,
        )
        doubt = "" if spread is None else f" ± {spread:.1f}"
        before = card.usual.get(line.name)
        off = 0.0 if before is None else state.speed - before
        today = f", {abs(off):.1f} {'faster' if off > 0 else 'slower'} than in that air" if abs(off) >= MATTERS else ""
        rows.append(f"{line.name}, {stick}: {state.speed:.1f}{doubt} m/s{today}.")
    return tuple(rows)


def _change(card: ContestCard) -> tuple[str, str]:
    """What to change today, or nothing; and why. On a contest day crow alone may be trimmed, a proven plan only for
    the air."""
    if card.change is None:
        return "Change nothing.", "The vertical down has no steady speed to judge a change by."
    page = change_page(card.change)
    if page.none:
        return "Change nothing.", page.why
    if _small(card.change) and _by_the_air(card, card.change):
        return page.what, f"For today's air alone; put it back afterwards. {page.why} {page.check}".strip()
    if card.proven is not None or card.frozen:
        held = "proven" if card.proven is not None else "frozen"
        return "Change nothing.", f"The plan is {held}. For a practice day: {page.what} {page.why}"
    if not _small(card.change):
        return "Change nothing today.", f"For a practice day, with the first flights again: {page.what} {page.why}"
    return page.what, f"{page.why} {page.check}".strip()


def _small(change: Change) -> bool:
    """Crow alone, by an angle that needs no first flights."""
    return all(
        step.lever == "crow"
        and isinstance(step.before, float)
        and isinstance(step.after, float)
        and abs(step.after - step.before) <= SMALL
        for step in change.steps
    )


def _by_the_air(card: ContestCard, change: Change) -> bool:
    """The speed is off by today's air: in the plan's own air it would be on."""
    usual = card.usual.get("vertical down")
    effect = next((item for item in change.effects if item.target == "down speed"), None)
    if usual is None or effect is None:
        return False
    return abs(usual - effect.wanted) <= effect.tolerance < abs(effect.now.value - effect.wanted)


def _learned(card: ContestCard) -> list[str]:
    """What the speeds rest on, where it is not flights with this very plan."""
    found, level = card.learned, card.predicted.plan.motor.level
    if found is None:
        return ["No flight has taught what holds for this plan yet: the speeds are those of the files alone."]
    if found.alike == "plan":
        return []
    last = f"{found.row.date[:10]}, learned last"
    if found.alike == "level":
        return [f"Nothing was learned with this plan yet; the speeds rest on {last} at its motor-brake level {level}."]
    return [
        f"Nothing was learned at motor-brake level {level} yet; the speeds rest on {last}, at level {found.level}. How "
        f"hard level {level} brakes is half known from there."
    ]


def _open(card: ContestCard) -> list[str]:
    found = [
        f"{part.row.date[:10]}, {part.part.name}: not done again yet: {', '.join(part.open)}." for part in card.parts
    ]
    for item in card.waiting:
        check = f" Look for it: {item.check}" if item.check else ""
        found.append(f"{item.date[:10]}, changed: {item.what} What it did was not seen yet.{check}".strip())
    return found
