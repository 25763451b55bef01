"""What a plan is expected to do for a plane as flights have taught it, with doubt, fast enough to try many plans."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np

from evenfall.advise.bending import (
    LOOKED_AT,
    BendParts,
    BendState,
    Line,
    SeenPull,
    before_pulls,
    bend_parts,
    taught_by,
)
from evenfall.estimate import Estimate, combine
from evenfall.fit.learned import Learned, for_level, taught
from evenfall.lines.balance import Airframe
from evenfall.lines.crow_tables import CrowFamily, CrowTables, crow_family, crow_tables
from evenfall.lines.drag import DragTable
from evenfall.lines.holding import Holding, holding_sticks, stick_thrust
from evenfall.lines.line import SteadySpeed, steady_speeds
from evenfall.lines.rolls import RollCase, steady_rolls
from evenfall.lines.shaft import PowerUnit
from evenfall.lines.shaft_tables import ShaftTables
from evenfall.lines.spread import CROW_SETTING, Nudge, narrowed, nudges, surface_nudges
from evenfall.lines.survey import LineAnswer, SteadyEntry, Survey
from evenfall.lines.variants import variant_speeds
from evenfall.logs.evidence import Pull
from evenfall.numeric import Status
from evenfall.plane.files import PlaneFile
from evenfall.radio.plan import Crow, Plan

DOWN = "vertical down"
_DIAGONAL, _LEVEL = -45, 0
_STEEP = -0.9
"""Sine of the slope below which a line falls at the speed of the vertical down."""
_SPEED_SHARES = (0.6, 1.5)
"""Wanted speed over the speed of a line, at least and at most, that a pull is carried over by."""


class ReadyPlane(Protocol):
    """A plane made ready: what `evenfall.workflow.Ready` holds."""

    @property
    def file(self) -> PlaneFile: ...
    @property
    def frame(self) -> Airframe: ...
    @property
    def unit(self) -> PowerUnit: ...
    @property
    def wanted(self) -> float: ...
    @property
    def frames(self) -> tuple[Airframe, Airframe, Airframe]: ...


@dataclass(kw_only=True)
class Balances:
    """What is solved once for a plane, whatever its plan and its corrections; kept from one flight to the next."""

    ready: ReadyPlane
    _tables: dict[CrowFamily | None, CrowTables] = field(default_factory=dict)
    _lines: dict[CrowFamily | None, DragTable] = field(default_factory=dict)
    _surfaces: dict[CrowFamily | None, tuple[Nudge, ...]] = field(default_factory=dict)
    _parts: dict[object, list[BendParts]] = field(default_factory=dict)
    _retention: dict[object, float] = field(default_factory=dict)

    def tables(self, crow: Crow | None) -> CrowTables:
        """Balances of the family a crow belongs to."""
        family = crow_family(self.ready.file.plane, crow)
        if family not in self._tables:
            self._tables[family] = crow_tables(self.ready.frame, family, wanted=self.ready.wanted)
        return self._tables[family]

    def down(self, crow: Crow | None) -> DragTable:
        """Drag on the vertical down; deployment 1 is the largest crow of the family."""
        tables = self.tables(crow)
        if tables.family not in self._lines:
            self._lines[tables.family] = tables.line(DOWN, 1.0)
        return self._lines[tables.family]

    def surfaces(self, crow: Crow | None, speed: SteadySpeed) -> tuple[Nudge, ...]:
        """What late and early transition do to the surfaces' drag, found at the first crow of a family asked for."""
        family = self.tables(crow).family
        if family not in self._surfaces:
            line = LineAnswer(
                name=DOWN,
                slope=-math.pi / 2,
                stick=0.0,
                deployment=1.0 if crow is not None else 0.0,
                closed=True,
                status=Status.OK,
                steady=(SteadyEntry(state=speed, reached_from=None),),
            )
            done = Survey(wanted=self.ready.wanted, lines=(line,), holding=())
            self._surfaces[family] = surface_nudges(self.ready.frames, done, crow)[DOWN]
        return self._surfaces[family]

    def parts(self, plan: Plan, lines: tuple[Line, ...] = LOOKED_AT) -> list[BendParts]:
        """How the plan's crow bends these lines at the wanted speed with the stick closed."""
        ready, crow = self.ready, plan.crow
        shape = None if crow is None else (round(crow.upper, 6), round(crow.lower, 6), round(crow.elevator_share, 5))
        key = (shape, plan.motor.level, lines)
        if key not in self._parts:
            thrust = float(stick_thrust(ready.unit, plan, wanted=ready.wanted).thrust[0])
            level = self._level_drag()
            self._parts[key] = bend_parts(ready.frame, [crow], lines, speed=ready.wanted, thrust=thrust, level=level)[0]
        return self._parts[key]

    def _level_drag(self) -> float:
        """Drag in level flight at the wanted speed, N: no crow is out there."""
        if not self._tables:
            self.tables(None)
        return float(next(iter(self._tables.values())).line("level", 0.0).drag(self.ready.wanted, 0.0))

    def retention(self, plan: Plan) -> float:
        """Steady roll with crow out over stowed at normal throw, before what was learned of it; 1 without crow."""
        crow, wanted = plan.crow, self.ready.wanted
        if crow is None:
            return 1.0
        key = (round(crow.upper, 6), round(crow.lower, 6), plan.throws.normal)
        if key not in self._retention:
            table, share = self.down(crow), self.tables(crow).share(crow)
            cases = [
                RollCase(
                    crow=crow if out else None,
                    deployment=out,
                    alpha=float(table.alpha_at(wanted, out * share)),
                    elevator=float(table.elevator_at(wanted, out * share)),
                    throw=plan.throws.normal,
                )
                for out in (0.0, 1.0)
            ]
            rate = steady_rolls(self.ready.frame, cases, speed=wanted).rate
            self._retention[key] = float(rate[1] / rate[0]) if rate[0] else 1.0
        return self._retention[key]


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """What one plan is expected to do.

    Args:
        speed: closed vertical down, m/s. bend: of the vertical with crow out, rad/s towards the canopy.
        diagonal, diagonal_inverted: bend that crow adds on the 45 down, rad/s.
        half, level: holding sticks of the 45 down and of level flight.
        roll: roll with crow out over stowed, boost in; None where the plan has no boost.
    """

    plan: Plan
    speed: Estimate
    bend: Estimate
    diagonal: Estimate
    diagonal_inverted: Estimate
    half: Holding
    level: Holding
    roll: Estimate | None


