"""Learn from the logbook: every flight of a plane with the plan and the plane file it was flown with, in order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenfall.air import Air
from evenfall.errors import EvenfallError
from evenfall.fit.calibrate import calibrate
from evenfall.fit.forgotten import forgot
from evenfall.fit.ground import Ground
from evenfall.fit.learned import Learned, crow_set_anew, for_level
from evenfall.fit.left_out import others_expect
from evenfall.lines.spread import CROW_SETTING
from evenfall.logs.evidence import Pull
from evenfall.logs.evidence_entries import PullSeen
from evenfall.plane.electrics import Controller
from evenfall.plane.files import PlaneFile, parse_plane
from evenfall.radio.plan import Plan, present_plan
from evenfall.radio.planfile import parse_plan
from evenfall.record.logbook import Logbook
from evenfall.record.parts import PARTS
from evenfall.record.row_making import today
from evenfall.record.rows import FlightRow, LearnedRow
from evenfall.workflow.gathering import evidence_of, together
from evenfall.workflow.learning import Earlier, LearnAnswer, learn, pulls_hold, usable
from evenfall.workflow.prediction import Predicted
from evenfall.workflow.ready import PlaneInput, Progress, Ready, made_ready, plane_file, prepare, silent
from evenfall.workflow.recording import originals_folder, record_of


@dataclass(frozen=True, kw_only=True)
class Relearned:
    """What all flights in the logbook have taught.

    Args:
        answer: of the flights with this plan since the last part was replaced, on top of all before.
        before: what the others had taught; None where there were none.
        flights: tokens of the flights learned from. notes: what was left out or forgotten, in words.
    """

    answer: LearnAnswer
    before: Learned | None
    flights: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def learned(self) -> Learned | None:
        """Everything together; None where nothing could be learned."""
        return self.answer.known


def learn_from_log(
    book: Logbook,
    plane: PlaneInput,
    plan_text: str,
    *,
    plan_name: str = "plan",
    air: Air | None = None,
    untaught: Predicted | None = None,
    advise: bool = True,
    progress: Progress = silent,
) -> Relearned:
    """What the flights of a plane in the logbook teach, with what to change and fly next for this plan.

    Flights with other plans or other versions of the plane file are learned from first, each with its own; one that
    was entered without a plan was flown by the plane as it was then. Where a part was replaced, the corrections it
    touches start again. `untaught`: the prediction of this plan before flights, where it is known already.
    """
    file = plane_file(plane)
    name, plan = file.plane.name, parse_plan(plan_text, file.plane, path=plan_name)
    texts = {text.key: text.body for text in book.texts()}
    parts = [row for row in book.parts(name) if row.part in PARTS]
    ready = made_ready(plane if isinstance(plane, Ready) else file, air, progress=progress)
    grounds: dict[str, Ready] = {file.content_hash: ready}
    learned: Learned | None = None
    earlier: list[Earlier] = []
    used: list[str] = []
    notes: list[str] = []
    last: list[FlightRow] = []
    epochs = _epochs(book.flights(name), [row.date for row in parts])
    for number, flights in enumerate(epochs):
        if number:
            part = parts[number - 1]
            earlier = [replace(one, since=(*one.since, PARTS[part.part])) for one in earlier]
            if learned is not None and PARTS[part.part].unlearns:
                learned = forgot(learned, PARTS[part.part].unlearns)
                notes.append(
                    f"{part.date[:10]}, {PARTS[part.part].name}: what flights before it taught about what it touches "
                    "is forgotten."
                )
        final = number == len(epochs) - 1
        last = [row for row in flights if final and row.plane == file.content_hash and _is(texts, row, file, plan)]
        for keys, group in _groups([row for row in flights if row not in last]):
            try:
                taught = _taught(book, group, keys, texts, grounds, learned, earlier, progress=progress)
            except EvenfallError as error:
                notes.append(f"{group[0].date[:10]}: {len(group)} not learned from: {error}")
                continue
            earlier.append(taught)
            if taught.calibration is not None:
                learned = taught.calibration.learned
                used += [row.token for row in group]
    records = []
    for row in last:
        try:
            records.append(record_of(book, row))
            used.append(row.token)
        except EvenfallError as error:
            notes.append(f"{row.date[:10]} {row.name}: not learned from: {error}")
    answer = learn(
        ready,
        plan,
        records,
        folder=originals_folder(book),
        before=_set_anew(learned, earlier, plan, file.plane.controller),
        earlier=earlier,
        untaught=untaught,
        advise=advise,
        progress=progress,
    )
    return Relearned(answer=answer, before=learned, flights=tuple(used), notes=tuple(notes))


def keep_learned(book: Logbook, found: Relearned, *, plane_text: str, plan_text: str, plan_name: str) -> str | None:
    """Enter what was learned into the logbook; its id, None where nothing was. The same again is not entered twice."""
    learned = found.learned
    if learned is None:
        return None
    name = found.answer.ready.file.plane.name
    after = found.answer.taught or found.answer.untaught
    row = LearnedRow(
        date=today(),
        plane=book.keep_text("plane", name, plane_text),
        plan=book.keep_text("plan", plan_name, plan_text),
        plane_name=name,
        names=learned.names,
        mean=tuple(float(value) for value in learned.mean),
        covariance=tuple(tuple(float(value) for value in line) for line in learned.covariance),
        flights=found.flights,
        speeds=speeds_of(after),
        notes=found.notes,
    )
    before = book.learned(name)
    if before is not None and before.flights == row.flights and before.plan == row.plan:
        same = before.names == row.names and np.allclose(before.mean, row.mean, rtol=0, atol=1e-9)
        if same:
            return before.id
    return book.add_learned(row)


def pulls_of(book: Logbook, ready: Ready) -> tuple[tuple[Plan, Pull], ...]:
    """Every pull in the logbook that still holds for a plane, with the plan it was flown with, oldest first.

    Flights that cannot be read again for the plane as it is are left out.
    """
    file = ready.file
    texts = {text.key: text.body for text in book.texts()}
    parts = [(row.date[:10], PARTS[row.part]) for row in book.parts(file.plane.name) if row.part in PARTS]
    found: list[tuple[Plan, Pull]] = []
    for row in book.flights(file.plane.name):
        if not pulls_hold(part for day, part in parts if day >= row.date[:10]):
            continue
        try:
            plan, record = _plan_of(texts, row.plan, file), record_of(book, row)
        except EvenfallError:
            continue
        seen = evidence_of(replace(record, entries=record.of(PullSeen)), ready, plan).evidence
        found += [(plan, piece) for piece in seen if isinstance(piece, Pull)]
    return tuple(found)


def learned_of(row: LearnedRow) -> Learned:
    """Kept corrections as the engine takes them."""
    return Learned(names=row.names, mean=np.array(row.mean), covariance=np.array(row.covariance))


def speeds_of(predicted: Predicted) -> dict[str, tuple[float, float]]:
    """Each line's steady speed and one sigma, m/s, where there is one."""
    found = {}
    for line, estimates in predicted.estimates.items():
        entry = predicted.survey.line(line)
        for state, estimate in zip(entry.steady, estimates, strict=True):
            if state.state.stable and estimate is not None and line not in found:
                found[line] = (float(estimate.value), float(estimate.spread))
    return found


