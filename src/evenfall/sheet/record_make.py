"""The season from the logbook: flights, changes, parts, what was learned and proven, in words."""

from __future__ import annotations

from collections.abc import Mapping

from evenfall.plane.files import PlaneFile
from evenfall.record.parts import PARTS, SOURCE, Part
from evenfall.record.rows import ChangeRow, LearnedRow
from evenfall.sheet.flight_form import LADDER
from evenfall.sheet.pages import Spreading
from evenfall.sheet.record_page import (
    DoneAgainPage,
    FlightEntryPage,
    OriginalPage,
    PartPage,
    SeasonPage,
    SeasonRowPage,
)
from evenfall.workflow.recording import DoneAgain, Season, SeasonFlight, SeasonPart

DOWN = "vertical down"
_KINDS = {
    "recorded": ("recorded flight", "recorded flights"),
    "timed": ("timed line", "timed lines"),
    "clicked": ("line from video", "lines from video"),
    "sound": ("sound", "sounds"),
    "rolls": ("set of timed rolls", "sets of timed rolls"),
    "pull": ("bent line", "bent lines"),
    "heading": ("drift", "drifts"),
    "held": ("holding stick", "holding sticks"),
    "steady": ("settled speed", "settled speeds"),
    "shaft": ("shaft speed", "shaft speeds"),
    "damping": ("spin-down", "spin-downs"),
    "trim": ("trim change", "trim changes"),
}
"""Kinds of entries, one and several."""
_SHOWN = 80
"""Characters of the pilot's notes shown in a list."""


def season_page(season: Season, plane: PlaneFile) -> SeasonPage:
    """The page of a season; newest first."""
    rows = [row for _, row in sorted(_rows(season), key=lambda item: item[0], reverse=True)]
    return SeasonPage(
        plane=season.plane,
        note=season.note,
        flights=tuple(flight_entry(flight) for flight in reversed(season.flights)),
        rows=tuple(rows),
        parts=tuple(part_page(part) for part in reversed(season.parts)),
        kinds=part_kinds(plane),
        wanted_m_s=season.wanted,
    )


def empty_season(plane: PlaneFile) -> SeasonPage:
    """The page of a plane of which nothing was entered yet."""
    return SeasonPage(
        plane=plane.plane.name,
        note="",
        flights=(),
        rows=(),
        parts=(),
        kinds=part_kinds(plane),
        wanted_m_s=plane.plane.wanted.speed,
    )


def flight_entry(flight: SeasonFlight) -> FlightEntryPage:
    """A flight in the list."""
    row = flight.row
    return FlightEntryPage(
        token=row.token,
        date=row.date,
        place=row.place,
        plan="" if flight.plan is None else flight.plan.name,
        plan_hash=row.plan or "",
        pieces=row.pieces,
        words=seen_words(flight),
        revision=row.revision,
        removed=row.removed,
        originals=tuple(
            OriginalPage(hash=item.hash, name=item.name, size=item.size, kept=item.path is not None)
            for item in flight.originals
        ),
    )


def seen_words(flight: SeasonFlight) -> str:
    """What was seen, short: evidence counted, signs, the pilot's notes.

    >>> from evenfall.record.rows import FlightRow
    >>> seen_words(SeasonFlight(row=FlightRow(date="2026-05-01", notes="calm"), plan=None, seen={"timed": 2}))
    '2 timed lines; calm'
    >>> seen_words(SeasonFlight(row=FlightRow(date="2026-05-01"), plan=None, seen={"rolls": 1, "pull": 2}))
    '1 set of timed rolls, 2 bent lines'
    """
    said = [f"{many} {_KINDS[kind][many > 1]}" for kind, many in flight.seen.items() if kind in _KINDS]
    parts = [", ".join(said), ", ".join(flight.signs), _short(flight.row.notes)]
    return "; ".join(part for part in parts if part) or "nothing written down"


def part_page(part: SeasonPart) -> PartPage:
    """A replaced part with what it voids and what is still open."""
    where = f", {part.row.corner.replace('_', ' ')}" if part.row.corner else ""
    note = f": {part.row.note}" if part.row.note else ""
    return PartPage(
        key=part.row.part + (f":{part.row.corner}" if part.row.corner else ""),
        date=part.row.date,
        words=f"{part.part.name}{where}{note}",
        voids=part.part.voids,
        open=part.open,
        done=tuple(
            DoneAgainPage(test=done.test, date=done.date, noted=done.noted, words=done_words(done))
            for done in part.done
        ),
        why=f"{part.part.why} ({SOURCE})",
        token=part.row.id,
    )


def done_words(done: DoneAgain) -> str:
    """A test done again, when, and who says so.

    >>> done_words(DoneAgain(test="range check", date="2026-05-18", noted=True))
    'range check: done again on 2026-05-18, noted by the pilot'
    """
    who = "noted by the pilot" if done.noted else "shown by the flight of that day"
    return f"{done.test}: done again on {done.date[:10]}, {who}"


