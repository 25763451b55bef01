"""Whole-programme tuning: every usable level and many sizes of crow flown over a programme, on both cores.

Trials are written to a file as they come, so that a tuning that was broken off goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from evenfall.advise.limits import Ceiling, ceiling
from evenfall.advise.outlook import sized
from evenfall.advise.programme import (
    SHARES,
    Course,
    Trial,
    best_for_wind,
    fly_trial,
    front,
    refined,
)
from evenfall.air import Air
from evenfall.errors import EvenfallError, InputError
from evenfall.lines.blown import GustResponse, gust_response
from evenfall.lines.flown_path import Ended
from evenfall.lines.fly_spread import flight_nudges
from evenfall.lines.holding import slope_drag
from evenfall.lines.loaded import loaded_drag
from evenfall.lines.path import lay_out
from evenfall.lines.survey import SLOPES, plan_tables
from evenfall.lines.variants import Variant
from evenfall.radio.plan import Plan
from evenfall.wind import WindDay
from evenfall.workflow.flying import SequenceInput, flown_sequence
from evenfall.workflow.ready import PlaneInput, Progress, Ready, made_ready, plane_file, silent
from evenfall.workflow.tuning import TuneAnswer, computed_from, plan_of_candidate, tune

LEVELS = 3
"""Most motor-brake levels tried: those that rank first in `tune`."""
DOUBTS = 3
"""Largest doubts flown low and high in every trial."""
_ORDER = ("corrections.parasite_drag", "corrections.crow_drag", "corrections.brake_damping", "sections.transition")
CORES = 2


class Stopped(EvenfallError):
    """A tuning was broken off on request; what was flown is kept."""


@dataclass(frozen=True, kw_only=True)
class ProgrammeAnswer:
    """A programme's tuning.

    Args:
        tuned: the plan of the lines, where it began. plan: the evenest over everything tried; None without a trial that
            flies to the end. best: its trial. start: the trial nearest to where it began.
        trials: all of them. front: those that nothing beats in evenness and energy.
        by_wind: evenest for each wind, in the order of `winds`.
        most: of crow, and what limits it. crow: angle that a share of 1 stands for, rad.
        gusts: vertical down in 8 m/s, crow stowed and out.
    """

    ready: Ready
    tuned: TuneAnswer
    sequence_name: str
    plan: Plan | None
    best: Trial | None
    start: Trial | None
    trials: tuple[Trial, ...]
    front: tuple[Trial, ...]
    winds: tuple[float, ...]
    by_wind: tuple[Trial, ...]
    most: Ceiling
    crow: float
    gusts: tuple[GustResponse, GustResponse]


def tune_programme(
    plane: PlaneInput,
    sequence: SequenceInput,
    *,
    air: Air | None = None,
    winds: Sequence[float] = (0.0, 4.0, 8.0),
    keep: Path | None = None,
    cores: int = CORES,
    progress: Progress = silent,
    cancelled: Callable[[], bool] = lambda: False,
) -> ProgrammeAnswer:
    """The plan with the most even speed over a whole programme, robust over doubts, wind and battery.

    Args:
        winds: m/s tried; calm is flown in any case. keep: file that trials are kept in and taken up from.
        cores: processes; 1 computes here. cancelled: asked between trials; then `Stopped`.

    Raises `InputError` where no plan meets the targets of the lines at all.
    """
    given = plane if isinstance(plane, Ready) else plane_file(plane)
    flown, named = flown_sequence(sequence)
    ready = made_ready(given, air, progress=progress)
    progress("lines first")
    tuned = tune(ready, progress=progress)
    if tuned.plan is None:
        raise InputError("no plan meets the targets of the lines; evenfall tune says which and what would buy it")
    base = tuned.plan
    most = ceiling(ready.frame, base, wanted=ready.wanted)
    whole = sized(base, most.angle) if base.crow is not None and most.angle > 0 else base
    progress("balances under load")
    course = Course(
        unit=ready.unit,
        wanted=ready.wanted,
        plan=whole,
        forces=loaded_drag(ready.frame, whole.crow, wanted=ready.wanted),
        drags=slope_drag(ready.frame, whole, wanted=ready.wanted, slopes=SLOPES),
        path=lay_out(flown),
        variants=_doubts(ready, whole),
        winds=tuple(dict.fromkeys((0.0, *winds))),
        speed=flown.entry_speed,
    )
    levels = _levels(tuned)
    shares = SHARES if whole.crow is not None else (0.0,)
    begun = 1.0 if base.crow is None or most.angle == 0 else base.crow.angle / max(most.angle, base.crow.angle)
    first = dict.fromkeys((level, share) for level in levels for share in (*shares, begun))
    with _Flights(course, keep, cores) as flights:
        trials = list(flights.fly(first, progress=progress, cancelled=cancelled))
        second = {(level, share): None for level in levels if (share := refined(trials, level=level)) is not None}
        trials += flights.fly(second, progress=progress, cancelled=cancelled)
    good = [item for item in trials if item.ended is Ended.FLOWN]
    start = next((item for item in trials if (item.level, item.share) == (base.motor.level, begun)), None)
    best = min(good, key=lambda item: (round(item.cost, 6), item is not start), default=None)
    table = plan_tables(ready.frame, whole, wanted=ready.wanted).lines["vertical down"]
    windy = [speed for speed in course.winds if speed > 0]
    return ProgrammeAnswer(
        ready=ready,
        tuned=tuned,
        sequence_name=named,
        plan=None if best is None else _plan(tuned, whole, best),
        best=best,
        start=start,
        trials=tuple(trials),
        front=front(good),
        winds=course.winds,
        by_wind=() if not good else (best_for_wind(good, None), *(best_for_wind(good, k) for k in range(len(windy)))),
        most=most,
        crow=0.0 if whole.crow is None else whole.crow.angle,
        gusts=(
            gust_response(table, deployment=0.0, speed=ready.wanted, day=WindDay(speed=8.0)),
            gust_response(table, deployment=1.0, speed=ready.wanted, day=WindDay(speed=8.0)),
        ),
    )


def _levels(tuned: TuneAnswer) -> tuple[str, ...]:
    """Levels whose lines have a plan with the chosen arrangement, best first."""
    plan = tuned.plan
    assert plan is not None
    found = [plan.motor.level]
    for item in tuned.tuned.judged:
        name = item.candidate.level.name
        if name in found or item.verdict == "refused" or len(found) >= LEVELS:
            continue
        try:
            plan_of_candidate(tuned, level=name, arrangement=None if plan.crow is None else plan.crow.arrangement)
        except InputError:
            continue
        found.append(name)
    return tuple(found)


def _doubts(ready: Ready, plan: Plan) -> tuple[Variant, ...]:
    """The plane itself, then the largest doubts low and high."""
    forces = loaded_drag(ready.frame, plan.crow, wanted=ready.wanted)
    nudges = flight_nudges(ready.frames, forces, plan, ready.file.spreads, wanted=ready.wanted)
    known = {item.name: item for item in nudges}
    chosen = [known[name] for name in _ORDER if name in known][:DOUBTS]
    return (Variant(plane=ready.file.plane), *(variant for item in chosen for variant in (item.low, item.high)))


def _plan(tuned: TuneAnswer, whole: Plan, best: Trial) -> Plan:
    """The evenest trial as a plan: the level's own plan with crow of that size."""
    crow = whole.crow
    made = tuned.plan
    assert made is not None
    if best.level != made.motor.level:
        made = plan_of_candidate(tuned, level=best.level, arrangement=None if crow is None else crow.arrangement)
    if crow is not None:
        made = replace(sized(made, best.share * crow.angle), computed_from=computed_from(tuned.ready))
    return made


