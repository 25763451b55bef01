"""Entries of a flight as evidence: throws, air, wind, records and sound; what cannot be used is said."""

from __future__ import annotations

import math
import re
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from evenfall.air import standard_air
from evenfall.logs.evidence import (
    Damping,
    HeldStick,
    Pull,
    ShaftSpeed,
    SteadySpeed,
    TimedLine,
    TimedRolls,
    TracedLine,
)
from evenfall.logs.evidence_file import read_flight
from evenfall.radio.plan import Plan
from evenfall.workflow import Ready, TuneAnswer
from evenfall.workflow.gathering import Gathered, evidence_of
from evenfall.workflow.learning import flight_of, unlocked

RPM = math.pi / 30
Gather = Callable[[str], Gathered]


@pytest.fixture(scope="module")
def plane(tuned: Callable[[str], TuneAnswer]) -> tuple[Ready, Plan]:
    answer = tuned("biplane_124")
    assert answer.plan is not None
    return answer.ready, answer.plan


@pytest.fixture
def gather(plane: tuple[Ready, Plan], tmp_path: Path) -> Gather:
    def made(text: str) -> Gathered:
        record = read_flight("format = 1\n" + text, path=str(tmp_path / "sunday.flight.toml"))
        return evidence_of(record, *plane)

    return made


def test_numbers_become_evidence(gather: Gather, plane: tuple[Ready, Plan]) -> None:
    _, plan = plane
    level = plan.motor.level
    got = gather(
        f"""
[air]
temperature_c = 25
elevation_m = 500
[[timed]]
seconds = 4.5
length_m = 100
entry_speed_m_s = 20
settled = false
gusts = "calm"
[[rolls]]
rolls = 3
seconds = 3
speed_m_s = 22
phase = "snap"
[[pull]]
towards = "belly"
bent_deg = 10
over_m = 100
speed_m_s = 20
[[held]]
line = "45 down"
stick_percent = 12
[[steady]]
stick_percent = 55
there_m_s = 25
back_m_s = 19
[[shaft]]
line = "level"
stick_percent = 55
shaft_rpm = 7200
speed_m_s = 22
[[damping]]
level = "{level.upper()}"
shaft_rpm = 3000
torque_mN_m = 25
[[heading]]
line = "vertical down"
yawed_deg = 15
over_m = 100
"""
    )
    assert not got.faults
    timed, rolls, pull, held, steady, shaft, damping = got.evidence
    density = standard_air(500.0, temperature=298.15).density
    assert isinstance(timed, TimedLine)
    assert timed.name == "sunday, timed 1"
    assert (timed.length, timed.seconds, timed.fresh, timed.flight.gust) == (100.0, 4.5, True, 0.2)
    assert timed.flight.density == pytest.approx(density)
    assert timed.flight.wind_sigma == pytest.approx(0.0, abs=1e-9)
    assert isinstance(rolls, TimedRolls)
    assert rolls.throw == pytest.approx(plan.throws.snap)
    assert rolls.sigma == pytest.approx(math.hypot(0.3, 3 * 0.15), rel=1e-6)
    assert isinstance(pull, Pull)
    assert pull.rate == pytest.approx(-math.radians(10) * 20 / 100)
    assert isinstance(held, HeldStick)
    assert (held.flight.stick, held.flight.slope) == (pytest.approx(0.12), -math.pi / 4)
    assert isinstance(steady, SteadySpeed)
    assert (steady.speed, steady.flight.wind, steady.flight.wind_sigma) == (22.0, 0.0, 0.0)
    assert isinstance(shaft, ShaftSpeed)
    assert shaft.omega == pytest.approx(7200 * RPM)
    assert isinstance(damping, Damping)
    assert damping.level == level
    assert got.sources == ("timed.0", "rolls.0", "pull.0", "held.0", "steady.0", "shaft.0", "damping.0")
    assert 'sunday, heading 1: for the diagnosis it says "Nose drifts right with crow"' in " ".join(got.notes)


def test_crow_is_off_in_a_phase_without_it(gather: Gather) -> None:
    (rolls,) = gather('[[rolls]]\nrolls = 3\nseconds = 3\nphase = "landing"').evidence
    assert isinstance(rolls, TimedRolls)
    assert not rolls.flight.crow


