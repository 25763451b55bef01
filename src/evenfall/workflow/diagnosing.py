"""Why: from what the pilot saw to ranked causes and the checks that tell them apart."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from evenfall.air import Air
from evenfall.fit.diagnose import Answer, Case, check_signs, prepare_case
from evenfall.fit.diagnose import diagnose as weigh
from evenfall.fit.learned import Learned
from evenfall.fit.shows import shows
from evenfall.lines.survey import plan_tables
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import PlaneInput, PlanInput, Progress, Ready, made_ready, plane_and_plan, silent


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
    learned: Learned | None = None,
    case: Case | None = None,
    progress: Progress = silent,
) -> Diagnosis:
    """Ranked causes of signs on this plane with this plan.

    Args:
        signs, absent: what was seen, and what was looked for and not seen, by key (`evenfall.fit.causes.chart`).
        air: the air the plan was made for; None takes the standard atmosphere at sea level.
        learned: what flights with this plan have taught.
        case: of an earlier diagnosis of the same plane, plan and air: then nothing is solved again.

    Raises `FileFaults` for files that cannot be used, `InputError` for unknown signs.
    """
    check_signs(signs, absent)
    given, chosen, name = plane_and_plan(plane, plan)
    ready = made_ready(given, air, progress=progress)
    if case is None:
        progress("what every cause would show")
        tables = plan_tables(ready.frame, chosen, wanted=ready.wanted)
        case = prepare_case(shows(ready.frame, ready.unit, chosen, tables))
    progress("causes")
    answer = weigh(case, signs, absent=absent, flights=learned)
    return Diagnosis(ready=ready, plan=chosen, plan_name=name, case=case, answer=answer)
