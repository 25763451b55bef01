"""The vectors that hold the page's linkage and mixer to ours are those our code gives now."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

import golden_vectors

ROOT = Path(__file__).parents[1]
GOLDEN = ROOT / "web" / "src" / "lib" / "kinematics" / "golden.json"


@pytest.fixture(scope="module")
def committed() -> dict[str, Any]:
    return json.loads(GOLDEN.read_text(encoding="utf-8"))


def differences(ours: Any, theirs: Any, path: str = "") -> list[str]:
    """Where two trees differ by more than 1e-12 (of the larger number above 1)."""
    if isinstance(ours, dict):
        if not isinstance(theirs, dict) or ours.keys() != theirs.keys():
            return [f"{path}: keys"]
        return [line for key in ours for line in differences(ours[key], theirs[key], f"{path}.{key}")]
    if isinstance(ours, list):
        if not isinstance(theirs, list) or len(ours) != len(theirs):
            return [f"{path}: length"]
        pairs = enumerate(zip(ours, theirs, strict=True))
        return [line for place, pair in pairs for line in differences(*pair, f"{path}.{place}")]
    if isinstance(ours, float) or isinstance(theirs, float):
        close = math.isclose(ours, theirs, rel_tol=1e-12, abs_tol=1e-12)
        return [] if close else [f"{path}: {ours!r} is not {theirs!r}"]
    return [] if ours == theirs else [f"{path}: {ours!r} is not {theirs!r}"]


@pytest.mark.invariant
def test_the_vectors_of_the_page_are_ours(committed: dict[str, Any]) -> None:
    made = json.loads(json.dumps(golden_vectors.golden(committed["plans"])))
    assert differences(made, committed) == []


@pytest.mark.invariant
def test_the_comparison_sees_a_small_change(committed: dict[str, Any]) -> None:
    other = json.loads(json.dumps(committed))
    other["bars"][3]["forward"][1][1] += 1e-9
    other["mixes"][0]["sticks"][2]["crow"] = not other["mixes"][0]["sticks"][2]["crow"]
    assert len(differences(committed, other)) == 2


@pytest.mark.documents
def test_the_vectors_stay_small_and_hold_every_demo_plane(committed: dict[str, Any]) -> None:
    assert GOLDEN.stat().st_size < 300_000
    assert set(committed["plans"]) == set(golden_vectors.DEMOS)
    assert len(committed["bars"]) >= 100
    deployed = [row["out"][0] for one in committed["mixes"] for row in one["sticks"]]
    assert 0.0 in deployed
    assert 1.0 in deployed
    assert any(0.0 < out < 1.0 for out in deployed)