def test_wind_goes_with_the_line(gather: Gather) -> None:
    line = 'line = "level"\nstick_percent = 50\nseconds = 5\nlength_m = 100\nentry_speed_m_s = 20\n'
    text = "[air]\nwind_m_s = 4\n" + "".join(
        f"[[timed]]\n{line}{extra}\n" for extra in ('wind = "with"', 'wind = "against"', 'wind = "across"', "")
    )
    flights = [piece.flight for piece in gather(text).evidence if isinstance(piece, TimedLine)]
    assert [flight.wind for flight in flights] == [4.0, -4.0, 0.0, 0.0]
    # Nothing known of its direction: 4/sqrt 2 m/s and the doubt of its size, 1 m/s.
    assert flights[3].wind_sigma == pytest.approx(math.hypot(4 / math.sqrt(2), 1.0))
    assert flights[2].wind_sigma < flights[3].wind_sigma
    (calm,) = gather("[[timed]]\n" + line).evidence
    assert isinstance(calm, TimedLine)
    assert calm.flight.wind_sigma == 2.0


def test_a_missing_speed_is_the_wanted_one_and_said(gather: Gather, plane: tuple[Ready, Plan]) -> None:
    got = gather("[[timed]]\nseconds = 4.5\nlength_m = 100")
    (timed,) = got.evidence
    assert isinstance(timed, TimedLine)
    assert timed.speed == plane[0].wanted
    assert timed.speed_sigma == pytest.approx(0.25 * plane[0].wanted)
    assert "no speed was written down" in got.notes[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[[recorded]]\nfile = "none.csv"', "none.csv: cannot be opened"),
        ('[[sound]]\nfile = "none.wav"\nwhat = "line"', "none.wav: cannot be read"),
        ('[[rolls]]\nrolls = 3\nseconds = 3\nphase = "snipe"', "did you mean snap?"),
        ('[[damping]]\nlevel = "nonsense"\nshaft_rpm = 3000\ntorque_mN_m = 25', "the controller has no level"),
        ('[[timed]]\nseconds = 4\nlength_m = 90\nlevel = "nonsense"', "the controller has no level"),
    ],
)
def test_what_cannot_be_used_is_said_and_the_rest_is_used(gather: Gather, text: str, words: str) -> None:
    got = gather(text + "\n[[held]]\nstick_percent = 3")
    assert len(got.evidence) == 1
    (fault,) = got.faults
    assert words in fault.message
    assert fault.where.endswith(".0")


# --- records ---------------------------------------------------------------------------------------------------------


def falling(tmp_path: Path, *, columns: str = "t [s],x [m],y [m],alt [m],throttle [%]", step: float = 0.1) -> None:
    """4 s level at 20 m/s, a vertical line at 22 m/s of 5 s with the stick closed 1 s into it, exact."""
    rows = [columns]
    names = columns.split(",")
    for k in range(int(9 / step)):
        t = k * step
        x = 20 * min(t, 4.0)
        alt = 200 - 22 * max(t - 4.0, 0.0)
        values = {"t": t, "x": x, "y": 0.0, "alt": alt, "throttle": 50.0 if t < 5 else 0.0, "rpm": 5000.0}
        rows.append(",".join(f"{values[name.split()[0]]:.3f}" for name in names))
    (tmp_path / "a.csv").write_text("\n".join(rows))


def test_lines_are_cut_out_by_themselves(gather: Gather, tmp_path: Path) -> None:
    falling(tmp_path, columns="t [s],x [m],y [m],alt [m],throttle [%],rpm")
    got = gather('[[recorded]]\nfile = "a.csv"')
    assert not got.faults
    lines = [piece for piece in got.evidence if isinstance(piece, TracedLine)]
    down = next(line for line in lines if line.flight.slope < -1)
    assert down.flight.slope == -math.pi / 2
    assert down.flight.stick == 0.0
    assert down.speed == pytest.approx(22.0, abs=0.5)
    # Closed at 5 s: what is learned from begins half a second later.
    assert down.time[-1] < 9 - 5.5 + 0.05
    level = next(line for line in lines if line.flight.slope == 0)
    assert level.flight.stick == pytest.approx(0.5)
    shafts = [piece for piece in got.evidence if isinstance(piece, ShaftSpeed)]
    assert {round(shaft.omega / RPM) for shaft in shafts} == {5000}
    assert "cut out by themselves" in " ".join(got.notes)
    assert set(got.sources) == {"recorded.0"}


