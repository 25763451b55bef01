"""A plane made ready for any job, and how plane and plan of a job are given."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

from evenfall.air import Air, standard_air
from evenfall.errors import InputError
from evenfall.lines.balance import Airframe, airframe
from evenfall.lines.line import level_speed
from evenfall.lines.shaft import PowerUnit
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.power.propeller import propeller_map
from evenfall.radio.plan import Plan, present_plan
from evenfall.radio.planfile import load_plan

Progress = Callable[[str], None]
"""Called with a few words before each longer step."""


def silent(words: str) -> None:
    """Progress that nobody hears."""


@dataclass(frozen=True, kw_only=True)
class Ready:
    """A plane in given air, ready for any job: the lifting line and the propeller map are made."""

    file: PlaneFile
    air: Air
    frame: Airframe
    unit: PowerUnit
    wanted: float

    @property
    def frames(self) -> tuple[Airframe, Airframe, Airframe]:
        """The nominal airframe, and those with late and early transition; made afresh, they are large."""
        plane = self.file.plane
        return self.frame, airframe(plane, self.air, transition=0.0), airframe(plane, self.air, transition=1.0)


def prepare(file: PlaneFile, air: Air | None = None, *, progress: Progress = silent) -> Ready:
    """Make the lifting line, the propeller map and the wanted speed of a plane."""
    given = standard_air() if air is None else air
    progress("propeller map")
    propeller = propeller_map(file.plane.propeller)
    progress("lifting line")
    frame = airframe(file.plane, given)
    unit = PowerUnit(plane=file.plane, propeller=propeller, density=given.density)
    return Ready(file=file, air=given, frame=frame, unit=unit, wanted=wanted_speed(frame, unit))


def wanted_speed(frame: Airframe, unit: PowerUnit) -> float:
    """The wanted speed in m/s: the file's number, or the level speed at the file's stick."""
    wanted = frame.plane.wanted
    if wanted.speed is not None:
        return wanted.speed
    if wanted.level_stick is None:
        raise InputError("the plane file gives no wanted speed: write speed_m_s = 22.0 at its top, or a [speed] table")
    speed = level_speed(frame, unit, wanted.level_stick)
    if speed is None:
        raise InputError(
            f"the plane does not fly level at {100 * wanted.level_stick:.0f} % stick, so there is no wanted speed: "
            "give a higher stick or speed_m_s"
        )
    return speed


PlaneInput = str | os.PathLike[str] | PlaneFile | Ready
"""A plane as a job takes it: path of its file, or loaded, or made ready (then its own air counts)."""
PlanInput = str | os.PathLike[str] | Plan
"""A plan as a job takes it: path of its file, or loaded."""


def plane_file(plane: PlaneInput) -> PlaneFile:
    """The plane's file; raises `FileFaults` where it cannot be used."""
    if isinstance(plane, Ready):
        return plane.file
    return plane if isinstance(plane, PlaneFile) else load_plane(plane)


def made_ready(plane: Ready | PlaneFile, air: Air | None = None, *, progress: Progress = silent) -> Ready:
    """The plane made ready; one that is keeps its own air."""
    return plane if isinstance(plane, Ready) else prepare(plane, air, progress=progress)


def plane_and_plan(plane: PlaneInput, plan: PlanInput | None) -> tuple[Ready | PlaneFile, Plan, str]:
    """Both loaded, and what the plan is called; None is the plane as it is now."""
    given = plane if isinstance(plane, Ready) else plane_file(plane)
    file = plane_file(given)
    if plan is None:
        return given, present_plan(file.plane), "as it is now"
    if isinstance(plan, Plan):
        return given, plan, "plan"
    return given, load_plan(plan, file.plane), os.path.basename(os.fspath(plan))