class Prospects:
    """Outlooks of any plan for one plane as learned.

    Args:
        balances: of the plane. learned: None is the prior.
        pulls: every pull seen, each with the plan it was flown with; they count for the bend whether or not `learned`
            knows of them. moment: what other things than these pulls have taught of the moment of crow; None the prior.
        home: motor-brake level that was flown; others share half of what was learned of it. None: all are alike.
    """

    def __init__(
        self,
        balances: Balances,
        learned: Learned | None,
        *,
        pulls: Iterable[tuple[Plan, Pull]] = (),
        moment: Learned | None = None,
        home: str | None = None,
    ) -> None:
        ready = balances.ready
        self.home = home
        self.balances = balances
        self.ready = ready
        self.learned = learned
        self._units: dict[str, tuple[PowerUnit, ShaftTables]] = {}
        self.seen = tuple(self._seen(flown, pull) for flown, pull in pulls)
        own = ready.file.plane.corrections.crow_moment
        self.state: BendState = taught_by(before_pulls(moment, own=own), self.seen)

    def _seen(self, flown: Plan, pull: Pull) -> SeenPull:
        """A pull on a steep line as it would be at the wanted speed: a rate goes with the speed, the path does not.

        A line without crow is flown short, near the wanted speed.
        """
        flight = pull.flight
        parts = self.balances.parts(flown, ((flight.slope, flight.inverted),))[0]
        down = self.steady(flown) if flight.crow and math.sin(flight.slope) < _STEEP else None
        if down is not None:
            share = float(np.clip(self.ready.wanted / down.speed, *_SPEED_SHARES))
            pull = replace(pull, rate=share * pull.rate, sigma=share * pull.sigma)
        return SeenPull(pull=pull, parts=parts)

    def unit(self, level: str) -> tuple[PowerUnit, ShaftTables]:
        """The power unit of the plane as learned, for a motor-brake level, and its shafts."""
        if level not in self._units:
            plane, known = self.ready.file.plane, self.learned
            if known is not None and self.home is not None:
                known = for_level(known, plane.controller, level, first=self.home)
            plane = plane if known is None else taught(plane, known, level=level)
            unit = replace(self.ready.unit, plane=plane)
            self._units[level] = unit, ShaftTables(unit, wanted=self.ready.wanted)
        return self._units[level]

    def steady(self, plan: Plan) -> SteadySpeed | None:
        """The steady speed of the closed vertical down that a closing throttle arrives at; None without one."""
        unit, shafts = self.unit(plan.motor.level)
        table = self.balances.down(plan.crow).corrected(unit.plane.corrections)
        found = steady_speeds(shafts.braked(plan.motor.level), table, self.balances.tables(plan.crow).share(plan.crow))
        return max((item for item in found if item.stable), key=lambda item: item.omega, default=None)

    def speed(self, plan: Plan, *, reset: bool = False) -> Estimate | None:
        """Closed vertical down speed with its spread; `reset` adds half a degree for crow that is set anew."""
        near = self.steady(plan)
        if near is None:
            return None
        unit, _ = self.unit(plan.motor.level)
        share = self.balances.tables(plan.crow).share(plan.crow)
        table = self.balances.down(plan.crow).corrected(unit.plane.corrections)
        level = unit.plane.controller.level(plan.motor.level)
        own = nudges(unit.plane, self.ready.file.spreads, level=level, crow=plan.crow is not None)
        surfaces = tuple(_on(nudge, unit) for nudge in self.balances.surfaces(plan.crow, near))
        changed = [variant for nudge in (*own, *surfaces) for variant in (nudge.low, nudge.high)]
        moved = variant_speeds(unit, plan, table, stick=0.0, deployment=share, near=near, variants=changed)
        effects = {}
        for k, nudge in enumerate((*own, *surfaces)):
            low, high = (float(moved.speed[2 * k + side]) for side in (0, 1))
            low_found, high_found = (bool(moved.found[2 * k + side]) for side in (0, 1))
            if low_found and high_found:
                effects[nudge.name] = 0.5 * (high - low)
            elif low_found or high_found:
                effects[nudge.name] = high - near.speed if high_found else near.speed - low
            else:
                return None
        effects = narrowed(effects)
        if reset and plan.crow is not None and plan.crow.angle > 0:
            effects["plan.crow_setting"] = self._setting(plan, near.speed)
        return combine(near.speed, effects)

    def _setting(self, plan: Plan, speed: float) -> float:
        """Change of the down speed with half a degree of crow, m/s."""
        assert plan.crow is not None
        less = self.steady(sized(plan, max(plan.crow.angle - CROW_SETTING, 0.0)))
        return 0.0 if less is None else less.speed - speed

    def bends(self, plan: Plan) -> tuple[Estimate, Estimate, Estimate]:
        """Bend of the vertical, and what crow adds on the 45 down upright and inverted, rad/s."""
        vertical, *diagonals = self.balances.parts(plan)
        total = Estimate(value=vertical.total(self.state), spread=self.state.doubt(vertical.slopes))
        added = []
        for parts in diagonals:
            slopes = parts.slopes * np.array([0.0, 1.0, 1.0])
            value = parts.crow + float(slopes @ self.state.mean)
            added.append(Estimate(value=value, spread=self.state.doubt(slopes)))
        return total, added[0], added[1]

    def bend_per_share(self, plan: Plan) -> float:
        """Change of the vertical's bend with the elevator share, rad/s for a share of 1, as pulls have taught it."""
        return self.balances.parts(plan)[0].per_share * (1.0 + float(self.state.mean[2]))

    def clean_bend(self, plan: Plan) -> Estimate:
        """Bend of the vertical without crow, rad/s."""
        shift = np.array([1.0, 0.0, 0.0])
        value = self.balances.parts(plan)[0].clean + float(shift @ self.state.mean)
        return Estimate(value=value, spread=self.state.doubt(shift))

    def held(self, plan: Plan) -> tuple[Holding, Holding]:
        """Holding sticks of the 45 down and of level flight."""
        unit, shafts = self.unit(plan.motor.level)
        tables = self.balances.tables(plan.crow)
        drag = tables.slope_drag(tables.share(plan.crow))
        slopes = [round(math.degrees(slope)) for slope in drag.slopes.tolist()]
        rows = [slopes.index(_DIAGONAL), slopes.index(_LEVEL)]
        only = replace(
            drag,
            slopes=drag.slopes[rows],
            clean=drag.clean[rows],
            crow=drag.crow[rows],
            parts=drag.parts[rows],
            carried=drag.carried[rows],
        )
        one, two = holding_sticks(unit, plan, only, shafts.thrust(plan))
        return one, two

    def roll(self, plan: Plan) -> Estimate | None:
        """Roll with crow out over stowed, boost in; None where the plan has no boost or no crow."""
        boost = plan.phase("normal").roll_boost
        if boost == 0.0 or plan.crow is None:
            return None
        unit, _ = self.unit(plan.motor.level)
        value = self.balances.retention(plan) * unit.plane.corrections.roll_deployed * (1.0 + boost)
        return Estimate(value=value, spread=value * unit.plane.doubt.sigma("roll_deployed"))

    def at(self, plan: Plan, *, reset: bool = False) -> Outlook | None:
        """The outlook of a plan; None without a steady vertical down, or too near to a fold to know its spread."""
        speed = self.speed(plan, reset=reset)
        if speed is None:
            return None
        bend, diagonal, inverted = self.bends(plan)
        half, level = self.held(plan)
        return Outlook(
            plan=plan,
            speed=speed,
            bend=bend,
            diagonal=diagonal,
            diagonal_inverted=inverted,
            half=half,
            level=level,
            roll=self.roll(plan),
        )


def _on(nudge: Nudge, unit: PowerUnit) -> Nudge:
    """A nudge of the surfaces on the plane as learned."""
    return replace(nudge, low=replace(nudge.low, plane=unit.plane), high=replace(nudge.high, plane=unit.plane))


def sized(plan: Plan, angle: float) -> Plan:
    """The plan with crow of another size (rad, of the larger wing), split as it is."""
    crow = plan.crow
    if crow is None or crow.angle == 0.0:
        return plan
    factor = angle / crow.angle
    return replace(plan, crow=replace(crow, upper=factor * crow.upper, lower=factor * crow.lower))
