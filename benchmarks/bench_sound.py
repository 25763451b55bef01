"""Shaft speed by sound: error, claimed doubt and time over seeded passes.

    python benchmarks/bench_sound.py [CASES]

Every pass is eight seconds at 16 kHz, two or three blades, 0, 3 or 6 dB of note over white noise, Doppler included.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from evenfall.logs.sound import SOUND_SPEED, fit_pass, hear
from evenfall.logs.wav import Recording

RATE = 16000


def main(cases: int) -> None:
    """Print errors against what was put in."""
    rows = []
    for seed in range(cases):
        rng = np.random.default_rng(seed)
        blades, ratio_db = 2 + seed % 2, 3.0 * (seed % 3)
        rpm, speed, near = rng.uniform(3500, 9000), rng.uniform(15, 35), rng.uniform(15, 50)
        heard_at = np.arange(8 * RATE) / RATE
        sent = heard_at.copy()
        for _ in range(30):
            sent = heard_at - np.hypot(near, speed * (sent - 4)) / SOUND_SPEED
        sound = np.asarray(sum(0.7**h * np.sin(2 * np.pi * rpm / 60 * blades * (h + 1) * sent) for h in range(8)))
        sound = sound / sound.std() + rng.normal(size=len(sound)) * 10 ** (-ratio_db / 20)
        sound = (sound / np.abs(sound).max()).astype(np.float32)
        begun = time.perf_counter()
        found = fit_pass(hear(Recording(samples=sound, rate=RATE, level=float(sound.std())), blades=blades))
        rows.append(
            (
                abs(found.rpm / rpm - 1),
                abs(found.rpm - rpm) / found.rpm_sigma,
                abs(found.speed / speed - 1),
                abs(found.speed - speed) / found.speed_sigma,
                time.perf_counter() - begun,
            )
        )
    rpm_off, rpm_pull, speed_off, speed_pull, took = np.array(rows).T
    print(f"{cases} passes, {np.median(took):.2f} s each (worst {took.max():.2f} s)")
    print(f"rpm: worst {100 * rpm_off.max():.2f} %, within one sigma {100 * np.mean(rpm_pull < 1):.0f} %")
    print(f"speed: worst {100 * speed_off.max():.1f} %, within one sigma {100 * np.mean(speed_pull < 1):.0f} %")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