def _epochs(flights: Sequence[FlightRow], parts: Sequence[str]) -> list[list[FlightRow]]:
    """Flights between the days parts were replaced; a flight of that day counts to what came before."""
    days = sorted(date[:10] for date in parts)
    epochs: list[list[FlightRow]] = [[] for _ in range(len(days) + 1)]
    for row in flights:
        epochs[sum(day < row.date[:10] for day in days)].append(row)
    return epochs


def same(one: Plan, other: Plan) -> bool:
    """Two plans that fly alike: how the corners are fitted and what they were computed from does not matter."""
    return replace(one, computed_from={}, corners={}) == replace(other, computed_from={}, corners={})


def _plan_of(texts: Mapping[str, str], key: str | None, file: PlaneFile) -> Plan:
    """A kept plan; without one the plane as it is."""
    return present_plan(file.plane) if key is None else parse_plan(texts[key], file.plane, path="plan in the logbook")


def _is(texts: Mapping[str, str], row: FlightRow, file: PlaneFile, plan: Plan) -> bool:
    """A flight was flown with this plan."""
    try:
        return same(_plan_of(texts, row.plan, file), plan)
    except EvenfallError:
        return False


def _groups(flights: Sequence[FlightRow]) -> list[tuple[tuple[str, str | None], list[FlightRow]]]:
    """Flights with the same plane and plan, None for none."""
    found: dict[tuple[str, str | None], list[FlightRow]] = {}
    for row in flights:
        if row.plane is not None:
            found.setdefault((row.plane, row.plan), []).append(row)
    return list(found.items())


def _taught(
    book: Logbook,
    flights: Sequence[FlightRow],
    keys: tuple[str, str | None],
    texts: Mapping[str, str],
    grounds: dict[str, Ready],
    before: Learned | None,
    earlier: Sequence[Earlier],
    *,
    progress: Progress,
) -> Earlier:
    """What flights with one plan teach on top of `before`; no calibration where they hold nothing to learn from."""
    if keys[0] not in grounds:
        grounds[keys[0]] = prepare(parse_plane(texts[keys[0]], path="plane in the logbook"), progress=progress)
    ready = grounds[keys[0]]
    plan = _plan_of(texts, keys[1], ready.file)
    folder = originals_folder(book)
    records = tuple(record_of(book, row) for row in flights)
    gathered = together([evidence_of(record, ready, plan, folder=folder, progress=progress) for record in records])
    ground = Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted)
    gathered = usable(ground, gathered)
    if not gathered.evidence:
        return Earlier(plan=plan, records=records, gathered=gathered, calibration=None, expected=())
    done = calibrate(ground, gathered.evidence, before=_set_anew(before, earlier, plan, ready.file.plane.controller))
    expected = others_expect(ground, gathered.evidence, done)
    return Earlier(plan=plan, records=records, gathered=gathered, calibration=done, expected=expected)


def _set_anew(
    learned: Learned | None, earlier: Sequence[Earlier], plan: Plan, controller: Controller
) -> Learned | None:
    """What earlier flights have taught once crow has been set from the last of their plans to this one, and the motor
    brake to its level."""
    flown = [one.plan for one in earlier if one.calibration is not None]
    if learned is None or not flown:
        return learned
    learned = for_level(learned, controller, plan.motor.level, first=flown[0].motor.level)
    before, after = flown[-1].crow, plan.crow
    if before is None or after is None:
        return learned
    return crow_set_anew(learned, before.angle, after.angle, setting=CROW_SETTING)
