"""Vectors that hold the page's own linkage and mixer to ours: web/src/lib/kinematics/golden.json.

    python tools/golden_vectors.py          anew from the plans in the file
    python tools/golden_vectors.py --tune   with the plans tuned anew first (needed once, or where plan files change)

Both test suites read the file: tests/test_golden_vectors.py and web/src/lib/kinematics/kinematics.test.ts.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from evenfall.lines.throws import fitted_corners, real_angles, roll_turn
from evenfall.linkage.corner import Corner, corner_limits
from evenfall.linkage.fourbar import FourBar, forward, inverse, square, with_offset, working_range
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.starter import DEMOS, demo_path
from evenfall.radio.mixer import Sticks, mix
from evenfall.radio.phases import soften
from evenfall.radio.plan import Crow, MotorChoice, Plan, arrangements_of, present_plan, wing_signs
from evenfall.radio.planfile import parse_plan, plan_text
from evenfall.sheet.bench_view import kinematics_page

PATH = Path(__file__).parents[1] / "web" / "src" / "lib" / "kinematics" / "golden.json"
SEED = 20
BARS = 120
"""Linkages drawn at random."""
RANDOM_PLANS = 4


def tuned_plans() -> dict[str, str]:
    """The demo planes' tuned plans as their files hold them."""
    from evenfall.workflow import tune

    found = {}
    for name in DEMOS:
        plan = tune(demo_path(name)).tuned.plan
        if plan is None:
            raise SystemExit(f"{name}: no plan")
        found[name] = plan_text(plan)
    return found


def golden(plans: dict[str, str]) -> dict[str, Any]:
    """Everything in the file, from these plan texts by demo plane."""
    generator = np.random.default_rng(SEED)
    files = {name: load_plane(demo_path(name)) for name in DEMOS}
    made = {name: parse_plan(text, files[name].plane) for name, text in plans.items()}
    cases = [(name, files[name], plan) for name, plan in made.items()]
    for index in range(RANDOM_PLANS):
        name = DEMOS[index % len(DEMOS)]
        cases.append((f"{name}, at random", files[name], _random_plan(files[name], generator)))
    return {
        "plans": plans,
        "soften": [
            [x, e, float(soften(x, e))] for e in (0.0, 0.25, 0.6, 1.0) for x in (-1.0, -0.7, -0.1, 0.0, 0.35, 1.0)
        ],
        "bars": [_bar_vector(bar, generator) for bar in _bars(generator)],
        "corners": [_corner_vector(*row) for row in _corners(cases)],
        "mixes": [_mix_vector(*case, generator) for case in cases],
    }


# --- linkages --------------------------------------------------------------------------------------------------------


def _bars(generator: np.random.Generator) -> Iterator[FourBar]:
    """Linkages that assemble at neutral, every kind in turn."""
    for index in range(BARS):
        horn = generator.uniform(0.008, 0.03)
        bar = FourBar(
            arm=round(generator.uniform(0.006, 0.02), 5),
            horn=round(horn, 5),
            rod=1.0,
            distance=round(generator.uniform(0.04, 0.15), 5),
            height=round(generator.uniform(-0.02, 0.02), 5) if index % 3 else 0.0,
            setback=round(generator.uniform(-0.4, 0.4) * horn, 5) if index % 2 else 0.0,
            crossed=index % 4 == 1,
            horn_above=index % 5 < 2,
        )
        yield with_offset(bar, round(generator.uniform(-0.6, 0.6), 4))


def _bar_vector(bar: FourBar, generator: np.random.Generator) -> dict[str, Any]:
    """Arm angles inside the working range, near its ends, beyond them; throws within reach and out of it."""
    span = working_range(bar)
    low, high = float(span.low), float(span.high)
    thetas = [*generator.uniform(low, high, 3), low + 1e-3, high - 1e-3, *generator.uniform(-np.pi, np.pi, 2)]
    motions = [forward(bar, theta) for theta in thetas]
    throws = [0.0, *generator.uniform(-0.6, 0.6, 2), 2.5]
    return {
        "bar": _bar_data(bar),
        "square": float(square(bar)),
        "forward": [
            [
                float(theta),
                float(one.throw),
                float(one.gain),
                int(one.reach),
                int(one.over_centre),
                float(one.arm_lever),
                float(one.horn_lever),
            ]
            for theta, one in zip(thetas, motions, strict=True)
        ],
        "inverse": [
            [float(angle), float(found.theta), int(found.reachable)]
            for angle, found in ((angle, inverse(bar, angle)) for angle in throws)
        ],
    }


def _bar_data(bar: FourBar) -> dict[str, Any]:
    names = ("arm", "horn", "rod", "distance", "height", "setback")
    return {
        **{name: float(getattr(bar, name)) for name in names},
        "crossed": bar.crossed,
        "horn_above": bar.horn_above,
    }


def _corners(cases: list[tuple[str, PlaneFile, Plan]]) -> Iterator[tuple[Corner, dict[str, Any]]]:
    for name, file, plan in cases:
        page = kinematics_page(file, plan, name=name)
        made = fitted_corners(file.plane, plan)
        for link in page.linkages:
            yield made[link.corner], link.model_dump()


