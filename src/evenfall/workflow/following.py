"""Follow a hand on a slider: speeds and sticks of a plan from tables, without spreads."""

from __future__ import annotations

from dataclasses import dataclass

from evenfall.lines.crow_tables import CrowFamily, CrowTables, crow_family, crow_tables
from evenfall.lines.quick import Quick, quick
from evenfall.lines.shaft_tables import ShaftTables
from evenfall.radio.plan import Plan
from evenfall.workflow.ready import Ready


@dataclass(frozen=True, kw_only=True)
class QuickAnswer:
    """What a plan does, without spreads."""

    ready: Ready
    plan: Plan
    plan_name: str
    quick: Quick


def family_of(ready: Ready, plan: Plan) -> CrowFamily | None:
    """The family of crow whose tables a plan needs: the same for every size of one split between the wings."""
    return crow_family(ready.file.plane, plan.crow)


def shafts_of(ready: Ready) -> ShaftTables:
    """Shaft equilibria, for every plan of a plane."""
    return ShaftTables(ready.unit, wanted=ready.wanted)


def tables_of(ready: Ready, family: CrowFamily | None) -> CrowTables:
    """Balances, for every plan of a family."""
    return crow_tables(ready.frame, family, wanted=ready.wanted)


def follow(ready: Ready, plan: Plan, name: str, *, shafts: ShaftTables, tables: CrowTables) -> QuickAnswer:
    """Speeds of the five lines and holding sticks of a plan called `name`."""
    return QuickAnswer(ready=ready, plan=plan, plan_name=name, quick=quick(shafts, tables, plan))
