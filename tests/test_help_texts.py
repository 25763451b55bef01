"""Help in place: every key a page uses has a text, a real sketch where it names one, and a source."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from evenfall.plane.starter import DEMOS, demo_path, template_text
from evenfall.sheet.plane_fields import DRAG_DIMENSIONS, drag_fields
from evenfall.sheet.plane_view import plane_view

HELP = Path(__file__).parents[1] / "web" / "src" / "lib" / "help"
TEXTS = (HELP / "texts.ts").read_text(encoding="utf-8")
SKETCHES = sorted((HELP / "sketches").glob("*.svg"))
QUOTED = r"'((?:[^'\\]|\\.)*)'"


def entries() -> dict[str, str]:
    """Every entry of the texts by key."""
    body = TEXTS[TEXTS.index("export const HELP") :]
    return dict(re.findall(r"^  (\w+): \{\n(.*?)^  \},$", body, re.M | re.S))


def imports() -> dict[str, str]:
    return dict(re.findall(r"^import (\w+) from './sketches/(\w+)\.svg\?raw'$", TEXTS, re.M))


def used_keys() -> set[str]:
    pages = [plane_view(demo_path(name).read_text(), file=name, revision=0) for name in DEMOS]
    pages.append(plane_view(template_text(), file="template", revision=0))
    found = {one.help for page in pages for group in page.groups for one in group.fields}
    found |= {one.help for kind in DRAG_DIMENSIONS for one in drag_fields(kind)}
    extra = "[[mass.hang]]\n[[propeller.station]]\n[[controller.level]]\n"
    page = plane_view(extra, file="rest", revision=0)
    return found | {one.help for group in page.groups for one in group.fields}


@pytest.mark.documents
def test_every_help_key_of_the_plane_page_has_a_text() -> None:
    keys = used_keys()
    assert "" not in keys
    assert len(keys) > 50
    assert keys - entries().keys() == set()


@pytest.mark.documents
@pytest.mark.parametrize("key", sorted(entries()))
def test_a_text_has_title_sentences_and_source(key: str) -> None:
    text = entries()[key]
    title, source = (re.search(rf"^    {name}: {QUOTED},$", text, re.M) for name in ("title", "source"))
    assert title
    assert source
    assert len(source.group(1)) > 10
    inside = re.search(r"^    body: \[\n(.*?)^    \],$", text, re.M | re.S)
    assert inside
    sentences = re.findall(rf"^      {QUOTED},$", inside.group(1), re.M)
    assert 1 <= len(sentences) <= 3
    for words in sentences:
        assert words.endswith((".", "?"))
        assert len(words) < 240
        assert "!" not in words


@pytest.mark.documents
def test_every_sketch_is_there_used_and_harmless() -> None:
    named = imports()
    assert {path.stem for path in SKETCHES} == set(named.values())
    assert 10 <= len(SKETCHES) <= 20
    drawn = {found for found in re.findall(r"^    sketch: (\w+),$", TEXTS, re.M) if found != "null"}
    assert drawn == set(named)
    for path in SKETCHES:
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        assert root.get("viewBox"), path.name
        assert root.get("aria-label"), path.name
        for node in root.iter():
            name = node.tag.rpartition("}")[2]
            assert name in ("svg", "path", "circle", "text"), path.name
            assert not any(key.startswith("on") or key in ("style", "href") for key in node.attrib), path.name
            for key in ("stroke", "fill"):
                colour = node.get(key, "none")
                assert colour in ("none", "currentColor") or colour.startswith("var(--"), path.name
        assert path.stat().st_size < 6000
