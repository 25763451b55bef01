"""Linkages of a plan: arm offset, holes and teeth of every corner, solved for the crow and the throws of the plan."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from evenfall.errors import EvenfallError
from evenfall.lines.balance import Airframe
from evenfall.lines.loads import SAGGED_SUPPLY, CornerMoments, corner_moments
from evenfall.linkage.candidate import Candidate, CentreShift, OffsetTask, Outcome, PlaneOffsets
from evenfall.linkage.fitted import corner_as_measured, offset_task
from evenfall.linkage.load import stall_torque
from evenfall.linkage.offset import solve_plane
from evenfall.plane.airframe import Plane
from evenfall.radio.corner_setup import CornerSetup
from evenfall.radio.plan import Crow, Throws


@dataclass(frozen=True, kw_only=True)
class FittedLinkages:
    """The corners of a plan.

    Args:
        status: "met", "limited" (flies, something is short), "none" (a corner cannot be fitted at all), or "unknown"
            where the plane file describes no servo or linkage.
        reason: in words.
        setups: by corner; empty where unknown.
        retention: linkage part of roll retention at normal throw; None where unknown.
        snap: least mean snap throw with crow out, rad; None where unknown.
        load: greatest share of the stall torque; None where unknown.
        lost: what arms left square would lose, in words; empty where nothing.
    """

    status: Outcome | str
    reason: str
    setups: Mapping[str, CornerSetup]
    retention: float | None
    snap: float | None
    load: float | None
    lost: str
    offsets: PlaneOffsets | None


UNKNOWN = FittedLinkages(
    status="unknown",
    reason="The plane file describes no servo and linkage: offsets, travel and servo load are not part of this plan.",
    setups={},
    retention=None,
    snap=None,
    load=None,
    lost="",
    offsets=None,
)


def fit_linkages(
    frame: Airframe, crow: Crow, throws: Throws, *, wanted: float, shift: CentreShift | None = None
) -> FittedLinkages:
    """Choose offset, teeth and holes of every corner for a crow and the plan's throws.

    Args:
        wanted: m/s; servos are loaded at 1.3 times that.
        shift: what can move the neutral pulse; None is the radio's centre shift.
    """
    plane = frame.plane
    if plane.aileron_servo is None or not plane.aileron_linkage:
        return UNKNOWN
    moments = corner_moments(frame, crow, wanted=wanted, throws=(throws.normal, throws.snap))
    try:
        tasks = corner_tasks(plane, crow, throws, moments, shift=shift)
    except EvenfallError as error:
        return FittedLinkages(
            status="none", reason=str(error), setups={}, retention=None, snap=None, load=None, lost="", offsets=None
        )
    solved = solve_plane(tasks)
    chosen = {name: result.best for name, result in solved.corners.items() if result.best is not None}
    losses = {result.no_offset.text for result in solved.corners.values() if result.no_offset is not None}
    return FittedLinkages(
        status=solved.status,
        reason=solved.reason,
        setups={name: corner_setup(name, best, shift or CentreShift()) for name, best in chosen.items()},
        retention=solved.retention if len(chosen) == len(tasks) and chosen else None,
        snap=min((best.snap_deployed for best in chosen.values()), default=None),
        load=max((best.load for best in chosen.values()), default=None),
        lost=" ".join(sorted(losses)),
        offsets=solved,
    )


def corner_tasks(
    plane: Plane,
    crow: Crow,
    throws: Throws,
    moments: Mapping[str, CornerMoments],
    *,
    shift: CentreShift | None = None,
) -> dict[str, OffsetTask]:
    """The offset task of every corner that has an aileron and a linkage."""
    servo = plane.aileron_servo
    tasks: dict[str, OffsetTask] = {}
    if servo is None:
        return tasks
    stall = stall_torque(servo.torque, servo.supply_voltage, SAGGED_SUPPLY * servo.supply_voltage)
    for name, linkage in plane.aileron_linkage.items():
        wing = plane.wings.get(name.partition("_")[0])
        if wing is None or wing.aileron is None:
            continue
        corner = corner_as_measured(
            name,
            servo,
            linkage,
            crow=crow.upper if name.startswith("upper") else crow.lower,
            throw_up=wing.aileron.throw_up,
            throw_down=wing.aileron.throw_down,
        )
        air = moments.get(name)
        tasks[name] = offset_task(
            corner,
            servo,
            linkage,
            throw_normal=throws.normal,
            throw_snap=throws.snap,
            shift=shift,
            stall_torque=stall if air is not None else math.inf,
            moment_angles=tuple(air.angle.tolist()) if air is not None else (),
            # Rounded far below any meaning, so that left and right corners are solved once.
            moments=tuple(air.moment.round(12).tolist()) if air is not None else (),
        )
    return tasks


def corner_setup(name: str, best: Candidate, shift: CentreShift) -> CornerSetup:
    """A chosen candidate as the plan's corner."""
    bar = best.corner.bar
    at = {position.name: position for position in best.positions}
    moved = abs(best.shift_pulse) > 1e-9 and shift.means != "none"
    return CornerSetup(
        corner=name,
        arm_hole=float(bar.arm),
        horn_hole=float(bar.horn),
        teeth=best.setting.teeth,
        arm=best.setting.arm,
        turned_over=best.setting.turned_over,
        offset=best.offset,
        shift=best.shift_pulse if moved else 0.0,
        shift_means=shift.means if moved else "none",
        pulse_neutral=at["neutral"].pulse,
        pulse_deployed=at["deployed"].pulse,
        normal_turn=best.normal_turn,
        snap_turn=best.snap_turn,
    )
