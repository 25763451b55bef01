"""Demo planes with a plan, and their cases, made once."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

from evenfall.fit.diagnose import Case, prepare_case
from evenfall.fit.shows import Shows, shows
from evenfall.lines.survey import plan_tables
from evenfall.plane.corrections import PRIOR_SIGMA, FactorDoubt
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Crow, MotorChoice, Plan, arrangements_of, present_plan
from evenfall.workflow.ready import Ready, prepare

CURVE = ((0.0, 1.0), (0.05, 1.0), (0.5, 0.0), (1.0, 0.0))


@cache
def ready(name: str) -> Ready:
    """A demo plane made ready."""
    return prepare(load_plane(demo_path(name)))


def a_plan(name: str, *, crow: bool = True, level: str | None = None) -> Plan:
    """A plan of 22 degrees of crow, without a tune."""
    plane = ready(name).file.plane
    plan = present_plan(plane)
    if level is not None:
        known = plane.controller.level(level)
        plan = replace(plan, motor=MotorChoice(level=known.name, percent=known.percent))
    if not crow:
        return plan
    angle = math.radians(22.0)
    both = len(plane.wings) == 2
    arrangement = "down/up" if both else "both down"
    assert arrangement in arrangements_of(plane)
    made = Crow(
        arrangement=arrangement,
        upper=angle,
        lower=-angle if both else 0.0,
        threshold=0.5,
        curve=CURVE,
        elevator_share=0.02 if both else 0.18,
    )
    return replace(plan, crow=made)


@cache
def shown(name: str, crow: bool = True, level: str | None = None) -> Shows:
    """What a demo plane shows with that plan."""
    made = ready(name)
    plan = a_plan(name, crow=crow, level=level)
    return shows(made.frame, made.unit, plan, plan_tables(made.frame, plan, wanted=made.wanted))


KNOWN = 0.2
"""Share of the doubt that is left of every factor after proven flights."""


@cache
def proven(name: str, level: str) -> tuple[Shows, Case]:
    """The same plane after flights: a fifth of its doubt is left."""
    made, plan = ready(name), a_plan(name, level=level)
    doubt = FactorDoubt(axes=tuple(((factor, KNOWN * sigma),) for factor, sigma in PRIOR_SIGMA.items()))
    plane = replace(made.file.plane, doubt=doubt)
    frame, unit = replace(made.frame, plane=plane), replace(made.unit, plane=plane)
    found = shows(frame, unit, plan, plan_tables(frame, plan, wanted=made.wanted))
    return found, prepare_case(found, since=True)


@cache
def case(name: str, crow: bool = True, level: str | None = None) -> Case:
    """A demo plane ready for any signs."""
    return prepare_case(shown(name, crow, level))