def part_kinds(plane: PlaneFile) -> tuple[PartPage, ...]:
    """What can be replaced on this plane; of each aileron's own parts one for every corner."""
    corners = [
        f"{name}_{side}"
        for name, wing in plane.plane.wings.items()
        if wing.aileron is not None
        for side in ("left", "right")
    ]
    found = []
    for key, part in PARTS.items():
        if part.one_corner and corners:
            found += [_kind(f"{key}:{corner}", part, f"{part.name}, {corner.replace('_', ' ')}") for corner in corners]
        else:
            found.append(_kind(key, part, part.name))
    return tuple(found)


def _kind(key: str, part: Part, words: str) -> PartPage:
    return PartPage(key=key, date="", words=words, voids=part.voids, open=(), why=f"{part.why} ({SOURCE})")


def _rows(season: Season) -> list[tuple[tuple[str, str], SeasonRowPage]]:
    """Everything with (date, when entered) to sort by."""
    believed = _Believed(season)
    found: list[tuple[tuple[str, str], SeasonRowPage]] = []

    def add(date: str, at: str, row: SeasonRowPage) -> None:
        found.append(((date[:10], at), row))

    for flight in season.flights:
        if not flight.row.removed:
            plan = "" if flight.plan is None else f"Flown with {flight.plan.name}. "
            words = f"{plan}{flight.row.place + ': ' if flight.row.place else ''}{seen_words(flight)}"
            add(flight.row.date, flight.row.at, _row("flight", flight.row.date, words, down=believed.at(flight.row.at)))
    for change in season.changes:
        row = _row("change", change.date, change.what, why=change.why, effect=believed.effect(change))
        add(change.date, change.at, row.model_copy(update={"down_m_s": believed.at(change.at)}))
    for part in season.parts:
        left = f"Not done again yet: {', '.join(part.open)}." if part.open else "Everything it voids was done again."
        page = part_page(part)
        for done in part.done:
            if done.noted:
                add(
                    done.date,
                    part.row.at,
                    _row("test", done.date, f"{done_words(done)}.", why=f"Voided {part.row.date[:10]}: {page.words}."),
                )
        add(part.row.date, part.row.at, _row("part", part.row.date, page.words, why=part.part.why, effect=left))
    for learned in season.learned:
        flights = len(learned.flights)
        words = f"Learned from {flights} {'flight' if flights == 1 else 'flights'}."
        row = _row("learned", learned.date, words, effect=_speeds(learned), down=_down(learned))
        add(learned.date, learned.at, row)
    for proven in season.proven:
        name = season.plans[proven.plan].name if proven.plan in season.plans else proven.plan[:12]
        row = _row("proven", proven.date, f"{name} is proven.", why=proven.why, down=believed.at(proven.at))
        add(proven.date, proven.at, row)
    for text in season.plans.values():
        add(text.at[:10], text.at, _row("plan", text.at[:10], f"{text.name} entered ({text.key[:12]})."))
    return found


def _row(
    what: str, date: str, words: str, *, why: str = "", effect: str = "", down: Spreading | None = None
) -> SeasonRowPage:
    return SeasonRowPage.model_validate(
        {"date": date, "what": what, "words": words, "why": why, "effect": effect, "down_m_s": down}
    )


class _Believed:
    """What the vertical down speed was believed to be at a moment."""

    def __init__(self, season: Season) -> None:
        self._learned = season.learned

    def at(self, moment: str) -> Spreading | None:
        """As learned last before a moment of entering."""
        before = [row for row in self._learned if row.at <= moment]
        return _down(before[-1]) if before else None

    def effect(self, change: ChangeRow) -> str:
        """What a change did: as noted; else how the belief moved from before it to after it."""
        if change.effects:
            return "; ".join(words for _, words in change.effects)
        after = [row for row in self._learned if row.at > change.at and row.plan == change.to_plan]
        then, now = self.at(change.at), _down(after[-1]) if after else None
        if then is None or now is None:
            return ""
        return f"Vertical down believed at {_speed(then)} before, {_speed(now)} after."


def _down(row: LearnedRow) -> Spreading | None:
    found = row.speeds.get(DOWN)
    return None if found is None else Spreading(value=found[0], spread=found[1], causes=())


def _speeds(row: LearnedRow) -> str:
    speeds: Mapping[str, tuple[float, float]] = row.speeds
    lines = [line for line in LADDER if line in speeds] + [line for line in speeds if line not in LADDER]
    return ", ".join(f"{line} {speeds[line][0]:.1f} ± {speeds[line][1]:.1f} m/s" for line in lines)


def _speed(number: Spreading) -> str:
    return f"{number.value:.1f} ± {number.spread or 0.0:.1f} m/s"


def _short(words: str) -> str:
    line = " ".join(words.split())
    return line if len(line) <= _SHOWN else f"{line[: _SHOWN - 3].rstrip()}..."
