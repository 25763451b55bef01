"""Switched three-phase simulation of the motor brake, an independent check of `evenfall.power.brake`.

Three star-connected windings (resistance R/2, inductance L/2 each) with sinusoidal EMF at constant speed. For the share
d of each pulse period all three terminals are tied together by the low side; for the rest they are open and each
current flows through a diode, into the battery's plus (out of the winding) or from its minus (into the winding).
Trapezoidal rule on a fixed number of steps per pulse: even while tied, from fine to coarse while open, so that the
switching is exact and short tails are resolved. A current that would reverse in a diode is held at zero. All cases
advance together. Nothing of the package's formulas is used in the simulation.

Run:  python tools/simulate_brake.py            the check values and a seeded sample of 400 cases
      python tools/simulate_brake.py --halve    the same sample with half the step, to show that it is small enough
"""

from __future__ import annotations

import argparse
import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SEED = 20240


@dataclass(frozen=True, kw_only=True)
class Cases:
    """Cases to simulate, arrays of shape (n,): SI units, line-to-line resistance and inductance, diode drop in V."""

    kv: Floats
    resistance: Floats
    inductance: Floats
    pole_pairs: Floats
    voltage: Floats
    drop: Floats
    frequency: Floats
    duty: Floats
    omega: Floats


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """Means over whole sixths of an electrical turn, shape (n,): torque in N m, powers in W, current in A.

    `stored` is the change of magnetic energy over the window per second; shaft = copper + diodes + battery + stored.
    """

    torque: Floats
    shaft: Floats
    copper: Floats
    diodes: Floats
    battery: Floats
    stored: Floats


