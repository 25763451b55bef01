"""Answers what the page asks: one page a topic, from the pilot's files and what is not saved yet.

Everything heavy is imported where it is used, so that a server can show its first page before the physics is loaded.
"""

from __future__ import annotations

import contextlib
import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from evenfall.app.cache import Kept
from evenfall.app.carry_engine import CARRY_TOPICS, CarryEngine
from evenfall.app.flight_engine import FLIGHT_TOPICS, FlightEngine
from evenfall.app.fly_engine import FlyEngine
from evenfall.app.messages import AirAsk, Ask, Value
from evenfall.app.sheet_engine import SheetEngine, SheetKind
from evenfall.errors import EvenfallError, InputError
from evenfall.textfile import content_hash

if TYPE_CHECKING:
    from evenfall.air import Air
    from evenfall.app.workspace import Workspace
    from evenfall.estimate import Estimate
    from evenfall.lines.crow_tables import CrowTables
    from evenfall.lines.shaft_tables import ShaftTables
    from evenfall.plane.files import PlaneFile
    from evenfall.radio.plan import Plan
    from evenfall.sheet.pages import Page
    from evenfall.sheet.pdf import Paper
    from evenfall.tune.plane_map import PlaneMap
    from evenfall.workflow import Predicted, QuickAnswer, Ready, TuneAnswer

Progress = Callable[[str], None]


class Cancelled(Exception):
    """An answer was no longer wanted."""


@dataclass(frozen=True, kw_only=True)
class Side:
    """A plane and a plan as asked for, unsaved changes included.

    Args:
        plan_name: what the plan is called, its file where it has one.
        key: equal for equal plane, air and plan.
    """

    file: PlaneFile
    air: AirAsk
    plan: Plan
    plan_name: str

    @property
    def plane_key(self) -> tuple[str, AirAsk]:
        """Equal for equal plane and air."""
        return self.file.content_hash, self.air

    @property
    def key(self) -> tuple[str, AirAsk, str]:
        """Equal for equal plane, air and plan."""
        return self.file.content_hash, self.air, hashlib.sha256(repr(self.plan).encode()).hexdigest()


