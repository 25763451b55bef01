"""Stand-ins of the line tests: a shaft that neither pulls nor brakes, a constant drag area, the folded power train."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray

from evenfall.air import G0
from evenfall.lines.drag import DragTable
from evenfall.lines.loaded import LoadedDrag, loaded_drag
from evenfall.lines.shaft import PowerUnit
from evenfall.plane.corrections import Corrections
from evenfall.plane.electrics import Battery, BrakeLevel, Controller, Motor, Propeller
from evenfall.plane.files import load_plane
from evenfall.plane.starter import demo_path
from evenfall.power.blades import measured_outlines
from evenfall.power.propeller import map_of_outline
from evenfall.workflow import TuneAnswer

Floats = NDArray[np.float64]
RPM = math.pi / 30.0


@dataclass(frozen=True)
class IdleShaft:
    """A shaft without thrust, drag or torque."""

    inertia: float = 1e-4

    def loads(self, speed: Floats, omega: Floats) -> tuple[Floats, Floats]:
        shape = np.broadcast(speed, omega).shape
        return np.zeros(shape), np.zeros(shape)

    def holding_back(self, omega: Floats) -> Floats:
        return np.zeros(np.shape(omega))


@pytest.fixture
def idle() -> IdleShaft:
    return IdleShaft()


@pytest.fixture(scope="session")
def constant_table() -> Callable[..., DragTable]:
    def make(area: float, mass: float, *, slope: float = -math.pi / 2, crow: float = 0.0) -> DragTable:
        """A drag area (m^2) at every speed, `crow` (m^2) added at full deployment; mass in kg."""
        speeds = np.linspace(2.0, 90.0, 89)
        surfaces = np.full((89, 1), area) + crow * np.linspace(0.0, 1.0, 11)
        return DragTable(
            slope=slope,
            inverted=False,
            speeds=speeds,
            deployments=np.linspace(0.0, 1.0, 11),
            surfaces=surfaces,
            parts=np.zeros((89, 11)),
            elevator=np.zeros((89, 11)),
            alpha=np.zeros((89, 11)),
            density=1.225,
            weight=mass * G0,
            lowest_speed=0.0,
            corrections=Corrections(),
        )

    return make


@pytest.fixture(scope="session")
def folded() -> PowerUnit:
    """The reference case of the braked propeller (see tests/power/test_train_fold.py) on a plane of 1.32 kg."""
    plane = load_plane(demo_path("biplane_124")).plane
    plane = replace(
        plane,
        mass=replace(plane.mass, all_up=1.32),
        propeller=Propeller(diameter=0.33, pitch=0.165),
        motor=Motor(
            kv=900 * RPM, resistance=0.05, inductance=15e-6, pole_pairs=7, no_load_current=1.2, no_load_voltage=10.0
        ),
        controller=Controller(
            resistance=0.0,
            levels=tuple(BrakeLevel(name=str(p), percent=p) for p in (0, 25, 50, 75, 100)),
            present_level="50",
            brake_frequency=8e3,
            brake_frequency_known=True,
        ),
        battery=Battery(cells=4, capacity=7920.0, resistance=0.02, rest_voltage_per_cell=3.875),
    )
    blade = measured_outlines()["slim", 10.0, 5.0]
    propeller = map_of_outline(blade, radius=0.165, transition=1.0, section="naca4412", use_cache=False)
    return PowerUnit(plane=plane, propeller=propeller, density=1.225)


@pytest.fixture(scope="session")
def loaded(tuned: Callable[[str], TuneAnswer]) -> LoadedDrag:
    """Drag under load of the 1.24 m demo with its tuned crow."""
    found = tuned("biplane_124").predicted
    assert found is not None
    return loaded_drag(found.ready.frame, found.plan.crow, wanted=found.ready.wanted)
