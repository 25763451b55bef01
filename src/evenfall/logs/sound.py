"""Shaft speed from the propeller's note, recorded in flight from a safe place.

Never run an unguarded propeller on the bench for a recording.

A propeller of B blades sounds at B times its shaft speed and the whole multiples of it. The note is searched in
short-time spectra, flattened by their own noise floor: every pitch is given the weighted sum over its multiples less
what lies halfway between them, so that neither half nor double the pitch wins, and the best steady way through all
frames is kept. Sums over multiples: Hermes, J. Acoust. Soc. Am. 83 (1988) 257. Less the halves: Sun, ICASSP 2002,
vol. 1, 333. The way through the frames: Secrest and Doddington, ICASSP 1983, 1352. Numbers of the search are our own.

Doppler: the pitch of a plane on a straight line as heard by a still listener, after Ferguson, J. Acoust. Soc. Am. 92
(1992) 1403. Papers are cited from memory. Still air; wind is left to the doubt of the speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.optimize import least_squares
from scipy.signal import resample_poly
from scipy.sparse import csr_matrix

from evenfall.errors import InputError, ValueRangeError
from evenfall.logs.evidence import Flight, ShaftSpeed
from evenfall.logs.wav import Recording

Floats = NDArray[np.float64]

RPM = 2 * math.pi / 60
SOUND_SPEED = 340.3
"""m/s at 15 degrees C."""
TOP_HZ = 5000.0
HARMONICS = 8
FADE = 0.84
GRID = 1.005
HEARD = 1.0
"""Sum over the multiples, above the noise floor, from which a frame counts as heard."""


@dataclass(frozen=True, kw_only=True)
class Manner:
    """How the note moves: `window` and `hop` in s, `steepest` change of its logarithm in 1/s, `shortest` piece in s."""

    window: float
    hop: float
    steepest: float
    shortest: float


FLIGHT = Manner(window=0.15, hop=0.05, steepest=1.0, shortest=1.5)
SPIN_DOWN = Manner(window=0.06, hop=0.015, steepest=6.0, shortest=0.25)


@dataclass(frozen=True, kw_only=True)
class Track:
    """The note over time.

    Args:
        time: s into the file, (n,), heard frames only. hz: pitch, (n,); sigma_hz: one sigma of each.
        confidence: 0 to 1 of each. blades: a turn. overlap: frames that share the same sound.
        picture_time, picture_hz, picture_db: spectrogram over the noise floor, for a picture, (frames,), (bins,),
            (frames, bins). notes: of the recording.
    """

    time: Floats = field(repr=False)
    hz: Floats = field(repr=False)
    sigma_hz: Floats = field(repr=False)
    confidence: Floats = field(repr=False)
    blades: int
    overlap: float
    picture_time: Floats = field(repr=False)
    picture_hz: Floats = field(repr=False)
    picture_db: NDArray[np.float32] = field(repr=False)
    notes: tuple[str, ...] = ()

    @property
    def rpm(self) -> Floats:
        """Shaft speed as heard, Doppler not taken out, rpm."""
        return 60.0 * self.hz / self.blades

    @property
    def sigma_rpm(self) -> Floats:
        """One sigma of `rpm`."""
        return 60.0 * self.sigma_hz / self.blades

    def between(self, first: float, last: float) -> Track:
        """The part from `first` to `last` s into the file."""
        keep = (self.time >= first) & (self.time <= last)
        if not keep.any():
            raise InputError(f"Nothing was heard between {first:g} and {last:g} s. Choose another part.")
        return replace(
            self,
            time=self.time[keep],
            hz=self.hz[keep],
            sigma_hz=self.sigma_hz[keep],
            confidence=self.confidence[keep],
        )


class NothingHeardError(InputError):
    """No propeller in a recording: the text says what is there instead."""


def hear(
    recording: Recording, *, blades: int, lowest_rpm: float = 1500.0, highest_rpm: float = 16000.0,
    manner: Manner = FLIGHT,
) -> Track:  # fmt: skip
    """Follow the note of a propeller of 2 to 4 `blades` (or of a disc with up to 12 marks) through a recording.

    The number of blades cannot be heard: a wrong one scales the result. Raises `NothingHeardError` with the reason.
    """
    if not 1 <= blades <= 12:
        raise ValueRangeError(f"{blades} blades; 2 to 4 for a propeller, up to 12 marks on a disc.")
    low, high = lowest_rpm / 60 * blades, highest_rpm / 60 * blades
    if not 20 <= low < high <= TOP_HZ / 2:
        raise ValueRangeError(
            f"{lowest_rpm:g} to {highest_rpm:g} rpm is {low:.0f} to {high:.0f} Hz; 20 to {TOP_HZ / 2:g} Hz, rising, "
            "can be searched."
        )
    if recording.silent:
        raise NothingHeardError("Nothing heard: the recording is silent. Check the microphone and the level.")
    if len(recording.samples) / recording.rate < 2 * manner.shortest:
        raise NothingHeardError(f"Nothing heard: the recording is shorter than {2 * manner.shortest:g} s.")
    time, bins, above = _spectra(recording, manner)
    high = min(high, bins[-1] / 2)
    steps = np.arange(max(2, math.ceil(math.log(high / low) / math.log(GRID))))
    pitches = np.asarray(low * GRID**steps, dtype=np.float64)
    score = np.asarray(above @ _comb(pitches, bins))
    best = _way(score, max(1, math.ceil(manner.steepest * manner.hop / math.log(GRID))))
    value = score[np.arange(len(time)), best]
    keep, longest = _pieces(value > HEARD, manner)
    if keep.sum() < 0.5 * (value > HEARD).sum() or not keep.any():
        share = float(np.mean(value > HEARD))
        if share > 0.1:
            raise NothingHeardError(
                f"Nothing heard that stays: a pitch in pieces, the longest {longest:.1f} s, as in speech or music. "
                f"A propeller holds its note for {manner.shortest:g} s or more."
            )
        raise NothingHeardError(
            "Nothing heard: no row of overtones stands above the noise. Record nearer to the line, out of the wind."
        )
    hz = _refined(above, bins, np.asarray(pitches[best]))
    scatter = _scatter(hz, keep)
    confidence = np.clip((value - 0.5 * HEARD) / (2 * HEARD), 0.0, 1.0)
    width = bins[1] - bins[0]
    sigma = np.hypot(scatter * hz, 0.25 * width) / np.sqrt(np.clip(confidence, 0.25, 1.0))
    return Track(
        time=time[keep] + recording.start,
        hz=hz[keep],
        sigma_hz=sigma[keep],
        confidence=confidence[keep],
        blades=blades,
        overlap=manner.window / manner.hop,
        picture_time=time + recording.start,
        picture_hz=bins,
        picture_db=(10 / math.log(10) * above).astype(np.float32),
        notes=recording.notes,
    )


@dataclass(frozen=True, kw_only=True)
class Spectrogram:
    """A sound for the eye: `time` s into the file (n,), `hz` (m,), `above_db` over the noise floor (n, m)."""

    time: Floats = field(repr=False)
    hz: Floats = field(repr=False)
    above_db: NDArray[np.float32] = field(repr=False)


def spectrogram(recording: Recording, *, manner: Manner = FLIGHT) -> Spectrogram | None:
    """The sound as it is searched, heard or not; None where it is silent or too short for that."""
    if recording.silent or len(recording.samples) < 2 * manner.window * recording.rate:
        return None
    time, bins, above = _spectra(recording, manner)
    return Spectrogram(time=time + recording.start, hz=bins, above_db=(10 / math.log(10) * above).astype(np.float32))


def _spectra(recording: Recording, manner: Manner) -> tuple[Floats, Floats, Floats]:
    """Times (n,), frequencies (m,), natural logarithm of power over the noise floor (n, m)."""
    step = max(1, int(recording.rate / (2.2 * TOP_HZ)))
    sound = resample_poly(recording.samples, 1, step) if step > 1 else recording.samples
    rate = recording.rate / step
    size, hop = int(manner.window * rate), max(1, int(manner.hop * rate))
    padded = 1 << math.ceil(math.log2(2 * size))
    frames = np.lib.stride_tricks.sliding_window_view(sound, size)[::hop]
    bins: Floats = np.fft.rfftfreq(padded, 1 / rate).astype(np.float64)
    inside = bins <= TOP_HZ
    power = np.empty((len(frames), int(inside.sum())))
    taper = np.hanning(size)
    for low in range(0, len(frames), 256):
        power[low : low + 256] = np.abs(np.fft.rfft(frames[low : low + 256] * taper, padded))[:, inside] ** 2
    power += 1e-9 * power.max()
    width = max(9, int(400 / (bins[1] - bins[0])) | 1)
    floor = median_filter(power, size=(1, width), mode="nearest")
    above = np.clip(np.log(power / floor), 0.0, 5.0)
    middle = np.asarray((np.arange(len(frames)) * hop + size / 2) / rate, dtype=np.float64)
    return middle, bins[inside], np.asarray(above, dtype=np.float64)


def _comb(pitches: Floats, bins: Floats) -> csr_matrix:
    """Weights that turn a spectrum into the score of each pitch, (bins, pitches)."""
    rows, columns, weights = [], [], []
    weight_sum = sum(FADE**h for h in range(HARMONICS))
    for h in range(1, HARMONICS + 1):
        for place, sign in ((h, 1.0), (h - 0.5, -1.0)):
            spot = pitches * place / (bins[1] - bins[0])
            left = np.floor(spot).astype(int)
            for index, share in ((left, 1 - spot + left), (left + 1, spot - left)):
                inside = index < len(bins)
                rows.append(index[inside])
                columns.append(np.nonzero(inside)[0])
                weights.append(sign * FADE ** (h - 1) / weight_sum * share[inside])
    parts = (np.concatenate(weights), (np.concatenate(rows), np.concatenate(columns)))
    return csr_matrix(parts, shape=(len(bins), len(pitches)))


def _way(score: Floats, reach: int) -> NDArray[np.intp]:
    """Best row of pitches through all frames, none moving more than `reach` places a frame."""
    frames, count = score.shape
    total = score[0].copy()
    came = np.zeros((frames, count), dtype=np.intp)
    moves = np.arange(-reach, reach + 1)
    cost = 0.1 * np.abs(moves)[:, None] / reach
    for frame in range(1, frames):
        padded = np.pad(total, reach, constant_values=-np.inf)
        options = np.lib.stride_tricks.sliding_window_view(padded, count) - cost
        choice = options.argmax(axis=0)
        came[frame] = np.arange(count) + moves[choice]
        total = options[choice, np.arange(count)] + score[frame]
    best = np.empty(frames, dtype=np.intp)
    best[-1] = int(total.argmax())
    for frame in range(frames - 1, 0, -1):
        best[frame - 1] = came[frame, best[frame]]
    return best


def _pieces(heard: NDArray[np.bool_], manner: Manner) -> tuple[NDArray[np.bool_], float]:
    """Frames in long enough pieces (single misses bridged but not kept), and the longest piece in s."""
    bridged = heard.copy()
    bridged[1:-1] |= heard[:-2] & heard[2:]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], bridged.astype(int), [0]])))
    keep = np.zeros(len(heard), dtype=bool)
    longest = 0.0
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        length = (last - first) * manner.hop
        longest = max(longest, length)
        if length >= manner.shortest:
            keep[first:last] = heard[first:last]
    return keep, longest


def _refined(above: Floats, bins: Floats, hz: Floats) -> Floats:
    """Pitch of each frame on a fine grid around the one found."""
    width = bins[1] - bins[0]
    shifts = np.linspace(-0.008, 0.008, 65)
    tried = hz[:, None] * (1 + shifts)
    total = np.zeros_like(tried)
    rows = np.arange(len(hz))[:, None]
    for h in range(1, HARMONICS + 1):
        spot = np.minimum(tried * h / width, len(bins) - 1.001)
        left = spot.astype(int)
        share = spot - left
        total += FADE ** (h - 1) * (above[rows, left] * (1 - share) + above[rows, left + 1] * share)
    weight = np.exp(8 * (total - total.max(axis=1, keepdims=True)))
    return np.asarray((tried * weight).sum(axis=1) / weight.sum(axis=1))


def _scatter(hz: Floats, keep: NDArray[np.bool_]) -> float:
    """Robust scatter of the logarithm of the pitch around its own neighbours."""
    logs = np.log(hz)
    bend = logs[1:-1] - 0.5 * (logs[:-2] + logs[2:])
    inside = keep[1:-1] & keep[:-2] & keep[2:]
    if not inside.any():
        return 0.005
    return float(1.48 * np.median(np.abs(bend[inside])) / math.sqrt(1.5))


def pitch_share(
    time: Floats, *, speed: float, distance: float, passing: float, sound_speed: float = SOUND_SPEED
) -> Floats:
    """Heard pitch over sent pitch at each time of hearing (s) for a straight line of any slope.

    `speed` m/s, `distance` m at the nearest point of the line, `passing` s when the plane is there (not when it is
    heard there). The time of sending solves tau + r(tau) / c = t, a quadratic; the share is 1 / (1 + dr/dtau / c).
    """
    late = time - passing
    spare = sound_speed**2 - speed**2
    root = np.sqrt((sound_speed * speed * late) ** 2 + distance**2 * spare)
    sent = (sound_speed**2 * late - root) / spare
    away = speed**2 * sent / np.hypot(distance, speed * sent)
    return np.asarray(1.0 / (1.0 + away / sound_speed))


@dataclass(frozen=True, kw_only=True)
class HeardPass:
    """Shaft speed, Doppler taken out: `rpm`, `speed` m/s over ground, `distance` m, `passing` s, one sigma each.

    `left` is the scatter of the track around the fit, a share of the pitch.
    """

    rpm: float
    rpm_sigma: float
    speed: float
    speed_sigma: float
    distance: float
    distance_sigma: float
    passing: float
    left: float

    def evidence(self, name: str, flight: Flight) -> ShaftSpeed:
        """As evidence; `flight.wind` along the path, pushing positive, turns ground speed into air speed."""
        if self.speed <= flight.wind:
            raise ValueRangeError(f"{name}: {self.speed:.1f} m/s over ground with {flight.wind:.1f} m/s of wind.")
        return ShaftSpeed(
            name=name, flight=flight, omega=self.rpm * RPM, sigma=self.rpm_sigma * RPM, speed=self.speed - flight.wind
        )


def fit_pass(track: Track, *, sound_speed: float = SOUND_SPEED) -> HeardPass:
    """Shaft speed, speed, nearest distance and time of passing of a straight pass, all at once.

    The line must be heard coming and going at a steady shaft speed; raises `InputError` where the track cannot tell.
    """
    if len(track.time) < 12:
        raise InputError(f"{len(track.time)} heard moments; a pass needs at least 12. Record a longer part.")
    logs, time = np.log(track.hz), track.time
    sigma = track.sigma_hz / track.hz

    def miss(x: Floats) -> Floats:
        share = pitch_share(time, speed=math.exp(x[1]), distance=math.exp(x[2]), passing=x[3], sound_speed=sound_speed)
        return np.asarray((logs - x[0] - np.log(share)) / sigma)

    top, bottom = np.quantile(track.hz, [0.95, 0.05])
    begin = min(max(sound_speed * (top - bottom) / (top + bottom), 5.0), 100.0)
    bounds = ([-np.inf, math.log(2.0), 0.0, time[0] - 5.0], [np.inf, math.log(150.0), math.log(500.0), time[-1] + 5.0])
    steepest = float(time[np.argmin(np.abs(logs - 0.5 * math.log(top * bottom)))])
    tries = [
        least_squares(
            miss, [0.5 * math.log(top * bottom), math.log(begin), math.log(near), steepest], bounds=bounds,
            loss="soft_l1", x_scale=[0.01, 0.3, 0.3, 0.3], max_nfev=200,
        )
        for near in (10.0, 40.0)
    ]  # fmt: skip
    best = min(tries, key=lambda one: one.cost)
    left = best.fun * sigma
    worse = max(1.0, float(1.48 * np.median(np.abs(best.fun))))
    grown = worse**2 * track.overlap
    # Wide priors keep the covariance finite where the track says nothing.
    known = best.jac.T @ best.jac / grown + np.diag([0.0, 1.0, 1.0, 0.01])
    doubt = np.sqrt(np.diag(np.linalg.inv(known)))
    if doubt[0] > 0.05 or doubt[1] > 0.4:
        raise InputError(
            f"The pitch does not tell the pass: speed +- {100 * doubt[1]:.0f} %. "
            "Record the plane coming and going, or give speed, slope and distance."
        )
    rpm, speed, distance = 60 * math.exp(best.x[0]) / track.blades, math.exp(best.x[1]), math.exp(best.x[2])
    return HeardPass(
        rpm=rpm,
        rpm_sigma=rpm * float(doubt[0]),
        speed=speed,
        speed_sigma=speed * float(doubt[1]),
        distance=distance,
        distance_sigma=distance * float(doubt[2]),
        passing=float(best.x[3]),
        left=float(1.48 * np.median(np.abs(left))),
    )


def rpm_on_line(
    track: Track, *, slope: float, speed: float, speed_sigma: float, height: float, ahead: float, aside: float,
    at: float, sound_speed: float = SOUND_SPEED,
) -> HeardPass:  # fmt: skip
    """Shaft speed over a line whose place is known, for example a vertical line down in front of the pilot.

    At time `at` (s into the file) the plane is `height` m above the listener, `ahead` m before the point of its ground
    path nearest to the listener and `aside` m to the side of it; `slope` rad, climbing positive; `speed` m/s.
    """
    if not 0 < speed < 0.5 * sound_speed or not 0 <= speed_sigma < speed:
        raise ValueRangeError(f"A speed of {speed:g} +- {speed_sigma:g} m/s; above 0 to {0.5 * sound_speed:.0f} m/s.")
    place = np.array([-ahead, aside, height])
    course = np.array([math.cos(slope), 0.0, math.sin(slope)])
    along = float(place @ course)
    distance = max(1.0, float(np.linalg.norm(place - along * course)))

    def rpm_of(fast: float) -> Floats:
        share = pitch_share(
            track.time, speed=fast, distance=distance, passing=at - along / fast, sound_speed=sound_speed
        )
        return np.asarray(track.rpm / share)

    each = rpm_of(speed)
    rpm = float(np.median(each))
    own = math.sqrt(track.overlap / len(each)) * max(float(each.std()), float(track.sigma_rpm.mean()))
    moved = abs(float(np.median(rpm_of(speed + 0.5 * speed_sigma) - rpm_of(speed - 0.5 * speed_sigma))))
    return HeardPass(
        rpm=rpm,
        rpm_sigma=math.hypot(own, moved),
        speed=speed,
        speed_sigma=speed_sigma,
        distance=distance,
        distance_sigma=0.0,
        passing=at - along / speed,
        left=float(each.std() / rpm),
    )