def _corner_vector(corner: Corner, link: dict[str, Any]) -> dict[str, Any]:
    limits = corner_limits(corner)
    pulses = np.linspace(0.8e-3, 2.2e-3, 5)
    arms = corner.servo_of_pulse(pulses)
    held = corner.throw(np.clip(arms, limits.low, limits.high))
    angles = np.linspace(link["low"], link["high"], 4)
    back = corner.servo(angles)
    return {
        "link": link,
        "limits": [float(limits.low), float(limits.high)],
        "turn": [[throw, roll_turn(corner, throw)] for throw in (0.05, 0.12, 0.3, 1.0)],
        "pulse": np.stack([pulses, arms, held], axis=1).tolist(),
        "back": np.stack([angles, back, corner.pulse(back)], axis=1).tolist(),
    }


# --- mixer -----------------------------------------------------------------------------------------------------------


def _random_plan(file: PlaneFile, generator: np.random.Generator) -> Plan:
    """Any plan the reader would take: its arrangement, angles, curves, throws and exponentials at random."""
    plan = present_plan(file.plane)
    possible = arrangements_of(file.plane)
    arrangement = possible[int(generator.integers(len(possible)))]
    signs = wing_signs(arrangement)
    sizes = np.round(generator.uniform(0.05, 0.3, 2), 4)
    there = [(wing := file.plane.wings.get(name)) is not None and wing.aileron is not None for name in _WINGS]
    angles = [float(sign * size) if ail else 0.0 for sign, size, ail in zip(signs, sizes, there, strict=True)]
    inner = np.sort(np.round(generator.uniform(0.05, 0.5, 4), 3))
    values = np.sort(np.round(generator.uniform(0.05, 0.95, 3), 3))[::-1]
    curve = ((0.0, 1.0), *zip(inner[:3].tolist(), values.tolist(), strict=True), (float(inner[3]), 0.0), (1.0, 0.0))
    middle = round(float(generator.uniform(0.2, 0.8)), 3)
    phases = tuple(
        replace(
            phase,
            aileron=round(float(generator.uniform(0.05, 0.35)), 4),
            aileron_exponential=round(float(generator.uniform(0, 1)), 3),
            elevator_exponential=round(float(generator.uniform(0, 1)), 3),
            roll_boost=round(float(generator.uniform(-0.4, 0.6)), 3),
        )
        for phase in plan.phases[:3]
    )
    return replace(
        plan,
        crow=Crow(
            arrangement=arrangement,
            upper=angles[0],
            lower=angles[1],
            threshold=float(inner[3]),
            curve=curve,
            elevator_share=round(float(generator.uniform(-1, 1)), 4),
        ),
        motor=MotorChoice(
            level=plan.motor.level,
            percent=plan.motor.percent,
            throttle_curve=((0.0, 0.0), (middle, round(0.7 * middle, 4)), (1.0, 1.0)),
        ),
        phases=phases,
    )


_WINGS = ("upper", "lower")


def _mix_vector(name: str, file: PlaneFile, plan: Plan, generator: np.random.Generator) -> dict[str, Any]:
    page = kinematics_page(file, plan, name=name)
    keys = ("phases", "curve", "wings", "elevator_crow", "throttle_curve", "linkages")
    data = page.model_dump(mode="json")
    rows = []
    for index in range(len(plan.phases)):
        corners = ((0.0, 1.0, 1.0, -1.0), (0.0, -1.0, 0.0, 1.0), (1.0, 0.3, -1.0, 0.0))
        drawn = generator.uniform((0, -1, -1, -1), 1.0, (4, 4)).round(4).tolist()
        for place, sticks in enumerate((*corners, *drawn)):
            rows.append(_stick_vector(file, plan, index, [float(value) for value in sticks], crow=place != 6))
    return {"name": name, "mix": {key: data[key] for key in keys}, "sticks": rows}


def _stick_vector(file: PlaneFile, plan: Plan, index: int, sticks: list[float], *, crow: bool) -> dict[str, Any]:
    phase = plan.phases[index]
    at = Sticks(**dict(zip(("throttle", "aileron", "elevator", "rudder"), sticks, strict=True)))
    told = mix(file.plane, plan, phase, at, crow_switch=crow)
    real = real_angles(file.plane, plan, phase, at, crow_switch=crow)
    return {
        "phase": index,
        "crow": crow,
        "sticks": sticks,
        "out": [float(value) for value in (told.deployment, told.motor, told.elevator, told.rudder)],
        "told": {name: float(angle) for name, angle in told.ailerons.items()},
        "real": {name: float(angle) for name, angle in real.items()},
    }


def main() -> None:
    """Write the file."""
    plans = tuned_plans() if "--tune" in sys.argv[1:] else json.loads(PATH.read_text(encoding="utf-8"))["plans"]
    text = json.dumps(golden(plans), separators=(",", ":"))
    PATH.write_text(text + "\n", encoding="utf-8", newline="\n")
    print(f"{PATH.name}: {len(text) / 1e3:.0f} kB")


if __name__ == "__main__":
    main()
