"""Non-linear lifting line for any set of surfaces, solved for many conditions at once.

Source of the method: Phillips & Snyder, "Modern adaptation of Prandtl's classic lifting-line theory", J. Aircraft 37
(2000) 662-670, with section tables, legs along body x and each surface's influence on itself that of a straight line.
What other surfaces and body rates do to a section varies along its chord: incidence is taken at three quarters of
the chord and the curvature gives a moment, as thin-aerofoil theory has it (Pistolesi's theorem; Glauert, Elements of
Aerofoil and Airscrew Theory, ch. 7). With a gap of 1.9 chords that changes lift by 5 % and agrees with a vortex lattice
within 1 % (tests/aero/test_curved_flow.py).
Like every lifting line it overstates forces at given angles: lift slope by 5 % at aspect ratio 7.6, roll damping by
13 % at 6 (see `evenfall.aero.roll`, which corrects the rate).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from evenfall.aero.circulation import CirculationSolver, LiftFunction, Problem, Rows, State, evaluate
from evenfall.aero.flow import Flow, WingLoads, join_loads
from evenfall.aero.fold import Fold, make_fold
from evenfall.aero.influence import Lattice, build_lattice, influence
from evenfall.aero.stations import Stations, all_stations, one_side
from evenfall.aero.surfaces import SurfaceSpec
from evenfall.errors import ValueRangeError

if TYPE_CHECKING:
    from evenfall.aero.section import SectionLoads, Sections

__all__ = ["Flow", "LiftingLine", "WingLoads"]

Array = NDArray[np.float64]
CHUNK = 512
"""Conditions solved together: small enough for the working arrays to stay in cache."""


class LiftingLine:
    """Surfaces ready to solve.

    Args:
        surfaces: in body axes about the CG.
        sections: section data per station; None takes `station_sections` as the surfaces say.
        transition: for the tables: 0 clean to 1 early.
        curved_flow: False takes every incidence at the quarter chord, as the classical lifting line does.

    >>> from evenfall.aero.section import LinearSections
    >>> wing = SurfaceSpec(name="wing", root=(0, 0, 0), tip=(0, 0.6, 0), root_chord=0.2, tip_chord=0.2)
    >>> line = LiftingLine([wing], LinearSections(np.full(22, 0.25)))
    >>> loads = line.solve(Flow(speed=20.0, alpha=np.radians([2.0, 4.0])))
    >>> loads.lift.round(1).tolist()
    [9.3, 18.6]
    """

    def __init__(
        self,
        surfaces: Sequence[SurfaceSpec],
        sections: Sections | None = None,
        *,
        transition: float = 0.0,
        curved_flow: bool = True,
    ) -> None:
        self.surfaces = tuple(surfaces)
        self.lattice: Lattice = build_lattice(self.surfaces)
        lattice = self.lattice
        if sections is None:
            from evenfall.aero.section import station_sections

            sections = station_sections(
                lattice.thickness,
                lattice.fraction,
                lattice.flat_plate,
                gap_open=lattice.gap_open,
                transition=transition,
            )
        if sections.n != lattice.count:
            raise ValueRangeError(f"sections for {sections.n} stations given, the surfaces have {lattice.count}")
        self.sections = sections
        velocity = influence(lattice)
        felt_at = lattice.rear_point if curved_flow else lattice.point
        felt = influence(lattice, others_at=felt_at) if curved_flow else velocity
        normal, aft = (np.einsum("jik,jk->ji", felt, way) for way in (lattice.normal, -lattice.forward))
        self._solver = CirculationSolver(normal, aft, lattice.chord)
        self._all = all_stations(lattice, felt_at, velocity, normal, aft)
        take: Callable[[Rows], Sections] | None = getattr(sections, "take", None)
        self._fold = make_fold(lattice, normal, aft) if take is not None else None
        if take is not None and self._fold is not None:
            self._side = one_side(lattice, self._fold, felt_at, velocity, normal, aft)
            self._side_sections = take(self._side.rows)

    @property
    def stations(self) -> int:
        """Number of stations of all surfaces."""
        return self.lattice.count

    @property
    def controls(self) -> tuple[str, ...]:
        """Names of the controls."""
        return self.lattice.names

    def rows(self, surface: str) -> NDArray[np.intp]:
        """Station numbers of one surface, left to right."""
        if surface not in self.lattice.surfaces:
            known = ", ".join(self.lattice.surfaces)
            raise ValueRangeError(f"no surface called {surface!r}: there are {known}")
        return np.flatnonzero(self.lattice.surface == self.lattice.surfaces.index(surface))

    def solve(self, flow: Flow, *, start: Array | None = None) -> WingLoads:
        """Loads in every condition of `flow`.

        Args:
            start: circulation (n, stations) of a nearby solution to begin from.
        """
        unknown = sorted(set(flow.deltas) - set(self.lattice.names))
        if unknown:
            known = ", ".join(self.lattice.names) or "none"
            raise ValueRangeError(f"no control called {', '.join(unknown)}: the surfaces have {known}")
        parts = []
        for first in range(0, max(len(flow), 1), CHUNK):
            rows = slice(first, first + CHUNK)
            whole = len(flow) <= CHUNK
            parts.append(self._chunk(flow if whole else flow.take(rows), None if start is None else start[rows]))
        return parts[0] if len(parts) == 1 else join_loads(parts)

    def _chunk(self, flow: Flow, start: Array | None) -> WingLoads:
        delta = self._angles(flow)
        alike = np.zeros(len(flow), bool) if self._fold is None else self._fold.symmetric(flow, delta)
        if self._fold is not None and len(flow) and alike.all():
            stations, sections = self._side, self._side_sections
        else:
            stations, sections = self._all, self.sections
        air = _undisturbed(flow, stations.felt_at, stations.rows)
        upward = np.einsum("njk,jk->nj", air, stations.normal)
        aft = -np.einsum("njk,jk->nj", air, stations.forward)
        reynolds = (flow.density / flow.viscosity)[:, None] * np.sqrt(upward**2 + aft**2) * stations.chord
        placed = _placed(sections, delta[:, stations.rows], reynolds)
        problem = Problem(
            upward=upward,
            aft=aft,
            scale=np.maximum(np.max(np.abs(air), axis=(1, 2)), 1e-3) * float(np.max(self.lattice.chord)),
            bind=_binder(placed, len(flow)),
        )
        if stations is self._all or self._fold is None:
            state, converged = self._both_sides(problem, placed, alike, start)
            return _loads(self.lattice, flow, stations, state.gamma, state, converged, placed)
        right = np.arange(len(self._fold.right))
        gamma, converged = self._one_side(self._fold, problem, placed, np.arange(len(flow)), right, start)
        induced = gamma @ stations.felt
        count = len(stations.rows)
        state = evaluate(
            gamma[:, stations.rows], upward + induced[:, :count], aft + induced[:, count:], placed.lift, stations.chord
        )
        return _loads(self.lattice, flow, stations, gamma, state, converged, placed)

    def _one_side(
        self, fold: Fold, problem: Problem, placed: _Placed, rows: Rows, columns: Rows, start: Array | None
    ) -> tuple[Array, NDArray[np.bool_]]:
        """Circulation of all stations in the symmetric conditions `rows`, solved on the right half: `columns` of the
        problem."""
        cut = np.ix_(rows, columns)
        folded = Problem(
            upward=problem.upward[cut],
            aft=problem.aft[cut],
            scale=problem.scale[rows],
            bind=_binder(placed.part(rows, columns), len(rows)),
        )
        before = None if start is None else start[np.ix_(rows, fold.right)]
        part, converged = fold.solver.solve(folded, before)
        return fold.unfold(part.gamma, self.lattice.count), converged

    def _both_sides(
        self, problem: Problem, placed: _Placed, alike: NDArray[np.bool_], start: Array | None
    ) -> tuple[State, NDArray[np.bool_]]:
        """Solution of every condition, those that are `alike` on both sides on one half."""
        if self._fold is None or not alike.any():
            return self._solver.solve(problem, start)
        gamma, converged = np.zeros_like(problem.upward), np.zeros(len(alike), bool)
        rows, rest = np.flatnonzero(alike), np.flatnonzero(~alike)
        gamma[rows], converged[rows] = self._one_side(self._fold, problem, placed, rows, self._fold.right, start)
        other = Problem(
            upward=problem.upward[rest],
            aft=problem.aft[rest],
            scale=problem.scale[rest],
            bind=_binder(placed.part(rest), len(rest)),
        )
        part, converged[rest] = self._solver.solve(other, None if start is None else start[rest])
        gamma[rest] = part.gamma
        return self._solver.state(gamma, problem), converged

    def _angles(self, flow: Flow) -> Array:
        """Control angle at each station, rad, (n, N)."""
        delta = np.zeros((len(flow), self.lattice.count))
        for name, angle in flow.deltas.items():
            delta[:, self.lattice.control == self.lattice.names.index(name)] = angle[:, None]
        return delta


def _undisturbed(flow: Flow, place: Array, rows: Rows) -> Array:
    """Velocity of the air past stations `rows` at `place` (S, 3) without the surfaces, m/s, (n, S, 3).

    -(V + omega x r) and the slipstream.
    """
    heading = flight_direction(flow)
    rate = np.stack([flow.p, flow.q, flow.r], axis=-1)
    out = -flow.speed[:, None, None] * heading[:, None, :] - cross(rate[:, None, :], place[None])
    if flow.wash is not None:
        out[..., 0] -= flow.wash[:, None] if flow.wash.ndim == 1 else flow.wash[:, rows]
    return np.asarray(out)


def _loads(
    lattice: Lattice,
    flow: Flow,
    stations: Stations,
    gamma: Array,
    state: State,
    converged: NDArray[np.bool_],
    placed: _Placed,
) -> WingLoads:
    """Loads from the circulation of all stations, `gamma` (n, N), and the state of those of `stations`."""
    density = flow.density[:, None]
    induced = (gamma @ stations.velocity).reshape(len(gamma), -1, 3)
    velocity = _undisturbed(flow, stations.point, stations.rows) + induced
    section = placed.loads(state.alpha)
    bound = (density * state.gamma)[..., None] * cross(velocity, stations.bound[None])
    pressure = 0.5 * density * state.speed**2
    size = np.sqrt(np.einsum("njk,njk->nj", velocity, velocity))
    profile = (pressure * stations.area * section.cd / np.maximum(size, 1e-9))[..., None] * velocity
    cm = section.cm + _curvature_moment(stations, state, velocity)
    pitching = pressure * stations.area * stations.chord * cm
    hinge = pressure * stations.hinge_volume * section.ch
    heading, n = flight_direction(flow), len(flow)
    total_bound, total_profile = (part.reshape(n, -1) @ stations.to_force for part in (bound, profile))
    total = total_bound + total_profile
    by_control = hinge @ stations.by_control
    return WingLoads(
        force=total,
        moment=(bound + profile).reshape(n, -1) @ stations.to_moment + pitching @ stations.to_pitch,
        lift=np.sum(total * lift_direction(flow), axis=1),
        side=np.sum(total * side_direction(flow), axis=1),
        drag_induced=-np.sum(total_bound * heading, axis=1),
        drag_profile=-np.sum(total_profile * heading, axis=1),
        hinge_moment={name: by_control[:, index] for index, name in enumerate(lattice.names)},
        circulation=gamma,
        incidence=stations.spread(state.alpha, lattice.count),
        cl=stations.spread(state.cl, lattice.count),
        station_lift=stations.spread(np.einsum("njk,jk->nj", bound, stations.normal), lattice.count),
        valid=section.valid @ stations.weight / lattice.count,
        converged=converged,
    )


def _curvature_moment(stations: Stations, state: State, velocity: Array) -> Array:
    """Section moment coefficient of flow curved along the chord: -(pi/4)(alpha at 3/4 - alpha at 1/4 chord)."""
    upward = np.einsum("njk,jk->nj", velocity, stations.normal)
    aft = -np.einsum("njk,jk->nj", velocity, stations.forward)
    turn = state.alpha - np.arctan2(upward, aft)
    return np.asarray(-0.25 * np.pi * np.arctan2(np.sin(turn), np.cos(turn)))


class _Placed(Protocol):
    """Stations at given throws and Reynolds numbers: `evenfall.aero.section.Placed`, or `_PlacedByLift`."""

    def part(self, rows: Rows, stations: Rows | None = None) -> _Placed: ...

    def lift(self, alpha: Array) -> tuple[Array, Array]: ...

    def loads(self, alpha: Array) -> SectionLoads: ...


@dataclass(frozen=True)
class _PlacedByLift:
    """Sections that only know their lift, whose slope is taken by differences."""

    sections: Any
    delta: Array
    reynolds: Array

    def part(self, rows: Rows, stations: Rows | None = None) -> _PlacedByLift:
        if stations is None:
            return _PlacedByLift(self.sections, self.delta[rows], self.reynolds[rows])
        at = np.ix_(rows, stations)
        return _PlacedByLift(self.sections.take(stations), self.delta[at], self.reynolds[at])

    def lift(self, alpha: Array) -> tuple[Array, Array]:
        small = 1e-4
        here = self.sections.lift(alpha, self.delta, self.reynolds)
        return here, (self.sections.lift(alpha + small, self.delta, self.reynolds) - here) / small

    def loads(self, alpha: Array) -> SectionLoads:
        loads: SectionLoads = self.sections.loads(alpha, self.delta, self.reynolds)
        return loads


def _placed(sections: Sections, delta: Array, reynolds: Array) -> _Placed:
    own: Callable[[Array, Array], _Placed] | None = getattr(sections, "placed", None)
    return _PlacedByLift(sections, delta, reynolds) if own is None else own(delta, reynolds)


def _binder(placed: _Placed, count: int) -> Callable[[Rows], LiftFunction]:
    """Section lift with its slope for chosen rows of a batch of `count`."""
    return lambda rows: placed.lift if len(rows) == count else placed.part(rows).lift


def cross(a: Array, b: Array) -> Array:
    """a x b along the last axis, as `numpy.cross` but several times faster on small batches."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    a0, a1, a2, b0, b1, b2 = (v[..., k] for v in (a, b) for k in range(3))
    out[..., 0] = a1 * b2 - a2 * b1
    out[..., 1] = a2 * b0 - a0 * b2
    out[..., 2] = a0 * b1 - a1 * b0
    return out


def flight_direction(flow: Flow) -> Array:
    """Unit vector along the flight path in body axes, (n, 3)."""
    return np.stack(
        [np.cos(flow.alpha) * np.cos(flow.beta), np.sin(flow.beta), np.sin(flow.alpha) * np.cos(flow.beta)], axis=-1
    )


def lift_direction(flow: Flow) -> Array:
    """Unit vector normal to the flight path in the plane of symmetry, to the canopy, (n, 3)."""
    return np.stack([np.sin(flow.alpha), np.zeros_like(flow.alpha), -np.cos(flow.alpha)], axis=-1)


def side_direction(flow: Flow) -> Array:
    """Unit vector to the right, normal to flight path and lift, (n, 3)."""
    return np.stack(
        [-np.cos(flow.alpha) * np.sin(flow.beta), np.cos(flow.beta), -np.sin(flow.alpha) * np.sin(flow.beta)], axis=-1
    )
