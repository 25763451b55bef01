"""Every cause at every size it may have, with what it would show: the hypotheses a diagnosis weighs."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from evenfall.fit.causes import REST, REST_PRIOR, Cause, Chart
from evenfall.fit.learned import FACTORS
from evenfall.fit.shows import COUNT, MARCHED, SHOWN, Shows
from evenfall.radio.plan import surface_deltas

Floats = NDArray[np.float64]

NODES = 13
"""Sizes of a cause, each as likely as the others."""
UNITS: dict[str, float] = {"angle": math.radians(1.0), "length": 1e-3}
"""SI of one unit of a cause's size; the others are numbers without unit, V or s."""
_NEEDS_CROW = (
    "corner",
    "slop",
    "crow_angle",
    "crow_split",
    "elevator_share",
    "crow_late",
    "short_curve",
    "phase",
    "blow_back",
    "roll_travel",
    "flutter",
)
_USUAL_LOAD, _LOADED = 0.4, (0.25, 4.0)
"""Servo load at which ailerons are pushed back as often as usual, and how far the load counts. Ours, no source."""
_AT_REST = 5.0
"""Percent added to a level's, so that one of 0 still damps a little: cells, friction. Ours, no source."""
_NO_CROW = -1.5
"""ln of the factor on crow's drag that flights would learn where it stays in. Ours, no source."""
_TEETH, _RATIO = 25, 0.5
"""Teeth of a spline and arm over horn where the plane file has no servo or linkage."""


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """One cause at one size.

    Args:
        cause: its key; `REST` for none of them. which: corner, level or rigging fault where it has several.
        size: in the unit of the cause's table. weight: probability before any sign.
        shown: what it adds to what the plane shows, (SHOWN,).
        factors: ln of the engine's factors that flights would learn under it, (FACTORS,).
    """

    cause: str
    which: str
    size: float
    weight: float
    shown: Floats
    factors: Floats


def suspects(shows: Shows, chart: Chart, *, since: bool = False) -> tuple[Suspect, ...]:
    """Every cause this plane with this plan can have; probabilities before any sign add up to 1.

    Args:
        since: the plan was proven before, so that only what has come since counts.
    """
    made = _Maker(shows)
    rows: list[Suspect] = []
    for cause in chart.causes.values():
        if cause.key in _NEEDS_CROW and shows.plan.crow is None:
            continue
        rows += made.rows(replace(cause, prior=cause.prior * cause.new) if since else cause)
    total = sum(row.weight for row in rows)
    scaled = [replace(row, weight=(1 - REST_PRIOR) * row.weight / total) for row in rows]
    nothing = Suspect(
        cause=REST,
        which="",
        size=0.0,
        weight=REST_PRIOR if rows else 1.0,
        shown=np.zeros(COUNT),
        factors=np.zeros(len(FACTORS)),
    )
    return (*scaled, nothing)


def sizes(cause: Cause) -> Floats:
    """Equally likely sizes of a cause in the unit of its table."""
    share = (np.arange(NODES) + 0.5) / NODES
    match cause.shape:
        case "both":
            return np.asarray(cause.sigma * ndtri(share))
        case "less":
            return np.asarray(-cause.sigma * ndtri(0.5 + 0.5 * share))
        case "more" | "in":
            return np.asarray(cause.sigma * ndtri(0.5 + 0.5 * share))
        case "two":
            return np.array([-cause.sigma, cause.sigma])
        case _:
            return np.array([cause.sigma])