def test_marked_lines_are_taken_and_wrong_ones_refused(gather: Gather, tmp_path: Path) -> None:
    falling(tmp_path)
    got = gather(
        '[[recorded]]\nfile = "a.csv"\n'
        "[[recorded.line]]\nfrom_s = 4.5\nto_s = 8.5\ncrow = false\n"
        "[[recorded.line]]\nfrom_s = 0.5\nto_s = 3.5\n"
        "[[recorded.line]]\nfrom_s = 20\nto_s = 30\n"
        '[[recorded.line]]\nfrom_s = 0.5\nto_s = 3.5\nline = "level"\n'
    )
    down, level = got.evidence
    assert isinstance(down, TracedLine)
    assert not down.flight.crow
    assert "without crow" in down.name
    assert isinstance(level, TracedLine)
    assert level.flight.stick == pytest.approx(0.5)
    slope, outside = got.faults
    assert (slope.where, outside.where) == ("recorded.0.line.1", "recorded.0.line.2")
    assert "shows +0 degrees where -90 was written down" in slope.message
    assert "it runs from 0 to 8.9 s" in outside.message


def test_a_slip_of_the_unit_is_no_line(gather: Gather, tmp_path: Path) -> None:
    falling(tmp_path, columns="t [s],x [km],y [km],alt [km],throttle [%]")
    (fault,) = gather('[[recorded]]\nfile = "a.csv"\n[[recorded.line]]\nfrom_s = 4.5\nto_s = 8.5').faults
    assert "2.2e+04 m/s; allowed is 2 to 120" in fault.message


def test_heights_alone_make_a_marked_line(gather: Gather, tmp_path: Path) -> None:
    falling(tmp_path, columns="t [s],alt [m],throttle [%]")
    got = gather('[[recorded]]\nfile = "a.csv"\n[[recorded.line]]\nfrom_s = 4.5\nto_s = 8.5')
    (line,) = got.evidence
    assert isinstance(line, TracedLine)
    assert line.time[-1] == pytest.approx(8.5 - 5.4, abs=0.11)
    assert line.way[-1] / line.time[-1] == pytest.approx(22.0, rel=0.01)
    (fault,) = gather('[[recorded]]\nfile = "a.csv"').faults
    assert "holds no positions" in fault.message


def test_columns_as_written_down(gather: Gather, tmp_path: Path) -> None:
    falling(tmp_path)
    text = (tmp_path / "a.csv").read_text().replace("alt [m]", "GPS Q7")
    (tmp_path / "a.csv").write_text(text)
    assert gather('[[recorded]]\nfile = "a.csv"').faults
    got = gather('[[recorded]]\nfile = "a.csv"\ncolumns = { "GPS Q7" = "height m" }')
    assert any(isinstance(piece, TracedLine) and piece.flight.slope < -1 for piece in got.evidence)
    (fault,) = gather('[[recorded]]\nfile = "a.csv"\ncolumns = { "GPS Q8" = "height m" }').faults
    assert "there is no such column; did you mean GPS Q7?" in fault.message


def test_a_record_or_a_sound_by_itself_is_a_flight(plane: tuple[Ready, Plan], tmp_path: Path) -> None:
    falling(tmp_path)
    got = evidence_of(flight_of(tmp_path / "a.csv"), *plane)
    assert any(piece.name.startswith("a.csv, vertical down at ") for piece in got.evidence)
    note(tmp_path / "a.wav", 4000.0)
    (heard,) = evidence_of(flight_of(tmp_path / "a.wav"), *plane).evidence
    assert isinstance(heard, ShaftSpeed)
    assert heard.name == "a.wav"


def test_a_file_that_is_the_flight_is_named_once_where_it_is_damaged(plane: tuple[Ready, Plan], tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"RIFFxxxxWAVE")
    (fault,) = evidence_of(flight_of(tmp_path / "a.wav"), *plane).faults
    assert fault.message.startswith("a.wav: holds no sound data")


