"""Changed planes for a flight, one sigma each way, and what they do to speeds, evenness and charge."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenfall.estimate import Estimate, combine, one_at_a_time
from evenfall.lines.balance import Airframe, balance
from evenfall.lines.flown_path import Ended, FlownPath
from evenfall.lines.loaded import LoadedDrag
from evenfall.lines.spread import BEFORE, CROW_SETTING, Doubt, Nudge, narrowed, nudges
from evenfall.lines.variants import Variant
from evenfall.plane.airframe import Plane
from evenfall.plane.perturb import attribute, perturbed
from evenfall.radio.plan import Crow, Plan

Floats = NDArray[np.float64]

CAPACITY = 0.05
"""One sigma of the battery's capacity as labelled, share. Common practice, no source."""


def flight_nudges(
    frames: Sequence[Airframe], forces: LoadedDrag, plan: Plan, spreads: Mapping[str, Doubt], *, wanted: float
) -> tuple[Nudge, ...]:
    """Every uncertain input of a flight: those of a steady speed, the sections' transition, the crow as set, capacity.

    Args:
        frames: the aeroplane with the nominal, the late and the early transition.
    """
    plane = frames[0].plane
    found = list(nudges(plane, spreads, level=plane.controller.level(plan.motor.level), crow=plan.crow is not None))
    found.append(_transition(frames, plan.crow, wanted))
    if plan.crow is not None and plan.crow.angle > 0:
        found.append(_setting(plane, forces, plan.crow, wanted))
    capacity = plane.battery.capacity
    low, high = (
        Variant(plane=perturbed(plane, {"battery.capacity": capacity * (1 + way * CAPACITY)})) for way in (-1, 1)
    )
    found.append(Nudge(name="battery.capacity", low=low, high=high))
    return tuple(found)


def _transition(frames: Sequence[Airframe], crow: Crow | None, wanted: float) -> Nudge:
    """Late and early transition as factors on the surfaces' drag: stowed in level flight, deployed straight down."""
    plane = frames[0].plane
    slopes = np.array([0.0, -math.pi / 2, -math.pi / 2])
    out = np.array([0.0, 0.0, 1.0 if crow is not None else 0.0])
    drags = [balance(frame, speed=wanted, slope=slopes, crow=crow, deployment=out).drag_surfaces for frame in frames]
    added = [drag[2] - drag[1] for drag in drags]

    def changed(which: int) -> Variant:
        factor = float(added[which] / added[0]) if abs(added[0]) > 1e-6 else 1.0
        return Variant(plane=plane, clean=float(drags[which][0] / drags[0][0]), crow=factor)

    return Nudge(name="sections.transition", low=changed(1), high=changed(2))


def _setting(plane: Plane, forces: LoadedDrag, crow: Crow, wanted: float) -> Nudge:
    """Crow set half a degree too small and too large, by the tables at full deployment without lift."""
    only = np.array([[0.0, 1.0, 0.0]])
    share = CROW_SETTING / crow.angle
    speed, nothing = np.array([wanted]), np.zeros(1)

    def added(out: float) -> float:
        return float(forces.drag(speed, nothing, nothing, np.array([out]), only)[0])

    less = added(1.0 - share) / max(added(1.0), 1e-9)
    return Nudge(
        name="plan.crow_setting", low=Variant(plane=plane, crow=less), high=Variant(plane=plane, crow=2.0 - less)
    )


def variants_of(plane: Plane, changes: Sequence[Nudge]) -> tuple[Variant, ...]:
    """The plane itself, then low and high of every change."""
    return (Variant(plane=plane), *(variant for nudge in changes for variant in (nudge.low, nudge.high)))


@dataclass(frozen=True, kw_only=True)
class FlightSpread:
    """Estimates of a flight; None where a changed plane did not get so far.

    Args:
        speeds: mean speed of every part, m/s, by (figure, part).
        unevenness: as `FlightReport.unevenness`. charge: A s. duration: s.
        lost: changes of one sigma with which a plane does not get to the end though the plane itself does: name and how
            it ended.
    """

    speeds: Mapping[tuple[int, int], Estimate | None]
    unevenness: Estimate | None
    charge: Estimate | None
    duration: Estimate | None
    lost: tuple[tuple[str, Ended], ...] = ()


