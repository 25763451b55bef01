"""Faults of rigging: where each stands in the plane, how to change it, and what a change is called at the bench.

A fault is a number that is zero on a true plane (the CG position is the exception: it has no true value).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from evenfall.plane.airframe import Plane, Wing
from evenfall.plane.controls import Rigging

DEG = math.pi / 180
GRAM_CM = 1e-5
Kind = Literal["angle", "length", "mass_moment"]


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One number of the rigging, SI.

    Args:
        key: stable name. words: what it is, with its sign.
        kind: of quantity. unit: what sensitivities are given for. step: what a pilot can set. limit: largest change
            that is still trimming. usual: one sigma of a careful build nobody checked (common practice, no source).
        value: of a plane. put: the plane with another value. paths: attributes it is made of.
        cure: a change in the pilot's words.
        true: zero is right (False for the CG).
    """

    key: str
    words: str
    kind: Kind
    unit: float
    step: float
    limit: float
    usual: float
    value: Callable[[Plane], float]
    put: Callable[[Plane, float], Plane]
    paths: tuple[str, ...]
    cure: Callable[[Plane, float], str]
    true: bool = True
    advised: bool = True


def _degrees(angle: float) -> str:
    return f"{abs(angle) / DEG:.2f}".rstrip("0").rstrip(".") + " deg"


def _mm(length: float) -> str:
    return f"{abs(length) * 1e3:.1f}".removesuffix(".0") + " mm"


def _more(change: float) -> str:
    return "more" if change > 0 else "less"


def _side(change: float) -> str:
    return "right" if change > 0 else "left"


def with_wing(plane: Plane, name: str, wing: Wing) -> Plane:
    """The plane with its upper or lower wing replaced."""
    return replace(plane, upper=wing) if name == "upper" else replace(plane, lower=wing)


def mean_incidence(wing: Wing) -> float:
    """Mean of left and right incidence, rad."""
    return 0.5 * (wing.incidence_left + wing.incidence_right)


def wings_incidence(plane: Plane) -> float:
    """Mean incidence of all wings, weighted by area, rad."""
    return sum(mean_incidence(wing) * wing.area for wing in plane.wings.values()) / plane.wing_area


def record(plane: Plane) -> Rigging:
    """The rigging record; an empty one where there is none."""
    return plane.rigging or Rigging()


def with_record(plane: Plane, **changes: float) -> Plane:
    """The plane with numbers of its rigging record replaced."""
    return replace(plane, rigging=replace(record(plane), **changes))


def rigged(plane: Plane) -> Plane:
    """The plane the engine flies: tip balance as lateral CG, the fin turned with a tail that is not square.

    A skewed tail by itself does nothing to first order; a glued tail box carries its fin with it, and that does. This
    is the upper bound.
    """
    rigging = record(plane)
    if rigging.tip_balance is not None:
        plane = replace(plane, mass=replace(plane.mass, cg_y=rigging.tip_balance / plane.mass.all_up))
    if rigging.tail_squareness and plane.fin is not None:
        turned = plane.fin.offset + rigging.tail_squareness / plane.tail.span
        plane = replace(plane, fin=replace(plane.fin, offset=turned))
    return plane


def _twist(name: str, panel: str) -> Fault:
    def value(plane: Plane) -> float:
        return plane.wings[name].incidence_left - plane.wings[name].incidence_right

    def put(plane: Plane, x: float) -> Plane:
        wing = plane.wings[name]
        return with_wing(plane, name, replace(wing, incidence_left=wing.incidence_right + x))

    return Fault(
        key=f"{name}_twist",
        words=f"incidence of the {panel.strip()}, left over right".replace("  ", " "),
        kind="angle",
        unit=DEG,
        step=0.1 * DEG,
        limit=1.5 * DEG,
        usual=0.3 * DEG,
        value=value,
        put=put,
        paths=(f"{name}.incidence_left", f"{name}.incidence_right"),
        cure=lambda plane, x: f"{_degrees(x)} {_more(x)} incidence on the left panel of the {panel}",
    )


def _put_decalage(plane: Plane, x: float) -> Plane:
    assert plane.upper is not None
    assert plane.lower is not None
    shift = mean_incidence(plane.upper) - x - mean_incidence(plane.lower)
    lower = plane.lower
    return replace(
        plane,
        lower=replace(
            lower, incidence_left=lower.incidence_left + shift, incidence_right=lower.incidence_right + shift
        ),
    )


_DECALAGE = Fault(
    key="decalage",
    words="incidence of the upper wing over the lower",
    kind="angle",
    unit=DEG,
    step=0.1 * DEG,
    limit=1.0 * DEG,
    usual=0.3 * DEG,
    value=lambda plane: sum(
        sign * mean_incidence(wing) for sign, wing in ((1, plane.upper), (-1, plane.lower)) if wing is not None
    ),
    put=_put_decalage,
    paths=("upper.incidence_left", "upper.incidence_right", "lower.incidence_left", "lower.incidence_right"),
    cure=lambda plane, x: f"{_degrees(x)} {_more(-x)} incidence on both panels of the lower wing",
)

_TAIL = Fault(
    key="tail_incidence",
    words="incidence of the tail over the mean of the wings",
    kind="angle",
    unit=DEG,
    step=0.1 * DEG,
    limit=1.0 * DEG,
    usual=0.3 * DEG,
    value=lambda plane: plane.tail.incidence - wings_incidence(plane),
    put=lambda plane, x: replace(plane, tail=replace(plane.tail, incidence=wings_incidence(plane) + x)),
    paths=("tail.incidence",),
    cure=lambda plane, x: f"{_degrees(x)} {_more(x)} incidence on the tail",
)


