"""Tables on a narrow screen, and words for a plane with one wing."""

from __future__ import annotations

import io

import pytest
from rich.console import Console, RenderableType
from rich.table import Table

from evenfall.lines.bend import BendAnswer
from evenfall.sheet.rig_page import straightness_words
from evenfall.sheet.text import fitted, make_table

CURE = "Rigging first: the clean plane bends to the canopy. Trim names the change that cures it."


def straightness() -> Table:
    table = make_table("Straightness", ("line", "left"), ("clean deg/s", "right"), ("cure", "left"))
    table.add_row("vertical down", "+4.0 +- 3.0", CURE)
    table.add_row("45 down", "+1.8 +- 2.5", "")
    return table


def printed(parts: list[RenderableType], width: int) -> str:
    screen = Console(file=io.StringIO(), width=width, color_system=None)
    for part in parts:
        screen.print(part)
    assert isinstance(screen.file, io.StringIO)
    return screen.file.getvalue()


@pytest.mark.invariant
def test_sentences_follow_a_table_too_wide_for_the_screen() -> None:
    table = straightness()
    narrow = printed(fitted(table, Console(width=80, file=io.StringIO())), 200)
    assert f"vertical down: {CURE}" in narrow
    assert "+4.0 +- 3.0" in narrow
    assert "45 down:" not in narrow


@pytest.mark.invariant
def test_a_table_that_fits_stays_as_it_is() -> None:
    table = straightness()
    assert fitted(table, Console(width=140, file=io.StringIO())) == [table]
    assert fitted("words", Console(width=10, file=io.StringIO())) == ["words"]


@pytest.mark.invariant
def test_one_wing_hears_nothing_of_the_other() -> None:
    down = BendAnswer(
        line="vertical down",
        inverted=False,
        clean=0.0,
        crow=0.0,
        clean_bend=0.0,
        crow_bend=0.0,
        cure="",
        converged=True,
    )
    assert any("upper wing" in words for words in straightness_words((down,), 0.01))
    assert not any("upper wing" in words for words in straightness_words((down,), 0.01, wings=1))
