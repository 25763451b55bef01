"""The arm offset of one corner: which tooth, arm, hole and pulse keep the roll with crow out and leave the snap room.

Two things are chosen besides the holes: where the arm stands at the centre pulse (teeth), which fixes what the stops
leave, and where it stands with the surface at neutral (teeth plus pulse shift), which fixes the gain. Angles in rad,
the arm's from square to its rod, pushing positive.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from evenfall.linkage.candidate import (
    LOAD_SHARE,
    RETENTION_BAND,
    Candidate,
    Loss,
    OffsetResult,
    OffsetTask,
    Outcome,
    PlaneOffsets,
    Position,
)
from evenfall.linkage.corner import CAUSES, OVER_CENTRE_MARGIN, Corner
from evenfall.linkage.fourbar import FourBar, square, throw_at
from evenfall.linkage.offset_judge import MISSED, Batch, judge, scores, shortfalls
from evenfall.linkage.offset_trials import crow_way, finer, holes, trials
from evenfall.linkage.teeth import ArmSetting, arm_settings

_KEPT = 12
"""Candidates kept in a result."""


def _reasons(task: OffsetTask, batch: Batch, i: int, *, met: bool) -> tuple[str, ...]:
    """Why candidate `i` is refused, or what it gives."""
    deg = math.degrees
    corner, limits = task.corner, batch.limits
    if not batch.assembles[i]:
        return ("arm, rod and horn do not meet at neutral inside the stops with this offset",)
    if not batch.crow_reached[i]:
        push = crow_way(task) > 0
        cause = CAUSES[int((limits.high_cause if push else limits.low_cause)[i])]
        end = float((limits.high if push else limits.low)[i])
        most = _end_throw(batch, i, end)
        return (f"crow reaches {abs(deg(most)):.1f} of {abs(deg(corner.crow)):.1f} deg: {cause} comes first",)
    rows = []
    if abs(batch.retention[i] - 1.0) > RETENTION_BAND:
        rows.append(f"keeps {100 * batch.retention[i]:.0f} % of the roll with crow out, wanted within 5 %")
    for state, got in (("stowed", batch.snap_stowed[i]), ("with crow out", batch.snap_deployed[i])):
        if got < task.throw_snap - 1e-9:
            at = batch.neutral[i] if state == "stowed" else batch.deployed[i]
            low_side = at - limits.low[i] < limits.high[i] - at
            cause = CAUSES[int((limits.low_cause if low_side else limits.high_cause)[i])]
            rows.append(f"snap {state} reaches {deg(got):.1f} of {deg(task.throw_snap):.1f} deg: {cause}")
    if batch.load[i] > LOAD_SHARE:
        rows.append(f"the servo would work at {100 * batch.load[i]:.0f} % of its stall torque, allowed 50 %")
    rod = float(np.asarray(batch.bar.rod)[i])
    if not task.rod_shortest <= rod <= task.rod_longest:
        rows.append(f"needs a rod of {1000 * rod:.1f} mm, outside what yours adjusts to")
    if met:
        rows.append(
            f"keeps {100 * batch.retention[i]:.1f} % of the roll, snap {deg(batch.snap_stowed[i]):.1f} deg stowed and "
            f"{deg(batch.snap_deployed[i]):.1f} deg with crow out"
        )
    return tuple(rows)


def _end_throw(batch: Batch, i: int, end: float) -> float:
    bar = _pick(batch.bar, i)
    return float(throw_at(bar, end + square(bar)))


def _pick(bar: FourBar, i: int) -> FourBar:
    arm, horn, rod = (float(np.asarray(value)[i]) for value in (bar.arm, bar.horn, bar.rod))
    return replace(bar, arm=arm, horn=horn, rod=rod)


def _positions(corner: Corner, batch: Batch, i: int) -> tuple[Position, ...]:
    """Neutral, deployed and the extremes of both throws."""
    low, high = float(batch.limits.low[i]), float(batch.limits.high[i])
    neutral, deployed = float(batch.neutral[i]), float(batch.deployed[i])
    down = 1.0 if corner.bar.sense > 0 else -1.0
    places = [("neutral", neutral), ("deployed", deployed)]
    for throw, turn in (("normal", float(batch.normal_turn[i])), ("snap", float(batch.snap_turn[i]))):
        for state, at in (("stowed", neutral), ("deployed", deployed)):
            places += [(f"{throw} down, {state}", at + down * turn), (f"{throw} up, {state}", at - down * turn)]
    rows = []
    for name, asked in places:
        servo = min(max(asked, low), high)
        rows.append(
            Position(
                name=name,
                servo=servo,
                pulse=float(corner.pulse(servo)),
                surface=float(corner.throw(servo)),
                clipped=abs(servo - asked) > 1e-9,
            )
        )
    return tuple(rows)


def _candidate(task: OffsetTask, batch: Batch, settings: tuple[ArmSetting, ...], i: int, score: float) -> Candidate:
    corner = replace(task.corner, bar=_pick(batch.bar, i), centre=float(batch.centre[i]))
    met = all(value[i] == 0.0 for value in shortfalls(task, batch).values())
    neutral = float(batch.neutral[i])
    low, high = float(batch.limits.low[i]), float(batch.limits.high[i])
    positions = _positions(corner, batch, i)
    used = [place.servo for place in positions]
    return Candidate(
        corner=corner,
        setting=settings[int(batch.setting[i])],
        shift=neutral - corner.centre,
        shift_pulse=float(corner.pulse(neutral)) - corner.pulse_centre,
        offset=neutral,
        normal_turn=float(batch.normal_turn[i]),
        snap_turn=float(batch.snap_turn[i]),
        retention=float(batch.retention[i]),
        retention_snap=float(batch.retention_snap[i]),
        snap_stowed=float(batch.snap_stowed[i]),
        snap_deployed=float(batch.snap_deployed[i]),
        uneven=float(batch.uneven[i]),
        resolution=float(batch.steepest[i]) * corner.servo_gain * corner.pulse_step,
        load=float(batch.load[i]),
        room_low=min(used) - low,
        room_high=high - max(used),
        positions=positions,
        score=score,
        met=met,
        why=_reasons(task, batch, i, met=met),
    )


def without_offset(task: OffsetTask, *, arm: float, horn: float) -> Loss:
    """What the holes would lose with the arm square to its rod at neutral and at the centre pulse."""
    one = np.zeros(1)
    batch = judge(task, one + arm, one + horn, one, one, np.zeros(1, np.intp))
    if not batch.crow_reached[0]:
        return Loss(
            possible=False,
            retention=0.0,
            normal_lost=task.throw_normal,
            snap_lost=task.throw_snap,
            text="Without offset these holes do not work: " + _reasons(task, batch, 0, met=False)[0] + ".",
        )
    kept = float(batch.retention[0])
    normal_lost = task.throw_normal * (1.0 - kept)
    snap_lost = max(task.throw_snap - float(batch.snap_deployed[0]), 0.0)
    deg = math.degrees
    text = (
        f"Without offset the down-line roll keeps {100 * kept:.0f} %: {deg(normal_lost):.1f} of "
        f"{deg(task.throw_normal):.1f} deg are lost"
    )
    text += f", and the snap is {deg(snap_lost):.1f} deg short with crow out." if snap_lost > 1e-9 else "."
    return Loss(possible=True, retention=kept, normal_lost=normal_lost, snap_lost=snap_lost, text=text)


def solve_offset(task: OffsetTask) -> OffsetResult:
    """Choose teeth, arm, holes and pulse shift so that roll stays and the snap fits with crow out.

    For every pair of holes, the offsets that keep the roll (and the edges of the 5 % band) are found from the exact
    four-bar; every tooth near them, with the pulse shift there is, is judged against stops, dead points, hinge limits,
    load and rod, and ranked. Source of the idea: mirror offset, gain = k cos(theta)/cos(throw) (long-rod law).
    """
    settings = arm_settings(task.spline_teeth, task.horn_arms, turn_over=task.turn_over)
    arm, horn, offset, which = trials(task, settings)
    if arm.size == 0:
        return OffsetResult(status="none", reason=_no_trial(task), best=None, candidates=(), tried=0, no_offset=None)
    centre = np.array([task.arm_now + setting.turn for setting in settings])[which]
    batch = judge(task, arm, horn, offset, centre, which)
    cost = scores(task, batch)
    if cost.min() >= MISSED:  # nothing meets every target yet: look between the trials
        arm, horn, offset, which = finer(task, settings, (arm, horn, which), np.argsort(cost, kind="stable")[:60])
        centre = np.array([task.arm_now + setting.turn for setting in settings])[which]
        batch = judge(task, arm, horn, offset, centre, which)
        cost = scores(task, batch)
    order = [int(i) for i in np.argsort(cost, kind="stable")[:_KEPT] if batch.assembles[i]]
    kept = tuple(_candidate(task, batch, settings, i, float(cost[i])) for i in order)
    if not kept or not batch.crow_reached[order[0]]:
        reason = kept[0].why[0] if kept else _no_trial(task)
        return OffsetResult(
            status="none", reason=_sentence(reason), best=None, candidates=kept, tried=arm.size, no_offset=None
        )
    best = kept[0]
    loss = without_offset(
        task, arm=float(np.asarray(best.corner.bar.arm)), horn=float(np.asarray(best.corner.bar.horn))
    )
    return OffsetResult(
        status="met" if best.met else "limited",
        reason=_sentence("; ".join(best.why)) + _remedy(best),
        best=best,
        candidates=kept,
        tried=arm.size,
        no_offset=loss,
    )


_REMEDIES = (
    ("hinge limit", "free the hinge further, or take less crow or less snap"),
    ("surface contact", "clear the surface, or take less crow or less snap"),
    ("servo stop", "a longer arm or shorter horn needs less servo turn; or a servo with more travel, or less snap"),
    ("over-centre", "a longer arm or shorter horn keeps away from the dead point; or less snap"),
    ("of the roll", "more pulse shift, a horn with more arms, or other holes move the offset"),
    ("stall torque", "a stronger servo, a shorter arm or a longer horn"),
    ("rod of", "another rod or other holes"),
)
"""Word in a refusal and what would help."""


def _remedy(best: Candidate) -> str:
    """What would help a candidate that misses something, as a sentence with a space before it; empty where met."""
    if best.met:
        return ""
    found = [remedy for word, remedy in _REMEDIES if any(word in row for row in best.why)]
    return " What helps: " + "; ".join(found) + "." if found else ""


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _no_trial(task: OffsetTask) -> str:
    """Why nothing could be tried: the throw the holes give at most against the crow asked for."""
    arm, horn = holes(task)
    largest = float((arm / horn).max())
    need = abs(math.sin(task.corner.crow)) / (2.0 * math.cos(OVER_CENTRE_MARGIN))
    return (
        f"No hole, tooth and pulse shift reaches {abs(math.degrees(task.corner.crow)):.1f} deg of crow with the normal "
        f"throw around it: the largest arm over horn is {largest:.2f}, at least about {need:.2f} is needed. "
        "Use a longer arm, a shorter horn, more shift or less crow."
    )


def _for_corner(result: OffsetResult, corner: Corner) -> OffsetResult:
    """A result found for a corner that pushes with a longer pulse, for one of another name and direction."""

    def turned(candidate: Candidate) -> Candidate:
        own = replace(candidate.corner, name=corner.name, direction=corner.direction, roll_sign=corner.roll_sign)
        return replace(
            candidate,
            corner=own,
            shift_pulse=corner.direction * candidate.shift_pulse,
            positions=tuple(replace(place, pulse=float(own.pulse(place.servo))) for place in candidate.positions),
        )

    kept = tuple(turned(candidate) for candidate in result.candidates)
    return replace(result, best=kept[0] if result.best is not None else None, candidates=kept)


def solve_plane(tasks: dict[str, OffsetTask]) -> PlaneOffsets:
    """`solve_offset` for every corner, and the linkage part of the plane's roll retention."""
    corners: dict[str, OffsetResult] = {}
    solved: dict[OffsetTask, OffsetResult] = {}
    for name, task in tasks.items():
        same = replace(task, corner=replace(task.corner, name="", direction=1, roll_sign=1))
        if same not in solved:
            solved[same] = solve_offset(same)
        corners[name] = _for_corner(solved[same], task.corner)
    chosen = [result.best for result in corners.values()]
    kept = 0.0 if not chosen else math.fsum(0.0 if best is None else best.retention for best in chosen) / len(chosen)
    worst: Outcome = "met"
    missing: dict[str, list[str]] = {}
    for name, result in corners.items():
        if result.status != "met":
            worst = "none" if "none" in (worst, result.status) else "limited"
            missing.setdefault(result.reason, []).append(name.replace("_", " "))
    notes = [f"{', '.join(names)}: {reason}" for reason, names in missing.items()]
    return PlaneOffsets(
        corners=corners,
        retention=kept,
        status=worst,
        reason=" ".join(notes) or f"Every corner meets its targets; the linkages keep {100 * kept:.1f} % of the roll.",
    )