class Engine:
    """The engine behind the page. Thread-safe: quick and slow questions may come from two threads at once.

    Only a few planes, predictions and maps are kept; what is asked again is answered from them.
    """

    def __init__(self, workspace: Workspace) -> None:
        self._workspace = workspace
        self._files: Kept[PlaneFile] = Kept(8)
        self._ready: Kept[Ready] = Kept(3)
        self._predicted: Kept[Predicted] = Kept(4)
        self._tuned: Kept[TuneAnswer] = Kept(3)
        self._shafts: Kept[ShaftTables] = Kept(3)
        self._tables: Kept[CrowTables] = Kept(5)
        self._maps: Kept[PlaneMap] = Kept(4)
        self._spreads: Kept[Estimate | None] = Kept(32)
        self._plans: Kept[Plan] = Kept(16)
        self.flights = FlightEngine(workspace, self)
        self._programmes = FlyEngine(workspace, self)
        self._sheets = SheetEngine(workspace, self, self._programmes)
        self.carries = CarryEngine(workspace, self, self._programmes)

    def answer(self, ask: Ask, *, progress: Progress, cancelled: Callable[[], bool]) -> Page:
        """The page of `evenfall.sheet.schema.TOPICS` that answers.

        Args:
            progress: told in a few words before each longer step.
            cancelled: asked between steps; once True, `Cancelled` is raised.

        Raises `InputError` where the files or the question cannot be used.
        """

        def say(words: str) -> None:
            if cancelled():
                raise Cancelled
            progress(words)

        say("")
        if ask.topic in FLIGHT_TOPICS:
            return self.flights.answer(ask, say)
        if ask.topic in CARRY_TOPICS:
            return self.carries.answer(ask, say, cancelled)
        make: Callable[[Ask, Progress], Page] = getattr(self, f"_{ask.topic}")
        return make(ask, say)

    def warm(self, plane: str, plan: str | None = None, *, air: AirAsk | None = None) -> None:
        """Make ready what the first quick question about a plane needs, with its own plan where none is named.

        Files that cannot be used are left alone.
        """
        if plan is None:
            found = [entry for entry in self._workspace.folder_page().planes if entry.file == plane]
            plan = next((name for entry in found for name in entry.plans), None)
        with contextlib.suppress(InputError):
            self._follow(self.saved_side(plane, plan, air or AirAsk(), {}), _silent)
        with contextlib.suppress(EvenfallError):
            self.flights.note_record()

    # Documents

    def _plane_text(self, name: str, edits: Mapping[str, Value]) -> tuple[str, int]:
        """Text and revision of a plane file, unsaved edits in it."""
        text, revision = self._workspace.plane_text(name)
        if edits:
            from evenfall.plane.plane_edit import edited_text

            text = edited_text(text, edits)
        return text, revision

    def plane_file(self, name: str, edits: Mapping[str, Value]) -> PlaneFile:
        """A plane file of the folder with edits that are not saved yet."""

        text, _ = self._plane_text(name, edits)

        def read() -> PlaneFile:
            from evenfall.plane.files import parse_plane

            return parse_plane(text, path=name)

        return self._files.get((name, content_hash(text)), read)

    def _side(self, ask: Ask, *, in_flight: bool = False) -> Side:
        """What is asked about; `in_flight` leaves out how the corners are fitted, which changes nothing in flight."""
        side = self.saved_side(ask.plane, ask.plan, ask.air, ask.edits)
        if ask.changes is None:
            return side
        from evenfall.sheet.plan_edit import apply_changes

        plan, changes = side.plan, ask.changes
        if in_flight:
            plan, changes = replace(plan, corners={}), changes.model_copy(update={"corners": {}})
        changed = apply_changes(plan, changes, side.file.plane)
        return replace(side, plan=changed, plan_name=f"{side.plan_name}, changed")

    def saved_side(self, plane: str, plan: str | None, air: AirAsk, edits: Mapping[str, Value]) -> Side:
        """A plane and a plan of the folder as they are saved, `edits` of the plane besides."""
        from evenfall.radio.plan import present_plan
        from evenfall.radio.planfile import parse_plan

        file = self.plane_file(plane, edits)
        if plan is None:
            return Side(file=file, air=air, plan=present_plan(file.plane), plan_name="as it is now")
        text, _ = self._workspace.plan_text(plan)
        parsed = self._plans.get((file.content_hash, plan, text), lambda: parse_plan(text, file.plane, path=plan))
        return Side(file=file, air=air, plan=parsed, plan_name=plan)

    def _needs_plan(self, ask: Ask) -> Side:
        if ask.plan is None:
            raise InputError("this is drawn for a plan: tune the plane first, or choose one of its plans")
        return self._side(ask)

    # What is kept

    def made_ready(self, file: PlaneFile, air: AirAsk, say: Progress) -> Ready:
        """A plane made ready in an air; kept."""
        from evenfall.workflow import prepare

        return self._ready.get((file.content_hash, air), lambda: prepare(file, _air(air), progress=say))

    def prediction(self, side: Side, say: Progress) -> Predicted:
        """What a plan of a plane does before any flight; kept."""
        from evenfall import workflow

        ready = self.made_ready(side.file, side.air, say)
        known = self._predicted.get(side.key, lambda: workflow.predict(ready, side.plan, progress=say))
        return replace(known, plan_name=side.plan_name)

    def _tuning(self, file: PlaneFile, air: AirAsk, say: Progress) -> TuneAnswer:
        from evenfall import workflow

        ready = self.made_ready(file, air, say)
        return self._tuned.get((file.content_hash, air), lambda: workflow.tune(ready, progress=say))

    def _follow(self, side: Side, say: Progress) -> QuickAnswer:
        from evenfall import workflow

        ready, shafts, tables = self._followed(side, say)
        return workflow.follow(ready, side.plan, side.plan_name, shafts=shafts, tables=tables)

    def _followed(self, side: Side, say: Progress) -> tuple[Ready, ShaftTables, CrowTables]:
        """A plane made ready, and the tables a plan needs."""
        from evenfall import workflow

        ready = self.made_ready(side.file, side.air, say)
        family = workflow.family_of(ready, side.plan)
        shafts = self._shafts.get(side.plane_key, lambda: workflow.shafts_of(ready))
        return ready, shafts, self._tables.get((side.plane_key, family), lambda: workflow.tables_of(ready, family))

    # Topics

    def _quick(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.quick_page import quick_page

        return quick_page(self._follow(self._side(ask, in_flight=True), say))

    def _plane(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.plane_view import plane_view

        text, revision = self._plane_text(ask.plane, ask.edits)
        return plane_view(text, file=ask.plane, revision=revision)

    def _plan(self, ask: Ask, say: Progress) -> Page:
        from evenfall.radio.planfile import plan_text
        from evenfall.sheet.plan_view import plan_view

        file = self.plane_file(ask.plane, ask.edits)
        text: str | None = None
        revision, label, tuned = 0, "as it is now", None
        state: Literal["as it is", "tuned", "edited", "frozen", "proven"] = "as it is"
        if ask.plan is not None:
            text, revision = self._workspace.plan_text(ask.plan)
            tuned = self._workspace.tuned_plan(ask.plan)
            found = [entry for entry in self._workspace.folder_page().plans if entry.file == ask.plan]
            label, state = (found[0].label, found[0].state) if found else (ask.plan, "edited")
        if ask.changes is not None:
            text, state = plan_text(self._side(ask).plan), "edited"
        return plan_view(file, text, file=ask.plan, label=label, state=state, revision=revision, tuned=tuned)

    def _predict(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.make import predict_page

        return predict_page(self.prediction(self._side(ask), say))

    def _tune(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.make import tune_page

        return tune_page(self._tuning(self.plane_file(ask.plane, ask.edits), ask.air, say))

    def _map(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.map_page import map_page

        side = self._side(ask, in_flight=True)
        ready, shafts, tables = self._followed(side, say)
        reach = workflow.map_asked(ready, side.plan, ask.arrangement)
        say("speed map")
        drawn = self._maps.get((side.plane_key, reach), lambda: workflow.map_drawn(ready, reach))
        flown = workflow.follow(ready, side.plan, side.plan_name, shafts=shafts, tables=tables)
        down = flown.quick.line("vertical down")
        at_stop = down.closed and (side.plan.crow is None or down.deployment > 0.999)
        estimate = None
        if at_stop:
            say("spread")
            estimate = self._spreads.get(side.key, lambda: workflow.down_estimate(flown, tables))
        answer = workflow.map_around(ready, side.plan, side.plan_name, drawn, at_stop=at_stop, estimate=estimate)
        return map_page(answer)

    def _shaft(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.map_page import shaft_page

        file = self.plane_file(ask.plane, ask.edits)
        return shaft_page(workflow.shaft_picture(self.made_ready(file, ask.air, say)))

    def _stick(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.map_page import stick_page

        side = self._side(ask)
        ready = self.made_ready(side.file, side.air, say)
        answer = workflow.holding_stick(ready, side.plan, inverted=ask.inverted)
        return stick_page(replace(answer, plan_name=side.plan_name))

    def _march(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.quick_page import march_page

        side = self._side(ask, in_flight=True)
        ready, shafts, tables = self._followed(side, say)
        answer = workflow.enter(
            ready, side.plan, side.plan_name, line=ask.line, entry=ask.entry_m_s, shafts=shafts, tables=tables
        )
        return march_page(answer)

    def _compare(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.compare_page import compare_page

        if ask.other is None:
            raise InputError("a comparison needs a second side: say which plane and plan")
        answers, rolls = [], []
        for side in (self._side(ask), self.saved_side(ask.other.plane, ask.other.plan, ask.air, {})):
            ready, shafts, tables = self._followed(side, say)
            answers.append(workflow.follow(ready, side.plan, side.plan_name, shafts=shafts, tables=tables))
            rolls.append(workflow.down_rolls(answers[-1], tables))
        return compare_page(answers[0], answers[1], rolls=(rolls[0], rolls[1]))

    def _kinematics(self, ask: Ask, say: Progress) -> Page:
        from evenfall.sheet.bench_view import kinematics_page

        side = self._side(ask)
        ready = self.made_ready(side.file, side.air, say)
        return kinematics_page(
            side.file, side.plan, name=side.plan_name, without_offset=ask.without_offset, ready=ready
        )

    def _bench(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.bench_page import bench_page

        side = self._needs_plan(ask)
        ready = self.made_ready(side.file, side.air, say)
        measured = self._workspace.readings_path(ask.plan or "")
        known = workflow.bench_known(ready, side.plan, measured)[1] if measured.exists() else ()
        answer = workflow.bench(ready, side.plan, measured=measured if known else None, progress=say)
        return bench_page(answer.bench, plan_name=side.plan_name, proof=answer.proof, notes=answer.notes)

    def _rig(self, ask: Ask, say: Progress) -> Page:
        from evenfall import workflow
        from evenfall.sheet.rig_page import rig_page

        side = self._needs_plan(ask)
        if ask.without_offset:
            side = replace(side, plan=_square(side.plan, side.file), plan_name=f"{side.plan_name}, arms square")
        known = self.prediction(side, say)
        return rig_page(workflow.rig(known.ready, side.plan, before=known, progress=say))

    def _fly(self, ask: Ask, say: Progress) -> Page:
        second = ask.other
        there = None if second is None else self.saved_side(second.plane, second.plan, ask.air, {})
        return self._programmes.answer(ask, self._side(ask), there, say)

    # The printed sheet and the best plan

    def _sheet(self, ask: Ask, say: Progress) -> Page:
        return self._sheets.answer(ask, say)

    def sheet_bytes(
        self,
        plane: str,
        plan: str,
        *,
        kind: SheetKind,
        paper: Paper = "a4",
        programme: str | None = None,
        air: AirAsk | None = None,
        date: str | None = None,
    ) -> bytes:
        """The sheet of saved files, see `evenfall.app.sheet_engine.SheetEngine.made`."""
        return self._sheets.made(plane, plan, kind=kind, paper=paper, programme=programme, air=air, date=date)

    def tune(
        self,
        plane: str,
        *,
        level: str | None = None,
        arrangement: str | None = None,
        air: AirAsk | None = None,
        progress: Progress,
    ) -> Plan:
        """The best plan of a saved plane, or that of the candidate with this level and arrangement.

        Raises `InputError` with the reasons where there is none.
        """
        answer = self._tuning(self.plane_file(plane, {}), air or AirAsk(), progress)
        if level is not None or arrangement is not None:
            from evenfall.workflow import plan_of_candidate

            return plan_of_candidate(answer, level=level, arrangement=arrangement)
        if answer.plan is None:
            raise InputError(" ".join(("No plan exists for this plane.", *answer.tuned.remedies)))
        return answer.plan


def _silent(words: str) -> None:
    return None


def _air(ask: AirAsk) -> Air:
    from evenfall.air import standard_air

    return standard_air(
        ask.elevation_m,
        temperature=None if ask.temperature_c is None else ask.temperature_c + 273.15,
        pressure=None if ask.pressure_hpa is None else 100.0 * ask.pressure_hpa,
    )


def _square(plan: Plan, file: PlaneFile) -> Plan:
    """The plan with every arm square to its rod, in the holes it has."""
    from evenfall.radio.corner_setup import CornerSetup

    corners = {}
    for name, linkage in file.plane.aileron_linkage.items():
        setup = plan.corners.get(name)
        arm, horn = (linkage.arm, linkage.horn) if setup is None else (setup.arm_hole, setup.horn_hole)
        corners[name] = CornerSetup(corner=name, arm_hole=arm, horn_hole=horn)
    return replace(plan, corners=corners)
