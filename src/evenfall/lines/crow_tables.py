"""Drag of every crow of one split between the wings, made once: less crow is less deployment of the largest."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evenfall.errors import ValueRangeError
from evenfall.lines.balance import Airframe
from evenfall.lines.drag import DragNodes, DragTable, drag_nodes
from evenfall.lines.holding import SlopeDrag, slope_nodes
from evenfall.lines.line import LINES
from evenfall.lines.stick_picture import PICTURE_SLOPES
from evenfall.plane.airframe import Plane
from evenfall.radio.plan import Arrangement, Crow, wing_signs

Floats = NDArray[np.float64]

FAMILY_NODES = (0.0, 0.06, 0.12, 0.18, 0.25, 0.33, 0.42, 0.53, 0.65, 0.8, 1.0)
"""Deployments of the largest crow that are solved."""
_LEAST_TOP, _MOST_TOP = math.radians(10.0), math.radians(60.0)
_STEP = math.radians(5.0)


@dataclass(frozen=True, kw_only=True)
class CrowFamily:
    """Every crow of one split between the wings.

    Args:
        upper, lower: each wing's angle over the larger one, signed. top: the largest crow, rad.
    """

    arrangement: Arrangement
    upper: float
    lower: float
    top: float

    @property
    def largest(self) -> Crow:
        """The crow of size `top`."""
        return Crow(
            arrangement=self.arrangement,
            upper=self.upper * self.top,
            lower=self.lower * self.top,
            threshold=1.0,
            curve=((0.0, 1.0), (1.0, 0.0)),
        )


def crow_family(plane: Plane, crow: Crow | None) -> CrowFamily | None:
    """The family a crow belongs to: up to the stops of the hinges, or to the crow where that is larger.

    None without crow. The elevator share has no part in it: the balance finds the elevator.
    """
    if crow is None:
        return None
    signs = dict(zip(("upper", "lower"), wing_signs(crow.arrangement), strict=True))
    stops, shares = [_MOST_TOP], {"upper": 0.0, "lower": 0.0}
    for name, wing in plane.wings.items():
        if wing.aileron is None:
            continue
        full = crow.upper if name == "upper" else crow.lower
        share = float(signs[name]) if crow.angle == 0.0 else round(full / crow.angle, 4)
        shares[name] = share
        if abs(share) > 0.01:
            stops.append((wing.aileron.throw_up if share < 0 else wing.aileron.throw_down) / abs(share))
    top = max(min(stops), _LEAST_TOP)
    if crow.angle > top:
        top = _STEP * math.ceil(crow.angle / _STEP - 1e-9)
    return CrowFamily(arrangement=crow.arrangement, upper=shares["upper"], lower=shares["lower"], top=top)


@dataclass(frozen=True, kw_only=True, eq=False)
class LineStack:
    """Drag areas of the five lines in one array, for looking up many conditions of several lines at once.

    Args:
        start, step: of the speeds of each line, m/s, (lines,). lowest, fastest: m/s, (lines,).
        held: weight along the path, N, (lines,). weight: N. density: kg/m^3.
        clean, crow, total: m^2, corrections applied, (lines, speeds, deployments): stowed with body and parts, added by
            deployment, and both together.
    """

    start: Floats
    step: Floats
    lowest: Floats
    fastest: Floats
    held: Floats
    weight: float
    density: float
    clean: Floats
    crow: Floats
    total: Floats

    def area(self, table: Floats, line: NDArray[np.intp], speed: Floats, deployment: ArrayLike) -> Floats:
        """Look up `clean`, `crow` or `total`; line, speed and deployment broadcast. As `DragTable` looks up."""
        _, rows, columns = table.shape
        flat = table.ravel()
        v = np.minimum(np.maximum((speed - self.start[line]) / self.step[line], 0.0), rows - 1.000001)
        i = v.astype(np.intp)
        f = v - i
        at = (line * rows + i) * columns
        if columns == 1:
            return np.asarray(flat.take(at) * (1 - f) + flat.take(at + 1) * f)
        d = np.minimum(np.maximum(np.asarray(deployment) * (columns - 1), 0.0), columns - 1.000001)
        j = d.astype(np.intp)
        g = d - j
        at = at + j
        low = flat.take(at) * (1 - g) + flat.take(at + 1) * g
        high = flat.take(at + columns) * (1 - g) + flat.take(at + columns + 1) * g
        return np.asarray(low * (1 - f) + high * f)


@dataclass(frozen=True, kw_only=True, eq=False)
class CrowTables:
    """Balances of a family of crow: the five lines over speed, and slopes 5 degrees apart at the wanted speed.

    Args:
        family: None without crow.
        slopes: deployment 1 is the largest crow of the family. carried: (slopes, deployments).
    """

    family: CrowFamily | None
    lines: tuple[DragNodes, ...]
    slopes: SlopeDrag
    carried: NDArray[np.bool_]
    _stacks: dict[tuple[bytes, ...], LineStack] = field(default_factory=dict)

    def share(self, crow: Crow | None) -> float:
        """Deployment of the largest crow that is this crow fully out."""
        if crow is None or self.family is None:
            return 0.0
        share = crow.angle / self.family.top
        if share > 1 + 1e-9:
            raise ValueRangeError(f"{math.degrees(crow.angle):.1f} deg of crow lie beyond these tables")
        return min(share, 1.0)

    def stack(self, share: float) -> LineStack:
        """Drag on the five lines for crow up to `share` of the largest."""
        reach = self.lines[0].reach(share)
        pattern = tuple(np.any(line.stalled[:, :reach], axis=1).tobytes() for line in self.lines)
        found = self._stacks.get(pattern)
        if found is None:
            found = self._stacks[pattern] = _stacked([line.table(most=share) for line in self.lines])
        return found

    def line(self, name: str, share: float) -> DragTable:
        """Drag on one line for crow up to `share` of the largest."""
        return self.lines[list(LINES).index(name)].table(most=share)

    def slope_drag(self, share: float) -> SlopeDrag:
        """Drag over slopes; its deployment 1 is crow of `share` of the largest."""
        nodes = self.slopes.deployments
        if nodes.size == 1 or share == 0.0:
            return SlopeDrag(
                slopes=self.slopes.slopes,
                deployments=np.zeros(1),
                clean=self.slopes.clean,
                crow=self.slopes.crow[:, :1],
                parts=self.slopes.parts[:, :1],
                carried=self.carried[:, 0],
            )
        reach = int(np.argmin(np.abs(nodes - share))) + 1
        return SlopeDrag(
            slopes=self.slopes.slopes,
            deployments=nodes / share,
            clean=self.slopes.clean,
            crow=self.slopes.crow,
            parts=self.slopes.parts,
            carried=np.asarray(self.carried[:, :reach].all(axis=1)),
        )


def crow_tables(frame: Airframe, family: CrowFamily | None, *, wanted: float) -> CrowTables:
    """Solve every balance of a family; `wanted` in m/s."""
    crow = None if family is None else family.largest
    nodes = FAMILY_NODES if family is not None else (0.0,)
    lines = drag_nodes(frame, wanted=wanted, slopes=list(LINES.values()), crow=crow, deployment_nodes=nodes)
    slopes, carried = slope_nodes(frame, crow, nodes=nodes, wanted=wanted, slopes=PICTURE_SLOPES)
    return CrowTables(family=family, lines=tuple(lines), slopes=slopes, carried=carried)


def _stacked(tables: list[DragTable]) -> LineStack:
    def each(of: list[float]) -> Floats:
        return np.array(of)

    stowed = np.stack([table.surfaces[:, :1] for table in tables])
    surfaces = np.stack([table.surfaces for table in tables])
    parts = np.stack([table.parts for table in tables])
    corrections = tables[0].corrections
    clean = stowed + corrections.parasite_drag * parts
    crow = corrections.crow_drag * (surfaces - stowed)
    return LineStack(
        start=each([float(table.speeds[0]) for table in tables]),
        step=each([float(table.speeds[1] - table.speeds[0]) for table in tables]),
        lowest=each([max(table.lowest_speed, float(table.speeds[0])) for table in tables]),
        fastest=each([float(table.speeds[-1]) for table in tables]),
        held=each([table.held for table in tables]),
        weight=tables[0].weight,
        density=tables[0].density,
        clean=clean,
        crow=crow,
        total=clean + crow,
    )
