"""Learning from a whole season: every flight with the plan it was flown with, in the order of what was changed.

Flights of one plan between two replaced parts are fitted together; what they teach is what is believed before the next.
Where a part was replaced, what its table says no longer holds is forgotten back to the engine's own doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from evenfall.fit.calibrate import calibrate
from evenfall.fit.ground import Ground
from evenfall.fit.learned import Learned, prior
from evenfall.fit.left_out import others_expect
from evenfall.logs.evidence_entries import FlightRecord
from evenfall.radio.plan import Plan
from evenfall.workflow.gathering import evidence_of, together
from evenfall.workflow.learning import Earlier, LearnAnswer, learn, usable
from evenfall.workflow.prediction import Predicted
from evenfall.workflow.ready import Progress, Ready, silent


@dataclass(frozen=True, kw_only=True)
class FlownWith:
    """A flight and the plan it was flown with."""

    record: FlightRecord
    plan: Plan


@dataclass(frozen=True, kw_only=True)
class Replaced:
    """A part replaced on a day, ISO 8601, and the corrections that have to be learned again."""

    date: str
    unlearns: tuple[str, ...]


def learn_season(
    untaught: Predicted,
    flights: Sequence[FlownWith],
    *,
    replaced: Sequence[Replaced] = (),
    folder: Path | None = None,
    advise: bool = True,
    progress: Progress = silent,
) -> LearnAnswer:
    """What all flights of a plane teach about one plan.

    Args:
        untaught: prediction of that plan before flights. flights: oldest first. replaced: oldest first; a flight of
            the same day counts as flown before. folder: where the files lie that flights name.

    Flights with that plan after the last replaced part are the answer's own, all others its `earlier`.
    """
    ready = untaught.ready
    own: list[FlightRecord] = []
    earlier: list[Earlier] = []
    known: Learned | None = None
    bounds = [part.date[:10] for part in replaced]
    for epoch in range(len(replaced) + 1):
        if epoch and known is not None:
            known = forgotten(known, replaced[epoch - 1].unlearns)
        since = [one for one in flights if sum(day < one.record.date[:10] for day in bounds) == epoch]
        for plan, records in _by_plan(since, last=untaught.plan):
            if epoch == len(replaced) and same(plan, untaught.plan):
                own = records
                continue
            part = _earlier(ready, plan, records, known, folder=folder, progress=progress)
            earlier.append(part)
            known = known if part.calibration is None else part.calibration.learned
    return learn(
        ready,
        untaught.plan,
        own,
        folder=folder,
        before=known,
        earlier=earlier,
        untaught=untaught,
        advise=advise,
        progress=progress,
    )


def same(one: Plan, other: Plan) -> bool:
    """Two plans that fly alike: how the corners are fitted and what they were computed from does not matter."""
    return replace(one, computed_from={}, corners={}) == replace(other, computed_from={}, corners={})


def forgotten(known: Learned, names: Sequence[str]) -> Learned:
    """What is believed once these corrections no longer hold; of a motor brake all its levels."""
    out = np.array([name.partition(":")[0] in names for name in known.names])
    fresh = prior(known.names)
    covariance = np.where(out[:, None] | out[None, :], fresh.covariance, known.covariance)
    return Learned(names=known.names, mean=np.where(out, fresh.mean, known.mean), covariance=covariance)


def _by_plan(flights: Sequence[FlownWith], *, last: Plan) -> list[tuple[Plan, list[FlightRecord]]]:
    """Flights by plan in the order in which each was flown last; those with `last` at the end."""
    groups: list[tuple[Plan, list[FlightRecord]]] = []
    for one in flights:
        at = next((k for k, (plan, _) in enumerate(groups) if same(plan, one.plan)), None)
        group = (one.plan, []) if at is None else groups.pop(at)
        group[1].append(one.record)
        groups.append(group)
    return sorted(groups, key=lambda group: same(group[0], last))


def _earlier(
    ready: Ready,
    plan: Plan,
    records: Sequence[FlightRecord],
    before: Learned | None,
    *,
    folder: Path | None,
    progress: Progress,
) -> Earlier:
    gathered = together([evidence_of(one, ready, plan, folder=folder, progress=progress) for one in records])
    ground = Ground(frame=ready.frame, unit=ready.unit, plan=plan, wanted=ready.wanted)
    gathered = usable(ground, gathered)
    flights = Earlier(plan=plan, records=tuple(records), gathered=gathered, calibration=None, expected=())
    if not gathered.evidence:
        return flights
    done = calibrate(ground, gathered.evidence, before=before)
    return replace(flights, calibration=done, expected=others_expect(ground, gathered.evidence, done))
