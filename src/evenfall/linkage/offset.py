"""The arm offset of one corner: which tooth, arm, hole and pulse keep the roll with crow out and leave the snap room.

Two things are chosen besides the holes: where the arm stands at the centre pulse (teeth), which fixes what the stops
leave, and where it stands with the surface at neutral (teeth plus pulse shift), which fixes the gain. Angles in rad,
the arm's from square to its rod, pushing positive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.linkage.candidate import (
    LOAD_SHARE,
    RETENTION_BAND,
    Candidate,
    CentreShift,
    Loss,
    OffsetResult,
    OffsetTask,
    Outcome,
    PlaneOffsets,
    Position,
)
from evenfall.linkage.corner import (
    CAUSES,
    OVER_CENTRE_MARGIN,
    Corner,
    Limits,
    mean_throw,
    travel_limits,
    turn_for_mean,
)
from evenfall.linkage.fourbar import FourBar, forward, inverse, square, throw_at, with_offset, working_range
from evenfall.linkage.teeth import ArmSetting, arm_settings

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
_KEPT = 12
"""Candidates kept in a result."""
_MISSED = 100.0
"""Score added where a target is missed; the soft part stays far below."""


@dataclass(frozen=True, kw_only=True)
class _Batch:
    """Everything judged at once; arrays of one length."""

    bar: FourBar
    limits: Limits
    setting: NDArray[np.intp]
    centre: Array
    neutral: Array
    deployed: Array
    assembles: Flags
    crow_reached: Flags
    normal_turn: Array
    snap_turn: Array
    retention: Array
    retention_snap: Array
    snap_stowed: Array
    snap_deployed: Array
    uneven: Array
    steepest: Array
    load: Array


def _holes(task: OffsetTask) -> tuple[Array, Array]:
    """Every pair of arm hole and horn hole."""
    bar = task.corner.bar
    arms = np.asarray(task.arm_holes or (float(np.asarray(bar.arm)),), float)
    horns = np.asarray(task.horn_holes or (float(np.asarray(bar.horn)),), float)
    first, second = np.meshgrid(arms, horns, indexing="ij")
    return first.ravel(), second.ravel()


def _bars(task: OffsetTask, arm: Array, horn: Array, offset: Array) -> FourBar:
    arm, horn, offset = np.broadcast_arrays(arm, horn, offset)
    return with_offset(replace(task.corner.bar, arm=arm, horn=horn, rod=np.ones(arm.shape)), offset)


def _crow_way(task: OffsetTask) -> float:
    """+1 where crow pushes the rod, -1 where it pulls."""
    return task.corner.bar.sense * (1.0 if task.corner.crow >= 0 else -1.0)


def _wanted_offsets(task: OffsetTask, arm: Array, horn: Array, targets: tuple[float, ...]) -> Array:
    """Arm offsets (targets, pairs) that give each target retention without stops; nan where no crow is reached."""
    if task.corner.crow == 0.0:
        return np.zeros((1, arm.size))
    against = -_crow_way(task) * np.radians(np.arange(-20.0, 61.0, 2.0))
    bar = _bars(task, arm[None, :], horn[None, :], against[:, None])
    zero, span = square(bar), working_range(bar)
    ends = {"low": span.low - zero + 1e-6, "high": span.high - zero - 1e-6}
    neutral = np.broadcast_to(against[:, None], zero.shape)
    out = inverse(bar, task.corner.crow)
    turn = turn_for_mean(bar, neutral, task.throw_normal, **ends)
    stowed = mean_throw(bar, neutral, turn, **ends)
    kept = mean_throw(bar, out.theta - zero, turn, **ends) / np.maximum(stowed, 1e-9)
    kept = np.where(out.reachable & inverse(bar, 0.0).reachable & (stowed > 0.99 * task.throw_normal), kept, np.nan)
    return np.stack([_crossing(against, kept, target) for target in targets])


def _crossing(offsets: Array, kept: Array, target: float) -> Array:
    """Offset at which each column of `kept` first rises through `target`, else its nearest; nan for an empty column."""
    columns = np.arange(kept.shape[1])
    rises = (kept[:-1] <= target) & (kept[1:] >= target)  # false where either is nan
    first = rises.argmax(axis=0)
    before, after = kept[first, columns], kept[first + 1, columns]
    part = (target - before) / np.where(after > before, after - before, 1.0)
    crossing = offsets[first] + part * (offsets[first + 1] - offsets[first])
    nearest = offsets[np.where(np.isfinite(kept), np.abs(kept - target), np.inf).argmin(axis=0)]
    found = np.where(rises.any(axis=0), crossing, nearest)
    return np.where(np.isfinite(kept).any(axis=0), found, np.nan)


def _reachable_shift(shift: Array, means: CentreShift) -> Array:
    limit = 0.0 if means.means == "none" else means.limit
    held = np.clip(shift, -limit, limit)
    if means.step > 0:
        held = np.round(held / means.step) * means.step
        held = np.where(np.abs(held) > limit + 1e-12, np.trunc(held / means.step) * means.step, held)
    return np.asarray(held)


def _trials(task: OffsetTask, settings: tuple[ArmSetting, ...]) -> tuple[Array, Array, Array, NDArray[np.intp]]:
    """Arm hole, horn hole, offset and setting index of everything worth judging."""
    arm, horn = _holes(task)
    band = RETENTION_BAND
    wanted = _wanted_offsets(task, arm, horn, (1.0, 1.0 - 0.8 * band, 1.0 + 0.8 * band))
    turns = np.array([task.arm_now + setting.turn for setting in settings])
    target = wanted[:, :, None]
    shift = _reachable_shift(target - turns, task.shift)
    both = np.stack([turns + shift, np.broadcast_to(turns, shift.shape)])
    near = np.abs(both - target) < math.radians(15.0)
    index = np.nonzero(near & np.isfinite(target))
    pair, setting = index[2], index[3]
    keys = np.stack([pair, setting, np.round(both[index] / 1e-7)], axis=1)
    _, first = np.unique(keys, axis=0, return_index=True)
    return arm[pair[first]], horn[pair[first]], both[index][first], setting[first]


def _finer(
    task: OffsetTask,
    settings: tuple[ArmSetting, ...],
    tried: tuple[Array, Array, NDArray[np.intp]],
    best: NDArray[np.intp],
) -> tuple[Array, Array, Array, NDArray[np.intp]]:
    """The holes and settings of the `best` trials with every pulse shift there is, half a degree apart."""
    arm, horn, which = (values[best] for values in tried)
    combos = np.unique(np.stack([arm, horn, which], axis=1), axis=0)
    limit = 0.0 if task.shift.means == "none" else task.shift.limit
    shifts = np.unique(
        _reachable_shift(np.append(np.arange(-limit, limit, math.radians(0.5)), [0.0, limit]), task.shift)
    )
    pair, shift = (grid.ravel() for grid in np.meshgrid(np.arange(len(combos)), shifts, indexing="ij"))
    setting = combos[pair, 2].astype(np.intp)
    turns = np.array([task.arm_now + s.turn for s in settings])
    return combos[pair, 0], combos[pair, 1], turns[setting] + shift, setting


def _judge(task: OffsetTask, arm: Array, horn: Array, offset: Array, centre: Array, which: NDArray[np.intp]) -> _Batch:
    """Evaluate a batch of ways to set the corner up."""
    corner = task.corner
    bar = _bars(task, arm, horn, offset)
    zero = square(bar)
    limits = travel_limits(
        bar,
        centre=centre,
        stop_low=corner.stop_low,
        stop_high=corner.stop_high,
        hinge_up=corner.hinge_up,
        hinge_down=corner.hinge_down,
        contact_up=corner.contact_up,
        contact_down=corner.contact_down,
    )
    ends = {"low": limits.low, "high": limits.high}
    home = inverse(bar, 0.0)
    out = inverse(bar, corner.crow)
    neutral, deployed = home.theta - zero, out.theta - zero
    assembles = home.reachable & (np.abs(neutral - offset) < 1e-6) & (neutral > limits.low) & (neutral < limits.high)
    crow_reached = assembles & out.reachable & (deployed >= limits.low) & (deployed <= limits.high)
    turn = turn_for_mean(bar, neutral, task.throw_normal, **ends)
    stowed = mean_throw(bar, neutral, turn, **ends)
    kept = mean_throw(bar, deployed, turn, **ends)
    room_stowed = np.maximum(np.minimum(neutral - limits.low, limits.high - neutral), 0.0)
    room_deployed = np.maximum(np.minimum(deployed - limits.low, limits.high - deployed), 0.0)
    snap_turn = np.maximum(
        turn_for_mean(bar, neutral, task.throw_snap, **ends), turn_for_mean(bar, deployed, task.throw_snap, **ends)
    )
    snap_both = [mean_throw(bar, at, snap_turn, **ends) for at in (neutral, deployed)]
    down = np.abs(throw_at(bar, np.clip(neutral + turn, limits.low, limits.high) + zero))
    up = np.abs(throw_at(bar, np.clip(neutral - turn, limits.low, limits.high) + zero))
    steepest, load = _demand(task, bar, limits, neutral, deployed, snap_turn)
    return _Batch(
        bar=bar,
        limits=limits,
        setting=which,
        centre=centre,
        neutral=neutral,
        deployed=deployed,
        assembles=np.asarray(assembles),
        crow_reached=np.asarray(crow_reached),
        normal_turn=turn,
        snap_turn=snap_turn,
        retention=np.where(crow_reached, kept / np.maximum(stowed, 1e-9), 0.0),
        retention_snap=np.where(crow_reached, snap_both[1] / np.maximum(snap_both[0], 1e-9), 0.0),
        snap_stowed=mean_throw(bar, neutral, room_stowed, **ends),
        snap_deployed=np.where(crow_reached, mean_throw(bar, deployed, room_deployed, **ends), 0.0),
        uneven=bar.sense * (down - up) / np.maximum(down + up, 1e-9),
        steepest=steepest,
        load=load,
    )


def _demand(
    task: OffsetTask, bar: FourBar, limits: Limits, neutral: Array, deployed: Array, snap: Array
) -> tuple[Array, Array]:
    """Greatest |gain| over the used travel, and greatest servo torque over stall torque."""
    first = np.maximum(np.minimum(neutral, deployed) - snap, limits.low)
    last = np.minimum(np.maximum(neutral, deployed) + snap, limits.high)
    path = np.linspace(first, last, 25)
    motion = forward(bar, path + square(bar))
    gain = np.abs(motion.gain)
    if not task.moments or not math.isfinite(task.stall_torque):
        return gain.max(axis=0), np.zeros(gain.shape[1])
    order = np.argsort(task.moment_angles)
    moment = np.interp(motion.throw, np.asarray(task.moment_angles)[order], np.abs(np.asarray(task.moments))[order])
    return gain.max(axis=0), np.asarray((gain * moment).max(axis=0) / task.stall_torque)


def _shortfalls(task: OffsetTask, batch: _Batch) -> dict[str, Array]:
    """How far each target is missed, scaled so that 1 is a grave miss; 0 where met."""
    off = np.maximum(np.abs(batch.retention - 1.0) - RETENTION_BAND, 0.0)
    snap = np.minimum(batch.snap_stowed, batch.snap_deployed)
    rod = np.asarray(batch.bar.rod, float)
    return {
        "assembles": np.where(batch.assembles, 0.0, 100.0),
        "crow": np.where(batch.crow_reached, 0.0, 10.0),
        "retention": off / 0.25,
        "snap": np.maximum(task.throw_snap - snap - 1e-9, 0.0) / (0.5 * task.throw_snap),
        "load": np.maximum(batch.load - LOAD_SHARE, 0.0) / LOAD_SHARE,
        "rod": np.where((rod >= task.rod_shortest) & (rod <= task.rod_longest), 0.0, 1.0),
    }


def _scores(task: OffsetTask, batch: _Batch) -> Array:
    """Cost of each candidate: misses first, then balance of load, resolution, reserve, evenness and pulse shift."""
    misses = np.sum(list(_shortfalls(task, batch).values()), axis=0)
    reserve = np.minimum(batch.snap_stowed, batch.snap_deployed) / task.throw_snap - 1.0
    shift = np.abs(batch.neutral - batch.centre)
    soft = (
        0.5 * np.abs(batch.retention - 1.0) / RETENTION_BAND
        + 1.0 * batch.load / LOAD_SHARE
        + 1.0 * batch.steepest  # surface step and servo load both grow with it
        + 0.5 * np.clip(0.1 - reserve, 0.0, 0.1) / 0.1
        + 0.5 * np.abs(batch.uneven)
        + 0.2 * shift / math.radians(25.0)
    )
    return np.asarray(np.where(misses > 0, _MISSED + 100.0 * misses, 0.0) + soft)


def _reasons(task: OffsetTask, batch: _Batch, i: int, *, met: bool) -> tuple[str, ...]:
    """Why candidate `i` is refused, or what it gives."""
    deg = math.degrees
    corner, limits = task.corner, batch.limits
    if not batch.assembles[i]:
        return ("arm, rod and horn do not meet at neutral inside the stops with this offset",)
    if not batch.crow_reached[i]:
        push = _crow_way(task) > 0
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


def _end_throw(batch: _Batch, i: int, end: float) -> float:
    bar = _pick(batch.bar, i)
    return float(throw_at(bar, end + square(bar)))


def _pick(bar: FourBar, i: int) -> FourBar:
    arm, horn, rod = (float(np.asarray(value)[i]) for value in (bar.arm, bar.horn, bar.rod))
    return replace(bar, arm=arm, horn=horn, rod=rod)


def _positions(corner: Corner, batch: _Batch, i: int) -> tuple[Position, ...]:
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


def _candidate(task: OffsetTask, batch: _Batch, settings: tuple[ArmSetting, ...], i: int, score: float) -> Candidate:
    corner = replace(task.corner, bar=_pick(batch.bar, i), centre=float(batch.centre[i]))
    met = all(value[i] == 0.0 for value in _shortfalls(task, batch).values())
    neutral, deployed = float(batch.neutral[i]), float(batch.deployed[i])
    low, high = float(batch.limits.low[i]), float(batch.limits.high[i])
    positions = _positions(corner, batch, i)
    used = [place.servo for place in positions]
    way = _crow_way(task)
    travel = (high - neutral) if way > 0 else (neutral - low)
    gains = np.abs(corner.gain([neutral, deployed]))
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
        gain_stowed=float(gains[0]),
        gain_deployed=float(gains[1]),
        uneven=float(batch.uneven[i]),
        resolution=float(batch.steepest[i]) * corner.servo_gain * corner.pulse_step,
        load=float(batch.load[i]),
        room_low=min(used) - low,
        room_high=high - max(used),
        crow_share=abs(deployed - neutral) / travel if travel > 0 else math.inf,
        positions=positions,
        score=score,
        met=met,
        why=_reasons(task, batch, i, met=met),
    )


def without_offset(task: OffsetTask, *, arm: float, horn: float) -> Loss:
    """What the holes would lose with the arm square to its rod at neutral and at the centre pulse."""
    one = np.zeros(1)
    batch = _judge(task, one + arm, one + horn, one, one, np.zeros(1, np.intp))
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
    arm, horn, offset, which = _trials(task, settings)
    if arm.size == 0:
        return OffsetResult(status="none", reason=_no_trial(task), best=None, candidates=(), tried=0, no_offset=None)
    centre = np.array([task.arm_now + setting.turn for setting in settings])[which]
    batch = _judge(task, arm, horn, offset, centre, which)
    scores = _scores(task, batch)
    if scores.min() >= _MISSED:  # nothing meets every target yet: look between the trials
        arm, horn, offset, which = _finer(task, settings, (arm, horn, which), np.argsort(scores, kind="stable")[:60])
        centre = np.array([task.arm_now + setting.turn for setting in settings])[which]
        batch = _judge(task, arm, horn, offset, centre, which)
        scores = _scores(task, batch)
    order = [int(i) for i in np.argsort(scores, kind="stable")[:_KEPT] if batch.assembles[i]]
    kept = tuple(_candidate(task, batch, settings, i, float(scores[i])) for i in order)
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
    arm, horn = _holes(task)
    largest = float((arm / horn).max())
    need = abs(math.sin(task.corner.crow)) / (2.0 * math.cos(OVER_CENTRE_MARGIN))
    return (
        f"No hole, tooth and pulse shift reaches {abs(math.degrees(task.corner.crow)):.1f} deg of crow with the normal "
        f"throw around it: the largest arm over horn is {largest:.2f}, at least about {need:.2f} is needed. "
        " Use a longer arm, a shorter horn, more shift or less crow."
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
