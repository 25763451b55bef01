"""The units the page converts by are the units of the files."""

from __future__ import annotations

import json
from pathlib import Path

from evenfall.units import KINDS

TABLE = Path(__file__).parents[2] / "web" / "src" / "lib" / "ui" / "units.json"


def test_the_page_s_table_is_ours() -> None:
    table = json.loads(TABLE.read_text())
    ours = {
        kind: {
            suffix: {
                "symbol": unit.symbol,
                "factor": unit.factor,
                **({"shift": unit.shift} if unit.shift else {}),
                **({"inverse": True} if unit.inverse else {}),
            }
            for suffix, unit in units.items()
        }
        for kind, units in KINDS.items()
    }
    assert table == ours
