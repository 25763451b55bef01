"""Damping from a spin-down, as numbers and through sound."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest

from evenfall.errors import InputError, ValueRangeError
from evenfall.logs.sound import SPIN_DOWN, hear
from evenfall.logs.spin_down import fit_spin_down, fit_track
from evenfall.logs.wav import read_wav

INERTIA = 2e-5
RATE = 16000


def slowing(time: np.ndarray, first: float, damping: float, friction: float) -> np.ndarray:
    """Shaft speed by small steps, no formula of the package."""
    omega = np.empty(len(time))
    omega[0] = first
    for i in range(1, len(time)):
        step = time[i] - time[i - 1]
        middle = omega[i - 1] - 0.5 * step * (damping * omega[i - 1] + friction) / INERTIA
        omega[i] = omega[i - 1] - step * (damping * middle + friction) / INERTIA
    return omega


@pytest.mark.property
@pytest.mark.parametrize("seed", range(8))
def test_damping_comes_back(seed: int) -> None:
    rng = np.random.default_rng(seed)
    damping, friction = rng.uniform(1, 8) * INERTIA, rng.uniform(20, 80) * INERTIA
    time = np.linspace(0, 0.8 * INERTIA / damping, 60)
    omega = slowing(time, 600.0, damping, friction)
    seen = omega * (1 + 0.004 * rng.normal(size=60))
    result = fit_spin_down(time, seen, 0.004 * omega, inertia=INERTIA, inertia_sigma=0.02 * INERTIA, guarded=True)
    true = damping * result.omega + friction
    assert result.torque == pytest.approx(true, rel=0.03)
    assert abs(result.damping - damping) < 4 * result.damping_sigma
    assert 0.02 <= result.torque_sigma / result.torque < 0.05


@pytest.mark.parametrize(("ratio_db", "marks", "b"), [(0.0, 2, 1.5), (3.0, 3, 2.0), (6.0, 2, 3.0), (0.0, 3, 2.5)])
def test_damping_by_sound(tmp_path: Path, ratio_db: float, marks: int, b: float) -> None:
    rng = np.random.default_rng(int(ratio_db) + marks)
    damping, friction = b * INERTIA, 30 * INERTIA
    time = np.arange(int(0.9 * RATE)) / RATE
    omega = np.concatenate([np.full(RATE // 2, 900.0), slowing(time, 900.0, damping, friction)])
    turned = np.cumsum(omega) / RATE
    note = np.asarray(sum(0.7**h * np.sin(marks * (h + 1) * turned) for h in range(8)))
    sound = note / note.std() + rng.normal(size=len(note)) * 10 ** (-ratio_db / 20)
    path = tmp_path / "a.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes((0.9 * sound / np.abs(sound).max() * 32767).astype("<i2").tobytes())
    track = hear(read_wav(path), blades=marks, manner=SPIN_DOWN).between(0.55, 1.35)
    result = fit_track(track, inertia=INERTIA, inertia_sigma=0.03 * INERTIA, guarded=True)
    assert result.torque == pytest.approx(damping * result.omega + friction, rel=0.10)
    evidence = result.evidence("disc", "40 %")
    assert evidence.torque == result.torque
    assert 0.03 <= evidence.sigma < 0.10


@pytest.mark.outside
def test_what_cannot_be_used_is_refused() -> None:
    time = np.linspace(0, 1, 20)
    omega = np.linspace(500, 200, 20)
    given = {"inertia": INERTIA, "inertia_sigma": 0.0}
    with pytest.raises(InputError, match="Never run an unguarded propeller"):
        fit_spin_down(time, omega, 0 * time + 2, guarded=False, **given)
    with pytest.raises(InputError, match="must lose 15 %"):
        fit_spin_down(time, 0 * time + 500, 0 * time + 2, guarded=True, **given)
    with pytest.raises(InputError, match="at least 8"):
        fit_spin_down(time[:5], omega[:5], 0 * time[:5] + 2, guarded=True, **given)
    with pytest.raises(ValueRangeError, match="inertia"):
        fit_spin_down(time, omega, 0 * time + 2, guarded=True, inertia=1.0, inertia_sigma=0.0)
