"""What ways to set one corner up give and miss, all judged at once. Rad, m, N m; the arm's angle from square."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evenfall.linkage.candidate import LOAD_SHARE, RETENTION_BAND, OffsetTask
from evenfall.linkage.corner import Limits, mean_throw, travel_limits, turn_for_mean
from evenfall.linkage.fourbar import FourBar, forward, inverse, square, throw_at
from evenfall.linkage.offset_trials import bars

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
MISSED = 100.0
"""Score added where a target is missed; the soft part stays far below."""


@dataclass(frozen=True, kw_only=True)
class Batch:
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


def judge(task: OffsetTask, arm: Array, horn: Array, offset: Array, centre: Array, which: NDArray[np.intp]) -> Batch:
    """Evaluate a batch of ways to set the corner up."""
    corner = task.corner
    bar = bars(task, arm, horn, offset)
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
    return Batch(
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


def shortfalls(task: OffsetTask, batch: Batch) -> dict[str, Array]:
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


def scores(task: OffsetTask, batch: Batch) -> Array:
    """Cost of each candidate: misses first, then balance of load, resolution, reserve, evenness and pulse shift."""
    misses = np.sum(list(shortfalls(task, batch).values()), axis=0)
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
    return np.asarray(np.where(misses > 0, MISSED + 100.0 * misses, 0.0) + soft)
