"""The shipped section tables: read, refused when damaged, and consistent with their provenance."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenfall.aero.section_data import FILE, cubic_matrix, cubic_weights, load_sections
from evenfall.errors import DataError


@pytest.mark.outside
def test_missing_tables_say_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(DataError, match=r"missing.*Install Evenfall again"):
        load_sections(tmp_path / "sections.npz")


@pytest.mark.outside
@pytest.mark.parametrize("damage", ["empty", "cut", "flipped", "text", "folder"])
def test_damaged_tables_say_what_to_do(tmp_path: Path, damage: str) -> None:
    content = FILE.read_bytes()
    path = tmp_path / "sections.npz"
    if damage == "folder":
        path.mkdir()
    else:
        middle = len(content) // 2
        flipped = content[:middle] + bytes([content[middle] ^ 0xFF]) + content[middle + 1 :]
        path.write_bytes({"empty": b"", "cut": content[:middle], "flipped": flipped, "text": b"no tables"}[damage])
    with pytest.raises(DataError, match=r"cannot be read.*Install Evenfall again"):
        load_sections(path)


@pytest.mark.documents
def test_tables_and_provenance_agree() -> None:
    tables = load_sections()
    provenance = json.loads(FILE.with_suffix(".json").read_text())
    assert len(provenance["grid"]["sections"]) == len(tables.thickness)
    assert provenance["neuralfoil"]["points"] == tables.valid.size
    xfoil = provenance["xfoil"]
    assert xfoil["points"] >= xfoil["converged"] > 0.8 * xfoil["points"]
    assert FILE.stat().st_size < 5e6
    assert np.all(np.isfinite(tables.values))
    assert not tables.values.flags.writeable


@pytest.mark.invariant
def test_tables_are_odd_and_even_at_zero_throw() -> None:
    plain = load_sections().values[:, :, :, 0]
    for i, sign in enumerate((-1, 1, -1, -1)):
        # a count of the int16 scale: the two halves are rounded apart
        assert np.max(np.abs(plain[i] - sign * plain[i, ..., ::-1])) < 5e-4


@pytest.mark.property
@given(st.floats(0, 5), st.floats(-3, 3), st.floats(-3, 3))
def test_cubic_weights_keep_straight_lines(x: float, a: float, b: float) -> None:
    axis = np.array([0.0, 0.5, 2.0, 3.0, 5.0])
    nodes, weights = cubic_weights(axis, x)
    assert float(np.sum(weights)) == pytest.approx(1.0)
    assert float(weights @ (a + b * axis[nodes])) == pytest.approx(a + b * x, abs=1e-9)


@pytest.mark.limit
def test_cubic_matrix_gives_the_nodes_and_holds_the_ends() -> None:
    axis = np.array([1.0, 2.0, 4.0])
    assert np.array_equal(cubic_matrix(axis, axis), np.eye(3))
    assert np.array_equal(cubic_matrix(axis, np.array([-1.0, 9.0])), np.eye(3)[[0, 2]])
