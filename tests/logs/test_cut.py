"""Lines of a made-up flight, known exactly, found again through noise."""

import math

import numpy as np
import pytest

from evenfall.errors import ValueRangeError
from evenfall.logs import cut
from evenfall.logs.track import cleaned

LEGS = ((0, 6.0), (90, 3.0), (0, 3.0), (-90, 4.0), (0, 4.0), (45, 4.0), (0, 4.0), (-45, 4.0))
SPEED, TURNED = 22.0, 1.2


def flown(*, noise=0.0, seed=0, repeat=1, wind=0.0):
    """Straight legs joined by bends of 1.2 s, 10 Hz; true slopes with their middle times."""
    step = 0.1
    slopes, truth, clock, slope = [], [], 0.0, 0.0
    for degrees, seconds in LEGS * repeat:
        target = math.radians(degrees)
        bend = int(TURNED / step)
        slopes += list(slope + (target - slope) * np.arange(1, bend + 1) / bend)
        truth.append((clock + TURNED + seconds / 2, target))
        slopes += [target] * int(seconds / step)
        clock += TURNED + seconds
        slope = target
    angle = np.array(slopes)
    rng = np.random.default_rng(seed)
    x = np.cumsum(SPEED * np.cos(angle) * step + wind * step) + rng.normal(0, noise, len(angle))
    z = np.cumsum(SPEED * np.sin(angle) * step) + rng.normal(0, noise, len(angle))
    throttle = np.where(angle < -0.5, 0.0, 0.6)
    columns = {"x": x, "y": rng.normal(0, noise, len(angle)), "height": z, "throttle": throttle}
    return cleaned("made", step * np.arange(len(angle)), columns, dated=False), truth


@pytest.mark.parametrize(("noise", "seed"), [(0.0, 0), (0.5, 1), (0.5, 2), (0.5, 3)])
def test_known_lines_are_found(noise, seed):
    track, truth = flown(noise=noise, seed=seed)
    found = cut.lines(track)
    for middle, slope in truth:
        line = next(c for c in found if c.start <= middle <= c.end)
        assert abs(line.slope - slope) < math.radians(3)
        assert abs(line.length / (line.end - line.start) / SPEED - 1) < 0.02


def test_closed_part_becomes_evidence():
    track, truth = flown(noise=0.5, seed=4)
    line = next(c for c in cut.lines(track) if c.start <= truth[3][0] <= c.end)
    assert line.closed is not None
    traced = cut.as_evidence(track, line, name="down")
    assert traced.flight.slope == line.slope
    assert 0.3 <= traced.sigma < 0.8
    assert abs(traced.speed - SPEED) < 3 * traced.speed_sigma
    assert traced.flight.wind_sigma < 0.2


def test_trimming():
    track, truth = flown()
    line = next(c for c in cut.lines(track) if c.start <= truth[3][0] <= c.end)
    shorter = cut.trimmed(track, line, start=line.start + 1)
    assert shorter.start == line.start + 1
    assert shorter.length < line.length
    with pytest.raises(ValueRangeError, match="6 are needed"):
        cut.trimmed(track, line, start=line.end - 0.1)


def test_wind_from_a_circle_and_none_from_one_direction():
    time = np.arange(0, 60, 0.1)
    columns = {"x": 20 * 5 * np.sin(time / 5) + 3 * time, "y": 20 * 5 * np.cos(time / 5) - time, "height": 0 * time}
    air = cut.wind(cleaned("circle", time, columns, dated=False))
    assert air is not None
    np.testing.assert_allclose([air.east, air.north], [3, -1], atol=0.2)
    straight = {"x": 20 * time, "y": 0 * time, "height": 0 * time}
    assert cut.wind(cleaned("straight", time, straight, dated=False)) is None


def test_slow_errors_of_a_receiver_are_in_the_doubt_of_the_speed():
    """Positions that wander by 2 m in half a minute: the speed they give lies within its own doubt as often as said."""
    off, step, keep = [], 0.1, math.exp(-0.1 / 30)
    time = step * np.arange(70)
    for seed in range(200):
        rng = np.random.default_rng(seed)
        slow = np.empty((len(time), 3))
        slow[0] = 2 * rng.normal(size=3)
        for k in range(1, len(time)):
            slow[k] = keep * slow[k - 1] + 2 * math.sqrt(1 - keep**2) * rng.normal(size=3)
        place = slow + 0.3 * rng.normal(size=slow.shape)
        columns = {"x": place[:, 0], "y": place[:, 1], "height": place[:, 2] - SPEED * time}
        track = cleaned("made", time, columns, dated=False)
        whole = cut.Candidate(start=0, end=time[-1], slope=0, slope_sigma=0, heading=0, speed_start=0, speed_end=0,
                              length=0, across=0, closed=None)  # fmt: skip
        line = cut.as_evidence(track, cut.trimmed(track, whole), name="down")
        apart = np.abs(line.time[:, None] - line.time)
        own = np.exp(-apart / line.correlation) if line.correlation else np.eye(len(line.time))
        noise = line.sigma**2 * own + line.wander**2 * np.minimum(line.time[:, None], line.time)
        known = np.stack([np.ones_like(line.time), line.time], 1)
        doubt = np.linalg.inv(known.T @ np.linalg.solve(noise, known))
        found = doubt @ known.T @ np.linalg.solve(noise, line.way)
        off.append((found[1] - SPEED) / math.sqrt(doubt[1, 1]))
    assert 0.8 < np.std(off) < 1.25
    assert 0.58 < np.mean(np.abs(off) < 1) < 0.78