def simulate(cases: Cases, *, steps_per_pulse: int = 96, pulses: int = 200, settle: float = 6.0) -> Outcome:
    """March all cases and average after the start has died out.

    Args:
        cases: what to simulate.
        steps_per_pulse: time steps in one pulse period, a third of them while tied.
        pulses: least length of the averaging window, which is then widened to whole sixths of an electrical turn.
        settle: time constants L/R left out at the start (at least ten pulses).
    """
    sixth = 2.0 * math.pi / (6.0 * cases.pole_pairs * cases.omega) * cases.frequency
    window = np.round(np.maximum(np.ceil(pulses / sixth), 1.0) * sixth)
    start = np.ceil(np.maximum(settle * cases.inductance / cases.resistance * cases.frequency, 10.0))
    return _march(cases, start, start + window, max(steps_per_pulse // 3, 1))


def _march(cases: Cases, start: Floats, total: Floats, tied: int) -> Outcome:
    """Pulse by pulse from rest, summing from pulse `start` to `total` of each case."""
    period = 1.0 / cases.frequency
    half_l = 0.5 * cases.inductance
    on_edges = np.linspace(0.0, 1.0, tied + 1)
    off_edges = np.linspace(0.0, 1.0, 2 * tied + 1) ** 2
    on_time, off_time = cases.duty * period, (1.0 - cases.duty) * period
    current = np.zeros((3, period.size))
    sums = np.zeros((4, period.size))
    energy = np.zeros((2, period.size))
    for pulse in range(int(total.max())):
        counted = (pulse >= start) & (pulse < total)
        energy[0] = np.where(pulse == start, 0.5 * half_l * (current**2).sum(axis=0), energy[0])
        for is_on, edges, length in ((True, on_edges, on_time), (False, off_edges, off_time)):
            begin = pulse * period + (0.0 if is_on else on_time)
            for low, high in itertools.pairwise(edges):
                dt = (high - low) * length
                emf = _emf(cases, begin + 0.5 * (low + high) * length)
                new, mean = _tied(current, emf, cases, dt) if is_on else _open(current, emf, cases, dt)
                sums += np.where(counted, _powers(mean, emf, cases, is_on=is_on) * dt, 0.0)
                current = new
        energy[1] = np.where(pulse == total - 1, 0.5 * half_l * (current**2).sum(axis=0), energy[1])
    duration = (total - start) * period
    shaft, copper, diodes, battery = sums / duration
    return Outcome(
        torque=shaft / cases.omega,
        shaft=shaft,
        copper=copper,
        diodes=diodes,
        battery=battery,
        stored=(energy[1] - energy[0]) / duration,
    )


def _emf(cases: Cases, time: Floats) -> Floats:
    """EMF of the three windings, shape (3, n), V; its mean rectified line-to-line value is omega/kv."""
    peak = math.pi / (3.0 * math.sqrt(3.0)) * cases.omega / cases.kv
    shift = np.array([0.0, -2.0 * math.pi / 3.0, 2.0 * math.pi / 3.0])[:, None]
    emf: Floats = peak * np.cos(cases.pole_pairs * cases.omega * time + shift)
    return emf


def _powers(mean: Floats, emf: Floats, cases: Cases, *, is_on: bool) -> Floats:
    """Power of shaft, windings, diodes and battery over one step, shape (4, n), W."""
    shaft = (emf * mean).sum(axis=0)
    copper = 0.5 * cases.resistance * (mean**2).sum(axis=0)
    if is_on:
        return np.stack((shaft, copper, 0.0 * shaft, 0.0 * shaft))
    through = np.abs(mean).sum(axis=0)
    return np.stack((shaft, copper, cases.drop * through, cases.voltage * np.maximum(mean, 0.0).sum(axis=0)))


def _tied(current: Floats, emf: Floats, cases: Cases, dt: Floats) -> tuple[Floats, Floats]:
    """Currents (3, n) out of the windings after a step with all terminals tied, and their mean over it."""
    new = _trapezoid(current, emf, cases, dt)
    return new, 0.5 * (current + new)


def _open(current: Floats, emf: Floats, cases: Cases, dt: Floats) -> tuple[Floats, Floats]:
    """The same with every terminal on its diodes."""
    side = _conducting(current, emf, cases.voltage, cases.drop)
    flows = side != 0.0
    held = np.where(side > 0.0, cases.voltage + cases.drop, -cases.drop)
    star = np.where(flows, held - emf, 0.0).sum(axis=0) / np.maximum(flows.sum(axis=0), 1)
    raw = np.where(flows, _trapezoid(current, emf - held + star, cases, dt), 0.0)
    new = _clip_reversed(raw, side)
    ended = flows & (new == 0.0)
    share = np.where(ended, current / np.where(current == raw, 1.0, current - raw), 1.0)
    return new, 0.5 * (current + new) * np.clip(share, 0.0, 1.0)


def _trapezoid(current: Floats, push: Floats, cases: Cases, dt: Floats) -> Floats:
    """One step of L/2 di/dt + R/2 i = push."""
    decay = cases.resistance * dt / (2.0 * cases.inductance)
    return ((1.0 - decay) * current + 2.0 * push * dt / cases.inductance) / (1.0 + decay)


def _conducting(current: Floats, emf: Floats, voltage: Floats, drop: Floats) -> Floats:
    """Diode that carries each winding: 1 into plus, -1 from minus, 0 none."""
    side = np.sign(current)
    idle = ~side.any(axis=0)
    opens = idle & (emf.max(axis=0) - emf.min(axis=0) > voltage + 2.0 * drop)
    side = (
        side
        + np.where(opens & (emf == emf.max(axis=0)), 1.0, 0.0)
        - np.where(opens & (emf == emf.min(axis=0)), 1.0, 0.0)
    )
    flows = side != 0.0
    number = flows.sum(axis=0)
    held = np.where(side > 0.0, voltage + drop, -drop)
    floating = emf + np.where(flows, held - emf, 0.0).sum(axis=0) / np.maximum(number, 1)
    joins = ~flows & (number == 2)
    return (
        side + np.where(joins & (floating > voltage + drop), 1.0, 0.0) - np.where(joins & (floating < -drop), 1.0, 0.0)
    )


def _clip_reversed(new: Floats, side: Floats) -> Floats:
    """Currents with those that would reverse in their diode held at zero and the sum kept zero."""
    for _ in range(2):
        new = np.where(new * side > 0.0, new, 0.0)
        flows = new != 0.0
        number = flows.sum(axis=0)
        new = np.where(flows & (number > 1), new - new.sum(axis=0) / np.maximum(number, 1), 0.0)
    return np.where(new * side > 0.0, new, 0.0)


def check_cases() -> Cases:
    """Motor of 900 rpm/V, .05 ohm, 15 uH, 7 pole pairs at 4000 rpm, 15.5 V, .7 V, 8 kHz; duty .25 .5 .75 .9 and 1."""
    duty = np.array([0.25, 0.5, 0.75, 0.9, 1.0])
    same = np.ones(duty.size)
    return Cases(
        kv=same * 900.0 * math.pi / 30.0, resistance=same * 0.05, inductance=same * 15e-6, pole_pairs=same * 7.0,
        voltage=same * 15.5, drop=same * 0.7, frequency=same * 8e3, duty=duty, omega=same * 4000.0 * math.pi / 30.0,
    )  # fmt: skip


def sample(count: int = 400, seed: int = SEED) -> Cases:
    """Random motors, batteries, settings and speeds, each drawn evenly: what small electric models use.

    kv 500-1400 rpm/V, 20-150 mohm, L/R .2-.4 ms, 5-7 pole pairs, 3-6 cells of 3.85 V, 8-24 kHz, duty .1-1 and a
    back-EMF of .05 to .6 of the battery's voltage.
    """
    rng = np.random.default_rng(seed)
    kv = rng.uniform(500.0, 1400.0, count) * math.pi / 30.0
    resistance = rng.uniform(0.02, 0.15, count)
    voltage = rng.integers(3, 7, count).astype(np.float64) * np.float64(3.85)
    return Cases(
        kv=kv,
        resistance=resistance,
        inductance=resistance * rng.uniform(0.2e-3, 0.4e-3, count),
        pole_pairs=rng.integers(5, 8, count).astype(float),
        voltage=voltage,
        drop=np.full(count, 0.7),
        frequency=rng.uniform(8e3, 24e3, count),
        duty=rng.uniform(0.1, 1.0, count),
        omega=rng.uniform(0.05, 0.6, count) * voltage * kv,
    )


def formula(cases: Cases) -> Floats:
    """The package's torque in N m for the same cases."""
    from evenfall.plane.electrics import Controller, Motor
    from evenfall.power.brake import pulsed_short_torque

    torque = np.empty(cases.duty.size)
    for i in range(cases.duty.size):
        motor = Motor(
            kv=cases.kv[i], resistance=cases.resistance[i], inductance=cases.inductance[i],
            pole_pairs=int(cases.pole_pairs[i]), no_load_current=1.0, no_load_voltage=10.0,
        )  # fmt: skip
        controller = Controller(resistance=0.0, levels=(), present_level="", diode_drop=cases.drop[i])
        torque[i] = pulsed_short_torque(
            cases.omega[i], cases.duty[i], motor=motor, controller=controller, voltage=cases.voltage[i],
            frequency=cases.frequency[i],
        )  # fmt: skip
    return torque


def report(title: str, cases: Cases, steps: int) -> None:
    """Print errors of the formula against the simulation, and how well the simulation keeps its energy."""
    done = simulate(cases, steps_per_pulse=steps)
    error = 100.0 * (formula(cases) / done.torque - 1.0)
    spent = done.copper + done.diodes + done.battery + done.stored
    leak = np.max(np.abs(spent / done.shaft - 1.0))
    print(f"{title}: {cases.duty.size} cases, {steps} steps a pulse")
    print(f"  formula over simulation: median {np.median(error):+.2f} %, 5-95 % "
          f"{np.percentile(error, 5):+.1f} to {np.percentile(error, 95):+.1f} %, "
          f"worst {error.min():+.1f} and {error.max():+.1f} %")  # fmt: skip
    print(f"  energy: shaft power against heat + battery + stored, worst {100 * leak:.2f} %")


def main() -> None:
    """Print the check values, then the seeded sample."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--halve", action="store_true", help="also with half the step")
    parser.add_argument("--count", type=int, default=400, help="cases in the sample")
    options = parser.parse_args()
    cases = check_cases()
    done, wanted = simulate(cases), formula(cases)
    print("  duty   simulated  formula   N m")
    for duty, torque, value in zip(cases.duty, done.torque, wanted, strict=True):
        print(f"  {duty:4.2f}   {torque:8.4f}  {value:8.4f}")
    for steps in (96, 192) if options.halve else (96,):
        report("sample", sample(options.count), steps)


if __name__ == "__main__":
    main()
