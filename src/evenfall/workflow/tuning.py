"""Tune: the plan that meets the targets, the ranking behind it, and what it is expected to do."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

from evenfall import __version__
from evenfall.air import Air
from evenfall.lines.throws import centre_shift
from evenfall.radio.plan import Plan
from evenfall.radio.radio_description import RadioDescription, load_radio
from evenfall.tune.solve import Tuned, candidate_plan, tune_plane
from evenfall.workflow.prediction import Predicted, complete
from evenfall.workflow.ready import PlaneInput, Progress, Ready, made_ready, plane_file, silent


@dataclass(frozen=True, kw_only=True)
class TuneAnswer:
    """Everything `tune` knows: the ranked candidates, the plan, and what it is expected to do."""

    ready: Ready
    tuned: Tuned
    predicted: Predicted | None

    @property
    def plan(self) -> Plan | None:
        """The plan; None where none exists."""
        return self.tuned.plan


def tune(
    plane: PlaneInput,
    *,
    radio: str | os.PathLike[str] | RadioDescription | None = None,
    air: Air | None = None,
    progress: Progress = silent,
) -> TuneAnswer:
    """Which motor-brake level and how much crow give the wanted speed, and why the other levels are worse.

    Args:
        plane: path of a plane file, or one that is loaded or made ready.
        radio: what the radio can do (it may move an aileron's centre, or not); None takes a usual one.
        air: None takes the standard atmosphere at sea level.

    Raises `FileFaults` for a file that cannot be used.
    """
    given = plane if isinstance(plane, Ready) else plane_file(plane)
    described = load_radio(radio) if isinstance(radio, str | os.PathLike) else radio
    ready = made_ready(given, air, progress=progress)
    file = ready.file
    progress("every level and arrangement")
    servo = file.plane.aileron_servo
    shift = None if servo is None else centre_shift(servo, described)
    tuned = tune_plane(ready.frame, ready.unit, wanted=ready.wanted, spreads=file.spreads, shift=shift)
    if tuned.plan is None or tuned.tables is None or tuned.survey is None:
        return TuneAnswer(ready=ready, tuned=tuned, predicted=None)
    plan = replace(tuned.plan, computed_from=computed_from(ready))
    tuned = replace(tuned, plan=plan)
    assert tuned.tables is not None
    assert tuned.survey is not None
    predicted = complete(ready, plan, "tuned plan", tuned.tables, tuned.survey, bends=tuned.bends, progress=progress)
    return TuneAnswer(ready=ready, tuned=tuned, predicted=predicted)


def plan_of_candidate(answer: TuneAnswer, *, level: str | None, arrangement: str | None) -> Plan:
    """The plan of another candidate of a ranking that was made for a usual radio, built as the chosen one is.

    Raises `InputError` with the candidate's own reason where it has no plan.
    """
    ready, servo = answer.ready, answer.ready.file.plane.aileron_servo
    found = candidate_plan(
        ready.frame,
        ready.unit,
        answer.tuned.judged,
        level=level,
        arrangement=arrangement,
        wanted=ready.wanted,
        shift=None if servo is None else centre_shift(servo, None),
    )
    assert found.plan is not None
    return replace(found.plan, computed_from=computed_from(ready))


def computed_from(ready: Ready) -> dict[str, str]:
    """What a plan was computed from, for its file."""
    return {
        "plane_hash": ready.file.content_hash,
        "evenfall": __version__,
        "wanted_speed_m_s": f"{ready.wanted:.3f}",
        "air_density_kg_m3": f"{ready.air.density:.4f}",
    }
