"""Planted causes: a plane whose factors are off and that has one fault, flown by the engine in full, seen by a pilot.

Nothing of the diagnosis' shortcuts: no straight lines or quadratics through sizes, no mirrored ailerons. The pilot
names four of five signs he notices, and now and then one that is not there.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr

from evenfall.fit.causes import Cause, chart
from evenfall.fit.diagnose import _scaled
from evenfall.fit.learned import FACTORS
from evenfall.fit.marches import March, marched, with_factor, with_mass, with_propeller, with_voltage
from evenfall.fit.shows import SHOWN, Shows, _flight, _rolls, turning
from evenfall.fit.suspects import UNITS, tooth_angle
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Crow, Plan, surface_deltas

NAMED, INVENTED = 0.8, 0.01
COMPUTED = (
    "corner",
    "slop",
    "tooth",
    "crow_angle",
    "crow_split",
    "elevator_share",
    "cg",
    "balance",
    "incidence",
    "thrust_line",
    "brake_level",
    "brake_lost",
    "entry",
    "crow_late",
    "air",
    "battery",
    "propeller",
    "weight",
    "short_curve",
    "phase",
    "closed_band",
    "part_lost",
    "blow_back",
    "roll_travel",
)


@dataclass(frozen=True, kw_only=True)
class Planted:
    """One case: the cause, where and how large, and the signs that were named."""

    cause: str
    which: str
    size: float
    signs: tuple[str, ...]


@dataclass
class _Fault:
    """What a planted cause changes."""

    plane: Plane
    plan: Plan
    march: dict[str, float | str]
    always: dict[str, float]
    out: dict[str, float]
    roll: float = 1.0


TRIES = 8


def plant(shows: Shows, cause: Cause, rng: np.random.Generator, *, since: bool = False) -> Planted | None:
    """A seeded case of a cause; None where this plane cannot have it or it showed nothing in `TRIES`.

    The plane's factors are off as far as it doubts them itself. `since`: the cause has come since a flight before.

    It has shown where a sign was named that stands out by one blur against the same plane without the fault.
    """
    places = _places(shows, cause)
    if not places:
        return None
    for _ in range(TRIES):
        which = str(rng.choice(places))
        size = _size(cause, rng)
        signs = _seen(shows, cause, which, size, rng, since)
        if signs:
            return Planted(cause=cause.key, which=which, size=size, signs=signs)
    return None


def _places(shows: Shows, cause: Cause) -> list[str]:
    plane, plan = shows.frame.plane, shows.plan
    full = {name: float(a) for name, a in surface_deltas(plane, plan.crow, 1.0).items()}
    levels = [level.name for level in plane.controller.levels]
    if cause.faults:
        return [key for key in cause.faults if key in shows.faults]
    if cause.key in ("corner", "slop", "tooth"):
        return [name for name, angle in full.items() if angle]
    if cause.key == "brake_level":
        return [name for name in levels if name != plan.motor.level]
    if cause.key == "brake_lost":
        return [levels[0]] if plan.motor.level != levels[0] else []
    if cause.key == "crow_split":
        return [""] if len(plane.wings) == 2 else []
    return [""]


def _size(cause: Cause, rng: np.random.Generator) -> float:
    draw = float(rng.standard_normal())
    match cause.shape:
        case "both":
            return cause.sigma * draw
        case "less":
            return max(-cause.sigma * abs(draw), -0.9)
        case "more" | "in":
            return cause.sigma * abs(draw)
        case "two":
            return math.copysign(cause.sigma, draw)
        case _:
            return cause.sigma


def _made(shows: Shows, plane: Plane, cause: Cause, which: str, size: float) -> _Fault:
    x = size * UNITS.get(cause.size, 1.0)
    plan = shows.plan
    crow = plan.crow
    made = _Fault(plane=plane, plan=plan, march={}, always={}, out={})
    full = {name: float(a) for name, a in surface_deltas(plane, crow, 1.0).items()}
    sign = {name: math.copysign(1.0, angle) for name, angle in full.items()}
    total = sum(abs(a) for a in full.values())

    def crowed(change: Callable[[Crow], Crow]) -> None:
        assert made.plan.crow is not None
        made.plan = replace(made.plan, crow=change(made.plan.crow))

    match cause.key:
        case "corner" | "slop":
            angle = x * sign[which] * (1 if cause.key == "corner" else -1)
            made.out[which] = angle
            made.march["less"] = 1 + angle * sign[which] / total
        case "tooth":
            made.always[which] = x * tooth_angle(shows, which)
        case "crow_angle":
            crowed(lambda c: replace(c, upper=c.upper * (1 + x), lower=c.lower * (1 + x)))
            crowed(lambda c: replace(c, elevator_share=c.elevator_share / (1 + x)))
        case "crow_split":
            crowed(lambda c: replace(c, upper=c.upper * (1 + x), lower=c.lower * (1 - x)))
        case "elevator_share":
            crowed(lambda c: replace(c, elevator_share=c.elevator_share + x / c.angle))
        case "blow_back":
            assert crow is not None
            share = 1 - x / crow.angle
            crowed(lambda c: replace(c, upper=c.upper * share, lower=c.lower * share))
            crowed(lambda c: replace(c, elevator_share=c.elevator_share / share))
        case "short_curve":
            crowed(lambda c: replace(c, upper=c.upper * (1 + x), lower=c.lower * (1 + x)))
        case "phase":
            made.plan = replace(plan, crow=None)
        case "cg":
            made.plane = replace(plane, mass=replace(plane.mass, cg_x=plane.mass.cg_x + x))
        case "balance" | "incidence" | "thrust_line":
            fault, _ = shows.faults[which]
            made.plane = fault.put(plane, fault.value(plane) + size * fault.usual)
        case "brake_level" | "brake_lost":
            made.march["level"] = which
        case "entry":
            made.march["start"] = max(1 + x, 0.4)
        case "crow_late":
            made.march["lag"] = 0.1 + x
        case "air":
            made.march["density"] = 1 + x
        case "battery":
            made.plane = with_voltage(plane, x)
        case "propeller":
            made.plane = with_propeller(plane, x)
        case "weight":
            made.plane = with_mass(plane, x)
        case "part_lost":
            made.plane = with_factor(plane, "parasite_drag", math.log1p(x))
        case "closed_band":
            made.march["idle"] = 1.2 * plane.controller.start_stick
        case "roll_travel":
            made.roll = 1 + x
    return made


def observed(shows: Shows, cause: Cause, which: str, size: float, plane: Plane) -> np.ndarray:
    """What the plane with that fault shows, in full, less what the diagnosis takes as predicted."""
    made = _made(shows, plane, cause, which, size)
    crow, planned = made.plan.crow, shows.plan.crow
    flight = _flight(shows.frame, shows.unit, shows.plan, shows.tables)
    turned = turning(flight, made.plan, made.plane, always=made.always, out=made.out)
    gone = np.zeros(len(SHOWN))
    for axis, name in enumerate(("pitch", "roll", "yaw")):
        gone[SHOWN.index(f"{name}_clean")] = turned.clean[axis]
        gone[SHOWN.index(f"{name}_crow")] = turned.crow[axis]
    moment = plane.corrections.crow_moment - 1
    if crow is not None:
        level = turned.crow[0] - shows.elevator.crow[0] * crow.elevator
        gone[SHOWN.index("pitch_crow")] += moment * level
    share = 1.0 if planned is None else 0.0
    if crow is not None and planned is not None:
        total = abs(planned.upper) + abs(planned.lower)
        share = float(made.march.pop("less", 1.0)) * (abs(crow.upper) + abs(crow.lower)) / total
    drag = with_factor(made.plane, "crow_drag", _drag(shows, share))
    level_name = made.march.get("level")
    march = March(
        plane=drag,
        start=float(made.march.get("start", 1.0)),
        lag=float(made.march.get("lag", 0.1)),
        density=float(made.march.get("density", 1.0)),
        level=None if level_name is None else str(level_name),
        idle=float(made.march["idle"]) if "idle" in made.march else None,
    )
    unit = replace(shows.unit, plane=drag)
    gone[0:3] = marched(unit, shows.plan, shows.tables, shows.survey, [replace(march, plane=None)])[0]
    gone[[0, 2]] -= shows.marches.own[[0, 2]]
    if crow is not None:
        frame = replace(shows.frame, plane=plane)
        ratio, _, rate = _rolls(frame, made.plan, shows.tables)
        gone[SHOWN.index("roll_ratio")] = ratio[0] + math.log(made.roll)
        gone[SHOWN.index("snap_ratio")] = ratio[1] + math.log(made.roll)
        roll = float(np.clip((turned.crow[1] + turned.clean[1]) / rate, -0.9, 0.9)) if rate else 0.0
        gone[SHOWN.index("roll_bias")] = 2 * math.atanh(roll)
    return gone


def _drag(shows: Shows, share: float) -> float:
    """ln of the drag of crow at a share of its angle, off the table itself where it reaches."""
    table, out = shows.tables.lines["vertical down"], shows.survey.line("vertical down").deployment
    if out <= 0:
        return 0.0
    if share <= 0:
        return -12.0
    if share > 1:
        return shows.drag_of_crow * math.log(share)
    full, less = (float(table.crow_area(shows.wanted, part * out)) for part in (1.0, share))
    return math.log(less / full)


def _seen(
    shows: Shows, cause: Cause, which: str, size: float, rng: np.random.Generator, since: bool
) -> tuple[str, ...]:
    plane = shows.frame.plane
    for name in FACTORS:
        plane = with_factor(plane, name, plane.doubt.sigma(name) * float(rng.standard_normal()))
    full = observed(shows, cause, which, size, plane)
    sound = observed(shows, _SOUND, "", 0.0, plane)
    named, shown = [], False
    recent = since or rng.random() < cause.new
    for sign in chart().signs.values():
        seen = stands_out = False
        if sign.shows in SHOWN:
            place = SHOWN.index(sign.shows)
            limit, blur = _scaled(sign)
            value = sign.way * (full[place] - (shows.base[place] if sign.beyond else 0.0))
            seen = bool(rng.random() < ndtr((value - limit) / blur))
            stands_out = seen and sign.way * (full[place] - sound[place]) > blur
        elif sign.shows == "change":
            seen = stands_out = recent and _changed(full - sound, rng)
        if rng.random() < cause.chance.get(sign.key, 0.0):
            seen = stands_out = True
        if seen and rng.random() < NAMED:
            named.append(sign.key)
            shown |= stands_out
        elif rng.random() < INVENTED:
            named.append(sign.key)
    return tuple(named) if shown else ()


_SOUND = replace(chart().causes["phase"], key="sound", chance={}, new=0.0)
"""Nothing is wrong."""


def _changed(change: np.ndarray, rng: np.random.Generator) -> bool:
    """The largest of the changes since the flight before is noticed."""
    most = 0.0
    for sign in chart().signs.values():
        if sign.shows in SHOWN:
            limit, blur = _scaled(sign)
            most = max(most, float(ndtr((abs(float(change[SHOWN.index(sign.shows)])) - limit) / blur)))
    return bool(rng.random() < most)