class _Flights:
    """Flies trials in processes of its own, keeps them in a file, and takes up those that are in it."""

    def __init__(self, course: Course, keep: Path | None, cores: int) -> None:
        self.course, self.keep = course, keep
        self.key = _key(course)
        self.pool: ProcessPoolExecutor | None = None
        if cores > 1:
            self.pool = ProcessPoolExecutor(
                cores, mp_context=multiprocessing.get_context("spawn"), initializer=_begin, initargs=(course,)
            )

    def __enter__(self) -> _Flights:
        return self

    def __exit__(self, *_: object) -> None:
        if self.pool is not None:
            self.pool.shutdown(wait=True, cancel_futures=True)

    def fly(
        self, asked: Iterable[tuple[str, float]], *, progress: Progress, cancelled: Callable[[], bool]
    ) -> Iterator[Trial]:
        """Every trial of levels and shares of crow, as they come."""
        known = self._kept()
        rest = []
        count = 0
        wanted = list(asked)
        for level, share in wanted:
            found = known.get((level, round(share, 6)))
            if found is None:
                rest.append((level, share))
            else:
                count += 1
                yield found
        for trial in self._done(rest, cancelled):
            count += 1
            self._write(trial)
            progress(f"programme flown with {count} of {len(wanted)} settings")
            yield trial

    def _done(self, rest: Sequence[tuple[str, float]], cancelled: Callable[[], bool]) -> Iterator[Trial]:
        if self.pool is None:
            for level, share in rest:
                if cancelled():
                    raise Stopped("The tuning was stopped; what was flown is kept.")
                yield fly_trial(self.course, level=level, share=share)
            return
        waiting: set[Future[Trial]] = {self.pool.submit(_fly, level, share) for level, share in rest}
        while waiting:
            if cancelled():
                for one in waiting:
                    one.cancel()
                raise Stopped("The tuning was stopped; what was flown is kept.")
            done, waiting = wait(waiting, timeout=0.2, return_when=FIRST_COMPLETED)
            for one in done:
                yield one.result()

    def _kept(self) -> dict[tuple[str, float], Trial]:
        if self.keep is None or not self.keep.exists():
            return {}
        found = {}
        for line in self.keep.read_text(encoding="utf-8").splitlines():
            try:
                row = json.loads(line)
                if row.pop("course") != self.key:
                    continue
                row["ended"] = Ended(row["ended"])
                row["windy"] = tuple(row["windy"])
                trial = Trial(**row)
            except (ValueError, KeyError, TypeError, AttributeError):
                continue
            found[trial.level, round(trial.share, 6)] = trial
        return found

    def _write(self, trial: Trial) -> None:
        if self.keep is None:
            return
        row = {"course": self.key, **asdict(trial), "ended": trial.ended.value}
        with self.keep.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")
            file.flush()
            os.fsync(file.fileno())


def _key(course: Course) -> str:
    """Equal for courses on which equal trials give equal answers."""
    parts = (
        course.unit.plane,
        course.unit.density,
        course.wanted,
        course.plan,
        course.path,
        course.winds,
        course.seeds,
    )
    return hashlib.sha256(repr((*parts, course.variants, course.speed)).encode()).hexdigest()


_COURSE: list[Course] = []
"""Of this process, put there when it begins."""


def _begin(course: Course) -> None:
    _COURSE[:] = [course]
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Nothing goes on flying once the program that asked for it has ended, however it ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _fly(level: str, share: float) -> Trial:
    return fly_trial(_COURSE[0], level=level, share=share)
