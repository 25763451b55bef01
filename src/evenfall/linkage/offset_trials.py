"""Which arm offsets of one corner are worth judging: for every pair of holes, those near the roll wanted. Rad, m."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from evenfall.linkage.candidate import RETENTION_BAND, CentreShift, OffsetTask
from evenfall.linkage.corner import mean_throw, turn_for_mean
from evenfall.linkage.fourbar import FourBar, inverse, square, with_offset, working_range
from evenfall.linkage.teeth import ArmSetting

Array = NDArray[np.float64]


def holes(task: OffsetTask) -> tuple[Array, Array]:
    """Every pair of arm hole and horn hole."""
    bar = task.corner.bar
    arms = np.asarray(task.arm_holes or (float(np.asarray(bar.arm)),), float)
    horns = np.asarray(task.horn_holes or (float(np.asarray(bar.horn)),), float)
    first, second = np.meshgrid(arms, horns, indexing="ij")
    return first.ravel(), second.ravel()


def bars(task: OffsetTask, arm: Array, horn: Array, offset: Array) -> FourBar:
    """Linkages of these holes (m), their rods cut for these arm offsets (rad) with the surface at neutral."""
    arm, horn, offset = np.broadcast_arrays(arm, horn, offset)
    return with_offset(replace(task.corner.bar, arm=arm, horn=horn, rod=np.ones(arm.shape)), offset)


def crow_way(task: OffsetTask) -> float:
    """+1 where crow pushes the rod, -1 where it pulls."""
    return task.corner.bar.sense * (1.0 if task.corner.crow >= 0 else -1.0)


def _wanted_offsets(task: OffsetTask, arm: Array, horn: Array, targets: tuple[float, ...]) -> Array:
    """Arm offsets (targets, pairs) that give each target retention without stops; nan where no crow is reached."""
    if task.corner.crow == 0.0:
        return np.zeros((1, arm.size))
    against = -crow_way(task) * np.radians(np.arange(-20.0, 61.0, 2.0))
    bar = bars(task, arm[None, :], horn[None, :], against[:, None])
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


def trials(task: OffsetTask, settings: tuple[ArmSetting, ...]) -> tuple[Array, Array, Array, NDArray[np.intp]]:
    """Arm hole, horn hole, offset and setting index of everything worth judging."""
    arm, horn = holes(task)
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


def finer(
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
