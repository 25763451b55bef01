"""Why: from what the pilot saw to ranked causes and the checks that tell them apart."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from evenfall.air import Air
from evenfall.fit.calibrate import Calibration
from evenfall.fit.diagnose import Answer, Case, check_signs, prepare_case
from evenfall.fit.diagnose import diagnose as weigh
from evenfall.fit.learned import Learned
from evenfall.fit.shows import shows
from evenfall.lines.survey import Tables, plan_tables, tables_for
from evenfall.radio.plan import Plan
from evenfall.workflow.learning import FlightInput, LearnAnswer, learn, taught_ready
from evenfall.workflow.observed import observed_on
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, made_ready, plane_and_plan, silent

UNEVEN = "uneven"
"""The sign that pieces of evidence which disagree with all others stand for."""


@dataclass(frozen=True, kw_only=True)
class Diagnosis:
    """Causes of what was seen, with everything they were weighed with. `case` serves again for other signs."""

    ready: Ready
    plan: Plan
    plan_name: str
    case: Case
    answer: Answer


def diagnose(
    plane: PlaneInput,
    plan: PlanInput | None,
    signs: Collection[str],
    *,
    absent: Collection[str] = (),
    air: Air | None = None,
    learned: Learned | Calibration | None = None,
    proven: Learned | None = None,
    case: Case | None = None,
    tables: Tables | None = None,
    progress: Progress = silent,
) -> Diagnosis:
    """Ranked causes of signs on this plane with this plan.

    Args:
        signs, absent: what was seen, and what was looked for and not seen, by key (`evenfall.fit.causes.chart`).
        air: the air the plan was made for; None takes the standard atmosphere at sea level.
        learned: what flights with this plan have taught, on top of `proven` where that is given. Of a calibration,
            pieces that lie far from all the others also count as the sign `UNEVEN`, unless that was looked for and not
            seen.
        proven: what flights with this plan had taught before anything was wrong: signs then mean against what they
            taught, and only what has come since counts.
        case: of an earlier diagnosis of the same plane, plan and air: then nothing is solved again.
        tables: of a prediction of the same plane, plan and air: then its balances serve again.

    Raises `FileFaults` for files that cannot be used, `InputError` for unknown signs.
    """
    check_signs(signs, absent)
    flights = learned.learned if isinstance(learned, Calibration) else learned
    if flights is not None and proven is not None:
        flights = _beyond(flights, proven)
    seen = set(signs)
    if isinstance(learned, Calibration) and any(check.outlier for check in learned.checks) and UNEVEN not in absent:
        seen.add(UNEVEN)
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air, progress=progress)
    if proven is not None:
        ready = taught_ready(ready, proven, chosen)
        tables = None if tables is None else tables_for(tables, ready.file.plane)
    if case is None:
        progress("what every cause would show")
        solved = tables or plan_tables(ready.frame, chosen, wanted=ready.wanted)
        case = prepare_case(shows(ready.frame, ready.unit, chosen, solved), since=proven is not None)
    progress("causes")
    answer = weigh(case, seen, absent=absent, flights=flights)
    return Diagnosis(ready=ready, plan=chosen, plan_name=name, case=case, answer=answer)


def _beyond(learned: Learned, proven: Learned) -> Learned:
    """What was learned against what had been taught before."""
    known = dict(zip(proven.names, proven.mean.tolist(), strict=True))
    less = np.array([known.get(name, 0.0) for name in learned.names])
    return replace(learned, mean=learned.mean - less)


def diagnose_flights(
    plane: PlaneInput,
    plan: PlanInput,
    signs: Collection[str],
    *,
    absent: Collection[str] = (),
    flights: Sequence[FlightInput] = (),
    before: Sequence[FlightInput] = (),
    air: Air | None = None,
    progress: Progress = silent,
) -> Diagnosis:
    """`diagnose` with flights taken in, files as `learn` takes them, all flown with that plan.

    Args:
        flights: with what is wrong; the signs they name themselves count, and those that a measured drift or a change
            of trim shows or rules out. before: when all was well.
    """
    check_signs(signs, absent)
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air, progress=progress)
    tables, proven, now = None, None, None
    named = set(signs)

    def taught(files: Sequence[FlightInput], start: Learned | None) -> LearnAnswer:
        return learn(ready, chosen, files, before=start, advise=False, progress=progress)

    if before:
        found = taught(before, None)
        tables = found.untaught.tables
        proven = None if found.calibration is None else found.calibration.learned
    if flights:
        found = taught(flights, proven)
        tables, now = found.untaught.tables, found.calibration
        shown = observed_on(found.records, speed=ready.wanted)
        named |= ({sign for record in found.records for sign in record.signs} | shown.seen) - set(absent)
        absent = set(absent) | (shown.absent - named)
    answer = diagnose(ready, chosen, named, absent=absent, learned=now, proven=proven, tables=tables, progress=progress)
    return replace(answer, plan_name=name)