def _put_fin(plane: Plane, x: float) -> Plane:
    assert plane.fin is not None
    return replace(plane, fin=replace(plane.fin, offset=x))


_FIN = Fault(
    key="fin_offset",
    words="fin, leading edge to the right",
    kind="angle",
    unit=DEG,
    step=0.25 * DEG,
    limit=2.0 * DEG,
    usual=0.5 * DEG,
    value=lambda plane: 0.0 if plane.fin is None else plane.fin.offset,
    put=_put_fin,
    paths=("fin.offset",),
    cure=lambda plane, x: f"leading edge of the fin {_degrees(x)} to the {_side(x)}",
)

_SQUARE = Fault(
    key="tail_squareness",
    words="tail not square in plan, right tip further from the wing (fin turned with it)",
    kind="length",
    unit=1e-3,
    step=0.5e-3,
    limit=10e-3,
    usual=2e-3,
    value=lambda plane: record(plane).tail_squareness or 0.0,
    put=lambda plane, x: with_record(plane, tail_squareness=x),
    paths=("rigging.tail_squareness",),
    cure=lambda plane, x: f"right tip of the tail {_mm(x)} {'further from' if x > 0 else 'nearer to'} the wing",
)

_TILT = Fault(
    key="tail_tilt",
    words="tail not level with the wings, right tip high",
    kind="length",
    unit=1e-3,
    step=0.5e-3,
    limit=10e-3,
    usual=1.5e-3,
    value=lambda plane: record(plane).tail_tilt or 0.0,
    put=lambda plane, x: with_record(plane, tail_tilt=x),
    paths=("rigging.tail_tilt",),
    cure=lambda plane, x: f"right tip of the tail {_mm(x)} {'higher' if x > 0 else 'lower'}",
)

_SIDE = Fault(
    key="side_thrust",
    words="thrust line to the right",
    kind="angle",
    unit=DEG,
    step=0.25 * DEG,
    limit=2.0 * DEG,
    usual=0.5 * DEG,
    value=lambda plane: record(plane).side_thrust or 0.0,
    put=lambda plane, x: with_record(plane, side_thrust=x),
    paths=("rigging.side_thrust",),
    cure=lambda plane, x: f"{_degrees(x)} more thrust to the {_side(x)}",
)

_DOWN = Fault(
    key="down_thrust",
    words="thrust line down",
    kind="angle",
    unit=DEG,
    step=0.25 * DEG,
    limit=2.0 * DEG,
    usual=0.5 * DEG,
    value=lambda plane: record(plane).down_thrust or 0.0,
    put=lambda plane, x: with_record(plane, down_thrust=x),
    paths=("rigging.down_thrust",),
    cure=lambda plane, x: f"{_degrees(x)} more {'down' if x > 0 else 'up'} thrust",
)


def _balance(plane: Plane) -> float:
    taken = record(plane).tip_balance
    return plane.mass.cg_y * plane.mass.all_up if taken is None else taken


def _balance_cure(plane: Plane, x: float) -> str:
    grams = 2e3 * abs(x) / max(wing.span for wing in plane.wings.values())
    return f"{grams:.1f} g at the {_side(x)} tip"


_BALANCE = Fault(
    key="lateral_balance",
    words="right side heavy",
    kind="mass_moment",
    unit=50 * GRAM_CM,
    step=10 * GRAM_CM,
    limit=1000 * GRAM_CM,
    usual=50 * GRAM_CM,
    value=_balance,
    put=lambda plane, x: with_record(plane, tip_balance=x),
    paths=("rigging.tip_balance",),
    cure=_balance_cure,
)

_CG_X = Fault(
    key="cg_x",
    words="CG aft",
    kind="length",
    unit=1e-3,
    step=1e-3,
    limit=10e-3,
    usual=2e-3,
    value=lambda plane: plane.mass.cg_x,
    put=lambda plane, x: replace(plane, mass=replace(plane.mass, cg_x=x)),
    paths=("mass.cg_x",),
    cure=lambda plane, x: f"CG {_mm(x)} {'aft' if x > 0 else 'forward'}",
    true=False,
)

_CG_Z = Fault(
    key="cg_z",
    words="CG up",
    kind="length",
    unit=1e-3,
    step=1e-3,
    limit=5e-3,
    usual=15e-3,
    value=lambda plane: plane.mass.cg_z,
    put=lambda plane, x: replace(plane, mass=replace(plane.mass, cg_z=x)),
    paths=("mass.cg_z",),
    cure=lambda plane, x: f"CG {_mm(x)} {'up' if x > 0 else 'down'} (battery)",
    true=False,
    advised=False,
)


def rigging_faults(plane: Plane) -> tuple[Fault, ...]:
    """Every fault this plane can have, in the order they are put right."""
    several = len(plane.wings) > 1
    found = [_twist(name, f"{name} wing" if several else "wing") for name in plane.wings]
    if several:
        found.append(_DECALAGE)
    found += [_TAIL, _TILT]
    if plane.fin is not None:
        found += [_SQUARE, _FIN]
    return (*found, _BALANCE, _CG_X, _CG_Z, _DOWN, _SIDE)