def test_lines_left_for_the_same_reason_are_named_together(gather: Gather, tmp_path: Path) -> None:
    falling(tmp_path, columns="t [s],x [m],y [m],alt [m]")
    path = tmp_path / "a.csv"
    head, *rows = path.read_text().split("\n")
    again = [f"{float(row.partition(',')[0]) + 20},{row.partition(',')[2]}" for row in rows if row]
    path.write_text("\n".join([head, *rows, *again]))
    (said,) = (words for words in gather('[[recorded]]\nfile = "a.csv"').notes if "not used" in words)
    assert said.count("the throttle was not recorded") == 1
    assert re.search(r"level at 0 s, .*level at 20 s", said)


# --- sound -----------------------------------------------------------------------------------------------------------


def note(path: Path, rpm: float, *, seconds: float = 4.0, blades: int = 2) -> None:
    """A steady note of a propeller."""
    rng = np.random.default_rng(2)
    t = np.arange(int(16000 * seconds)) / 16000
    sound = sum(0.7**h * np.sin(2 * np.pi * (h + 1) * rpm / 60 * blades * t + h) for h in range(8))
    sound = sound + 0.3 * rng.normal(size=len(t))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes((20000 * sound / np.abs(sound).max()).astype("<i2").tobytes())


def test_a_line_heard_without_its_place_is_as_sure_as_doppler_lets_it(gather: Gather, tmp_path: Path) -> None:
    note(tmp_path / "a.wav", 4000.0)
    got = gather('[[sound]]\nfile = "a.wav"\nwhat = "line"\nspeed_m_s = { value = 22, spread = 0.5 }')
    (heard,) = got.evidence
    assert isinstance(heard, ShaftSpeed)
    # Half of the most Doppler, 1/(1 - 22/340.3) - 1 = 6.9 %: 3.5 % slower than heard.
    assert heard.omega / RPM == pytest.approx(4000 / 1.0346, rel=0.003)
    assert 0.02 < heard.sigma / heard.omega < 0.04
    placed = gather(
        '[[sound]]\nfile = "a.wav"\nwhat = "line"\nspeed_m_s = { value = 22, spread = 0.5 }\n'
        "at_s = 2\nheight_m = 50\nahead_m = 500"
    )
    (other,) = placed.evidence
    assert isinstance(other, ShaftSpeed)
    assert other.omega / RPM == pytest.approx(4000, rel=0.02)


def test_a_disc_spinning_down_gives_the_damping(gather: Gather, tmp_path: Path, plane: tuple[Ready, Plan]) -> None:
    # J = 300 g cm^2 = 3e-5 kg m^2, dw/dt = -b w with b = 0.5/s: torque at w is 3e-5 * 0.5 * w.
    t = np.arange(16000 * 3) / 16000
    start = 6000 * RPM
    turns = start * (1 - np.exp(-0.5 * t)) / 0.5
    sound = sum(0.7**h * np.sin((h + 1) * 2 * turns + h) for h in range(6))
    sound = sound + 0.1 * np.random.default_rng(3).normal(size=len(t))
    with wave.open(str(tmp_path / "disc.wav"), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes((20000 * sound / np.abs(sound).max()).astype("<i2").tobytes())
    got = gather(
        '[[sound]]\nfile = "disc.wav"\nwhat = "spin-down"\nmarks = 2\ndisc_inertia_g_cm2 = { value = 300, spread = 6 }'
    )
    (damping,) = got.evidence
    assert isinstance(damping, Damping)
    assert damping.level == plane[1].motor.level
    assert damping.torque == pytest.approx(3e-5 * 0.5 * damping.omega, rel=0.05)
    (fault,) = gather('[[sound]]\nfile = "disc.wav"\nwhat = "spin-down"').faults
    assert "a spin-down in flight is not worked out" in fault.message


def test_gates_open_one_after_the_other(gather: Gather) -> None:
    assert unlocked(()) == ("bench", "level")
    level = gather("[[steady]]\nstick_percent = 50\nspeed_m_s = 22").evidence
    assert unlocked(level) == ("bench", "level", "45 down")
    diagonal = gather('[[held]]\nline = "45 down"\nstick_percent = 12').evidence
    assert unlocked(diagonal)[-1] == "vertical down"