def flight_spread(done: FlownPath, changes: Sequence[Nudge], *, wanted: float) -> FlightSpread:
    """Effects of the changes on the flight of `variants_of` them."""
    owner = [(done.path.pieces[number].figure, done.path.pieces[number].part) for number in done.piece.tolist()]
    time = done.row("time")
    ends: dict[tuple[int, int], tuple[int, int]] = {}
    for step in range(1, len(owner)):
        begun = ends.get(owner[step], (step - 1, step))[0]
        ends[owner[step]] = (begun, step)

    def estimate(values: Floats, reached: float) -> Estimate | None:
        if not (done.end >= reached - 1e-6).all() or not np.isfinite(values).all():
            return None
        effects = {
            nudge.name: one_at_a_time(float(values[2 * k + 1]), float(values[2 * k + 2]))
            for k, nudge in enumerate(changes)
        }
        return combine(float(values[0]), narrowed(effects))

    speeds = {}
    for part, (begun, last) in ends.items():
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (done.place[last] - done.place[begun]) / (time[last] - time[begun])
        speeds[part] = estimate(np.asarray(mean), float(done.place[last]))
    whole = float(done.place[-1])
    return FlightSpread(
        speeds=speeds,
        unevenness=estimate(unevenness_of(done, wanted), whole),
        charge=estimate(done.row("charge")[-1], whole),
        duration=estimate(time[-1], whole),
        lost=_lost(done, changes) if done.ended[0] is Ended.FLOWN else (),
    )


def _lost(done: FlownPath, changes: Sequence[Nudge]) -> tuple[tuple[str, Ended], ...]:
    found: dict[str, Ended] = {}
    for k, nudge in enumerate(changes):
        for ended in done.ended[2 * k + 1 : 2 * k + 3]:
            if ended is not Ended.FLOWN:
                found[nudge.name.removeprefix(BEFORE)] = ended
    return tuple(found.items())


def unevenness_of(done: FlownPath, wanted: float) -> Floats:
    """Root mean square of speed over wanted speed less one, in time, of every plane."""
    spans = np.diff(done.row("time"), axis=0, prepend=done.row("time")[:1]) * done.counted(wanted)[:, None]
    off = done.row("speed") / wanted - 1.0
    return np.asarray(np.sqrt((spans * off**2).sum(axis=0) / np.maximum(spans.sum(axis=0), 1e-9)))


def drawn_at_random(
    plane: Plane, changes: Sequence[Nudge], *, count: int, rng: np.random.Generator
) -> tuple[Variant, ...]:
    """Planes with every uncertain input moved at once, each change by its own normal number of sigmas.

    Corrections and factors move by their logarithm, inputs of the file straight.
    """
    return tuple(_drawn(plane, changes, rng) for _ in range(count))


def _drawn(plane: Plane, changes: Sequence[Nudge], rng: np.random.Generator) -> Variant:
    made, clean, crow = plane, 1.0, 1.0
    for nudge in changes:
        way = float(rng.standard_normal())
        if nudge.name.startswith(BEFORE):
            continue
        clean *= (nudge.high.clean / nudge.low.clean) ** (0.5 * way)
        crow *= (max(nudge.high.crow, 0.05) / max(nudge.low.crow, 0.05)) ** (0.5 * way)
        made = _moved(made, nudge, way)
    return Variant(plane=made, clean=clean, crow=crow)


def _moved(plane: Plane, nudge: Nudge, way: float) -> Plane:
    low, high = nudge.low.plane, nudge.high.plane
    if nudge.name.startswith("corrections."):
        factors = {
            name: value * (getattr(high.corrections, name) / getattr(low.corrections, name)) ** (0.5 * way)
            for name, value in vars(plane.corrections).items()
        }
        return replace(plane, corrections=replace(plane.corrections, **factors))
    if nudge.name in ("sections.transition", "plan.crow_setting"):
        return plane
    now, a, b = (float(attribute(one, nudge.name)) for one in (plane, low, high))
    return perturbed(plane, {nudge.name: max(now + 0.5 * way * (b - a), 0.3 * now)})