class _Maker:
    """Makes the rows of every cause from one plane's answers."""

    def __init__(self, shows: Shows) -> None:
        self.shows = shows
        plan, plane = shows.plan, shows.frame.plane
        self.full = {name: float(angle) for name, angle in surface_deltas(plane, plan.crow, 1.0).items()}
        self.angle = plan.crow.angle if plan.crow is not None else 0.0
        self.levels = [one.name for one in plane.controller.levels]

    # --- rows ---------------------------------------------------------------------------------------------------------

    def rows(self, cause: Cause) -> list[Suspect]:
        """All sizes of one cause, and all corners, levels or faults it may sit in."""
        places = self._places(cause)
        if not places:
            return []
        rows = []
        prior = cause.prior * self._likelier(cause)
        values = sizes(cause)
        for which in places:
            for size in values.tolist():
                shown, factors = self._effect(cause, which, size)
                rows.append(
                    Suspect(
                        cause=cause.key,
                        which=which,
                        size=size,
                        weight=prior / (len(places) * len(values)),
                        shown=shown,
                        factors=factors,
                    )
                )
        return rows

    def _likelier(self, cause: Cause) -> float:
        """How much likelier than usual the engine takes a cause on this plane."""
        if cause.shape == "fold":
            return self._fold_share()
        if cause.key == "blow_back" and self.shows.load is not None:
            return float(np.clip(self.shows.load / _USUAL_LOAD, *_LOADED))
        return 1.0

    def _fold_share(self) -> float:
        states = self.shows.survey.line("vertical down").steady
        return 1.0 if sum(one.state.stable for one in states) > 1 else self.shows.folds

    def _places(self, cause: Cause) -> Sequence[str]:
        own = self.shows.plan.motor.level
        match cause.key:
            case "corner" | "slop":
                return [name for name, angle in self.full.items() if angle]
            case "tooth":
                return list(self.full)
            case "crow_split":
                wings = {name.partition("_")[0] for name, angle in self.full.items() if angle}
                return [""] if len(wings) == 2 else []
            case "brake_level":
                return [name for name in self.levels if name != own]
            case "brake_lost":
                return [self.levels[0]] if own != self.levels[0] else []
            case "fold":
                return [""] if self._fold_share() > 0 else []
            case _ if cause.faults:
                return [key for key in cause.faults if key in self.shows.faults]
            case _:
                return [""]

    def _effect(self, cause: Cause, which: str, size: float) -> tuple[Floats, Floats]:
        shown, factors = np.zeros(COUNT), np.zeros(len(FACTORS))
        x = size * UNITS.get(cause.size, 1.0)
        effects: dict[str, Callable[[], None]] = {
            "corner": lambda: self._angles(shown, factors, {which: x * _sign(self.full[which])}),
            "slop": lambda: self._angles(shown, factors, {which: -x * _sign(self.full[which])}),
            "tooth": lambda: self._neutral(shown, which, x * tooth_angle(self.shows, which)),
            "crow_angle": lambda: self._angles(shown, factors, {n: x * a for n, a in self.full.items()}),
            "crow_split": lambda: self._angles(
                shown, factors, {n: (x if n.startswith("upper") else -x) * a for n, a in self.full.items()}
            ),
            "elevator_share": lambda: self._turn(shown, crow=self.shows.elevator.crow * x),
            "blow_back": lambda: self._angles(shown, factors, {n: -x * _sign(a) for n, a in self.full.items()}),
            "short_curve": lambda: self._short(shown, factors, x),
            "cg": lambda: self._fault(shown, "cg_x", x),
            "brake_level": lambda: self._level(shown, factors, which),
            "brake_lost": lambda: self._level(shown, factors, which),
            "entry": lambda: self._marched(shown, "start", x),
            "crow_late": lambda: self._marched(shown, "lag", x),
            "air": lambda: self._marched(shown, "density", x),
            "battery": lambda: self._marched(shown, "voltage", x),
            "weight": lambda: self._marched(shown, "mass", x),
            "part_lost": lambda: self._scaled(shown, factors, "parasite", "parasite_drag", max(x, -0.9)),
            "propeller": lambda: self._scaled(shown, factors, "propeller", "braked_propeller_drag", x),
            "phase": lambda: self._phase(shown, factors),
            "closed_band": lambda: self._single(shown, "idle"),
            "roll_travel": lambda: self._roll(shown, factors, math.log1p(max(x, -0.9))),
        }
        if cause.faults:
            fault, _ = self.shows.faults[which]
            self._fault(shown, which, size * fault.usual)
        elif cause.key in effects:
            effects[cause.key]()
        if self.shows.roll_rate:
            roll = shown[SHOWN.index("roll_crow")] + shown[SHOWN.index("roll_clean")]
            shown[SHOWN.index("roll_bias")] = 2 * math.atanh(float(np.clip(roll / self.shows.roll_rate, -0.9, 0.9)))
        return shown, factors

    # --- effects, added in place --------------------------------------------------------------------------------------

    def _turn(self, shown: Floats, *, clean: Floats | None = None, crow: Floats | None = None) -> None:
        for axis, name in enumerate(("pitch", "roll", "yaw")):
            if clean is not None:
                shown[SHOWN.index(f"{name}_clean")] += clean[axis]
            if crow is not None:
                shown[SHOWN.index(f"{name}_crow")] += crow[axis]

    def _marched(self, shown: Floats, curve: str, size: float) -> None:
        shown[MARCHED] += self.shows.marches.curves[curve](size)

    def _single(self, shown: Floats, name: str) -> None:
        shown[MARCHED] += self.shows.marches.single[name]

    def _scaled(self, shown: Floats, factors: Floats, curve: str, factor: str, size: float) -> None:
        change = math.log1p(size)
        self._marched(shown, curve, change)
        factors[FACTORS.index(factor)] += change

    def _roll(self, shown: Floats, factors: Floats, change: float) -> None:
        shown[SHOWN.index("roll_ratio")] += change
        shown[SHOWN.index("snap_ratio")] += change
        factors[FACTORS.index("roll_deployed")] += change

    def _angles(self, shown: Floats, factors: Floats, added: Mapping[str, float]) -> None:
        """Angles added to ailerons with crow out: turning, drag of crow, and roll where all go together."""
        for name, angle in added.items():
            self._turn(shown, crow=self.shows.corners[name].crow * angle)
        total = sum(abs(angle) for angle in self.full.values())
        more = sum(angle * _sign(self.full[name]) for name, angle in added.items()) / total if total else 0.0
        self._more(shown, factors, more)

    def _more(self, shown: Floats, factors: Floats, more: float) -> None:
        """Crow larger by a share: its drag and what it costs in roll."""
        change = math.log1p(max(more, -0.9))
        self._marched(shown, "crow", self.shows.drag_of_crow * change)
        factors[FACTORS.index("crow_drag")] += self.shows.drag_of_crow * change
        for name, slope in zip(("roll_ratio", "snap_ratio"), self.shows.roll_of_crow, strict=True):
            shown[SHOWN.index(name)] += slope * change
        factors[FACTORS.index("roll_deployed")] += self.shows.roll_of_crow[0] * change

    def _short(self, shown: Floats, factors: Floats, x: float) -> None:
        crow = self.shows.plan.crow
        self._angles(shown, factors, {name: x * angle for name, angle in self.full.items()})
        if crow is not None:
            self._turn(shown, crow=self.shows.elevator.crow * crow.elevator * x)

    def _neutral(self, shown: Floats, corner: str, angle: float) -> None:
        clean = self.shows.corners_clean[corner].clean * angle
        out = self.shows.corners[corner].crow * angle if self.angle > 0 else clean
        self._turn(shown, clean=clean, crow=out - clean)

    def _fault(self, shown: Floats, key: str, change: float) -> None:
        _, turned = self.shows.faults[key]
        self._turn(shown, clean=turned.clean * change, crow=turned.crow * change)

    def _level(self, shown: Floats, factors: Floats, level: str) -> None:
        self._single(shown, level)
        planned = self.shows.unit.plane.controller.level(self.shows.plan.motor.level).percent
        flown = self.shows.unit.plane.controller.level(level).percent
        # In the flights' fit another level looks like more or less damping, about in proportion to its percent.
        factors[FACTORS.index("brake_damping")] += math.log((flown + _AT_REST) / (planned + _AT_REST))

    def _phase(self, shown: Floats, factors: Floats) -> None:
        self._single(shown, "off")
        for name in ("pitch_crow", "roll_crow", "yaw_crow", "roll_ratio", "snap_ratio"):
            shown[SHOWN.index(name)] -= self.shows.base[SHOWN.index(name)]
        factors[FACTORS.index("crow_drag")] += _NO_CROW


def _sign(value: float) -> float:
    return math.copysign(1.0, value) if value else 0.0


def tooth_angle(shows: Shows, corner: str) -> float:
    """Surface angle of one tooth of a corner's spline, rad."""
    plane = shows.frame.plane
    linkage, setup = plane.aileron_linkage.get(corner), shows.plan.corners.get(corner)
    teeth = _TEETH if plane.aileron_servo is None else plane.aileron_servo.spline_teeth
    ratio = _RATIO if linkage is None else linkage.arm / linkage.horn
    if setup is not None:
        ratio = setup.arm_hole / setup.horn_hole
    return ratio * 2 * math.pi / teeth
