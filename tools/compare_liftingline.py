"""Lifting line against MachUpX, an independent one, on the same surfaces with the same linear sections.

Needs the reference extra (`pip install ".[reference]"`); prints one row per case and the greatest difference:

    python tools/compare_liftingline.py

Ours runs with `curved_flow=False`: incidence at the quarter chord, as theirs. MachUpX (Goates & Hunsaker) is run with
its trailing sheets held in the body x-y plane, as ours are, and deflected controls as sections of their own zero-lift
incidence and moment.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from evenfall.aero.flow import Flow
from evenfall.aero.influence import build_lattice
from evenfall.aero.section import LinearSections, thin_flap
from evenfall.aero.surfaces import Control, SurfaceSpec
from evenfall.aero.wings import LiftingLine

DENSITY = 1.225


@dataclass(frozen=True, kw_only=True)
class Case:
    """One condition of one set of surfaces. Angles in rad, speed m/s, rates rad/s."""

    name: str
    surfaces: tuple[SurfaceSpec, ...]
    speed: float = 24.0
    alpha: float = 0.0
    p: float = 0.0
    q: float = 0.0
    deltas: Mapping[str, float] | None = None
    cd: float = 0.0


def ours(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """Force (N) and moment (N m) about the origin in body axes."""
    fraction = build_lattice(case.surfaces).fraction
    line = LiftingLine(case.surfaces, LinearSections(fraction, cd=case.cd), curved_flow=False)
    flow = Flow(speed=case.speed, alpha=case.alpha, p=case.p, q=case.q, deltas=dict(case.deltas or {}), density=DENSITY)
    loads = line.solve(flow)
    if not loads.converged.all():
        raise RuntimeError(f"{case.name}: not converged")
    return loads.force[0], loads.moment[0]


def _pieces(spec: SurfaceSpec, side: str, deltas: Mapping[str, float]) -> list[tuple[float, float, float, float]]:
    """Inner end, outer end, flap fraction and angle of each stretch of a half, root to tip."""
    controls = [c for c in spec.controls if c.side in ("both", side)]
    ends = sorted({0.0, 1.0, *(end for c in controls for end in (c.inner, c.outer))})
    rows = []
    for a, b in pairwise(ends):
        over = [c for c in controls if c.inner <= a + 1e-9 and c.outer >= b - 1e-9]
        fraction = 0.5 * (over[0].inner_fraction + over[0].outer_fraction) if over else 0.0
        rows.append((a, b, fraction, deltas.get(over[0].name, 0.0) if over else 0.0))
    return rows


def machupx_input(case: Case, *, stations: int) -> dict[str, object]:
    """The aeroplane as MachUpX wants it: every stretch of every half a wing of its own."""
    airfoils: dict[str, object] = {}
    wings: dict[str, object] = {}
    for spec in case.surfaces:
        root, tip = np.array(spec.root), np.array(spec.tip)
        for side in ("left", "right"):
            twist = spec.incidence if side == "right" or spec.incidence_left is None else spec.incidence_left
            for a, b, fraction, angle in _pieces(spec, side, case.deltas or {}):
                name = f"{spec.name} {side} {a:.3f}"
                flap = thin_flap(fraction)
                airfoils[name] = {
                    "type": "linear",
                    "aL0": float(-flap.tau * angle),
                    "CLa": 2 * np.pi,
                    "CmL0": float(flap.dcm * angle),
                    "Cma": 0.0,
                    "CD0": case.cd,
                    "CD1": 0.0,
                    "CD2": 0.0,
                    "geometry": {"NACA": "0012"},
                }
                start, chords = (
                    root + a * (tip - root),
                    [spec.root_chord + s * (spec.tip_chord - spec.root_chord) for s in (a, b)],
                )
                wings[name] = {
                    "ID": len(wings) + 1,
                    "side": side,
                    "is_main": True,
                    "connect_to": {"ID": 0, "dx": float(start[0]), "dz": float(start[2]), "y_offset": float(start[1])},
                    "semispan": float((b - a) * (tip - root)[1]),
                    "sweep": float(np.degrees(np.arctan2(-(tip - root)[0], (tip - root)[1]))),
                    "chord": [[0.0, chords[0]], [1.0, chords[1]]],
                    "twist": float(np.degrees(twist)),
                    "airfoil": name,
                    "grid": {"N": max(4, round(stations * (b - a))), "reid_corrections": False},
                }
    return {
        "CG": [0.0, 0.0, 0.0],
        "weight": 1.0,
        "reference": {"area": 1.0, "longitudinal_length": 1.0, "lateral_length": 1.0},
        "units": "SI",
        "airfoils": airfoils,
        "wings": wings,
    }


def machupx(case: Case, *, stations: int = 60) -> tuple[np.ndarray, np.ndarray]:
    """Force (N) and moment (N m) about the origin in body axes, by MachUpX with so many stations per half."""
    import machupX

    scene = machupX.Scene(
        {
            "units": "SI",
            "solver": {"type": "nonlinear", "constrain_vortex_sheet": True, "convergence": 1e-10},
            "scene": {"atmosphere": {"rho": DENSITY}},
        }
    )
    state = {
        "type": "aerodynamic",
        "velocity": case.speed,
        "alpha": float(np.degrees(case.alpha)),
        "angular_rates": [case.p, case.q, 0.0],
    }
    scene.add_aircraft("plane", machupx_input(case, stations=stations), state=state)
    total = scene.solve_forces(dimensional=True, non_dimensional=False, verbose=False)["plane"]["total"]
    return (
        np.array([total["Fx"], total["Fy"], total["Fz"]]),
        np.array([total["Mx"], total["My"], total["Mz"]]),
    )


def cell(
    stagger: float, *, incidence: tuple[float, float] = (0.0, 0.0), span: float = 1.40, stations: int = 22
) -> tuple[SurfaceSpec, ...]:
    """The biplane cell of the static check: chord .18, gap .33, upper wing ahead by the stagger (m)."""
    return tuple(
        SurfaceSpec(
            name=name,
            root=(sign * stagger / 2, 0.0, -sign * 0.165),
            tip=(sign * stagger / 2, span / 2, -sign * 0.165),
            root_chord=0.18,
            tip_chord=0.18,
            incidence=angle,
            stations=stations,
        )
        for name, sign, angle in (("upper", 1, incidence[0]), ("lower", -1, incidence[1]))
    )


def aerobatic(
    stagger: float, *, cg: float = 0.0, stations: int = 22, tail_stations: int = 12
) -> tuple[SurfaceSpec, ...]:
    """Two wings with four ailerons and a tail, the straightness check; the CG lies `cg` (m) ahead of mid-cell."""

    def ailerons(wing: str) -> tuple[Control, ...]:
        ends = {"inner": 0.085 / 0.665, "outer": 0.635 / 0.665, "inner_fraction": 0.28, "outer_fraction": 0.28}
        return (
            Control(name=f"{wing}_left", side="left", **ends),
            Control(name=f"{wing}_right", side="right", **ends),
        )

    wings = tuple(
        SurfaceSpec(
            name=name,
            root=(sign * stagger / 2 - cg, 0.0, -sign * 0.165),
            tip=(sign * stagger / 2 - cg, 0.665, -sign * 0.165),
            root_chord=0.175,
            tip_chord=0.175,
            controls=ailerons(name),
            stations=stations,
        )
        for name, sign in (("upper", 1), ("lower", -1))
    )
    tail = SurfaceSpec(
        name="tail",
        root=(-0.78 - cg, 0.0, 0.0),
        tip=(-0.78 - cg, 0.25, 0.0),
        root_chord=0.13,
        tip_chord=0.13,
        controls=(Control(name="elevator", inner=0.0, outer=1.0, inner_fraction=0.4, outer_fraction=0.4),),
        stations=tail_stations,
    )
    return (*wings, tail)


def all_ailerons(upper_deg: float, lower_deg: float) -> dict[str, float]:
    """Angles of the four ailerons in rad."""
    upper, lower = np.radians([upper_deg, lower_deg]).tolist()
    return {"upper_left": upper, "upper_right": upper, "lower_left": lower, "lower_right": lower}


def cases() -> tuple[Case, ...]:
    """What is compared."""
    four = float(np.radians(4.0))
    plane = aerobatic(0.12, cg=-0.034)
    both_up = all_ailerons(-16, -16)
    return (
        Case(name="cell +4/+4", surfaces=cell(0.15, incidence=(four, four))),
        Case(name="cell -4/+4", surfaces=cell(0.15, incidence=(-four, four))),
        Case(name="plane, alpha 4", surfaces=plane, alpha=four, cd=0.012),
        Case(name="plane, q -2", surfaces=plane, q=-2.0, cd=0.012),
        Case(name="plane, crow up/down 16", surfaces=plane, deltas=all_ailerons(-16, 16), cd=0.012),
        Case(name="plane, crow down/up 16", surfaces=plane, deltas=all_ailerons(16, -16), cd=0.012),
        Case(name="plane, crow both up 16", surfaces=plane, deltas=both_up, cd=0.012),
        Case(name="plane, both up, alpha 4, q -1.5", surfaces=plane, alpha=four, q=-1.5, deltas=both_up, cd=0.012),
        Case(name="plane, p 4", surfaces=plane, p=4.0, cd=0.012),
    )  # fmt: skip


def compare(chosen: Sequence[Case], *, stations: int = 60) -> list[tuple[Case, np.ndarray, np.ndarray]]:
    """Force and moment (6,) of each case, ours and theirs."""
    return [(case, np.concatenate(ours(case)), np.concatenate(machupx(case, stations=stations))) for case in chosen]


def conditions_per_second() -> tuple[float, float]:
    """Ours in a batch of 1000 and theirs one by one, the two-wing cell with 22 stations a wing, linear sections."""
    surfaces = cell(0.15)
    line = LiftingLine(surfaces, LinearSections(build_lattice(surfaces).fraction))
    flow = Flow(speed=24.0, alpha=np.linspace(-0.1, 0.1, 1000))
    line.solve(flow)
    begin = time.perf_counter()
    line.solve(flow)
    us = 1000 / (time.perf_counter() - begin)
    begin = time.perf_counter()
    for alpha in np.linspace(-0.1, 0.1, 5):
        machupx(Case(name="", surfaces=surfaces, alpha=float(alpha)), stations=11)
    return us, 5 / (time.perf_counter() - begin)


def main() -> None:
    """Print the comparison."""
    print(f"{'case':38s} {'Fx N':>17s} {'Fz N':>19s} {'Mx N m':>19s} {'My N m':>19s}")
    for case, us, them in compare(cases()):
        cells = [f"{us[k]:9.4f} {them[k]:9.4f}" for k in (0, 2, 3, 4)]
        print(f"{case.name:38s} " + " ".join(cells))
    print("conditions per second, ours and MachUpX: {:.0f}, {:.1f}".format(*conditions_per_second()))


if __name__ == "__main__":
    main()
