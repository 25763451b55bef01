"""The closed and the driven shaft, on an analytic propeller with a stall dip."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.plane.corrections import Corrections
from evenfall.plane.electrics import Battery, BrakeLevel, Controller, Motor, Propeller
from evenfall.power.equilibria import Segments, all_roots, segments_from_grid
from evenfall.power.fold import fold_band, fold_margin, states_with_doubt
from evenfall.power.motor import friction_torque
from evenfall.power.train import (
    brake_torque,
    driven,
    shaft_grid,
    shaft_states,
)

RPM = math.pi / 30.0
LEVELS = tuple(BrakeLevel(name=str(p), percent=p) for p in (0, 25, 50, 75, 100))

DUTIES = np.linspace(0.0, 1.0, 101)


class DipPropeller:
    """An invented windmill: torque rises from the stopped blade, dips to zero and then absorbs, in x = omega R/V."""

    radius = 0.165

    def loads(self, speed, omega, density=1.225):
        v, w = np.broadcast_arrays(np.asarray(speed, float), np.asarray(omega, float))
        rpm_at_22 = w / RPM * 22.0 / np.maximum(v, 1e-9)
        s = rpm_at_22 / 5515.0
        drive = (1.0 - s) * (0.055 + 0.055 * s + 0.80 * s**2 * np.exp(-(((s - 0.80) / 0.13) ** 2)))
        absorb = np.where(s > 1.0, 0.7 * (s - 1.0), 0.0) * s
        scale = density / 1.225 * (v / 22.0) ** 2
        torque = scale * (absorb - np.where(s < 1.0, drive, 0.0))
        thrust = scale * (-1.98 - 3.0 * s**2 + 3.83 * s**3)
        return thrust, torque


@dataclass(frozen=True)
class Train:
    propeller: Propeller
    motor: Motor
    controller: Controller
    battery: Battery
    corrections: Corrections = field(default_factory=Corrections)


def power_train() -> Train:
    return Train(
        propeller=Propeller(diameter=0.33, pitch=0.165),
        motor=Motor(
            kv=900 * RPM,
            resistance=0.05,
            inductance=15e-6,
            pole_pairs=7,
            no_load_current=1.2,
            no_load_voltage=10.0,
            mass=0.1,
        ),
        controller=Controller(
            resistance=0.0,
            levels=LEVELS,
            present_level="25",
            brake_frequency=8e3,
            brake_frequency_known=True,
        ),
        battery=Battery(cells=4, capacity=7920.0, resistance=0.02, rest_voltage_per_cell=3.875),
    )


DIP = DipPropeller()
TRAIN = power_train()


def net(train: Train, level: str, v: np.ndarray, w: np.ndarray) -> np.ndarray:
    return DIP.loads(v, w)[1] + brake_torque(train, level, w)


@pytest.mark.limit
def test_no_brake_leaves_friction() -> None:
    omega = np.linspace(0.0, 800.0, 9)
    assert brake_torque(TRAIN, "0", omega) == pytest.approx(np.full(9, friction_torque(TRAIN.motor)), abs=0.0)


@pytest.mark.limit
def test_correction_multiplies_the_motor_brake_and_not_friction() -> None:
    friction = friction_torque(TRAIN.motor)
    once = brake_torque(TRAIN, "50", 400.0) - friction
    twice = brake_torque(TRAIN, "50", 400.0, corrections=Corrections(brake_damping=2.0)) - friction
    assert twice == pytest.approx(2.0 * once, rel=1e-12)


@pytest.mark.outside
def test_unknown_level_is_named_with_the_known_ones() -> None:
    with pytest.raises(ValueRangeError, match=r"'60': the controller has 0, 25, 50, 75, 100"):
        brake_torque(TRAIN, "60", 400.0)


@pytest.mark.invariant
@pytest.mark.parametrize("level", [level.name for level in LEVELS])
def test_states_balance_and_stability_is_the_sign_of_the_slope(level: str) -> None:
    speeds = np.linspace(4.0, 40.0, 73)
    states = shaft_states(TRAIN, DIP, level, speeds)
    row, col = np.nonzero(states.omega > 0.0)
    v, w = speeds[row], states.omega[row, col]
    assert net(TRAIN, level, v, w) == pytest.approx(np.zeros(v.size), abs=1e-7)
    slope = net(TRAIN, level, v, w + 1e-3) - net(TRAIN, level, v, w - 1e-3)
    assert np.all((slope > 0.0) == states.stable[row, col])
    assert states.torque[row, col] == pytest.approx(brake_torque(TRAIN, level, w), abs=1e-7)
    # Stable and unstable states take turns, so one more is stable than not.
    assert np.all(2 * states.stable.sum(axis=1) - states.count == 1)
    assert not np.any(np.diff(states.omega, axis=1) <= 0.0)


@pytest.mark.invariant
def test_every_sign_change_of_a_very_fine_scan_is_found() -> None:
    speeds = np.linspace(12.0, 32.0, 81)
    states = shaft_states(TRAIN, DIP, "50", speeds)
    fine = shaft_grid(TRAIN.propeller, 32.0, count=40001)
    positive = net(TRAIN, "50", speeds[:, None], fine[None, :]) > 0.0
    assert np.array_equal(states.count, positive[:, 0] + (positive[:, 1:] != positive[:, :-1]).sum(axis=1))


@pytest.mark.convergence
def test_close_pairs_of_roots_are_found_between_samples() -> None:
    # f = (w - a)^2 - e^2 near a, roots 2 e = .02 apart on a grid of step 1; a rising line beyond.
    def residual(v: np.ndarray, w: np.ndarray) -> np.ndarray:
        return (w - 30.0 - v) ** 2 - 1e-4

    speeds = np.array([0.2, 0.3, 0.45])
    roots = all_roots(residual, speeds, np.arange(101.0))
    assert roots.omega[:, 1:] == pytest.approx(30.0 + speeds[:, None] + np.array([-0.01, 0.01]), abs=1e-6)
    assert np.array_equal(roots.stable, [[True, False, True]] * 3)
    assert roots.omega[:, 0] == pytest.approx(0.0, abs=0.0)


@pytest.mark.outside
def test_a_grid_that_does_not_start_at_rest_is_refused() -> None:
    with pytest.raises(ValueRangeError, match="must start at 0 and rise"):
        all_roots(lambda v, w: w, np.array([1.0]), np.array([1.0, 2.0]))


@pytest.mark.limit
def test_slow_air_leaves_the_shaft_standing() -> None:
    # Stopped torque .055 N m at 22 m/s, friction .0127: the shaft breaks away above 22 sqrt(.0127/.055) = 10.6 m/s.
    states = shaft_states(TRAIN, DIP, "100", [0.0, 5.0, 10.5, 10.7])
    assert np.array_equal(states.omega[:, 0] == 0.0, [True, True, True, False])
    assert np.all(states.stable[:3, 0])


@pytest.mark.invariant
def test_batch_equals_loop() -> None:
    speeds = np.linspace(10.0, 30.0, 9)
    batch = shaft_states(TRAIN, DIP, "50", speeds)
    for i, v in enumerate(speeds):
        one = shaft_states(TRAIN, DIP, "50", float(v))
        assert batch.omega[i, : one.count[0]] == pytest.approx(one.omega[0], rel=1e-9)


def segments(level: str, speeds: np.ndarray, omegas: np.ndarray) -> Segments:
    return segments_from_grid(speeds, omegas, net(TRAIN, level, speeds[:, None], omegas[None, :]))


@pytest.mark.invariant
@pytest.mark.parametrize("level", ["25", "50", "100"])
def test_segments_carry_every_state(level: str) -> None:
    speeds, omegas = np.linspace(4.0, 36.0, 81), shaft_grid(TRAIN.propeller, 36.0, count=400)
    found = segments(level, speeds, omegas)
    middle = np.linspace(4.2, 35.8, 40) + 0.013
    states = shaft_states(TRAIN, DIP, level, middle)
    low, high = np.minimum(found.v0, found.v1), np.maximum(found.v0, found.v1)
    for i, v in enumerate(middle):
        on = (low <= v) & (v < high)
        part = (v - found.v0[on]) / (found.v1[on] - found.v0[on])
        at = found.w0[on] + part * (found.w1[on] - found.w0[on])
        order = np.argsort(at)
        assert at[order] == pytest.approx(states.omega[i, : states.count[i]], abs=2.0)
        assert np.array_equal(found.stable[on][order], states.stable[i, : states.count[i]])
        assert np.array_equal(found.stopped[on][order], states.omega[i, : states.count[i]] == 0.0)


@pytest.mark.convergence
def test_segment_ends_converge_with_the_square_of_the_step() -> None:
    def miss(count: int) -> float:
        speeds, omegas = np.linspace(8.0, 36.0, count), shaft_grid(TRAIN.propeller, 36.0, count=4 * count)
        found = segments("75", speeds, omegas)
        ends = net(TRAIN, "75", found.v0, found.w0)[~found.stopped]
        return float(np.sqrt(np.mean(ends**2)))

    assert 3.0 < miss(41) / miss(81) < 5.0


@pytest.mark.invariant
def test_saddle_cells_give_two_segments_that_do_not_cross() -> None:
    values = np.array([[1.0, -1.0], [-1.0, 1.1]])
    found = segments_from_grid(np.array([0.0, 1.0]), np.array([0.0, 1.0]), values)
    inner = ~found.stopped
    assert inner.sum() == 2
    # The centre is positive, so the two negative corners are cut off, by hand: 1/2.1 = .476.
    ends = np.stack((found.v0, found.w0, found.v1, found.w1), axis=1)[inner]
    cut = 1.0 / 2.1
    assert ends[np.argsort(ends[:, 3])] == pytest.approx(np.array([[0.5, 0.0, 1.0, cut], [cut, 1.0, 0.0, 0.5]])[[0, 1]])


@pytest.mark.invariant
def test_fold_band_counts_what_the_roots_count() -> None:
    speeds, duties = np.linspace(12.0, 32.0, 11), np.linspace(0.0, 1.0, 21)
    counts = fold_band(TRAIN, DIP, speeds, duties)
    for j, duty in enumerate(duties):
        level = BrakeLevel(name="x", percent=100 * float(duty))
        assert np.array_equal(shaft_states(TRAIN, DIP, level, speeds).stable.sum(axis=1), counts[:, j])


@pytest.mark.invariant
def test_margin_is_the_distance_to_the_edge_of_the_band() -> None:
    speeds = np.array([22.0])
    inside = np.linspace(0.0, 1.0, 10001)[fold_band(TRAIN, DIP, speeds, np.linspace(0.0, 1.0, 10001))[0] > 1] * 100.0
    low, high = inside[0], inside[-1]
    for percent, expected in ((25.0, low - 25.0), (75.0, 75.0 - high), (50.0, -min(50.0 - low, high - 50.0))):
        margin = fold_margin(TRAIN, DIP, BrakeLevel(name="x", percent=percent), speeds)
        assert margin.percent == pytest.approx(expected, abs=0.05)
        assert (margin.of, margin.speed, margin.frequency) == ("duty", 22.0, 8e3)


@pytest.mark.invariant
def test_margin_of_a_measured_level_is_in_percent_of_its_damping() -> None:
    speeds = np.array([22.0])
    damping = 1e-4
    margin = fold_margin(TRAIN, DIP, BrakeLevel(name="x", percent=50, damping=damping), speeds)
    assert margin.of == "damping"
    assert margin.percent is not None

    def several(factor: float) -> bool:
        level = BrakeLevel(name="x", percent=50, damping=damping * factor)
        return bool(shaft_states(TRAIN, DIP, level, speeds).stable[0].sum() > 1)

    here = several(1.0)
    assert here == (margin.percent < 0.0)
    distance = abs(margin.percent) / 100.0
    flips = [several(1.0 + sign * (distance + 0.01)) != here for sign in (-1.0, 1.0)]
    stays = [several(1.0 + sign * (distance - 0.01)) == here for sign in (-1.0, 1.0)]
    assert any(flips)
    assert all(stays)


@pytest.mark.limit
def test_no_dip_means_no_fold_and_no_margin() -> None:
    class Plain(DipPropeller):
        def loads(self, speed, omega, density=1.225):
            v, w = np.broadcast_arrays(np.asarray(speed, float), np.asarray(omega, float))
            return -1e-3 * v**2, 2e-4 * w - 1e-2 * v

    speeds = np.array([15.0, 22.0])
    assert np.all(fold_band(TRAIN, Plain(), speeds, DUTIES) == 1)
    assert fold_margin(TRAIN, Plain(), "50", speeds).percent is None


@pytest.mark.invariant
def test_doubt_reaches_the_fold_before_the_level_does() -> None:
    unknown = replace(TRAIN, controller=replace(TRAIN.controller, brake_frequency_known=False))
    counts = states_with_doubt(unknown, DIP, "50", np.array([22.0]))
    assert counts.shape == (3, 3, 1)
    assert counts[0, 1, 0] == 2
    assert np.all(states_with_doubt(unknown, DIP, "0", np.array([22.0])) == 1)


@pytest.mark.invariant
@pytest.mark.parametrize("synchronous", [False, True])
def test_driven_shaft_balances(synchronous: bool) -> None:
    train = replace(TRAIN, controller=replace(TRAIN.controller, synchronous=synchronous))
    speed, command = np.linspace(0.0, 35.0, 15)[:, None], np.linspace(0.0, 1.0, 21)
    state = driven(train, DIP, speed, command)
    assert state.omega.shape == (15, 21)
    assert state.converged.all()
    turning = state.omega > 0.0
    balance = state.torque - DIP.loads(speed, state.omega)[1]
    assert balance[turning] == pytest.approx(np.zeros(turning.sum()), abs=1e-6)
    # A stopped motor: friction holds it (no throttle, slow air).
    assert np.all(command[np.nonzero(~turning)[1]] < 0.1)


@pytest.mark.limit
def test_no_throttle_freewheels_where_the_closed_shaft_without_brake_does() -> None:
    free = driven(TRAIN, DIP, 22.0, 0.0)
    assert free.omega == pytest.approx(shaft_states(TRAIN, DIP, "0", 22.0).omega[0, 0], rel=1e-9)
    assert free.current == 0.0


@pytest.mark.limit
def test_thrust_correction_joins_drag_correction_at_zero() -> None:
    once = driven(TRAIN, DIP, 22.0, np.linspace(0.2, 1.0, 9))
    more = driven(TRAIN, DIP, 22.0, np.linspace(0.2, 1.0, 9), corrections=Corrections(thrust=1.05))
    assert np.all(more.omega <= once.omega)
    braked = shaft_states(TRAIN, DIP, "25", 22.0, corrections=Corrections(braked_propeller_drag=1.2))
    assert braked.thrust == pytest.approx(1.2 * shaft_states(TRAIN, DIP, "25", 22.0).thrust, rel=1e-12)


@pytest.mark.invariant
def test_marching_ends_in_the_stable_states() -> None:
    states = shaft_states(TRAIN, DIP, "50", 22.0)
    low, unstable, high = states.omega[0]
    start = np.array([0.0, unstable - 5.0, unstable + 5.0, 900.0])
    omega = start.copy()
    # Twenty seconds: close to a fold the shaft settles slowly. 2.7e-4 kg m^2 turn.
    for _ in range(8000):
        omega = np.maximum(omega - 2.5e-3 / 2.7e-4 * net(TRAIN, "50", 22.0, omega), 0.0)
    assert omega == pytest.approx([low, low, high, high], rel=1e-4)
