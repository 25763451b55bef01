"""Learn: what flights say about a plane with a plan, before and after, and what to change and fly next."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from evenfall.advise.change import Change, next_change
from evenfall.advise.flight import Instrument, LineName, NextFlight, next_flight
from evenfall.advise.outlook import Balances
from evenfall.air import Air
from evenfall.errors import EvenfallError, Fault, InputError
from evenfall.estimate import Estimate
from evenfall.fit.calibrate import Calibration, calibrate
from evenfall.fit.expected import expectations
from evenfall.fit.ground import Ground
from evenfall.fit.learned import Learned, prior, taught
from evenfall.fit.left_out import others_expect
from evenfall.lines.survey import survey, tables_for
from evenfall.logs.evidence import Damping, Evidence, Pull
from evenfall.logs.evidence_entries import FlightRecord, Recorded, Sound
from evenfall.logs.evidence_file import load_flight
from evenfall.logs.recording import kind_of_file
from evenfall.radio.plan import Plan
from evenfall.record.parts import DIAGONAL, LEVEL, STRAIGHT, Part
from evenfall.workflow.closed_lines import DOWN_LINES, closed_lines, told_alike, without_crow
from evenfall.workflow.gathering import Gathered, evidence_of, together
from evenfall.workflow.prediction import Predicted, complete, predict
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, made_ready, plane_and_plan, silent

__all__ = ["ClosedSpeeds", "Gathered", "LearnAnswer", "evidence_of", "flight_of", "learn", "taught_ready", "unlocked"]

FlightInput = str | os.PathLike[str] | FlightRecord
"""A flight as a job takes it: path of its file, or of a record or a sound by itself, or read already."""


@dataclass(frozen=True, kw_only=True)
class ClosedSpeeds:
    """A line down with the stick closed, m/s, before and after flights; None without a steady speed."""

    line: str
    before: Estimate | None
    after: Estimate | None


@dataclass(frozen=True, kw_only=True)
class Earlier:
    """Flights with another plan, or before a part was replaced, that were learned from first.

    Args:
        plan: the one flown. calibration, expected: as in `LearnAnswer`.
        since: parts replaced since these flights.
    """

    plan: Plan
    records: tuple[FlightRecord, ...]
    gathered: Gathered
    calibration: Calibration | None
    expected: tuple[float | None, ...]
    since: tuple[Part, ...] = ()

    @property
    def opens(self) -> bool:
        """These flights still open the lines they were flown on: no part since has voided the first flights."""
        return not any(LEVEL in part.voids or DIAGONAL in part.voids for part in self.since)

    @property
    def bends(self) -> bool:
        """The pulls they saw still hold."""
        return pulls_hold(self.since)


@dataclass(frozen=True, kw_only=True)
class LearnAnswer:
    """What flights have taught.

    Args:
        records: the flights. gathered: evidence of all of them together.
        ground, calibration: None where there was nothing to learn from.
        known: what is believed after all, None where it is what the engine believes before any flight.
        earlier: flights that were learned from before these.
        untaught, taught: predictions of the plan before and after, in the same air and at the same wanted speed.
        expected: for each piece what all the others expect, see `evenfall.fit.left_out.others_expect`.
        closed: lines down with the stick closed. clean: the same with crow switched off, m/s, as far as they have one.
        change, flight: what to change and to fly next; None where nothing can be said, or it was not asked for.
    """

    ready: Ready
    plan: Plan
    plan_name: str
    records: tuple[FlightRecord, ...]
    gathered: Gathered
    ground: Ground
    calibration: Calibration | None
    untaught: Predicted
    taught: Predicted | None
    expected: tuple[float | None, ...]
    closed: tuple[ClosedSpeeds, ...]
    change: Change | None
    flight: NextFlight | None
    known: Learned | None = None
    earlier: tuple[Earlier, ...] = ()
    clean: Mapping[str, float] = field(default_factory=dict)


def pulls_hold(since: Iterable[Part]) -> bool:
    """How a plane bent still holds after these parts were replaced."""
    return not any(STRAIGHT in part.voids or "crow_moment" in part.unlearns for part in since)


def flight_of(given: FlightInput) -> FlightRecord:
    """A flight: read from its file, or made of a record (its lines are cut out by themselves) or a sound alone."""
    if isinstance(given, FlightRecord):
        return given
    path = Path(given)
    if not path.exists():
        raise InputError(f"{path}: there is no such file; `evenfall learn --template FILE` writes one to fill in")
    if path.suffix.lower() == ".toml" or not path.is_file():
        return load_flight(path)
    kind = kind_of_file(path)
    if kind == "other":
        raise InputError(
            f"{path}: is neither a flight file (NAME.flight.toml) nor a record that is read (CSV, GPX, NMEA, WAV)"
        )
    if kind == "wav":
        from evenfall.logs.evidence_entries import LINES, Flown

        down = Flown(slope=LINES["vertical down"], line="vertical down")
        entry: Recorded | Sound = Sound(name=path.name, where="sound.0", what="line", flown=down, file=path.name)
    else:
        entry = Recorded(name=path.name, where="recorded.0", file=path.name)
    return FlightRecord(path=str(path), entries=(entry,))


def learn(
    plane: PlaneInput,
    plan: PlanInput,
    records: Sequence[FlightInput],
    *,
    folder: Path | None = None,
    before: Learned | None = None,
    earlier: Sequence[Earlier] = (),
    air: Air | None = None,
    untaught: Predicted | None = None,
    advise: bool = True,
    progress: Progress = silent,
) -> LearnAnswer:
    """What flights of a plane with a plan teach.

    Args:
        plane, plan: paths, or loaded. records: flights, all flown with that plan.
        folder: where the files they name lie; None is beside each flight file.
        before: what was believed before; None is the engine's prior. air: of the predictions.
        earlier: flights that `before` was learned from.
        untaught: the prediction before flights where it is known already. advise: work out what to do next as well.

    Raises `FileFaults` for files that cannot be used, `InputError` for one that is named twice.
    """
    _each_once(records)
    flights = tuple(flight_of(record) for record in records)
    given, chosen, name = plane_and_plan(plane, plan)
    ready = untaught.ready if untaught is not None else made_ready(given, air, progress=progress)
    untaught = untaught or predict(ready, plan, progress=progress)
    gathered = together([evidence_of(one, ready, chosen, folder=folder, progress=progress) for one in flights])
    progress("learning")
    ground = Ground(frame=ready.frame, unit=ready.unit, plan=chosen, wanted=ready.wanted)
    gathered, calibration = fitted(ground, gathered, before)
    after: Predicted | None = None
    expected: tuple[float | None, ...] = ()
    closed_before = closed_lines(ready, chosen, untaught.tables)
    closed_after = closed_before
    clean = without_crow(ready, chosen, untaught.tables)
    known = before
    if calibration is not None:
        expected = others_expect(ground, gathered.evidence, calibration)
        known = calibration.learned
    if known is not None:
        progress("with what was learned")
        then = taught_ready(ready, known, chosen)
        tables = tables_for(untaught.tables, then.file.plane)
        done = survey(then.unit, chosen, tables)
        after = complete(then, chosen, name, tables, done, bends=None, progress=progress)
        closed_after = closed_lines(then, chosen, tables)
        clean = without_crow(then, chosen, tables)
    change, flight = None, None
    if advise:
        progress("what next")
        change, flight = _advised(ready, chosen, known, earlier, gathered, ground)
        change, flight = told_alike(change, flight, closed_after[DOWN_LINES[0]])
    return LearnAnswer(
        ready=ready,
        plan=chosen,
        plan_name=name,
        records=flights,
        gathered=gathered,
        ground=ground,
        calibration=calibration,
        untaught=untaught,
        taught=after,
        expected=expected,
        closed=tuple(
            ClosedSpeeds(line=line, before=speed, after=closed_after[line]) for line, speed in closed_before.items()
        ),
        change=change,
        flight=flight,
        known=known,
        earlier=tuple(earlier),
        clean=clean,
    )


def _each_once(records: Sequence[FlightInput]) -> None:
    """Raise where a file is named twice: what it tells would count twice."""
    seen: set[str] = set()
    for record in records:
        if isinstance(record, FlightRecord):
            continue
        place = os.path.realpath(record)
        if place in seen:
            raise InputError(f"{os.fspath(record)} is named twice and would count twice; name it once")
        seen.add(place)


def _advised(
    ready: Ready,
    plan: Plan,
    learned: Learned | None,
    earlier: Sequence[Earlier],
    gathered: Gathered,
    ground: Ground,
) -> tuple[Change | None, NextFlight | None]:
    """The next change and the next flight from what is known now; `gathered` was flown with this plan."""
    flown = [*((one.plan, one.gathered) for one in earlier if one.bends), (plan, gathered)]
    pulls = [(own, piece) for own, part in flown for piece in part.evidence if isinstance(piece, Pull)]
    opened = together([*(one.gathered for one in earlier if one.opens), gathered])
    balances = Balances(ready=ready)
    change = None
    if learned is not None:
        change = next_change(ready, plan, learned, pulls=pulls, balances=balances)
    flight = next_flight(
        ready,
        plan,
        learned,
        unlocked=unlocked(opened.evidence),
        instruments=_instruments(together([*(one.gathered for one in earlier), gathered])),
        pulls=pulls,
        balances=balances,
        ground=ground,
    )
    return change, flight


def unlocked(evidence: Sequence[Evidence]) -> tuple[LineName, ...]:
    """Lines that may be flown next: what was flown down already, and the gate after the steepest of it."""
    slopes = [piece.flight.slope for piece in evidence if not isinstance(piece, Damping)]
    steepest = min(slopes, default=math.inf)
    found: list[LineName] = ["bench", "level"]
    if steepest < math.inf:
        found.append("45 down")
    if steepest < math.radians(-30):
        found.append("vertical down")
    return tuple(found)


def _instruments(gathered: Gathered) -> tuple[Instrument, ...]:
    """What the pilot has shown to have; a stopwatch everybody has."""
    kinds = {source.partition(".")[0] for source in gathered.sources}
    owned: dict[str, Instrument] = {"recorded": "recorder", "clicked": "video", "sound": "sound"}
    return ("stopwatch", *(instrument for kind, instrument in owned.items() if kind in kinds))


def taught_ready(ready: Ready, learned: Learned, plan: Plan | None) -> Ready:
    """The plane with what was learned, in the same air and at the same wanted speed; None: no level is chosen yet."""
    plane = taught(ready.file.plane, learned, level=None if plan is None else plan.motor.level)
    return replace(
        ready,
        file=replace(ready.file, plane=plane),
        frame=replace(ready.frame, plane=plane),
        unit=replace(ready.unit, plane=plane),
    )


_NO_ANSWER = (EvenfallError, ArithmeticError, ValueError, IndexError)
"""What the engine raises on a line that it cannot balance."""


def fitted(ground: Ground, gathered: Gathered, before: Learned | None) -> tuple[Gathered, Calibration | None]:
    """Corrections from everything usable; the pieces that are not become faults. None where nothing is left."""
    if not gathered.evidence:
        return gathered, None
    try:
        return gathered, calibrate(ground, gathered.evidence, before=before)
    except _NO_ANSWER:
        gathered = usable(ground, gathered)
    return gathered, calibrate(ground, gathered.evidence, before=before) if gathered.evidence else None


def usable(ground: Ground, gathered: Gathered) -> Gathered:
    """The pieces of which the engine expects a number at all; the others become faults."""
    names = prior().names
    kept: list[tuple[Evidence, str]] = []
    faults: list[Fault] = []

    def wrong(pieces: Sequence[Evidence]) -> str:
        try:
            found = expectations(ground, pieces, names, np.zeros(len(names)), np.ones(len(pieces)))
        except _NO_ANSWER as error:
            return str(error) or "the engine finds no answer on that line"
        sound = all(np.all(np.isfinite(one.residual)) and np.all(np.isfinite(one.jacobian)) for one in found)
        return "" if sound else "the engine finds no answer on that line"

    if not gathered.evidence or not wrong(gathered.evidence):
        return gathered
    for piece, source in zip(gathered.evidence, gathered.sources, strict=True):
        if words := wrong([piece]):
            faults.append(Fault(where=source, message=f"{piece.name}: {words}"))
        else:
            kept.append((piece, source))
    return replace(
        gathered,
        evidence=tuple(piece for piece, _ in kept),
        sources=tuple(source for _, source in kept),
        faults=(*gathered.faults, *faults),
    )
