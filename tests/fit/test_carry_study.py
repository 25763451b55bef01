"""A hundred pairs of invented planes: what flights of one save on the first flight of the other, and how honestly.

The second plane is another size with the same propeller, motor and controller in half of the pairs, and another
aeroplane with its own power train in the other half. Both truths are drawn with the correlations of `fit.carry` (an
assumption, common practice, no source) and once more with all of them a quarter smaller, which nobody told the fit.

Wanted: half the error. Measured: a quarter less (3.2 against 4.3 % rms), and no more than a third less (2.8 %) were
the first plane known exactly: what is left is each plane's own drag areas, how its crow was set and its transition,
which no flight of another plane tells. So the half is missed; what holds is asserted. With a hard motor brake and ten
lines flown it is a third less (3.2 against 4.9 %, 100 pairs; asked here of 24).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from evenfall.estimate import Estimate
from evenfall.fit.calibrate import calibrate
from evenfall.fit.carry import carry_over, shares
from evenfall.fit.ground import Ground
from evenfall.fit.learned import taught
from evenfall.lines.survey import plan_tables
from evenfall.logs.evidence import Flight
from evenfall.plane.airframe import Plane
from evenfall.plane.corrections import PRIOR_SIGMA, Corrections
from evenfall.plane.files import parse_plane
from evenfall.plane.plane_edit import edited_text
from evenfall.plane.starter import demo_path
from evenfall.radio.plan import Plan
from evenfall.workflow import Ready, TuneAnswer, prepare
from evenfall.workflow.closed_lines import closed_lines
from evenfall.workflow.tuning import plan_of_candidate
from fit import simulated

DOWN = Flight(slope=-math.pi / 2)
NEXT_SIZE = {
    "name": "Demo biplane A stretched (invented)", "mass.all_up_g": 1180.0, "wing.upper.span_mm": 1320.0,
    "wing.lower.span_mm": 1320.0, "wing.upper.root_chord_mm": 180.0, "wing.lower.root_chord_mm": 180.0,
    "body.width_mm": 95.0,
}  # fmt: skip


def two(rng: np.random.Generator, share: dict[str, float]) -> tuple[Corrections, Corrections]:
    """Corrections of two planes, correlated."""
    one, other = {}, {}
    for name, sigma in PRIOR_SIGMA.items():
        a, b = rng.normal(size=2)
        one[name] = math.exp(sigma * a)
        other[name] = math.exp(sigma * (share[name] * a + math.sqrt(1 - share[name] ** 2) * b))
    return Corrections(**one), Corrections(**other)


@pytest.mark.long
@pytest.mark.parametrize(
    ("less", "pairs", "level", "lines"), [(1.0, 100, None, (2, 1)), (0.75, 50, None, (2, 1)), (1.0, 24, "75", (6, 4))]
)
def test_first_flights_on_another_plane(
    tuned: Callable[[str], TuneAnswer], less: float, pairs: int, level: str | None, lines: tuple[int, int]
) -> None:
    answer, another = tuned("biplane_124"), tuned("biplane_155")
    first, plan, other_plan = answer.ready, _plan(answer, level), _plan(another, level)
    stretched = prepare(parse_plane(edited_text(demo_path("biplane_124").read_text(), NEXT_SIZE)))
    ground = Ground(frame=first.frame, unit=first.unit, plan=plan, wanted=first.wanted)
    rows = []
    for seed in range(pairs):
        rng = np.random.default_rng(70_000 + seed)
        other = stretched if seed % 2 == 0 else another.ready
        own = plan if seed % 2 == 0 else other_plan
        drawn = {
            name: less * share
            for name, share in shares(first.file.plane, other.file.plane, plan=plan, other_plan=own).items()
        }
        made, made_other = two(rng, drawn)
        truth = simulated.draw(first, plan, rng, made=made)
        paths = [simulated.fly_line(truth, DOWN, rng, length=120.0, entry=rng.uniform(15, 22)) for _ in range(lines[0])]
        bare = replace(DOWN, crow=False)
        paths_bare = [
            simulated.fly_line(truth, bare, rng, length=120.0, entry=rng.uniform(15, 22)) for _ in range(lines[1])
        ]
        evidence = [simulated.by_gps(path, DOWN, rng, name=f"line {k}") for k, path in enumerate(paths)]
        evidence += [simulated.by_gps(path, bare, rng, name="without crow") for path in paths_bare]
        learned = calibrate(ground, evidence).learned
        over = carry_over(learned, first.file.plane, other.file.plane, plan=plan, other_plan=own).learned
        speed = simulated.draw(other, own, rng, made=made_other).down_speed(DOWN)
        found = down_of(_with(other, taught(other.file.plane, over, level=own.motor.level)), own)
        fresh = down_of(other, own)
        assert found is not None
        assert fresh is not None
        rows.append((found.value / speed - 1, fresh.value / speed - 1, abs(found.value - speed) / found.spread))
    error, before, share = np.array(rows).T
    for name, part in (("same power train", slice(0, None, 2)), ("another", slice(1, None, 2)), ("all", slice(None))):
        rms = [float(np.sqrt(np.mean(values[part] ** 2))) for values in (error, before)]
        middle = [float(np.median(np.abs(values[part]))) for values in (error, before)]
        held = [float(np.mean(share[part] < limit)) for limit in (1.0, 1.96)]
        print(
            f"shares x {less}, level {plan.motor.level}, {name}: "
            f"rms {100 * rms[0]:.2f} against {100 * rms[1]:.2f} %, "
            f"median {100 * middle[0]:.2f} against {100 * middle[1]:.2f} %, held {held[0]:.2f} and {held[1]:.2f}"
        )
    both = [float(np.sqrt(np.mean(values**2))) for values in (error, before)]
    assert both[0] < (0.85 if less == 1.0 else 0.95) * both[1]
    if less == 1.0 and pairs == 100:
        assert 0.60 <= float(np.mean(share < 1.0)) <= 0.76
        assert 0.91 <= float(np.mean(share < 1.96)) <= 0.985
    elif less < 1.0:  # the spreads believe in more than there is
        assert 0.45 <= float(np.mean(share < 1.0)) <= 0.76


def _plan(answer: TuneAnswer, level: str | None) -> Plan:
    """The plan chosen, or the best at a level."""
    if level is not None:
        return plan_of_candidate(answer, level=level, arrangement=None)
    assert answer.plan is not None
    return answer.plan


def down_of(ready: Ready, plan: Plan) -> Estimate | None:
    """Vertical down with the stick closed."""
    return closed_lines(ready, plan, plan_tables(ready.frame, plan, wanted=ready.wanted))["vertical down"]


def _with(ready: Ready, plane: Plane) -> Ready:
    return replace(
        ready,
        file=replace(ready.file, plane=plane),
        frame=replace(ready.frame, plane=plane),
        unit=replace(ready.unit, plane=plane),
    )
