"""Why: from what the pilot saw to ranked causes and the checks that tell them apart."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from evenfall.air import Air
from evenfall.fit.calibrate import Calibration
from evenfall.fit.diagnose import Answer, Case, check_signs, prepare_case
from evenfall.fit.diagnose import diagnose as weigh
from evenfall.fit.learned import Learned
from evenfall.fit.shows import shows
from evenfall.lines.survey import Tables, plan_tables
from evenfall.radio.plan import Plan
from evenfall.workflow.learning import FlightInput, learn
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
    case: Case | None = None,
    tables: Tables | None = None,
    progress: Progress = silent,
) -> Diagnosis:
    """Ranked causes of signs on this plane with this plan.

    Args:
        signs, absent: what was seen, and what was looked for and not seen, by key (`evenfall.fit.causes.chart`).
        air: the air the plan was made for; None takes the standard atmosphere at sea level.
        learned: what flights with this plan have taught. Of a calibration, pieces that lie far from all the others also
            count as the sign `UNEVEN`, unless that was looked for and not seen.
        case: of an earlier diagnosis of the same plane, plan and air: then nothing is solved again.
        tables: of a prediction of the same plane, plan and air: then its balances serve again.

    Raises `FileFaults` for files that cannot be used, `InputError` for unknown signs.
    """
    check_signs(signs, absent)
    flights = learned.learned if isinstance(learned, Calibration) else learned
    seen = set(signs)
    if isinstance(learned, Calibration) and any(check.outlier for check in learned.checks) and UNEVEN not in absent:
        seen.add(UNEVEN)
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air, progress=progress)
    if case is None:
        progress("what every cause would show")
        solved = tables or plan_tables(ready.frame, chosen, wanted=ready.wanted)
        case = prepare_case(shows(ready.frame, ready.unit, chosen, solved))
    progress("causes")
    answer = weigh(case, seen, absent=absent, flights=flights)
    return Diagnosis(ready=ready, plan=chosen, plan_name=name, case=case, answer=answer)


def diagnose_flights(
    plane: PlaneInput,
    plan: PlanInput,
    signs: Collection[str],
    *,
    absent: Collection[str] = (),
    flights: Sequence[FlightInput] = (),
    air: Air | None = None,
    progress: Progress = silent,
) -> Diagnosis:
    """`diagnose` with flights taken in, files as `learn` takes them, all flown with that plan: what they teach, and the
    signs they name themselves."""
    check_signs(signs, absent)
    if not flights:
        return diagnose(plane, plan, signs, absent=absent, air=air, progress=progress)
    taught = learn(plane, plan, flights, air=air, advise=False, progress=progress)
    named = {sign for record in taught.records for sign in record.signs} - set(absent)
    found = diagnose(
        taught.ready,
        taught.plan,
        named.union(signs),
        absent=absent,
        learned=taught.calibration,
        tables=taught.untaught.tables,
        progress=progress,
    )
    return replace(found, plan_name=taught.plan_name)
