"""Spoiled plane files: never a traceback, never a silent wrong answer."""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest

from evenfall.errors import FileFaults
from evenfall.plane.files import PlaneFile, load_plane
from evenfall.plane.perturb import attribute
from evenfall.plane.starter import DEMOS, demo_path
from plane import mutations

DEMO = demo_path("biplane_124")
BATCH = 25


def assert_honest(read: PlaneFile, text: str) -> None:
    """What was read is what stands in the file; what does not stand there is a guess, a note or a plain default."""
    data = mutations.parsed(text)
    assert data is not None
    assert mutations.unknown_keys(data) == []
    for key, path, value in mutations.numbers(data):
        assert attribute(read.plane, path) == pytest.approx(value, rel=1e-9, abs=1e-12), key
    for key, path, value in mutations.words(data):
        assert attribute(read.plane, path) == value, key
    present = {f"{table}.{key}".lstrip(".") for table in mutations.TABLES for key in mutations.at(data, table) or {}}
    told = {guess.key for guess in read.guesses}
    if "servo.aileron.pulse_low_us" in told:
        told.add("servo.aileron.pulse_high_us")
    if "motor.no_load_current_a" in told:
        told.add("motor.no_load_v")
    whole_tables = {"fin", "body", "servo.aileron", "linkage.aileron", "wing.upper", "wing.lower"}
    for key in mutations.all_keys():
        table = next((name for name in whole_tables if key.startswith(name + ".")), None)
        if table is not None and mutations.at(data, table) is None:
            continue  # a whole optional table was left out: a note says so
        if key.startswith(("wing.upper.aileron.", "wing.lower.aileron.")) and mutations.at(data, key[:18]) is None:
            continue
        assert key in present or key in told or key in mutations.OPTIONAL, f"{key} is missing and nobody said so"


def try_one(tmp_path: Path, seed: int, name: str = "biplane_124") -> str:
    """Read one spoiled file; returns how it ended."""
    rng = random.Random(seed)
    way, raw = mutations.mutate(demo_path(name).read_text(encoding="utf-8"), rng)
    path = tmp_path / f"{seed}.toml"
    path.write_bytes(raw)
    try:
        read = load_plane(path)
    except FileFaults as error:
        assert error.faults
        for fault in error.faults:
            assert fault.message.strip()
            assert len(fault.message) < 500
            assert fault.line is None or 1 <= fault.line <= raw.count(b"\n") + 1
        return f"{way}: refused"
    for path_name, spread in read.spreads.items():
        assert math.isfinite(spread.sigma), path_name
        assert spread.sigma >= 0, path_name
    if name == "biplane_124":
        assert_honest(read, raw.removeprefix(b"\xef\xbb\xbf").decode())
    return f"{way}: read"


@pytest.mark.property
@pytest.mark.parametrize("batch", range(0, 300, BATCH))
def test_spoiled_files_are_refused_or_read_as_they_stand(tmp_path: Path, batch: int) -> None:
    for seed in range(batch, batch + BATCH):
        try_one(tmp_path, seed)


@pytest.mark.long
@pytest.mark.property
def test_many_spoiled_files_of_every_demo(tmp_path: Path) -> None:
    ends: dict[str, int] = {}
    for seed in range(1000, 4000):
        end = try_one(tmp_path, seed, DEMOS[seed % len(DEMOS)])
        ends[end] = ends.get(end, 0) + 1
    assert sum(count for end, count in ends.items() if end.endswith("refused")) > 1500


@pytest.mark.property
@pytest.mark.parametrize("key", mutations.all_keys())
def test_every_mistyped_key_is_reported(key: str, tmp_path: Path) -> None:
    """A letter too many at the end of any key is a fault that names the right one."""
    text = DEMO.read_text(encoding="utf-8")
    table, _, last = key.rpartition(".")
    rows, current, done = text.split("\n"), "", False
    for index, row in enumerate(rows):
        if row.startswith("["):
            current = row.strip("[]").split("]")[0]
        elif row.startswith(f"{last} ") and current == table:
            rows[index] = row.replace(f"{last} ", f"{last}x ", 1)
            done = True
    assert done, key
    path = tmp_path / "plane.toml"
    path.write_text("\n".join(rows), encoding="utf-8")
    with pytest.raises(FileFaults) as caught:
        load_plane(path)
    unknown = [fault for fault in caught.value.faults if fault.where == f"{key}x"]
    assert unknown
    assert f"`{last}`" in unknown[0].message
    assert unknown[0].line is not None
    assert rows[unknown[0].line - 1].startswith(f"{last}x")
