"""The cache never raises, never returns damaged tables and survives concurrent runs."""

from __future__ import annotations

import os
import pickle
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from evenfall.plane.electrics import Propeller
from evenfall.power import cache
from evenfall.power.propeller import propeller_map

ARRAYS = {"rows": np.arange(12.0).reshape(3, 4), "unbalanced": np.array(0.0)}
PROPELLER = Propeller(diameter=0.25, pitch=0.12)


def test_stored_and_loaded(tmp_path: Path) -> None:
    key = cache.content_key("a", 1)
    assert cache.load(key, tmp_path) is None
    assert cache.store(key, ARRAYS, tmp_path / "deeper")
    loaded = cache.load(key, tmp_path / "deeper")
    assert loaded is not None
    assert sorted(loaded) == ["rows", "unbalanced"]
    np.testing.assert_array_equal(loaded["rows"], ARRAYS["rows"])
    assert [p.name for p in (tmp_path / "deeper").iterdir()] == [f"{key}.npz"]


def test_key_follows_the_content() -> None:
    assert cache.content_key("a", 1, (0.1, None)) == cache.content_key("a", 1, (0.1, None))
    assert cache.content_key("a", 1) != cache.content_key("a", 2)
    assert cache.content_key("ab", "c") != cache.content_key("a", "bc")


def test_every_damage_is_noticed(tmp_path: Path) -> None:
    """Cut short anywhere, or one byte changed anywhere: the same arrays or None, never an error."""
    key = cache.content_key("damage")
    cache.store(key, ARRAYS, tmp_path)
    path = tmp_path / f"{key}.npz"
    whole = path.read_bytes()
    for size in range(0, len(whole), 37):
        path.write_bytes(whole[:size])
        assert cache.load(key, tmp_path) is None
    unharmed = 0
    for at in range(0, len(whole), 11):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x5A]) + whole[at + 1 :])
        loaded = cache.load(key, tmp_path)
        if loaded is not None:
            unharmed += 1
            np.testing.assert_array_equal(loaded["rows"], ARRAYS["rows"])
    assert unharmed < len(whole) / 11


def test_a_file_of_another_key_is_refused(tmp_path: Path) -> None:
    cache.store("a" * 32, ARRAYS, tmp_path)
    (tmp_path / ("a" * 32 + ".npz")).rename(tmp_path / ("b" * 32 + ".npz"))
    assert cache.load("b" * 32, tmp_path) is None


def test_pickled_content_is_never_read(tmp_path: Path) -> None:
    key = cache.content_key("pickle")
    (tmp_path / f"{key}.npz").write_bytes(pickle.dumps({"rows": 1}))
    assert cache.load(key, tmp_path) is None
    np.savez(tmp_path / f"{key}.npz", rows=np.array([{}], dtype=object), checksum=np.array("x"))
    assert cache.load(key, tmp_path) is None


def test_without_a_folder_there_is_just_no_cache(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    for folder in (None, tmp_path / "file", tmp_path / "file" / "below"):
        assert cache.store("k", ARRAYS, folder) is False
        assert cache.load("k", folder) is None
    made = propeller_map.__wrapped__(PROPELLER, cache_dir=tmp_path / "file")
    assert np.isfinite(made.loads(20.0, 300.0)[0])


def test_concurrent_runs(tmp_path: Path) -> None:
    def work(_: int) -> bool:
        cache.store("shared", ARRAYS, tmp_path)
        loaded = cache.load("shared", tmp_path)
        return loaded is not None and bool(np.array_equal(loaded["rows"], ARRAYS["rows"]))

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(work, range(80)))
    assert [p.name for p in tmp_path.iterdir()] == ["shared.npz"]


def test_the_longest_unused_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "KEPT_FILES", 3)
    now = time.time()
    for i in range(5):
        cache.store(f"k{i}", ARRAYS, tmp_path)
        if (tmp_path / f"k{i}.npz").exists():
            os.utime(tmp_path / f"k{i}.npz", (now - 100 + i, now - 100 + i))
    cache.store("last", ARRAYS, tmp_path)
    assert sorted(p.stem for p in tmp_path.glob("*.npz")) == ["k3", "k4", "last"]


def test_folder_follows_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EVENFALL_CACHE", str(tmp_path / "mine"))
    assert cache.cache_folder() == tmp_path / "mine"
    monkeypatch.delenv("EVENFALL_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    monkeypatch.setattr("sys.platform", "linux")
    assert cache.cache_folder() == tmp_path / "xdg" / "evenfall"
    monkeypatch.setattr("sys.platform", "win32")
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert cache.cache_folder() == tmp_path / "local" / "evenfall" / "cache"
    monkeypatch.setattr("sys.platform", "darwin")
    assert cache.cache_folder() == Path.home() / "Library" / "Caches" / "evenfall"


def test_a_damaged_propeller_map_is_built_again(tmp_path: Path) -> None:
    make = propeller_map.__wrapped__
    first = make(PROPELLER, cache_dir=tmp_path)
    (file,) = tmp_path.glob("*.npz")
    second = make(PROPELLER, cache_dir=tmp_path)
    np.testing.assert_array_equal(first.pieces, second.pieces)
    file.write_bytes(file.read_bytes()[:1000])
    third = make(PROPELLER, cache_dir=tmp_path)
    np.testing.assert_array_equal(first.pieces, third.pieces)
    assert len(file.read_bytes()) > 1000
