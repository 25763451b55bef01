"""What `check` says of a CG that is out of the usual, and of blades that fold."""

from __future__ import annotations

import pytest

from evenfall.plane.files import load_plane, parse_plane
from evenfall.plane.starter import demo_path, template_text
from evenfall.sheet.check import check_document, check_text
from evenfall.sheet.rigging_page import margin_note


@pytest.mark.documents
@pytest.mark.parametrize(
    ("margin", "words"),
    [
        (-0.04, "4 % of chord behind the neutral point: the plane is unstable"),
        (0.51, "51 % of chord ahead of the neutral point, 5 to 20 % is common: nose heavy"),
    ],
)
def test_a_cg_out_of_the_usual_is_a_note(margin: float, words: str) -> None:
    read = load_plane(demo_path("biplane_124"))
    assert words in margin_note(margin)
    assert words in " ".join(check_text(read, margin=margin).split())
    assert any(words in note for note in check_document(read, margin=margin)["notes"])


@pytest.mark.documents
def test_a_usual_cg_is_not_remarked_on() -> None:
    read = load_plane(demo_path("biplane_124"))
    assert margin_note(0.1) == ""
    assert check_document(read, margin=0.1)["notes"] == list(read.notes) == check_document(read)["notes"]


@pytest.mark.documents
def test_folding_blades_are_said_to_be_computed_as_fixed() -> None:
    text = template_text().replace('shape = "slim" ', 'shape = "folding" ')
    assert any("folding blades are computed as fixed ones" in note for note in parse_plane(text).notes)
    assert not any("folding" in note for note in parse_plane(template_text()).notes)
